/* Ice growing outward from a cylinder or a sphere into much water.
 *
 * References computed independently (front-fixing Landau transform, Chebyshev collocation, relative error below 1e-8); the
 * problem class is that of Carslaw & Jaeger 1959, Conduction of Heat in Solids, sec. 11.6, with a surface of finite radius. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

static const double RADIUS = 0.05; /* m, of the cold surface */
enum { FRONTS = 4 };
static const double front[FRONTS] = {1.25, 1.5, 2.0, 3.0}; /* r/R */

typedef struct {
  double stefan, biot, phi; /* phi = (T_i - T_f)/(T_f - T_wall); phi > 0: property set W */
  double fourier[FRONTS];   /* alpha_s t/R2 when the front stands at front[] */
} outward_case;

static const outward_case cylinders[] = {
  {0.05, INFINITY, 0.0, {0.684481853, 2.91451768, 12.8930508, 59.5517696}},
  {0.2, INFINITY, 0.0, {0.178720411, 0.759150262, 3.34631231, 15.3872372}},
  {0.5, INFINITY, 0.0, {0.0772993114, 0.327064791, 1.43325842, 6.54103551}},
  {2.0, INFINITY, 0.0, {0.025715911, 0.107652487, 0.463958159, 2.07025823}},
  {0.2, 5.0, 0.0, {0.468549091, 1.40610759, 4.89814634, 19.5046466}},
  {0.122754491, INFINITY, 0.5, {0.347804135, 1.50385894, 6.82119878, 32.6806623}},
  {0.06137724551, INFINITY, 1.0, {0.722198863, 3.16583493, 14.6822792, 72.6731225}}};
static const outward_case spheres[] = {{0.2, INFINITY, 0.0, {0.192498145, 0.874291991, 4.33118258, 23.9941968}},
                                       {1.0, INFINITY, 0.0, {0.0460037316, 0.205309983, 0.990453553, 5.30652746}}};

static const size_t radius_cells[] = {20, 40, 80};
static const double front_limit[] = {1.0, 0.5, 0.2}; /* percent of the time */

static size_t stretched_edges(double cell, double even_to, double far, double *edges, size_t most)
{
  size_t num = 0;
  double step = cell;
  edges[0] = RADIUS;
  while (edges[num] < far && num + 1 < most) {
    if (edges[num] > even_to)
      step *= 1.06;
    edges[num + 1] = edges[num] + step;
    num++;
  }
  return num;
}

static constant_phases phases_of(const outward_case *c, double *wall)
{
  *wall = -20.0;
  if (c->phi == 0.0)
    return bench_rig_set_ste(c->stefan);
  const constant_phases p = bench_rig_set_w(0.0);
  *wall = -c->stefan * p.latent_heat / p.solid_specific_heat;
  return p;
}

static void march_cylinder(const outward_case *c, size_t level, bool exact_steps, double extra)
{
  enum { MOST = 4000 };
  const size_t cells = radius_cells[level];
  double wall = 0.0, edges[MOST];
  const constant_phases p = phases_of(c, &wall);
  const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat);
  const double alpha_l = p.liquid_conductivity / (p.density * p.liquid_specific_heat);
  const double unit = RADIUS * RADIUS / alpha;
  const double duration = c->fourier[FRONTS - 1] * unit;
  const double far = 3.0 * RADIUS + (c->phi > 0.0 ? 8.0 * sqrt(alpha_l * duration) : 0.3 * RADIUS);
  const size_t num = stretched_edges(RADIUS / (double)cells, 3.1 * RADIUS, far, edges, MOST);
  bench_rig b;
  bench_history h;
  bench_rig_init(&b);
  bench_rig_line(&b, GRID_RZ, num, edges, false, true);
  const int water = bench_rig_water(&b, bench_rig_everywhere(&b), &p, -c->phi * wall);
  if (isinf(c->biot))
    bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, wall);
  else
    bench_rig_rule(&b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, c->biot * p.solid_conductivity / RADIUS, wall);
  bench_march how = exact_steps ? bench_rig_exact(duration) : bench_rig_default(duration);
  how.limit = 1.02 * duration;
  if (exact_steps)
    how.longest_step = duration / 8000.0; /* the first front is passed after a hundredth of the time */
  bench_rig_run(&b, how, &h);
  const double all = pow(edges[num] / RADIUS, 2) - 1.0;
  for (int i = 0; i < FRONTS; i++)
    bench_rig_judge(bench_rig_time_to(&h, 1.0 - (front[i] * front[i] - 1.0) / all) / unit, c->fourier[i],
                    front_limit[level] + extra, "cylinder Ste %.3g Bi %g phi %g, %zu cells: to %.2f R", c->stefan, c->biot, c->phi,
                    cells, front[i]);
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
}

