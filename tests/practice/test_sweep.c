/* Sweeps as a user runs them: killed at random and resumed to the same bits, failing cases, refusals. */
#include <check.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "program.h"

enum { PATH = 512, NUM = 24 };

static char dir[PATH];

static const char PLAN[] = "title: Thimbles\ncase: case.yaml\ndesign: grid\n"
                           "vary:\n"
                           "  - {key: room.film, values: [20 W/m2K, 40 W/m2K, 60 W/m2K, 90 W/m2K]}\n"
                           "  - {key: parts.cup.wall, from: 1 mm, to: 3 mm, steps: 3}\n"
                           "  - {key: bodies.water.motion, values: [still, none]}\n"
                           "report: [freeze.time_s, last_liquid.trapped, ledger.residual_relative]\n"
                           "goals: [{path: freeze.time_s, best: least}, {path: last_liquid.distance_to_surface_m, best: most}]\n";

static void set_up(void)
{
  char *text = program_read(TEST_DATA, "thimble.yaml", NULL);
  program_directory(dir);
  program_write(dir, "case.yaml", text);
  program_write(dir, "plan.yaml", PLAN);
  free(text);
}

static void tear_down(void) { program_remove(dir); }

static program_result sweep(const char *plan, const char *into, const char *extra, const char *more, const program_wishes *wishes)
{
  static char plan_path[2 * PATH], out_path[2 * PATH];
  (void)snprintf(plan_path, sizeof plan_path, "%s/%s", dir, plan);
  (void)snprintf(out_path, sizeof out_path, "%s/%s", dir, into);
  const char *const arguments[] = {"sweep", plan_path, "-o", out_path, extra ? extra : "--jobs=2", more, NULL};
  return program_run(arguments, wishes);
}

static char *table_of(const char *into)
{
  char path[2 * PATH];
  (void)snprintf(path, sizeof path, "%s/%s", dir, into);
  return program_read(path, "results.csv", NULL);
}

/* Inode of every case's summary; 0: not there. A run made twice leaves another file. */
static void look_at_cases(const char *into, ino_t inode[NUM])
{
  for (size_t i = 0; i < NUM; i++) {
    char path[2 * PATH];
    struct stat s;
    (void)snprintf(path, sizeof path, "%s/%s/cases/000/%03zu/summary.json", dir, into, i);
    inode[i] = stat(path, &s) == 0 ? s.st_ino : 0;
  }
}

static size_t lines_of(const char *into)
{
  char path[2 * PATH];
  size_t n = 0, lines = 0;
  (void)snprintf(path, sizeof path, "%s/%s/ledger", dir, into);
  char *text = program_read(path, "main.journal", &n);
  for (size_t i = 0; text && i < n; i++)
    lines += text[i] == '\n';
  free(text);
  return lines ? lines - 1 : 0;
}

START_TEST(killed_three_times_and_resumed_gives_the_same_table_to_the_bit)
{
  const double begun = program_clock();
  program_result whole = sweep("plan.yaml", "whole", NULL, NULL, NULL);
  const double took = program_clock() - begun;
  ck_assert_msg(whole.exit_code == 0, "%s", whole.err);
  char *wanted = table_of("whole");
  ck_assert_ptr_nonnull(wanted);
  const unsigned seed = (unsigned)time(NULL);
  srand(seed);
  for (int kill_number = 0; kill_number < 3; kill_number++) {
    const program_wishes w = {.kill_after = took * (0.05 + 0.35 * (double)rand() / RAND_MAX), .kill_signal = SIGKILL};
    const size_t before = lines_of("killed");
    program_result r = sweep("plan.yaml", "killed", NULL, kill_number ? "--resume" : NULL, &w);
    ck_assert_msg(r.signal_number == SIGKILL || r.exit_code == 0, "seed %u: %s", seed, r.err);
    program_release(&r);
    ck_assert_uint_ge(lines_of("killed"), before);
  }
  const size_t done = lines_of("killed");
  program_result last = sweep("plan.yaml", "killed", NULL, "--resume", NULL);
  ck_assert_msg(last.exit_code == 0, "seed %u: %s", seed, last.err);
  char *got = table_of("killed");
  ck_assert_msg(got && strcmp(got, wanted) == 0, "seed %u: the tables differ", seed);
  ck_assert_uint_eq(lines_of("killed"), NUM); /* one line a case: nothing twice, nothing missing */
  char says[64];
  (void)snprintf(says, sizeof says, "of %zu runs ended", NUM - done);
  ck_assert_msg(done == NUM || strstr(last.err, says) != NULL, "seed %u, %zu were done: %s", seed, done, last.err);
  program_release(&last);
  program_release(&whole);
  free(got);
  free(wanted);
}
END_TEST

