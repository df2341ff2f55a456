/* lastwater run CASE --band: the run, then a small designed set of runs beside it, and `band` in summary.json, its words in summary.txt. */
#ifndef LASTWATER_BAND_COMMAND_H
#define LASTWATER_BAND_COMMAND_H

#include "io/case_file.h"
#include "io/options.h"

status band_command(const options *o, const case_file *c, message *msg);

#endif
