/* Freeze times by sub-cell crossing and the speed of the front, against motions that are known exactly. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/front.h"
#include "solver/front_speed.h"

static const double solid = 1.0e7, liquid = 3.06e8; /* J/m3 */
enum { NUM_R = 12, NUM_Z = 9 };

typedef struct {
  grid *g;
  shape *all;
  mesh *m;
  material water;
  rig_part part;
  rig r;
  front_track *f;
  adjacency a;
} scene;

static scene scene_create(void)
{
  scene s = {0};
  message msg = {""};
  double r[NUM_R + 1], z[NUM_Z + 1];
  for (int i = 0; i <= NUM_R; i++) {
    r[i] = 0.012 * i + 0.0005 * i * i; /* uneven on purpose */
  }
  for (int k = 0; k <= NUM_Z; k++) {
    z[k] = 0.01 * k;
  }
  const size_t num[3] = {NUM_R, 1, NUM_Z};
  const double *const edges[3] = {r, NULL, z};
  const bool mirror[6] = {false};
  ck_assert_int_eq(grid_create(&s.g, GRID_RZ, num, edges, mirror, &msg), STATUS_OK);
  ck_assert_int_eq(shape_cylinder(&s.all, 10.0, -1.0, 1.0, &msg), STATUS_OK);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = s.all};
  ck_assert_int_eq(mesh_create(&s.m, s.g, &layer, 1, 0, &msg), STATUS_OK);
  ck_assert_int_eq(adjacency_create(&s.a, s.m, &msg), STATUS_OK);
  s.water.curve.solid_enthalpy = solid;
  s.water.curve.liquid_enthalpy = liquid;
  return s;
}

static void scene_track(scene *s)
{
  s->part = (rig_part){.kind = PART_WATER, .stuff = &s->water};
  s->r = (rig){.num_parts = 1, .parts = &s->part};
  ck_assert_int_eq(front_track_create(&s->f, s->m, &s->r, NULL), STATUS_OK);
}

static void scene_destroy(scene *s)
{
  front_track_destroy(&s->f);
  adjacency_release(&s->a);
  mesh_destroy(&s->m);
  shape_destroy(&s->all);
  grid_destroy(&s->g);
}

/* One step from 0 to `end` in which the enthalpy of node n falls linearly, starts to freeze at start[n] and is half frozen at
 * freeze[n]. */
static void freeze_in_one_step(scene *s, double end, const double *start, const double *freeze)
{
  double *before = calloc(s->m->num_nodes, sizeof *before), *after = calloc(s->m->num_nodes, sizeof *after);
  ck_assert(before && after);
  for (size_t n = 0; n < s->m->num_nodes; n++) {
    const double rate = 0.5 * (liquid - solid) / (freeze[n] - start[n]);
    before[n] = liquid + rate * start[n];
    after[n] = liquid + rate * (start[n] - end);
  }
  front_track_update(s->f, 0.0, before, end, after);
  free(before);
  free(after);
}

START_TEST(every_node_knows_its_neighbours_both_ways)
{
  scene s = scene_create();
  ck_assert_uint_eq(s.a.start[s.m->num_nodes], 2 * ((NUM_R - 1) * NUM_Z + NUM_R * (NUM_Z - 1)));
  for (size_t n = 0; n < s.m->num_nodes; n++) {
    for (size_t e = s.a.start[n]; e < s.a.start[n + 1]; e++) {
      const int axis = s.a.direction[e] / 2;
      const double apart = s.m->centroid[s.a.neighbour[e]][axis] - s.m->centroid[n][axis];
      ck_assert_double_eq_tol(s.a.direction[e] % 2 ? apart : -apart, s.a.distance[e], 1e-6 * s.a.distance[e]);
      ck_assert_double_gt(s.a.area[e], 0.0);
    }
  }
  scene_destroy(&s);
}
END_TEST

