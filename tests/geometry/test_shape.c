/* Shapes: distances by hand, volumes against closed forms, refusals. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "geometry/shape_class.h"
#include "geometry/shape_placed.h"

static const double pi = 3.14159265358979323846;
#define ok(call) ck_assert_int_eq((call), STATUS_OK)

START_TEST(distances_are_those_worked_out_by_hand)
{
  shape *s = NULL;
  ok(shape_cylinder(&s, 0.3, 0, 1, NULL));
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.1, 0, 0.5}), -0.2, 1e-15);
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.6, 0, 1.4}), 0.5, 1e-15); /* 3-4-5 from the rim */
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.36, 0.48, 0.5}), 0.3, 1e-15);
  shape_destroy(&s);
  ok(shape_tube(&s, 0.2, 0.3, 0, 1, NULL));
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0, 0, 0.5}), 0.2, 1e-15);
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.26, 0, 0.5}), -0.04, 1e-15);
  shape_destroy(&s);
  ok(shape_torus(&s, 0.5, 0.1, 0.2, NULL));
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.8, 0, 0.6}), 0.4, 1e-15);
  shape_destroy(&s);
  ok(shape_box(&s, (double[3]){0, 0, 0}, (double[3]){1, 2, 3}, NULL));
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.5, 0.9, 0.2}), -0.2, 1e-15);
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){2, 4, 5}), 3, 1e-15); /* 1-2-2 */
  ok(shape_translate(&s, s, (double[3]){1, 0, 0}, NULL));
  ok(shape_offset(&s, s, 0.1, NULL));
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){3, 4, 5}), 2.9, 1e-15);
  double n[3], low[3], high[3];
  shape_normal(s, (double[3]){3, 4, 5}, 1e-5, n);
  ck_assert_double_eq_tol(n[0], 1.0 / 3, 1e-9);
  ck_assert_double_eq_tol(n[2], 2.0 / 3, 1e-9);
  shape_bounds(s, low, high);
  ck_assert_double_eq_tol(low[0], 0.9, 1e-15);
  ck_assert_double_eq_tol(high[2], 3.1, 1e-15);
  shape_destroy(&s);
}
END_TEST

START_TEST(a_cone_has_no_surface_on_its_axis)
{
  shape *s = NULL;
  ok(shape_frustum(&s, 0.4, 0, 0, 0.3, NULL)); /* slope 3-4-5 */
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0, 0, 0.1}), -0.1, 1e-15);
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){1e-9, 0, 0.1}), -0.1, 1e-15);
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0, 0, 0.2}), -0.08, 1e-15); /* 0.1 * 4/5 */
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0, 0, 0.5}), 0.2, 1e-15);
  shape_destroy(&s);
}
END_TEST

START_TEST(volumes_match_closed_forms)
{
  const double centre[3] = {0, 0, 0.1}, rz[][2] = {{0.1, 0}, {0.3, 0}, {0.2, 0.4}};
  shape *s[5] = {NULL};
  ok(shape_cylinder(&s[0], 0.31, 0, 0.77, NULL));
  ok(shape_sphere(&s[1], centre, 0.3, NULL));
  ok(shape_frustum(&s[2], 0.31, 0.2, 0, 0.77, NULL));
  ok(shape_torus(&s[3], 0.3, 0.1, 0, NULL));
  ok(shape_revolved(&s[4], rz, 3, NULL));
  const double exact[5] = {pi * 0.31 * 0.31 * 0.77, 4.0 / 3 * pi * 0.027, pi / 3 * 0.77 * (0.31 * 0.31 + 0.31 * 0.2 + 0.2 * 0.2),
                           2 * pi * pi * 0.3 * 0.01, 2 * pi * 0.2 * 0.04}; /* the last two: Pappus */
  for (int i = 0; i < 5; i++) {
    ck_assert_double_eq_tol(shape_volume_below(s[i], true, 9, 1e-6) / exact[i], 1, 2e-6);
    ck_assert_double_eq_tol(shape_volume_below(s[i], false, 9, 1e-3) / exact[i], 1, 2e-3);
  }
  /* a spherical cap of height h: pi h^2 (3 R - h) / 3 */
  ck_assert_double_eq_tol(shape_volume_below(s[1], true, -0.08, 1e-6), pi * 0.12 * 0.12 * (0.9 - 0.12) / 3, 1e-8);
  ck_assert_double_eq_tol(shape_volume_below(s[0], true, 0.333, 1e-6), pi * 0.31 * 0.31 * 0.333, 1e-9);
  ck_assert_double_eq(shape_volume_below(s[0], true, -1, 1e-6), 0);
  for (int i = 0; i < 5; i++) shape_destroy(&s[i]);
}
END_TEST

