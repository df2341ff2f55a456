/* Bodies of water and baths: how much, how high, of what; and then all parts of the rig in the order in which they are painted.
 *
 * Water is meshed at its frozen size: its region is the hollow below the level that the ice will reach (mass over the density of ice). */
#include <math.h>
#include <string.h>

#include "io/case_bags.h"
#include "io/case_build.h"
#include "io/fill.h"
#include "materials/air_in_water.h"
#include "materials/water.h"
#include "solver/front_film.h"

enum { PATH = 96 };
static const double USUAL_MINERALS = 0.15; /* kg/m3, as in the table of keys */
static const double MOST_AIR = 2.0, STANDARD_PRESSURE = 101325.0;
static const double THINNEST_AIR = 1.5e-4, NO_AIR = 1e-9; /* m, under a lid: thinner is no part of its own; is none */
static const char *const AMOUNTS[] = {"volume", "mass", "level", "depth"};

typedef struct {
  case_build *b;
  const yaml_node *item;
  case_liquid *liquid;
  char path[PATH];
  fill_rings *rings; /* of the coils that lie in it */
  fill room;
} liquid_maker;

/* ------------------------------------------------------------------------------------------------ the room inside a vessel */

/* The hollow of vessel number v without whatever is listed after it. */
static status space_inside(case_build *b, size_t v, bool vessels_only, const shape **out)
{
  message why = {""};
  shape *space = NULL;
  status code = shape_clone(b->c->parts[v].hollow, &space, &why);
  for (size_t j = v + 1; code == STATUS_OK && j < b->c->num_parts; j++) {
    const case_part *p = &b->c->parts[j];
    shape *taken = NULL, *rest = NULL;
    if (!p->sound || (vessels_only && !p->hollow))
      continue;
    /* A vessel keeps the liquid out of its inside; a layer round something takes up only itself. */
    code = shape_clone(p->is_vessel ? p->outer : p->region, &taken, &why);
    if (code != STATUS_OK) {
      shape_destroy(&space);
      break;
    }
    code = shape_difference(&rest, space, taken, &why);
    space = rest;
  }
  if (code != STATUS_OK)
    return message_set(b->msg, STATUS_NO_MEMORY, "%s", why.text);
  *out = case_store_shape(b->c->store, space, b->msg);
  return *out ? STATUS_OK : STATUS_NO_MEMORY;
}

/* Coils that lie in this liquid. */
static status rings_inside(liquid_maker *m)
{
  case_file *c = m->b->c;
  m->rings = case_store_array(c->store, c->rig.num_coils, sizeof *m->rings, m->b->msg);
  if (!m->rings)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < c->rig.num_coils; i++) {
    const char *in = case_build_text(c->coils[i].item, SECTION_COIL, "in");
    if (c->coils[i].sound && in && strcmp(in, m->liquid->name) == 0)
      m->rings[m->room.num_rings++] = (fill_rings){.num = c->rig.coils[i].num_rings,
                                                   .rings = (const double(*)[2])c->rig.coils[i].rings,
                                                   .num_points = c->rig.coils[i].num_points,
                                                   .points = (const double(*)[3])c->rig.coils[i].points,
                                                   .tube_radius = 0.5 * c->rig.coils[i].tube_outer};
  }
  m->room.rings = m->rings;
  return STATUS_OK;
}

static status find_room(liquid_maker *m)
{
  const case_part *v = &m->b->c->parts[m->liquid->vessel];
  m->room.revolved = m->b->c->revolved;
  m->room.floor = v->floor;
  m->room.rim = v->rim;
  status code = space_inside(m->b, m->liquid->vessel, false, &m->room.space);
  if (code == STATUS_OK)
    code = rings_inside(m);
  if (code == STATUS_OK)
    m->liquid->capacity = fill_volume(&m->room, v->rim);
  return code;
}

/* ------------------------------------------------------------------------------------------------ how much */

static bool find_vessel(const liquid_maker *m)
{
  const char *in = yaml_tree_value(m->item, "in")->text;
  const int v = case_build_find_part(m->b, in);
  if (v < 0 || !m->b->c->parts[v].sound)
    return false;
  if (!m->b->c->parts[v].is_vessel) {
    case_build_fault(m->b, m->item, "in", "%s: \"%.48s\" is not hollow; a vessel is a part with a shape and a \"wall\", or a triangle file of the mould itself", m->path, in);
    return false;
  }
  for (size_t pass = 0; pass < 2; pass++) {
    const case_liquid *others = pass ? m->b->c->baths : m->b->c->bodies;
    const size_t num = pass ? m->b->c->rig.num_baths : m->b->c->rig.num_bodies;
    for (size_t i = 0; others && i < num; i++)
      if (&others[i] != m->liquid && others[i].capacity > 0.0 && others[i].vessel == (size_t)v) {
        case_build_fault(m->b, m->item, "in", "%s: \"%.48s\" already holds \"%s\"", m->path, in, others[i].name);
        return false;
      }
  }
  m->liquid->vessel = (size_t)v;
  return true;
}