START_TEST(crossings_are_found_inside_the_step)
{
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  double *h0 = calloc(num, sizeof *h0), *h1 = calloc(num, sizeof *h1);
  for (size_t n = 0; n < num; n++) {
    h0[n] = 4.0e8;
    h1[n] = n == 3 ? 4.0e8 : 0.0;
  }
  front_track_update(s.f, 100.0, h0, 300.0, h1);
  ck_assert_double_eq_tol(front_track_start_time(s.f)[5], 100.0 + 200.0 * (4.0e8 - liquid) / 4.0e8, 1e-9);
  ck_assert_double_eq_tol(front_track_quarter_time(s.f)[5], 100.0 + 200.0 * (4.0e8 - 0.5 * (liquid + 1.58e8)) / 4.0e8, 1e-9);
  ck_assert_double_eq_tol(front_track_freeze_time(s.f)[5], 100.0 + 200.0 * (4.0e8 - 1.58e8) / 4.0e8, 1e-9);
  ck_assert_double_eq_tol(front_track_solid_time(s.f)[5], 100.0 + 200.0 * (4.0e8 - 1.0e7) / 4.0e8, 1e-9);
  ck_assert_double_nan(front_track_freeze_time(s.f)[3]);
  free(h0);
  free(h1);
  scene_destroy(&s);
}
END_TEST

/* H = 4e8 - 1e6 t - 5e3 t^2 over 200 s reaches the half level 1.58e8 where 5e3 t^2 + 1e6 t = 2.42e8: t = 141.660... s. */
START_TEST(a_known_rate_bends_the_path)
{
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  double *h0 = calloc(num, sizeof *h0), *h1 = calloc(num, sizeof *h1), *rate = calloc(num, sizeof *rate);
  for (size_t n = 0; n < num; n++) {
    h0[n] = 4.0e8;
    h1[n] = 0.0;
    rate[n] = -1.0e6;
  }
  rate[7] = 2.0e6; /* rose at first: no parabola that falls all the way, so the straight line */
  front_track_update_with_rate(s.f, 0.0, h0, rate, 200.0, h1);
  ck_assert_double_eq_tol(front_track_freeze_time(s.f)[2], -100.0 + sqrt(100.0 * 100.0 + 2.42e8 / 5.0e3), 1e-9);
  ck_assert_double_eq_tol(front_track_freeze_time(s.f)[7], 121.0, 1e-9);
  free(h0);
  free(h1);
  free(rate);
  scene_destroy(&s);
}
END_TEST

START_TEST(a_remelted_node_starts_anew_and_keeps_its_first_time)
{
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  double *cold = calloc(num, sizeof *cold), *warm = calloc(num, sizeof *warm), *half = calloc(num, sizeof *half);
  for (size_t n = 0; n < num; n++) {
    warm[n] = 4.0e8;
    half[n] = 5.0e7;
  }
  front_track_update(s.f, 0.0, warm, 100.0, cold);
  const double first = front_track_solid_time(s.f)[0], first_centre = front_track_freeze_time(s.f)[0];
  front_track_update(s.f, 100.0, cold, 200.0, half); /* last liquid back, centre still frozen */
  ck_assert_double_nan(front_track_solid_time(s.f)[0]);
  ck_assert_double_eq(front_track_freeze_time(s.f)[0], first_centre);
  front_track_update(s.f, 200.0, half, 300.0, warm);
  ck_assert_double_nan(front_track_freeze_time(s.f)[0]);
  ck_assert_double_nan(front_track_start_time(s.f)[0]);
  front_track_update(s.f, 300.0, warm, 400.0, cold);
  ck_assert_double_eq_tol(front_track_solid_time(s.f)[0], 300.0 + first, 1e-9);
  ck_assert_double_eq(front_track_first_solid_time(s.f)[0], first);
  ck_assert_double_eq(front_track_first_freeze_time(s.f)[0], first_centre);
  free(cold);
  free(warm);
  free(half);
  scene_destroy(&s);
}
END_TEST

START_TEST(a_node_frozen_from_the_outset_carries_the_beginning)
{
  scene s = scene_create();
  scene_track(&s);
  double *cold = calloc(s.m->num_nodes, sizeof *cold);
  front_track_update(s.f, 50.0, cold, 60.0, cold);
  front_track_update(s.f, 60.0, cold, 70.0, cold);
  ck_assert_double_eq(front_track_solid_time(s.f)[1], 50.0);
  ck_assert_uint_eq(front_track_num_memory(s.f), 6 * s.m->num_nodes);
  free(cold);
  scene_destroy(&s);
}
END_TEST

