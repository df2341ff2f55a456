/* The case told in a paragraph: what is poured, into what, where it stands, what cools it; figures are those of the case file. */
#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_story.h"

static case_file *c;
static case_facts *f;

static void told(const char *path, char text[CASE_STORY])
{
  char *faults = NULL;
  message msg = {""};
  ck_assert_msg(case_file_read(&c, path, NULL, 0, &faults, &msg) == STATUS_OK, "%s", msg.text);
  free(faults);
  ck_assert_int_eq(case_facts_create(&f, c, &msg), STATUS_OK);
  case_story_tell(c, f, text);
  case_facts_destroy(&f);
  case_file_destroy(&c);
}

START_TEST(a_drum_in_brine_is_told_with_its_plant)
{
  char text[CASE_STORY];
  told(CASES "/harbour-lantern/case.yaml", text);
  static const char *const said[] = {"62 L (16.4 US gal) of water at 8", "poured into drum, a frustum of aluminium 3003", "It stands 523 mm deep in brine, 20 % CaCl2",
                                     "stirred", "2 compressors on R290", "A thermostat holds brine at -16", "Stage freeze: until all of it is ice"};
  for (size_t i = 0; i < sizeof said / sizeof *said; i++)
    ck_assert_msg(strstr(text, said[i]) != NULL, "\"%s\" is not said in: %s", said[i], text);
}
END_TEST

START_TEST(every_stage_says_what_ends_it)
{
  char text[CASE_STORY];
  told(CASES "/pond-lamp/case.yaml", text);
  static const char *const said[] = {"Stage precool: until brine is at -14", "Stage pour: at once.", "Stage hold: for 2 h 0 min, the thermostat at -10", "Stage outage: for 1 h 0 min, the plant off, stirrers off.",
                                     "Stage loosen: until the mould lets go of the ice, at most 12 h 0 min, the plant in reverse.", "Stage melt: until the ice has gone, at most", "through 12.6 m (41.2 ft) of tube"};
  for (size_t i = 0; i < sizeof said / sizeof *said; i++)
    ck_assert_msg(strstr(text, said[i]) != NULL, "\"%s\" is not said in: %s", said[i], text);
}
END_TEST

START_TEST(a_crate_in_cold_air_is_told_without_a_bath)
{
  char text[CASE_STORY];
  told(TEST_DATA "/brick.yaml", text);
  ck_assert_ptr_nonnull(strstr(text, "Round it is the air of the room, at -20"));
  ck_assert_ptr_null(strstr(text, "It stands"));
  ck_assert_ptr_null(strstr(text, "compressor"));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("case_story");
  TCase *tcase = tcase_create("case_story");
  tcase_add_test(tcase, a_drum_in_brine_is_told_with_its_plant);
  tcase_add_test(tcase, every_stage_says_what_ends_it);
  tcase_add_test(tcase, a_crate_in_cold_air_is_told_without_a_bath);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
