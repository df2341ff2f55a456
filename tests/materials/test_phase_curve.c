/* Curves of constant and tabled materials, by hand-worked values and the lever rule. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "check_rows.h"
#include "materials/material.h"

static const constant_phases unlike = {917.0, 2.385, 2043.0, 0.5617, 4217.0, 333400.0, -1.75};

START_TEST(three_lines_have_the_given_slopes)
{
  material m;
  ck_assert_int_eq(material_constant_phases(&m, "test water", &unlike, NULL), STATUS_OK);
  const phase_curve *c = &m.curve;
  const double latent = 917.0 * 333400.0;
  ck_assert(c->three_lines);
  assert_near(phase_curve_temperature(c, -917.0 * 2043.0 * 8.0), -9.75, 1e-12);
  assert_near(phase_curve_temperature(c, latent + 917.0 * 4217.0 * 3.0), 1.25, 1e-12);
  assert_near(phase_curve_potential(c, -917.0 * 2043.0 * 8.0), -8.0 * 2.385, 1e-12);
  assert_near(phase_curve_potential(c, latent + 917.0 * 4217.0 * 3.0), 3.0 * 0.5617, 1e-12);
  assert_near(phase_curve_liquid_fraction(c, 0.3 * latent), 0.3, 1e-12);
  ck_assert_double_eq(phase_curve_liquid_fraction(c, -1.0), 0.0);
  ck_assert_double_eq(phase_curve_liquid_fraction(c, latent + 1.0), 1.0);
  assert_near(phase_curve_potential_at(c, -9.75), -8.0 * 2.385, 1e-12);
  assert_near(phase_curve_potential_at(c, 1.25), 3.0 * 0.5617, 1e-12);
  assert_close(phase_curve_conductivity_at(c, -1.75, -1), 2.385, 1e-12);
  assert_close(phase_curve_conductivity_at(c, -1.75, 1), 0.5617, 1e-12);
  assert_close(phase_curve_steepest(c, -5.0, 5.0), 2.385 / (917.0 * 2043.0), 1e-12);
  assert_close(phase_curve_steepest(c, 1.0, 5.0), 0.5617 / (917.0 * 4217.0), 1e-12);
  ck_assert_double_eq(phase_curve_enthalpy(c, -1.75), latent); /* the liquid end of the plateau */
  material_release(&m);
}
END_TEST

/* The bins of a three-line curve, used as a table, give the same functions to rounding, beyond the ends too. */
START_TEST(bins_agree_with_the_lines)
{
  material m[2];
  ck_assert_int_eq(material_constant_phases(&m[0], "test water", &unlike, NULL), STATUS_OK);
  ck_assert_int_eq(material_constant(&m[1], "test wall", 0.45, 955.0, 1850.0, NULL), STATUS_OK);
  for (int k = 0; k < 2; k++) {
    phase_curve bins = m[k].curve;
    bins.three_lines = false;
    for (double h = -6e8; h < 1.2e9; h += 1.37e6) {
      assert_near(phase_curve_temperature(&bins, h), phase_curve_temperature(&m[k].curve, h), 1e-10);
      assert_near(phase_curve_potential(&bins, h), phase_curve_potential(&m[k].curve, h), 1e-10);
      assert_near(phase_curve_liquid_fraction(&bins, h), phase_curve_liquid_fraction(&m[k].curve, h), 1e-12);
      const double t = phase_curve_temperature(&m[k].curve, h);
      if (fabs(t + 1.75) > 1e-6) {
        assert_near(phase_curve_enthalpy(&bins, t), h, 1e-3);
        assert_near(phase_curve_potential_at(&bins, t), phase_curve_potential_at(&m[k].curve, t), 1e-10);
        assert_close(phase_curve_conductivity_at(&bins, t, 1), phase_curve_conductivity_at(&m[k].curve, t, 1), 1e-9);
      }
    }
    assert_close(phase_curve_steepest(&bins, -5.0, 5.0), phase_curve_steepest(&m[k].curve, -5.0, 5.0), 1e-9);
  }
  /* A solid that never freezes: liquid_fraction 0, H = u = 0 at 0 degC. */
  ck_assert_double_eq(phase_curve_liquid_fraction(&m[1].curve, 5e7), 0.0);
  ck_assert_double_eq(phase_curve_temperature(&m[1].curve, 0.0), 0.0);
  assert_near(phase_curve_potential_at(&m[1].curve, -20.0), -9.0, 1e-12);
  material_release(&m[0]);
  material_release(&m[1]);
}
END_TEST

/* Rows worked by hand: c 2e6 -> 3e6 over -20..0, k 2 -> 1; a step of 0.25 at 0; linear to 1 at 10 degC. */
static const double row_t[] = {-20.0, 0.0, 0.0, 10.0, 30.0}, row_k[] = {2.0, 1.0, 0.8, 0.6, 0.6};
static const double row_c[] = {2e6, 3e6, 3.5e6, 4e6, 4e6}, row_f[] = {0.0, 0.0, 0.25, 1.0, 1.0};
static const material_table rows = {5, row_t, row_k, row_c, row_f, 1e8, 950.0};

