/* The depth buffer: what is nearer hides what is farther whatever comes first, lengths across the sight are true, glass is counted only
 * before what is seen through it. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "io/canvas.h"
#include "io/solid_view.h"

enum { RED = 1, GREEN = 2 };
static const solid_plane EVERYWHERE = {0, 0.0, 1.0};

static solid_vertex at(double x, double y, double z, double carried)
{
  return (solid_vertex){.place = {(float)x, (float)y, (float)z}, .normal = {0.0f, -1.0f, 0.0f}, .carried = (float)carried};
}

/* A square upright at y, 2 m across; carries x. */
static solid_triangles square(double y, double tilt)
{
  solid_triangles t = {NULL, 0, 0};
  const solid_vertex v[4] = {at(-1, y - tilt, -1, -1), at(1, y + tilt, -1, 1), at(1, y + tilt, 1, 1), at(-1, y - tilt, 1, -1)};
  ck_assert_int_eq(solid_surface_add(&t, (const solid_vertex[3]){v[0], v[1], v[2]}, NULL), STATUS_OK);
  ck_assert_int_eq(solid_surface_add(&t, (const solid_vertex[3]){v[0], v[2], v[3]}, NULL), STATUS_OK);
  return t;
}

/* From -y, level: x to the right, z up. */
static solid_view front_view(void)
{
  solid_view v = {0};
  solid_view_look(&v, 0.0, 0.0);
  solid_view_empty(&v);
  for (int corner = 0; corner < 4; corner++)
    solid_view_cover(&v, (double[3]){corner & 1 ? 1.5 : -1.5, 0.3, corner & 2 ? 1.5 : -1.5});
  ck_assert_int_eq(solid_view_open(&v, 300.0, 400.0, NULL), STATUS_OK);
  return v;
}

static uint8_t kind_at(const solid_view *v, double x, double y, double z)
{
  double column, row;
  solid_view_sample(v, (double[3]){x, y, z}, &column, &row);
  return v->kind[(size_t)row * (size_t)v->width + (size_t)column];
}

static void draw(solid_view *v, const solid_triangles *t, uint8_t kind)
{
  const solid_paint paint[2] = {{.shown = true, .ink = {0.5, 0.5, 0.5, 1.0}, .kind = kind}, {.shown = true, .ink = {0.5, 0.5, 0.5, 1.0}, .kind = kind}};
  solid_view_draw(v, t, paint, &EVERYWHERE);
}

START_TEST(two_that_run_through_each_other_each_hide_the_half_behind)
{
  solid_triangles level = square(0.0, 0.0), slanting = square(0.0, 0.4); /* nearer on the left */
  for (int turn = 0; turn < 2; turn++) {
    solid_view v = front_view();
    draw(&v, turn ? &level : &slanting, turn ? RED : GREEN);
    draw(&v, turn ? &slanting : &level, turn ? GREEN : RED);
    ck_assert_int_eq(kind_at(&v, -0.5, 0.0, 0.2), GREEN);
    ck_assert_int_eq(kind_at(&v, 0.5, 0.0, 0.2), RED);
    ck_assert_int_eq(kind_at(&v, 1.2, 0.0, 0.2), 0);
    solid_view_release(&v);
  }
  solid_surface_release(&level);
  solid_surface_release(&slanting);
}
END_TEST

START_TEST(lengths_across_the_sight_are_true)
{
  solid_view v = {0};
  solid_view_look(&v, 0.7, 0.4);
  double sum = 0.0;
  for (int axis = 0; axis < 3; axis++)
    sum += v.right[axis] * v.right[axis];
  ck_assert_double_eq_tol(sum, 1.0, 1e-14);
  for (int axis = 0; axis < 3; axis++) { /* right x up = towards the one who looks */
    const int i = (axis + 1) % 3, j = (axis + 2) % 3;
    ck_assert_double_eq_tol(v.right[i] * v.up[j] - v.right[j] * v.up[i], v.to[axis], 1e-14);
  }
  solid_view_empty(&v);
  solid_view_cover(&v, (double[3]){-1, -1, -1});
  solid_view_cover(&v, (double[3]){1, 1, 1});
  ck_assert_int_eq(solid_view_open(&v, 500.0, 500.0, NULL), STATUS_OK);
  double a[2], b[2];
  solid_view_sample(&v, (double[3]){0.1, 0.2, 0.3}, &a[0], &a[1]);
  solid_view_sample(&v, (double[3]){0.1 + 0.37 * v.right[0], 0.2 + 0.37 * v.right[1], 0.3 + 0.37 * v.right[2]}, &b[0], &b[1]);
  ck_assert_double_eq_tol(b[0] - a[0], 0.37 * v.scale, 1e-9);
  ck_assert_double_eq_tol(b[1], a[1], 1e-9);
  solid_view_release(&v);
}
END_TEST

START_TEST(paint_goes_by_what_is_carried_and_by_the_plane)
{
  solid_triangles t = square(0.0, 0.0);
  solid_view v = front_view();
  const solid_paint paint[2] = {{.shown = true, .kind = RED}, {.shown = true, .kind = GREEN, .cut = true}};
  solid_view_draw(&v, &t, paint, &(solid_plane){.axis = 2, .at = 0.25, .side = -1.0});
  ck_assert_int_eq(kind_at(&v, 0.4, 0.0, 0.6), RED);
  ck_assert_int_eq(kind_at(&v, 0.4, 0.0, 0.0), RED);
  ck_assert_int_eq(kind_at(&v, -0.4, 0.0, 0.2), GREEN);
  ck_assert_int_eq(kind_at(&v, -0.4, 0.0, 0.3), 0); /* cut away */
  solid_view_release(&v);
  solid_surface_release(&t);
}
END_TEST

START_TEST(glass_counts_before_a_solid_and_not_behind_it)
{
  solid_triangles solid = square(0.0, 0.0), near = square(-0.5, 0.0), far = square(0.5, 0.0);
  solid_view v = front_view();
  draw(&v, &solid, RED);
  const size_t middle = (size_t)(v.height / 2) * (size_t)v.width + (size_t)(v.width / 2) + 7;
  solid_view_draw_glass(&v, &far, 1.0);
  ck_assert_float_eq(v.glass[middle], 0.0f);
  solid_view_draw_glass(&v, &near, 1.0);
  ck_assert_float_gt(v.glass[middle], 0.0f);
  ck_assert_float_lt(v.glass[middle], 0.2f);
  uint32_t *pixels = malloc((size_t)v.width * (size_t)v.height * sizeof *pixels);
  solid_view_compose(&v, (colour){0.0, 0.0, 1.0, 1.0}, pixels);
  ck_assert_uint_eq(pixels[middle] >> 24, 255);
  ck_assert_uint_gt(pixels[middle] & 255, pixels[middle] >> 16 & 255); /* grey, bluer through the glass */
  ck_assert_uint_eq(pixels[3], 0);                                      /* nothing there */
  free(pixels);
  solid_view_release(&v);
  solid_surface_release(&solid);
  solid_surface_release(&near);
  solid_surface_release(&far);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("solid view");
  TCase *view = tcase_create("view");
  tcase_add_test(view, two_that_run_through_each_other_each_hide_the_half_behind);
  tcase_add_test(view, lengths_across_the_sight_are_true);
  tcase_add_test(view, paint_goes_by_what_is_carried_and_by_the_plane);
  tcase_add_test(view, glass_counts_before_a_solid_and_not_behind_it);
  suite_add_tcase(suite, view);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? 1 : 0;
}
