/* Solids in three dimensions: volume and area as the mesh finds them against closed forms, distances against the nearest of many points of
 * the surface, turned and scaled shapes against their own frame, refusals by name. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/mesh.h"
#include "geometry/shape.h"
#include "geometry/shape_extruded.h"
#include "geometry/shape_placed.h"
#include "geometry/shape_round.h"
#include "geometry/shape_swept.h"

static const double pi = 3.14159265358979323846;
#define ok(call) ck_assert_int_eq((call), STATUS_OK)

/* Volume and outer area of a shape on a grid of about `across` cells over its smallest extent, not aligned with it. */
static void measured(const shape *s, double cell, double *volume, double *area)
{
  double low[3], high[3], *edges[3];
  size_t num[3];
  const double nudge[3] = {0.137, 0.291, 0.433};
  const bool mirror[6] = {false};
  grid *g = NULL;
  mesh *m = NULL;
  shape_bounds(s, low, high);
  for (int a = 0; a < 3; a++) {
    num[a] = (size_t)ceil((high[a] - low[a]) / cell) + 3;
    edges[a] = malloc((num[a] + 1) * sizeof(double));
    for (size_t i = 0; i <= num[a]; i++) edges[a][i] = low[a] + ((double)i - 1 - nudge[a]) * cell;
  }
  ok(grid_create(&g, GRID_XYZ, num, (const double *const *)edges, mirror, NULL));
  const mesh_layer layer = {.kind = MESH_SOLID, .region = s};
  message msg = {""};
  ck_assert_msg(mesh_create(&m, g, &layer, 1, 0, &msg) == STATUS_OK, "%s", msg.text);
  *volume = m->part_volume[0];
  *area = 0;
  for (size_t i = 0; i < m->num_interfaces; i++) *area += m->interfaces[i].area[0];
  mesh_destroy(&m);
  grid_destroy(&g);
  for (int a = 0; a < 3; a++) free(edges[a]);
}

static void assert_measures(shape *s, double cell, double volume, double area)
{
  const bool brief = getenv("LASTWATER_BRIEF") != NULL; /* under sanitizers: cells three times as large, errors nine times */
  const double limit = brief ? 1.8e-2 : 2e-3;
  double v, a;
  measured(s, brief ? 3 * cell : cell, &v, &a);
  ck_assert_double_eq_tol(v / volume, 1, limit);
  ck_assert_double_eq_tol(a / area, 1, limit);
  shape_destroy(&s);
}

static shape *turned(shape *s, double scale, double spin, double tilt, double turn)
{
  const double origin[3] = {0, 0, 0}, by[3] = {0.013, -0.021, 0.007};
  const shape_placed_frame f = shape_placed_turn(scale, spin, tilt, turn, origin, by);
  shape *out = NULL;
  ok(shape_placed(&out, s, &f, NULL));
  return out;
}

/* 20 cells per radius (or half thickness), as the limit of 0.2 % is stated. */
START_TEST(a_tilted_cylinder_has_its_volume_and_area)
{
  shape *s = NULL;
  ok(shape_cylinder(&s, 0.1, -0.08, 0.08, NULL));
  assert_measures(turned(s, 1, 0, pi / 6, 0.4), 0.005, pi * 0.01 * 0.16, 2 * pi * 0.01 + 2 * pi * 0.1 * 0.16);
}
END_TEST

START_TEST(a_turned_box_has_its_volume_and_area)
{
  shape *s = NULL;
  ok(shape_box(&s, (double[3]){-0.1, -0.12, -0.1}, (double[3]){0.1, 0.12, 0.1}, NULL));
  assert_measures(turned(s, 1, 0.3, 0.5, 0.7), 0.005, 0.2 * 0.24 * 0.2, 2 * (0.2 * 0.24 * 2 + 0.04));
}
END_TEST

/* Area of a flat spheroid: 2 pi a^2 (1 + (1 - e^2)/e atanh e); of a long one: 2 pi a^2 (1 + c/(a e) asin e). */
START_TEST(spheroids_have_their_volume_and_area)
{
  shape *s = NULL;
  const double a = 0.1, flat = 0.06, slim = 0.15;
  double e = sqrt(1 - flat * flat / (a * a));
  ok(shape_round_spheroid(&s, a, -flat, flat, NULL));
  assert_measures(s, 0.003, 4.0 / 3 * pi * a * a * flat, 2 * pi * a * a * (1 + (1 - e * e) / e * atanh(e)));
  e = sqrt(1 - a * a / (slim * slim));
  ok(shape_round_spheroid(&s, a, -slim, slim, NULL));
  assert_measures(turned(s, 1, 0, 0.9, 0.2), 0.005, 4.0 / 3 * pi * a * a * slim, 2 * pi * a * a * (1 + slim / (a * e) * asin(e)));
}
END_TEST

