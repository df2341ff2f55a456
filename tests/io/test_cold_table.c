/* The ledger as people read it, against sums by hand. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/cold_table.h"
#include "io/whole_file.h"

/* A coil takes 3.6 MJ; 0.9 MJ leak in; water gives up 2.5 MJ, brine 0.7 MJ; foam, warmed by 0.5 MJ, had cold in store. 3.6 + 0.5 = 0.9 + 2.5 + 0.7. */
static ledger_entry entries[] = {{"coil", -3.6e6, 0.0}, {"tub to room", 0.9e6, 0.0}, {"stored in water", -2.5e6, -1.6e6}, {"stored in brine", -0.7e6, 0.0},
                                 {"stored in foam", 0.5e6, 0.0}};
static heat_ledger ledger = {.num = 5, .entries = entries, .num_paths = 2, .residual_relative = 1e-14};

START_TEST(cold_comes_and_goes_with_shares_and_watts)
{
  cold_table t;
  ck_assert_int_eq(cold_table_make(&t, &ledger, 1000.0, NULL), STATUS_OK);
  ck_assert_uint_eq(t.num_from, 2);
  ck_assert_uint_eq(t.num_into, 3);
  ck_assert_double_eq(t.total, 4.1e6);
  ck_assert_str_eq(t.from[0].name, "coil");
  ck_assert_str_eq(t.from[1].name, "stored in foam");
  ck_assert_str_eq(t.into[0].name, "stored in water");
  ck_assert_str_eq(t.into[1].name, "tub to room");
  ck_assert_double_eq_tol(t.from[0].share, 3.6 / 4.1, 1e-12);
  ck_assert_double_eq_tol(t.into[2].share, 0.7 / 4.1, 1e-12);
  ck_assert_double_eq_tol(t.into[0].watts, 2500.0, 1e-9);
  ck_assert_double_eq(t.into[0].latent, 1.6e6);
  cold_table_release(&t);
  ck_assert_int_eq(cold_table_make(&t, &ledger, 0.0, NULL), STATUS_OK);
  ck_assert(isnan(t.into[0].watts));
  cold_table_release(&t);
}
END_TEST

START_TEST(file_holds_the_run_and_each_stage)
{
  stage_result stages[3] = {{.name = "cool", .start_at = 0.0, .end_at = 400.0, .ledger = ledger}, {.name = "freeze", .start_at = 400.0, .end_at = 1000.0, .ledger = ledger},
                            {.name = "pour", .start_at = 1000.0, .end_at = 1000.0, .ledger = ledger}};
  const results res = {.num_stages = 3, .stages = stages, .ledger = ledger};
  message msg = {""};
  char *text = NULL;
  ck_assert_int_eq(cold_table_write("/tmp/lastwater_cold_table.txt", &res, &msg), STATUS_OK);
  ck_assert_int_eq(whole_file_read("/tmp/lastwater_cold_table.txt", 1 << 20, &text, NULL, &msg), STATUS_OK);
  ck_assert_ptr_nonnull(strstr(text, "the whole run, 0.28 h"));
  ck_assert_ptr_nonnull(strstr(text, "Stage freeze, 0.17 h"));
  ck_assert_ptr_nonnull(strstr(text, "3600000      1.000   87.8 %     3600.0"));
  ck_assert_ptr_nonnull(strstr(text, "of it latent (ice)                            1600000      0.444   39.0 %"));
  ck_assert_ptr_nonnull(strstr(text, "of it sensible                                 900000      0.250   22.0 %"));
  ck_assert_ptr_nonnull(strstr(text, "Stage pour, 0.00 h"));
  ck_assert_ptr_nonnull(strstr(text, "3600000      1.000   87.8 %          -")); /* at once: no mean watts */
  ck_assert_ptr_null(strstr(text, "nan"));
  free(text);
  ck_assert_int_eq(remove("/tmp/lastwater_cold_table.txt"), 0);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("cold_table");
  TCase *t = tcase_create("cold_table");
  tcase_add_test(t, cold_comes_and_goes_with_shares_and_watts);
  tcase_add_test(t, file_holds_the_run_and_each_stage);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
