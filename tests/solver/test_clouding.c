/* Air and minerals along the pockets of a body, against closed forms and against histories of a plane front marched apart from
 * this program. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "clouding_column.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel)*fabs(want))

static const double SATURATION = CLOUDING_COLUMN_AIR, ICE = CLOUDING_COLUMN_ICE;
static const clouding_plane tap = {
    .depth = 0.15, .cold = 18, .h = 15, .warm = 15, .h_water = 60, .air = 0.70, .film = 1.1e-3, .minerals = 0.135};
static const clouding_plane stirred = {
    .depth = 0.14, .cold = 10, .h = 250, .warm = 20, .h_water = 1500, .air = 0.637, .film = 0.12e-3, .minerals = 0.3};

/* Closed pocket: 1 - c0 / (S_on E); Scheil's equation with k = 0 behind the film of Burton, Prim & Slichter 1953. */
START_TEST(onset_in_a_closed_pocket_is_where_scheil_puts_it)
{
  clouding_column s;
  clouding_column_create(&s, 97, 0.15, false);
  clouding_column_freeze(&s, -log(0.6096) * 1e-9 / 1e-3 * 999.8 / 916.7);
  s.ask.air = 0.637 * SATURATION;
  s.ask.film.thickness = 1e-3;
  s.ask.gas.onset = 2.0;
  s.ask.gas.full = 4.0;
  clouding_column_run(&s);
  ck_assert_double_eq_tol(s.found.onset_share, 0.4775, 0.0035); /* one slice and the 5 % that onset asks for */
  clouding_column_destroy(&s);
}
END_TEST

/* A column of two halves; the lower one parts from the upper. */
static void set_two_pockets(clouding_column *s, pocket two[2], double parted_at)
{
  clouding_column_create(s, 60, 0.15, false);
  s->ask.air = 0.7 * SATURATION;
  s->ask.minerals = 0.3;
  s->ask.film.thickness = 1.1e-3;
  two[0] = (pocket){.parent = -1, .closed_at = NAN};
  two[1] = (pocket){.parent = 0, .parted_at = parted_at, .closed_at = parted_at};
  s->of.pockets = two;
  s->of.num_pockets = 2;
  for (size_t n = 0; n < 60; n++)
    s->pocket_of[n] = n < 30;
}

/* Mean share of bubbles in the lower and upper half. */
static void halves(const clouding_column *s, double *lower, double *upper)
{
  *lower = *upper = 0.0;
  for (size_t n = 0; n < 60; n++)
    *(n < 30 ? lower : upper) += s->fraction[n] / 30.0;
}

/* Pockets that part share air by mass; ice that encloses water half way down ends in two voids. */
START_TEST(a_pocket_that_parts_takes_its_air_along)
{
  clouding_column s;
  pocket two[2];
  set_two_pockets(&s, two, 11000.0);
  /* The middle freezes first, both nodes there at 9500 s, then both halves towards their ends, the lower one faster. */
  for (size_t n = 0; n < 60; n++) {
    s.speed[n] = n < 30 ? 1.0e-6 : 0.5e-6;
    s.time[n] = 9500.0 + (fabs((double)n - 29.5) - 0.5) * 2.5e-3 / s.speed[n];
  }
  clouding_column_run(&s);
  const double poured = 0.7 * SATURATION * ICE * 0.15 * 3.14159265358979323846 * 0.01;
  assert_close(s.found.air.initial, poured, 1e-3);
  double lower, upper;
  halves(&s, &lower, &upper);
  /* At 11000 s 2.75 mm of the lower and 2.0 mm of the upper 75 mm are ice: the air is shared as 72.25 to 73.0. Nearly all ends in
   * bubbles. */
  const double all = 2.0 * 0.7 * SATURATION * ICE; /* m3 per m3 */
  ck_assert_double_le(lower, all * 72.25 / 145.25 * (1.0 + 1e-6));
  ck_assert_double_gt(lower, all * 72.25 / 145.25 * 0.999);
  ck_assert_double_le(upper, all * 73.0 / 145.25 * (1.0 + 1e-6));
  ck_assert_double_gt(upper, all * 73.0 / 145.25 * 0.999);
  clouding_column_destroy(&s);
}
END_TEST

