/* A wall thinner than two cells is not meshed. Here the same rig runs with its wall thin and, in cells of half its thickness, with its wall meshed: an
 * independent reference, for the two share neither the wall's geometry nor its conduction. Where heat comes along the wall or leaves over its
 * edges, both must give the same freezing time, within 0.5 %. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

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

#define CHILLED_BELOW                                                                                                                \
  "surfaces: [{of: vessel, faces: bottom, temperature: -20 C, film: 300 W/m2K}, {of: vessel, faces: side, insulated: yes}, "             \
  "{of: water, insulated: yes}]\n"
#define COLD_ROOM "room: {temperature: -20 C, film: 15 W/m2K}\n"
#define FOAM "  - {name: foam, shape: cylinder, radius: 93 mm, height: 140 mm, z: 10 mm, material: xps}\n"

/* All walls are 3 mm. The foam of the last three goes round the can and fills it above the water. Wider cells than 4 mm are left out where the foam and
 * the wall above the water, 9 mm of it, are what decides: the meshed wall itself moves there with the cells round it. */
static const struct {
  const char *name, *body;
  double spacing[4]; /* mm, of the thin walls; 0: no more */
} rigs[] = {
    {"round aluminium pan chilled at its floor",
     "dimension: rz\nroom: {temperature: 5 C, film: 8 W/m2K}\n"
     "parts: [{name: vessel, shape: cylinder, radius: 60 mm, height: 90 mm, wall: 3 mm, material: aluminium 3003}]\n"
     "bodies: [{name: water, in: vessel, depth: 70 mm, temperature: 4 C, motion: none}]\n" CHILLED_BELOW,
     {6, 5, 4, 3}},
    {"square aluminium pan chilled at its floor",
     "dimension: xyz\nmirror: {x: 0 mm, y: 0 mm}\nroom: {temperature: 5 C, film: 8 W/m2K}\n"
     "parts: [{name: vessel, shape: box, size: [96 mm, 72 mm, 56 mm], wall: 3 mm, material: aluminium 3003}]\n"
     "bodies: [{name: water, in: vessel, depth: 45 mm, temperature: 4 C, motion: none}]\n" CHILLED_BELOW,
     {6, 5, 4, 3}},
    {"closed can of plastic in foam",
     "dimension: rz\n" COLD_ROOM "parts:\n" FOAM
     "  - {name: vessel, shape: cylinder, radius: 60 mm, height: 98.5 mm, z: 43 mm, wall: 3 mm, open: none, material: hdpe}\n"
     "bodies: [{name: water, in: vessel, depth: 98.5 mm, temperature: 4 C, motion: none}]\n",
     {6, 5, 4, 3}},
    {"can of plastic full to its rim in foam",
     "dimension: rz\n" COLD_ROOM "parts:\n" FOAM
     "  - {name: vessel, shape: cylinder, radius: 60 mm, height: 98.5 mm, z: 43 mm, wall: 3 mm, material: hdpe}\n"
     "bodies: [{name: water, in: vessel, depth: 90 mm, temperature: 4 C, motion: none}]\n",
     {6, 5, 4, 3}},
    {"can of plastic in foam, its rim in the room",
     "dimension: rz\n" COLD_ROOM "parts:\n" FOAM
     "  - {name: vessel, shape: cylinder, radius: 60 mm, height: 107 mm, z: 43 mm, wall: 3 mm, material: hdpe}\n"
     "bodies: [{name: water, in: vessel, depth: 90 mm, temperature: 4 C, motion: none}]\n",
     {4, 3, 0}},
};
enum { RIGS = sizeof rigs / sizeof *rigs };

static double freezing_time(size_t rig, double spacing)
{
  char text[1400], name[32];
  (void)snprintf(text, sizeof text, "%sgrid: {spacing: %g mm}\nrun: {store_every: 100 h}\n", rigs[rig].body, spacing);
  (void)snprintf(name, sizeof name, "cells_%g", spacing);
  json_t *json = program_summary_of_case(dir, name, text, NULL);
  const double time = program_figure(json, "freeze", "time_s");
  json_decref(json);
  return time;
}

START_TEST(a_thin_wall_conducts_as_the_same_wall_meshed)
{
  const size_t rig = (size_t)_i;
  const double meshed = freezing_time(rig, 1.5);
  double thin[4];
  size_t num = 0;
  for (; num < 4 && rigs[rig].spacing[num] > 0.0; num++)
    thin[num] = freezing_time(rig, rigs[rig].spacing[num]);
  printf("%s: meshed %.6g s; thin", rigs[rig].name, meshed);
  for (size_t i = 0; i < num; i++)
    printf("  %g mm %+.2f %%", rigs[rig].spacing[i], 100.0 * (thin[i] / meshed - 1.0));
  printf("\n");
  for (size_t i = 0; i < num; i++)
    ck_assert_msg(fabs(thin[i] / meshed - 1.0) < 0.005, "%s: meshed %.9g s, thin in cells of %g mm %.9g s", rigs[rig].name, meshed, rigs[rig].spacing[i], thin[i]);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("thin walls");
  TCase *c = tcase_create("thin walls");
  tcase_add_checked_fixture(c, set_up, tear_down);
  tcase_set_timeout(c, 300);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_loop_test(c, a_thin_wall_conducts_as_the_same_wall_meshed, 0, RIGS);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
