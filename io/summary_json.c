#include "io/summary_json.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "io/cold_table.h"
#include "io/summary_clear.h"

/* Builds a tree and remembers the first thing that went wrong, so that building reads as a list of keys. */
typedef struct {
  status code;
  message *msg;
  bool revolved; /* positions are [r, z] */
} builder;

static void fail(builder *b, status code, const char *key, const char *why)
{
  if (b->code == STATUS_OK)
    b->code = message_set(b->msg, code, "summary: %s %s", key, why);
}

/* Takes over `value`. */
static void put(builder *b, json_t *object, const char *key, json_t *value)
{
  if (b->code == STATUS_OK && json_object_get(object, key))
    fail(b, STATUS_FAILED, key, "is named twice");
  if (b->code == STATUS_OK && (!value || json_object_set_new(object, key, value) != 0))
    fail(b, STATUS_NO_MEMORY, key, "cannot be set: out of memory");
  else if (b->code != STATUS_OK)
    json_decref(value);
}

static void append(builder *b, json_t *array, const char *key, json_t *value)
{
  if (b->code == STATUS_OK && (!value || json_array_append_new(array, value) != 0))
    fail(b, STATUS_NO_MEMORY, key, "cannot be set: out of memory");
  else if (b->code != STATUS_OK)
    json_decref(value);
}

/* NAN is "not known" and leaves the key out; an infinity is a fault of ours and is told. */
static void put_real(builder *b, json_t *object, const char *key, double value)
{
  if (isinf(value))
    fail(b, STATUS_FAILED, key, "is infinite");
  else if (!isnan(value))
    put(b, object, key, json_real(value));
}

/* Text of a fixed length may have been cut inside a character; a summary is not lost for that. NULL: out of memory. */
static json_t *text_value(const char *text)
{
  json_t *value = json_string(text);
  char *plain = value ? NULL : malloc(strlen(text) + 1);
  if (plain) {
    (void)strcpy(plain, text);
    for (char *c = plain; *c; c++)
      if ((unsigned char)*c >= 0x80)
        *c = '?';
    value = json_string(plain);
  }
  free(plain);
  return value;
}

static void put_text(builder *b, json_t *object, const char *key, const char *text)
{
  if (text[0])
    put(b, object, key, text_value(text));
}

static void put_position(builder *b, json_t *object, const char *key, const double position[3])
{
  const int axes[3] = {0, b->revolved ? 2 : 1, 2};
  const int num = b->revolved ? 2 : 3;
  for (int i = 0; i < num; i++)
    if (isnan(position[axes[i]]))
      return;
  json_t *array = json_array();
  for (int i = 0; i < num; i++) {
    if (isinf(position[axes[i]]))
      fail(b, STATUS_FAILED, key, "is infinite");
    else
      append(b, array, key, json_real(position[axes[i]]));
  }
  put(b, object, key, array);
}

/* An object without a key says nothing: left out. Takes over `value`. */
static void put_unless_empty(builder *b, json_t *object, const char *key, json_t *value)
{
  if (value && json_object_size(value) == 0)
    json_decref(value);
  else
    put(b, object, key, value);
}

/* ------------------------------------------------------------------------------------------------ what there is */

static json_t *provenance_object(builder *b, const provenance *p)
{
  json_t *o = json_object();
  put_text(b, o, "program", p->program);
  put_text(b, o, "started", p->started);
  put_real(b, o, "wall_s", p->wall);
  put(b, o, "threads", json_integer(p->threads));
  put_text(b, o, "host", p->host);
  return o;
}

/* How a freeze went, of one body or of a stage. */
static json_t *freeze_object(builder *b, const stage_freeze *f)
{
  static const char *const names[3] = {"0.5", "0.9", "0.99"};
  json_t *o = json_object(), *marks = json_object();
  put(b, o, "complete", json_boolean(f->complete));
  put_real(b, o, "time_s", f->time);
  put_real(b, o, "fraction", f->fraction);
  for (int mark = 0; mark < 3; mark++)
    put_real(b, marks, names[mark], f->mark[mark]);
  put_unless_empty(b, o, "marks_s", marks);
  return o;
}

