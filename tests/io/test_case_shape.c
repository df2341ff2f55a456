/* Shapes in case files: every kind where a hand calculation puts it, walls on either side, and what is refused, told at its place. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_file.h"
#include "solver/run_layers.h"

#define pi 3.14159265358979323846
enum { MOST = 4096 };

/* A bucket of water and one more part, in line 4. */
static void write_case(char text[MOST], const char *dimension, const char *part)
{
  (void)snprintf(text, MOST,
                 "dimension: %s\n"
                 "room: {temperature: -10 C}\n"
                 "parts:\n"
                 "  - {name: it, %s}\n"
                 "  - {name: can, shape: cylinder, radius: 50 mm, height: 60 mm, z: 300 mm, wall: 30 mm, material: hdpe}\n"
                 "bodies:\n"
                 "  - {name: water, in: can, depth: 50 mm, temperature: 2 C}\n"
                 "grid: {spacing: 6 mm}\n", dimension, part);
}

static case_file *parsed(const char *text)
{
  char *faults = NULL;
  case_file *c = NULL;
  message msg = {""};
  const status code = case_file_parse(&c, "good.yaml", text, strlen(text), NULL, 0, &faults, &msg);
  ck_assert_msg(code == STATUS_OK, "%s\n%s%s", text, msg.text, faults ? faults : "");
  return c;
}

static case_file *sound(const char *dimension, const char *part)
{
  char text[MOST];
  write_case(text, dimension, part);
  return parsed(text);
}

/* A place (mm) and the distance (mm) that a hand calculation gives there. */
static const struct {
  const char *dimension, *part;
  double at[3], distance;
} good[] = {
    {"xyz", "shape: spheroid, radius: 30 mm, height: 40 mm, z: 5 mm, material: hdpe", {0, 0, 50}, 5},
    {"rz", "shape: spheroid, diameter: 60 mm, height: 40 mm, material: hdpe", {40, 0, 20}, 10},
    {"rz", "shape: cap, radius: 30 mm, height: 10 mm, material: hdpe", {0, 0, 14}, 4},
    {"rz", "shape: cap, radius: 30 mm, height: 10 mm, tilt: 180 deg, material: hdpe", {0, 0, -14}, 4}, /* hangs from z = 0 */
    {"rz", "shape: ring, ring_radius: 40 mm, radius: 10 mm, z: 20 mm, material: hdpe", {40, 0, 45}, 5},
    {"xyz", "shape: box, size: [20 mm, 40 mm, 60 mm], z: 10 mm, material: hdpe", {13, 24, 30}, 5},
    {"xyz", "shape: box, size: [20 mm, 40 mm, 60 mm], turn: 90 deg, move: [100 mm, 0 mm, 0 mm], material: hdpe", {125, 0, 30}, 5},
    {"xyz", "shape: box, low: [10 mm, 10 mm, 0 mm], high: [30 mm, 50 mm, 60 mm], spin: 90 deg, material: hdpe", {45, 30, 30}, 5},
    {"xyz", "shape: box, size: [20 mm, 20 mm, 20 mm], scale: 3, z: 10 mm, material: hdpe", {0, 0, 75}, 5},
    {"xyz", "shape: cylinder, radius: 10 mm, height: 50 mm, tilt: 90 deg, material: hdpe", {25, 0, 14}, 4}, /* lies along +x */
    {"xyz", "shape: cylinder, radius: 10 mm, height: 50 mm, tilt: 90 deg, turn: 90 deg, material: hdpe", {0, 25, 14}, 4},
    {"xyz", "shape: cylinder, radius: 10 mm, from: [0 mm, 0 mm, 0 mm], to: [0 mm, 40 mm, 30 mm], material: hdpe", {12, 20, 15}, 2},
    {"xyz", "shape: prism, outline: [[0 mm, 0 mm], [30 mm, 0 mm], [0 mm, 40 mm]], height: 20 mm, material: hdpe", {21, 28, 10}, 9.6}, /* (4 x + 3 y - 120) / 5 */
    {"xyz", "shape: swept, path: [[0 mm, 0 mm, 0 mm], [50 mm, 0 mm, 0 mm], [50 mm, 50 mm, 0 mm]], radius: 4 mm, z: 10 mm, material: hdpe",
     {56, 30, 18}, 6}, /* 6-8-10 */
    {"xyz", "shape: helix, ring_radius: 40 mm, pitch: 20 mm, turns: 3, radius: 4 mm, z: 5 mm, material: hdpe", {40, 0, 15}, 1.981}, /* 6 mm below the next turn, across its slope */
    {"xyz", "shape: serpentine, runs: 3, run_length: 100 mm, pitch: 30 mm, radius: 4 mm, z: 5 mm, material: hdpe", {0, 30, 16}, 3},
    {"xyz", "shape: union, of: [{shape: sphere, radius: 20 mm}, {name: foot, shape: box, size: [80 mm, 80 mm, 10 mm]}], z: 7 mm, material: hdpe",
     {0, 0, 52}, 5},
    {"rz", "shape: difference, of: [{shape: cylinder, radius: 40 mm, height: 60 mm}, {shape: sphere, radius: 20 mm, z: 40 mm}], material: hdpe",
     {0, 0, 60}, 20}, /* the middle of the hole */
    {"xyz", "shape: intersection, of: [{shape: sphere, radius: 20 mm}, {shape: cylinder, radius: 5 mm, height: 40 mm}], material: hdpe",
     {7, 0, 20}, 2},
};

