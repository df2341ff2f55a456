/* Shapes that fit no grid line: a sphere inside a plastic wall thinner than a cell, and a cone; and what they cost.
 *
 * Sphere: references computed independently (front-fixing collocation), film and wall joined into the one coefficient at its
 * surface that an exact series resistance of concentric shells gives. Cone: computed independently (linear finite elements on
 * a boundary-fitted mesh, lumped enthalpy, explicit, 20 to 320 elements over the radius, extrapolated; spread below 1e-4). */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

static const double RADIUS = 0.05; /* m */
static const size_t radius_cells[] = {20, 40};
static const double complete_limit[] = {0.3, 0.15}; /* percent */

static void release(bench_rig *b, bench_history *h)
{
  bench_rig_judge_ledger(h);
  bench_rig_forget(h);
  bench_rig_release(b);
}

/* ------------------------------------------------------------------------------------------------ sphere in plastic */

typedef struct {
  const char *name;
  constant_phases phases;
  double initial, cold, effective; /* degC, degC, W/m2K at the inner surface */
  double complete;                 /* s */
} walled_sphere;

static const double WALL = 0.001, WALL_CONDUCTIVITY = 0.2; /* m, W/mK */

static void build_walled_sphere(bench_rig *b, const walled_sphere *c, size_t cells)
{
  const double outer = RADIUS + WALL, h_cell = RADIUS / ((double)cells - 0.3), centre[3] = {0.0, 0.0, 0.0};
  const double wall_resistance = RADIUS * RADIUS / WALL_CONDUCTIVITY * (1.0 / RADIUS - 1.0 / outer); /* m2K/W at RADIUS */
  const double film = pow(RADIUS / outer, 2) / (1.0 / c->effective - wall_resistance);
  const size_t num[3] = {cells + 3, 1, 2 * cells + 6};
  const double low[3] = {0.0, 0.0, -h_cell * ((double)cells + 2.37)};
  const double high[3] = {h_cell * (double)num[0], 1.0, low[2] + h_cell * (double)num[2]};
  ck_assert_double_gt(film, 0.0);
  ck_assert_double_lt(WALL, h_cell);
  shape *outside = NULL, *cavity = NULL, *ball = NULL;
  material plastic;
  bench_rig_init(b);
  bench_rig_grid(b, GRID_RZ, num, low, high, NULL);
  ck_assert_int_eq(shape_sphere(&outside, centre, outer, NULL), STATUS_OK);
  ck_assert_int_eq(shape_sphere(&cavity, centre, RADIUS, NULL), STATUS_OK);
  ck_assert_int_eq(shape_sphere(&ball, centre, RADIUS, NULL), STATUS_OK);
  /* Next to no heat capacity: the reference has a massless wall. */
  ck_assert_int_eq(material_constant(&plastic, "plastic", WALL_CONDUCTIVITY, 1.0, 1.0, NULL), STATUS_OK);
  const int wall = bench_rig_wall(b, bench_rig_keep(b, outside), bench_rig_keep(b, cavity), WALL, &plastic, 0.0);
  const int water = bench_rig_water(b, bench_rig_keep(b, ball), &c->phases, c->initial);
  bench_rig_rule(b, SURFACE_FILM, wall, MESH_VOID, FACES_ALL, film, c->cold);
  bench_rig_rule(b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, film, c->cold);
}

static void march_walled_sphere(const walled_sphere *c, size_t cells, bool exact_steps, double limit)
{
  bench_rig b;
  bench_history h;
  build_walled_sphere(&b, c, cells);
  bench_rig_run(&b, exact_steps ? bench_rig_exact(c->complete) : bench_rig_default(c->complete), &h);
  bench_rig_judge(h.complete, c->complete, limit, "sphere in 1 mm plastic, %s, %zu cells: complete", c->name, cells);
  release(&b, &h);
}

