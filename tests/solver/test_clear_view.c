/* Looking straight through blocks whose extinction is given, against sums by hand. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "geometry/shape.h"
#include "solver/clear_view.h"
#include "solver/front_gas.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

typedef struct {
  grid *g;
  shape *all;
  mesh *m;
  double *extinction;
} block;

/* A block that fills its grid; extinction 1/m by cell. */
static void block_create(block *b, grid_kind kind, const size_t num[3], const double *const edges[3], const bool mirror[6], const double *extinction)
{
  message msg = {""};
  const double low[3] = {-1.0, -1.0, -1.0}, high[3] = {1.0, 1.0, 1.0};
  *b = (block){0};
  ck_assert_msg(grid_create(&b->g, kind, num, edges, mirror, &msg) == STATUS_OK, "%s", msg.text);
  if (kind == GRID_RZ)
    ck_assert_msg(shape_cylinder(&b->all, 10.0, -1.0, 10.0, &msg) == STATUS_OK, "%s", msg.text);
  else
    ck_assert_msg(shape_box(&b->all, low, high, &msg) == STATUS_OK, "%s", msg.text);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = b->all};
  ck_assert_msg(mesh_create(&b->m, b->g, &layer, 1, 0, &msg) == STATUS_OK, "%s", msg.text);
  b->extinction = calloc(b->m->num_nodes, sizeof *b->extinction);
  for (size_t n = 0; n < b->m->num_nodes; n++)
    b->extinction[n] = extinction[b->m->cell[n]];
}

static void block_destroy(block *b)
{
  free(b->extinction);
  mesh_destroy(&b->m);
  shape_destroy(&b->all);
  grid_destroy(&b->g);
}

/* Rings of 20 and 30 mm, layers of 10, 50 and 20 mm. The middle, 40 mm up, lies in the second layer. */
START_TEST(a_turned_block_is_seen_across_and_down)
{
  const size_t num[3] = {2, 1, 3};
  const double r[] = {0.0, 0.02, 0.05}, z[] = {0.0, 0.01, 0.06, 0.08};
  const double *const edges[3] = {r, NULL, z};
  const bool mirror[6] = {false};
  const double extinction[] = {7.0, 0.3, 11.0, 0.7, NAN, 5.0}; /* the top of the core is not ice */
  double depth[3], length[3];
  block b;
  block_create(&b, GRID_RZ, num, edges, mirror, extinction);
  clear_view_find(depth, length, b.m, 0, b.extinction);
  assert_close(depth[0], 2.0 * (11.0 * 0.02 + 0.7 * 0.03), 1e-6);
  assert_close(length[0], 0.1, 1e-6);
  ck_assert(isnan(depth[1]) && isnan(length[1]));
  assert_close(depth[2], 7.0 * 0.01 + 11.0 * 0.05, 1e-6);
  assert_close(length[2], 0.06, 1e-6);
  block_destroy(&b);
}
END_TEST

/* Half a block, x = 0 being the mirror: along x twice what is there; along y and z at the mirror. */
START_TEST(a_mirror_is_the_middle)
{
  const size_t num[3] = {2, 3, 1};
  const double x[] = {0.0, 0.01, 0.04}, y[] = {0.0, 0.02, 0.03, 0.06}, z[] = {0.0, 0.05};
  const double *const edges[3] = {x, y, z};
  const bool mirror[6] = {true, false, false, false, false, false};
  const double extinction[] = {3.0, 0.5, 13.0, 2.0, 6.0, 1.5}; /* the middle, y = 30 mm, opens the third row */
  double depth[3], length[3];
  block b;
  block_create(&b, GRID_XYZ, num, edges, mirror, extinction);
  clear_view_find(depth, length, b.m, 0, b.extinction);
  assert_close(depth[0], 2.0 * (6.0 * 0.01 + 1.5 * 0.03), 1e-6);
  assert_close(depth[1], 3.0 * 0.02 + 13.0 * 0.01 + 6.0 * 0.03, 1e-6);
  assert_close(depth[2], 6.0 * 0.05, 1e-6);
  assert_close(length[0], 0.08, 1e-6);
  block_destroy(&b);
}
END_TEST

/* 2.7 % of gas in bubbles of 0.2 mm, 100 mm deep: b = 1.5 phi / d = 202.5 1/m (geometric optics), optical depth 20.25; 0.75 x 0.26 of it sends
 * back 0.798 of the light (Mullen & Warren 1988, J. Geophys. Res. 93:8403, from memory). */
START_TEST(white_ice_sends_light_back)
{
  const size_t num[3] = {1, 1, 1};
  const double x[] = {0.0, 0.1}, *const edges[3] = {x, x, x};
  const bool mirror[6] = {false};
  const double extinction[] = {1.5 * 0.027 / 0.2e-3};
  double depth[3], length[3];
  block b;
  block_create(&b, GRID_XYZ, num, edges, mirror, extinction);
  clear_view_find(depth, length, b.m, 0, b.extinction);
  for (int axis = 0; axis < 3; axis++) {
    assert_close(depth[axis], 20.25, 1e-6);
    assert_close(front_gas_reflectance(depth[axis] / length[axis], length[axis]), 0.798, 0.001);
  }
  block_destroy(&b);
}
END_TEST

START_TEST(where_there_is_no_ice_nothing_is_told)
{
  const size_t num[3] = {1, 1, 1};
  const double x[] = {0.0, 0.1}, *const edges[3] = {x, x, x};
  const bool mirror[6] = {false};
  const double extinction[] = {NAN};
  double depth[3], length[3];
  block b;
  block_create(&b, GRID_XYZ, num, edges, mirror, extinction);
  clear_view_find(depth, length, b.m, 0, b.extinction);
  for (int axis = 0; axis < 3; axis++)
    ck_assert(isnan(depth[axis]) && isnan(length[axis]));
  block_destroy(&b);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clear_view");
  TCase *all = tcase_create("all");
  tcase_add_test(all, a_turned_block_is_seen_across_and_down);
  tcase_add_test(all, a_mirror_is_the_middle);
  tcase_add_test(all, white_ice_sends_light_back);
  tcase_add_test(all, where_there_is_no_ice_nothing_is_told);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
