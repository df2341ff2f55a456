#include "io/fit_solve.h"

#include <cminpack.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/fit_bracket.h"
#include "io/sobol.h"

static const double OUTLIER = 4.0, FAR = 1e3;
enum { STARTS = 4, STAGES = 8, MOST_STEPS = 8, RESTARTS = 4 };
/* Slopes are taken over three standard deviations to either side, which is about as wide as the brackets: nearer the roughness of the runs would pass
 * for slope, and further off the slope is another one. SETTLED: the search is over when it gains less than this (a standard deviation is worth 1). */
static const double RISE = 9.0, SHORTEST = 0.02, SETTLED = 0.2;

/* ------------------------------------------------------------------------------------------------ the search */

static int evaluate(void *data, int m, int n, const double *steps, double *fvec, double *fjac, int ldfjac, int flag)
{
  fit_work *f = data;
  double slope, x[FIT_SOLVE_MOST];
  fit_axes_place(&f->axes, f->base, steps, x);
  if (flag == 1)
    fit_work_predict(f, x);
  else
    fit_work_differentiate(f, x);
  for (int i = 0; i < m && f->code == STATUS_OK; i++) {
    const double t = fit_work_softened(fit_work_residual(f, (size_t)i), f->scatter, &slope);
    if (flag == 1)
      fvec[i] = t;
    for (int j = 0; flag == 2 && j < n; j++)
      fjac[i + j * ldfjac] = isnan(f->ask->measured[i]) ? 0.0 : slope * f->slopes[(size_t)j * f->ask->num_values + (size_t)i];
  }
  return f->code == STATUS_OK ? 0 : -1;
}

static status search(fit_work *f, double *x)
{
  const int m = (int)f->ask->num_values, n = (int)f->ask->num_inputs;
  double *work = calloc((size_t)m * (size_t)(n + 2) + 5 * (size_t)n, sizeof *work);
  double steps[FIT_SOLVE_MOST] = {0.0}, diag[FIT_SOLVE_MOST], qtf[FIT_SOLVE_MOST], w1[FIT_SOLVE_MOST], w2[FIT_SOLVE_MOST], w3[FIT_SOLVE_MOST];
  int pivots[FIT_SOLVE_MOST], nfev = 0, njev = 0;
  if (!work)
    return message_set(f->msg, STATUS_NO_MEMORY, "out of memory for the fit");
  for (int j = 0; j < n; j++)
    diag[j] = 1.0;
  memcpy(f->base, x, (size_t)n * sizeof *x);
  (void)lmder(evaluate, f, m, n, steps, work, work + 2 * m, m, 1e-5, 0.02, 0.0, MOST_STEPS, diag, 2, 2.0, 0, &nfev, &njev, pivots, qtf, w1, w2, w3, work + m);
  free(work);
  fit_axes_place(&f->axes, f->base, steps, x);
  return f->code;
}

/* By the slopes that were taken last. */
static void turn_axes(fit_work *f)
{
  double normal[FIT_SOLVE_MOST][FIT_SOLVE_MOST];
  fit_work_find_normal(f, NULL, normal);
  for (size_t j = 0; j < f->ask->num_inputs; j++)
    for (size_t k = 0; k < f->ask->num_inputs; k++)
      normal[j][k] /= f->scatter * f->scatter;
  fit_axes_turn(&f->axes, normal, RISE, SHORTEST * f->ask->step, f->ask->step);
  f->known = false;
}

static void count_outliers(fit_work *f, unsigned char *outlier)
{
  f->out->num_outliers = f->out->num_used = 0;
  double sum = 0.0, products = 0.0, squares = 0.0;
  for (size_t i = 0; i < f->ask->num_values; i++) {
    outlier[i] = !isnan(f->ask->measured[i]) && fabs(fit_work_residual(f, i)) > OUTLIER * f->scatter;
    f->out->num_outliers += outlier[i];
    if (isnan(f->ask->measured[i]) || outlier[i])
      continue;
    f->out->num_used++;
    sum += fit_work_residual(f, i) * fit_work_residual(f, i);
    const size_t before = f->ask->follows[i];
    if (before != i && !isnan(f->ask->measured[before]) && !outlier[before]) {
      products += fit_work_residual(f, i) * fit_work_residual(f, before);
      squares += 0.5 * (fit_work_residual(f, i) * fit_work_residual(f, i) + fit_work_residual(f, before) * fit_work_residual(f, before));
    }
  }
  const size_t n = f->ask->num_inputs;
  f->out->scatter = sqrt(sum / (double)(f->out->num_used > n ? f->out->num_used - n : 1));
  f->out->likeness = squares > 0.0 ? fmin(fmax(products / squares, 0.0), 0.98) : 0.0;
}

