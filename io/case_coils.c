/* Coils: a helix of tube about the z axis, from any two of length, turns, pitch and height. */
#include <math.h>
#include <string.h>

#include "io/case_coil_line.h"
#include "materials/refrigerant.h"

static const double PI = 3.14159265358979323846;
static const double AGREEMENT = 0.02; /* figures that say the same thing twice may differ by this share */
enum { PATH = 96, MOST_TURNS = 2000, SLICES = 64, SHAPE_CHANNELS = 3 };

typedef struct {
  case_build *b;
  const yaml_node *item;
  case_coil *coil;
  rig_coil *out;
  char path[PATH];
} coil_maker;

/* ------------------------------------------------------------------------------------------------ helix */

typedef struct {
  double length, turns, pitch, height; /* NAN: not given */
} helix;

static double one_turn(double radius, double pitch)
{
  return hypot(2.0 * PI * radius, pitch);
}

/* Fills in what is missing. length = turns sqrt((2 pi r)^2 + pitch^2), height = turns pitch. False: no such helix. */
static bool complete_helix(helix *h, double radius)
{
  if (!isnan(h->turns)) {
    if (isnan(h->pitch))
      h->pitch = !isnan(h->height) ? h->height / h->turns
                                   : sqrt(fmax(0.0, h->length * h->length / (h->turns * h->turns) - pow(2.0 * PI * radius, 2.0)));
    if (isnan(h->height))
      h->height = h->turns * h->pitch;
    if (isnan(h->length))
      h->length = h->turns * one_turn(radius, h->pitch);
  } else if (!isnan(h->pitch)) {
    h->turns = !isnan(h->height) ? h->height / h->pitch : h->length / one_turn(radius, h->pitch);
    h->height = h->turns * h->pitch;
    if (isnan(h->length))
      h->length = h->turns * one_turn(radius, h->pitch);
  } else { /* length and height: length^2 = (turns 2 pi r)^2 + height^2 */
    if (!(h->length > h->height))
      return false;
    h->turns = sqrt(h->length * h->length - h->height * h->height) / (2.0 * PI * radius);
    h->pitch = h->height / h->turns;
  }
  return true;
}

static bool agree(double a, double b)
{
  return isnan(a) || fabs(a - b) <= AGREEMENT * fmax(fabs(a), fabs(b));
}

/* The first two that are given count; further ones must agree. */
static bool read_helix(const coil_maker *m, double radius, helix *h)
{
  static const char *const keys[4] = {"turns", "pitch", "height", "length"};
  double given[4] = {NAN, NAN, NAN, NAN}, used[4] = {NAN, NAN, NAN, NAN};
  int num = 0;
  for (int i = 0; i < 4; i++)
    if (case_build_has(m->item, keys[i])) {
      (void)case_build_quantity(m->b, m->item, SECTION_COIL, keys[i], &given[i]);
      if (num++ < 2)
        used[i] = given[i];
    }
  if (num < 2) {
    case_build_fault(m->b, m->item, NULL, "%s: give two of length, turns, pitch, height; the others follow", m->path);
    return false;
  }
  *h = (helix){.turns = used[0], .pitch = used[1], .height = used[2], .length = used[3]};
  if (!complete_helix(h, radius)) {
    case_build_fault(m->b, m->item, "length", "%s: a tube of %g m is too short to rise by %g m", m->path, h->length, h->height);
    return false;
  }
  const double found[4] = {h->turns, h->pitch, h->height, h->length};
  static const double scale[4] = {1.0, 1e3, 1e3, 1.0};
  static const char *const units[4] = {"turns", "mm", "mm", "m"};
  for (int i = 0; i < 4; i++)
    if (!agree(given[i], found[i])) {
      case_build_fault(m->b, m->item, keys[i],
                       "%s: %s is %.4g %s, but with radius %.4g mm the others give %.4g %s (%.4g turns, pitch %.4g mm, height %.4g mm, "
                       "length %.4g m); leave one out or change it", m->path, keys[i], scale[i] * given[i], units[i], 1e3 * radius,
                       scale[i] * found[i], units[i], found[0], 1e3 * found[1], 1e3 * found[2], found[3]);
      return false;
    }
  return true;
}

