/* Clear and white ice against plane fronts that another program followed, and against what people saw and published. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "clouding_column.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel)*fabs(want))

static const double ICE = CLOUDING_COLUMN_ICE;

/* ------------------------------------------------------------------------------------------------ elsewhere */

/* Plane fronts followed with a 2 s step by another program from the same equations: frozen share of the first bubbles, of
 * extinction above 3, 10, 30 per m, share of clear ice, optical depth, hours, frozen share at which minerals exceed 1.5 kg/m3 at
 * the front. NAN: not told, or never. */
typedef struct {
  const char *name;
  clouding_plane c;
  bool upright; /* the slabs in brine, from both sides: half of one */
  double hours, onset, above_3, above_10, above_30, clear, optical_depth, salt;
} plane_case;
#define TOP(air_, film_, minerals_)                                                                                              \
  {                                                                                                                              \
    .depth = 0.15, .cold = 18, .h = 15, .warm = 15, .h_water = 60, .air = air_, .film = film_, .minerals = minerals_             \
  }
#define SLAB .depth = 0.14, .h = 250, .warm = 20, .air = 0.637, .minerals = 0.3
#define STILL(cold_, film_)                                                                                                      \
  {                                                                                                                              \
    SLAB, .cold = cold_, .h_water = NAN, .film = film_, .film_of = clouding_plane_still_film                                     \
  }
#define MOVED(cold_, breathing_, renewed_)                                                                                       \
  {                                                                                                                              \
    SLAB, .cold = cold_, .h_water = 1500, .film = 0.12e-3, .breathing = breathing_, .renewed = renewed_                          \
  }
static const plane_case plane[] = {
    {"top-down, tap water", TOP(0.70, 1.1e-3, 0.135), false, 88.3, 0.504, 0.54, 0.609, 0.806, 0.517, 1.75, 0.846},
    {"top-down, distilled", TOP(0.70, 3e-3, 0), false, 88.3, 0.013, 0.016, 0.024, 0.046, 0.014, 4.42, NAN},
    {"top-down, boiled", TOP(0.15, 1.1e-3, 0.135), false, 88.3, 0.906, 0.913, 0.925, 0.966, 0.909, 0.31, 0.846},
    {"slab, -5 C still", STILL(5, NAN), true, 101.7, 0.097, 0.667, 0.716, NAN, 0.651, 1.0, 0.075},
    {"slab, -10 C still", STILL(10, NAN), true, 51.3, 0.006, 0.006, 0.007, 0.009, 0.006, 3.96, 0.005},
    {"slab, -10 C, film 0.65 mm", STILL(10, 0.65e-3), true, 51.3, 0.005, 0.005, 0.006, 0.008, 0.514, 1.76, 0.004},
    {"slab, -10 C stirred", MOVED(10, 0, 0), true, 50.6, 0.728, 0.733, 0.748, NAN, 0.73, 0.66, 0.794},
    {"slab, -10 C aerated", MOVED(10, 3600, 0), true, 50.6, 0.992, 0.993, 0.995, NAN, 0.993, 0.01, 0.794},
    {"slab, -16 C aerated", MOVED(16, 3600, 0), true, 31.8, 0.987, 0.987, 0.988, NAN, 0.988, 0.04, 0.783},
    {"slab, -25 C aerated", MOVED(25, 3600, 0), true, 20.4, 0.977, 0.977, 0.979, 0.985, 0.978, 0.11, 0.765},
    {"slab, -10 C aerated, core exchanged", MOVED(10, 3600, 0.75), true, 50.6, 0.992, 0.993, 0.995, NAN, 0.993, 0.01, 0.949}};
enum {
  TAP,
  DISTILLED,
  BOILED,
  STILL_5,
  STILL_10,
  STILL_10_HARD,
  STIRRED,
  AERATED_10,
  AERATED_16,
  AERATED_25,
  EXCHANGED,
  NUM_PLANES
};

static void near_to(const plane_case *c, const char *what, double got, double want, double limit)
{
  ck_assert_msg(isnan(want) || fabs(got - want) <= limit, "%s, %s: %.4f, wanted %.4f", c->name, what, got, want);
}

