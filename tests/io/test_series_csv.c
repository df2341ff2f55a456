/* series.csv: headings with units, RFC 4180 quoting and line ends, empty where there is no value. */
#include "io/series_csv.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/whole_file.h"
#include "scratch.h"

static char dir[SCRATCH_PATH], path[WHOLE_FILE_PATH], names[3][64], units[3][16];
static double values[6] = {0.0, NAN, -18.25, 300.0, 1.0 / 3.0, 1e-7};
static time_series series;
static message msg;

static void set_up(void)
{
  scratch_create(dir);
  ck_assert_int_eq(whole_file_join(path, dir, SERIES_CSV_NAME, &msg), STATUS_OK);
  (void)snprintf(names[0], sizeof names[0], "time");
  (void)snprintf(names[1], sizeof names[1], "drum.frozen_share");
  (void)snprintf(names[2], sizeof names[2], "probe.core, \"low\"");
  (void)snprintf(units[0], sizeof units[0], "s");
  (void)snprintf(units[1], sizeof units[1], "1");
  (void)snprintf(units[2], sizeof units[2], "degC");
  series = (time_series){.num_columns = 3, .num_rows = 2, .capacity = 2, .name = names, .unit = units, .values = values};
}

static void tear_down(void)
{
  scratch_remove(dir);
}

START_TEST(rows_are_what_a_spreadsheet_takes)
{
  ck_assert_int_eq(series_csv_write(path, &series, &msg), STATUS_OK);
  char *text = scratch_read(dir, SERIES_CSV_NAME, NULL);
  ck_assert_str_eq(text, "time_s,drum.frozen_share,\"probe.core, \"\"low\"\"_degC\"\r\n0,,-18.25\r\n300,0.333333333333,1e-07\r\n");
  free(text);
}
END_TEST

START_TEST(a_series_without_rows_is_its_heading)
{
  series.num_rows = 0;
  series.num_columns = 1;
  ck_assert_int_eq(series_csv_write(path, &series, &msg), STATUS_OK);
  char *text = scratch_read(dir, SERIES_CSV_NAME, NULL);
  ck_assert_str_eq(text, "time_s\r\n");
  free(text);
}
END_TEST

START_TEST(a_full_disk_is_told_and_leaves_the_earlier_series)
{
  char temporary[WHOLE_FILE_PATH + 8];
  scratch_write(dir, SERIES_CSV_NAME, "earlier", 7);
  (void)snprintf(temporary, sizeof temporary, "%s.tmp", path);
  ck_assert_int_eq(symlink("/dev/full", temporary), 0);
  ck_assert_int_eq(series_csv_write(path, &series, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "series.csv: No space left") != NULL, "%s", msg.text);
  char *text = scratch_read(dir, SERIES_CSV_NAME, NULL);
  ck_assert_str_eq(text, "earlier");
  free(text);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("series_csv");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, rows_are_what_a_spreadsheet_takes);
  tcase_add_test(tcase, a_series_without_rows_is_its_heading);
  tcase_add_test(tcase, a_full_disk_is_told_and_leaves_the_earlier_series);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
