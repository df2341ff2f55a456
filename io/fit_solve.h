/* Robust nonlinear least squares of a few inputs on many measured values: Levenberg and Marquardt's method (cminpack's lmder; J. J. More, "The
 * Levenberg-Marquardt algorithm: implementation and theory", 1978) on residuals that count no more than linearly beyond 1.345 of their scatter
 * (P. J. Huber, "Robust estimation of a location parameter", 1964; the scatter is 1.4826 times the median of their sizes).
 *
 * The search goes along the principal axes of the loss, turned anew as it comes nearer (fit_axes.h), and slopes are taken over some three standard
 * deviations to either side.
 *
 * Confidence: s^2 (J'J)^-1 over what is no outlier, widened by (1 + r) / (1 - r) where neighbours in time are alike (lag-one correlation r of the
 * residuals), by Student's t for the values that are independent, and so that all inputs together lie inside with 95 %; then widened where the loss itself does not rise enough at the ends. */
#ifndef LASTWATER_FIT_SOLVE_H
#define LASTWATER_FIT_SOLVE_H

#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

enum { FIT_SOLVE_MOST = 8 }; /* inputs */

/* What the model says at num places [num * num_inputs]: predictions [num * num_values], and one forecast for each. A place at which nothing can be
 * computed: all NAN. */
typedef status fit_solve_model(void *what, const double *places, size_t num, double *predictions, double *forecast, message *msg);

typedef struct {
  size_t num_inputs, num_values;
  const double *start;      /* [num_inputs] where the search begins; inputs should be of order one           */
  const double *low, *high; /* [num_inputs] range of the places among which a start is looked for; NULL: at `start` alone */
  double step;              /* of the first differences that slopes are taken from; none is ever longer     */
  double least;             /* scatter is never taken to be less: what the digits of the values hide            */
  const double *measured;   /* [num_values] NAN: a gap                                                      */
  const size_t *follows;    /* [num_values] index of the value before it in time on the same probe; itself: none */
  fit_solve_model *model;
  void *what;
} fit_solve_request;

typedef struct {
  double place[FIT_SOLVE_MOST], half[FIT_SOLVE_MOST]; /* estimate; half width of its confidence, INFINITY: nothing is said about it */
  double correlation[FIT_SOLVE_MOST][FIT_SOLVE_MOST];
  double scatter;           /* of the residuals, outliers left out                                           */
  double likeness;          /* lag-one correlation                                                           */
  size_t num_used, num_outliers, num_runs;
  double forecast, forecast_slope[FIT_SOLVE_MOST], forecast_half; /* half: 1.645 standard deviations by the covariance      */
  double covariance[FIT_SOLVE_MOST][FIT_SOLVE_MOST];
} fit_solve_answer;

/* predictions: [num_values] at the estimate; outlier: [num_values]; both the caller's. STATUS_FAILED: the model knows nothing where the search began. */
status fit_solve(fit_solve_answer *out, double *predictions, unsigned char *outlier, const fit_solve_request *ask, message *msg);

#endif
