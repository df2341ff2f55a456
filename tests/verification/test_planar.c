/* Freezing from a plane wall: fixed wall (exact), convective wall and wall resistance (converged).
 *
 * Sources: Carslaw & Jaeger 1959, Conduction of Heat in Solids, 2nd ed., sec. 11.2 (Neumann's solution); the roots lambda
 * computed independently (30-digit arithmetic). Convective wall: computed independently (front-fixing collocation, two
 * resolutions agree to 1e-8), bracketed by London & Seban 1943 (Trans. ASME 65:771) and its perturbation in the Stefan number. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

typedef struct {
  const char *name;
  double initial, wall, lambda; /* degC above the freezing point; root of the transcendental equation */
} planar_case;

/* Property set W of bench_rig.h. */
static const planar_case fixed_wall[] = {{"water at T_f, wall -20 K", 0.0, -20.0, 0.24290082265603923818},
                                         {"water +10 K, wall -20 K", 10.0, -20.0, 0.22200863734753449917},
                                         {"water +10 K, wall -5 K", 10.0, -5.0, 0.10729744296382523875},
                                         {"water +25 K, wall -40 K", 25.0, -40.0, 0.28266050521718291358}};

static const double DEPTH = 0.1; /* m, the final depth */

/* Even cells over a little more than the final depth, then growing, out to where the water stays as it was. */
static size_t stretched_edges(double cell, double far, double *edges, size_t most)
{
  size_t num = 0;
  double step = cell;
  edges[0] = 0.0;
  while (edges[num] < far && num + 1 < most) {
    if (edges[num] > 1.1 * DEPTH)
      step *= 1.08;
    edges[num + 1] = edges[num] + step;
    num++;
  }
  return num;
}

typedef struct {
  double worst_in_cells; /* |front error| / cell, everywhere after cell 5                      */
  double worst_front;    /* |front error| / front, last three quarters of the depth            */
  double worst_time;     /* |error of the time at which a depth is reached|, same stretch      */
} planar_error;

static planar_error march_fixed_wall(const planar_case *c, double freezing_point, size_t cells, bool exact_steps)
{
  enum { MOST = 2000 };
  const constant_phases p = bench_rig_set_w(freezing_point);
  const double alpha_s = p.solid_conductivity / (p.density * p.solid_specific_heat);
  const double alpha_l = p.liquid_conductivity / (p.density * p.liquid_specific_heat);
  const double duration = pow(DEPTH / (2.0 * c->lambda), 2) / alpha_s;
  const double cell = DEPTH / (double)cells;
  double edges[MOST];
  const size_t num = stretched_edges(cell, DEPTH + 8.0 * sqrt(alpha_l * duration), edges, MOST);

  bench_rig b;
  bench_rig_init(&b);
  bench_rig_line(&b, GRID_XYZ, num, edges, false, true);
  const int water = bench_rig_water(&b, bench_rig_everywhere(&b), &p, freezing_point + c->initial);
  bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, freezing_point + c->wall);

  bench_history h;
  bench_march how = exact_steps ? bench_rig_exact(duration) : bench_rig_default(duration);
  how.limit = 1.02 * duration;
  bench_rig_run(&b, how, &h);

  planar_error worst = {0.0, 0.0, 0.0};
  for (size_t i = 1; i < h.num; i++) {
    const double front = edges[num] * (1.0 - h.liquid[i]);
    const double exact = 2.0 * c->lambda * sqrt(alpha_s * h.time[i]);
    if (exact < 5.0 * cell || exact > DEPTH)
      continue;
    worst.worst_in_cells = fmax(worst.worst_in_cells, fabs(front - exact) / cell);
    if (exact > 0.25 * DEPTH) {
      worst.worst_front = fmax(worst.worst_front, fabs(front / exact - 1.0));
      worst.worst_time = fmax(worst.worst_time, fabs(1.0 - pow(exact / front, 2)));
    }
  }
  ck_assert_double_ge(h.time[h.num - 1], duration);
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
  return worst;
}

static const size_t planar_cells[] = {50, 100, 200};
static const double planar_limit[] = {0.3, 0.15, 0.08}; /* percent of the front's depth */