static bool has_room(const liquid_maker *m)
{
  if (m->liquid->capacity > 0.0)
    return true;
  const case_file *c = m->b->c;
  const case_part *v = &c->parts[m->liquid->vessel];
  double low[3], high[3];
  shape_bounds(v->hollow, low, high);
  const double middle[3] = {0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1]), 0.5 * (low[2] + high[2])};
  for (size_t j = m->liquid->vessel + 1; j < c->num_parts; j++)
    if (c->parts[j].sound && c->parts[j].is_vessel && shape_distance(c->parts[j].hollow, middle) < 0.0) {
      case_build_fault(m->b, m->item, "in", "%s: \"%s\" stands in \"%s\", which is listed after it and covers it; list it after \"%s\"", m->path, v->name,
                       c->parts[j].name, c->parts[j].name);
      return false;
    }
  case_build_fault(m->b, m->item, "in", "%s: the parts listed after \"%s\" leave no room in it; move them or make it larger", m->path, v->name);
  return false;
}

/* m3 that the vessel holds, to the rounding of volumes that are found by sums. */
static double full(const case_liquid *q)
{
  return q->capacity * (1.0 + 1e-6);
}

/* Takes a volume and its level; false when it does not fit, told at `key`. */
static bool fits(const liquid_maker *m, const char *key, double volume)
{
  case_liquid *q = m->liquid;
  if (!has_room(m))
    return false;
  q->volume = volume;
  q->level = fill_level(&m->room, volume);
  if (volume <= full(q))
    return true;
  case_build_fault(m->b, m->item, key, "%s: %.4g L do not fit: \"%s\" holds %.4g L up to its rim with what stands in it; pour less or make it larger",
                   m->path, 1e3 * volume, m->b->c->parts[q->vessel].name, 1e3 * q->capacity);
  return false;
}

/* Volume as poured, from any of the four ways to say it; density in kg/m3 as poured. False: impossible, told. */
static bool find_amount(const liquid_maker *m, case_section section, double density)
{
  case_liquid *q = m->liquid;
  const case_part *v = &m->b->c->parts[q->vessel];
  double given = 0.0;
  const int way = case_build_one_of(m->b, m->item, m->path, AMOUNTS, 4);
  if (way < 0 || !case_build_quantity(m->b, m->item, section, AMOUNTS[way], &given))
    return false;
  if (!has_room(m))
    return false;
  if (way >= 2) {
    q->level = way == 2 ? given : v->floor + given;
    if (q->level <= v->floor || q->level > v->rim * (1.0 + 1e-12) + 1e-9) {
      case_build_fault(m->b, m->item, AMOUNTS[way],
                       "%s: a level of z %.5g mm is impossible: inside \"%s\" z runs from %.5g to %.5g mm", m->path, 1e3 * q->level, v->name,
                       1e3 * v->floor, 1e3 * v->rim);
      return false;
    }
    q->level = fmin(q->level, v->rim);
    q->volume = fill_volume(&m->room, q->level);
    if (!(q->volume > 0.0)) {
      case_build_fault(m->b, m->item, AMOUNTS[way], "%s: below z %.5g mm there is no room for it; what stands in \"%s\" fills it", m->path,
                       1e3 * q->level, v->name);
      return false;
    }
  } else {
    if (!fits(m, AMOUNTS[way], way == 0 ? given : given / density))
      return false;
  }
  q->mass = q->volume * density;
  return true;
}

enum { PUMPED = 3 }; /* among the choices of motion.kind */

