/* How the front crosses a node: a skin, a shell along a wall, growth that changes from node to node. Worked by hand. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "clouding_column.h"
#include "solver/clouding_crossing.h"

enum { NODES = 10, TOP = NODES - 1, PARTS = CLOUDING_CROSSING_PARTS };
static const double HIGH = 0.005, SPEED = 0.5e-6; /* m, m/s */

/* A front of constant speed from the top down, or from the floor up; nodes of 5 mm. */
static void set_up_column(clouding_column *s, bool down)
{
  clouding_column_create(s, NODES, NODES * HIGH, false);
  clouding_column_freeze(s, SPEED);
  for (int n = 0; !down && n < NODES / 2; n++) {
    const double low = s->time[n];
    s->time[n] = s->time[TOP - n];
    s->time[TOP - n] = low;
  }
}

static size_t describe(clouding_crossing parts[PARTS], const clouding_column *s, int32_t node, double open_area)
{
  double end;
  size_t clamped = 0;
  const size_t num = clouding_crossing_describe(parts, &end, &clamped, &s->of, node, open_area);
  ck_assert_double_eq_tol(end, parts[num - 1].end, 1e-9 * end);
  ck_assert_uint_eq(clamped, 0);
  return num;
}

/* Width over speed, half of it to either side; the open surface goes under a skin at once, or, when ice comes from below, last.
 */
START_TEST(an_even_front_crosses_in_width_over_speed)
{
  clouding_column s;
  clouding_crossing c[PARTS];
  const bool down = _i == 0;
  set_up_column(&s, down);
  ck_assert_uint_eq(describe(c, &s, TOP, 0.02), 1);
  const double middle = (down ? 0.5 : NODES - 0.5) * HIGH / SPEED;
  ck_assert_double_eq_tol(c[0].middle, middle, 1e-6 * middle);
  ck_assert_double_eq_tol(c[0].end - c[0].begin, HIGH / SPEED, 1e-6 * HIGH / SPEED);
  ck_assert_double_eq_tol(c[0].normal_z, down ? -1.0 : 1.0, 1e-12);
  ck_assert_double_eq(c[0].surface, 0.02);
  ck_assert_double_eq_tol(c[0].shut[0], down ? 0.0 : 1.0, 1e-12);
  ck_assert_double_eq_tol(c[0].shut[1], down ? 0.0 : 1.0, 1e-12);
  clouding_column_destroy(&s);
}
END_TEST

/* Ice that stood in the node: its second quarter took three times as long as the front needs, so did the first. Not before its
 * first ice. */
START_TEST(a_shell_froze_before_the_front_came)
{
  clouding_column s;
  clouding_crossing c[PARTS];
  set_up_column(&s, true);
  double first[NODES], quarter[NODES], half = 0.5 * HIGH / SPEED;
  for (int n = 0; n < NODES; n++) {
    quarter[n] = s.time[n] - 0.59 * half; /* a front that comes from the node behind: 2 (1 - 0.71) */
    first[n] = s.time[n] - 2.0 * half;
  }
  s.of.begin_time = first;
  s.of.quarter_time = quarter;
  (void)describe(c, &s, 4, 0.0);
  ck_assert_double_eq_tol(c[0].middle - c[0].begin, half, 1e-6 * half); /* nothing unusual */
  quarter[4] = s.time[4] - 1.5 * half;
  first[4] = 0.0;
  (void)describe(c, &s, 4, 0.0);
  ck_assert_double_eq_tol(c[0].middle - c[0].begin, 2.0 * half, 1e-6 * half);
  first[4] = s.time[4] - 1.25 * half;
  quarter[4] = s.time[4] - 1.2 * half;
  (void)describe(c, &s, 4, 0.0);
  ck_assert_double_eq_tol(c[0].middle - c[0].begin, 1.25 * half, 1e-6 * half);
  clouding_column_destroy(&s);
}
END_TEST

/* Speeds 0.4, 0.5, 0.7 um/s along a column: parts of the middle node at 3/8 and 1/8 of the node to either side, in the order in
 * which they freeze. */
START_TEST(a_node_in_which_growth_changes_comes_in_parts)
{
  clouding_column s;
  clouding_crossing c[PARTS];
  set_up_column(&s, true);
  s.speed[3] = 0.7e-6;
  s.speed[5] = 0.4e-6;
  ck_assert_uint_eq(describe(c, &s, 4, 0.02), PARTS);
  static const double want[PARTS] = {0.5e-6 - 0.375 * 0.1e-6, 0.5e-6 - 0.125 * 0.1e-6, 0.5e-6 + 0.125 * 0.2e-6,
                                     0.5e-6 + 0.375 * 0.2e-6};
  double share = 0.0, mass = 0.0, surface = 0.0;
  for (int i = 0; i < PARTS; i++) {
    ck_assert_double_eq_tol(c[i].speed, want[i], 1e-12 * want[i]);
    if (i > 0)
      ck_assert_double_eq_tol(c[i].begin, c[i - 1].end, 1e-9 * c[i].begin);
    share += c[i].share;
    mass += c[i].mass;
    surface += c[i].surface;
  }
  ck_assert_double_eq_tol(share, 1.0, 1e-12);
  ck_assert_double_eq_tol(mass, CLOUDING_COLUMN_ICE * s.m->volume[4], 1e-12 * mass);
  ck_assert_double_eq_tol(surface, 0.02, 1e-12); /* a skin: all with the first part */
  ck_assert_double_eq_tol(c[0].surface, 0.02, 1e-12);
  ck_assert_double_eq_tol(c[PARTS - 1].end - c[0].begin, HIGH / SPEED, 1e-6 * HIGH / SPEED);
  clouding_column_destroy(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clouding_crossing");
  TCase *all = tcase_create("all");
  tcase_add_loop_test(all, an_even_front_crosses_in_width_over_speed, 0, 2);
  tcase_add_test(all, a_shell_froze_before_the_front_came);
  tcase_add_test(all, a_node_in_which_growth_changes_comes_in_parts);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