START_TEST(shape_lies_where_it_was_put)
{
  case_file *c = sound(good[_i].dimension, good[_i].part);
  double at[3];
  for (int a = 0; a < 3; a++) at[a] = 1e-3 * good[_i].at[a];
  ck_assert_double_eq_tol(1e3 * shape_distance(c->parts[0].region, at), good[_i].distance, 5e-3);
  case_file_destroy(&c);
}
END_TEST

/* The resolved case reads back to the same text. */
START_TEST(pieces_survive_the_resolved_case)
{
  case_file *c = sound("xyz", "shape: union, of: [{shape: sphere, radius: 20 mm}, {name: foot, shape: prism, height: 5 mm, outline: [[0 mm, 0 mm], "
                              "[9 mm, 0 mm], [9 mm, 8 mm], [0 mm, 8 mm]]}], tilt: 20 deg, material: hdpe");
  char *text = NULL, *again = NULL, *faults = NULL;
  case_file *d = NULL;
  message msg = {""};
  ck_assert_int_eq(case_file_resolved(c, &text, &msg), STATUS_OK);
  ck_assert_msg(case_file_parse(&d, "again.yaml", text, strlen(text), NULL, 0, &faults, &msg) == STATUS_OK, "%s%s\n%s", msg.text, faults, text);
  ck_assert_int_eq(case_file_resolved(d, &again, &msg), STATUS_OK);
  ck_assert_str_eq(text, again);
  free(text);
  free(again);
  case_file_destroy(&c);
  case_file_destroy(&d);
}
END_TEST

static double wall_volume(const case_file *c)
{
  return shape_volume_below(c->parts[0].region, c->revolved, 1.0, 1e-4);
}

