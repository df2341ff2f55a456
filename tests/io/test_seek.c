/* The search for a target on functions whose solutions are known in closed form, counted in runs. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "io/seek_target.h"

enum { MOST = 12 };

/* Monotone on [0, 1], each with its inverse. */
static double hyperbola(double x) { return 1.0 / (0.02 + x); }
static double hyperbola_at(double y) { return 1.0 / y - 0.02; }
static double steep(double x) { return exp(12.0 * x); }
static double steep_at(double y) { return log(y) / 12.0; }
static double knee(double x) { return x < 0.8 ? 3.0 + 0.1 * x : 3.08 + 40.0 * (x - 0.8); }
static double knee_at(double y) { return y < 3.08 ? (y - 3.0) / 0.1 : 0.8 + (y - 3.08) / 40.0; }
static double root(double x) { return sqrt(x) + 0.01; }
static double root_at(double y) { return (y - 0.01) * (y - 0.01); }
static double pole(double x) { return x < 0.83 ? 1.0 / (0.83 - x) : NAN; } /* never solid beyond */
static double pole_at(double y) { return 0.83 - 1.0 / y; }

static const struct {
  double (*f)(double), (*inverse)(double);
  double target;
} asked[] = {{hyperbola, hyperbola_at, 2.0}, {hyperbola, hyperbola_at, 30.0}, {steep, steep_at, 2000.0}, {steep, steep_at, 3.0}, {knee, knee_at, 4.0},
             {knee, knee_at, 3.05},          {root, root_at, 0.1},            {root, root_at, 0.9},      {pole, pole_at, 2.0},   {pole, pole_at, 25.0}};

static size_t insert(double *x, double *f, size_t n, double at, double value)
{
  size_t i = n;
  for (; i > 0 && x[i - 1] > at; i--) {
    x[i] = x[i - 1];
    f[i] = f[i - 1];
  }
  x[i] = at;
  f[i] = value;
  return n + 1;
}

START_TEST(a_monotone_target_is_met_within_half_a_percent_in_twelve_runs)
{
  double x[MOST + 1], f[MOST + 1], next = 0.0, best = INFINITY, at = NAN;
  const double target = asked[_i].target;
  size_t n = insert(x, f, 0, 0.0, asked[_i].f(0.0) - target);
  n = insert(x, f, n, 1.0, asked[_i].f(1.0) - target);
  while (n < MOST && best > 0.005 * target) {
    double g[MOST + 1];
    const bool ratio = seek_target_is_ratio(f, n, target);
    for (size_t i = 0; i < n; i++)
      g[i] = ratio ? log1p(f[i] / target) : f[i];
    ck_assert(seek_target_next(x, g, n, &next));
    ck_assert(next > 0.0 && next < 1.0);
    const double v = asked[_i].f(next) - target;
    if (fabs(v) < best) {
      best = fabs(v);
      at = next;
    }
    n = insert(x, f, n, next, v);
  }
  ck_assert_msg(best <= 0.005 * target, "number %d: off by %.3g %% after %zu runs", _i, 100.0 * best / target, n);
  ck_assert_double_eq_tol(asked[_i].f(at), asked[_i].f(asked[_i].inverse(target)), 0.0051 * target);
}
END_TEST

/* A line that never meets it; a figure known nowhere. */
START_TEST(no_solution_is_given_up)
{
  for (int unknown = 0; unknown < 2; unknown++) {
    double x[40], f[40], next = 0.0;
    size_t n = insert(x, f, 0, 0.0, unknown ? NAN : 1.0);
    n = insert(x, f, n, 1.0, unknown ? NAN : 2.0);
    while (n < 30 && seek_target_next(x, f, n, &next))
      n = insert(x, f, n, next, unknown ? NAN : 1.0 + next);
    ck_assert_uint_le(n, 12);
  }
}
END_TEST

/* Up and down again: the ends are on one side of the target, the middle on the other. */
START_TEST(a_hump_is_found_between_ends_on_one_side)
{
  double x[40], f[40], next = 0.0, best = INFINITY;
  size_t n = insert(x, f, 0, 0.0, -0.5);
  n = insert(x, f, n, 1.0, -0.5);
  while (n < MOST && best > 0.005 && seek_target_next(x, f, n, &next)) {
    const double v = 4.0 * next * (1.0 - next) - 0.5;
    best = fmin(best, fabs(v));
    n = insert(x, f, n, next, v);
  }
  ck_assert_double_le(best, 0.005);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("seek");
  TCase *all = tcase_create("target");
  tcase_add_loop_test(all, a_monotone_target_is_met_within_half_a_percent_in_twelve_runs, 0, (int)(sizeof asked / sizeof *asked));
  tcase_add_test(all, no_solution_is_given_up);
  tcase_add_test(all, a_hump_is_found_between_ends_on_one_side);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
