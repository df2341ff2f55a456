/* Heat to bare ice from air and water, against worked figures for ordinary rooms. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "materials/moist_air.h"
#include "solver/film.h"
#include "solver/melt_around.h"

static const melt_air room = {.temperature = 25.0, .relative_humidity = 0.5, .pressure = 101325.0, .emissivity = 0.97, .film = NAN, .moisture = true};

/* Computed independently (formulas of Churchill-Chu, Stefan-Boltzmann, Chilton-Colburn worked by hand for a convective film of 4.5 W/(m2 K)):
 * 25 degC, 50 %: 112 by convection, 128 by radiation, 67 by moisture, 308 W/m2 in all, 96 g/(m2 h) of dew. */
START_TEST(still_air_of_25_degrees_gives_308_watts)
{
  const melt_flux q = melt_around_air(&room, 4.5, 0.0);
  ck_assert_double_eq_tol(q.dry, 112.0 + 128.0, 0.02 * 240.0);
  ck_assert_double_eq_tol(q.dry + q.moisture, 308.0, 0.03 * 308.0);
  const moist_air_room moist = {.convection = 4.5, .temperature = 25.0, .relative_humidity = 0.5, .pressure = 101325.0};
  ck_assert_double_eq_tol(moist_air_condensation(&moist, 0.0) * 3600e3, 96.0, 0.03 * 96.0);
}
END_TEST

START_TEST(dry_air_takes_heat_from_wet_ice)
{
  melt_air dry = room;
  dry.relative_humidity = 0.05;
  ck_assert_double_lt(melt_around_air(&dry, 4.5, 0.0).moisture, 0.0);
  dry.moisture = false;
  ck_assert_double_eq(melt_around_air(&dry, 4.5, 0.0).moisture, 0.0);
}
END_TEST

/* Common practice, no source: still air along 0.3 to 0.5 m gives 3.5 to 5 W/(m2 K), half of it or less on a cold face that looks up. */
START_TEST(still_air_films_are_those_of_practice)
{
  const melt_size size = {.height = 0.4, .width = 0.4};
  const double upright = melt_around_air_film(&room, &size, 0.0, 0.0), up = melt_around_air_film(&room, &size, 0.0, 1.0);
  ck_assert_double_gt(upright, 3.5);
  ck_assert_double_lt(upright, 5.0);
  ck_assert_double_gt(up, 1.0);
  ck_assert_double_lt(up, 3.0);
}
END_TEST

/* Computed independently (flow along a wall, Gnielinski 1975): wind of 1, 2, 3, 5, 10 m/s on 0.5 m: 9, 14, 19, 27, 45 W/(m2 K), rounded. */
START_TEST(wind_films_rise_as_computed)
{
  static const double wind[] = {1, 2, 3, 5, 10}, film[] = {9, 14, 19, 27, 45};
  melt_air air = room;
  const melt_size size = {.height = 1e-3 + 0.5, .width = 0.5};
  air.temperature = 0.01; /* next to no natural flow */
  for (int i = 0; i < 5; i++) {
    air.wind = wind[i];
    ck_assert_double_eq_tol(melt_around_air_film(&air, &size, 0.0, 0.0), film[i], 0.12 * film[i]);
  }
}
END_TEST

/* Computed independently (Churchill & Chu with the density of Gebhart & Mollendorf 1977), 0.3 m: water of 2 / 10 / 20 degC: 147 / 242 / 453 W/(m2 K). */
START_TEST(water_films_know_the_density_maximum)
{
  static const double water[] = {2, 10, 20}, film[] = {147, 242, 453};
  const melt_size size = {.height = 0.3, .width = 0.3, .wetted_height = 0.3};
  for (int i = 0; i < 3; i++) {
    const melt_pool pool = {.present = true, .temperature = water[i], .film = NAN};
    ck_assert_double_eq_tol(melt_around_water_film(&pool, &size, 0.0), film[i], 0.03 * film[i]);
    ck_assert_double_eq_tol(melt_around_water(&pool, film[i], 0.0).water, film[i] * water[i], 1e-12);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("melt_around");
  TCase *c = tcase_create("melt_around");
  tcase_add_test(c, still_air_of_25_degrees_gives_308_watts);
  tcase_add_test(c, dry_air_takes_heat_from_wet_ice);
  tcase_add_test(c, still_air_films_are_those_of_practice);
  tcase_add_test(c, wind_films_rise_as_computed);
  tcase_add_test(c, water_films_know_the_density_maximum);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
