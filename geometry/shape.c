#include "geometry/shape.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/shape_class.h"
#include "geometry/shape_polygon.h"

double shape_distance(const shape *s, const double point[3])
{
  return s->distance(s, point);
}

void shape_normal(const shape *s, const double point[3], double step, double normal[3])
{
  double length = 0;
  for (int axis = 0; axis < 3; axis++) {
    double up[3] = {point[0], point[1], point[2]}, down[3] = {point[0], point[1], point[2]};
    up[axis] += step;
    down[axis] -= step;
    normal[axis] = s->distance(s, up) - s->distance(s, down);
    length += normal[axis] * normal[axis];
  }
  length = sqrt(length);
  for (int axis = 0; axis < 3; axis++) normal[axis] = length > 0 ? normal[axis] / length : 0;
}

void shape_bounds(const shape *s, double low[3], double high[3])
{
  s->bounds(s, low, high);
}

void shape_destroy(shape **s)
{
  if (!s || !*s) return;
  shape_destroy(&(*s)->a);
  shape_destroy(&(*s)->b);
  free((*s)->points);
  shape_shared *shared = (*s)->shared;
  if (shared && atomic_fetch_sub(&shared->holders, 1) == 1) shared->release(shared);
  free(*s);
  *s = NULL;
}

static shape *copy_of(const shape *s)
{
  shape *c = malloc(sizeof *c);
  if (!c) return NULL;
  *c = *s;
  if (c->shared) atomic_fetch_add(&c->shared->holders, 1);
  c->a = s->a ? copy_of(s->a) : NULL;
  c->b = s->b ? copy_of(s->b) : NULL;
  c->points = s->points ? malloc(s->num_points * sizeof *s->points) : NULL;
  if ((s->a && !c->a) || (s->b && !c->b) || (s->points && !c->points)) {
    shape_destroy(&c);
    return NULL;
  }
  if (s->points) memcpy(c->points, s->points, s->num_points * sizeof *s->points);
  return c;
}

status shape_clone(const shape *s, shape **out, message *msg)
{
  shape *c = copy_of(s);
  if (!c) return message_set(msg, STATUS_NO_MEMORY, "out of memory for a copy of a shape");
  *out = c;
  return STATUS_OK;
}

status shape_put(shape **out, shape made, message *msg)
{
  shape *s = malloc(sizeof *s);
  if (!s) {
    shape_destroy(&made.a);
    shape_destroy(&made.b);
    free(made.points);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a shape", sizeof *s);
  }
  *s = made;
  *out = s;
  return STATUS_OK;
}

static double radius_of(const double p[3])
{
  return p[1] == 0 ? fabs(p[0]) : sqrt(p[0] * p[0] + p[1] * p[1]);
}

static bool positive(double length)
{
  return length > 0 && isfinite(length);
}

static status check_height(const char *what, double z_low, double z_high, message *msg)
{
  if (isfinite(z_low) && isfinite(z_high) && z_high > z_low) return STATUS_OK;
  return message_set(msg, STATUS_BAD_INPUT, "%s from z = %g to %g m; its top must be above its bottom", what, z_low, z_high);
}

static void set_bounds(double low[3], double high[3], double x, double y, double half_x, double half_y, double z_low, double z_high)
{
  low[0] = x - half_x;
  low[1] = y - half_y;
  low[2] = z_low;
  high[0] = x + half_x;
  high[1] = y + half_y;
  high[2] = z_high;
}

/* ---- figures of revolution ------------------------------------------------------------------ */

/* value: inner radius (0: solid), outer radius, z_low, z_high. A rectangle in the half plane. */
static double tube_distance(const shape *s, const double p[3])
{
  const double r = radius_of(p);
  const double outer = r - s->value[1], inner = s->value[0] > 0 ? s->value[0] - r : -INFINITY;
  const double below = s->value[2] - p[2], above = p[2] - s->value[3];
  const double across = outer > inner ? outer : inner, along = below > above ? below : above;
  if (across > 0 && along > 0) return sqrt(across * across + along * along);
  return across > along ? across : along;
}

