#include "solver/clouding_crossing.h"

#include <math.h>

#include "materials/air_in_water.h"

static const double WATER_DENSITY = 999.8, GRAVITY = 9.81; /* kg/m3 at 0 degC, m/s2 */
static const double SLOWEST = 1e-9, FASTEST = 1e-4;        /* m/s                   */
static const double EVEN = 0.02; /* of the speed: a node whose neighbours differ by less, both together, stays whole */

static double kept_speed(double speed)
{
  return isnan(speed) ? FASTEST : fmin(fmax(speed, SLOWEST), FASTEST);
}

/* Along each axis, s/m: how much sooner the neighbour froze that froze first, and how much later, from it, the one that froze
 * last; signed like the way from ice to water. 0: no such neighbour. */
typedef struct {
  double before[3], after[3];
} slownesses;

static slownesses slownesses_of(const clouding_history_request *q, int32_t node)
{
  slownesses s = {{0.0, 0.0, 0.0}, {0.0, 0.0, 0.0}};
  for (size_t e = q->a->start[node]; e < q->a->start[node + 1]; e++) {
    const int axis = q->a->direction[e] / 2;
    const double rising = q->a->direction[e] % 2 ? 1.0 : -1.0;
    const double later = (q->freeze_time[q->a->neighbour[e]] - q->freeze_time[node]) / q->a->distance[e];
    if (later < -fabs(s.before[axis]))
      s.before[axis] = rising * later;
    else if (later > fabs(s.after[axis]))
      s.after[axis] = rising * later;
  }
  return s;
}

/* Unit vector from ice to water: along each axis towards where it froze later, upwind. */
static void direction_of(const slownesses *s, double n[3])
{
  double square = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    n[axis] = s->before[axis] != 0.0 ? s->before[axis] : s->after[axis];
    square += n[axis] * n[axis];
  }
  const double length = sqrt(square);
  for (int axis = 0; axis < 3; axis++)
    n[axis] = length > 0.0 ? n[axis] / length : 0.0;
}

static void widths_of(double width[3], const mesh *m, int32_t node)
{
  size_t ijk[3];
  grid_cell_indices(m->grid, (size_t)m->cell[node], ijk);
  for (int axis = 0; axis < 3; axis++) {
    width[axis] = 0.0;
    if (m->grid->num[axis] > 0 && m->grid->edges[axis] && !(m->grid->kind == GRID_RZ && axis == 1))
      width[axis] = m->grid->edges[axis][ijk[axis] + 1] - m->grid->edges[axis][ijk[axis]];
  }
}

static double along(const double width[3], const double n[3])
{
  return fabs(n[0]) * width[0] + fabs(n[1]) * width[1] + fabs(n[2]) * width[2];
}

/* A plane front that comes from the side covers the top of a cell all the while; from above, sooner, and a skin at once; from
 * below, last. */
static void shut_surface(clouding_crossing *c, const double width[3], const double n[3])
{
  const double way = along(width, n), level = way > 0.0 ? fabs(n[2]) * width[2] / way : 0.0;
  c->shut[0] = c->normal_z > 0.0 ? level : 0.0;
  c->shut[1] = c->normal_z < 0.0 ? 1.0 - level : 1.0;
}

/* Half of a node freezes from when the front was half way from where it came, the other half until it is half way on. Where ice
 * stood in the node before that came, as a thin shell along a wall does, its second quarter took longer; then the first half is
 * taken to have frozen as slowly. (A quarter of a node is ice when the front has come 0.71 of the way from the node behind,
 * front_node.h: as late as here, that is nothing unusual.) */
static void time_crossing(clouding_crossing *c, const clouding_history_request *q, const slownesses *s, const double width[3],
                          const double n[3])
{
  const double t = q->freeze_time[c->node], even = 0.5 * along(width, n) / c->speed;
  const double second = q->quarter_time ? t - q->quarter_time[c->node] : NAN;
  const double first = q->begin_time ? q->begin_time[c->node] : NAN, last = q->solid_time ? q->solid_time[c->node] : NAN;
  double before = 0.5 * along(width, s->before), after = 0.5 * along(width, s->after);
  if (second > before)
    before = 2.0 * second - before;
  if (!(before > 0.0))
    before = even;
  if (!(after > 0.0))
    after = even;
  c->begin = fmax(t - before, fmin(first <= t ? fmax(first, q->start_time) : q->start_time, t));
  c->middle = t;
  c->end = t + (last >= t ? fmin(after, last - t) : after);
}

