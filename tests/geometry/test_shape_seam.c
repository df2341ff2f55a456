/* Seams between pieces: a fin is found where they overlap by less than twice the growth, and nowhere else. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "geometry/shape_seam.h"

static void ok(status code) { ck_assert_int_eq(code, STATUS_OK); }

static shape *box(double x0, double y0, double z0, double x1, double y1, double z1)
{
  shape *s = NULL;
  ok(shape_box(&s, (double[3]){x0, y0, z0}, (double[3]){x1, y1, z1}, NULL));
  return s;
}

static shape *both(shape *a, shape *b)
{
  shape *s = NULL;
  ok(shape_union(&s, a, b, NULL));
  return s;
}

static shape *without(shape *a, shape *b)
{
  shape *s = NULL;
  ok(shape_difference(&s, a, b, NULL));
  return s;
}

static const double wall = 0.003, overlaps[] = {0.0, 1e-4, 1e-3, 5.9e-3, 6.1e-3, 20e-3}; /* m */

/* Depth inside both boxes is at most half their overlap at the seam: less than the wall, for overlaps of less than twice that. */
START_TEST(pieces_that_overlap_by_less_than_two_walls_have_a_seam_inside)
{
  const double overlap = overlaps[_i];
  shape *s = both(box(0, 0, 0, 0.0473 + overlap, 0.06, 0.05), box(0.0473, 0, 0, 0.1, 0.06, 0.05));
  double at[3] = {NAN, NAN, NAN};
  ck_assert_int_eq(shape_seam_find(s, -wall, at), overlap < 2 * wall);
  if (overlap < 2 * wall)
    ck_assert_double_eq_tol(at[0], 0.0473 + 0.5 * overlap, 1e-6); /* in the middle of what they share */
  ck_assert(!shape_seam_find(s, wall, at)); /* outwards there is none */
  shape_destroy(&s);
}
END_TEST

START_TEST(what_is_taken_away_in_pieces_has_a_seam_outside)
{
  const double overlap = overlaps[_i];
  shape *s = without(without(box(0, 0, 0, 0.1, 0.09, 0.05), box(0.0333, 0.0309, -0.01, 0.0707, 0.1, 0.07)), box(-0.01, 0.0627, -0.01, 0.0333 + overlap, 0.1, 0.07));
  double at[3] = {NAN, NAN, NAN};
  ck_assert_int_eq(shape_seam_find(s, wall, at), overlap < 2 * wall);
  if (overlap < 2 * wall)
    ck_assert_double_eq_tol(at[0], 0.0333 + 0.5 * overlap, 1e-6);
  ck_assert(!shape_seam_find(s, -wall, at));
  shape_destroy(&s);
}
END_TEST

/* A body and its neck, both round: the neck's foot stands in the body by the overlap, and a wall inwards would close the neck where that is thin. */
START_TEST(a_neck_that_hardly_stands_in_its_body_has_a_seam)
{
  const double overlap = overlaps[_i];
  shape *body = NULL, *neck = NULL;
  ok(shape_cylinder(&body, 0.03, 0, 0.05, NULL));
  ok(shape_cylinder(&neck, 0.02, 0.05 - overlap, 0.12, NULL));
  shape *s = both(body, neck);
  double at[3] = {NAN, NAN, NAN};
  ck_assert_int_eq(shape_seam_find(s, -wall, at), overlap < 2 * wall);
  if (overlap < 2 * wall)
    ck_assert_double_eq_tol(at[2], 0.05 - 0.5 * overlap, 1e-6);
  ck_assert(!shape_seam_find(s, wall, at));
  shape_destroy(&s);
}
END_TEST

/* Edges inwards and outwards, sharp ones too, round bodies, a gap between pieces, one within the other, single pieces. */
START_TEST(edges_and_gaps_are_no_seams)
{
  shape *s[7] = {NULL}, *a = NULL, *b = NULL;
  const double centre[3] = {0.05, 0.03, 0.05}, middle[3] = {0, 0, 0.04}, slope[3] = {0.6, 0, -0.8}, origin[3] = {0, 0, 0};
  s[0] = both(box(0, 0, 0, 0.1, 0.04, 0.05), box(0, 0, 0, 0.04, 0.09, 0.05)); /* an L */
  ok(shape_sphere(&a, centre, 0.03, NULL));
  s[1] = both(box(0, 0, 0, 0.1, 0.06, 0.05), a); /* a ball on a block */
  s[2] = both(box(0, 0, 0, 0.05, 0.06, 0.05), box(0.051, 0, 0, 0.1, 0.06, 0.05)); /* a gap of 1 mm */
  s[3] = both(box(0, 0, 0, 0.1, 0.06, 0.05), box(0.02, 0.02, 0.02, 0.03, 0.03, 0.03));
  ok(shape_half_space(&a, origin, slope, NULL));
  ok(shape_intersection(&s[4], a, box(-0.05, 0, 0, 0.05, 0.03, 0.04), NULL)); /* a wedge of 37 degrees */
  ok(shape_sphere(&a, middle, 0.05, NULL));
  ok(shape_cylinder(&b, 0.02, 0, 0.2, NULL));
  s[5] = both(a, b); /* a flask */
  ok(shape_cylinder(&s[6], 0.02, 0, 0.2, NULL));
  for (int i = 0; i < 7; i++) {
    double at[3];
    ck_assert_msg(!shape_seam_find(s[i], wall, at), "shape %d, outwards: a seam at (%g, %g, %g)", i, at[0], at[1], at[2]);
    ck_assert_msg(!shape_seam_find(s[i], -wall, at), "shape %d, inwards: a seam at (%g, %g, %g)", i, at[0], at[1], at[2]);
    shape_destroy(&s[i]);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("shape_seam");
  TCase *c = tcase_create("shape_seam");
  tcase_add_loop_test(c, pieces_that_overlap_by_less_than_two_walls_have_a_seam_inside, 0, sizeof overlaps / sizeof *overlaps);
  tcase_add_loop_test(c, what_is_taken_away_in_pieces_has_a_seam_outside, 0, sizeof overlaps / sizeof *overlaps);
  tcase_add_loop_test(c, a_neck_that_hardly_stands_in_its_body_has_a_seam, 0, sizeof overlaps / sizeof *overlaps);
  tcase_add_test(c, edges_and_gaps_are_no_seams);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
