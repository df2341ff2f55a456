/* Room for a liquid inside solids that are drawn with their walls. Volumes and levels by hand. */
#include "geometry/triangle_hollow.h"

#include <check.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "geometry/shape_triangles.h"
#include "geometry/triangle_flats.h"
#include "triangle_solids.h"

/* A square cup, 6 by 6 and 5 high, with a room of 4 by 4 from 1 up; the rim is as high as given at the left and at the right. */
static void cup_text(char text[1024], double left, double right)
{
  (void)snprintf(text, 1024,
                 "v 0 0 0\nv 6 0 0\nv 6 6 0\nv 0 6 0\nv 0 0 %g\nv 6 0 %g\nv 6 6 %g\nv 0 6 %g\nv 1 1 %g\nv 5 1 %g\nv 5 5 %g\nv 1 5 %g\n"
                 "v 1 1 1\nv 5 1 1\nv 5 5 1\nv 1 5 1\n"
                 "f 1 4 3 2\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\nf 5 6 10 9\nf 6 7 11 10\nf 7 8 12 11\nf 8 5 9 12\n"
                 "f 9 10 14 13\nf 10 11 15 14\nf 11 12 16 15\nf 12 9 13 16\nf 13 14 15 16\n",
                 left, right, right, left, left, right, right, left);
}

static triangle_surface surface_of(triangle_file *f)
{
  triangle_surface s;
  message msg = {""};
  ck_assert_msg(triangle_surface_create(&s, f, "a.obj", &msg) == STATUS_OK, "%s", msg.text);
  return s;
}

static triangle_file cup(double left, double right)
{
  char text[1024];
  triangle_file f;
  message msg = {""};
  cup_text(text, left, right);
  ck_assert_msg(triangle_file_read(&f, "a.obj", text, strlen(text), &msg) == STATUS_OK, "%s", msg.text);
  return f;
}

static void move(triangle_file *f, double x)
{
  for (size_t i = 0; i < f->num_points; i++) f->points[i][0] += x;
}

/* Judges the hollow of f (released): open or not, rim, number, volume up to the rim. Returned: its shape. */
static shape *hollow_of(triangle_file *f, bool open, double rim, size_t num, double volume)
{
  triangle_surface s = surface_of(f);
  triangle_hollow h;
  shape *inside = NULL;
  message msg = {""};
  ck_assert_msg(triangle_hollow_find(&h, &s, "a.obj", &msg) == STATUS_OK, "%s", msg.text);
  triangle_surface_release(&s);
  ck_assert(h.open == open);
  ck_assert_double_eq_tol(h.rim, rim, 1e-7);
  ck_assert_uint_eq(h.num, num);
  const double up_to = h.rim;
  ck_assert_msg(shape_triangles(&inside, &h.surface, "a.obj", &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_double_eq_tol(shape_volume_below(inside, false, up_to, 1e-6), volume, 1e-5 * volume);
  return inside;
}

START_TEST(a_cup_holds_water_up_to_its_rim)
{
  triangle_file f = cup(5, 5);
  shape *inside = hollow_of(&f, true, 5, 1, 64);
  ck_assert_double_eq_tol(shape_volume_below(inside, false, 3, 1e-6), 32, 1e-9);
  ck_assert_double_eq_tol(shape_distance(inside, (double[3]){3, 3, 2}), -1, 1e-9);
  ck_assert_double_eq_tol(shape_distance(inside, (double[3]){4.5, 3, 4}), -0.5, 1e-9);
  ck_assert_double_eq_tol(shape_distance(inside, (double[3]){2.5, 0.7, 7}), shape_distance(inside, (double[3]){3.5, 5.3, 7}), 1e-9); /* as symmetric as the cup */
  ck_assert_double_eq_tol(shape_distance(inside, (double[3]){0.5, 3, 3}), 0.5, 1e-9);  /* in the wall */
  ck_assert_double_eq_tol(shape_distance(inside, (double[3]){-0.5, 3, 3}), 1.5, 1e-9); /* beside the cup */
  ck_assert_double_eq_tol(shape_distance(inside, (double[3]){3, 3, 0.5}), 0.5, 1e-9);  /* in the floor */
  shape_destroy(&inside);
}
END_TEST

START_TEST(it_runs_over_where_the_rim_is_lowest)
{
  triangle_file f = cup(4, 5);
  shape *inside = hollow_of(&f, true, 4, 1, 48);
  shape_destroy(&inside);
}
END_TEST

START_TEST(cups_beside_each_other_are_filled_together)
{
  triangle_file f = cup(5, 5), other = cup(5, 5);
  move(&other, 10);
  triangle_solids_append(&f, &other);
  shape *inside = hollow_of(&f, true, 5, 2, 128);
  shape_destroy(&inside);
}
END_TEST

START_TEST(a_cavity_closed_all_round_is_a_hollow)
{
  triangle_file f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){6, 6, 6}), other = triangle_solids_box((double[3]){1, 1, 1}, (double[3]){5, 4, 3});
  triangle_solids_turn_over(&other, 0, 1);
  triangle_solids_append(&f, &other);
  shape *inside = hollow_of(&f, false, 3, 1, 24);
  ck_assert_double_eq_tol(shape_distance(inside, (double[3]){3, 2, 2}), -1, 1e-9);
  shape_destroy(&inside);
}
END_TEST

