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

bool case_wall_has_floor(const char *kind)
{
  return kind && case_keys_is_choice("cylinder|disc|frustum|box|prism", kind);
}

typedef struct {
  double bottom, top, height; /* m, radii and height of a figure of revolution with straight sides */
} straight_sides;

static straight_sides sides_of(const shape *s)
{
  double low[3], high[3];
  shape_bounds(s, low, high);
  const double height = high[2] - low[2];
  return (straight_sides){trace_radius(s, low[2] + 1e-9 * height), trace_radius(s, high[2] - 1e-9 * height), height};
}

mesh_floor case_wall_floor(const char *kind, const shape *cavity, double wall, double floor)
{
  mesh_floor f = {.thickness = floor != wall ? floor : 0.0, .normal = {0.0, 0.0, -1.0}};
  if (f.thickness > 0.0 && strcmp(kind, "frustum") == 0) {
    const straight_sides s = sides_of(cavity);
    f.side_cosine = (s.top - s.bottom) / hypot(s.top - s.bottom, s.height);
  }
  return f;
}

/* A cylinder, frustum or box grown by `by` (m, below 0: shrunk) with corners as a joiner makes them; keep_top: not at its top. *out stays NULL
 * for other shapes, and when nothing is left. */
static status grow_sharp(const char *kind, const shape *hollow, case_wall_depth by, bool keep_top, shape **out, message *why)
{
  double low[3], high[3];
  shape_bounds(hollow, low, high);
  const double above = keep_top ? 0.0 : by.side;
  if (strcmp(kind, "box") == 0) {
    for (int axis = 0; axis < 3; axis++) {
      low[axis] -= axis == 2 ? by.floor : by.side;
      high[axis] += axis == 2 ? above : by.side;
    }
    return high[0] > low[0] && high[1] > low[1] && high[2] > low[2] ? shape_box(out, low, high, why) : STATUS_OK;
  }
  if (!case_keys_is_choice("cylinder|disc|frustum", kind))
    return STATUS_OK;
  const straight_sides s = sides_of(hollow);
  const double slope = (s.top - s.bottom) / s.height, aside = by.side * sqrt(1.0 + slope * slope);
  const double r_low = s.bottom + aside - slope * by.floor, r_high = s.top + aside + slope * above;
  return r_low > 0.0 && r_high > 0.0 && high[2] + above > low[2] - by.floor
             ? shape_frustum(out, r_low, r_high, low[2] - by.floor, high[2] + above, why)
             : STATUS_OK;
}

/* Takes a shape over and joins it to what is there. */
static status join(shape **whole, status made, shape *piece, message *why)
{
  shape *before = *whole;
  if (made != STATUS_OK || !before) {
    if (made == STATUS_OK)
      *whole = piece;
    return made;
  }
  *whole = NULL;
  return shape_union(whole, before, piece, why);
}

/* What a prism sweeps on its way from `down` below to `up` above its place, both >= 0. */
static status stretch(const shape *prism, double down, double up, shape **out, message *why)
{
  double low[3], high[3];
  shape_bounds(prism, low, high);
  const int steps = (int)ceil((down + up) / (high[2] - low[2]));
  shape *whole = NULL;
  status code = STATUS_OK;
  for (int i = 0; code == STATUS_OK && i <= steps; i++) {
    const double by[3] = {0.0, 0.0, steps > 0 ? -down + (down + up) * i / steps : 0.0};
    shape *copy = NULL, *moved = NULL;
    code = shape_clone(prism, &copy, why);
    if (code == STATUS_OK)
      code = shape_translate(&moved, copy, by, why);
    code = join(&whole, code, moved, why);
  }
  if (code == STATUS_OK)
    *out = whole;
  else
    shape_destroy(&whole);
  return code;
}