/* Cap: pi h (3 b^2 + h^2) / 6, and pi (b^2 + h^2) of dome plus pi b^2 of base. */
START_TEST(caps_have_their_volume_and_area)
{
  const double b = 0.1, heights[2] = {0.07, 0.16};
  for (int i = 0; i < 2; i++) {
    shape *s = NULL;
    const double h = heights[i];
    ok(shape_round_cap(&s, b, 0, h, NULL));
    assert_measures(s, i == 0 ? 0.0035 : 0.005, pi * h * (3 * b * b + h * h) / 6, pi * (b * b + h * h) + pi * b * b);
  }
}
END_TEST

START_TEST(a_ring_a_frustum_and_a_turned_profile_have_their_measures)
{
  shape *s = NULL;
  ok(shape_torus(&s, 0.2, 0.12, 0, NULL));
  assert_measures(turned(s, 0.5, 0, 0.6, 0), 0.003, 2 * pi * pi * 0.1 * 0.06 * 0.06, 4 * pi * pi * 0.1 * 0.06);
  ok(shape_frustum(&s, 0.1, 0.06, 0, 0.12, NULL));
  const double slant = hypot(0.04, 0.12);
  assert_measures(turned(s, 1, 0, 0.3, 0), 0.003, pi * 0.12 / 3 * (0.01 + 0.006 + 0.0036), pi * (0.16 * slant + 0.01 + 0.0036));
  /* A ring of triangular section: Pappus, by the middles of area and of each side. */
  const double rz[3][2] = {{0.1, 0}, {0.25, 0}, {0.16, 0.15}};
  double area = 0;
  for (int i = 0; i < 3; i++) {
    const double *p = rz[i], *q = rz[(i + 1) % 3];
    area += 2 * pi * 0.5 * (p[0] + q[0]) * hypot(q[0] - p[0], q[1] - p[1]);
  }
  ok(shape_revolved(&s, rz, 3, NULL));
  assert_measures(s, 0.004, 2 * pi * 0.51 / 3 * 0.5 * 0.15 * 0.15, area);
}
END_TEST

/* The letter L: 0.3 x 0.1 and 0.1 x 0.2 m, outline 1.2 m. */
START_TEST(a_letter_drawn_up_has_its_volume_and_area)
{
  shape *s = NULL;
  const double xy[6][2] = {{0, 0}, {0.3, 0}, {0.3, 0.1}, {0.1, 0.1}, {0.1, 0.3}, {0, 0.3}};
  ok(shape_extruded(&s, xy, 6, 0, 0.1, NULL));
  assert_measures(turned(s, 1, 0.35, 0, 0), 0.005, 0.05 * 0.1, 2 * 0.05 + 1.2 * 0.1);
}
END_TEST

/* pi r^2 L + 4/3 pi r^3 and 2 pi r L + 4 pi r^2: gentle bends (Pappus), half balls at the ends. */
START_TEST(a_bent_rod_has_its_volume_and_area)
{
  shape *s = NULL;
  tube_path p = {0};
  const double r = 0.03, turn = hypot(2 * pi * 0.08, 0.08);
  ok(tube_path_helix(&p, 0.08, 0, 0.08, 1, NULL));
  ck_assert_double_eq_tol(tube_path_length(&p) / turn, 1, 1e-3);
  ok(shape_swept(&s, &p, r, NULL));
  assert_measures(s, 0.0025, pi * r * r * tube_path_length(&p) + 4.0 / 3 * pi * r * r * r, 2 * pi * r * tube_path_length(&p) + 4 * pi * r * r);
  tube_path_release(&p);
  ok(tube_path_serpentine(&p, 3, 0.2, 0.1, NULL));
  ck_assert_double_eq_tol(tube_path_length(&p), 0.6 + 2 * pi * 0.05, 1e-4);
  ck_assert_double_eq_tol(tube_path_clearance(&p, 0.3), 0.1, 1e-3);
  tube_path_release(&p);
}
END_TEST

