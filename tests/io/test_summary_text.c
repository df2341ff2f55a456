/* summary.txt: sentences with figures, 20 lines of 80 characters whatever happens, so that 24 hold it with what the program adds. */
#include "io/summary_text.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "small_rig.h"

static small_rig s;
static results res;
static message msg;

static void set_up(void)
{
  msg.text[0] = '\0';
  small_rig_make(&s, GRID_RZ);
  small_rig_results(&s, &res);
}

static void tear_down(void)
{
  small_rig_release_results(&res);
  small_rig_release(&s);
}

static void assert_fits(const char *text)
{
  size_t lines = 0, columns = 0;
  for (const char *c = text; *c; c++) {
    if (*c == '\n') {
      lines++;
      columns = 0;
    } else if (((unsigned char)*c & 0xC0) != 0x80) {
      columns++;
      ck_assert_msg(columns <= 80, "too wide:\n%s", text);
      ck_assert_msg((unsigned char)*c >= ' ', "control character in\n%s", text);
    }
  }
  ck_assert_msg(lines <= 20, "%zu lines:\n%s", lines, text);
  ck_assert_int_eq(text[strlen(text) - 1], '\n');
}

static char *made(void)
{
  char *text = NULL;
  ck_assert_msg(summary_text_make(&text, &s.rig, &res, &msg) == STATUS_OK, "%s", msg.text);
  assert_fits(text);
  return text;
}

/* Looks for words whatever lines they fell on. */
static void assert_says(const char *text, const char *words)
{
  char *flat = malloc(strlen(text) + 1), *to = flat;
  for (const char *c = text; *c; c++)
    if (!((*c == '\n' || *c == ' ') && to > flat && to[-1] == ' '))
      *to++ = *c == '\n' ? ' ' : *c;
  *to = '\0';
  ck_assert_msg(strstr(flat, words) != NULL, "\"%s\" is not in\n%s", words, text);
  free(flat);
}

/* 4.3 kg = 9.48 lb; 27000 s = 7.5 h; 0.128 m = 5.04 in; 0.075 m = 2.95 in; 0.0125 m = 0.49 in; 2.25e6 J = 0.625 kWh;
 * (262000 - 101325) Pa = 1.607 bar = 23.3 psi; -17.5 degC = 0.5 degF; 31.25 W = 106.6 BTU/h. */
START_TEST(figures_are_metric_with_us_units_beside)
{
  char *text = made();
  assert_says(text, "Small drum in a tub");
  assert_says(text, "drum (4.3 kg, 9.48 lb): frozen solid after 7 h 30 min");
  assert_says(text, "half after 2 h 30 min, 90 % after 5 h 30 min, 99 % after 7 h 0 min");
  assert_says(text, "Its last water sits on the axis at z = 128 mm (5.0 in), 75 mm (3.0 in) from the nearest surface");
  assert_says(text, "is trapped");
  assert_says(text, "1 further pocket parted from it, 0 of them trapped");
  assert_says(text, "rises by 12 mm (0.5 in)");
  assert_says(text, "begins to freeze at -20.5 \xC2\xB0" "C (-5 \xC2\xB0" "F)");
  assert_says(text, "stiff");
  assert_says(text, "evaporates at -17.5 \xC2\xB0" "C");
  assert_says(text, "1.61 bar(g) (23 psig)");
  assert_says(text, "0.62 kWh of heat");
  assert_says(text, "(107 BTU/h)");
  assert_says(text, "coil -0.62, tub to room 0.14");
  assert_says(text, "Warning: drum: 0.75 kg of water was shut in by ice");
  assert_says(text, "1 event; the first after 1 h 12 min: low-pressure cut-out, plant");
  assert_says(text, "licensed practice");
  for (const char *end = strchr(text, '\n'); end; end = strchr(end + 1, '\n')) /* no figure is parted from its unit */
    ck_assert_msg(!(end > text && end[-1] >= '0' && end[-1] <= '9' && strchr("\xC2%", end[3])), "%s", text);
  free(text);
}
END_TEST

/* Only where time ran out is it said loud. */
static const struct {
  const char *ended_by;
  double end_at;
  const char *says;
} ends[] = {
    {"time limit", 27600.0, "drum (4.3 kg, 9.48 lb): NOT solid at the time limit; 87.5 % of it is ice."},
    {"time", 27600.0, "NOT solid when the time of stage freeze was up; 87.5 %"},
    {"temperature", 27600.0, "stage freeze ended by its \"until\" after 7 h 30 min, before it was solid; 87.5 %"},
    {"temperature", 600.0, "stage freeze ended at once, its \"until\" was met when it began; 87.5 %"},
};

START_TEST(an_unfinished_freeze_is_said_first_and_with_its_reason)
{
  res.bodies[0].complete = false;
  res.bodies[0].fraction = 0.875;
  res.bodies[0].freeze_time = NAN;
  res.bodies[0].last_position[0] = NAN;
  (void)snprintf(res.stages[1].ended_by, sizeof res.stages[1].ended_by, "%s", ends[_i].ended_by);
  res.stages[1].end_at = ends[_i].end_at;
  char *text = made();
  assert_says(text, ends[_i].says);
  ck_assert(strncmp(ends[_i].ended_by, "time", 4) == 0 || !strstr(text, "NOT"));
  ck_assert_ptr_null(strstr(text, "last water"));
  ck_assert_ptr_null(strstr(text, "nan"));
  free(text);
}
END_TEST

