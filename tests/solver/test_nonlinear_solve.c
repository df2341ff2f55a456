/* Small nonlinear systems with known roots, and the refusal to call a stop a solution. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/nonlinear_solve.h"

typedef struct {
  nonlinear_problem base; /* first: the residual finds the rest from here */
  double radius, offset;
} circle_and_line;

/* x^2 + y^2 = radius^2 and y = x + offset. */
static status circle_residual(const nonlinear_problem *self, const double *x, double *f)
{
  const circle_and_line *p = (const circle_and_line *)self;
  f[0] = x[0] * x[0] + x[1] * x[1] - p->radius * p->radius;
  f[1] = x[1] - x[0] - p->offset;
  return STATUS_OK;
}

static status never_zero(const nonlinear_problem *self, const double *x, double *f)
{
  (void)self;
  f[0] = 1.0 + x[0] * x[0];
  return STATUS_OK;
}

/* Only above 0: ln x = 1. A first step from 0.01 by the tangent stays inside; from 6 it would leave. */
static status logarithm(const nonlinear_problem *self, const double *x, double *f)
{
  (void)self;
  if (!(x[0] > 0.0)) {
    return STATUS_RETRY;
  }
  f[0] = log(x[0]) - 1.0;
  return STATUS_OK;
}

static const double ones[2] = {1.0, 1.0};

START_TEST(two_equations_meet_where_they_should)
{
  circle_and_line p = {.base = {2, circle_residual, ones, ones, 1e-12}, .radius = 5.0, .offset = 1.0};
  double x[2] = {2.0, 2.5};
  message msg = {""};
  ck_assert_msg(nonlinear_solve(&p.base, x, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_double_eq_tol(x[0], 3.0, 1e-11);
  ck_assert_double_eq_tol(x[1], 4.0, 1e-11);
}
END_TEST

static const double starts[] = {0.01, 1.0, 2.7, 40.0};
START_TEST(a_refused_point_is_stepped_around)
{
  const nonlinear_problem p = {1, logarithm, ones, ones, 1e-12};
  double x[1] = {starts[_i]};
  message msg = {""};
  ck_assert_msg(nonlinear_solve(&p, x, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_double_eq_tol(x[0], 2.718281828459045, 1e-11);
}
END_TEST

START_TEST(no_root_is_a_failure_and_leaves_the_guess)
{
  const nonlinear_problem p = {1, never_zero, ones, ones, 1e-10};
  double x[1] = {3.0};
  message msg = {""};
  ck_assert_int_eq(nonlinear_solve(&p, x, &msg), STATUS_FAILED);
  ck_assert_double_eq(x[0], 3.0);
  ck_assert_ptr_nonnull(strstr(msg.text, "stopped"));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("nonlinear_solve");
  TCase *tc = tcase_create("nonlinear_solve");
  tcase_add_test(tc, two_equations_meet_where_they_should);
  tcase_add_loop_test(tc, a_refused_point_is_stepped_around, 0, 4);
  tcase_add_test(tc, no_root_is_a_failure_and_leaves_the_guess);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
