/* Runs what is still to do of a sweep, as many at once as asked, with progress; every run goes into the ledger as it ends. */
#ifndef LASTWATER_SWEEP_RUN_H
#define LASTWATER_SWEEP_RUN_H

#include "io/sweep.h"

typedef struct {
  size_t jobs;                /* at once                                                   */
  size_t share, num_shares;   /* only every num_shares-th case, from `share` on; 0, 1: all */
  bool quiet;
} sweep_run_wishes;

/* STATUS_OK also when cases failed: each is told on stderr and is in the ledger. What failed for reasons of the machine (memory, disk, a
 * kill) is told and stays to do. STATUS_INTERRUPTED: what was running will be run again. */
status sweep_run(sweep *s, const sweep_run_wishes *w, message *msg);

#endif
