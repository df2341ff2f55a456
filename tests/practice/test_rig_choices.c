/* Layout, salt and insulation (the refrigerant: test_plant_in_a_run): each moves the answer in the direction and about by the amount of a hand calculation.
 *
 * All pots hold 10 L in 22 cm, with 5 degC to lose and about half the coolant's depth below 0 degC: the latent heat counts 1 + (4.2 * 5 + 0.5 * 2.1 dT) / 333.4
 * times. Plank for an infinite cylinder frozen inward t = rho L / dT (R / 2h + R^2 / 4k), outward round a rod of radius a up to R
 * t = rho L / (k dT) (R^2/2 ln(R/a) - (R^2 - a^2)/4); rho 917, L 333.4e3, k 2.3. dT: mean over the run of what the ice grows on, as the series has it. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static const double R = 0.11, HEIGHT = 0.287, CONDUCTIVITY = 2.3, LATENT = 917.0 * 333.4e3;
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

static json_t *summary_of(const char *text)
{
  program_remove(out);
  return program_summary_of_case(dir, "out", text, NULL);
}

/* Mean of a column over the rows of the series, degC. */
static double mean_of(const char *column)
{
  char *text = program_read(out, "series.csv", NULL);
  ck_assert_ptr_nonnull(text);
  size_t index = 0, num = 0;
  double sum = 0.0;
  for (const char *c = text; strncmp(c, column, strlen(column)) != 0; c++)
    index += *c == ',';
  for (char *row = strchr(text, '\n'); row && row[1]; row = strchr(row + 1, '\n')) {
    const char *field = row + 1;
    for (size_t i = 0; i < index; i++)
      field = strchr(field, ',') + 1;
    if (*field == ',' || *field == '\n')
      continue;
    sum += strtod(field, NULL);
    num++;
  }
  free(text);
  return sum / (double)num;
}

static double warmth(double depth)
{
  return 1.0 + (4.2 * 5.0 + 0.5 * 2.1 * depth) / 333.4;
}

static double inward(double depth, double film)
{
  return LATENT / depth * ((isfinite(film) ? R / (2.0 * film) : 0.0) + R * R / (4.0 * CONDUCTIVITY)) * warmth(depth);
}

static double outward(double depth, double a, double reach)
{
  return LATENT / (CONDUCTIVITY * depth) * (0.5 * reach * reach * log(reach / a) - 0.25 * (reach * reach - a * a)) * warmth(depth);
}

#define PLANT "plant: {refrigerant: R290, condensing: 40 C, expansion: capillary, compressors: [{name: one, displacement: 1.2 m3/h}]}\n"
#define WATER "bodies: [{name: water, in: pot, volume: 10 L, temperature: 5 C}]\n"

