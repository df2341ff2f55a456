/* A handful of runs of one case with unlike settings, several at once, and their summaries: what seeking and bands are made of. */
#ifndef LASTWATER_RUN_BATCH_H
#define LASTWATER_RUN_BATCH_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

typedef struct {
  const char *case_path, *case_text;
  size_t case_length;
  const char *const *set;       /* [num_set] settings of all runs, "key=value" */
  size_t num_set;
  size_t jobs;                  /* at once                                    */
  const char *what;             /* before the progress, e.g. "band"; NULL: quiet */
} run_batch_case;

typedef struct {
  const char *const *set;       /* [num_set] this run's own, after those of all */
  size_t num_set;
  json_t *summary;              /* owned: run_batch_release; NULL: it failed   */
  message why;                  /* then                                        */
} run_batch_run;

/* Runs them all. A run that fails has no summary and says why; the status is for what stops everything: memory, files, an interrupt. */
status run_batch_go(const run_batch_case *c, run_batch_run *runs, size_t num, message *msg);
void run_batch_release(run_batch_run *runs, size_t num);

#endif
