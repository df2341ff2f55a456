#include "io/fit_bracket.h"

#include <math.h>
#include <string.h>

/* Two-sided 5 % shared among n inputs (Bonferroni): quantiles of the normal distribution, from tables. */
static const double JOINT[FIT_SOLVE_MOST + 1] = {0.0, 1.960, 2.241, 2.394, 2.498, 2.576, 2.638, 2.690, 2.734};
enum { WIDENINGS = 8 };
static const double LEAST_WIDER = 1.15, MOST_WIDER = 2.0, RISEN = 0.8, BETTER = 1.0, FAINT = 1e-5;
static const double STEEP = 2.0; /* a loss that has risen by so much more than asked for lies beside the floor of the valley */

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

/* Quantile of Student's t from that of the normal distribution: M. Abramowitz, I. Stegun, Handbook of Mathematical Functions (1964), 26.7.5. */
static double student(double z, double freedom)
{
  const double z2 = z * z;
  return z * (1.0 + (z2 + 1.0) / (4.0 * freedom) + ((5.0 * z2 + 16.0) * z2 + 3.0) / (96.0 * freedom * freedom));
}

/* Values that neighbours are like tell less than their number says. */
static double joint(const fit_work *f)
{
  const double independent = (double)f->out->num_used * (1.0 - f->out->likeness) / (1.0 + f->out->likeness);
  return student(JOINT[f->ask->num_inputs], fmax(independent - (double)f->ask->num_inputs, 3.0));
}

/* True when no direction in which the input moves changes anything. */
static bool is_unheard(const fit_axes *a, const double *size, size_t input)
{
  for (size_t k = 0; k < a->num; k++)
    if (size[k] > 0.0 && a->axis[k][input] != 0.0)
      return false;
  return true;
}

void fit_bracket_by_slopes(fit_work *f, const unsigned char *outlier)
{
  const size_t n = f->ask->num_inputs;
  double normal[FIT_SOLVE_MOST][FIT_SOLVE_MOST], size[FIT_SOLVE_MOST], largest = 0.0;
  fit_solve_answer *out = f->out;
  fit_work_find_normal(f, outlier, normal);
  for (size_t j = 0; j < n; j++) {
    size[j] = sqrt(normal[j][j]);
    largest = fmax(largest, size[j]);
  }
  for (size_t j = 0; j < n; j++)
    for (size_t k = 0; k < n; k++)
      normal[j][k] = j == k ? 1.0 : size[j] > 0.0 && size[k] > 0.0 ? normal[j][k] / (size[j] * size[k]) : 0.0;
  (void)invert(n, normal, f->spread);
  f->wide = out->scatter * out->scatter * (1.0 + out->likeness) / (1.0 - out->likeness);
  f->variance = 0.0;
  for (size_t j = 0; j < n; j++)
    for (size_t k = 0; k < n; k++) {
      f->spread[j][k] *= f->wide / (fmax(size[j], FAINT * largest) * fmax(size[k], FAINT * largest));
      if (size[j] > 0.0 && size[k] > 0.0)
        f->variance += f->along[j] * f->along[k] * f->spread[j][k];
    }
  for (size_t j = 0; j < n; j++)
    for (size_t k = 0; k < n; k++) {
      out->covariance[j][k] = 0.0;
      for (size_t a = 0; a < n; a++)
        for (size_t b = 0; b < n; b++)
          out->covariance[j][k] += f->axes.axis[a][j] * f->spread[a][b] * f->axes.axis[b][k];
    }
  for (size_t j = 0; j < n; j++)
    for (size_t k = 0; k < n; k++)
      out->correlation[j][k] = out->covariance[j][k] / sqrt(out->covariance[j][j] * out->covariance[k][k]);
  for (size_t j = 0; j < n; j++) {
    for (size_t k = 0; k < n && is_unheard(&f->axes, size, j); k++)
      out->covariance[j][k] = out->covariance[k][j] = j == k ? INFINITY : 0.0;
    out->half[j] = joint(f) * sqrt(out->covariance[j][j]);
  }
  fit_axes_slopes(&f->axes, f->along, out->forecast_slope);
}

/* ------------------------------------------------------------------------------------------------ what the loss itself says */

/* Steps from x to where an input stands at an end of its bracket, the others following as the covariance says. side 0: low, 1: high. */
static void steps_to_end(const fit_work *f, size_t input, int side, double *steps)
{
  const size_t n = f->ask->num_inputs;
  const double scale = (side ? 1.0 : -1.0) * joint(f) / sqrt(f->out->covariance[input][input]);
  for (size_t a = 0; a < n; a++) {
    steps[a] = 0.0;
    for (size_t b = 0; b < n; b++)
      steps[a] += scale * f->spread[a][b] * f->axes.axis[b][input];
  }
}

/* What the loss would be there if the model were straight. */
static double straight_loss(const fit_work *f, const double *steps)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  double sum = 0.0, slope;
  for (size_t i = 0; i < m; i++) {
    if (isnan(f->ask->measured[i]))
      continue;
    double r = fit_work_residual(f, i);
    for (size_t j = 0; j < n; j++)
      r += steps[j] * f->slopes[j * m + i];
    const double t = fit_work_softened(r, f->scatter, &slope);
    sum += t * t;
  }
  return sum / (f->scatter * f->scatter);
}