/* A cup of 50 x 60 mm with 5 mm: outside that, or inside it. Outward the corner below is a quarter ring: Pappus. */
START_TEST(walls_grow_to_the_side_that_was_asked)
{
  const double R = 0.05, h = 0.06, e = 0.005;
  case_file *c = sound("rz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 5 mm, material: hdpe");
  const double round = 2 * pi * (R + 4 * e / (3 * pi)) * pi * e * e / 4;
  ck_assert_double_eq_tol(wall_volume(c), pi * ((R + e) * (R + e) - R * R) * h + pi * R * R * e + round, 1e-8);
  ck_assert_double_eq_tol(c->parts[0].rim, 0.06, 1e-12);
  case_file_destroy(&c);
  c = sound("rz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 5 mm, wall_side: inward, material: hdpe");
  ck_assert_double_eq_tol(wall_volume(c), pi * R * R * h - pi * (R - e) * (R - e) * (h - e), 1e-8);
  ck_assert_double_eq_tol(c->parts[0].floor, 0.005, 1e-12);
  ck_assert_double_eq_tol(c->parts[0].rim, 0.06, 1e-12);
  case_file_destroy(&c);
  c = sound("rz", "shape: cap, radius: 50 mm, height: 50 mm, wall: 5 mm, wall_side: inward, open: none, material: hdpe");
  /* A half ball, and within it a half ball cut 5 mm higher: pi h^2 (3 R - h) / 3 with h = 40 mm, R = 45 mm. */
  ck_assert_double_eq_tol(wall_volume(c), 2.0 / 3 * pi * R * R * R - pi * 0.0016 * (0.135 - 0.04) / 3, 1e-8);
  case_file_destroy(&c);
}
END_TEST

/* A floor of its own thickness lies under the whole vessel, its walls too, with sharp corners. Volumes by hand. */
static const struct {
  const char *dimension, *part;
  double volume, hollow_from; /* cm3; m */
} floors[] = {
    /* 50 x 60 mm hollow, wall 5 mm, floor 9 mm: pi (5.5^2 - 5^2) 6 + pi 5.5^2 0.9 */
    {"rz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 5 mm, floor: 9 mm, material: hdpe", 98.9601685881 + 85.5298599939, 0},
    {"xyz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 5 mm, floor: 9 mm, material: hdpe", 98.9601685881 + 85.5298599939, 0},
    /* from outside: pi 5^2 6 - pi 4.5^2 5.1 */
    {"rz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 5 mm, floor: 9 mm, wall_side: inward, material: hdpe", 471.238898038 - 324.447981299, 0.009},
    /* a thick wall (foam): the same rule; pi (8^2 - 5^2) 6 + pi 8^2 1 */
    {"rz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 30 mm, floor: 10 mm, material: hdpe", 735.132680939 + 201.061929830, 0},
    /* 4 x 6 x 5 cm: 5 x 7 x 5 - 4 x 6 x 5 + 5 x 7 x 0.2 */
    {"xyz", "shape: box, size: [40 mm, 60 mm, 50 mm], wall: 5 mm, floor: 2 mm, material: hdpe", 175 - 120 + 7, 0},
    {"xyz", "shape: box, size: [40 mm, 60 mm, 50 mm], wall: 5 mm, floor: 2 mm, open: none, material: hdpe", 5 * 7 * 5.7 - 120, 0},
    {"xyz", "shape: box, size: [40 mm, 60 mm, 50 mm], wall: 5 mm, floor: 2 mm, wall_side: inward, material: hdpe", 120 - 3 * 5 * 4.8, 0.002},
    /* a prism's sides are bent round its edges: section 4 x 3 + 2 x 7 x 0.2 + pi 0.2^2, also under a floor deeper than the hollow is high */
    {"xyz", "shape: prism, outline: [[0 mm, 0 mm], [40 mm, 0 mm], [40 mm, 30 mm], [0 mm, 30 mm]], height: 20 mm, wall: 2 mm, floor: 45 mm, material: hdpe",
     (12 + 2.8 + 0.125663706144) * 6.5 - 24, 0},
    {"xyz", "shape: prism, outline: [[0 mm, 0 mm], [40 mm, 0 mm], [40 mm, 30 mm], [0 mm, 30 mm]], height: 20 mm, wall: 5 mm, floor: 2 mm, wall_side: inward, "
     "material: hdpe", 24 - 3 * 2 * 1.8, 0.002},
    {"rz", "shape: frustum, bottom_radius: 40 mm, top_radius: 52 mm, height: 60 mm, wall: 5 mm, floor: 12 mm, material: hdpe", 0, 0},
};

