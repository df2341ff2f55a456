/* Strength, creep and melting of ice against published check values. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "materials/ice_strength.h"

START_TEST(the_melting_curve_meets_its_check_value)
{
  /* IAPWS R14-08: 138.268 MPa at 260 K (from memory). */
  ck_assert_double_eq_tol(ice_strength_melting_pressure(260.0 - 273.15) * 1e-6, 138.268, 0.001);
  /* Computed independently from the same curve: 10 MPa melts at -0.7483 degC; 1, 20, 50 and 100 MPa at -0.064, -1.54, -4.09, -8.94. */
  ck_assert_double_eq_tol(ice_strength_melting_temperature(10e6), -0.7483, 0.001);
  ck_assert_double_eq_tol(ice_strength_melting_temperature(1e6), -0.064, 0.001);
  ck_assert_double_eq_tol(ice_strength_melting_temperature(20e6), -1.54, 0.006);
  ck_assert_double_eq_tol(ice_strength_melting_temperature(50e6), -4.09, 0.006);
  ck_assert_double_eq_tol(ice_strength_melting_temperature(100e6), -8.94, 0.006);
  /* Clapeyron's slope at 0 degC, T (1/rho_ice - 1/rho_water) / L = 273.15 (1/916.72 - 1/999.84) / 333420: 0.00743 K per bar. */
  const double slope = 0.1 / (ice_strength_melting_pressure(-0.1) - ice_strength_melting_pressure(0.0)) * 1e5;
  ck_assert_double_eq_tol(slope, 0.00743, 0.01 * 0.00743);
}
END_TEST

START_TEST(swelling_is_the_ratio_of_densities)
{
  ck_assert_double_eq_tol(ICE_STRENGTH_SWELLING, 999.84 / 916.7 - 1.0, 0.001 * 0.0907); /* IAPWS SR6-08, R10-06 */
}
END_TEST

START_TEST(creep_follows_its_table_and_falls_with_cold)
{
  ck_assert_double_eq_tol(ice_strength_creep(-10.0), 3.5e-25, 1e-30); /* Cuffey & Paterson 2010, from memory */
  ck_assert_double_eq_tol(ice_strength_creep(1.0), 2.4e-24, 1e-30);
  for (double t = -50.0; t < 0.0; t += 0.5)
    ck_assert_double_gt(ice_strength_creep(t + 0.5), ice_strength_creep(t));
}
END_TEST

int main(void)
{
  Suite *s = suite_create("ice_strength");
  TCase *c = tcase_create("ice_strength");
  tcase_add_test(c, the_melting_curve_meets_its_check_value);
  tcase_add_test(c, swelling_is_the_ratio_of_densities);
  tcase_add_test(c, creep_follows_its_table_and_falls_with_cold);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
