/* Killed, interrupted, cut short, out of space: what a run leaves, and that --resume ends in the same bits as a run left alone.
 *
 * Two results are the same when summary.json agrees but for provenance, fields.h5 agrees in every value and attribute (compared by the
 * format's own h5diff), and series.csv, summary.txt, fields.xdmf and case.yaml agree byte for byte. */
#define _XOPEN_SOURCE 700
#include <check.h>
#include <jansson.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/stat.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "program.h"

/* Settings of our own invention; fine enough that a kill finds it at work. */
static const char CASE[] =
    "title: Small pail in brine\n"
    "dimension: rz\n"
    "room: {temperature: 15 C, humidity: 50 %, film: 8 W/m2K}\n"
    "parts:\n"
    "  - {name: tub, shape: cylinder, diameter: 36 cm, height: 30 cm, wall: 4 mm, material: hdpe}\n"
    "  - {name: pail, shape: frustum, bottom_diameter: 18 cm, top_diameter: 21 cm, height: 22 cm, on: tub, wall: 2 mm,\n"
    "     material: aluminium 3003}\n"
    "bodies:\n"
    "  - {name: water, in: pail, volume: 5 L, temperature: 6 C}\n"
    "baths:\n"
    "  - {name: brine, in: tub, salt: CaCl2, strength: 21 %, level: 20 cm, temperature: 0 C}\n"
    "coils:\n"
    "  - {name: coil, in: brine, inside: tub, gap: 20 mm, tube: 10 mm, tube_wall: 1 mm, z: 4 cm, height: 14 cm, turns: 6,\n"
    "     refrigerant_temperature: -20 C}\n"
    "probes:\n"
    "  - {name: core, at: [0 mm, 12 cm]}\n"
    "grid: {spacing: 7 mm}\n"
    "run: {store_every: 20 min, checkpoint_every: 5 min}\n";

static char home[512], case_path[600], alone[600], other[600];
static double alone_took; /* s until the fields of the undisturbed run were whole */

static program_result run_into(const char *directory, const char *extra, const program_wishes *wishes)
{
  const char *const arguments[] = {"run", case_path, "-o", directory, "--quiet", extra, NULL};
  return program_run(arguments, wishes);
}

static void must_succeed(const char *directory, const char *extra)
{
  program_result r = run_into(directory, extra, NULL);
  ck_assert_msg(r.exit_code == 0, "exit %d: %s", r.exit_code, r.err);
  program_release(&r);
}

/* Runs once before all tests: the run left alone, and how long it marches. */
static void run_alone(void)
{
  program_directory(home);
  (void)snprintf(case_path, sizeof case_path, "%s/pail.yaml", home);
  (void)snprintf(alone, sizeof alone, "%s/alone", home);
  program_write(home, "pail.yaml", CASE);
  char fields[700];
  (void)snprintf(fields, sizeof fields, "%s/fields.h5", alone);
  const double begun = program_clock();
  const program_wishes watch = {.kill_when_exists = fields, .kill_signal = SIGKILL};
  program_result r = run_into(alone, NULL, &watch);
  alone_took = program_clock() - begun;
  program_release(&r);
  r = run_into(alone, "--threads=2", NULL);
  if (r.exit_code != 0) {
    (void)fprintf(stderr, "%s", r.err);
    abort();
  }
  program_release(&r);
}

static void set_up(void)
{
  (void)snprintf(other, sizeof other, "%s/other_XXXXXX", home);
  ck_assert_ptr_nonnull(mkdtemp(other));
}

static void tear_down(void)
{
  program_remove(other);
}

static json_t *summary_of(const char *directory)
{
  char path[700];
  json_error_t fault;
  (void)snprintf(path, sizeof path, "%s/summary.json", directory);
  json_t *root = json_load_file(path, 0, &fault);
  ck_assert_msg(root != NULL, "%s: %s", path, fault.text);
  ck_assert_int_eq(json_object_del(root, "provenance"), 0);
  return root;
}

