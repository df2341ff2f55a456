/* What the commands that take a plan begin with: the plan read, its faults told. */
#ifndef LASTWATER_PLAN_COMMAND_H
#define LASTWATER_PLAN_COMMAND_H

#include "io/options.h"
#include "io/plan_file.h"

/* Faults go to stderr, a line each. One thread from here on: the runs are processes of their own. */
status plan_command_read(plan_file **p, const options *o, plan_use use, message *msg);

#endif