START_TEST(sphere_in_plastic_freezes_on_time)
{
  const constant_phases one = bench_rig_set_ste(0.2), two = bench_rig_set_w(0.0);
  const double unit = RADIUS * RADIUS * one.density * one.solid_specific_heat / one.solid_conductivity;
  const walled_sphere cases[] = {
    {"Ste 0.2 Bi 1", one, 0.0, -20.0, 1.0 * one.solid_conductivity / RADIUS, 2.82137331 * unit},
    {"Ste 0.2 Bi 2", one, 0.0, -20.0, 2.0 * one.solid_conductivity / RADIUS, 1.909709202 * unit},
    {"+20/-10 degC, h 50", two, 20.0, -10.0, 50.0, 20618.78184}};
  bench_rig_title("sphere that fits no grid line, in a plastic wall thinner than a cell%s",
                  _i ? ", default steps (limits + 0.25 %)" : "");
  for (size_t i = 0; i < 3; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 2); level++)
      march_walled_sphere(&cases[i], radius_cells[level], _i == 0, complete_limit[level] + (_i ? 0.25 : 0.0));
  bench_rig_verdict();
}
END_TEST

/* ------------------------------------------------------------------------------------------------ cone */

typedef struct {
  const char *name;
  constant_phases phases;
  double initial, biot; /* degC; h R/k_s, INFINITY: fixed wall; cold side at -20 degC */
  double fourier;       /* alpha_s t/R2, complete */
} cone_case;

enum { CONE_APEX_DOWN, CONE_APEX_UP };

static int build_cone(bench_rig *b, const constant_phases *p, double initial, size_t cells, int way)
{
  const double height = 1.6 * RADIUS, h = RADIUS / ((double)cells - 0.3);
  const size_t num[3] = {cells + 1, 1, (size_t)ceil(height / h) + 2};
  const double low[3] = {0.0, 0.0, -0.63 * h}, high[3] = {h * (double)num[0], 1.0, low[2] + h * (double)num[2]};
  const double down[3][2] = {{0.0, 0.0}, {RADIUS, height}, {0.0, height}};
  const double up[3][2] = {{0.0, height}, {RADIUS, 0.0}, {0.0, 0.0}};
  shape *cone = NULL;
  message msg = {""};
  bench_rig_init(b);
  bench_rig_grid(b, GRID_RZ, num, low, high, NULL);
  ck_assert_msg(shape_revolved(&cone, way == CONE_APEX_DOWN ? down : up, 3, &msg) == STATUS_OK, "%s", msg.text);
  return bench_rig_water(b, bench_rig_keep(b, cone), p, initial);
}

static void march_cone(const cone_case *c, size_t cells, int way, bool exact_steps, double limit)
{
  const constant_phases *p = &c->phases;
  const double unit = RADIUS * RADIUS * p->density * p->solid_specific_heat / p->solid_conductivity;
  const double duration = c->fourier * unit;
  bench_rig b;
  bench_history h;
  const int water = build_cone(&b, p, c->initial, cells, way);
  if (isinf(c->biot))
    bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, -20.0);
  else
    bench_rig_rule(&b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, c->biot * p->solid_conductivity / RADIUS, -20.0);
  bench_rig_run(&b, exact_steps ? bench_rig_exact(duration) : bench_rig_default(duration), &h);
  bench_rig_judge(h.complete / unit, c->fourier, limit, "cone, apex %s, %s, %zu cells: complete",
                  way == CONE_APEX_DOWN ? "down" : "up", c->name, cells);
  release(&b, &h);
}

START_TEST(cone_freezes_on_time)
{
  const cone_case cases[] = {{"Ste 0.2, fixed wall", bench_rig_set_ste(0.2), 0.0, INFINITY, 0.41513},
                             {"Ste 0.2 Bi 2", bench_rig_set_ste(0.2), 0.0, 2.0, 1.04850},
                             {"+10/-20 degC, Bi 2", bench_rig_set_w(0.0), 10.0, 2.0, 1.75493}};
  bench_rig_title("cone, height 1.6 R, all faces cold%s", _i ? ", default steps (limits + 0.25 %)" : "");
  for (size_t i = 0; i < 3; i++)
    for (int way = CONE_APEX_DOWN; way <= CONE_APEX_UP; way++)
      for (size_t level = 0; level < (bench_rig_brief() ? 1 : 2); level++)
        march_cone(&cases[i], radius_cells[level], way, _i == 0, complete_limit[level] + (_i ? 0.25 : 0.0));
  bench_rig_verdict();
}
END_TEST