/* The plain method gives every figure of that program: it judges. Not told there and taken so that the hours are met: heat from
 * the water to the front, 60 W/(m2 K) under ice, 1500 where it is moved; beside a still upright front by Churchill & Chu 1975,
 * with the film of air that belongs to it. */
START_TEST(the_judge_finds_what_was_found_elsewhere)
{
  const plane_case *c = &plane[_i];
  clouding_plane_found f;
  clouding_plane_follow(&f, &c->c, 1);
  near_to(c, "hours", f.hours, c->hours, 0.002 * c->hours + 0.05);
  near_to(c, "first bubbles", f.onset, c->onset, 0.004);
  near_to(c, "above 3 per m", f.above_3, c->above_3, 0.004);
  near_to(c, "above 10 per m", f.above_10, c->above_10, 0.004);
  near_to(c, "above 30 per m", f.above_30, c->above_30, 0.004);
  ck_assert(!isnan(c->above_30) || isnan(f.above_30));
  near_to(c, "clear", f.clear, c->clear, 0.004);
  near_to(c, "optical depth", f.optical_depth, c->optical_depth, 0.02);
  near_to(c, "minerals", f.minerals, c->salt, 0.004);
  clouding_plane_release(&f);
}
END_TEST

/* Of still water beside an upright front, as the program has it: transfer by warmth and by what minerals make sink add up as
 * cubes, where the row has the thinner of both films. */
static double film_of_ours(double bulk)
{
  const front_film_setting still = {.kind = MOTION_STILL,
                                    .minerals = CLOUDING_COLUMN_FILM,
                                    .height = 0.3,
                                    .thickness = NAN,
                                    .factor = 1.0,
                                    .diffusivity = 1e-9};
  return front_film_at(&still, bulk, 0.0);
}

/* The pass over the same history against the judge, which has its films: within 0.01 of the frozen share. */
START_TEST(plane_fronts_cloud_where_the_judge_says)
{
  plane_case c = plane[_i];
  clouding_plane_found f;
  clouding_column s;
  c.c.film_of = film_of_ours;
  clouding_plane_follow(&f, &c.c, 280);
  clouding_column_set(&s, &c.c, &f, 280, c.upright);
  clouding_column_run(&s);
  near_to(&c, "first bubbles", s.found.onset_share, f.onset, 0.01);
  near_to(&c, "above 3 per m", clouding_column_first_above(&s, 3.0), f.above_3, 0.01);
  near_to(&c, "above 10 per m", clouding_column_first_above(&s, 10.0), f.above_10, 0.01);
  near_to(&c, "above 30 per m", clouding_column_first_above(&s, 30.0), f.above_30, 0.01);
  near_to(&c, "clear", s.found.clear, f.clear, 0.01);
  near_to(&c, "minerals", s.found.salt_share, f.minerals, 0.01);
  if (isnan(c.c.film))
    printf("APART %s, films added as cubes and not the thinner one: first bubbles %.3f, elsewhere %.3f; clear %.3f, elsewhere "
           "%.3f\n",
           c.name, s.found.onset_share, c.onset, s.found.clear, c.clear);
  clouding_column_destroy(&s);
  clouding_plane_release(&f);
}
END_TEST

/* Halving the slices moves the clear share by less than 1 %, halving the cells by less than 2 %. */
START_TEST(slices_and_cells_do_not_count)
{
  clouding_column base, finer, coarser;
  const plane_case *c = &plane[_i];
  clouding_column_march(&base, &c->c, 60, c->upright);
  clouding_column_march(&finer, &c->c, 60, c->upright);
  clouding_column_march(&coarser, &c->c, 30, c->upright);
  base.ask.num_slices = coarser.ask.num_slices = 200;
  finer.ask.num_slices = 400;
  clouding_column_run(&base);
  clouding_column_run(&finer);
  clouding_column_run(&coarser);
  ck_assert_double_lt(fabs(finer.found.clear - base.found.clear), 0.01);
  ck_assert_double_lt(fabs(coarser.found.clear - base.found.clear), 0.02);
  clouding_column_destroy(&base);
  clouding_column_destroy(&finer);
  clouding_column_destroy(&coarser);
}
END_TEST

