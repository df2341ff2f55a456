/* Water and ice against IAPWS and TEOS-10, conductivity laws of ice, and the material made of them. */
#include <check.h>
#include <math.h>

#include "check_rows.h"
#include "materials/water.h"

enum { T, RHO, RHO95, CP, CP95, CP_TEOS, K, K_R15, MU, MU_R12, ALPHA, H }; /* columns of water.csv */

START_TEST(liquid_agrees_with_the_releases)
{
  const check_rows *c = check_rows_read("water.csv");
  for (size_t i = 0; i < c->num; i++) {
    const double *v = c->row[i].value, t = v[T];
    assert_near(water_density(t), v[RHO], 5e-4);
    assert_near(water_density(t), v[RHO95], 1.5e-3);
    assert_near(water_specific_heat(t), v[CP], 0.03); /* the stated error of the fit, and half a printed digit */
    assert_near(water_specific_heat(t), v[CP95], 0.25);
    if (t >= 0.0)
      assert_near(water_specific_heat(t), v[CP_TEOS], 0.25);
    assert_near(water_conductivity(t), v[K], 1e-5);
    assert_near(water_conductivity(t), v[K_R15], 1e-4);
    assert_close(1e3 * water_viscosity(t), v[MU], 1e-6);
    assert_close(1e3 * water_viscosity(t), v[MU_R12], 1e-4);
    assert_near(water_expansion(t), v[ALPHA], 6e-7);
  }
}
END_TEST

/* IAPWS-95 at 0.1 MPa: cp 4181.3 and 4185.1 J/(kg K), conductivity 0.6406, 0.6510 at 50, 60 degC (from memory). */
START_TEST(warm_liquid_is_continued_smoothly)
{
  assert_close(water_specific_heat(50.0), 4181.3, 2e-4);
  assert_close(water_specific_heat(60.0), 4185.1, 2e-4);
  assert_close(water_conductivity(50.0), 0.6406, 1e-3);
  assert_close(water_conductivity(60.0), 0.6510, 1e-3);
  assert_close(water_specific_heat(40.0 + 1e-9), water_specific_heat(40.0), 1e-8);
}
END_TEST

/* Densest at 3.98 degC; Gebhart & Mollendorf 1977 place it at 4.029 and agree on the buoyancy of 0 and 10 degC within 2 %. */
START_TEST(water_is_densest_near_four_degrees)
{
  assert_near(water_expansion(3.98), 0.0, 1e-7);
  ck_assert_double_lt(water_expansion(3.0), 0.0);
  ck_assert_double_gt(water_expansion(5.0), 0.0);
  const double densest = water_density(3.98);
  for (double t = 0.0; t <= 20.0; t += 10.0)
    assert_close(water_density_defect(t), (densest - water_density(t)) / densest, 0.02);
}
END_TEST

/* 13.4 at 0 degC: mu cp/k of the releases, 1.7918e-3 * 4219.3 / 0.55565 = 13.606; 7.01 at 20 degC (VDI Heat Atlas). */
START_TEST(prandtl_number_is_that_of_the_handbooks)
{
  assert_close(water_prandtl(0.0), 1.791782e-3 * 4219.32 / 0.55565, 1e-4);
  assert_close(water_prandtl(20.0), 7.01, 2e-3);
  assert_close(water_diffusivity(20.0), 0.5980 / (998.2065 * 4184.19), 1e-4);
}
END_TEST

