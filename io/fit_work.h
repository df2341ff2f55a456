/* What a fit works on: the model and what it said, and the loss that is made small (fit_solve.h tells the method). Of fit_solve and fit_bracket alone. */
#ifndef LASTWATER_FIT_WORK_H
#define LASTWATER_FIT_WORK_H

#include "io/fit_axes.h"

typedef struct {
  const fit_solve_request *ask;
  fit_solve_answer *out;
  double scatter;                      /* of the residuals, 1.4826 times the median of their sizes */
  fit_axes axes;
  double base[FIT_SOLVE_MOST];         /* where the steps of the search are counted from */
  double *predictions, *many, *slopes; /* [m]; [2 n * m]; [m * n] d prediction / d step along a direction, column by column */
  double along[FIT_SOLVE_MOST];        /* the same of the forecast */
  double variance, wide;               /* of the forecast; of one value, as if it were independent */
  double spread[FIT_SOLVE_MOST][FIT_SOLVE_MOST]; /* covariance of the steps along the directions */
  double places[2 * FIT_SOLVE_MOST * FIT_SOLVE_MOST], forecasts[2 * FIT_SOLVE_MOST], forecast;
  double at[FIT_SOLVE_MOST], slopes_at[FIT_SOLVE_MOST]; /* where predictions were made, where slopes were taken */
  bool fresh, known;                   /* they were; slopes are those along the present directions              */
  status code;                         /* of the model: all stops when it is not STATUS_OK                      */
  message *msg;
} fit_work;

/* Predictions and forecast at x; nothing is run when they are those of x already. */
void fit_work_predict(fit_work *f, const double *x);
/* Slopes at x along the present directions, by runs made at once. */
void fit_work_differentiate(fit_work *f, const double *x);
/* Prediction less measured value; a gap: 0. */
double fit_work_residual(const fit_work *f, size_t value);
/* A residual held to what counts no more than linearly. */
double fit_work_held(const fit_work *f, double r);
/* Huber's loss as a residual: its square is twice the loss. *slope: its derivative by r. */
double fit_work_softened(double r, double scatter, double *slope);
/* Loss over the scatter's square, of predictions elsewhere; infinite where nothing is known. */
double fit_work_loss(const fit_work *f, const double *predictions);
/* The scatter at the predictions as they are. */
status fit_work_find_scatter(fit_work *f);
/* Sums of products of the slopes, without what is an outlier (NULL: with all). */
void fit_work_find_normal(const fit_work *f, const unsigned char *outlier, double normal[FIT_SOLVE_MOST][FIT_SOLVE_MOST]);

#endif