/* One plant, one pot: its refrigerant in the channels of a metal jacket, in a coil in a stirred bath, in a rod down the middle, and in a freezer with still air. */
START_TEST(layouts_rank_and_last_as_hand_formulas_say)
{
  double time[4], hand[4];
  json_t *jacket = summary_of("dimension: rz\nroom: {temperature: 20 C, film: 0 W/m2K}\nparts:\n"
                              "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, wall: 2 mm, material: aluminium 3003}\n"
                              "  - {name: sleeve, shape: tube, diameter: 26 cm, inner_diameter: 22.4 cm, height: 30 cm, material: aluminium 3003}\n" WATER
                              "coils: [{name: coil, in: sleeve, shape: channels, conductance: 100 W/K}]\n" PLANT
                              "grid: {spacing: 8 mm}\n");
  time[0] = program_figure(jacket, "freeze", "time_s");
  hand[0] = inward(-mean_of("sleeve.temperature"), INFINITY);
  /* Coil 12.75 m at 9.7 W/mK, 85 % of it wetted: 105 W/K; a pot's side of 0.198 m2 at 350 W/m2K (stirred brine, common practice, no source): 69 W/K; in series
   * 42 W/K, as a film on the pot 210 W/m2K. */
  json_t *bath = summary_of("dimension: rz\nroom: {temperature: 20 C, film: 0 W/m2K}\nparts:\n"
                            "  - {name: tub, shape: cylinder, diameter: 36 cm, height: 34 cm, wall: 4 mm, material: hdpe}\n"
                            "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, z: 2.5 cm, wall: 2 mm, material: aluminium 3003}\n" WATER
                            "baths: [{name: brine, in: tub, salt: CaCl2, strength: 28 %, level: 31 cm, temperature: 5 C, motion: stirred}]\n"
                            "coils: [{name: coil, in: brine, radius: 14.5 cm, tube: 9.5 mm, tube_wall: 0.8 mm, z: 2 cm, height: 27 cm, turns: 14}]\n" PLANT
                            "grid: {spacing: 8 mm}\n");
  time[1] = program_figure(bath, "freeze", "time_s");
  hand[1] = inward(-mean_of("coolant.temperature"), 210.0);
  json_t *rod = summary_of("dimension: rz\nroom: {temperature: 20 C, film: 0 W/m2K}\nparts:\n"
                           "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, wall: 2 mm, material: hdpe}\n"
                           "  - {name: rod, shape: cylinder, radius: 2 cm, height: 30 cm, material: aluminium 3003}\n" WATER
                           "coils: [{name: coil, in: rod, shape: channels, conductance: 40 W/K}]\n" PLANT
                           "grid: {spacing: 8 mm}\n");
  time[2] = program_figure(rod, "freeze", "time_s");
  hand[2] = outward(-mean_of("rod.temperature"), 0.02, R);
  /* All faces cold: the side's formula, over 1 + R / height for the ends. */
  json_t *air = summary_of("dimension: rz\nroom: {temperature: 20 C, film: 8 W/m2K}\nparts:\n"
                           "  - {name: box, shape: cylinder, diameter: 50 cm, height: 50 cm, wall: 60 mm, material: xps}\n"
                           "  - {name: air, shape: cylinder, diameter: 50 cm, height: 50 cm, material: air}\n"
                           "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, z: 10 cm, wall: 2 mm, material: aluminium 3003}\n" WATER
                           "coils: [{name: coil, in: air, shape: channels, conductance: 15 W/K, outer_film: 8.6 W/m2K}]\n" PLANT
                           "grid: {spacing: 10 mm}\n");
  time[3] = program_figure(air, "freeze", "time_s");
  hand[3] = inward(-mean_of("air.temperature"), 8.6) / (1.0 + R / HEIGHT);
  static const char *const name[4] = {"jacket", "bath", "rod", "air"};
  for (int i = 0; i < 4; i++) {
    (void)printf("%-6s %5.2f h, by hand %5.2f h\n", name[i], time[i] / 3600.0, hand[i] / 3600.0);
    ck_assert_double_eq_tol(time[i], hand[i], 0.15 * hand[i]);
    ck_assert(i == 0 || time[i] > time[i - 1]);
  }
  json_decref(jacket);
  json_decref(bath);
  json_decref(rod);
  json_decref(air);
}
END_TEST

/* Four fingers on that plant: each freezes a fourth of the cross-section, a circle of R / 2. Corners between them come later: nine tenths are compared. */
START_TEST(four_fingers_freeze_a_fourth_each)
{
  json_t *root = summary_of("dimension: xyz\nroom: {temperature: 20 C, film: 0 W/m2K}\nparts:\n"
                            "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 10 cm, wall: 2 mm, material: hdpe}\n"
                            "  - {name: f1, shape: cylinder, radius: 1 cm, height: 10 cm, axis_at: [5.5 cm, 0 cm], material: aluminium 3003}\n"
                            "  - {name: f2, shape: cylinder, radius: 1 cm, height: 10 cm, axis_at: [0 cm, 5.5 cm], material: aluminium 3003}\n"
                            "  - {name: f3, shape: cylinder, radius: 1 cm, height: 10 cm, axis_at: [-5.5 cm, 0 cm], material: aluminium 3003}\n"
                            "  - {name: f4, shape: cylinder, radius: 1 cm, height: 10 cm, axis_at: [0 cm, -5.5 cm], material: aluminium 3003}\n"
                            "bodies: [{name: water, in: pot, volume: 3 L, temperature: 5 C}]\ncoils:\n"
                            "  - {name: c1, in: f1, shape: channels, conductance: 20 W/K}\n"
                            "  - {name: c2, in: f2, shape: channels, conductance: 20 W/K}\n"
                            "  - {name: c3, in: f3, shape: channels, conductance: 20 W/K}\n"
                            "  - {name: c4, in: f4, shape: channels, conductance: 20 W/K}\n" PLANT "grid: {spacing: 10 mm}\n");
  const double most = json_number_value(json_object_get(json_object_get(json_object_get(root, "freeze"), "marks_s"), "0.9"));
  /* A tenth is left when the circle has grown to sqrt(0.9) of its area. */
  const double hand = outward(-mean_of("f1.temperature"), 0.01, sqrt(0.9) * R / 2.0);
  (void)printf("fingers: 90 %% after %.2f h, by hand %.2f h\n", most / 3600.0, hand / 3600.0);
  ck_assert_double_eq_tol(most, hand, 0.15 * hand);
  json_decref(root);
}
END_TEST

