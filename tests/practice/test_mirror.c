/* Mirror planes: half and a quarter of a rig against the whole, at default steps and at short ones, and planes that are none. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

#define TUB "  - {name: tub, shape: box, size: [240 mm, 160 mm, 110 mm], wall: 30 mm, material: hdpe}\n" \
            "  - {name: rod, shape: box, size: [40 mm, 20 mm, 80 mm], z: 10 mm, held: -20 C}\n"
#define POT "  - {name: tub, shape: frustum, bottom_diameter: 130 mm, top_diameter: 170 mm, height: 110 mm, wall: 2 mm, material: hdpe}\n"
#define PAN "  - {name: tub, shape: box, size: [160 mm, 120 mm, 110 mm], wall: 2 mm, material: aluminium 3003}\n"
#define TURNED "  - {name: tub, shape: box, size: [120 mm, 120 mm, 110 mm], turn: 45 deg, wall: 2 mm, material: hdpe}\n"
#define STAR "  - {name: tub, shape: prism, outline: [[80 mm, 0 mm], [25 mm, 25 mm], [0 mm, 80 mm], [-25 mm, 25 mm], [-80 mm, 0 mm], [-25 mm, -25 mm], [0 mm, -80 mm], " \
             "[25 mm, -25 mm]], height: 110 mm, wall: 3 mm, material: acrylic}\n"
#define SHORT "longest_step: 60 s, tolerance: 1"
#define DEFAULT "tolerance: 0.1"

/* Boxes along the grid, a tapered pot that cuts its cells and whose thin wall is solved for iteratively, a metal box in which the water moves by
 * itself, and a box two of whose edges lie on each plane. `alike` is relative. */
static const struct {
  const char *parts, *motion;
  bool has_rod;
  const char *spacing, *steps;
  double alike;
} rigs[] = {
    {TUB, "none", true, "10 mm", SHORT, 1e-10},   {POT, "none", false, "10 mm", SHORT, 1e-10}, {PAN, "still", false, "10 mm", DEFAULT, 1e-6},
    {TUB, "none", true, "10 mm", DEFAULT, 1e-6},  {POT, "none", false, "10 mm", DEFAULT, 1e-6}, {POT, "none", false, "5 mm", DEFAULT, 1e-6},
    {PAN, "still", false, "10 mm", SHORT, 1e-10}, {TURNED, "still", false, "12 mm", DEFAULT, 1e-6},
    {STAR, "none", false, "7 mm", DEFAULT, 1e-9}, /* its tips lie in the planes; pieces there must not merge with their own images */
};
enum { BRIEF_RIGS = 2 }; /* under sanitizers: the rest is too long */

static char dir[512];

static void set_up(void)
{
  program_directory(dir);
}

static void tear_down(void)
{
  program_remove(dir);
}

enum { MOST = 1600 };

#define MELTS_ALIKE 1e-6

static void write_text(char text[MOST], const char *parts, const char *motion, const char *spacing, const char *steps, const char *mirror)
{
  (void)snprintf(text, MOST,
                 "dimension: xyz\n"
                 "room: {temperature: -20 C, film: 20 W/m2K}\n"
                 "parts:\n"
                 "%s"
                 "bodies:\n"
                 "  - {name: water, in: tub, depth: 90 mm, temperature: 4 C, motion: %s}\n"
                 "grid: {spacing: %s}\n"
                 "run: {%s}\n"
                 "%s\n", parts, motion, spacing, steps, mirror);
}

static json_t *summary_of(const char *name, const char *parts, const char *motion, const char *spacing, const char *steps, const char *mirror)
{
  char text[MOST];
  write_text(text, parts, motion, spacing, steps, mirror);
  return program_summary_of_case(dir, name, text, NULL);
}

static void assert_alike(const json_t *a, const json_t *b, const char *section, const char *key, double relative)
{
  const double x = program_figure(a, section, key), y = program_figure(b, section, key);
  ck_assert_msg(fabs(x - y) <= relative * fabs(x), "%s.%s: %.12g of the whole, %.12g", section, key, x, y);
}

