/* Stages of stabilised steps, marched on y' = -lambda y by hand. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/stabilised.h"

/* What y = 1 has become after a step of 1 s. */
static double factor_of(double first, const stage_weights *w, size_t stages, double lambda)
{
  double before = 1.0, last = 1.0 - first * lambda;
  for (size_t j = 2; j <= stages; j++) {
    const double next = w[j].mu * last + w[j].nu * before + w[j].rest - lambda * (w[j].rate * last + w[j].start_rate);
    before = last;
    last = next;
  }
  return last;
}

static const size_t STAGES[] = {3, 5, 9, 21, 49, 199};
enum { NUM_STAGES = sizeof STAGES / sizeof *STAGES };

/* exp(-x), off by less than the next term of its series. */
START_TEST(second_order_errs_by_the_third_power)
{
  stage_weights w[STABILISED_MOST_STAGES + 1];
  const double first = stabilised_second_order(STAGES[_i], 1.0, w);
  for (double x = 1e-3; x < 0.1; x *= 2.0)
    ck_assert_double_le(fabs(factor_of(first, w, STAGES[_i], x) - exp(-x)), x * x * x / 6.0);
}
END_TEST

/* Sommeijer, Shampine & Verwer 1998, 2.1: between 1 - b (1 + T) and 1 for all that is stable, and what decays fast is damped: by two fifths to seven tenths with the damping of 2. */
START_TEST(second_order_damps_all_that_it_reaches)
{
  stage_weights w[STABILISED_MOST_STAGES + 1];
  const double first = stabilised_second_order(STAGES[_i], 1.0, w), reach = stabilised_reach(STAGES[_i]);
  double least = 1.0, most_of_fast = 0.0, most = 0.0;
  for (int i = 1; i <= 4000; i++) {
    const double x = reach * i / 4000.0, factor = factor_of(first, w, STAGES[_i], x);
    least = fmin(least, factor);
    most = fmax(most, factor);
    most_of_fast = x > 6.0 ? fmax(most_of_fast, factor) : most_of_fast;
  }
  ck_assert_double_gt(least, 0.28);
  ck_assert_double_lt(most, 1.0);
  ck_assert_double_lt(most_of_fast, 0.62);
  ck_assert_double_lt(factor_of(first, w, STAGES[_i], 1.3 * reach), 0.0); /* beyond it, it runs away */
}
END_TEST

/* There, 2.1, for the damping of 2 used here: reach = (w0 + 1) T''(w0) / T'(w0), w0 = 1 + 2 / s^2, from T(cosh a) = cosh(s a). */
START_TEST(reach_is_the_published_one)
{
  const double s = (double)STAGES[_i], w0 = 1.0 + 2.0 / (s * s), a = acosh(w0);
  const double first = s * sinh(s * a) / sinh(a), second = (s * s * cosh(s * a) - s * sinh(s * a) * w0 / sinh(a)) / (sinh(a) * sinh(a));
  ck_assert_double_eq_tol(stabilised_reach(STAGES[_i]) / ((w0 + 1.0) * second / first), 1.0, 1e-8);
  ck_assert_double_gt(stabilised_reach(STAGES[_i]), 0.53 * (s * s - 1.0));
}
END_TEST

START_TEST(stages_are_the_least_odd_number_that_reaches)
{
  for (double x = 0.0; x < 2000.0; x = 1.3 * x + 0.7) {
    const size_t stages = stabilised_stages_for(x);
    ck_assert_int_eq(stages % 2, 1);
    ck_assert_double_ge(stabilised_reach(stages), x);
    ck_assert(stages == 3 || stabilised_reach(stages - 2) < x);
  }
  ck_assert_uint_eq(stabilised_stages_for(1e9), STABILISED_MOST_STAGES);
}
END_TEST

/* Of the first order, and no more is left of what decays fast than was asked for; three stages leaving a quarter, by hand: T = 4 w^3 - 3 w is 4 for w = 1.2460,
 * the reach is 2.2460 x (12 w^2 - 3) / 4. */
START_TEST(first_order_leaves_what_was_asked_for)
{
  stage_weights w[8];
  static const double left[] = {0.45, 0.25, 0.1, 0.03};
  for (size_t stages = 3; stages <= 7; stages += 2) {
    const double first = stabilised_first_order(stages, left[_i], 1.0, w), reach = stabilised_first_order_reach(stages, left[_i]);
    for (double x = 1e-3; x < 0.1; x *= 2.0)
      ck_assert_double_le(fabs(factor_of(first, w, stages, x) - exp(-x)), 0.5 * x * x);
    double most = 0.0;
    for (double x = 0.5 * reach; x < reach; x += 0.001 * reach)
      most = fmax(most, fabs(factor_of(first, w, stages, x)));
    ck_assert_double_eq_tol(most, left[_i], 0.01 * left[_i]);
    ck_assert_double_eq_tol(fabs(factor_of(first, w, stages, reach)), left[_i], 1e-9);
  }
  ck_assert_double_eq_tol(stabilised_first_order_reach(3, 0.25), 2.2460 * (12.0 * 1.2460 * 1.2460 - 3.0) / 4.0, 2e-3);
}
END_TEST

int main(void)
{
  TCase *c = tcase_create("stabilised");
  tcase_add_loop_test(c, second_order_errs_by_the_third_power, 0, NUM_STAGES);
  tcase_add_loop_test(c, second_order_damps_all_that_it_reaches, 0, NUM_STAGES);
  tcase_add_loop_test(c, reach_is_the_published_one, 0, NUM_STAGES);
  tcase_add_test(c, stages_are_the_least_odd_number_that_reaches);
  tcase_add_loop_test(c, first_order_leaves_what_was_asked_for, 0, 4);
  Suite *s = suite_create("stabilised");
  suite_add_tcase(s, c);
  SRunner *runner = srunner_create(s);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