static void assert_same_as(const char *reference, const char *directory)
{
  static const char *const byte_for_byte[] = {"series.csv", "summary.txt", "fields.xdmf", "case.yaml"};
  json_t *a = summary_of(reference), *b = summary_of(directory);
  ck_assert_msg(json_equal(a, b), "summaries differ");
  json_decref(a);
  json_decref(b);
  char command[2048];
  (void)snprintf(command, sizeof command, "h5diff '%s/fields.h5' '%s/fields.h5'", reference, directory);
  ck_assert_msg(system(command) == 0, "fields differ");
  for (size_t i = 0; i < sizeof byte_for_byte / sizeof *byte_for_byte; i++) {
    size_t num_a = 0, num_b = 0;
    char *bytes_a = program_read(reference, byte_for_byte[i], &num_a), *bytes_b = program_read(directory, byte_for_byte[i], &num_b);
    ck_assert_msg(bytes_a && bytes_b && num_a == num_b && memcmp(bytes_a, bytes_b, num_a) == 0, "%s differs", byte_for_byte[i]);
    free(bytes_a);
    free(bytes_b);
  }
  ck_assert(!program_has(directory, "checkpoint.h5") && !program_has(directory, "fields.part.h5") && program_has(directory, "log.txt"));
}

static void assert_same(const char *directory) { assert_same_as(alone, directory); }

/* Three kills in a row at moments drawn anew in every run of this test; the draw is told when something differs. */
START_TEST(killed_at_random_moments_and_resumed_it_ends_in_the_same_bits)
{
  struct timespec now;
  ck_assert_int_eq(clock_gettime(CLOCK_REALTIME, &now), 0);
  const unsigned seed = (unsigned)now.tv_nsec ^ (unsigned)(_i * 7919);
  srand(seed);
  (void)printf("seed %u, marching takes %.2f s\n", seed, alone_took);
  int killed = 0;
  for (double longest = alone_took; killed == 0; longest *= 0.5) { /* the machine may have been busier when it ran alone: then sooner, from the start */
    ck_assert_double_gt(longest, 0.02 * alone_took);
    program_remove(other);
    for (int kill_number = 0; kill_number < 3; kill_number++) {
      const program_wishes wishes = {.kill_after = longest * (0.1 + 0.9 * (double)rand() / RAND_MAX), .kill_signal = SIGKILL};
      program_result r = run_into(other, "--resume", &wishes);
      killed += r.signal_number == SIGKILL;
      ck_assert_msg(r.signal_number == SIGKILL || r.exit_code == 0, "exit %d: %s", r.exit_code, r.err);
      program_release(&r);
    }
  }
  must_succeed(other, "--resume");
  assert_same(other);
}
END_TEST

/* Between two files of the results: the fields have their final name, the summary is not there. */
START_TEST(killed_while_the_results_are_written_it_resumes)
{
  char fields[700], summary[700];
  (void)snprintf(fields, sizeof fields, "%s/fields.h5", other);
  (void)snprintf(summary, sizeof summary, "%s/log.txt", other);
  const program_wishes wishes = {.kill_when_exists = fields, .kill_when_gone = summary, .kill_signal = SIGKILL};
  program_result r = run_into(other, NULL, &wishes);
  ck_assert_int_eq(r.signal_number, SIGKILL);
  program_release(&r);
  must_succeed(other, "--resume");
  assert_same(other);
}
END_TEST

static program_result run_bdf_into(const char *directory, const char *extra, const program_wishes *wishes)
{
  return program_run((const char *const[]){"run", case_path, "-o", directory, "--quiet", "--set", "run.integrator=bdf", "--set", "grid.spacing=16 mm", extra, NULL},
                     wishes);
}

