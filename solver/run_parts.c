#include "solver/run_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/run_dip.h"
#include "solver/run_piece.h"
#include "solver/run_stage.h"
#include "solver/series.h"

enum { EVENTS_PER_STEP = 8, FIRST_EVENTS = 64 };

size_t run_parts_judged_stage(const rig *r) { return rig_stage_judged(r->stages, r->num_stages); }

double run_parts_latent_scale(const rig *r)
{
  double smallest = INFINITY;
  for (size_t body = 0; body < r->num_bodies; body++)
    smallest = fmin(smallest, r->parts[r->bodies[body].part].stuff->latent_heat);
  return isfinite(smallest) && smallest > 0.0 ? smallest : 3e8;
}

/* ------------------------------------------------------------------------------------------------ making */

static status allocate_results(run *x)
{
  const rig *r = x->rig;
  results *res = &x->results;
  res->num_bodies = r->num_bodies;
  res->num_baths = r->num_baths;
  res->num_stages = r->num_stages;
  res->num_nodes = x->mesh->num_nodes;
  res->last_body = res->contact_bath = -1;
  res->bodies = calloc(r->num_bodies + 1, sizeof *res->bodies);
  res->baths = calloc(r->num_baths + 1, sizeof *res->baths);
  res->stages = calloc(r->num_stages + 1, sizeof *res->stages);
  res->front_speed = malloc((res->num_nodes + 1) * sizeof *res->front_speed);
  res->pocket = malloc((res->num_nodes + 1) * sizeof *res->pocket);
  res->events = calloc(FIRST_EVENTS, sizeof *res->events);
  x->event_capacity = FIRST_EVENTS;
  return res->bodies && res->baths && res->stages && res->front_speed && res->pocket && res->events ? STATUS_OK
                                                                                                    : STATUS_NO_MEMORY;
}

static status allocate_state(run *x)
{
  const rig *r = x->rig;
  const size_t nodes = x->mesh->num_nodes, unknowns = network_num_nodes(x->net);
  x->state.enthalpy = calloc(unknowns + 1, sizeof(double));
  x->state.path_heat = calloc(network_num_paths(x->net) + 1, sizeof(double));
  x->blend = calloc(unknowns + 1, sizeof(double));
  x->temperature = calloc(nodes + 1, sizeof(double));
  x->liquid_fraction = calloc(nodes + 1, sizeof(double));
  x->front_levels = calloc(network_num_nodes(x->net) + 1, sizeof *x->front_levels);
  x->bodies = calloc(r->num_bodies + 1, sizeof *x->bodies);
  x->body_memory = calloc((r->num_bodies + 1) * BODY_WATCH_MEMORY, sizeof(double));
  x->judged_memory = calloc((r->num_bodies + 1) * BODY_WATCH_MEMORY, sizeof(double));
  x->piece_marks = calloc((r->num_stages + 1) * RUN_PIECE_MARKS, sizeof(double));
  x->mark_memory = calloc((r->num_stages + 1) * ledger_mark_size(x->net, r) + 1, sizeof(double));
  x->stage_memory = calloc((r->num_stages + 1) * STAGE_MEMORY, sizeof(double));
  return x->state.enthalpy && x->state.path_heat && x->blend && x->temperature && x->liquid_fraction && x->front_levels && x->bodies &&
                 x->body_memory && x->judged_memory && x->piece_marks && x->mark_memory && x->stage_memory
             ? STATUS_OK
             : STATUS_NO_MEMORY;
}

status run_parts_allocate(run *x, message *msg)
{
  const rig *r = x->rig;
  if (allocate_state(x) != STATUS_OK || allocate_results(x) != STATUS_OK)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: about %zu bytes for the state of %zu nodes",
                       x->mesh->num_nodes * 60, x->mesh->num_nodes);
  status code = STATUS_OK;
  for (size_t body = 0; code == STATUS_OK && body < r->num_bodies; body++)
    code = body_watch_create(&x->bodies[body], x->net, r->bodies[body].part, msg);
  if (code == STATUS_OK)
    code = front_track_create(&x->front, x->mesh, r, msg);
  if (code == STATUS_OK)
    code = run_piece_allocate(x, msg);
  if (code == STATUS_OK)
    code = run_dip_allocate(x, msg);
  if (code == STATUS_OK) {
    x->results.freeze_time = front_track_freeze_time(x->front);
    x->results.solid_time = front_track_solid_time(x->front);
  }
  return code;
}

