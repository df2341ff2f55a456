#include "io/fit_solve.h"

#include <cminpack.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double HUBER = 1.345, OUTLIER = 4.0, LEAST_SCATTER = 1e-4, FAR = 1e3;
/* Two-sided 5 % shared among n inputs (Bonferroni): quantiles of the normal distribution, from tables. */
static const double JOINT[FIT_SOLVE_MOST + 1] = {0.0, 1.960, 2.241, 2.394, 2.498, 2.576, 2.638, 2.690, 2.734};
enum { STAGES = 3, MOST_STEPS = 12, WIDENINGS = 5, RESTARTS = 4 };
static const double WIDER = 1.4, BETTER = 1.0;

typedef struct {
  const fit_solve_request *ask;
  fit_solve_answer *out;
  double scatter;
  double *predictions, *many, *slopes; /* [m]; [2 n * m]; [m * n] d prediction / d input, column by column */
  double places[2 * FIT_SOLVE_MOST * FIT_SOLVE_MOST], forecasts[2 * FIT_SOLVE_MOST], forecast;
  double at[FIT_SOLVE_MOST];           /* where predictions were made */
  bool fresh;
  status code;
  message *msg;
} fit;

/* ------------------------------------------------------------------------------------------------ the model */

static void predict(fit *f, const double *x)
{
  const size_t n = f->ask->num_inputs;
  if (f->code != STATUS_OK || (f->fresh && memcmp(f->at, x, n * sizeof *x) == 0))
    return;
  f->code = f->ask->model(f->ask->what, x, 1, f->predictions, &f->forecast, f->msg);
  memcpy(f->at, x, n * sizeof *x);
  f->fresh = true;
  f->out->num_runs++;
}

/* All slopes from runs made at once, to either side and not too near: the steps of the runs make a figure a little rough, and the roughness of close
 * places would pass for slope. A place beside that cannot be computed leaves a slope of zero. */
static void differentiate(fit *f, const double *x)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  predict(f, x);
  for (size_t k = 0; k < 2 * n; k++) {
    memcpy(f->places + k * n, x, n * sizeof *x);
    f->places[k * n + k / 2] += k % 2 ? f->ask->step : -f->ask->step;
  }
  if (f->code == STATUS_OK)
    f->code = f->ask->model(f->ask->what, f->places, 2 * n, f->many, f->forecasts, f->msg);
  f->out->num_runs += 2 * n;
  for (size_t j = 0; j < n; j++) {
    for (size_t i = 0; i < m; i++) {
      const double slope = (f->many[(2 * j + 1) * m + i] - f->many[2 * j * m + i]) / (2.0 * f->ask->step);
      f->slopes[j * m + i] = isfinite(slope) ? slope : 0.0;
    }
    f->out->forecast_slope[j] = (f->forecasts[2 * j + 1] - f->forecasts[2 * j]) / (2.0 * f->ask->step);
  }
}

static double residual(const fit *f, size_t i)
{
  if (isnan(f->ask->measured[i]))
    return 0.0;
  return isnan(f->predictions[i]) ? FAR : f->predictions[i] - f->ask->measured[i];
}

/* Huber's loss as a residual: its square is twice the loss. *slope: its derivative by r. */
static double softened(double r, double scatter, double *slope)
{
  const double k = HUBER * scatter, a = fabs(r);
  if (a <= k) {
    *slope = 1.0;
    return r;
  }
  const double t = sqrt(2.0 * k * a - k * k);
  *slope = k / t;
  return r < 0.0 ? -t : t;
}

static int evaluate(void *data, int m, int n, const double *x, double *fvec, double *fjac, int ldfjac, int flag)
{
  fit *f = data;
  double slope;
  if (flag == 1)
    predict(f, x);
  else
    differentiate(f, x);
  for (int i = 0; i < m && f->code == STATUS_OK; i++) {
    const double t = softened(residual(f, (size_t)i), f->scatter, &slope);
    if (flag == 1)
      fvec[i] = t;
    for (int j = 0; flag == 2 && j < n; j++)
      fjac[i + j * ldfjac] = isnan(f->ask->measured[i]) ? 0.0 : slope * f->slopes[(size_t)j * f->ask->num_values + (size_t)i];
  }
  return f->code == STATUS_OK ? 0 : -1;
}