/* CVODE's history is cut at every checkpoint, whether or not anybody resumes. */
START_TEST(killed_by_bdf_too_it_ends_in_the_same_bits)
{
  char whole[700], killed[700], checkpoint[800];
  (void)snprintf(whole, sizeof whole, "%s/whole", other);
  (void)snprintf(killed, sizeof killed, "%s/killed", other);
  (void)snprintf(checkpoint, sizeof checkpoint, "%s/checkpoint.h5", killed);
  const double begun = program_clock();
  program_result r = run_bdf_into(whole, "--threads=2", NULL);
  const double took = program_clock() - begun;
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  const program_wishes early = {.kill_when_exists = checkpoint, .kill_signal = SIGKILL}, later = {.kill_after = 0.4 * took, .kill_signal = SIGKILL};
  r = run_bdf_into(killed, NULL, &early);
  ck_assert_int_eq(r.signal_number, SIGKILL);
  program_release(&r);
  r = run_bdf_into(killed, "--resume", &later);
  ck_assert_msg(r.signal_number == SIGKILL || r.exit_code == 0, "exit %d: %s", r.exit_code, r.err);
  program_release(&r);
  r = run_bdf_into(killed, "--resume", NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  assert_same_as(whole, killed);
}
END_TEST

START_TEST(one_thread_gives_the_same_bits)
{
  must_succeed(other, "--threads=1");
  assert_same(other);
}
END_TEST

START_TEST(the_resolved_case_reruns_to_the_same_bits)
{
  char resolved[700];
  (void)snprintf(resolved, sizeof resolved, "%s/case.yaml", alone);
  const char *const arguments[] = {"run", resolved, "-o", other, "--quiet", NULL};
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  assert_same(other);
}
END_TEST

START_TEST(an_interrupt_ends_with_130_and_can_be_resumed)
{
  char part[700];
  (void)snprintf(part, sizeof part, "%s/fields.part.h5", other); /* it marches: early enough on any machine */
  const program_wishes wishes = {.kill_when_exists = part, .kill_signal = SIGINT};
  program_result r = run_into(other, NULL, &wishes);
  ck_assert_msg(r.exit_code == 130, "exit %d: %s", r.exit_code, r.err);
  ck_assert_msg(strstr(r.err, "--resume goes on from") != NULL, "%s", r.err);
  ck_assert(program_has(other, "checkpoint.h5"));
  program_release(&r);
  must_succeed(other, "--resume");
  assert_same(other);
}
END_TEST

START_TEST(the_json_on_stdout_is_the_summary_and_resume_of_a_done_run_says_it_again)
{
  char *file = program_read(alone, "summary.json", NULL);
  const char *const arguments[] = {"run", case_path, "-o", alone, "--quiet", "--resume", "--json", NULL};
  char fields[700];
  (void)snprintf(fields, sizeof fields, "%s/fields.h5", alone);
  struct stat before, after;
  ck_assert_int_eq(stat(fields, &before), 0);
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  ck_assert_str_eq(r.out, file);
  ck_assert_str_eq(r.err, "");
  ck_assert_int_eq(stat(fields, &after), 0);
  ck_assert(before.st_ino == after.st_ino && before.st_mtim.tv_sec == after.st_mtim.tv_sec &&
            before.st_mtim.tv_nsec == after.st_mtim.tv_nsec); /* it was not computed again */
  program_release(&r);
  free(file);
}
END_TEST

/* ------------------------------------------------------------------------------------------------ faults */

/* Copies the finished results, so that a fault has something to leave untouched. */
static void copy_finished(void)
{
  char command[2048];
  (void)snprintf(command, sizeof command, "cp -r '%s'/. '%s'", alone, other);
  ck_assert_int_eq(system(command), 0);
}

static void assert_earlier_results_untouched(void)
{
  static const char *const names[] = {"summary.json", "summary.txt", "fields.h5", "fields.xdmf", "series.csv", "report.html", "log.txt", "case.yaml"};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    size_t num_a = 0, num_b = 0;
    char *a = program_read(alone, names[i], &num_a), *b = program_read(other, names[i], &num_b);
    ck_assert_msg(a && b && num_a == num_b && memcmp(a, b, num_a) == 0, "%s was touched", names[i]);
    free(a);
    free(b);
  }
}

static void assert_one_message(program_result *r, int exit_code, const char *what, const char *advice)
{
  ck_assert_msg(r->exit_code == exit_code, "exit %d, signal %d: %s", r->exit_code, r->signal_number, r->err);
  const char *end = strchr(r->err, '\n');
  ck_assert_msg(end && end[1] == '\0', "not one line: %s", r->err);
  ck_assert_msg(strstr(r->err, what) && strstr(r->err, advice), "%s", r->err);
  ck_assert_str_eq(r->out, "");
  program_release(r);
}

