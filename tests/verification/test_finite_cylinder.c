/* A cylinder cold on all faces, and exact bounds that hold for any shape.
 *
 * Complete freezing: computed independently (explicit enthalpy scheme on 32, 64 and 128 cells, extrapolated; the same class of
 * method, relative error about 2e-4, superheated 5e-4), and held from both sides by exact bounds: with Phi the solution of
 * div grad Phi = -1, Phi = 0 on a fixed wall or -dPhi/dn = Bi Phi on a convective one, and Phi0 its largest value,
 *     Phi0/Ste <= Fo <= Phi0 (1/Ste + 1)
 * for one-phase freezing (integrate the heat balance over the time; Hill & Dewynne 1987, Heat Conduction, give bounds of this
 * kind). Phi0 of the finite cylinder: exact eigenfunction series; of slab, cylinder and sphere: Plank's value. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

static const double RADIUS = 0.05; /* m */

typedef struct {
  double aspect;                  /* half height / R                        */
  double stefan, biot, phi;       /* INFINITY: fixed walls                  */
  double half, complete;          /* Fo = alpha_s t/R2 to 50 % and to 100 % */
} finite_cylinder;

static const finite_cylinder cylinders[] = {{1, 0.2, INFINITY, 0, 0.104592, 1.163718}, {1, 0.2, 2, 0, 0.549190, 2.203388},
                                            {2, 0.2, INFINITY, 0, 0.145937, 1.400225}, {2, 0.2, 2, 0, 0.676474, 2.712449},
                                            {1, 0.12275449, INFINITY, 0.5, 0.192252, 1.897025},
                                            {1, 0.12275449, 2, 0.5, 1.059778, 3.647526}};

static int build(bench_rig *b, double aspect, size_t cells, const constant_phases *p, double initial, double biot, double cold)
{
  const size_t num[3] = {cells, 1, (size_t)lround(aspect * (double)cells)};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {RADIUS, 1.0, aspect * RADIUS};
  const bool mirror[6] = {false, false, true, true, true, false};
  bench_rig_init(b);
  bench_rig_grid(b, GRID_RZ, num, low, high, mirror);
  const int water = bench_rig_water(b, bench_rig_everywhere(b), p, initial);
  if (isinf(biot))
    bench_rig_rule(b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, cold);
  else
    bench_rig_rule(b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, biot * p->solid_conductivity / RADIUS, cold);
  return water;
}

static const size_t radius_cells[] = {20, 40, 80};
static const double complete_limit[] = {0.6, 0.25, 0.1}; /* percent; superheated + 0.2 */

START_TEST(finite_cylinder_freezes_on_time)
{
  const bool exact_steps = _i == 0;
  bench_rig_title("finite cylinder, all faces cold%s", exact_steps ? "" : ", default steps (limits + 0.25 %)");
  for (size_t i = 0; i < sizeof cylinders / sizeof *cylinders; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : i == 0 || i == 5 ? 3 : 2); level++) {
      const finite_cylinder *c = &cylinders[i];
      const constant_phases p = c->phi > 0.0 ? bench_rig_set_w(0.0) : bench_rig_set_ste(c->stefan);
      const double unit = RADIUS * RADIUS * p.density * p.solid_specific_heat / p.solid_conductivity;
      const double limit = complete_limit[level] + (c->phi > 0.0 ? 0.2 : 0.0) + (exact_steps ? 0.0 : 0.25);
      bench_rig b;
      bench_history h;
      (void)build(&b, c->aspect, radius_cells[level], &p, c->phi * 20.0, c->biot, -20.0);
      bench_rig_run(&b, exact_steps ? bench_rig_exact(c->complete * unit) : bench_rig_default(c->complete * unit), &h);
      bench_rig_judge(h.complete / unit, c->complete, limit, "H/R %g, Ste %.3g Bi %g phi %g, %zu cells: complete", c->aspect,
                      c->stefan, c->biot, c->phi, radius_cells[level]);
      bench_rig_judge_ledger(&h);
      bench_rig_forget(&h);
      bench_rig_release(&b);
    }
  bench_rig_verdict();
}
END_TEST

/* At Ste = 0.02 the two bounds are 2 % apart; 0.3 % more is allowed for the grid. */
START_TEST(slow_freezing_lies_between_the_exact_bounds)
{
  const struct { double aspect, biot, phi0; } cases[] = {{1, INFINITY, 0.20066361034487},
                                                         {1, 2, 0.383318688566},
                                                         {2, INFINITY, 0.24548584048846},
                                                         {2, 2, 0.476283051351}};
  const double stefan = 0.02;
  const constant_phases p = bench_rig_set_ste(stefan);
  const double unit = RADIUS * RADIUS * p.density * p.solid_specific_heat / p.solid_conductivity;
  bench_rig_title("finite cylinder at Ste 0.02 between the exact bounds Phi0 and 1.02 Phi0, 40 cells");
  for (size_t i = 0; i < 4; i++) {
    bench_rig b;
    bench_history h;
    (void)build(&b, cases[i].aspect, 40, &p, 0.0, cases[i].biot, -20.0);
    bench_rig_run(&b, bench_rig_default(cases[i].phi0 / stefan * unit), &h);
    const double ratio = stefan * h.complete / unit / cases[i].phi0;
    bench_rig_judge_that(ratio >= 0.997 && ratio <= 1.023, "H/R %g, Bi %g: Ste Fo / Phi0 = %.5f", cases[i].aspect, cases[i].biot, ratio);
    bench_rig_judge_ledger(&h);
    bench_rig_forget(&h);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("finite cylinder");
  TCase *tcase = tcase_create("finite cylinder");
  tcase_add_loop_test(tcase, finite_cylinder_freezes_on_time, 0, 2);
  tcase_add_test(tcase, slow_freezing_lies_between_the_exact_bounds);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