START_TEST(half_and_quarter_are_told_as_the_whole)
{
  static const char *const mirrors[3] = {"", "mirror: {y: 0 mm}", "mirror: {x: 0 mm, y: 0 mm}"};
  static const char *const names[3] = {"whole", "half", "quarter"};
  json_t *json[3];
  const int first_part = getenv("LASTWATER_BRIEF") ? 2 : 1; /* under sanitizers: the quarter has both planes */
  json[1] = NULL;
  for (int i = 0; i < 3; i = i == 0 ? first_part : i + 1)
    json[i] = summary_of(names[i], rigs[_i].parts, rigs[_i].motion, rigs[_i].spacing, rigs[_i].steps, mirrors[i]);
  for (int i = first_part; i < 3; i++) {
    assert_alike(json[0], json[i], "freeze", "time_s", rigs[_i].alike);
    if (rigs[_i].has_rod) assert_alike(json[0], json[i], "ledger", "held: rod", rigs[_i].alike);
    assert_alike(json[0], json[i], "ledger", "stored in water", rigs[_i].alike);
    assert_alike(json[0], json[i], "ledger", "water to room", rigs[_i].alike);
    const json_t *whole = json_array_get(json_object_get(json[0], "bodies"), 0), *part = json_array_get(json_object_get(json[i], "bodies"), 0);
    ck_assert_double_eq_tol(json_number_value(json_object_get(part, "mass_kg")), json_number_value(json_object_get(whole, "mass_kg")), 1e-9);
    const json_t *root = json_array_get(json_object_get(json[i], "pockets"), 0), *first = json_array_get(json_object_get(json[0], "pockets"), 0);
    ck_assert_double_eq_tol(json_number_value(json_object_get(root, "mass_kg")) / json_number_value(json_object_get(first, "mass_kg")), 1, rigs[_i].alike);
  }
  for (int i = 0; i < 3; i++) json_decref(json[i]);
}
END_TEST

/* A piece out of its mould, in air and afloat in a pool: masses and heats are the whole's, and so is every time to the last ice. */
START_TEST(a_piece_melts_behind_planes_as_the_whole)
{
  static const char *const mirrors[3] = {"", "mirror: {y: 0 mm}", "mirror: {x: 0 mm, y: 0 mm}"}, *const names[3] = {"whole", "half", "quarter"};
  static const char *const around[2] = {"room: 20 C", "room: 20 C, pool: 30 L, pool_temperature: 15 C"};
  static const char *const marks[] = {"0.5", "0.9", "0.99"}; /* melted */
  static const double melted = 334e3; /* J/kg at 0 degC, more from below it */
  json_t *json[3];
  for (int i = 0; i < 3; i++) {
    char rest[300];
    (void)snprintf(rest, sizeof rest, "stages:\n  - {name: freeze, kind: freeze}\n  - {name: out, kind: draw}\n  - {name: melt, kind: melt, %s}\n%s", around[_i],
                   mirrors[i]);
    json[i] = summary_of(names[i], POT, "none", "10 mm", SHORT, rest);
    const json_t *last = json_array_get(json_object_get(json[i], "stages"), 2), *books = json_object_get(last, "ledger");
    const double mass = program_figure(last, "melt", "mass_start_kg"), stored = json_number_value(json_object_get(books, "stored in piece"));
    ck_assert_double_lt(fabs(json_number_value(json_object_get(books, "residual_relative"))), 1e-9);
    ck_assert_double_gt(stored, 0.999 * melted * mass); /* of the whole piece, not of a half */
    ck_assert_double_lt(stored, 1.1 * melted * mass);
  }
  const json_t *whole = json_array_get(json_object_get(json[0], "stages"), 2);
  for (int i = 1; i < 3; i++) {
    const json_t *part = json_array_get(json_object_get(json[i], "stages"), 2);
    assert_alike(whole, part, "melt", "mass_start_kg", 1e-9);
    for (size_t mark = 0; mark < sizeof marks / sizeof *marks; mark++)
      assert_alike(json_object_get(whole, "melt"), json_object_get(part, "melt"), "marks_s", marks[mark], MELTS_ALIKE);
    assert_alike(whole, part, "melt", "time_s", MELTS_ALIKE);
    if (_i == 1)
      assert_alike(whole, part, "melt", "pool_temperature_C", MELTS_ALIKE);
  }
  for (int i = 0; i < 3; i++) json_decref(json[i]);
}
END_TEST

#define SERPENTINE "shape: serpentine, runs: 4, run_length: 160 mm, pitch: 40 mm, z: 20 mm"
#define STRAIGHT "shape: path, path: [[-80 mm, 0 mm, 20 mm], [80 mm, 0 mm, 20 mm]]" /* in the plane */

/* Brine that moves of itself and freezes round a tube. Below a metal pot the slope that bounds a step must not hang on a rounding (it was 1e-4 of the heat off
 * after a quarter of an hour), nor the rise of u at the front on which of two nodes beside each other is a little warmer (2e-7 after fourteen hours), nor may the
 * pot swing from step to step with what is left over of the solution for its walls (1e-5 after a day). Below one of plastic the brine stands at the tube at its
 * freezing point for hours, and the heat must not leap when the surface is colder (1.2e-4). */
static const struct {
  const char *pot, *brine, *coil, *time;
} tubes_in_brine[] = {{"aluminium 3003", "-10 C", SERPENTINE, "30 h"}, {"hdpe", "-20 C", SERPENTINE, "60 h"}, {"hdpe", "-20 C", STRAIGHT, "24 h"}};