static const size_t limits[] = {1000, 20000, 60000}; /* bytes: at the start, in the middle, near the end of the fields */
START_TEST(a_file_that_may_not_grow_is_one_message)
{
  copy_finished();
  const program_wishes wishes = {.file_limit = limits[_i]};
  program_result r = run_into(other, NULL, &wishes);
  assert_one_message(&r, 1, other, "too large");
  assert_earlier_results_untouched();
}
END_TEST

/* A real full disk, where this user may mount one in memory. */
START_TEST(a_full_disk_is_one_message)
{
  char command[1024];
  (void)snprintf(command, sizeof command, "mount -t tmpfs -o size=96k none '%s' 2>/dev/null", other);
  if (system(command) != 0) {
    (void)printf("a_full_disk_is_one_message: no right to mount here; the limit on file size stands for it\n");
    return;
  }
  program_result r = run_into(other, NULL, NULL);
  (void)snprintf(command, sizeof command, "umount '%s'", other);
  ck_assert_int_eq(system(command), 0);
  assert_one_message(&r, 1, other, "No space left on device; free some space");
}
END_TEST

START_TEST(a_directory_that_cannot_be_made_is_one_message)
{
  program_result r = run_into("/proc/lastwater", NULL, NULL);
  assert_one_message(&r, 1, "/proc/lastwater", ";");
}
END_TEST

START_TEST(results_of_another_case_are_refused)
{
  copy_finished();
  const char *const arguments[] = {"run", case_path, "-o", other, "--quiet", "--set", "bodies.water.temperature=7 C", NULL};
  program_result r = program_run(arguments, NULL);
  assert_one_message(&r, 2, "another case", "-o DIR");
  assert_earlier_results_untouched();
}
END_TEST

/* Earlier results, and beside them a run killed in the middle. */
static void kill_in_the_middle(void)
{
  char checkpoint[700];
  copy_finished();
  (void)snprintf(checkpoint, sizeof checkpoint, "%s/checkpoint.h5", other);
  const program_wishes wishes = {.kill_when_exists = checkpoint, .kill_signal = SIGKILL};
  program_result r = run_into(other, NULL, &wishes);
  ck_assert_int_eq(r.signal_number, SIGKILL);
  program_release(&r);
}

static const char *const cut[] = {"fields.part.h5", "checkpoint.h5"};
START_TEST(a_file_cut_short_is_one_message)
{
  char path[700];
  size_t size = 0;
  kill_in_the_middle();
  (void)snprintf(path, sizeof path, "%s/%s", other, cut[_i]);
  free(program_read(other, cut[_i], &size));
  ck_assert_int_eq(truncate(path, (off_t)(size / 2)), 0);
  program_result r = run_into(other, "--resume", NULL);
  assert_one_message(&r, 1, "cut short", "without --resume");
  assert_earlier_results_untouched();
  must_succeed(other, NULL); /* as the message says */
  assert_same(other);
}
END_TEST

int main(void)
{
  run_alone();
  Suite *suite = suite_create("resume");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_loop_test(tcase, killed_at_random_moments_and_resumed_it_ends_in_the_same_bits, 0, getenv("LASTWATER_BRIEF") ? 1 : 2);
  tcase_add_test(tcase, killed_while_the_results_are_written_it_resumes);
  tcase_add_test(tcase, killed_by_bdf_too_it_ends_in_the_same_bits);
  if (!getenv("LASTWATER_BRIEF")) { /* under sanitizers: every other test runs with one thread, and test_commands reruns a resolved case */
    tcase_add_test(tcase, one_thread_gives_the_same_bits);
    tcase_add_test(tcase, the_resolved_case_reruns_to_the_same_bits);
  }
  tcase_add_test(tcase, an_interrupt_ends_with_130_and_can_be_resumed);
  tcase_add_test(tcase, the_json_on_stdout_is_the_summary_and_resume_of_a_done_run_says_it_again);
  tcase_add_loop_test(tcase, a_file_that_may_not_grow_is_one_message, 0, 3);
  tcase_add_test(tcase, a_full_disk_is_one_message);
  tcase_add_test(tcase, a_directory_that_cannot_be_made_is_one_message);
  tcase_add_test(tcase, results_of_another_case_are_refused);
  tcase_add_loop_test(tcase, a_file_cut_short_is_one_message, 0, 2);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  program_remove(home);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
