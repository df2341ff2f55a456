#include "solver/front_speed.h"

#include <math.h>
#include <stdlib.h>

#include "solver/heat_flux.h"

/* Fronts met in a node when the one from beyond was slow along the axis by this much at least of the one at hand (anything from
 * 0.1 to 0.5 does the same); next to nothing is the scatter of a front that runs beside the axis. */
static const double MET = 0.25;

/* One-sided slownesses of a node along an axis, to its neighbours at lower and at higher coordinate: positive where they froze
 * earlier. */
typedef struct {
  double slowness[2], distance[2];
  int32_t node[2];
} sides;

static sides sides_of(const adjacency *a, const double *time, size_t node, int axis)
{
  sides s = {{NAN, NAN}, {NAN, NAN}, {-1, -1}};
  for (size_t e = a->start[node]; e < a->start[node + 1]; e++) {
    const int side = a->direction[e] % 2;
    const double here = (time[node] - time[a->neighbour[e]]) / a->distance[e];
    if (a->direction[e] / 2 != axis || isnan(here) || s.slowness[side] >= here)
      continue; /* of several on one side, the one that froze first */
    s.slowness[side] = here;
    s.distance[side] = a->distance[e];
    s.node[side] = a->neighbour[e];
  }
  return s;
}

/* The side from which the front came: the one that froze earlier, of two, where fronts met, the slower. */
static int side_behind(const sides *s)
{
  return s->slowness[0] > 0.0 && !(s->slowness[1] > s->slowness[0]) ? 0 : 1;
}

/* Slope in a node of the parabola through it and its neighbours, p over the distance dp to the one and q over dq to the other. */
static double mid_slope(double p, double dp, double q, double dq)
{
  return (dq * p + dp * q) / (dp + dq);
}

static double harmonic_mean(double p, double dp, double q, double dq)
{
  return (dp + dq) / (dp / p + dq / q);
}

/* Slowness of a front that comes over the slope p and goes on over q, as far as its two neighbours tell. While it slows down, the
 * slope of the parabola through the three nodes, at most twice the gentler side (van Leer 1977, J. Comput. Phys. 23:276, from
 * memory), which is exact for ice behind a flat wall, t = K x^2; while it speeds up, the harmonic mean of both sides (van Leer
 * 1974, J. Comput. Phys. 14:361), near the gentler one at a kink, as behind a thin shell that grew slowly along a wall. */
static double slowness_of_two(double p, double dp, double q, double dq)
{
  return q > p ? fmin(mid_slope(p, dp, q, dq), 2.0 * p) : harmonic_mean(p, dp, q, dq);
}

/* Where the front ended between this node and the next, or in the next: the parabola through the three nodes behind carried on
 * (NAN: not known), between half the slope p, as over the crest of a front that curves beside this axis, and the whole, as of
 * fronts that met head on. */
static double slowness_at_end(double p, double from)
{
  return from < p ? fmax(from, 0.5 * p) : p;
}

/* Where the front came from further away its path may be bent by what lies two nodes off (the turn round a corner): the parabolas
 * through the three nodes behind, about and ahead as 1 : 4 : 1, or the first two as 1 : 2 where it did not go on so far, which is
 * of fourth and third order on even cells; no less than the harmonic mean and no more than twice the gentler side. What lies
 * beyond a node in which fronts met does not count. 0: nothing came along this axis. */
static double slowness_along(const adjacency *a, const double *time, size_t node, int axis)
{
  const sides s = sides_of(a, time, node, axis);
  const int behind = side_behind(&s), ahead = 1 - behind;
  const double p = s.slowness[behind], q = -s.slowness[ahead], dp = s.distance[behind], dq = s.distance[ahead];
  if (!(p > 0.0))
    return 0.0;
  const sides last = sides_of(a, time, (size_t)s.node[behind], axis);
  const double before = last.slowness[behind],
               from = before > 0.0 ? 2.0 * p - mid_slope(before, last.distance[behind], p, dp) : NAN;
  if (!(q > 0.0))
    return slowness_at_end(p, from);
  const sides next = sides_of(a, time, (size_t)s.node[ahead], axis);
  const double onwards = -next.slowness[ahead];
  if (onwards < 0.0)
    return slowness_at_end(p, from);
  if (isnan(from))
    return slowness_of_two(p, dp, q, dq);
  const bool known = onwards > 0.0 && !(sides_of(a, time, (size_t)next.node[ahead], axis).slowness[ahead] > MET * onwards);
  const double about = mid_slope(p, dp, q, dq), to = 2.0 * q - mid_slope(q, dq, onwards, next.distance[ahead]);
  const double bent = known ? (from + 4.0 * about + to) / 6.0 : (from + 2.0 * about) / 3.0;
  return fmax(harmonic_mean(p, dp, q, dq), fmin(bent, 2.0 * fmin(p, q)));
}

/* dt/dx along an axis, s/m, with its sign: the slowness above; where nothing came along the axis, towards where it went. */
static double rise_along(const adjacency *a, const double *time, size_t node, int axis)
{
  const sides s = sides_of(a, time, node, axis);
  const double slowness = slowness_along(a, time, node, axis);
  if (slowness > 0.0)
    return side_behind(&s) == 0 ? slowness : -slowness;
  const double down = s.slowness[0] < 0.0 ? s.slowness[0] : 0.0, up = s.slowness[1] < 0.0 ? -s.slowness[1] : 0.0;
  return up > -down ? up : down;
}

