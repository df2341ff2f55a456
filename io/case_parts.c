/* Parts: from what was written to shapes, walls and what they are made of. */
#include <math.h>
#include <string.h>

#include "geometry/shape_seam.h"
#include "io/case_shape.h"
#include "io/case_triangles.h"
#include "io/case_wall.h"

enum { PATH = 96 };
/* m: from this thickness on a wall is never meshed as a thin one, and its corners are sharp; thinner ones are bent sheet. */
static const double SHARP_WALL = 0.025;

typedef struct {
  case_build *b;
  const yaml_node *item;
  case_part *part;
  char path[PATH];
  case_triangles_room room; /* inside a drawn solid that a liquid is poured into */
} part_maker;

/* ------------------------------------------------------------------------------------------------ where it stands */

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
  double floor = 0.0;
  *z = u->is_vessel ? u->floor : u->rim;
  if (case_build_quantity(m->b, m->item, SECTION_PART, case_build_has(m->item, "floor") ? "floor" : "wall", &floor))
    *z += floor; /* the hollow begins above its own floor */
  return u->sound;
}

static status no_memory_only(const part_maker *m, status code, const message *why)
{
  if (code == STATUS_NO_MEMORY)
    (void)message_set(m->b->msg, code, "%s", why->text);
  if (code == STATUS_OK || code == STATUS_NO_MEMORY)
    return code;
  case_build_fault(m->b, m->item, "shape", "%s: %s", m->path, why->text);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ own frame and the rig's */

/* Puts a shape of the part's own frame into the rig, and into the store. */
static status settle(const part_maker *m, status code, shape *own, message *why, const shape **out)
{
  shape *made = own;
  if (code == STATUS_OK && m->part->placed) {
    made = NULL;
    code = shape_placed(&made, own, &m->part->frame, why);
  }
  if (code == STATUS_OK)
    *out = case_store_shape(m->b->c->store, made, m->b->msg);
  else if (no_memory_only(m, code, why) == STATUS_NO_MEMORY)
    return STATUS_NO_MEMORY;
  return code != STATUS_OK || *out ? STATUS_OK : STATUS_NO_MEMORY;
}

static status settle_copy(const part_maker *m, const shape *own, const shape **out)
{
  message why = {""};
  shape *copy = NULL;
  if (!m->part->placed) {
    *out = own;
    return STATUS_OK;
  }
  const status code = shape_clone(own, &copy, &why);
  return settle(m, code, copy, &why, out);
}

/* The lowest point of the mouth of a vessel that is tipped over: it runs over there. */
static double lip_of(const case_part *p)
{
  enum { ACROSS = 256 };
  double low[3], high[3], lip = INFINITY, at[3];
  shape_bounds(p->own, low, high);
  const double just_below = p->own_rim - 1e-6 * (high[2] - low[2]);
  for (int i = 0; i <= ACROSS; i++)
    for (int j = 0; j <= ACROSS; j++) {
      const double own[3] = {low[0] + (high[0] - low[0]) * i / ACROSS, low[1] + (high[1] - low[1]) * j / ACROSS, just_below};
      if (shape_distance(p->own, own) > 0.0)
        continue;
      shape_placed_point(&p->frame, own, at);
      lip = fmin(lip, at[2]);
    }
  return lip;
}

/* z of the lowest and highest place inside (of a solid: of itself); a mouth that is tipped ends at its lip. */
static void find_heights(const part_maker *m, const shape *inside)
{
  case_part *p = m->part;
  double low[3], high[3];
  shape_bounds(inside, low, high);
  p->floor = low[2];
  p->rim = high[2];
  p->posture = p->placed ? shape_placed_kind_of(&p->frame) : SHAPE_PLACED_UPRIGHT;
  if (p->posture == SHAPE_PLACED_OBLIQUE)
    p->floor = shape_placed_lowest(inside);
  if (p->posture != SHAPE_PLACED_UPRIGHT && p->is_vessel && p->open_top) {
    p->rim = lip_of(p);
    if (!(p->rim > p->floor + 1e-4 * (high[2] - low[2])))
      case_build_fault(m->b, m->item, NULL, "%s: as it is tipped its mouth lies at z %.4g mm, not above its lowest place: it would hold nothing; tip it "
                       "less, or say open: none", m->path, 1e3 * p->rim);
  }
}

/* ------------------------------------------------------------------------------------------------ shapes and walls */

static bool is_named(const part_maker *m, const char *list, const char *key)
{
  const yaml_node *items = yaml_tree_value(m->b->c->tree, list);
  for (size_t i = 0; items && items->kind == YAML_LIST && i < items->num; i++) {
    const yaml_node *name = items->items[i]->kind == YAML_MAP ? yaml_tree_value(items->items[i], key) : NULL;
    if (name && name->kind == YAML_TEXT && strcmp(name->text, m->part->name) == 0)
      return true;
  }
  return false;
}

/* A drawing of the mould itself, walls and all: it has no `wall`, and something is poured into it. */
static bool is_drawn_with_walls(const part_maker *m)
{
  return !case_build_has(m->item, "wall") && (is_named(m, "bodies", "in") || is_named(m, "baths", "in"));
}

static status make_triangles(part_maker *m, case_shape *out)
{
  double foot = 0.0;
  const bool stands = case_build_has(m->item, "z") || case_build_has(m->item, "on");
  *out = (case_shape){0};
  if (stands && !foot_of(m, &foot))
    return STATUS_OK;
  return case_triangles_build(m->b, m->part, stands ? &foot : NULL, is_drawn_with_walls(m) ? &m->room : NULL, &out->own);
}

/* The shape as written: the hollow of a vessel, or the solid. out->own stays NULL when a fault was told. */
static status make_shape(part_maker *m, case_shape *out)
{
  double z = 0.0;
  *out = (case_shape){0};
  if (strcmp(case_build_text(m->item, SECTION_PART, "shape"), "triangles") == 0)
    return make_triangles(m, out);
  if (!foot_of(m, &z))
    return STATUS_OK;
  return case_shape_build(&(case_shape_request){.b = m->b, .item = m->item, .section = SECTION_PART, .path = m->path, .foot = z}, out);
}

/* Thickness of wall and floor; false without a wall. */
static bool read_walls(const part_maker *m, const char *kind)
{
  case_part *p = m->part;
  if (!case_build_quantity(m->b, m->item, SECTION_PART, "wall", &p->wall))
    return false;
  p->wall_floor = p->wall;
  if (case_build_has(m->item, "floor") && !case_wall_has_floor(kind))
    case_build_fault(m->b, m->item, "floor", "%s: a %s has no flat floor; \"floor\" belongs to cylinder, disc, frustum, box and prism: leave it out, or "
                     "list the floor as a part of its own", m->path, kind);
  else
    (void)case_build_quantity(m->b, m->item, SECTION_PART, "floor", &p->wall_floor);
  return true;
}

static case_wall_depth beyond(case_wall_depth inner, const case_part *p)
{
  return (case_wall_depth){inner.side + p->wall, inner.floor + p->wall_floor, p->wall >= SHARP_WALL};
}

/* A wall `by` m from s (< 0: inside it) would stand where two of its pieces meet, too. */
static bool tell_seam(const part_maker *m, const shape *s, double by)
{
  const case_part *p = m->part;
  double at[3];
  if (!shape_seam_find(s, by, at))
    return false;
  case_build_fault(m->b, m->item, "wall", "%s: two of the pieces %s touch or overlap by less than %.4g mm, twice the wall%s, near (%.4g, %.4g, %.4g) mm "
                   "(in its own frame): a wall would stand between them; let them overlap by more, or give the figure as one prism, profile or drawing",
                   m->path, by > 0.0 ? "taken away from it" : "it is made of", 2e3 * fabs(by), fabs(by) > p->wall ? " with what lies within it" : "", 1e3 * at[0], 1e3 * at[1], 1e3 * at[2]);
  return true;
}

static status make_walls(const part_maker *m, case_wall_depth from)
{
  case_part *p = m->part;
  const case_wall w = {.kind = p->kind, .hollow = p->own, .open_top = p->open_top, .rim = p->own_rim};
  message why = {""};
  const case_wall closed = {.kind = p->kind, .hollow = p->own, .rim = p->own_rim};
  shape *wall = NULL, *outer = NULL, *cavity = NULL;
  if (tell_seam(m, p->own, p->around.side))
    return STATUS_OK;
  status code = case_wall_between(&w, from, p->around, &wall, &why);
  code = settle(m, code, wall, &why, &p->region);
  if (code != STATUS_OK || !p->region)
    return code;
  status grown = case_wall_outside(&w, p->around, &outer, &why);
  code = settle(m, grown, outer, &why, &p->outer);
  if (code != STATUS_OK || !p->outer)
    return code;
  grown = case_wall_outside(&closed, from, &cavity, &why);
  return settle(m, grown, cavity, &why, &p->cavity);
}

static status make_layer(part_maker *m)
{
  const yaml_node *around = yaml_tree_value(m->item, "around");
  case_part *p = m->part;
  const int target = case_build_find_part(m->b, around->text);
  if (target < 0 || target >= (int)(p - m->b->c->parts)) {
    case_build_fault(m->b, m->item, "around", "%s: \"%.48s\" must be listed before the layer round it", m->path, around->text);
    return STATUS_OK;
  }
  const case_part *t = &m->b->c->parts[target];
  if (!read_walls(m, t->kind)) {
    case_build_fault(m->b, m->item, NULL, "%s: a layer round another part needs \"wall\", its thickness", m->path);
    return STATUS_OK;
  }
  if (t->is_vessel && t->wall == 0.0)
    case_build_fault(m->b, m->item, "around", "%s: \"%.48s\" is drawn with its walls, and a layer round it would line its inside too; draw the layer as well, or "
                     "give the hollow with a \"wall\"", m->path, around->text);
  if (!t->sound || !case_build_is_sound(m->b, m->item))
    return STATUS_OK;
  p->own = t->own;
  p->own_rim = t->own_rim;
  p->placed = t->placed;
  p->frame = t->frame;
  p->posture = t->posture;
  p->hollow = t->hollow ? t->hollow : t->region;
  p->open_top = case_build_has(m->item, "open") ? case_build_choice(m->item, SECTION_PART, "open") == 0 : t->hollow && t->open_top;
  p->around = beyond(t->around, p);
  p->kind = t->kind;
  p->floor = t->floor;
  p->rim = t->rim;
  return make_walls(m, t->around);
}

/* The wall lies inside what was written: that is the outside, and what the wall leaves is the hollow. */
static status make_inward(const part_maker *m, const shape *solid)
{
  case_part *p = m->part;
  message why = {""};
  shape *hollow = NULL, *outer = NULL, *inner = NULL, *wall = NULL, *lid = NULL;
  double low[3], high[3];
  if (tell_seam(m, solid, -p->wall))
    return STATUS_OK;
  status code = case_wall_hollow(solid, p->kind, (case_wall_depth){p->wall, p->wall_floor, true}, p->open_top, &hollow, &why);
  if (code == STATUS_OK && !hollow) {
    const bool own_floor = p->wall_floor != p->wall;
    case_build_fault(m->b, m->item, own_floor ? "floor" : "wall", "%s: a wall of %.4g mm%s inside it leaves no hollow; make it thinner, or the shape larger",
                     m->path, 1e3 * p->wall, own_floor ? " with its floor" : "");
    return STATUS_OK;
  }
  if (code != STATUS_OK)
    return no_memory_only(m, code, &why);
  p->own = case_store_shape(m->b->c->store, hollow, m->b->msg);
  if (!p->own)
    return STATUS_NO_MEMORY;
  shape_bounds(p->own, low, high);
  p->own_rim = high[2];
  const double point[3] = {0.0, 0.0, p->own_rim}, up[3] = {0.0, 0.0, 1.0};
  code = shape_clone(solid, &outer, &why);
  if (code == STATUS_OK && p->open_top)
    code = shape_half_space(&lid, point, up, &why);
  if (code == STATUS_OK && lid) {
    shape *a = outer;
    outer = NULL;
    code = shape_intersection(&outer, a, lid, &why);
  }
  code = settle(m, code, outer, &why, &p->outer);
  if (code != STATUS_OK || !p->outer)
    return code;
  /* The wall in the rig: what is outside the hollow. */
  code = settle_copy(m, p->own, &p->hollow);
  p->cavity = p->hollow;
  if (code == STATUS_OK && p->hollow)
    code = shape_clone(p->outer, &outer, &why);
  if (code == STATUS_OK)
    code = shape_clone(p->hollow, &inner, &why);
  if (code == STATUS_OK)
    code = shape_difference(&wall, outer, inner, &why);
  if (code != STATUS_OK)
    return message_set(m->b->msg, STATUS_NO_MEMORY, "%s", why.text);
  p->region = case_store_shape(m->b->c->store, wall, m->b->msg);
  return p->region ? STATUS_OK : STATUS_NO_MEMORY;
}

static const double LAP = 0.05; /* of the mean wall: how far room and solid overlap when they are joined, so that no seam is left between them */

/* The room grown a little into the walls, up to the rim. */
static status lap_into_walls(const shape *room, double by, shape **out, message *why)
{
  double low[3], high[3];
  shape *copy = NULL, *grown = NULL, *below = NULL;
  shape_bounds(room, low, high);
  status code = shape_clone(room, &copy, why);
  if (code == STATUS_OK)
    code = shape_offset(&grown, copy, by, why);
  if (code == STATUS_OK)
    code = shape_half_space(&below, (const double[3]){0.0, 0.0, high[2]}, (const double[3]){0.0, 0.0, 1.0}, why);
  if (code == STATUS_OK)
    return shape_intersection(out, grown, below, why);
  shape_destroy(&grown);
  return code;
}

/* A solid with room inside is a vessel whose wall is what was drawn: region and outer are those of the solid, the hollow is its room. */
static status make_drawn_walls(part_maker *m)
{
  case_part *p = m->part;
  message why = {""};
  shape *solid = NULL, *inside = NULL, *outer = NULL;
  p->hollow = case_store_shape(m->b->c->store, m->room.inside, m->b->msg);
  if (!p->hollow)
    return STATUS_NO_MEMORY;
  status code = shape_clone(p->region, &solid, &why);
  if (code == STATUS_OK)
    code = lap_into_walls(p->hollow, LAP * p->mean_wall, &inside, &why);
  if (code != STATUS_OK)
    shape_destroy(&solid);
  else
    code = shape_union(&outer, solid, inside, &why);
  p->is_vessel = true;
  p->open_top = m->room.open;
  if (code == STATUS_OK && case_build_has(m->item, "open") && (case_build_choice(m->item, SECTION_PART, "open") == 0) != p->open_top)
    case_build_fault(m->b, m->item, "open", "%s: as it is drawn it is %s; leave \"open\" out", m->path, p->open_top ? "open at the top" : "closed all round");
  return settle(m, code, outer, &why, &p->outer);
}

static status make_from_shape(part_maker *m)
{
  case_part *p = m->part;
  case_shape made;
  double low[3], high[3];
  status code = make_shape(m, &made);
  if (code != STATUS_OK || !made.own)
    return code;
  const shape *s = case_store_shape(m->b->c->store, made.own, m->b->msg);
  if (!s)
    return STATUS_NO_MEMORY;
  shape_bounds(s, low, high);
  p->kind = case_build_text(m->item, SECTION_PART, "shape");
  p->own = s;
  p->own_rim = high[2];
  p->placed = made.placed;
  p->frame = made.frame;
  p->is_vessel = read_walls(m, p->kind);
  if (!case_build_is_sound(m->b, m->item))
    return STATUS_OK;
  if (!p->is_vessel) {
    code = settle_copy(m, s, &p->region);
    p->outer = p->region;
    if (code == STATUS_OK && p->region && m->room.inside)
      code = make_drawn_walls(m);
    if (p->region)
      find_heights(m, p->hollow ? p->hollow : p->region);
    return code;
  }
  p->open_top = case_build_choice(m->item, SECTION_PART, "open") == 0;
  p->around = beyond((case_wall_depth){0.0, 0.0, false}, p);
  if (case_build_choice(m->item, SECTION_PART, "wall_side") == 1)
    code = make_inward(m, s);
  else {
    code = settle_copy(m, s, &p->hollow);
    if (code == STATUS_OK && p->hollow)
      code = make_walls(m, (case_wall_depth){0.0, 0.0, false});
  }
  if (code == STATUS_OK && p->hollow)
    find_heights(m, p->hollow);
  return code;
}

/* ------------------------------------------------------------------------------------------------ all */

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
  if (case_build_has(m->item, "wall_side") && (layer || !case_build_has(m->item, "wall")))
    case_build_fault(m->b, m->item, "wall_side", "%s: \"wall_side\" goes with a shape and its \"wall\"", m->path);
  if (case_build_has(m->item, "floor") && !case_build_has(m->item, "wall"))
    case_build_fault(m->b, m->item, "floor", "%s: \"floor\" goes with a \"wall\": it is the thickness below the hollow", m->path);
  const case_shape_request request = {.b = m->b, .item = m->item, .section = SECTION_PART, .path = m->path};
  case_shape_refuse_foreign(&request, layer ? "layer" : case_build_text(m->item, SECTION_PART, "shape"));
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