static void tube_bounds(const shape *s, double low[3], double high[3])
{
  set_bounds(low, high, 0, 0, s->value[1], s->value[1], s->value[2], s->value[3]);
}

status shape_cylinder(shape **out, double radius, double z_low, double z_high, message *msg)
{
  if (!positive(radius)) return message_set(msg, STATUS_BAD_INPUT, "cylinder: radius %g m; it must be above 0", radius);
  const status s = check_height("cylinder", z_low, z_high, msg);
  if (s != STATUS_OK) return s;
  return shape_put(out, (shape){.distance = tube_distance, .bounds = tube_bounds, .value = {0, radius, z_low, z_high}}, msg);
}

status shape_tube(shape **out, double inner_radius, double outer_radius, double z_low, double z_high, message *msg)
{
  if (!positive(inner_radius)) return message_set(msg, STATUS_BAD_INPUT, "tube: inner radius %g m; it must be above 0", inner_radius);
  if (!(positive(outer_radius) && outer_radius > inner_radius))
    return message_set(msg, STATUS_BAD_INPUT, "tube: outer radius %g m; it must be above the inner radius, %g m", outer_radius,
                       inner_radius);
  const status s = check_height("tube", z_low, z_high, msg);
  if (s != STATUS_OK) return s;
  return shape_put(out, (shape){.distance = tube_distance, .bounds = tube_bounds, .value = {inner_radius, outer_radius, z_low, z_high}}, msg);
}

static double revolved_distance(const shape *s, const double p[3])
{
  return shape_polygon_distance((const double(*)[2])s->points, s->num_points, radius_of(p), p[2]);
}

static void revolved_bounds(const shape *s, double low[3], double high[3])
{
  double radius = 0, z_low = INFINITY, z_high = -INFINITY;
  for (size_t i = 0; i < s->num_points; i++) {
    radius = fmax(radius, s->points[i][0]);
    z_low = fmin(z_low, s->points[i][1]);
    z_high = fmax(z_high, s->points[i][1]);
  }
  set_bounds(low, high, 0, 0, radius, radius, z_low, z_high);
}

status shape_revolved(shape **out, const double (*rz)[2], size_t num_points, message *msg)
{
  const status s = shape_polygon_check(rz, num_points, msg);
  if (s != STATUS_OK) return s;
  double(*points)[2] = malloc(num_points * sizeof *points);
  if (!points) return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a profile", num_points * sizeof *points);
  memcpy(points, rz, num_points * sizeof *points);
  return shape_put(out, (shape){.distance = revolved_distance, .bounds = revolved_bounds, .points = points, .num_points = num_points}, msg);
}

/* A frustum is a revolved trapezium; one of the radii may be 0 (a cone). */
status shape_frustum(shape **out, double radius_low, double radius_high, double z_low, double z_high, message *msg)
{
  if (!(radius_low >= 0 && radius_high >= 0 && isfinite(radius_low) && isfinite(radius_high) && radius_low + radius_high > 0))
    return message_set(msg, STATUS_BAD_INPUT, "frustum: radii %g m below, %g m above; neither may be below 0, nor both 0", radius_low,
                       radius_high);
  const status s = check_height("frustum", z_low, z_high, msg);
  if (s != STATUS_OK) return s;
  double rz[4][2];
  size_t n = 0;
  rz[n][0] = 0, rz[n++][1] = z_low;
  if (radius_low > 0) rz[n][0] = radius_low, rz[n++][1] = z_low;
  if (radius_high > 0) rz[n][0] = radius_high, rz[n++][1] = z_high;
  rz[n][0] = 0, rz[n++][1] = z_high;
  return shape_revolved(out, (const double(*)[2])rz, n, msg);
}

/* value: centre, radius */
static double sphere_distance(const shape *s, const double p[3])
{
  const double x = p[0] - s->value[0], y = p[1] - s->value[1], z = p[2] - s->value[2];
  return sqrt(x * x + y * y + z * z) - s->value[3];
}

static void sphere_bounds(const shape *s, double low[3], double high[3])
{
  const double *c = s->value, r = s->value[3];
  set_bounds(low, high, c[0], c[1], r, r, c[2] - r, c[2] + r);
}