/* A plane front at speed v in a slanting direction passes x at t = (n . x) / v: one-sided differences find v exactly away from the
 * walls it starts from. _i: directions in the (r, z) plane. */
static const double slant[][2] = {{1.0, 0.0}, {0.0, 1.0}, {0.6, 0.8}, {-0.6, 0.8}, {-0.8, -0.6}};
START_TEST(a_plane_front_has_its_speed_everywhere)
{
  const double v = 3.7e-6;
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  double *start = calloc(num, sizeof *start), *freeze = calloc(num, sizeof *freeze), *speed = calloc(num, sizeof *speed);
  for (size_t n = 0; n < num; n++) {
    freeze[n] = 1.0e6 + (slant[_i][0] * s.m->centroid[n][0] + slant[_i][1] * s.m->centroid[n][2]) / v;
    start[n] = freeze[n] - 0.004 / v;
  }
  freeze_in_one_step(&s, 1.0e7, start, freeze);
  ck_assert_int_eq(front_speed_fill(front_track_start_time(s.f), front_track_freeze_time(s.f), &s.a, s.m, speed, NULL), STATUS_OK);
  size_t tested = 0;
  for (size_t n = 0; n < num; n++) {
    size_t ijk[3];
    grid_cell_indices(s.g, n, ijk);
    if (ijk[0] > 0 && ijk[0] + 1 < NUM_R && ijk[2] > 0 && ijk[2] + 1 < NUM_Z) {
      ck_assert_double_eq_tol(speed[n], v, 1e-5 * v);
      tested++;
    }
  }
  ck_assert_uint_eq(tested, (NUM_R - 2) * (NUM_Z - 2));
  free(start);
  free(freeze);
  free(speed);
  scene_destroy(&s);
}
END_TEST

/* Ice grows at constant speed v inwards from the outer wall (r) only; top and bottom are insulated. Beside the cooled wall the speed comes
 * from the surface and the wall's own start, beside the insulated ones the wall must not add to it. */
START_TEST(beside_a_wall_the_front_starts_at_the_surface)
{
  const double v = 2.1e-6;
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  const double r_wall = s.g->edges[0][NUM_R];
  double *start = calloc(num, sizeof *start), *freeze = calloc(num, sizeof *freeze), *speed = calloc(num, sizeof *speed);
  for (size_t n = 0; n < num; n++) {
    size_t ijk[3];
    grid_cell_indices(s.g, n, ijk);
    freeze[n] = 500.0 + (r_wall - s.m->centroid[n][0]) / v;
    start[n] = 500.0 + (r_wall - s.g->edges[0][ijk[0] + 1]) / v;
  }
  freeze_in_one_step(&s, 1.0e6, start, freeze);
  ck_assert_int_eq(front_speed_fill(front_track_start_time(s.f), front_track_freeze_time(s.f), &s.a, s.m, speed, NULL), STATUS_OK);
  for (size_t n = 0; n < num; n++) {
    ck_assert_double_eq_tol(speed[n], v, 1e-5 * v);
  }
  free(start);
  free(freeze);
  free(speed);
  scene_destroy(&s);
}
END_TEST

/* Ice behind a cold wall, t = K x^2, grows at 1 / (2 K x), in the node beside the wall too: over the half node to the surface it was twice as fast. */
START_TEST(beside_a_cold_wall_the_front_has_the_speed_of_where_it_is)
{
  const double k = 2.9e7;
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  const double r_wall = s.g->edges[0][NUM_R];
  double *start = calloc(num, sizeof *start), *freeze = calloc(num, sizeof *freeze), *speed = calloc(num, sizeof *speed);
  for (size_t n = 0; n < num; n++) {
    size_t ijk[3];
    grid_cell_indices(s.g, n, ijk);
    freeze[n] = 500.0 + k * pow(r_wall - s.m->centroid[n][0], 2);
    start[n] = 500.0 + k * pow(r_wall - s.g->edges[0][ijk[0] + 1], 2);
  }
  freeze_in_one_step(&s, 1.0e7, start, freeze);
  ck_assert_int_eq(front_speed_fill(front_track_start_time(s.f), front_track_freeze_time(s.f), &s.a, s.m, speed, NULL), STATUS_OK);
  for (size_t n = 0; n < num; n++) {
    size_t ijk[3];
    grid_cell_indices(s.g, n, ijk);
    if (ijk[0] > 0) /* the last one has nothing ahead */
      ck_assert_double_eq_tol(speed[n] * 2.0 * k * (r_wall - s.m->centroid[n][0]), 1.0, 1e-5);
  }
  free(start);
  free(freeze);
  free(speed);
  scene_destroy(&s);
}
END_TEST