static void release_results(results *res)
{
  for (size_t body = 0; res->bodies && body < res->num_bodies; body++)
    free(res->bodies[body].pockets);
  for (size_t stage = 0; res->stages && stage < res->num_stages; stage++)
    ledger_release(&res->stages[stage].ledger);
  ledger_release(&res->ledger);
  free(res->bodies);
  free(res->baths);
  free(res->stages);
  free(res->events);
  free(res->warnings);
  free(res->front_speed);
  free(res->pocket);
  free(res->gas_fraction);
  free(res->clarity);
  free(res->minerals);
  free(res->clear_speed);
  series_release(&res->series);
}

void run_parts_release(run *x)
{
  for (size_t body = 0; x->bodies && body < x->rig->num_bodies; body++)
    body_watch_release(&x->bodies[body]);
  front_track_destroy(&x->front);
  release_results(&x->results);
  free(x->state.enthalpy);
  free(x->state.path_heat);
  free(x->blend);
  free(x->temperature);
  free(x->liquid_fraction);
  free(x->front_levels);
  free(x->bodies);
  free(x->body_memory);
  free(x->judged_memory);
  free(x->piece_marks);
  free(x->piece_memory);
  free(x->aside);
  melt_destroy(&x->piece);
  free(x->mark_memory);
  free(x->stage_memory);
}