static status read_motion(const liquid_maker *m, case_section section, motion *out)
{
  const yaml_node *value = yaml_tree_value(m->item, "motion"), *map = value && value->kind == YAML_MAP ? value : NULL;
  static const motion_kind kinds[] = {MOTION_STILL, MOTION_STIRRED, MOTION_NONE, MOTION_STIRRED};
  const int kind = map ? case_build_choice(map, SECTION_MOTION, "kind") : case_build_choice(m->item, section, "motion");
  *out = (motion){.kind = kinds[kind < 0 ? 0 : kind], .film_coefficient = NAN, .horizontal_factor = NAN, .vertical_factor = NAN};
  (void)case_build_quantity(m->b, map, SECTION_MOTION, "stirring", &out->stirring);
  (void)case_build_quantity(m->b, map, SECTION_MOTION, "coherency", &out->coherency);
  (void)case_build_quantity(m->b, map, SECTION_MOTION, "film", &out->film_coefficient);
  (void)case_build_quantity(m->b, map, SECTION_MOTION, "film_factor", &out->film_scale);
  (void)case_build_quantity(m->b, map, SECTION_MOTION, "horizontal_factor", &out->horizontal_factor);
  (void)case_build_quantity(m->b, map, SECTION_MOTION, "vertical_factor", &out->vertical_factor);
  if (map && (out->kind != MOTION_STIRRED || kind == PUMPED) && case_build_has(map, "stirring"))
    case_build_fault(m->b, map, "stirring", "%s: \"stirring\" goes with kind: stirred", m->path);
  if (map && kind != PUMPED && case_build_has(map, "speed"))
    case_build_fault(m->b, map, "speed", "%s: \"speed\" goes with kind: pumped", m->path);
  if (kind == PUMPED && !case_build_quantity(m->b, map, SECTION_MOTION, "speed", &out->speed) && !case_build_has(map, "film"))
    case_build_fault(m->b, map, "kind", "%s: pumped needs \"speed\", of the liquid past walls and tubes (0.02 to 0.5 m/s is usual)", m->path);
  if (map && out->kind != MOTION_STILL && (case_build_has(map, "horizontal_factor") || case_build_has(map, "vertical_factor")))
    case_build_fault(m->b, map, NULL, "%s: factors go with kind: still", m->path);
  if (!(out->coherency > 0.0))
    case_build_fault(m->b, map, "coherency", "%s: coherency must be above zero", m->path);
  return STATUS_OK;
}

static double start_temperature(const liquid_maker *m, case_section section)
{
  double t = schedule_at(&m->b->c->rig.room.temperature, 0.0);
  if (section == SECTION_BODY && !case_build_has(m->item, "temperature"))
    (void)case_mains_temperature(m->b, NULL, section, &t);
  (void)case_build_quantity(m->b, m->item, section, "temperature", &t);
  return t;
}

/* ------------------------------------------------------------------------------------------------ the painted region */

/* The hollow below the level, without the vessels that stand in it (their insides are not flooded). */
static status region_below(const liquid_maker *m, double level, const shape **out)
{
  const shape *space = NULL;
  message why = {""};
  shape *all = NULL, *below = NULL, *region = NULL;
  const double point[3] = {0.0, 0.0, level}, up[3] = {0.0, 0.0, 1.0};
  status code = space_inside(m->b, m->liquid->vessel, true, &space);
  if (code != STATUS_OK)
    return code;
  code = shape_clone(space, &all, &why);
  if (code == STATUS_OK)
    code = shape_half_space(&below, point, up, &why);
  if (code == STATUS_OK)
    code = shape_intersection(&region, all, below, &why);
  else
    shape_destroy(&all);
  if (code != STATUS_OK)
    return message_set(m->b->msg, STATUS_NO_MEMORY, "%s", why.text);
  *out = case_store_shape(m->b->c->store, region, m->b->msg);
  return *out ? STATUS_OK : STATUS_NO_MEMORY;
}

/* ------------------------------------------------------------------------------------------------ water */

static const material *make_water(const liquid_maker *m, double temperature, double *density)
{
  static const ice_law laws[] = {ICE_ANDERSSON_INABA, ICE_YEN, ICE_FUKUSAKO, ICE_PRINGLE, ICE_SLACK};
  const yaml_node *own = yaml_tree_value(m->item, "material");
  message why = {""};
  material made = {0};
  if (own) {
    const material *kept = case_material_from_map(m->b, own, m->path);
    if (kept && !(kept->latent_heat > 0.0))
      case_build_fault(m->b, m->item, "material", "%s: its own material must freeze: a table with a latent_heat", m->path);
    if (kept)
      *density = kept->density;
    return kept;
  }
  const int law = case_build_choice(m->item, SECTION_BODY, "ice");
  if (material_water(&made, laws[law < 0 ? 0 : law], 0.0, &why) != STATUS_OK) {
    (void)message_set(m->b->msg, STATUS_NO_MEMORY, "%s", why.text);
    return NULL;
  }
  *density = water_density(fmin(fmax(temperature, 0.0), 60.0));
  return case_store_material(m->b->c->store, &made, m->b->msg);
}

/* W/(m K) of a still layer of air of this height, heat rising through it, radiation between its faces included: thickness over the
 * resistances of unventilated air layers in ISO 6946 (from memory). */
static double air_gap_conductivity(double gap)
{
  static const double thickness[] = {0.0, 5e-3, 7e-3, 10e-3, 15e-3}, resistance[] = {0.0, 0.11, 0.13, 0.15, 0.16}; /* m, m2 K/W */
  double r = resistance[4];
  for (size_t i = 1; i < 5; i++)
    if (gap < thickness[i]) {
      r = resistance[i - 1] + (resistance[i] - resistance[i - 1]) * (gap - thickness[i - 1]) / (thickness[i] - thickness[i - 1]);
      break;
    }
  return gap / r;
}

