#include "materials/salt_grade.h"

#include <check.h>
#include <stdlib.h>
#include <string.h>

#include "check_rows.h"

static salt_grade named(const char *name)
{
  salt_grade g;
  message msg = {""};
  ck_assert_msg(salt_grade_find(&g, name, &msg) == STATUS_OK, "%s", msg.text);
  return g;
}

/* 18 kg of each grade in 57 L of water at 20 degC (56.898 kg, 998.21 kg/m3): strengths by hand arithmetic; onsets of the CRC Handbook's
 * table of concentrative properties, interpolated; from 20 % on that table lies up to 1.7 K above the osmotic bound, so only the first four. */
START_TEST(bags_make_the_strength_and_onset_of_hand_arithmetic)
{
  static const struct { const char *grade; double strength, onset; } rows[] = {
    {"CaCl2 flake 77", 0.18505, -15.91}, {"CaCl2 80 %", 0.19226, -17.06}, {"CaCl2 dihydrate", 0.18143, -15.34}, {"CaCl2 hexahydrate", 0.12175, -7.88},
    {"CaCl2 pellets 90", 0.21629, NAN}, {"CaCl2 pellets 94", 0.22591, NAN}};
  const double mass = 18.0, water = 0.057 * 998.21;
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    const salt_grade g = named(rows[i].grade);
    const double w = salt_grade_strength(&g, &mass, 1, water);
    assert_near(w, rows[i].strength, 2e-5);
    if (!isnan(rows[i].onset))
      assert_near(brine_onset(g.salt, LIQUIDUS_TONER_CATLING, w), rows[i].onset, 0.5);
  }
}
END_TEST

/* What must hold: 18 kg of 77 % flake in 57 L of water starts at -16 +- 0.5 degC, not where the label's strength would put it (-18 degC when
 * the bound water is forgotten, -28 degC when flake is taken for pure salt). */
START_TEST(flake_in_the_tub_starts_at_minus_sixteen)
{
  const salt_grade g = named("cacl2_flake-77");
  const double mass = 18.0;
  assert_near(brine_onset(BRINE_CACL2, LIQUIDUS_TONER_CATLING, salt_grade_strength(&g, &mass, 1, 56.9)), -16.0, 0.5);
  assert_near(brine_onset(BRINE_CACL2, LIQUIDUS_MELINDER, salt_grade_strength(&g, &mass, 1, 56.9)), -16.0, 0.5);
}
END_TEST

START_TEST(what_is_added_makes_the_strength_asked_for)
{
  const salt_grade flake = named("CaCl2 flake 77"), food = named("NaCl food salt");
  const double more = salt_grade_to_add(&flake, 74.9, 0.185, 0.21);
  assert_close((74.9 * 0.185 + flake.share * more) / (74.9 + more), 0.21, 1e-14);
  const double water = salt_grade_water_to_add(74.9, 0.185, 0.15);
  assert_close(74.9 * 0.185 / (74.9 + water), 0.15, 1e-14);
  const double fresh[2] = {salt_grade_to_add(&food, 50.0, 0.0, 0.2), 7.3};
  const salt_grade two[2] = {food, named("NaCl rock salt")};
  assert_close(salt_grade_strength(two, fresh, 1, 50.0), 0.2, 1e-14);
  assert_close(salt_grade_strength(two, fresh, 2, 50.0), (0.995 * fresh[0] + 0.96 * 7.3) / (50.0 + fresh[0] + 7.3), 1e-14);
  ck_assert(isnan(salt_grade_to_add(&flake, 74.9, 0.185, 0.15)));  /* already stronger */
  ck_assert(isnan(salt_grade_to_add(&flake, 74.9, 0.185, 0.78)));  /* the bag is weaker than that */
  ck_assert(isnan(salt_grade_water_to_add(74.9, 0.185, 0.21)));
}
END_TEST

/* Hydrates by molar masses (IUPAC 2021 atomic weights): CaCl2 110.98, MgCl2 95.211, H2O 18.015. */
START_TEST(hydrates_have_their_stoichiometric_share)
{
  static const struct { const char *name; double molar, water; } rows[] = {
    {"CaCl2 monohydrate", 110.98, 1}, {"CaCl2 dihydrate", 110.98, 2}, {"CaCl2 tetrahydrate", 110.98, 4}, {"CaCl2 hexahydrate", 110.98, 6}, {"MgCl2 hexahydrate", 95.211, 6}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
    assert_close(named(rows[i].name).share, rows[i].molar / (rows[i].molar + 18.015 * rows[i].water), 2e-4);
}
END_TEST

/* A tub of 74.9 kg warms by some 23, 21 and 46 K (flake, dihydrate, 94 % pellets), and cools by 6 K with hexahydrate: hand estimate from heats of
 * solution, +-15 %; specific heat of the brine 3.2 (2.95 strong) kJ/(kg K). */
START_TEST(dissolving_warms_the_tub_as_estimated_by_hand)
{
  static const struct { const char *name; double warming, heat; } rows[] = {
    {"CaCl2 flake 77", 23.0, 3180}, {"CaCl2 dihydrate", 21.0, 3200}, {"CaCl2 pellets 94", 46.0, 2980}, {"CaCl2 hexahydrate", -6.0, 3480}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    const salt_grade g = named(rows[i].name);
    assert_near(salt_grade_solution_heat(&g) * 18.0 / (74.9 * rows[i].heat), rows[i].warming, 0.2 * fabs(rows[i].warming));
  }
  const salt_grade kcl = named("KCl pure"), glycol = named("ethylene glycol");
  ck_assert_double_lt(salt_grade_solution_heat(&kcl), 0.0); /* cools, as every cold pack shows (common practice, no source) */
  ck_assert(isnan(salt_grade_solution_heat(&glycol)));
}
END_TEST

START_TEST(unknown_grades_are_refused_with_a_hint)
{
  salt_grade g;
  message msg = {""};
  ck_assert_int_eq(salt_grade_find(&g, "CaCl2 flakes", &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "CaCl2 flake"));
  static const char *const bad[] = {"", "CaCl2", "CaCl2 0 %", "CaCl2 120 %", "CaCl2 nan %", "CaCl2 78", "sand", "CaCl2 78 % x"};
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
    ck_assert_int_eq(salt_grade_find(&g, bad[i], &msg), STATUS_BAD_INPUT);
  ck_assert_double_eq(named("cacl2 78%").share, 0.78);
  for (size_t i = 0; i < salt_grade_num(); i++) {
    const salt_grade *k = salt_grade_at(i);
    ck_assert_str_eq(named(k->name).name, k->name);
    ck_assert(k->low <= k->share && k->share <= k->high && k->high <= 1.0 && k->low > 0.0);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("salt_grade");
  TCase *t = tcase_create("salt_grade");
  tcase_add_test(t, bags_make_the_strength_and_onset_of_hand_arithmetic);
  tcase_add_test(t, flake_in_the_tub_starts_at_minus_sixteen);
  tcase_add_test(t, what_is_added_makes_the_strength_asked_for);
  tcase_add_test(t, hydrates_have_their_stoichiometric_share);
  tcase_add_test(t, dissolving_warms_the_tub_as_estimated_by_hand);
  tcase_add_test(t, unknown_grades_are_refused_with_a_hint);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
