#include "io/fit_work.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double HUBER = 1.345, LEAST_SCATTER = 1e-4, FAR = 1e3;

void fit_work_predict(fit_work *f, const double *x)
{
  const size_t n = f->ask->num_inputs;
  if (f->code != STATUS_OK || (f->fresh && memcmp(f->at, x, n * sizeof *x) == 0))
    return;
  f->code = f->ask->model(f->ask->what, x, 1, f->predictions, &f->forecast, f->msg);
  memcpy(f->at, x, n * sizeof *x);
  f->fresh = true;
  f->out->num_runs++;
}

/* By the places to either side, or the one of them that can be computed. */
static double slope_of(double low, double middle, double high)
{
  const double slope = isnan(low) ? high - middle : isnan(high) ? middle - low : 0.5 * (high - low);
  return isfinite(slope) ? slope : 0.0;
}

/* All slopes from runs made at once, to either side and not too near: the steps of the runs make a figure a little rough, and the roughness of close
 * places would pass for slope. */
void fit_work_differentiate(fit_work *f, const double *x)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  fit_work_predict(f, x);
  if (f->known && memcmp(f->slopes_at, x, n * sizeof *x) == 0)
    return;
  for (size_t k = 0; k < 2 * n; k++) {
    double steps[FIT_SOLVE_MOST] = {0.0};
    steps[k / 2] = k % 2 ? 1.0 : -1.0;
    fit_axes_place(&f->axes, x, steps, f->places + k * n);
  }
  if (f->code == STATUS_OK)
    f->code = f->ask->model(f->ask->what, f->places, 2 * n, f->many, f->forecasts, f->msg);
  f->out->num_runs += 2 * n;
  for (size_t j = 0; j < n; j++) {
    for (size_t i = 0; i < m; i++)
      f->slopes[j * m + i] = slope_of(f->many[2 * j * m + i], f->predictions[i], f->many[(2 * j + 1) * m + i]);
    f->along[j] = slope_of(f->forecasts[2 * j], f->forecast, f->forecasts[2 * j + 1]);
  }
  memcpy(f->slopes_at, x, n * sizeof *x);
  f->known = true;
}

double fit_work_residual(const fit_work *f, size_t i)
{
  if (isnan(f->ask->measured[i]))
    return 0.0;
  return isnan(f->predictions[i]) ? FAR : f->predictions[i] - f->ask->measured[i];
}

double fit_work_held(const fit_work *f, double r)
{
  return fmax(fmin(r, HUBER * f->scatter), -HUBER * f->scatter);
}

double fit_work_softened(double r, double scatter, double *slope)
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

double fit_work_loss(const fit_work *f, const double *predictions)
{
  double sum = 0.0, slope;
  for (size_t i = 0; i < f->ask->num_values; i++) {
    if (isnan(f->ask->measured[i]))
      continue;
    if (isnan(predictions[i]))
      return INFINITY;
    const double t = fit_work_softened(predictions[i] - f->ask->measured[i], f->scatter, &slope);
    sum += t * t;
  }
  return sum / (f->scatter * f->scatter);
}

static int by_size(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

status fit_work_find_scatter(fit_work *f)
{
  size_t num = 0;
  double *sizes = malloc((f->ask->num_values + 1) * sizeof *sizes);
  if (!sizes)
    return message_set(f->msg, STATUS_NO_MEMORY, "out of memory for the fit");
  for (size_t i = 0; i < f->ask->num_values; i++)
    if (!isnan(f->ask->measured[i]))
      sizes[num++] = fabs(fit_work_residual(f, i));
  qsort(sizes, num, sizeof *sizes, by_size);
  f->scatter = fmax(num ? 1.4826 * sizes[num / 2] : 0.0, fmax(f->ask->least, LEAST_SCATTER));
  free(sizes);
  return STATUS_OK;
}

void fit_work_find_normal(const fit_work *f, const unsigned char *outlier, double normal[FIT_SOLVE_MOST][FIT_SOLVE_MOST])
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  memset(normal, 0, FIT_SOLVE_MOST * sizeof *normal);
  for (size_t i = 0; i < m; i++)
    for (size_t j = 0; j < n && !isnan(f->ask->measured[i]) && !(outlier && outlier[i]); j++)
      for (size_t k = 0; k < n; k++)
        normal[j][k] += f->slopes[j * m + i] * f->slopes[k * m + i];
}
