#include "geometry/shape_placed.h"

#include <math.h>

#include "geometry/shape_class.h"

/* value: rotation by rows [0..8], by [9..11], scale [12] */
static void to_own(const double *v, const double p[3], double own[3])
{
  const double d[3] = {p[0] - v[9], p[1] - v[10], p[2] - v[11]};
  for (int a = 0; a < 3; a++) own[a] = (v[a] * d[0] + v[3 + a] * d[1] + v[6 + a] * d[2]) / v[12];
}

static double placed_distance(const shape *s, const double p[3])
{
  double own[3];
  to_own(s->value, p, own);
  return s->value[12] * shape_distance(s->a, own);
}

static void placed_normal(const shape *s, const double p[3], double step, double normal[3])
{
  double own[3], n[3];
  const double *v = s->value;
  to_own(v, p, own);
  shape_normal(s->a, own, step / v[12], n);
  for (int a = 0; a < 3; a++) normal[a] = v[3 * a] * n[0] + v[3 * a + 1] * n[1] + v[3 * a + 2] * n[2];
}

static double placed_volume(const shape *s, double grown, double z_level)
{
  const double *v = s->value, scale = v[12];
  double low[3], high[3], own_level = INFINITY;
  if (!s->a->volume_below) return NAN;
  shape_bounds(s, low, high);
  if (v[6] == 0 && v[7] == 0 && v[8] == 1) own_level = (z_level - v[11]) / scale;
  else if (z_level < high[2] + grown) return NAN;
  return scale * scale * scale * s->a->volume_below(s->a, grown / scale, own_level);
}

/* Of the turned box; an axis that takes nothing from an unbounded one stays bounded. */
static void placed_bounds(const shape *s, double low[3], double high[3])
{
  double own_low[3], own_high[3];
  const double *v = s->value;
  shape_bounds(s->a, own_low, own_high);
  for (int a = 0; a < 3; a++) {
    low[a] = high[a] = v[9 + a];
    for (int b = 0; b < 3; b++) {
      const double k = v[12] * v[3 * a + b];
      if (k == 0) continue;
      low[a] += k > 0 ? k * own_low[b] : k * own_high[b];
      high[a] += k > 0 ? k * own_high[b] : k * own_low[b];
    }
  }
}

status shape_placed(shape **out, shape *a, const shape_placed_frame *f, message *msg)
{
  shape made = {.distance = placed_distance, .normal = placed_normal, .bounds = placed_bounds, .volume_below = placed_volume,
                .convex = a->convex, .a = a};
  bool good = f->scale > 0 && isfinite(f->scale);
  for (int i = 0; i < 3; i++) {
    for (int j = 0; j < 3; j++) {
      made.value[3 * i + j] = f->rotation[i][j];
      good = good && isfinite(f->rotation[i][j]);
    }
    made.value[9 + i] = f->by[i];
    good = good && isfinite(f->by[i]);
  }
  made.value[12] = f->scale;
  if (good) return shape_put(out, made, msg);
  shape_destroy(&a);
  return message_set(msg, STATUS_BAD_INPUT, "scaled by %g and moved: the scale must be above 0 and every number finite", f->scale);
}

/* ---- frames -------------------------------------------------------------------------------------- */

/* Whole quarters of a turn without the rounding of pi. */
static void cosine_and_sine(double angle, double *c, double *s)
{
  const double quarters = angle / (0.5 * 3.14159265358979323846), whole = round(quarters);
  if (fabs(quarters - whole) < 1e-12) {
    static const double steps[4] = {1, 0, -1, 0};
    const int at = (int)fmod(fmod(whole, 4) + 4, 4);
    *c = steps[at];
    *s = steps[(at + 3) % 4];
  } else {
    *c = cos(angle);
    *s = sin(angle);
  }
}

