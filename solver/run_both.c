#include "solver/run_both.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/run.h"

struct run_both {
  rig rig;           /* the first one, but for what is owned here */
  rig_part *parts;
  rig_bath *baths;
  material *brines;  /* [num_baths]; those not made have no curve */
  run *run;
};

bool run_both_wanted(const rig *r)
{
  for (size_t bath = 0; bath < r->num_baths; bath++)
    if (r->baths[bath].both && r->baths[bath].mode == SALT_CLOSED)
      return true;
  return false;
}

static status copy_rig(run_both *b, const rig *r, size_t num_stages, message *msg)
{
  b->rig = *r;
  b->rig.num_stages = num_stages;
  b->rig.control.checkpoint_interval = 0.0;
  b->parts = calloc(r->num_parts + 1, sizeof *b->parts);
  b->baths = calloc(r->num_baths + 1, sizeof *b->baths);
  b->brines = calloc(r->num_baths + 1, sizeof *b->brines);
  if (!b->parts || !b->baths || !b->brines)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the second answer of a still bath");
  memcpy(b->parts, r->parts, r->num_parts * sizeof *b->parts);
  memcpy(b->baths, r->baths, r->num_baths * sizeof *b->baths);
  b->rig.parts = b->parts;
  b->rig.baths = b->baths;
  return STATUS_OK;
}

static status mix(run_both *b, size_t bath, message *msg)
{
  rig_bath *q = &b->baths[bath];
  if (!q->both || q->mode != SALT_CLOSED)
    return STATUS_OK;
  const status code = brine_mixed(&b->brines[bath], q->salt, q->liquidus, q->mass_fraction, b->parts[q->part].stuff->density, q->held_brine,
                                  q->mush, msg);
  q->mode = SALT_MIXED;
  q->both = false;
  b->parts[q->part].stuff = &b->brines[bath];
  return code;
}

status run_both_create(run_both **out, const rig *r, size_t num_stages, message *msg)
{
  run_both *b = calloc(1, sizeof *b);
  if (!b)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the second answer of a still bath", sizeof *b);
  status code = copy_rig(b, r, num_stages, msg);
  for (size_t bath = 0; code == STATUS_OK && bath < r->num_baths; bath++)
    code = mix(b, bath, msg);
  if (code == STATUS_OK)
    code = run_create(&b->run, &b->rig, msg);
  if (code == STATUS_OK)
    *out = b;
  else
    run_both_destroy(&b);
  return code;
}

void run_both_destroy(run_both **b)
{
  if (!*b)
    return;
  run_destroy(&(*b)->run);
  for (size_t bath = 0; (*b)->brines && bath < (*b)->rig.num_baths; bath++)
    material_release(&(*b)->brines[bath]);
  free((*b)->brines);
  free((*b)->baths);
  free((*b)->parts);
  free(*b);
  *b = NULL;
}

status run_both_advance(run_both *b, bool *done, message *msg)
{
  run_pause why = PAUSE_PROGRESS;
  const status code = run_advance(b->run, &why, msg);
  *done = why == PAUSE_DONE;
  return code;
}

double run_both_time(const run_both *b)
{
  return run_time(b->run);
}

double run_both_frozen_share(const run_both *b)
{
  return run_frozen_share(b->run);
}

static bool is_worse(const draw_answer *a, const draw_answer *b)
{
  return a->draw != b->draw ? a->draw > b->draw : a->ice_at_wall > b->ice_at_wall;
}

void run_both_answer(const run_both *b, results *res)
{
  const results *second = run_results(b->run);
  const double time = second->last_body >= 0 ? second->bodies[second->last_body].freeze_time : NAN;
  for (size_t bath = 0; bath < res->num_baths; bath++) {
    bath_result *q = &res->baths[bath];
    if (b->brines[bath].curve.num_bins == 0)
      continue;
    q->other = second->baths[bath].answer;
    q->other_freeze_time = time;
    if (is_worse(&q->other, &q->answer)) {
      const draw_answer better = q->answer;
      q->answer = q->other;
      q->other = better;
    }
    q->draw = q->answer.draw;
    q->ice_at_wall = q->answer.ice_at_wall;
  }
}
