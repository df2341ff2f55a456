/* The plant as a run meets it: balance with its coil, a condenser too small, gauges as input. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static char dir[512];

static void set_up(void)
{
  program_directory(dir);
}

static void tear_down(void)
{
  program_remove(dir);
}

static json_t *summary_of(const char *text) { return program_summary_of_case(dir, "out", text, NULL); }

/* Runs a case and gives back its summary. */
/* A block of great heat capacity and conductivity stands for the bath at -10 degC; the tube's outer film alone resists: 9 turns of radius 0.2 m
 * of 12.7 mm tube have 0.45124 m2 on 11.3097 m, so 332.4 W/m2K make 150 W/K. A drop of water freezes on top, since a case needs one. */
static const char balance[] =
    "dimension: rz\nroom: {temperature: 25 C, film: 1e-6 W/m2K}\nparts:\n"
    "  - {name: block, shape: disc, radius: 30 cm, height: 40 cm, temperature: -10 C,\n"
    "     material: {conductivity: 1e5 W/mK, density: 1000 kg/m3, specific_heat: 1e6 J/kgK}}\n"
    "  - {name: cup, shape: cylinder, radius: 10 cm, height: 12 cm, on: block, wall: 5 mm, material: aluminium 3003}\n"
    "bodies: [{name: water, in: cup, volume: 3 L, temperature: 1 C, motion: none}]\n"
    "coils:\n  - {name: coil, in: block, radius: 20 cm, tube: 12.7 mm, tube_wall: 0.9 mm, z: 4 cm, height: 32 cm, turns: 9, inner_film: 0 W/m2K,\n"
    "     outer_film: 332.4 W/m2K, superheated_share: 0 %, spread: yes}\n"
    "plant: {refrigerant: R290, condensing: 40 C, superheat: 10 K, suction_line: 0 K, compressors: [{name: one, displacement: 3 m3/h}], tariff: 0.3}\n"
    "stages: [{name: freeze, kind: freeze, until: time, for: 20 min}]\ngrid: {spacing: 1 cm}\n";

/* What must hold, inside a run: -17.2 +- 0.2 degC; 1074 W and 539 W by the full equation of state (the fits give 1082 and 531). */
START_TEST(bath_and_plant_balance_inside_a_run)
{
  json_t *root = summary_of(balance);
  ck_assert_double_eq_tol(program_figure(root, "plant", "evaporating_C"), -17.2, 0.2);
  ck_assert_double_eq_tol(program_figure(root, "plant", "heat_J") / 1200.0, 1074.0, 0.02 * 1074.0);
  ck_assert_double_eq_tol(program_figure(root, "plant", "mean_power_W"), 539.0, 0.02 * 539.0);
  ck_assert_double_eq_tol(program_figure(root, "plant", "cop"), 1.99, 0.05);
  /* 531 W for 20 minutes are 0.177 kWh, at 0.3 a kWh. */
  ck_assert_double_eq_tol(program_figure(root, "plant", "price"), 0.3 * 0.177, 0.02 * 0.3 * 0.177);
  json_decref(root);
}
END_TEST

/* A tube of 12.7 x 0.9 mm with 1500 W/m2K inside and 300 outside, by hand 1 / (1 / (1500 pi 10.9 mm) + ln(12.7 / 10.9) / (2 pi 385) + 1 / (300 pi 12.7 mm)) =
 * 9.70 W/(m K) (computed independently); 11.31 m of it, 5 K: 548 W. With 15 % of its length full of vapour, at 80 W/m2K inside 2.23 W/(m K), 8.58 in the mean. */
static const struct { const char *share, *spread; double per_metre; } tubes[] = {
    {"0 %", "yes", 9.70}, {"15 %", "yes", 0.85 * 9.70 + 0.15 * 2.23}, {"15 %", "no", 0.85 * 9.70 + 0.15 * 2.23}};