shape_placed_frame shape_placed_turn(double scale, double spin, double tilt, double turn, const double pivot[3], const double by[3])
{
  shape_placed_frame f = {.scale = scale};
  double c1, s1, c2, s2, c3, s3;
  cosine_and_sine(spin, &c1, &s1);
  cosine_and_sine(tilt, &c2, &s2);
  cosine_and_sine(turn, &c3, &s3);
  /* R = Rz(turn) Ry(tilt) Rz(spin) */
  f.rotation[0][0] = c3 * c2 * c1 - s3 * s1;
  f.rotation[0][1] = -c3 * c2 * s1 - s3 * c1;
  f.rotation[0][2] = c3 * s2;
  f.rotation[1][0] = s3 * c2 * c1 + c3 * s1;
  f.rotation[1][1] = -s3 * c2 * s1 + c3 * c1;
  f.rotation[1][2] = s3 * s2;
  f.rotation[2][0] = -s2 * c1;
  f.rotation[2][1] = s2 * s1;
  f.rotation[2][2] = c2;
  double turned[3];
  shape_placed_point(&f, pivot, turned);
  for (int a = 0; a < 3; a++) f.by[a] = pivot[a] - turned[a] + by[a];
  return f;
}

shape_placed_frame shape_placed_axis(const double from[3], const double to[3])
{
  const double way[3] = {to[0] - from[0], to[1] - from[1], to[2] - from[2]};
  const double level = hypot(way[0], way[1]);
  const double origin[3] = {0, 0, 0};
  if (level == 0) return shape_placed_turn(1, 0, way[2] > 0 ? 0 : 3.14159265358979323846, 0, origin, from);
  shape_placed_frame f = {.scale = 1, .by = {from[0], from[1], from[2]}};
  const double length = hypot(level, way[2]), c = way[2] / length, s = level / length, cx = way[0] / level, sx = way[1] / level;
  const double rotation[3][3] = {{cx * c, -sx, cx * s}, {sx * c, cx, sx * s}, {-s, 0, c}};
  for (int a = 0; a < 3; a++)
    for (int b = 0; b < 3; b++) f.rotation[a][b] = rotation[a][b];
  return f;
}

void shape_placed_point(const shape_placed_frame *f, const double own[3], double placed[3])
{
  for (int a = 0; a < 3; a++)
    placed[a] = f->scale * (f->rotation[a][0] * own[0] + f->rotation[a][1] * own[1] + f->rotation[a][2] * own[2]) + f->by[a];
}

shape_placed_kind shape_placed_kind_of(const shape_placed_frame *f)
{
  bool upright = true;
  for (int a = 0; a < 3; a++)
    for (int b = 0; b < 3; b++) {
      const double r = fabs(f->rotation[a][b]);
      if (r != 0 && r != 1) return SHAPE_PLACED_OBLIQUE;
      upright = upright && f->rotation[a][b] == (a == b);
    }
  return upright ? SHAPE_PLACED_UPRIGHT : SHAPE_PLACED_SQUARE;
}

/* ---- the lowest point ---------------------------------------------------------------------------- */

/* z at which the upward way from below first meets the shape, INFINITY when it passes by. */
static double first_met(const shape *s, double x, double y, double from, double to, double near)
{
  for (double z = from; z <= to;) {
    const double d = shape_distance(s, (double[3]){x, y, z});
    if (d <= near) return z;
    z += d;
  }
  return INFINITY;
}

double shape_placed_lowest(const shape *s)
{
  enum { ACROSS = 32, ROUNDS = 6 };
  double low[3], high[3], at[2] = {0, 0}, best = INFINITY;
  shape_bounds(s, low, high);
  const double from = low[2], to = high[2], size = fmax(high[0] - low[0], fmax(high[1] - low[1], to - from));
  const double near = 2e-5 * size;
  for (int round = 0; round < ROUNDS; round++) {
    const double step[2] = {(high[0] - low[0]) / ACROSS, (high[1] - low[1]) / ACROSS};
    for (int i = 0; i <= ACROSS; i++)
      for (int j = 0; j <= ACROSS; j++) {
        const double x = low[0] + i * step[0], y = low[1] + j * step[1], z = first_met(s, x, y, from, to, near);
        if (z < best) {
          best = z;
          at[0] = x;
          at[1] = y;
        }
      }
    if (!isfinite(best)) return from;
    for (int a = 0; a < 2; a++) {
      low[a] = at[a] - 2 * step[a];
      high[a] = at[a] + 2 * step[a];
    }
  }
  return best;
}
