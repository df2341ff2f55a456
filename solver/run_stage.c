#include "solver/run_stage.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/release.h"
#include "solver/run_dip.h"
#include "solver/run_finish.h"
#include "solver/run_parts.h"

static const double HALVED_TO = 0.1; /* s: ends that are yes or no are met this closely */

static const rig_stage *stage_now(const run *x) { return &x->rig->stages[x->stage]; }

/* ---- what holds ---- */

/* Index of the stage that first fills a body, if it comes before any freeze; num_stages: none, it is full from the start. */
static size_t first_fill(const rig *r, int body)
{
  for (size_t stage = 0; stage < r->num_stages && r->stages[stage].kind != STAGE_FREEZE; stage++)
    if (r->stages[stage].kind == STAGE_FILL && r->stages[stage].body == body)
      return stage;
  return r->num_stages;
}

static void set_dry(run *x, bool begun)
{
  const rig *r = x->rig;
  for (size_t body = 0; body < r->num_bodies; body++) {
    const size_t fill = first_fill(r, (int)body);
    const bool waits = fill < r->num_stages && (x->stage < fill || (x->stage == fill && !begun));
    network_set_dry(x->net, r->bodies[body].part, waits);
  }
}

static status set_conditions(run *x, message *msg)
{
  const rig_stage *stage = stage_now(x);
  set_dry(x, true);
  network_set_thawing(x->net, stage->kind == STAGE_RELEASE);
  coolant_use_stage(x->coolant, stage, x->state.time);
  liquids_drive(x->liquids, stage->stirrers_stand, stage->air_off);
  return network_use_stage(x->net, x->stage, stage->changes_room ? stage->room : NAN, msg);
}

status run_stage_restored(run *x, message *msg)
{
  if (x->stage >= x->rig->num_stages)
    return STATUS_OK;
  if (x->doing != DO_STAGE_START)
    return set_conditions(x, msg);
  set_dry(x, false);
  return STATUS_OK;
}

/* ---- what is done ---- */

static const phase_curve *curve_of(const run *x, int body) { return liquids_curve(x->liquids, x->rig->bodies[body].part); }

/* J that the unknowns of a body hold. */
static double held_by(const run *x, const body_watch *watch)
{
  const double *volume = network_volume(x->net);
  double heat = 0.0;
  for (size_t i = 0; i < watch->num_nodes; i++)
    heat += volume[watch->nodes[i]] * x->state.enthalpy[watch->nodes[i]];
  return heat;
}

/* Water as poured, with its pieces of ice melted in as far as they go, takes the place of all that was in the body. In the books: the masses that come, each
 * with its own enthalpy per kilogram, less what was there. */
static status pour_in(run *x, const rig_stage *stage, message *msg)
{
  const rig_body *body = &x->rig->bodies[stage->body];
  const body_watch *watch = &x->bodies[stage->body];
  const phase_curve *curve = curve_of(x, stage->body);
  const double density = x->rig->parts[body->part].stuff->density, mass = density * watch->volume;
  const double ice = fmin(stage->pieces_mass / body->mass, 1.0) * mass;
  const double water_holds = phase_curve_enthalpy(curve, stage->poured_temperature) / density;
  const double ice_holds = fmin(phase_curve_enthalpy(curve, stage->pieces_temperature), curve->solid_enthalpy) / density;
  x->clock[CLOCK_CARRIED] += (mass - ice) * water_holds + ice * ice_holds - held_by(x, watch);
  const double share = ice / mass, fresh = density * ((1.0 - share) * water_holds + share * ice_holds);
  for (size_t i = 0; i < watch->num_nodes; i++)
    x->state.enthalpy[watch->nodes[i]] = fresh;
  return run_parts_add_event(x, "water poured in", body->name, body->mass, msg);
}

/* A share of the liquid in every node makes way for as many kilograms of fresh water; kg in the event. In the books: that mass with the enthalpy of fresh
 * water, less what runs out with its own. */
