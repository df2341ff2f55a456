/* A tube bent along a line through an (x, y, z) grid: the heat it takes, at places off the nodes and in directions off the axes.
 *
 * Straight in the middle of a square duct with cold walls: T = q'/(2 pi k) ln(0.5393526011884 w/a) (conformal radius of the square; the handbook
 * shape factor ln(1.08 w/d)). Along the axis of a tilted cylinder: 2 pi k / ln(R/a). One turn in a closed cylinder: exact Bessel series, computed
 * independently, 27.05721551 K for 100 W/m with R 0.21, H 0.30, ring r 0.105, z 0.135, a 0.004 m, k 2.2 W/(m K). */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"
#include "geometry/shape_placed.h"
#include "geometry/tube_path.h"

static const double PI = 3.14159265358979323846, K = 2.2;

static void add_line(bench_rig *b, tube_path *line, double radius)
{
  b->coils[0] = (rig_coil){.name = "coil",
                           .num_points = line->num,
                           .points = line->point,
                           .tube_outer = 2.0 * radius,
                           .tube_wall = 0.05 * radius,
                           .tube_conductivity = 1e9,
                           .length = tube_path_length(line),
                           .coolant = COOLANT_FIXED,
                           .temperature = bench_rig_constant(b, -10.0)};
  b->r.num_coils = 1;
}

static material plain_solid(void)
{
  material stuff;
  ck_assert_int_eq(material_constant(&stuff, "solid", K, 1000.0, K / 1e-4 / 1000.0, NULL), STATUS_OK);
  return stuff;
}

/* Walls at 0, tube at -10 degC; `capped`: the ends, looking up and down, are insulated. */
static double flow_into(bench_rig *b, const shape *region, tube_path *line, double radius, face_choice insulated, double until)
{
  const material stuff = plain_solid();
  const int part = bench_rig_part(b, PART_SOLID, region, &stuff, -3.0);
  bench_rig_rule(b, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, 0.0);
  if (insulated != FACES_ALL) {
    bench_rig_rule(b, SURFACE_INSULATED, part, MESH_VOID, FACES_TOP, 0.0, 0.0);
    bench_rig_rule(b, SURFACE_INSULATED, part, MESH_VOID, FACES_BOTTOM, 0.0, 0.0);
  }
  add_line(b, line, radius);
  const bench_march how = {.tolerance = 1e-2, .longest_step = 0.0, .limit = 1e9};
  bench_rig_open(b, how, K / 1e-4 * 10.0);
  bench_rig_march(b, until);
  return network_coil_heat(b->net, 0);
}

static const double ratios[] = {0.05, 0.1, 0.25, 0.5, 1.0, 2.0}; /* tube radius / cell */

START_TEST(straight_tube_in_a_square_duct_takes_the_exact_flow)
{
  static const struct { const char *name; double nudge[2]; } at[] = {{"a node", {0, 0}}, {"a face", {0.5, 0}}, {"a corner", {0.5, 0.5}}, {"nothing", {0.31, 0.17}}};
  const double side = 0.2, length = 0.1, cell = side / 17.0;
  bench_rig_title("straight tube in a square duct, centred on %s: W per m", at[_i].name);
  for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i += bench_rig_brief() ? 4 : 1) {
    /* The duct is moved on the grid, which is larger than it. */
    const double dx = at[_i].nudge[0] * cell, dy = at[_i].nudge[1] * cell, half = 0.5 * side, wide = 11 * cell;
    const double low[3] = {-wide, -wide, 0.0}, high[3] = {wide, wide, length}, radius = ratios[i] * cell;
    const size_t num[3] = {22, 22, 9};
    const double ends[2][3] = {{dx + 0.5 * cell, dy + 0.5 * cell, 0.0}, {dx + 0.5 * cell, dy + 0.5 * cell, length}};
    tube_path line;
    bench_rig b;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, NULL);
    ck_assert_int_eq(tube_path_create(&line, ends, 2, NULL), STATUS_OK);
    const shape *duct = bench_rig_box(&b, ends[0][0] - half, ends[0][0] + half, ends[0][1] - half, ends[0][1] + half, -1.0, 1.0);
    const double flow = flow_into(&b, duct, &line, radius, FACES_TOP, 3e3) / length;
    bench_rig_judge(flow, 2.0 * PI * K * 10.0 / log(0.5393526011884 * side / radius), ratios[i] < 0.25 ? 1.0 : 2.0, "radius / cell %.2f", ratios[i]);
    bench_rig_release(&b);
    tube_path_release(&line);
  }
  bench_rig_verdict();
}
END_TEST

START_TEST(tube_along_a_tilted_cylinder_takes_the_exact_flow)
{
  const double R = 0.1, length = 0.12, cell = R / 10.0;
  bench_rig_title("tube along the axis of a cylinder tilted by 30 and turned by 17 degrees: W per m%s", "");
  for (size_t i = 0; i < 4; i += bench_rig_brief() ? 3 : 1) {
    const double low[3] = {-0.2, -0.2, -0.1}, high[3] = {0.2, 0.2, 0.24}, radius = ratios[i] * cell, origin[3] = {0, 0, 0}, by[3] = {-0.031, 0.013, 0.022};
    const size_t num[3] = {40, 40, 34};
    const shape_placed_frame f = shape_placed_turn(1, 0, PI / 6, 17 * PI / 180, origin, by);
    double ends[2][3];
    shape *upright = NULL, *tilted = NULL;
    tube_path line;
    bench_rig b;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, NULL);
    shape_placed_point(&f, (const double[3]){0, 0, 0}, ends[0]);
    shape_placed_point(&f, (const double[3]){0, 0, length}, ends[1]);
    ck_assert_int_eq(tube_path_create(&line, (const double(*)[3])ends, 2, NULL), STATUS_OK);
    ck_assert_int_eq(shape_cylinder(&upright, R, 0, length, NULL), STATUS_OK);
    ck_assert_int_eq(shape_placed(&tilted, upright, &f, NULL), STATUS_OK);
    const double flow = flow_into(&b, bench_rig_keep(&b, tilted), &line, radius, FACES_TOP, 1.5e3) / length;
    bench_rig_judge(flow, 2.0 * PI * K * 10.0 / log(R / radius), ratios[i] < 0.25 ? 1.0 : 2.0, "radius / cell %.2f", ratios[i]);
    bench_rig_release(&b);
    tube_path_release(&line);
  }
  bench_rig_verdict();
}
END_TEST

