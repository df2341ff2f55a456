#include "io/seek_target.h"

#include <math.h>
#include <stdlib.h>

enum { LOOKED_AT = 5 }; /* LOOKED_AT: places that are looked at before a range without a change of sign is given up */
static const double GUARD = 0.06; /* share of the bracket at its ends where no new place is put */

/* ------------------------------------------------------------------------------------------------ where next */

static bool differ(double a, double b) { return (a < 0.0) != (b < 0.0); }

/* The nearer known neighbour of the bracket [i, i + 1]; SIZE_MAX: there is none. */
static size_t neighbour(const double *x, const double *f, size_t n, size_t i)
{
  size_t third = SIZE_MAX;
  if (i > 0 && !isnan(f[i - 1]))
    third = i - 1;
  if (i + 2 < n && !isnan(f[i + 2]) && (third == SIZE_MAX || x[i + 2] - x[i + 1] < x[i] - x[third]))
    third = i + 2;
  return third;
}

/* Where the figure is zero inside the bracket: by the inverse parabola through three places where those bend little enough for it to be
 * trusted, else by halving (Chandrupatla's rule); with two places alone, by the line. */
static double interpolate(const double *x, const double *f, size_t n, size_t i)
{
  const size_t third = neighbour(x, f, n, i);
  const double guard = GUARD * (x[i + 1] - x[i]), middle = 0.5 * (x[i] + x[i + 1]);
  double at = x[i] - f[i] * (x[i + 1] - x[i]) / (f[i + 1] - f[i]);
  if (third != SIZE_MAX) {
    const size_t b = third < i ? i : i + 1, a = third < i ? i + 1 : i; /* third, b, a in a row */
    const double fa = f[a], fb = f[b], fc = f[third];
    at = fa == fb || fa == fc || fb == fc ? middle
                                         : x[a] * fb * fc / ((fa - fb) * (fa - fc)) + x[b] * fa * fc / ((fb - fa) * (fb - fc)) +
                                             x[third] * fa * fb / ((fc - fa) * (fc - fb));
    const double s = (x[b] - x[a]) / (x[third] - x[a]), p = (fb - fa) / (fc - fa);
    if (!(p > 1.0 - sqrt(1.0 - s) && p < sqrt(s)))
      at = middle;
  }
  return fmin(fmax(at, x[i] + guard), x[i + 1] - guard);
}

bool seek_target_next(const double *x, const double *f, size_t n, double *next)
{
  size_t beside = SIZE_MAX, widest = 0;
  double nearest = INFINITY;
  bool all_known = true;
  for (size_t i = 0; i + 1 < n; i++) {
    const bool a = !isnan(f[i]), b = !isnan(f[i + 1]);
    if (a && b && differ(f[i], f[i + 1])) {
      *next = interpolate(x, f, n, i);
      return true;
    }
    if (a != b && fmin(a ? fabs(f[i]) : INFINITY, b ? fabs(f[i + 1]) : INFINITY) < nearest) {
      nearest = a ? fabs(f[i]) : fabs(f[i + 1]);
      beside = i;
    }
    all_known = all_known && a && b;
    if (x[i + 1] - x[i] > x[widest + 1] - x[widest])
      widest = i;
  }
  if (beside != SIZE_MAX && x[beside + 1] - x[beside] > 1e-3) { /* the figure may go on to the target where it is not known any more */
    *next = 0.5 * (x[beside] + x[beside + 1]);
    return true;
  }
  if (n >= LOOKED_AT && (all_known || x[widest + 1] - x[widest] < 0.1))
    return false;
  *next = 0.5 * (x[widest] + x[widest + 1]);
  return n < 2 * LOOKED_AT;
}

bool seek_target_is_ratio(const double *f, size_t n, double target)
{
  bool above = target > 0.0;
  for (size_t i = 0; i < n; i++)
    above = above && (isnan(f[i]) || f[i] + target > 0.0);
  return above;
}

/* ------------------------------------------------------------------------------------------------ the search */

typedef struct { double x, f; size_t run; } known; /* f: the figure less the target */

static int by_place(const void *a, const void *b)
{
  const double x = ((const known *)a)->x, y = ((const known *)b)->x;
  return (x > y) - (x < y);
}

static void collect(const seek_runs *s, known *list, double *x, double *f)
{
  const size_t k = seek_runs_column(s, s->plan->target.path);
  for (size_t n = 0; n < s->num; n++)
    list[n] = (known){s->place[n], s->value[n * s->plan->num_report + k] - s->plan->target.value, n};
  qsort(list, s->num, sizeof *list, by_place);
  for (size_t n = 0; n < s->num; n++) {
    x[n] = list[n].x;
    f[n] = list[n].f;
  }
  if (seek_target_is_ratio(f, s->num, s->plan->target.value))
    for (size_t n = 0; n < s->num; n++)
      f[n] = log1p(f[n] / s->plan->target.value);
}

static void conclude(seek_target_answer *out, const seek_runs *s, const known *list)
{
  out->run = SIZE_MAX;
  out->slope = out->low = out->high = NAN;
  size_t best = SIZE_MAX;
  for (size_t n = 0; n < s->num; n++)
    if (!isnan(list[n].f) && (best == SIZE_MAX || fabs(list[n].f) < fabs(list[best].f)))
      best = n;
  if (best == SIZE_MAX)
    return;
  out->run = list[best].run;
  size_t other = best + 1 < s->num && !isnan(list[best + 1].f) ? best + 1 : best;
  if (best > 0 && !isnan(list[best - 1].f) && (other == best || list[best].x - list[best - 1].x < list[other].x - list[best].x))
    other = best - 1;
  if (other != best)
    out->slope = (list[other].f - list[best].f) / (seek_runs_number(s, 0, list[other].x) - seek_runs_number(s, 0, list[best].x));
  for (size_t n = 0; n + 1 < s->num; n++)
    if (!isnan(list[n].f) && !isnan(list[n + 1].f) && differ(list[n].f, list[n + 1].f)) {
      out->low = list[n].x;
      out->high = list[n + 1].x;
    }
  if (fabs(list[best].f) <= s->plan->target.within)
    out->outcome = SEEK_MET;
}

status seek_target_find(seek_target_answer *out, seek_runs *s, message *msg)
{
  static const double ends[2] = {0.0, 1.0};
  known *list = calloc(s->capacity + 1, sizeof *list);
  double *x = calloc(2 * (s->capacity + 1), sizeof *x), *f = x ? x + s->capacity + 1 : NULL;
  *out = (seek_target_answer){.outcome = SEEK_SPENT};
  status code = list && x ? seek_runs_make(s, ends, 2, msg) : message_set(msg, STATUS_NO_MEMORY, "out of memory for the search");
  while (code == STATUS_OK) {
    double next = NAN;
    collect(s, list, x, f);
    conclude(out, s, list);
    if (out->outcome == SEEK_MET || s->num >= s->most)
      break;
    if (!seek_target_next(x, f, s->num, &next)) {
      out->outcome = SEEK_NONE;
      break;
    }
    code = seek_runs_make(s, &next, 1, msg);
  }
  free(list);
  free(x);
  return code;
}
