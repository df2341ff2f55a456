/* A whole rig with a still bath, beside what practice knows of such rigs. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static char dir[512], out[600];

static void set_up(void)
{
  program_directory(dir);
  (void)snprintf(out, sizeof out, "%s/out", dir);
}

static void tear_down(void)
{
  program_remove(dir);
}

static json_t *run_with(const char *const *settings)
{
  const char *arguments[24] = {"run", TEST_DATA "/pot_in_still_bath.yaml", "-o", out, "--quiet", "--json"};
  size_t n = 6;
  for (; *settings; settings++) {
    arguments[n++] = "--set";
    arguments[n++] = *settings;
  }
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  json_t *root = json_loads(r.out, 0, NULL);
  ck_assert_ptr_nonnull(root);
  program_release(&r);
  return root;
}

static const json_t *at(const json_t *o, const char *path)
{
  char copy[200];
  (void)snprintf(copy, sizeof copy, "%s", path);
  for (char *key = strtok(copy, "|"); key; key = strtok(NULL, "|")) {
    o = json_object_get(o, key);
    ck_assert_msg(o != NULL, "%s of %s is missing", key, path);
  }
  return o;
}

static double number(const json_t *o, const char *path)
{
  return json_number_value(at(o, path));
}

/* The value of a column of the series at (the first row not before) a time in s. */
static double series_at(const char *column, double time)
{
  char *text = program_read(out, "series.csv", NULL);
  ck_assert_ptr_nonnull(text);
  const size_t n = strlen(column);
  size_t index = 0;
  for (const char *c = text; strncmp(c, column, n) != 0; c++) {
    ck_assert_msg(*c && *c != '\n', "no column %s", column);
    index += *c == ',';
  }
  double value = NAN;
  for (char *row = strchr(text, '\n'); row && row[1]; row = strchr(row + 1, '\n')) {
    if (strtod(row + 1, NULL) < time)
      continue;
    const char *field = row + 1;
    for (size_t i = 0; i < index; i++)
      field = strchr(field, ',') + 1;
    value = strtod(field, NULL);
    break;
  }
  free(text);
  return value;
}

/* Common practice, no source: such a rig makes a solid block in 18 to 24 h; ice grows as a U from floor and wall; the bath freezes and may lock
 * the pot. The line is told as OPEN: 29.5 h with the salt staying in the slush, 25.5 h with it mixed (90 % after 18.4 and 15.6 h, 99 % after 25.8
 * and 22.4 h). What was found when it was looked into, nothing having been bent:
 *  - Heat from pot to coil crosses the bath from film to film. Until then the bath was given the motion of a pocket that merely cools, whose films fall
 *    together with the mean of its surfaces: an eighth of what two walls exchange (the next test). Mended; that took 3.1 h off the mixed answer.
 *  - The pot's width. Its wall held at -20, -25, -30, -36.4 degC from the first minute: 30.2, 24.2, 20.3, 16.8 h (the last is the coldest coil that a
 *    cut-out of 0.2 bar gauge allows). By hand, an infinite cylinder R = 0.24 m, ice 2.35 W/(m K), 1.33 for the warmth of water and ice:
 *    917 x 333.4e3 / 25 K x R^2 / (4 x 2.35) x 1.33 = 27.7 h at -25 degC. With an insulated floor 24.3 instead of 24.2 h: the floor does not decide.
 *    A 95 L pot of 45 x 60 cm instead of 48 x 52.5 cm: 25.8 and 22.5 h. Practice does not say how wide its pot was.
 *  - The last tenth. By hand 1 - y + y ln y with y = 0.1: a third of the time of an infinite cylinder; here 38 %. Who calls solid what is frozen
 *    to 98 % is done after 24 h and 21 h.
 *  - The cut-out. Without it 24.0 h (closed), at 0 bar gauge 27.0 h, measured before the films were mended; the plant stops 341 times and runs 42 % of the
 *    time, yet the coil stays within 1 K of its lowest, so that minimum stop and restart do not matter. Without loss in the suction line 28.3 h.
 *  - The gap between tube and pot: 8 mm instead of 15 mm 27.0 and 24.7 h, and then it bridges and locks; 25 mm 25.9 h (mixed).
 *  - A stirred bath: 21.8 h. A bath that starts at -16 degC: 25.1 h (mixed). */