/* Air under a flat lid, thinner than a layer of cells can be, is a contact between ice and lid: no node is taken to lie nearer to a surface than some
 * hundredths of a cell, and the number of stages of a step rises as one over the thickness of a layer (0.05 mm over 95 mm of ice, cells of 3 mm: 4.4 % late, 28 times
 * the stages). Ice and water then reach up to the lid. */
static void close_thin_gap(const liquid_maker *m, const case_part *vessel)
{
  case_liquid *q = m->liquid;
  const double gap = vessel->rim - q->frozen_level;
  const bool square = strcmp(vessel->kind, "box") == 0 && vessel->posture == SHAPE_PLACED_SQUARE;
  const bool flat = square || (vessel->posture == SHAPE_PLACED_UPRIGHT && case_keys_is_choice("cylinder|frustum|disc|box|prism", vessel->kind));
  if (vessel->open_top || !(gap > 0.0) || gap > THINNEST_AIR)
    return;
  q->frozen_level = vessel->rim;
  q->lid_contact = flat ? gap / air_gap_conductivity(gap) : 0.0;
  if (gap > NO_AIR)
    fault_note(m->b->faults, m->item->at, "%s: the %.2g mm of air between the ice and the lid of \"%s\" are %s", m->liquid->name, 1e3 * gap, vessel->name,
               flat ? "too thin for a layer of cells: the ice is taken to reach the lid, with what they resist between them" :
                      "left out: the ice is taken to reach the top of the hollow");
}

/* Frozen level, or the surplus that finds no room. */
static void find_frozen_size(const liquid_maker *m, double ice_density)
{
  case_liquid *q = m->liquid;
  const case_part *v = &m->b->c->parts[q->vessel];
  const double frozen = q->mass / ice_density;
  if (frozen <= full(q)) {
    q->frozen_level = fill_level(&m->room, frozen);
    close_thin_gap(m, v);
    return;
  }
  q->frozen_level = v->rim;
  q->expelled = frozen - q->capacity;
  fault_note(m->b->faults, m->item->at,
             "%s: freezing takes 9 %% more room and \"%s\" is %s: %.3g L of ice find no room. It is computed as if they left; %s", m->liquid->name,
             v->name, v->open_top ? "too full" : "closed", 1e3 * q->expelled,
             v->open_top ? "leave more headspace" : "never freeze a closed rigid vessel: it can burst");
}

/* Water that is poured is liquid: supercooled water would shoot ice through at once, which is not computed. */
static bool is_liquid_when_poured(const liquid_maker *m, const material *stuff)
{
  const double freezing = stuff->curve.freezing_temperature, t = m->liquid->temperature;
  if (t >= freezing && t <= 60.0)
    return true;
  if (case_build_has(m->item, "temperature"))
    case_build_fault(m->b, m->item, "temperature", "%s: water is poured at %.4g degC; give a temperature at or above %.4g degC, where it freezes, and "
                     "at most 60 degC", m->path, t, freezing);
  else
    case_build_fault(m->b, m->item, NULL, "%s: without a temperature it starts at the room's, %.4g degC; give a temperature at or above %.4g degC, where "
                     "it freezes, and at most 60 degC", m->path, t, freezing);
  return false;
}

/* What is dissolved in it: only for a body that names its air. */
static status read_clouding(const liquid_maker *m, double temperature, rig_clouding *out)
{
  static const air_treatment treatments[] = {AIR_TAP, AIR_STOOD, AIR_BOILED, AIR_DEGASSED, AIR_AERATED};
  const int treatment = case_build_choice(m->item, SECTION_BODY, "air");
  double share = 0.0;
  if (!case_build_has(m->item, "air")) {
    const char *const lone = case_build_has(m->item, "minerals") ? "minerals" : case_build_has(m->item, "gas_film") ? "gas_film"
                       : case_build_has(m->item, "bubbles_at") ? "bubbles_at" : NULL;
    if (lone)
      case_build_fault(m->b, m->item, lone, "%s: \"%s\" goes with \"air\", which asks where the ice is clear; add for instance air: tap", m->path,
                       lone);
    return STATUS_OK;
  }
  *out = (rig_clouding){.asked = true, .minerals = USUAL_MINERALS, .aerated = treatment >= 0 && treatments[treatment] == AIR_AERATED};
  if (treatment >= 0)
    share = air_in_water_treated(treatments[treatment], temperature, m->b->c->rig.room.pressure);
  else if (!case_build_quantity(m->b, m->item, SECTION_BODY, "air", &share))
    return STATUS_OK;
  if (share > MOST_AIR)
    case_build_fault(m->b, m->item, "air", "%s: air %.3g; water under mains pressure holds at most about %.1f of what it holds at 0 degC", m->path,
                     share, MOST_AIR);
  out->air = share * air_in_water_saturation(STANDARD_PRESSURE);
  (void)case_build_quantity(m->b, m->item, SECTION_BODY, "minerals", &out->minerals);
  (void)case_build_quantity(m->b, m->item, SECTION_BODY, "bubbles_at", &out->onset);
  return case_build_schedule(m->b, m->item, SECTION_BODY, "gas_film", &out->film);
}

