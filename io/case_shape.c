#include "io/case_shape.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/shape_extruded.h"
#include "geometry/shape_round.h"
#include "geometry/shape_swept.h"

static const char *const REVOLVED = "cylinder|tube|frustum|sphere|disc|profile|spheroid|cap|ring|union|difference|intersection";
enum { PATH = 160, DEEPEST = 8 };
static const double PI = 3.14159265358979323846;

static bool has(const case_shape_request *q, const char *key)
{
  return case_build_has(q->item, key);
}

/* ------------------------------------------------------------------------------------------------ sizes */

/* A radius by either of its names; false with a fault when it is missing or given twice. */
static bool radius_of(const case_shape_request *q, const char *radius, const char *diameter, const char *kind, double *out)
{
  const bool r = has(q, radius), d = has(q, diameter);
  if (r && d)
    case_build_fault(q->b, q->item, diameter, "%s: \"%s\" and \"%s\" are both given; give one", q->path, radius, diameter);
  else if (!r && !d)
    case_build_fault(q->b, q->item, NULL, "%s: a %s needs \"%s\" or \"%s\"", q->path, kind, radius, diameter);
  else if (case_build_quantity(q->b, q->item, q->section, r ? radius : diameter, out)) {
    *out *= r ? 1.0 : 0.5;
    return true;
  }
  return false;
}

static bool size_of(const case_shape_request *q, const char *key, const char *kind, double *out)
{
  if (!has(q, key))
    case_build_fault(q->b, q->item, NULL, "%s: a %s needs \"%s\"", q->path, kind, key);
  else
    return case_build_quantity(q->b, q->item, q->section, key, out);
  return false;
}

static status no_memory_only(const case_shape_request *q, status code, const message *why)
{
  static const char *const places[] = {"points", "outline", "path", "shape"};
  if (code == STATUS_OK || code == STATUS_NO_MEMORY) {
    if (code == STATUS_NO_MEMORY)
      (void)message_set(q->b->msg, code, "%s", why->text);
    return code;
  }
  for (size_t i = 0; i < 4; i++)
    if (has(q, places[i])) {
      case_build_fault(q->b, q->item, places[i], "%s: %s", q->path, why->text);
      return STATUS_OK;
    }
  case_build_fault(q->b, q->item, NULL, "%s: %s", q->path, why->text);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ figures of revolution */

static bool close_to(const double a[2], const double b[2])
{
  return fabs(a[0] - b[0]) < 1e-9 && fabs(a[1] - b[1]) < 1e-9;
}

static status make_profile(const case_shape_request *q, shape **out)
{
  const yaml_node *points = yaml_tree_value(q->item, "points");
  message why = {""};
  if (!points) {
    case_build_fault(q->b, q->item, NULL, "%s: a profile needs \"points\"", q->path);
    return STATUS_OK;
  }
  double(*rz)[2] = case_store_array(q->b->c->store, points->num, sizeof *rz, q->b->msg);
  if (!rz)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < points->num; i++) {
    if (!case_build_point(q->b, points->items[i], 2, rz[i]))
      return STATUS_OK;
    rz[i][1] += q->foot;
  }
  size_t num = points->num;
  const bool returns = close_to(rz[0], rz[num - 1]);
  if (!returns && (rz[0][0] > 0.0 || rz[num - 1][0] > 0.0)) {
    fault_add(q->b->faults, points->items[num - 1]->at,
              "%s: the profile is open: it begins at r %g mm, z %g mm and ends at r %g mm, z %g mm; repeat the first point, or let both "
              "ends lie on the axis", q->path, 1e3 * rz[0][0], 1e3 * (rz[0][1] - q->foot), 1e3 * rz[num - 1][0], 1e3 * (rz[num - 1][1] - q->foot));
    return STATUS_OK;
  }
  return no_memory_only(q, shape_revolved(out, (const double(*)[2])rz, num - returns, &why), &why);
}