START_TEST(front_follows_the_exact_solution)
{
  const planar_case *c = &fixed_wall[_i];
  const double points[] = {0.0, -1.8};
  for (size_t point = 0; point < (_i == 1 ? 2 : 1); point++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 3); level++) {
      if (level == 0)
        bench_rig_title("planar, fixed wall: %s, freezing at %.1f degC. Carslaw & Jaeger 1959, 11.2", c->name, points[point]);
      const planar_error e = march_fixed_wall(c, points[point], planar_cells[level], true);
      bench_rig_judge_difference(e.worst_in_cells, 0.0, 0.1, "%zu cells: worst front error after cell 5, cells", planar_cells[level]);
      bench_rig_judge_difference(100.0 * e.worst_front, 0.0, planar_limit[level], "%zu cells: worst front error, last 3/4, %%",
                                 planar_cells[level]);
      printf("    (time to reach a depth, last 3/4: worst %.3f %%)\n", 100.0 * e.worst_time);
    }
  bench_rig_verdict();
}
END_TEST

START_TEST(front_follows_at_default_steps)
{
  bench_rig_title("planar, fixed wall, default steps (limits + 0.25 %%)");
  for (size_t i = 0; i < 4; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 3); level++) {
      const planar_error e = march_fixed_wall(&fixed_wall[i], 0.0, planar_cells[level], false);
      bench_rig_judge_difference(100.0 * e.worst_front, 0.0, planar_limit[level] + 0.25, "%s, %zu cells, %%", fixed_wall[i].name,
                                 planar_cells[level]);
    }
  bench_rig_verdict();
}
END_TEST

/* ------------------------------------------------------------------------------------------------ convective wall */

typedef struct {
  double stefan, biot;           /* Ste = c (T_f - T_coolant)/L, Bi = h_eff R/k */
  double at_03, at_05, complete; /* Fo = alpha t/R2 when the front stands at 0.3, 0.5 and 1 R */
} convective_case;

static const convective_case convective_wall[] = {{0.05, 1.0, 6.9378693586, 12.5965723949, 30.330814782},
                                                  {0.2, 2.0, 1.0078521431, 1.9559537100, 5.269941599},
                                                  {0.5, 5.0, 0.2352507533, 0.5113648168, 1.609008272},
                                                  {1.0, 10.0, 0.0950741369, 0.2247862297, 0.777168797},
                                                  {0.2, 0.5, 3.2655141313, 5.7312708869, 12.879018267}};

