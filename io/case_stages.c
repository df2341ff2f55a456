/* Stages, probes, and how the case is run. */
#include <math.h>
#include <string.h>

#include "io/case_build.h"
#include "materials/salt_grade.h"
#include "solver/release.h"

enum { PATH = 96, MOST_THREADS = 1024 };
static const double DEFAULT_LIMIT = 120.0 * 3600.0; /* s, as in the table of keys */

static void read_watched_part(const case_build *b, const yaml_node *until, const char *path, rig_stage *out)
{
  static const char *const ways[] = {"below", "above"};
  const int way = case_build_one_of(b, until, path, ways, 2);
  out->part = case_build_find_rig_part(b, case_build_text(until, SECTION_UNTIL, "part"));
  if (way < 0 || out->part < 0)
    return;
  out->until = way == 0 ? UNTIL_PART_BELOW : UNTIL_PART_ABOVE;
  (void)case_build_quantity(b, until, SECTION_UNTIL, ways[way], &out->temperature);
}

static bool is_done_at_once(stage_kind kind)
{
  return kind == STAGE_FILL || kind == STAGE_EXCHANGE || kind == STAGE_POUR_OFF || kind == STAGE_ADD_SALT || kind == STAGE_DRAW;
}

static stage_end usual_end(stage_kind kind)
{
  return kind == STAGE_FREEZE ? UNTIL_FROZEN : kind == STAGE_RELEASE ? UNTIL_RELEASED : kind == STAGE_MELT ? UNTIL_MELTED : UNTIL_TIME;
}

/* What ends it, and how long it may last. */
static void read_end(const case_build *b, const yaml_node *item, const char *path, rig_stage *out)
{
  static const char *const words[] = {"frozen", "time", "released", "lets_go", "melted"};
  static const stage_end ends[] = {UNTIL_FROZEN, UNTIL_TIME, UNTIL_RELEASED, UNTIL_LETS_GO, UNTIL_MELTED};
  const yaml_node *until = yaml_tree_value(item, "until");
  out->until = case_build_has(item, "for") ? UNTIL_TIME : usual_end(out->kind);
  if (until && until->kind == YAML_MAP)
    read_watched_part(b, until, path, out);
  for (size_t i = 0; until && until->kind == YAML_TEXT && i < sizeof ends / sizeof *ends; i++)
    if (strcmp(until->text, words[i]) == 0)
      out->until = ends[i];
  if (out->until == UNTIL_RELEASED && out->kind != STAGE_RELEASE)
    case_build_fault(b, item, "until", "%s: \"released\" ends a release", path);
  if (out->until == UNTIL_MELTED && out->kind != STAGE_MELT)
    case_build_fault(b, item, "until", "%s: \"melted\" ends a melt", path);
  if (rig_stage_is_of_piece(out) && (out->until == UNTIL_FROZEN || out->until == UNTIL_LETS_GO))
    case_build_fault(b, item, "until", "%s: the piece is out of its mould; time, its temperature (part: the body) or melted can end it", path);
  const bool timed = out->until == UNTIL_TIME;
  if (timed && !case_build_has(item, "for") && !is_done_at_once(out->kind))
    case_build_fault(b, item, "until", "%s: time ends this stage; say how long with \"for\"", path);
  if (timed && case_build_has(item, "limit"))
    case_build_fault(b, item, "limit", "%s: \"limit\" goes with another end than time; \"for\" is enough", path);
  if (!timed && case_build_has(item, "for"))
    case_build_fault(b, item, "for", "%s: \"for\" goes with until: time; the longest time of this stage is its \"limit\"", path);
  if (!timed || case_build_has(item, "for"))
    (void)case_build_quantity(b, item, SECTION_STAGE, timed ? "for" : "limit", &out->limit);
}