static double frustum_volume(double low, double high, double height)
{
  return pi * height / 3.0 * (low * low + low * high + high * high);
}

START_TEST(a_floor_has_its_own_thickness)
{
  case_file *c = sound(floors[_i].dimension, floors[_i].part);
  double want = floors[_i].volume;
  if (want == 0) { /* the frustum: sides of slope 0.2, 5 mm square to them are 5 sqrt(1.04) sideways */
    const double aside = 0.5 * sqrt(1.04);
    want = frustum_volume(4.0 + aside - 0.2 * 1.2, 5.2 + aside, 7.2) - frustum_volume(4.0, 5.2, 6.0);
  }
  ck_assert_double_eq_tol(1e6 * wall_volume(c), want, 2e-3 * want);
  ck_assert_double_eq_tol(c->parts[0].floor, floors[_i].hollow_from, 1e-9);
  case_file_destroy(&c);
}
END_TEST

/* Foam of 10 mm, 30 mm below, round a cup of 2 mm with 4 mm below: 12 and 34 mm from the hollow; a second cup stands in it on its own floor. */
START_TEST(floors_of_layers_add_up)
{
  case_file *c = parsed("dimension: rz\n"
                        "room: {temperature: -10 C}\n"
                        "parts:\n"
                        "  - {name: cup, shape: cylinder, radius: 50 mm, height: 60 mm, wall: 2 mm, floor: 4 mm, material: hdpe}\n"
                        "  - {name: foam, around: cup, wall: 10 mm, floor: 30 mm, material: xps}\n"
                        "  - {name: small, shape: cylinder, radius: 20 mm, height: 40 mm, wall: 1 mm, floor: 3 mm, on: cup, material: hdpe}\n"
                        "bodies:\n"
                        "  - {name: water, in: small, depth: 30 mm, temperature: 2 C}\n"
                        "grid: {spacing: 4 mm}\n");
  const double beside[3] = {0.072, 0.0, 0.03}, below[3] = {0.0, 0.0, -0.044};
  ck_assert_double_eq_tol(shape_distance(c->parts[1].outer, beside), 0.010, 1e-9);
  ck_assert_double_eq_tol(shape_distance(c->parts[1].outer, below), 0.010, 1e-9);
  ck_assert_double_eq_tol(c->parts[2].floor, 0.003, 1e-9);
  case_file_destroy(&c);
}
END_TEST

/* Walls thinner than two cells: patches under the hollow are as thick as the floor, those beside it as the sides, upright, tapered and tipped;
 * area over thickness, by which heat passes, is that of the closed hollow's sides, floor and lid. */
static const struct {
  const char *dimension, *part;
  double tilt, area_over_thickness; /* deg; cm */
} thin_floors[] = {
    {"rz", "shape: cylinder, radius: 48 mm, height: 60 mm, wall: 2 mm, floor: 5 mm", 0, pi * (2 * 4.8 * 6 / 0.2 + 4.8 * 4.8 * (1 / 0.5 + 1 / 0.2))},
    {"rz", "shape: cylinder, radius: 48 mm, height: 60 mm, wall: 5 mm, floor: 1 mm", 0, pi * (2 * 4.8 * 6 / 0.5 + 4.8 * 4.8 * (1 / 0.1 + 1 / 0.5))},
    /* slant height 6 sqrt(1.04) cm */
    {"rz", "shape: frustum, bottom_radius: 40 mm, top_radius: 52 mm, height: 60 mm, wall: 2 mm, floor: 5 mm", 0,
     pi * (2 * 4.6 * 6.11882 / 0.2 + 4.0 * 4.0 / 0.5 + 5.2 * 5.2 / 0.2)},
    {"xyz", "shape: box, size: [60 mm, 60 mm, 60 mm], wall: 2 mm, floor: 5 mm, tilt: 25 deg", 25, 5 * 36 / 0.2 + 36 / 0.5},
};

