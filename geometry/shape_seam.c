#include "geometry/shape_seam.h"

#include <math.h>
#include <string.h>

#include "geometry/shape_class.h"

enum { ALONG = 24, MOST_STEPS = 40, LOWEST = 4, LED_ON = 2 };
static const double BEYOND = 1e-7, STEP = 1e-6; /* m: so far behind a surface is its other side; of differences */

static bool is_of_several(const shape *s)
{
  return s && ((s->a && s->b) || is_of_several(s->a));
}

/* Distance counted from the side p is on. */
static double above(const shape *s, double sign, const double p[3])
{
  return sign * shape_distance(s, p);
}

static void uphill(const shape *s, double sign, const double p[3], double n[3])
{
  shape_normal(s, p, STEP, n);
  for (int axis = 0; axis < 3; axis++)
    n[axis] *= sign;
}

/* From face to face: to the other side of a true surface or edge (true), or to and fro across a seam, which then lies at `end`. */
static bool leads_to_a_surface(const shape *s, double sign, const double from[3], double end[3])
{
  double at[3], last[3] = {INFINITY, 0.0, 0.0}, high = above(s, sign, from), moved = INFINITY;
  memcpy(at, from, sizeof at);
  for (int i = 0; i < MOST_STEPS && high >= 0.0 && moved > 4.0 * BEYOND; i++) {
    double before[3], n[3];
    memcpy(before, at, sizeof before);
    uphill(s, sign, at, n);
    moved = 0.0; /* against where it was two steps ago */
    for (int axis = 0; axis < 3; axis++) {
      at[axis] -= (high + BEYOND) * n[axis];
      moved += fabs(at[axis] - last[axis]);
      end[axis] = 0.5 * (at[axis] + before[axis]);
    }
    memcpy(last, before, sizeof last);
    high = above(s, sign, at);
  }
  return high < 0.0;
}

typedef struct {
  double way[3], high;
} outlook;

static outlook look(const shape *s, double sign, const double p[3], double radius, const double towards[3])
{
  const double length = sqrt(towards[0] * towards[0] + towards[1] * towards[1] + towards[2] * towards[2]);
  outlook o = {.high = INFINITY};
  if (!(length > 0.0))
    return o;
  double at[3];
  for (int axis = 0; axis < 3; axis++) {
    o.way[axis] = towards[axis] / length;
    at[axis] = p[axis] + radius * o.way[axis];
  }
  o.high = above(s, sign, at);
  return o;
}

/* The lowest places first. */
static void keep_lowest(outlook lowest[LOWEST], outlook o)
{
  for (int i = 0; i < LOWEST; i++)
    if (o.high < lowest[i].high) {
      const outlook other = lowest[i];
      lowest[i] = o;
      o = other;
    }
}

/* Is there another side at `radius` from p? */
static bool meets_a_surface(const shape *s, double sign, const double p[3], double radius)
{
  outlook lowest[LOWEST];
  for (int i = 0; i < LOWEST; i++)
    lowest[i] = (outlook){.high = INFINITY};
  for (int i = 0; i < 27; i++)
    keep_lowest(lowest, look(s, sign, p, radius, (double[3]){i % 3 - 1, i / 3 % 3 - 1, i / 9 - 1}));
  for (int i = 0; i < LOWEST; i++)
    for (int turn = 0; turn < LED_ON && lowest[i].high >= -BEYOND && isfinite(lowest[i].high); turn++) {
      const double *way = lowest[i].way, at[3] = {p[0] + radius * way[0], p[1] + radius * way[1], p[2] + radius * way[2]};
      double n[3];
      uphill(s, sign, at, n);
      lowest[i] = look(s, sign, p, radius, (double[3]){-n[0], -n[1], -n[2]});
    }
  for (int i = 0; i < LOWEST; i++)
    if (lowest[i].high < -BEYOND)
      return true;
  return false;
}

bool shape_seam_find(const shape *s, double by, double place[3])
{
  const double sign = by > 0.0 ? 1.0 : -1.0, far = fabs(by);
  double low[3], high[3];
  shape_bounds(s, low, high);
  for (int i = 0; is_of_several(s) && i < ALONG * ALONG * ALONG; i++) {
    const int cell[3] = {i % ALONG, i / ALONG % ALONG, i / ALONG / ALONG};
    double from[3];
    for (int axis = 0; axis < 3; axis++)
      from[axis] = low[axis] + (high[axis] - low[axis]) * (cell[axis] + 0.5) / ALONG;
    if (above(s, sign, from) > 0.0 && !leads_to_a_surface(s, sign, from, place) && above(s, sign, place) < far && !meets_a_surface(s, sign, place, far))
      return true;
  }
  return false;
}
