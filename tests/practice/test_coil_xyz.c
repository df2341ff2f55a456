/* Coils in three dimensions, as a user gives them: a helix in a stirred bath answers as it does in (r, z), a serpentine runs in a still bath, and what does
 * not fit is told. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
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

static const char HELIX[] = "around: can, gap: 26 mm, z: 40 mm, turns: 4, pitch: 32 mm";

static program_result run_with(const char *name, const char *dimension, const char *coil, const char *motion, const char *spacing, const char *rest)
{
  char text[1600], path[600], to[600];
  (void)snprintf(text, sizeof text,
                 "dimension: %s\n"
                 "room: {temperature: 15 C}\n"
                 "parts:\n"
                 "  - {name: trough, shape: cylinder, radius: 150 mm, height: 220 mm, wall: 30 mm, material: xps}\n"
                 "  - {name: can, shape: cylinder, radius: 60 mm, height: 150 mm, z: 40 mm, wall: 2 mm, material: hdpe}\n"
                 "bodies:\n"
                 "  - {name: water, in: can, depth: 130 mm, temperature: 4 C, motion: none}\n"
                 "baths:\n"
                 "  - {name: brine, in: trough, salt: CaCl2, strength: 25 %%, level: 185 mm, temperature: -5 C, motion: %s}\n"
                 "coils:\n"
                 "  - {name: winding, in: brine, %s, tube: 10 mm, tube_wall: 1 mm, refrigerant_temperature: -22 C}\n"
                 "grid: {spacing: %s}\n"
                 "%s\n", dimension, motion, coil, spacing, rest);
  (void)snprintf(path, sizeof path, "%s.yaml", name);
  (void)snprintf(to, sizeof to, "%s/%s", dir, name);
  program_write(dir, path, text);
  (void)snprintf(path, sizeof path, "%s/%s.yaml", dir, name);
  return program_run((const char *const[]){"run", path, "-o", to, "--quiet", NULL}, NULL);
}

static json_t *summary_of(const char *name, const char *dimension, const char *coil, const char *motion, const char *spacing, const char *rest)
{
  char path[600];
  program_result r = run_with(name, dimension, coil, motion, spacing, rest);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  (void)snprintf(path, sizeof path, "%s/%s/summary.json", dir, name);
  json_t *json = json_load_file(path, 0, NULL);
  ck_assert_ptr_nonnull(json);
  return json;
}

static double number(const json_t *json, const char *section, const char *key)
{
  const json_t *value = json_object_get(json_object_get(json, section), key);
  ck_assert_msg(json_is_number(value), "%s.%s", section, key);
  return json_number_value(value);
}

/* A figure of revolution either way, 8.6 cells per radius. */
START_TEST(a_helix_in_a_stirred_bath_answers_as_in_rz)
{
  json_t *flat = summary_of("flat", "rz", HELIX, "stirred", "7 mm", ""), *solid = summary_of("solid", "xyz", HELIX, "stirred", "7 mm", "");
  const double time = number(flat, "freeze", "time_s"), heat = number(flat, "ledger", "coil winding");
  ck_assert_double_eq_tol(number(solid, "freeze", "time_s") / time, 1, 0.005);
  ck_assert_double_eq_tol(number(solid, "ledger", "coil winding") / heat, 1, 0.02);
  ck_assert_double_lt(fabs(number(solid, "ledger", "residual_relative")), 1e-9);
  json_decref(flat);
  json_decref(solid);
}
END_TEST

START_TEST(a_serpentine_runs_in_a_still_bath)
{
  json_t *json = summary_of("to_and_fro", "xyz", "shape: serpentine, runs: 3, run_length: 90 mm, pitch: 40 mm, z: 15 mm, turn: 20 deg", "still", "14 mm",
                            "stages: [{name: begin, kind: hold, for: 20 min}]");
  ck_assert_double_lt(number(json, "ledger", "coil winding"), -1e3);
  ck_assert_double_lt(fabs(number(json, "ledger", "residual_relative")), 1e-9);
  json_decref(json);
}
END_TEST

/* A turn of tube as a path, its ends 10.2 mm apart so that they do not touch. */
static double write_turn(char *text, size_t size, double radius_mm)
{
  enum { POINTS = 73 };
  const double gap = asin(5.1 / radius_mm), pi = acos(-1.0);
  size_t at = (size_t)snprintf(text, size, "shape: path, path: [");
  for (int i = 0; i < POINTS; i++) {
    const double turn = gap + 2.0 * (pi - gap) * i / (POINTS - 1);
    at += (size_t)snprintf(text + at, size - at, "%s[%.3f mm, %.3f mm, 80 mm]", i ? ", " : "", radius_mm * cos(turn), radius_mm * sin(turn));
  }
  (void)snprintf(text + at, size - at, "]");
  return 1.0 - gap / pi;
}