static json_t *body_freeze_object(builder *b, const body_result *body)
{
  stage_freeze f = {.complete = body->complete, .time = body->freeze_time, .fraction = body->fraction};
  memcpy(f.mark, body->mark, sizeof f.mark);
  return freeze_object(b, &f);
}

static json_t *last_liquid_object(builder *b, const body_result *body)
{
  json_t *o = json_object();
  put_position(b, o, "position_m", body->last_position);
  put_real(b, o, "time_s", body->last_time);
  if (json_object_size(o) > 0)
    put(b, o, "trapped", json_boolean(body->last_trapped));
  put_real(b, o, "distance_to_surface_m", body->last_distance);
  return o;
}

static json_t *pockets_array(builder *b, const body_result *body)
{
  json_t *array = json_array();
  for (size_t i = 0; i < body->num_pockets; i++) {
    const pocket *p = &body->pockets[i];
    json_t *o = json_object();
    put_real(b, o, "parted_at_s", p->parted_at);
    put_real(b, o, "closed_at_s", p->closed_at);
    put_real(b, o, "last_at_s", p->last_at);
    put_real(b, o, "mass_kg", p->mass);
    put_position(b, o, "position_m", p->position);
    put(b, o, "trapped", json_boolean(p->trapped));
    put_real(b, o, "distance_to_surface_m", p->distance);
    put_real(b, o, "closed_mass_kg", p->closed_mass);
    put_real(b, o, "pressure_Pa", p->pressure);
    put_real(b, o, "skin_tension_Pa", p->skin_tension);
    put_real(b, o, "crack_index", p->crack_index);
    if (p->parent >= 0)
      put(b, o, "parent", json_integer(p->parent));
    append(b, array, "pockets", o);
  }
  return array;
}

static json_t *expansion_object(builder *b, const body_result *body)
{
  json_t *o = json_object();
  put_real(b, o, "level_rise_m", body->level_rise);
  put_real(b, o, "dome_m3", body->dome_volume);
  put_real(b, o, "dome_height_m", body->dome_height);
  put_real(b, o, "crack_index", body->crack_index);
  return o;
}

static void put_body(builder *b, json_t *o, const body_result *body)
{
  put(b, o, "freeze", body_freeze_object(b, body));
  put_unless_empty(b, o, "last_liquid", last_liquid_object(b, body));
  put(b, o, "pockets", pockets_array(b, body));
  put_unless_empty(b, o, "expansion", expansion_object(b, body));
  if (body->clear.present)
    put(b, o, "clear", summary_clear_write(&body->clear, b->revolved));
}

static void put_answer(builder *b, json_t *o, const char *key, const draw_answer *a)
{
  static const char *const verdicts[] = {"free", "stiff", "locked"};
  if (!a->present)
    return;
  json_t *answer = json_object();
  put_text(b, answer, "salt_mode", a->mode == SALT_MIXED ? "mixed" : "closed");
  put_text(b, answer, "draw", verdicts[a->draw]);
  put_real(b, answer, "ice_fraction_at_wall", a->ice_at_wall);
  put(b, answer, "bridged", json_boolean(a->bridged));
  put(b, answer, "force_N", json_pack("[f, f]", a->force_low, a->force_high));
  put_real(b, answer, "free_above_C", a->free_above);
  put_real(b, answer, "salt_to_add_kg", a->salt_to_add);
  put(b, o, key, answer);
}

static void put_bath(builder *b, json_t *o, const bath_result *bath)
{
  static const char *const verdicts[] = {"free", "stiff", "locked"};
  put_real(b, o, "mass_fraction", bath->mass_fraction);
  put_real(b, o, "freezing_onset_C", bath->freezing_onset);
  put_real(b, o, "ice_fraction_mean", bath->ice_fraction_mean);
  put_real(b, o, "ice_fraction_max", bath->ice_fraction_max);
  put_real(b, o, "salt_residual_relative", bath->salt_error);
  put_real(b, o, "water_taken_kg", bath->water_taken);
  if (bath->coil_ice > 0.0) {
    put_real(b, o, "coil_ice_mean_m", bath->coil_ice);
    put_real(b, o, "coil_ice_max_m", bath->coil_ice_most);
    put_real(b, o, "coil_ice_K_per_W", bath->coil_ice_resistance);
  }
  if (bath->touches_mould)
    put_text(b, o, "draw", verdicts[bath->draw]);
  if (bath->answer.present) {
    put_answer(b, o, "answer", &bath->answer);
    put_answer(b, o, "other_answer", &bath->other);
    put_real(b, o, "draft_deg", bath->draft);
  }
  if (bath->other.present)
    put_real(b, o, "other_freeze_time_s", bath->other_freeze_time);
}

