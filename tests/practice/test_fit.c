/* Fits as a user makes them: noisy logs with gaps and outliers, made from hidden inputs by the program itself (the same discretisation, so that
 * the fit alone is judged), ten seeds. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

enum { PATH = 512, LOG = 1 << 16 };
static const double FILM = 47.0, WATER = 6.3, PI = 3.14159265358979324;

static char dir[PATH], file[2 * PATH], out[2 * PATH], series[2 * PATH];

static void set_up(void)
{
  char *text = program_read(TEST_DATA, "thimble.yaml", NULL), *run, made[4096];
  program_directory(dir);
  (void)snprintf(file, sizeof file, "%s/case.yaml", dir);
  run = strstr(text, "run: {");
  ck_assert_ptr_nonnull(run);
  *run = 0;
  (void)snprintf(made, sizeof made, "%srun: {series_every: 1 min, longest_step: 10 s}\n", text);
  program_write(dir, "case.yaml", made);
  free(text);
}

static void tear_down(void) { program_remove(dir); }

static void make_series(void)
{
  (void)snprintf(series, sizeof series, "%s/hidden", dir);
  const char *const arguments[] = {"run", file, "-o", series, "--quiet", "--set=room.film=47 W/m2K", "--set=bodies.water.temperature=6.3 C", NULL};
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
}

static double even(uint64_t *state)
{
  *state = *state * 6364136223846793005u + 1442695040888963407u;
  return ((double)(*state >> 11) + 0.5) / 9007199254740992.0;
}
static double normal(uint64_t *state) { return sqrt(-2.0 * log(even(state))) * cos(2.0 * PI * even(state)); }

/* Number of the column headed so. */
static int column_of(const char *table, const char *heading)
{
  int n = 0;
  const char *end = strchr(table, '\n'), *at = strstr(table, heading);
  ck_assert(at && at < end);
  for (const char *c = table; c < at; c++)
    n += *c == ',';
  return n;
}

static double field_of(const char *row, int column)
{
  for (; column > 0; column--)
    row = strchr(row, ',') + 1;
  return strtod(row, NULL);
}

/* 0.2 K of noise, one in ten missing, one in thirty far off; minutes and degC with a thermometer's digits. */
static void make_log(uint64_t seed)
{
  static char text[LOG];
  char *table = program_read(series, "series.csv", NULL), *row = table;
  uint64_t state = seed * 7919 + 5;
  size_t n = (size_t)snprintf(text, sizeof text, "time [min], core [degC], low [degC]\n");
  const int core = column_of(table, "probe.core_degC"), low = column_of(table, "probe.low_degC");
  while ((row = strchr(row, '\n')) != NULL && row[1]) {
    row++;
    const double wild = even(&state) < 1.0 / 30.0 ? 18.0 : 0.0;
    n += (size_t)snprintf(text + n, sizeof text - n, "%.6g, ", field_of(row, 0) / 60.0);
    if (even(&state) > 0.1)
      n += (size_t)snprintf(text + n, sizeof text - n, "%.2f", field_of(row, core) + 0.2 * normal(&state));
    n += (size_t)snprintf(text + n, sizeof text - n, ", %.2f\n", field_of(row, low) + 0.2 * normal(&state) + wild);
  }
  program_write(dir, "log.csv", text);
  free(table);
}

static json_t *fit(const char *first, const char *second)
{
  static char log_path[2 * PATH];
  (void)snprintf(log_path, sizeof log_path, "%s/log.csv", dir);
  (void)snprintf(out, sizeof out, "%s/fit", dir);
  const char *const arguments[] = {"fit", file, log_path, "-o", out, "--json", "--quiet", "--vary", first, "--vary", second, NULL};
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  json_t *answer = json_loads(r.out, 0, NULL);
  ck_assert_ptr_nonnull(answer);
  program_release(&r);
  return answer;
}

static int inside(const json_t *answer, size_t input, double hidden)
{
  const json_t *o = json_array_get(json_object_get(answer, "inputs"), input);
  return json_number_value(json_object_get(o, "low")) <= hidden && hidden <= json_number_value(json_object_get(o, "high"));
}

/* Both inputs lie inside with 95 % (fit_solve.h): of ten logs in eight or more, but for one time in ninety (binomial). Nine would be missed one time in
 * twelve by chance, and was, by 0.003 of 0.22 K. */