/* In (r, z), the lower half mirrored; the sphere is a held part, the front is followed to 2 R. */
static void march_sphere(const outward_case *c, size_t level, bool exact_steps, double extra)
{
  const size_t cells = radius_cells[level];
  double wall = 0.0;
  const constant_phases p = phases_of(c, &wall);
  const double unit = RADIUS * RADIUS * p.density * p.solid_specific_heat / p.solid_conductivity;
  const double duration = c->fourier[2] * unit, h_cell = RADIUS / ((double)cells - 0.3), centre[3] = {0.0, 0.0, 0.0};
  const size_t across = (size_t)ceil(2.2 * RADIUS / h_cell);
  const size_t num[3] = {across, 1, across};
  const double low[3] = {0.0, 0.0, 0.0}, side = h_cell * (double)across, high[3] = {side, 1.0, side};
  const bool mirror[6] = {false, true, true, true, true, true};
  bench_rig b;
  bench_history h;
  shape *ball = NULL;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_RZ, num, low, high, mirror);
  ck_assert_int_eq(shape_sphere(&ball, centre, RADIUS, NULL), STATUS_OK);
  (void)bench_rig_water(&b, bench_rig_everywhere(&b), &p, 0.0);
  (void)bench_rig_held(&b, bench_rig_keep(&b, ball), wall, 0.0);
  bench_march how = exact_steps ? bench_rig_exact(duration) : bench_rig_default(duration);
  how.limit = 1.02 * duration;
  bench_rig_run(&b, how, &h);
  const double all = side * side * side - 2.0 / 3.0 * pow(RADIUS, 3); /* over pi */
  for (int i = 0; i < 3; i++)
    bench_rig_judge(bench_rig_time_to(&h, 1.0 - 2.0 / 3.0 * pow(RADIUS, 3) * (pow(front[i], 3) - 1.0) / all) / unit, c->fourier[i],
                    front_limit[level] + extra, "sphere Ste %.3g, %zu cells: to %.2f R", c->stefan, cells, front[i]);
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
}

START_TEST(ice_grows_from_a_cylinder_on_time)
{
  bench_rig_title("outward from a cylinder%s", _i ? ", default steps (limits + 0.25 %)" : "");
  for (size_t i = 0; i < sizeof cylinders / sizeof *cylinders; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 3); level++)
      march_cylinder(&cylinders[i], level, _i == 0, _i ? 0.25 : 0.0);
  bench_rig_verdict();
}
END_TEST

START_TEST(ice_grows_from_a_sphere_on_time)
{
  bench_rig_title("outward from a sphere that fits no grid line%s", _i ? ", default steps (limits + 0.25 %)" : "");
  for (size_t i = 0; i < sizeof spheres / sizeof *spheres; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 2); level++)
      march_sphere(&spheres[i], level, _i == 0, _i ? 0.25 : 0.0);
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("outward freezing");
  TCase *tcase = tcase_create("outward");
  const int first = bench_rig_brief() ? 1 : 0; /* at default steps only */
  tcase_add_loop_test(tcase, ice_grows_from_a_cylinder_on_time, first, 2);
  tcase_add_loop_test(tcase, ice_grows_from_a_sphere_on_time, first, 2);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