static double ice_after(const char *name, const char *dimension, const char *coil, const char *spacing, const char *time)
{
  char text[6000];
  (void)snprintf(text, sizeof text,
                 "dimension: %s\n"
                 "room: {temperature: 5 C}\n"
                 "parts:\n"
                 "  - {name: trough, shape: cylinder, radius: 120 mm, height: 200 mm, wall: 30 mm, material: xps}\n"
                 "bodies:\n"
                 "  - {name: water, in: trough, depth: 160 mm, temperature: 2 C, motion: none}\n"
                 "coils:\n"
                 "  - {name: winding, in: water, %s, tube: 10 mm, tube_wall: 1 mm, refrigerant_temperature: -12 C}\n"
                 "grid: {spacing: %s}\n"
                 "stages: [{name: begin, kind: freeze, for: %s}]\n", dimension, coil, spacing, time);
  json_t *json = program_summary_of_case(dir, name, text, NULL);
  const double share = number(json, "freeze", "fraction");
  json_decref(json);
  return share;
}

/* A sharp front round a bare tube, against the shells that resolve it in (r, z): in cells as wide as the tube and twice as wide. */
static const struct {
  const char *spacing, *time;
  double least; /* share of the water that is ice */
} growths[] = {{"10 mm", "10 min", 0.01}, {"10 mm", "1 h", 0.05}, {"20 mm", "10 min", 0.01}, {"20 mm", "1 h", 0.05}};

START_TEST(ice_round_a_tube_in_still_water_grows_as_in_rz)
{
  char turn[4000];
  const double share = write_turn(turn, sizeof turn, 70.0);
  const double flat = ice_after("flat", "rz", "radius: 70 mm, z: 80 mm, turns: 1, pitch: 40 mm", growths[_i].spacing, growths[_i].time);
  const double solid = ice_after("solid", "xyz", turn, growths[_i].spacing, growths[_i].time), apart = 100.0 * (solid / (share * flat) - 1.0);
  printf("ice round a tube in cells of %s after %s: rz %.4g, xyz %.4g (tube %.4g as long), %+.2f %%\n", growths[_i].spacing, growths[_i].time, flat, solid,
         share, apart);
  ck_assert_double_gt(flat, growths[_i].least);
  ck_assert_msg(fabs(apart) < 3.0, "ice %.5g in rz, %.5g in xyz, of a tube %.4g as long", flat, solid, share);
}
END_TEST

/* A ring of ice of radius r round the tube in stirred water of one temperature T, worked out for itself: computed independently (steady heat through wall and ring,
 * (0 - T_r) / (R + ln(r / a) / (2 pi k)) per metre, less 2 pi r h T from the water, freezes 2 pi r dr rho L; the water cools by what it gives). J in all. */
static double heat_of_ring(double film, double length, double seconds)
{
  const double pi = acos(-1.0), a = 0.005, k = 2.2, rho = 917.0, latent = 334e3, step = 0.05, wall = log(5.0 / 4.0) / (2.0 * pi * 390.0);
  const double inner = 1.0 / (1500.0 * 2.0 * pi * 0.004), capacity = pi * 0.12 * 0.12 * 0.16 * rho * 4200.0;
  double r = a * 1.0001, T = 6.0, heat = 0.0;
  for (double t = 0.0; t < seconds; t += step) {
    const double drawn = 12.0 / (inner + wall + log(r / a) / (2.0 * pi * k)), given = film * 2.0 * pi * r * T;
    r = sqrt(fmax(r * r + (drawn - given) * step / (pi * rho * latent), a * a * 1.0002));
    T -= given * length * step / capacity;
    heat += drawn * length * step;
  }
  return heat;
}

static const double films[] = {100.0, 1000.0}; /* W/(m2 K) */

START_TEST(a_tube_in_stirred_water_draws_through_the_film_on_its_ice)
{
  char turn[4000], text[6000];
  const double share = write_turn(turn, sizeof turn, 70.0), length = share * 2.0 * acos(-1.0) * 0.07;
  (void)snprintf(text, sizeof text,
                 "dimension: xyz\n"
                 "room: {temperature: 5 C}\n"
                 "parts:\n"
                 "  - {name: trough, shape: cylinder, radius: 120 mm, height: 200 mm, wall: 30 mm, material: xps}\n"
                 "bodies:\n"
                 "  - {name: water, in: trough, depth: 160 mm, temperature: 6 C, motion: {kind: stirred, film: %g W/m2K}}\n"
                 "coils:\n"
                 "  - {name: winding, in: water, %s, tube: 10 mm, tube_wall: 1 mm, refrigerant_temperature: -12 C}\n"
                 "grid: {spacing: 10 mm}\n"
                 "stages: [{name: begin, kind: freeze, for: 30 min}]\n", films[_i], turn);
  json_t *json = program_summary_of_case(dir, "stirred", text, NULL);
  const double found = -number(json, "ledger", "coil winding"), ring = heat_of_ring(films[_i], length, 1800.0);
  printf("tube in stirred water, film of %g W/m2K: %.4g kJ, a ring for itself %.4g kJ, %+.1f %%\n", films[_i], found / 1e3, ring / 1e3, 100.0 * (found / ring - 1.0));
  ck_assert_double_eq_tol(found / ring, 1.0, 0.1);
  ck_assert_double_lt(fabs(number(json, "ledger", "residual_relative")), 1e-9);
  json_decref(json);
}
END_TEST