/* ------------------------------------------------------------------------------------------------ radius */

/* Largest (outermost) distance from an upright axis at which s has a surface at height z, seen in one direction; 0 when there is none: traced
 * inward by the distance. */
static double outermost(const shape *s, const double axis[2], double angle, double z)
{
  double low[3], high[3];
  shape_bounds(s, low, high);
  const double far = hypot(fmax(fabs(low[0] - axis[0]), fabs(high[0] - axis[0])), fmax(fabs(low[1] - axis[1]), fabs(high[1] - axis[1])));
  for (double r = far * 1.001 + 1e-6; r > 0.0;) {
    const double d = shape_distance(s, (const double[3]){axis[0] + r * cos(angle), axis[1] + r * sin(angle), z});
    if (d <= 1e-7)
      return r;
    r -= d;
  }
  return 0.0;
}

/* Radius of the helix from the part that it goes round or runs along, over heights from..to. */
static double radius_beside(const shape *s, const double axis[2], bool revolved, bool inside, double from, double to)
{
  double found = inside ? INFINITY : 0.0;
  for (int i = 0; i <= SLICES; i++)
    for (int around = 0; around < (revolved ? 1 : SLICES); around++) {
      const double r = outermost(s, axis, 2.0 * PI * around / SLICES, from + (to - from) * i / SLICES);
      if (r > 0.0)
        found = inside ? fmin(found, r) : fmax(found, r);
    }
  return isfinite(found) ? found : 0.0;
}

/* Heights that the helix may reach, as far as they are known before its radius is. */
static void reach(const coil_maker *m, const case_part *beside, double *from, double *to)
{
  double height = NAN, pitch = NAN, turns = NAN;
  *from = m->coil->z;
  *to = beside->rim;
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "height", &height);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "pitch", &pitch);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "turns", &turns);
  if (!isnan(height))
    *to = *from + height;
  else if (!isnan(pitch * turns))
    *to = *from + pitch * turns;
}

static bool read_radius(const coil_maker *m, double *radius)
{
  static const char *const ways[] = {"radius", "diameter", "around", "inside"};
  const int way = case_build_one_of(m->b, m->item, m->path, ways, 4);
  double gap = 0.0, from = 0.0, to = 0.0, axis[2];
  if (way < 0 || !case_coil_line_axis(m->b, m->item, axis))
    return false;
  if (way < 2) {
    if (case_build_has(m->item, "gap"))
      case_build_fault(m->b, m->item, "gap", "%s: \"gap\" goes with \"around\" or \"inside\"", m->path);
    else if (case_build_quantity(m->b, m->item, SECTION_COIL, ways[way], radius)) {
      *radius *= way == 0 ? 1.0 : 0.5;
      return true;
    }
    return false;
  }
  if (!case_build_quantity(m->b, m->item, SECTION_COIL, "gap", &gap)) {
    case_build_fault(m->b, m->item, NULL, "%s: \"%s\" needs \"gap\", the free space between tube and part", m->path, ways[way]);
    return false;
  }
  const int index = case_build_find_part(m->b, yaml_tree_value(m->item, ways[way])->text);
  if (index < 0 || !m->b->c->parts[index].sound)
    return false;
  const case_part *p = &m->b->c->parts[index];
  if (way == 3 && !p->hollow) {
    case_build_fault(m->b, m->item, "inside", "%s: \"%s\" is no vessel", m->path, p->name);
    return false;
  }
  reach(m, p, &from, &to);
  const double half_tube = 0.5 * m->out->tube_outer;
  const double beside = radius_beside(way == 2 ? p->outer : p->hollow, axis, m->b->c->revolved, way == 3, from, to);
  *radius = way == 2 ? beside + gap + half_tube : beside - gap - half_tube;
  if (beside > 0.0 && *radius > 0.0)
    return true;
  case_build_fault(m->b, m->item, ways[way], "%s: between z %.4g and %.4g mm there is no \"%s\" to go by", m->path, 1e3 * from, 1e3 * to,
                   p->name);
  return false;
}

/* ------------------------------------------------------------------------------------------------ rings and their room */

