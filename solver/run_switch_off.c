#include "solver/run_switch_off.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/run.h"

enum { MOST_TRIALS = 8 };
static const double MELTS_AGAIN = 1e-3; /* share of the water: ice lost by this much will not come back */

struct run_switch_off {
  rig rig;           /* the first one, but for what is owned here */
  rig_stage *stages; /* up to the freeze, then what is left of it without the plant */
  surface_rule *rules;
  size_t judged;
  double whole_time, whole_work; /* s, J of the freeze with the plant running to its end */
  double need, enough; /* s: too early, early enough */
  int num_trials;
  double most_ice;
  run *trial;        /* NULL between two */
  switch_off_result answer;
};

static bool is_driven(const rig *r)
{
  for (size_t coil = 0; coil < r->num_coils; coil++)
    if (r->coils[coil].coolant == COOLANT_PLANT)
      return true;
  return false;
}

bool run_switch_off_wanted(const rig *r, size_t judged, const results *res)
{
  if (!r->plant.switch_off || !is_driven(r) || r->stages[judged].kind != STAGE_FREEZE)
    return false;
  const stage_freeze *f = &res->stages[judged].freeze;
  return f->complete && f->time > 0.0;
}

/* The freeze in two: as it was, but for a time; then the same without the plant. Rules of its own hold in both. */
static void split_freeze(run_switch_off *s, const rig *r)
{
  memcpy(s->stages, r->stages, (s->judged + 1) * sizeof *s->stages);
  for (size_t i = 0; i < s->judged; i++) /* an exchange between two freezes */
    if (s->stages[i].kind == STAGE_FREEZE)
      s->stages[i].kind = STAGE_HOLD;
  s->stages[s->judged + 1] = s->stages[s->judged];
  s->stages[s->judged].kind = STAGE_HOLD;
  s->stages[s->judged].until = UNTIL_TIME;
  s->stages[s->judged + 1].plant = STAGE_PLANT_STANDS;
  s->stages[s->judged + 1].until = UNTIL_FROZEN;
  s->rig.num_rules = 0;
  for (size_t i = 0; i < r->num_rules; i++) {
    s->rules[s->rig.num_rules++] = r->rules[i];
    if (r->rules[i].stage != (int)s->judged + 1)
      continue;
    s->rules[s->rig.num_rules] = r->rules[i];
    s->rules[s->rig.num_rules++].stage = (int)s->judged + 2;
  }
  s->rig.stages = s->stages;
  s->rig.num_stages = s->judged + 2;
  s->rig.rules = s->rules;
  s->rig.plant.switch_off = false;
  s->rig.control.checkpoint_interval = 0.0;
}

status run_switch_off_create(run_switch_off **out, const rig *r, size_t judged, const results *res, message *msg)
{
  const stage_result *f = &res->stages[judged];
  run_switch_off *s = calloc(1, sizeof *s);
  if (s) {
    s->stages = calloc(judged + 2, sizeof *s->stages);
    s->rules = calloc(2 * r->num_rules + 1, sizeof *s->rules);
  }
  if (!s || !s->stages || !s->rules) {
    run_switch_off_destroy(&s);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for runs without the plant",
                       sizeof *s + (judged + 2) * sizeof(rig_stage) + 2 * r->num_rules * sizeof(surface_rule));
  }
  s->rig = *r;
  s->judged = judged;
  split_freeze(s, r);
  s->whole_work = f->plant.work;
  s->whole_time = s->enough = f->freeze.time;
  s->answer = (switch_off_result){.present = true, .at = f->freeze.time, .freeze_time = f->freeze.time};
  *out = s;
  return STATUS_OK;
}

void run_switch_off_destroy(run_switch_off **s)
{
  if (!*s)
    return;
  run_destroy(&(*s)->trial);
  free((*s)->stages);
  free((*s)->rules);
  free(*s);
  *s = NULL;
}

static status begin_trial(run_switch_off *s, message *msg)
{
  const double at = 0.5 * (s->need + s->enough);
  s->stages[s->judged].limit = at;
  s->most_ice = 0.0;
  return run_create(&s->trial, &s->rig, msg);
}

static void end_trial(run_switch_off *s, bool froze)
{
  const double at = s->stages[s->judged].limit;
  if (froze) {
    const results *res = run_results(s->trial);
    const stage_result *with = &res->stages[s->judged], *without = &res->stages[s->judged + 1];
    s->answer.freeze_time = at + without->freeze.time;
    s->answer.energy_spared = s->whole_work - (with->plant.present ? with->plant.work : 0.0);
    s->answer.spared = s->whole_time - at;
    s->answer.at = at;
  }
  *(froze ? &s->enough : &s->need) = at;
  s->num_trials++;
  run_destroy(&s->trial);
}

status run_switch_off_advance(run_switch_off *s, bool *done, message *msg)
{
  *done = s->num_trials == MOST_TRIALS;
  if (*done)
    return STATUS_OK;
  status code = s->trial ? STATUS_OK : begin_trial(s, msg);
  run_pause why = PAUSE_PROGRESS;
  if (code == STATUS_OK)
    code = run_advance(s->trial, &why, msg);
  if (code != STATUS_OK)
    return code;
  const bool freezes = strcmp(run_stage_name(s->trial), s->stages[s->judged].name) == 0; /* not while filled anew before it */
  const double ice = freezes ? run_frozen_share(s->trial) : 0.0;
  s->most_ice = fmax(s->most_ice, ice);
  if (why == PAUSE_DONE)
    end_trial(s, run_results(s->trial)->stages[s->judged + 1].freeze.complete);
  else if (freezes && ice < s->most_ice - MELTS_AGAIN)
    end_trial(s, false);
  return STATUS_OK;
}

switch_off_result run_switch_off_answer(const run_switch_off *s)
{
  switch_off_result answer = s->answer;
  answer.within = s->enough - s->need;
  return answer;
}