START_TEST(a_tube_in_still_brine_is_told_as_the_whole)
{
  static const char *const names[2] = {"whole", "half"}, *const mirrors[2] = {"", "mirror: {y: 0 mm}"};
  static const char *const paths[] = {"coil", "water to room", "stored in water", "stored in brine", "stored in tub", "trough to room"};
  json_t *json[2];
  for (int i = 0; i < 2; i++) {
    char text[MOST];
    (void)snprintf(text, sizeof text,
                   "dimension: xyz\nroom: {temperature: 10 C, film: 8 W/m2K}\n"
                   "parts:\n"
                   "  - {name: trough, shape: box, size: [240 mm, 200 mm, 160 mm], wall: 4 mm, material: hdpe}\n"
                   "  - {name: tub, shape: box, size: [100 mm, 90 mm, 90 mm], z: 50 mm, wall: 2 mm, material: %s}\n"
                   "bodies:\n  - {name: water, in: tub, depth: 80 mm, temperature: 4 C, motion: still}\n"
                   "baths:\n  - {name: brine, in: trough, salt: CaCl2, strength: 21 %%, level: 130 mm, temperature: %s, motion: still, salt_mode: mixed}\n"
                   "coils:\n  - {name: coil, in: brine, %s, tube: 10 mm, tube_wall: 1 mm,\n"
                   "     refrigerant_temperature: -22 C}\n"
                   "stages:\n  - {name: freeze, kind: freeze, for: %s}\n"
                   "grid: {spacing: 10 mm}\n%s\n", tubes_in_brine[_i].pot, tubes_in_brine[_i].brine, tubes_in_brine[_i].coil, tubes_in_brine[_i].time, mirrors[i]);
    json[i] = program_summary_of_case(dir, names[i], text, NULL);
  }
  for (size_t n = 0; n < sizeof paths / sizeof *paths; n++) assert_alike(json[0], json[1], "ledger", paths[n], 1e-9);
  for (int i = 0; i < 2; i++) json_decref(json[i]);
}
END_TEST

/* Two edges of a metal box in brine lie on each plane: outside, one half of an edge belongs to the wall of the other half. And a copper pot whose rim, level
 * with its mouth, stands out of a held jacket. */
static const struct {
  const char *parts, *bath;
} edges[] = {
    {"  - {name: trough, shape: box, size: [220 mm, 220 mm, 150 mm], wall: 4 mm, material: hdpe}\n"
     "  - {name: plate, shape: box, size: [160 mm, 160 mm, 12 mm], z: 8 mm, held: -17 C, held_film: 900 W/m2K}\n"
     "  - {name: tub, shape: box, size: [90 mm, 90 mm, 100 mm], z: 35 mm, turn: 45 deg, wall: 2 mm, material: aluminium 3003}\n",
     "baths:\n  - {name: brine, in: trough, salt: CaCl2, strength: 20 %, level: 122 mm, temperature: -8 C, motion: still, salt_mode: mixed}\n"},
    {"  - {name: jacket, shape: tube, diameter: 150 mm, inner_diameter: 110 mm, height: 60 mm, z: 10 mm, held: -16 C, held_film: 900 W/m2K}\n"
     "  - {name: tub, shape: frustum, bottom_diameter: 90 mm, top_diameter: 124 mm, height: 100 mm, z: 5 mm, wall: 1 mm, material: copper}\n",
     ""},
};

START_TEST(walls_with_edges_on_the_planes_are_told_as_the_whole)
{
  static const char *const names[2] = {"whole", "quarter"}, *const mirrors[2] = {"", "mirror: {x: 0 mm, y: 0 mm}"};
  static const char *const paths[] = {"water to room", "stored in water", "stored in tub"};
  json_t *json[2];
  for (int i = 0; i < 2; i++) {
    char text[MOST];
    (void)snprintf(text, sizeof text,
                   "dimension: xyz\nroom: {temperature: 8 C, film: 8 W/m2K}\n"
                   "parts:\n%s"
                   "bodies:\n  - {name: water, in: tub, depth: 75 mm, temperature: 6 C, motion: still}\n"
                   "%s"
                   "stages:\n  - {name: freeze, kind: freeze, for: 1 h}\n"
                   "grid: {spacing: %s}\n%s\n", edges[_i].parts, edges[_i].bath, _i == 0 ? "7 mm" : "5 mm", mirrors[i]);
    json[i] = program_summary_of_case(dir, names[i], text, NULL);
  }
  for (size_t n = 0; n < sizeof paths / sizeof *paths; n++) assert_alike(json[0], json[1], "ledger", paths[n], 1e-9);
  for (int i = 0; i < 2; i++) json_decref(json[i]);
}
END_TEST

