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

int main(void)
{
  Suite *s = suite_create("revolved in xyz");
  TCase *c = tcase_create("revolved in xyz");
  tcase_add_checked_fixture(c, set_up, tear_down);
  tcase_set_timeout(c, 300);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_loop_test(c, a_pail_is_the_same_in_rz_and_in_xyz, 0, 2);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