static status make_tube(const case_shape_request *q, shape **out, message *why)
{
  double r = 0.0, inner = 0.0, height = 0.0;
  bool good = radius_of(q, "radius", "diameter", "tube", &r);
  good = radius_of(q, "inner_radius", "inner_diameter", "tube", &inner) && good;
  if (size_of(q, "height", "tube", &height) && good && inner >= r)
    case_build_fault(q->b, q->item, NULL, "%s: the inner radius %g mm must be below the outer %g mm", q->path, 1e3 * inner, 1e3 * r);
  else if (good && height > 0.0)
    return shape_tube(out, inner, r, q->foot, q->foot + height, why);
  return STATUS_OK;
}

static status make_frustum(const case_shape_request *q, shape **out, message *why)
{
  double bottom = 0.0, top = 0.0, height = 0.0;
  bool good = radius_of(q, "bottom_radius", "bottom_diameter", "frustum", &bottom);
  good = radius_of(q, "top_radius", "top_diameter", "frustum", &top) && good;
  return size_of(q, "height", "frustum", &height) && good ? shape_frustum(out, bottom, top, q->foot, q->foot + height, why) : STATUS_OK;
}

static status make_ring(const case_shape_request *q, shape **out, message *why)
{
  double ring = 0.0, r = 0.0;
  const bool good = radius_of(q, "ring_radius", "ring_diameter", "ring", &ring);
  if (!radius_of(q, "radius", "diameter", "ring", &r) || !good)
    return STATUS_OK;
  if (ring >= r)
    return shape_torus(out, ring, r, q->foot + r, why);
  case_build_fault(q->b, q->item, NULL, "%s: the ring's own radius %g mm must not be below that of its section, %g mm", q->path, 1e3 * ring, 1e3 * r);
  return STATUS_OK;
}

static status make_round(const case_shape_request *q, const char *kind, shape **out)
{
  message why = {""};
  double r = 0.0, height = 0.0;
  status code = STATUS_OK;
  if (strcmp(kind, "tube") == 0)
    code = make_tube(q, out, &why);
  else if (strcmp(kind, "frustum") == 0)
    code = make_frustum(q, out, &why);
  else if (strcmp(kind, "ring") == 0)
    code = make_ring(q, out, &why);
  else if (strcmp(kind, "sphere") == 0) {
    if (radius_of(q, "radius", "diameter", kind, &r))
      code = shape_sphere(out, (const double[3]){0.0, 0.0, q->foot + r}, r, &why);
  } else {
    const bool good = radius_of(q, "radius", "diameter", kind, &r);
    if (size_of(q, "height", kind, &height) && good)
      code = strcmp(kind, "spheroid") == 0 ? shape_round_spheroid(out, r, q->foot, q->foot + height, &why)
             : strcmp(kind, "cap") == 0    ? shape_round_cap(out, r, q->foot, q->foot + height, &why)
                                           : shape_cylinder(out, r, q->foot, q->foot + height, &why);
  }
  return no_memory_only(q, code, &why);
}

/* A cylinder between two points: upright at the origin, and the frame that lays it there. */
static status make_between(const case_shape_request *q, shape **out, shape_placed_frame *frame)
{
  static const char *const not_with[] = {"height", "z", "on", "spin", "tilt", "turn", "scale", "move", "axis_at"};
  message why = {""};
  double from[3], to[3], r = 0.0;
  for (size_t i = 0; i < sizeof not_with / sizeof *not_with; i++)
    if (has(q, not_with[i])) {
      case_build_fault(q->b, q->item, not_with[i], "%s: \"from\" and \"to\" say where it lies; leave out \"%s\"", q->path, not_with[i]);
      return STATUS_OK;
    }
  if (!has(q, "from") || !has(q, "to")) {
    case_build_fault(q->b, q->item, NULL, "%s: \"from\" and \"to\" go together, the middles of both ends", q->path);
    return STATUS_OK;
  }
  const bool good = case_build_point(q->b, yaml_tree_value(q->item, "from"), 3, from) &&
                    case_build_point(q->b, yaml_tree_value(q->item, "to"), 3, to);
  if (!radius_of(q, "radius", "diameter", "cylinder", &r) || !good)
    return STATUS_OK;
  const double length = sqrt(pow(to[0] - from[0], 2) + pow(to[1] - from[1], 2) + pow(to[2] - from[2], 2));
  if (!(length > 0.0)) {
    case_build_fault(q->b, q->item, "to", "%s: \"from\" and \"to\" are the same point; a cylinder has a length", q->path);
    return STATUS_OK;
  }
  *frame = shape_placed_axis(from, to);
  return no_memory_only(q, shape_cylinder(out, r, 0.0, length, &why), &why);
}

