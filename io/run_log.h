/* log.txt: what was done, and what it cost, one line a thing. log.part.txt while the run works (it survives a kill, and a resumed run
 * goes on in it), log.txt when it is over. */
#ifndef LASTWATER_RUN_LOG_H
#define LASTWATER_RUN_LOG_H

#include <stdbool.h>

#include "io/status.h"

#define RUN_LOG_PART "log.part.txt"
#define RUN_LOG_NAME "log.txt"

typedef struct run_log run_log;

/* keep: goes on in a log.part.txt that is there. */
status run_log_open(run_log **out, const char *directory, bool keep, message *msg);
#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
void run_log_line(run_log *l, const char *format, ...);
/* Flushes, checks everything since it was opened, renames. *l is NULL afterwards, whatever happened. */
status run_log_finish(run_log **l, message *msg);
/* Closes without renaming; NULL-safe. */
void run_log_close(run_log **l);

#endif
