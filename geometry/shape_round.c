#include "geometry/shape_round.h"

#include <math.h>

#include "geometry/shape_class.h"

static const double pi = 3.14159265358979323846;

static double radius_of(const double p[3])
{
  return p[1] == 0 ? fabs(p[0]) : sqrt(p[0] * p[0] + p[1] * p[1]);
}

static status check_sizes(const char *what, const char *radius_name, double radius, double z_low, double z_high, message *msg)
{
  if (!(radius > 0 && isfinite(radius)))
    return message_set(msg, STATUS_BAD_INPUT, "%s: %s %g m; it must be above 0", what, radius_name, radius);
  if (!(isfinite(z_low) && isfinite(z_high) && z_high > z_low))
    return message_set(msg, STATUS_BAD_INPUT, "%s from z = %g to %g m; its top must be above its bottom", what, z_low, z_high);
  return STATUS_OK;
}

/* ---- spheroid ------------------------------------------------------------------------------------ */

/* Distance of (x, y), x, y >= 0, from the ellipse with half axes a, b: the foot (a^2 x / (t + a^2), b^2 y / (t + b^2)) lies on it for the
 * largest root t of (a x / (t + a^2))^2 + (b y / (t + b^2))^2 = 1, found by halving (Eberly, "Distance from a point to an ellipse", 2013:
 * from memory). */
static double ellipse_distance(double a, double b, double x, double y)
{
  double foot[2];
  const double shorter = a < b ? a : b;
  if ((a < b ? x : y) > 0) {
    double low = -shorter * shorter + shorter * (a < b ? x : y), high = -shorter * shorter + hypot(a * x, b * y);
    for (int turn = 0; turn < 200; turn++) {
      const double t = 0.5 * (low + high), u = a * x / (t + a * a), v = b * y / (t + b * b);
      if (t == low || t == high) break;
      if (u * u + v * v > 1) low = t;
      else high = t;
    }
    const double t = 0.5 * (low + high);
    foot[0] = a * a * x / (t + a * a);
    foot[1] = b * b * y / (t + b * b);
  } else { /* on the longer axis: beyond the centre of curvature the end is nearest, else a point beside it */
    const double along = a < b ? y : x, l = a < b ? b : a, room = l * l - shorter * shorter;
    const double share = room > 0 && l * along < room ? l * along / room : 1;
    const double far = l * share, aside = share < 1 ? shorter * sqrt(1 - share * share) : 0;
    foot[0] = a < b ? aside : far;
    foot[1] = a < b ? far : aside;
  }
  const double d = hypot(x - foot[0], y - foot[1]);
  return x * x / (a * a) + y * y / (b * b) < 1 ? -d : d;
}

/* value: radius, half height, middle */
static double spheroid_distance(const shape *s, const double p[3])
{
  const double a = s->value[0], b = s->value[1], r = radius_of(p), z = fabs(p[2] - s->value[2]);
  if (a == b) return hypot(r, z) - a;
  return ellipse_distance(a, b, r, z);
}

/* Between -1 and z, in the half height, of a ball or one that was stretched. */
static double ball_below(double z)
{
  const double u = z < -1 ? -1 : z > 1 ? 1 : z;
  return pi * (u - u * u * u / 3 + 2.0 / 3);
}

static double spheroid_volume(const shape *s, double grown, double z_level)
{
  if (grown > 0) return NAN;
  const double *v = s->value;
  return v[0] * v[0] * v[1] * ball_below((z_level - v[2]) / v[1]);
}

static void spheroid_bounds(const shape *s, double low[3], double high[3])
{
  const double *v = s->value;
  low[0] = low[1] = -v[0];
  high[0] = high[1] = v[0];
  low[2] = v[2] - v[1];
  high[2] = v[2] + v[1];
}

status shape_round_spheroid(shape **out, double radius, double z_low, double z_high, message *msg)
{
  const status code = check_sizes("spheroid", "radius", radius, z_low, z_high, msg);
  if (code != STATUS_OK) return code;
  return shape_put(out,
                   (shape){.distance = spheroid_distance,
                           .bounds = spheroid_bounds,
                           .volume_below = spheroid_volume,
                           .convex = true,
                           .value = {radius, 0.5 * (z_high - z_low), 0.5 * (z_low + z_high)}},
                   msg);
}

/* ---- cap ----------------------------------------------------------------------------------------- */

/* value: base radius, z of the base, radius of the ball, z of its centre */
static double cap_distance(const shape *s, const double p[3])
{
  const double base = s->value[0], z = p[2] - s->value[1], ball = s->value[2], r = radius_of(p);
  const double rise = s->value[3] - s->value[1], up = z - rise; /* of the centre over the base; of the point over the centre */
  const double round = hypot(r, up) - ball;
  if (round < 0 && z > 0) return -z > round ? -z : round;
  /* Outside the ball and with its foot on the ball above the base: nearest to the arc; else to the base or to its rim. */
  if (round >= 0 && rise + ball * up / hypot(r, up) >= 0) return round;
  if (r <= base && z <= 0) return -z;
  return hypot(r - base, z);
}

static double cap_volume(const shape *s, double grown, double z_level)
{
  if (grown > 0) return NAN;
  const double *v = s->value, ball = v[2];
  return z_level <= v[1] ? 0 : ball * ball * ball * (ball_below((z_level - v[3]) / ball) - ball_below((v[1] - v[3]) / ball));
}

static void cap_bounds(const shape *s, double low[3], double high[3])
{
  const double *v = s->value, wide = v[3] > v[1] ? v[2] : v[0];
  low[0] = low[1] = -wide;
  high[0] = high[1] = wide;
  low[2] = v[1];
  high[2] = v[3] + v[2];
}

status shape_round_cap(shape **out, double base_radius, double z_low, double z_high, message *msg)
{
  const status code = check_sizes("cap", "radius of its base", base_radius, z_low, z_high, msg);
  if (code != STATUS_OK) return code;
  const double height = z_high - z_low, ball = (base_radius * base_radius + height * height) / (2 * height);
  return shape_put(out,
                   (shape){.distance = cap_distance,
                           .bounds = cap_bounds,
                           .volume_below = cap_volume,
                           .convex = true,
                           .value = {base_radius, z_low, ball, z_high - ball}},
                   msg);
}
