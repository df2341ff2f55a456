/* Pockets of liquid from freeze times, against histories whose partings and closings are known by hand. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/pockets.h"

typedef struct {
  grid *g;
  shape *all;
  mesh *m;
  adjacency a;
  double *time;
  uint8_t *open;
  int32_t *pocket;
} scene;

static scene scene_create(size_t num_r, double r, size_t num_z, double z)
{
  scene s = {0};
  double *edges[3] = {malloc((num_r + 1) * sizeof(double)), NULL, malloc((num_z + 1) * sizeof(double))};
  for (size_t i = 0; i <= num_r; i++) {
    edges[0][i] = r * (double)i / (double)num_r;
  }
  for (size_t k = 0; k <= num_z; k++) {
    edges[2][k] = z * (double)k / (double)num_z;
  }
  const size_t num[3] = {num_r, 1, num_z};
  const double *const given[3] = {edges[0], NULL, edges[2]};
  const bool mirror[6] = {false};
  message msg = {""};
  ck_assert_msg(grid_create(&s.g, GRID_RZ, num, given, mirror, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(shape_cylinder(&s.all, 10.0, -1.0, 10.0, &msg) == STATUS_OK, "%s", msg.text);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = s.all};
  ck_assert_msg(mesh_create(&s.m, s.g, &layer, 1, 0, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(adjacency_create(&s.a, s.m, &msg) == STATUS_OK, "%s", msg.text);
  s.time = malloc(s.m->num_nodes * sizeof *s.time);
  s.open = calloc(s.m->num_nodes, 1);
  s.pocket = malloc(s.m->num_nodes * sizeof *s.pocket);
  free(edges[0]);
  free(edges[2]);
  return s;
}

static void scene_destroy(scene *s)
{
  free(s->time);
  free(s->open);
  free(s->pocket);
  adjacency_release(&s->a);
  mesh_destroy(&s->m);
  shape_destroy(&s->all);
  grid_destroy(&s->g);
}

static pockets_found find(scene *s, bool with_open)
{
  const pockets_request ask = {.part = 0, .density = 916.7, .start_time = 60.0, .solid_time = s->time,
                               .open = with_open ? s->open : NULL, .least_share = 0.001, .least_nodes = 9};
  pockets_found found;
  message msg = {""};
  ck_assert_msg(pockets_find(&found, s->pocket, s->m, &s->a, &ask, &msg) == STATUS_OK, "%s", msg.text);
  return found;
}

/* A column of 40 equal slices, filled by straight lines between (slice, time) knots. */
static const double slice_mass = 916.7 * 3.14159265358979323846 * 0.05 * 0.05 * 0.01;
static scene column(const double (*knot)[2], size_t num)
{
  scene s = scene_create(1, 0.05, 40, 0.4);
  for (size_t k = 0; k < 40; k++) {
    size_t i = 1;
    while (i + 1 < num && (double)k > knot[i][0]) {
      i++;
    }
    const double share = ((double)k - knot[i - 1][0]) / (knot[i][0] - knot[i - 1][0]);
    s.time[k] = knot[i - 1][1] + share * (knot[i][1] - knot[i - 1][1]);
  }
  memset(s.open, 0, 40);
  pockets_mark_open(s.open, s.m, 0);
  return s;
}

/* The top skins over at 1000 s, the water parts at 2000 s, and the two halves freeze out at 5000 and 4000 s. */
START_TEST(skinned_over_then_parted)
{
  static const double knot[][2] = {{0, 500}, {12, 5000}, {20, 2000}, {28, 4000}, {39, 1000}};
  scene s = column(knot, 5);
  pockets_found found = find(&s, true);
  ck_assert_uint_eq(found.num, 2);
  const pocket *root = &found.pocket[0], *child = &found.pocket[1];
  ck_assert_int_eq(root->parent, -1);
  ck_assert_double_eq(root->last_at, 5000.0);
  ck_assert_double_eq(root->parted_at, 60.0);
  ck_assert_double_eq(root->closed_at, 1000.0);
  ck_assert_double_eq_tol(root->mass, 40 * slice_mass, 1e-9);
  /* liquid after 1000 s: slices 2 (1250 s) to 38 (1272.7 s) */
  ck_assert_double_eq_tol(root->closed_mass, 37 * slice_mass, 1e-9);
  ck_assert(root->trapped);
  ck_assert_int_eq(child->parent, 0);
  ck_assert_double_eq(child->parted_at, 2000.0);
  ck_assert_double_eq(child->last_at, 4000.0);
  ck_assert_double_eq(child->closed_at, 1000.0); /* lost its way out together with its parent */
  /* slices 21 to 35 (2090.9 s) outlive the parting */
  ck_assert_double_eq_tol(child->mass, 15 * slice_mass, 1e-9);
  ck_assert_double_eq_tol(child->closed_mass, 15 * slice_mass, 1e-9);
  ck_assert(child->trapped);
  for (int k = 0; k < 40; k++) {
    ck_assert_int_eq(s.pocket[k], k >= 21 && k <= 35 ? 1 : 0);
  }
  free(found.pocket);
  scene_destroy(&s);
}
END_TEST

