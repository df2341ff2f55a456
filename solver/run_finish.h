/* Working out the results once the march is over: last water, pockets, verdicts, ledger. */
#ifndef LASTWATER_RUN_FINISH_H
#define LASTWATER_RUN_FINISH_H

#include "solver/run_parts.h"

status run_finish(run *x, message *msg);

#endif