START_TEST(pot_freezes_as_a_u_while_the_bath_turns_to_slush)
{
  json_t *root = run_with((const char *const[]){NULL});
  const double solid = number(root, "freeze|time_s") / 3600.0, most = number(root, "freeze|marks_s|0.9") / 3600.0;
  const double mixed = number(root, "bath|other_freeze_time_s") / 3600.0;
  (void)printf("%s a 95 L pot in a still bath: 90 %% frozen after %.1f h, solid after %.1f h, mixed %.1f h (practice: 18 to 24 h)\n",
               solid <= 24.0 && solid >= 18.0 ? "ok  " : "OPEN", most, solid, mixed);
  ck_assert_double_ge(most, 16.0);
  ck_assert_double_le(most, 24.0);
  ck_assert_double_le(solid, 36.0);
  ck_assert_double_lt(mixed, solid);
  /* A U: at 12 h floor and wall are ice, the middle of the top is water; the last water is there. */
  ck_assert_double_lt(series_at("probe.floor", 12.0 * 3600.0), -0.5);
  ck_assert_double_lt(series_at("probe.wall", 12.0 * 3600.0), -0.5);
  ck_assert_double_ge(series_at("probe.top", 12.0 * 3600.0), -0.05);
  ck_assert_double_lt(json_number_value(json_array_get(at(root, "last_liquid|position_m"), 0)), 0.05);
  ck_assert_double_gt(json_number_value(json_array_get(at(root, "last_liquid|position_m"), 1)), 0.45);
  /* The bath begins at -16 +- 0.5 degC and freezes; answered both ways, the worse in front; the straight pot is told. */
  ck_assert_double_eq_tol(number(root, "bath|freezing_onset_C"), -16.0, 0.5);
  ck_assert_double_gt(number(root, "bath|ice_fraction_mean"), 0.10);
  const json_t *answer = at(root, "bath|answer"), *other = at(root, "bath|other_answer");
  ck_assert_str_ne(json_string_value(at(answer, "salt_mode")), json_string_value(at(other, "salt_mode")));
  ck_assert_str_ne(json_string_value(at(answer, "draw")), "free");
  ck_assert_double_ge(number(answer, "ice_fraction_at_wall"), number(other, "ice_fraction_at_wall"));
  ck_assert_double_eq_tol(number(root, "bath|draft_deg"), 0.0, 0.3);
  /* Lever rule by hand at 15 % ice: w = 0.18505 / 0.85 = 0.2177; CRC's table begins to freeze there at -21.2, Melinder's at -21.5, the recommended line
   * at -22.6 degC. */
  ck_assert_double_le(number(answer, "free_above_C"), -21.2);
  ck_assert_double_ge(number(answer, "free_above_C"), -22.9);
  ck_assert_double_gt(number(answer, "salt_to_add_kg"), 0.0);
  ck_assert_double_lt(fabs(number(root, "ledger|residual_relative")), 1e-9);
  /* Common practice, no source: with half the displacement it takes less than a fifth longer, for the coil is what limits. */
  program_remove(out);
  json_t *half = run_with((const char *const[]){"baths.brine.salt_mode=closed", "plant.compressors.first.displacement=2.175 m3/h",
                                                "plant.compressors.second.displacement=2.175 m3/h", NULL});
  const double longer = number(half, "freeze|time_s") / 3600.0;
  (void)printf("ok   half the displacement: %.1f h instead of %.1f h\n", longer, solid);
  ck_assert_double_gt(longer, solid);
  ck_assert_double_lt(longer, 1.2 * solid);
  json_decref(half);
  json_decref(root);
}
END_TEST

/* Brine between two upright walls 60 mm apart and 450 mm high, -10 and -20 degC: Nu = 0.42 Ra^(1/4) Pr^0.012 (H / L)^-0.3 (MacGregor & Emery 1969, as in
 * Incropera & DeWitt ch. 9, from memory; Ra 1e4 to 1e7, H / L 10 to 40, here 7.5). CaCl2 25 % at -15 degC by the polynomials of Melinder 2010: 1242 kg/m3,
 * 2820 J/(kg K), 0.518 W/(m K), 6.56e-3 Pa s, 3.5 kg/m3 between the walls: Pr 35.7, Ra 7.5e6, Nu 12.6, 108 W/(m2 K). At rest it would be 8.6. The
 * limit is what such correlations differ by among themselves. */