/* Keys that only some kinds of stage know. */
static void refuse_strangers(const case_build *b, const yaml_node *item, const char *path, const rig_stage *s)
{
  static const struct { const char *key, *goes_with; unsigned kinds; } only[] = {
      {"body", "fill, exchange, pour_off, release, draw, temper, melt",
       1u << STAGE_FILL | 1u << STAGE_EXCHANGE | 1u << STAGE_POUR_OFF | 1u << STAGE_RELEASE | 1u << STAGE_DRAW | 1u << STAGE_TEMPER | 1u << STAGE_MELT},
      {"water", "fill, exchange", 1u << STAGE_FILL | 1u << STAGE_EXCHANGE},
      {"month", "fill, exchange", 1u << STAGE_FILL | 1u << STAGE_EXCHANGE}, {"pieces", "fill", 1u << STAGE_FILL},
      {"pieces_temperature", "fill", 1u << STAGE_FILL},  {"share", "exchange", 1u << STAGE_EXCHANGE},
      {"bath", "add_salt, release", 1u << STAGE_ADD_SALT | 1u << STAGE_RELEASE}, {"dip", "release", 1u << STAGE_RELEASE}, {"grade", "add_salt", 1u << STAGE_ADD_SALT},
      {"mass", "add_salt", 1u << STAGE_ADD_SALT},        {"film", "release", 1u << STAGE_RELEASE},
      {"wind", "temper, melt", 1u << STAGE_TEMPER | 1u << STAGE_MELT}, {"air_film", "temper, melt", 1u << STAGE_TEMPER | 1u << STAGE_MELT},
      {"underside", "temper, melt", 1u << STAGE_TEMPER | 1u << STAGE_MELT}, {"pool", "temper, melt", 1u << STAGE_TEMPER | 1u << STAGE_MELT},
      {"pool_temperature", "temper, melt", 1u << STAGE_TEMPER | 1u << STAGE_MELT},
      {"pool_film", "temper, melt", 1u << STAGE_TEMPER | 1u << STAGE_MELT}, {"level", "temper, melt", 1u << STAGE_TEMPER | 1u << STAGE_MELT}};
  for (size_t i = 0; i < sizeof only / sizeof *only; i++)
    if (case_build_has(item, only[i].key) && !(only[i].kinds & 1u << s->kind))
      case_build_fault(b, item, only[i].key, "%s: \"%s\" goes with %s", path, only[i].key, only[i].goes_with);
  static const char *const mould[] = {"plant", "stirrers", "air", "set_point", "surfaces"};
  for (size_t i = 0; rig_stage_is_of_piece(s) && i < sizeof mould / sizeof *mould; i++)
    if (case_build_has(item, mould[i]))
      case_build_fault(b, item, mould[i], "%s: the piece is out of its mould; \"%s\" means nothing to it", path, mould[i]);
}

static bool is_any_aerated(const rig *r)
{
  for (size_t body = 0; body < r->num_bodies; body++)
    if (r->bodies[body].clouding.aerated)
      return true;
  return false;
}

static void read_conditions(const case_build *b, const yaml_node *item, const char *path, rig_stage *out)
{
  static const stage_plant duties[] = {STAGE_PLANT_COOLS, STAGE_PLANT_HEATS, STAGE_PLANT_STANDS};
  const rig *r = &b->c->rig;
  bool on_plant = false;
  for (size_t coil = 0; coil < r->num_coils; coil++)
    on_plant = on_plant || r->coils[coil].coolant == COOLANT_PLANT;
  const int plant = case_build_has(item, "plant") ? case_build_choice(item, SECTION_STAGE, "plant") : -1;
  out->plant = plant >= 0 ? duties[plant] : out->kind == STAGE_POWER_OFF ? STAGE_PLANT_STANDS
               : out->kind == STAGE_RELEASE && case_build_has(item, "dip") ? STAGE_PLANT_STANDS
               : out->kind == STAGE_RELEASE && on_plant ? STAGE_PLANT_HEATS : STAGE_PLANT_COOLS;
  out->stirrers_stand = case_build_has(item, "stirrers") ? case_build_choice(item, SECTION_STAGE, "stirrers") == 1 : out->kind == STAGE_POWER_OFF;
  out->air_off = case_build_has(item, "air") ? case_build_choice(item, SECTION_STAGE, "air") == 1 : out->kind == STAGE_POWER_OFF;
  out->changes_room = case_build_has(item, "room") && case_build_quantity(b, item, SECTION_STAGE, "room", &out->room);
  out->changes_set_point = case_build_has(item, "set_point") && case_build_quantity(b, item, SECTION_STAGE, "set_point", &out->set_point);
  if (case_build_has(item, "plant") && !on_plant)
    case_build_fault(b, item, "plant", "%s: no coil is driven by a plant", path);
  if (case_build_has(item, "air") && !is_any_aerated(r))
    case_build_fault(b, item, "air", "%s: no air is blown through any water; say so where the body stands, with air: aerated", path);
}

static int index_of_body(const case_build *b, const char *name)
{
  const int part = case_build_find_rig_part(b, name);
  for (size_t body = 0; body < b->c->rig.num_bodies; body++)
    if (b->c->rig.bodies[body].part == part)
      return (int)body;
  return -1;
}

