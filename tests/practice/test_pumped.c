/* A bath that a pump drives, in a run: films on tubes by their speed, and what the case file says of it. */
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

/* 25 % CaCl2 at -10 degC round 8 turns of tube with coolant at -12 degC right behind its wall. */
static program_result run_with(const char *motion)
{
  char text[2048];
  (void)snprintf(text, sizeof text,
                 "dimension: rz\nroom: {temperature: -10 C, film: 0 W/m2K}\nparts:\n"
                 "  - {name: tub, shape: cylinder, diameter: 40 cm, height: 40 cm, wall: 4 mm, material: hdpe}\n"
                 "  - {name: pot, shape: cylinder, diameter: 12 cm, height: 30 cm, z: 5 cm, wall: 20 mm, material: xps}\n"
                 "bodies: [{name: water, in: pot, volume: 2 L, temperature: 1 C}]\n"
                 "baths: [{name: brine, in: tub, salt: CaCl2, strength: 25 %%, level: 34 cm, temperature: -10 C, open_surface: no, motion: %s}]\n"
                 "coils: [{name: coil, in: brine, radius: 14 cm, tube: 12.7 mm, tube_wall: 0.9 mm, z: 6 cm, turns: 8, pitch: 3 cm, inner_film: 0 W/m2K, "
                 "refrigerant_temperature: -12 C}]\n"
                 "stages: [{name: moment, kind: hold, for: 4 s}]\ngrid: {spacing: 10 mm}\n", motion);
  static int run = 0;
  char name[32];
  (void)snprintf(name, sizeof name, "pump%d", run++); /* a directory holds one case's results */
  return program_run_case(home, name, text, (const char *const[]){"--json", NULL});
}

/* W/(m2 K) on the outside of the tube over the first seconds, its copper wall (ln(12.7 / 10.9) / (2 pi 385)) taken off. */
static double film_on_tube(const char *motion)
{
  program_result r = run_with(motion);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  json_t *root = json_loads(r.out, 0, NULL);
  program_release(&r);
  const double heat = -json_number_value(json_object_get(json_object_get(root, "ledger"), "coil")) / 4.0;
  const double length = 8.0 * hypot(2.0 * 3.14159265358979 * 0.14, 0.03), per_metre = heat / length / 2.0;
  json_decref(root);
  return 1.0 / ((1.0 / per_metre - log(12.7 / 10.9) / (2.0 * 3.14159265358979 * 385.0)) * 3.14159265358979 * 0.0127);
}

/* Tube of 12.7 mm across brine of 25 % at -10 degC: 607, 1351, 3061 W/(m2 K) at 0.02, 0.1, 0.5 m/s (Churchill & Bernstein 1977, properties of Melinder 2010:
 * computed independently, 3 %), together with some 256 W/(m2 K) of natural flow at 2 K by (a^3 + b^3)^(1/3): 622, 1354, 3062. */
static const struct { const char *motion; double film; } pumps[] = {
    {"{kind: pumped, speed: 0.02 m/s}", 622.0}, {"{kind: pumped, speed: 0.1 m/s}", 1354.0}, {"{kind: pumped, speed: 0.5 m/s}", 3062.0}};
START_TEST(a_pump_gives_tubes_the_film_of_its_speed)
{
  const double found = film_on_tube(pumps[_i].motion);
  (void)printf("%s: %.0f W/m2K, published %.0f\n", pumps[_i].motion, found, pumps[_i].film);
  ck_assert_double_eq_tol(found, pumps[_i].film, 0.04 * pumps[_i].film);
}
END_TEST

START_TEST(impossible_pumps_are_refused)
{
  static const struct { const char *motion, *says; } wrong[] = {
      {"{kind: pumped}", "pumped needs \"speed\""},
      {"{kind: stirred, speed: 0.1 m/s}", "\"speed\" goes with kind: pumped"},
      {"{kind: pumped, speed: 0.1 m/s, stirring: 0.1 W/kg}", "\"stirring\" goes with kind: stirred"},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
    program_result r = run_with(wrong[i].motion);
    program_must_refuse(&r, wrong[i].says);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("pumped");
  TCase *t = tcase_create("pumped");
  tcase_add_checked_fixture(t, set_up, tear_down);
  tcase_add_loop_test(t, a_pump_gives_tubes_the_film_of_its_speed, 0, 3);
  tcase_add_test(t, impossible_pumps_are_refused);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