static status exchange(run *x, const rig_stage *stage, message *msg)
{
  const rig_body *body = &x->rig->bodies[stage->body];
  const body_watch *watch = &x->bodies[stage->body];
  const phase_curve *curve = curve_of(x, stage->body);
  const double *volume = network_volume(x->net), density = x->rig->parts[body->part].stuff->density;
  const double fresh = phase_curve_enthalpy(curve, stage->poured_temperature) / density;
  double mass = 0.0, runs_out = 0.0;
  for (size_t i = 0; i < watch->num_nodes; i++) {
    double *h = &x->state.enthalpy[watch->nodes[i]];
    const double liquid = phase_curve_liquid_fraction(curve, *h), old = fmax(*h, curve->liquid_enthalpy); /* what runs out is liquid */
    const double goes = volume[watch->nodes[i]] * density * stage->share * liquid; /* kg */
    mass += goes;
    runs_out += goes * old / density;
    *h += stage->share * liquid * (density * fresh - old);
  }
  x->clock[CLOCK_CARRIED] += mass * fresh - runs_out;
  return run_parts_add_event(x, "water exchanged", body->name, mass, msg);
}

/* What runs out is told; its nodes are left out of the piece, and no stage of the mould follows (case reader). */
static status pour_off(run *x, const rig_stage *stage, message *msg)
{
  const rig_body *body = &x->rig->bodies[stage->body];
  const body_watch *watch = &x->bodies[stage->body];
  const double share = body_watch_share_at(watch, x->net, curve_of(x, stage->body), x->state.enthalpy);
  return run_parts_add_event(x, "water poured off", body->name, (1.0 - share) * watch->volume * x->rig->parts[body->part].stuff->density, msg);
}

/* What the salt lets go warms the bath evenly. */
static status add_salt(run *x, const rig_stage *stage, message *msg)
{
  const rig_bath *bath = &x->rig->baths[stage->bath];
  const double *volume = network_volume(x->net);
  const int32_t *part = network_part(x->net);
  double room = 0.0;
  for (size_t i = 0; i < network_num_nodes(x->net); i++)
    room += part[i] == bath->part ? volume[i] : 0.0;
  for (size_t i = 0; i < network_num_nodes(x->net); i++)
    if (part[i] == bath->part && volume[i] > 0.0)
      x->state.enthalpy[i] += stage->salt_heat / room;
  x->clock[CLOCK_DISSOLVED] += stage->salt_heat;
  const status code = liquids_add_salt(x->liquids, (size_t)stage->bath, stage->salt_mass, stage->salt_rest, msg);
  return code == STATUS_OK ? run_parts_add_event(x, "salt added", bath->name, stage->salt_mass, msg) : code;
}

/* A freeze after the first counts its own water. */
static void count_anew(run *x)
{
  for (size_t body = 0; body < x->rig->num_bodies; body++) {
    body_watch *b = &x->bodies[body];
    for (int i = 0; i < BODY_WATCH_MARKS; i++)
      b->mark[i] = NAN;
    b->solid_at = NAN;
    b->share = body_watch_share_at(b, x->net, curve_of(x, (int)body), x->state.enthalpy);
  }
}

static double ice_now(const run *x, int body)
{
  const body_watch *watch = &x->bodies[body];
  return body_watch_share_at(watch, x->net, curve_of(x, body), x->state.enthalpy) * watch->volume * x->rig->parts[watch->part].stuff->density;
}

/* True when the stage asks for what an ordinary one does not: then the integrator starts anew. */
static bool is_plain(const rig *r, const rig_stage *s)
{
  bool rules = false;
  for (size_t i = 0; i < r->num_rules; i++)
    rules = rules || r->rules[i].stage > 0;
  return (s->kind == STAGE_PRECOOL || s->kind == STAGE_FREEZE || s->kind == STAGE_HOLD) && s->plant == STAGE_PLANT_COOLS && !s->changes_room
         && !s->changes_set_point && !s->stirrers_stand && !s->air_off && !rules;
}