/* Water that is shut off from the beginning has its air from the beginning. */
START_TEST(a_pocket_apart_from_the_start_has_its_own)
{
  clouding_column s;
  pocket two[2];
  set_two_pockets(&s, two, 0.0);
  for (size_t n = 0; n < 60; n++) {
    s.speed[n] = 0.6e-6;
    s.time[n] = fabs((double)n - 29.5) * 2.5e-3 / s.speed[n];
  }
  clouding_column_run(&s);
  double lower, upper;
  halves(&s, &lower, &upper);
  assert_close(lower, upper, 1e-9);
  assert_close(lower, 0.7 * SATURATION * ICE, 1e-3);
  clouding_column_destroy(&s);
}
END_TEST

/* Nodes that freeze alike, put together, give the clear share of the nodes one by one: within 0.003. 32 columns of a block, each
 * slower than the one outside it, one pocket. */
START_TEST(bundles_cloud_as_their_nodes_do)
{
  enum { COLUMNS = 32, ROWS = 90 };
  clouding_column s;
  clouding_crossing all[COLUMNS * ROWS];
  clouding_history many, few;
  clouding_found one_by_one, together;
  message msg = {""};
  clouding_column_march(&s, &tap, ROWS, false);
  ck_assert(clouding_history_create(&s.history, &s.of, &msg) == STATUS_OK);
  many = s.history;
  many.num = 0;
  many.frozen = many.mass = s.history.mass * COLUMNS;
  double own = many.mass;
  many.own = &own;
  many.crossings = all;
  for (size_t i = 0; i < ROWS; i++) /* still by rising begin */
    for (int column = 0; column < COLUMNS; column++) {
      clouding_crossing c = s.history.crossings[i];
      c.speed *= 1.0 - 0.0025 * column;
      c.begin += column; /* s */
      all[many.num++] = c;
    }
  s.ask.history = &many;
  ck_assert(clouding_find(&one_by_one, NULL, &s.ask, &msg) == STATUS_OK);
  ck_assert(clouding_history_bundle(&few, &many, &msg) == STATUS_OK);
  ck_assert_uint_lt(few.num, many.num / 2);
  s.ask.history = &few;
  ck_assert(clouding_find(&together, NULL, &s.ask, &msg) == STATUS_OK);
  ck_assert_double_eq_tol(together.clear, one_by_one.clear, 0.003);
  assert_close(together.air.initial, one_by_one.air.initial, 1e-12);
  clouding_history_release(&few);
  clouding_column_destroy(&s);
}
END_TEST

/* The limit of clear growth at each place is that of the bulk there, then: in a closed pocket before the first bubble c0 / (1 -
 * f). */
START_TEST(the_limit_falls_as_air_piles_up)
{
  clouding_column s;
  clouding_column_create(&s, 100, 0.15, false);
  clouding_column_freeze(&s, 0.2e-6);
  s.ask.air = 0.5 * SATURATION;
  s.ask.film.thickness = 1e-3;
  clouding_column_run(&s);
  ck_assert_double_gt(s.found.onset_share, 0.7);
  for (size_t n = 40; n < 100; n++) { /* node 99 freezes first */
    const double frozen = ((double)(99 - n) + 0.5) / 100.0;
    assert_close(s.limit[n], 1e-9 / 1e-3 * 999.8 / ICE * log(2.5 * (1.0 - frozen) / 0.5), 0.01);
  }
  for (int tenth = 0; tenth < 6; tenth++) {
    assert_close(s.found.growth[tenth].speed, 0.2e-6, 1e-9);
    assert_close(s.found.growth[tenth].limit, 1e-9 / 1e-3 * 999.8 / ICE * log(2.5 * (0.95 - 0.1 * tenth) / 0.5), 0.01);
  }
  clouding_column_destroy(&s);
}
END_TEST

/* Air leaves or enters through an open surface until it balances; free bubbles leave an open pocket and stay under a closed one.
 */