/* ------------------------------------------------------------------------------------------------ what cut cells cost */

static double stages_of_fitting_cylinder(const constant_phases *p, size_t cells, double *duration)
{
  const size_t num[3] = {cells, 1, cells};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {RADIUS, 1.0, RADIUS};
  const bool mirror[6] = {false, false, true, true, true, false};
  bench_rig b;
  bench_history h;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_RZ, num, low, high, mirror);
  const int water = bench_rig_water(&b, bench_rig_everywhere(&b), p, 0.0);
  bench_rig_rule(&b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, 2.0 * p->solid_conductivity / RADIUS, -20.0);
  bench_rig_run(&b, bench_rig_default(1e5), &h);
  const double stages = (double)h.stages;
  *duration = h.complete;
  release(&b, &h);
  return stages;
}

START_TEST(cut_cells_cost_at_most_twice_the_stages)
{
  const constant_phases p = bench_rig_set_ste(0.2);
  bench_rig_title("stages at default steps: cut shapes against a cylinder that fits, same spacing and film");
  for (size_t level = 0; level < 2; level++) {
    const size_t cells = radius_cells[level];
    double fitting_time = 0.0;
    const double fitting = stages_of_fitting_cylinder(&p, cells, &fitting_time);
    for (int way = CONE_APEX_DOWN; way <= CONE_APEX_UP; way++) {
      bench_rig b;
      bench_history h;
      const int water = build_cone(&b, &p, 0.0, cells, way);
      bench_rig_rule(&b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, 2.0 * p.solid_conductivity / RADIUS, -20.0);
      bench_rig_run(&b, bench_rig_default(1e5), &h);
      bench_rig_judge_that((double)h.stages <= 2.0 * fitting, "cone, apex %s, %zu cells: %zu stages in %.0f s, cylinder %.0f in %.0f s",
                           way == CONE_APEX_DOWN ? "down" : "up", cells, h.stages, h.complete, fitting, fitting_time);
      release(&b, &h);
    }
    const double h_cell = RADIUS / ((double)cells - 0.3), centre[3] = {0.0, 0.0, 0.0};
    const size_t num[3] = {cells + 1, 1, 2 * cells + 2};
    const double low[3] = {0.0, 0.0, -h_cell * ((double)cells + 0.37)};
    const double high[3] = {h_cell * (double)num[0], 1.0, low[2] + h_cell * (double)num[2]};
    shape *ball = NULL;
    bench_rig b;
    bench_history h;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_RZ, num, low, high, NULL);
    ck_assert_int_eq(shape_sphere(&ball, centre, RADIUS, NULL), STATUS_OK);
    const int water = bench_rig_water(&b, bench_rig_keep(&b, ball), &p, 0.0);
    bench_rig_rule(&b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, 2.0 * p.solid_conductivity / RADIUS, -20.0);
    bench_rig_run(&b, bench_rig_default(1e5), &h);
    bench_rig_judge_that((double)h.stages <= 2.0 * fitting, "sphere, %zu cells: %zu stages in %.0f s, cylinder %.0f in %.0f s", cells,
                         h.stages, h.complete, fitting, fitting_time);
    release(&b, &h);
    const walled_sphere walled = {"Bi 2", p, 0.0, -20.0, 2.0 * p.solid_conductivity / RADIUS, 0.0};
    build_walled_sphere(&b, &walled, cells);
    bench_rig_run(&b, bench_rig_default(1e5), &h);
    bench_rig_judge_that((double)h.stages <= 2.0 * fitting, "sphere in 1 mm plastic, %zu cells: %zu stages in %.0f s, cylinder %.0f in %.0f s",
                         cells, h.stages, h.complete, fitting, fitting_time);
    release(&b, &h);
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("cut shapes");
  TCase *tcase = tcase_create("cut shapes");
  tcase_add_loop_test(tcase, sphere_in_plastic_freezes_on_time, 0, 2);
  tcase_add_loop_test(tcase, cone_freezes_on_time, 0, 2);
  tcase_add_test(tcase, cut_cells_cost_at_most_twice_the_stages);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