static bool knows_anything(const fit_work *f)
{
  for (size_t i = 0; i < f->ask->num_values; i++)
    if (!isnan(f->predictions[i]))
      return true;
  return false;
}

static double mean_size(const fit_work *f, const double *predictions)
{
  double sum = 0.0;
  for (size_t i = 0; i < f->ask->num_values; i++)
    if (!isnan(f->ask->measured[i]))
      sum += isnan(predictions[i]) ? FAR : fmin(fabs(predictions[i] - f->ask->measured[i]), FAR);
  return sum;
}

/* The search begins where the residuals are smallest, at `start` or at one of a few places spread evenly over the ranges: a log in which a front passes
 * a probe has more than one bottom. */
static void begin(fit_work *f, double *x)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values, num = f->ask->low ? 2 * n : 0;
  size_t best = SIZE_MAX;
  memcpy(x, f->ask->start, n * sizeof *x);
  fit_work_predict(f, x);
  for (int go = 0; go < STARTS && num > 0 && f->code == STATUS_OK; go++) {
    for (size_t k = 0; k < num; k++)
      for (size_t j = 0; j < n; j++)
        f->places[k * n + j] = f->ask->low[j] + (f->ask->high[j] - f->ask->low[j]) * sobol_coordinate(j, 1 + k + num * (size_t)go);
    f->code = f->ask->model(f->ask->what, f->places, num, f->many, f->forecasts, f->msg);
    f->out->num_runs += num;
    double least = mean_size(f, f->predictions);
    best = SIZE_MAX;
    for (size_t k = 0; k < num && f->code == STATUS_OK; k++)
      if (mean_size(f, f->many + k * m) < least) {
        least = mean_size(f, f->many + k * m);
        best = k;
      }
    if (best != SIZE_MAX) {
      memcpy(x, f->places + best * n, n * sizeof *x);
      fit_work_predict(f, x);
    }
  }
}

static status settle(fit_work *f, double *predictions, unsigned char *outlier)
{
  double x[FIT_SOLVE_MOST];
  begin(f, x);
  if (f->code == STATUS_OK && !knows_anything(f))
    return message_set(f->msg, STATUS_FAILED, "the case cannot be computed where the fit begins");
  fit_axes_begin(&f->axes, f->ask->num_inputs, f->ask->step);
  for (int again = 0; again < RESTARTS && f->code == STATUS_OK; again++) {
    double better[FIT_SOLVE_MOST], gained = INFINITY;
    for (int stage = 0; stage < STAGES && f->code == STATUS_OK && (stage < 2 || gained > SETTLED); stage++) {
      f->code = fit_work_find_scatter(f);
      if (f->code != STATUS_OK)
        break;
      if (stage > 0)
        turn_axes(f);
      const double before = fit_work_loss(f, f->predictions);
      f->code = search(f, x);
      fit_work_predict(f, x);
      gained = before - fit_work_loss(f, f->predictions);
    }
    if (f->code == STATUS_OK)
      f->code = fit_work_find_scatter(f);
    count_outliers(f, outlier);
    turn_axes(f);
    fit_work_differentiate(f, x);
    fit_bracket_by_slopes(f, outlier);
    if (!fit_bracket_by_loss(f, x, outlier, better))
      break;
    memcpy(x, better, f->ask->num_inputs * sizeof *x); /* a rough loss has more than one bottom */
    fit_work_predict(f, x);
  }
  if (f->code != STATUS_OK)
    return f->code;
  memcpy(f->out->place, x, f->ask->num_inputs * sizeof *x);
  f->out->forecast = f->forecast;
  memcpy(predictions, f->predictions, f->ask->num_values * sizeof *predictions);
  return f->code;
}

status fit_solve(fit_solve_answer *out, double *predictions, unsigned char *outlier, const fit_solve_request *ask, message *msg)
{
  const size_t n = ask->num_inputs, m = ask->num_values;
  fit_work *f = calloc(1, sizeof *f);
  *out = (fit_solve_answer){0};
  status code = f ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the fit");
  if (code == STATUS_OK) {
    *f = (fit_work){.ask = ask, .out = out, .scatter = 1.0, .code = STATUS_OK, .msg = msg};
    f->predictions = calloc(m + 1, sizeof *f->predictions);
    f->many = calloc(2 * n * m + 1, sizeof *f->many);
    f->slopes = calloc(n * m + 1, sizeof *f->slopes);
    code = f->predictions && f->many && f->slopes ? settle(f, predictions, outlier) : message_set(msg, STATUS_NO_MEMORY, "out of memory for the fit");
    free(f->predictions);
    free(f->many);
    free(f->slopes);
  }
  free(f);
  return code;
}
