/* The inputs that a fit settles: keys of the case with a start and perhaps a range. Inside the fit each is a number of order one: the logarithm of
 * what must be above zero, else the distance from the start over its spread. */
#ifndef LASTWATER_FIT_INPUTS_H
#define LASTWATER_FIT_INPUTS_H

#include "io/case_file.h"
#include "io/fit_solve.h"
#include "io/quantity.h"

enum { FIT_INPUTS_TEXT = 200 };

typedef struct {
  char key[FIT_INPUTS_TEXT];
  quantity_kind kind;
  bool gauge, logarithm;
  double start, low, high; /* SI; low and high: as far as it is known before, NAN: not said */
  double unit;             /* SI, of one step where there is no logarithm                   */
} fit_input;

/* wanted: [num] "key" or "key=LOW .. HIGH" or "key=VALUE +- SPREAD" of the command line; none: all values of the case with a spread.
 * STATUS_BAD_INPUT: msg says what is wrong. */
status fit_inputs_find(fit_input inputs[FIT_SOLVE_MOST], size_t *num, const case_file *c, const quantity_system *units, const char *const *wanted,
                       size_t num_wanted, message *msg);

double fit_inputs_value(const fit_input *in, double place);  /* SI */
double fit_inputs_place(const fit_input *in, double value);
/* "12.3 W/(m2 K)" */
void fit_inputs_text(const fit_input *in, double value, char *text, size_t size);

#endif
