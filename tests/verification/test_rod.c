/* A cold rod in a litre of water, and the same bits for any number of threads.
 *
 * Rod surface at -15 degC, 25 mm by 250 mm, one litre of water at 20 degC around it, room 20 degC with a film of 9 W/m2K: solid
 * in 1.6 to 2.4 h (common practice, no source). */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "bench_rig.h"
#include "solver/heat_flux.h"
#include "solver/run.h"

static const double PI = 3.14159265358979323846;

/* The water stands 250 mm high around the rod, in a vessel too thin to matter, meshed at its frozen size. */
static void build_rod(bench_rig *b, double cell)
{
  const double rod = 0.0125, height = 0.250, litre = 1.0e-3;
  material water;
  message msg = {""};
  ck_assert_msg(material_water(&water, ICE_ANDERSSON_INABA, 0.0, &msg) == STATUS_OK, "%s", msg.text);
  const double mass = 0.998, frozen = mass / water.density; /* kg of a litre at 20 degC, m3 as ice */
  ck_assert_double_gt(frozen, litre);
  const double radius = sqrt(frozen / (PI * height) + rod * rod);
  const size_t num[3] = {(size_t)ceil(radius / cell), 1, (size_t)lround(height / cell)};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {radius, 1.0, height};
  shape *cylinder = NULL;
  bench_rig_init(b);
  bench_rig_grid(b, GRID_RZ, num, low, high, NULL);
  const int body = bench_rig_part(b, PART_WATER, bench_rig_everywhere(b), &water, 20.0);
  b->bodies[0].flow.kind = MOTION_STILL;
  b->bodies[0].mass = mass;
  b->bodies[0].open_top = true;
  b->bodies[0].surface_level = height;
  b->r.room.temperature = bench_rig_constant(b, 20.0);
  b->r.room.film = 9.0;
  bench_rig_rule(b, SURFACE_FILM, body, MESH_VOID, FACES_ALL, 9.0, 20.0);
  ck_assert_int_eq(shape_cylinder(&cylinder, rod, -1.0, 1.0, NULL), STATUS_OK);
  (void)bench_rig_held(b, bench_rig_keep(b, cylinder), -15.0, 0.0);
}

START_TEST(litre_round_a_cold_rod_is_solid_in_about_two_hours)
{
  bench_rig_title("one litre round a rod at -15 degC (common practice, no source)");
  for (int fine = 0; fine < 2; fine++) {
    const double cell = fine ? 0.00125 : 0.0025;
    bench_rig b;
    bench_history h;
    build_rod(&b, cell);
    bench_rig_run(&b, bench_rig_default(7200.0), &h);
    const double hours = h.complete / 3600.0;
    bench_rig_judge_that(hours >= 1.6 && hours <= 2.4, "%.2f mm cells: solid in %.3f h (1.6 .. 2.4 h)", 1000.0 * cell, hours);
    bench_rig_judge_ledger(&h);
    bench_rig_forget(&h);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

START_TEST(any_number_of_threads_gives_the_same_bits)
{
  const int threads[] = {1, 2, 4};
  bench_history h[3];
  bench_rig_title("same bits for 1, 2 and 4 threads");
  for (int i = 0; i < 3; i++) {
    bench_rig b;
    build_rod(&b, 0.00022); /* enough cells that the kernels take their threaded way */
    ck_assert_uint_gt(grid_num_cells(b.r.mesh_grid), HEAT_FLUX_THREADED);
    b.r.control.threads = threads[i];
    bench_march how = bench_rig_default(7200.0);
    how.limit = 3.0;
    bench_rig_run(&b, how, &h[i]);
    bench_rig_release(&b);
  }
  ck_assert_uint_gt(h[0].num, 3);
  for (int i = 1; i < 3; i++) {
    const bool same = h[i].num == h[0].num && memcmp(h[i].time, h[0].time, h[0].num * sizeof(double)) == 0 &&
                      memcmp(h[i].liquid, h[0].liquid, h[0].num * sizeof(double)) == 0 &&
                      memcmp(&h[i].ledger_residual, &h[0].ledger_residual, sizeof(double)) == 0;
    bench_rig_judge_that(same, "%d threads against 1: %zu steps, liquid share %.17g and %.17g", threads[i], h[i].num,
                         h[i].liquid[h[i].num - 1], h[0].liquid[h[0].num - 1]);
  }
  for (int i = 0; i < 3; i++)
    bench_rig_forget(&h[i]);
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("rod");
  TCase *tcase = tcase_create("rod");
  tcase_add_test(tcase, litre_round_a_cold_rod_is_solid_in_about_two_hours);
  tcase_add_test(tcase, any_number_of_threads_gives_the_same_bits);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