/* The film over the cells that the tube covers: how much they take depends on how they lie, by some 8 % in (r, z) between 5 and 14 mm. */
START_TEST(a_spread_helix_takes_what_it_takes_in_rz)
{
  static const char spread[] = "around: can, gap: 26 mm, z: 40 mm, turns: 4, pitch: 32 mm, outer_film: 100 W/m2K, spread: yes", hold[] = "stages: [{name: begin, kind: hold, for: 1 h}]";
  json_t *flat = summary_of("flat", "rz", spread, "none", "12 mm", hold), *solid = summary_of("solid", "xyz", spread, "none", "12 mm", hold);
  ck_assert_double_eq_tol(number(solid, "ledger", "coil winding") / number(flat, "ledger", "coil winding"), 1, 0.1);
  ck_assert_double_lt(fabs(number(solid, "ledger", "residual_relative")), 1e-9);
  json_decref(flat);
  json_decref(solid);
}
END_TEST

static const struct {
  const char *dimension, *coil, *says;
} faults[] = {
    {"xyz", "radius: 60 mm, z: 40 mm, turns: 4, pitch: 32 mm", "it goes through \"can\" by"},
    {"xyz", "radius: 300 mm, z: 40 mm, turns: 4, pitch: 32 mm", "does not lie within \"brine\""},
    {"xyz", "around: can, gap: 26 mm, z: 70 mm, turns: 4, pitch: 32 mm", "does not lie within \"brine\""},
    {"xyz", "around: can, gap: 26 mm, z: 40 mm, turns: 4, pitch: 8 mm", "the turns would overlap"},
    {"xyz", "shape: path, path: [[100 mm, 0 mm, 50 mm], [-100 mm, 0 mm, 50 mm]]", "it goes through \"can\""},
    {"xyz", "shape: path, path: [[100 mm, 0 mm, 50 mm]]", "at least 2 places"},
    {"xyz", "shape: serpentine, runs: 3, z: 15 mm", "needs \"runs\", \"run_length\" and \"pitch\""},
    {"xyz", "shape: serpentine, runs: 2.5, run_length: 90 mm, pitch: 40 mm, z: 15 mm", "a whole number from 1 to 1000"},
    {"xyz", "shape: serpentine, runs: 3, run_length: 90 mm, pitch: 8 mm, z: 15 mm", "its turns would overlap"},
    {"xyz", "shape: serpentine, runs: 3, run_length: 90 mm, pitch: 40 mm, z: 15 mm, gap: 5 mm", "has no \"gap\""},
    {"rz", "shape: serpentine, runs: 3, run_length: 90 mm, pitch: 40 mm, z: 15 mm", "with dimension: rz a coil is a helix"},
    {"xyz", "around: can, gap: 26 mm, turns: 4, pitch: 32 mm", "the key \"z\" is missing"},
};

START_TEST(a_coil_that_does_not_fit_is_told)
{
  program_result r = run_with("bad", faults[_i].dimension, faults[_i].coil, "still", "14 mm", "");
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_msg(strstr(r.err, faults[_i].says) != NULL, "\"%s\" is not said in:\n%s", faults[_i].says, r.err);
  ck_assert_msg(strstr(r.err, "bad.yaml:11:") != NULL, "%s", r.err);
  program_release(&r);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("coil_xyz");
  TCase *c = tcase_create("coils");
  tcase_add_checked_fixture(c, set_up, tear_down);
  tcase_set_timeout(c, 300);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_test(c, a_helix_in_a_stirred_bath_answers_as_in_rz);
  if (!getenv("LASTWATER_BRIEF")) {
    tcase_add_loop_test(c, ice_round_a_tube_in_still_water_grows_as_in_rz, 0, sizeof growths / sizeof *growths);
    tcase_add_test(c, a_spread_helix_takes_what_it_takes_in_rz);
    tcase_add_loop_test(c, a_tube_in_stirred_water_draws_through_the_film_on_its_ice, 0, sizeof films / sizeof *films);
  }
  tcase_add_test(c, a_serpentine_runs_in_a_still_bath);
  tcase_add_loop_test(c, a_coil_that_does_not_fit_is_told, 0, sizeof faults / sizeof *faults);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
