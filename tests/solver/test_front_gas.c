/* The front of ice and what it rejects: closed forms of the literature and hand-worked places of a front. */
#include <check.h>
#include <math.h>

#include "solver/front_film.h"
#include "solver/front_gas.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

static const double SATURATION = 29.14e-6;

/* Burton, Prim & Slichter 1953 with k = 0: exp(w film / D) = e. */
START_TEST(film_enriches_as_burton_prim_and_slichter_say)
{
  const front_gas_constants c = front_gas_defaults();
  const front_gas_layer layer = front_gas_layer_of(&c, 1e-6 * 999.8 / 916.7, 1e-3);
  const front_gas_capture f = front_gas_at(&c, &layer, SATURATION, SATURATION);
  assert_close(f.supersaturation, 2.718281828459045, 1e-6);
}
END_TEST

/* Smith, Tiller & Rutter 1955, k -> 0; 2.719 at tau = 1 by a finite-volume solution of the same problem. */
START_TEST(water_that_nothing_moves_enriches_without_end)
{
  static const double published[][2] = {{0.1, 1.410}, {0.25, 1.701}, {0.443, 2.000}, {0.5, 2.081}, {1, 2.720}, {2, 3.849}, {5, 6.963}};
  for (int i = 0; i < 7; i++)
    assert_close(front_gas_stagnant(published[i][0]), published[i][1], 1e-3);
}
END_TEST

/* Places of a front worked out by hand from the equations in front_gas.h, bubbles without their own pressure. */
START_TEST(single_places_of_a_front_come_out)
{
  static const double row[6][11] = {
      /* bulk/c_s, V, film, E, S, chi, captured/c_s, fraction, spacing, diameter, extinction */
      {1.5, 5e-07, 0.0011, 0.603937, 2.48370, 0.00000, 0.000000, 0.0, 6.543907e-03, 0.0, 0.0},
      {1.0, 2e-06, 0.0008, 0.230613, 4.33627, 0.73451, 0.668459, 1.785629e-02, 1.635977e-03, 2.878261e-04, 93.0577},
      {0.64, 5e-06, 0.0003, 0.252757, 2.53207, 0.01283, 0.005346, 1.428177e-04, 6.543907e-04, 1.812881e-04, 1.1817},
      {1.0, 1e-06, 0.00012, 0.895811, 1.11631, 0.00000, 0.000000, 0.0, 3.271954e-03, 0.0, 0.0},
      {1.0, 3e-05, 0.0003, 0.000261, 3835.09847, 1.00000, 0.999922, 2.671055e-02, 1.090651e-04, 4.044957e-05, 990.5128},
      {2.0, 4e-07, 0.0011, 0.668026, 2.99390, 0.19756, 0.673398, 1.798824e-02, 8.000000e-03, 2.723901e-03, 9.9058}};
  static const double number[6] = {0, 1.67751e+08, 4.57800e+07, 0, 7.70801e+11, 3.85857e+05};
  front_gas_constants c = front_gas_defaults();
  c.surface_tension = 0.0;
  for (int i = 0; i < 6; i++) {
    const double *v = row[i];
    const front_gas_layer layer = front_gas_layer_of(&c, v[1], v[2]);
    const front_gas_capture f = front_gas_at(&c, &layer, v[0] * SATURATION, SATURATION);
    ck_assert_double_eq_tol(layer.shut, v[3], 1e-6);
    assert_close(layer.shut + layer.open, 1.0, 1e-15);
    assert_close(f.supersaturation, v[4], 1e-3);
    ck_assert_double_eq_tol(f.share, v[5], 1e-5);
    ck_assert_double_eq_tol(f.captured / SATURATION, v[6], 1e-3 * v[6] + 1e-12);
    if (v[6] > 0.0) {
      const front_gas_bubbles b = front_gas_bubbles_of(&c, f.captured, f.share, v[1], 101325.0);
      assert_close(b.fraction, v[7], 1e-3);
      assert_close(b.spacing, v[8], 1e-3);
      assert_close(b.diameter, v[9], 1e-3);
      assert_close(b.extinction, v[10], 1e-3);
      assert_close(b.number, number[i], 1e-3);
    }
  }
}
END_TEST

