/* Refrigerants against the published equations of state. */
#include <check.h>
#include <math.h>

#include "check_rows.h"
#include "materials/refrigerant.h"

enum { NAME, T, BUBBLE, DEW, LIQUID, VAPOUR, H_FG, H_L, CP_V }; /* columns of refrigerant_saturation.csv */

/* Tolerances: the stated errors of the fits, -50..60 degC. */
START_TEST(saturation_follows_the_equations_of_state)
{
  const check_rows *c = check_rows_read("refrigerant_saturation.csv");
  for (size_t i = 0; i < c->num; i++) {
    refrigerant_kind kind;
    ck_assert(refrigerant_from_name(c->row[i].word[NAME], &kind));
    const double *v = c->row[i].value, t = v[T];
    assert_close(refrigerant_pressure(kind, REFRIGERANT_DEW, t), 1e5 * v[DEW], 8e-4);
    assert_close(refrigerant_pressure(kind, REFRIGERANT_BUBBLE, t), 1e5 * v[BUBBLE], 4e-4);
    assert_close(refrigerant_vapour_density(kind, t), v[VAPOUR], 5.6e-3);
    assert_close(refrigerant_liquid_density(kind, t), v[LIQUID], 1.1e-3);
    assert_close(refrigerant_latent_heat(kind, t), 1000.0 * v[H_FG], 1.2e-3);
    assert_near(refrigerant_liquid_enthalpy(kind, t), 1000.0 * v[H_L], 520.0);
    if (t >= -40.0 && t <= 5.0)
      assert_close(refrigerant_vapour_specific_heat(kind, t), v[CP_V], 3e-3);
  }
}
END_TEST

/* Propane boils at -42.11 degC at 101325 Pa (Lemmon, McLinden & Wagner 2009); R134a at -26.07 degC (Tillner-Roth & Baehr 1994, from memory);
 * 0 degC: R134a 2.928 bar. */
START_TEST(boiling_points_are_the_known_ones)
{
  assert_near(refrigerant_temperature(REFRIGERANT_R290, REFRIGERANT_DEW, 101325.0), -42.11, 0.02);
  assert_near(refrigerant_temperature(REFRIGERANT_R134A, REFRIGERANT_DEW, 101325.0), -26.07, 0.02);
  assert_near(refrigerant_temperature(REFRIGERANT_R134A, REFRIGERANT_BUBBLE, 2.928e5), 0.0, 0.01);
}
END_TEST

START_TEST(pressure_and_temperature_are_inverse)
{
  for (int kind = REFRIGERANT_R290; kind <= REFRIGERANT_R449A; kind++)
    for (int line = 0; line < 2; line++)
      for (double t = -60.0; t <= 65.0; t += 2.5) {
        const double p = refrigerant_pressure((refrigerant_kind)kind, (refrigerant_line)line, t);
        assert_near(refrigerant_temperature((refrigerant_kind)kind, (refrigerant_line)line, p), t, 1e-9);
        ck_assert_double_gt(refrigerant_pressure((refrigerant_kind)kind, (refrigerant_line)line, t + 1e-3 > 65.0 ? t : t + 1e-3), p * (t + 1e-3 > 65.0 ? 0.99 : 1.0));
      }
}
END_TEST

/* Glide: the bubble pressure of a blend lies above its dew pressure. R449A is an ideal-mixture estimate, and says so. */
START_TEST(blends_glide_and_the_estimate_is_marked)
{
  assert_close(refrigerant_pressure(REFRIGERANT_R449A, REFRIGERANT_DEW, -20.0), 2.34e5, 1e-9);
  assert_close(refrigerant_pressure(REFRIGERANT_R449A, REFRIGERANT_BUBBLE, 40.0), 18.0e5, 1e-9);
  for (double t = -40.0; t <= 50.0; t += 10.0)
    ck_assert_double_gt(refrigerant_pressure(REFRIGERANT_R449A, REFRIGERANT_BUBBLE, t), refrigerant_pressure(REFRIGERANT_R449A, REFRIGERANT_DEW, t));
  ck_assert(refrigerant_is_estimate(REFRIGERANT_R449A) && !refrigerant_is_estimate(REFRIGERANT_R404A));
  ck_assert(refrigerant_is_flammable(REFRIGERANT_R290) && !refrigerant_is_flammable(REFRIGERANT_R134A));
}
END_TEST

/* k between -20 and 40 degC for propane, by hand: 1.0714 + 0.001165 * 20 - 0.000993 * 40. */
START_TEST(exponent_and_range)
{
  assert_near(refrigerant_isentropic_exponent(REFRIGERANT_R290, -20.0, 40.0), 1.05498, 1e-6);
  ck_assert(isnan(refrigerant_pressure(REFRIGERANT_R290, REFRIGERANT_DEW, 90.0)));
  ck_assert(isnan(refrigerant_temperature(REFRIGERANT_R290, REFRIGERANT_DEW, 1.0)));
  ck_assert(isnan(refrigerant_vapour_density(REFRIGERANT_R290, -80.0)));
  refrigerant_kind kind;
  ck_assert(refrigerant_from_name("r404a", &kind) && kind == REFRIGERANT_R404A);
  ck_assert(!refrigerant_from_name("R29", &kind) && !refrigerant_from_name("", &kind));
}
END_TEST

int main(void)
{
  Suite *s = suite_create("refrigerant");
  TCase *t = tcase_create("refrigerant");
  tcase_add_test(t, saturation_follows_the_equations_of_state);
  tcase_add_test(t, boiling_points_are_the_known_ones);
  tcase_add_test(t, pressure_and_temperature_are_inverse);
  tcase_add_test(t, blends_glide_and_the_estimate_is_marked);
  tcase_add_test(t, exponent_and_range);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
