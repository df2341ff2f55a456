/* Files that are whole or absent: what stands in the directory after success and after every kind of failure. */
#define _XOPEN_SOURCE 700
#include "io/whole_file.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "scratch.h"

static char dir[SCRATCH_PATH];
static char path[WHOLE_FILE_PATH];
static message msg;

static void set_up(void)
{
  scratch_create(dir);
  msg.text[0] = '\0';
  ck_assert_int_eq(whole_file_join(path, dir, "answer.txt", &msg), STATUS_OK);
}

static void tear_down(void)
{
  scratch_remove(dir);
}

static void assert_holds(const char *want)
{
  char *have = scratch_read(dir, "answer.txt", NULL);
  ck_assert_ptr_nonnull(have);
  ck_assert_str_eq(have, want);
  free(have);
}

START_TEST(a_file_appears_only_at_commit)
{
  whole_file *f = NULL;
  ck_assert_int_eq(whole_file_open(&f, path, &msg), STATUS_OK);
  ck_assert_int_gt(fprintf(whole_file_stream(f), "solid in %d h", 19), 0);
  ck_assert(!scratch_has(dir, "answer.txt"));
  ck_assert_int_eq(whole_file_commit(&f, &msg), STATUS_OK);
  ck_assert_ptr_null(f);
  assert_holds("solid in 19 h");
  ck_assert_uint_eq(scratch_num_entries(dir), 1);
}
END_TEST

START_TEST(an_abandoned_file_leaves_the_earlier_one)
{
  ck_assert_int_eq(whole_file_write(path, "first", 5, &msg), STATUS_OK);
  whole_file *f = NULL;
  ck_assert_int_eq(whole_file_open(&f, path, &msg), STATUS_OK);
  ck_assert_int_gt(fputs("second", whole_file_stream(f)), -1);
  whole_file_abandon(&f);
  assert_holds("first");
  ck_assert_uint_eq(scratch_num_entries(dir), 1);
}
END_TEST

/* The temporary name leads to /dev/full, where every write fails as on a full disk. */
START_TEST(a_full_disk_is_told_and_leaves_the_earlier_file)
{
  ck_assert_int_eq(whole_file_write(path, "first", 5, &msg), STATUS_OK);
  char temporary[WHOLE_FILE_PATH + 8];
  (void)snprintf(temporary, sizeof temporary, "%s.tmp", path);
  ck_assert_int_eq(symlink("/dev/full", temporary), 0);
  ck_assert_int_eq(whole_file_write(path, "second", 6, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, path) && strstr(msg.text, "No space left") && strstr(msg.text, "free some space"), "%s", msg.text);
  assert_holds("first");
  ck_assert_uint_eq(scratch_num_entries(dir), 1);
}
END_TEST

START_TEST(a_limit_on_file_size_is_told_and_leaves_the_earlier_file)
{
  static char much[100000];
  ck_assert_int_eq(whole_file_write(path, "first", 5, &msg), STATUS_OK);
  scratch_limit_files(20000);
  ck_assert_int_eq(whole_file_write(path, much, sizeof much, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "too large") && strstr(msg.text, "ulimit"), "%s", msg.text);
  assert_holds("first");
  ck_assert_uint_eq(scratch_num_entries(dir), 1);
}
END_TEST

START_TEST(a_missing_directory_is_told)
{
  ck_assert_int_eq(whole_file_join(path, dir, "nowhere/answer.txt", &msg), STATUS_OK);
  ck_assert_int_eq(whole_file_write(path, "x", 1, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "nowhere/answer.txt") && strstr(msg.text, "check the path"), "%s", msg.text);
}
END_TEST

START_TEST(a_directory_that_may_not_be_written_is_told)
{
  ck_assert_int_eq(chmod(dir, 0555), 0);
  const bool root = geteuid() == 0;
  if (root)
    ck_assert_int_eq(seteuid(65534), 0); /* root may write anywhere */
  const status code = whole_file_write(path, "x", 1, &msg);
  if (root)
    ck_assert_int_eq(seteuid(0), 0);
  ck_assert_int_eq(code, STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "Permission denied") && strstr(msg.text, "-o DIR"), "%s", msg.text);
}
END_TEST

START_TEST(a_directory_in_the_place_of_the_file_is_told)
{
  ck_assert_int_eq(mkdir(path, 0777), 0);
  ck_assert_int_eq(whole_file_write(path, "x", 1, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, path) && strstr(msg.text, "directory"), "%s", msg.text);
  ck_assert_uint_eq(scratch_num_entries(dir), 1);
}
END_TEST

START_TEST(a_library_s_file_takes_its_final_name)
{
  char part[WHOLE_FILE_PATH];
  scratch_write(dir, "part", "new", 3);
  scratch_write(dir, "answer.txt", "old", 3);
  ck_assert_int_eq(whole_file_join(part, dir, "part", &msg), STATUS_OK);
  ck_assert_int_eq(whole_file_rename(part, path, &msg), STATUS_OK);
  assert_holds("new");
  ck_assert_int_eq(whole_file_rename(part, path, &msg), STATUS_FILE); /* it is gone */
  assert_holds("new");
  ck_assert_int_eq(whole_file_remove(path, &msg), STATUS_OK);
  ck_assert_int_eq(whole_file_remove(path, &msg), STATUS_OK);
  ck_assert(!whole_file_exists(path));
}
END_TEST

START_TEST(reading_has_a_bound)
{
  char *bytes = NULL;
  size_t num = 0;
  scratch_write(dir, "answer.txt", "12345\0" "678", 9);
  ck_assert_int_eq(whole_file_read(path, 9, &bytes, &num, &msg), STATUS_OK);
  ck_assert_uint_eq(num, 9);
  ck_assert_mem_eq(bytes, "12345\0" "678", 10);
  free(bytes);
  ck_assert_int_eq(whole_file_read(path, 8, &bytes, &num, &msg), STATUS_FILE);
  ck_assert_ptr_nonnull(strstr(msg.text, "8 bytes"));
}
END_TEST

START_TEST(a_path_too_long_is_refused)
{
  static char name[WHOLE_FILE_PATH];
  memset(name, 'a', sizeof name - 1);
  ck_assert_int_eq(whole_file_join(path, dir, name, &msg), STATUS_FILE);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("whole_file");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, a_file_appears_only_at_commit);
  tcase_add_test(tcase, an_abandoned_file_leaves_the_earlier_one);
  tcase_add_test(tcase, a_full_disk_is_told_and_leaves_the_earlier_file);
  tcase_add_test(tcase, a_limit_on_file_size_is_told_and_leaves_the_earlier_file);
  tcase_add_test(tcase, a_missing_directory_is_told);
  tcase_add_test(tcase, a_directory_that_may_not_be_written_is_told);
  tcase_add_test(tcase, a_directory_in_the_place_of_the_file_is_told);
  tcase_add_test(tcase, a_library_s_file_takes_its_final_name);
  tcase_add_test(tcase, reading_has_a_bound);
  tcase_add_test(tcase, a_path_too_long_is_refused);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
