#include "solver/stabilised.h"

#include <math.h>

static const double DAMPING = 2.0;

/* Chebyshev's polynomial at a place, with its first two derivatives there. */
typedef struct {
  double value, first, second;
} polynomial;

/* T_j of T_(j-1) and T_(j-2). */
static polynomial next_of(double x, polynomial last, polynomial before)
{
  return (polynomial){.value = 2.0 * x * last.value - before.value,
                      .first = 2.0 * (last.value + x * last.first) - before.first,
                      .second = 2.0 * (2.0 * last.first + x * last.second) - before.second};
}

static double place_of(size_t stages)
{
  return 1.0 + DAMPING / ((double)stages * (double)stages);
}

static polynomial chebyshev(size_t stages, double x)
{
  polynomial before = {.value = 1.0}, last = {.value = x, .first = 1.0};
  for (size_t j = 2; j <= stages; j++) {
    const polynomial next = next_of(x, last, before);
    before = last;
    last = next;
  }
  return last;
}

double stabilised_reach(size_t stages)
{
  const double x = place_of(stages);
  const polynomial p = chebyshev(stages, x);
  return (x + 1.0) * p.second / p.first;
}

size_t stabilised_stages_for(double eigenvalue_times_step)
{
  size_t stages = 3;
  while (stages < STABILISED_MOST_STAGES && stabilised_reach(stages) < eigenvalue_times_step)
    stages += 2;
  return stages;
}

static double b_of(polynomial p)
{
  return p.second / (p.first * p.first);
}

double stabilised_second_order(size_t stages, double step, stage_weights *w)
{
  const double x = place_of(stages);
  const polynomial all = chebyshev(stages, x);
  const double scale = all.first / all.second * step;
  polynomial before = {.value = 1.0}, last = {.value = x, .first = 1.0};
  double b_before = b_of(next_of(x, last, before)), b_last = b_before; /* b_0 = b_1 = b_2 */
  const double first = b_before * scale;
  for (size_t j = 2; j <= stages; j++) {
    const polynomial next = next_of(x, last, before);
    const double b = b_of(next), mu = 2.0 * x * b / b_last, nu = -b / b_before, rate = 2.0 * scale * b / b_last;
    w[j] = (stage_weights){.mu = mu, .nu = nu, .rest = 1.0 - mu - nu, .rate = rate, .start_rate = -(1.0 - b_last * last.value) * rate};
    before = last;
    last = next;
    b_before = b_last;
    b_last = b;
  }
  return first;
}

/* Where T_s is one over what is left. */
static double place_of_first(size_t stages, double left)
{
  return cosh(acosh(1.0 / left) / (double)stages);
}

double stabilised_first_order_reach(size_t stages, double left)
{
  const double x = place_of_first(stages, left);
  const polynomial p = chebyshev(stages, x);
  return (x + 1.0) * p.first / p.value;
}

double stabilised_first_order(size_t stages, double left, double step, stage_weights *w)
{
  const double x = place_of_first(stages, left);
  const polynomial all = chebyshev(stages, x);
  const double scale = all.value / all.first * step;
  polynomial before = {.value = 1.0}, last = {.value = x, .first = 1.0};
  for (size_t j = 2; j <= stages; j++) {
    const polynomial next = next_of(x, last, before);
    w[j] = (stage_weights){.mu = 2.0 * x * last.value / next.value, .nu = -before.value / next.value, .rate = 2.0 * scale * last.value / next.value};
    before = last;
    last = next;
  }
  return scale / x;
}