START_TEST(hidden_inputs_come_back_within_their_confidence)
{
  const int seeds = 10, wanted = seeds - 2;
  int right = 0;
  make_series();
  for (int seed = 1; seed <= seeds; seed++) {
    make_log((uint64_t)seed);
    json_t *a = fit("room.film=30 .. 90 W/m2K", "bodies.water.temperature=3 C .. 9 C");
    right += inside(a, 0, FILM) && inside(a, 1, WATER);
    const double value = json_number_value(json_object_get(json_array_get(json_object_get(a, "inputs"), 0), "value"));
    ck_assert_double_eq_tol(value, FILM, 0.03 * FILM); /* never far, whatever it says of itself */
    const json_t *forecast = json_object_get(a, "forecast");
    ck_assert_double_lt(json_number_value(json_object_get(forecast, "half_s")), 0.2 * json_number_value(json_object_get(forecast, "before_half_s")));
    json_decref(a);
  }
  ck_assert_int_ge(right, wanted);
}
END_TEST

START_TEST(the_refined_case_runs_and_says_its_spread)
{
  char refined[3 * PATH], again[3 * PATH];
  make_series();
  make_log(3);
  json_t *a = fit("room.film=30 .. 90 W/m2K", "bodies.water.temperature=3 C .. 9 C");
  ck_assert_uint_eq(json_array_size(json_object_get(a, "alike")), 0);
  ck_assert_int_gt(json_integer_value(json_object_get(a, "outliers")), 0);
  json_decref(a);
  ck_assert(program_has(out, "residuals.png") && program_has(out, "residuals.csv") && program_has(out, "fit.txt"));
  char *text = program_read(out, "case.yaml", NULL);
  ck_assert_ptr_nonnull(strstr(text, " +- "));
  free(text);
  (void)snprintf(refined, sizeof refined, "%s/case.yaml", out);
  (void)snprintf(again, sizeof again, "%s/again", dir);
  const char *const arguments[] = {"run", refined, "-o", again, "--quiet", NULL};
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
}
END_TEST

/* Where nothing but the product of two figures acts, they cannot be told apart: heat per volume of a thick wall by density and specific heat. */
START_TEST(two_that_act_as_one_are_told)
{
  char *text = program_read(dir, "case.yaml", NULL), *wall = strstr(text, "aluminium 3003");
  char made[8192];
  ck_assert_ptr_nonnull(wall);
  (void)snprintf(made, sizeof made, "%.*s{conductivity: 0.3 W/mK, density: 950 kg/m3, specific_heat: 2000 J/kgK}%s", (int)(wall - text), text,
                 wall + strlen("aluminium 3003"));
  program_write(dir, "case.yaml", made);
  free(text);
  make_series();
  make_log(1);
  json_t *a = fit("parts.cup.material.density", "parts.cup.material.specific_heat");
  ck_assert_uint_eq(json_array_size(json_object_get(a, "alike")), 1);
  json_decref(a);
}
END_TEST

START_TEST(wrong_wishes_are_refused)
{
  program_write(dir, "log.csv", "time [min], centre [degC]\n0, 5\n1, 4\n2, 3\n3, 2\n4, 1\n");
  static const char *const vary[] = {"--vary=room.flm", "--vary=room.film", "--vary=parts.cup.material", "--quiet"};
  static const char *const says[] = {"the closest is \"film\"", "no column of the log bears the name of a probe", "not a number that can be fitted",
                                     "say what the log shall settle"};
  for (size_t i = 0; i < 4; i++) {
    char log_path[2 * PATH];
    (void)snprintf(log_path, sizeof log_path, "%s/log.csv", dir);
    const char *const arguments[] = {"fit", file, log_path, vary[i], NULL};
    program_result r = program_run(arguments, NULL);
    ck_assert_int_eq(r.exit_code, 2);
    ck_assert_msg(strstr(r.err, says[i]) != NULL, "\"%s\" is not said in:\n%s", says[i], r.err);
    program_release(&r);
    ck_assert(!program_has(dir, "case.fit"));
  }
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("fit");
  TCase *all = tcase_create("fit");
  tcase_add_checked_fixture(all, set_up, tear_down);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: the fit of the next test is one of them */
    tcase_add_test(all, hidden_inputs_come_back_within_their_confidence);
  tcase_add_test(all, the_refined_case_runs_and_says_its_spread);
  tcase_add_test(all, two_that_act_as_one_are_told);
  tcase_add_test(all, wrong_wishes_are_refused);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
