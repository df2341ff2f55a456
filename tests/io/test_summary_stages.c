/* The sentence over the stages: what it says of a release. */
#include <check.h>
#include <math.h>
#include <stdio.h>
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

/* What is done at once is told by when, a freeze by when it is solid; in hours and minutes of the run. */
START_TEST(a_hand_is_called_by_the_clock_of_the_run)
{
  stage_result stages[3] = {{.name = "pour", .kind = STAGE_FILL, .ended_by = "done"},
                            {.name = "freeze", .kind = STAGE_FREEZE, .end_at = 5400.0, .ended_by = "frozen", .freeze = {.present = true, .complete = true, .time = 5400.0}},
                            {.name = "draw", .kind = STAGE_DRAW, .start_at = 5400.0, .end_at = 5400.0, .ended_by = "done"}};
  const results res = {.num_stages = 3, .stages = stages};
  char text[SUMMARY_STAGES_TEXT];
  summary_stages_tell(&res, text);
  ck_assert_str_eq(text, "Stages: pour at the start; freeze 1 h 30 min, solid at 1 h 30 min; draw at 1 h 30 min.");
}
END_TEST

/* Whatever their number, the sentence ends, and says how many it left out. */
START_TEST(many_stages_are_counted_not_cut)
{
  enum { NUM = 90 };
  stage_result *stages = calloc(NUM, sizeof *stages);
  ck_assert_ptr_nonnull(stages);
  for (int i = 0; i < NUM; i++) {
    memset(stages[i].name, 'a', RIG_NAME - 1);
    stages[i].end_at = 3600.0 * (i + 1);
    stages[i].start_at = 3600.0 * i;
    (void)strcpy(stages[i].ended_by, "time limit");
    stages[i].kind = STAGE_MELT;
    stages[i].piece = (piece_result){.present = true, .time = NAN, .mass_start = 1e4, .mass_end = 1e4, .crack_index = 2.0, .warmest_start = -10.0};
  }
  const results res = {.num_stages = NUM, .stages = stages};
  char text[SUMMARY_STAGES_TEXT];
  summary_stages_tell(&res, text);
  const char *more = strrchr(text, ';');
  size_t told = 0;
  for (const char *at = strstr(text, "(time limit)"); at; at = strstr(at + 1, "(time limit)"))
    told++;
  int left = 0;
  ck_assert_int_eq(sscanf(more, "; %d more in summary.json.", &left), 1);
  ck_assert_uint_eq(told + (size_t)left, NUM);
  ck_assert_int_eq(text[strlen(text) - 1], '.');
  free(stages);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("summary_stages");
  TCase *t = tcase_create("release");
  tcase_add_loop_test(t, a_release_failed_only_when_it_met_its_limit, 0, sizeof releases / sizeof *releases);
  tcase_add_test(t, a_hand_is_called_by_the_clock_of_the_run);
  tcase_add_test(t, many_stages_are_counted_not_cut);
  suite_add_tcase(suite, t);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