/* Fills the figures of the coil; false when its turns are too many, too few or too close. */
static bool turns_are_possible(const coil_maker *m, const helix *h, double radius)
{
  case_coil *k = m->coil;
  if (h->turns > MOST_TURNS || h->turns < 0.5) {
    case_build_fault(m->b, m->item, NULL, "%s: %.4g turns; between 0.5 and %d are accepted", m->path, h->turns, MOST_TURNS);
    return false;
  }
  if (m->out->tube_outer > h->pitch * (1.0 + 1e-9) && h->turns > 1.0) {
    case_build_fault(m->b, m->item, NULL, "%s: the turns would overlap: pitch %.4g mm, tube %.4g mm", m->path, 1e3 * h->pitch,
                     1e3 * m->out->tube_outer);
    return false;
  }
  k->turns = h->turns;
  k->pitch = h->pitch;
  k->height = h->height;
  k->radius = radius;
  return true;
}

static status make_rings(const coil_maker *m, const helix *h, double radius)
{
  case_coil *k = m->coil;
  const size_t num = (size_t)fmax(1.0, round(h->turns));
  double(*rings)[2] = case_store_array(m->b->c->store, num, sizeof *rings, m->b->msg);
  if (!rings)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < num; i++) {
    rings[i][0] = radius;
    rings[i][1] = k->z + ((double)i + 0.5) * h->height / (double)num;
  }
  m->out->rings = rings;
  m->out->num_rings = num;
  m->out->length = k->length = h->length;
  return STATUS_OK;
}

/* Free distance from every turn to every part but the one it lies in; less than none is a fault, told once per part. */
static void check_room(const coil_maker *m, const char *lies_in)
{
  const double half_tube = 0.5 * m->out->tube_outer;
  m->coil->clearance = INFINITY;
  for (size_t j = 0; j < m->b->c->num_parts; j++) {
    const case_part *p = &m->b->c->parts[j];
    if (!p->sound || strcmp(p->name, lies_in) == 0)
      continue;
    for (size_t i = 0; i < m->out->num_rings; i++) {
      const double at[3] = {m->out->rings[i][0], 0.0, m->out->rings[i][1]};
      const double free_way = shape_distance(p->region, at) - half_tube;
      if (free_way < m->coil->clearance) {
        m->coil->clearance = free_way;
        (void)snprintf(m->coil->nearest, sizeof m->coil->nearest, "%s", p->name);
      }
      if (free_way <= 0.0) {
        case_build_fault(m->b, m->item, NULL,
                         "%s: turn %zu (radius %.4g mm, z %.4g mm) goes through \"%s\" by %.3g mm; change radius, gap, z, height or the part",
                         m->path, i + 1, 1e3 * at[0], 1e3 * at[2], p->name, -1e3 * free_way);
        break;
      }
    }
  }
}

/* ------------------------------------------------------------------------------------------------ all */

static bool read_tube(const coil_maker *m)
{
  rig_coil *k = m->out;
  static const char *const needed[] = {"tube", "tube_wall"};
  for (int i = 0; i < 2; i++)
    if (!case_build_has(m->item, needed[i])) {
      case_build_fault(m->b, m->item, NULL, "%s: the key \"%s\" is missing: %s", m->path, needed[i], i ? "thickness of the tube's wall" : "outer diameter of the tube");
      return false;
    }
  if (!case_build_quantity(m->b, m->item, SECTION_COIL, "tube", &k->tube_outer) ||
      !case_build_quantity(m->b, m->item, SECTION_COIL, "tube_wall", &k->tube_wall))
    return false;
  if (2.0 * k->tube_wall < k->tube_outer)
    return true;
  case_build_fault(m->b, m->item, "tube_wall", "%s: a wall of %.4g mm leaves no bore in a tube of %.4g mm", m->path, 1e3 * k->tube_wall,
                   1e3 * k->tube_outer);
  return false;
}