/* ------------------------------------------------------------------------------------------------ seen by people */

/* E1. Hruba & Kletetschka 2018 (J. Glaciol., abstract): layers of bubbles in still pond ice only where growth peaked at 0.58 to
 * 0.92 um/s. Water in balance with air, film of mineral water 1.1 mm: the limit of clear growth with the onset of tap water lies
 * there. */
START_TEST(pond_ice_layers_begin_at_the_clear_limit)
{
  const front_gas_constants c = front_gas_defaults();
  const double limit = front_gas_clear_speed(&c, CLOUDING_COLUMN_AIR, CLOUDING_COLUMN_AIR, 1.1e-3);
  ck_assert_msg(limit >= 0.58e-6 && limit <= 0.92e-6, "limit %g um/s", 1e6 * limit);
}
END_TEST

/* E2. The same paper: laboratories made bubbles at 3 to 80 um/s. With a film of moving water, 0.3 mm, or with clean water, whose
 * onset is 10 to 20, in a thinner one. */
START_TEST(laboratory_growth_lies_above_the_limit_of_moving_or_clean_water)
{
  front_gas_constants c = front_gas_defaults();
  const double moving = front_gas_clear_speed(&c, CLOUDING_COLUMN_AIR, CLOUDING_COLUMN_AIR, 0.3e-3);
  c.onset = 20.0;
  const double clean = front_gas_clear_speed(&c, CLOUDING_COLUMN_AIR, CLOUDING_COLUMN_AIR, 0.06e-3);
  ck_assert_msg(moving >= 3e-6 && clean <= 80e-6 && clean > moving, "limits %g and %g um/s", 1e6 * moving, 1e6 * clean);
}
END_TEST

/* E3. Bari & Hallett 1974 (J. Glaciol. 13:489): cylinders along the growth below about 5 um/s, egg-shaped bubbles above. The
 * diameter of a cylinder grows with the root of the gas in it, that of a round bubble with the cube root. */
START_TEST(bubbles_are_worms_in_slow_ice_and_eggs_in_fast)
{
  front_gas_constants c = front_gas_defaults();
  c.surface_tension = 0.0;
  const double speed[2] = {4.9e-6, 5.1e-6}, power[2] = {1.0 / 2.0, 1.0 / 3.0};
  for (int i = 0; i < 2; i++) {
    const front_gas_bubbles once = front_gas_bubbles_of(&c, CLOUDING_COLUMN_AIR, 1.0, speed[i], 101325.0);
    const front_gas_bubbles twice = front_gas_bubbles_of(&c, 2.0 * CLOUDING_COLUMN_AIR, 1.0, speed[i], 101325.0);
    assert_close(twice.diameter / once.diameter, pow(2.0, power[i]), 1e-9);
  }
}
END_TEST

/* E4, E5. Regression, not validation: onset and full share were chosen by these. Three still blocks of tap water frozen from the
 * top, 95, 152 and 152 mm deep: streaks from 0.47, 0.50, 0.67 of the depth, useless from 0.87, 0.83, 0.75 (trials published by an
 * amateur). How much air his water held and how his freezer's air moved is not told. With water that stood at 20 degC (0.637) and
 * 14 W/(m2 K) both depths lie in what he saw. With water of 15 degC (0.70) the shallow one lies there from 10 to 13 W/(m2 K), a chest freezer's
 * air at rest or nearly so (9, common practice, no source); under a fan (15) it grows faster and turns white from 0.72. */
