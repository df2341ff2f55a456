/* Film correlations against published values and published property tables. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/film.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

/* Bergman, Lavine, Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, 7th ed., example 9.2 (Pr 0.69, Gr 2.63e9) and example 7.4
 * (Re 6071, Pr 0.7; the book prints 40.6); further digits as public heat-transfer documentation prints them. */
START_TEST(nusselt_numbers_match_their_printed_values)
{
  assert_close(film_nusselt_vertical(0.69 * 2.63e9, 0.69), 147.16185, 2e-6);
  assert_close(film_nusselt_tube(0.69 * 2.63e9, 0.69), 139.13493, 2e-6);
  assert_close(film_nusselt_tube_morgan(0.69 * 2.63e9), 151.3882, 2e-6);
  assert_close(film_nusselt_crossflow(6071.0, 0.7), 40.63709, 2e-6);
}
END_TEST

START_TEST(a_layer_below_the_critical_rayleigh_number_only_conducts)
{
  ck_assert_double_eq(film_nusselt_layer(1500.0, 13.0), 1.0);
  /* 0.069 * 1e7^(1/3) * 7^0.074, by hand: 0.069 * 215.44347 * 1.15490 */
  assert_close(film_nusselt_layer(1.0e7, 7.0), 17.1680, 1e-5);
}
END_TEST

/* IAPWS SR6-08(2011) and R12-08, R15-11: density kg/m3, c J/(kg K), k W/(m K), viscosity mPa s at 0, 4, 10, 20 degC. */
static const double water[][5] = {{0, 999.8431, 4219.44, 0.55565, 1.791756}, {4, 999.9749, 4207.50, 0.56547, 1.567292},
                                  {10, 999.7025, 4195.16, 0.57878, 1.305900}, {20, 998.2072, 4184.05, 0.59801, 1.001596}};
START_TEST(water_follows_the_published_tables)
{
  const film_fluid f = film_water(water[_i][0]);
  ck_assert_double_eq_tol(f.density, water[_i][1], 0.01); /* the one-term law: 0.005 at 10 degC, 0.007 at 20 */
  assert_close(f.specific_heat, water[_i][2], 1e-4);
  assert_close(f.conductivity, water[_i][3], 2e-4);
  assert_close(f.viscosity, 1e-3 * water[_i][4], 1e-3);
}
END_TEST

/* The driving density difference over the range: the mean of the linear profile equals the bulk at 6.0 degC (the flow turns over there),
 * and what is left is the floor, 0.35 of the larger one-sided difference (Kell 1975: rho 0 = 999.84, 4 = 999.975, 6 = 999.941). */
START_TEST(driving_difference_turns_over_near_six_degrees)
{
  assert_close(film_water_density_difference(0.0, 6.0), 0.35 * (999.972 - 999.8396), 0.02);
  /* At 4 degC (uniform curvature, exponent n = 1.8948): mean deficit over the layer is deficit(0)/(n + 1), twice that drives. */
  assert_close(film_water_density_difference(0.0, 4.029325), 2.0 * (999.972 - film_water_density(0.0)) / 2.894816, 2e-3);
  ck_assert_double_lt(film_water_density_difference(0.0, 6.0), film_water_density_difference(0.0, 4.0));
  ck_assert_double_lt(film_water_density_difference(0.0, 6.0), film_water_density_difference(0.0, 8.0));
  ck_assert_double_eq(film_water_density_difference(0.0, 0.0), 0.0);
  /* Both above the maximum: close to linear, so about the whole difference drives. */
  assert_close(film_water_density_difference(18.0, 20.0), film_water_density(18.0) - film_water_density(20.0), 0.03);
}
END_TEST

/* Mean Nusselt number on vertical melting ice in quiescent water without blowing, similarity solutions over the same density law with laminar
 * Nu = C Gr^(1/4), Gr = g H^3 9.297e-6 |T_b|^1.8948 / nu^2 (Gebhart & Mollendorf 1978, J. Fluid Mech. 89:673): C = 1.46745 at 2 degC,
 * 1.00336 at 4.03, 1.07289 at 15, 1.07489 at 20 degC (independent computation). On
 * a wall of 50 mm the flow is laminar; the all-range correlation over a linear profile must come within 15 % there. */
