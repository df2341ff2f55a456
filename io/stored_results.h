/* What the pictures of a finished run need, read back from summary.json and fields.h5: a record of results that holds only that.
 *
 * Figures of a node come from the cell it speaks for (cell_nodes.h); a node that no cell keeps has NAN. */
#ifndef LASTWATER_STORED_RESULTS_H
#define LASTWATER_STORED_RESULTS_H

#include "io/stored_run.h"
#include "solver/results.h"

typedef struct {
  results results;  /* bodies, stages, ledger, series, freeze_time, pocket; the rest is empty */
  double *temperature, *liquid_fraction; /* [num_nodes] at the last stored time, degC and 1   */
  double time;      /* s, of it */
  double *freeze_time;
} stored_results;

/* Everything is owned by *out; stored_results_release also after a failure. */
status stored_results_read(stored_results *out, const stored_run *from, message *msg);
void stored_results_release(stored_results *s);

#endif
