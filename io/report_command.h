/* lastwater report DIR: page and pictures again from stored results. */
#ifndef LASTWATER_REPORT_COMMAND_H
#define LASTWATER_REPORT_COMMAND_H

#include "io/options.h"

status report_command(const options *o, message *msg);

#endif