static status make_body(liquid_maker *m, rig_body *out, rig_part *part)
{
  case_liquid *q = m->liquid;
  double density = 0.0;
  if (!find_vessel(m))
    return STATUS_OK;
  q->temperature = start_temperature(m, SECTION_BODY);
  const material *stuff = make_water(m, q->temperature, &density);
  if (!stuff)
    return case_build_is_sound(m->b, m->item) ? STATUS_NO_MEMORY : STATUS_OK;
  status code = find_room(m);
  if (code != STATUS_OK || !find_amount(m, SECTION_BODY, density))
    return code;
  if (!is_liquid_when_poured(m, stuff))
    return STATUS_OK;
  find_frozen_size(m, stuff->density);
  const case_part *v = &m->b->c->parts[q->vessel];
  *out = (rig_body){.mass = q->mass, .expelled = q->expelled, .open_top = v->open_top, .surface_level = q->frozen_level};
  (void)snprintf(out->name, sizeof out->name, "%s", q->name);
  code = read_motion(m, SECTION_BODY, &out->flow);
  if (code == STATUS_OK)
    code = read_clouding(m, q->temperature, &out->clouding);
  if (out->clouding.aerated && !case_build_has(m->item, "motion")) {
    out->flow.kind = MOTION_STIRRED;
    out->flow.stirring = FRONT_FILM_AIR_POWER;
    out->flow.by_air = true;
  }
  *part = (rig_part){.kind = PART_WATER, .stuff = stuff, .initial_temperature = q->temperature};
  if (code == STATUS_OK)
    code = region_below(m, q->frozen_level, &part->region);
  return code;
}

/* ------------------------------------------------------------------------------------------------ brine */

static bool find_strength(const liquid_maker *m, rig_bath *out)
{
  static const char *const ways[] = {"strength", "onset", "bags"};
  const int way = case_build_one_of(m->b, m->item, m->path, ways, 3);
  double given = 0.0;
  if (way < 0)
    return false;
  if (way == 2) {
    if (!case_bags_read(m->b, m->item, m->path, &out->salt, &out->mass_fraction, &out->mass))
      return false;
    given = out->mass_fraction;
  } else if (!case_build_has(m->item, "salt")) {
    case_build_fault(m->b, m->item, ways[way], "%s: of which \"salt\"? For instance salt: CaCl2", m->path);
    return false;
  } else if (!case_build_quantity(m->b, m->item, SECTION_BATH, ways[way], &given))
    return false;
  if (out->salt >= BRINE_ETHYLENE_GLYCOL)
    out->liquidus = LIQUIDUS_MELINDER; /* the only source for these */
  const brine_eutectic_point end = brine_eutectic(out->salt);
  out->mass_fraction = way == 1 ? brine_liquidus_fraction(out->salt, out->liquidus, given) : given;
  if (out->mass_fraction > 0.0 && (isnan(end.mass_fraction) || out->mass_fraction <= end.mass_fraction))
    return true;
  if (way == 1)
    case_build_fault(m->b, m->item, "onset", "%s: no strength of %s begins to freeze at %.4g degC; its lowest is %.4g degC (the eutectic), "
                                             "its highest just below 0 degC", m->path, brine_name(out->salt), given, end.temperature);
  else
    case_build_fault(m->b, m->item, ways[way], "%s: %.4g %% is beyond the eutectic of %s (%.4g %%, %.4g degC): salt, not ice, would freeze out; "
                                                "more than zero and at most that is accepted", m->path, 100.0 * given, brine_name(out->salt),
                     100.0 * end.mass_fraction, end.temperature);
  return false;
}

static const material *make_brine(const liquid_maker *m, const rig_bath *bath, double density)
{
  message why = {""};
  material made = {0};
  /* a stirred bath is one node, on which both are the lever rule of the whole: only the closed curve knows it by itself */
  const status code = bath->mode == SALT_CLOSED || bath->flow.kind == MOTION_STIRRED
                          ? brine_closed(&made, bath->salt, bath->liquidus, bath->mass_fraction, bath->mush, &why)
                          : brine_mixed(&made, bath->salt, bath->liquidus, bath->mass_fraction, density, bath->held_brine, bath->mush, &why);
  if (code == STATUS_OK)
    return case_store_material(m->b->c->store, &made, m->b->msg);
  if (code == STATUS_NO_MEMORY)
    (void)message_set(m->b->msg, code, "%s", why.text);
  else
    case_build_fault(m->b, m->item, "strength", "%s: %s", m->path, why.text);
  return NULL;
}