/* ------------------------------------------------------------------------------------------------ in three dimensions only */

static status make_box(const case_shape_request *q, shape **out, double pivot[3])
{
  message why = {""};
  double low[3], high[3], size[3];
  if (has(q, "size")) {
    if (has(q, "low") || has(q, "high")) {
      case_build_fault(q->b, q->item, "size", "%s: give \"size\", or \"low\" and \"high\", not both", q->path);
      return STATUS_OK;
    }
    if (!case_build_point(q->b, yaml_tree_value(q->item, "size"), 3, size))
      return STATUS_OK;
    for (int a = 0; a < 3; a++) {
      if (!(size[a] > 0.0)) {
        case_build_fault(q->b, q->item, "size", "%s: a box of %g x %g x %g mm; each must be above 0", q->path, 1e3 * size[0], 1e3 * size[1],
                         1e3 * size[2]);
        return STATUS_OK;
      }
      low[a] = a == 2 ? q->foot : -0.5 * size[a];
      high[a] = low[a] + size[a];
    }
    return no_memory_only(q, shape_box(out, low, high, &why), &why);
  }
  if (!has(q, "low") || !has(q, "high")) {
    case_build_fault(q->b, q->item, NULL, "%s: a box needs \"low\" and \"high\", or \"size\"", q->path);
    return STATUS_OK;
  }
  if (has(q, "z") || has(q, "on")) {
    case_build_fault(q->b, q->item, has(q, "z") ? "z" : "on", "%s: \"low\" and \"high\" say how high it stands; a box with \"size\" takes \"%s\"", q->path,
                     has(q, "z") ? "z" : "on");
    return STATUS_OK;
  }
  if (!case_build_point(q->b, yaml_tree_value(q->item, "low"), 3, low) || !case_build_point(q->b, yaml_tree_value(q->item, "high"), 3, high))
    return STATUS_OK;
  for (int a = 0; a < 2; a++)
    pivot[a] = 0.5 * (low[a] + high[a]);
  pivot[2] = low[2];
  return no_memory_only(q, shape_box(out, low, high, &why), &why);
}

static status make_prism(const case_shape_request *q, shape **out)
{
  const yaml_node *outline = yaml_tree_value(q->item, "outline");
  message why = {""};
  double height = 0.0;
  if (!outline)
    case_build_fault(q->b, q->item, NULL, "%s: a prism needs \"outline\"", q->path);
  if (!size_of(q, "height", "prism", &height) || !outline)
    return STATUS_OK;
  double(*xy)[2] = case_store_array(q->b->c->store, outline->num, sizeof *xy, q->b->msg);
  if (!xy)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < outline->num; i++)
    if (!case_build_point(q->b, outline->items[i], 2, xy[i]))
      return STATUS_OK;
  const size_t num = outline->num - (close_to(xy[0], xy[outline->num - 1]) ? 1 : 0);
  return no_memory_only(q, shape_extruded(out, (const double(*)[2])xy, num, q->foot, q->foot + height, &why), &why);
}

status case_shape_path(const case_build *b, const yaml_node *item, const char *key, const char *path_name, tube_path *out)
{
  const yaml_node *points = yaml_tree_value(item, key);
  message why = {""};
  *out = (tube_path){0};
  if (!points) {
    case_build_fault(b, item, NULL, "%s: give \"%s\", the points that it runs through", path_name, key);
    return STATUS_OK;
  }
  double(*xyz)[3] = case_store_array(b->c->store, points->num, sizeof *xyz, b->msg);
  if (!xyz)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < points->num; i++)
    if (!case_build_point(b, points->items[i], 3, xyz[i]))
      return STATUS_OK;
  const status code = tube_path_create(out, (const double(*)[3])xyz, points->num, &why);
  if (code == STATUS_NO_MEMORY)
    return message_set(b->msg, code, "%s", why.text);
  if (code != STATUS_OK)
    case_build_fault(b, item, key, "%s: %s", path_name, why.text);
  return STATUS_OK;
}

