/* The table of solids: published values, dependence on temperature, names, and what chloride attacks. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "check_rows.h"
#include "materials/material_solid.h"

static double conductivity(const char *name, double t)
{
  material m;
  ck_assert_int_eq(material_solid(&m, name, NULL), STATUS_OK);
  const double k = phase_curve_conductivity_at(&m.curve, t, 1);
  material_release(&m);
  return k;
}

/* NIST cryogenic polynomials evaluated: ratio of -50, -20, 20 degC to 0 degC. */
START_TEST(metals_follow_the_nist_polynomials)
{
  static const struct { const char *name; double k[4]; } nist[] = {
      {"aluminium 1100", {214.68, 213.30, 212.37, 211.81}},
      {"aluminium 3003", {169.10, 173.28, 175.56, 177.31}},
      {"aluminium 6061", {141.67, 147.83, 151.32, 154.37}},
      {"stainless steel 304", {13.26, 14.07, 14.60, 15.13}}};
  static const double t[] = {-50.0, -20.0, 0.0, 20.0};
  for (size_t i = 0; i < 4; i++) {
    const double zero = conductivity(nist[i].name, 0.0);
    for (int j = 0; j < 4; j++)
      assert_close(conductivity(nist[i].name, t[j]) / zero, nist[i].k[j] / nist[i].k[2], 1.5e-3);
  }
}
END_TEST

/* R-value factors of the EPS-IA booklet, base 24 degC: k(t)/k(0) = F(0)/F(t); CRC Handbook for borosilicate glass; Springer Handbook Table 3.3-6
 * for PP (0.21 at -50, 0.22 at 0 degC); Incropera Table A.1 for copper (413 W/mK at 200 K, 401 at 300 K). */
START_TEST(foams_glass_and_plastics_follow_their_tables)
{
  assert_close(conductivity("eps", -20.0) / conductivity("eps", 0.0), 1.125 / 1.225, 2e-3);
  assert_close(conductivity("eps 30", 20.0) / conductivity("eps 30", 0.0), 1.119 / 1.023, 2e-3);
  assert_close(conductivity("xps", -20.0) / conductivity("xps", 0.0), 1.100 / 1.180, 2e-3);
  assert_close(conductivity("borosilicate glass", -99.0), 0.90, 0.04);
  assert_close(conductivity("borosilicate glass", 99.0), 1.25, 0.03);
  assert_close(conductivity("pp", -50.0), 0.21, 0.02);
  assert_close(conductivity("copper", -73.15), 413.0, 0.002);
  assert_close(conductivity("copper", 26.85), 401.0, 0.002);
  assert_close(conductivity("air", 20.0), 0.0258, 0.005); /* VDI Heat Atlas 0.0258 W/mK (from memory) */
}
END_TEST

START_TEST(every_solid_makes_a_rising_curve_within_its_spread)
{
  ck_assert_uint_gt(material_num_solids(), 20);
  for (size_t i = 0; i < material_num_solids(); i++) {
    const char *name = material_solid_name(i);
    material m;
    solid_spread spread;
    ck_assert_int_eq(material_solid(&m, name, NULL), STATUS_OK);
    ck_assert_str_eq(m.name, name);
    ck_assert_uint_gt(strlen(m.source), 5);
    ck_assert(material_solid_conductivity_spread(name, &spread));
    ck_assert(spread.low <= spread.middle && spread.middle <= spread.high && spread.low > 0.0);
    assert_close(phase_curve_conductivity_at(&m.curve, 0.0, 1), spread.middle, 2e-3);
    assert_near(phase_curve_enthalpy(&m.curve, 0.0), 0.0, 1e-6);
    assert_near(phase_curve_potential_at(&m.curve, 0.0), 0.0, 1e-9);
    ck_assert_double_gt(m.density, 1.0);
    for (double t = -90.0; t < 90.0; t += 10.0) {
      ck_assert_double_gt(phase_curve_enthalpy(&m.curve, t + 10.0), phase_curve_enthalpy(&m.curve, t));
      ck_assert_double_eq(phase_curve_liquid_fraction(&m.curve, phase_curve_enthalpy(&m.curve, t)), 0.0);
      assert_near(phase_curve_temperature(&m.curve, phase_curve_enthalpy(&m.curve, t)), t, 1e-9);
    }
    material_release(&m);
  }
  ck_assert_ptr_null(material_solid_name(material_num_solids()));
}
END_TEST

