/* Marks in a growing file: whatever happens to the file after the mark, it comes back byte for byte. */
#include "io/file_mark.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/whole_file.h"
#include "scratch.h"

static char dir[SCRATCH_PATH], path[WHOLE_FILE_PATH];
static unsigned char before[1000];
static message msg;
static file_mark mark;

static void set_up(void)
{
  scratch_create(dir);
  msg.text[0] = '\0';
  ck_assert_int_eq(whole_file_join(path, dir, "fields", &msg), STATUS_OK);
  for (size_t i = 0; i < sizeof before; i++)
    before[i] = (unsigned char)(i * 37 + i / 11);
  scratch_write(dir, "fields", before, sizeof before);
}

static void tear_down(void)
{
  file_mark_release(&mark);
  scratch_remove(dir);
}

START_TEST(changed_and_lengthened_file_comes_back)
{
  file_range unchanging[] = {{700, 200}, {100, 50}, {150, 250}}; /* in any order, side by side */
  ck_assert_int_eq(file_mark_take(&mark, path, unchanging, 3, &msg), STATUS_OK);
  ck_assert_uint_eq(mark.num_bytes, 1000 - 500);
  ck_assert_uint_eq(mark.num_pieces, 3);
  unsigned char after[3000];
  memset(after, 0xAA, sizeof after);
  memcpy(after + 100, before + 100, 300); /* what was promised not to change */
  memcpy(after + 700, before + 700, 200);
  scratch_write(dir, "fields", after, sizeof after);
  ck_assert_int_eq(file_mark_return(&mark, path, &msg), STATUS_OK);
  size_t num = 0;
  char *have = scratch_read(dir, "fields", &num);
  ck_assert_uint_eq(num, sizeof before);
  ck_assert_mem_eq(have, before, sizeof before);
  free(have);
}
END_TEST

START_TEST(without_unchanging_ranges_the_whole_is_kept)
{
  ck_assert_int_eq(file_mark_take(&mark, path, NULL, 0, &msg), STATUS_OK);
  ck_assert_uint_eq(mark.num_bytes, sizeof before);
  ck_assert_mem_eq(mark.bytes, before, sizeof before);
}
END_TEST

START_TEST(a_range_to_the_very_end_leaves_no_piece_behind_it)
{
  file_range unchanging[] = {{10, 990}};
  ck_assert_int_eq(file_mark_take(&mark, path, unchanging, 1, &msg), STATUS_OK);
  ck_assert_uint_eq(mark.num_pieces, 1);
  ck_assert_uint_eq(mark.num_bytes, 10);
}
END_TEST

START_TEST(a_file_cut_short_is_refused_and_not_touched)
{
  ck_assert_int_eq(file_mark_take(&mark, path, NULL, 0, &msg), STATUS_OK);
  scratch_write(dir, "fields", "short", 5);
  ck_assert_int_eq(file_mark_return(&mark, path, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, path) && strstr(msg.text, "cut short") && strstr(msg.text, "without --resume"), "%s", msg.text);
  char *have = scratch_read(dir, "fields", NULL);
  ck_assert_str_eq(have, "short");
  free(have);
}
END_TEST

START_TEST(a_missing_file_is_refused)
{
  ck_assert_int_eq(file_mark_take(&mark, path, NULL, 0, &msg), STATUS_OK);
  ck_assert_int_eq(unlink(path), 0);
  ck_assert_int_eq(file_mark_return(&mark, path, &msg), STATUS_FILE);
  ck_assert_ptr_nonnull(strstr(msg.text, path));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("file_mark");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, changed_and_lengthened_file_comes_back);
  tcase_add_test(tcase, without_unchanging_ranges_the_whole_is_kept);
  tcase_add_test(tcase, a_range_to_the_very_end_leaves_no_piece_behind_it);
  tcase_add_test(tcase, a_file_cut_short_is_refused_and_not_touched);
  tcase_add_test(tcase, a_missing_file_is_refused);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
