/* A flat plastic wall half a cell thick, at any angle to the grid.
 *
 * Exact: flow per area = (T_hot - T_cold) / (L/k + e/k_wall + L/k) through two slabs and the wall between them. The sides of
 * the tilted block are insulated, its ends held. A grid that shares one temperature between both sides of the wall in a cut
 * cell loses up to two thirds of the wall's resistance. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

static const double PI = 3.14159265358979323846;
static const double CELL = 0.003, WALL = 0.0015, WALL_CONDUCTIVITY = 0.2, LENGTH = 0.015, WIDTH = 0.120; /* m, W/mK */

typedef struct {
  double normal[3], along[3], across[3], origin[3]; /* of the wall's inner face */
  double width, depth;                              /* m, along and across; no depth: as deep as the grid */
} tilt;

static tilt tilt_of(double degrees, double shift_x, double shift_z)
{
  const double angle = degrees * PI / 180.0;
  return (tilt){.width = WIDTH,
                .normal = {cos(angle), 0.0, sin(angle)},
                .along = {-sin(angle), 0.0, cos(angle)},
                .origin = {shift_x * CELL, 0.5, shift_z * CELL}};
}

/* All points from `from` to `to` along the normal; across the block's width, or unbounded. */
static const shape *layer(bench_rig *b, const tilt *t, double from, double to, bool full_width)
{
  const double ends[6][2] = {{from, -1.0},           {to, 1.0},
                             {-0.5 * t->width, -1.0}, {0.5 * t->width, 1.0},
                             {-0.5 * t->depth, -1.0}, {0.5 * t->depth, 1.0}};
  shape *all = NULL;
  for (int side = 0; side < (full_width ? 2 : t->depth > 0.0 ? 6 : 4); side++) {
    double point[3], outward[3];
    const double *axis = side < 2 ? t->normal : side < 4 ? t->along : t->across;
    for (int i = 0; i < 3; i++) {
      point[i] = t->origin[i] + ends[side][0] * axis[i];
      outward[i] = ends[side][1] * axis[i];
    }
    shape *half = NULL;
    ck_assert_int_eq(shape_half_space(&half, point, outward, NULL), STATUS_OK);
    if (!all)
      all = half;
    else {
      shape *both = NULL;
      ck_assert_int_eq(shape_intersection(&both, all, half, NULL), STATUS_OK);
      all = both;
    }
  }
  return bench_rig_keep(b, all);
}

static void block_grid(bench_rig *b)
{
  const size_t num[3] = {48, 1, 48};
  const double low[3] = {-24 * CELL, 0.0, -24 * CELL}, high[3] = {24 * CELL, 1.0, 24 * CELL};
  const bool mirror[6] = {false, false, true, true, false, false};
  bench_rig_grid(b, GRID_XYZ, num, low, high, mirror);
}

static int add_wall(bench_rig *b, const tilt *t)
{
  material plastic;
  shape *cavity = NULL;
  ck_assert_int_eq(material_constant(&plastic, "plastic", WALL_CONDUCTIVITY, 1000.0, 1.0, NULL), STATUS_OK);
  ck_assert_int_eq(shape_half_space(&cavity, t->origin, t->normal, NULL), STATUS_OK);
  const int wall = bench_rig_wall(b, layer(b, t, 0.0, WALL, false), bench_rig_keep(b, cavity), WALL, &plastic, 0.0);
  bench_rig_rule(b, SURFACE_INSULATED, wall, MESH_VOID, FACES_ALL, 0.0, NAN);
  return wall;
}

static const double angles[] = {30.0, 0.0, 15.0, 45.0}; /* in brief the first two */
static const double shifts[][2] = {{0.0, 0.0}, {0.13, 0.71}, {0.31, 0.17}, {0.5, 0.5}, {0.77, 0.43}, {0.95, 0.29}};

