/* Several bodies of water in one case: apart from each other in the room's air each freezes as it does alone, in (r, z) and in (x, y, z). */
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

static double time_of(const json_t *json, size_t body)
{
  const json_t *freeze = json_object_get(json_array_get(json_object_get(json, "bodies"), body), "freeze");
  ck_assert(json_is_true(json_object_get(freeze, "complete")));
  return json_number_value(json_object_get(freeze, "time_s"));
}

static const struct {
  const char *dimension, *spacing, *part[2], *body[2];
} pairs[] = {
    {"rz", "6 mm",
     {"shape: cylinder, radius: 60 mm, height: 80 mm, wall: 2 mm", "shape: cylinder, radius: 50 mm, height: 64 mm, z: 104 mm, wall: 2 mm"},
     {"depth: 64 mm", "depth: 48 mm"}},
    {"xyz", "6 mm",
     {"shape: box, low: [-84 mm, -28 mm, 0 mm], high: [-28 mm, 28 mm, 84 mm], wall: 2 mm", "shape: sphere, radius: 30 mm, z: 5 mm, move: [40 mm, 0 mm, 0 mm], wall: 3 mm, open: none"},
     {"depth: 70 mm", "depth: 50 mm"}},
};

START_TEST(bodies_apart_freeze_as_they_do_alone)
{
  static const char head[] = "dimension: %s\nroom: {temperature: -15 C, film: 12 W/m2K}\ngrid: {spacing: %s}\nparts:\n";
  static const char water[] = "  - {name: w%d, in: p%d, %s, temperature: 3 C, motion: none}\n";
  double together[2], alone;
  for (int which = 0; which < 3; which++) { /* both, the first, the second */
    if (which == 1 && _i == 1) continue; /* takes long and says the same */
    char text[1600], *at = text;
    at += snprintf(at, 300, head, pairs[_i].dimension, pairs[_i].spacing);
    for (int p = 0; p < 2; p++)
      if (which == 0 || which == p + 1) at += snprintf(at, 300, "  - {name: p%d, %s, material: hdpe}\n", p, pairs[_i].part[p]);
    at += snprintf(at, 20, "bodies:\n");
    for (int p = 0; p < 2; p++)
      if (which == 0 || which == p + 1) at += snprintf(at, 300, water, p, p, pairs[_i].body[p]);
    json_t *json = program_summary_of_case(dir, which == 0 ? "both" : which == 1 ? "first" : "second", text, NULL);
    if (which == 0) {
      together[0] = time_of(json, 0);
      together[1] = time_of(json, 1);
    } else {
      alone = time_of(json, 0);
      ck_assert_double_eq_tol(together[which - 1] / alone, 1, 0.005); /* the grids differ by where the cells fall */
    }
    json_decref(json);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("several_bodies");
  TCase *c = tcase_create("bodies");
  tcase_add_checked_fixture(c, set_up, tear_down);
  tcase_set_timeout(c, 300);
  tcase_add_loop_test(c, bodies_apart_freeze_as_they_do_alone, 0, getenv("LASTWATER_BRIEF") ? 1 : 2); /* under sanitizers: (r, z) only */
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