static double dot(const double x[3], const double y[3])
{
  return x[0] * y[0] + x[1] * y[1] + x[2] * y[2];
}

/* Change of the unit normal of the front per metre along an axis; h: nodes' distance there. False: it is not known on both sides.
 */
static bool turn_along(const adjacency *a, const double *time, double (*rise)[3], size_t node, int axis, double turn[3],
                       double *h)
{
  const sides s = sides_of(a, time, node, axis);
  if (s.node[0] < 0 || s.node[1] < 0)
    return false;
  const double *low = rise[s.node[0]], *high = rise[s.node[1]];
  const double below = sqrt(dot(low, low)), above = sqrt(dot(high, high)), both = s.distance[0] + s.distance[1];
  if (!(below > 0.0 && above > 0.0))
    return false;
  for (int i = 0; i < 3; i++)
    turn[i] = (high[i] / above - low[i] / below) / both;
  *h = 0.5 * both;
  return true;
}

/* When the front passed the middle of a node that was half frozen at time[node]. */
static double passing(const adjacency *a, const double *time, double (*rise)[3], size_t node)
{
  const double steepness = sqrt(dot(rise[node], rise[node]));
  if (!(steepness > 0.0))
    return time[node];
  const double n[3] = {rise[node][0] / steepness, rise[node][1] / steepness, rise[node][2] / steepness};
  double curvature = 0.0; /* times the variance of the hat */
  for (int axis = 0; axis < 3; axis++) {
    double turn[3], h;
    if (turn_along(a, time, rise, node, axis, turn, &h)) /* what it changes along n itself is no turn: fronts that meet */
      curvature += (turn[axis] - n[axis] * dot(turn, n)) * h * h / 6.0;
  }
  return time[node] - 0.5 * steepness * curvature;
}

/* Slowness, s/m, along an axis of a front that left a surface `deep` before the node on that axis and took `passed` for it. On to
 * the node behind: it bears out that the front came from the surface (one that runs along a wall does not), and tells how it
 * slowed down. */
static double slowness_off(const adjacency *a, const double *time, size_t node, int inwards, double passed, double deep)
{
  const sides s = sides_of(a, time, node, inwards / 2);
  const double here = passed / deep, q = -s.slowness[inwards % 2];
  if (isnan(q)) /* no such node, or not frozen: nothing speaks against it */
    return here;
  return q > here ? slowness_of_two(here, deep, q, s.distance[inwards % 2]) : fmax(q, 0.0);
}

/* Adds the surface seen by side `side` of an interface as an earlier neighbour. */
static void take_surface(const double *start, const double *freeze, const adjacency *a, const mesh_interface *i, int side,
                         double (*slow)[3])
{
  if (i->node[side] < 0 || !(i->distance[side] > 0.0)) {
    return;
  }
  const size_t node = (size_t)i->node[side];
  const double passed = freeze[node] - start[node];
  if (!(passed > 0.0)) { /* also when either is NAN */
    return;
  }
  double outward[3];
  mesh_outward(i, side, outward);
  for (int axis = 0; axis < 3; axis++) {
    const double towards = outward[axis];
    if (towards != 0.0)
      slow[node][axis] = fmax(
          slow[node][axis], slowness_off(a, freeze, node, 2 * axis + (towards < 0.0), passed, i->distance[side] / fabs(towards)));
  }
}

status front_speed_fill(const double *start, const double *freeze, const adjacency *a, const mesh *m, double *speed, message *msg)
{
  const size_t num = m->num_nodes;
  double(*along)[3] = calloc(num + 1, sizeof *along), *passed = malloc((num + 1) * sizeof *passed);
  if (!along || !passed) {
    free(along);
    free(passed);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the speed of the front",
                       (num + 1) * (sizeof *along + sizeof *passed));
  }
#pragma omp parallel for schedule(static) if (num >= HEAT_FLUX_THREADED)
  for (size_t n = 0; n < num; n++)
    for (int axis = 0; axis < 3 && !isnan(freeze[n]); axis++)
      along[n][axis] = rise_along(a, freeze, n, axis);
#pragma omp parallel for schedule(static) if (num >= HEAT_FLUX_THREADED)
  for (size_t n = 0; n < num; n++)
    passed[n] = isnan(freeze[n]) ? NAN : passing(a, freeze, along, n);
#pragma omp parallel for schedule(static) if (num >= HEAT_FLUX_THREADED)
  for (size_t n = 0; n < num; n++)
    for (int axis = 0; axis < 3; axis++)
      along[n][axis] = isnan(freeze[n]) ? 0.0 : slowness_along(a, passed, n, axis);
  for (size_t i = 0; i < m->num_interfaces; i++) {
    take_surface(start, freeze, a, &m->interfaces[i], 0, along);
    take_surface(start, freeze, a, &m->interfaces[i], 1, along);
  }
  for (size_t n = 0; n < num; n++)
    speed[n] = dot(along[n], along[n]) > 0.0 ? 1.0 / sqrt(dot(along[n], along[n])) : NAN;
  free(along);
  free(passed);
  return STATUS_OK;
}