START_TEST(tilted_wall_keeps_its_resistance)
{
  const double k = 2.2;
  const double exact = 20.0 / (2.0 * LENGTH / k + WALL / WALL_CONDUCTIVITY) * WIDTH;
  bench_rig_title("1.5 mm wall, k 0.2, in 3 mm cells at %g degrees: steady flow, W per m", angles[_i]);
  for (size_t shift = 0; shift < (bench_rig_brief() ? 1 : sizeof shifts / sizeof *shifts); shift++) {
    const tilt t = tilt_of(angles[_i], shifts[shift][0], shifts[shift][1]);
    bench_rig b;
    bench_rig_init(&b);
    block_grid(&b);
    material stuff[2];
    int side[2];
    for (int i = 0; i < 2; i++) {
      ck_assert_int_eq(material_constant(&stuff[i], "solid", k, 1000.0, k / 1e-4 / 1000.0, NULL), STATUS_OK);
      side[i] = bench_rig_part(&b, PART_SOLID, i == 0 ? layer(&b, &t, -LENGTH, 0.0, false) : layer(&b, &t, WALL, WALL + LENGTH, false),
                               &stuff[i], 0.0);
      bench_rig_rule(&b, SURFACE_INSULATED, side[i], MESH_VOID, FACES_ALL, 0.0, NAN);
    }
    const int hot = bench_rig_held(&b, layer(&b, &t, -1.0, -LENGTH, true), 10.0, 0.0);
    const int cold = bench_rig_held(&b, layer(&b, &t, WALL + LENGTH, 1.0, true), -10.0, 0.0);
    (void)add_wall(&b, &t);
    const bench_march how = {.tolerance = 1e-3, .longest_step = 0.0, .limit = 1e9};
    bench_rig_open(&b, how, k / 1e-4 * 20.0);
    bench_rig_march(&b, 200.0);
    bench_rig_judge(-bench_rig_flow(&b, side[0], hot, FACES_ALL), exact, 1.0, "offset %.2f, %.2f cells: in", shifts[shift][0],
                    shifts[shift][1]);
    bench_rig_judge(bench_rig_flow(&b, side[1], cold, FACES_ALL), exact, 1.0, "offset %.2f, %.2f cells: out", shifts[shift][0],
                    shifts[shift][1]);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* Exact: k dT / length. Beside its slanting sides the nodes of the bar do not lie opposite each other. */
START_TEST(bar_with_slanting_insulated_sides_conducts_along_itself)
{
  const double k = 2.2, length = 0.09, width = 0.0135, exact = k * 20.0 / length * width; /* 30 cells long, 4.5 wide */
  bench_rig_title("bar with insulated sides, 4.5 cells wide, at %g degrees: steady flow, W per m", angles[_i]);
  for (size_t shift = 0; shift < (bench_rig_brief() ? 1 : sizeof shifts / sizeof *shifts); shift++) {
    tilt t = tilt_of(angles[_i], shifts[shift][0], shifts[shift][1]);
    material stuff;
    bench_rig b;
    t.width = width;
    bench_rig_init(&b);
    block_grid(&b);
    ck_assert_int_eq(material_constant(&stuff, "solid", k, 1000.0, k / 1e-4 / 1000.0, NULL), STATUS_OK);
    const int bar = bench_rig_part(&b, PART_SOLID, layer(&b, &t, -0.5 * length, 0.5 * length, false), &stuff, 0.0);
    bench_rig_rule(&b, SURFACE_INSULATED, bar, MESH_VOID, FACES_ALL, 0.0, NAN);
    const int hot = bench_rig_held(&b, layer(&b, &t, -1.0, -0.5 * length, true), 10.0, 0.0);
    const int cold = bench_rig_held(&b, layer(&b, &t, 0.5 * length, 1.0, true), -10.0, 0.0);
    bench_rig_open(&b, (bench_march){.tolerance = 1e-3, .limit = 1e9}, k / 1e-4 * 20.0);
    bench_rig_march(&b, 600.0);
    bench_rig_judge(-bench_rig_flow(&b, bar, hot, FACES_ALL), exact, 0.2, "offset %.2f, %.2f cells: in", shifts[shift][0], shifts[shift][1]);
    bench_rig_judge(bench_rig_flow(&b, bar, cold, FACES_ALL), exact, 0.2, "offset %.2f, %.2f cells: out", shifts[shift][0], shifts[shift][1]);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* ---- tilted both ways, in three dimensions ---- */

static const struct {
  double normal[3], shift[3]; /* in cells */
} spaces[] = {{{1, 2, 3}, {0.13, 0.71, 0.41}}, {{2, 5, -1}, {0.95, 0.29, 0.07}}, {{1, 1, 1}, {0.5, 0.5, 0.5}}, {{3, -1, 1}, {0.31, 0.17, 0.83}}};

static tilt tilt_in_space(int which)
{
  const double *n = spaces[which].normal, length = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]), level = sqrt(n[0] * n[0] + n[1] * n[1]);
  tilt t = {.width = 0.066, .depth = 0.054, .along = {-n[1] / level, n[0] / level, 0.0}};
  for (int a = 0; a < 3; a++) {
    t.normal[a] = n[a] / length;
    t.origin[a] = spaces[which].shift[a] * CELL;
  }
  for (int a = 0; a < 3; a++)
    t.across[a] = t.normal[(a + 1) % 3] * t.along[(a + 2) % 3] - t.normal[(a + 2) % 3] * t.along[(a + 1) % 3];
  return t;
}

START_TEST(wall_tilted_both_ways_keeps_its_resistance)
{
  const double k = 2.2, half = 17.0 * CELL;
  const tilt t = tilt_in_space(_i);
  const double exact = 20.0 / (2.0 * LENGTH / k + WALL / WALL_CONDUCTIVITY) * t.width * t.depth;
  const size_t num[3] = {34, 34, 34};
  const double low[3] = {-half, -half, -half}, high[3] = {half, half, half};
  bench_rig b;
  material stuff[2];
  int side[2];
  bench_rig_title("1.5 mm wall, k 0.2, in 3 mm cells, normal (%g, %g, %g): steady flow, W", spaces[_i].normal[0], spaces[_i].normal[1],
                  spaces[_i].normal[2]);
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_XYZ, num, low, high, NULL);
  for (int i = 0; i < 2; i++) {
    ck_assert_int_eq(material_constant(&stuff[i], "solid", k, 1000.0, k / 1e-4 / 1000.0, NULL), STATUS_OK);
    side[i] = bench_rig_part(&b, PART_SOLID, i == 0 ? layer(&b, &t, -LENGTH, 0.0, false) : layer(&b, &t, WALL, WALL + LENGTH, false), &stuff[i],
                             0.0);
    bench_rig_rule(&b, SURFACE_INSULATED, side[i], MESH_VOID, FACES_ALL, 0.0, NAN);
  }
  const int hot = bench_rig_held(&b, layer(&b, &t, -1.0, -LENGTH, true), 10.0, 0.0);
  const int cold = bench_rig_held(&b, layer(&b, &t, WALL + LENGTH, 1.0, true), -10.0, 0.0);
  (void)add_wall(&b, &t);
  bench_rig_open(&b, (bench_march){.tolerance = 1e-3, .limit = 1e9}, k / 1e-4 * 20.0);
  bench_rig_march(&b, 60.0);
  bench_rig_judge(-bench_rig_flow(&b, side[0], hot, FACES_ALL), exact, 1.0, "in");
  bench_rig_judge(bench_rig_flow(&b, side[1], cold, FACES_ALL), exact, 1.0, "out");
  bench_rig_release(&b);
  bench_rig_verdict();
}
END_TEST

/* Water just above freezing on one side, a bath far below on the other. */
START_TEST(bath_freezes_nothing_at_time_zero)
{
  bench_rig_title("nothing is frozen at time zero by the bath on the wall's other side, %g degrees", angles[_i]);
  for (size_t shift = 0; shift < (bench_rig_brief() ? 1 : sizeof shifts / sizeof *shifts); shift++) {
    const tilt t = tilt_of(angles[_i], shifts[shift][0], shifts[shift][1]);
    const constant_phases p = bench_rig_set_w(0.0);
    const double start = 0.1, bath = -25.0, seconds = 20.0;
    bench_rig b;
    bench_rig_init(&b);
    block_grid(&b);
    const int water = bench_rig_water(&b, layer(&b, &t, -LENGTH, 0.0, false), &p, start);
    bench_rig_rule(&b, SURFACE_INSULATED, water, MESH_VOID, FACES_ALL, 0.0, NAN);
    (void)bench_rig_held(&b, layer(&b, &t, WALL, 1.0, true), bath, 0.0);
    (void)add_wall(&b, &t);
    bench_rig_open(&b, bench_rig_exact(seconds * 20.0), p.density * p.latent_heat);
    const double at_zero = bench_rig_liquid(&b, water);
    bench_rig_march(&b, seconds);
    /* No more ice than all the heat that the wall alone can let through in this time. */
    const double most = (start - bath) / (WALL / WALL_CONDUCTIVITY) * seconds / (p.density * p.latent_heat * LENGTH);
    bench_rig_judge_that(at_zero == 1.0, "offset %.2f, %.2f cells: liquid share at time zero %.17g", shifts[shift][0], shifts[shift][1],
                         at_zero);
    bench_rig_judge_that(1.0 - bench_rig_liquid(&b, water) <= most, "after %g s: %.3g frozen, at most %.3g can be", seconds,
                         1.0 - bench_rig_liquid(&b, water), most);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("tilted wall");
  TCase *tcase = tcase_create("tilted wall");
  const int num_angles = bench_rig_brief() ? 2 : 4;
  tcase_add_loop_test(tcase, tilted_wall_keeps_its_resistance, 0, num_angles);
  tcase_add_loop_test(tcase, bar_with_slanting_insulated_sides_conducts_along_itself, 0, num_angles);
  tcase_add_loop_test(tcase, wall_tilted_both_ways_keeps_its_resistance, 0, bench_rig_long() ? 4 : bench_rig_brief() ? 1 : 2);
  tcase_add_loop_test(tcase, bath_freezes_nothing_at_time_zero, 0, num_angles);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