status run_stage_begin(run *x, message *msg)
{
  const rig_stage *stage = stage_now(x);
  status code = set_conditions(x, msg);
  if (code == STATUS_OK && stage->kind == STAGE_FILL)
    code = pour_in(x, stage, msg);
  if (code == STATUS_OK && stage->kind == STAGE_EXCHANGE)
    code = exchange(x, stage, msg);
  if (code == STATUS_OK && stage->kind == STAGE_POUR_OFF)
    code = pour_off(x, stage, msg);
  if (code == STATUS_OK && stage->kind == STAGE_ADD_SALT)
    code = add_salt(x, stage, msg);
  if (code == STATUS_OK && stage->dips)
    run_dip_begin(x);
  if (stage->kind == STAGE_FREEZE && x->stage > run_parts_judged_stage(x->rig))
    count_anew(x);
  if (stage->kind == STAGE_RELEASE)
    x->clock[CLOCK_LOST_ICE] = ice_now(x, stage->body);
  const bool before_plain = x->stage == 0 || is_plain(x->rig, stage - 1);
  if (!is_plain(x->rig, stage) || !before_plain)
    run_parts_forget_history(x);
  return code;
}

/* ---- what ends it ---- */

/* The film between the ice of the stage's body and its mould, for enthalpies. */
static status film_of(run *x, const double *enthalpy, release_film *film, message *msg)
{
  uint8_t *is_mould = calloc(x->rig->num_parts + 1, sizeof *is_mould);
  if (!is_mould)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the moulds", x->rig->num_parts);
  for (size_t part = 0; part < x->rig->num_parts; part++)
    is_mould[part] = x->rig->parts[part].kind == PART_SOLID || x->rig->parts[part].kind == PART_HELD;
  run_parts_show_state(x, enthalpy);
  const int body = stage_now(x)->body;
  const release_ice ice = {x->temperature, x->liquid_fraction, curve_of(x, body)};
  const status code = release_film_now(film, x->mesh, &x->neighbours, x->rig->bodies[body].part, is_mould, &ice, msg);
  free(is_mould);
  return code;
}

static status is_met(run *x, const double *enthalpy, bool *met, message *msg)
{
  const rig_stage *stage = stage_now(x);
  if (stage->until == UNTIL_LETS_GO) {
    run_parts_show_state(x, enthalpy);
    return run_finish_lets_go(x, met, msg);
  }
  release_film film;
  const status code = film_of(x, enthalpy, &film, msg);
  *met = film.thinnest >= stage->film;
  return code;
}

/* Halves the step, linear in enthalpy, until the change from no to yes is known. */
static status halve(run *x, const double *before, double t0, double *at, message *msg)
{
  const double t1 = x->state.time;
  const size_t num = network_num_nodes(x->net);
  double low = 0.0, high = 1.0;
  bool met = false;
  status code = is_met(x, before, &met, msg);
  if (code == STATUS_OK && met) {
    *at = t0;
    return STATUS_OK;
  }
  while (code == STATUS_OK && (high - low) * (t1 - t0) > HALVED_TO) {
    const double middle = 0.5 * (low + high);
    for (size_t i = 0; i < num; i++)
      x->blend[i] = before[i] + middle * (x->state.enthalpy[i] - before[i]);
    code = is_met(x, x->blend, &met, msg);
    *(met ? &high : &low) = middle;
  }
  *at = t0 + high * (t1 - t0);
  return code;
}

static double all_frozen_at(const run *x, const double *before, double t0)
{
  double last = t0;
  for (size_t body = 0; body < x->rig->num_bodies; body++) {
    body_watch *b = &x->bodies[body];
    if (!isnan(b->solid_at))
      continue;
    const double at = body_watch_completion(b, x->net, curve_of(x, (int)body), t0, before, x->state.time, x->state.enthalpy);
    if (isnan(at))
      return NAN;
    last = fmax(last, at);
  }
  return last;
}

