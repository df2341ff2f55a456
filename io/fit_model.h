/* What a case predicts at the times and probes of a log, by runs in processes of their own. */
#ifndef LASTWATER_FIT_MODEL_H
#define LASTWATER_FIT_MODEL_H

#include "io/fit_inputs.h"
#include "io/log_file.h"

typedef struct {
  const case_file *c;
  const char *case_text;
  size_t case_length;
  const log_file *log;
  size_t num_probes;
  size_t column[LOG_FILE_COLUMNS]; /* of the log, that a probe of the case bears the name of */
  const fit_input *inputs;
  size_t num_inputs, jobs;
  bool quiet;
  size_t num_runs;
  char sampling[2][64];            /* settings: series_every and longest_step        */
} fit_model;

/* Finds the columns that are probes of the case; STATUS_BAD_INPUT when none is. */
status fit_model_find_probes(fit_model *m, message *msg);

/* A fit_solve_model; what: the fit_model. Values in the order [row * num_probes + probe]; after the end of the run its last value counts.
 * The forecast is freeze.time_s, s. */
status fit_model_predict(void *what, const double *places, size_t num, double *predictions, double *forecast, message *msg);

#endif