/* A rod bent along a path: given by points, wound, or to and fro. */
static status make_rod(const case_shape_request *q, const char *kind, shape **out)
{
  message why = {""};
  tube_path along = {0};
  double r = 0.0, ring = 0.0, turns = 0.0, pitch = 0.0, runs = 0.0, length = 0.0;
  status code = STATUS_OK;
  bool good = radius_of(q, "radius", "diameter", kind, &r);
  if (strcmp(kind, "swept") == 0) {
    code = case_shape_path(q->b, q->item, "path", q->path, &along);
    for (size_t i = 0; i < along.num; i++)
      along.point[i][2] += q->foot;
  } else if (strcmp(kind, "helix") == 0) {
    good = radius_of(q, "ring_radius", "ring_diameter", kind, &ring) && good;
    good = size_of(q, "turns", kind, &turns) && good;
    if (size_of(q, "pitch", kind, &pitch) && good)
      code = tube_path_helix(&along, ring, q->foot + r, turns * pitch, turns, &why);
  } else {
    good = size_of(q, "runs", kind, &runs) && good;
    good = size_of(q, "run_length", kind, &length) && good;
    if (size_of(q, "pitch", kind, &pitch) && good)
      code = tube_path_serpentine(&along, (size_t)fmax(1.0, round(fmin(runs, 1e5))), length, pitch, &why);
    for (size_t i = 0; i < along.num; i++)
      along.point[i][2] += q->foot + r;
  }
  if (code == STATUS_OK && good && along.num > 0) {
    const double clear = tube_path_clearance(&along, PI * r);
    if (clear < 2.0 * r && strcmp(kind, "swept") != 0)
      case_build_fault(q->b, q->item, NULL, "%s: the turns would overlap: they come within %.4g mm, and the rod is %.4g mm thick", q->path, 1e3 * clear,
                       2e3 * r);
    else
      code = shape_swept(out, &along, r, &why);
  }
  tube_path_release(&along);
  return why.text[0] || code == STATUS_OK ? no_memory_only(q, code, &why) : code;
}

/* ------------------------------------------------------------------------------------------------ shapes of shapes */

static status build(const case_shape_request *q, int depth, case_shape *out);

/* The whole of a piece in the frame of its union. */
static status make_piece(const case_shape_request *whole, const yaml_node *item, size_t number, int depth, shape **out)
{
  char path[PATH];
  message why = {""};
  const yaml_node *name = yaml_tree_value(item, "name");
  double z = 0.0;
  case_shape made = {0};
  if (name && name->kind == YAML_TEXT)
    (void)snprintf(path, sizeof path, "%.100s.of.%.48s", whole->path, name->text);
  else
    (void)snprintf(path, sizeof path, "%.120s.of[%zu]", whole->path, number + 1);
  (void)case_build_quantity(whole->b, item, SECTION_PIECE, "z", &z);
  const case_shape_request q = {.b = whole->b, .item = item, .section = SECTION_PIECE, .path = path, .foot = z};
  case_shape_refuse_foreign(&q, case_build_text(item, SECTION_PIECE, "shape"));
  status code = case_build_is_sound(q.b, item) ? build(&q, depth + 1, &made) : STATUS_OK;
  if (code == STATUS_OK && made.own && made.placed)
    code = shape_placed(out, made.own, &made.frame, &why);
  else
    *out = made.own;
  return no_memory_only(&q, code, &why);
}

static status join(const char *kind, shape **whole, shape *piece, message *why)
{
  shape *before = *whole;
  *whole = NULL;
  return strcmp(kind, "union") == 0          ? shape_union(whole, before, piece, why)
         : strcmp(kind, "intersection") == 0 ? shape_intersection(whole, before, piece, why)
                                             : shape_difference(whole, before, piece, why);
}

