/* How fast the front runs through the nodes, and how far it is from where it began and will end. */
#include "solver/network_parts.h"

#include <math.h>

/* From the surface of a ball or a cube to its middle, over volume per surface. */
static const double AHEAD = 3.0;

/* Sums over the front in fixed shares, and over the nodes of a part: the same bits for any number of threads. */
enum { SHARES = 32, LANES = NETWORK_STRANDS };

static bool are_many(const network *net)
{
  return net->num_nodes >= HEAT_FLUX_THREADED;
}

/* Of so many things those that belong to a share: from .. to. */
static size_t share_begin(size_t share, size_t num)
{
  return share * num / SHARES;
}

typedef struct {
  double square, sum;
} pace_sums;

static pace_sums pace_of_share(const network *net, const double *rate, size_t share)
{
  const heat_potential_front *front = front_cells_front(net->front);
  pace_sums all = {0.0, 0.0};
  for (size_t i = share_begin(share, front->num); i < share_begin(share + 1, front->num); i++) {
    const heat_potential_ramp *r = heat_potential_front_ramp(front, i);
    const double pace = (1.0 + r->from_surface) * fabs(rate[r->node]) / (r->begin - r->end), volume = net->volume[r->node];
    all.square += volume * pace * pace;
    all.sum += volume * pace;
  }
  return all;
}

double network_front_pace(const network *net, const double *rate)
{
  pace_sums of[SHARES], all = {0.0, 0.0};
#pragma omp parallel for schedule(static) if (are_many(net))
  for (size_t share = 0; share < SHARES; share++)
    of[share] = pace_of_share(net, rate, share);
  for (size_t share = 0; share < SHARES; share++) {
    all.square += of[share].square;
    all.sum += of[share].sum;
  }
  return all.sum > 0.0 ? all.square / all.sum : 0.0;
}

/* What the depth of the front in one part is found from: m3/s2, m3/s and m3 of its nodes; `more`: frozen beyond what the enthalpies of nodes say. */
typedef struct {
  double square, sum, more, dry, all;
} depth_sums;

static void add_front(const network *net, const double *enthalpy, const double *rate, int32_t part, size_t share, depth_sums *to)
{
  const heat_potential_front *front = front_cells_front(net->front);
  const double solid = net->curve[part]->solid_enthalpy;
  for (size_t i = share_begin(share, front->num); i < share_begin(share + 1, front->num); i++) {
    const heat_potential_ramp *r = heat_potential_front_ramp(front, i);
    if (net->part[r->node] != part)
      continue;
    const double own = net->volume[r->node], pace = fabs(rate[r->node]) / (r->begin - r->end), at = enthalpy[r->node];
    to->square += own * pace * pace;
    to->sum += own * pace;
    to->more += own * (heat_potential_ramp_frozen(r, at) - (at <= solid ? 1.0 : 0.0));
  }
}

/* m3 of the nodes of a part without liquid, and of all. */
static void add_nodes(const network *net, const double *enthalpy, int32_t part, size_t share, depth_sums *to)
{
  const double solid = net->curve[part]->solid_enthalpy;
  double dry[LANES] = {0.0}, all[LANES] = {0.0};
  for (size_t n = share_begin(share, net->num_runs); n < share_begin(share + 1, net->num_runs); n++) {
    size_t i = net->run_part[n] == part ? net->runs[n].begin : net->runs[n].end;
    const size_t end = net->runs[n].end;
    for (; i + LANES <= end; i += LANES)
      for (size_t l = 0; l < LANES; l++) {
        all[l] += net->volume[i + l];
        dry[l] += enthalpy[i + l] <= solid ? net->volume[i + l] : 0.0;
      }
    for (size_t l = 0; i < end; i++, l++) {
      all[l] += net->volume[i];
      dry[l] += enthalpy[i] <= solid ? net->volume[i] : 0.0;
    }
  }
  for (size_t l = 0; l < LANES; l++) {
    to->all += all[l];
    to->dry += dry[l];
  }
}

/* Of the front in one part; INFINITY: there is none. */
static double depth_in(const network *net, const double *enthalpy, const double *rate, int32_t part)
{
  depth_sums of[SHARES] = {[0] = {.square = 0.0}}, all = {.square = 0.0};
#pragma omp parallel for schedule(static) if (are_many(net))
  for (size_t share = 0; share < SHARES; share++) {
    add_front(net, enthalpy, rate, part, share, &of[share]);
    add_nodes(net, enthalpy, part, share, &of[share]);
  }
  for (size_t share = 0; share < SHARES; share++) {
    all.square += of[share].square;
    all.sum += of[share].sum;
    all.more += of[share].more;
    all.dry += of[share].dry;
    all.all += of[share].all;
  }
  if (!(all.square > 0.0))
    return INFINITY;
  const double layer = all.sum * all.sum / all.square, behind = (all.dry + all.more) / layer, ahead = AHEAD * (all.all - all.dry - all.more) / layer;
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
