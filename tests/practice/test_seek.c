/* Seeking as a user does: a target met and checked by a run of its own, a range without a solution, the best within a limit. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

enum { PATH = 512 };

static char dir[PATH];

static void set_up(void)
{
  char *text = program_read(TEST_DATA, "thimble.yaml", NULL);
  program_directory(dir);
  program_write(dir, "case.yaml", text);
  free(text);
}

static void tear_down(void) { program_remove(dir); }

static program_result type(const char *command, const char *file, const char *more, const char *last)
{
  static char path[2 * PATH];
  (void)snprintf(path, sizeof path, "%s/%s", dir, file);
  const char *const arguments[] = {command, path, "--json", "--quiet", more, last, NULL};
  return program_run(arguments, NULL);
}

static json_t *answer_of(const char *plan)
{
  program_write(dir, "plan.yaml", plan);
  program_result r = type("seek", "plan.yaml", NULL, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  json_t *answer = json_loads(r.out, 0, NULL);
  ck_assert_ptr_nonnull(answer);
  program_release(&r);
  return answer;
}

START_TEST(what_meets_the_target_meets_it_in_a_run_of_its_own)
{
  char setting[PATH], path[2 * PATH];
  json_t *answer = answer_of("case: case.yaml\nvary: [{key: room.temperature, from: -40 C, to: -4 C}]\ntarget: {path: freeze.time_s, value: 35 min}\n");
  ck_assert_str_eq(json_string_value(json_object_get(answer, "outcome")), "met");
  ck_assert_int_le(json_integer_value(json_object_get(answer, "runs")), 12);
  (void)snprintf(setting, sizeof setting, "--set=room.temperature=%s",
                 json_string_value(json_object_get(json_object_get(answer, "settings"), "room.temperature")));
  program_result r = type("run", "case.yaml", setting, NULL);
  json_t *summary = json_loads(r.out, 0, NULL);
  ck_assert_double_eq_tol(json_number_value(json_object_get(json_object_get(summary, "freeze"), "time_s")), 2100.0, 0.005 * 2100.0);
  (void)snprintf(path, sizeof path, "%s/plan.result", dir);
  ck_assert(program_has(path, "runs.csv") && program_has(path, "answer.txt"));
  program_release(&r);
  json_decref(summary);
  json_decref(answer);
}
END_TEST

START_TEST(a_range_without_solution_says_so)
{
  json_t *answer = answer_of("case: case.yaml\nvary: [{key: room.temperature, from: -40 C, to: -30 C}]\ntarget: {path: freeze.time_s, value: 10 h}\n");
  ck_assert_str_eq(json_string_value(json_object_get(answer, "outcome")), "no solution");
  json_decref(answer);
}
END_TEST

/* Warmest wind that still freezes in 40 minutes: freezing takes longer the warmer it is, so the limit is what holds, and the least cold is
 * where the time is the limit: the very place that seeking that target finds. */
START_TEST(the_best_lies_where_the_limit_does)
{
  json_t *best = answer_of("case: case.yaml\nvary: [{key: bodies.water.depth, from: 30 mm, to: 48 mm}]\n"
                           "goals: [{path: bodies.water.mass_kg, best: most}]\nlimits: [{path: freeze.time_s, most: 42 min}]\nruns: 40\n");
  ck_assert_str_ne(json_string_value(json_object_get(best, "outcome")), "no solution");
  const double time = json_number_value(json_object_get(json_object_get(best, "figures"), "freeze.time_s"));
  const double mass = json_number_value(json_object_get(json_object_get(best, "figures"), "bodies.water.mass_kg"));
  ck_assert_double_le(time, 2520.0);
  program_result r = type("seek", "plan.yaml", NULL, NULL); /* the same plan again answers again */
  ck_assert_int_eq(r.exit_code, 0);
  program_release(&r);
  program_remove((snprintf(dir + strlen(dir), 32, "/plan.result"), dir));
  dir[strlen(dir) - strlen("/plan.result")] = 0;
  json_t *met = answer_of("case: case.yaml\nvary: [{key: bodies.water.depth, from: 30 mm, to: 48 mm}]\ntarget: {path: freeze.time_s, value: 42 min}\n"
                          "report: [bodies.water.mass_kg]\n");
  ck_assert_str_eq(json_string_value(json_object_get(met, "outcome")), "met");
  ck_assert_double_eq_tol(mass, json_number_value(json_object_get(json_object_get(met, "figures"), "bodies.water.mass_kg")), 0.02 * mass);
  json_decref(best);
  json_decref(met);
}
END_TEST

START_TEST(limits_that_cannot_be_kept_are_said)
{
  json_t *best = answer_of("case: case.yaml\nvary: [{key: room.temperature, from: -40 C, to: -10 C}]\n"
                           "goals: [{path: freeze.time_s, best: least}]\nlimits: [{path: freeze.time_s, most: 1 min}]\nruns: 12\n");
  ck_assert_str_eq(json_string_value(json_object_get(best, "outcome")), "no solution");
  json_decref(best);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("seek");
  TCase *all = tcase_create("seek");
  tcase_add_checked_fixture(all, set_up, tear_down);
  tcase_add_test(all, what_meets_the_target_meets_it_in_a_run_of_its_own);
  tcase_add_test(all, a_range_without_solution_says_so);
  tcase_add_test(all, the_best_lies_where_the_limit_does);
  tcase_add_test(all, limits_that_cannot_be_kept_are_said);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