static void read_bath_choices(const liquid_maker *m, rig_bath *out)
{
  static const brine_salt salts[] = {BRINE_CACL2, BRINE_NACL, BRINE_MGCL2, BRINE_KCL, BRINE_ETHYLENE_GLYCOL, BRINE_PROPYLENE_GLYCOL, BRINE_ETHANOL};
  const int salt = case_build_choice(m->item, SECTION_BATH, "salt");
  out->salt = salts[salt < 0 ? 0 : salt];
  out->liquidus = case_build_choice(m->item, SECTION_BATH, "liquidus") == 1 ? LIQUIDUS_MELINDER : LIQUIDUS_TONER_CATLING;
  out->mush = case_build_choice(m->item, SECTION_BATH, "mush") == 1 ? MUSH_PARALLEL : MUSH_MAXWELL;
  out->open_surface = m->b->c->parts[m->liquid->vessel].open_top && case_build_flag(m->item, SECTION_BATH, "open_surface");
  (void)case_build_quantity(m->b, m->item, SECTION_BATH, "held_brine", &out->held_brine);
  if (out->held_brine < 0.05 || out->held_brine > 0.5)
    case_build_fault(m->b, m->item, "held_brine", "%s: %.3g %% brine in the ice; 5 to 50 %% is accepted", m->path, 100.0 * out->held_brine);
  const int mode = case_build_choice(m->item, SECTION_BATH, "salt_mode");
  out->both = mode == 2 || (mode < 0 && out->flow.kind == MOTION_STILL);
  out->mode = mode < 0 ? (out->flow.kind == MOTION_STIRRED ? SALT_MIXED : SALT_CLOSED) : mode == 1 ? SALT_MIXED : SALT_CLOSED;
}

/* Brine may not run over the rim of a vessel that stands in it. */
static void check_rims(const liquid_maker *m)
{
  const case_liquid *q = m->liquid;
  for (size_t j = q->vessel + 1; j < m->b->c->num_parts; j++) {
    const case_part *p = &m->b->c->parts[j];
    if (p->sound && p->is_vessel && p->open_top && p->rim > m->room.floor && p->rim < q->level) {
      double low[3], high[3];
      shape_bounds(p->outer, low, high);
      const double at[3] = {m->b->c->revolved ? 0.0 : 0.5 * (low[0] + high[0]), m->b->c->revolved ? 0.0 : 0.5 * (low[1] + high[1]), p->rim};
      if (shape_distance(m->b->c->parts[q->vessel].hollow, at) < 0.0)
        case_build_fault(m->b, m->item, NULL, "%s: the brine would stand at z %.4g mm and run over the rim of \"%s\" (z %.4g mm) into it; "
                                              "pour less, or raise the rim", m->path, 1e3 * q->level, p->name, 1e3 * p->rim);
    }
  }
}

static status make_bath(liquid_maker *m, rig_bath *out, rig_part *part)
{
  case_liquid *q = m->liquid;
  if (!find_vessel(m))
    return STATUS_OK;
  (void)snprintf(out->name, sizeof out->name, "%s", q->name);
  q->temperature = start_temperature(m, SECTION_BATH);
  status code = read_motion(m, SECTION_BATH, &out->flow);
  read_bath_choices(m, out);
  if (code != STATUS_OK || !find_strength(m, out) || !case_build_is_sound(m->b, m->item))
    return code;
  const material *stuff = make_brine(m, out, brine_density(out->salt, out->mass_fraction, q->temperature));
  if (!stuff)
    return case_build_is_sound(m->b, m->item) ? STATUS_NO_MEMORY : STATUS_OK;
  code = find_room(m);
  if (code != STATUS_OK || !(out->mass > 0.0 ? fits(m, "bags", out->mass / stuff->density) : find_amount(m, SECTION_BATH, stuff->density)))
    return code;
  q->mass = out->mass = q->volume * stuff->density;
  q->frozen_level = q->level;
  check_rims(m);
  *part = (rig_part){.kind = PART_BRINE, .stuff = stuff, .initial_temperature = q->temperature};
  return region_below(m, q->level, &part->region);
}

/* ------------------------------------------------------------------------------------------------ the order of painting */