static const double similar[][2] = {{2.0, 1.46745}, {4.03, 1.00336}, {15.0, 1.07289}, {20.0, 1.07489}};
START_TEST(laminar_water_film_is_near_the_similarity_solution)
{
  const double t = similar[_i][0], height = 0.05;
  const film_fluid f = film_water(0.5 * t);
  const double nu = f.viscosity / f.density;
  const double grashof = 9.81 * height * height * height * 9.297173e-6 * pow(t, 1.894816) / (nu * nu);
  const double laminar = similar[_i][1] * pow(grashof, 0.25) * f.conductivity / height;
  assert_close(film_water_natural(0.0, t, height), laminar, 0.15);
}
END_TEST

/* h = 0.13 (eps nu)^(1/4) Pr^(-2/3) rho c with nu 1.792e-6, Pr 13.6: (1e-2 * 1.792e-6)^(1/4) = 0.011570, Pr^(-2/3) = 0.17551,
 * 0.13 * 0.011570 * 0.17551 * 4.2187e6 = 1114 W/(m2 K). */
START_TEST(stirred_film_by_hand)
{
  const film_fluid f = film_water(0.0);
  assert_close(film_stirred(&f, 1e-2), 1114.0, 0.005);
  assert_close(film_stirred(&f, 0.16) / film_stirred(&f, 1e-2), 2.0, 1e-12);
}
END_TEST

/* A round fluid, so that hand arithmetic checks the grouping: Ra = 9.81 * 0.5 * 0.2^3 / (1e-3 * 1.5e-7) with
 * alpha = 0.6 / (1000 * 4000) = 1.5e-7. */
START_TEST(rayleigh_and_film_by_hand)
{
  const film_fluid f = {.density = 1000.0, .specific_heat = 4000.0, .conductivity = 0.6, .viscosity = 1.0e-3};
  assert_close(film_rayleigh(&f, 0.5, 0.2), 9.81 * 0.5 * 0.008 / 1.5e-10, 1e-12);
  assert_close(film_prandtl(&f), 20.0 / 3.0, 1e-12);
  assert_close(film_vertical(&f, 0.5, 0.2), film_nusselt_vertical(2.616e8, 20.0 / 3.0) * 3.0, 1e-12);
  assert_close(film_tube(&f, 0.5, 0.2), film_nusselt_tube(2.616e8, 20.0 / 3.0) * 3.0, 1e-12);
  assert_close(film_crossflow(&f, 0.1, 0.2), film_nusselt_crossflow(2.0e4, 20.0 / 3.0) * 3.0, 1e-12);
  assert_close(film_mixed(3.0, 4.0), cbrt(91.0), 1e-12);
}
END_TEST

/* Still CaCl2 brine of 25 % at -10 degC on a pot 0.6 m tall and on a 12.7 mm tube, 5 K warmer: ranges of practice for still brine on pots are
 * 100 to 250 W/(m2 K) (common practice, no source); with the property data of Melinder 2010 the correlations give 223 and 324
 * (independent computation), 1351 across the tube at 0.1 m/s. Viscosity data differ by 15 % between sources, h by a fourth of that. */
START_TEST(brine_films_on_pot_and_tube)
{
  const film_fluid f = film_brine(BRINE_CACL2, 0.25, -10.0);
  const double drho = fabs(brine_density(BRINE_CACL2, 0.25, -12.5) - brine_density(BRINE_CACL2, 0.25, -7.5));
  assert_close(film_vertical(&f, drho, 0.6), 223.0, 0.08);
  assert_close(film_tube(&f, drho, 0.0127), 324.0, 0.08);
  assert_close(film_crossflow(&f, 0.1, 0.0127), 1351.0, 0.08);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("film");
  TCase *tc = tcase_create("film");
  tcase_add_test(tc, nusselt_numbers_match_their_printed_values);
  tcase_add_test(tc, a_layer_below_the_critical_rayleigh_number_only_conducts);
  tcase_add_loop_test(tc, water_follows_the_published_tables, 0, 4);
  tcase_add_test(tc, driving_difference_turns_over_near_six_degrees);
  tcase_add_loop_test(tc, laminar_water_film_is_near_the_similarity_solution, 0, 4);
  tcase_add_test(tc, stirred_film_by_hand);
  tcase_add_test(tc, rayleigh_and_film_by_hand);
  tcase_add_test(tc, brine_films_on_pot_and_tube);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
