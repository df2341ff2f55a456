/* Slab, cylinder and sphere freezing inward to the last drop: fixed wall, convective wall, with and without superheat.
 *
 * References computed independently (front-fixing Landau transform, Chebyshev collocation in space, implicit Runge-Kutta with
 * the front as independent variable; relative error below 2e-6). The problems are those of Riley, Smith & Poots 1974 (Int. J.
 * Heat Mass Transfer 17:1507) and McCue, Wu & Hill 2008 (Proc. R. Soc. A 464:2055); the slab with a fixed wall is Neumann's
 * exact solution, and every one-phase time lies between Plank's and (1 + Ste) times it (Hill & Dewynne 1987).
 *
 * Slab and cylinder fit the grid. The sphere, in (r, z), fits no grid line: its centre lies off every node and edge. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

typedef enum { SLAB, CYLINDER, SPHERE } body_kind;
static const char *const kind_name[] = {"slab", "cylinder", "sphere"};
static const double RADIUS = 0.05; /* m, or half thickness */

typedef struct {
  body_kind kind;
  double initial, cold, film;   /* degC, degC, W/m2K (INFINITY: fixed wall); property set W */
  double at_075, at_05, complete; /* s */
} two_phase_case;

static const two_phase_case two_phase[] = {
  {SLAB, 10, -20, INFINITY, 738.50165, 2944.99387, 10619.49822},
  {SLAB, 20, -10, INFINITY, 1846.24467, 6871.47605, 21696.66941},
  {SLAB, 10, -20, 100, 3543.09142, 8126.55500, 19976.89278},
  {SLAB, 20, -10, 50, 17284.40258, 29790.91707, 61254.01526},
  {SLAB, 4, -10, 500, 2269.77465, 7079.70683, 23376.21248},
  {SLAB, 0, -20, 100, 2734.83953, 6731.68471, 18453.13281},
  {CYLINDER, 10, -20, INFINITY, 658.74642, 2267.47379, 5439.45463},
  {CYLINDER, 20, -10, INFINITY, 1536.70579, 4802.85144, 10805.76853},
  {CYLINDER, 10, -20, 100, 2947.07359, 5906.76311, 10257.36377},
  {CYLINDER, 20, -10, 50, 12130.19790, 20302.78311, 30812.46379},
  {CYLINDER, 4, -10, 500, 1992.27506, 5445.06066, 11876.00501},
  {CYLINDER, 0, -20, 100, 2423.57366, 5242.12195, 9581.53923},
  {SPHERE, 10, -20, INFINITY, 593.57971, 1838.99918, 3666.18504},
  {SPHERE, 20, -10, INFINITY, 1324.57364, 3759.61821, 7173.39797},
  {SPHERE, 10, -20, 100, 2533.92725, 4637.97065, 6936.95325},
  {SPHERE, 20, -10, 50, 9822.78057, 15503.52501, 20618.78184},
  {SPHERE, 4, -10, 500, 1772.56952, 4400.74668, 7975.92121},
  {SPHERE, 0, -20, 100, 2162.54368, 4221.10506, 6518.04158}};

typedef struct {
  body_kind kind;
  double stefan, biot; /* INFINITY: fixed wall */
  double complete;     /* Fo = alpha t/R2 */
} one_phase_case;

static const one_phase_case one_phase[] = {
  {SLAB, 0.1, INFINITY, 5.164525219},    {SLAB, 0.5, 5, 1.609008272},      {SLAB, 2.0, 1, 1.023200252},
  {CYLINDER, 0.1, INFINITY, 2.66824432}, {CYLINDER, 0.2, 1, 4.11203087},   {CYLINDER, 0.5, 5, 0.89356733},
  {CYLINDER, 2.0, 10, 0.287564358},      {SPHERE, 0.1, INFINITY, 1.80777941}, {SPHERE, 0.2, 1, 2.82137331},
  {SPHERE, 0.5, 5, 0.62911038},          {SPHERE, 2.0, 10, 0.213901474}};

