/* Grids: exact ring volumes and areas (closed forms), finding cells, stretched axes, refusals. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/grid.h"

static const double pi = 3.14159265358979323846;

START_TEST(rings_have_exact_volumes_and_areas)
{
  const double r[] = {0.01, 0.013, 0.02}, z[] = {-0.1, 0.03, 0.05};
  const double *edges[3] = {r, NULL, z};
  grid *g = NULL;
  ck_assert_int_eq(grid_create(&g, GRID_RZ, (size_t[3]){2, 1, 2}, edges, NULL, NULL), STATUS_OK);
  ck_assert_double_eq_tol(grid_cell_volume(g, 1, 0, 0), pi * (0.02 * 0.02 - 0.013 * 0.013) * 0.13, 1e-18);
  ck_assert_double_eq_tol(grid_face_area(g, 0, 1, 0, 0, 1), 2 * pi * 0.013 * 0.02, 1e-16);
  ck_assert_double_eq_tol(grid_face_area(g, 2, 0, 1, 0, 1), pi * (0.02 * 0.02 - 0.013 * 0.013), 1e-16);
  double c[3];
  grid_cell_centre(g, 0, 0, 0, c); /* centroid of a ring: 2/3 (r1^3 - r0^3) / (r1^2 - r0^2) */
  ck_assert_double_eq_tol(c[0], 2.0 / 3 * (pow(0.013, 3) - pow(0.01, 3)) / (0.013 * 0.013 - 0.01 * 0.01), 1e-15);
  ck_assert_double_eq_tol(grid_smallest_spacing(g), 0.003, 1e-15);
  grid_destroy(&g);
  ck_assert_ptr_null(g);
}
END_TEST

START_TEST(a_point_is_found_in_the_cell_that_holds_it)
{
  const double x[] = {0, 1, 3, 7}, y[] = {-1, 0, 2}, z[] = {5, 6, 8};
  const double *edges[3] = {x, y, z};
  grid *g = NULL;
  ck_assert_int_eq(grid_create(&g, GRID_XYZ, (size_t[3]){3, 2, 2}, edges, NULL, NULL), STATUS_OK);
  size_t cell, ijk[3];
  ck_assert(grid_find(g, (double[3]){3.5, 0.1, 5.9}, &cell));
  ck_assert_uint_eq(cell, grid_cell(g, 2, 1, 0));
  grid_cell_indices(g, cell, ijk);
  ck_assert_uint_eq(ijk[0], 2);
  ck_assert_uint_eq(ijk[1], 1);
  ck_assert_uint_eq(ijk[2], 0);
  ck_assert(grid_find(g, (double[3]){7, 2, 8}, &cell));
  ck_assert_uint_eq(cell, 11);
  ck_assert(!grid_find(g, (double[3]){7.1, 0, 6}, &cell));
  ck_assert(!grid_find(g, (double[3]){NAN, 0, 6}, &cell));
  grid_destroy(&g);
}
END_TEST

static const struct {
  double r0, r1, z1;
  const char *says;
} bad_axes[] = {{-0.01, 1, 1, "radius cannot be below 0"}, {0.5, 0.5, 1, "axis r: edge 1"}, {0, 1, NAN, "axis z: edge 1"}, {0, 1, -1, "axis z: edge 1"}};

START_TEST(bad_axes_are_refused_by_name)
{
  const double r[] = {bad_axes[_i].r0, bad_axes[_i].r1}, z[] = {0, bad_axes[_i].z1};
  const double *edges[3] = {r, NULL, z};
  grid *g = NULL;
  message msg = {""};
  ck_assert_int_eq(grid_create(&g, GRID_RZ, (size_t[3]){1, 1, 1}, edges, NULL, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, bad_axes[_i].says));
  ck_assert_ptr_null(g);
}
END_TEST

START_TEST(stretched_edges_hit_all_stops_and_grow_gently)
{
  const double stops[] = {0.0333, 0.1, 0.10417};
  const grid_axis_request q = {.low = 0, .high = 0.5, .stops = stops, .num_stops = 3, .fine = 0.002, .coarse = 0.02,
                               .fine_low = 0.08, .fine_high = 0.11, .growth = 1.15};
  double *e = NULL;
  size_t n = 0, hit = 0;
  ck_assert_int_eq(grid_axis_build(&q, &e, &n, NULL), STATUS_OK);
  ck_assert_double_eq(e[0], 0);
  ck_assert_double_eq(e[n], 0.5);
  for (size_t i = 0; i < n; i++) {
    ck_assert(e[i + 1] > e[i]);
    ck_assert(e[i + 1] - e[i] <= 0.02 * 1.01);
    if (e[i] >= 0.08 && e[i + 1] <= 0.11) ck_assert(e[i + 1] - e[i] <= 0.002 * 1.000001);
    for (size_t s = 0; s < 3; s++) hit += e[i] == stops[s];
    /* away from stops a cell is at most `growth` times its neighbour */
    if (i > 0 && e[i] > 0.12) ck_assert((e[i + 1] - e[i]) / (e[i] - e[i - 1]) < 1.15 * (1 + 1e-9));
  }
  ck_assert_uint_eq(hit, 3);
  ck_assert(n < 80);
  free(e);
}
END_TEST

START_TEST(bad_axis_requests_are_refused)
{
  const double stop = 2;
  grid_axis_request q = {.low = 0, .high = 1, .fine = 0.1, .coarse = 0.2, .growth = 1.2}, bad[5];
  for (int i = 0; i < 5; i++) bad[i] = q;
  bad[0].fine = 0;
  bad[1].growth = 1;
  bad[2].stops = &stop, bad[2].num_stops = 1;
  bad[3].high = -1;
  bad[4].coarse = 0.05;
  double *e = NULL;
  size_t n;
  message msg = {""};
  for (int i = 0; i < 5; i++) ck_assert_int_eq(grid_axis_build(&bad[i], &e, &n, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_null(e);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("grid");
  TCase *c = tcase_create("grid");
  tcase_add_test(c, rings_have_exact_volumes_and_areas);
  tcase_add_test(c, a_point_is_found_in_the_cell_that_holds_it);
  tcase_add_loop_test(c, bad_axes_are_refused_by_name, 0, 4);
  tcase_add_test(c, stretched_edges_hit_all_stops_and_grow_gently);
  tcase_add_test(c, bad_axis_requests_are_refused);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