START_TEST(tube_conducts_per_metre_as_by_hand)
{
  char text[3000];
  (void)snprintf(text, sizeof text,
                 "dimension: rz\nroom: {temperature: 25 C, film: 1e-6 W/m2K}\nparts:\n"
                 "  - {name: block, shape: disc, radius: 30 cm, height: 40 cm, temperature: -10 C,\n"
                 "     material: {conductivity: 1e5 W/mK, density: 1000 kg/m3, specific_heat: 1e6 J/kgK}}\n"
                 "  - {name: cup, shape: cylinder, radius: 10 cm, height: 12 cm, on: block, wall: 5 mm, material: aluminium 3003}\n"
                 "bodies: [{name: water, in: cup, volume: 3 L, temperature: 1 C, motion: none}]\n"
                 "coils:\n  - {name: coil, in: block, radius: 20 cm, tube: 12.7 mm, tube_wall: 0.9 mm, z: 4 cm, height: 32 cm, turns: 9, inner_film: 1500 W/m2K,\n"
                 "     outer_film: 300 W/m2K, superheated_share: %s, spread: %s, refrigerant_temperature: -15 C}\n"
                 "stages: [{name: freeze, kind: freeze, until: time, for: 1 min}]\ngrid: {spacing: 1 cm}\n", tubes[_i].share, tubes[_i].spread);
  json_t *root = summary_of(text);
  const double heat = -program_figure(root, "ledger", "coil") / 60.0;
  (void)printf("tube: %.2f W/mK, by hand %.2f\n", heat / 11.3097 / 5.0, tubes[_i].per_metre);
  ck_assert_double_eq_tol(heat / 11.3097 / 5.0, tubes[_i].per_metre, 0.01 * tubes[_i].per_metre);
  json_decref(root);
}
END_TEST

/* The same bath and swept volume on other refrigerants: heat and power by the full equations of state (Tillner-Roth & Baehr 1994, Lemmon 2003). */
static const struct { const char *name; double heat, power; } others[] = {{"R134a", 754.0, 361.0}, {"R404A", 1161.0, 654.0}, {"R410A", 1560.0, 919.0}};
START_TEST(another_refrigerant_moves_the_balance_as_its_equation_says)
{
  char text[3000];
  const char *at = strstr(balance, "R290");
  (void)snprintf(text, sizeof text, "%.*s%s%s", (int)(at - balance), balance, others[_i].name, at + 4);
  json_t *root = summary_of(text);
  ck_assert_double_eq_tol(program_figure(root, "plant", "heat_J") / 1200.0, others[_i].heat, 0.04 * others[_i].heat);
  ck_assert_double_eq_tol(program_figure(root, "plant", "mean_power_W"), others[_i].power, 0.05 * others[_i].power);
  json_decref(root);
}
END_TEST

/* A tub of brine at 20 degC, two compressors and a condenser of 60 W/K in 30 degC: the switch stops the plant again and again, the run goes on, and
 * the many stops are told as one line, and no row of the series lacks a figure at any of them. */
