#include "geometry/shape.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/shape_class.h"
#include "geometry/shape_polygon.h"

static const double pi = 3.14159265358979323846;

double shape_distance(const shape *s, const double point[3])
{
  return s->distance(s, point);
}

static void make_unit(double normal[3])
{
  const double length = sqrt(normal[0] * normal[0] + normal[1] * normal[1] + normal[2] * normal[2]);
  for (int axis = 0; axis < 3; axis++) normal[axis] = length > 0 ? normal[axis] / length : 0;
}

static void normal_by_differences(const shape *s, const double point[3], double step, double normal[3])
{
  for (int axis = 0; axis < 3; axis++) {
    double up[3] = {point[0], point[1], point[2]}, down[3] = {point[0], point[1], point[2]};
    up[axis] += step;
    down[axis] -= step;
    normal[axis] = s->distance(s, up) - s->distance(s, down);
  }
  make_unit(normal);
}

void shape_normal(const shape *s, const double point[3], double step, double normal[3])
{
  if (s->normal) s->normal(s, point, step, normal);
  else normal_by_differences(s, point, step, normal);
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

/* How much of a height lies below a level. */
static double height_below(double z_low, double z_high, double z_level)
{
  return z_level <= z_low ? 0 : (z_level < z_high ? z_level : z_high) - z_low;
}

double shape_prism_volume(double area, double perimeter, double z_low, double z_high, double grown, double z_level)
{
  double sum = (area + (perimeter + pi * grown) * grown) * height_below(z_low, z_high, z_level);
  for (int end = 0; end < 2 && grown > 0; end++) { /* the roundings: integral over u of the section, rho^2 = grown^2 - u^2 */
    const double from = end == 0 ? -grown : 0, to = from + height_below((end == 0 ? z_low : z_high) + from, (end == 0 ? z_low : z_high) + from + grown, z_level);
    const double u[2] = {from, to};
    for (int i = 0; i < 2; i++) {
      const double turned = u[i] < -grown ? -1 : u[i] > grown ? 1 : u[i] / grown, rho = grown * sqrt(1 - turned * turned);
      const double whole = area * u[i] + 0.5 * perimeter * (u[i] * rho + grown * grown * asin(turned)) + pi * u[i] * (grown * grown - u[i] * u[i] / 3);
      sum += i == 1 ? whole : -whole;
    }
  }
  return sum;
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

static double tube_volume(const shape *s, double grown, double z_level)
{
  const double *v = s->value;
  if (v[0] > 0 && grown > 0) return NAN;
  return shape_prism_volume(pi * (v[1] * v[1] - v[0] * v[0]), 2 * pi * v[1], v[2], v[3], grown, z_level);
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
  return shape_put(out,
                   (shape){.distance = tube_distance,
                           .bounds = tube_bounds,
                           .volume_below = tube_volume,
                           .convex = true,
                           .value = {0, radius, z_low, z_high}},
                   msg);
}

status shape_tube(shape **out, double inner_radius, double outer_radius, double z_low, double z_high, message *msg)
{
  if (!positive(inner_radius)) return message_set(msg, STATUS_BAD_INPUT, "tube: inner radius %g m; it must be above 0", inner_radius);
  if (!(positive(outer_radius) && outer_radius > inner_radius))
    return message_set(msg, STATUS_BAD_INPUT, "tube: outer radius %g m; it must be above the inner radius, %g m", outer_radius,
                       inner_radius);
  const status s = check_height("tube", z_low, z_high, msg);
  if (s != STATUS_OK) return s;
  return shape_put(out,
                   (shape){.distance = tube_distance,
                           .bounds = tube_bounds,
                           .volume_below = tube_volume,
                           .value = {inner_radius, outer_radius, z_low, z_high}},
                   msg);
}

static double revolved_distance(const shape *s, const double p[3])
{
  return shape_polygon_distance((const double(*)[2])s->points, s->num_points, radius_of(p), p[2]);
}

/* Integral of pi r^2 dz along the profile, what is above the level left out; either way round. */
static double revolved_volume(const shape *s, double grown, double z_level)
{
  double sum = 0;
  if (grown > 0) return NAN;
  for (size_t i = 0; i < s->num_points; i++) {
    const double *a = s->points[i], *b = s->points[(i + 1) % s->num_points];
    const double *low = a[1] < b[1] ? a : b, *high = a[1] < b[1] ? b : a, height = height_below(low[1], high[1], z_level);
    if (!(height > 0)) continue;
    const double r = low[0] + (high[0] - low[0]) * height / (high[1] - low[1]), piece = pi * height * (r * r + r * low[0] + low[0] * low[0]) / 3;
    sum += low == a ? piece : -piece;
  }
  return fabs(sum);
}

static bool revolved_convex(const double (*rz)[2], size_t n)
{
  int turns = 0;
  for (size_t i = 0; i < n; i++) {
    const double *a = rz[i], *b = rz[(i + 1) % n], *c = rz[(i + 2) % n];
    const double turn = (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]);
    turns |= turn > 0 ? 1 : turn < 0 ? 2 : 0;
  }
  bool on_axis = false; /* one that stays off the axis is a ring */
  for (size_t i = 0; i < n; i++) on_axis = on_axis || (rz[i][0] == 0 && rz[(i + 1) % n][0] == 0);
  return turns != 3 && on_axis;
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
  return shape_put(out,
                   (shape){.distance = revolved_distance,
                           .bounds = revolved_bounds,
                           .volume_below = revolved_volume,
                           .convex = revolved_convex(rz, num_points),
                           .points = points,
                           .num_points = num_points},
                   msg);
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

static double sphere_volume(const shape *s, double grown, double z_level)
{
  const double r = s->value[3] + grown, h = height_below(s->value[2] - r, s->value[2] + r, z_level);
  return pi * h * h * (r - h / 3);
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
  return shape_put(out,
                   (shape){.distance = sphere_distance,
                           .bounds = sphere_bounds,
                           .volume_below = sphere_volume,
                           .convex = true,
                           .value = {centre[0], centre[1], centre[2], radius}},
                   msg);
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

/* value: low, high. How far x lies beyond the sides across an axis; below 0: between them. */
static double beyond_sides(const shape *s, int axis, double x)
{
  const double below = s->value[axis] - x, above = x - s->value[axis + 3];
  return below > above ? below : above;
}

static double distance_beyond(const double beyond[3])
{
  double largest = -INFINITY, outside = 0;
  for (int axis = 0; axis < 3; axis++) {
    if (beyond[axis] > largest) largest = beyond[axis];
    if (beyond[axis] > 0) outside += beyond[axis] * beyond[axis];
  }
  return largest > 0 ? sqrt(outside) : largest;
}

static double box_distance(const shape *s, const double p[3])
{
  return distance_beyond((double[]){beyond_sides(s, 0, p[0]), beyond_sides(s, 1, p[1]), beyond_sides(s, 2, p[2])});
}

/* The axis across which alone the distance changes within a step, being that of one side; -1: there is none. */
static int only_axis(const double beyond[3], double step)
{
  const int axis = beyond[0] >= beyond[1] ? (beyond[0] >= beyond[2] ? 0 : 2) : (beyond[1] >= beyond[2] ? 1 : 2);
  for (int a = 0; a < 3; a++)
    if (a != axis && (beyond[a] + step > 0 || beyond[a] + step >= beyond[axis] - step)) return -1;
  return axis;
}

/* By differences, of which each moves one of the three only. */
static void box_normal(const shape *s, const double p[3], double step, double normal[3])
{
  const double here[3] = {beyond_sides(s, 0, p[0]), beyond_sides(s, 1, p[1]), beyond_sides(s, 2, p[2])};
  const int only = only_axis(here, step);
  const double rise = only < 0 ? 0 : beyond_sides(s, only, p[only] + step) - beyond_sides(s, only, p[only] - step);
  if (rise != 0) {
    normal[0] = normal[1] = normal[2] = 0;
    normal[only] = rise > 0 ? 1 : -1;
    return;
  }
  for (int axis = 0; axis < 3; axis++) {
    double up[3] = {here[0], here[1], here[2]}, down[3] = {here[0], here[1], here[2]};
    up[axis] = beyond_sides(s, axis, p[axis] + step);
    down[axis] = beyond_sides(s, axis, p[axis] - step);
    normal[axis] = distance_beyond(up) - distance_beyond(down);
  }
  make_unit(normal);
}

static double box_volume(const shape *s, double grown, double z_level)
{
  const double *v = s->value, x = v[3] - v[0], y = v[4] - v[1];
  return shape_prism_volume(x * y, 2 * (x + y), v[2], v[5], grown, z_level);
}

static void box_bounds(const shape *s, double low[3], double high[3])
{
  memcpy(low, s->value, 3 * sizeof *low);
  memcpy(high, s->value + 3, 3 * sizeof *high);
}

status shape_box(shape **out, const double low[3], const double high[3], message *msg)
{
  shape made = {.distance = box_distance, .normal = box_normal, .bounds = box_bounds, .volume_below = box_volume, .convex = true};
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
                     .convex = true,
                     .lid = n[0] == 0 && n[1] == 0 && n[2] > 0,
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

/* Of the operand whose surface it is; `sign` -1: the second one turned inside out. Where both are about as near, by differences. */
static void normal_of_two(const shape *s, const double p[3], double step, bool greater, int sign, double normal[3])
{
  const double a = shape_distance(s->a, p), b = sign * shape_distance(s->b, p);
  if (fabs(a - b) <= 4 * step) {
    normal_by_differences(s, p, step, normal);
    return;
  }
  const bool first = greater ? a > b : a < b;
  shape_normal(first ? s->a : s->b, p, step, normal);
  for (int axis = 0; axis < 3 && !first && sign < 0; axis++) normal[axis] = -normal[axis];
}

typedef struct {
  const shape *nearest;
  double distance, next; /* of it, and of the one after it */
} nearest_piece;

/* Looks at every piece of a union of unions once. */
static void look_for_nearest(const shape *s, const double p[3], nearest_piece *n)
{
  if (s->distance == union_distance) {
    look_for_nearest(s->a, p, n);
    look_for_nearest(s->b, p, n);
    return;
  }
  const double d = shape_distance(s, p);
  if (d < n->distance) *n = (nearest_piece){s, d, n->distance};
  else if (d < n->next) n->next = d;
}

/* As normal_of_two finds it, which would ask every piece again for each union it is in. */
static void union_normal(const shape *s, const double p[3], double step, double normal[3])
{
  nearest_piece n = {NULL, INFINITY, INFINITY};
  look_for_nearest(s, p, &n);
  if (!n.nearest || n.next - n.distance <= 4 * step) normal_by_differences(s, p, step, normal);
  else shape_normal(n.nearest, p, step, normal);
}

static void intersection_normal(const shape *s, const double p[3], double step, double normal[3])
{
  normal_of_two(s, p, step, true, 1, normal);
}

static void difference_normal(const shape *s, const double p[3], double step, double normal[3])
{
  normal_of_two(s, p, step, true, -1, normal);
}

static void offset_normal(const shape *s, const double p[3], double step, double normal[3])
{
  shape_normal(s->a, p, step, normal);
}

static void translate_normal(const shape *s, const double p[3], double step, double normal[3])
{
  shape_normal(s->a, (double[3]){p[0] - s->value[0], p[1] - s->value[1], p[2] - s->value[2]}, step, normal);
}

static double offset_distance(const shape *s, const double p[3])
{
  return shape_distance(s->a, p) - s->value[0];
}

static double translate_distance(const shape *s, const double p[3])
{
  return shape_distance(s->a, (double[3]){p[0] - s->value[0], p[1] - s->value[1], p[2] - s->value[2]});
}

/* Puts the sides of s, turned or not, behind `num` others; their number, or 0 when there is no room. */
static size_t add_sides(const shape *s, bool turned, size_t most, size_t num, shape_side *sides)
{
  const bool both = turned ? s->distance == union_distance : s->distance == intersection_distance;
  if (both || (!turned && s->distance == difference_distance)) {
    const size_t first = add_sides(s->a, turned, most, num, sides);
    return first == 0 ? 0 : add_sides(s->b, both ? turned : true, most, first, sides);
  }
  if (num == most) return 0;
  sides[num] = (shape_side){s, turned};
  return num + 1;
}

size_t shape_sides(const shape *s, size_t most, shape_side *sides)
{
  const size_t num = add_sides(s, false, most, 0, sides);
  if (num > 0) return num;
  sides[0] = (shape_side){s, false};
  return 1;
}

/* ---- their volumes, where they follow from those of the operands; else NAN -------------------------- */

static double known_volume(const shape *s, double grown, double z_level)
{
  return s->volume_below ? s->volume_below(s, grown, z_level) : NAN;
}

static bool apart_by_bounds(const shape *a, const shape *b, double gap)
{
  double low[2][3], high[2][3];
  shape_bounds(a, low[0], high[0]);
  shape_bounds(b, low[1], high[1]);
  for (int axis = 0; axis < 3; axis++)
    if (high[0][axis] + gap <= low[1][axis] || high[1][axis] + gap <= low[0][axis]) return true;
  return false;
}

static bool holds_below(const shape *a, const shape *b, double z_level);

/* Surely further than `gap` from each other: by the bounds of what they are made of, or one lies where the other was taken away. */
static bool apart(const shape *a, const shape *b, double gap)
{
  if (apart_by_bounds(a, b, gap)) return true;
  for (int turn = 0; turn < 2; turn++) {
    const shape *x = turn == 0 ? a : b, *y = turn == 0 ? b : a;
    if (x->distance == union_distance) return apart(x->a, y, gap) && apart(x->b, y, gap);
    if (x->distance == intersection_distance) return apart(x->a, y, gap);
    if (x->subtracts) return (gap == 0 && holds_below(x->b, y, INFINITY)) || apart(x->a, y, gap);
    if (x->distance == offset_distance && x->value[0] >= 0) return apart(x->a, y, gap + x->value[0]);
  }
  return false;
}

/* What is below the level of b lies inside a: seen from the corners of its bounds, when a is convex or another less what is apart. */
static bool holds_below(const shape *a, const shape *b, double z_level)
{
  double low[3], high[3];
  if (a->subtracts) return holds_below(a->a, b, z_level) && apart(a->b, b, 0);
  if (!a->convex) return false;
  shape_bounds(b, low, high);
  high[2] = z_level < high[2] ? z_level : high[2];
  for (int bits = 0; bits < 8; bits++) {
    const double corner[3] = {bits & 1 ? high[0] : low[0], bits & 2 ? high[1] : low[1], bits & 4 ? high[2] : low[2]};
    if (!(shape_distance(a, corner) <= 0)) return false;
  }
  return true;
}

static double union_volume(const shape *s, double grown, double z_level)
{
  return apart(s->a, s->b, 2 * grown) ? known_volume(s->a, grown, z_level) + known_volume(s->b, grown, z_level) : NAN;
}

static double intersection_volume(const shape *s, double grown, double z_level)
{
  return s->b->lid && grown == 0 ? known_volume(s->a, 0, fmin(z_level, s->b->value[2])) : NAN;
}

static double difference_volume(const shape *s, double grown, double z_level)
{
  if (grown > 0) return NAN;
  if (apart(s->a, s->b, 0)) return known_volume(s->a, 0, z_level);
  return holds_below(s->a, s->b, z_level) ? known_volume(s->a, 0, z_level) - known_volume(s->b, 0, z_level) : NAN;
}

static double offset_volume(const shape *s, double grown, double z_level)
{
  return s->value[0] >= 0 ? known_volume(s->a, grown + s->value[0], z_level) : NAN;
}

static double translate_volume(const shape *s, double grown, double z_level)
{
  return known_volume(s->a, grown, z_level - s->value[2]);
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
  return shape_put(out, (shape){.distance = union_distance, .normal = union_normal, .bounds = union_bounds, .volume_below = union_volume, .a = a, .b = b}, msg);
}

status shape_intersection(shape **out, shape *a, shape *b, message *msg)
{
  return shape_put(out,
                   (shape){.distance = intersection_distance, .normal = intersection_normal, .bounds = intersection_bounds, .volume_below = intersection_volume, .convex = a->convex && b->convex, .a = a, .b = b},
                   msg);
}

status shape_difference(shape **out, shape *a, shape *b, message *msg)
{
  return shape_put(out,
                   (shape){.distance = difference_distance, .normal = difference_normal, .bounds = first_bounds, .volume_below = difference_volume, .subtracts = true, .a = a, .b = b},
                   msg);
}

status shape_offset(shape **out, shape *a, double distance, message *msg)
{
  if (!isfinite(distance)) {
    shape_destroy(&a);
    return message_set(msg, STATUS_BAD_INPUT, "offset: the distance is not a finite number");
  }
  return shape_put(out,
                   (shape){.distance = offset_distance, .normal = offset_normal,
                           .bounds = offset_bounds,
                           .volume_below = offset_volume,
                           .convex = a->convex && distance >= 0,
                           .a = a,
                           .value = {distance}},
                   msg);
}

status shape_translate(shape **out, shape *a, const double by[3], message *msg)
{
  if (!(isfinite(by[0]) && isfinite(by[1]) && isfinite(by[2]))) {
    shape_destroy(&a);
    return message_set(msg, STATUS_BAD_INPUT, "translation: the way is not finite");
  }
  return shape_put(out,
                   (shape){.distance = translate_distance, .normal = translate_normal,
                           .bounds = translate_bounds,
                           .volume_below = translate_volume,
                           .convex = a->convex,
                           .a = a,
                           .value = {by[0], by[1], by[2]}},
                   msg);
}
