/* How fast the front runs through the nodes, and how far it is from where it began and will end. */
#include "solver/network_parts.h"

#include <math.h>

/* From the surface of a ball or a cube to its middle, over volume per surface. */
static const double AHEAD = 3.0;

static const heat_potential_ramp *ramp_at(const heat_potential_front *front, size_t i)
{
  return &front->ramp[front->order[i]];
}

double network_front_pace(const network *net, const double *rate)
{
  const heat_potential_front *front = front_cells_front(net->front);
  double square = 0.0, sum = 0.0;
  for (size_t i = 0; i < front->num; i++) {
    const heat_potential_ramp *r = ramp_at(front, i);
    const double pace = (1.0 + r->from_surface) * fabs(rate[r->node]) / (r->begin - r->end), volume = net->volume[r->node];
    square += volume * pace * pace;
    sum += volume * pace;
  }
  return sum > 0.0 ? square / sum : 0.0;
}

/* m3 of the nodes of a part without liquid, and of the others. */
static void volumes_of(const network *net, const double *enthalpy, int32_t part, double volume[2])
{
  const double solid = net->curve[part]->solid_enthalpy;
  volume[0] = volume[1] = 0.0;
  for (size_t from = 0; from < net->num_nodes; from += NETWORK_BLOCK) {
    const size_t to = from + NETWORK_BLOCK < net->num_nodes ? from + NETWORK_BLOCK : net->num_nodes;
    double dry = 0.0, all = 0.0;
    for (size_t i = from; i < to; i++) {
      const double own = net->part[i] == part ? net->volume[i] : 0.0;
      all += own;
      dry += enthalpy[i] <= solid ? own : 0.0;
    }
    volume[0] += dry;
    volume[1] += all - dry;
  }
}

/* Of the front in one part; INFINITY: there is none. */
static double depth_in(const network *net, const double *enthalpy, const double *rate, int32_t part)
{
  const heat_potential_front *front = front_cells_front(net->front);
  double square = 0.0, sum = 0.0, more = 0.0, volume[2];
  for (size_t i = 0; i < front->num; i++) {
    const heat_potential_ramp *r = ramp_at(front, i);
    if (net->part[r->node] != part)
      continue;
    const double own = net->volume[r->node], pace = fabs(rate[r->node]) / (r->begin - r->end), at = enthalpy[r->node];
    square += own * pace * pace;
    sum += own * pace;
    more += own * (heat_potential_ramp_frozen(r, at) - (at <= net->curve[part]->solid_enthalpy ? 1.0 : 0.0));
  }
  if (!(square > 0.0))
    return INFINITY;
  volumes_of(net, enthalpy, part, volume);
  const double layer = sum * sum / square, behind = (volume[0] + more) / layer, ahead = AHEAD * (volume[1] - more) / layer;
  return behind < ahead ? behind : ahead;
}

bool network_front_may_enter(const network *net, int32_t part)
{
  return front_cells_is_sharp(net->front, part);
}

double network_front_depth(const network *net, const double *enthalpy, const double *rate)
{
  double least = INFINITY;
  for (int32_t part = 0; (size_t)part < net->rig->num_parts; part++) {
    const double depth = front_cells_is_sharp(net->front, part) ? depth_in(net, enthalpy, rate, part) : INFINITY;
    least = depth < least ? depth : least;
  }
  return least < INFINITY ? least : 0.0;
}
