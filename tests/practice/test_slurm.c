/* A sweep handed to a real Slurm of one node that the test starts and stops: cancelled, resumed, gathered, the same table as without. */
#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "program.h"

enum { PATH = 512, NOT_HERE = 77 };

static char dir[PATH], node[2 * PATH];
static int port;

static int shell(const char *command)
{
  const int how = system(command);
  return WIFEXITED(how) ? WEXITSTATUS(how) : -1;
}

static int slurm(const char *what)
{
  char command[8 * PATH];
  (void)snprintf(command, sizeof command, "'%s/../practice/one_node_slurm' '%s' %d %s", TEST_DATA, node, port, what);
  return shell(command);
}

static program_result sweep(const char *into, const char *a, const char *b, const char *c)
{
  static char plan[2 * PATH], out[2 * PATH];
  (void)snprintf(plan, sizeof plan, "%s/plan.yaml", dir);
  (void)snprintf(out, sizeof out, "%s/%s", dir, into);
  const char *const arguments[] = {"sweep", plan, "-o", out, a, b, c, NULL};
  return program_run(arguments, NULL);
}

static void wait_for_queue(void)
{
  ck_assert_int_eq(shell("for i in $(seq 600); do [ -z \"$(squeue -h)\" ] && exit 0; sleep 0.2; done; exit 1"), 0);
}

static char *table_of(const char *into)
{
  char path[2 * PATH];
  (void)snprintf(path, sizeof path, "%s/%s", dir, into);
  return program_read(path, "results.csv", NULL);
}

/* Lines in all journals together, without their heads. */
static int lines_of(const char *into)
{
  char command[4 * PATH], path[2 * PATH];
  (void)snprintf(command, sizeof command, "cat '%s/%s'/ledger/*.journal | grep -c -E ' (done|failed) ' >'%s/count'", dir, into, dir);
  (void)shell(command);
  (void)snprintf(path, sizeof path, "%s", dir);
  char *text = program_read(path, "count", NULL);
  const int n = text ? atoi(text) : -1;
  free(text);
  return n;
}

START_TEST(a_cancelled_array_is_resumed_and_gathers_to_the_same_table)
{
  program_result r = sweep("plain", NULL, NULL, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  r = sweep("array", "--slurm", "--tasks=3", NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  ck_assert_ptr_nonnull(strstr(r.out, "24 cases in 3 tasks"));
  program_release(&r);
  r = sweep("array", "--slurm", "--resume", NULL); /* while it runs */
  ck_assert_msg(r.exit_code == 2 && strstr(r.err, "still in the queue"), "%s", r.err);
  program_release(&r);
  ck_assert_int_eq(shell("for i in $(seq 300); do squeue -h -t R | grep -q . && break; sleep 0.1; done; sleep 0.7; scancel -n lastwater"), 0);
  wait_for_queue();
  const int before = lines_of("array");
  ck_assert_int_ge(before, 0);
  r = sweep("array", "--resume", "--slurm", "--tasks=2");
  ck_assert_msg(r.exit_code == 0 || before == 24, "%s", r.err);
  program_release(&r);
  wait_for_queue();
  ck_assert_int_eq(lines_of("array"), 24); /* one line a case: nothing twice, nothing missing */
  r = sweep("array", "--resume", NULL, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  ck_assert_ptr_nonnull(strstr(r.out, "24 done, 0 failed, 0 to do"));
  program_release(&r);
  ck_assert_int_eq(lines_of("array"), 24); /* gathering ran nothing */
  char *wanted = table_of("plain"), *got = table_of("array");
  ck_assert_ptr_nonnull(got);
  ck_assert_str_eq(got, wanted);
  free(wanted);
  free(got);
}
END_TEST

static void prepare(void)
{
  char *text = program_read(TEST_DATA, "thimble.yaml", NULL);
  program_write(dir, "case.yaml", text);
  program_write(dir, "plan.yaml", "case: case.yaml\ndesign: grid\nvary:\n  - {key: room.film, values: [20 W/m2K, 40 W/m2K, 60 W/m2K, 90 W/m2K]}\n"
                                  "  - {key: parts.cup.wall, from: 1 mm, to: 3 mm, steps: 3}\n  - {key: bodies.water.motion, values: [still, none]}\n"
                                  "report: [freeze.time_s]\ngoals: [{path: freeze.time_s, best: least}]\n");
  free(text);
}

int main(void)
{
  program_directory(dir);
  (void)snprintf(node, sizeof node, "%s/slurm", dir);
  port = 20000 + (int)(getpid() % 15000) * 2;
  prepare();
  const int started = slurm("start");
  if (started == NOT_HERE) {
    (void)printf("Slurm cannot be started here (it needs root, slurm-wlm and munge): nothing was tested\n");
    program_remove(dir);
    return EXIT_SUCCESS;
  }
  int failed = started != 0;
  if (!failed) {
    char conf[3 * PATH];
    (void)snprintf(conf, sizeof conf, "%s/slurm.conf", node);
    (void)setenv("SLURM_CONF", conf, 1);
    Suite *suite = suite_create("slurm");
    TCase *all = tcase_create("slurm");
    tcase_add_test(all, a_cancelled_array_is_resumed_and_gathers_to_the_same_table);
    suite_add_tcase(suite, all);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    failed = srunner_ntests_failed(runner);
    srunner_free(runner);
  } else {
    (void)printf("Slurm did not start\n");
  }
  (void)slurm("stop");
  program_remove(dir);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
