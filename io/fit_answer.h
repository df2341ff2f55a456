/* What a fit found, in words and for programs. */
#ifndef LASTWATER_FIT_ANSWER_H
#define LASTWATER_FIT_ANSWER_H

#include <stdio.h>

#include "io/fit_model.h"

typedef struct {
  const fit_model *model;
  const fit_input *inputs;
  const fit_solve_answer *found;
  double before_half; /* of the forecast, s: 1.645 standard deviations by what was known before; NAN: not said of all inputs */
} fit_answer;

/* By the ranges of the inputs (even between their ends) and the slopes of the forecast. */
double fit_answer_before(const fit_input *inputs, size_t num, const fit_solve_answer *found);

bool fit_answer_print(FILE *to, const fit_answer *a);
/* *text is allocated, free() it: format, inputs[] (key, value, low, high: SI; absent: nothing is said), alike[] (pairs of keys that cannot be told
 * apart), scatter_K, samples, outliers, runs, forecast {freeze_time_s, half_s, before_half_s}. */
status fit_answer_json(char **text, const fit_answer *a, message *msg);

/* Low and high end of an input's confidence, SI. */
void fit_answer_ends(const fit_answer *a, size_t input, double *low, double *high);

#endif
