/* `lastwater estimate CASE`: freezing times by hand formulas, each with what it leaves out. */
#ifndef LASTWATER_ESTIMATE_COMMAND_H
#define LASTWATER_ESTIMATE_COMMAND_H

#include "io/case_file.h"
#include "io/options.h"

status estimate_command(const options *o, const case_file *c, message *msg);

#endif