/* Fills the rig of one body; returns its water part. The sphere's spacing is R/(cells - 0.3), a little coarser than named. */
static int build(bench_rig *b, body_kind kind, size_t cells, const constant_phases *p, double initial)
{
  bench_rig_init(b);
  if (kind == SPHERE) {
    const double h = RADIUS / ((double)cells - 0.3);
    const size_t num[3] = {cells + 1, 1, 2 * cells + 2};
    const double low[3] = {0.0, 0.0, -h * ((double)cells + 0.37)};
    const double high[3] = {h * (double)num[0], 1.0, low[2] + h * (double)num[2]};
    const double centre[3] = {0.0, 0.0, 0.0};
    shape *ball = NULL;
    bench_rig_grid(b, GRID_RZ, num, low, high, NULL);
    ck_assert_int_eq(shape_sphere(&ball, centre, RADIUS, NULL), STATUS_OK);
    return bench_rig_water(b, bench_rig_keep(b, ball), p, initial);
  }
  const size_t num[3] = {cells, 1, 1};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {RADIUS, 1.0, 1.0};
  const bool mirror[6] = {false, false, true, true, true, true};
  const bool slab[6] = {true, false, true, true, true, true};
  bench_rig_grid(b, kind == SLAB ? GRID_XYZ : GRID_RZ, num, low, high, kind == SLAB ? slab : mirror);
  return bench_rig_water(b, bench_rig_everywhere(b), p, initial);
}

static double share_inside(body_kind kind, double radius)
{
  return pow(radius, kind == SLAB ? 1.0 : kind == CYLINDER ? 2.0 : 3.0);
}

typedef struct { double front, complete; } limits; /* percent */
static limits limits_of(body_kind kind, size_t level)
{
  static const limits fitting[] = {{1.0, 0.3}, {0.5, 0.1}, {0.2, 0.05}}, cut[] = {{1.0, 0.3}, {0.5, 0.15}};
  return kind == SPHERE ? cut[level] : fitting[level];
}
static const size_t radius_cells[] = {20, 40, 80};
static size_t num_levels(body_kind kind)
{
  return bench_rig_brief() ? 1 : kind == SPHERE ? 2 : 3;
}

static void boundary(bench_rig *b, int water, double film, double cold)
{
  if (isinf(film))
    bench_rig_rule(b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, cold);
  else
    bench_rig_rule(b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, film, cold);
}

static void march_two_phase(const two_phase_case *c, size_t cells, bool exact_steps, limits limit)
{
  const constant_phases p = bench_rig_set_w(0.0);
  bench_rig b;
  bench_history h;
  const int water = build(&b, c->kind, cells, &p, c->initial);
  boundary(&b, water, c->film, c->cold);
  bench_rig_run(&b, exact_steps ? bench_rig_exact(c->complete) : bench_rig_default(c->complete), &h);
  bench_rig_judge(bench_rig_time_to(&h, share_inside(c->kind, 0.75)), c->at_075, limit.front,
                  "%s %+g/%g degC, h %g, %zu cells: to 0.75 R", kind_name[c->kind], c->initial, c->cold, c->film, cells);
  bench_rig_judge(bench_rig_time_to(&h, share_inside(c->kind, 0.5)), c->at_05, limit.front,
                  "%s %+g/%g degC, h %g, %zu cells: to 0.50 R", kind_name[c->kind], c->initial, c->cold, c->film, cells);
  bench_rig_judge(h.complete, c->complete, limit.complete, "%s %+g/%g degC, h %g, %zu cells: complete", kind_name[c->kind],
                  c->initial, c->cold, c->film, cells);
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
}

static void march_one_phase(const one_phase_case *c, size_t cells, bool exact_steps, limits limit)
{
  const constant_phases p = bench_rig_set_ste(c->stefan);
  const double unit = RADIUS * RADIUS * p.density * p.solid_specific_heat / p.solid_conductivity; /* s per unit of Fo */
  bench_rig b;
  bench_history h;
  const int water = build(&b, c->kind, cells, &p, 0.0);
  boundary(&b, water, c->biot * p.solid_conductivity / RADIUS, -20.0);
  const double duration = c->complete * unit;
  bench_rig_run(&b, exact_steps ? bench_rig_exact(duration) : bench_rig_default(duration), &h);
  bench_rig_judge(h.complete / unit, c->complete, limit.complete, "%s Ste %g Bi %g, %zu cells: complete", kind_name[c->kind],
                  c->stefan, c->biot, cells);
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
}

enum { NUM_TWO_PHASE = sizeof two_phase / sizeof *two_phase, NUM_ONE_PHASE = sizeof one_phase / sizeof *one_phase };

START_TEST(two_phase_body_freezes_on_time)
{
  bench_rig_title("inward, two-phase: %s", kind_name[_i]);
  for (size_t i = 0; i < NUM_TWO_PHASE; i++)
    if (two_phase[i].kind == (body_kind)_i)
      for (size_t level = 0; level < num_levels(two_phase[i].kind); level++)
        march_two_phase(&two_phase[i], radius_cells[level], true, limits_of(two_phase[i].kind, level));
  bench_rig_verdict();
}
END_TEST