static int index_of_bath(const case_build *b, const char *name)
{
  const int part = case_build_find_rig_part(b, name);
  for (size_t bath = 0; bath < b->c->rig.num_baths; bath++)
    if (b->c->rig.baths[bath].part == part)
      return (int)bath;
  return -1;
}

static void read_pouring(const case_build *b, const yaml_node *item, const char *path, rig_stage *out)
{
  const rig *r = &b->c->rig;
  out->body = case_build_has(item, "body") ? index_of_body(b, case_build_text(item, SECTION_STAGE, "body")) : 0;
  if (out->body < 0 || (size_t)out->body >= r->num_bodies)
    out->body = 0; /* told already */
  out->poured_temperature = r->num_bodies > 0 ? r->parts[r->bodies[out->body].part].initial_temperature : 0.0;
  out->share = 1.0;
  if (case_build_has(item, "water"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "water", &out->poured_temperature);
  if (case_build_has(item, "month") && case_build_has(item, "water"))
    case_build_fault(b, item, "month", "%s: \"water\" or \"month\", not both", path);
  else if (case_build_has(item, "month"))
    (void)case_mains_temperature(b, item, SECTION_STAGE, &out->poured_temperature);
  if (case_build_has(item, "share"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "share", &out->share);
  if (case_build_has(item, "pieces"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "pieces", &out->pieces_mass);
  if (case_build_has(item, "pieces_temperature"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "pieces_temperature", &out->pieces_temperature);
  if (r->num_bodies > 0 && out->pieces_mass > r->bodies[out->body].mass)
    case_build_fault(b, item, "pieces", "%s: %.3g kg of ice is more than the fill of %.3g kg", path, out->pieces_mass, r->bodies[out->body].mass);
  if (out->pieces_temperature > 0.0)
    case_build_fault(b, item, "pieces_temperature", "%s: ice is not warmer than 0 degC", path);
  if ((out->kind == STAGE_FILL || out->kind == STAGE_EXCHANGE) && out->poured_temperature < 0.0)
    case_build_fault(b, item, "water", "%s: water that is poured is not colder than 0 degC", path);
}

static void read_salt(const case_build *b, const yaml_node *item, const char *path, rig_stage *out)
{
  const rig *r = &b->c->rig;
  double mass = 0.0;
  message why = {""};
  salt_grade grade;
  out->bath = case_build_has(item, "bath") ? index_of_bath(b, case_build_text(item, SECTION_STAGE, "bath")) : 0;
  if (r->num_baths == 0) {
    case_build_fault(b, item, "kind", "%s: there is no bath to put salt into", path);
    return;
  }
  if (out->bath < 0)
    out->bath = 0; /* told already */
  if (!case_build_has(item, "grade") || !case_build_has(item, "mass")) {
    case_build_fault(b, item, "kind", "%s: say \"grade\" and \"mass\", for instance grade: CaCl2 flake 77, mass: 5 kg", path);
    return;
  }
  if (!case_build_quantity(b, item, SECTION_STAGE, "mass", &mass))
    return;
  if (salt_grade_find(&grade, case_build_text(item, SECTION_STAGE, "grade"), &why) != STATUS_OK)
    case_build_fault(b, item, "grade", "%s: %s", path, why.text);
  else if (grade.salt != r->baths[out->bath].salt)
    case_build_fault(b, item, "grade", "%s: the bath holds %s, the bag %s", path, brine_name(r->baths[out->bath].salt), brine_name(grade.salt));
  else {
    const double heat = salt_grade_solution_heat(&grade);
    out->salt_mass = mass * grade.share;
    out->salt_rest = mass - out->salt_mass;
    out->salt_heat = isnan(heat) ? 0.0 : mass * heat;
  }
}

/* Still water of 15 degC brings some 5 kW/m2; block ice colder than -5 degC cracks in water warmer than 15 to 20 degC (judgement; Gold 1963, from memory). */
static void read_dip(const case_build *b, const yaml_node *item, const char *path, rig_stage *out)
{
  static const double HOTTEST = 60.0, CRACKS = 20.0; /* degC */
  const rig *r = &b->c->rig;
  out->dips = case_build_quantity(b, item, SECTION_STAGE, "dip", &out->dip_temperature);
  out->bath = case_build_has(item, "bath") ? index_of_bath(b, case_build_text(item, SECTION_STAGE, "bath")) : 0;
  if (r->num_baths == 0)
    case_build_fault(b, item, "dip", "%s: there is no bath to lift the mould out of; water round a mould in air is a surface rule of the stage, for instance surfaces: "
                     "[{of: pot, film: 500 W/m2K, temperature: 15 C}]", path);
  else if (out->dips && !(out->dip_temperature > 0.0 && out->dip_temperature <= HOTTEST))
    case_build_fault(b, item, "dip", "%s: water of %.4g degC; above 0 and up to %.4g degC is accepted", path, out->dip_temperature, HOTTEST);
  else if (out->dip_temperature > CRACKS)
    fault_note(b->faults, item->at, "%s: water of %.4g degC may crack ice colder than -5 degC; 15 to 20 degC is safer (judgement)", path, out->dip_temperature);
  if (out->bath < 0 || r->num_baths == 0)
    out->dips = false; /* told already */
}

static void read_surroundings(const case_build *b, const yaml_node *item, const char *path, rig_stage *out)
{
  rig_surroundings *a = &out->around;
  a->film = a->pool_film = NAN;
  a->underside_covered = !case_build_has(item, "underside") || case_build_choice(item, SECTION_STAGE, "underside") == 0;
  if (case_build_has(item, "wind"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "wind", &a->wind);
  if (case_build_has(item, "air_film"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "air_film", &a->film);
  a->pool = case_build_has(item, "pool") || case_build_has(item, "pool_temperature");
  if (!a->pool && (case_build_has(item, "pool_film") || case_build_has(item, "level")))
    case_build_fault(b, item, case_build_has(item, "level") ? "level" : "pool_film", "%s: there is no water; say \"pool_temperature\" and, if it cools, \"pool\"", path);
  if (!a->pool)
    return;
  a->underside_covered = false;
  a->floating = !case_build_has(item, "level");
  if (case_build_has(item, "pool"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "pool", &a->pool_volume);
  if (!case_build_has(item, "pool_temperature"))
    case_build_fault(b, item, "pool", "%s: say how warm the water is with \"pool_temperature\"", path);
  else if (case_build_quantity(b, item, SECTION_STAGE, "pool_temperature", &a->pool_temperature) && a->pool_temperature < 0.0)
    case_build_fault(b, item, "pool_temperature", "%s: fresh water is not colder than 0 degC", path);
  if (case_build_has(item, "pool_film"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "pool_film", &a->pool_film);
  if (case_build_has(item, "level"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "level", &a->level);
}

static void make_stage(const case_build *b, const yaml_node *item, rig_stage *out)
{
  static const stage_kind kinds[] = {STAGE_PRECOOL, STAGE_FREEZE,    STAGE_HOLD,    STAGE_FILL, STAGE_EXCHANGE, STAGE_POUR_OFF,
                                     STAGE_ADD_SALT, STAGE_POWER_OFF, STAGE_RELEASE, STAGE_DRAW, STAGE_TEMPER,   STAGE_MELT};
  char path[PATH];
  const int kind = case_build_choice(item, SECTION_STAGE, "kind");
  (void)snprintf(out->name, sizeof out->name, "%s", yaml_tree_value(item, "name")->text);
  (void)snprintf(path, sizeof path, "stages.%s", out->name);
  out->kind = kinds[kind < 0 ? 1 : kind];
  out->bath = -1;
  read_end(b, item, path, out);
  refuse_strangers(b, item, path, out);
  read_conditions(b, item, path, out);
  read_pouring(b, item, path, out);
  read_surroundings(b, item, path, out);
  if (out->kind == STAGE_ADD_SALT)
    read_salt(b, item, path, out);
  if (out->kind == STAGE_RELEASE && case_build_has(item, "dip"))
    read_dip(b, item, path, out);
  else if (out->kind == STAGE_RELEASE && case_build_has(item, "bath"))
    case_build_fault(b, item, "bath", "%s: \"bath\" goes with \"dip\" here", path);
  out->film = RELEASE_FILM;
  if (case_build_has(item, "film"))
    (void)case_build_quantity(b, item, SECTION_STAGE, "film", &out->film);
}

/* Once the piece is out there is no way back into the mould, and what was poured off does not freeze. */
static void check_order(const case_build *b, const yaml_node *list)
{
  const rig *r = &b->c->rig;
  bool out = false, poured = false;
  for (size_t i = 0; i < r->num_stages; i++) {
    const rig_stage *s = &r->stages[i];
    if (out && !rig_stage_is_of_piece(s))
      case_build_fault(b, list->items[i], "kind", "stages.%s: the piece left its mould in an earlier stage; only temper and melt can follow", s->name);
    if (poured && !out && !rig_stage_is_of_piece(s))
      case_build_fault(b, list->items[i], "kind", "stages.%s: the water was poured off; only draw, temper and melt can follow", s->name);
    if (rig_stage_is_of_piece(s) && i > 0 && rig_stage_is_of_piece(s - 1) && s->body != s[-1].body)
      case_build_fault(b, list->items[i], "body", "stages.%s: one piece after the other; it is \"%s\" that is out of its mould", s->name,
                       r->bodies[s[-1].body].name);
    out = out || rig_stage_is_of_piece(s);
    poured = poured || s->kind == STAGE_POUR_OFF;
  }
}

static status make_stages(case_build *b)
{
  rig *r = &b->c->rig;
  const yaml_node *list = yaml_tree_value(b->c->tree, "stages");
  const size_t num = list && list->kind == YAML_LIST ? list->num : 0;
  r->stages = case_store_array(b->c->store, num + 1, sizeof *r->stages, b->msg);
  if (!r->stages)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < num; i++)
    if (case_build_is_sound(b, list->items[i]))
      make_stage(b, list->items[i], &r->stages[r->num_stages++]);
  if (num == r->num_stages && num > 0)
    check_order(b, list);
  if (!list) {
    r->stages[0] = (rig_stage){.name = "freeze", .kind = STAGE_FREEZE, .until = UNTIL_FROZEN, .limit = DEFAULT_LIMIT};
    r->num_stages = 1;
  } else if (list->kind == YAML_LIST && list->num == 0) {
    case_build_fault(b, b->c->tree, "stages", "stages: the list is empty; leave the key out for one freeze");
  }
  return STATUS_OK;
}

static status make_probes(case_build *b)
{
  rig *r = &b->c->rig;
  const yaml_node *list = yaml_tree_value(b->c->tree, "probes");
  const size_t num = list && list->kind == YAML_LIST ? list->num : 0;
  r->probes = case_store_array(b->c->store, num, sizeof *r->probes, b->msg);
  if (!r->probes)
    return STATUS_NO_MEMORY;
  for (size_t i = 0; i < num; i++) {
    double at[3] = {0.0, 0.0, 0.0};
    const yaml_node *item = list->items[i];
    if (!case_build_is_sound(b, item) || !case_build_point(b, yaml_tree_value(item, "at"), b->c->revolved ? 2 : 3, at))
      continue;
    rig_probe *probe = &r->probes[r->num_probes++];
    (void)snprintf(probe->name, sizeof probe->name, "%s", yaml_tree_value(item, "name")->text);
    probe->point[0] = at[0];
    probe->point[1] = b->c->revolved ? 0.0 : at[1];
    probe->point[2] = b->c->revolved ? at[1] : at[2];
    if (b->c->revolved && at[0] < 0.0)
      case_build_fault(b, item, "at", "probes.%s: the radius %.4g mm is negative", probe->name, 1e3 * at[0]);
  }
  return STATUS_OK;
}

static void make_control(const case_build *b)
{
  rig_control *k = &b->c->rig.control;
  const yaml_node *map = yaml_tree_value(b->c->tree, "run");
  double threads = 0.0;
  k->integrator = case_build_choice(map, SECTION_RUN, "integrator") == 1 ? INTEGRATOR_BDF : INTEGRATOR_STABILISED;
  (void)case_build_quantity(b, map, SECTION_RUN, "tolerance", &k->tolerance);
  (void)case_build_quantity(b, map, SECTION_RUN, "longest_step", &k->longest_step);
  (void)case_build_quantity(b, map, SECTION_RUN, "store_every", &k->output_interval);
  (void)case_build_quantity(b, map, SECTION_RUN, "series_every", &k->series_interval);
  (void)case_build_quantity(b, map, SECTION_RUN, "checkpoint_every", &k->checkpoint_interval);
  (void)case_build_quantity(b, map, SECTION_RUN, "threads", &threads);
  if (threads != floor(threads) || threads > MOST_THREADS)
    case_build_fault(b, map, "threads", "run.threads: a whole number from 1 to %d is accepted", MOST_THREADS);
  else
    k->threads = (int)threads;
  if (k->tolerance > 1.0)
    case_build_fault(b, map, "tolerance", "run.tolerance: %.3g is no tolerance; at most 1 is accepted (usual: 0.1, bdf 0.001)", k->tolerance);
}

status case_stages_build(case_build *b)
{
  status code = make_stages(b);
  if (code == STATUS_OK)
    code = make_probes(b);
  make_control(b);
  return code;
}
