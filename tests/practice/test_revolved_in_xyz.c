/* A figure of revolution told as one (rz) and as a solid in space (xyz, a quarter of it): the same time, the same last water. The
 * two run over different grids and cut cells, so each is the other's reference. Wanted: 0.5 % in time, one cell in place. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static const double SPACING = 0.004; /* m, as below */
static char dir[512];

static void set_up(void)
{
  program_directory(dir);
}

static void tear_down(void)
{
  program_remove(dir);
}

/* Alone, with the last water on the axis; and round a cold rod, with the last water in a ring half way to the wall. */
static const char *const cores[] = {"", "  - {name: rod, shape: cylinder, diameter: 36 mm, height: 130 mm, z: 46 mm, held: -12 C, held_film: 400 W/m2K}\n"};

static json_t *summary_of(const char *name, const char *dimension, const char *core, const char *mirror)
{
  char text[1400];
  (void)snprintf(text, sizeof text,
                 "dimension: %s\n"
                 "room: {temperature: -20 C, film: 25 W/m2K}\n"
                 "parts:\n"
                 "  - {name: pail, shape: frustum, bottom_diameter: 120 mm, top_diameter: 160 mm, height: 120 mm, z: 30 mm, wall: 2 mm, material: hdpe}\n"
                 "%s"
                 "bodies:\n"
                 "  - {name: water, in: pail, depth: 100 mm, temperature: 4 C, motion: none}\n"
                 "grid: {spacing: 4 mm}\n"
                 "run: {longest_step: 120 s}\n"
                 "%s\n", dimension, core, mirror);
  return program_summary_of_case(dir, name, text, NULL);
}

static double time_of(const json_t *json)
{
  return json_number_value(json_object_get(json_object_get(json, "freeze"), "time_s"));
}

static double place_of(const json_t *json, size_t axis)
{
  return json_number_value(json_array_get(json_object_get(json_object_get(json, "last_liquid"), "position_m"), axis));
}

START_TEST(a_pail_is_the_same_in_rz_and_in_xyz)
{
  json_t *flat = summary_of("flat", "rz", cores[_i], ""), *solid = summary_of("solid", "xyz", cores[_i], "mirror: {x: 0 mm, y: 0 mm}");
  const double radius = hypot(place_of(solid, 0), place_of(solid, 1));
  ck_assert_double_gt(time_of(flat), 3600.0);
  if (_i == 0)
    ck_assert_double_lt(place_of(flat, 0), SPACING);
  else
    ck_assert_double_gt(place_of(flat, 0), 0.018 + 3.0 * SPACING);
  ck_assert_msg(fabs(time_of(solid) / time_of(flat) - 1.0) < 0.005, "rz %.9g s, xyz %.9g s", time_of(flat), time_of(solid));
  printf("rz %.6g s at r %.4g, z %.4g m; xyz %.6g s at r %.4g, z %.4g m\n", time_of(flat), place_of(flat, 0), place_of(flat, 1), time_of(solid), radius, place_of(solid, 2));
  ck_assert_msg(fabs(radius - place_of(flat, 0)) <= SPACING && fabs(place_of(solid, 2) - place_of(flat, 1)) <= SPACING,
                "last water at r %.4g, z %.4g m in rz, at r %.4g, z %.4g m in xyz", place_of(flat, 0), place_of(flat, 1), radius, place_of(solid, 2));
  json_decref(flat);
  json_decref(solid);
}
END_TEST

/* Shapes that meet the cells in many ways: a straight pot whose wall falls on cells or between, slanting and round ones, edges of all
 * angles; walls of plastic and metal, thinner than a cell and of two and more; films and fixed surfaces. 8 to 13 cells per radius. */
