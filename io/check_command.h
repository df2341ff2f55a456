/* `lastwater check CASE`: explains on the standard output and draws the section beside the case (CASE.section.png, or DIR/section.png). */
#ifndef LASTWATER_CHECK_COMMAND_H
#define LASTWATER_CHECK_COMMAND_H

#include "io/case_file.h"
#include "io/options.h"

status check_command(const options *o, const case_file *c, message *msg);

#endif
