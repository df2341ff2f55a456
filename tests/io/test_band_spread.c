/* The band of added effects against closed forms: uniform and triangular sums, and variances by integration. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "io/band_spread.h"

/* One even input from -1 to 1 through a straight line: 5 % and 95 % of the range. */
START_TEST(one_straight_input_gives_nine_tenths_of_its_range)
{
  const band_spread_effect e = {.low = 8.0, .high = 12.0};
  double low, high;
  band_spread_find(10.0, &e, 1, &low, &high);
  ck_assert_double_eq_tol(low, 10.0 - 0.9 * 2.0, 0.005);
  ck_assert_double_eq_tol(high, 10.0 + 0.9 * 2.0, 0.005);
}
END_TEST

/* Two alike: the sum is triangular on [-2, 2]; 5 % below -2 + sqrt(8 * 0.05) (area of the corner, x^2 / 8 = 0.05). */
START_TEST(two_straight_inputs_give_the_triangular_sum)
{
  const band_spread_effect e[] = {{.low = 3.0, .high = 1.0}, {.low = 1.0, .high = 3.0}};
  double low, high;
  band_spread_find(2.0, e, 2, &low, &high);
  ck_assert_double_eq_tol(low, 2.0 - (2.0 - sqrt(0.4)), 0.01);
  ck_assert_double_eq_tol(high, 2.0 + (2.0 - sqrt(0.4)), 0.01);
}
END_TEST

/* Twelve alike: near enough normal, with variance 12 / 3; 5 % at 1.645 standard deviations (from tables; the sum of twelve is 0.5 % inside). */
START_TEST(many_inputs_give_a_normal_sum)
{
  band_spread_effect e[12];
  double low, high;
  for (size_t i = 0; i < 12; i++)
    e[i] = (band_spread_effect){.low = -1.0, .high = 1.0};
  band_spread_find(0.0, e, 12, &low, &high);
  ck_assert_double_eq_tol(low, -1.645 * 2.0, 0.05);
  ck_assert_double_eq_tol(high, 1.645 * 2.0, 0.05);
}
END_TEST

/* A parabola that only rises: t^2, 5 % below 0.05^2, 95 % above 0.95^2. */
START_TEST(a_bent_input_gives_a_lopsided_band)
{
  const band_spread_effect e = {.low = 1.0, .high = 1.0};
  double low, high;
  band_spread_find(0.0, &e, 1, &low, &high);
  ck_assert_double_eq_tol(low, 0.0025, 5e-4);
  ck_assert_double_eq_tol(high, 0.9025, 2e-3);
}
END_TEST

/* Two of three are at the ends: nine of ten lie between the ends themselves, not between places inside. Variance of -2, 0, 5: 29/3 - 1. */
START_TEST(of_three_choices_the_outer_ones_are_the_band)
{
  double low, high;
  const band_spread_effect e = {.low = 8.0, .high = 15.0, .three = true};
  band_spread_find(10.0, &e, 1, &low, &high);
  ck_assert_double_eq_tol(low, 8.0, 1e-12);
  ck_assert_double_eq_tol(high, 15.0, 1e-12);
  ck_assert_double_eq_tol(band_spread_variance(10.0, &e), 29.0 / 3.0 - 1.0, 1e-12);
}
END_TEST

START_TEST(two_choices_are_both_in_the_band)
{
  const band_spread_effect e = {.low = 0.0, .high = -3.0, .two = true};
  double low, high;
  band_spread_find(0.0, &e, 1, &low, &high);
  ck_assert_double_eq(low, -3.0);
  ck_assert_double_eq(high, 0.0);
}
END_TEST

START_TEST(variance_is_that_of_the_parabola)
{
  const band_spread_effect e = {.low = 1.0, .high = 4.0};
  double mean = 0.0, square = 0.0;
  const int n = 100000;
  for (int i = 0; i < n; i++) { /* middle rule over t in [-1, 1]; a = 1.5, b = 1.5 with the middle at 1 */
    const double t = (2.0 * i + 1.0) / n - 1.0, f = 1.0 + 1.5 * t + 1.5 * t * t;
    mean += f / n;
    square += f * f / n;
  }
  ck_assert_double_eq_tol(band_spread_variance(1.0, &e), square - mean * mean, 1e-6);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("band_spread");
  TCase *all = tcase_create("spread");
  tcase_add_test(all, one_straight_input_gives_nine_tenths_of_its_range);
  tcase_add_test(all, two_straight_inputs_give_the_triangular_sum);
  tcase_add_test(all, many_inputs_give_a_normal_sum);
  tcase_add_test(all, a_bent_input_gives_a_lopsided_band);
  tcase_add_test(all, of_three_choices_the_outer_ones_are_the_band);
  tcase_add_test(all, two_choices_are_both_in_the_band);
  tcase_add_test(all, variance_is_that_of_the_parabola);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
