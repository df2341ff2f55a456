/* A band against a random sample of the same inputs, run one by one. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

enum { PATH = 512, SAMPLE = 80 };

static char dir[PATH], file[2 * PATH];

static void set_up(void)
{
  char *text = program_read(TEST_DATA, "thimble.yaml", NULL);
  program_directory(dir);
  program_write(dir, "case.yaml", text);
  free(text);
}

static void tear_down(void) { program_remove(dir); }

static json_t *run_with(const char *const *more)
{
  const char *arguments[24] = {"run", file, "--json", "--quiet"};
  (void)snprintf(file, sizeof file, "%s/case.yaml", dir);
  size_t n = 4;
  for (; *more; more++)
    arguments[n++] = *more;
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  json_t *summary = json_loads(r.out, 0, NULL);
  ck_assert_ptr_nonnull(summary);
  program_release(&r);
  return summary;
}

static int by_value(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* Freezing times of a sample, rising: the column freeze.time_s of the table. */
static size_t sample_times(double times[SAMPLE])
{
  char plan[2 * PATH];
  program_write(dir, "plan.yaml", "case: case.yaml\nset: {bodies.water.motion: {kind: still}}\ndesign: latin_hypercube\npoints: 80\nseed: 11\nvary:\n"
                                  "  - {key: room.film, from: 42 W/m2K, to: 78 W/m2K}\n"
                                  "  - {key: room.temperature, from: -23 C, to: -17 C}\n"
                                  "  - {key: parts.cup.wall, from: 0.5 mm, to: 1.5 mm}\n"
                                  "  - {key: bodies.water.motion.film_factor, from: 0.7, to: 1.3}\n"
                                  "  - {key: bodies.water.ice, values: [yen, andersson_inaba, fukusako]}\n"
                                  "report: [freeze.time_s]\n");
  (void)snprintf(plan, sizeof plan, "%s/plan.yaml", dir);
  const char *const arguments[] = {"sweep", plan, "--quiet", NULL};
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  (void)snprintf(plan, sizeof plan, "%s/plan.result", dir);
  char *table = program_read(plan, "results.csv", NULL), *line = strchr(table, '\n');
  size_t num = 0;
  for (; line && line[1] && num < SAMPLE; line = strchr(line + 1, '\n')) {
    const char *at = line + 1;
    for (int column = 0; column < 8; column++)
      at = strchr(at, ',') + 1;
    times[num++] = strtod(at, NULL);
  }
  free(table);
  qsort(times, num, sizeof *times, by_value);
  return num;
}

/* The sample's own 5 % and 95 % are known to some tenth of the half width (80 points): 15 % of it is allowed. Of n values in
 * order the i-th from 0 stands at (i + 1/2) / n: 5 % of 80 is midway between two (definition 5 of Hyndman & Fan 1996, Am. Stat. 50:361, from memory). */
START_TEST(the_band_is_that_of_a_random_sample)
{
  static const char *const spreads[] = {"--band", "--set=room.temperature=-20 degC +- 3 K", "--set=parts.cup.wall=1 mm +- 50 %", NULL};
  double times[SAMPLE];
  json_t *summary = run_with(spreads);
  const json_t *three = json_object_get(json_object_get(json_object_get(summary, "band"), "freeze"), "time_s");
  ck_assert_uint_eq(json_array_size(three), 3);
  const double low = json_number_value(json_array_get(three, 0)), high = json_number_value(json_array_get(three, 2));
  ck_assert_double_eq(json_number_value(json_array_get(three, 1)), json_number_value(json_object_get(json_object_get(summary, "freeze"), "time_s")));
  const size_t num = sample_times(times);
  ck_assert_uint_eq(num, SAMPLE);
  const double sample_low = 0.5 * (times[3] + times[4]), sample_high = 0.5 * (times[75] + times[76]), half = 0.5 * (sample_high - sample_low);
  ck_assert_msg(fabs(low - sample_low) < 0.15 * half && fabs(high - sample_high) < 0.15 * half, "band %.0f .. %.0f s, sample %.0f .. %.0f s", low, high,
                sample_low, sample_high);
  json_decref(summary);
}
END_TEST

/* Plank's formula: the time goes as 1 over the temperature below freezing (3 of 20 K: +-15 %) and, for a small Biot number, as 1/h (30 %). */
START_TEST(what_matters_most_is_named)
{
  static const char *const spreads[] = {"--band", "--set=room.temperature=-20 degC +- 3 K", "--set=parts.cup.wall=1 mm +- 10 %", NULL};
  json_t *summary = run_with(spreads), *band = json_object_get(summary, "band"), *most = json_object_get(band, "matters_most");
  ck_assert_str_eq(json_string_value(json_object_get(band, "lead")), "freeze.time_s");
  ck_assert_uint_eq(json_array_size(most), 3);
  ck_assert_str_eq(json_string_value(json_array_get(most, 0)), "room.film");
  ck_assert_str_eq(json_string_value(json_array_get(most, 1)), "room.temperature");
  ck_assert_ptr_nonnull(json_object_get(json_array_get(json_object_get(band, "bodies"), 0), "freeze")); /* the same tree */
  ck_assert_uint_eq(json_array_size(json_object_get(band, "left_out")), 0);
  json_decref(summary);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("band");
  TCase *all = tcase_create("band");
  tcase_add_checked_fixture(all, set_up, tear_down);
  tcase_set_timeout(all, 60);
  tcase_add_test(all, the_band_is_that_of_a_random_sample);
  tcase_add_test(all, what_matters_most_is_named);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
