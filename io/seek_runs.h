/* The runs of a seek: places in the unit cube of the inputs (0 the low end of a range, 1 the high), each with what was found there. */
#ifndef LASTWATER_SEEK_RUNS_H
#define LASTWATER_SEEK_RUNS_H

#include "io/plan_file.h"

typedef struct {
  const plan_file *plan;
  size_t jobs, most;       /* most: runs that may be made */
  bool quiet;
  size_t num, capacity;
  double *place;           /* [num * plan->num_inputs] 0..1                    */
  double *value;           /* [num * plan->num_report] NAN: not known          */
  message *why;            /* [num] of a run that failed                        */
} seek_runs;

status seek_runs_create(seek_runs *s, const plan_file *p, size_t jobs, bool quiet, message *msg);
void seek_runs_release(seek_runs *s);

/* Makes num runs, several at once, and keeps them; places: [num * num_inputs]. The caller asks for no more
 * than are left. */
status seek_runs_make(seek_runs *s, const double *places, size_t num, message *msg);

/* The value of an input at a place as --set takes it. */
void seek_runs_text(const seek_runs *s, size_t input, double place, char *text, size_t size);
/* That value in the unit of the range. */
double seek_runs_number(const seek_runs *s, size_t input, double place);
/* Column of a path among the reported values; it is there. */
size_t seek_runs_column(const seek_runs *s, const char *path);

/* All runs as CSV, whole or absent. */
status seek_runs_write(const seek_runs *s, const char *path, message *msg);

#endif
