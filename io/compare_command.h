/* lastwater compare DIR DIR ...: what differs between runs, as a table and as one page. */
#ifndef LASTWATER_COMPARE_COMMAND_H
#define LASTWATER_COMPARE_COMMAND_H

#include "io/options.h"

#define COMPARE_PAGE_NAME "compare.html"

/* The page goes to compare.html here, or into -o DIR (made when missing). */
status compare_command(const options *o, message *msg);

#endif