START_TEST(tabled_curve_is_the_integral_of_its_rows)
{
  material m;
  ck_assert_int_eq(material_from_table(&m, "slush", &rows, NULL), STATUS_OK);
  const phase_curve *c = &m.curve;
  /* H = integral of c dT + L (f - 1). */
  static const struct { double t, h, u, f; } want[] = {
      {-30.0, -50e6 - 20e6 - 100e6, -7.0 - 30.0 - 20.0, 0.0}, /* continued by c 2e6, k 2 */
      {-20.0, -50e6 - 100e6, -7.0 - 30.0, 0.0},
      {-10.0, -27.5e6 - 100e6, -7.0 - 12.5, 0.0},  /* c 2.5e6 -> 3e6, k 1.5 -> 1 */
      {5.0, 18.125e6 - 37.5e6, -3.25, 0.625},      /* c 3.5e6 -> 3.75e6; k 0.7 -> 0.6 below the onset at 10 degC */
      {20.0, 37.5e6 + 40e6, 6.0, 1.0},
      {50.0, 37.5e6 + 160e6, 24.0, 1.0}};
  for (size_t i = 0; i < sizeof want / sizeof want[0]; i++) {
    assert_near(phase_curve_temperature(c, want[i].h), want[i].t, 2e-4);
    assert_near(phase_curve_potential(c, want[i].h), want[i].u, 2e-4);
    assert_near(phase_curve_liquid_fraction(c, want[i].h), want[i].f, 1e-5);
    assert_near(phase_curve_enthalpy(c, want[i].t), want[i].h, 2e3);
  }
  /* The step: 0 degC from -100e6 (f = 0) to -75e6 (f = 0.25). */
  for (double x = 0.0; x <= 1.0; x += 0.25) {
    assert_near(phase_curve_temperature(c, -100e6 + x * 25e6), 0.0, 1e-9);
    assert_near(phase_curve_liquid_fraction(c, -100e6 + x * 25e6), 0.25 * x, 1e-9);
  }
  assert_near(phase_curve_conductivity_at(c, 0.0, -1), 1.0, 5e-3);
  assert_near(phase_curve_conductivity_at(c, 0.0, 1), 0.8, 5e-3);
  ck_assert_double_eq(m.latent_heat, 1e8);
  ck_assert_double_eq(c->solid_enthalpy, -100e6);
  assert_near(c->liquid_enthalpy, 37.5e6, 1.0);
  ck_assert_double_eq(c->freezing_temperature, 10.0);
  material_release(&m);
}
END_TEST

/* Lever rule f = T_l / T down to T_e, the rest at T_e (as in mushy-zone checks): H above T_e is
 *   c_s (T - T_e) + (c_l - c_s) T_l ln(T/T_e) + L T_l (1/T - 1/T_e), and k linear in f, so u = k_s (T - T_l) + (k_l - k_s) T_l ln(T/T_l). */
START_TEST(lever_rule_table_is_exact_to_1e_4)
{
  enum { NUM = 4000 };
  static double t[NUM + 3], k[NUM + 3], c[NUM + 3], f[NUM + 3];
  const double liquidus = -3.0, eutectic = -21.1, density = 1000.0, latent = 334000.0, cs = 2000.0, cl = 3900.0, ks = 2.2, kl = 0.55;
  t[0] = eutectic;
  k[0] = ks;
  c[0] = density * cs;
  f[0] = 0.0;
  for (int i = 0; i <= NUM; i++) {
    t[i + 1] = i == 0 ? eutectic : eutectic + (liquidus - eutectic) * i / NUM;
    f[i + 1] = i == NUM ? 1.0 : liquidus / t[i + 1];
    k[i + 1] = ks + (kl - ks) * f[i + 1];
    c[i + 1] = density * (cs + (cl - cs) * f[i + 1]);
  }
  const material_table table = {NUM + 2, t, k, c, f, density * latent, density};
  material m;
  ck_assert_int_eq(material_from_table(&m, "lever", &table, NULL), STATUS_OK);
  const double base = phase_curve_enthalpy(&m.curve, eutectic);
  for (double x = -20.5; x < liquidus - 0.1; x += 0.7) {
    const double h = density * (cs * (x - eutectic) + (cl - cs) * liquidus * log(x / eutectic) + latent * liquidus * (1.0 / x - 1.0 / eutectic));
    assert_close(phase_curve_enthalpy(&m.curve, x) - base, h, 1e-4);
    assert_close(phase_curve_potential_at(&m.curve, x), ks * (x - liquidus) + (kl - ks) * liquidus * log(x / liquidus), 1e-4);
    assert_close(phase_curve_liquid_fraction(&m.curve, base + h), liquidus / x, 1e-4);
  }
  assert_close(base - m.curve.solid_enthalpy, density * latent * liquidus / eutectic, 1e-6);
  material_release(&m);
}
END_TEST

