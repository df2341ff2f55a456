/* Water that a pump or an air tube drives, in runs and by stages: its film on a cold rod, and what the air does to the ice. */
#define _XOPEN_SOURCE 700
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static char home[512];

static void set_up(void) { program_directory(home); }
static void tear_down(void) { program_remove(home); }

/* Water of 10 degC round a rod of 8 degC (the table lets it freeze one day), 4 s on and 4 s in which `second` holds. */
static json_t *rod_in_water(const char *name, const char *dimension, const char *water, const char *second)
{
  char text[2048];
  (void)snprintf(text, sizeof text,
                 "dimension: %s\nroom: {temperature: 10 C, film: 0 W/m2K}\nparts:\n"
                 "  - {name: pot, shape: cylinder, diameter: 20 cm, height: 40 cm, wall: 20 mm, material: xps, temperature: 10 C}\n"
                 "  - {name: rod, shape: cylinder, radius: 2 cm, height: 50 cm, z: -5 cm, held: [[0 s, 8 C], [100 h, -8 C]]}\n"
                 "bodies: [{name: water, in: pot, level: 30 cm, temperature: 10 C, %s}]\nsurfaces: [{of: pot, film: 0 W/m2K}]\n"
                 "stages: [{name: first, kind: hold, for: 4 s}, {name: second, kind: hold, for: 4 s%s}]\ngrid: {spacing: 8 mm}\n",
                 dimension, water, second);
  return program_summary_of_case(home, name, text, NULL);
}

/* W/(m2 K) on the rod in a stage. The water stands at its frozen height: 30 cm x 999.70 / 917 kg/m3. */
static double film_in(json_t *root, size_t stage)
{
  const json_t *ledger = json_object_get(json_array_get(json_object_get(root, "stages"), stage), "ledger");
  const json_t *heat = json_object_get(ledger, "held: rod");
  ck_assert(json_is_real(heat));
  ck_assert_double_lt(fabs(json_number_value(json_object_get(ledger, "residual_relative"))), 1e-9);
  return -json_number_value(heat) / 4.0 / 2.0 / (2.0 * 3.14159265358979 * 0.02 * 0.30 * 999.70 / 917.0);
}

/* Water at 10 degC (IAPWS): 1.307e-6 m2/s, Pr 9.40, 0.580 W/(m K), 4.191 MJ/(m3 K). Along 0.5 m at 0.1 m/s, Re 38260 (Gnielinski as in the VDI Heat
 * Atlas, from memory): Nu 274 laminar, 410 turbulent, 493 together: 571 W/(m2 K); at 0.3 m/s, Re 114800: 475, 1069, 1170: 1357. With some 200 of natural
 * flow by (a^3 + b^3)^(1/3): 579 and 1358. Within 3 %, for the water's properties and the second that the film lags behind. */
static const struct { const char *motion; double film; } pumps[] = {{"motion: {kind: pumped, speed: 0.1 m/s}", 579.0}, {"motion: {kind: pumped, speed: 0.3 m/s}", 1358.0}};
START_TEST(a_pump_in_the_water_gives_walls_the_film_of_its_speed)
{
  json_t *root = rod_in_water("rod", "rz", pumps[_i].motion, ", stirrers: stand");
  const double found = film_in(root, 0), stands = film_in(root, 1);
  (void)printf("%s: %.0f W/m2K, published %.0f; standing %.0f\n", pumps[_i].motion, found, pumps[_i].film, stands);
  ck_assert_double_eq_tol(found, pumps[_i].film, 0.03 * pumps[_i].film);
  /* Standing: natural flow of a few kelvin, 100 to 300 W/(m2 K). */
  ck_assert_double_ge(stands, 100.0);
  ck_assert_double_le(stands, 300.0);
  json_decref(root);
}
END_TEST

/* An air tube of 2 L/min on 0.15 m2 (judgement) leaves 2.18e-3 W/kg: 0.13 (eps nu)^(1/4) Pr^(-2/3) rho c = 894 W/(m2 K) (Calderbank & Moo-Young 1961, from
 * memory). Off it is the natural flow of above; said to be still, air or not, it is the natural flow too. */