static const struct {
  const char *rod, *mirror, *says;
} faults[] = {
    {"low: [0 mm, -10 mm, 10 mm], high: [40 mm, 10 mm, 70 mm]", "mirror: {x: 0 mm}", "\"rod\" is not symmetric about x = 0 mm"},
    {"size: [40 mm, 20 mm, 80 mm], z: 10 mm", "mirror: {y: 3 mm}", "is not symmetric about y = 3 mm"},
    {"size: [40 mm, 20 mm, 80 mm], z: 10 mm", "mirror: {x: 900 mm}", "does not go through the rig"},
    {"size: [40 mm, 20 mm, 80 mm], z: 10 mm", "mirror: {z: 0 mm}", "unknown key"},
};

START_TEST(a_plane_that_is_none_is_refused)
{
  char parts[400];
  (void)snprintf(parts, sizeof parts,
                 "  - {name: tub, shape: box, size: [240 mm, 160 mm, 110 mm], wall: 30 mm, material: hdpe}\n"
                 "  - {name: rod, shape: box, %s, held: -20 C}\n", faults[_i].rod);
  char text[MOST];
  write_text(text, parts, "none", "10 mm", SHORT, faults[_i].mirror);
  program_result r = program_run_case(dir, "bad", text, NULL);
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_msg(strstr(r.err, faults[_i].says) != NULL, "%s", r.err);
  ck_assert_msg(strstr(r.err, "bad.yaml:10:") != NULL, "%s", r.err);
  program_release(&r);
}
END_TEST

/* A tube along three sides of a tub; it ends before or at the corner that is the image of its beginning. */
static const struct {
  const char *end;
  int exit_code;
} tubes[] = {{"-85 mm", 0}, {"-60 mm", 2}};

START_TEST(a_coil_that_ends_short_of_its_image_is_refused)
{
  char text[MOST];
  (void)snprintf(text, sizeof text,
                 "dimension: xyz\nmirror: {x: 0 mm}\n"
                 "parts:\n"
                 "  - {name: trough, shape: box, size: [240 mm, 220 mm, 160 mm], wall: 4 mm, material: hdpe}\n"
                 "  - {name: tub, shape: box, size: [100 mm, 80 mm, 100 mm], z: 30 mm, wall: 2 mm, material: aluminium 3003}\n"
                 "bodies:\n  - {name: water, in: tub, depth: 80 mm, temperature: 4 C}\n"
                 "baths:\n  - {name: brine, in: trough, salt: CaCl2, strength: 21 %%, level: 120 mm, temperature: -10 C, motion: {kind: stirred, stirring: 0.01 W/kg}}\n"
                 "coils:\n  - {name: coil, in: brine, shape: path, tube: 10 mm, tube_wall: 1 mm, refrigerant_temperature: -22 C,\n"
                 "     path: [[-100 mm, -85 mm, 60 mm], [-100 mm, 85 mm, 60 mm], [100 mm, 85 mm, 60 mm], [100 mm, %s, 60 mm]]}\n"
                 "grid: {spacing: 9 mm}\n",
                 tubes[_i].end);
  program_write(dir, "coil.yaml", text);
  char path[600];
  (void)snprintf(path, sizeof path, "%s/coil.yaml", dir);
  const char *const arguments[] = {"check", path, NULL};
  program_result r = program_run(arguments, NULL);
  ck_assert_msg(r.exit_code == tubes[_i].exit_code, "%s", r.err);
  if (tubes[_i].exit_code != 0)
    ck_assert_msg(strstr(r.err, "coil \"coil\" is not symmetric about x = 0 mm: at x 100, y -85, z 60 mm is no tube") != NULL, "%s", r.err);
  program_release(&r);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("mirror");
  TCase *c = tcase_create("mirror");
  tcase_add_checked_fixture(c, set_up, tear_down);
  tcase_set_timeout(c, 300);
  tcase_add_loop_test(c, half_and_quarter_are_told_as_the_whole, 0, getenv("LASTWATER_BRIEF") ? BRIEF_RIGS : (int)(sizeof rigs / sizeof *rigs));
  if (!getenv("LASTWATER_BRIEF")) { /* under sanitizers: too long */
    tcase_add_loop_test(c, a_piece_melts_behind_planes_as_the_whole, 0, 2);
    tcase_add_loop_test(c, a_tube_in_still_brine_is_told_as_the_whole, 0, sizeof tubes_in_brine / sizeof *tubes_in_brine);
    tcase_add_loop_test(c, walls_with_edges_on_the_planes_are_told_as_the_whole, 0, sizeof edges / sizeof *edges);
  }
  tcase_add_loop_test(c, a_plane_that_is_none_is_refused, 0, sizeof faults / sizeof *faults);
  tcase_add_loop_test(c, a_coil_that_ends_short_of_its_image_is_refused, 0, sizeof tubes / sizeof *tubes);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
