/* Plans: what is refused, where and why; and the points that the designs make. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/plan_points.h"
#include "io/sobol.h"

static const char CASE[] = "title: Cup\n"
                           "dimension: rz\n"
                           "parts:\n"
                           "  - {name: cup, shape: cylinder, diameter: 40 mm, height: 50 mm, wall: 2 mm, material: hdpe}\n"
                           "bodies:\n"
                           "  - {name: water, in: cup, depth: 40 mm, temperature: 5 C}\n"
                           "surfaces:\n"
                           "  - {of: water, faces: top, film: 5 W/m2K}\n";

static const quantity_system *units_of(void)
{
  static quantity_system *units; /* made once in each test's process, which ends with it */
  if (!units)
    ck_assert_int_eq(quantity_system_create(&units, NULL), STATUS_OK);
  return units;
}

static plan_file *good(const char *text, plan_use use)
{
  plan_file *p = NULL;
  char *faults = NULL;
  message msg = {""};
  const status code = plan_file_parse(&p, "plan.yaml", text, strlen(text), CASE, sizeof CASE - 1, use, units_of(), &faults, &msg);
  ck_assert_msg(code == STATUS_OK, "%s\n%s", msg.text, faults ? faults : "");
  return p;
}

static const struct {
  plan_use use;
  const char *text, *says;
} wrong[] = {
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wal, values: [1 mm]}\n", "plan.yaml:5:11: parts.cup.wal: \"wal\" is not a key of parts[]; the closest is \"wall\""},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cop.wall, values: [1 mm]}\n", "plan.yaml:5:11: parts.cop.wall: nothing in parts of the case is named \"cop\"; the closest is \"cup\""},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: []}\n", "plan.yaml:5:35: parts.cup.wall: values is empty"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, from: 3 mm, to: 3 mm, steps: 4}\n", "the range from \"3 mm\" to \"3 mm\" is empty"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, from: 4 mm, to: 3 mm, steps: 4}\n", "is empty"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary: []\n", "plan.yaml:4:7: vary is empty"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\n", "vary is empty"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: [3, 4 mm]}\n", "plan.yaml:5:36: parts.cup.wall: \"3\""},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: [-3 mm]}\n", "out of the range of that key, above zero"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: bodies.water.motion, values: [stil]}\n", "\"stil\" is not one of still|stirred|none"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: bodies.water.motion, from: 1 m, to: 2 m, steps: 2}\n", "takes no numbers; list its values"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.name, values: [a]}\n", "is not a value that can vary"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 2 mm}\n", "steps is missing"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall.x, values: [1 mm]}\n", "nothing stands below it"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup, values: [1 mm]}\n", "the key of that item is missing"},
    {PLAN_SWEEP, "case: c\ndesign: gird\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n", "plan.yaml:2:9: design: \"gird\" is not one of"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n", "report is missing"},
    {PLAN_SWEEP, "case: c\ndesign: sobol\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n", "points is missing"},
    {PLAN_SWEEP, "case: c\ndesign: grid\npoints: 4\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n", "points goes with"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreprot: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n", "plan.yaml:3:1: reprot: unknown key; the closest is report"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nset: {parts.cup.wal: 1 mm}\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n", "is not a key of parts[]"},
    {PLAN_SWEEP, "case: c\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n  - {key: parts.cup.wall, values: [2 mm]}\n", "varies twice"},
    {PLAN_SEEK, "case: c\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 9 mm}\n", "say what is sought"},
    {PLAN_SEEK, "case: c\nvary:\n  - {key: parts.cup.wall, values: [1 mm, 2 mm]}\ntarget: {path: freeze.time_s, value: 24 h}\n", "seek needs a range"},
    {PLAN_SEEK, "case: c\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 9 mm}\ntarget: {path: freeze.time_s, value: 24 kg}\n", "freeze.time_s is given in s"},
    {PLAN_SEEK, "case: c\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 9 mm}\n  - {key: parts.cup.height, from: 41 mm, to: 60 mm}\ntarget: {path: freeze.time_s, value: 24 h}\n", "a target is met by one input"},
    {PLAN_SEEK, "case: c\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 9 mm}\ngoals: [{path: freeze.time_s}]\n", "least or most is missing"},
};

