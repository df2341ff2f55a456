/* A warm-water dip: the mould is lifted out of its bath into a vessel as large as the bath, filled with water of a temperature.
 *
 * While the stage lasts the unknowns of the bath stand for that water, which cools as it gives its heat (films and heat capacity are those of the
 * brine); then the bath is back as it stood. What the water gave is brought, a path of its own in the ledger. */
#ifndef LASTWATER_RUN_DIP_H
#define LASTWATER_RUN_DIP_H

#include "solver/run.h"

/* Reserves what a checkpoint must hold; nothing when no stage dips. */
status run_dip_allocate(run *x, message *msg);
void run_dip_begin(run *x);
/* The bath is back; returns the heat that the water gave, J. */
double run_dip_end(run *x);

#endif