/* All the air of water in balance at 0 degC, held at 101325 Pa: 29.14e-6 * 916.7 = 2.671 % of the ice. A bubble of 0.2 mm is under
 * 4 * 0.0757 / 2e-4 = 1514 Pa more (Young-Laplace). */
START_TEST(bubbles_hold_their_gas_under_their_own_pressure)
{
  front_gas_constants c = front_gas_defaults();
  c.surface_tension = 0.0;
  assert_close(front_gas_bubbles_of(&c, SATURATION, 1.0, 1e-6, 101325.0).fraction, 0.02671, 1e-3);
  const front_gas_constants real = front_gas_defaults();
  const front_gas_bubbles b = front_gas_bubbles_of(&real, SATURATION, 1.0, 3e-6, 101325.0);
  assert_close(b.fraction * (101325.0 + 4.0 * 0.0757 / b.diameter), SATURATION * 916.7 * 101325.0, 1e-4);
  /* Yoshimura, Inada & Koyama 2008: diameter and spacing fall as the front grows faster, and with pressure. */
  const front_gas_bubbles faster = front_gas_bubbles_of(&real, SATURATION, 1.0, 4e-6, 101325.0);
  const front_gas_bubbles pressed = front_gas_bubbles_of(&real, SATURATION, 1.0, 3e-6, 2 * 101325.0);
  ck_assert_double_lt(faster.diameter, b.diameter);
  ck_assert_double_lt(faster.spacing, b.spacing);
  ck_assert_double_lt(pressed.diameter, b.diameter);
}
END_TEST

/* Computed independently: still water in balance with air, film 1.1 mm, onset 2.5 and 1.8. (Pond ice: test_clouding_observed.c.) */
START_TEST(the_clear_limit_follows_from_the_film)
{
  front_gas_constants c = front_gas_defaults();
  assert_close(front_gas_clear_speed(&c, SATURATION, SATURATION, 1.1e-3), 0.91e-6, 0.01);
  c.onset = 1.8;
  assert_close(front_gas_clear_speed(&c, SATURATION, SATURATION, 1.1e-3), 0.58e-6, 0.01);
}
END_TEST

/* Mullins & Sekerka 1964: 1.539 kg/m3 for D 0.7e-9 and 0.05 K per kg/m3; 1.35 NaCl (0.73e-9, 0.0595). */
START_TEST(front_breaks_up_at_the_mineral_limit)
{
  assert_close(front_gas_salt_limit(0.7e-9, 0.05), 1.539, 0.01);
  assert_close(front_gas_salt_limit(0.73e-9, 0.0595), 1.35, 0.01);
  const double thinner = 1e-3 * cbrt(0.7);
  assert_close(front_gas_salt_rise(0.5e-6, 1e-3, 1e-9), exp(0.5e-6 * 916.7 / 999.8 * thinner / 0.7e-9), 1e-12);
}
END_TEST

/* Calderbank & Moo-Young 1961, evaluated by hand; within half of the last digit given. */
START_TEST(stirring_thins_the_film)
{
  static const double published[][2] = {{1e-4, 0.31e-3}, {1e-3, 0.17e-3}, {1e-2, 0.098e-3}, {1e-1, 0.055e-3}, {1.0, 0.031e-3}};
  for (int i = 0; i < 5; i++)
    ck_assert_double_eq_tol(front_film_stirred(published[i][0], 1e-9), published[i][1], i < 2 ? 0.005e-3 : 0.0005e-3);
}
END_TEST

/* Solutal convection, Ra 1000: 2.25, 1.66, 1.19, 0.91, 0.72 mm at 20, 50, 135, 300, 600 mg/L. Churchill & Chu 1975: 0.3 mm (0.2 to 0.4)
 * at 15 to 20 degC, 0.6 (0.4 to 0.9) at 5 to 10, 0.85 (0.7 to 1.1) at 0.5 to 4 degC. */