status shape_sphere(shape **out, const double centre[3], double radius, message *msg)
{
  if (!positive(radius)) return message_set(msg, STATUS_BAD_INPUT, "sphere: radius %g m; it must be above 0", radius);
  if (!(isfinite(centre[0]) && isfinite(centre[1]) && isfinite(centre[2])))
    return message_set(msg, STATUS_BAD_INPUT, "sphere: its centre is not a finite point");
  return shape_put(out, (shape){.distance = sphere_distance, .bounds = sphere_bounds, .value = {centre[0], centre[1], centre[2], radius}}, msg);
}

/* value: ring radius, tube radius, z */
static double torus_distance(const shape *s, const double p[3])
{
  const double r = radius_of(p) - s->value[0], z = p[2] - s->value[2];
  return sqrt(r * r + z * z) - s->value[1];
}

static void torus_bounds(const shape *s, double low[3], double high[3])
{
  const double out = s->value[0] + s->value[1];
  set_bounds(low, high, 0, 0, out, out, s->value[2] - s->value[1], s->value[2] + s->value[1]);
}

status shape_torus(shape **out, double ring_radius, double tube_radius, double z, message *msg)
{
  if (!positive(tube_radius)) return message_set(msg, STATUS_BAD_INPUT, "torus: tube radius %g m; it must be above 0", tube_radius);
  if (!(positive(ring_radius) && ring_radius >= tube_radius))
    return message_set(msg, STATUS_BAD_INPUT, "torus: ring radius %g m; it must not be below the tube radius, %g m", ring_radius,
                       tube_radius);
  if (!isfinite(z)) return message_set(msg, STATUS_BAD_INPUT, "torus: its height z is not a finite number");
  return shape_put(out, (shape){.distance = torus_distance, .bounds = torus_bounds, .value = {ring_radius, tube_radius, z}}, msg);
}

/* ---- boxes and half spaces -------------------------------------------------------------------- */

/* value: low, high */
static double box_distance(const shape *s, const double p[3])
{
  double largest = -INFINITY, outside = 0;
  for (int axis = 0; axis < 3; axis++) {
    const double below = s->value[axis] - p[axis], above = p[axis] - s->value[axis + 3];
    const double d = below > above ? below : above;
    if (d > largest) largest = d;
    if (d > 0) outside += d * d;
  }
  return largest > 0 ? sqrt(outside) : largest;
}

static void box_bounds(const shape *s, double low[3], double high[3])
{
  memcpy(low, s->value, 3 * sizeof *low);
  memcpy(high, s->value + 3, 3 * sizeof *high);
}

status shape_box(shape **out, const double low[3], const double high[3], message *msg)
{
  shape made = {.distance = box_distance, .bounds = box_bounds};
  for (int axis = 0; axis < 3; axis++) {
    if (!(isfinite(low[axis]) && isfinite(high[axis]) && high[axis] > low[axis]))
      return message_set(msg, STATUS_BAD_INPUT, "box: %c runs from %g to %g m; it must rise", "xyz"[axis], low[axis], high[axis]);
    made.value[axis] = low[axis];
    made.value[axis + 3] = high[axis];
  }
  return shape_put(out, made, msg);
}

/* value: point, unit outward normal */
static double half_space_distance(const shape *s, const double p[3])
{
  const double *v = s->value;
  return (p[0] - v[0]) * v[3] + (p[1] - v[1]) * v[4] + (p[2] - v[2]) * v[5];
}

static void half_space_bounds(const shape *s, double low[3], double high[3])
{
  for (int axis = 0; axis < 3; axis++) {
    low[axis] = s->value[axis + 3] == -1 ? s->value[axis] : -INFINITY;
    high[axis] = s->value[axis + 3] == 1 ? s->value[axis] : INFINITY;
  }
}

status shape_half_space(shape **out, const double point[3], const double outward_normal[3], message *msg)
{
  const double *n = outward_normal;
  const double length = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
  if (!positive(length)) return message_set(msg, STATUS_BAD_INPUT, "half space: its outward normal has no length");
  if (!(isfinite(point[0]) && isfinite(point[1]) && isfinite(point[2])))
    return message_set(msg, STATUS_BAD_INPUT, "half space: its point is not finite");
  return shape_put(out,
             (shape){.distance = half_space_distance,
                     .bounds = half_space_bounds,
                     .value = {point[0], point[1], point[2], n[0] / length, n[1] / length, n[2] / length}},
             msg);
}

