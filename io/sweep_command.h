/* lastwater sweep PLAN: reads the plan, runs what is to do, gathers, draws, says the ranked list. */
#ifndef LASTWATER_SWEEP_COMMAND_H
#define LASTWATER_SWEEP_COMMAND_H

#include "io/options.h"

status sweep_command(const options *o, message *msg);

#endif
