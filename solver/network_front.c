/* How fast the front runs through the nodes, and how far it is from where it began and will end. */
#include "solver/network_parts.h"

#include <math.h>

/* The way to the end, over volume per surface of what is liquid: from the surface of a ball or a cube to its middle it is 3. What a step errs in the
 * last water delays nothing after it, so twice that. */
static const double AHEAD = 6.0;

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

/* Frozen share that a node gains per node that the front runs, the rest falling to those before and after: with the front in its middle all of it, with
 * the front in the next one's nothing (front_node.h: df/dy, -df/dw, found from f). */
static double swept_share(const heat_potential_ramp *r, double enthalpy)
{
  const double frozen = heat_potential_ramp_frozen(r, enthalpy);
  if (frozen >= 1.0)
    return 0.0;
  if (enthalpy < r->half)
    return (r->last ? 0.5 : sqrt(2.0 * (1.0 - frozen))) / r->beyond;
  return sqrt(r->even * r->even + 8.0 * (1.0 - r->even) * frozen) / (2.0 - r->even);
}

/* Over nodes with the front in them at a speed v, whose share g of a node it sweeps per node (so they freeze by g v): v times g v, and g v times g. The ratio of
 * the sums is v wherever in their nodes the front stands, alike in all or not. */
typedef struct {
  double square, sum;
} pace_sums;

static pace_sums pace_of_share(const network *net, const double *enthalpy, const double *rate, size_t share)
{
  const heat_potential_front *front = front_cells_front(net->front);
  pace_sums all = {0.0, 0.0};
  for (size_t i = share_begin(share, front->num); i < share_begin(share + 1, front->num); i++) {
    const heat_potential_ramp *r = heat_potential_front_ramp(front, i);
    const double pace = (1.0 + r->from_surface) * fabs(rate[r->node]) / (r->begin - r->end), volume = net->volume[r->node];
    const double swept = swept_share(r, enthalpy[r->node]);
    all.square += swept > 0.0 ? volume * pace * pace : 0.0;
    all.sum += volume * pace * swept;
  }
  return all;
}

double network_front_pace(const network *net, const double *enthalpy, const double *rate)
{
  pace_sums of[SHARES], all = {0.0, 0.0};
#pragma omp parallel for schedule(static) if (are_many(net))
  for (size_t share = 0; share < SHARES; share++)
    of[share] = pace_of_share(net, enthalpy, rate, share);
  for (size_t share = 0; share < SHARES; share++) {
    all.square += of[share].square;
    all.sum += of[share].sum;
  }
  return all.sum > 0.0 ? all.square / all.sum : 0.0;
}

/* What the depth of the front in one part is found from: m3/s2, m3/s (all, and what is swept of it) and m3 of its nodes; `more`: frozen beyond what the
 * enthalpies of nodes say. */
typedef struct {
  double square, sum, swept, more, dry, all;
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
    const double swept = swept_share(r, at);
    if (swept > 0.0) {
      to->square += own * pace * pace;
      to->sum += own * pace;
      to->swept += own * pace * swept;
    }
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
    all.swept += of[share].swept;
    all.more += of[share].more;
    all.dry += of[share].dry;
    all.all += of[share].all;
  }
  if (!(all.square > 0.0))
    return INFINITY;
  const double layer = all.sum * all.swept / all.square, behind = (all.dry + all.more) / layer, ahead = AHEAD * (all.all - all.dry - all.more) / layer;
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