/* Grown by t a convex solid takes a b c + 2 t (a b + b c + c a) + pi t^2 (a + b + c) + 4/3 pi t^3 (Steiner's formula); below a level it takes
 * the integral of its sections, here by Simpson's rule. */
static double rounded_section(double a, double b, double t, double over)
{
  const double u = over < 0 ? -over : 0, rho = u < t ? sqrt(t * t - u * u) : 0;
  return u < t ? a * b + 2 * (a + b) * rho + pi * rho * rho : 0;
}

START_TEST(a_grown_solid_holds_what_its_sections_say)
{
  enum { STRIPS = 200000 };
  const double a = 0.37, b = 0.21, c = 0.13, t = 0.017, low[3] = {-0.1, 0.02, 0.3}, high[3] = {-0.1 + a, 0.02 + b, 0.3 + c};
  shape *s = NULL;
  ok(shape_box(&s, low, high, NULL));
  ok(shape_offset(&s, s, t, NULL));
  const double whole = a * b * c + 2 * t * (a * b + b * c + c * a) + pi * t * t * (a + b + c) + 4.0 / 3 * pi * t * t * t;
  ck_assert_double_eq_tol(shape_volume_below(s, false, INFINITY, 1e-3) / whole, 1, 1e-13);
  const double level = 0.3 - 0.4 * t, height = 0.6 * t;
  double sum = 0;
  for (int i = 0; i <= STRIPS; i++) {
    const double over = -t + height * i / STRIPS;
    sum += rounded_section(a, b, t, over) * (i == 0 || i == STRIPS ? 1 : i % 2 ? 4 : 2);
  }
  ck_assert_double_eq_tol(shape_volume_below(s, false, level, 1e-3) / (sum * height / STRIPS / 3), 1, 1e-5); /* the section grows like a root at the foot */
  ck_assert_double_eq_tol(shape_volume_below(s, false, 0.3 + 0.5 * c, 1e-3) / (0.5 * whole), 1, 1e-13);
  shape_destroy(&s);
}
END_TEST

/* A trough with foam round it and two fingers in it, one a pair: what is free for the brine, to the last digit. */
START_TEST(room_between_solids_is_their_difference)
{
  const double low[3] = {-0.3, -0.06, 0}, high[3] = {0.3, 0.06, 0.2}, out_low[3] = {-0.34, -0.1, -0.04}, out_high[3] = {0.34, 0.1, 0.24};
  const double left[3] = {-0.1, 0, 0}, right[3] = {0.1, 0, 0}, rim[3] = {0, 0, 0.19}, up[3] = {0, 0, 1};
  shape *room = NULL, *foam = NULL, *outside = NULL, *one = NULL, *pair = NULL, *other = NULL, *lid = NULL;
  ok(shape_box(&room, low, high, NULL));
  ok(shape_box(&outside, out_low, out_high, NULL));
  ok(shape_clone(room, &foam, NULL));
  ok(shape_difference(&foam, outside, foam, NULL));
  ok(shape_difference(&room, room, foam, NULL));
  ok(shape_cylinder(&one, 0.03, 0.05, 0.15, NULL));
  ok(shape_difference(&room, room, one, NULL));
  ok(shape_cylinder(&pair, 0.02, 0.05, 0.19, NULL));
  ok(shape_clone(pair, &other, NULL));
  ok(shape_translate(&pair, pair, left, NULL));
  ok(shape_translate(&other, other, right, NULL));
  ok(shape_union(&pair, pair, other, NULL));
  ok(shape_offset(&pair, pair, 0.001, NULL));
  ok(shape_half_space(&lid, rim, up, NULL));
  ok(shape_intersection(&pair, pair, lid, NULL));
  ok(shape_difference(&room, room, pair, NULL));
  const double t = 0.001, r = 0.02, h = 0.14; /* below the rim: the foot is rounded, the top is cut */
  const double finger = pi * ((r + t) * (r + t) * h + r * r * t + pi * r * t * t / 2 + 2 * t * t * t / 3);
  const double free_room = 0.6 * 0.12 * 0.2 - pi * 0.03 * 0.03 * 0.1 - 2 * finger;
  ck_assert_double_eq_tol(shape_volume_below(room, false, INFINITY, 1e-3) / free_room, 1, 1e-12);
  ck_assert_double_eq_tol(shape_volume_below(room, false, 0.03, 1e-3) / (0.6 * 0.12 * 0.03), 1, 1e-12);
  shape_destroy(&room);
}
END_TEST

