#include "solver/run.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/body_watch.h"
#include "solver/coolant.h"
#include "solver/front.h"
#include "solver/heat_step.h"
#include "solver/ledger.h"
#include "solver/liquids.h"
#include "solver/run_finish.h"
#include "solver/run_layers.h"
#include "solver/run_parts.h"
#include "solver/run_piece.h"
#include "solver/run_stage.h"
#include "solver/series.h"

static const double LONGEST_MIXED_STEP = 300.0;      /* s: the strength of a mixed bath is frozen within a step */
static const double LONGEST_SWINGING_STEP = 1800.0;  /* s: a day's swing of the room is followed to 0.2 % of it */
/* A film of melted water grows from nothing, and what it resists stays over a step: s, and share of the time since the release began.
 * (Steps as long as the error estimate lets them be made a dip of 34 s end after 24.) */
static const double FIRST_THAWING_STEP = 0.5, THAWING_STEP = 0.05;
static const double EVENT_TIME_TOLERANCE = 1.0;      /* s: events are met to the second */
static const double SHORTEST_CUT = 0.05;             /* s past a crossing to land on   */

/* ------------------------------------------------------------------------------------------------ life */

static status make_parts(run *x, message *msg)
{
  const rig *r = x->rig;
  status code = run_layers_mesh(&x->mesh, r, msg);
  if (code == STATUS_OK)
    code = adjacency_create(&x->neighbours, x->mesh, msg);
  if (code == STATUS_OK)
    code = network_create(&x->net, x->mesh, r, msg);
  if (code == STATUS_OK)
    code = liquids_create(&x->liquids, x->mesh, &x->neighbours, r, x->net, msg);
  if (code == STATUS_OK)
    code = coolant_create(&x->coolant, r, x->net, msg);
  if (code != STATUS_OK)
    return code;
  const heat_step_options options = {.integrator = r->control.integrator,
                                     .tolerance = r->control.tolerance,
                                     .latent_scale = run_parts_latent_scale(r),
                                     .longest_step = r->control.longest_step};
  return heat_step_create(&x->step, x->net, &options, msg);
}

status run_create(run **out, const rig *r, message *msg)
{
  run *x = calloc(1, sizeof *x);
  if (!x)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a run", sizeof *x);
  x->rig = r;
  status code = make_parts(x, msg);
  if (code == STATUS_OK)
    code = run_parts_allocate(x, msg);
  if (code == STATUS_OK)
    code = run_parts_initial_state(x, msg);
  if (code == STATUS_OK)
    code = run_parts_columns(x, msg);
  if (code == STATUS_OK) {
    x->doing = DO_STAGE_START;
    *out = x;
  } else {
    run_destroy(&x);
  }
  return code;
}

void run_destroy(run **x)
{
  if (!*x)
    return;
  run_parts_release(*x);
  run_both_destroy(&(*x)->both);
  run_switch_off_destroy(&(*x)->switch_off);
  heat_step_destroy(&(*x)->step);
  coolant_destroy(&(*x)->coolant);
  liquids_destroy(&(*x)->liquids);
  network_destroy(&(*x)->net);
  adjacency_release(&(*x)->neighbours);
  mesh_destroy(&(*x)->mesh);
  free(*x);
  *x = NULL;
}

/* ------------------------------------------------------------------------------------------------ stages */

static bool stage_is_of_piece(const run *x) { return rig_stage_is_of_piece(&x->rig->stages[x->stage]); }

static status begin_stage(run *x, message *msg)
{
  x->clock[CLOCK_STAGE_START] = x->state.time;
  x->clock[CLOCK_STAGE_OVER] = 0.0;
  coolant_new_stage(x->coolant);
  status code = run_parts_mark(x, x->stage, msg);
  if (code == STATUS_OK && stage_is_of_piece(x))
    return run_piece_begin(x, msg);
  if (code == STATUS_OK)
    code = run_stage_begin(x, msg);
  if (code == STATUS_OK)
    code = liquids_update(x->liquids, x->state.time, x->state.enthalpy, true, msg);
  if (code == STATUS_OK && !(x->rig->stages[x->stage].limit > 0.0))
    x->clock[CLOCK_STAGE_OVER] = 2.0; /* done at once */
  return code;
}

