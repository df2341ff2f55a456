/* Ice round a tube that is joined to nodes and has no shells (coil_shells.h): along a line in (x, y, z), and rings without room for them.
 *
 * With the front within the nodes that share the tube's heat, those that still hold water offer the freezing point, wherever in them the
 * front stands, and the equivalent radius, at which the potential would be theirs were there no front, says nothing. What stands
 * round the tube is a ring of ice of radius r_i whose outside is at the freezing point:
 *     q = 2 pi length (u_f - u(T_tube)) / ln(r_i / a),   pi (r_i^2 - a^2) length = ice in those nodes,
 * a node that several pieces of tube share giving each as much of its ice as of its heat. Once all of them are ice the grid carries the
 * front and the equivalent radius holds; where they freeze one after the other both give the same, since the nodes' own mean then falls short
 * of u_f by what the grid conducts. Before the first ice the nodes' mean drives, through the thinnest ring that is allowed.
 * In stirred water the tube has the film of the water, and so has its ring once the tube is colder than freezing (network_coils.c). */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>

static const double PI = 3.14159265358979323846;
/* Of the logarithm of the equivalent radius: a ring is never taken thinner, for without ice the tube's surface would stand at the nodes'
 * middles and set the number of stages. (0.3 instead: 1.8 % less ice after five minutes and 0.6 % after ten, a 10 mm tube in cells of 10 mm.) */
static const double THINNEST = 0.1;

/* After all wells are there. */
status network_tube_ice_make(network *net, message *msg)
{
  double *shared = calloc(net->num_nodes + 1, sizeof *shared);
  net->well_portion = calloc(net->num_well_nodes + 1, sizeof *net->well_portion);
  const bool done = shared && net->well_portion;
  for (int pass = 0; done && pass < 2; pass++)
    for (size_t i = 0; i < net->num_wells; i++) {
      const well_entry *w = &net->wells[i];
      for (size_t n = w->first; n < w->first + w->num && w->radius > 0.0; n++)
        if (pass == 0)
          shared[net->well_node[n]] += net->well_weight[n] * w->length;
        else if (net->well_weight[n] > 0.0)
          net->well_portion[n] = net->well_weight[n] * w->length / shared[net->well_node[n]];
    }
  free(shared);
  return done ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the ice round %zu pieces of tube", net->num_wells);
}

/* Share of a node that is ice. In stirred water the rest of it is as warm as the clear nodes, for the ring is in their midst. */
static double frozen_share(const network *net, size_t node, const double *enthalpy)
{
  const phase_curve *c = net->curve[net->part[node]];
  double water = c->liquid_enthalpy;
  if (net->num_mix > 0 && net->mix_state[node] == MIX_FRONT)
    water = larger(water, phase_curve_enthalpy(c, net->mix_temperature[net->part[node]]));
  return (water - enthalpy[node]) / (water - c->solid_enthalpy);
}

tube_ice network_tube_ice_at(const network *net, const well_entry *w, const double *enthalpy)
{
  const int32_t part = net->part[net->well_node[w->first]];
  const phase_curve *c = net->curve[part];
  const tube_ice plain = {.reach = 1.0 / w->geometric};
  if (!(w->radius > 0.0) || !front_cells_is_sharp(net->front, part))
    return plain;
  const double lengths = 2.0 * PI * w->length;
  double ice = 0.0;
  bool water = false, begun = false;
  for (size_t n = w->first; n < w->first + w->num; n++) {
    const size_t node = (size_t)net->well_node[n];
    const double frozen = frozen_share(net, node, enthalpy);
    ice += net->well_portion[n] * net->volume[node] * larger(smaller(frozen, 1.0), 0.0);
    water = water || frozen < 1.0;
    begun = begun || frozen >= 0.0;
  }
  if (!water)
    return plain;
  const double ring = 0.5 * log(1.0 + 2.0 * ice / (lengths * w->radius * w->radius));
  return (tube_ice){.reach = larger(ring / lengths, THINNEST * plain.reach), .ring = begun, .outside = phase_curve_potential(c, c->liquid_enthalpy)};
}

/* Stirred water meets the ring with its own area, not that of the nodes in which it stands. */
void network_tube_ice_films(network *net, const double *enthalpy)
{
  for (int pass = 0; pass < 2; pass++)
    for (size_t i = 0; i < net->num_wells; i++) {
      const well_entry *w = &net->wells[i];
      if (!(w->radius > 0.0) || w->num == 0 || net->mix_state[net->well_node[w->first]] == 0)
        continue;
      const tube_ice ice = network_tube_ice_at(net, w, enthalpy);
      const int32_t part = net->part[net->well_node[w->first]];
      const double outer = w->radius * exp(2.0 * PI * w->length * ice.reach);
      for (size_t n = w->first; ice.ring && n < w->first + w->num; n++) {
        const int32_t node = net->well_node[n];
        if (net->mix_state[node] == MIX_FRONT)
          net->mix_film[node] = pass == 0 ? 0.0
                                          : net->mix_film[node] + net->well_weight[n] * 2.0 * PI * outer * w->length * net->film[part] /
                                                                      phase_curve_conductivity_at(net->curve[part], net->curve[part]->freezing_temperature, 1);
      }
    }
}
