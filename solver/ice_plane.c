#include "solver/ice_plane.h"

#include <math.h>

static const double LEAST_SLOPE = 1e-4; /* of the steepest: a plane turned by less lies along the axis, a volume moves by 1e-8 */
static const double ON_FACE = 1e-9; /* of the way through a box: a plane this near to a face lies on it, and belongs to the box behind it */
/* Slope of the distance along an axis from which a face lies across it; two such make an edge. Between the cells beside its axis a cylinder has 0.874, a
 * sphere 0.793 (sqrt(10)/2 - sqrt(2)/2, sqrt(11)/2 - sqrt(3)/2), a bar or cube along the grid 1. */
static const double FACE = 0.93;

bool ice_plane_thin_axis(const grid *g, int axis) { return g->kind == GRID_RZ && axis == 1; }

double ice_plane_width(const grid *g, int axis, size_t i) { return g->edges[axis][i + 1] - g->edges[axis][i]; }

/* ---- a plane through a box ----
 * Volume where  value + slope . (x - corner) < 0  and its derivative by -value. */

static double cube_above(double a) { return a > 0.0 ? a * a * a : 0.0; }
static double square_above(double a) { return a > 0.0 ? a * a : 0.0; }

/* Share of a box below m . x = s, x in 0..1, m > 0 in `num` dimensions, and d share / ds: sums of powers of what is cut off at the corners
 * (Scardovelli & Zaleski 2000, J. Comput. Phys. 164:228, from memory). A plane that lies on the far face counts as inside. */
static void box_cut(const double m[3], int num, double s, double *share, double *rate)
{
  const double all = m[0] + m[1] + m[2];
  *share = s > 0.0 ? fmin(1.0, s / all) : 0.0;
  *rate = 0.0;
  if (s <= ON_FACE * all || s > all * (1.0 + ON_FACE))
    return;
  if (num == 1) {
    *share = fmin(1.0, s / m[0]);
    *rate = 1.0 / m[0];
  } else if (num == 2) {
    *share = fmin(1.0, (s * s - square_above(s - m[0]) - square_above(s - m[1])) / (2.0 * m[0] * m[1]));
    *rate = (s - fmax(s - m[0], 0.0) - fmax(s - m[1], 0.0)) / (m[0] * m[1]);
  } else {
    double cubes = cube_above(s), squares = square_above(s);
    for (int i = 0; i < 3; i++) {
      cubes += cube_above(s - (all - m[i])) - cube_above(s - m[i]);
      squares += square_above(s - (all - m[i])) - square_above(s - m[i]);
    }
    const double product = m[0] * m[1] * m[2];
    *share = fmin(1.0, cubes / (6.0 * product));
    *rate = fmax(0.0, squares) / (2.0 * product);
  }
}

/* The same for a ring between radii low and high: the column of ice at a radius is a clamped straight line, so its volume is a sum of
 * integrals of second degree (Simpson's rule is exact). m[0] along r, m[1] along z, either may be 0; `inner`: deepest at the low radius. */
static void ring_cut(double low, double high, bool inner, const double m[2], double s, double *share, double *rate)
{
  const double width = high - low, start = inner ? low : high, turn = inner ? width : -width, all = 0.5 * (high * high - low * low);
  *share = s > 0.0 ? fmin(1.0, s / (m[0] + m[1])) : 0.0;
  *rate = 0.0;
  if (s <= ON_FACE * (m[0] + m[1]) || s > (m[0] + m[1]) * (1.0 + ON_FACE))
    return;
  if (m[1] <= 0.0) {
    const double r = start + turn * fmin(1.0, s / m[0]);
    *share = 0.5 * fabs(r * r - start * start) / all;
    *rate = r * width / (m[0] * all);
    return;
  }
  if (m[0] <= 0.0) {
    *share = fmin(1.0, s / m[1]);
    *rate = 1.0 / m[1];
    return;
  }
  const double empty = fmin(s / m[0], 1.0), full = fmin(fmax((s - m[1]) / m[0], 0.0), 1.0); /* ways along r, 0..1 */
  const double r_full = start + turn * full, r_empty = start + turn * empty, r_middle = 0.5 * (r_full + r_empty);
  const double first = fmin(1.0, (s - m[0] * full) / m[1]), last = fmax(0.0, (s - m[0] * empty) / m[1]);
  const double sloping = fabs(r_empty - r_full) / 6.0 * (r_full * first + 2.0 * r_middle * (first + last) + r_empty * last);
  *share = fmin(1.0, (0.5 * fabs(r_full * r_full - start * start) + sloping) / all);
  *rate = fabs(r_empty - r_full) * r_middle / (m[1] * all);
}

/* Volume of the ice in a box where the distance is `value` at its middle and has the slopes given; adds to both sums. */
void ice_plane_cut(const grid *g, const ice_box *b, double value, const double slope[3], double *volume, double *area)
{
  double m[3] = {0.0, 0.0, 0.0}, s = -value, share, rate;
  const double steepest = fmax(fmax(fabs(slope[0]), fabs(slope[1])), fabs(slope[2]));
  int num = 0;
  for (int axis = 0; axis < 3; axis++) {
    const bool counts = !ice_plane_thin_axis(g, axis) && fabs(slope[axis]) > LEAST_SLOPE * steepest;
    const double way = counts ? fabs(slope[axis]) * (b->high[axis] - b->low[axis]) : 0.0;
    if (counts || (g->kind == GRID_RZ && axis != 1))
      m[num++] = way;
    s += 0.5 * way; /* from the corner that lies deepest in the ice */
  }
  if (steepest <= 0.0) { /* a plain: all or nothing */
    *volume += value < 0.0 ? b->volume : 0.0;
    return;
  }
  if (g->kind == GRID_RZ)
    ring_cut(b->low[0], b->high[0], slope[0] >= 0.0, m, s, &share, &rate);
  else
    box_cut(m, num, s, &share, &rate);
  *volume += share * b->volume;
  *area += rate * b->volume;
}

int ice_plane_faces(const double slope[3])
{
  return (fabs(slope[0]) > FACE) + (fabs(slope[1]) > FACE) + (fabs(slope[2]) > FACE);
}

/* An octant at an edge or a corner of the ice, where the distance would rise faster than the way: faces meet there, each of them across one
 * axis; what is ice lies behind all of them. */
void ice_plane_edge(const grid *g, const size_t at[3], const ice_box *b, double value, const double slope[3], double *volume, double *area)
{
  double part[3] = {1.0, 1.0, 1.0}, rate[3] = {0.0, 0.0, 0.0};
  for (int axis = 0; axis < 3; axis++) {
    const double half = 0.5 * ice_plane_width(g, axis, at[axis]), rise = fmin(fabs(slope[axis]), 1.0);
    if (g->num[axis] == 1 || rise < FACE)
      continue;
    /* The cell's middle is one end of the octant; the distance rises away from it or falls. */
    const bool away = (b->low[axis] > g->edges[axis][at[axis]]) == (slope[axis] > 0.0);
    const double way = fabs(value) / (rise * half); /* from the cell's middle to the face, in sides of the octant */
    const double kept = away ? (value < 0.0 ? way : 0.0) : (value < 0.0 ? 1.0 : 1.0 - way);
    part[axis] = fmin(fmax(kept, 0.0), 1.0);
    rate[axis] = kept > ON_FACE && kept <= 1.0 + ON_FACE ? 1.0 / (rise * half) : 0.0;
  }
  *volume += part[0] * part[1] * part[2] * b->volume;
  *area += (rate[0] * part[1] * part[2] + rate[1] * part[0] * part[2] + rate[2] * part[0] * part[1]) * b->volume;
}