/* ISO 10077-2 / CIBSE / Incropera / ISO 10456, W/(m K); density kg/m3. */
START_TEST(values_are_the_published_ones)
{
  static const struct { const char *name; double k, density; } published[] = {
      {"mild steel", 50.0, 7850.0}, {"concrete", 1.75, 2300.0}, {"glass", 1.0, 2500.0}, {"plywood", 0.13, 500.0}, {"HDPE", 0.45, 955.0}};
  for (size_t i = 0; i < 5; i++) {
    material m;
    ck_assert_int_eq(material_solid(&m, published[i].name, NULL), STATUS_OK);
    ck_assert_double_eq(m.density, published[i].density);
    assert_close(phase_curve_conductivity_at(&m.curve, 0.0, 1), published[i].k, 2e-3);
    material_release(&m);
  }
}
END_TEST

START_TEST(names_are_forgiving_but_unknown_ones_are_refused_with_the_nearest)
{
  material m;
  message msg = {""};
  ck_assert_int_eq(material_solid(&m, "Aluminium-3003", &msg), STATUS_OK);
  ck_assert_str_eq(m.name, "aluminium 3003");
  material_release(&m);
  ck_assert_int_eq(material_solid(&m, "aluminum 3003", &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "'aluminium 3003'"));
  ck_assert_int_eq(material_solid(&m, "", &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(material_solid(&m, "stainles steel", &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "stainless steel 304"));
  ck_assert_str_eq(material_solid_nearest("hdp"), "hdpe");
  solid_spread spread;
  ck_assert(!material_solid_conductivity_spread("no such thing", &spread));
  material_release(&m);
}
END_TEST

/* Chloride pits aluminium and stainless steel, and eats zinc, steel and brass (common practice, no source). */
START_TEST(chloride_attacks_the_metals_it_should)
{
  ck_assert(material_solid_attacked_by_chloride("aluminium 1100"));
  ck_assert(material_solid_attacked_by_chloride("galvanised steel"));
  ck_assert(material_solid_attacked_by_chloride("brass"));
  ck_assert(material_solid_attacked_by_chloride("stainless steel 304"));
  ck_assert(!material_solid_attacked_by_chloride("hdpe"));
  ck_assert(!material_solid_attacked_by_chloride("no such thing"));
}
END_TEST

START_TEST(running_out_of_memory_is_reported)
{
  for (int n = 1; n < 50; n++) {
    material m;
    if (!check_rows_fail_allocation(n))
      return;
    const status s = material_solid(&m, "xps", NULL);
    check_rows_fail_allocation(0);
    material_release(&m);
    if (s == STATUS_OK) {
      ck_assert_int_gt(n, 1);
      return;
    }
    ck_assert_int_eq(s, STATUS_NO_MEMORY);
  }
  ck_abort_msg("never succeeded");
}
END_TEST

int main(void)
{
  Suite *s = suite_create("solid");
  TCase *t = tcase_create("solid");
  tcase_add_test(t, metals_follow_the_nist_polynomials);
  tcase_add_test(t, foams_glass_and_plastics_follow_their_tables);
  tcase_add_test(t, every_solid_makes_a_rising_curve_within_its_spread);
  tcase_add_test(t, values_are_the_published_ones);
  tcase_add_test(t, names_are_forgiving_but_unknown_ones_are_refused_with_the_nearest);
  tcase_add_test(t, chloride_attacks_the_metals_it_should);
  tcase_add_test(t, running_out_of_memory_is_reported);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