/* Two balls that overlap, and one that sticks out of a box: nothing but sampling knows; caps are h^2 pi (R - h / 3). */
START_TEST(solids_that_overlap_are_sampled)
{
  const double here[3] = {0, 0, 0}, there[3] = {0.03, 0, 0}, low[3] = {0, -0.1, -0.1}, high[3] = {0.1, 0.1, 0.1};
  shape *a = NULL, *b = NULL;
  ok(shape_sphere(&a, here, 0.05, NULL));
  ok(shape_sphere(&b, there, 0.05, NULL));
  ok(shape_union(&a, a, b, NULL));
  const double cap = pi * 0.035 * 0.035 * (0.05 - 0.035 / 3), ball = 4.0 / 3 * pi * 0.05 * 0.05 * 0.05;
  ck_assert_double_eq_tol(shape_volume_below(a, false, INFINITY, 1e-3) / (2 * ball - 2 * cap), 1, 2e-3);
  shape_destroy(&a);
  ok(shape_box(&a, low, high, NULL));
  ok(shape_sphere(&b, here, 0.05, NULL));
  ok(shape_difference(&a, a, b, NULL));
  ck_assert_double_eq_tol(shape_volume_below(a, false, INFINITY, 1e-3) / (0.1 * 0.2 * 0.2 - 0.5 * ball), 1, 2e-3);
  shape_destroy(&a);
}
END_TEST

/* A tub of 5 mm wall in 0.76 m: thinner than the boxes that the sampling starts with. */
START_TEST(the_volume_of_a_thin_wall_is_found)
{
  message msg = {""};
  shape *outer = NULL, *inner = NULL, *wall = NULL;
  ck_assert_int_eq(shape_cylinder(&outer, 0.385, 0.08, 0.705, &msg), STATUS_OK);
  ck_assert_int_eq(shape_cylinder(&inner, 0.38, 0.085, 0.71, &msg), STATUS_OK);
  ck_assert_int_eq(shape_difference(&wall, outer, inner, &msg), STATUS_OK);
  const double want = acos(-1.0) * (0.385 * 0.385 * 0.625 - 0.38 * 0.38 * 0.62); /* cylinder less cylinder */
  ck_assert_double_eq_tol(shape_volume_below(wall, true, INFINITY, 1e-5), want, 1e-4 * want);
  shape_destroy(&wall);
}
END_TEST

/* A plate of 1 mm beside a block of 0.1 m, at heights where no halving of the height falls on it, whole and cut by a level. */
START_TEST(the_volume_of_a_thin_plate_is_found_wherever_it_lies)
{
  for (int i = 0; i < 8; i++) {
    const double at = 0.2 + 0.0871 * i;
    shape *block = NULL, *plate = NULL, *both = NULL;
    ok(shape_box(&block, (double[3]){0, 0, 0}, (double[3]){0.1, 0.1, 0.1}, NULL));
    ok(shape_box(&plate, (double[3]){0, 0, at}, (double[3]){0.2, 0.1, at + 1e-3}, NULL));
    ok(shape_union(&both, block, plate, NULL));
    ck_assert_double_eq_tol(shape_volume_below(both, false, 9, 1e-3), 1.02e-3, 1.02e-6);
    ck_assert_double_eq_tol(shape_volume_below(both, false, at + 4e-4, 1e-3), 1.008e-3, 1.008e-6);
    shape_destroy(&both);
  }
}
END_TEST

/* A shape without its closed form, and how often it was asked. */
static size_t num_asked;
static double (*asked)(const shape *s, const double p[3]);

static double count_and_ask(const shape *s, const double p[3])
{
  num_asked++;
  return asked(s, p);
}

/* Whole solids by sampling: round ones cost little, the edges of a tipped box are found to the tolerance. Grown box: Steiner's formula. */
START_TEST(sampled_volumes_are_right_and_ask_little)
{
  const double e = 0.004, faces = 0.1 * 0.06 + 0.1 * 0.07 + 0.06 * 0.07, tol = 1e-4;
  const double low[3] = {-0.05, -0.03, 0}, high[3] = {0.05, 0.03, 0.07}, origin[3] = {0, 0, 0};
  const shape_placed_frame frame = shape_placed_turn(1, 0.3, 0.5, 0.2, origin, origin);
  shape *s[4] = {NULL};
  const double exact[4] = {4.0 / 3 * pi * pow(0.06, 3), 2 * pi * pi * 0.06 * 0.023 * 0.023, 0.1 * 0.06 * 0.07,
                           0.1 * 0.06 * 0.07 + 2 * e * faces + pi * e * e * 0.23 + 4.0 / 3 * pi * e * e * e};
  const size_t most_asked[4] = {6500000, 11000000, 700000, 1800000}; /* half of what it takes when the bend is not put right, three quarters where it is all edges */
  ok(shape_sphere(&s[0], (double[3]){0.01, 0.02, 0.03}, 0.06, NULL));
  ok(shape_torus(&s[1], 0.06, 0.023, 0, NULL));
  for (int i = 2; i < 4; i++) {
    ok(shape_box(&s[i], low, high, NULL));
    ok(shape_placed(&s[i], s[i], &frame, NULL));
  }
  ok(shape_offset(&s[3], s[3], e, NULL));
  for (int i = 0; i < 4; i++) {
    shape unknown = *s[i];
    asked = unknown.distance;
    num_asked = 0;
    unknown.distance = count_and_ask;
    unknown.volume_below = NULL;
    ck_assert_double_eq_tol(shape_volume_below(&unknown, false, INFINITY, tol) / exact[i], 1, i == 2 ? tol : 0.1 * tol);
    ck_assert_uint_le(num_asked, most_asked[i]);
    shape_destroy(&s[i]);
  }
}
END_TEST