/* A lens of two balls of radius R at distance d: pi (4 R + d)(2 R - d)^2 / 12; its area is two caps of 2 pi R (R - d/2). */
START_TEST(union_difference_and_intersection_have_their_measures)
{
  const double R = 0.1, d = 0.09, ball = 4.0 / 3 * pi * R * R * R, lens = pi * (4 * R + d) * pow(2 * R - d, 2) / 12;
  const double cap = 2 * pi * R * (R - d / 2), whole = 4 * pi * R * R;
  const double left[3] = {-d / 2, 0.011, 0.003}, right[3] = {d / 2, 0.011, 0.003};
  for (int i = 0; i < 3; i++) {
    shape *a = NULL, *b = NULL, *s = NULL;
    ok(shape_sphere(&a, left, R, NULL));
    ok(shape_sphere(&b, right, R, NULL));
    ok(i == 0 ? shape_union(&s, a, b, NULL) : i == 1 ? shape_difference(&s, a, b, NULL) : shape_intersection(&s, a, b, NULL));
    assert_measures(s, i == 0 ? 0.005 : 0.0025, i == 0 ? 2 * ball - lens : i == 1 ? ball - lens : lens,
                    i == 0 ? 2 * (whole - cap) : i == 1 ? whole : 2 * cap);
  }
}
END_TEST

/* A wall of 20 mm round a ball and inside it: shells of balls. */
START_TEST(walls_outward_and_inward_have_their_volume)
{
  const double centre[3] = {0.004, -0.003, 0.002}, way[2] = {0.02, -0.02};
  for (int i = 0; i < 2; i++) {
    shape *outer = NULL, *inner = NULL, *wall = NULL;
    ok(shape_sphere(&outer, centre, 0.1, NULL));
    ok(shape_sphere(&inner, centre, 0.1, NULL));
    ok(i == 0 ? shape_offset(&outer, outer, way[i], NULL) : shape_offset(&inner, inner, way[i], NULL));
    ok(shape_difference(&wall, outer, inner, NULL));
    const double a = i == 0 ? 0.1 : 0.08, b = i == 0 ? 0.12 : 0.1;
    assert_measures(wall, 0.005, 4.0 / 3 * pi * (b * b * b - a * a * a), 4 * pi * (a * a + b * b));
  }
}
END_TEST

/* The distance of the nearest of many points of a meridian, which must be no less than ours and hardly more. */
static void assert_meridian(const shape *s, void (*at)(double share, double rz[2]))
{
  unsigned seed = 12345;
  for (int n = 0; n < (getenv("LASTWATER_BRIEF") ? 10 : 200); n++) {
    double p[2], nearest = INFINITY;
    for (int a = 0; a < 2; a++) {
      seed = seed * 1664525u + 1013904223u;
      p[a] = 0.4 * ((double)(seed >> 8) / 16777216.0) - (a == 0 ? 0 : 0.15);
    }
    for (int i = 0; i <= 20000; i++) {
      double rz[2];
      at(i / 20000.0, rz);
      nearest = fmin(nearest, hypot(p[0] - rz[0], p[1] - rz[1]));
    }
    const double d = shape_distance(s, (double[3]){p[0] * cos(1.1), p[0] * sin(1.1), p[1]});
    ck_assert_double_eq_tol(fabs(d), nearest, 3e-5);
  }
}

static void on_spheroid(double share, double rz[2])
{
  rz[0] = 0.1 * sin(pi * share);
  rz[1] = -0.17 * cos(pi * share);
}

static void on_flat_spheroid(double share, double rz[2])
{
  rz[0] = 0.2 * sin(pi * share);
  rz[1] = -0.05 * cos(pi * share);
}

static double cap_height;

static void on_cap(double share, double rz[2])
{
  const double b = 0.1, R = (b * b + cap_height * cap_height) / (2 * cap_height), most = acos((R - cap_height) / R);
  if (share < 0.3) {
    rz[0] = b * share / 0.3;
    rz[1] = 0;
  } else {
    const double angle = most * (1 - share) / 0.7;
    rz[0] = R * sin(angle);
    rz[1] = cap_height - R + R * cos(angle);
  }
}

START_TEST(distances_are_those_to_the_nearest_point)
{
  shape *s = NULL;
  ok(shape_round_spheroid(&s, 0.1, -0.17, 0.17, NULL));
  assert_meridian(s, on_spheroid);
  ck_assert_double_lt(shape_distance(s, (double[3]){0, 0, 0.16}), 0);
  ck_assert_double_gt(shape_distance(s, (double[3]){0.11, 0, 0}), 0);
  shape_destroy(&s);
  ok(shape_round_spheroid(&s, 0.2, -0.05, 0.05, NULL));
  assert_meridian(s, on_flat_spheroid);
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0, 0, 0}), -0.05, 1e-12);
  shape_destroy(&s);
  for (int i = 0; i < 2; i++) {
    cap_height = i == 0 ? 0.06 : 0.16;
    ok(shape_round_cap(&s, 0.1, 0, cap_height, NULL));
    assert_meridian(s, on_cap);
    ck_assert_double_lt(shape_distance(s, (double[3]){0.03, 0, 0.01}), 0);
    ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.03, 0, -0.02}), 0.02, 1e-15);
    shape_destroy(&s);
  }
}
END_TEST

