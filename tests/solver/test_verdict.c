/* The draw verdict on a mould standing in a bath whose ice is laid down by hand. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/verdict.h"

static const double pi = 3.14159265358979323846;
enum { NUM_R = 12, NUM_Z = 10 }; /* 10 mm cells; the mould fills r < 50 mm, the bath 50 to 120 mm */

typedef struct {
  grid *g;
  shape *bath, *mould;
  mesh *m;
  adjacency a;
  double *liquid;
  uint8_t is_mould[2];
  int32_t coil[1];
} scene;

static scene scene_create(void)
{
  scene s = {.is_mould = {0, 1}};
  message msg = {""};
  double r[NUM_R + 1], z[NUM_Z + 1];
  for (int i = 0; i <= NUM_R; i++) {
    r[i] = 0.01 * i;
  }
  for (int k = 0; k <= NUM_Z; k++) {
    z[k] = 0.01 * k;
  }
  const size_t num[3] = {NUM_R, 1, NUM_Z};
  const double *const edges[3] = {r, NULL, z};
  const bool mirror[6] = {false};
  ck_assert_int_eq(grid_create(&s.g, GRID_RZ, num, edges, mirror, &msg), STATUS_OK);
  ck_assert_int_eq(shape_cylinder(&s.bath, 1.0, -1.0, 1.0, &msg), STATUS_OK);
  ck_assert_int_eq(shape_cylinder(&s.mould, 0.05, -1.0, 1.0, &msg), STATUS_OK);
  const mesh_layer layers[2] = {{.kind = MESH_SOLID, .region = s.bath}, {.kind = MESH_SOLID, .region = s.mould}};
  ck_assert_msg(mesh_create(&s.m, s.g, layers, 2, 0, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_int_eq(adjacency_create(&s.a, s.m, &msg), STATUS_OK);
  s.liquid = malloc(s.m->num_nodes * sizeof *s.liquid);
  for (size_t n = 0; n < s.m->num_nodes; n++) {
    s.liquid[n] = 1.0;
  }
  s.coil[0] = (int32_t)grid_cell(s.g, 9, 0, 5);
  return s;
}

static void scene_destroy(scene *s)
{
  free(s->liquid);
  adjacency_release(&s->a);
  mesh_destroy(&s->m);
  shape_destroy(&s->bath);
  shape_destroy(&s->mould);
  grid_destroy(&s->g);
}

static verdict_found judge(const scene *s)
{
  const verdict_request ask = {.bath = 0, .is_mould = s->is_mould, .liquid_fraction = s->liquid, .coil_node = s->coil,
                               .num_coil_nodes = 1};
  verdict_found v;
  ck_assert_int_eq(verdict_of_bath(&v, s->m, &s->a, &ask, NULL), STATUS_OK);
  return v;
}

/* Ice share everywhere at the wall, and the class it must get. */
static const struct { double ice; draw_verdict draw; bool lets_go; } even[] = {
    {0.0, DRAW_FREE, true}, {0.14, DRAW_FREE, true}, {0.16, DRAW_STIFF, true}, {0.39, DRAW_STIFF, true}, {0.41, DRAW_LOCKED, false},
    {1.0, DRAW_LOCKED, false}};
START_TEST(even_slush_is_classed_by_its_share)
{
  scene s = scene_create();
  for (size_t k = 0; k < NUM_Z; k++) {
    s.liquid[grid_cell(s.g, 5, 0, k)] = 1.0 - even[_i].ice;
    s.liquid[grid_cell(s.g, 4, 0, k)] = 0.0; /* ice inside the mould does not count */
    s.liquid[grid_cell(s.g, 7, 0, k)] = 0.0; /* nor a ring of ice away from the wall */
  }
  const verdict_found v = judge(&s);
  ck_assert(v.touches_mould);
  ck_assert_double_eq_tol(v.ice_at_wall, even[_i].ice, 1e-12);
  ck_assert_int_eq(v.draw, even[_i].draw);
  ck_assert(v.lets_go == even[_i].lets_go);
  ck_assert(!v.bridged);
  scene_destroy(&s);
}
END_TEST

/* Three of ten equal pieces of wall at 0.9: mean 0.27, stiff, but not let go. */
START_TEST(a_gripping_patch_holds_although_the_mean_is_low)
{
  scene s = scene_create();
  for (size_t k = 0; k < 3; k++) {
    s.liquid[grid_cell(s.g, 5, 0, k)] = 0.1;
  }
  const verdict_found v = judge(&s);
  ck_assert_double_eq_tol(v.ice_at_wall, 0.27, 1e-12);
  ck_assert_double_eq_tol(v.ice_worst, 0.9, 1e-12);
  ck_assert_int_eq(v.draw, DRAW_STIFF);
  ck_assert(!v.lets_go);
  scene_destroy(&s);
}
END_TEST

/* One row of ice from the coil to the wall: one tenth of the wall, and yet locked. With a gap it is free. */
START_TEST(ice_from_coil_to_mould_locks)
{
  scene s = scene_create();
  for (size_t i = 5; i <= 9; i++) {
    s.liquid[grid_cell(s.g, i, 0, 5)] = 0.2;
  }
  verdict_found v = judge(&s);
  ck_assert(v.bridged);
  ck_assert_int_eq(v.draw, DRAW_LOCKED);
  ck_assert_double_eq_tol(v.ice_at_wall, 0.08, 1e-12);
  s.liquid[grid_cell(s.g, 7, 0, 5)] = 0.7;
  v = judge(&s);
  ck_assert(!v.bridged);
  ck_assert_int_eq(v.draw, DRAW_FREE);
  scene_destroy(&s);
}
END_TEST

START_TEST(a_bath_without_a_mould_holds_nothing)
{
  scene s = scene_create();
  s.is_mould[1] = 0;
  for (size_t n = 0; n < s.m->num_nodes; n++) {
    s.liquid[n] = 0.0;
  }
  const verdict_found v = judge(&s);
  ck_assert(!v.touches_mould);
  ck_assert_int_eq(v.draw, DRAW_FREE);
  scene_destroy(&s);
}
END_TEST

/* A thin wall between bath and water: the interface names the water and the patch names the mould. */
START_TEST(a_thin_wall_counts_through_its_patch)
{
  scene s = scene_create();
  mesh m = *s.m;
  mesh_patch patch = {.part = 1, .area = 2.0 * pi * 0.05 * 0.1, .thickness = 0.002};
  mesh_interface wall = {.node = {(int32_t)grid_cell(s.g, 5, 0, 2), (int32_t)grid_cell(s.g, 4, 0, 2)}, .part = {0, 0}, .patch = 0,
                         .area = {0.003, 0.0028}};
  m.patches = &patch;
  m.num_patches = 1;
  m.interfaces = &wall;
  m.num_interfaces = 1;
  s.liquid[grid_cell(s.g, 5, 0, 2)] = 0.5;
  const verdict_request ask = {.bath = 0, .is_mould = s.is_mould, .liquid_fraction = s.liquid};
  verdict_found v;
  ck_assert_int_eq(verdict_of_bath(&v, &m, &s.a, &ask, NULL), STATUS_OK);
  ck_assert_double_eq_tol(v.ice_at_wall, 0.5, 1e-12);
  ck_assert_int_eq(v.draw, DRAW_LOCKED);
  scene_destroy(&s);
}
END_TEST

/* Clear brine, but a layer on the lower four tenths of the wall: an area share of 0.4 of solid ice, and what it covers does not let go. */
START_TEST(a_layer_on_the_wall_counts_as_ice)
{
  scene s = scene_create();
  double *layer = calloc(s.m->num_interfaces + 1, sizeof *layer);
  ck_assert_ptr_nonnull(layer);
  for (size_t i = 0; i < s.m->num_interfaces; i++)
    if (s.m->interfaces[i].centroid[2] < 0.04)
      layer[i] = 0.002;
  const verdict_request ask = {.bath = 0, .is_mould = s.is_mould, .liquid_fraction = s.liquid, .layer = layer};
  verdict_found v;
  ck_assert_int_eq(verdict_of_bath(&v, s.m, &s.a, &ask, NULL), STATUS_OK);
  ck_assert_double_eq_tol(v.ice_at_wall, 0.4, 1e-6);
  ck_assert_double_eq(v.ice_worst, 1.0);
  ck_assert_int_eq(v.draw, DRAW_STIFF);
  ck_assert(!v.lets_go);
  free(layer);
  scene_destroy(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("verdict");
  TCase *tc = tcase_create("verdict");
  tcase_add_test(tc, a_layer_on_the_wall_counts_as_ice);
  tcase_add_loop_test(tc, even_slush_is_classed_by_its_share, 0, 6);
  tcase_add_test(tc, a_gripping_patch_holds_although_the_mean_is_low);
  tcase_add_test(tc, ice_from_coil_to_mould_locks);
  tcase_add_test(tc, a_bath_without_a_mould_holds_nothing);
  tcase_add_test(tc, a_thin_wall_counts_through_its_patch);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
