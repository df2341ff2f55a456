#include "io/band_spread.h"

#include <math.h>
#include <stdlib.h>

#include "io/sobol.h"

enum { POINTS = 4096 };
static const double EDGE = 0.05;

/* share 0..1: where the input stands between its ends. */
static double effect_at(double middle, const band_spread_effect *e, double share)
{
  const double t = 2.0 * share - 1.0;
  if (e->two)
    return share < 0.5 ? 0.0 : e->high - middle;
  if (e->three)
    return share < 1.0 / 3.0 ? e->low - middle : share < 2.0 / 3.0 ? 0.0 : e->high - middle;
  return 0.5 * (e->high - e->low) * t + (0.5 * (e->high + e->low) - middle) * t * t;
}

static int by_value(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

void band_spread_find(double middle, const band_spread_effect *effects, size_t num, double *low, double *high)
{
  double values[POINTS];
  for (size_t point = 0; point < POINTS; point++) {
    values[point] = middle;
    for (size_t i = 0; i < num; i++)
      values[point] += effect_at(middle, &effects[i], sobol_coordinate(i, point));
  }
  qsort(values, POINTS, sizeof *values, by_value);
  *low = values[(size_t)(EDGE * POINTS)];
  *high = values[(size_t)((1.0 - EDGE) * POINTS)];
}

double band_spread_variance(double middle, const band_spread_effect *e)
{
  if (e->two)
    return 0.25 * (e->high - middle) * (e->high - middle);
  if (e->three) {
    const double low = e->low - middle, high = e->high - middle, mean = (low + high) / 3.0;
    return (low * low + high * high) / 3.0 - mean * mean;
  }
  /* of a t + b t^2, t even on [-1, 1]: a^2 / 3 + 4 b^2 / 45 */
  const double a = 0.5 * (e->high - e->low), b = 0.5 * (e->high + e->low) - middle;
  return a * a / 3.0 + 4.0 * b * b / 45.0;
}
