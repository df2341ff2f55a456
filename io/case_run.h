/* A case from its text to its answer inside this process: no directory, no progress, one thread. What sweeps, seeks, bands and fits call. */
#ifndef LASTWATER_CASE_RUN_H
#define LASTWATER_CASE_RUN_H

#include <jansson.h>

#include "io/case_file.h"
#include "solver/run.h"

typedef struct {
  const char *path;   /* of the case: for messages, and where outside files are looked for */
  const char *text;
  size_t length;
  const char *const *overrides;
  size_t num_overrides;
} case_run_request;

typedef struct {
  case_file *file;
  run *run;           /* marched to its end */
  double marched;     /* s of processor time, of making and marching the run alone */
} case_run_done;

/* Reads, builds and marches. A fault of the case comes back as one sentence, its first fault. Release with case_run_release, also on failure. */
status case_run_march(case_run_done *out, const case_run_request *want, message *msg);
void case_run_release(case_run_done *d);

/* Its summary as text (free() it) and as a tree (json_decref it); either may be NULL. */
status case_run_summary(const case_run_done *d, char **text, json_t **tree, message *msg);

#endif