/* Refrigerant all through a part, in the four ways and on coarse cells: what the coolant takes in a minute is conductance x (part - coolant), the part's
 * temperature read every two seconds. (Coarse, so that the sanitized build runs it too.) */
#define HALVES "stages: [{name: settle, kind: freeze, for: 10 min}, {name: minute, kind: freeze, for: 1 min}]\nrun: {series_every: 2 s, longest_step: 2 s}\n"
enum { ROWS_OF_A_MINUTE = 30 };
static const struct { const char *name, *part; double conductance; const char *text; } channels[] = {
    {"jacket", "sleeve", 30.0,
     "dimension: rz\nroom: {temperature: 20 C, film: 4 W/m2K}\nparts:\n"
     "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, wall: 2 mm, material: aluminium 3003}\n"
     "  - {name: sleeve, shape: tube, diameter: 26 cm, inner_diameter: 22.4 cm, height: 30 cm, material: aluminium 3003}\n" WATER
     "coils: [{name: coil, in: sleeve, shape: channels, conductance: 30 W/K, refrigerant_temperature: -12 C}]\ngrid: {spacing: 18 mm}\n" HALVES},
    {"rod", "rod", 12.0,
     "dimension: rz\nroom: {temperature: 20 C, film: 4 W/m2K}\nparts:\n"
     "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, wall: 2 mm, material: hdpe}\n"
     "  - {name: rod, shape: cylinder, radius: 2 cm, height: 30 cm, material: aluminium 3003}\n" WATER
     "coils: [{name: coil, in: rod, shape: channels, conductance: 12 W/K, refrigerant_temperature: -12 C}]\ngrid: {spacing: 11 mm}\n" HALVES},
    {"fingers", "f1", 4.0,
     "dimension: xyz\nroom: {temperature: 20 C, film: 4 W/m2K}\nparts:\n"
     "  - {name: pot, shape: cylinder, diameter: 12 cm, height: 10 cm, wall: 2 mm, material: hdpe}\n"
     "  - {name: f1, shape: cylinder, radius: 1 cm, height: 10 cm, axis_at: [3 cm, 0 cm], material: aluminium 3003}\n"
     "  - {name: f2, shape: cylinder, radius: 1 cm, height: 10 cm, axis_at: [-3 cm, 0 cm], material: aluminium 3003}\n"
     "bodies: [{name: water, in: pot, volume: 0.8 L, temperature: 5 C}]\ncoils:\n"
     "  - {name: coil, in: f1, shape: channels, conductance: 4 W/K, refrigerant_temperature: -12 C}\n"
     "  - {name: other, in: f2, shape: channels, conductance: 4 W/K, refrigerant_temperature: -12 C}\ngrid: {spacing: 7 mm}\n" HALVES},
    {"freezer", "air", 6.0,
     "dimension: rz\nroom: {temperature: 20 C, film: 8 W/m2K}\nparts:\n"
     "  - {name: box, shape: cylinder, diameter: 50 cm, height: 50 cm, wall: 60 mm, material: xps}\n"
     "  - {name: air, shape: cylinder, diameter: 50 cm, height: 50 cm, material: air}\n"
     "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, z: 10 cm, wall: 2 mm, material: aluminium 3003}\n" WATER
     "coils: [{name: coil, in: air, shape: channels, conductance: 6 W/K, outer_film: 8.6 W/m2K, refrigerant_temperature: -20 C}]\ngrid: {spacing: 20 mm}\n" HALVES}};

