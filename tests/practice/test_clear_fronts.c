/* Plane fronts as case files, with the film before the ice stated: what the program says of their clear ice beside what another
 * program found for the same fronts from the same equations, with a step of 2 s (the table of
 * tests/solver/test_clouding_observed.c). Here the fronts are marched as any other, so that hours differ by the heat in ice and
 * walls; bubbles that leave the front count, there not. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "program.h"

static char home[512];

static void set_up(void)
{
  program_directory(home);
}
static void tear_down(void)
{
  program_remove(home);
}

/* 15 cm deep in an insulated open box, from the top. */
#define TOP_DOWN(air, film)                                                                                                      \
  "title: From the top\n"                                                                                                        \
  "dimension: rz\n"                                                                                                              \
  "room: {temperature: -18 C, film: 15 W/m2K}\n"                                                                                 \
  "parts: [{name: box, shape: cylinder, diameter: 10 cm, height: 17 cm, wall: 5 mm, material: hdpe}]\n"                          \
  "bodies: [{name: water, in: box, depth: 15 cm, temperature: 15 C, minerals: 135 mg/L, air: " air ", gas_film: " film "}]\n"    \
  "surfaces: [{of: box, insulated: yes}]\n"                                                                                      \
  "grid: {spacing: 5 mm}\n"                                                                                                      \
  "run: {store_every: 40 h}\n"

/* 280 mm of water between two cold plates; `height` of the box as it is frozen. */
#define SLAB(height, open, depth, plate, motion, air, film, stages)                                                              \
  "title: Between plates\n"                                                                                                      \
  "dimension: xyz\n"                                                                                                             \
  "mirror: {y: 0 mm}\n"                                                                                                          \
  "room: {temperature: 5 C, film: 8 W/m2K}\n"                                                                                    \
  "parts:\n"                                                                                                                     \
  "  - {name: box, shape: box, low: [-157.7 mm, -25 mm, 0 mm], high: [157.7 mm, 25 mm, " height "], open: " open                 \
  ", wall: 5 mm, material: hdpe}\n"                                                                                              \
  "  - {name: left, shape: box, low: [-157.7 mm, -25 mm, 0 mm], high: [-152.7 mm, 25 mm, " height "], held: " plate              \
  ", held_film: 250 W/m2K}\n"                                                                                                    \
  "  - {name: right, shape: box, low: [152.7 mm, -25 mm, 0 mm], high: [157.7 mm, 25 mm, " height "], held: " plate               \
  ", held_film: 250 W/m2K}\n"                                                                                                    \
  "bodies: [{name: water, in: box, depth: " depth ", temperature: 20 C, motion: " motion ", minerals: 300 mg/L, air: " air       \
  ", gas_film: " film "}]\n"                                                                                                     \
  "surfaces: [{of: box, insulated: yes}, {of: water, insulated: yes}]\n"                                                         \
  "grid: {spacing: 5 mm}\n" stages "run: {store_every: 40 h}\n"
#define MOVED "{kind: stirred, film: 1500 W/m2K}"
#define EXCHANGED                                                                                                                \
  "stages: [{name: early, kind: freeze, for: 30 h}, {name: swap, kind: exchange, water: 0 C}, {name: late, kind: freeze, "       \
  "limit: 300 h}]\n"
/* Of that program's still water beside an upright wall, as it lost its 20 degC: 0.196 * 0.561 / h by Churchill & Chu 1975, at
 * most 1.1 mm. */
#define STILL_FILM                                                                                                               \
  "[[0 s, 0.243 mm], [652 s, 0.292 mm], [1260 s, 0.351 mm], [1860 s, 0.422 mm], [2386 s, 0.507 mm], [2866 s, 0.610 mm], "        \
  "[3378 s, 0.736 mm], [3960 s, 0.889 mm], [4624 s, 0.828 mm], [5310 s, 0.771 mm], [9894 s, 0.818 mm], "                         \
  "[12136 s, 0.922 mm], [14680 s, 1.040 mm], [25626 s, 1.093 mm]]"

