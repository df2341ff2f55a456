/* What a stage changes when it begins - plant, stirrers, room, rules of surfaces; water poured, exchanged or let out, salt - and what ends it. */
#ifndef LASTWATER_RUN_STAGE_H
#define LASTWATER_RUN_STAGE_H

#include "solver/run.h"

/* Sets what holds during the stage and does what is done at its start; heat carried by what is poured goes into the ledger. */
status run_stage_begin(run *x, message *msg);
/* After a restore: sets what holds in the stage that goes on. */
status run_stage_restored(run *x, message *msg);

/* When, in the step just taken from (t0, before) to the present, the end of the stage was met; NAN: not met. By crossing, or by halving the step
 * for ends that are yes or no. */
status run_stage_end_time(run *x, const double *before, double t0, double *at, message *msg);

/* Fills the stage's own results at its end: a later freeze, a release. */
status run_stage_finish(run *x, message *msg);

/* "frozen", "time", ...; over: 1 condition met, 2 time ran out. */
const char *run_stage_reason(const rig_stage *stage, double over);

#endif