START_TEST(small_condenser_on_a_warm_bath_is_events_and_not_the_end)
{
  json_t *root = summary_of("dimension: rz\nroom: {temperature: 30 C}\nparts:\n"
                            "  - {name: tub, shape: cylinder, diameter: 60 cm, height: 50 cm, wall: 5 mm, material: hdpe}\n"
                            "  - {name: pot, shape: cylinder, diameter: 25 cm, height: 30 cm, z: 12 cm, wall: 2 mm, material: aluminium 3003}\n"
                            "bodies: [{name: water, in: pot, volume: 10 L, temperature: 20 C}]\n"
                            "baths: [{name: brine, in: tub, salt: CaCl2, strength: 20 %, level: 40 cm, temperature: 20 C, motion: stirred}]\n"
                            "coils: [{name: coil, in: brine, radius: 22 cm, tube: 12.7 mm, tube_wall: 0.9 mm, z: 5 cm, height: 30 cm, turns: 12}]\n"
                            "plant: {refrigerant: R290, condenser: 60 W/K, compressors: [{name: a, displacement: 4 m3/h}, {name: b, displacement: 2 m3/h}]}\n"
                            "stages: [{name: freeze, kind: freeze, until: time, for: 2 h}]\ngrid: {spacing: 25 mm}\nrun: {series_every: 1 min}\n");
  char *series = program_read(dir, "out/series.csv", NULL);
  ck_assert_ptr_nonnull(series);
  ck_assert_msg(strstr(series, ",coolant.heat_W,plant.power_W\r\n") != NULL, "%.400s", series);
  const char *gap = strstr(series, ",,") ? strstr(series, ",,") : strstr(series, ",\r");
  ck_assert_msg(!gap, "a row lacks a figure: %.80s", gap);
  free(series);
  const json_t *events = json_object_get(root, "events");
  size_t i;
  const json_t *e;
  double stops = 0.0;
  json_array_foreach(events, i, e)
    if (strcmp(json_string_value(json_object_get(e, "what")), "high-pressure cut-out") == 0) {
      ck_assert_double_eq(stops, 0.0); /* told once */
      stops = json_number_value(json_object_get(e, "count"));
      ck_assert_double_gt(json_number_value(json_object_get(e, "last_at_s")), json_number_value(json_object_get(e, "at_s")));
    }
  ck_assert_double_gt(stops, 4.0);
  ck_assert_double_lt(stops, 40.0); /* three minutes of rest each: at most 40 in two hours */
  /* It ran at up to 60 degC condensing, never beyond. */
  ck_assert_double_le(program_figure(root, "plant", "condensing_C_max"), 60.0 + 1e-6);
  ck_assert_double_gt(program_figure(root, "plant", "heat_J"), 1e6);
  json_decref(root);
}
END_TEST

/* 12 psig of propane at sea level is 1.8406 bar: between -30 (1.6783) and -20 degC (2.4452 bar; Lemmon, McLinden & Wagner 2009), by linear
 * interpolation of ln p against 1/T -27.60 degC. */
START_TEST(gauge_reading_stands_for_a_temperature)
{
  char *const text = strdup(balance), *const at = strstr(text, "plant: {");
  ck_assert_ptr_nonnull(at);
  char made[3000];
  char *coil = strstr(text, "spread: yes}");
  (void)snprintf(made, sizeof made, "%.*s, suction: 12 psig, refrigerant: R290}\n%s", (int)(coil + strlen("spread: yes") - text), text, strstr(at, "stages:"));
  program_write(dir, "case.yaml", made);
  char path[600], out[600];
  (void)snprintf(path, sizeof path, "%s/case.yaml", dir);
  (void)snprintf(out, sizeof out, "%s/out", dir);
  program_result r = program_run((const char *const[]){"run", path, "-o", out, "--quiet", NULL}, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  char *series = program_read(out, "series.csv", NULL);
  ck_assert_ptr_nonnull(series);
  /* Column of the coolant in the header, then the last row. */
  size_t column = 0, n = 0;
  for (const char *c = series; strncmp(c, "coolant.temperature", 19) != 0; c++) {
    ck_assert(*c != '\n' && *c);
    column += *c == ',';
  }
  char *row = strrchr(series, '\n');
  *row = 0;
  row = strrchr(series, '\n') + 1;
  for (; n < column; row++)
    n += *row == ',';
  ck_assert_double_eq_tol(strtod(row, NULL), -27.6, 0.1);
  free(series);
  free(text);
  program_release(&r);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("plant_in_a_run");
  TCase *t = tcase_create("plant_in_a_run");
  tcase_add_checked_fixture(t, set_up, tear_down);
  tcase_add_test(t, bath_and_plant_balance_inside_a_run);
  tcase_add_loop_test(t, tube_conducts_per_metre_as_by_hand, 0, 3);
  tcase_add_loop_test(t, another_refrigerant_moves_the_balance_as_its_equation_says, 0, 3);
  tcase_add_test(t, small_condenser_on_a_warm_bath_is_events_and_not_the_end);
  tcase_add_test(t, gauge_reading_stands_for_a_temperature);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
