/* Working out the results once the march is over: last water, pockets, verdicts, ledger. */
#ifndef LASTWATER_RUN_FINISH_H
#define LASTWATER_RUN_FINISH_H

#include "solver/run_parts.h"

/* The baths as they stand now: called at the end of the freeze stage (without one: of the last stage). */
status run_finish_baths(run *x, message *msg);

/* True when no bath holds a mould any more, by the shown arrays. */
status run_finish_lets_go(run *x, bool *lets_go, message *msg);

/* Everything else, after the last stage. */
status run_finish(run *x, message *msg);

#endif