static status solid_part(case_build *b, const case_part *p, rig_part *out)
{
  const char *unused = NULL;
  char path[PATH];
  (void)snprintf(path, sizeof path, "parts.%s", p->name);
  *out = (rig_part){.kind = PART_SOLID, .region = p->region};
  if (p->drawn_wall > 0.0) {
    out->thickness = p->drawn_wall;
    out->cavity = p->hollow;
  }
  if (p->wall > 0.0 && !p->around.sharp) {
    out->thickness = p->wall;
    out->cavity = p->cavity;
    out->floor = case_wall_floor(p->kind, p->own, p->wall, p->wall_floor);
    for (int a = 0; p->placed && a < 3; a++)
      out->floor.normal[a] = -p->frame.rotation[a][2];
  }
  status code = case_build_schedule(b, p->item, SECTION_PART, "held", &out->held);
  if (code != STATUS_OK)
    return code;
  out->initial_temperature = schedule_at(&b->c->rig.room.temperature, 0.0);
  if (out->held.num) {
    out->kind = PART_HELD;
    out->initial_temperature = schedule_at(&out->held, 0.0);
    (void)case_build_quantity(b, p->item, SECTION_PART, "held_film", &out->held_film);
    return STATUS_OK;
  }
  (void)case_build_quantity(b, p->item, SECTION_PART, "temperature", &out->initial_temperature);
  out->stuff = case_material_build(b, p->item, SECTION_PART, path, &unused);
  return out->stuff || !case_build_is_sound(b, p->item) ? STATUS_OK : STATUS_NO_MEMORY;
}

/* ------------------------------------------------------------------------------------------------ air in a closed vessel */

static bool is_named(const case_build *b, const char *name)
{
  const case_file *c = b->c;
  bool found = case_build_find_part(b, name) >= 0;
  for (size_t i = 0; i < c->rig.num_parts; i++)
    found = found || strcmp(c->rig.parts[i].name, name) == 0;
  for (size_t i = 0; i < c->rig.num_bodies; i++)
    found = found || strcmp(c->bodies[i].name, name) == 0;
  for (size_t i = 0; i < c->rig.num_baths; i++)
    found = found || strcmp(c->baths[i].name, name) == 0;
  return found;
}

/* Air above the water of a closed vessel is a part of its own: left unpainted it would be the room's air and carry the room's heat to a
 * vessel that lies wholly under brine. Its heat capacity is raised from 1.2e3 to 2e4 J/(m3 K): half a per cent of water's, so that what it
 * stores stays negligible, but enough that this light part does not set the number of stages of a step. Of a layer thinner than 1 mm that rises
 * as one over the square of its thickness, which keeps the stages as they are: at most 133 J/(m2 K), as much as 0.03 mm of water. */
static status add_air_above(case_build *b, const case_part *vessel, const case_liquid *q)
{
  static const double density = 1.2, thin = 1e-3; /* kg/m3, m */
  const double gap = vessel->rim - q->frozen_level, heat = 2e4 * fmax(1.0, thin * thin / (gap * gap)); /* m, J/(m3 K) */
  message why = {""};
  shape *all = NULL;
  material air = {0};
  if (vessel->open_top || gap <= NO_AIR)
    return STATUS_OK;
  rig_part *out = &b->c->rig.parts[b->c->rig.num_parts];
  *out = (rig_part){.kind = PART_SOLID, .initial_temperature = q->temperature};
  (void)snprintf(out->name, sizeof out->name, "%.40s air", vessel->name);
  for (int n = 2; is_named(b, out->name); n++)
    (void)snprintf(out->name, sizeof out->name, "%.36s air %d", vessel->name, n % 1000);
  const double k = air_gap_conductivity(gap);
  status code = material_constant(&air, out->name, k, density, heat / density, &why);
  if (code == STATUS_OK)
    code = shape_clone(vessel->hollow, &all, &why);
  if (code != STATUS_OK) {
    material_release(&air);
    return message_set(b->msg, STATUS_NO_MEMORY, "%s", why.text);
  }
  out->region = case_store_shape(b->c->store, all, b->msg);
  out->stuff = case_store_material(b->c->store, &air, b->msg);
  if (!out->region || !out->stuff)
    return STATUS_NO_MEMORY;
  b->c->rig.num_parts++;
  fault_note(b->faults, vessel->item->at, "%s: closed; the %.3g mm of air above the ice conduct %.2g W/mK (still air layer with radiation, ISO 6946, from "
             "memory) and have no contact with the room", vessel->name, 1e3 * gap, k);
  return STATUS_OK;
}