/* ---- operations ----------------------------------------------------------------------------------- */

static double union_distance(const shape *s, const double p[3])
{
  const double a = shape_distance(s->a, p), b = shape_distance(s->b, p);
  return a < b ? a : b;
}

static double intersection_distance(const shape *s, const double p[3])
{
  const double a = shape_distance(s->a, p), b = shape_distance(s->b, p);
  return a > b ? a : b;
}

static double difference_distance(const shape *s, const double p[3])
{
  const double a = shape_distance(s->a, p), b = -shape_distance(s->b, p);
  return a > b ? a : b;
}

static double offset_distance(const shape *s, const double p[3])
{
  return shape_distance(s->a, p) - s->value[0];
}

static double translate_distance(const shape *s, const double p[3])
{
  return shape_distance(s->a, (double[3]){p[0] - s->value[0], p[1] - s->value[1], p[2] - s->value[2]});
}

static void union_bounds(const shape *s, double low[3], double high[3])
{
  double low_b[3], high_b[3];
  shape_bounds(s->a, low, high);
  shape_bounds(s->b, low_b, high_b);
  for (int axis = 0; axis < 3; axis++) {
    low[axis] = fmin(low[axis], low_b[axis]);
    high[axis] = fmax(high[axis], high_b[axis]);
  }
}

static void intersection_bounds(const shape *s, double low[3], double high[3])
{
  double low_b[3], high_b[3];
  shape_bounds(s->a, low, high);
  shape_bounds(s->b, low_b, high_b);
  for (int axis = 0; axis < 3; axis++) {
    low[axis] = fmax(low[axis], low_b[axis]);
    high[axis] = fmax(low[axis], fmin(high[axis], high_b[axis]));
  }
}

static void first_bounds(const shape *s, double low[3], double high[3])
{
  shape_bounds(s->a, low, high);
}

static void offset_bounds(const shape *s, double low[3], double high[3])
{
  shape_bounds(s->a, low, high);
  for (int axis = 0; axis < 3; axis++) {
    low[axis] -= s->value[0];
    high[axis] = fmax(low[axis], high[axis] + s->value[0]);
  }
}

static void translate_bounds(const shape *s, double low[3], double high[3])
{
  shape_bounds(s->a, low, high);
  for (int axis = 0; axis < 3; axis++) {
    low[axis] += s->value[axis];
    high[axis] += s->value[axis];
  }
}

status shape_union(shape **out, shape *a, shape *b, message *msg)
{
  return shape_put(out, (shape){.distance = union_distance, .bounds = union_bounds, .a = a, .b = b}, msg);
}

status shape_intersection(shape **out, shape *a, shape *b, message *msg)
{
  return shape_put(out, (shape){.distance = intersection_distance, .bounds = intersection_bounds, .a = a, .b = b}, msg);
}

status shape_difference(shape **out, shape *a, shape *b, message *msg)
{
  return shape_put(out, (shape){.distance = difference_distance, .bounds = first_bounds, .a = a, .b = b}, msg);
}

status shape_offset(shape **out, shape *a, double distance, message *msg)
{
  if (!isfinite(distance)) {
    shape_destroy(&a);
    return message_set(msg, STATUS_BAD_INPUT, "offset: the distance is not a finite number");
  }
  return shape_put(out, (shape){.distance = offset_distance, .bounds = offset_bounds, .a = a, .value = {distance}}, msg);
}

status shape_translate(shape **out, shape *a, const double by[3], message *msg)
{
  if (!(isfinite(by[0]) && isfinite(by[1]) && isfinite(by[2]))) {
    shape_destroy(&a);
    return message_set(msg, STATUS_BAD_INPUT, "translation: the way is not finite");
  }
  return shape_put(out, (shape){.distance = translate_distance, .bounds = translate_bounds, .a = a, .value = {by[0], by[1], by[2]}}, msg);
}