/* Two fronts of speeds v and 2 v meet: every node, the ridge included, has one of the two speeds or lies between. */
START_TEST(where_two_fronts_meet_the_speed_stays_theirs)
{
  const double v = 1.5e-6;
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  double *start = calloc(num, sizeof *start), *freeze = calloc(num, sizeof *freeze), *speed = calloc(num, sizeof *speed);
  for (size_t n = 0; n < num; n++) {
    const double z = s.m->centroid[n][2], below = z / v, above = (0.09 - z) / (2.0 * v);
    freeze[n] = 100.0 + fmin(below, above);
    start[n] = freeze[n] - 0.005 / (below < above ? v : 2.0 * v);
  }
  freeze_in_one_step(&s, 1.0e6, start, freeze);
  ck_assert_int_eq(front_speed_fill(front_track_start_time(s.f), front_track_freeze_time(s.f), &s.a, s.m, speed, NULL), STATUS_OK);
  for (size_t n = 0; n < num; n++) {
    const double want = s.m->centroid[n][2] < 0.03 ? v : 2.0 * v;
    ck_assert_double_eq_tol(speed[n], want, 1e-5 * want);
  }
  free(start);
  free(freeze);
  free(speed);
  scene_destroy(&s);
}
END_TEST

/* A front that slows down as t = K x^2 (ice behind a cold wall, Stefan 1891) has 1 / (2 K x): a one-sided difference over h is h / (2 x) too slow,
 * the mean of both sides a quarter of that at most. */
START_TEST(a_front_that_slows_has_the_speed_of_where_it_is)
{
  const double k = 3.0e7;
  scene s = scene_create();
  scene_track(&s);
  const size_t num = s.m->num_nodes;
  double *start = calloc(num, sizeof *start), *freeze = calloc(num, sizeof *freeze), *speed = calloc(num, sizeof *speed);
  for (size_t n = 0; n < num; n++) {
    const double x = s.m->centroid[n][2] + 0.01;
    freeze[n] = 100.0 + k * x * x;
    start[n] = freeze[n] - k * x * 0.005;
  }
  freeze_in_one_step(&s, 1.0e7, start, freeze);
  ck_assert_int_eq(front_speed_fill(front_track_start_time(s.f), front_track_freeze_time(s.f), &s.a, s.m, speed, NULL), STATUS_OK);
  for (size_t n = 0; n < num; n++) {
    size_t ijk[3];
    grid_cell_indices(s.g, n, ijk);
    if (ijk[2] == 0 || ijk[2] + 1 == NUM_Z)
      continue;
    const double x = s.m->centroid[n][2] + 0.01, h = s.g->edges[2][ijk[2] + 1] - s.g->edges[2][ijk[2]];
    ck_assert_msg(fabs(speed[n] * 2.0 * k * x - 1.0) < 0.25 * h / (2.0 * x), "x = %g: %g", x, speed[n] * 2.0 * k * x);
  }
  free(start);
  free(freeze);
  free(speed);
  scene_destroy(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("front");
  TCase *tc = tcase_create("front");
  tcase_add_test(tc, every_node_knows_its_neighbours_both_ways);
  tcase_add_test(tc, crossings_are_found_inside_the_step);
  tcase_add_test(tc, a_known_rate_bends_the_path);
  tcase_add_test(tc, a_remelted_node_starts_anew_and_keeps_its_first_time);
  tcase_add_test(tc, a_node_frozen_from_the_outset_carries_the_beginning);
  tcase_add_loop_test(tc, a_plane_front_has_its_speed_everywhere, 0, 5);
  tcase_add_test(tc, beside_a_wall_the_front_starts_at_the_surface);
  tcase_add_test(tc, beside_a_cold_wall_the_front_has_the_speed_of_where_it_is);
  tcase_add_test(tc, where_two_fronts_meet_the_speed_stays_theirs);
  tcase_add_test(tc, a_front_that_slows_has_the_speed_of_where_it_is);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
