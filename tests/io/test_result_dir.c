/* The directory of results: its name, whose results it holds, who writes to it. */
#include "io/result_dir.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "scratch.h"

static char dir[SCRATCH_PATH], path[WHOLE_FILE_PATH];
static message msg;

static void set_up(void)
{
  scratch_create(dir);
  msg.text[0] = '\0';
  ck_assert_int_eq(whole_file_join(path, dir, "drum.result", &msg), STATUS_OK);
}

static void tear_down(void)
{
  scratch_remove(dir);
}

START_TEST(the_name_stands_beside_the_case_or_is_the_one_asked_for)
{
  static const struct {
    const char *case_path, *asked, *want;
  } names[] = {{"rigs/drum.yaml", NULL, "rigs/drum.result"}, {"drum.yml", "", "drum.result"},    {"./a.b/drum", NULL, "./a.b/drum.result"},
               {"drum.case", NULL, "drum.case.result"},      {"drum.yaml", "out/x", "out/x"},    {"/x.yaml/drum", NULL, "/x.yaml/drum.result"}};
  for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
    char have[WHOLE_FILE_PATH];
    ck_assert_int_eq(result_dir_name(have, names[i].case_path, names[i].asked, &msg), STATUS_OK);
    ck_assert_str_eq(have, names[i].want);
  }
}
END_TEST

START_TEST(a_fresh_directory_is_made_and_left_empty)
{
  int lock = -1;
  ck_assert_int_eq(result_dir_claim(path, "case: a\n", &lock, &msg), STATUS_OK);
  ck_assert_int_ge(lock, 0);
  ck_assert_uint_eq(scratch_num_entries(path), 0);
  result_dir_release(&lock);
  ck_assert_int_eq(lock, -1);
}
END_TEST

START_TEST(results_of_the_same_case_are_welcome_and_of_another_refused)
{
  int lock = -1;
  ck_assert_int_eq(result_dir_claim(path, "case: a\n", &lock, &msg), STATUS_OK);
  result_dir_release(&lock);
  scratch_write(path, RESULT_DIR_CASE, "case: a\n", 8);
  scratch_write(path, "summary.json", "{}", 2);
  ck_assert_int_eq(result_dir_claim(path, "case: a\n", &lock, &msg), STATUS_OK);
  result_dir_release(&lock);
  ck_assert_int_eq(result_dir_claim(path, "case: b\n", &lock, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(lock, -1);
  ck_assert_msg(strstr(msg.text, path) && strstr(msg.text, "another case") && strstr(msg.text, "-o DIR"), "%s", msg.text);
  ck_assert_uint_eq(scratch_num_entries(path), 2);
}
END_TEST

START_TEST(results_without_their_case_are_refused)
{
  int lock = -1;
  scratch_write(dir, "fields.h5", "x", 1);
  ck_assert_int_eq(result_dir_claim(dir, "case: a\n", &lock, &msg), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(msg.text, "fields.h5") && strstr(msg.text, RESULT_DIR_CASE), "%s", msg.text);
}
END_TEST

START_TEST(other_people_s_files_do_not_matter)
{
  int lock = -1;
  scratch_write(dir, "notes.txt", "x", 1);
  ck_assert_int_eq(result_dir_claim(dir, "case: a\n", &lock, &msg), STATUS_OK);
  result_dir_release(&lock);
}
END_TEST

START_TEST(a_directory_in_use_is_refused_until_it_is_released)
{
  int lock = -1;
  ck_assert_int_eq(result_dir_claim(path, "case: a\n", &lock, &msg), STATUS_OK);
  const pid_t other = fork();
  ck_assert_int_ge(other, 0);
  if (other == 0) {
    int second = -1;
    const status code = result_dir_claim(path, "case: a\n", &second, &msg);
    _exit(code == STATUS_BAD_INPUT && strstr(msg.text, "another run") ? 0 : 1);
  }
  int how = -1;
  ck_assert_int_eq(waitpid(other, &how, 0), other);
  ck_assert_int_eq(how, 0);
  result_dir_release(&lock);
  ck_assert_int_eq(result_dir_claim(path, "case: a\n", &lock, &msg), STATUS_OK);
  result_dir_release(&lock);
}
END_TEST

START_TEST(what_cannot_be_made_is_told)
{
  int lock = -1;
  scratch_write(dir, "file", "x", 1);
  ck_assert_int_eq(whole_file_join(path, dir, "file", &msg), STATUS_OK);
  ck_assert_int_eq(result_dir_claim(path, "case: a\n", &lock, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, path) != NULL, "%s", msg.text);
  ck_assert_int_eq(whole_file_join(path, dir, "nowhere/deeper", &msg), STATUS_OK);
  ck_assert_int_eq(result_dir_claim(path, "case: a\n", &lock, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "nowhere/deeper: No such file") != NULL, "%s", msg.text);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("result_dir");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, the_name_stands_beside_the_case_or_is_the_one_asked_for);
  tcase_add_test(tcase, a_fresh_directory_is_made_and_left_empty);
  tcase_add_test(tcase, results_of_the_same_case_are_welcome_and_of_another_refused);
  tcase_add_test(tcase, results_without_their_case_are_refused);
  tcase_add_test(tcase, other_people_s_files_do_not_matter);
  tcase_add_test(tcase, a_directory_in_use_is_refused_until_it_is_released);
  tcase_add_test(tcase, what_cannot_be_made_is_told);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