static status end_stage(run *x, message *msg)
{
  stage_result *s = &x->results.stages[x->stage];
  heat_step_settle(x->step, &x->state);
  s->start_at = x->clock[CLOCK_STAGE_START];
  s->end_at = x->state.time;
  (void)snprintf(s->ended_by, sizeof s->ended_by, "%s", run_stage_reason(&x->rig->stages[x->stage], x->clock[CLOCK_STAGE_OVER]));
  s->plant = coolant_stage_result(x->coolant);
  status code = STATUS_OK;
  if (stage_is_of_piece(x))
    run_piece_finish(x);
  else
    code = run_stage_finish(x, msg);
  run_parts_save_stage(x);
  if (code == STATUS_OK)
    code = run_parts_mark(x, x->stage + 1, msg);
  if (code != STATUS_OK || x->stage != run_parts_judged_stage(x->rig))
    return code;
  run_parts_keep_judged(x);
  return run_finish_baths(x, msg);
}

static bool all_frozen(const run *x)
{
  for (size_t body = 0; body < x->rig->num_bodies; body++)
    if (isnan(x->bodies[body].solid_at))
      return false;
  return x->rig->num_bodies > 0;
}

/* ------------------------------------------------------------------------------------------------ one step */

static double longest_step_now(const run *x)
{
  const double time = x->state.time, elapsed = time - x->clock[CLOCK_STAGE_START];
  const rig_stage *stage = &x->rig->stages[x->stage];
  double most = x->clock[CLOCK_STAGE_START] + stage->limit - time, found = liquids_step_limit(x->liquids);
  for (size_t body = 0; body < x->rig->num_bodies; body++)
    found = fmin(found, body_watch_longest_step(&x->bodies[body], elapsed));
  /* On a rung, as steps are: found from the last step, it makes of a rounding in that a larger one in the next (0.1 s in four and a half hours of a plant
   * that switches on and off). */
  most = fmin(most, heat_step_rung_below(found));
  for (size_t bath = 0; bath < x->rig->num_baths; bath++)
    if (x->rig->baths[bath].mode == SALT_MIXED)
      most = fmin(most, LONGEST_MIXED_STEP);
  if (x->rig->room.temperature.swing > 0.0 && !stage->changes_room)
    most = fmin(most, LONGEST_SWINGING_STEP);
  if (stage->kind == STAGE_RELEASE)
    most = fmin(most, fmax(FIRST_THAWING_STEP, THAWING_STEP * elapsed));
  const double next_row = run_parts_next_table_row(x->rig, time);
  return fmin(most, next_row - time);
}

/* One step with the plant balanced; the state is advanced. */
static status balanced_step(run *x, double most, message *msg)
{
  enum { MOST_REPEATS = 8 };
  for (int repeat = 0;; repeat++) {
    status code = coolant_prepare(x->coolant, x->state.time, msg);
    if (code == STATUS_OK)
      code = heat_step_advance(x->step, &x->state, most, msg);
    if (code != STATUS_OK || repeat == MOST_REPEATS || !coolant_wants_repeat(x->coolant))
      return code;
    heat_step_undo(x->step, &x->state);
  }
}

/* Takes a step; when an event or the end of the stage lies more than a second before its end, takes it again up to there. */
static status take_step(run *x, message *msg)
{
  double most = longest_step_now(x);
  network_restart(x->net); /* every step begins as after a restart: a checkpoint may lie anywhere between two */
  status code = balanced_step(x, most, msg);
  if (code != STATUS_OK)
    return code;
  for (int again = 0; again < 4; again++) {
    const double t0 = heat_step_previous_time(x->step), t1 = x->state.time;
    const double *before = heat_step_previous_enthalpy(x->step);
    double end;
    code = run_stage_end_time(x, before, t0, &end, msg);
    if (code != STATUS_OK)
      return code;
    const double flip = coolant_switch_time(x->coolant, before, t0, x->state.enthalpy, t1);
    const double first = isnan(end) ? flip : isnan(flip) ? end : fmin(end, flip);
    if (isnan(first) || t1 - first <= EVENT_TIME_TOLERANCE)
      break;
    heat_step_undo(x->step, &x->state);
    most = fmax(first - t0, 0.0) + SHORTEST_CUT;
    code = balanced_step(x, most, msg);
    if (code != STATUS_OK)
      return code;
  }
  return STATUS_OK;
}

