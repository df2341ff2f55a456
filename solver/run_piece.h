/* The piece out of its mould: stages draw, temper and melt march it by itself (melt.h), the rest of the rig stands as it was. */
#ifndef LASTWATER_RUN_PIECE_H
#define LASTWATER_RUN_PIECE_H

#include "solver/run.h"

/* True when some stage takes the ice out of its mould. */
bool run_piece_wanted(const rig *r);
/* Reserves the memory that checkpoints need; once. */
status run_piece_allocate(run *x, message *msg);

/* The piece of the stage's body comes out, or goes on into other surroundings. */
status run_piece_begin(run *x, message *msg);
/* One step; says through the clock when the stage is over. */
status run_piece_step(run *x, message *msg);
void run_piece_finish(run *x); /* the stage's own results */

/* Its heats in a stage are added to the stage's ledger and to that of the whole run. */
status run_piece_ledgers(run *x, message *msg);

void run_piece_show(run *x);  /* into the shown arrays, where there is a piece */
void run_piece_keep(run *x);  /* into the memory of checkpoints, and back */
status run_piece_restored(run *x, message *msg);

#endif
