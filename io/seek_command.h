/* lastwater seek PLAN: the input that meets a target, or the inputs that make a goal best while limits hold. Leaves answer.json, answer.txt
 * and runs.csv in PLAN.result, or in -o DIR. */
#ifndef LASTWATER_SEEK_COMMAND_H
#define LASTWATER_SEEK_COMMAND_H

#include "io/options.h"

status seek_command(const options *o, message *msg);

#endif
