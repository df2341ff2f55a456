/* `lastwater check CASE`: explains on the standard output and draws the section (CASE.result/pictures/section.png, or
 * DIR/pictures/section.png with -o). */
#ifndef LASTWATER_CHECK_COMMAND_H
#define LASTWATER_CHECK_COMMAND_H

#include "io/case_file.h"
#include "io/options.h"

status check_command(const options *o, const case_file *c, message *msg);

#endif