START_TEST(ice_agrees_with_the_releases)
{
  const check_rows *c = check_rows_read("ice.csv");
  for (size_t i = 0; i < c->num; i++) {
    const double *v = c->row[i].value;
    assert_near(water_ice_density(v[0]), v[1], 2e-4);
    assert_near(water_ice_density(v[0]), v[2], 2e-4);
    assert_near(water_ice_specific_heat(v[0]), v[3], 0.08);
    assert_near(water_ice_specific_heat(v[0]), v[4], 0.08);
  }
  /* IAPWS R10-06(2009), check value at 273.152519 K, 101325 Pa: cp 2096.71391024 J/(kg K) (from memory). */
  assert_near(water_ice_specific_heat(0.002519), 2096.71391024, 0.08);
  /* SR6-08 minus R10-06 at 0 degC: 333.421 kJ/kg; CRC Handbook 333.6. */
  assert_close(WATER_LATENT_HEAT, 333421.0, 1e-5);
  assert_close(WATER_LATENT_HEAT, 333600.0, 6e-4);
  assert_near(water_supercooled_latent_heat(-10.0), 311597.0, 15.0);
}
END_TEST

START_TEST(ice_conducts_as_each_law_says)
{
  const check_rows *c = check_rows_read("ice_conductivity.csv");
  static const ice_law laws[] = {ICE_ANDERSSON_INABA, ICE_YEN, ICE_FUKUSAKO, ICE_PRINGLE, ICE_SLACK};
  for (size_t i = 0; i < c->num; i++)
    for (size_t law = 0; law < 5; law++)
      if (!isnan(c->row[i].value[law + 1]))
        assert_near(water_ice_conductivity(laws[law], c->row[i].value[0]), c->row[i].value[law + 1], 5.01e-4);
}
END_TEST

/* h(t) - h(0 degC) of the releases, times the density of ice, in both phases. */
START_TEST(enthalpy_of_the_material_is_that_of_the_releases)
{
  material m;
  ck_assert_int_eq(material_water(&m, ICE_ANDERSSON_INABA, 0.0, NULL), STATUS_OK);
  assert_near(m.density, 916.7218, 2e-4);
  const check_rows *ice = check_rows_read("ice.csv");
  for (size_t i = 0; i < ice->num; i++) {
    if (ice->row[i].value[0] == 0.0)
      continue; /* there the inverse gives the liquid */
    const double h = phase_curve_enthalpy(&m.curve, ice->row[i].value[0]) / m.density;
    assert_near(h, 1000.0 * (ice->row[i].value[5] - ice->row[0].value[5]), 4.0);
    ck_assert_double_eq(phase_curve_liquid_fraction(&m.curve, h * m.density), 0.0);
  }
  const check_rows *water = check_rows_read("water.csv");
  for (size_t i = 0; i < water->num; i++) {
    if (water->row[i].value[T] < 0.0)
      continue;
    const double h = phase_curve_enthalpy(&m.curve, water->row[i].value[T]) / m.density;
    assert_near(h, WATER_LATENT_HEAT + 1000.0 * (water->row[i].value[H] - 0.0598), 4.0);
    ck_assert_double_eq(phase_curve_liquid_fraction(&m.curve, h * m.density), 1.0);
  }
  material_release(&m);
}
END_TEST

/* Heat for a kilogram of ice of -5 degC from water of 10, 20, 25, 30 degC: 386, 428, 449, 470 kJ (computed independently: 4.2, 333.5, 2.1 kJ). */
static const double made_from[][2] = {{10.0, 386e3}, {20.0, 428e3}, {25.0, 449e3}, {30.0, 470e3}};
START_TEST(a_kilogram_of_ice_takes_what_it_takes)
{
  material m;
  ck_assert_int_eq(material_water(&m, ICE_ANDERSSON_INABA, 0.0, NULL), STATUS_OK);
  for (size_t i = 0; i < sizeof made_from / sizeof *made_from; i++)
    assert_close((phase_curve_enthalpy(&m.curve, made_from[i][0]) - phase_curve_enthalpy(&m.curve, -5.0)) / m.density, made_from[i][1], 0.01);
  material_release(&m);
}
END_TEST