/* The temperature that belongs to a gauge's reading. */
static status read_suction(const coil_maker *m, rig_coil *k)
{
  const int kind = case_build_choice(m->item, SECTION_COIL, "refrigerant");
  const double site = m->b->c->rig.room.pressure;
  double gauge = 0.0;
  if (k->temperature.num) {
    case_build_fault(m->b, m->item, "suction", "%s: \"refrigerant_temperature\" or \"suction\", not both", m->path);
    return STATUS_OK;
  }
  if (kind < 0 || !case_build_pressure(m->b, m->item, SECTION_COIL, "suction", site, &gauge)) {
    case_build_fault(m->b, m->item, NULL, "%s: \"suction\" and \"refrigerant\" go together: a gauge's reading means a temperature only for a known refrigerant", m->path);
    return STATUS_OK;
  }
  const double t = refrigerant_temperature((refrigerant_kind)kind, REFRIGERANT_DEW, site + gauge);
  if (isnan(t)) {
    case_build_fault(m->b, m->item, "suction", "%s: %s has no saturation between -60 and 65 degC at %.3g bar(g)", m->path, refrigerant_name((refrigerant_kind)kind), gauge / 1e5);
    return STATUS_OK;
  }
  return case_build_constant(m->b, t, &k->temperature);
}

static status read_coolant(const coil_maker *m)
{
  rig_coil *k = m->out;
  status code = case_build_schedule(m->b, m->item, SECTION_COIL, "refrigerant_temperature", &k->temperature);
  if (code == STATUS_OK && (case_build_has(m->item, "suction") || case_build_has(m->item, "refrigerant")))
    code = read_suction(m, k);
  const bool plant = case_build_has(m->b->c->tree, "plant");
  k->coolant = k->temperature.num ? COOLANT_FIXED : COOLANT_PLANT;
  if (!k->temperature.num && !plant)
    case_build_fault(m->b, m->item, NULL, "%s: give \"refrigerant_temperature\", or describe the \"plant\" that finds it", m->path);
  return code;
}

/* Channels: no tube, a part that is one temperature. Which part it is in the rig is settled when all parts are known. */
static status make_channels(coil_maker *m)
{
  static const char *const allowed[] = {"name", "in", "shape", "conductance", "refrigerant_temperature", "suction", "refrigerant", "outer_film"};
  rig_coil *k = m->out;
  for (size_t i = 0; i < m->item->num; i++) {
    bool known = false;
    for (size_t a = 0; a < sizeof allowed / sizeof *allowed; a++)
      known = known || strcmp(m->item->keys[i]->text, allowed[a]) == 0;
    if (!known)
      case_build_fault(m->b, m->item, m->item->keys[i]->text, "%s: channels have no tube; \"%s\" goes with the other shapes", m->path, m->item->keys[i]->text);
  }
  if (!case_build_has(m->item, "conductance"))
    case_build_fault(m->b, m->item, "shape", "%s: channels need \"conductance\", W/K from the refrigerant to all of the part (1500 W/m2K on their inner area is usual)", m->path);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "conductance", &k->conductance);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "outer_film", &k->outer_film);
  m->coil->radius = m->coil->turns = m->coil->pitch = m->coil->height = NAN;
  m->coil->clearance = INFINITY;
  return read_coolant(m);
}