static void count_rounds(run *x)
{
  size_t steps, rejected, stages;
  heat_step_counts(x->step, &steps, &rejected, &stages);
  x->clock[CLOCK_ROUNDS] += (double)(stages - x->stages_seen);
  x->stages_seen = stages;
}

static status accept_step(run *x, message *msg)
{
  const double t0 = heat_step_previous_time(x->step), t1 = x->state.time;
  const double *before = heat_step_previous_enthalpy(x->step);
  const rig_stage *stage = &x->rig->stages[x->stage];
  double end;
  status code = run_stage_end_time(x, before, t0, &end, msg);
  if (code != STATUS_OK)
    return code;

  count_rounds(x);
  /* What the freeze left is what is reported: a later stage that melts it again does not take it back. */
  const bool counts = x->stage <= run_parts_judged_stage(x->rig);
  if (counts)
    run_parts_note_front(x, t0, before, t1);
  for (size_t body = 0; (counts || stage->kind == STAGE_FREEZE) && body < x->rig->num_bodies; body++) {
    body_watch *b = &x->bodies[body];
    body_watch_update(b, x->net, liquids_curve(x->liquids, b->part), t0, before, t1, x->state.enthalpy);
  }
  code = run_parts_note_events(x, t0, t1, msg);
  if (code == STATUS_OK)
    code = run_parts_note_series(x, t0, before, t1, msg);
  if (code == STATUS_OK)
    code = run_parts_note_moisture(x, msg);
  if (code == STATUS_OK)
    code = liquids_update(x->liquids, x->state.time, x->state.enthalpy, false, msg);
  if (!isnan(end) || (stage->until == UNTIL_FROZEN && all_frozen(x)))
    x->clock[CLOCK_STAGE_OVER] = 1.0;
  else if (t1 >= x->clock[CLOCK_STAGE_START] + stage->limit * (1.0 - 1e-12))
    x->clock[CLOCK_STAGE_OVER] = 2.0;
  return code;
}

/* ------------------------------------------------------------------------------------------------ the march */

static bool store_is_due(const run *x)
{
  return x->clock[CLOCK_NEXT_STORE] <= x->state.time;
}

static bool checkpoint_is_due(const run *x)
{
  return x->rig->control.checkpoint_interval > 0.0 && x->state.time >= x->clock[CLOCK_NEXT_CHECKPOINT];
}

/* After a step: hands out stored times, then a checkpoint, one a call. */
static bool hand_out(run *x, run_pause *why)
{
  if (store_is_due(x)) {
    run_parts_show(x, x->clock[CLOCK_NEXT_STORE]);
    x->clock[CLOCK_NEXT_STORE] += x->rig->control.output_interval;
    *why = PAUSE_STORE;
    return true;
  }
  run_parts_show(x, x->state.time);
  if (checkpoint_is_due(x)) {
    while (x->clock[CLOCK_NEXT_CHECKPOINT] <= x->state.time)
      x->clock[CLOCK_NEXT_CHECKPOINT] += x->rig->control.checkpoint_interval;
    run_parts_forget_history(x);
    x->checkpoint_asked = false;
    *why = PAUSE_CHECKPOINT;
    return true;
  }
  /* bdf has a history that a checkpoint would cut short: only where it restarts anyhow */
  if (x->checkpoint_asked && x->rig->control.integrator == INTEGRATOR_STABILISED && !(x->clock[CLOCK_STAGE_OVER] > 0.0)) {
    x->checkpoint_asked = false;
    *why = PAUSE_CHECKPOINT;
    return true;
  }
  return false;
}

void run_ask_checkpoint(run *x)
{
  x->checkpoint_asked = true;
}

