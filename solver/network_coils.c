/* Tubes of a network: their joins to nodes and shells, and the refrigerant in them. */
#include "solver/network_parts.h"

#include <math.h>

/* Joins are found anew until the refrigerant moves less than this, K. */
static const double COOLANT_SETTLED = 1e-2;
enum { COOLANT_ROUNDS = 4, SHELL_ROUNDS = 12 };

static const double PI = 3.14159265358979323846;

static double well_potential(const network *net, const well_entry *w)
{
  double sum = 0.0;
  for (size_t n = w->first; n < w->first + w->num; n++)
    sum += net->well_weight[n] * net->potential[net->well_node[n]];
  return sum;
}

double network_coils_through(const well_entry *w, double outside)
{
  const double dry = w->dry_share > 0.0 ? w->dry_share / (w->dry + outside) : 0.0;
  return (1.0 - w->dry_share) / (w->tube + outside) + dry;
}

double network_coils_drive(const network *net, const well_entry *w, const double *enthalpy)
{
  if (w->shells >= 0)
    return w->slope * net->rings[w->shells].potential[0] + w->offset;
  if (w->layer >= 0)
    return net->layers[w->layer].offered;
  if (w->by_temperature)
    return network_node_temperature(net, (size_t)net->well_node[w->first], enthalpy);
  return w->slope * well_potential(net, w) + w->offset;
}

/* How much motion multiplies conduction between a tube and what lies round it, along and up: a line source in a medium of unlike
 * conductivities k_r, k_z spreads its heat as in one of sqrt(k_r k_z) (Carslaw & Jaeger 1959, sec. 1.20). */
static double motion_at(const network *net, size_t node)
{
  return net->moving && net->liquid[node] ? sqrt(net->horizontal[node] * net->vertical[node]) : 1.0;
}

/* The same for the nodes that share a tube's heat. */
static double motion_beside(const network *net, size_t num, const int32_t *node, const double *weight)
{
  double factor = 0.0;
  for (size_t n = 0; n < num; n++)
    factor += weight[n] * motion_at(net, (size_t)node[n]);
  return factor;
}

/* And next to the tube itself; with shells 1 where the innermost is ice. */
static double motion_round(const network *net, const well_entry *w, const double *enthalpy)
{
  if (w->shells < 0)
    return motion_beside(net, w->num, net->well_node + w->first, net->well_weight + w->first);
  const coil_shells *s = &net->rings[w->shells];
  return enthalpy[s->first] > net->curve[s->part]->solid_enthalpy ? motion_beside(net, s->num_rim, s->node, s->weight) : 1.0;
}

/* degC of the nodes that share a tube's heat, on the average: from where its surface is sought. Any one of them would be another one in the image of the tube. */
static double temperature_round(const network *net, const well_entry *w, const double *enthalpy)
{
  double sum = 0.0, all = 0.0;
  for (size_t n = w->first; n < w->first + w->num; n++) {
    sum += net->well_weight[n] * network_node_temperature(net, (size_t)net->well_node[n], enthalpy);
    all += net->well_weight[n];
  }
  return sum / all;
}

static bool stands_in_clear_water(const network *net, const well_entry *w)
{
  bool clear = w->shells < 0 && w->radius > 0.0 && net->num_mix > 0;
  for (size_t n = w->first; clear && n < w->first + w->num; n++)
    clear = network_is_clear(net, net->well_node[n]);
  return clear;
}

static bool begin_ice(network *net, const well_entry *w, double surface)
{
  bool begun = false;
  for (size_t n = w->first; n < w->first + w->num; n++)
    begun = network_mix_freezes(net, net->well_node[n], surface) || begun;
  return begun;
}