static status add_liquids_of(case_build *b, size_t vessel, const rig_part *bodies, const rig_part *baths)
{
  rig *r = &b->c->rig;
  for (size_t i = 0; i < r->num_baths; i++)
    if (b->c->baths[i].sound && b->c->baths[i].vessel == vessel) {
      rig_part *out = &r->parts[r->num_parts];
      *out = baths[i];
      (void)snprintf(out->name, sizeof out->name, "%s", b->c->baths[i].name);
      r->baths[i].part = b->c->baths[i].rig_part = (int)r->num_parts++;
    }
  for (size_t i = 0; i < r->num_bodies; i++)
    if (b->c->bodies[i].sound && b->c->bodies[i].vessel == vessel) {
      const status code = add_air_above(b, &b->c->parts[vessel], &b->c->bodies[i]);
      if (code != STATUS_OK)
        return code;
      rig_part *out = &r->parts[r->num_parts];
      *out = bodies[i];
      (void)snprintf(out->name, sizeof out->name, "%s", b->c->bodies[i].name);
      r->bodies[i].part = b->c->bodies[i].rig_part = (int)r->num_parts++;
    }
  return STATUS_OK;
}

static status order_parts(case_build *b, const rig_part *bodies, const rig_part *baths)
{
  rig *r = &b->c->rig;
  status code = STATUS_OK;
  r->parts = case_store_array(b->c->store, b->c->num_parts + 2 * r->num_bodies + r->num_baths, sizeof *r->parts, b->msg);
  if (!r->parts)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; code == STATUS_OK && i < b->c->num_parts; i++) {
    case_part *p = &b->c->parts[i];
    if (!p->sound)
      continue;
    rig_part *out = &r->parts[r->num_parts];
    code = solid_part(b, p, out);
    (void)snprintf(out->name, sizeof out->name, "%s", p->name);
    p->rig_part = (int)r->num_parts++;
    const yaml_node *stuff = yaml_tree_value(p->item, "material");
    p->solid = stuff && stuff->kind == YAML_TEXT ? stuff->text : NULL;
    if (code == STATUS_OK)
      code = add_liquids_of(b, i, bodies, baths);
  }
  return code;
}

/* ------------------------------------------------------------------------------------------------ all */

static bool begin(liquid_maker *m, case_build *b, const yaml_node *item, case_liquid *liquid, const char *list)
{
  const yaml_node *name = yaml_tree_value(item, "name");
  *m = (liquid_maker){.b = b, .item = item, .liquid = liquid};
  liquid->item = item;
  liquid->rig_part = -1;
  if (!name || name->kind != YAML_TEXT)
    return false;
  (void)snprintf(liquid->name, sizeof liquid->name, "%s", name->text);
  (void)snprintf(m->path, sizeof m->path, "%s.%s", list, liquid->name);
  return case_build_is_sound(b, item);
}

status case_liquids_build(case_build *b)
{
  case_file *c = b->c;
  const yaml_node *bodies = yaml_tree_value(c->tree, "bodies"), *baths = yaml_tree_value(c->tree, "baths");
  const size_t num_bodies = bodies && bodies->kind == YAML_LIST ? bodies->num : 0;
  const size_t num_baths = baths && baths->kind == YAML_LIST ? baths->num : 0;
  c->bodies = case_store_array(c->store, num_bodies, sizeof *c->bodies, b->msg);
  c->baths = case_store_array(c->store, num_baths, sizeof *c->baths, b->msg);
  c->rig.bodies = case_store_array(c->store, num_bodies, sizeof *c->rig.bodies, b->msg);
  c->rig.baths = case_store_array(c->store, num_baths, sizeof *c->rig.baths, b->msg);
  rig_part *body_parts = case_store_array(c->store, num_bodies, sizeof *body_parts, b->msg);
  rig_part *bath_parts = case_store_array(c->store, num_baths, sizeof *bath_parts, b->msg);
  if (!c->bodies || !c->baths || !c->rig.bodies || !c->rig.baths || !body_parts || !bath_parts)
    return STATUS_NO_MEMORY;
  c->rig.num_bodies = num_bodies;
  c->rig.num_baths = num_baths;
  status code = STATUS_OK;
  liquid_maker m;
  for (size_t i = 0; code == STATUS_OK && i < num_bodies; i++)
    if (begin(&m, b, bodies->items[i], &c->bodies[i], "bodies")) {
      code = make_body(&m, &c->rig.bodies[i], &body_parts[i]);
      c->bodies[i].sound = body_parts[i].region && case_build_is_sound(b, m.item);
    }
  for (size_t i = 0; code == STATUS_OK && i < num_baths; i++)
    if (begin(&m, b, baths->items[i], &c->baths[i], "baths")) {
      code = make_bath(&m, &c->rig.baths[i], &bath_parts[i]);
      c->baths[i].sound = bath_parts[i].region && case_build_is_sound(b, m.item);
    }
  if (code == STATUS_OK)
    code = order_parts(b, body_parts, bath_parts);
  return code;
}