/* Mean of a column over the last rows of the series. */
static double mean_of_last(const char *column, size_t rows)
{
  char *text = program_read(out, "series.csv", NULL);
  ck_assert_ptr_nonnull(text);
  size_t index = 0;
  double sum = 0.0;
  for (const char *c = text; strncmp(c, column, strlen(column)) != 0; c++)
    index += *c == ',';
  for (size_t row = 0; row < rows; row++) { /* the text ends with a line end */
    *strrchr(text, '\n') = '\0';
    const char *field = strrchr(text, '\n') + 1;
    for (size_t i = 0; i < index; i++)
      field = strchr(field, ',') + 1;
    sum += strtod(field, NULL);
  }
  free(text);
  return sum / (double)rows;
}

START_TEST(channels_take_what_their_conductance_says)
{
  char column[64];
  json_t *root = summary_of(channels[_i].text);
  const json_t *ledger = json_object_get(json_array_get(json_object_get(root, "stages"), 1), "ledger");
  (void)snprintf(column, sizeof column, "%s.temperature", channels[_i].part);
  const double coolant = strcmp(channels[_i].name, "freezer") == 0 ? -20.0 : -12.0;
  const double mean = mean_of_last(column, ROWS_OF_A_MINUTE), taken = -json_number_value(json_object_get(ledger, "coil"));
  (void)printf("%-8s part at %.2f degC, %.1f W, by hand %.1f W\n", channels[_i].name, mean, taken / 60.0, channels[_i].conductance * (mean - coolant));
  ck_assert_double_eq_tol(taken / 60.0, channels[_i].conductance * (mean - coolant), 0.01 * taken / 60.0);
  ck_assert_double_lt(fabs(program_figure(root, "ledger", "residual_relative")), 1e-9);
  json_decref(root);
}
END_TEST

static double ice_at_minus_twenty(const char *salt)
{
  char text[2000];
  (void)snprintf(text, sizeof text,
                 "dimension: rz\nroom: {temperature: -20 C, film: 8 W/m2K}\nparts:\n"
                 "  - {name: tub, shape: cylinder, diameter: 36 cm, height: 34 cm, wall: 4 mm, material: hdpe}\n"
                 "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, z: 2.5 cm, wall: 20 mm, material: hdpe}\n" WATER
                 "baths: [{name: brine, in: tub, salt: %s, strength: 20 %%, level: 31 cm, temperature: -20 C, motion: none, salt_mode: closed}]\n"
                 "stages: [{name: freeze, kind: freeze, until: time, for: 1 min}]\ngrid: {spacing: 1 cm}\n", salt);
  json_t *root = summary_of(text);
  const double ice = program_figure(root, "bath", "ice_fraction_mean");
  json_decref(root);
  return ice;
}

/* At -20 degC brine of 20 % holds 1 - 0.2 / w_liq(-20): NaCl, between 22 % (-19.19) and 23 % (-20.69 degC; Lange's Handbook): 11.3 %; CaCl2, between 20 %
 * (-18.3) and 22 % (-21.7 degC; CRC Handbook, whose line lies too warm there): at most 4.8 %; Melinder 2010: 4.7 %. */
START_TEST(table_salt_makes_more_slush_than_calcium_chloride)
{
  const double table = ice_at_minus_twenty("NaCl"), calcium = ice_at_minus_twenty("CaCl2");
  ck_assert_double_eq_tol(table, 0.113, 0.015);
  ck_assert_double_gt(calcium, 0.015);
  ck_assert_double_lt(calcium, 0.055);
}
END_TEST

/* A bath of 18 % NaCl below its eutectic (-21.2 degC) has no liquid whose strength could be told; what would free the mould is the salt of all of it:
 * 15 % ice at 0.18 / 0.85 = 21.2 %, between 21 % (-17.78) and 22 % (-19.19 degC; Lange's Handbook, from memory): -18.0 degC. */