START_TEST(an_open_surface_lets_air_out)
{
  clouding_column open, closed;
  clouding_column_march(&open, &stirred, 60, false);
  clouding_column_march(&closed, &stirred, 60, false);
  open.ask.film.aerated = closed.ask.film.aerated = true;
  open.of.open_top = true;
  open.ask.detached = closed.ask.detached = 1.0;
  clouding_column_run(&open);
  clouding_column_run(&closed);
  ck_assert_double_gt(open.found.air.through_top, 0.4 * open.found.air.initial);
  ck_assert_double_gt(open.found.clear, closed.found.clear + 0.2);
  ck_assert_double_eq(closed.found.air.through_top, 0.0);
  ck_assert_double_gt(closed.found.air.in_void, 0.05 * closed.found.air.initial);
  clouding_column_destroy(&open);
  clouding_column_destroy(&closed);
}
END_TEST

/* Three quarters frozen, all the water is exchanged: minerals of 300 mg/L are shut in from f = 0.95 instead of 0.79 (no minerals
 * in the ice; within 0.02 as the plane fronts above). With the 3 % that ice keeps, Scheil's equation gives 1 - f = (C0 exp(w film
 * / D) / c*)^(1 / 0.97), and a quarter of that when it starts again with a quarter of the water; the onset asks for 5 % of the
 * front and one slice more. Half of it exchanged takes away half of what air has piled up, 0.75 of all. */
START_TEST(fresh_water_in_the_core_puts_minerals_off)
{
  static const struct {
    double share, onset;
  } swap[] = {{0.0, 0.79}, {1.0, 0.95}, {0.5, NAN}};
  clouding_column s;
  clouding_column_create(&s, 97, 0.15, false);
  clouding_column_freeze(&s, 0.5e-6);
  s.ask.air = 0.1 * SATURATION;
  s.ask.minerals = 0.3;
  s.ask.film.thickness = 0.1e-3;
  const clouding_exchange fresh = {.time = 0.75 * 0.15 / 0.5e-6, .share = swap[_i].share};
  s.ask.exchanges = &fresh;
  s.ask.num_exchanges = 1;
  clouding_column_run(&s);
  ck_assert_double_eq_tol(s.found.air.exchanged / s.found.air.initial, swap[_i].share * 0.75, 1e-3); /* half a slice */
  ck_assert_msg(isnan(swap[_i].onset) || fabs(s.found.salt_share - swap[_i].onset) <= 0.02, "minerals %.4f, wanted %.3f",
                s.found.salt_share, swap[_i].onset);
  const double limit = front_gas_salt_limit(FRONT_GAS_SALT_DIFFUSIVITY, 0.05);
  const double at_front = 0.3 * front_gas_salt_rise(0.5e-6, 0.1e-3, 1e-9), left = pow(at_front / limit, 1.0 / 0.97);
  if (!isnan(swap[_i].onset))
    ck_assert_double_eq_tol(s.found.salt_share, 1.0 - left * (swap[_i].share > 0.0 ? 0.25 : 1.0), 0.005); /* by Scheil */
  clouding_column_destroy(&s);
}
END_TEST