/* ------------------------------------------------------------------------------------------------ scatter */

static int by_size(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static status find_scatter(fit *f)
{
  size_t num = 0;
  double *sizes = malloc((f->ask->num_values + 1) * sizeof *sizes);
  if (!sizes)
    return message_set(f->msg, STATUS_NO_MEMORY, "out of memory for the fit");
  for (size_t i = 0; i < f->ask->num_values; i++)
    if (!isnan(f->ask->measured[i]))
      sizes[num++] = fabs(residual(f, i));
  qsort(sizes, num, sizeof *sizes, by_size);
  f->scatter = num ? fmax(1.4826 * sizes[num / 2], LEAST_SCATTER) : LEAST_SCATTER;
  free(sizes);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ the search */

static status search(fit *f, double *x)
{
  const int m = (int)f->ask->num_values, n = (int)f->ask->num_inputs;
  double *work = calloc((size_t)m * (size_t)(n + 2) + 5 * (size_t)n, sizeof *work);
  double diag[FIT_SOLVE_MOST], qtf[FIT_SOLVE_MOST], w1[FIT_SOLVE_MOST], w2[FIT_SOLVE_MOST], w3[FIT_SOLVE_MOST];
  int pivots[FIT_SOLVE_MOST], nfev = 0, njev = 0;
  if (!work)
    return message_set(f->msg, STATUS_NO_MEMORY, "out of memory for the fit");
  for (int j = 0; j < n; j++)
    diag[j] = 1.0;
  (void)lmder(evaluate, f, m, n, x, work, work + 2 * m, m, 1e-5, 1e-4, 0.0, MOST_STEPS, diag, 2, 1.0, 0, &nfev, &njev, pivots, qtf, w1, w2, w3, work + m);
  free(work);
  return f->code;
}

/* Gauss and Jordan with a ridge too small to matter; false when the matrix is singular all the same. */
static bool invert(size_t n, double a[FIT_SOLVE_MOST][FIT_SOLVE_MOST], double inverse[FIT_SOLVE_MOST][FIT_SOLVE_MOST])
{
  bool sound = true;
  for (size_t i = 0; i < n; i++)
    for (size_t j = 0; j < n; j++)
      inverse[i][j] = i == j;
  for (size_t c = 0; c < n; c++) {
    if (!(a[c][c] > 1e-9)) { /* of a matrix with ones on its diagonal */
      sound = false;
      a[c][c] = 1e-9;
    }
    const double pivot = a[c][c];
    for (size_t j = 0; j < n; j++) {
      a[c][j] /= pivot;
      inverse[c][j] /= pivot;
    }
    for (size_t i = 0; i < n; i++) {
      const double factor = a[i][c];
      for (size_t j = 0; i != c && j < n; j++) {
        a[i][j] -= factor * a[c][j];
        inverse[i][j] -= factor * inverse[c][j];
      }
    }
  }
  return sound;
}

static void count_outliers(fit *f, unsigned char *outlier)
{
  f->out->num_outliers = f->out->num_used = 0;
  double sum = 0.0, products = 0.0, squares = 0.0;
  for (size_t i = 0; i < f->ask->num_values; i++) {
    outlier[i] = !isnan(f->ask->measured[i]) && fabs(residual(f, i)) > OUTLIER * f->scatter;
    f->out->num_outliers += outlier[i];
    if (isnan(f->ask->measured[i]) || outlier[i])
      continue;
    f->out->num_used++;
    sum += residual(f, i) * residual(f, i);
    const size_t before = f->ask->follows[i];
    if (before != i && !isnan(f->ask->measured[before]) && !outlier[before]) {
      products += residual(f, i) * residual(f, before);
      squares += 0.5 * (residual(f, i) * residual(f, i) + residual(f, before) * residual(f, before));
    }
  }
  const size_t n = f->ask->num_inputs;
  f->out->scatter = sqrt(sum / (double)(f->out->num_used > n ? f->out->num_used - n : 1));
  f->out->likeness = squares > 0.0 ? fmin(fmax(products / squares, 0.0), 0.98) : 0.0;
}

static void find_confidence(fit *f, const unsigned char *outlier)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  double normal[FIT_SOLVE_MOST][FIT_SOLVE_MOST] = {{0}}, inverse[FIT_SOLVE_MOST][FIT_SOLVE_MOST], size[FIT_SOLVE_MOST];
  fit_solve_answer *out = f->out;
  for (size_t i = 0; i < m; i++)
    for (size_t j = 0; j < n && !outlier[i] && !isnan(f->ask->measured[i]); j++)
      for (size_t k = 0; k < n; k++)
        normal[j][k] += f->slopes[j * m + i] * f->slopes[k * m + i];
  for (size_t j = 0; j < n; j++)
    size[j] = sqrt(normal[j][j]);
  for (size_t j = 0; j < n; j++)
    for (size_t k = 0; k < n; k++)
      normal[j][k] = j == k ? 1.0 : size[j] > 0.0 && size[k] > 0.0 ? normal[j][k] / (size[j] * size[k]) : 0.0;
  (void)invert(n, normal, inverse);
  const double wide = (1.0 + out->likeness) / (1.0 - out->likeness);
  for (size_t j = 0; j < n; j++) {
    for (size_t k = 0; k < n; k++) {
      out->correlation[j][k] = inverse[j][k] / sqrt(inverse[j][j] * inverse[k][k]);
      out->covariance[j][k] = size[j] > 0.0 && size[k] > 0.0 ? out->scatter * out->scatter * wide * inverse[j][k] / (size[j] * size[k]) : j == k ? INFINITY : 0.0;
    }
    out->half[j] = JOINT[n] * sqrt(out->covariance[j][j]);
  }
}

/* ------------------------------------------------------------------------------------------------ what the loss itself says */

/* Loss over the scatter's square, of predictions elsewhere; infinite where nothing is known. */
static double loss_of(const fit *f, const double *predictions)
{
  double sum = 0.0, slope;
  for (size_t i = 0; i < f->ask->num_values; i++) {
    if (isnan(f->ask->measured[i]))
      continue;
    if (isnan(predictions[i]))
      return INFINITY;
    const double t = softened(predictions[i] - f->ask->measured[i], f->scatter, &slope);
    sum += t * t;
  }
  return sum / (f->scatter * f->scatter);
}

/* Where an input stands at an end of its bracket, the others following as the covariance says. side 0: low, 1: high. */
static void end_of(const fit *f, const double *x, size_t input, int side, double factor, double *place)
{
  const double scale = (side ? factor : -factor) * JOINT[f->ask->num_inputs] / sqrt(f->out->covariance[input][input]);
  for (size_t k = 0; k < f->ask->num_inputs; k++)
    place[k] = x[k] + scale * (isfinite(f->out->covariance[k][input]) ? f->out->covariance[k][input] : 0.0);
}

/* A bracket by slopes holds where the model is straight. The loss itself is asked at both ends of every bracket (a likelihood ratio): where it has not
 * risen by as much as it should, the bracket is widened. better: a place of clearly less loss that was met on the way; false: none. */
static bool widen(fit *f, const double *x, double *better)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  const double base = loss_of(f, f->predictions), enough = JOINT[n] * JOINT[n] * (1.0 + f->out->likeness) / (1.0 - f->out->likeness);
  double factor[2 * FIT_SOLVE_MOST], forecasts[2 * FIT_SOLVE_MOST], least = base - BETTER;
  bool found = false, open[2 * FIT_SOLVE_MOST];
  for (size_t k = 0; k < 2 * n; k++) {
    factor[k] = 1.0;
    open[k] = isfinite(f->out->half[k / 2]);
  }
  for (int round = 0; round < WIDENINGS && f->code == STATUS_OK; round++) {
    size_t num = 0, of[2 * FIT_SOLVE_MOST];
    for (size_t k = 0; k < 2 * n; k++)
      if (open[k]) {
        end_of(f, x, k / 2, (int)(k % 2), factor[k], f->places + num * n);
        of[num++] = k;
      }
    if (num == 0)
      break;
    f->code = f->ask->model(f->ask->what, f->places, num, f->many, forecasts, f->msg);
    f->out->num_runs += num;
    for (size_t p = 0; p < num && f->code == STATUS_OK; p++) {
      const double loss = loss_of(f, f->many + p * m);
      open[of[p]] = loss - base < enough;
      if (open[of[p]])
        factor[of[p]] *= WIDER;
      if (loss < least) {
        least = loss;
        memcpy(better, f->places + p * n, n * sizeof *better);
        found = true;
      }
    }
  }
  for (size_t j = 0; j < n && !found; j++) {
    const double wider = fmax(factor[2 * j], factor[2 * j + 1]);
    f->out->half[j] *= wider;
    for (size_t k = 0; k < n; k++) {
      f->out->covariance[j][k] *= wider;
      f->out->covariance[k][j] *= wider;
    }
  }
  return found;
}