START_TEST(films_of_still_water_lie_in_their_ranges)
{
  static const double salt[][2] = {{0.02, 2.25e-3}, {0.05, 1.66e-3}, {0.135, 1.19e-3}, {0.3, 0.91e-3}, {0.6, 0.72e-3}};
  for (int i = 0; i < 5; i++)
    assert_close(front_film_solutal(salt[i][0], 1e-9), salt[i][1], 0.01);
  static const double warm[][3] = {{18.0, 0.2e-3, 0.4e-3}, {8.0, 0.4e-3, 0.9e-3}, {2.0, 0.7e-3, 1.1e-3}};
  for (int i = 0; i < 3; i++) {
    const double film = front_film_thermal(warm[i][0], 0.3, 1e-9);
    ck_assert_double_ge(film, warm[i][1]);
    ck_assert_double_le(film, warm[i][2]);
  }
  ck_assert(isinf(front_film_thermal(0.0, 0.3, 1e-9)));
  /* Pumped past 0.5 m at 0.1 m/s: water at 0 degC (IAPWS: 1.792e-6 m2/s, Pr 13.5), Re 27900, Nu 264 laminar and 353 turbulent, 440 together (Gnielinski 1975,
   * from memory); Sh = Nu (Sc / Pr)^(1/3) = 2248: 0.222 mm. */
  assert_close(front_film_pumped(0.1, 0.5, 1e-9), 0.222e-3, 0.02);
}
END_TEST

/* Under ice, water colder than 4 degC lies still; above ice the heavy film stays; motion counts on every side. */
START_TEST(the_way_a_front_faces_counts)
{
  const front_film_setting pure = {.kind = MOTION_STILL, .minerals = 0.0, .height = 0.3, .thickness = NAN, .factor = 1.0, .diffusivity = 1e-9};
  front_film_setting hard = pure, stirred = pure;
  hard.minerals = 0.3;
  stirred.kind = MOTION_STIRRED;
  stirred.stirring = 0.01;
  assert_close(front_film_at(&pure, 2.0, -1.0), 3e-3, 1e-12);
  ck_assert_double_lt(front_film_at(&pure, 2.0, 0.0), 1.1e-3);
  assert_close(front_film_at(&hard, 0.0, 1.0), 3e-3, 1e-12);
  ck_assert_double_lt(front_film_at(&hard, 0.0, -1.0), 0.92e-3);
  ck_assert_double_lt(front_film_at(&stirred, 0.0, 1.0), 0.1e-3);
  hard.thickness = 0.5e-3;
  hard.factor = 2.0;
  assert_close(front_film_at(&hard, 0.0, 0.0), 1e-3, 1e-12);
}
END_TEST

/* Bubbles of 0.2 mm that are 2.7 % of the ice: 202.5 per m; a slab of 0.1 m sends back 0.80 (Mullen & Warren 1988). */
START_TEST(white_ice_looks_white)
{
  assert_close(front_gas_reflectance(202.5, 0.1), 0.798, 0.01);
}
END_TEST

START_TEST(bubbles_leave_faces_that_look_up_sooner)
{
  ck_assert_double_eq(front_gas_detached(-1.0, false), 0.0);
  assert_close(front_gas_detached(0.0, false), 0.2, 1e-12);
  assert_close(front_gas_detached(1.0, false), 0.5, 1e-12);
  assert_close(front_gas_detached(-1.0, true), 0.3, 1e-12);
  assert_close(front_gas_detached(0.0, true), 0.8, 1e-12);
  assert_close(front_gas_detached(1.0, true), 0.9, 1e-12);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("front_gas");
  TCase *all = tcase_create("all");
  tcase_add_test(all, film_enriches_as_burton_prim_and_slichter_say);
  tcase_add_test(all, water_that_nothing_moves_enriches_without_end);
  tcase_add_test(all, single_places_of_a_front_come_out);
  tcase_add_test(all, bubbles_hold_their_gas_under_their_own_pressure);
  tcase_add_test(all, the_clear_limit_follows_from_the_film);
  tcase_add_test(all, front_breaks_up_at_the_mineral_limit);
  tcase_add_test(all, stirring_thins_the_film);
  tcase_add_test(all, films_of_still_water_lie_in_their_ranges);
  tcase_add_test(all, the_way_a_front_faces_counts);
  tcase_add_test(all, white_ice_looks_white);
  tcase_add_test(all, bubbles_leave_faces_that_look_up_sooner);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