/* A stretch of the second run of a still bath; ready: there is no more of it, and its answers are in the results. */
static status answer_the_other_way(run *x, bool *ready, message *msg)
{
  *ready = !run_both_wanted(x->rig);
  if (*ready)
    return STATUS_OK;
  if (!x->both)
    return run_both_create(&x->both, x->rig, run_parts_judged_stage(x->rig) + 1, msg);
  const status code = run_both_advance(x->both, ready, msg);
  if (code == STATUS_OK && *ready) {
    run_both_answer(x->both, &x->results);
    run_both_destroy(&x->both);
  }
  return code;
}

/* A stretch of the trials without the plant; ready: the moment is known, or was not asked for. */
static status find_switch_off(run *x, bool *ready, message *msg)
{
  *ready = !run_switch_off_wanted(x->rig, run_parts_judged_stage(x->rig), &x->results);
  if (*ready)
    return STATUS_OK;
  if (!x->switch_off)
    return run_switch_off_create(&x->switch_off, x->rig, run_parts_judged_stage(x->rig), &x->results, msg);
  const status code = run_switch_off_advance(x->switch_off, ready, msg);
  if (code == STATUS_OK && *ready)
    x->results.switch_off = run_switch_off_answer(x->switch_off);
  return code;
}

status run_advance(run *x, run_pause *why, message *msg)
{
  status code = STATUS_OK;
  bool ready = true;
  for (;;) {
    switch (x->doing) {
    case DO_STAGE_START:
      code = begin_stage(x, msg);
      if (code != STATUS_OK)
        return code;
      x->doing = DO_HAND_OUT;
      break;
    case DO_STEP:
      code = stage_is_of_piece(x) ? run_piece_step(x, msg) : take_step(x, msg);
      if (code == STATUS_OK && !stage_is_of_piece(x))
        code = accept_step(x, msg);
      if (code != STATUS_OK)
        return code;
      x->doing = DO_HAND_OUT;
      run_parts_show(x, x->state.time);
      *why = PAUSE_PROGRESS;
      return STATUS_OK;
    case DO_HAND_OUT:
      if (hand_out(x, why))
        return STATUS_OK;
      x->doing = x->clock[CLOCK_STAGE_OVER] > 0.0 ? DO_STAGE_END : DO_STEP;
      break;
    case DO_STAGE_END:
      code = end_stage(x, msg);
      if (code != STATUS_OK)
        return code;
      x->stage++;
      x->doing = x->stage < x->rig->num_stages ? DO_STAGE_START : DO_FINISH;
      *why = PAUSE_STAGE_END;
      return STATUS_OK;
    case DO_FINISH:
      if (!x->switch_off) /* one after the other */
        code = answer_the_other_way(x, &ready, msg);
      if (code == STATUS_OK && ready)
        code = find_switch_off(x, &ready, msg);
      if (code == STATUS_OK && !ready) {
        *why = PAUSE_PROGRESS;
        return STATUS_OK;
      }
      if (code == STATUS_OK)
        code = run_finish(x, msg);
      if (code != STATUS_OK)
        return code;
      x->doing = DO_NOTHING;
      *why = PAUSE_DONE;
      return STATUS_OK;
    case DO_NOTHING:
      *why = PAUSE_DONE;
      return STATUS_OK;
    }
  }
}

/* ------------------------------------------------------------------------------------------------ looking in */

double run_time(const run *x)
{
  return x->both ? run_both_time(x->both) : x->shown_time;
}

const char *run_stage_name(const run *x)
{
  const size_t last = x->rig->num_stages - 1;
  return x->rig->stages[x->stage < last ? x->stage : last].name;
}

double run_frozen_share(const run *x)
{
  double ice = 0.0, all = 0.0;
  if (x->both)
    return run_both_frozen_share(x->both);
  for (size_t body = 0; body < x->rig->num_bodies; body++) {
    ice += x->bodies[body].share * x->bodies[body].volume;
    all += x->bodies[body].volume;
  }
  return all > 0.0 ? ice / all : 0.0;
}

double run_coolant_temperature(const run *x)
{
  return coolant_temperature(x->coolant);
}

const mesh *run_mesh(const run *x)
{
  return x->mesh;
}

const double *run_temperature(const run *x)
{
  return x->temperature;
}

const double *run_liquid_fraction(const run *x)
{
  return x->liquid_fraction;
}

const results *run_results(const run *x)
{
  return &x->results;
}
