/* Moulds of odd shape at Stefan number 0.02, walls held: between the exact bounds Phi0 / Ste and Phi0 (1 / Ste + 1) of test_finite_cylinder,
 * 2 % apart, with 0.3 % more for the grid. Phi0 from poisson.h, which is first held against the exact series of cube and ball. */
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "bench_rig.h"
#include "geometry/shape_extruded.h"
#include "geometry/shape_placed.h"
#include "geometry/shape_round.h"
#include "geometry/shape_triangles.h"
#include "poisson.h"

static const double STEFAN = 0.02;

static shape *made(status code, shape *const *s)
{
  ck_assert_int_eq(code, STATUS_OK);
  return *s;
}

/* ---- shapes, about 0.1 m ---- */

static shape *cube(void)
{
  shape *s = NULL;
  return made(shape_box(&s, (double[3]){-0.05, -0.05, -0.05}, (double[3]){0.05, 0.05, 0.05}, NULL), &s);
}

static shape *ball(void)
{
  shape *s = NULL;
  return made(shape_sphere(&s, (double[3]){0.0, 0.0, 0.0}, 0.05, NULL), &s);
}

static shape *dome_with_entrance(void)
{
  shape *dome = NULL, *entrance = NULL, *both = NULL;
  ck_assert_int_eq(shape_round_cap(&dome, 0.055, 0.0, 0.055, NULL), STATUS_OK);
  ck_assert_int_eq(shape_box(&entrance, (double[3]){0.03, -0.02, 0.0}, (double[3]){0.09, 0.02, 0.035}, NULL), STATUS_OK);
  return made(shape_union(&both, dome, entrance, NULL), &both);
}

static shape *turned(shape *s, double spin, double tilt)
{
  const double origin[3] = {0.0, 0.0, 0.0};
  const shape_placed_frame frame = shape_placed_turn(1.0, spin, tilt, 0.0, origin, origin);
  shape *out = NULL;
  return made(shape_placed(&out, s, &frame, NULL), &out);
}

static shape *tilted_letter(void)
{
  const double corner[6][2] = {{0.0, 0.0}, {0.07, 0.0}, {0.07, 0.03}, {0.032, 0.03}, {0.032, 0.1}, {0.0, 0.1}};
  shape *s = NULL;
  ck_assert_int_eq(shape_extruded(&s, (const double(*)[2])corner, 6, 0.0, 0.036, NULL), STATUS_OK);
  return turned(s, 0.3, 0.45);
}

static shape *tilted_ring(void)
{
  shape *s = NULL;
  ck_assert_int_eq(shape_torus(&s, 0.05, 0.022, 0.0, NULL), STATUS_OK);
  return turned(s, 0.0, 0.5);
}

static shape *ball_round_a_core(void)
{
  shape *outer = ball(), *core = NULL, *s = NULL;
  ck_assert_int_eq(shape_box(&core, (double[3]){0.003, -0.012, -0.016}, (double[3]){0.027, 0.012, 0.008}, NULL), STATUS_OK);
  return made(shape_difference(&s, outer, core, NULL), &s);
}

static shape *hull_from_a_drawing(void)
{
  static char bytes[1 << 20];
  const double origin[3] = {0.0, 0.0, 0.0};
  const shape_placed_frame frame = shape_placed_turn(1.0, 0.0, 0.0, 0.0, origin, origin);
  FILE *f = fopen(CASES "/skerry-boat/hull.obj", "rb");
  ck_assert_ptr_nonnull(f);
  const size_t num = fread(bytes, 1, sizeof bytes, f);
  ck_assert_int_eq(fclose(f), 0);
  triangle_file file;
  triangle_surface surface;
  shape *s = NULL;
  ck_assert_int_eq(triangle_file_read(&file, "hull.obj", bytes, num, NULL), STATUS_OK);
  ck_assert_int_eq(triangle_surface_create(&surface, &file, "hull.obj", NULL), STATUS_OK);
  triangle_surface_place(&surface, 1e-3, &frame);
  return made(shape_triangles(&s, &surface, "hull.obj", NULL), &s);
}

/* ---- the freeze ---- */

/* Off the grid's planes by a third of a cell. */
static double complete(shape *taken, double cell, double duration)
{
  const constant_phases p = bench_rig_set_ste(STEFAN);
  double low[3], high[3];
  size_t num[3];
  bench_rig b;
  bench_rig_init(&b);
  const shape *s = bench_rig_keep(&b, taken);
  shape_bounds(s, low, high);
  for (int axis = 0; axis < 3; axis++) {
    num[axis] = (size_t)ceil((high[axis] - low[axis]) / cell) + 2;
    low[axis] -= 0.33 * cell;
    high[axis] = low[axis] + cell * (double)num[axis];
  }
  bench_rig_grid(&b, GRID_XYZ, num, low, high, NULL);
  const int water = bench_rig_water(&b, s, &p, 0.0);
  bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, -20.0);
  bench_history h;
  bench_rig_run(&b, bench_rig_default(duration), &h);
  const double time = h.complete;
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
  return time;
}

START_TEST(the_plain_lattice_finds_the_exact_values)
{
  bench_rig_title("odd moulds: the largest Phi by a plain lattice");
  shape *s = cube();
  bench_rig_judge(poisson_largest(s, bench_rig_brief() ? 40 : 64) / 0.0025, 0.224851319318, 0.1, "cube");
  shape_destroy(&s);
  s = ball();
  bench_rig_judge(poisson_largest(s, bench_rig_brief() ? 40 : 64) / 0.0025, 1.0 / 6.0, 0.1, "ball");
  shape_destroy(&s);
  bench_rig_verdict();
}
END_TEST

START_TEST(every_mould_freezes_between_the_exact_bounds)
{
  static const struct {
    const char *name;
    shape *(*make)(void);
    double cell; /* m: some twenty cells across its thickest place */
  } moulds[] = {{"dome with an entrance", dome_with_entrance, 0.003},      {"letter L, tilted", tilted_letter, 0.002},
                {"ring, tilted", tilted_ring, 0.0025},                     {"ball round a cold core", ball_round_a_core, 0.002},
                {"hull from a drawing", hull_from_a_drawing, 0.006}};
  bench_rig_title("odd moulds: Ste 0.02 between the exact bounds Phi0 and 1.02 Phi0");
  for (size_t i = 0; i < (bench_rig_brief() ? 1 : sizeof moulds / sizeof *moulds); i++) {
    const constant_phases p = bench_rig_set_ste(STEFAN);
    const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat);
    shape *s = moulds[i].make();
    const double phi0 = poisson_largest(s, 80), ratio = STEFAN * alpha * complete(s, moulds[i].cell, phi0 / (STEFAN * alpha)) / phi0;
    bench_rig_judge_that(ratio >= 0.997 && ratio <= 1.023, "%s: Ste Fo / Phi0 = %.5f", moulds[i].name, ratio);
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("odd moulds");
  TCase *tcase = tcase_create("odd moulds");
  tcase_add_test(tcase, the_plain_lattice_finds_the_exact_values);
  tcase_add_test(tcase, every_mould_freezes_between_the_exact_bounds);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