static void refresh_well(network *net, well_entry *w, const double *enthalpy, double coolant)
{
  if (w->layer >= 0)
    return; /* network_ice_find has it */
  const coil_shells *shells = w->shells >= 0 ? &net->rings[w->shells] : NULL;
  const size_t node = shells ? shells->first : (size_t)net->well_node[w->first];
  const phase_curve *c = net->curve[net->part[node]];
  if (w->by_temperature) { /* geometric: the tube's outer area where the bath's own film stands on it */
    const double film = w->film > 0.0 ? w->film : net->film[net->part[node]];
    w->g = network_coils_through(w, w->geometric > 0.0 ? 1.0 / (film * w->geometric) : 0.0);
    return;
  }
  const tube_ice ice = shells ? (tube_ice){.reach = 1.0 / w->geometric} : network_tube_ice_at(net, w, enthalpy);
  surface_end end[2] = {{.kind = SURFACE_END_NODE, .curve = c, .potential = shells ? shells->potential[0] : well_potential(net, w),
                               .temperature = shells ? phase_curve_temperature(c, shells->ahead[0]) : temperature_round(net, w, enthalpy),
                               .reach = ice.reach, .factor = motion_round(net, w, enthalpy),
                               .lays_ice = !shells && !front_cells_is_sharp(net->front, net->part[node])}, /* shells hold theirs */
                              {.kind = SURFACE_END_ENVIRONMENT, .temperature = coolant, .reach = w->tube, .factor = 1.0}};
  if (ice.ring) {
    end[0].potential = ice.outside;
    end[0].temperature = c->freezing_temperature;
    end[0].factor = 1.0;
  }
  if (stands_in_clear_water(net, w)) { /* its film is round the tube; where that would be colder than freezing ice begins */
    surface_side side[2];
    end[0].kind = SURFACE_END_STIRRED;
    end[0].temperature = net->mix_temperature[net->part[node]];
    end[0].reach = 1.0 / (2.0 * PI * w->radius * w->length * net->film[net->part[node]]);
    surface_balance(end, 0.0, side);
    if (begin_ice(net, w, side[0].surface)) {
      refresh_well(net, w, enthalpy, coolant);
      return;
    }
  }
  const double share[2] = {1.0 - w->dry_share, w->dry_share}, tube[2] = {w->tube, w->dry};
  double slope = 0.0, offset = 0.0;
  w->g = 0.0;
  for (int length = 0; length < 2; length++) /* wetted inside, and full of vapour */
    if (share[length] > 0.0) {
      surface_side side[2];
      end[1].reach = tube[length];
      surface_balance(end, 0.0, side);
      const double g = share[length] / (side[0].resistance + side[1].resistance);
      slope += g * side[0].slope;
      offset += g * side[0].offset;
      w->g += g;
    }
  w->slope = ice.ring ? 0.0 : slope / w->g;
  w->offset = (offset + (ice.ring ? slope * ice.outside : 0.0)) / w->g;
}

void network_coils_sum(network *net, const double *enthalpy)
{
  for (size_t i = 0; i < net->num_wells; i++) {
    const well_entry *w = &net->wells[i];
    for (size_t n = w->first; n < w->first + w->num; n++) { /* none with shells: those are summed for themselves */
      const size_t node = (size_t)net->well_node[n];
      double slope = w->slope;
      if (w->by_temperature) {
        const phase_curve *c = net->curve[net->part[node]];
        const double T = network_node_temperature(net, node, enthalpy);
        slope = 1.0 / smaller(phase_curve_conductivity_at(c, T, -1), phase_curve_conductivity_at(c, T, 1));
      }
      net->entry_sum[node] += 0.5 * w->g * slope * net->well_weight[n];
      net->entry_still[node] += 0.5 * w->g * slope * net->well_weight[n];
    }
  }
}

/* The plant: heat of all its coils = intercept + slope T, each ring giving g (drive - T), drive = fixed + by_coolant T. One unknown. */
typedef struct {
  bool plant;
  double offered, conductance;
  const coolant_state *state;
} coolant_balance;

static void coolant_begin(const network *net, coolant_balance *b)
{
  *b = (coolant_balance){0};
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    if (net->coolant[coil].plant) {
      b->plant = true;
      b->state = &net->coolant[coil];
    }
}

static void coolant_add(const network *net, coolant_balance *b, const well_entry *w, double fixed, double by_coolant)
{
  if (!net->coolant[w->coil].plant)
    return;
  b->offered += w->g * fixed;
  b->conductance += w->g * (1.0 - by_coolant);
}

static void coolant_settle(network *net, const coolant_balance *b)
{
  const double found = b->plant ? (b->offered - b->state->intercept) / (b->conductance + b->state->slope) : NAN;
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    net->coolant_temperature[coil] = net->coolant[coil].plant ? found : net->coolant[coil].temperature;
}