static void put_spread(builder *b, json_t *o, const char *key, const spread3 *s)
{
  char name[64];
  put_real(b, o, key, s->mean);
  (void)snprintf(name, sizeof name, "%s_min", key);
  put_real(b, o, name, s->low);
  (void)snprintf(name, sizeof name, "%s_max", key);
  put_real(b, o, name, s->high);
}

static json_t *plant_object(builder *b, const plant_result *p)
{
  json_t *o = json_object();
  put_spread(b, o, "evaporating_C", &p->evaporating);
  put_spread(b, o, "condensing_C", &p->condensing);
  put_spread(b, o, "suction_Pa", &p->suction);
  put_spread(b, o, "discharge_Pa", &p->discharge);
  put_real(b, o, "heat_J", p->heat);
  put_real(b, o, "work_J", p->work);
  put_real(b, o, "mean_power_W", p->mean_power);
  put_real(b, o, "discharge_gas_C_max", p->gas_high);
  return o;
}

/* Beside the plant's means of the judged stage: what it all came to. */
static void put_account(builder *b, json_t *o, const plant_account *a)
{
  json_t *shares = json_array();
  put_real(b, o, "cop", a->performance);
  put_real(b, o, "electricity_J", a->energy);
  put_real(b, o, "electricity_per_ice_J_per_kg", a->energy_per_kg);
  put_real(b, o, "price", a->price);
  put_real(b, o, "running_share", a->running_share);
  put_real(b, o, "running_current_A", a->running_current);
  put_real(b, o, "starting_current_A", a->starting_current);
  for (size_t i = 0; i < a->num_shares; i++) {
    json_t *one = json_object();
    put_text(b, one, "name", a->shares[i].name);
    put_real(b, one, "share", a->shares[i].share);
    put_real(b, one, "power_W", a->shares[i].power);
    put_real(b, one, "motor_load", a->shares[i].motor_load);
    append(b, shares, "compressors", one);
  }
  put(b, o, "compressors", shares);
}

static json_t *switch_off_object(builder *b, const switch_off_result *s)
{
  json_t *o = json_object();
  put_real(b, o, "time_s", s->at);
  put_real(b, o, "within_s", s->within);
  put_real(b, o, "freeze_time_s", s->freeze_time);
  put_real(b, o, "spared_s", s->spared);
  put_real(b, o, "energy_spared_J", s->energy_spared);
  return o;
}

static json_t *ledger_object(builder *b, const heat_ledger *ledger)
{
  json_t *o = json_object();
  for (size_t i = 0; i < ledger->num; i++)
    put_real(b, o, ledger->entries[i].name, ledger->entries[i].joules);
  if (ledger->num)
    put_real(b, o, "residual_relative", ledger->residual_relative);
  return o;
}

static json_t *cold_rows(builder *b, const cold_row *rows, size_t num)
{
  json_t *list = json_array();
  for (size_t i = 0; i < num; i++) {
    json_t *o = json_object();
    put_text(b, o, "name", rows[i].name);
    put_real(b, o, "heat_J", rows[i].joules);
    if (rows[i].latent != 0.0) {
      put_real(b, o, "latent_J", rows[i].latent);
      put_real(b, o, "sensible_J", rows[i].joules - rows[i].latent);
    }
    put_real(b, o, "share", rows[i].share);
    put_real(b, o, "mean_W", rows[i].watts);
    append(b, list, "cold", o);
  }
  return list;
}

/* Where the cold came from and where it went, beside the ledger's plain joules. */
static void put_cold(builder *b, json_t *root, const results *res)
{
  cold_table t;
  if (res->ledger.num == 0)
    return;
  if (cold_table_make(&t, &res->ledger, cold_table_seconds(res), NULL) != STATUS_OK) {
    fail(b, STATUS_NO_MEMORY, "cold", "cannot be set: out of memory");
    return;
  }
  json_t *o = json_object();
  put(b, o, "from", cold_rows(b, t.from, t.num_from));
  put(b, o, "into", cold_rows(b, t.into, t.num_into));
  put(b, root, "cold", o);
  cold_table_release(&t);
}