START_TEST(a_bath_frozen_through_is_judged_by_all_its_salt)
{
  json_t *root = summary_of("dimension: rz\nroom: {temperature: -23 C, film: 8 W/m2K}\nparts:\n"
                            "  - {name: tub, shape: cylinder, diameter: 36 cm, height: 34 cm, wall: 4 mm, material: hdpe}\n"
                            "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, z: 2.5 cm, wall: 20 mm, material: hdpe}\n" WATER
                            "baths: [{name: brine, in: tub, salt: NaCl, strength: 18 %, level: 31 cm, temperature: -23 C, motion: none, salt_mode: closed}]\n"
                            "stages: [{name: freeze, kind: freeze, until: time, for: 1 min}]\ngrid: {spacing: 1 cm}\n");
  const json_t *bath = json_object_get(root, "bath");
  ck_assert_ptr_null(json_object_get(bath, "mass_fraction"));
  ck_assert_str_eq(json_string_value(json_object_get(bath, "draw")), "locked");
  ck_assert_double_eq_tol(json_number_value(json_object_get(json_object_get(bath, "answer"), "free_above_C")), -18.0, 0.3);
  json_decref(root);
}
END_TEST

/* A coil 7 mm from the pot in a stirred bath that freezes: the layer of ice on its tubes reaches the pot and locks it; three times as far off it stays free. */
static void judge_coil_at(const char *radius, const char *verdict)
{
  char text[2000];
  (void)snprintf(text, sizeof text,
                 "dimension: rz\nroom: {temperature: 20 C, film: 0 W/m2K}\nparts:\n"
                 "  - {name: tub, shape: cylinder, diameter: 36 cm, height: 34 cm, wall: 4 mm, material: hdpe}\n"
                 "  - {name: pot, shape: cylinder, diameter: 22 cm, height: 30 cm, z: 2.5 cm, wall: 2 mm, material: aluminium 3003}\n" WATER
                 "baths: [{name: brine, in: tub, salt: CaCl2, strength: 21 %%, level: 31 cm, temperature: 5 C, motion: stirred}]\n"
                 "coils: [{name: coil, in: brine, radius: %s, tube: 9.5 mm, tube_wall: 0.8 mm, z: 2 cm, height: 27 cm, turns: 14}]\n" PLANT
                 "grid: {spacing: 8 mm}\n", radius);
  json_t *root = summary_of(text);
  const json_t *bath = json_object_get(root, "bath");
  ck_assert_str_eq(json_string_value(json_object_get(bath, "draw")), verdict);
  ck_assert_int_eq(json_is_true(json_object_get(json_object_get(bath, "answer"), "bridged")), strcmp(verdict, "locked") == 0);
  json_decref(root);
}

START_TEST(ice_from_coil_to_pot_locks_it)
{
  judge_coil_at("12.4 cm", "locked");
  judge_coil_at("14.5 cm", "free");
}
END_TEST

/* A still bath that holds the mould only if its salt mixes: a stage that waits until it lets go marches the other way and ends at once, and the summary says
 * so, since the verdict in front is "locked". */
START_TEST(a_stage_that_waits_for_the_bath_tells_of_the_other_answer)
{
  json_t *root = summary_of("dimension: rz\nroom: {temperature: 15 C, film: 8 W/m2K}\nparts:\n"
                            "  - {name: tub, shape: cylinder, diameter: 30 cm, height: 24 cm, wall: 4 mm, material: hdpe}\n"
                            "  - {name: a, shape: cylinder, diameter: 14 cm, height: 17 cm, z: 3 cm, wall: 1 mm, material: stainless steel 304}\n"
                            "bodies: [{name: wa, in: a, volume: 2 L, temperature: 5 C}]\n"
                            "baths: [{name: brine, in: tub, salt: NaCl, strength: 20 %, level: 18 cm, temperature: -5 C}]\n"
                            "coils: [{name: coil, in: brine, around: a, gap: 12 mm, tube: 8 mm, tube_wall: 1 mm, turns: 6, pitch: 24 mm, z: 4 cm}]\n"
                            "plant: {refrigerant: R290, condenser: 60 W/K, compressors: [{name: c, displacement: 1.5 m3/h}], thermostat: {part: brine, set_point: -16.5 C}}\n"
                            "stages: [{name: freeze, kind: freeze}, {name: soften, kind: hold, until: lets_go, plant: heats}]\ngrid: {spacing: 8 mm}\n");
  const json_t *bath = json_object_get(root, "bath"), *soften = json_array_get(json_object_get(root, "stages"), 1);
  ck_assert_str_eq(json_string_value(json_object_get(json_object_get(bath, "answer"), "salt_mode")), "mixed");
  ck_assert_str_eq(json_string_value(json_object_get(json_object_get(bath, "answer"), "draw")), "locked");
  ck_assert_str_eq(json_string_value(json_object_get(json_object_get(bath, "other_answer"), "draw")), "free");
  ck_assert_str_eq(json_string_value(json_object_get(soften, "ended_by")), "bath lets go");
  bool told = false;
  size_t i;
  const json_t *warning;
  json_array_foreach(json_object_get(root, "warnings"), i, warning)
    told = told || strstr(json_string_value(warning), "with it mixed the mould is locked");
  ck_assert(told);
  json_decref(root);
}
END_TEST

