/* The `brine` command as it is typed. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static program_result type(const char *const *arguments)
{
  return program_run(arguments, NULL);
}

static json_t *answer(const char *const *arguments)
{
  program_result r = type(arguments);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  json_t *o = json_loads(r.out, 0, NULL);
  ck_assert_ptr_nonnull(o);
  program_release(&r);
  return o;
}

static double number(json_t *o, const char *key)
{
  json_t *v = json_object_get(o, key);
  ck_assert_msg(v != NULL, "no %s", key);
  return json_number_value(v);
}

/* What must hold: it starts at -16 +- 0.5 degC. Strength 13.86 / 74.898 and volume 74.898 / 1166.4 by hand (density at 20 degC: Melinder 2010). */
START_TEST(flake_in_a_tub_is_told_whole)
{
  json_t *o = answer((const char *const[]){"brine", "--salt", "CaCl2 flake 77", "--mass", "18 kg", "--water", "57 L", "--to", "-20 C", "--json", NULL});
  ck_assert_double_eq_tol(number(o, "freezing_onset_C"), -16.0, 0.5);
  ck_assert_double_eq_tol(number(o, "mass_fraction"), 0.18505, 2e-5);
  ck_assert_double_eq_tol(number(o, "volume_m3"), 74.898 / 1166.4, 2e-5);
  ck_assert_double_eq_tol(number(o, "dissolving_warms_by_K"), 23.0, 0.15 * 23.0);
  json_t *to = json_object_get(o, "to"), *first = json_array_get(json_object_get(to, "salt"), 0);
  /* The first is the anhydrous salt: it and the tub together make the strength asked for. */
  const double more = number(first, "mass_kg"), w = number(to, "mass_fraction");
  ck_assert_double_eq_tol((13.86 + more) / (74.898 + more), w, 2e-5);
  json_decref(o);
}
END_TEST

/* Backwards: the bags for an onset, put in by mass, start there. */
START_TEST(onset_to_bags_and_back)
{
  json_t *o = answer((const char *const[]){"brine", "--salt", "NaCl rock salt", "--onset", "-12 C", "--water", "50 L", "--json", NULL});
  char mass[64];
  (void)snprintf(mass, sizeof mass, "%.9f kg", number(o, "bags_kg"));
  json_t *back = answer((const char *const[]){"brine", "--salt", "NaCl rock salt", "--mass", mass, "--water", "50 L", "--json", NULL});
  ck_assert_double_eq_tol(number(back, "freezing_onset_C"), -12.0, 1e-6);
  json_decref(o);
  json_decref(back);
}
END_TEST

START_TEST(files_are_written_where_asked)
{
  char dir[512];
  program_directory(dir);
  char out[600];
  (void)snprintf(out, sizeof out, "%s/tub", dir);
  program_result r = type((const char *const[]){"brine", "--salt", "ethanol", "--strength", "30 %", "-o", out, NULL});
  ck_assert_int_eq(r.exit_code, 0);
  ck_assert_ptr_nonnull(strstr(r.out, "starts to freeze"));
  ck_assert_ptr_nonnull(strstr(r.out, "Caution"));
  ck_assert(program_has(out, "ice_fraction.png") && program_has(out, "brine.txt") && program_has(out, "brine.json"));
  char *text = program_read(out, "brine.txt", NULL);
  ck_assert_str_eq(text, r.out);
  free(text);
  program_release(&r);
  program_remove(dir);
}
END_TEST

static const struct { const char *arguments[10], *says; } refused[] = {
  {{"brine", NULL}, "name the salt"},
  {{"brine", "--salt", "CaCl2 flake 77", NULL}, "say how much"},
  {{"brine", "--salt", "CaCl2 flake 77", "--mass", "18 kg", NULL}, "say how much"},
  {{"brine", "--salt", "CaCl2 flake 77", "--mass", "18 kg", "--water", "57 L", "--strength", "20 %", NULL}, "say how much"},
  {{"brine", "--salt", "CaCl2 flake", "--strength", "20 %", NULL}, "closest is \"CaCl2 flake 77\""},
  {{"brine", "--salt", "NaCl food salt", "--mass", "18 kg", "--water", "57 L", NULL}, "eutectic"},
  {{"brine", "--salt", "NaCl pure", "--onset", "-25 C", "--water", "57 L", NULL}, "no strength of NaCl starts to freeze"},
  {{"brine", "--salt", "NaCl pure", "--strength", "20", NULL}, "--strength"},
  {{"brine", "--salt", "NaCl pure", "--strength", "20 %", "--to", "5 C", NULL}, "--to"},
  {{"brine", "--salt", "KCl pure", "--strength", "10 %", "--liquidus", "melinder", NULL}, "no freezing curve of KCl"},
  {{"brine", "--salt", "NaCl pure", "tub.yaml", NULL}, "takes no case"},
};

START_TEST(wrong_wishes_are_refused_with_the_reason)
{
  program_result r = type(refused[_i].arguments);
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_msg(strstr(r.err, refused[_i].says) != NULL, "\"%s\" lacks \"%s\"", r.err, refused[_i].says);
  ck_assert_str_eq(r.out, "");
  program_release(&r);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("brine");
  TCase *t = tcase_create("brine");
  tcase_add_test(t, flake_in_a_tub_is_told_whole);
  tcase_add_test(t, onset_to_bags_and_back);
  tcase_add_test(t, files_are_written_where_asked);
  tcase_add_loop_test(t, wrong_wishes_are_refused_with_the_reason, 0, sizeof refused / sizeof *refused);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