START_TEST(air_stirs_the_water_in_the_stages_that_have_it)
{
  json_t *root = rod_in_water("rod", "rz", "air: aerated", ", air: off"), *other = rod_in_water("other", "rz", "air: aerated", ", stirrers: stand");
  const double on = film_in(root, 0), off = film_in(root, 1);
  (void)printf("air on %.0f W/m2K, published 894; off %.0f\n", on, off);
  ck_assert_double_eq_tol(on, 894.0, 0.03 * 894.0);
  ck_assert_double_ge(off, 100.0);
  ck_assert_double_le(off, 300.0);
  ck_assert_double_eq_tol(film_in(other, 1), 894.0, 0.03 * 894.0); /* no stirrer moves it */
  json_decref(root);
  json_decref(other);
  char *resolved = program_read(home, "rod/case.yaml", NULL);
  ck_assert_ptr_nonnull(resolved);
  ck_assert_ptr_null(strstr(resolved, "motion:")); /* it reruns as it ran */
  free(resolved);
}
END_TEST

START_TEST(it_does_so_in_three_dimensions)
{
  json_t *air = rod_in_water("air", "xyz", "air: aerated", ", air: off");
  (void)printf("in three dimensions: air on %.0f, off %.0f W/m2K\n", film_in(air, 0), film_in(air, 1));
  ck_assert_double_eq_tol(film_in(air, 0), 894.0, 0.03 * 894.0);
  ck_assert_double_le(film_in(air, 1), 300.0);
  json_decref(air);
  if (getenv("LASTWATER_BRIEF")) /* under sanitizers: the same code */
    return;
  json_t *pump = rod_in_water("pump", "xyz", pumps[0].motion, ", stirrers: stand");
  (void)printf("pumped %.0f W/m2K\n", film_in(pump, 0));
  ck_assert_double_eq_tol(film_in(pump, 0), pumps[0].film, 0.03 * pumps[0].film);
  ck_assert_double_le(film_in(pump, 1), 300.0);
  json_decref(pump);
}
END_TEST

/* Without power there is no air either. */
START_TEST(a_power_cut_takes_the_air_away)
{
  char text[2048];
  (void)snprintf(text, sizeof text, "%s",
                 "dimension: rz\nroom: {temperature: 10 C, film: 0 W/m2K}\nparts:\n"
                 "  - {name: pot, shape: cylinder, diameter: 20 cm, height: 40 cm, wall: 20 mm, material: xps, temperature: 10 C}\n"
                 "  - {name: rod, shape: cylinder, radius: 2 cm, height: 50 cm, z: -5 cm, held: [[0 s, 8 C], [100 h, -8 C]]}\n"
                 "bodies: [{name: water, in: pot, level: 30 cm, temperature: 10 C, air: aerated}]\nsurfaces: [{of: pot, film: 0 W/m2K}]\n"
                 "stages: [{name: dark, kind: power_off, for: 4 s}, {name: bottled, kind: power_off, for: 4 s, air: on}]\ngrid: {spacing: 8 mm}\n");
  json_t *root = program_summary_of_case(home, "dark", text, NULL);
  ck_assert_double_le(film_in(root, 0), 300.0);
  ck_assert_double_eq_tol(film_in(root, 1), 894.0, 0.03 * 894.0);
  json_decref(root);
}
END_TEST

/* A box frozen through its floor and side in still tap water, air blown through it all the time, through the first hours, and never: what froze while the
 * air was on is as clear as with it on to the end, and the rest clouds. The freeze counts as one. Common practice, no source: aerated water freezes clear
 * but for a core. */