START_TEST(a_thin_wall_is_meshed_with_its_floor)
{
  char text[MOST];
  mesh *m = NULL;
  message msg = {""};
  (void)snprintf(text, MOST,
                 "dimension: %s\n"
                 "room: {temperature: -10 C}\n"
                 "parts:\n"
                 "  - {name: it, %s, z: 40 mm, open: none, material: hdpe}\n"
                 "bodies:\n"
                 "  - {name: water, in: it, depth: 50 mm, temperature: 2 C}\n"
                 "grid: {spacing: 4 mm}\n", thin_floors[_i].dimension, thin_floors[_i].part);
  case_file *c = parsed(text);
  ck_assert_msg(run_layers_mesh(&m, &c->rig, &msg) == STATUS_OK, "%s", msg.text);
  const int32_t part = c->parts[0].rig_part;
  const double a = thin_floors[_i].tilt * pi / 180, down[3] = {-sin(a), 0, -cos(a)};
  const double floor = c->parts[0].wall_floor, wall = c->parts[0].wall;
  size_t below = 0, beside = 0;
  double sum = 0;
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    if (f->patch == MESH_NONE || m->patches[f->patch].part != part) continue;
    const double along = fabs(f->normal[0] * down[0] + f->normal[2] * down[2]), got = m->patches[f->patch].thickness;
    const double *at = m->patches[f->patch].centroid, height = -at[0] * down[0] - (at[2] - 0.04) * down[2];
    const bool mixed = got > fmin(wall, floor) * 1.001 && got < fmax(wall, floor) * 0.999;
    for (int side = 0; side < 2; side++) /* the inner one: water, or the air above it */
      if (f->node[side] >= 0 && m->part[f->node[side]] > part) sum += f->area[side] / got;
    if (height > 0.055) continue; /* the lid is as thick as the sides */
    ck_assert(!mixed || height < (c->revolved ? 0.004 : 0.016)); /* a block of cells round the edge, which has the mean */
    if (along > 0.999 && !mixed) {
      ck_assert_double_eq_tol(got, floor, 1e-3 * floor);
      below++;
    }
    if (along < 0.3 && !mixed) {
      ck_assert_double_eq_tol(got, wall, 1e-3 * wall);
      beside++;
    }
  }
  ck_assert(below > 3 && beside > 8);
  ck_assert_double_eq_tol(1e2 * sum, thin_floors[_i].area_over_thickness, 0.03 * thin_floors[_i].area_over_thickness);
  mesh_destroy(&m);
  case_file_destroy(&c);
}
END_TEST

/* A cup tipped by 30 degrees about the middle of its foot: its lip is at h cos 30 - R sin 30. */
START_TEST(a_tipped_cup_holds_water_up_to_its_lip)
{
  case_file *c = sound("xyz", "shape: cylinder, radius: 50 mm, height: 120 mm, wall: 2 mm, tilt: 30 deg, material: hdpe");
  ck_assert_double_eq_tol(c->parts[0].rim, 0.12 * cos(pi / 6) - 0.025, 2e-4);
  ck_assert_double_eq_tol(c->parts[0].floor, -0.025, 5e-5);
  case_file_destroy(&c);
}
END_TEST

/* A tenth of a litre in a ball of 60 m: a puddle 1 mm deep and a hand wide. */
START_TEST(water_lost_in_its_vessel_is_refused_at_its_line)
{
  static const char text[] = "dimension: xyz\n"
                             "room: {temperature: -10 C}\n"
                             "parts:\n"
                             "  - {name: it, shape: sphere, radius: 60 m, open: none, wall: 2 mm, material: hdpe}\n"
                             "bodies:\n"
                             "  - {name: water, in: it, volume: 0.1 L, temperature: 2 C}\n";
  char *faults = NULL;
  case_file *c = NULL;
  message msg = {""};
  ck_assert_int_eq(case_file_parse(&c, "lost.yaml", text, sizeof text - 1, NULL, 0, &faults, &msg), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(faults, "lost.yaml:6:") && strstr(faults, "bodies.water: 0.1 L are lost in \"it\", which is 120 m wide"), "%s", faults);
  free(faults);
}
END_TEST