static status make_compound(const case_shape_request *q, const char *kind, int depth, shape **out)
{
  const yaml_node *of = yaml_tree_value(q->item, "of");
  message why = {""};
  shape *whole = NULL;
  bool complete = true;
  status code = STATUS_OK;
  if (!of || of->num < 2 || depth >= DEEPEST) {
    case_build_fault(q->b, q->item, of ? "of" : NULL, "%s: %s", q->path, depth >= DEEPEST ? "shapes are nested too deep" : of
                     ? "\"of\" needs at least two shapes" : "give \"of\", the list of shapes that it is made of");
    return STATUS_OK;
  }
  for (size_t i = 0; code == STATUS_OK && i < of->num; i++) {
    shape *piece = NULL;
    code = make_piece(q, of->items[i], i, depth, &piece);
    complete = complete && piece;
    if (code != STATUS_OK || !piece)
      shape_destroy(&piece);
    else if (!whole)
      whole = piece;
    else
      code = join(kind, &whole, piece, &why);
  }
  if (code == STATUS_OK && complete && q->foot != 0.0) {
    const double up[3] = {0.0, 0.0, q->foot};
    shape *lower = whole;
    whole = NULL;
    code = shape_translate(&whole, lower, up, &why);
  }
  if (code == STATUS_OK && complete)
    *out = whole;
  else
    shape_destroy(&whole);
  return no_memory_only(q, code, &why);
}

/* ------------------------------------------------------------------------------------------------ where it is put */

bool case_shape_frame(const case_shape_request *q, const double pivot[3], shape_placed_frame *out, bool *turned)
{
  static const char *const keys[] = {"scale", "spin", "tilt", "turn", "move", "axis_at"};
  double scale = 1.0, angle[3] = {0.0, 0.0, 0.0}, by[3] = {0.0, 0.0, 0.0}, axis[3] = {0.0, 0.0, 0.0};
  *turned = false;
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++)
    *turned = *turned || has(q, keys[i]);
  (void)case_build_quantity(q->b, q->item, q->section, "scale", &scale);
  for (int i = 0; i < 3; i++)
    (void)case_build_quantity(q->b, q->item, q->section, keys[1 + i], &angle[i]);
  if (q->b->c->revolved) {
    static const char *const flat[] = {"spin", "turn", "move", "axis_at"};
    for (int i = 0; i < 4; i++)
      if (has(q, flat[i])) {
        case_build_fault(q->b, q->item, flat[i], "%s: with dimension: rz the axis is always r = 0; only \"z\", \"scale\" and a \"tilt\" of 180 deg are "
                         "possible", q->path);
        return false;
      }
    if (fabs(angle[1]) > 1e-9 && fabs(fabs(angle[1]) - PI) > 1e-9) {
      case_build_fault(q->b, q->item, "tilt", "%s: with dimension: rz a shape stands upright or, with 180 deg, upside down", q->path);
      return false;
    }
  }
  if (has(q, "move") && !case_build_point(q->b, yaml_tree_value(q->item, "move"), 3, by))
    return false;
  if (has(q, "axis_at") && !case_build_point(q->b, yaml_tree_value(q->item, "axis_at"), 2, axis))
    return false;
  for (int a = 0; a < 3; a++)
    by[a] += axis[a];
  *out = shape_placed_turn(scale, angle[0], angle[1], angle[2], pivot, by);
  return true;
}

/* The scale goes into the shape, so that walls keep their thickness; turn and way stay in the frame. */
static status put_in_place(const case_shape_request *q, const double pivot[3], case_shape *out)
{
  message why = {""};
  shape_placed_frame whole;
  if (!case_shape_frame(q, pivot, &whole, &out->placed)) {
    shape_destroy(&out->own);
    return STATUS_OK;
  }
  if (!out->placed)
    return STATUS_OK;
  const double nowhere[3] = {0.0, 0.0, 0.0};
  status code = STATUS_OK;
  if (whole.scale != 1.0) {
    const shape_placed_frame larger = shape_placed_turn(whole.scale, 0.0, 0.0, 0.0, pivot, nowhere);
    shape *smaller = out->own;
    out->own = NULL;
    code = shape_placed(&out->own, smaller, &larger, &why);
  }
  out->frame = whole;
  out->frame.scale = 1.0;
  /* p -> R s (p - pivot) + pivot + move; the larger shape has s (p - pivot) + pivot in it already. */
  double turned[3], unscaled[3];
  shape_placed_frame rigid = whole;
  rigid.scale = 1.0;
  for (int a = 0; a < 3; a++)
    rigid.by[a] = 0.0;
  shape_placed_point(&whole, pivot, turned); /* pivot + move */
  shape_placed_point(&rigid, pivot, unscaled);
  for (int a = 0; a < 3; a++)
    out->frame.by[a] = turned[a] - unscaled[a];
  return no_memory_only(q, code, &why);
}

