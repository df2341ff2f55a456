/* The ledger keeps what was written, through torn ends, several writers and wrong owners. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/ledger.h"
#include "scratch.h"

static char dir[SCRATCH_PATH], ledger_dir[SCRATCH_PATH + 16];
enum { MINE = 0x5EED };

static void set_up(void)
{
  scratch_create(dir);
  (void)snprintf(ledger_dir, sizeof ledger_dir, "%s/ledger", dir);
}

static void tear_down(void) { scratch_remove(dir); }

static ledger *open_it(const char *journal)
{
  ledger *l = NULL;
  message msg = {""};
  ck_assert_msg(ledger_open(&l, ledger_dir, MINE, journal, &msg) == STATUS_OK, "%s", msg.text);
  return l;
}

static void write_three(void)
{
  ledger *l = open_it("main");
  ck_assert_int_eq(ledger_write(l, 11, LEDGER_DONE, 0.25, "[1.5,\"free\",null]", NULL), STATUS_OK);
  ck_assert_int_eq(ledger_write(l, 12, LEDGER_FAILED, 0.5, "the tub\nleaks", NULL), STATUS_OK);
  ck_assert_int_eq(ledger_write(l, 13, LEDGER_DONE, 1.0, "[2.5]", NULL), STATUS_OK);
  ledger_close(&l);
}

START_TEST(what_was_written_is_there_again)
{
  write_three();
  ledger *l = open_it("main");
  ck_assert_int_eq(ledger_state_of(l, 11), LEDGER_DONE);
  ck_assert_str_eq(ledger_payload(l, 11), "[1.5,\"free\",null]");
  ck_assert_int_eq(ledger_state_of(l, 12), LEDGER_FAILED);
  ck_assert_str_eq(ledger_payload(l, 12), "the tub leaks");
  ck_assert_int_eq(ledger_state_of(l, 99), LEDGER_TO_DO);
  ck_assert_ptr_null(ledger_payload(l, 99));
  ck_assert_uint_eq(ledger_num(l, LEDGER_DONE), 2);
  ck_assert_uint_eq(ledger_num(l, LEDGER_FAILED), 1);
  ck_assert_double_eq_tol(ledger_wall(l), 1.75, 1e-9);
  ledger_close(&l);
}
END_TEST

/* Cut at every byte: what stands whole before the cut counts, the rest does not, and writing goes on behind it. */
START_TEST(a_torn_end_costs_the_last_line_alone)
{
  size_t whole = 0;
  write_three();
  char *text = scratch_read(ledger_dir, "main.journal", &whole);
  ck_assert_ptr_nonnull(text);
  for (size_t cut = 0; cut <= whole; cut++) {
    size_t lines = 0;
    for (size_t i = 0; i < cut; i++)
      lines += text[i] == '\n';
    scratch_write(ledger_dir, "main.journal", text, cut);
    ledger *l = open_it("main");
    const size_t there = ledger_num(l, LEDGER_DONE) + ledger_num(l, LEDGER_FAILED);
    ck_assert_uint_eq(there, lines > 0 ? lines - 1 : 0);
    ck_assert_int_eq(ledger_write(l, 40, LEDGER_DONE, 0.0, "[]", NULL), STATUS_OK);
    ledger_close(&l);
    l = open_it("main");
    ck_assert_uint_eq(ledger_num(l, LEDGER_DONE) + ledger_num(l, LEDGER_FAILED), there + 1);
    ck_assert_int_eq(ledger_state_of(l, 40), LEDGER_DONE);
    ledger_close(&l);
  }
  free(text);
}
END_TEST

START_TEST(a_changed_letter_is_noticed)
{
  size_t n = 0;
  write_three();
  char *text = scratch_read(ledger_dir, "main.journal", &n);
  char *place = strstr(text, "[2.5]");
  ck_assert_ptr_nonnull(place);
  place[1] = '3';
  scratch_write(ledger_dir, "main.journal", text, n);
  ledger *l = open_it(NULL);
  ck_assert_int_eq(ledger_state_of(l, 13), LEDGER_TO_DO);
  ck_assert_int_eq(ledger_state_of(l, 11), LEDGER_DONE);
  ledger_close(&l);
  free(text);
}
END_TEST

START_TEST(several_writers_make_one_ledger)
{
  write_three();
  ledger *other = open_it("share-2");
  ck_assert_int_eq(ledger_state_of(other, 13), LEDGER_DONE);
  ck_assert_int_eq(ledger_write(other, 14, LEDGER_DONE, 0.0, "[4]", NULL), STATUS_OK);
  ck_assert_int_eq(ledger_write(other, 11, LEDGER_DONE, 0.0, "[7]", NULL), STATUS_OK); /* the first counts */
  ledger_close(&other);
  ledger *l = open_it(NULL);
  ck_assert_uint_eq(ledger_num(l, LEDGER_DONE), 3);
  ck_assert_uint_eq(ledger_num_twice(l), 1);
  ck_assert_str_eq(ledger_payload(l, 11), "[1.5,\"free\",null]");
  ledger_close(&l);
}
END_TEST

START_TEST(the_ledger_of_another_plan_is_refused)
{
  ledger *l = NULL;
  message msg = {""};
  write_three();
  ck_assert_int_eq(ledger_open(&l, ledger_dir, MINE + 1, "main", &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "another plan"));
  ck_assert_ptr_null(l);
}
END_TEST

START_TEST(a_full_disk_is_an_error)
{
  ledger *l = open_it("main");
  message msg = {""};
  status code = STATUS_OK;
  scratch_limit_files(400);
  for (uint64_t key = 0; key < 20 && code == STATUS_OK; key++)
    code = ledger_write(l, key, LEDGER_DONE, 0.0, "[1.2345]", &msg);
  ck_assert_int_eq(code, STATUS_FILE);
  ck_assert_ptr_nonnull(strstr(msg.text, "main.journal"));
  ledger_close(&l);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("ledger");
  TCase *all = tcase_create("ledger");
  tcase_add_checked_fixture(all, set_up, tear_down);
  tcase_add_test(all, what_was_written_is_there_again);
  tcase_add_test(all, a_torn_end_costs_the_last_line_alone);
  tcase_add_test(all, a_changed_letter_is_noticed);
  tcase_add_test(all, several_writers_make_one_ledger);
  tcase_add_test(all, the_ledger_of_another_plan_is_refused);
  tcase_add_test(all, a_full_disk_is_an_error);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