static const struct {
  const char *dimension, *part, *says;
} broken[] = {
    {"xyz", "shape: cap, radius: 30 mm, material: hdpe", "a cap needs \"height\""},
    {"xyz", "shape: union, of: [{shape: triangles, radius: 1 mm}], material: hdpe", "a triangle file is a part of its own"},
    {"xyz", "shape: ring, ring_radius: 10 mm, radius: 20 mm, material: hdpe", "must not be below that of its section"},
    {"xyz", "shape: box, size: [20 mm, 0 mm, 20 mm], material: hdpe", "each must be above 0"},
    {"xyz", "shape: box, size: [1 mm, 1 mm, 1 mm], low: [0 mm, 0 mm, 0 mm], material: hdpe", "not both"},
    {"xyz", "shape: box, low: [0 mm, 0 mm, 0 mm], high: [1 mm, 1 mm, 1 mm], z: 3 mm, material: hdpe", "say how high it stands"},
    {"rz", "shape: box, size: [1 mm, 1 mm, 1 mm], material: hdpe", "no figure of revolution"},
    {"rz", "shape: helix, ring_radius: 40 mm, pitch: 20 mm, turns: 3, radius: 4 mm, material: hdpe", "no figure of revolution"},
    {"rz", "shape: cap, radius: 30 mm, height: 10 mm, tilt: 90 deg, material: hdpe", "upright or, with 180 deg, upside down"},
    {"rz", "shape: cap, radius: 30 mm, height: 10 mm, turn: 90 deg, material: hdpe", "the axis is always r = 0"},
    {"xyz", "shape: cylinder, radius: 5 mm, from: [0 mm, 0 mm, 0 mm], to: [0 mm, 0 mm, 0 mm], material: hdpe", "the same point"},
    {"xyz", "shape: cylinder, radius: 5 mm, from: [0 mm, 0 mm, 0 mm], material: hdpe", "go together"},
    {"xyz", "shape: cylinder, radius: 5 mm, from: [0 mm, 0 mm, 0 mm], to: [0 mm, 0 mm, 9 mm], z: 3 mm, material: hdpe", "leave out \"z\""},
    {"xyz", "shape: prism, height: 5 mm, outline: [[0 mm, 0 mm], [9 mm, 9 mm], [9 mm, 0 mm], [0 mm, 5 mm]], material: hdpe", "outline crosses itself"},
    {"xyz", "shape: prism, height: 5 mm, outline: [[0 mm, 0 mm], [9 mm, 9 mm]], material: hdpe", "at least 3 places [x, y]"},
    {"xyz", "shape: swept, radius: 5 mm, path: [[0 mm, 0 mm, 0 mm], [0 mm, 0 mm, 0 mm]], material: hdpe", "are the same"},
    {"xyz", "shape: helix, ring_radius: 40 mm, pitch: 7 mm, turns: 3, radius: 4 mm, material: hdpe", "the turns would overlap"},
    {"xyz", "shape: union, of: [{shape: sphere, radius: 5 mm}], material: hdpe", "at least two shapes"},
    {"xyz", "shape: union, material: hdpe", "give \"of\""},
    {"xyz", "shape: union, of: [{shape: sphere, radius: 5 mm}, {shape: sphere, height: 5 mm}], material: hdpe", "parts.it.of[2]: a sphere has no \"height\""},
    {"xyz", "shape: union, of: [{shape: sphere, radius: 5 mm}, {shape: sphere, radius: 5}], material: hdpe", "has no unit"},
    {"xyz", "shape: sphere, radius: 30 mm, wall: 31 mm, wall_side: inward, material: hdpe", "leaves no hollow"},
    {"xyz", "shape: sphere, radius: 30 mm, wall_side: inward, material: hdpe", "goes with a shape and its \"wall\""},
    {"xyz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 2 mm, tilt: 120 deg, material: hdpe", "it would hold nothing"},
    {"xyz", "shape: sphere, radius: 30 mm, wall: 3 mm, floor: 5 mm, material: hdpe", "a sphere has no flat floor"},
    {"xyz", "shape: box, size: [9 mm, 9 mm, 9 mm], floor: 5 mm, material: hdpe", "\"floor\" goes with a \"wall\""},
    {"rz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 2 mm, floor: -1 mm, material: hdpe", "must be above zero"},
    {"rz", "shape: cylinder, radius: 50 mm, height: 60 mm, wall: 2 mm, floor: 61 mm, wall_side: inward, material: hdpe", "leaves no hollow"},
    {"rz", "shape: frustum, bottom_radius: 20 mm, top_radius: 80 mm, height: 60 mm, wall: 2 mm, floor: 40 mm, material: hdpe", "would end in a point"},
    {"xyz", "shape: sphere, radius: 5 mm, scale: 0, material: hdpe", "must be above zero"},
    {"xyz", "shape: union, of: [{shape: box, low: [0 mm, 0 mm, 0 mm], high: [50 mm, 60 mm, 40 mm]}, {shape: box, low: [50 mm, 0 mm, 0 mm], high: [90 mm, 60 mm, 40 mm]}], "
            "wall: 2 mm, wall_side: inward, material: hdpe", "overlap by less than 4 mm, twice the wall"},
    {"xyz", "shape: difference, of: [{shape: box, size: [99 mm, 99 mm, 40 mm]}, {shape: box, low: [0 mm, 0 mm, -1 mm], high: [20 mm, 99 mm, 60 mm]}, "
            "{shape: box, low: [-99 mm, 20 mm, -1 mm], high: [1 mm, 99 mm, 60 mm]}], wall: 2 mm, material: hdpe", "pieces taken away from it touch or overlap"},
};

