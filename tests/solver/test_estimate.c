/* Hand formulas against published worked examples and shape factors. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/estimate.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

/* Singh & Heldman, Introduction to Food Engineering, freezing of a ball in a plastic skin: D 70 mm, 1000 kg/m3, 250 kJ/kg, k 1.2,
 * -1.25 degC in air at -40 degC, h 50, skin 3 mm of k 0.2. Printed: 3732.06 s = 1.037 h. */
START_TEST(plank_repeats_the_textbook_example)
{
  const estimate_setting s = {.density = 1000.0, .latent_heat = 250e3, .conductivity = 1.2, .freezing_temperature = -1.25,
                              .surroundings = -40.0, .film = 50.0, .wall_resistance = 0.003 / 0.2};
  assert_close(estimate_plank(estimate_sphere, 0.07, &s), 3732.06, 1e-5);
}
END_TEST

/* Plank's formula is the quasi-steady limit (London & Seban 1943): a slab of half thickness 50 mm, h 100, k 2.2, 1000 kg/m3, 334 kJ/kg,
 * -20 degC: rho L / dT (X^2 / (2 k) + X / h) = 16.7e6 * (0.0025 / 4.4 + 0.05 / 100) = 17838.6 s. Fixed wall: 9488.6 s. */
START_TEST(plank_is_the_quasi_steady_limit)
{
  estimate_setting s = {.density = 1000.0, .latent_heat = 334e3, .conductivity = 2.2, .surroundings = -20.0, .film = 100.0};
  assert_close(estimate_plank(estimate_slab, 0.1, &s), 17838.636, 1e-6);
  s.film = INFINITY;
  assert_close(estimate_plank(estimate_slab, 0.1, &s), 9488.636, 1e-6);
  s.surroundings = 1.0;
  ck_assert_double_nan(estimate_plank(estimate_slab, 0.1, &s));
}
END_TEST

/* Plank's brick formula (ASHRAE Refrigeration Handbook), evaluated with 40 digits; the limits are the cube, the square rod and the slab. */
static const double bricks[][4] = {{2, 1, 0.2, 0.0524760976},          {1, 2, 0.2, 0.0524760976},
                                   {2, 2, 0.25, 0.0715501044},         {1.5, 3, 0.25, 0.07059012734},
                                   {4, 3, 0.3157894737, 0.08867343133}, {1, 1, 1.0 / 6.0, 1.0 / 24.0}};
START_TEST(brick_factors_match_their_table)
{
  const estimate_shape f = estimate_brick(bricks[_i][0], bricks[_i][1]);
  assert_close(f.P, bricks[_i][2], 1e-9);
  assert_close(f.R, bricks[_i][3], 2e-9);
}
END_TEST

START_TEST(brick_limits_are_rod_and_slab)
{
  const estimate_shape rod = estimate_brick(1.0, INFINITY), slab = estimate_brick(1e3, 1e3), cube = estimate_brick(1.0, 1.0005);
  assert_close(rod.P, 0.25, 1e-4);
  assert_close(rod.R, 1.0 / 16.0, 1e-4);
  assert_close(slab.P, 0.5, 3e-3);
  assert_close(slab.R, 0.1248335414, 1e-7); /* with 40 digits */
  assert_close(cube.R, 1.0 / 24.0, 1e-3);
  assert_close(estimate_brick(INFINITY, INFINITY).P, 0.5, 1e-12);
}
END_TEST

/* 11 inch at 14 degF: 7 * 121 / 18 = 47.06 h (the 47 h of a note in Nature, 1933); 300 lb can, 11 x 22 inch in 15 degF brine: 49.82 h
 * (a published ice-plant design note). */
START_TEST(can_ice_rule_in_the_units_of_the_trade)
{
  assert_close(estimate_can_ice(11 * 0.0254, (14.0 - 32.0) / 1.8) / 3600.0, 47.0556, 1e-5);
  assert_close(estimate_can_ice(11 * 0.0254, (15.0 - 32.0) / 1.8) / 3600.0, 49.8235, 1e-5);
  assert_close(estimate_can_ice(1.0, -1.0) / 3600.0, 6028.0, 1e-4);
  ck_assert_double_nan(estimate_can_ice(0.28, 0.0));
}
END_TEST

/* Plank for a can of 0.2794 x 0.5588 m, long, in brine of -10 degC, 250 W/(m2 K), without sensible heat: 30.2 h (computed independently: P 0.3322, R 0.0905,
 * 917 kg/m3, 333.4 kJ/kg, 2.2 W/(m K)). */
START_TEST(plank_freezes_the_300_lb_can)
{
  const estimate_setting s = {.density = 917.0, .latent_heat = 333.4e3, .conductivity = 2.2, .surroundings = -10.0, .film = 250.0};
  assert_close(estimate_plank(estimate_brick(2.0, INFINITY), 0.2794, &s) / 3600.0, 30.2, 0.01);
}
END_TEST

/* Pham's method against converged two-phase solutions (slab, cylinder, ball of 50 mm, k 2.2 / 0.58): 1.7 to 6 % short for pure water.
 * Same formula evaluated independently: 19633, 9817, 6544 s at +10 / -20 degC, h 100. Second column: the converged times. */
static const double pham[][2] = {{19633.0, 19976.893}, {9817.0, 10257.364}, {6544.0, 6936.953}};
START_TEST(pham_falls_a_little_short)
{
  const estimate_setting s = {.density = 1000.0, .latent_heat = 334e3, .conductivity = 2.2, .surroundings = -20.0, .film = 100.0};
  const double t = estimate_pham(_i + 1, 0.05, 10.0, 4200.0, &s);
  assert_close(t, pham[_i][0], 1e-4);
  ck_assert_double_lt(t, pham[_i][1]);
  ck_assert_double_gt(t, 0.94 * pham[_i][1]);
}
END_TEST

START_TEST(every_formula_says_what_it_leaves_out)
{
  for (int which = ESTIMATE_PLANK; which <= ESTIMATE_PHAM; which++) {
    const char *sentence = estimate_leaves_out((estimate_formula)which);
    ck_assert_uint_gt(strlen(sentence), 40);
    ck_assert_int_eq(sentence[strlen(sentence) - 1], '.');
  }
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("estimate");
  TCase *tc = tcase_create("estimate");
  tcase_add_test(tc, plank_repeats_the_textbook_example);
  tcase_add_test(tc, plank_is_the_quasi_steady_limit);
  tcase_add_loop_test(tc, brick_factors_match_their_table, 0, 6);
  tcase_add_test(tc, brick_limits_are_rod_and_slab);
  tcase_add_test(tc, plank_freezes_the_300_lb_can);
  tcase_add_test(tc, can_ice_rule_in_the_units_of_the_trade);
  tcase_add_loop_test(tc, pham_falls_a_little_short, 0, 3);
  tcase_add_test(tc, every_formula_says_what_it_leaves_out);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
