/* How fast the front runs through the nodes, and how far it is from where it began and will end. */
#include "solver/network_parts.h"

#include <math.h>
#include <string.h>

/* The way to the end, over volume per surface of what is liquid: from the surface of a ball or a cube to its middle it is 3. What a step errs in the
 * last water delays nothing after it, so twice that. */
static const double AHEAD = 6.0;

/* Sums over the front in fixed shares, and over the nodes of a part: the same bits for any number of threads. */
enum { SHARES = NETWORK_FRONT_SHARES, LANES = NETWORK_STRANDS };

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
 * the front in the next one's nothing (front_node.h: df/dy, -df/dw, found from f, `frozen`). */
static double swept_share(const heat_potential_ramp *r, double enthalpy, double frozen)
{
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

/* Those of a share of the front, and what it adds to the depths of the parts. */
static pace_sums look_at_front(const network *net, const double *enthalpy, const double *rate, size_t share, front_depth_sums *depth)
{
  const heat_potential_front *front = front_cells_front(net->front);
  pace_sums all = {0.0, 0.0};
  for (size_t i = share_begin(share, front->num); i < share_begin(share + 1, front->num); i++) {
    const heat_potential_ramp *r = heat_potential_front_ramp(front, i);
    const int32_t part = net->part[r->node];
    const double own = net->volume[r->node], at = enthalpy[r->node], change = fabs(rate[r->node]), window = r->begin - r->end;
    const double frozen = heat_potential_ramp_frozen(r, at), swept = swept_share(r, at, frozen);
    const double twice = (1.0 + r->from_surface) * change / window, pace = change / window;
    front_depth_sums *to = &depth[part];
    all.sum += own * twice * swept;
    if (swept > 0.0) {
      all.square += own * twice * twice;
      to->square += own * pace * pace;
      to->sum += own * pace;
      to->swept += own * pace * swept;
    }
    to->more += own * (frozen - (at <= net->curve[part]->solid_enthalpy ? 1.0 : 0.0));
  }
  return all;
}

/* m3 of the nodes of a part without liquid, and of all. */
static void add_nodes(const network *net, const double *enthalpy, int32_t part, size_t share, front_depth_sums *to)
{
  const double solid = net->curve[part]->solid_enthalpy, *volume = net->volume;
  double dry[LANES] = {0.0}, all[LANES] = {0.0};
  for (size_t n = share_begin(share, net->num_runs); n < share_begin(share + 1, net->num_runs); n++) {
    size_t i = net->run_part[n] == part ? net->runs[n].begin : net->runs[n].end;
    const size_t end = net->runs[n].end;
    for (; i + LANES <= end; i += LANES) {
#pragma omp simd
      for (size_t l = 0; l < LANES; l++) {
        all[l] += volume[i + l];
        dry[l] += enthalpy[i + l] <= solid ? volume[i + l] : 0.0;
      }
    }
    for (size_t l = 0; i < end; i++, l++) {
      all[l] += volume[i];
      dry[l] += enthalpy[i] <= solid ? volume[i] : 0.0;
    }
  }
  for (size_t l = 0; l < LANES; l++) {
    to->all += all[l];
    to->dry += dry[l];
  }
}

/* Of one part, whose sums are of[share * num_parts]; INFINITY: no front is in it. */
static double depth_of(const front_depth_sums *of, size_t num_parts)
{
  front_depth_sums all = {.square = 0.0};
  for (size_t share = 0; share < SHARES; share++) {
    const front_depth_sums *one = &of[share * num_parts];
    all.square += one->square;
    all.sum += one->sum;
    all.swept += one->swept;
    all.more += one->more;
    all.dry += one->dry;
    all.all += one->all;
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

network_front_motion network_front_moves(const network *net, const double *enthalpy, const double *rate)
{
  const size_t num_parts = network_num_parts(net);
  pace_sums of[SHARES], all = {0.0, 0.0};
#pragma omp parallel for schedule(static) if (are_many(net))
  for (size_t share = 0; share < SHARES; share++) {
    front_depth_sums *depth = &net->front_depth[share * num_parts];
    memset(depth, 0, num_parts * sizeof *depth);
    of[share] = look_at_front(net, enthalpy, rate, share, depth);
    for (size_t part = 0; part < num_parts; part++)
      if (front_cells_is_sharp(net->front, (int32_t)part))
        add_nodes(net, enthalpy, (int32_t)part, share, &depth[part]);
  }
  for (size_t share = 0; share < SHARES; share++) {
    all.square += of[share].square;
    all.sum += of[share].sum;
  }
  double least = INFINITY;
  for (size_t part = 0; part < num_parts; part++)
    least = smaller(depth_of(&net->front_depth[part], num_parts), least);
  return (network_front_motion){.pace = all.sum > 0.0 ? all.square / all.sum : 0.0, .depth = least < INFINITY ? least : 0.0};
}