START_TEST(one_turn_in_a_closed_cylinder_takes_the_exact_flow)
{
  static const double cells[] = {0.03, 0.02, 0.0123};
  const double radius = 0.004;
  bench_rig_title("one turn of tube in a closed cylinder, its axis off the nodes: W per m%s", "");
  for (size_t i = 0; i < (bench_rig_brief() ? 2 : sizeof cells / sizeof *cells); i++) {
    const double cell = cells[i], dx = 0.21 * cell, dy = 0.37 * cell;
    const size_t half = (size_t)ceil(0.23 / cell), up = (size_t)ceil(0.30 / cell) + 2;
    const size_t num[3] = {2 * half, 2 * half, up};
    const double low[3] = {-(double)half * cell, -(double)half * cell, -1.3 * cell}, high[3] = {(double)half * cell, (double)half * cell, ((double)up - 1.3) * cell};
    shape *can = NULL, *moved = NULL;
    tube_path line;
    bench_rig b;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, NULL);
    ck_assert_int_eq(tube_path_helix(&line, 0.105, 0.135, 0.0, 1.0, NULL), STATUS_OK);
    for (size_t n = 0; n < line.num; n++) {
      line.point[n][0] += dx;
      line.point[n][1] += dy;
    }
    ck_assert_int_eq(shape_cylinder(&can, 0.21, 0, 0.30, NULL), STATUS_OK);
    ck_assert_int_eq(shape_translate(&moved, can, (const double[3]){dx, dy, 0}, NULL), STATUS_OK);
    const double length = 2.0 * PI * 0.105;
    const double flow = flow_into(&b, bench_rig_keep(&b, moved), &line, radius, FACES_ALL, 1.2e3) / length;
    bench_rig_judge(flow, 100.0 * 10.0 / 27.05721551, radius / cell < 0.25 ? 1.0 : 2.0, "cells of %.1f mm", 1e3 * cell);
    bench_rig_release(&b);
    tube_path_release(&line);
  }
  bench_rig_verdict();
}
END_TEST

/* A spread tube in a medium of one temperature takes length (T - T_coolant) / R from the very start, R its film's and wall's resistance of a metre:
 * its shares add up, wherever it lies, also where it passes a mirror plane or runs in one. */
START_TEST(a_spread_tube_takes_what_its_film_lets_through)
{
  const double low[3] = {0.0, -0.1, 0.0}, high[3] = {0.1, 0.1, 0.1}, radius = 0.004, film = 90.0;
  const size_t num[3] = {9, 17, 8};
  const double bent[4][3] = {{0.011, -0.08, 0.013}, {0.071, -0.02, 0.021}, {0.071, 0.031, 0.078}, {0.023, 0.07, 0.083}};
  const double across[2][3] = {{-0.06, 0.013, 0.041}, {0.06, 0.013, 0.041}}; /* half of it behind the plane x = 0 */
  const double within[2][3] = {{0.0, -0.07, 0.041}, {0.0, 0.06, 0.041}};
  const struct { const char *name; const double (*points)[3]; size_t num; } tubes[] = {{"bent", bent, 4}, {"across a mirror plane", across, 2}, {"in a mirror plane", within, 2}};
  bench_rig_title("spread tube: heat of a uniform medium, W");
  for (int k = 0; k < 3; k++) {
    const bool mirror[6] = {k > 0, false, false, false, false, false};
    const material stuff = plain_solid();
    tube_path line;
    bench_rig b;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
    b.r.counts_images = true;
    ck_assert_int_eq(tube_path_create(&line, tubes[k].points, tubes[k].num, NULL), STATUS_OK);
    (void)bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, -3.0);
    add_line(&b, &line, radius);
    b.coils[0].spread = true;
    b.coils[0].outer_film = film;
    bench_rig_open(&b, (bench_march){.tolerance = 1e-2, .limit = 1e9}, K / 1e-4 * 10.0);
    bench_rig_march(&b, 1e-9);
    bench_rig_judge(network_coil_heat(b.net, 0), film * 2.0 * PI * radius * tube_path_length(&line) * 7.0, 1e-4, "%s", tubes[k].name);
    bench_rig_release(&b);
    tube_path_release(&line);
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *s = suite_create("coil_line");
  TCase *c = tcase_create("flow");
  tcase_set_timeout(c, 300);
  tcase_add_loop_test(c, straight_tube_in_a_square_duct_takes_the_exact_flow, 0, 4);
  tcase_add_test(c, tube_along_a_tilted_cylinder_takes_the_exact_flow);
  tcase_add_test(c, one_turn_in_a_closed_cylinder_takes_the_exact_flow);
  tcase_add_test(c, a_spread_tube_takes_what_its_film_lets_through);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