static status build(const case_shape_request *q, int depth, case_shape *out)
{
  const char *kind = case_build_text(q->item, q->section, "shape");
  double pivot[3] = {0.0, 0.0, q->foot};
  status code = STATUS_OK;
  *out = (case_shape){0};
  if (q->b->c->revolved && !case_keys_is_choice(REVOLVED, kind)) {
    case_build_fault(q->b, q->item, "shape", "%s: a %s is no figure of revolution; use dimension: xyz", q->path, kind);
    return STATUS_OK;
  }
  if (strcmp(kind, "cylinder") == 0 && (has(q, "from") || has(q, "to"))) {
    if (q->b->c->revolved)
      case_build_fault(q->b, q->item, "from", "%s: with dimension: rz a cylinder stands on the axis; give \"height\" and \"z\"", q->path);
    else {
      code = make_between(q, &out->own, &out->frame);
      out->placed = true;
    }
    return code;
  }
  if (strcmp(kind, "box") == 0)
    code = make_box(q, &out->own, pivot);
  else if (strcmp(kind, "profile") == 0)
    code = make_profile(q, &out->own);
  else if (strcmp(kind, "prism") == 0)
    code = make_prism(q, &out->own);
  else if (case_keys_is_choice("swept|helix|serpentine", kind))
    code = make_rod(q, kind, &out->own);
  else if (case_keys_is_choice("union|difference|intersection", kind))
    code = make_compound(q, kind, depth, &out->own);
  else
    code = make_round(q, kind, &out->own);
  return code == STATUS_OK && out->own ? put_in_place(q, pivot, out) : code;
}

status case_shape_build(const case_shape_request *q, case_shape *out)
{
  return build(q, 0, out);
}

void case_shape_refuse_foreign(const case_shape_request *q, const char *kind)
{
  static const struct {
    const char *key, *shapes;
  } uses[] = {{"radius", "cylinder|tube|sphere|disc|spheroid|cap|ring|swept|helix|serpentine"},
              {"diameter", "cylinder|tube|sphere|disc|spheroid|cap|ring|swept|helix|serpentine"},
              {"inner_radius", "tube"}, {"inner_diameter", "tube"}, {"bottom_radius", "frustum"}, {"bottom_diameter", "frustum"},
              {"top_radius", "frustum"}, {"top_diameter", "frustum"}, {"ring_radius", "ring|helix"}, {"ring_diameter", "ring|helix"},
              {"height", "cylinder|tube|frustum|disc|spheroid|cap|prism"}, {"points", "profile"}, {"outline", "prism"}, {"path", "swept"},
              {"turns", "helix"}, {"pitch", "helix|serpentine"}, {"runs", "serpentine"}, {"run_length", "serpentine"}, {"low", "box"},
              {"high", "box"}, {"size", "box"}, {"from", "cylinder"}, {"to", "cylinder"}, {"of", "union|difference|intersection"},
              {"file", "triangles"}, {"unit", "triangles"}, {"fingerprint", "triangles"}};
  static const char *const placing[] = {"scale", "spin", "tilt", "turn", "move", "axis_at"};
  for (size_t i = 0; i < sizeof uses / sizeof *uses; i++)
    if (has(q, uses[i].key) && kind && !case_keys_is_choice(uses[i].shapes, kind))
      case_build_fault(q->b, q->item, uses[i].key, "%s: a %s has no \"%s\"; that belongs to %s", q->path, kind, uses[i].key, uses[i].shapes);
  for (size_t i = 0; kind && strcmp(kind, "layer") == 0 && i < sizeof placing / sizeof *placing; i++)
    if (has(q, placing[i]))
      case_build_fault(q->b, q->item, placing[i], "%s: a layer lies where the part it is round lies; \"%s\" belongs there", q->path, placing[i]);
}