START_TEST(regression_blocks_frozen_from_the_top)
{
  static const struct {
    double depth, air, h;
    bool apart;
  } block[] = {{0.095, 0.637, 14, false}, {0.152, 0.637, 14, false}, {0.152, 0.70, 15, false}, {0.095, 0.70, 10, false},
               {0.095, 0.70, 13, false},  {0.095, 0.70, 15, true}};
  clouding_column s;
  clouding_plane front = plane[TAP].c;
  front.depth = block[_i].depth;
  front.air = block[_i].air;
  front.h = block[_i].h;
  clouding_column_march(&s, &front, 100, false);
  clouding_column_run(&s);
  ck_assert_msg(s.found.onset_share >= 0.4 && s.found.onset_share <= 0.7, "streaks from %g", s.found.onset_share);
  if (block[_i].apart)
    printf("APART block of 95 mm, air 0.70, 15 W/m2K: white from %.3f; seen: 0.75 to 0.87\n", s.found.white_share);
  else
    ck_assert_msg(s.found.white_share >= 0.75 && s.found.white_share <= 0.87, "white from %g", s.found.white_share);
  ck_assert(s.found.stop_share < s.found.onset_share && s.found.stop_time < s.found.onset_time);
  /* 0.8 of the onset: c_b exp(w film / D) = 2.0 c_s, at the front's speed there */
  const double x = front.depth * 999.8 / ICE * s.found.stop_share, speed = 18.0 / (ICE * 333550.0 * (1.0 / front.h + x / 2.22));
  assert_close(front.air / (1.0 - s.found.stop_share) * exp(speed * ICE / 999.8 * 1.1e-3 / 1e-9), 2.0, 0.02);
  clouding_column_destroy(&s);
}
END_TEST

/* E6. Regression: the share that ice keeps, 0.03, was chosen by 6 mg/L measured in the clear half of a block of 135 mg/L (one
 * amateur's figure). */
START_TEST(regression_minerals_stay_out_of_clear_ice)
{
  clouding_column s;
  clouding_column_march(&s, &plane[TAP].c, 100, false);
  clouding_column_run(&s);
  double upper = 0.0;
  for (size_t n = 50; n < 100; n++)
    upper += s.mineral[n] / 50.0;
  ck_assert_double_gt(upper, 0.003);
  ck_assert_double_lt(upper, 0.009);
  clouding_column_destroy(&s);
}
END_TEST

/* Mean extinction of the ice between two frozen shares. */
static double between(const clouding_column *s, double from, double to)
{
  const double num = (double)s->m->num_nodes;
  double sum = 0.0, count = 0.0;
  for (size_t n = (size_t)((1.0 - to) * num); n < (size_t)((1.0 - from) * num); n++) {
    sum += s->extinction[n];
    count++;
  }
  return sum / count;
}

/* E7. Can ice of 1888 (Scientific American Supplement No. 647): unagitated, the outer ice was nearly clear and opacity grew to
 * the middle, where the fronts meet; agitation was needed most late. Behind the skin so here; the skin itself is foretold hazier
 * than was seen: a disagreement of this model, whose figures are printed. */
START_TEST(can_ice_grows_opaque_to_the_middle)
{
  clouding_column s;
  clouding_column_march(&s, &plane[STILL_10_HARD].c, 280, true);
  clouding_column_run(&s);
  const double outer = between(&s, 0.2, 0.5), inner = between(&s, 0.5, 0.8), core = between(&s, 0.8, 1.0);
  printf("APART can ice, skin: %.0f per m in the outermost twentieth, %.2f from 0.2 to 0.5; seen: nearly clear\n",
         between(&s, 0.0, 0.05), outer);
  ck_assert_msg(outer < inner && inner < core, "%g, %g, %g per m", outer, inner, core);
  /* Growth over its limit rises from the middle of the freeze to its end. */
  for (int tenth = 5; tenth < CLEAR_TENTHS - 1; tenth++) {
    const clouding_growth *now = &s.found.growth[tenth], *next = now + 1;
    ck_assert_double_gt(next->speed / next->limit, now->speed / now->limit);
  }
  clouding_column_destroy(&s);
}
END_TEST

/* E8. Nature 1933 (note on Burks): air swept over the growing faces gave clear blocks from mineral water, and smaller cans in
 * colder brine cut 47 h to 24 h. The time that brine of -10 and -25 degC takes for the same slab halves too. */