START_TEST(heat_crosses_a_gap_of_brine_as_published)
{
  char path[600];
  (void)snprintf(path, sizeof path, "%s/gap.yaml", dir);
  program_write(dir, "gap.yaml",
                "dimension: rz\nroom: {temperature: -15 C, film: 0 W/m2K}\nparts:\n"
                "  - {name: tub, shape: cylinder, diameter: 60 cm, height: 52 cm, wall: 2 mm, material: aluminium 3003}\n"
                "  - {name: stand, shape: cylinder, diameter: 48 cm, height: 5 cm, material: xps}\n"
                "  - {name: core, shape: cylinder, diameter: 42 cm, height: 50 cm, on: stand, wall: 30 mm, held: -10 C}\n"
                "bodies: [{name: water, in: core, volume: 40 L, temperature: 1 C}]\n"
                "baths: [{name: brine, in: tub, salt: CaCl2, strength: 25 %, depth: 50 cm, temperature: -15 C, open_surface: no, salt_mode: mixed}]\n"
                "surfaces: [{of: tub, fixed: -20 C}]\n"
                "stages: [{name: settle, kind: hold, for: 3 h}, {name: steady, kind: hold, for: 1 h}]\ngrid: {spacing: 15 mm}\n");
  program_result r = program_run((const char *const[]){"run", path, "-o", out, "--quiet", "--json", NULL}, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  json_t *root = json_loads(r.out, 0, NULL);
  program_release(&r);
  const double heat = -number(json_array_get(at(root, "stages"), 1), "ledger|tub held fixed") / 3600.0;
  const double area = 3.14159265358979 * 0.54 * 0.45; /* at the middle of the gap */
  (void)printf("ok   across 60 mm of brine: %.0f W/m2K (published: 108)\n", heat / area / 10.0);
  ck_assert_double_eq_tol(heat / area / 10.0, 108.0, 0.25 * 108.0);
  json_decref(root);
}
END_TEST

/* A coil in brine whose motion is given: cells from 2 to 0.7 tube diameters, which join the tube to the grid in three ways, must not move the answer by more
 * than the water's own error there (5 cells from wall to axis: 2.3 % from 20 to 5 mm in a stirred bath). */
START_TEST(coil_in_still_brine_answers_alike_in_coarse_and_fine_cells)
{
  static const char text[] =
      "dimension: rz\nroom: {temperature: 15 C, humidity: 50 %, film: 8 W/m2K}\nparts:\n"
      "  - {name: tub, shape: cylinder, diameter: 36 cm, height: 32 cm, wall: 4 mm, material: hdpe}\n"
      "  - {name: pail, shape: cylinder, diameter: 20 cm, height: 24 cm, z: 4 cm, wall: 2 mm, material: aluminium 3003}\n"
      "bodies: [{name: water, in: pail, depth: 16 cm, temperature: 6 C}]\n"
      "baths:\n  - {name: brine, in: tub, salt: CaCl2, strength: 25 %, level: 24 cm, temperature: 0 C, salt_mode: closed,\n"
      "     motion: {kind: still, horizontal_factor: 50, vertical_factor: 50}}\n"
      "coils:\n  - {name: coil, in: brine, inside: tub, gap: 20 mm, tube: 10 mm, tube_wall: 1 mm, z: 4 cm, height: 16 cm, turns: 6,\n"
      "     refrigerant_temperature: -20 C}\ngrid: {spacing: 7 mm}\n";
  static const char *const settings[] = {"grid.spacing=7 mm", "grid.spacing=10 mm", "grid.spacing=14 mm", "grid.spacing=20 mm"};
  double time[4];
  for (int i = 0; i < 4; i++) {
    char name[32];
    (void)snprintf(name, sizeof name, "cells%d", i);
    json_t *root = program_summary_of_case(dir, name, text, (const char *const[]){"--set", settings[i], NULL});
    time[i] = program_figure(root, "freeze", "time_s");
    (void)printf("%s: solid in %.2f h\n", settings[i], time[i] / 3600.0);
    json_decref(root);
  }
  for (int i = 1; i < 4; i++)
    ck_assert_double_eq_tol(time[i], time[0], 0.025 * time[0]);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("still_bath");
  TCase *t = tcase_create("still_bath");
  tcase_add_checked_fixture(t, set_up, tear_down);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_test(t, pot_freezes_as_a_u_while_the_bath_turns_to_slush);
  tcase_add_test(t, coil_in_still_brine_answers_alike_in_coarse_and_fine_cells);
  tcase_add_test(t, heat_crosses_a_gap_of_brine_as_published);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