START_TEST(wrong_plans_are_told_at_their_place)
{
  plan_file *p = NULL;
  char *faults = NULL;
  message msg = {""};
  const char *text = wrong[_i].text;
  ck_assert_int_eq(plan_file_parse(&p, "plan.yaml", text, strlen(text), CASE, sizeof CASE - 1, wrong[_i].use, units_of(), &faults, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_null(p);
  ck_assert_msg(faults && strstr(faults, wrong[_i].says), "\"%s\" is not said in:\n%s", wrong[_i].says, faults ? faults : "");
  free(faults);
}
END_TEST

#define HEAD "case: c\nreport: [freeze.time_s]\n"

START_TEST(more_than_a_million_points_need_a_yes)
{
  plan_file *p = good(HEAD "design: grid\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 9 mm, steps: 1001}\n"
                           "  - {key: room.film, from: 1 W/m2K, to: 9 W/m2K, steps: 1000}\n", PLAN_SWEEP);
  plan_points *pts = NULL;
  message msg = {""};
  ck_assert_uint_eq(plan_points_count(p), 1001000);
  ck_assert_int_eq(plan_points_create(&pts, p, false, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "1001000 points, more than a million; --yes"));
  plan_file_destroy(&p);
}
END_TEST

static double value_at(const plan_points *pts, size_t point, size_t input)
{
  char text[PLAN_POINTS_VALUE];
  double number = NAN;
  (void)plan_points_value(pts, point, input, text, &number);
  return number;
}

static plan_points *points_of(const plan_file *p)
{
  plan_points *pts = NULL;
  ck_assert_int_eq(plan_points_create(&pts, p, false, NULL), STATUS_OK);
  return pts;
}

START_TEST(a_grid_has_every_combination_once)
{
  plan_file *p = good(HEAD "design: grid\nvary:\n  - {key: parts.cup.wall, values: [1 mm, 2 mm, 4 mm]}\n"
                           "  - {key: room.film, from: 2 W/m2K, to: 32 W/m2K, steps: 5, by: ratio}\n", PLAN_SWEEP);
  plan_points *pts = points_of(p);
  ck_assert_uint_eq(plan_points_num(pts), 15);
  ck_assert_uint_eq(plan_points_num_cases(pts), 15);
  for (size_t i = 0; i < 15; i++) {
    ck_assert_double_eq_tol(value_at(pts, i, 0), (i / 5 == 2 ? 0.004 : 0.001 * (double)(i / 5 + 1)), 1e-15);
    ck_assert_double_eq_tol(value_at(pts, i, 1), 2.0 * pow(2.0, (double)(i % 5)), 1e-12);
  }
  plan_points_destroy(&pts);
  plan_file_destroy(&p);
}
END_TEST

/* The case itself, then each input alone; the case's own value (2 mm), the same in another unit and a value given twice run once. */
START_TEST(one_at_a_time_runs_equal_cases_once)
{
  plan_file *p = good(HEAD "design: one_at_a_time\nvary:\n  - {key: parts.cup.wall, values: [1 mm, 2 mm, 0.2 cm, 1e-3 m]}\n"
                           "  - {key: bodies.water.motion, values: [still, none]}\n", PLAN_SWEEP);
  plan_points *pts = points_of(p);
  ck_assert_uint_eq(plan_points_num(pts), 7);
  ck_assert_uint_eq(plan_points_num_cases(pts), 3);
  static const size_t expected[] = {0, 1, 0, 0, 1, 0, 2}; /* `still` is the preset */
  for (size_t i = 0; i < 7; i++)
    ck_assert_uint_eq(plan_points_case(pts, i), expected[i]);
  ck_assert_uint_eq(plan_points_first(pts, 2), 6);
  plan_points_destroy(&pts);
  plan_file_destroy(&p);
}
END_TEST

/* What makes a Latin hypercube: every one of the n equal slices of every input holds exactly one point (McKay, Beckman, Conover 1979). */
START_TEST(a_latin_hypercube_fills_every_slice_once)
{
  plan_file *p = good(HEAD "design: latin_hypercube\npoints: 97\nseed: 5\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 2 mm}\n"
                           "  - {key: room.film, from: 2 W/m2K, to: 12 W/m2K}\n", PLAN_SWEEP);
  plan_points *pts = points_of(p);
  int seen[2][97] = {{0}};
  for (size_t i = 0; i < 97; i++) {
    seen[0][(size_t)((value_at(pts, i, 0) - 0.001) / 0.001 * 97.0)]++;
    seen[1][(size_t)((value_at(pts, i, 1) - 2.0) / 10.0 * 97.0)]++;
  }
  for (size_t i = 0; i < 97; i++)
    ck_assert(seen[0][i] == 1 && seen[1][i] == 1);
  plan_points_destroy(&pts);
  plan_file_destroy(&p);
}
END_TEST

/* The first points in two dimensions as printed by P. Bratley and B. L. Fox, ACM TOMS 14 (1988) 88-100 (their dimensions 1 and 2 are those of
 * Joe and Kuo too); and the property that the sequence is made for: of the first 2^k points each of 2^k equal slices holds one. */
START_TEST(sobol_points_are_the_published_ones)
{
  static const double first[8][2] = {{0, 0}, {0.5, 0.5}, {0.75, 0.25}, {0.25, 0.75}, {0.375, 0.375}, {0.875, 0.875}, {0.625, 0.125}, {0.125, 0.625}};
  for (size_t i = 0; i < 8; i++)
    for (size_t d = 0; d < 2; d++)
      ck_assert_double_eq(sobol_coordinate(d, i), first[i][d]);
  for (size_t d = 0; d < SOBOL_DIMENSIONS; d++) {
    int seen[1024] = {0};
    for (size_t i = 0; i < 1024; i++)
      seen[(size_t)(sobol_coordinate(d, i) * 1024.0)]++;
    for (size_t i = 0; i < 1024; i++)
      ck_assert_msg(seen[i] == 1, "dimension %zu, slice %zu holds %d points", d, i, seen[i]);
  }
}
END_TEST

/* Means over points that fill the cube evenly: the integral of the product of (1 + (x_d - 1/2) / d^2) over the cube is 1. */
START_TEST(sobol_points_fill_many_dimensions_evenly)
{
  double sum = 0.0;
  for (size_t i = 0; i < 4096; i++) {
    double f = 1.0;
    for (size_t d = 0; d < SOBOL_DIMENSIONS; d++)
      f *= 1.0 + (sobol_coordinate(d, i) - 0.5) / (double)((d + 1) * (d + 1));
    sum += f;
  }
  ck_assert_double_eq_tol(sum / 4096.0, 1.0, 1e-3); /* random points: 5e-3 */
}
END_TEST

START_TEST(sobol_shares_words_evenly)
{
  char text[PLAN_POINTS_VALUE];
  plan_file *p = good(HEAD "design: sobol\npoints: 8\nvary:\n  - {key: parts.cup.wall, from: 1 mm, to: 2 mm}\n  - {key: bodies.water.motion, values: [still, none]}\n", PLAN_SWEEP);
  plan_points *pts = points_of(p);
  int still = 0;
  for (size_t i = 0; i < 8; i++) {
    (void)plan_points_value(pts, i, 1, text, &(double){0.0});
    still += strcmp(text, "still") == 0;
  }
  ck_assert_int_eq(still, 4);
  plan_points_destroy(&pts);
  plan_file_destroy(&p);
}
END_TEST

/* A plan means the same with other words in its comments, and something else with another value. */
START_TEST(identity_is_of_the_meaning)
{
  plan_file *a = good(HEAD "design: grid\nvary:\n  - {key: parts.cup.wall, values: [1 mm]}\n", PLAN_SWEEP);
  plan_file *b = good("# spring\n" HEAD "design: grid\nvary:\n  - key: parts.cup.wall\n    values: [\"1 mm\"]\n", PLAN_SWEEP);
  plan_file *c = good(HEAD "design: grid\nvary:\n  - {key: parts.cup.wall, values: [2 mm]}\n", PLAN_SWEEP);
  ck_assert(a->identity == b->identity);
  ck_assert(a->identity != c->identity);
  plan_file_destroy(&a);
  plan_file_destroy(&b);
  plan_file_destroy(&c);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("plan_file");
  TCase *all = tcase_create("plans");
  tcase_add_loop_test(all, wrong_plans_are_told_at_their_place, 0, (int)(sizeof wrong / sizeof *wrong));
  tcase_add_test(all, more_than_a_million_points_need_a_yes);
  tcase_add_test(all, a_grid_has_every_combination_once);
  tcase_add_test(all, one_at_a_time_runs_equal_cases_once);
  tcase_add_test(all, a_latin_hypercube_fills_every_slice_once);
  tcase_add_test(all, sobol_points_are_the_published_ones);
  tcase_add_test(all, sobol_points_fill_many_dimensions_evenly);
  tcase_add_test(all, sobol_shares_words_evenly);
  tcase_add_test(all, identity_is_of_the_meaning);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