static const struct {
  const char *name, *text;
  double hours, onset, clear, salt; /* found there; NAN: does not bear comparison */
  bool apart;                       /* printed, not judged */
} fronts[] = {{"top-down, tap water", TOP_DOWN("0.70", "1.1 mm"), 88.3, 0.504, 0.517, 0.846, false},
              {"top-down, boiled", TOP_DOWN("0.15", "1.1 mm"), 88.3, 0.906, 0.909, 0.846, false},
              {"slab, -10 C stirred", SLAB("60 mm", "none", "59.9 mm", "-10 C", MOVED, "0.637", "0.12 mm", ""), 50.6, 0.728, 0.73,
               0.794, false},
              {"slab, -25 C aerated", SLAB("60 mm", "top", "54.9 mm", "-25 C", MOVED, "aerated", "0.12 mm", ""), 20.4, 0.977,
               0.978, 0.765, false},
              {"slab, -10 C aerated, core exchanged",
               SLAB("60 mm", "top", "54.9 mm", "-10 C", MOVED, "aerated", "0.12 mm", EXCHANGED), 50.6, 0.992, 0.993, 0.949,
               false},
              /* Grazes the onset early there (first bubbles at 0.097, none again until late); growth a few percent slower, for
               * the water stays warm longer in a box 30 cm high, passes below it. */
              {"slab, -5 C still", SLAB("300 mm", "none", "299.9 mm", "-5 C", "still", "0.637", STILL_FILM, ""), 101.7, 0.097,
               0.651, NAN, true}};
enum { TAP, BOILED, STIRRED, AERATED, EXCHANGE, STILL, NUM_FRONTS };

/* Within 0.02 of the frozen share: the tolerance that goes with that table. */
START_TEST(a_front_with_its_film_stated_clouds_as_found_elsewhere)
{
  char name[32];
  (void)snprintf(name, sizeof name, "front%d", _i);
  json_t *json = program_summary_of_case(home, name, fronts[_i].text, NULL);
  const double hours = program_figure(json, "freeze", "time_s") / 3600.0, onset = program_figure(json, "clear", "onset_fraction");
  const double clear = program_figure(json, "clear", "fraction");
  printf("%s%s: %.1f h (%.1f elsewhere), first bubbles %.3f (%.3f), clear %.3f (%.3f)\n", fronts[_i].apart ? "APART " : "",
         fronts[_i].name, hours, fronts[_i].hours, onset, fronts[_i].onset, clear, fronts[_i].clear);
  ck_assert_double_eq_tol(clear, fronts[_i].clear, 0.02);
  ck_assert_double_eq_tol(hours, fronts[_i].hours, 0.05 * fronts[_i].hours);
  if (!fronts[_i].apart) {
    ck_assert_double_eq_tol(onset, fronts[_i].onset, 0.02);
    ck_assert_double_eq_tol(program_figure(json, "clear", "minerals_fraction"), fronts[_i].salt, 0.02);
  }
  ck_assert_double_le(program_figure(json, "clear", "residual_relative"), 1e-9);
  json_decref(json);
}
END_TEST

/* A film that stays is the same as a table of it. */
START_TEST(a_film_may_change_with_time)
{
  json_t *constant = program_summary_of_case(home, "c", TOP_DOWN("0.70", "1.1 mm"), NULL);
  json_t *table = program_summary_of_case(home, "t", TOP_DOWN("0.70", "[[0 h, 1.1 mm], [20 h, 1.1 mm]]"), NULL);
  json_t *stirred_late = program_summary_of_case(home, "s", TOP_DOWN("0.70", "[[30 h, 1.1 mm], [31 h, 0.2 mm]]"), NULL);
  ck_assert_double_eq(program_figure(constant, "clear", "fraction"), program_figure(table, "clear", "fraction"));
  ck_assert_double_gt(program_figure(stirred_late, "clear", "fraction"), program_figure(constant, "clear", "fraction") + 0.1);
  json_decref(constant);
  json_decref(table);
  json_decref(stirred_late);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clear_fronts");
  TCase *all = tcase_create("all");
  tcase_add_checked_fixture(all, set_up, tear_down);
  tcase_set_timeout(all, 300);
  tcase_add_loop_test(all, a_front_with_its_film_stated_clouds_as_found_elsewhere, 0, getenv("LASTWATER_BRIEF") ? 1 : NUM_FRONTS);
  tcase_add_test(all, a_film_may_change_with_time);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
