/* Ice let go by warm water: the mould out of its bath, in a vessel of that size. */
#define _XOPEN_SOURCE 700
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

/* A pot of ice of -9 degC in a stirred bath as cold. */
static const char RIG[] =
    "title: A pot through its stages\n"
    "dimension: rz\n"
    "room: {temperature: 20 C, humidity: 50 %, film: 9 W/m2K}\n"
    "parts:\n"
    "  - {name: tub, shape: cylinder, diameter: 30 cm, height: 22 cm, wall: 4 mm, material: hdpe}\n"
    "  - {name: pot, shape: frustum, bottom_diameter: 12 cm, top_diameter: 14 cm, height: 15 cm, z: 4 cm, wall: 1 mm, material: stainless steel 304, temperature: -9 C}\n"
    "bodies:\n"
    "  - {name: water, in: pot, volume: 1.5 L, temperature: 15 C}\n"
    "baths:\n"
    "  - {name: brine, in: tub, salt: CaCl2, strength: 25 %, depth: 17 cm, temperature: -9 C, motion: {kind: stirred, film: 500 W/m2K}}\n"
    "coils:\n"
    "  - {name: tubes, in: brine, around: pot, gap: 2 cm, tube: 10 mm, tube_wall: 1 mm, turns: 5, pitch: 22 mm, z: 4 cm}\n"
    "plant:\n"
    "  refrigerant: R290\n"
    "  condensing: 40 C\n"
    "  compressors: [{name: one, displacement: 2 m3/h}]\n"
    "  thermostat: {part: brine, set_point: -16 C, differential: 2 K}\n";

static char home[512];

static void set_up(void) { program_directory(home); }
static void tear_down(void) { program_remove(home); }

static void add_stages(char text[8192], const char *stages, int spacing)
{
  (void)snprintf(text, 8192, "%sgrid: {spacing: %d mm}\nstages:\n%s", RIG, spacing, stages);
}

/* A half space of ice (2.3 W/(m K), 1.18e-6 m2/s) at -9 degC behind a film that grows (0.56 W/(m K)), 1 mm of steel (3.95 kJ/(m2 K)) at -9 degC and a film of
 * 500 W/(m2 K): 0.5 mm have melted after 37.9 s in water of 20 degC and after 85.3 s at 10 degC (computed independently: explicit march, cells of
 * 0.25 mm). The stage ends at the thinnest place, where the pot's floor is furthest from its rim. On cells of a tenth to a third of the way to the axis, cut
 * at a slant by the wall (40.0, 39.2, 41.2 s and 90.7, 91.0, 89.7 s as measured): heat enters at the freezing point while the cell's mean is below it, and the film is that of the surface. */
static const struct { int water, spacing; double seconds; } dips[] = {{20, 4, 37.9}, {20, 8, 37.9}, {20, 12, 37.9}, {10, 4, 85.3}, {10, 8, 85.3}, {10, 12, 85.3}};
START_TEST(a_dip_melts_the_film_that_a_half_space_would)
{
  char stages[400], text[8192];
  (void)snprintf(stages, sizeof stages, "  - {name: ice, kind: fill, water: 0 C, pieces: 1498 g, pieces_temperature: -9 C}\n"
                                        "  - {name: loosen, kind: release, dip: %d C}\n  - {name: back, kind: hold, for: 1 min}\n", dips[_i].water);
  add_stages(text, stages, dips[_i].spacing);
  json_t *root = program_summary_of_case(home, "dip", text, NULL);
  const json_t *stage = json_array_get(json_object_get(root, "stages"), 1), *release = json_object_get(stage, "release"), *ledger = json_object_get(stage, "ledger");
  ck_assert_str_eq(json_string_value(json_object_get(stage, "ended_by")), "released");
  const double time = program_number(release, "time_s"), mean = program_number(release, "film_mean_m");
  (void)printf("dip of %d degC, cells of %d mm: %.1f s, a half space %.1f s\n", dips[_i].water, dips[_i].spacing, time, dips[_i].seconds);
  ck_assert_double_eq_tol(time, dips[_i].seconds, 0.1 * dips[_i].seconds);
  ck_assert_double_ge(mean, 0.5e-3);
  ck_assert_double_le(mean, 0.6e-3); /* it grows nearly evenly */
  /* The bath waits as it was; the water's heat is a path of its own, nearly all that came. */
  ck_assert_double_eq(program_number(ledger, "stored in brine"), 0.0);
  ck_assert_double_lt(fabs(program_number(ledger, "coil tubes")), 1e-6);
  ck_assert_double_eq_tol(program_number(ledger, "warm water dip"), program_number(release, "heat_J"), 0.2 * program_number(release, "heat_J"));
  ck_assert_double_lt(fabs(program_number(ledger, "residual_relative")), 1e-9);
  ck_assert_double_lt(fabs(program_number(json_object_get(root, "ledger"), "residual_relative")), 1e-9);
  json_decref(root);
}
END_TEST

START_TEST(impossible_dips_are_refused)
{
  static const struct { const char *stages, *says; } wrong[] = {
      {"  - {name: a, kind: hold, for: 1 h, dip: 20 C}\n", "\"dip\" goes with release"},
      {"  - {name: a, kind: release, dip: 80 C}\n", "up to 60 degC"},
      {"  - {name: a, kind: release, bath: brine}\n", "\"bath\" goes with \"dip\""},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
    char text[8192];
    add_stages(text, wrong[i].stages, 4);
    program_result r = program_run_case(home, "dip", text, NULL);
    program_must_refuse(&r, wrong[i].says);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("dip");
  TCase *t = tcase_create("dip");
  tcase_add_checked_fixture(t, set_up, tear_down);
  tcase_add_loop_test(t, a_dip_melts_the_film_that_a_half_space_would, 0, sizeof dips / sizeof *dips);
  tcase_add_test(t, impossible_dips_are_refused);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