/* What is done is not touched again: its files stay the very same files. */
START_TEST(resume_leaves_what_is_done_alone)
{
  ino_t before[NUM], after[NUM];
  const program_wishes w = {.kill_after = 0.4, .kill_signal = SIGKILL};
  program_result r = sweep("plan.yaml", "out", NULL, NULL, &w);
  program_release(&r);
  const size_t done = lines_of("out");
  look_at_cases("out", before);
  r = sweep("plan.yaml", "out", NULL, "--resume", NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  look_at_cases("out", after);
  size_t same = 0;
  for (size_t i = 0; i < NUM; i++)
    same += before[i] != 0 && before[i] == after[i];
  ck_assert_uint_ge(same, done);
  r = sweep("plan.yaml", "out", NULL, "--resume", NULL); /* nothing to do: gathers only */
  ck_assert_int_eq(r.exit_code, 0);
  ck_assert_uint_eq(lines_of("out"), NUM);
  program_release(&r);
}
END_TEST

START_TEST(results_of_one_job_are_those_of_two)
{
  program_result a = sweep("plan.yaml", "one", "--jobs=1", NULL, NULL), b = sweep("plan.yaml", "two", "--jobs=2", NULL, NULL);
  char *x = table_of("one"), *y = table_of("two");
  ck_assert_int_eq(a.exit_code, 0);
  ck_assert_int_eq(b.exit_code, 0);
  ck_assert_str_eq(x, y);
  ck_assert_ptr_nonnull(strstr(a.out, "24 points, 24 unlike cases: 24 done, 0 failed"));
  ck_assert_ptr_nonnull(strstr(x, "room.film_W/(m2 K),parts.cup.wall_m,bodies.water.motion,freeze.time_s"));
  free(x);
  free(y);
  program_release(&a);
  program_release(&b);
}
END_TEST

/* 55 mm of water do not fit into a cup of 50 mm; the others run. */
START_TEST(a_failing_case_is_reported_and_stops_nothing_else)
{
  program_write(dir, "plan.yaml", "case: case.yaml\ndesign: one_at_a_time\nreport: [freeze.time_s, freeze.tme_s]\n"
                                  "vary:\n  - {key: bodies.water.depth, values: [34 mm, 30 mm, 55 mm, 4 cm]}\n");
  program_result r = sweep("plan.yaml", "out", NULL, NULL, NULL);
  char *table = table_of("out");
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  ck_assert_ptr_nonnull(strstr(r.out, "5 points, 4 unlike cases: 3 done, 1 failed, 0 to do")); /* 4 cm is the case's own 40 mm */
  ck_assert_ptr_nonnull(strstr(r.err, "lastwater: case 3 failed: "));
  ck_assert_ptr_nonnull(strstr(r.err, "freeze.tme_s is not known in the first answer"));
  ck_assert_ptr_nonnull(strstr(r.err, "the closest is freeze.time_s"));
  ck_assert_ptr_nonnull(strstr(table, "3,3,failed,0.055,,,"));
  free(table);
  program_release(&r);
}
END_TEST

START_TEST(directories_of_other_things_are_refused)
{
  program_result r = sweep("plan.yaml", "out", NULL, NULL, NULL);
  ck_assert_int_eq(r.exit_code, 0);
  program_release(&r);
  r = sweep("plan.yaml", "out", NULL, NULL, NULL); /* again, without --resume */
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_ptr_nonnull(strstr(r.err, "holds 24 of the 24 runs of this plan; --resume goes on"));
  program_release(&r);
  program_write(dir, "plan.yaml", "case: case.yaml\ndesign: grid\nreport: [freeze.time_s]\nvary:\n  - {key: room.film, values: [20 W/m2K]}\n");
  r = sweep("plan.yaml", "out", NULL, "--resume", NULL);
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_ptr_nonnull(strstr(r.err, "belongs to another plan"));
  program_release(&r);
  char path[2 * PATH];
  (void)snprintf(path, sizeof path, "%s/other", dir);
  ck_assert_int_eq(mkdir(path, 0777), 0);
  program_write(path, "letter.txt", "Dear all\n");
  r = sweep("plan.yaml", "other", NULL, NULL, NULL);
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_ptr_nonnull(strstr(r.err, "holds something that is no sweep"));
  ck_assert(!program_has(path, "ledger"));
  program_release(&r);
}
END_TEST

/* Two shares beside each other, then gathered: the same table as in one go. */
START_TEST(shares_make_the_same_table)
{
  program_result r = sweep("plan.yaml", "whole", NULL, NULL, NULL);
  ck_assert_int_eq(r.exit_code, 0);
  program_release(&r);
  r = sweep("plan.yaml", "shared", "--share=1/2", NULL, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  r = sweep("plan.yaml", "shared", "--share=2/2", NULL, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  r = sweep("plan.yaml", "shared", "--resume", NULL, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  char *x = table_of("whole"), *y = table_of("shared");
  ck_assert_str_eq(x, y);
  ck_assert_uint_eq(lines_of("shared"), 0); /* all was done by the shares */
  free(x);
  free(y);
}
END_TEST

START_TEST(everything_is_kept_on_request)
{
  program_write(dir, "plan.yaml", "case: case.yaml\ndesign: grid\nkeep: all\nreport: [freeze.time_s]\nvary:\n  - {key: room.film, values: [50 W/m2K, 60 W/m2K]}\n");
  program_result r = sweep("plan.yaml", "out", NULL, NULL, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  char path[2 * PATH];
  (void)snprintf(path, sizeof path, "%s/out/cases/000/001", dir);
  ck_assert(program_has(path, "fields.h5") && program_has(path, "report.html") && program_has(path, "series.csv"));
  program_release(&r);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("sweep");
  TCase *all = tcase_create("sweep");
  tcase_add_checked_fixture(all, set_up, tear_down);
  tcase_add_test(all, killed_three_times_and_resumed_gives_the_same_table_to_the_bit);
  tcase_add_test(all, resume_leaves_what_is_done_alone);
  tcase_add_test(all, results_of_one_job_are_those_of_two);
  tcase_add_test(all, a_failing_case_is_reported_and_stops_nothing_else);
  tcase_add_test(all, directories_of_other_things_are_refused);
  tcase_add_test(all, shares_make_the_same_table);
  tcase_add_test(all, everything_is_kept_on_request);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
