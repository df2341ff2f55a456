/* What a run will take: what was measured comes out within a factor of three, and what does not fit the memory is seen, with what would. */
#include <check.h>
#include <math.h>

#include "io/run_cost.h"

/* Runs on one core of a shared machine, whole program, pictures included. */
static const struct {
  run_cost_rig rig;
  double cells, seconds, megabytes;
} measured[] = {
    {{false, false, false}, 20358, 2.47, 49}, {{false, false, false}, 79856, 6.90, 82}, {{false, true, false}, 12064, 5.24, 46},
    {{false, true, false}, 35074, 9.3, 65},   {{false, true, true}, 38304, 19.4, 105},  {{true, true, true}, 11e3, 4.8, 81},       {{true, true, true}, 39e3, 13, 93},
};

START_TEST(estimate_is_good_to_a_factor_of_three)
{
  const double time = run_cost_duration(&measured[_i].rig, measured[_i].cells) / measured[_i].seconds;
  const double memory = run_cost_memory(&measured[_i].rig, measured[_i].cells) / 1e6 / measured[_i].megabytes;
  ck_assert_msg(time > 1.0 / 3 && time < 3, "%g times the time", time);
  ck_assert_msg(memory > 1.0 / 3 && memory < 3, "%g times the memory", memory);
}
END_TEST

START_TEST(what_does_not_fit_is_told_with_what_would)
{
  const run_cost_rig rig = {false, true, true};
  const double small = 256e6; /* bytes */
  double most = 0;
  ck_assert(!run_cost_fits(&rig, 1e6, small, &most));
  ck_assert_double_gt(most, 1e4);
  ck_assert_double_lt(run_cost_memory(&rig, most), small);
  ck_assert(run_cost_fits(&rig, most, small, &most));
  ck_assert(run_cost_fits(&rig, 5e6, INFINITY, &most));
  ck_assert(!run_cost_fits(&rig, 1, 1e6, &most));
  ck_assert_double_gt(run_cost_have(), 1e8);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("run_cost");
  TCase *c = tcase_create("cost");
  tcase_add_loop_test(c, estimate_is_good_to_a_factor_of_three, 0, sizeof measured / sizeof *measured);
  tcase_add_test(c, what_does_not_fit_is_told_with_what_would);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