static const char *stage_kind_name(stage_kind kind)
{
  static const char *const names[STAGE_NUM] = {"precool",  "freeze",    "hold",    "fill", "exchange", "pour_off",
                                               "add_salt", "power_off", "release", "draw", "temper",   "melt"};
  return names[kind];
}

static json_t *release_object(builder *b, const release_result *r)
{
  json_t *o = json_object();
  put_real(b, o, "time_s", r->time);
  put_real(b, o, "heat_J", r->heat);
  put_real(b, o, "ice_lost_kg", r->ice_lost);
  put_real(b, o, "film_mean_m", r->film_mean);
  put_position(b, o, "last_m", r->position);
  return o;
}

/* A piece out of its mould; marks in the words of what has gone. */
static json_t *piece_object(builder *b, const piece_result *p)
{
  static const char *const names[3] = {"0.5", "0.9", "0.99"};
  json_t *o = json_object(), *marks = json_object();
  put_real(b, o, "time_s", p->time);
  for (int mark = 0; mark < 3; mark++)
    if (p->mark[mark] >= 0.0)
      put_real(b, marks, names[mark], p->mark[mark]);
  put_unless_empty(b, o, "marks_s", marks);
  put_real(b, o, "mass_start_kg", p->mass_start);
  put_real(b, o, "mass_end_kg", p->mass_end);
  put_real(b, o, "ice_temperature_C", p->mean_temperature);
  put_real(b, o, "pool_temperature_C", p->pool_temperature);
  put_real(b, o, "pool_ice_kg", p->pool_ice);
  put_real(b, o, "crack_index", p->crack_index);
  put_real(b, o, "safe_ice_temperature_C", p->warmest_start);
  put_real(b, o, "tempering_s", p->tempering);
  put_real(b, o, "surface_error", p->surface_error);
  return o;
}

static void put_stage_results(builder *b, json_t *o, const stage_result *stage)
{
  if (stage->freeze.present)
    put(b, o, "freeze", freeze_object(b, &stage->freeze));
  if (stage->release.present)
    put(b, o, "release", release_object(b, &stage->release));
  if (stage->piece.present)
    put(b, o, stage->kind == STAGE_MELT ? "melt" : "piece", piece_object(b, &stage->piece));
}

/* The first release and the first melt stand at the top as well. */
static void put_first(builder *b, json_t *root, const results *res)
{
  for (size_t i = 0; i < res->num_stages; i++) {
    const stage_result *s = &res->stages[i];
    if (s->release.present && !json_object_get(root, "release"))
      put(b, root, "release", release_object(b, &s->release));
    if (s->piece.present && s->kind == STAGE_MELT && !json_object_get(root, "melt"))
      put(b, root, "melt", piece_object(b, &s->piece));
  }
}

static json_t *stage_object(builder *b, const stage_result *stage)
{
  json_t *o = json_object();
  put_text(b, o, "name", stage->name);
  put_text(b, o, "kind", stage_kind_name(stage->kind));
  put_real(b, o, "start_at_s", stage->start_at);
  put_real(b, o, "end_at_s", stage->end_at);
  put_text(b, o, "ended_by", stage->ended_by);
  put_stage_results(b, o, stage);
  put_unless_empty(b, o, "ledger", ledger_object(b, &stage->ledger));
  if (stage->plant.present)
    put_unless_empty(b, o, "plant", plant_object(b, &stage->plant));
  return o;
}

static json_t *event_object(builder *b, const run_event *e)
{
  json_t *o = json_object();
  put_real(b, o, "at_s", e->at);
  put_text(b, o, "stage", e->stage);
  put_text(b, o, "what", e->what);
  put_text(b, o, "where", e->where);
  put_real(b, o, "value", e->value);
  if (e->count > 1.0) {
    put_real(b, o, "count", e->count);
    put_real(b, o, "last_at_s", e->last_at);
  }
  return o;
}

/* ------------------------------------------------------------------------------------------------ the whole */

