/* Where white ice lies, in blocks whose extinction is given. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "geometry/shape.h"
#include "solver/clear_white.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

/* A block of 1 m that fills its grid, white where z lies between two heights and x beyond a place. */
static void find(clear_white *found, grid_kind kind, bool mirrored, double from, double to, double beyond)
{
  enum { NUM = 20 };
  double e[NUM + 1];
  const size_t num[3] = {NUM, kind == GRID_RZ ? 1 : NUM, NUM};
  const bool mirror[6] = {mirrored};
  const double low[3] = {-1.0, -1.0, -1.0}, high[3] = {2.0, 2.0, 2.0};
  grid *g = NULL;
  shape *all = NULL;
  mesh *m = NULL;
  message msg = {""};
  for (int i = 0; i <= NUM; i++)
    e[i] = (double)i / NUM;
  const double *const edges[3] = {e, kind == GRID_RZ ? NULL : e, e};
  ck_assert_msg(grid_create(&g, kind, num, edges, mirror, &msg) == STATUS_OK, "%s", msg.text);
  if (kind == GRID_RZ)
    ck_assert_msg(shape_cylinder(&all, 10.0, -1.0, 10.0, &msg) == STATUS_OK, "%s", msg.text);
  else
    ck_assert_msg(shape_box(&all, low, high, &msg) == STATUS_OK, "%s", msg.text);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = all};
  ck_assert_msg(mesh_create(&m, g, &layer, 1, 0, &msg) == STATUS_OK, "%s", msg.text);
  double *extinction = malloc(m->num_nodes * sizeof *extinction);
  for (size_t n = 0; n < m->num_nodes; n++) {
    const double *at = m->centroid[n];
    extinction[n] = at[2] > from && at[2] < to && at[0] > beyond ? 50.0 : at[2] > 0.9 ? NAN : 20.0;
  }
  ck_assert_msg(clear_white_find(found, m, 0, extinction, 30.0, &msg) == STATUS_OK, "%s", msg.text);
  free(extinction);
  mesh_destroy(&m);
  shape_destroy(&all);
  grid_destroy(&g);
}

/* White from x = 0.6, z = 0.2 to 0.6: a twentieth less at either end. */
START_TEST(a_white_corner_is_found)
{
  clear_white w;
  find(&w, GRID_XYZ, false, 0.2, 0.6, 0.6);
  assert_close(w.middle[0], 0.8, 1e-9);
  assert_close(w.low[0], 0.62, 1e-9);
  assert_close(w.high[0], 0.98, 1e-9);
  assert_close(w.middle[1], 0.5, 1e-9);
  assert_close(w.low[2], 0.22, 1e-9);
  assert_close(w.high[2], 0.58, 1e-9);
}
END_TEST

/* The mirror at x = 0: white to 1 m on both sides; of 2 m a twentieth at either end is 0.1 m. */
START_TEST(a_mirrored_core_lies_on_both_sides)
{
  clear_white w;
  find(&w, GRID_XYZ, true, 0.2, 0.6, -1.0);
  ck_assert_double_eq(w.middle[0], 0.0);
  assert_close(w.low[0], -0.9, 1e-9);
  assert_close(w.high[0], 0.9, 1e-9);
}
END_TEST

/* A turned block: volume goes with r^2, so a twentieth of it lies within sqrt(0.05) of the radius; bilinear within a ring of 0.05. */
START_TEST(a_ring_counts_by_its_volume)
{
  clear_white w;
  find(&w, GRID_RZ, false, 0.2, 0.6, -1.0);
  ck_assert_double_eq_tol(w.low[0], sqrt(0.05), 0.005);
  ck_assert_double_eq_tol(w.high[0], sqrt(0.95), 0.005);
  ck_assert_double_eq(w.middle[1], 0.0);
}
END_TEST

START_TEST(without_white_nothing_is_told)
{
  clear_white w;
  find(&w, GRID_RZ, false, 2.0, 3.0, -1.0);
  for (int axis = 0; axis < 3; axis++)
    ck_assert(isnan(w.middle[axis]) && isnan(w.low[axis]) && isnan(w.high[axis]));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clear_white");
  TCase *all = tcase_create("all");
  tcase_add_test(all, a_white_corner_is_found);
  tcase_add_test(all, a_mirrored_core_lies_on_both_sides);
  tcase_add_test(all, a_ring_counts_by_its_volume);
  tcase_add_test(all, without_white_nothing_is_told);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