typedef struct { /* one end of one bracket */
  double steps[FIT_SOLVE_MOST], factor, enough;
  bool open, down; /* down: the other inputs have come down to the valley's floor */
} bracket_end;

/* Brings the other inputs down to the floor of the valley by one step of Gauss and Newton that leaves this one where it is: a valley is hardly ever
 * straight, and beside its floor the loss is high for no fault of this input. */
static void come_down(const fit_work *f, size_t input, const double *predictions, const unsigned char *outlier, double *steps)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  double force[FIT_SOLVE_MOST] = {0.0}, fall[FIT_SOLVE_MOST] = {0.0}, held[FIT_SOLVE_MOST] = {0.0}, fallen = 0.0, holding = 0.0;
  for (size_t i = 0; i < m; i++)
    for (size_t k = 0; k < n && !isnan(f->ask->measured[i]) && !outlier[i]; k++)
      force[k] -= fit_work_held(f, predictions[i] - f->ask->measured[i]) * f->slopes[k * m + i] / f->wide;
  for (size_t k = 0; k < n; k++)
    for (size_t l = 0; l < n; l++) {
      fall[k] += f->spread[k][l] * force[l];
      held[k] += f->spread[k][l] * f->axes.axis[l][input];
    }
  for (size_t k = 0; k < n; k++) {
    fallen += f->axes.axis[k][input] * fall[k];
    holding += f->axes.axis[k][input] * held[k];
  }
  for (size_t k = 0; k < n; k++)
    steps[k] += fall[k] - held[k] * fallen / holding;
}

/* Judges an end by the loss there. */
static void judge(const fit_work *f, bracket_end *e, size_t input, double rise, const double *predictions, const unsigned char *outlier)
{
  if (rise < e->enough) {
    const double wider = fmin(fmax(sqrt(e->enough / fmax(rise, 0.01 * e->enough)), LEAST_WIDER), MOST_WIDER);
    for (size_t k = 0; k < f->ask->num_inputs; k++)
      e->steps[k] *= wider;
    e->factor *= wider;
    e->down = false;
  } else if (!e->down && isfinite(rise) && rise > STEEP * e->enough && f->ask->num_inputs > 1) {
    come_down(f, input, predictions, outlier, e->steps);
    e->down = true;
  } else {
    e->open = false;
  }
}

/* Runs all ends that are still open at once. *better: the place of least loss, when that is clearly less than at x. */
static bool ask_ends(fit_work *f, const double *x, double base, bracket_end *ends, const unsigned char *outlier, double *better)
{
  const size_t n = f->ask->num_inputs, m = f->ask->num_values;
  double forecasts[2 * FIT_SOLVE_MOST], least = base - BETTER;
  size_t num = 0, of[2 * FIT_SOLVE_MOST];
  bool found = false;
  for (size_t k = 0; k < 2 * n; k++)
    if (ends[k].open) {
      fit_axes_place(&f->axes, x, ends[k].steps, f->places + num * n);
      of[num++] = k;
    }
  if (num > 0)
    f->code = f->ask->model(f->ask->what, f->places, num, f->many, forecasts, f->msg);
  f->out->num_runs += num;
  for (size_t p = 0; p < num && f->code == STATUS_OK; p++) {
    const double loss = fit_work_loss(f, f->many + p * m);
    judge(f, &ends[of[p]], of[p] / 2, loss - base, f->many + p * m, outlier);
    if (loss < least) {
      least = loss;
      memcpy(better, f->places + p * n, n * sizeof *better);
      found = true;
    }
  }
  return found;
}

/* A bracket by slopes holds where the model is straight. */
bool fit_bracket_by_loss(fit_work *f, const double *x, const unsigned char *outlier, double *better)
{
  const size_t n = f->ask->num_inputs;
  const double base = fit_work_loss(f, f->predictions);
  bracket_end ends[2 * FIT_SOLVE_MOST];
  double widest = 1.0;
  for (size_t k = 0; k < 2 * n; k++) {
    ends[k] = (bracket_end){.factor = 1.0, .open = isfinite(f->out->half[k / 2])};
    steps_to_end(f, k / 2, (int)(k % 2), ends[k].steps);
    ends[k].enough = RISEN * (straight_loss(f, ends[k].steps) - base);
  }
  for (int round = 0; round < WIDENINGS && f->code == STATUS_OK; round++)
    if (ask_ends(f, x, base, ends, outlier, better))
      return true;
  for (size_t j = 0; j < n; j++) {
    const double wider = fmax(ends[2 * j].factor, ends[2 * j + 1].factor);
    f->out->half[j] *= wider;
    widest = fmax(widest, wider);
    for (size_t k = 0; k < n; k++) {
      f->out->covariance[j][k] *= wider;
      f->out->covariance[k][j] *= wider;
    }
  }
  f->out->forecast_half = 1.645 * widest * sqrt(f->variance);
  return false;
}