/* The shells a lag ahead, together with the coolant: Newton's method, which ends when every shell keeps to its tangent. */
static void find_shells(network *net, const double *enthalpy)
{
  bool again = net->num_rings > 0;
  for (size_t ring = 0; ring < net->num_rings; ring++)
    coil_shells_start(&net->rings[ring], net->curve[net->rings[ring].part], enthalpy);
  for (int round = 0; again && round < SHELL_ROUNDS; round++) {
    coolant_balance b;
    coolant_begin(net, &b);
    for (size_t i = 0; i < net->num_wells; i++) {
      const well_entry *w = &net->wells[i];
      double fixed = 0.0, by_coolant = 0.0;
      if (w->shells >= 0) {
        const coil_shells_tube tube = {.g = w->g, .slope = w->slope, .offset = w->offset};
        coil_shells_linearise(&net->rings[w->shells], net->potential, net->shell_lag, &tube, &fixed, &by_coolant);
        coolant_add(net, &b, w, w->slope * fixed + w->offset, w->slope * by_coolant);
      } else if (b.plant) {
        coolant_add(net, &b, w, network_coils_drive(net, w, enthalpy), 0.0);
      }
    }
    coolant_settle(net, &b);
    again = false;
    for (size_t i = 0; i < net->num_wells; i++) {
      const well_entry *w = &net->wells[i];
      if (w->shells >= 0 &&
          coil_shells_move(&net->rings[w->shells], net->curve[net->rings[w->shells].part], net->coolant_temperature[w->coil]))
        again = true;
    }
  }
}

void network_coils_find(network *net, const double *enthalpy)
{
  coolant_balance b;
  find_shells(net, enthalpy);
  coolant_begin(net, &b);
  for (size_t i = 0; b.plant && i < net->num_wells; i++)
    if (net->coolant[net->wells[i].coil].plant)
      coolant_add(net, &b, &net->wells[i], network_coils_drive(net, &net->wells[i], enthalpy), 0.0);
  coolant_settle(net, &b);
}

void network_coils_refresh(network *net, const double *enthalpy)
{
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    net->coolant_temperature[coil] = net->coolant[coil].temperature;
  for (int round = 0; round < COOLANT_ROUNDS; round++) {
    for (size_t i = 0; i < net->num_wells; i++)
      refresh_well(net, &net->wells[i], enthalpy, net->coolant_temperature[net->wells[i].coil]);
    double before = 0.0, after = 0.0;
    for (size_t coil = 0; coil < net->rig->num_coils; coil++)
      before += net->coolant_temperature[coil];
    network_coils_find(net, enthalpy);
    for (size_t coil = 0; coil < net->rig->num_coils; coil++)
      after += net->coolant_temperature[coil];
    if (fabs(after - before) < COOLANT_SETTLED)
      break;
  }
}

/* ------------------------------------------------------------------------------------------- shells round tubes, at a refresh */

static status refresh_cross(network *net, coil_shells *s, message *msg)
{
  double *factor = net->shell_factor;
  for (size_t f = 0; f < s->num_faces; f++) {
    const face_entry face = {.left = s->face[f].lower, .right = s->face[f].upper, .axis = s->face[f].axis};
    factor[f] = net->moving ? network_motion_face(net, &face) : 1.0;
  }
  return coil_shells_cross(s, factor, msg);
}

/* Liquid in motion conducts round the tube as it does at the rim. */
static status refresh_shells(network *net, coil_shells *s, const double *enthalpy, message *msg)
{
  const double solid = net->curve[s->part]->solid_enthalpy;
  const double factor = motion_beside(net, s->num_rim, s->node, s->weight);
  s->link_now = s->link * (enthalpy[s->first + s->num - 1] > solid ? factor : 1.0);
  for (size_t i = 0; i + 1 < s->num; i++)
    s->between_now[i] = s->between[i] * (enthalpy[s->first + i] > solid ? factor : 1.0);
  coil_shells_start(s, net->curve[s->part], enthalpy);
  return net->moving != net->cross_moving || net->moving ? refresh_cross(net, s, msg) : STATUS_OK;
}

status network_coils_refresh_shells(network *net, const double *enthalpy, message *msg)
{
  status code = STATUS_OK;
  for (size_t ring = 0; code == STATUS_OK && ring < net->num_rings; ring++)
    code = refresh_shells(net, &net->rings[ring], enthalpy, msg);
  net->cross_moving = net->moving;
  return code;
}

/* Shells and the nodes at the rims of their holes: links count whole, they have a partner in the row. */
void network_coils_sum_shells(network *net)
{
  for (size_t ring = 0; ring < net->num_rings; ring++) {
    const coil_shells *s = &net->rings[ring];
    for (size_t n = 0; n < s->num_rim; n++) {
      double sum = s->weight[n] * s->link_now;
      for (size_t other = 0; other < s->num_rim; other++)
        sum += s->cross[n * s->num_rim + other];
      network_add_to_sums(net, (size_t)s->node[n], sum, sum);
    }
  }
}