static const struct {
  const char *name, *vessel, *depth, *surfaces;
} rigs[] = {
    {"plastic pot", "shape: cylinder, radius: 60 mm, height: 130 mm, z: 40 mm, wall: 2 mm, material: hdpe", "110 mm", "[]"},
    {"frozen from the top alone", "shape: cylinder, radius: 60 mm, height: 130 mm, z: 40 mm, wall: 2 mm, material: hdpe", "110 mm",
     "[{of: can, insulated: yes}]"},
    {"closed plastic pot", "shape: cylinder, radius: 60 mm, height: 110 mm, z: 40 mm, open: none, wall: 2 mm, material: hdpe", "100 mm", "[]"},
    {"fixed", "shape: cylinder, radius: 60 mm, height: 130 mm, z: 40 mm, wall: 2 mm, material: hdpe", "110 mm",
     "[{of: can, fixed: -15 C}, {of: water, fixed: -15 C}]"},
    {"steel pot", "shape: cylinder, radius: 60 mm, height: 130 mm, z: 40 mm, wall: 1 mm, material: stainless steel 304", "110 mm", "[]"},
    {"aluminium pot", "shape: cylinder, radius: 60 mm, height: 130 mm, z: 40 mm, wall: 2 mm, material: aluminium 1100", "110 mm", "[]"},
    {"aluminium pan chilled at its floor alone", "shape: cylinder, radius: 60 mm, height: 90 mm, z: 40 mm, wall: 3 mm, material: aluminium 3003", "70 mm",
     "[{of: can, faces: bottom, temperature: -20 C, film: 300 W/m2K}, {of: can, faces: side, insulated: yes}, {of: water, insulated: yes}]"},
    {"thick wall", "shape: cylinder, radius: 60 mm, height: 130 mm, z: 40 mm, wall: 15 mm, material: hdpe", "110 mm", "[]"},
    {"foam", "shape: cylinder, radius: 60 mm, height: 130 mm, z: 40 mm, wall: 8 mm, material: xps", "110 mm", "[]"},
    {"cone", "shape: frustum, bottom_diameter: 90 mm, top_diameter: 150 mm, height: 120 mm, z: 40 mm, wall: 2 mm, material: hdpe", "110 mm", "[]"},
    {"cone with a thick wall", "shape: frustum, bottom_diameter: 90 mm, top_diameter: 150 mm, height: 120 mm, z: 40 mm, wall: 15 mm, material: hdpe", "110 mm", "[]"},
    {"sphere", "shape: sphere, radius: 60 mm, z: 40 mm, open: none, wall: 2 mm, material: hdpe", "100 mm", "[]"},
    {"dome", "shape: cap, radius: 60 mm, height: 50 mm, z: 40 mm, open: none, wall: 2 mm, material: hdpe", "38 mm", "[]"},
    {"steel cap insulated at its flat top", "shape: cap, radius: 60 mm, height: 50 mm, z: 40 mm, open: none, wall: 3 mm, material: stainless steel 304", "38 mm",
     "[{of: can, faces: top, insulated: yes}]"},
    {"aluminium cone insulated at its floor", "shape: frustum, bottom_diameter: 90 mm, top_diameter: 150 mm, height: 80 mm, z: 40 mm, wall: 2 mm, material: aluminium 1100", "70 mm",
     "[{of: can, faces: bottom, insulated: yes}]"},
    {"open steel sphere", "shape: sphere, radius: 60 mm, z: 40 mm, open: top, wall: 2 mm, material: stainless steel 304", "80 mm", "[]"},
    {"ring", "shape: ring, ring_radius: 60 mm, radius: 35 mm, z: 40 mm, open: none, wall: 2 mm, material: hdpe", "62 mm", "[]"},
};
enum { RIGS = sizeof rigs / sizeof *rigs, SPACINGS = 4 };

/* The freezing times, s, of a rig in cells of 6, 5.5, 5 and 4.6 mm, by a sweep. */
static void freezing_times(size_t rig, const char *dimension, const char *mirror, double times[SPACINGS])
{
  char text[1400], plan[600], to[600];
  (void)snprintf(text, sizeof text,
                 "dimension: %s\n"
                 "room: {temperature: -20 C, film: 25 W/m2K}\n"
                 "parts: [{name: can, %s}]\n"
                 "bodies: [{name: water, in: can, depth: %s, temperature: 4 C, motion: none}]\n"
                 "surfaces: %s\n"
                 "grid: {spacing: 5 mm}\n"
                 "run: {longest_step: 120 s}\n"
                 "%s\n", dimension, rigs[rig].vessel, rigs[rig].depth, rigs[rig].surfaces, mirror);
  program_write(dir, "case.yaml", text);
  program_write(dir, "plan.yaml", "case: case.yaml\ndesign: grid\nvary: [{key: grid.spacing, values: [6 mm, 5.5 mm, 5 mm, 4.6 mm]}]\nreport: [freeze.time_s]\n");
  (void)snprintf(plan, sizeof plan, "%s/plan.yaml", dir);
  (void)snprintf(to, sizeof to, "%s/%s", dir, dimension);
  program_result r = program_run((const char *const[]){"sweep", plan, "-o", to, "--quiet", NULL}, NULL);
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  char *table = program_read(to, "results.csv", NULL);
  const char *row = table;
  for (size_t i = 0; i < SPACINGS; i++) {
    row = row ? strchr(row, '\n') : NULL;
    ck_assert_msg(row && sscanf(++row, "%*u,%*u,done,%*g,%lg", &times[i]) == 1, "%s", table ? table : "no table");
  }
  free(table);
}

START_TEST(however_cells_meet_the_wall_the_time_is_the_same)
{
  const size_t rig = (size_t)_i;
  double flat[SPACINGS], solid[SPACINGS];
  freezing_times(rig, "rz", "", flat);
  freezing_times(rig, "xyz", "mirror: {x: 0 mm, y: 0 mm}", solid);
  printf("%s, rz and xyz:", rigs[rig].name);
  for (size_t i = 0; i < SPACINGS; i++)
    printf("  %.6g %.6g s %+.2f %%", flat[i], solid[i], 100.0 * (solid[i] / flat[i] - 1.0));
  printf("\n");
  for (size_t i = 0; i < SPACINGS; i++)
    ck_assert_msg(fabs(flat[i] / flat[SPACINGS - 1] - 1.0) < 0.005, "%s, rz: spacing %zu %.9g s, the last %.9g s", rigs[rig].name, i, flat[i], flat[SPACINGS - 1]);
  for (size_t i = 0; i < SPACINGS; i++)
    ck_assert_msg(flat[i] > 3600.0 && fabs(solid[i] / flat[i] - 1.0) < 0.005, "%s, spacing %zu: rz %.9g s, xyz %.9g s", rigs[rig].name, i, flat[i], solid[i]);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("revolved in xyz");
  TCase *c = tcase_create("revolved in xyz");
  tcase_add_checked_fixture(c, set_up, tear_down);
  tcase_set_timeout(c, 300);
  if (!getenv("LASTWATER_BRIEF")) { /* under sanitizers: too long */
    tcase_add_loop_test(c, a_pail_is_the_same_in_rz_and_in_xyz, 0, 2);
    tcase_add_loop_test(c, however_cells_meet_the_wall_the_time_is_the_same, 0, RIGS);
  }
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
