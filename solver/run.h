/* One run: owns mesh, network, integrator and results, and marches the stages.
 *
 * The caller pulls: run_advance marches until something wants attention and says what. Nothing calls back. */
#ifndef LASTWATER_RUN_H
#define LASTWATER_RUN_H

#include "geometry/mesh.h"
#include "solver/results.h"
#include "solver/rig.h"

typedef struct run run;

typedef enum {
  PAUSE_PROGRESS,   /* some steps were taken (show progress)               */
  PAUSE_STORE,      /* a stored time: read run_temperature etc.            */
  PAUSE_CHECKPOINT, /* state may be saved now: run_state                    */
  PAUSE_STAGE_END,
  PAUSE_DONE        /* results are complete                                */
} run_pause;

status run_create(run **out, const rig *r, message *msg);
void run_destroy(run **x);
status run_advance(run *x, run_pause *why, message *msg);

/* Asks for a checkpoint at the next step that allows one (the wall clock says so): it changes no bit of the march. bdf allows none but
 * those of the rig's control, where it restarts anyhow. */
void run_ask_checkpoint(run *x);

double run_time(const run *x);            /* s from time zero                   */
const char *run_stage_name(const run *x);
double run_frozen_share(const run *x);    /* of the water still to freeze, 0..1 */
double run_coolant_temperature(const run *x); /* degC; NAN when there is no coil */
const mesh *run_mesh(const run *x);
/* Per mesh node, owned by the run, valid until the next run_advance. Mirrors volume: entries of absent nodes are NAN. */
const double *run_temperature(const run *x);     /* degC */
const double *run_liquid_fraction(const run *x); /* 1    */
const results *run_results(const run *x);        /* complete after PAUSE_DONE; series grows as it goes */

/* The whole state as named arrays, for checkpoints. Writing the arrays back into a run created from the same rig and
 * calling run_restored continues it to the same bits. */
typedef enum { FIELD_DOUBLE, FIELD_INT64, FIELD_BYTES } field_type;
typedef struct { const char *name, *unit; field_type type; size_t count; void *data; } state_field;
size_t run_state(run *x, const state_field **fields);
/* Sizes that grow (series rows, events) are told first, so that the arrays exist before they are filled. */
status run_reserve(run *x, size_t num_series_rows, size_t num_events, message *msg);
status run_restored(run *x, message *msg);

#endif
