/* What a network tells: heats, temperatures, surfaces. */
#include "solver/network_parts.h"

#include <math.h>

/* Sum of heat of the unknowns of one part (every part: -1), in blocks of fixed size so that its bits are fixed too. */
static double heat_of(const network *net, const double *enthalpy, int32_t part)
{
  double total = 0.0;
  for (size_t from = 0; from < net->num_unknowns; from += NETWORK_BLOCK) {
    const size_t to = from + NETWORK_BLOCK < net->num_unknowns ? from + NETWORK_BLOCK : net->num_unknowns;
    double block = 0.0;
    for (size_t i = from; i < to; i++)
      if (net->volume[i] > 0.0 && net->part[i] >= 0 && (part < 0 || net->part[i] == part))
        block += net->volume[i] * enthalpy[i];
    total += block;
  }
  return total;
}

double network_stored_heat(const network *net, const double *enthalpy)
{
  return heat_of(net, enthalpy, -1);
}

double network_part_heat(const network *net, const double *enthalpy, int part)
{
  return heat_of(net, enthalpy, part);
}

double network_part_mean_temperature(const network *net, const double *enthalpy, int part)
{
  network_ice bath;
  if (network_ice_at(net, part, enthalpy, &bath))
    return bath.temperature;
  double sum = 0.0, volume = 0.0;
  for (size_t i = 0; i < net->num_unknowns; i++)
    if (net->part[i] == part && net->volume[i] > 0.0) {
      sum += net->volume[i] * network_node_temperature(net, i, enthalpy);
      volume += net->volume[i];
    }
  return volume > 0.0 ? sum / volume : NAN;
}

double network_coil_ice_radius(const network *net, size_t coil, size_t ring, const double *enthalpy)
{
  for (size_t i = 0; i < net->num_rings; i++)
    if (net->rings[i].coil == (int32_t)coil && net->rings[i].ring == ring)
      return coil_shells_ice_radius(&net->rings[i], net->curve[net->rings[i].part], enthalpy);
  return network_ice_radius(net, coil, ring, enthalpy);
}

double network_wall_temperature(const network *net, size_t patch)
{
  return net->wall_temperature[patch];
}

double network_surface_temperature(const network *net, size_t interface)
{
  return net->surface[interface];
}

static double potential_of(const network *net, int32_t node, const double *enthalpy)
{
  return phase_curve_potential(net->curve[net->part[node]], enthalpy[node]);
}

double network_interface_heat(const network *net, size_t interface, const double *enthalpy)
{
  const joint *j = &net->joints[interface];
  switch (j->kind) {
  case JOINT_PAIR: {
    const pair_entry *e = &net->pairs[j->slot[0]];
    return e->a * potential_of(net, e->i, enthalpy) - e->b * potential_of(net, e->j, enthalpy) + e->c;
  }
  case JOINT_OUTSIDE: {
    const outside_entry *e = &net->outsides[j->slot[0]];
    return e->a * potential_of(net, e->i, enthalpy) + e->c;
  }
  case JOINT_WALL: {
    if (!j->open[0])
      return 0.0;
    const wall_link *e = &net->links[j->slot[0]];
    return e->a * potential_of(net, e->i, enthalpy) + e->o - e->g * net->wall_temperature[e->patch];
  }
  case JOINT_NONE:
    break;
  }
  return 0.0;
}