START_TEST(impossible_shape_is_refused_at_its_line)
{
  char text[MOST], *faults = NULL;
  case_file *c = NULL;
  message msg = {""};
  write_case(text, broken[_i].dimension, broken[_i].part);
  ck_assert_int_eq(case_file_parse(&c, "bad.yaml", text, strlen(text), NULL, 0, &faults, &msg), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(faults, broken[_i].says) != NULL, "\"%s\" is not said in:\n%s", broken[_i].says, faults);
  ck_assert_msg(strncmp(faults, "bad.yaml:4:", 11) == 0 && !strchr(strchr(faults, '\n') + 1, '\n'), "not one fault in line 4:\n%s", faults);
  free(faults);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("case_shape");
  TCase *c = tcase_create("shapes");
  tcase_set_timeout(c, 120);
  tcase_add_loop_test(c, shape_lies_where_it_was_put, 0, sizeof good / sizeof *good);
  tcase_add_test(c, pieces_survive_the_resolved_case);
  tcase_add_test(c, walls_grow_to_the_side_that_was_asked);
  tcase_add_loop_test(c, a_floor_has_its_own_thickness, 0, sizeof floors / sizeof *floors);
  tcase_add_test(c, floors_of_layers_add_up);
  tcase_add_loop_test(c, a_thin_wall_is_meshed_with_its_floor, 0, sizeof thin_floors / sizeof *thin_floors);
  tcase_add_test(c, a_tipped_cup_holds_water_up_to_its_lip);
  tcase_add_test(c, water_lost_in_its_vessel_is_refused_at_its_line);
  tcase_add_loop_test(c, impossible_shape_is_refused_at_its_line, 0, sizeof broken / sizeof *broken);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
