/* Moist air against steam tables and a hand-worked melting surface. */
#include <check.h>
#include <math.h>

#include "check_rows.h"
#include "materials/moist_air.h"

/* The Magnus form is good to 0.6 % (Sonntag 1990). Saturation pressures of IAPWS, Pa: water 0 degC 611.2, 10 1228.2, 20 2339.3, 30 4247.0; ice -10 259.9, -20 103.3, -40 12.84 (from memory). */
START_TEST(saturation_is_that_of_the_tables)
{
  static const double water[][2] = {{0.0, 611.2}, {10.0, 1228.2}, {20.0, 2339.3}, {30.0, 4247.0}};
  static const double ice[][2] = {{-10.0, 259.9}, {-20.0, 103.3}, {-40.0, 12.84}};
  for (int i = 0; i < 4; i++)
    assert_close(moist_air_saturation_water(water[i][0]), water[i][1], 6e-3);
  for (int i = 0; i < 3; i++)
    assert_close(moist_air_saturation_ice(ice[i][0]), ice[i][1], 6e-3);
  ck_assert_double_lt(moist_air_saturation_ice(-10.0), moist_air_saturation_water(-10.0));
  ck_assert_double_eq(moist_air_saturation(-10.0), moist_air_saturation_ice(-10.0));
  ck_assert_double_eq(moist_air_saturation(10.0), moist_air_saturation_water(10.0));
}
END_TEST

/* Psychrometric chart at 101325 Pa: 25 degC, 50 %: dew point 13.9 degC, 9.9 g per kg of dry air, 11.5 g/m3 (ASHRAE Fundamentals, from memory);
 * 20 degC, 50 %: dew point 9.3 degC. */
START_TEST(dew_point_and_humidity_are_those_of_the_chart)
{
  const double p = moist_air_vapour_pressure(25.0, 0.5);
  assert_near(moist_air_dew_point(p), 13.87, 0.05);
  assert_near(1e3 * moist_air_humidity_ratio(p, 101325.0), 9.9, 0.05);
  assert_near(1e3 * moist_air_absolute_humidity(p, 25.0), 11.5, 0.05);
  assert_near(moist_air_dew_point(moist_air_vapour_pressure(20.0, 0.5)), 9.3, 0.05);
  for (double t = -30.0; t <= 50.0; t += 8.0)
    assert_near(moist_air_dew_point(moist_air_saturation_water(t)), t, 1e-10);
}
END_TEST

/* A melting surface in still air of 25 degC, 50 %, 112 W/m2 of convection (h_c 4.48), by the analogy of Chilton & Colburn, by hand:
 * rho_v 11.513e-3 - 4.848e-3 = 6.665e-3 kg/m3 (steam tables); rho cp = 1.2357 * 1006 at 12.5 degC; 4.48/(1243.1 * 0.90) = 4.0043e-3 m/s;
 * 2.669e-5 kg/(m2 s) = 96 g/(m2 h), 66.7 W/m2. The 0.6 % of the Magnus form is 1 % of the difference of vapour. */
START_TEST(moisture_warms_a_melting_surface)
{
  const moist_air_room room = {4.48, 25.0, 0.5, 101325.0};
  assert_close(moist_air_condensation(&room, 0.0), 2.669e-5, 1e-2);
  assert_close(moist_air_latent_flux(&room, 0.0), 66.7, 1e-2);
  assert_close(moist_air_latent_flux(&room, -1e-9), 66.7 * 2.83 / 2.50, 1e-2); /* as frost */
  ck_assert_double_lt(moist_air_latent_flux(&room, 20.0), 0.0);                /* above the dew point it dries */
  assert_near(moist_air_latent_flux(&room, moist_air_dew_point(moist_air_vapour_pressure(25.0, 0.5))), 0.0, 6.0);
}
END_TEST

/* 25 against -10 degC, by hand: 298.15^4 - 263.15^4 = 3.1068e9 K4, x 5.670e-8 x 0.95 = 167.4 W/m2, over 35 K 4.78 W/(m2 K); a weaker film is all radiation. */
START_TEST(convection_is_what_radiation_leaves_of_a_film)
{
  assert_close(moist_air_convective_part(9.0, 25.0, -10.0), 9.0 - 4.78, 2e-3);
  assert_close(moist_air_convective_part(9.0, -10.0, 25.0), 9.0 - 4.78, 2e-3);
  ck_assert_double_eq(moist_air_convective_part(4.0, 25.0, -10.0), 0.0);
}
END_TEST

START_TEST(coefficient_is_the_slope_of_the_flux)
{
  const moist_air_room room = {7.3, 21.0, 0.63, 94000.0};
  for (double t = -33.5; t < 40.0; t += 7.0) {
    const double slope = (moist_air_latent_flux(&room, t - 1e-3) - moist_air_latent_flux(&room, t + 1e-3)) / 2e-3;
    /* The mass transfer coefficient itself goes like the mean absolute temperature of the film. */
    const double film = moist_air_latent_flux(&room, t) * 0.5 / (0.5 * (room.temperature + t) + 273.15);
    assert_close(moist_air_latent_coefficient(&room, t), slope + film, 1e-6);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("moist_air");
  TCase *t = tcase_create("moist_air");
  tcase_add_test(t, saturation_is_that_of_the_tables);
  tcase_add_test(t, dew_point_and_humidity_are_those_of_the_chart);
  tcase_add_test(t, moisture_warms_a_melting_surface);
  tcase_add_test(t, convection_is_what_radiation_leaves_of_a_film);
  tcase_add_test(t, coefficient_is_the_slope_of_the_flux);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