/* The upper water stays open to its end; the lower is pinched off at 2000 s, and is the last. */
START_TEST(pinched_off_below_an_open_top)
{
  static const double knot[][2] = {{0, 490}, {12, 5000}, {20, 2000}, {39, 4000}};
  scene s = column(knot, 4);
  pockets_found found = find(&s, true);
  ck_assert_uint_eq(found.num, 2);
  ck_assert_double_eq(found.pocket[0].closed_at, 2000.0);
  /* slices 5 (2369 s) to 19 outlive the parting, slice 4 (1993 s) does not */
  ck_assert_double_eq_tol(found.pocket[0].closed_mass, 15 * slice_mass, 1e-9);
  ck_assert(found.pocket[0].trapped);
  ck_assert_double_nan(found.pocket[1].closed_at);
  ck_assert_double_nan(found.pocket[1].closed_mass);
  ck_assert(!found.pocket[1].trapped);
  ck_assert_double_eq(found.pocket[1].parted_at, 2000.0);
  free(found.pocket);
  scene_destroy(&s);
}
END_TEST

/* Frozen from the bottom up: the last water is at the open top and never closed in. */
START_TEST(freezing_upwards_traps_nothing)
{
  static const double knot[][2] = {{0, 500}, {39, 4000}};
  scene s = column(knot, 2);
  pockets_found found = find(&s, true);
  ck_assert_uint_eq(found.num, 1);
  ck_assert_double_nan(found.pocket[0].closed_at);
  ck_assert(!found.pocket[0].trapped);
  free(found.pocket);
  scene_destroy(&s);
}
END_TEST

START_TEST(a_closed_mould_is_closed_from_the_start)
{
  static const double knot[][2] = {{0, 500}, {39, 4000}};
  scene s = column(knot, 2);
  pockets_found found = find(&s, false);
  ck_assert_double_eq(found.pocket[0].closed_at, 60.0);
  ck_assert_double_eq_tol(found.pocket[0].closed_mass, 40 * slice_mass, 1e-9);
  ck_assert(found.pocket[0].trapped);
  free(found.pocket);
  scene_destroy(&s);
}
END_TEST

/* A side pocket of nine nodes is too small to list; with eight allowed it is listed. */
START_TEST(small_pockets_are_counted_with_their_parent)
{
  static const double knot[][2] = {{0, 500}, {12, 5000}, {20, 2000}, {25, 2500}, {39, 100}};
  scene s = column(knot, 5);
  pockets_request ask = {.part = 0, .density = 916.7, .start_time = 0.0, .solid_time = s.time, .open = s.open,
                         .least_share = 0.001, .least_nodes = 9};
  pockets_found found;
  /* slices 21 to 27 (2157 s) outlive the parting: seven */
  ck_assert_int_eq(pockets_find(&found, s.pocket, s.m, &s.a, &ask, NULL), STATUS_OK);
  ck_assert_uint_eq(found.num, 1);
  ck_assert_uint_eq(found.num_small, 1);
  ck_assert_int_eq(s.pocket[24], 0);
  free(found.pocket);
  ask.least_nodes = 6;
  ck_assert_int_eq(pockets_find(&found, s.pocket, s.m, &s.a, &ask, NULL), STATUS_OK);
  ck_assert_uint_eq(found.num, 2);
  ck_assert_double_eq_tol(found.pocket[1].mass, 7 * slice_mass, 1e-9);
  free(found.pocket);
  ask.least_share = 7.5 / 40.0;
  ck_assert_int_eq(pockets_find(&found, s.pocket, s.m, &s.a, &ask, NULL), STATUS_OK);
  ck_assert_uint_eq(found.num, 1);
  free(found.pocket);
  scene_destroy(&s);
}
END_TEST

