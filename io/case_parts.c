/* Parts: from what was written to shapes, walls and what they are made of. */
#include <math.h>
#include <string.h>

#include "io/case_build.h"
#include "io/case_triangles.h"

enum { PATH = 96 };
/* m: from this thickness on a wall is never meshed as a thin one, and its corners are sharp; thinner ones are bent sheet. */
static const double SHARP_WALL = 0.025;

typedef struct {
  case_build *b;
  const yaml_node *item;
  case_part *part;
  char path[PATH];
} part_maker;

/* ------------------------------------------------------------------------------------------------ sizes */

/* A radius by either of its names; false with a fault when it is missing or given twice. */
static bool radius_of(const part_maker *m, const char *radius, const char *diameter, const char *shape_name, double *out)
{
  const bool r = case_build_has(m->item, radius), d = case_build_has(m->item, diameter);
  if (r && d)
    case_build_fault(m->b, m->item, diameter, "%s: \"%s\" and \"%s\" are both given; give one", m->path, radius, diameter);
  else if (!r && !d)
    case_build_fault(m->b, m->item, NULL, "%s: a %s needs \"%s\" or \"%s\"", m->path, shape_name, radius, diameter);
  else if (case_build_quantity(m->b, m->item, SECTION_PART, r ? radius : diameter, out)) {
    *out *= r ? 1.0 : 0.5;
    return true;
  }
  return false;
}

static bool size_of(const part_maker *m, const char *key, const char *shape_name, double *out)
{
  if (!case_build_has(m->item, key))
    case_build_fault(m->b, m->item, NULL, "%s: a %s needs \"%s\"", m->path, shape_name, key);
  else
    return case_build_quantity(m->b, m->item, SECTION_PART, key, out);
  return false;
}

/* Height of the lowest point: `z`, or on top of (or on the floor inside) another part. */
static bool foot_of(const part_maker *m, double *z)
{
  const yaml_node *on = yaml_tree_value(m->item, "on");
  if (on && case_build_has(m->item, "z")) {
    case_build_fault(m->b, m->item, "on", "%s: \"z\" and \"on\" are both given; give one", m->path);
    return false;
  }
  *z = 0.0;
  if (!on) {
    (void)case_build_quantity(m->b, m->item, SECTION_PART, "z", z);
    return true;
  }
  const int under = case_build_find_part(m->b, on->text);
  if (under < 0 || under >= (int)(m->part - m->b->c->parts)) {
    case_build_fault(m->b, m->item, "on", "%s: \"%.48s\" must be listed before the part that stands on it", m->path, on->text);
    return false;
  }
  const case_part *u = &m->b->c->parts[under];
  double wall = 0.0;
  *z = u->is_vessel ? u->floor : u->rim;
  if (case_build_quantity(m->b, m->item, SECTION_PART, "wall", &wall))
    *z += wall; /* the hollow begins above its own floor */
  return u->sound;
}

/* ------------------------------------------------------------------------------------------------ shapes */

static status no_memory_only(const part_maker *m, status code, const message *why)
{
  if (code == STATUS_OK || code == STATUS_NO_MEMORY) {
    if (code == STATUS_NO_MEMORY)
      (void)message_set(m->b->msg, code, "%s", why->text);
    return code;
  }
  case_build_fault(m->b, m->item, case_build_has(m->item, "points") ? "points" : "shape", "%s: %s", m->path, why->text);
  return STATUS_OK;
}

static bool close_to(const double a[2], const double b[2])
{
  return fabs(a[0] - b[0]) < 1e-9 && fabs(a[1] - b[1]) < 1e-9;
}

static status make_profile(const part_maker *m, double z, shape **out)
{
  const yaml_node *points = yaml_tree_value(m->item, "points");
  message why = {""};
  if (!points) {
    case_build_fault(m->b, m->item, NULL, "%s: a profile needs \"points\"", m->path);
    return STATUS_OK;
  }
  double(*rz)[2] = case_store_array(m->b->c->store, points->num, sizeof *rz, m->b->msg);
  if (!rz)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < points->num; i++) {
    if (!case_build_point(m->b, points->items[i], 2, rz[i]))
      return STATUS_OK;
    rz[i][1] += z;
  }
  size_t num = points->num;
  const bool returns = close_to(rz[0], rz[num - 1]);
  if (!returns && (rz[0][0] > 0.0 || rz[num - 1][0] > 0.0)) {
    fault_add(m->b->faults, points->items[num - 1]->at,
              "%s: the profile is open: it begins at r %g mm, z %g mm and ends at r %g mm, z %g mm; repeat the first point, or let both "
              "ends lie on the axis", m->path, 1e3 * rz[0][0], 1e3 * (rz[0][1] - z), 1e3 * rz[num - 1][0], 1e3 * (rz[num - 1][1] - z));
    return STATUS_OK;
  }
  return no_memory_only(m, shape_revolved(out, (const double(*)[2])rz, num - returns, &why), &why);
}