START_TEST(last_water_in_a_closed_vessel_is_not_called_shut_in_by_ice)
{
  s.body.open_top = false;
  s.body.mass = res.bodies[0].mass = 0.16;
  char *text = made();
  assert_says(text, "drum (160 g, 5.6 oz)");
  assert_says(text, "has no way out: the vessel is closed");
  ck_assert_ptr_null(strstr(text, "ice shuts it in"));
  free(text);
}
END_TEST

START_TEST(what_is_unknown_is_not_mentioned)
{
  res.bodies[0] = (body_result){.name = "drum", .complete = true, .freeze_time = NAN, .mark = {NAN, NAN, NAN}, .mass = NAN,
                                .level_rise = NAN, .last_position = {NAN, NAN, NAN}, .last_distance = NAN, .pockets = res.bodies[0].pockets};
  res.baths[0] = (bath_result){.name = "tub", .mass_fraction = NAN, .freezing_onset = NAN, .ice_fraction_mean = NAN,
                               .ice_fraction_max = NAN, .mean_temperature = NAN};
  res.plant.present = false;
  res.ledger.residual_relative = NAN;
  char *text = made();
  ck_assert_ptr_null(strstr(text, "nan"));
  ck_assert_ptr_null(strstr(text, "not known"));
  free(text);
}
END_TEST

/* Long names, many warnings as long as they can be: the least important goes, the answer stays. */
START_TEST(too_much_to_say_still_fits)
{
  res.num_warnings = 20;
  res.warnings = realloc(res.warnings, 20 * sizeof *res.warnings);
  ck_assert_ptr_nonnull(res.warnings);
  for (int i = 0; i < 20; i++) {
    memset(res.warnings[i], 'w', sizeof res.warnings[i] - 1);
    for (size_t c = 7; c < sizeof res.warnings[i] - 1; c += 9)
      res.warnings[i][c] = i % 2 ? ' ' : '\xC3';
    res.warnings[i][sizeof res.warnings[i] - 1] = '\0';
  }
  char *text = made();
  assert_says(text, "drum (4.3 kg");
  assert_says(text, "summary.json");
  assert_says(text, "licensed practice");
  free(text);
}
END_TEST

START_TEST(a_title_with_line_ends_and_long_words_still_fits)
{
  (void)snprintf(s.rig.title, sizeof s.rig.title,
                 "a\nb\t%s", "wwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwww\xC3\xA9\xC3\xA9");
  free(made());
}
END_TEST

/* What does not fit goes by what it matters, not by the group: warnings fill the room, and of what is left the shorter sentence still stands. */
START_TEST(sentences_that_fit_stay_when_a_longer_one_goes)
{
  static const char wide[] = "the bath is much too small for what it is to hold, and this sentence goes on for long enough to fill two lines or more of it";
  res.num_warnings = 3;
  res.warnings = realloc(res.warnings, 3 * sizeof *res.warnings);
  ck_assert_ptr_nonnull(res.warnings);
  for (int i = 0; i < 3; i++)
    (void)snprintf(res.warnings[i], sizeof res.warnings[i], "%d %s", i, wide);
  char *text = made();
  assert_says(text, "Stages:");
  assert_says(text, "Warning: 2 the bath is much too small");
  assert_says(text, "tub at the mould is stiff");
  assert_says(text, "More is in summary.json.");
  free(text);
}
END_TEST

/* Whoever reads "locked" is told not to pull, and what sets it free. */
START_TEST(a_locked_mould_is_not_to_be_pulled)
{
  bath_result *b = &res.baths[0];
  b->touches_mould = true;
  b->draw = b->answer.draw = DRAW_LOCKED;
  b->answer.present = true;
  b->answer.free_above = -12.0;
  b->answer.salt_to_add = 2.0;
  b->answer.force_low = 900.0;
  b->answer.force_high = 12e3;
  char *text = made();
  assert_says(text, "locked");
  assert_says(text, "do not pull, it would take 900 N (fresh slush) to 12 kN (aged) besides its weight");
  assert_says(text, "It comes free at -12.0 \xC2\xB0" "C (10 \xC2\xB0" "F) or warmer, or with 2 kg (4.41 lb) more dry salt.");
  free(text);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("summary_text");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, figures_are_metric_with_us_units_beside);
  tcase_add_loop_test(tcase, an_unfinished_freeze_is_said_first_and_with_its_reason, 0, (int)(sizeof ends / sizeof *ends));
  tcase_add_test(tcase, last_water_in_a_closed_vessel_is_not_called_shut_in_by_ice);
  tcase_add_test(tcase, what_is_unknown_is_not_mentioned);
  tcase_add_test(tcase, sentences_that_fit_stay_when_a_longer_one_goes);
  tcase_add_test(tcase, a_locked_mould_is_not_to_be_pulled);
  tcase_add_test(tcase, too_much_to_say_still_fits);
  tcase_add_test(tcase, a_title_with_line_ends_and_long_words_still_fits);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