/* The forecast by the covariance, once that is as wide as it should be. */
static void find_forecast(fit *f)
{
  double variance = 0.0;
  for (size_t j = 0; j < f->ask->num_inputs; j++)
    for (size_t k = 0; k < f->ask->num_inputs; k++)
      if (isfinite(f->out->covariance[j][k]))
        variance += f->out->forecast_slope[j] * f->out->forecast_slope[k] * f->out->covariance[j][k];
  f->out->forecast_half = 1.645 * sqrt(variance);
}

static bool knows_anything(const fit *f)
{
  for (size_t i = 0; i < f->ask->num_values; i++)
    if (!isnan(f->predictions[i]))
      return true;
  return false;
}

static status settle(fit *f, double *predictions, unsigned char *outlier)
{
  double x[FIT_SOLVE_MOST];
  memcpy(x, f->ask->start, f->ask->num_inputs * sizeof *x);
  predict(f, x);
  if (f->code == STATUS_OK && !knows_anything(f))
    return message_set(f->msg, STATUS_FAILED, "the case cannot be computed where the fit begins");
  for (int again = 0; again < RESTARTS && f->code == STATUS_OK; again++) {
    double better[FIT_SOLVE_MOST];
    for (int stage = 0; stage < (again ? 1 : STAGES) && f->code == STATUS_OK; stage++) {
      f->code = find_scatter(f);
      if (f->code == STATUS_OK)
        f->code = search(f, x);
      predict(f, x);
    }
    if (f->code == STATUS_OK)
      f->code = find_scatter(f);
    count_outliers(f, outlier);
    differentiate(f, x);
    find_confidence(f, outlier);
    if (!widen(f, x, better))
      break;
    memcpy(x, better, f->ask->num_inputs * sizeof *x); /* a rough loss has more than one bottom */
    predict(f, x);
  }
  if (f->code != STATUS_OK)
    return f->code;
  find_forecast(f);
  memcpy(f->out->place, x, f->ask->num_inputs * sizeof *x);
  f->out->forecast = f->forecast;
  memcpy(predictions, f->predictions, f->ask->num_values * sizeof *predictions);
  return f->code;
}

status fit_solve(fit_solve_answer *out, double *predictions, unsigned char *outlier, const fit_solve_request *ask, message *msg)
{
  const size_t n = ask->num_inputs, m = ask->num_values;
  fit *f = calloc(1, sizeof *f);
  *out = (fit_solve_answer){0};
  status code = f ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the fit");
  if (code == STATUS_OK) {
    *f = (fit){.ask = ask, .out = out, .scatter = 1.0, .code = STATUS_OK, .msg = msg};
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