/* Replaces *s by what of it lies below a height z, or above it. */
static status cut_at(shape **s, double z, bool keep_below, message *why)
{
  const double point[3] = {0.0, 0.0, z}, out[3] = {0.0, 0.0, keep_below ? 1.0 : -1.0};
  shape *plane = NULL, *before = *s;
  const status code = shape_half_space(&plane, point, out, why);
  if (code != STATUS_OK)
    return code;
  *s = NULL;
  return shape_intersection(s, before, plane, why);
}

/* A prism grown with a floor of its own: rounded at the sides as bent sheet is, cut flat below. */
static status grow_prism(const shape *hollow, case_wall_depth to, shape **out, message *why)
{
  double low[3], high[3];
  shape *longer = NULL;
  shape_bounds(hollow, low, high);
  status code = stretch(hollow, to.floor, 0.0, &longer, why);
  if (code == STATUS_OK)
    code = shape_offset(out, longer, to.side, why);
  if (code == STATUS_OK)
    code = cut_at(out, low[2] - to.floor, false, why);
  if (code != STATUS_OK)
    shape_destroy(out);
  return code;
}

static status grow_round(const shape *hollow, double distance, shape **out, message *why)
{
  shape *a = NULL;
  status code = shape_clone(hollow, &a, why);
  if (code != STATUS_OK)
    return code;
  if (distance > 0.0)
    return shape_offset(out, a, distance, why);
  *out = a;
  return STATUS_OK;
}

status case_wall_outside(const case_wall *w, case_wall_depth to, shape **out, message *why)
{
  const bool own_floor = to.floor != to.side;
  shape *grown = NULL;
  status code = STATUS_OK;
  if ((to.sharp || own_floor) && to.side > 0.0)
    code = own_floor && strcmp(w->kind, "prism") == 0 ? grow_prism(w->hollow, to, &grown, why) : grow_sharp(w->kind, w->hollow, to, false, &grown, why);
  if (code == STATUS_OK && !grown && own_floor)
    return message_set(why, STATUS_BAD_INPUT, "its sides taper so much that a floor of %.4g mm below it would end in a point; make the floor thinner, or "
                       "list it as a part of its own", 1e3 * to.floor);
  if (code == STATUS_OK && !grown)
    code = grow_round(w->hollow, to.side, &grown, why);
  if (code == STATUS_OK && w->open_top)
    code = cut_at(&grown, w->rim, true, why);
  if (code == STATUS_OK)
    *out = grown;
  else
    shape_destroy(&grown);
  return code;
}

status case_wall_between(const case_wall *w, case_wall_depth from, case_wall_depth to, shape **out, message *why)
{
  shape *outer = NULL, *inner = NULL;
  const case_wall closed = {.kind = w->kind, .hollow = w->hollow, .rim = w->rim};
  status code = case_wall_outside(w, to, &outer, why);
  if (code == STATUS_OK)
    code = case_wall_outside(&closed, from, &inner, why);
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

status case_wall_hollow(const shape *solid, const char *kind, case_wall_depth wall, bool open_top, shape **out, message *why)
{
  const bool prism = strcmp(kind, "prism") == 0, own_floor = prism && wall.floor != wall.side;
  const case_wall_depth inward = {-wall.side, -wall.floor, true};
  shape *whole = NULL, *shrunk = NULL;
  double low[3], high[3];
  status code = grow_sharp(kind, solid, inward, open_top, out, why);
  if (code != STATUS_OK || *out || case_keys_is_choice("cylinder|disc|frustum|box", kind))
    return code;
  shape_bounds(solid, low, high);
  /* As tall again by the lid that is not there, and by the floor that is cut below. */
  code = prism ? stretch(solid, own_floor ? wall.side : 0.0, open_top ? wall.side : 0.0, &whole, why) : shape_clone(solid, &whole, why);
  if (code == STATUS_OK)
    code = shape_offset(&shrunk, whole, -wall.side, why);
  if (code == STATUS_OK && own_floor)
    code = cut_at(&shrunk, low[2] + wall.floor, false, why);
  if (code == STATUS_OK && deepest(shrunk) > 0.0)
    *out = shrunk;
  else
    shape_destroy(&shrunk);
  return code;
}