/* The cup's flat faces: along x four of 6 x 5 and 4 x 4; along z below 6 x 6, in it 4 x 4, the rim 20. */
START_TEST(flat_faces_are_found_where_they_are)
{
  static const triangle_flat along_x[] = {{0, -1, 30}, {6, 1, 30}, {1, 1, 16}, {5, -1, 16}}, along_z[] = {{0, -1, 36}, {5, 1, 20}, {1, 1, 16}};
  triangle_file f = cup(5, 5);
  triangle_surface s = surface_of(&f);
  triangle_flat found[TRIANGLE_FLATS_MOST];
  ck_assert_uint_eq(triangle_flats_find(&s, 0, INFINITY, 0.02, found), 4);
  for (int i = 0; i < 4; i++) {
    bool known = false;
    for (int k = 0; k < 4; k++)
      known = known || (fabs(found[i].at - along_x[k].at) < 1e-9 && found[i].outward == along_x[k].outward && fabs(found[i].area - along_x[k].area) < 1e-9);
    ck_assert(known);
  }
  ck_assert_uint_eq(triangle_flats_find(&s, 2, INFINITY, 0.02, found), 3);
  for (int i = 0; i < 3; i++) {
    ck_assert_double_eq_tol(found[i].at, along_z[i].at, 1e-9);
    ck_assert_int_eq(found[i].outward, along_z[i].outward);
    ck_assert_double_eq_tol(found[i].area, along_z[i].area, 1e-9);
  }
  ck_assert_uint_eq(triangle_flats_find(&s, 2, 2, 0.02, found), 2);        /* below z = 2 only floor and bottom */
  ck_assert_uint_eq(triangle_flats_find(&s, 2, INFINITY, 0.13, found), 1); /* of 256 in all */
  triangle_surface_release(&s);
}
END_TEST

START_TEST(what_holds_nothing_is_refused)
{
  for (int which = 0; which < 2; which++) {
    triangle_file f = which == 0 ? triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1}) : cup(5, 5);
    for (size_t i = 0; i < f.num_points && which == 1; i++) { /* upside down: turned about the x axis */
      f.points[i][1] *= -1;
      f.points[i][2] *= -1;
    }
    triangle_surface s = surface_of(&f);
    triangle_hollow h;
    message msg = {""};
    ck_assert_int_eq(triangle_hollow_find(&h, &s, "a.obj", &msg), STATUS_BAD_INPUT);
    ck_assert_msg(strstr(msg.text, "no hollow") != NULL, "%s", msg.text);
    ck_assert_ptr_null(h.surface.points);
    triangle_surface_release(&s);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("triangle_hollow");
  TCase *c = tcase_create("triangle_hollow");
  tcase_add_test(c, a_cup_holds_water_up_to_its_rim);
  tcase_add_test(c, it_runs_over_where_the_rim_is_lowest);
  tcase_add_test(c, cups_beside_each_other_are_filled_together);
  tcase_add_test(c, a_cavity_closed_all_round_is_a_hollow);
  tcase_add_test(c, flat_faces_are_found_where_they_are);
  tcase_add_test(c, what_holds_nothing_is_refused);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