static status make_box(const part_maker *m, shape **out)
{
  message why = {""};
  double low[3], high[3];
  if (m->b->c->revolved) {
    case_build_fault(m->b, m->item, "shape", "%s: a box is no figure of revolution; use dimension: xyz", m->path);
    return STATUS_OK;
  }
  if (!case_build_has(m->item, "low") || !case_build_has(m->item, "high")) {
    case_build_fault(m->b, m->item, NULL, "%s: a box needs \"low\" and \"high\"", m->path);
    return STATUS_OK;
  }
  if (!case_build_point(m->b, yaml_tree_value(m->item, "low"), 3, low) ||
      !case_build_point(m->b, yaml_tree_value(m->item, "high"), 3, high))
    return STATUS_OK;
  return no_memory_only(m, shape_box(out, low, high, &why), &why);
}

static status make_round(const part_maker *m, const char *kind, double z, shape **out)
{
  message why = {""};
  double r = 0.0, inner = 0.0, top = 0.0, height = 0.0;
  status code = STATUS_OK;
  if (strcmp(kind, "cylinder") == 0 || strcmp(kind, "disc") == 0) {
    const bool good = radius_of(m, "radius", "diameter", kind, &r);
    if (size_of(m, "height", kind, &height) && good)
      code = shape_cylinder(out, r, z, z + height, &why);
  } else if (strcmp(kind, "tube") == 0) {
    bool good = radius_of(m, "radius", "diameter", kind, &r);
    good = radius_of(m, "inner_radius", "inner_diameter", kind, &inner) && good;
    if (size_of(m, "height", kind, &height) && good && inner >= r)
      case_build_fault(m->b, m->item, NULL, "%s: the inner radius %g mm must be below the outer %g mm", m->path, 1e3 * inner, 1e3 * r);
    else if (good && height > 0.0)
      code = shape_tube(out, inner, r, z, z + height, &why);
  } else if (strcmp(kind, "frustum") == 0) {
    bool good = radius_of(m, "bottom_radius", "bottom_diameter", kind, &r);
    good = radius_of(m, "top_radius", "top_diameter", kind, &top) && good;
    if (size_of(m, "height", kind, &height) && good)
      code = shape_frustum(out, r, top, z, z + height, &why);
  } else {
    if (radius_of(m, "radius", "diameter", kind, &r))
      code = shape_sphere(out, (const double[3]){0.0, 0.0, z + r}, r, &why);
  }
  return no_memory_only(m, code, &why);
}

static status make_triangles(const part_maker *m, shape **out)
{
  double foot = 0.0;
  const bool stands = case_build_has(m->item, "z") || case_build_has(m->item, "on");
  if (stands && !foot_of(m, &foot))
    return STATUS_OK;
  return case_triangles_build(m->b, m->part, stands ? &foot : NULL, out);
}

/* The shape as written: the hollow of a vessel, or the solid. *out stays NULL when a fault was told. */
static status make_shape(const part_maker *m, shape **out)
{
  const char *kind = case_build_text(m->item, SECTION_PART, "shape");
  double z = 0.0, at[3] = {0.0, 0.0, 0.0};
  message why = {""};
  if (strcmp(kind, "box") == 0)
    return make_box(m, out);
  if (strcmp(kind, "triangles") == 0)
    return make_triangles(m, out);
  if (!foot_of(m, &z))
    return STATUS_OK;
  status code = strcmp(kind, "profile") == 0 ? make_profile(m, z, out) : make_round(m, kind, z, out);
  const yaml_node *axis = yaml_tree_value(m->item, "axis_at");
  if (code != STATUS_OK || !*out || !axis)
    return code;
  if (m->b->c->revolved)
    case_build_fault(m->b, m->item, "axis_at", "%s: with dimension: rz the axis is always r = 0", m->path);
  else if (case_build_point(m->b, axis, 2, at)) {
    shape *moved = NULL;
    code = shape_translate(&moved, *out, at, &why);
    *out = moved;
    code = no_memory_only(m, code, &why);
  }
  return code;
}

/* ------------------------------------------------------------------------------------------------ walls */

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

static status keep(const part_maker *m, status code, shape *made, const message *why, const shape **out)
{
  if (code == STATUS_OK)
    *out = case_store_shape(m->b->c->store, made, m->b->msg);
  else if (no_memory_only(m, code, why) == STATUS_NO_MEMORY)
    return STATUS_NO_MEMORY;
  return code != STATUS_OK || *out ? STATUS_OK : STATUS_NO_MEMORY;
}