START_TEST(freezing_is_isothermal_wherever_it_is_put)
{
  static const double freezing[] = {0.0, -3.0, 7.0};
  for (size_t i = 0; i < 3; i++) {
    material m;
    ck_assert_int_eq(material_water(&m, ICE_YEN, freezing[i], NULL), STATUS_OK);
    const phase_curve *c = &m.curve;
    assert_close(c->liquid_enthalpy - c->solid_enthalpy, 333420.0 * 916.7219264, 1e-12);
    ck_assert_double_eq(c->solid_enthalpy, 0.0);
    for (double f = 0.0; f <= 1.0; f += 0.125) {
      const double h = c->solid_enthalpy + f * m.latent_heat;
      ck_assert_double_eq(phase_curve_temperature(c, h), freezing[i]);
      ck_assert_double_eq(phase_curve_potential(c, h), 0.0);
      assert_near(phase_curve_liquid_fraction(c, h), f, 1e-12);
    }
    assert_close(phase_curve_conductivity_at(c, freezing[i], -1), water_ice_conductivity(ICE_YEN, freezing[i] - 0.05), 2e-4);
    assert_close(phase_curve_conductivity_at(c, freezing[i], 1), water_conductivity(freezing[i] + 0.025), 2e-4);
    material_release(&m);
  }
}
END_TEST

START_TEST(potential_is_the_integral_of_conductivity)
{
  material m;
  ck_assert_int_eq(material_water(&m, ICE_FUKUSAKO, 0.0, NULL), STATUS_OK);
  /* 1.16 (1.91 t - 8.66e-3 t^2/2 + 2.97e-5 t^3/3) at -40 degC. */
  assert_close(phase_curve_potential_at(&m.curve, -40.0), 1.16 * (1.91 * -40.0 - 8.66e-3 * 800.0 - 2.97e-5 * 64000.0 / 3.0), 1e-6);
  /* SR6-08 Eq. 8 integrated term by term, 0 to 30 degC. */
  static const double a[] = {1.6630, -1.7781, 1.1567, -0.432115}, n[] = {-1.15, -3.4, -6.0, -7.6};
  double want = 0.0;
  for (int i = 0; i < 4; i++)
    want += a[i] * 300.0 / (n[i] + 1.0) * (pow(303.15 / 300.0, n[i] + 1.0) - pow(273.15 / 300.0, n[i] + 1.0));
  assert_close(phase_curve_potential_at(&m.curve, 30.0), want, 1e-6);
  material_release(&m);
}
END_TEST

START_TEST(bad_requests_are_refused)
{
  material m;
  message msg = {""};
  ck_assert_int_eq(material_water(&m, ICE_YEN, NAN, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(material_water(&m, ICE_YEN, -80.0, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(material_water(&m, (ice_law)17, 0.0, &msg), STATUS_BAD_INPUT);
  material_release(&m);
}
END_TEST

START_TEST(running_out_of_memory_is_reported)
{
  for (int n = 1; n < 100; n++) {
    material m;
    if (!check_rows_fail_allocation(n))
      return;
    const status s = material_water(&m, ICE_YEN, 0.0, NULL);
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
  Suite *s = suite_create("water");
  TCase *t = tcase_create("water");
  tcase_add_test(t, liquid_agrees_with_the_releases);
  tcase_add_test(t, warm_liquid_is_continued_smoothly);
  tcase_add_test(t, water_is_densest_near_four_degrees);
  tcase_add_test(t, prandtl_number_is_that_of_the_handbooks);
  tcase_add_test(t, ice_agrees_with_the_releases);
  tcase_add_test(t, ice_conducts_as_each_law_says);
  tcase_add_test(t, a_kilogram_of_ice_takes_what_it_takes);
  tcase_add_test(t, enthalpy_of_the_material_is_that_of_the_releases);
  tcase_add_test(t, freezing_is_isothermal_wherever_it_is_put);
  tcase_add_test(t, potential_is_the_integral_of_conductivity);
  tcase_add_test(t, bad_requests_are_refused);
  tcase_add_test(t, running_out_of_memory_is_reported);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