static double leak_through(const char *foam)
{
  char text[2000];
  (void)snprintf(text, sizeof text,
                 "dimension: rz\nroom: {temperature: 25 C, film: 8 W/m2K}\nparts:\n"
                 "  - {name: tub, shape: cylinder, diameter: 60 cm, height: 40 cm, wall: 5 mm, material: hdpe}\n"
                 "%s"
                 "  - {name: pot, shape: cylinder, diameter: 20 cm, height: 30 cm, z: 8 cm, wall: 5 mm, material: hdpe}\n"
                 "bodies: [{name: water, in: pot, volume: 4 L, temperature: 1 C}]\n"
                 "baths: [{name: brine, in: tub, salt: CaCl2, strength: 25 %%, level: 36 cm, temperature: -15 C, motion: stirred}]\n"
                 "coils: [{name: coil, in: brine, radius: 22 cm, tube: 12.7 mm, tube_wall: 0.9 mm, z: 5 cm, height: 28 cm, turns: 14, refrigerant_temperature: -15 C}]\n"
                 "surfaces: [{of: brine, faces: top, insulated: yes}, {of: water, faces: top, insulated: yes}]\n"
                 "stages: [{name: settle, kind: precool, for: 4 h}, {name: freeze, kind: freeze, until: time, for: 2 h}]\ngrid: {spacing: 1 cm}\n", foam);
  json_t *root = summary_of(text);
  const json_t *ledger = json_object_get(json_array_get(json_object_get(root, "stages"), 1), "ledger");
  double heat = 0.0;
  for (const char *const *path = (const char *const[]){"tub to room", "foam to room", NULL}; *path; path++)
    if (json_object_get(ledger, *path))
      heat += json_number_value(json_object_get(ledger, *path));
  json_decref(root);
  return heat / 7200.0;
}

/* Bare: side up to the brine and floor, 0.979 m2 outside (rim above left out), film 8 W/m2K, 5 mm of plastic (0.45 W/mK), some 3 K of the way inside: about
 * 38 K / (1/8 + 0.011 + 1/300) = 265 W. Under 50 mm of foam (0.032 W/mK), at its middle radius 1.09 m2: 40 K / (1/8 + 0.011 + 0.05/0.032) * 1.09 = 25.7 W; edges and the rim, where the wall
 * leads round the foam, add 15 to 30 % (common practice, no source): 29.5 to 33.4 W. */
START_TEST(insulation_cuts_the_leak_as_by_hand)
{
  const double bare = leak_through(""), wrapped = leak_through("  - {name: foam, around: tub, wall: 50 mm, material: xps}\n");
  (void)printf("leak bare %.0f W, wrapped %.1f W\n", bare, wrapped);
  ck_assert_double_eq_tol(bare, 265.0, 0.2 * 265.0);
  ck_assert_double_ge(wrapped, 29.5 * 0.95);
  ck_assert_double_le(wrapped, 33.4 * 1.05);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("rig_choices");
  TCase *t = tcase_create("rig_choices");
  tcase_add_checked_fixture(t, set_up, tear_down);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_test(t, layouts_rank_and_last_as_hand_formulas_say);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_test(t, four_fingers_freeze_a_fourth_each);
  tcase_add_loop_test(t, channels_take_what_their_conductance_says, 0, 4);
  tcase_add_test(t, table_salt_makes_more_slush_than_calcium_chloride);
  tcase_add_test(t, a_bath_frozen_through_is_judged_by_all_its_salt);
  tcase_add_test(t, ice_from_coil_to_pot_locks_it);
  tcase_add_test(t, a_stage_that_waits_for_the_bath_tells_of_the_other_answer);
  tcase_add_test(t, insulation_cuts_the_leak_as_by_hand);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