START_TEST(one_row_and_two_make_a_solid)
{
  static const double t[] = {-10.0, 10.0}, k[] = {0.2, 0.3}, c[] = {2e6, 2e6};
  for (size_t num = 1; num <= 2; num++) {
    const material_table table = {num, t, k, c, NULL, 0.0, 1000.0};
    material m;
    ck_assert_int_eq(material_from_table(&m, "plain", &table, NULL), STATUS_OK);
    assert_near(phase_curve_temperature(&m.curve, 3e7), 15.0, 1e-9);
    assert_near(phase_curve_temperature(&m.curve, -6e7), -30.0, 1e-9);
    assert_near(phase_curve_potential_at(&m.curve, 0.0), 0.0, 1e-4);
    /* linear k: 0.25 at 0 degC rising 0.005 per K; constant: 0.2 */
    assert_near(phase_curve_potential_at(&m.curve, 8.0), num == 1 ? 1.6 : 0.25 * 8.0 + 0.0025 * 64.0, 1e-4);
    material_release(&m);
  }
}
END_TEST

START_TEST(bad_tables_are_refused_by_row)
{
  static const double t[] = {0.0, -1.0}, k[] = {1.0, 1.0}, c[] = {1e6, 1e6}, f[] = {0.5, 0.2}, up[] = {0.0, 1.0}, same[] = {1.0, 1.0, 1.0};
  static const double zero[] = {1.0, 0.0}, nan_[] = {NAN, 0.0}, three[] = {1.0, 1.0, 1.0};
  const struct { material_table table; const char *says; } bad[] = {
      {{2, t, k, c, NULL, 0.0, 1000.0}, "row 2"},      {{2, up, k, c, f, 0.0, 1000.0}, "falls"},
      {{2, up, zero, c, NULL, 0.0, 1000.0}, "row 2"},  {{2, up, k, zero, NULL, 0.0, 1000.0}, "row 2"},
      {{2, nan_, k, c, NULL, 0.0, 1000.0}, "row 1"},   {{0, up, k, c, NULL, 0.0, 1000.0}, "no rows"},
      {{3, same, three, three, NULL, 0.0, 1000.0}, "three rows"}, {{2, up, k, c, NULL, -1.0, 1000.0}, "latent"},
      {{2, up, k, c, NULL, 0.0, 0.0}, "density"}};
  for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
    material m;
    message msg = {""};
    ck_assert_int_eq(material_from_table(&m, "bad", &bad[i].table, &msg), STATUS_BAD_INPUT);
    ck_assert_msg(strstr(msg.text, bad[i].says) != NULL, "'%s' should say '%s'", msg.text, bad[i].says);
    material_release(&m);
  }
}
END_TEST

START_TEST(bad_constants_are_refused)
{
  static const double bad[] = {0.0, -1.0, NAN, INFINITY};
  for (size_t i = 0; i < 4; i++) {
    material m;
    message msg = {""};
    ck_assert_int_eq(material_constant(&m, "wall", bad[i], 955.0, 1850.0, &msg), STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(msg.text, "conductivity"));
    ck_assert_int_eq(material_constant(&m, "wall", 0.4, bad[i], 1850.0, &msg), STATUS_BAD_INPUT);
    ck_assert_int_eq(material_constant(&m, "wall", 0.4, 955.0, bad[i], &msg), STATUS_BAD_INPUT);
    constant_phases p = unlike;
    p.latent_heat = bad[i];
    ck_assert_int_eq(material_constant_phases(&m, "water", &p, &msg), STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(msg.text, "latent heat"));
    material_release(&m);
  }
}
END_TEST

START_TEST(running_out_of_memory_is_reported)
{
  for (int maker = 0; maker < 3; maker++)
    for (int n = 1;; n++) {
      material m;
      message msg = {""};
      if (!check_rows_fail_allocation(n))
        return;
      const status s = maker == 0 ? material_constant(&m, "wall", 0.45, 955.0, 1850.0, &msg)
                                  : maker == 1 ? material_constant_phases(&m, "water", &unlike, &msg) : material_from_table(&m, "slush", &rows, &msg);
      check_rows_fail_allocation(0);
      material_release(&m);
      if (s == STATUS_OK) {
        ck_assert_int_gt(n, 1);
        break;
      }
      ck_assert_int_eq(s, STATUS_NO_MEMORY);
      ck_assert_ptr_nonnull(strstr(msg.text, "memory"));
      ck_assert_int_lt(n, 50);
    }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("phase_curve");
  TCase *t = tcase_create("phase_curve");
  tcase_add_test(t, three_lines_have_the_given_slopes);
  tcase_add_test(t, bins_agree_with_the_lines);
  tcase_add_test(t, tabled_curve_is_the_integral_of_its_rows);
  tcase_add_test(t, lever_rule_table_is_exact_to_1e_4);
  tcase_add_test(t, one_row_and_two_make_a_solid);
  tcase_add_test(t, bad_tables_are_refused_by_row);
  tcase_add_test(t, bad_constants_are_refused);
  tcase_add_test(t, running_out_of_memory_is_reported);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