static double clear_with(const char *name, const char *stages, const char *air, double *time)
{
  char text[2048];
  (void)snprintf(text, sizeof text,
                 "dimension: rz\nroom: {temperature: -12 C, film: 60 W/m2K}\nparts:\n"
                 "  - {name: pot, shape: cylinder, diameter: 16 cm, height: 20 cm, wall: 1 mm, material: stainless steel 304}\n"
                 "bodies: [{name: water, in: pot, depth: 14 cm, temperature: 4 C, %s, minerals: 100 mg/L}]\n"
                 "surfaces: [{of: water, faces: top, insulated: yes}]\nstages: [%s]\ngrid: {spacing: 6 mm}\nrun: {store_every: 20 h}\n", air, stages);
  json_t *root = program_summary_of_case(home, name, text, NULL);
  const json_t *freeze = json_object_get(root, "freeze");
  ck_assert(json_is_true(json_object_get(freeze, "complete")));
  *time = json_number_value(json_object_get(freeze, "time_s"));
  const double clear = program_figure(root, "clear", "fraction");
  json_decref(root);
  return clear;
}

START_TEST(ice_clouds_once_the_air_is_off)
{
  static const char *const parted[] = {"{name: on, kind: freeze, for: 3 h}, {name: off, kind: freeze, air: off}",
                                       "{name: on, kind: freeze, for: 3 h}, {name: go_on, kind: freeze}"};
  double time[4];
  if (getenv("LASTWATER_BRIEF")) { /* under sanitizers: the run that has all of it */
    ck_assert_double_gt(clear_with("early", parted[0], "air: aerated", &time[1]), 0.05);
    return;
  }
  const double on = clear_with("on", "{name: freeze, kind: freeze}", "air: aerated", &time[0]);
  const double early = clear_with("early", parted[0], "air: aerated", &time[1]);
  const double two = clear_with("two", parted[1], "air: aerated", &time[2]);
  const double never = clear_with("never", "{name: freeze, kind: freeze, air: off}", "air: aerated", &time[3]);
  (void)printf("clear with air %.3f, for 3 h %.3f, without %.3f; in two stages %.3f\n", on, early, never, two);
  ck_assert_double_gt(on, early + 0.05);
  ck_assert_double_gt(early, never + 0.05);
  /* A stage that ends cuts a step, and in stirred water where a step ends moves the moment at which the front takes its next node: the last
   * 0.4 % of the time on 13 cells from axis to wall. */
  ck_assert_double_eq_tol(two, on, 0.005);
  ck_assert_double_eq_tol(time[2], time[0], 5e-3 * time[0]);
}
END_TEST

START_TEST(air_where_there_is_none_is_refused)
{
  static const struct { const char *stages, *says; } wrong[] = {{"{name: freeze, kind: freeze, air: off}", "no air is blown through any water"},
                                                               {"{name: melt, kind: melt, air: on}", "out of its mould"}};
  for (size_t i = 0; i < 2; i++) {
    char text[1024], path[700];
    (void)snprintf(text, sizeof text,
                   "dimension: rz\nroom: {temperature: -12 C}\nparts: [{name: pot, shape: cylinder, diameter: 16 cm, height: 20 cm, wall: 1 mm, material: hdpe}]\n"
                   "bodies: [{name: water, in: pot, depth: 14 cm, temperature: 4 C, air: %s}]\nstages: [%s]\n", i ? "aerated" : "tap", wrong[i].stages);
    (void)snprintf(path, sizeof path, "%s/wrong.yaml", home);
    program_write(home, "wrong.yaml", text);
    program_result r = program_run((const char *const[]){"run", path, "--quiet", NULL}, NULL);
    ck_assert_msg(r.exit_code == 2 && strstr(r.err, wrong[i].says), "%zu: exit %d, %s", i, r.exit_code, r.err);
    program_release(&r);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("driven_water");
  TCase *t = tcase_create("driven_water");
  tcase_add_checked_fixture(t, set_up, tear_down);
  const bool brief = getenv("LASTWATER_BRIEF") != NULL; /* under sanitizers: the same code at fewer speeds */
  tcase_add_loop_test(t, a_pump_in_the_water_gives_walls_the_film_of_its_speed, 0, brief ? 1 : 2);
  tcase_add_test(t, air_stirs_the_water_in_the_stages_that_have_it);
  tcase_add_test(t, it_does_so_in_three_dimensions);
  tcase_add_test(t, a_power_cut_takes_the_air_away);
  tcase_add_test(t, ice_clouds_once_the_air_is_off);
  tcase_add_test(t, air_where_there_is_none_is_refused);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