/* Speeds at both neighbours along an axis, means by area; where there is none, that of the node. */
static void speeds_beside(double beside[2], const clouding_history_request *q, int32_t node, int axis, double here)
{
  double sum[2] = {0.0, 0.0}, area[2] = {0.0, 0.0};
  for (size_t e = q->a->start[node]; e < q->a->start[node + 1]; e++) {
    const int side = q->a->direction[e] % 2;
    if (q->a->direction[e] / 2 != axis || isnan(q->front_speed[q->a->neighbour[e]]))
      continue;
    sum[side] += (double)q->a->area[e] * kept_speed(q->front_speed[q->a->neighbour[e]]);
    area[side] += q->a->area[e];
  }
  for (int side = 0; side < 2; side++)
    beside[side] = area[side] > 0.0 ? sum[side] / area[side] : here;
}

/* The axis along which the speed changes most, and the speeds beside the node on it. -1: it changes too little. */
static int steepest(double beside[2], const clouding_history_request *q, int32_t node, double here)
{
  double most = EVEN * here;
  int found = -1;
  for (int axis = 0; axis < 3; axis++) {
    double both[2];
    speeds_beside(both, q, node, axis, here);
    const double change = fabs(both[0] - here) + fabs(both[1] - here);
    if (change <= most)
      continue;
    most = change;
    found = axis;
    beside[0] = both[0];
    beside[1] = both[1];
  }
  return found;
}

/* When a share of a node is frozen. */
static double time_at(const clouding_crossing *c, double part)
{
  return part < 0.5 ? c->begin + 2.0 * part * (c->middle - c->begin) : c->middle + (2.0 * part - 1.0) * (c->end - c->middle);
}

static double within(double part)
{
  return fmin(fmax(part, 0.0), 1.0);
}

/* The part of a node that freezes as the k-th, at a speed of its own. */
static clouding_crossing part_of(const clouding_crossing *whole, int k, double speed)
{
  const double from = k / (double)CLOUDING_CROSSING_PARTS, to = (k + 1) / (double)CLOUDING_CROSSING_PARTS;
  const double covered = whole->shut[1] - whole->shut[0];
  clouding_crossing c = *whole;
  c.share = 1.0 / CLOUDING_CROSSING_PARTS;
  c.mass = whole->mass * c.share;
  c.speed = speed;
  c.begin = time_at(whole, from);
  c.end = time_at(whole, to);
  c.middle = 0.5 * (c.begin + c.end);
  for (int i = 0; i < 2; i++)
    c.shut[i] = within((whole->shut[i] - from) / (to - from));
  if (covered > 0.0)
    c.surface *= (c.shut[1] - c.shut[0]) * (to - from) / covered;
  else if (!(whole->shut[0] >= from && (whole->shut[0] < to || k + 1 == CLOUDING_CROSSING_PARTS)))
    c.surface = 0.0;
  return c;
}

size_t clouding_crossing_describe(clouding_crossing parts[CLOUDING_CROSSING_PARTS], double *end, size_t *num_clamped,
                                  const clouding_history_request *q, int32_t node, double open_area)
{
  double n[3], width[3], beside[2];
  const slownesses s = slownesses_of(q, node);
  const double speed = kept_speed(q->front_speed[node]);
  *num_clamped += speed != q->front_speed[node];
  direction_of(&s, n);
  widths_of(width, q->m, node);
  clouding_crossing whole = {.node = node,
                             .pocket = q->pocket_of_node[node],
                             .mass = q->density * q->m->volume[node],
                             .speed = speed,
                             .normal_z = n[2],
                             .share = 1.0,
                             .surface = open_area,
                             .pressure =
                                 q->pressure + WATER_DENSITY * GRAVITY * fmax(q->surface_level - q->m->centroid[node][2], 0.0)};
  whole.saturation = air_in_water_saturation(whole.pressure);
  time_crossing(&whole, q, &s, width, n);
  shut_surface(&whole, width, n);
  *end = whole.end;
  const int axis = steepest(beside, q, node, speed);
  if (axis < 0) {
    parts[0] = whole;
    return 1;
  }
  for (int i = 0; i < CLOUDING_CROSSING_PARTS; i++) { /* by rising coordinate */
    const double at = (i + 0.5) / CLOUDING_CROSSING_PARTS - 0.5;
    const double there = speed + fabs(at) * (beside[at > 0.0] - speed);
    const int k = n[axis] < 0.0 ? CLOUDING_CROSSING_PARTS - 1 - i : i;
    parts[k] = part_of(&whole, k, there);
  }
  return CLOUDING_CROSSING_PARTS;
}