START_TEST(a_turned_shape_is_the_shape_in_its_own_frame)
{
  shape *s = NULL, *own = NULL, *placed = NULL;
  const double pivot[3] = {0.1, 0.2, 0.3}, by[3] = {1, 2, 3};
  const shape_placed_frame f = shape_placed_turn(2.5, 0.3, 0.7, -1.1, pivot, by);
  ok(shape_box(&own, (double[3]){0, 0.1, 0.2}, (double[3]){0.5, 0.3, 0.9}, NULL));
  ok(shape_clone(own, &s, NULL));
  ok(shape_placed(&placed, s, &f, NULL));
  double at[3], middle[3];
  shape_placed_point(&f, pivot, middle);
  const double p[3] = {0.3, -0.4, 0.6};
  shape_placed_point(&f, p, at);
  ck_assert_double_eq_tol(shape_distance(placed, at), 2.5 * shape_distance(own, p), 1e-12);
  shape_destroy(&placed);
  shape_destroy(&own);
  const shape_placed_frame still = shape_placed_turn(1, 0.3, 0.7, -1.1, pivot, by);
  shape_placed_point(&still, pivot, middle);
  for (int a = 0; a < 3; a++) ck_assert_double_eq_tol(middle[a], pivot[a] + by[a], 1e-14);
  const shape_placed_frame lying = shape_placed_axis((double[3]){1, 1, 1}, (double[3]){1, 4, 1});
  shape_placed_point(&lying, (double[3]){0, 0, 2}, at);
  ck_assert_double_eq_tol(at[1], 3, 1e-15);
  ck_assert_int_eq(shape_placed_kind_of(&lying), SHAPE_PLACED_SQUARE);
  ck_assert_int_eq(shape_placed_kind_of(&f), SHAPE_PLACED_OBLIQUE);
}
END_TEST

/* A cylinder of radius R tipped by t about the middle of its foot: R sin t below it. */
START_TEST(the_lowest_point_is_found)
{
  shape *s = NULL;
  ok(shape_cylinder(&s, 0.1, 0, 0.2, NULL));
  s = turned(s, 1, 0, pi / 6, 0.3);
  ck_assert_double_eq_tol(shape_placed_lowest(s), 0.007 - 0.05, 3e-5);
  shape_destroy(&s);
}
END_TEST

START_TEST(impossible_sizes_are_refused_by_name)
{
  shape *s = NULL;
  tube_path p = {0};
  message m = {""};
  const double cross[4][2] = {{0, 0}, {1, 1}, {1, 0}, {0, 0.5}}, same[2][3] = {{0, 0, 1}, {0, 0, 1}};
  ck_assert_int_eq(shape_round_spheroid(&s, 0, 0, 1, &m), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(m.text, "spheroid: radius 0 m"));
  ck_assert_int_eq(shape_round_cap(&s, 0.1, 1, 1, &m), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(m.text, "cap from z = 1 to 1 m"));
  ck_assert_int_eq(shape_extruded(&s, cross, 4, 0, 1, &m), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(m.text, "outline crosses itself"));
  ck_assert_int_eq(tube_path_create(&p, same, 2, &m), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(m.text, "points 1 and 2 of the path are the same"));
  ck_assert_int_eq(tube_path_helix(&p, 0.1, 0, 0.1, NAN, &m), STATUS_BAD_INPUT);
  ok(tube_path_serpentine(&p, 2, 0.1, 0.05, NULL));
  ck_assert_int_eq(shape_swept(&s, &p, -1, &m), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(m.text, "bent rod: radius -1 m"));
  tube_path_release(&p);
  ck_assert_ptr_null(s);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("solids");
  TCase *c = tcase_create("solids");
  tcase_set_timeout(c, 300);
  tcase_add_test(c, a_tilted_cylinder_has_its_volume_and_area);
  tcase_add_test(c, a_turned_box_has_its_volume_and_area);
  tcase_add_test(c, spheroids_have_their_volume_and_area);
  tcase_add_test(c, caps_have_their_volume_and_area);
  tcase_add_test(c, a_ring_a_frustum_and_a_turned_profile_have_their_measures);
  tcase_add_test(c, a_letter_drawn_up_has_its_volume_and_area);
  tcase_add_test(c, a_bent_rod_has_its_volume_and_area);
  tcase_add_test(c, union_difference_and_intersection_have_their_measures);
  tcase_add_test(c, walls_outward_and_inward_have_their_volume);
  tcase_add_test(c, distances_are_those_to_the_nearest_point);
  tcase_add_test(c, a_turned_shape_is_the_shape_in_its_own_frame);
  tcase_add_test(c, the_lowest_point_is_found);
  tcase_add_test(c, impossible_sizes_are_refused_by_name);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