/* Water still liquid at the end: no last_at, and the regions that are still joined are one. */
START_TEST(what_is_still_liquid_has_no_last_moment)
{
  static const double knot[][2] = {{0, 500}, {12, 5000}, {20, 2000}, {28, 4000}, {39, 1000}};
  scene s = column(knot, 5);
  for (size_t k = 0; k < 40; k++) {
    s.time[k] = s.time[k] > 3000.0 ? NAN : s.time[k];
  }
  pockets_found found = find(&s, true);
  ck_assert_uint_eq(found.num, 2);
  ck_assert_double_nan(found.pocket[0].last_at);
  ck_assert_double_nan(found.pocket[1].last_at);
  ck_assert_double_eq(found.pocket[1].parted_at, 2000.0);
  free(found.pocket);
  scene_destroy(&s);
}
END_TEST

/* Time falls as a parabola from (0, z0): the top is found between the nodes, on the axis, and its distance to the surface is known. */
START_TEST(last_water_lies_at_the_top_of_the_times)
{
  const double z0 = 0.1637;
  scene s = scene_create(15, 0.12, 30, 0.30);
  for (size_t n = 0; n < s.m->num_nodes; n++) {
    const double r = s.m->centroid[n][0], z = s.m->centroid[n][2] - z0;
    s.time[n] = 9.0e4 - 1.0e6 * r * r - 5.0e5 * z * z;
  }
  pockets_found found = find(&s, true);
  ck_assert_uint_eq(found.num, 1);
  ck_assert_double_eq_tol(found.pocket[0].position[0], 0.0, 1e-12);
  ck_assert_double_eq_tol(found.pocket[0].position[2], z0, 1e-9);
  ck_assert_double_eq_tol(found.last_distance, 0.12, 0.12 * 0.001); /* surface sampled every 10 mm */
  free(found.pocket);
  scene_destroy(&s);
}
END_TEST

START_TEST(liquid_regions_are_labelled)
{
  scene s = scene_create(6, 0.06, 10, 0.10);
  double *liquid = s.time;
  for (size_t n = 0; n < s.m->num_nodes; n++) {
    size_t ijk[3];
    grid_cell_indices(s.g, n, ijk);
    liquid[n] = ijk[2] == 4 || ijk[0] == 5 ? 0.0 : ijk[2] == 3 ? 0.25 : 1.0;
  }
  pockets_mark_open(s.open, s.m, 0);
  pockets_labels l;
  ck_assert_int_eq(pockets_labels_create(&l, s.m->num_nodes, NULL), STATUS_OK);
  for (int again = 0; again < 2; again++) {
    ck_assert_int_eq(pockets_label(&l, s.m, &s.a, 0, liquid, s.open, NULL), STATUS_OK);
    ck_assert_uint_eq(l.num, 2);
    const double base = 3.14159265358979323846 * 0.05 * 0.05 * 0.01;
    ck_assert_double_eq_tol(l.region[0].volume, 3.25 * base, 1e-12);
    ck_assert_double_eq_tol(l.region[1].volume, 5.0 * base, 1e-12);
    ck_assert(!l.region[0].open && l.region[1].open);
    ck_assert_double_eq_tol(l.region[0].low, 0.0, 1e-12);
    ck_assert_double_eq_tol(l.region[0].high, 0.04, 1e-12);
    ck_assert_double_eq_tol(l.region[1].low, 0.05, 1e-12);
    ck_assert_int_eq(l.label[grid_cell(s.g, 2, 0, 4)], -1);
    ck_assert_int_eq(l.label[grid_cell(s.g, 2, 0, 7)], 1);
  }
  pockets_labels_release(&l);
  scene_destroy(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("pockets");
  TCase *tc = tcase_create("pockets");
  tcase_add_test(tc, skinned_over_then_parted);
  tcase_add_test(tc, pinched_off_below_an_open_top);
  tcase_add_test(tc, freezing_upwards_traps_nothing);
  tcase_add_test(tc, a_closed_mould_is_closed_from_the_start);
  tcase_add_test(tc, small_pockets_are_counted_with_their_parent);
  tcase_add_test(tc, what_is_still_liquid_has_no_last_moment);
  tcase_add_test(tc, last_water_lies_at_the_top_of_the_times);
  tcase_add_test(tc, liquid_regions_are_labelled);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
