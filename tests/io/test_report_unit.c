/* What the end of a key of the summary says of its unit. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "io/report_unit.h"

static const struct { const char *path, *unit; quantity_kind kind; } keys[] = {
    {"freeze.time_s", "s", QUANTITY_TIME},
    {"freeze.marks_s.0.5", "s", QUANTITY_TIME},
    {"plant.evaporating_C_min", "degC", QUANTITY_TEMPERATURE},
    {"plant.electricity_per_ice_J_per_kg", "J/kg", QUANTITY_NUMBER},
    {"plant.running_current_A", "A", QUANTITY_NUMBER},
    {"clear.growth_m_per_s.0.3", "m/s", QUANTITY_NUMBER},
    {"clear.largest_piece_m.1", "m", QUANTITY_LENGTH},
    {"pockets.0.mass_kg", "kg", QUANTITY_MASS},
    {"bath.ice_fraction_mean", "1", QUANTITY_SHARE},
    {"plant.cop", "1", QUANTITY_NUMBER},
};

START_TEST(the_end_of_a_key_is_its_unit)
{
  const report_unit u = report_unit_of(keys[_i].path);
  ck_assert_str_eq(u.unit, keys[_i].unit);
  ck_assert_int_eq(u.kind, keys[_i].kind);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("report_unit");
  TCase *all = tcase_create("all");
  tcase_add_loop_test(all, the_end_of_a_key_is_its_unit, 0, sizeof keys / sizeof *keys);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