START_TEST(one_phase_body_freezes_on_time)
{
  bench_rig_title("inward, one-phase: %s", kind_name[_i]);
  for (size_t i = 0; i < NUM_ONE_PHASE; i++)
    if (one_phase[i].kind == (body_kind)_i)
      for (size_t level = 0; level < num_levels(one_phase[i].kind); level++)
        march_one_phase(&one_phase[i], radius_cells[level], true, limits_of(one_phase[i].kind, level));
  bench_rig_verdict();
}
END_TEST

START_TEST(bodies_freeze_on_time_at_default_steps)
{
  bench_rig_title("inward, default steps (limits + 0.25 %%): %s", kind_name[_i]);
  for (size_t i = 0; i < NUM_TWO_PHASE; i++)
    if (two_phase[i].kind == (body_kind)_i)
      for (size_t level = 0; level < num_levels(two_phase[i].kind); level++) {
        limits limit = limits_of(two_phase[i].kind, level);
        limit.front += 0.25;
        limit.complete += 0.25;
        march_two_phase(&two_phase[i], radius_cells[level], false, limit);
      }
  bench_rig_verdict();
}
END_TEST

/* The independent integrator marches the same right-hand side: it must meet the same references. */
START_TEST(second_integrator_agrees)
{
  const int cases[] = {2, 8, 10}; /* slab and cylinder with a film, cylinder with a strong film */
  bench_rig_title("inward, BDF integrator, 40 cells");
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    const two_phase_case *c = &two_phase[cases[i]];
    const constant_phases p = bench_rig_set_w(0.0);
    bench_rig b;
    bench_history h;
    const int water = build(&b, c->kind, 40, &p, c->initial);
    boundary(&b, water, c->film, c->cold);
    b.r.control.integrator = INTEGRATOR_BDF;
    const bench_march how = {.tolerance = 1e-5, .longest_step = c->complete / 2000.0, .limit = 2.0 * c->complete};
    bench_rig_run(&b, how, &h);
    bench_rig_judge(bench_rig_time_to(&h, share_inside(c->kind, 0.5)), c->at_05, 0.5, "%s %+g/%g degC, h %g: to 0.50 R",
                    kind_name[c->kind], c->initial, c->cold, c->film);
    bench_rig_judge(h.complete, c->complete, 0.1, "%s %+g/%g degC, h %g: complete", kind_name[c->kind], c->initial, c->cold, c->film);
    bench_rig_judge_ledger(&h);
    bench_rig_forget(&h);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* The effect of the steps alone must be below a fifth of the limits at 80 cells (0.2 and 0.05 %). */
START_TEST(exact_steps_are_fine_enough)
{
  const two_phase_case *c = &two_phase[6];
  const constant_phases p = bench_rig_set_w(0.0);
  double complete[2], half[2];
  bench_rig_title("effect of the step on the exact checks");
  for (int fine = 0; fine < 2; fine++) {
    bench_rig b;
    bench_history h;
    const int water = build(&b, c->kind, 80, &p, c->initial);
    boundary(&b, water, c->film, c->cold);
    bench_march how = bench_rig_exact(c->complete);
    if (fine) {
      how.tolerance /= 4.0;
      how.longest_step /= 2.0;
    }
    bench_rig_run(&b, how, &h);
    complete[fine] = h.complete;
    half[fine] = bench_rig_time_to(&h, share_inside(c->kind, 0.5));
    bench_rig_forget(&h);
    bench_rig_release(&b);
  }
  bench_rig_judge(complete[0], complete[1], 0.01, "complete, exact steps against half as long");
  bench_rig_judge(half[0], half[1], 0.04, "to 0.5 R, exact steps against half as long");
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("inward freezing");
  TCase *tcase = tcase_create("inward");
  if (!bench_rig_brief()) /* at default steps below */
    tcase_add_loop_test(tcase, two_phase_body_freezes_on_time, 0, 3);
  tcase_add_loop_test(tcase, one_phase_body_freezes_on_time, 0, 3);
  tcase_add_loop_test(tcase, bodies_freeze_on_time_at_default_steps, 0, 3);
  tcase_add_test(tcase, second_integrator_agrees);
  if (!bench_rig_brief())
    tcase_add_test(tcase, exact_steps_are_fine_enough);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
