/* The sentence over the stages: what it says of a release. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/summary_stages.h"

static const struct { const char *ended_by; double time, lost; const char *says; } releases[] = {
    {"released", 90.0, 0.25, "loosen 1 min 30 s, 0.25 kg of ice lost."},
    {"time limit", NAN, 0.25, "loosen 1 min 30 s (time limit), not released."},
    {"bath lets go", NAN, 0.0, "loosen 1 min 30 s."},
    {"time", NAN, 0.25, "loosen 1 min 30 s, 0.25 kg of ice lost."}};
START_TEST(a_release_failed_only_when_it_met_its_limit)
{
  stage_result stages[2] = {{.name = "freeze", .kind = STAGE_FREEZE, .end_at = 3600.0, .ended_by = "frozen"},
                            {.name = "loosen", .kind = STAGE_RELEASE, .start_at = 3600.0, .end_at = 3690.0}};
  (void)strcpy(stages[1].ended_by, releases[_i].ended_by);
  stages[1].release = (release_result){.present = true, .time = releases[_i].time, .ice_lost = releases[_i].lost};
  const results res = {.num_stages = 2, .stages = stages};
  char text[SUMMARY_STAGES_TEXT];
  summary_stages_tell(&res, text);
  const char *told = strstr(text, "loosen");
  ck_assert_ptr_nonnull(told);
  ck_assert_str_eq(told, releases[_i].says);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("summary_stages");
  TCase *t = tcase_create("release");
  tcase_add_loop_test(t, a_release_failed_only_when_it_met_its_limit, 0, sizeof releases / sizeof *releases);
  suite_add_tcase(suite, t);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
