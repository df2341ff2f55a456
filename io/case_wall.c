#include "io/case_wall.h"

#include <math.h>
#include <string.h>

#include "io/case_keys.h"

/* Radius of a shape's surface at height z, traced inward by the distance. */
static double trace_radius(const shape *s, double z)
{
  double low[3], high[3];
  shape_bounds(s, low, high);
  for (double r = high[0] * 1.001 + 1e-6; r > 0.0;) {
    const double d = shape_distance(s, (const double[3]){r, 0.0, z});
    if (d <= 1e-9)
      return r;
    r -= d;
  }
  return 0.0;
}

/* A cylinder, frustum or box grown by a distance (m, below 0: shrunk) with corners as a joiner makes them; keep_top: not at its top. *out
 * stays NULL for other shapes, and when nothing is left. */
static status grow_sharp(const char *kind, const shape *hollow, double distance, bool keep_top, shape **out, message *why)
{
  double low[3], high[3], bottom = 0.0, top = 0.0;
  shape_bounds(hollow, low, high);
  const double height = high[2] - low[2], above = keep_top ? 0.0 : distance;
  if (strcmp(kind, "box") == 0) {
    for (int axis = 0; axis < 3; axis++) {
      low[axis] -= distance;
      high[axis] += axis == 2 ? above : distance;
    }
    return high[0] > low[0] && high[1] > low[1] && high[2] > low[2] ? shape_box(out, low, high, why) : STATUS_OK;
  }
  if (!case_keys_is_choice("cylinder|disc|frustum", kind))
    return STATUS_OK;
  bottom = trace_radius(hollow, low[2] + 1e-9 * height);
  top = trace_radius(hollow, high[2] - 1e-9 * height);
  const double slope = (top - bottom) / height, aside = distance * sqrt(1.0 + slope * slope);
  const double r_low = bottom + aside - slope * distance, r_high = top + aside + slope * above;
  return r_low > 0.0 && r_high > 0.0 && high[2] + above > low[2] - distance
             ? shape_frustum(out, r_low, r_high, low[2] - distance, high[2] + above, why)
             : STATUS_OK;
}

status case_wall_outside(const case_wall *w, double distance, bool sharp, shape **out, message *why)
{
  shape *a = NULL, *lid = NULL, *grown = NULL;
  const double point[3] = {0.0, 0.0, w->rim}, up[3] = {0.0, 0.0, 1.0};
  status code = sharp && distance > 0.0 ? grow_sharp(w->kind, w->hollow, distance, false, &grown, why) : STATUS_OK;
  if (code == STATUS_OK && !grown)
    code = shape_clone(w->hollow, &a, why);
  if (code != STATUS_OK)
    return code;
  if (!grown && distance > 0.0)
    code = shape_offset(&grown, a, distance, why);
  else if (!grown)
    grown = a;
  if (code == STATUS_OK && w->open_top) {
    code = shape_half_space(&lid, point, up, why);
    if (code == STATUS_OK) {
      a = grown;
      grown = NULL;
      code = shape_intersection(&grown, a, lid, why);
    }
  }
  if (code == STATUS_OK)
    *out = grown;
  else
    shape_destroy(&grown);
  return code;
}

status case_wall_between(const case_wall *w, double from, bool from_sharp, double to, bool to_sharp, shape **out, message *why)
{
  shape *outer = NULL, *inner = NULL;
  const case_wall closed = {.kind = w->kind, .hollow = w->hollow, .rim = w->rim};
  status code = case_wall_outside(w, to, to_sharp, &outer, why);
  if (code == STATUS_OK)
    code = case_wall_outside(&closed, from, from_sharp, &inner, why);
  if (code == STATUS_OK)
    return shape_difference(out, outer, inner, why);
  shape_destroy(&outer);
  return code;
}

/* The deepest place that a scan finds inside, m; below 0 when there is none. */
static double deepest(const shape *s)
{
  enum { ACROSS = 24 };
  double low[3], high[3], most = -INFINITY;
  shape_bounds(s, low, high);
  for (int i = 0; i <= ACROSS; i++)
    for (int j = 0; j <= ACROSS; j++)
      for (int k = 0; k <= ACROSS; k++) {
        const double at[3] = {low[0] + (high[0] - low[0]) * i / ACROSS, low[1] + (high[1] - low[1]) * j / ACROSS,
                              low[2] + (high[2] - low[2]) * k / ACROSS};
        most = fmax(most, -shape_distance(s, at));
      }
  return most;
}

status case_wall_hollow(const shape *solid, const char *kind, double thickness, bool open_top, shape **out, message *why)
{
  shape *whole = NULL, *higher = NULL, *shrunk = NULL;
  status code = grow_sharp(kind, solid, -thickness, open_top, out, why);
  if (code != STATUS_OK || *out || case_keys_is_choice("cylinder|disc|frustum|box", kind))
    return code;
  code = shape_clone(solid, &whole, why);
  if (code == STATUS_OK && open_top && strcmp(kind, "prism") == 0) { /* as tall again by the lid that is not there */
    const double up[3] = {0.0, 0.0, thickness};
    shape *lower = whole;
    whole = NULL;
    code = shape_clone(solid, &higher, why);
    if (code == STATUS_OK) {
      shape *a = higher;
      higher = NULL;
      code = shape_translate(&higher, a, up, why);
    }
    if (code == STATUS_OK)
      code = shape_union(&whole, lower, higher, why);
    else
      shape_destroy(&lower);
  }
  if (code == STATUS_OK)
    code = shape_offset(&shrunk, whole, -thickness, why);
  if (code == STATUS_OK && deepest(shrunk) > 0.0)
    *out = shrunk;
  else
    shape_destroy(&shrunk);
  return code;
}