/* wall_share: how much of the resistance is a thin wall between film and water, 0: none. */
static void march_convective(const convective_case *c, size_t cells, double wall_share, bool exact_steps, const double limit[2])
{
  const double half = 0.05, cold = -20.0; /* m, degC */
  const constant_phases p = bench_rig_set_ste(c->stefan);
  const double k = p.solid_conductivity, alpha = k / (p.density * p.solid_specific_heat);
  const double unit = half * half / alpha; /* s per unit of Fo */
  const double resistance = half / (c->biot * k);
  bench_rig b;
  bench_rig_init(&b);
  const double wall = 0.001; /* m, thinner than a cell */
  const double outside = wall_share > 0.0 ? half / (double)cells : 0.0;
  const size_t num[3] = {cells + (wall_share > 0.0 ? 1 : 0), 1, 1};
  const double low[3] = {-outside, 0.0, 0.0}, high[3] = {half, 1.0, 1.0};
  const bool mirror[6] = {false, true, true, true, true, true};
  bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
  if (wall_share > 0.0) {
    message msg = {""};
    shape *solid = NULL, *cavity = NULL, *inside = NULL;
    const double wall_low[3] = {-wall, -1.0, -1.0}, wall_high[3] = {0.0, 2.0, 2.0}, origin[3] = {0.0, 0.0, 0.0};
    const double out[3] = {-1.0, 0.0, 0.0};
    ck_assert_int_eq(shape_half_space(&inside, origin, out, &msg), STATUS_OK);
    ck_assert_int_eq(shape_half_space(&cavity, origin, out, &msg), STATUS_OK);
    ck_assert_int_eq(shape_box(&solid, wall_low, wall_high, &msg), STATUS_OK);
    const int water = bench_rig_water(&b, bench_rig_keep(&b, inside), &p, 0.0);
    material light; /* next to no heat capacity: the reference has a massless wall */
    ck_assert_int_eq(material_constant(&light, "wall", wall / (wall_share * resistance), 1.0, 1.0, &msg), STATUS_OK);
    const int part = bench_rig_wall(&b, bench_rig_keep(&b, solid), bench_rig_keep(&b, cavity), wall, &light, 0.0);
    bench_rig_rule(&b, SURFACE_INSULATED, water, MESH_VOID, FACES_ALL, 0.0, NAN);
    bench_rig_rule(&b, SURFACE_FILM, part, MESH_VOID, FACES_ALL, 1.0 / ((1.0 - wall_share) * resistance), cold);
  } else {
    const int water = bench_rig_water(&b, bench_rig_everywhere(&b), &p, 0.0);
    bench_rig_rule(&b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, 1.0 / resistance, cold);
  }
  bench_history h;
  const double duration = c->complete * unit;
  bench_rig_run(&b, exact_steps ? bench_rig_exact(duration) : bench_rig_default(duration), &h);
  const char *how = wall_share > 0.0 ? ", half of it a wall" : "";
  bench_rig_judge(bench_rig_time_to(&h, 0.7) / unit, c->at_03, limit[0], "Ste %.2f Bi %.1f%s, %zu cells: to 0.3 R", c->stefan,
                  c->biot, how, cells);
  bench_rig_judge(bench_rig_time_to(&h, 0.5) / unit, c->at_05, limit[0], "Ste %.2f Bi %.1f%s, %zu cells: to 0.5 R", c->stefan,
                  c->biot, how, cells);
  bench_rig_judge(h.complete / unit, c->complete, limit[1], "Ste %.2f Bi %.1f%s, %zu cells: complete", c->stefan, c->biot, how,
                  cells);
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
}

static const size_t radius_cells[] = {20, 40, 80};
static const double radius_limit[][2] = {{1.0, 0.3}, {0.5, 0.1}, {0.2, 0.05}}; /* percent: front, complete */

START_TEST(convective_wall_freezes_on_time)
{
  bench_rig_title("planar, convective wall (massless), one-phase");
  for (size_t i = 0; i < sizeof convective_wall / sizeof *convective_wall; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 3); level++)
      march_convective(&convective_wall[i], radius_cells[level], 0.0, true, radius_limit[level]);
  bench_rig_verdict();
}
END_TEST

START_TEST(half_the_resistance_in_a_thin_wall_changes_nothing)
{
  bench_rig_title("planar, film and thin wall in series with the same total");
  for (size_t i = 0; i < 3; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 2); level++)
      march_convective(&convective_wall[i], radius_cells[level], 0.5, true, radius_limit[level]);
  bench_rig_verdict();
}
END_TEST

START_TEST(convective_wall_at_default_steps)
{
  bench_rig_title("planar, convective wall, default steps (limits + 0.25 %%)");
  for (size_t i = 0; i < sizeof convective_wall / sizeof *convective_wall; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 3); level++) {
      const double limit[2] = {radius_limit[level][0] + 0.25, radius_limit[level][1] + 0.25};
      march_convective(&convective_wall[i], radius_cells[level], 0.0, false, limit);
    }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("planar freezing");
  TCase *fixed = tcase_create("fixed wall"), *convective = tcase_create("convective wall");
  tcase_add_loop_test(fixed, front_follows_the_exact_solution, 0, 4);
  tcase_add_test(fixed, front_follows_at_default_steps);
  tcase_add_test(convective, convective_wall_freezes_on_time);
  tcase_add_test(convective, half_the_resistance_in_a_thin_wall_changes_nothing);
  tcase_add_test(convective, convective_wall_at_default_steps);
  tcase_set_timeout(fixed, 600);
  suite_add_tcase(suite, fixed);
  tcase_set_timeout(convective, 600);
  suite_add_tcase(suite, convective);
  return bench_rig_run_suite(suite);
}