START_TEST(air_keeps_even_fast_ice_clear)
{
  clouding_column cold, slow, still;
  clouding_plane front = plane[AERATED_25].c;
  clouding_column_march(&cold, &front, 140, true);
  clouding_column_march(&slow, &plane[AERATED_10].c, 140, true);
  front.breathing = 0.0;
  front.film = NAN;
  front.film_of = clouding_plane_still_film;
  clouding_column_march(&still, &front, 140, true);
  clouding_column_run(&cold);
  clouding_column_run(&still);
  ck_assert_msg(cold.found.clear > 0.95 && still.found.clear < 0.5, "aerated %g, still %g", cold.found.clear, still.found.clear);
  ck_assert_double_gt(slow.marched.hours / cold.marched.hours, 47.0 / 24.0);
  clouding_column_destroy(&cold);
  clouding_column_destroy(&slow);
  clouding_column_destroy(&still);
}
END_TEST

/* E9. How Machine Ice Is Made: brine of 12 degF (-11 degC), an air hose, the core exchanged: clear but for a faint core. */
START_TEST(an_air_hose_and_a_core_exchange_leave_a_faint_core)
{
  clouding_plane front = plane[EXCHANGED].c;
  clouding_column s;
  front.cold = 11.0;
  clouding_column_march(&s, &front, 140, true);
  clouding_column_run(&s);
  ck_assert_msg(s.found.clear > 0.98 && s.found.clear < 1.0, "clear %g", s.found.clear);
  ck_assert_msg(s.found.salt_share > 0.9, "minerals are shut in from %g on", s.found.salt_share);
  clouding_column_destroy(&s);
}
END_TEST

/* E10. Yoshimura, Inada & Koyama 2008: diameter and spacing of cylinders fall as ice grows faster and as pressure rises. Here the
 * spacing does not know of pressure: a disagreement, without a figure to set against it. */
START_TEST(bubbles_shrink_with_speed_and_pressure)
{
  const front_gas_constants c = front_gas_defaults();
  const front_gas_bubbles slow = front_gas_bubbles_of(&c, CLOUDING_COLUMN_AIR, 1.0, 2e-6, 101325.0);
  const front_gas_bubbles fast = front_gas_bubbles_of(&c, CLOUDING_COLUMN_AIR, 1.0, 4e-6, 101325.0);
  const front_gas_bubbles pressed = front_gas_bubbles_of(&c, CLOUDING_COLUMN_AIR, 1.0, 2e-6, 2.0 * 101325.0);
  ck_assert_double_lt(fast.diameter, slow.diameter);
  ck_assert_double_lt(fast.spacing, slow.spacing);
  ck_assert_double_lt(pressed.diameter, slow.diameter);
  printf("APART bubbles under pressure: spacing %.2f mm at 1 and at 2 bar; seen: it falls\n", 1e3 * pressed.spacing);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clouding_observed");
  TCase *all = tcase_create("all");
  tcase_add_loop_test(all, the_judge_finds_what_was_found_elsewhere, 0, NUM_PLANES);
  tcase_add_loop_test(all, plane_fronts_cloud_where_the_judge_says, 0, NUM_PLANES);
  tcase_add_loop_test(all, slices_and_cells_do_not_count, 0, NUM_PLANES);
  tcase_add_test(all, pond_ice_layers_begin_at_the_clear_limit);
  tcase_add_test(all, laboratory_growth_lies_above_the_limit_of_moving_or_clean_water);
  tcase_add_test(all, bubbles_are_worms_in_slow_ice_and_eggs_in_fast);
  tcase_add_loop_test(all, regression_blocks_frozen_from_the_top, 0, 6);
  tcase_add_test(all, regression_minerals_stay_out_of_clear_ice);
  tcase_add_test(all, can_ice_grows_opaque_to_the_middle);
  tcase_add_test(all, air_keeps_even_fast_ice_clear);
  tcase_add_test(all, an_air_hose_and_a_core_exchange_leave_a_faint_core);
  tcase_add_test(all, bubbles_shrink_with_speed_and_pressure);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