/* Air off from the start is no air; off at half the ice, what froze before is as it was, and clouds only after; off at the end changes nothing. */
START_TEST(air_that_is_turned_off_counts_from_then_on)
{
  clouding_column on, still, half;
  clouding_column *const all[3] = {&on, &still, &half};
  clouding_drive off = {.time = 0.0, .stirred = true, .aerated = false};
  for (int i = 0; i < 3; i++) {
    clouding_column_march(all[i], &tap, 60, false);
    all[i]->ask.film.thickness = NAN;
    all[i]->ask.film.aerated = all[i]->of.open_top = true;
  }
  clouding_column_run(&on);
  still.ask.drives = half.ask.drives = &off;
  still.ask.num_drives = half.ask.num_drives = 1;
  clouding_column_run(&still);
  off.time = half.time[30];
  clouding_column_run(&half);
  for (size_t n = 31; n < 60; n++) /* from the top down */
    ck_assert_double_le(fabs(half.fraction[n] - on.fraction[n]), 1e-6 * on.fraction[n]);
  double later = 0.0, never = 0.0;
  for (size_t n = 0; n < 30; n++) {
    later += half.fraction[n];
    never += on.fraction[n];
  }
  ck_assert_double_gt(later, 1.5 * never);
  ck_assert_double_gt(on.found.clear, half.found.clear + 0.1);
  ck_assert_double_gt(half.found.clear, still.found.clear + 0.1);
  const double kept = half.found.clear;
  off.time = 3600.0 * on.marched.hours + 1.0;
  clouding_column_run(&half);
  ck_assert_double_eq(half.found.clear, on.found.clear);
  ck_assert_double_ne(half.found.clear, kept);
  still.ask.film.aerated = false;
  still.ask.num_drives = 0;
  const double never_on = still.found.clear;
  clouding_column_run(&still);
  ck_assert_double_eq(still.found.clear, never_on);
  for (int i = 0; i < 3; i++)
    clouding_column_destroy(all[i]);
}
END_TEST

/* When to stop and pour off, with a front of constant speed: S = S0 / (1 - f) until the first bubble. Near (0.8 of the onset) from 1 - S0 / 2 on; near
 * from the start and yet clear at first: when the ice turns mostly cloudy, that is where clear ice ends; cloudy from the start: never. */
START_TEST(there_is_a_time_to_stop)
{
  static const struct { double at_start; int kind; } front[] = {{1.0, 0}, {2.1, 1}, {6.0, 2}};
  const double film = 1e-3, speed = 0.3e-6, shut = exp(-speed * ICE / 999.8 * film / 1e-9);
  clouding_column s;
  clouding_column_create(&s, 100, 0.15, false);
  clouding_column_freeze(&s, speed);
  s.ask.air = front[_i].at_start * shut * SATURATION;
  s.ask.film.thickness = film;
  clouding_column_run(&s);
  if (front[_i].kind == 0)
    ck_assert_double_eq_tol(s.found.stop_share, 0.5, 0.005);
  else if (front[_i].kind == 1)
    ck_assert_msg(fabs(s.found.stop_share - s.found.clear) < 0.01 && s.found.clear > 0.15 && s.found.clear < 0.3, "stop %g, clear %g",
                  s.found.stop_share, s.found.clear);
  else
    ck_assert_msg(isnan(s.found.stop_share) && isnan(s.found.stop_time), "stop %g", s.found.stop_share);
  if (front[_i].kind < 2)
    ck_assert_double_eq_tol(s.found.stop_time, s.found.stop_share * 0.15 / speed, 0.01 * 0.15 / speed);
  clouding_column_destroy(&s);
}
END_TEST

/* Water that has not frozen keeps its air. */
START_TEST(what_is_still_liquid_is_booked)
{
  clouding_column s;
  clouding_column_march(&s, &tap, 60, false);
  for (size_t n = 0; n < 30; n++)
    s.time[n] = s.speed[n] = NAN;
  clouding_column_run(&s);
  assert_close(s.found.air.in_liquid, s.found.air.initial, 0.05);
  ck_assert_double_eq(s.found.air.in_void, 0.0);
  clouding_column_destroy(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clouding");
  TCase *all = tcase_create("all");
  tcase_add_test(all, onset_in_a_closed_pocket_is_where_scheil_puts_it);
  tcase_add_test(all, a_pocket_that_parts_takes_its_air_along);
  tcase_add_test(all, a_pocket_apart_from_the_start_has_its_own);
  tcase_add_test(all, bundles_cloud_as_their_nodes_do);
  tcase_add_test(all, the_limit_falls_as_air_piles_up);
  tcase_add_test(all, an_open_surface_lets_air_out);
  tcase_add_loop_test(all, fresh_water_in_the_core_puts_minerals_off, 0, 3);
  tcase_add_test(all, air_that_is_turned_off_counts_from_then_on);
  tcase_add_loop_test(all, there_is_a_time_to_stop, 0, 3);
  tcase_add_test(all, what_is_still_liquid_is_booked);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