static status make_coil(coil_maker *m)
{
  rig_coil *k = m->out;
  if (case_build_choice(m->item, SECTION_COIL, "shape") == SHAPE_CHANNELS) {
    (void)snprintf(k->name, sizeof k->name, "%s", m->coil->name);
    return make_channels(m);
  }
  if (case_build_has(m->item, "conductance"))
    case_build_fault(m->b, m->item, "conductance", "%s: \"conductance\" goes with shape: channels", m->path);
  double radius = 0.0;
  helix h;
  const char *lies_in = case_build_text(m->item, SECTION_COIL, "in");
  (void)snprintf(k->name, sizeof k->name, "%s", m->coil->name);
  const bool helical = case_build_choice(m->item, SECTION_COIL, "shape") == 0;
  if (m->b->c->revolved && (!helical || case_build_has(m->item, "axis_at") || case_build_has(m->item, "turn"))) {
    case_build_fault(m->b, m->item, helical ? NULL : "shape", "%s: with dimension: rz a coil is a helix about the z axis", m->path);
    return STATUS_OK;
  }
  if (!case_build_quantity(m->b, m->item, SECTION_COIL, "z", &m->coil->z) && case_build_choice(m->item, SECTION_COIL, "shape") != 2)
    case_build_fault(m->b, m->item, NULL, "%s: the key \"z\" is missing: height of the lower end, to the middle of the tube", m->path);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "inner_film", &k->inner_film);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "outer_film", &k->outer_film);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "superheated_share", &k->superheated_share);
  (void)case_build_quantity(m->b, m->item, SECTION_COIL, "superheated_film", &k->superheated_film);
  k->spread = case_build_flag(m->item, SECTION_COIL, "spread");
  if (k->superheated_share > 0.5)
    case_build_fault(m->b, m->item, "superheated_share", "%s: more than half of the coil without liquid is no coil that can be foretold; "
                                                         "at most 50 %%", m->path);
  const material *tube = case_material_build(m->b, m->item, SECTION_COIL, m->path, &m->coil->solid);
  if (tube)
    k->tube_conductivity = phase_curve_conductivity_at(&tube->curve, -10.0, 1);
  status code = read_coolant(m);
  if (code != STATUS_OK || !read_tube(m))
    return code;
  if (!helical) {
    m->coil->radius = m->coil->turns = m->coil->pitch = m->coil->height = NAN;
    return case_coil_line_build(m->b, m->item, m->path, NULL, m->coil, k);
  }
  if (!read_radius(m, &radius) || !read_helix(m, radius, &h) || !turns_are_possible(m, &h, radius))
    return code;
  if (!m->b->c->revolved)
    return case_coil_line_build(m->b, m->item, m->path, &(case_coil_helix){.radius = radius, .height = h.height, .turns = h.turns}, m->coil, k);
  code = make_rings(m, &h, radius);
  if (code == STATUS_OK && k->rings)
    check_room(m, lies_in);
  return code;
}

status case_coils_build(case_build *b)
{
  const yaml_node *list = yaml_tree_value(b->c->tree, "coils");
  status code = STATUS_OK;
  if (!list || list->kind != YAML_LIST)
    return STATUS_OK;
  b->c->coils = case_store_array(b->c->store, list->num, sizeof *b->c->coils, b->msg);
  b->c->rig.coils = case_store_array(b->c->store, list->num, sizeof *b->c->rig.coils, b->msg);
  if (!b->c->coils || !b->c->rig.coils)
    return STATUS_NO_MEMORY;
  b->c->rig.num_coils = list->num;
  for (size_t i = 0; code == STATUS_OK && i < list->num; i++) {
    coil_maker m = {.b = b, .item = list->items[i], .coil = &b->c->coils[i], .out = &b->c->rig.coils[i]};
    const yaml_node *name = yaml_tree_value(m.item, "name");
    m.coil->item = m.item;
    if (!name || name->kind != YAML_TEXT)
      continue;
    (void)snprintf(m.coil->name, sizeof m.coil->name, "%s", name->text);
    (void)snprintf(m.path, sizeof m.path, "coils.%s", m.coil->name);
    if (!case_build_is_sound(b, m.item))
      continue;
    code = make_coil(&m);
    m.coil->sound = (m.out->rings != NULL || m.out->num_points > 0 || m.out->conductance > 0.0) && case_build_is_sound(b, m.item);
  }
  return code;
}

/* Channels run through a solid part, one coil's in each. */
void case_coils_settle(case_build *b)
{
  rig *r = &b->c->rig;
  for (size_t i = 0; i < r->num_coils; i++) {
    rig_coil *k = &r->coils[i];
    if (!(k->conductance > 0.0))
      continue;
    const int part = case_build_find_rig_part(b, case_build_text(b->c->coils[i].item, SECTION_COIL, "in"));
    k->part = part < 0 ? 0 : part;
    if (part < 0 || r->parts[part].kind != PART_SOLID)
      case_build_fault(b, b->c->coils[i].item, "in", "coils.%s: channels run through a solid part with a \"material\"; \"%s\" is none", k->name,
                       case_build_text(b->c->coils[i].item, SECTION_COIL, "in"));
    for (size_t other = 0; other < i; other++)
      if (r->coils[other].conductance > 0.0 && r->coils[other].part == k->part)
        case_build_fault(b, b->c->coils[i].item, "in", "coils.%s: \"%s\" has channels already, of coils.%s", k->name, r->parts[k->part].name, r->coils[other].name);
  }
}