START_TEST(operations_combine_and_clones_live_on)
{
  shape *a = NULL, *b = NULL, *copy = NULL;
  ok(shape_cylinder(&a, 0.2, 0, 1, NULL));
  ok(shape_cylinder(&b, 0.1, 0, 1, NULL));
  ok(shape_difference(&a, a, b, NULL));
  ok(shape_clone(a, &copy, NULL));
  shape_destroy(&a);
  ck_assert_double_eq_tol(shape_volume_below(copy, true, 9, 1e-6), pi * 0.03, 1e-7);
  ck_assert(shape_distance(copy, (double[3]){0.05, 0, 0.5}) > 0);
  shape_destroy(&copy);
}
END_TEST

static const struct {
  double rz[5][2];
  size_t num;
  const char *says;
} bad_profiles[] = {
    {{{0, 0}, {1, 0}}, 2, "at least 3 points"},
    {{{0, 0}, {1, 0}, {-0.1, 1}}, 3, "radius cannot be below 0"},
    {{{0, 0}, {1, 1}, {2, 2}}, 3, "encloses no area"},
    {{{0, 0}, {1, 1}, {1, 0}, {0, 1.5}}, 4, "edge 0 (r 0, z 0 to r 1, z 1 m) meets edge 2"},
    {{{0, 0}, {1, 1}, {1, 0}, {0, 1}}, 4, "edge 0 (r 0, z 0 to r 1, z 1 m) meets edge 2"}, /* a figure of eight: its halves cancel */
    {{{0, 0}, {1, 0}, {1, 0}, {0, 1}}, 4, "points 1 and 2 are the same"},
    {{{0, 0}, {2, 0}, {1, 0}, {1, 1}}, 4, "edge 0"},
    {{{0, 0}, {1, NAN}, {0, 1}}, 3, "not a finite number"},
};

START_TEST(bad_profiles_are_refused_by_point_or_edge)
{
  shape *s = NULL;
  message msg = {""};
  ck_assert_int_eq(shape_revolved(&s, bad_profiles[_i].rz, bad_profiles[_i].num, &msg), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(msg.text, bad_profiles[_i].says) != NULL, "%s", msg.text);
  ck_assert_ptr_null(s);
}
END_TEST

START_TEST(impossible_sizes_are_refused_by_name)
{
  shape *s = NULL;
  message msg = {""};
  const double centre[3] = {0, 0, 0}, nowhere[3] = {0, NAN, 0};
  ck_assert_int_eq(shape_cylinder(&s, -0.1, 0, 1, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "cylinder: radius -0.1 m"));
  ck_assert_int_eq(shape_cylinder(&s, 0.1, 1, 1, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(shape_tube(&s, 0.2, 0.1, 0, 1, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "outer radius"));
  ck_assert_int_eq(shape_frustum(&s, 0, 0, 0, 1, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(shape_sphere(&s, centre, NAN, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(shape_sphere(&s, nowhere, 1, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(shape_torus(&s, 0.1, 0.2, 0, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(shape_box(&s, centre, centre, &msg), STATUS_BAD_INPUT);
  ck_assert_int_eq(shape_half_space(&s, centre, centre, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_null(s);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("shape");
  TCase *c = tcase_create("shape");
  tcase_add_test(c, distances_are_those_worked_out_by_hand);
  tcase_add_test(c, a_cone_has_no_surface_on_its_axis);
  tcase_add_test(c, volumes_match_closed_forms);
  tcase_add_test(c, the_volume_of_a_thin_wall_is_found);
  tcase_add_test(c, the_volume_of_a_thin_plate_is_found_wherever_it_lies);
  tcase_add_test(c, a_grown_solid_holds_what_its_sections_say);
  tcase_add_test(c, room_between_solids_is_their_difference);
  tcase_add_test(c, solids_that_overlap_are_sampled);
  tcase_add_test(c, sampled_volumes_are_right_and_ask_little);
  tcase_add_test(c, operations_combine_and_clones_live_on);
  tcase_add_loop_test(c, bad_profiles_are_refused_by_point_or_edge, 0, sizeof bad_profiles / sizeof *bad_profiles);
  tcase_add_test(c, impossible_sizes_are_refused_by_name);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