static void put_lists(builder *b, json_t *root, const results *res)
{
  json_t *bodies = json_array(), *baths = json_array(), *stages = json_array(), *events = json_array(), *warnings = json_array();
  for (size_t i = 0; i < res->num_bodies; i++) {
    json_t *o = json_object();
    put_text(b, o, "name", res->bodies[i].name);
    put_real(b, o, "mass_kg", res->bodies[i].mass);
    put_real(b, o, "level_rise_m", res->bodies[i].level_rise);
    put_body(b, o, &res->bodies[i]);
    append(b, bodies, "bodies", o);
  }
  for (size_t i = 0; i < res->num_baths; i++) {
    json_t *o = json_object();
    put_text(b, o, "name", res->baths[i].name);
    put_bath(b, o, &res->baths[i]);
    append(b, baths, "baths", o);
  }
  for (size_t i = 0; i < res->num_stages; i++)
    append(b, stages, "stages", stage_object(b, &res->stages[i]));
  for (size_t i = 0; i < res->num_events; i++)
    append(b, events, "events", event_object(b, &res->events[i]));
  for (size_t i = 0; i < res->num_warnings; i++)
    append(b, warnings, "warnings", text_value(res->warnings[i]));
  put(b, root, "bodies", bodies);
  put(b, root, "baths", baths);
  put_first(b, root, res);
  put(b, root, "stages", stages);
  put(b, root, "events", events);
  put(b, root, "warnings", warnings);
}

/* The last to freeze; when none froze, the one with least ice. */
static const body_result *leading_body(const results *res)
{
  if (res->last_body >= 0 && (size_t)res->last_body < res->num_bodies)
    return &res->bodies[res->last_body];
  const body_result *least = NULL;
  for (size_t i = 0; i < res->num_bodies; i++)
    if (!least || res->bodies[i].fraction < least->fraction)
      least = &res->bodies[i];
  return least;
}

static json_t *summary_object(builder *b, const results *res, const provenance *p)
{
  json_t *root = json_object();
  put(b, root, "format", json_integer(SUMMARY_JSON_FORMAT));
  put(b, root, "provenance", provenance_object(b, p));
  const body_result *body = leading_body(res);
  if (body)
    put_body(b, root, body);
  if (res->contact_bath >= 0 && (size_t)res->contact_bath < res->num_baths) {
    json_t *bath = json_object();
    put_bath(b, bath, &res->baths[res->contact_bath]);
    put_unless_empty(b, root, "bath", bath);
  }
  if (res->plant.present) {
    json_t *plant = plant_object(b, &res->plant);
    if (res->account.present)
      put_account(b, plant, &res->account);
    put_unless_empty(b, root, "plant", plant);
  }
  if (res->switch_off.present)
    put(b, root, "switch_off", switch_off_object(b, &res->switch_off));
  put_unless_empty(b, root, "ledger", ledger_object(b, &res->ledger));
  put_cold(b, root, res);
  put_lists(b, root, res);
  return root;
}

/* jansson ends its text without a line end. */
static status dump(char **text, const json_t *root, message *msg)
{
  char *bare = json_dumps(root, JSON_INDENT(2));
  const size_t length = bare ? strlen(bare) : 0;
  char *ended = bare ? malloc(length + 2) : NULL;
  if (ended) {
    memcpy(ended, bare, length);
    memcpy(ended + length, "\n", 2);
    *text = ended;
  }
  free(bare);
  return ended ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the summary", length + 2);
}

status summary_json_text(char **text, const rig *r, const results *res, const provenance *p, message *msg)
{
  builder b = {.code = STATUS_OK, .msg = msg, .revolved = r->mesh_grid->kind == GRID_RZ};
  json_t *root = summary_object(&b, res, p);
  const status code = b.code == STATUS_OK ? dump(text, root, msg) : b.code;
  json_decref(root);
  return code;
}

void summary_json_provenance(provenance *p)
{
  *p = (provenance){.program = "lastwater " LASTWATER_VERSION, .wall = NAN, .threads = 1};
  if (gethostname(p->host, sizeof p->host - 1) != 0)
    p->host[0] = '\0';
  const time_t now = time(NULL);
  struct tm utc;
  if (gmtime_r(&now, &utc))
    (void)strftime(p->started, sizeof p->started, "%Y-%m-%dT%H:%M:%SZ", &utc);
}
