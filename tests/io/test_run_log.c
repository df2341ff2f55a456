/* The log: there from the first line on, its final name only at the end, kept over a resume. */
#include "io/run_log.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "scratch.h"

static char dir[SCRATCH_PATH];
static message msg;

static void set_up(void)
{
  scratch_create(dir);
  msg.text[0] = '\0';
}

static void tear_down(void)
{
  scratch_remove(dir);
}

START_TEST(a_line_is_there_at_once_and_the_name_at_the_end)
{
  run_log *l = NULL;
  ck_assert_int_eq(run_log_open(&l, dir, false, &msg), STATUS_OK);
  run_log_line(l, "%d cells", 12);
  char *text = scratch_read(dir, RUN_LOG_PART, NULL);
  ck_assert_str_eq(text, "12 cells\n");
  free(text);
  ck_assert(!scratch_has(dir, RUN_LOG_NAME));
  ck_assert_int_eq(run_log_finish(&l, &msg), STATUS_OK);
  ck_assert_ptr_null(l);
  ck_assert(scratch_has(dir, RUN_LOG_NAME) && !scratch_has(dir, RUN_LOG_PART));
}
END_TEST

START_TEST(a_resumed_run_goes_on_in_it_and_a_fresh_one_does_not)
{
  run_log *l = NULL;
  scratch_write(dir, RUN_LOG_PART, "first\n", 6);
  ck_assert_int_eq(run_log_open(&l, dir, true, &msg), STATUS_OK);
  run_log_line(l, "second");
  run_log_close(&l);
  char *text = scratch_read(dir, RUN_LOG_PART, NULL);
  ck_assert_str_eq(text, "first\nsecond\n");
  free(text);
  ck_assert_int_eq(run_log_open(&l, dir, false, &msg), STATUS_OK);
  run_log_close(&l);
  text = scratch_read(dir, RUN_LOG_PART, NULL);
  ck_assert_str_eq(text, "");
  free(text);
}
END_TEST

START_TEST(a_full_disk_is_told_at_the_end)
{
  run_log *l = NULL;
  char path[SCRATCH_PATH + 32];
  (void)snprintf(path, sizeof path, "%s/%s", dir, RUN_LOG_PART);
  ck_assert_int_eq(symlink("/dev/full", path), 0);
  ck_assert_int_eq(run_log_open(&l, dir, false, &msg), STATUS_OK);
  run_log_line(l, "lost");
  ck_assert_int_eq(run_log_finish(&l, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "No space left") != NULL, "%s", msg.text);
  ck_assert(!scratch_has(dir, RUN_LOG_NAME));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("run_log");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, a_line_is_there_at_once_and_the_name_at_the_end);
  tcase_add_test(tcase, a_resumed_run_goes_on_in_it_and_a_fresh_one_does_not);
  tcase_add_test(tcase, a_full_disk_is_told_at_the_end);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
