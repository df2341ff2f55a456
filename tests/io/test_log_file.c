/* Logs as thermometers and spreadsheets write them, and what is refused where. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/log_file.h"

static quantity_system *units;

static void set_up(void) { ck_assert_int_eq(quantity_system_create(&units, NULL), STATUS_OK); }
static void tear_down(void) { quantity_system_destroy(&units); }

static status parse(log_file *l, const char *text, char **told)
{
  fault_list *faults = NULL;
  message msg = {""};
  ck_assert_int_eq(fault_list_create(&faults, "log.csv", NULL), STATUS_OK);
  const status code = log_file_parse(l, text, strlen(text), units, faults, &msg);
  ck_assert_int_eq(fault_text(faults, told, NULL), STATUS_OK);
  fault_list_destroy(&faults);
  return code;
}

START_TEST(units_and_gaps_are_read)
{
  log_file l;
  char *told = NULL;
  ck_assert_msg(parse(&l, "\xEF\xBB\xBF# probe 7\ntime [min];core [degC];\"bath (F)\";power [W]\r\n0;8.5;32;5\r\n1.5;;14;\r\n# noon\n\n2; nan ;-;7\n", &told) == STATUS_OK, "%s", told);
  ck_assert_uint_eq(l.num_rows, 3);
  ck_assert_uint_eq(l.num_columns, 2); /* the power is no temperature */
  ck_assert_str_eq(l.name[0], "core");
  ck_assert_str_eq(l.name[1], "bath");
  ck_assert_double_eq_tol(l.time[1], 90.0, 1e-12);
  ck_assert_double_eq_tol(l.value[0], 8.5, 1e-12);
  ck_assert_double_eq_tol(l.value[3], -10.0, 1e-12); /* 14 F */
  ck_assert(isnan(l.value[2]) && isnan(l.value[4]) && isnan(l.value[5]));
  log_file_release(&l);
  free(told);
}
END_TEST

START_TEST(the_series_of_a_run_is_a_log)
{
  log_file l;
  char *told = NULL;
  ck_assert_msg(parse(&l, "time_s,probe.core_degC,coolant.temperature_degC\n0,1,2\n5,2,3\n", &told) == STATUS_OK, "%s", told);
  ck_assert_str_eq(l.name[0], "core");
  ck_assert_str_eq(l.name[1], "coolant.temperature");
  log_file_release(&l);
  free(told);
}
END_TEST

static const struct {
  const char *text, *says;
} wrong[] = {
    {"", "no column is a temperature"},
    {"core [degC],time [s]\n1,2\n", "log.csv:1:1: the first column is the time"},
    {"time [s],core\n1,2\n2,3\n", "log.csv:1:10: \"core\" has no unit"},
    {"time [kg],core [degC]\n1,2\n2,3\n", "the first column is the time"},
    {"time [s],core [W]\n1,2\n2,3\n", "no column is a temperature"},
    {"time [s],core [degC]\n1,2\n2,warm\n", "log.csv:3:3: \"warm\" is no number"},
    {"time [s];core [degC]\n1;2\n2;3,5\n", "the decimal sign is a point"},
    {"time [s],core [degC]\n1,2\n0.5,3\n", "log.csv:3:1: the times must be there and rise"},
    {"time [s],core [degC]\n1,2\n,3\n", "the times must be there and rise"},
    {"time [s],core [degC]\n1,2,9\n2,3\n", "log.csv:2:5: field 3 of a table with 2 columns"},
    {"time [s],core [degC]\n1,2\n", "at least two"},
};

START_TEST(wrong_logs_are_told_at_their_place)
{
  log_file l;
  char *told = NULL;
  ck_assert_int_eq(parse(&l, wrong[_i].text, &told), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(told, wrong[_i].says) != NULL, "\"%s\" is not said in:\n%s", wrong[_i].says, told);
  free(told);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("log_file");
  TCase *all = tcase_create("log");
  tcase_add_checked_fixture(all, set_up, tear_down);
  tcase_add_test(all, units_and_gaps_are_read);
  tcase_add_test(all, the_series_of_a_run_is_a_log);
  tcase_add_loop_test(all, wrong_logs_are_told_at_their_place, 0, (int)(sizeof wrong / sizeof *wrong));
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