static double temperature_met_at(const run *x, const double *before, double t0)
{
  const rig_stage *stage = stage_now(x);
  const double T0 = network_part_mean_temperature(x->net, before, stage->part);
  const double T1 = network_part_mean_temperature(x->net, x->state.enthalpy, stage->part);
  const bool met = stage->until == UNTIL_PART_BELOW ? T1 <= stage->temperature : T1 >= stage->temperature;
  return !met ? NAN : T0 == T1 ? t0 : fmax(t0, t0 + (x->state.time - t0) * (stage->temperature - T0) / (T1 - T0));
}

status run_stage_end_time(run *x, const double *before, double t0, double *at, message *msg)
{
  const rig_stage *stage = stage_now(x);
  *at = NAN;
  if (stage->until == UNTIL_FROZEN) {
    *at = all_frozen_at(x, before, t0);
  } else if (stage->until == UNTIL_PART_BELOW || stage->until == UNTIL_PART_ABOVE) {
    *at = temperature_met_at(x, before, t0);
  } else if (stage->until == UNTIL_RELEASED || stage->until == UNTIL_LETS_GO) {
    bool met = false;
    const status code = is_met(x, x->state.enthalpy, &met, msg);
    return code == STATUS_OK && met ? halve(x, before, t0, at, msg) : code;
  }
  return STATUS_OK;
}

const char *run_stage_reason(const rig_stage *stage, double over)
{
  if (over > 1.5)
    return stage->until == UNTIL_TIME ? (stage->limit > 0.0 ? "time" : "done") : "time limit";
  switch (stage->until) {
  case UNTIL_FROZEN:
    return "frozen";
  case UNTIL_RELEASED:
    return "released";
  case UNTIL_LETS_GO:
    return "bath lets go";
  case UNTIL_MELTED:
    return "melted";
  case UNTIL_TIME:
  case UNTIL_PART_BELOW:
  case UNTIL_PART_ABOVE:
    break;
  }
  return "temperature";
}

/* ---- its results ---- */

static void finish_freeze(run *x, stage_result *out)
{
  double ice = 0.0, all = 0.0;
  stage_freeze *f = &out->freeze;
  *f = (stage_freeze){.present = true, .complete = true, .time = 0.0};
  for (size_t body = 0; body < x->rig->num_bodies; body++) {
    const body_watch *b = &x->bodies[body];
    f->complete = f->complete && !isnan(b->solid_at);
    f->time = fmax(f->time, b->solid_at - out->start_at);
    ice += b->share * b->volume;
    all += b->volume;
    for (int i = 0; i < BODY_WATCH_MARKS; i++)
      f->mark[i] = body == 0 && b->mark[i] >= out->start_at ? b->mark[i] - out->start_at : NAN;
  }
  f->time = f->complete ? f->time : NAN;
  f->fraction = all > 0.0 ? ice / all : NAN;
}

static status finish_release(run *x, stage_result *out, message *msg)
{
  release_film film;
  const rig_stage *stage = stage_now(x);
  const status code = film_of(x, x->state.enthalpy, &film, msg);
  release_result *r = &out->release;
  *r = (release_result){.present = true, .film_mean = film.mean, .time = NAN, .heat = 0.0};
  if (stage->until == UNTIL_RELEASED && x->clock[CLOCK_STAGE_OVER] < 1.5)
    r->time = out->end_at - out->start_at;
  const ledger_mark from = run_parts_mark_at(x, x->stage);
  for (size_t path = 0; path < network_num_paths(x->net); path++)
    r->heat += x->state.path_heat[path] - from.path_heat[path];
  r->ice_lost = x->clock[CLOCK_LOST_ICE] - ice_now(x, stage->body);
  if (stage->dips)
    r->heat += run_dip_end(x);
  memcpy(r->position, film.position, sizeof r->position);
  return code;
}

status run_stage_finish(run *x, message *msg)
{
  stage_result *out = &x->results.stages[x->stage];
  const rig_stage *stage = stage_now(x);
  if (stage->kind == STAGE_FREEZE)
    finish_freeze(x, out);
  return stage->kind == STAGE_RELEASE ? finish_release(x, out, msg) : STATUS_OK;
}