/* A thick wall round a cylinder, frustum or box has corners as a joiner makes them, not rounded ones. *out stays NULL for other shapes. */
static status grow_sharp(const part_maker *m, const char *kind, const shape *hollow, double distance, shape **out, message *why)
{
  double low[3], high[3], bottom = 0.0, top = 0.0;
  shape_bounds(hollow, low, high);
  const double height = high[2] - low[2];
  if (strcmp(kind, "box") == 0) {
    for (int axis = 0; axis < 3; axis++) {
      low[axis] -= distance;
      high[axis] += distance;
    }
    return shape_box(out, low, high, why);
  }
  if (!m->b->c->revolved || !case_keys_is_choice("cylinder|disc|frustum", kind))
    return STATUS_OK;
  bottom = trace_radius(hollow, low[2] + 1e-9 * height);
  top = trace_radius(hollow, high[2] - 1e-9 * height);
  const double slope = (top - bottom) / height, aside = distance * sqrt(1.0 + slope * slope);
  const double r_low = bottom + aside - slope * distance, r_high = top + aside + slope * distance;
  return r_low > 0.0 && r_high > 0.0 ? shape_frustum(out, r_low, r_high, low[2] - distance, high[2] + distance, why) : STATUS_OK;
}

/* hollow grown by distance, cut off at the rim when open. */
static status grow(const part_maker *m, const char *kind, const shape *hollow, double distance, bool open_top, double rim, shape **out,
                   message *why)
{
  shape *a = NULL, *lid = NULL, *grown = NULL;
  const double point[3] = {0.0, 0.0, rim}, up[3] = {0.0, 0.0, 1.0};
  status code = kind && distance > 0.0 ? grow_sharp(m, kind, hollow, distance, &grown, why) : STATUS_OK;
  if (code == STATUS_OK && !grown)
    code = shape_clone(hollow, &a, why);
  if (code != STATUS_OK)
    return code;
  if (!grown && distance > 0.0)
    code = shape_offset(&grown, a, distance, why);
  else if (!grown)
    grown = a;
  if (code == STATUS_OK && open_top) {
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

/* The part's wall: from distance `from` of the hollow, with sharp corners there or not, to all that is around it. */
static status wall_between(const part_maker *m, double from, bool from_sharp, const shape **out)
{
  const case_part *p = m->part;
  message why = {""};
  shape *outer = NULL, *inner = NULL, *wall = NULL;
  status code = grow(m, p->sharp ? p->kind : NULL, p->hollow, p->around_hollow, p->open_top, p->rim, &outer, &why);
  if (code == STATUS_OK)
    code = grow(m, from_sharp ? p->kind : NULL, p->hollow, from, false, p->rim, &inner, &why);
  if (code == STATUS_OK)
    code = shape_difference(&wall, outer, inner, &why);
  else
    shape_destroy(&outer);
  return keep(m, code, wall, &why, out);
}

static status make_layer(part_maker *m)
{
  const yaml_node *around = yaml_tree_value(m->item, "around");
  case_part *p = m->part;
  message why = {""};
  const int target = case_build_find_part(m->b, around->text);
  if (target < 0 || target >= (int)(p - m->b->c->parts)) {
    case_build_fault(m->b, m->item, "around", "%s: \"%.48s\" must be listed before the layer round it", m->path, around->text);
    return STATUS_OK;
  }
  const case_part *t = &m->b->c->parts[target];
  if (!case_build_quantity(m->b, m->item, SECTION_PART, "wall", &p->wall)) {
    case_build_fault(m->b, m->item, NULL, "%s: a layer round another part needs \"wall\", its thickness", m->path);
    return STATUS_OK;
  }
  if (!t->sound)
    return STATUS_OK;
  p->hollow = t->hollow ? t->hollow : t->region;
  p->open_top = case_build_has(m->item, "open") ? case_build_choice(m->item, SECTION_PART, "open") == 0 : t->hollow && t->open_top;
  p->around_hollow = t->around_hollow + p->wall;
  p->kind = t->kind;
  p->sharp = p->wall >= SHARP_WALL;
  p->floor = t->floor;
  p->rim = t->rim;
  status code = wall_between(m, t->around_hollow, t->sharp, &p->region);
  shape *outer = NULL;
  if (code == STATUS_OK && p->region) {
    const status grown = grow(m, p->sharp ? p->kind : NULL, p->hollow, p->around_hollow, p->open_top, p->rim, &outer, &why);
    code = keep(m, grown, outer, &why, &p->outer);
  }
  return code;
}

static status make_from_shape(part_maker *m)
{
  case_part *p = m->part;
  message why = {""};
  shape *made = NULL, *outer = NULL;
  double low[3], high[3];
  status code = make_shape(m, &made);
  if (code != STATUS_OK || !made)
    return code;
  const shape *s = case_store_shape(m->b->c->store, made, m->b->msg);
  if (!s)
    return STATUS_NO_MEMORY;
  shape_bounds(s, low, high);
  p->kind = case_build_text(m->item, SECTION_PART, "shape");
  p->floor = low[2];
  p->rim = high[2];
  p->is_vessel = case_build_quantity(m->b, m->item, SECTION_PART, "wall", &p->wall);
  if (!p->is_vessel) {
    p->region = p->outer = s;
    return STATUS_OK;
  }
  p->hollow = s;
  p->sharp = p->wall >= SHARP_WALL;
  p->open_top = case_build_choice(m->item, SECTION_PART, "open") == 0;
  p->around_hollow = p->wall;
  code = wall_between(m, 0.0, false, &p->region);
  if (code == STATUS_OK) {
    const status grown = grow(m, p->sharp ? p->kind : NULL, s, p->wall, p->open_top, p->rim, &outer, &why);
    code = keep(m, grown, outer, &why, &p->outer);
  }
  return code;
}

/* ------------------------------------------------------------------------------------------------ all */

/* Keys that another shape has, given here by mistake. */
static void refuse_foreign_sizes(const part_maker *m, const char *kind)
{
  static const struct {
    const char *key, *shapes;
  } uses[] = {{"radius", "cylinder|tube|sphere|disc"}, {"diameter", "cylinder|tube|sphere|disc"}, {"inner_radius", "tube"},
              {"inner_diameter", "tube"}, {"bottom_radius", "frustum"}, {"bottom_diameter", "frustum"}, {"top_radius", "frustum"},
              {"top_diameter", "frustum"}, {"height", "cylinder|tube|frustum|disc"}, {"points", "profile"}, {"low", "box"}, {"high", "box"},
              {"file", "triangles"}, {"unit", "triangles"}, {"move", "triangles"}, {"turn", "triangles"}, {"fingerprint", "triangles"}};
  for (size_t i = 0; i < sizeof uses / sizeof *uses; i++)
    if (case_build_has(m->item, uses[i].key) && !case_keys_is_choice(uses[i].shapes, kind))
      case_build_fault(m->b, m->item, uses[i].key, "%s: a %s has no \"%s\"; that belongs to %s", m->path, kind, uses[i].key, uses[i].shapes);
}

static status make_part(part_maker *m)
{
  const bool shaped = case_build_has(m->item, "shape"), layer = case_build_has(m->item, "around");
  if (shaped == layer) {
    case_build_fault(m->b, m->item, shaped ? "around" : NULL, "%s: give \"shape\", or \"around\" with \"wall\"%s", m->path,
                     shaped ? ", not both" : "");
    return STATUS_OK;
  }
  if (!case_build_has(m->item, "material") && !case_build_has(m->item, "held"))
    case_build_fault(m->b, m->item, NULL, "%s: give its \"material\", or a temperature at which it is \"held\"", m->path);
  if (!case_build_has(m->item, "held") && case_build_has(m->item, "held_film"))
    case_build_fault(m->b, m->item, "held_film", "%s: \"held_film\" goes with \"held\"", m->path);
  refuse_foreign_sizes(m, layer ? "layer" : case_build_text(m->item, SECTION_PART, "shape"));
  if (!case_build_is_sound(m->b, m->item))
    return STATUS_OK;
  return layer ? make_layer(m) : make_from_shape(m);
}

status case_parts_build(case_build *b)
{
  const yaml_node *list = yaml_tree_value(b->c->tree, "parts");
  status code = STATUS_OK;
  if (!list || list->kind != YAML_LIST)
    return STATUS_OK;
  b->c->parts = case_store_array(b->c->store, list->num, sizeof *b->c->parts, b->msg);
  if (!b->c->parts)
    return STATUS_NO_MEMORY;
  b->c->num_parts = list->num;
  for (size_t i = 0; code == STATUS_OK && i < list->num; i++) {
    part_maker m = {.b = b, .item = list->items[i], .part = &b->c->parts[i]};
    const yaml_node *name = yaml_tree_value(m.item, "name");
    m.part->item = m.item;
    m.part->rig_part = -1;
    if (!name || name->kind != YAML_TEXT)
      continue;
    (void)snprintf(m.part->name, sizeof m.part->name, "%s", name->text);
    if (!case_build_is_sound(b, m.item))
      continue;
    (void)snprintf(m.path, sizeof m.path, "parts.%s", m.part->name);
    code = make_part(&m);
    m.part->sound = m.part->region != NULL && m.part->outer != NULL && case_build_is_sound(b, m.item);
  }
  return code;
}