status run_parts_initial_state(run *x, message *msg)
{
  const rig *r = x->rig;
  network_initial(x->net, x->state.enthalpy);
  const rig_control *control = &r->control;
  x->clock[CLOCK_NEXT_CHECKPOINT] = control->checkpoint_interval;
  for (size_t body = 0; body < r->num_bodies; body++)
    x->bodies[body].share =
        body_watch_share_at(&x->bodies[body], x->net, liquids_curve(x->liquids, x->bodies[body].part), x->state.enthalpy);
  if (!(control->output_interval > 0.0) || !(control->series_interval > 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "output and series intervals must be above 0 s; got %g s and %g s",
                       control->output_interval, control->series_interval);
  run_parts_show(x, 0.0);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ the series */

status run_parts_columns(run *x, message *msg)
{
  const rig *r = x->rig;
  time_series *s = &x->results.series;
  status code = series_add_column(s, "s", msg, "time");
  for (size_t body = 0; code == STATUS_OK && body < r->num_bodies; body++)
    code = series_add_column(s, "1", msg, "%s.frozen_share", r->bodies[body].name);
  for (size_t part = 0; code == STATUS_OK && part < r->num_parts; part++)
    if (r->parts[part].kind != PART_HELD)
      code = series_add_column(s, "degC", msg, "%s.temperature", r->parts[part].name);
  for (size_t bath = 0; code == STATUS_OK && bath < r->num_baths; bath++) {
    code = series_add_column(s, "1", msg, "%s.mass_fraction", r->baths[bath].name);
    if (code == STATUS_OK)
      code = series_add_column(s, "1", msg, "%s.ice_fraction", r->baths[bath].name);
  }
  if (code == STATUS_OK && r->num_coils) {
    code = series_add_column(s, "degC", msg, "coolant.temperature");
    if (code == STATUS_OK)
      code = series_add_column(s, "W", msg, "coolant.heat");
    if (code == STATUS_OK && r->plant.present)
      code = series_add_column(s, "W", msg, "plant.power");
  }
  for (size_t probe = 0; code == STATUS_OK && probe < r->num_probes; probe++)
    code = series_add_column(s, "degC", msg, "probe.%s", r->probes[probe].name);
  if (code == STATUS_OK && run_piece_wanted(r)) {
    code = series_add_column(s, "kg", msg, "piece.mass");
    if (code == STATUS_OK)
      code = series_add_column(s, "degC", msg, "piece.temperature");
  }
  return code;
}

static double probe_temperature(const run *x, const rig_probe *probe, const double *enthalpy)
{
  const int32_t node = mesh_node_at(x->mesh, probe->point);
  if (node == MESH_NONE)
    return NAN;
  network_ice bath;
  if (network_ice_at(x->net, x->mesh->part[node], enthalpy, &bath))
    return bath.temperature;
  const int32_t unknown = network_node(x->net)[node];
  return phase_curve_temperature(liquids_curve(x->liquids, x->mesh->part[node]), enthalpy[unknown]);
}

static status add_row(run *x, double time, const double *enthalpy, message *msg)
{
  const rig *r = x->rig;
  double *row = series_append(&x->results.series, msg);
  if (!row)
    return STATUS_NO_MEMORY;
  size_t c = 0;
  row[c++] = time;
  for (size_t body = 0; body < r->num_bodies; body++)
    row[c++] = (x->piece ? body_watch_share_at : body_watch_share)(&x->bodies[body], x->net, liquids_curve(x->liquids, x->bodies[body].part), enthalpy);
  for (size_t part = 0; part < r->num_parts; part++)
    if (r->parts[part].kind != PART_HELD)
      row[c++] = network_part_mean_temperature(x->net, enthalpy, (int)part);
  for (size_t bath = 0; bath < r->num_baths; bath++) {
    const bath_state b = liquids_bath(x->liquids, bath, enthalpy);
    row[c++] = b.mass_fraction;
    row[c++] = b.ice_fraction;
  }
  if (r->num_coils) {
    row[c++] = x->piece ? NAN : coolant_temperature(x->coolant); /* nobody looks at the rig once the piece is out */
    row[c++] = x->piece ? NAN : coolant_heat(x->coolant);
    if (r->plant.present)
      row[c++] = x->piece ? NAN : coolant_power(x->coolant);
  }
  for (size_t probe = 0; probe < r->num_probes; probe++)
    row[c++] = probe_temperature(x, &r->probes[probe], enthalpy);
  if (run_piece_wanted(r)) {
    row[c++] = x->piece ? x->piece_row[0] : NAN;
    row[c++] = x->piece ? x->piece_row[1] : NAN;
  }
  return STATUS_OK;
}

static void blend(run *x, double t0, const double *before, double t1, double time)
{
  const size_t num = network_num_nodes(x->net);
  const double weight = t1 > t0 ? (time - t0) / (t1 - t0) : 1.0;
  for (size_t i = 0; i < num; i++)
    x->blend[i] = before[i] + weight * (x->state.enthalpy[i] - before[i]);
}

status run_parts_note_series(run *x, double t0, const double *before, double t1, message *msg)
{
  status code = STATUS_OK;
  const double interval = x->rig->control.series_interval;
  if (x->clock[CLOCK_NEXT_SERIES] == 0.0) {
    code = add_row(x, 0.0, before, msg);
    x->clock[CLOCK_NEXT_SERIES] = interval;
  }
  while (code == STATUS_OK && x->clock[CLOCK_NEXT_SERIES] <= t1) {
    blend(x, t0, before, t1, x->clock[CLOCK_NEXT_SERIES]);
    code = add_row(x, x->clock[CLOCK_NEXT_SERIES], x->blend, msg);
    x->clock[CLOCK_NEXT_SERIES] += interval;
  }
  return code;
}

status run_parts_note_piece(run *x, double t0, const double from[2], const double to[2], message *msg)
{
  status code = STATUS_OK;
  const double t1 = x->state.time;
  while (code == STATUS_OK && x->clock[CLOCK_NEXT_SERIES] <= t1) {
    const double share = t1 > t0 ? (x->clock[CLOCK_NEXT_SERIES] - t0) / (t1 - t0) : 1.0;
    for (int i = 0; i < 2; i++)
      x->piece_row[i] = from[i] + share * (to[i] - from[i]);
    code = add_row(x, x->clock[CLOCK_NEXT_SERIES], x->state.enthalpy, msg);
    x->clock[CLOCK_NEXT_SERIES] += x->rig->control.series_interval;
  }
  return code;
}

/* ------------------------------------------------------------------------------------------------ notes after a step */

static double next_row_of(const schedule *s, double time, double sooner)
{
  for (size_t row = 0; s->num > 1 && row < s->num; row++)
    if (s->time[row] > time * (1.0 + 1e-12) && s->time[row] < sooner)
      return s->time[row];
  return sooner;
}

double run_parts_next_table_row(const rig *r, double time)
{
  double next = INFINITY;
  next = next_row_of(&r->room.temperature, time, next);
  next = next_row_of(&r->room.floor_temperature, time, next);
  for (size_t part = 0; part < r->num_parts; part++)
    next = next_row_of(&r->parts[part].held, time, next);
  for (size_t rule = 0; rule < r->num_rules; rule++) {
    next = next_row_of(&r->rules[rule].coefficient, time, next);
    next = next_row_of(&r->rules[rule].temperature, time, next);
  }
  for (size_t coil = 0; coil < r->num_coils; coil++)
    next = next_row_of(&r->coils[coil].temperature, time, next);
  return next;
}

ledger_mark run_parts_mark_at(const run *x, size_t which)
{
  return ledger_mark_in(x->mark_memory + which * ledger_mark_size(x->net, x->rig), x->net, x->rig);
}

/* J of a bath's ice, below 0: its mass times the mean of the latent heats where the first of it formed and where the last. */
static double latent_of_bath(const run *x, size_t bath)
{
  const rig_bath *b = &x->rig->baths[bath];
  const bath_state now = liquids_bath(x->liquids, bath, x->state.enthalpy);
  if (!(now.ice_fraction > 0.0))
    return 0.0;
  const double end = brine_onset(b->salt, b->liquidus, brine_eutectic(b->salt).mass_fraction);
  const double first = brine_onset(b->salt, b->liquidus, b->mass_fraction), last = now.onset >= end ? now.onset : end;
  return -now.ice_fraction * b->mass * 0.5 * (brine_effective_latent_heat(b->salt, first) + brine_effective_latent_heat(b->salt, last));
}

static void fill_latent(const run *x, double *latent)
{
  for (size_t body = 0; body < x->rig->num_bodies; body++) {
    const body_watch *w = &x->bodies[body];
    const phase_curve *c = liquids_curve(x->liquids, w->part);
    latent[w->part] = (1.0 - body_watch_share_at(w, x->net, c, x->state.enthalpy)) * w->volume * (c->liquid_enthalpy - c->solid_enthalpy);
  }
  for (size_t bath = 0; bath < x->rig->num_baths; bath++)
    latent[x->rig->baths[bath].part] = latent_of_bath(x, bath);
}

status run_parts_mark(run *x, size_t which, message *msg)
{
  ledger_mark mark = run_parts_mark_at(x, which);
  double *latent = calloc(x->rig->num_parts + 1, sizeof *latent);
  if (!latent)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the books of %zu parts", x->rig->num_parts);
  fill_latent(x, latent);
  ledger_mark_take(&mark, x->net, x->rig, &x->state, latent, (const double[LEDGER_BROUGHT]){x->clock[CLOCK_CARRIED], x->clock[CLOCK_DISSOLVED], x->clock[CLOCK_DIPPED]}, x->clock[CLOCK_ROUNDS]);
  free(latent);
  return STATUS_OK;
}

void run_parts_note_front(run *x, double t0, const double *before, double t1)
{
  for (size_t i = 0; i < network_front_num(x->net); i++) {
    const network_front_node at = network_front_at(x->net, i);
    x->front_levels[i] = (front_levels){.node = at.node, .start = at.begin, .freeze = at.half, .solid = at.end};
  }
  front_track_set_levels(x->front, x->front_levels, network_front_num(x->net));
  front_track_update_with_rate(x->front, t0, before, heat_step_rate_before(x->step), t1, x->state.enthalpy);
}

status run_parts_note_moisture(run *x, message *msg)
{
  const rig *r = x->rig;
  status code = STATUS_OK;
  for (size_t bath = 0; code == STATUS_OK && bath < r->num_baths; bath++)
    for (size_t path = 0; r->baths[bath].open_surface && code == STATUS_OK && path < network_num_paths(x->net); path++) {
      const char *name = network_path_name(x->net, path);
      if (strncmp(name, NETWORK_MOISTURE, strlen(NETWORK_MOISTURE)) == 0 && strcmp(name + strlen(NETWORK_MOISTURE), r->parts[r->baths[bath].part].name) == 0)
        code = liquids_take_moisture(x->liquids, bath, x->state.path_heat[path], x->state.enthalpy, msg);
    }
  return code;
}

static status make_room_for_events(run *x, size_t more, message *msg)
{
  results *res = &x->results;
  if (res->num_events + more <= x->event_capacity)
    return STATUS_OK;
  const size_t capacity = 2 * x->event_capacity + more;
  run_event *events = realloc(res->events, capacity * sizeof *events);
  if (!events)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for events", capacity * sizeof *events);
  memset(events + x->event_capacity, 0, (capacity - x->event_capacity) * sizeof *events);
  res->events = events;
  x->event_capacity = capacity;
  return STATUS_OK;
}

status run_parts_add_event(run *x, const char *what, const char *where, double value, message *msg)
{
  const status code = make_room_for_events(x, 1, msg);
  if (code != STATUS_OK)
    return code;
  run_event *e = &x->results.events[x->results.num_events++];
  memset(e, 0, sizeof *e); /* saved byte by byte */
  e->at = e->last_at = x->state.time;
  e->value = value;
  e->count = 1.0;
  (void)snprintf(e->stage, sizeof e->stage, "%s", x->rig->stages[x->stage].name);
  (void)snprintf(e->what, sizeof e->what, "%s", what);
  (void)snprintf(e->where, sizeof e->where, "%s", where);
  return STATUS_OK;
}

status run_parts_note_events(run *x, double t0, double t1, message *msg)
{
  results *res = &x->results;
  const status code = make_room_for_events(x, EVENTS_PER_STEP, msg);
  if (code != STATUS_OK)
    return code;
  run_event *next = res->events + res->num_events;
  const size_t num = coolant_accept(x->coolant, x->state.enthalpy, t0, t1, next, EVENTS_PER_STEP);
  for (size_t i = 0; i < num; i++)
    (void)snprintf(next[i].stage, sizeof next[i].stage, "%s", x->rig->stages[x->stage].name);
  res->num_events += num;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ showing */

/* A stirred bath is everywhere as warm as its liquid; its ice is on tubes and walls, but for what floats. */
static void show_stirred(run *x, const double *enthalpy)
{
  for (size_t bath = 0; bath < x->rig->num_baths; bath++) {
    network_ice ice;
    const int part = x->rig->baths[bath].part;
    if (!network_ice_at(x->net, part, enthalpy, &ice))
      continue;
    for (size_t node = 0; node < x->mesh->num_nodes; node++)
      if (x->mesh->part[node] == part && x->mesh->volume[node] > 0.0) {
        x->temperature[node] = ice.temperature;
        x->liquid_fraction[node] = 1.0 - ice.floating;
      }
  }
}

void run_parts_show_state(run *x, const double *enthalpy)
{
  const mesh *m = x->mesh;
  const int32_t *unknown = network_node(x->net);
  for (size_t node = 0; node < m->num_nodes; node++) {
    if (!(m->volume[node] > 0.0)) {
      x->temperature[node] = x->liquid_fraction[node] = NAN;
      continue;
    }
    const phase_curve *curve = liquids_curve(x->liquids, m->part[node]);
    x->temperature[node] = phase_curve_temperature(curve, enthalpy[unknown[node]]);
    x->liquid_fraction[node] = phase_curve_liquid_fraction(curve, enthalpy[unknown[node]]);
  }
  show_stirred(x, enthalpy);
}

void run_parts_show(run *x, double time)
{
  const double *enthalpy = x->state.enthalpy;
  if (time < x->state.time && !x->piece) {
    blend(x, heat_step_previous_time(x->step), heat_step_previous_enthalpy(x->step), x->state.time, time);
    enthalpy = x->blend;
  }
  run_parts_show_state(x, enthalpy);
  run_piece_show(x);
  x->shown_time = time;
}

static void keep_bodies(const run *x, double *memory)
{
  for (size_t body = 0; body < x->rig->num_bodies; body++)
    body_watch_save(&x->bodies[body], memory + body * BODY_WATCH_MEMORY);
}

static void load_bodies(run *x, const double *memory)
{
  for (size_t body = 0; body < x->rig->num_bodies; body++)
    body_watch_load(&x->bodies[body], memory + body * BODY_WATCH_MEMORY);
}

void run_parts_keep_judged(run *x) { keep_bodies(x, x->judged_memory); }
void run_parts_load_judged(run *x) { load_bodies(x, x->judged_memory); }

/* ------------------------------------------------------------------------------------------------ saving */

/* One list for both ways: what of a stage's result is saved. */
static size_t stage_values(stage_result *s, double *(*list)[STAGE_MEMORY])
{
  plant_result *p = &s->plant;
  stage_freeze *f = &s->freeze;
  release_result *r = &s->release;
  piece_result *o = &s->piece;
  double *const all[] = {&s->start_at,         &s->end_at,          &p->evaporating.mean, &p->evaporating.low, &p->evaporating.high, &p->condensing.mean,
                         &p->condensing.low,   &p->condensing.high, &p->suction.mean,     &p->suction.low,     &p->suction.high,     &p->discharge.mean,
                         &p->discharge.low,    &p->discharge.high,  &p->heat,             &p->work,            &p->mean_power,       &p->running,
                         &p->gas_high,         &f->time,            &f->fraction,         &f->mark[0],         &f->mark[1],          &f->mark[2],
                         &r->time,             &r->heat,            &r->ice_lost,         &r->film_mean,       &r->position[0],      &r->position[1],
                         &r->position[2],      &o->time,            &o->mark[0],          &o->mark[1],         &o->mark[2],          &o->mass_start,
                         &o->mass_end,         &o->mean_temperature, &o->pool_temperature, &o->surface_error,  &o->crack_index,      &o->warmest_start,
                         &o->tempering,        &o->pool_ice};
  memcpy(*list, all, sizeof all);
  return sizeof all / sizeof *all;
}

void run_parts_save_stage(run *x)
{
  stage_result *s = &x->results.stages[x->stage];
  double *value[STAGE_MEMORY], *to = x->stage_memory + x->stage * STAGE_MEMORY;
  const size_t num = stage_values(s, &value);
  for (size_t i = 0; i < num; i++)
    *to++ = *value[i];
  const double flags[] = {x->clock[CLOCK_STAGE_OVER], s->plant.present, s->freeze.present, s->freeze.complete, s->release.present, s->piece.present};
  memcpy(to, flags, sizeof flags);
}

static void load_stage(run *x, size_t stage)
{
  stage_result *s = &x->results.stages[stage];
  double *value[STAGE_MEMORY];
  const double *from = x->stage_memory + stage * STAGE_MEMORY;
  const size_t num = stage_values(s, &value);
  for (size_t i = 0; i < num; i++)
    *value[i] = *from++;
  (void)snprintf(s->ended_by, sizeof s->ended_by, "%s", run_stage_reason(&x->rig->stages[stage], from[0]));
  s->plant.present = from[1] != 0.0;
  s->freeze.present = from[2] != 0.0;
  s->freeze.complete = from[3] != 0.0;
  s->release.present = from[4] != 0.0;
  s->piece.present = from[5] != 0.0;
}

void run_parts_forget_history(run *x)
{
  heat_step_restart(x->step);
  network_restart(x->net);
}

static void gather_memory(run *x)
{
  x->clock[CLOCK_TIME] = x->state.time;
  x->clock[CLOCK_NEXT_STEP] = x->state.next_step;
  x->clock[CLOCK_LAST_ERROR] = x->state.last_error;
  x->clock[CLOCK_OPEN] = x->state.open;
  x->clock[CLOCK_NODES_AHEAD] = (double)x->state.nodes_ahead;
  x->clock[CLOCK_STAGE] = (double)x->stage;
  x->clock[CLOCK_DOING] = (double)x->doing;
  x->clock[CLOCK_NUM_EVENTS] = (double)x->results.num_events;
  x->clock[CLOCK_NUM_ROWS] = (double)x->results.series.num_rows;
  keep_bodies(x, x->body_memory);
  run_piece_keep(x);
}

static void scatter_memory(run *x)
{
  x->state.time = x->clock[CLOCK_TIME];
  x->state.next_step = x->clock[CLOCK_NEXT_STEP];
  x->state.last_error = x->clock[CLOCK_LAST_ERROR];
  x->state.open = x->clock[CLOCK_OPEN];
  x->state.nodes_ahead = (int)x->clock[CLOCK_NODES_AHEAD];
  x->stage = (size_t)x->clock[CLOCK_STAGE];
  x->doing = (run_doing)x->clock[CLOCK_DOING];
  x->results.num_events = (size_t)x->clock[CLOCK_NUM_EVENTS];
  x->results.series.num_rows = (size_t)x->clock[CLOCK_NUM_ROWS];
  load_bodies(x, x->body_memory);
  for (size_t stage = 0; stage < x->stage; stage++)
    load_stage(x, stage);
  /* What was known of a piece when its stage began is not found out again. */
  if (x->stage < x->rig->num_stages && x->doing != DO_STAGE_START && rig_stage_is_of_piece(&x->rig->stages[x->stage]))
    load_stage(x, x->stage);
}

static void add_field(run *x, size_t *num, const char *name, const char *unit, field_type type, size_t count, void *data)
{
  if (*num < STATE_FIELDS_MOST && count > 0)
    x->fields[(*num)++] = (state_field){.name = name, .unit = unit, .type = type, .count = count, .data = data};
}

size_t run_state(run *x, const state_field **fields)
{
  gather_memory(x);
  const rig *r = x->rig;
  results *res = &x->results;
  size_t num = 0;
  add_field(x, &num, "clock", "1", FIELD_DOUBLE, CLOCK_NUM, x->clock);
  add_field(x, &num, "enthalpy", "J m-3", FIELD_DOUBLE, network_num_nodes(x->net), x->state.enthalpy);
  add_field(x, &num, "path_heat", "J", FIELD_DOUBLE, network_num_paths(x->net), x->state.path_heat);
  add_field(x, &num, "bodies", "1", FIELD_DOUBLE, r->num_bodies * BODY_WATCH_MEMORY, x->body_memory);
  add_field(x, &num, "judged_bodies", "1", FIELD_DOUBLE, r->num_bodies * BODY_WATCH_MEMORY, x->judged_memory);
  add_field(x, &num, "piece", "1", FIELD_DOUBLE, x->piece_length, x->piece_memory);
  add_field(x, &num, "aside", "J m-3", FIELD_DOUBLE, x->aside_length, x->aside);
  add_field(x, &num, "piece_marks", "J", FIELD_DOUBLE, x->piece_length ? (r->num_stages + 1) * RUN_PIECE_MARKS : 0, x->piece_marks);
  add_field(x, &num, "stages", "1", FIELD_DOUBLE, r->num_stages * STAGE_MEMORY, x->stage_memory);
  add_field(x, &num, "ledger_marks", "J", FIELD_DOUBLE, (r->num_stages + 1) * ledger_mark_size(x->net, r), x->mark_memory);
  add_field(x, &num, "baths", "1", FIELD_BYTES, r->num_baths * sizeof *res->baths, res->baths);
  add_field(x, &num, "liquids", "1", FIELD_DOUBLE, liquids_num_memory(x->liquids), liquids_memory(x->liquids));
  add_field(x, &num, "coolant", "1", FIELD_DOUBLE, coolant_num_memory(x->coolant), coolant_memory(x->coolant));
  add_field(x, &num, "front", "s", FIELD_DOUBLE, front_track_num_memory(x->front), front_track_memory(x->front));
  size_t num_front = 0;
  unsigned char *front = network_front_memory(x->net, &num_front);
  add_field(x, &num, "front_nodes", "1", FIELD_BYTES, num_front, front);
  add_field(x, &num, "horizontal_factor", "1", FIELD_DOUBLE, x->mesh->num_nodes, network_horizontal_factor(x->net));
  add_field(x, &num, "vertical_factor", "1", FIELD_DOUBLE, x->mesh->num_nodes, network_vertical_factor(x->net));
  add_field(x, &num, "series", "1", FIELD_DOUBLE, res->series.num_rows * res->series.num_columns, res->series.values);
  add_field(x, &num, "events", "1", FIELD_BYTES, res->num_events * sizeof *res->events, res->events);
  *fields = x->fields;
  return num;
}

status run_reserve(run *x, size_t num_series_rows, size_t num_events, message *msg)
{
  results *res = &x->results;
  status code = series_reserve(&res->series, num_series_rows, msg);
  if (code != STATUS_OK)
    return code;
  if (num_events > x->event_capacity) {
    run_event *events = realloc(res->events, num_events * sizeof *events);
    if (!events)
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for events", num_events * sizeof *events);
    res->events = events;
    x->event_capacity = num_events;
  }
  res->series.num_rows = num_series_rows;
  res->num_events = num_events;
  return STATUS_OK;
}

status run_restored(run *x, message *msg)
{
  scatter_memory(x);
  run_parts_forget_history(x);
  status code = run_stage_restored(x, msg);
  if (code == STATUS_OK)
    code = liquids_restored(x->liquids, x->state.enthalpy, msg);
  if (code == STATUS_OK)
    code = run_piece_restored(x, msg);
  if (code == STATUS_OK)
    run_parts_show(x, x->state.time);
  return code;
}
