/* A case in (x, y, z) through the stages, from a warm bath to a puddle. */
#define _XOPEN_SOURCE 700
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

/* A small rig of our own invention: a square pot in a stirred tub, three turns of coil. */
static const char RIG[] =
    "title: A square pot through its stages\n"
    "dimension: xyz\n"
    "room: {temperature: 20 C, humidity: 50 %, film: 9 W/m2K}\n"
    "parts:\n"
    "  - {name: tub, shape: box, low: [-85 mm, -85 mm, 0 mm], high: [85 mm, 85 mm, 110 mm], wall: 4 mm, material: hdpe}\n"
    "  - {name: pot, shape: box, low: [-40 mm, -40 mm, 16 mm], high: [40 mm, 40 mm, 100 mm], wall: 1 mm, material: stainless steel 304}\n"
    "bodies:\n"
    "  - {name: water, in: pot, volume: 0.4 L, temperature: 15 C}\n"
    "baths:\n"
    "  - {name: brine, in: tub, salt: CaCl2, strength: 25 %, depth: 92 mm, temperature: -8 C, motion: stirred}\n"
    "coils:\n"
    "  - {name: tubes, in: brine, radius: 72 mm, tube: 8 mm, tube_wall: 1 mm, turns: 3, pitch: 20 mm, z: 2 cm}\n"
    "plant:\n"
    "  refrigerant: R290\n"
    "  condensing: 40 C\n"
    "  compressors: [{name: one, displacement: 1 m3/h}]\n"
    "  thermostat: {part: brine, set_point: -16 C, differential: 2 K}\n"
    "stages:\n"
    "  - {name: precool, kind: precool, until: {part: brine, below: -12 C}}\n"
    "  - {name: pour, kind: fill, water: 15 C}\n"
    "  - {name: freeze, kind: freeze}\n"
    "  - {name: loosen, kind: release}\n"
    "  - {name: out, kind: draw}\n"
    "  - {name: temper, kind: temper, for: 30 min, room: 4 C}\n"
    "  - {name: melt, kind: melt}\n"
    "grid: {spacing: 8 mm}\n";

static char home[512];

static void set_up(void) { program_directory(home); }
static void tear_down(void) { program_remove(home); }

/* s in which a block on a covered floor, a x a x c m, half melts when its top and sides recede at v m/s: (a - 2 v t)^2 (c - v t) = a^2 c / 2. */
static double half_gone(double a, double c, double v)
{
  double low = 0.0, high = 0.5 * a / v;
  for (int i = 0; i < 60; i++) {
    const double t = 0.5 * (low + high), w = a - 2.0 * v * t;
    *(w * w * (c - v * t) > 0.5 * a * a * c ? &low : &high) = t;
  }
  return low;
}

START_TEST(a_square_pot_goes_from_a_warm_bath_to_a_puddle)
{
  static const char *const ends[] = {"temperature", "done", "frozen", "released", "done", "time", "melted"};
  json_t *root = program_summary_of_case(home, "pot", RIG, NULL);
  const json_t *stages = json_object_get(root, "stages");
  ck_assert_uint_eq(json_array_size(stages), 7);
  for (size_t i = 0; i < 7; i++) {
    const json_t *s = json_array_get(stages, i);
    ck_assert_str_eq(json_string_value(json_object_get(s, "ended_by")), ends[i]);
    ck_assert_double_lt(fabs(json_number_value(json_object_get(json_object_get(s, "ledger"), "residual_relative"))), 1e-9);
  }
  ck_assert_double_lt(fabs(program_number(json_object_get(root, "ledger"), "residual_relative")), 1e-9);
  /* What comes out is what was poured, 0.4 L at 15 degC (999.1 kg/m3), less what the release took. */
  const json_t *out_of_it = json_object_get(json_array_get(stages, 4), "piece"), *release = json_object_get(root, "release");
  ck_assert_double_eq_tol(program_number(out_of_it, "mass_start_kg") + program_number(release, "ice_lost_kg"), 0.39964, 2e-4);
  /* The ice that went let in its latent heat at least; the film asked for is half a millimetre. */
  ck_assert_double_gt(program_number(release, "heat_J"), 333.4e3 * program_number(release, "ice_lost_kg"));
  ck_assert_double_ge(program_number(release, "film_mean_m"), 0.5e-3);
  /* 20 degC and 50 %: 213 W/m2, 2.5 mm/h on blocks of 0.3 to 0.5 m (computed independently: Churchill & Chu, radiation, moisture); a block of 7 cm has a film
   * stronger by (0.4 / 0.07)^(1/4) = 1.5 in its convective third: 2.9 mm/h. */
  const double half = program_number(json_object_get(json_object_get(root, "melt"), "marks_s"), "0.5"), hand = half_gone(0.08, 0.068, 2.9e-3 / 3600.0);
  (void)printf("half gone after %.2f h, by hand %.2f h\n", half / 3600.0, hand / 3600.0);
  ck_assert_double_eq_tol(half, hand, 0.2 * hand);
  json_decref(root);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("stages_xyz");
  TCase *t = tcase_create("stages_xyz");
  tcase_add_checked_fixture(t, set_up, tear_down);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_test(t, a_square_pot_goes_from_a_warm_bath_to_a_puddle);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
