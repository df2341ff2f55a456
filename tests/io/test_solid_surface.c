/* Surfaces by tetrahedra: closed, in the right place, of the right size, against closed forms. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/solid_surface.h"

static const double PI = 3.14159265358979323846;

typedef struct { solid_lattice lattice; float *level, *carried; size_t num; } field;

/* level = radius - distance from a point off every plane of the lattice; carried = z. Steps along x grow. */
static field ball(size_t num, double radius)
{
  field f = {.lattice = {.num = {num, num + 3, num + 1}}};
  for (int axis = 0; axis < 3; axis++) {
    const size_t points = f.lattice.num[axis];
    f.lattice.at[axis] = malloc(points * sizeof(double));
    for (size_t i = 0; i < points; i++) {
      const double x = -1.0 + 2.0 * (double)i / (double)(points - 1);
      f.lattice.at[axis][i] = axis == 0 ? x + 0.1 * x * x : x;
    }
  }
  f.num = num * (num + 3) * (num + 1);
  f.level = malloc(f.num * sizeof *f.level);
  f.carried = malloc(f.num * sizeof *f.carried);
  for (size_t i = 0; i < f.num; i++) {
    const double x = f.lattice.at[0][i % num] - 0.013, y = f.lattice.at[1][i / num % (num + 3)] + 0.021,
                 z = f.lattice.at[2][i / (num * (num + 3))] - 0.037;
    f.level[i] = (float)(radius - sqrt(x * x + y * y + z * z));
    f.carried[i] = (float)f.lattice.at[2][i / (num * (num + 3))];
  }
  return f;
}

static void release(field *f)
{
  for (int axis = 0; axis < 3; axis++)
    free(f->lattice.at[axis]);
  free(f->level);
  free(f->carried);
}

/* All of the surface. */
static solid_triangles all_of(const field *f, float at, float less)
{
  solid_triangles all = {NULL, 0, 0}, layer = {NULL, 0, 0};
  for (size_t k = 0; k + 1 < f->lattice.num[2]; k++) {
    ck_assert_int_eq(solid_surface_layer(&layer, &f->lattice, &(solid_surface_fields){f->level, f->carried, at, less}, k, NULL), STATUS_OK);
    for (size_t i = 0; i < layer.num; i += 3)
      ck_assert_int_eq(solid_surface_add(&all, &layer.corner[i], NULL), STATUS_OK);
  }
  solid_surface_release(&layer);
  return all;
}

typedef struct { double normal[3], middle[3]; } facet; /* the normal as long as the area */

static facet facet_of(const solid_vertex c[3])
{
  facet f;
  double a[3], b[3];
  for (int axis = 0; axis < 3; axis++) {
    a[axis] = (double)c[1].place[axis] - (double)c[0].place[axis];
    b[axis] = (double)c[2].place[axis] - (double)c[0].place[axis];
    f.middle[axis] = ((double)c[0].place[axis] + (double)c[1].place[axis] + (double)c[2].place[axis]) / 3.0;
  }
  for (int axis = 0; axis < 3; axis++)
    f.normal[axis] = 0.5 * (a[(axis + 1) % 3] * b[(axis + 2) % 3] - a[(axis + 2) % 3] * b[(axis + 1) % 3]);
  return f;
}

/* A field of distance is linear to second order: area and volume of a ball within a few times (step / radius)^2, here (1 / 14)^2 = 0.5 %. */
START_TEST(a_ball_has_its_area_and_volume)
{
  field f = ball(41, 0.7);
  solid_triangles t = all_of(&f, 0.0f, 0.0f);
  double area = 0.0, volume = 0.0;
  for (size_t i = 0; i < t.num; i += 3) {
    const facet one = facet_of(&t.corner[i]);
    const double size = sqrt(one.normal[0] * one.normal[0] + one.normal[1] * one.normal[1] + one.normal[2] * one.normal[2]);
    double out = 0.0, reach = 0.0;
    for (int axis = 0; axis < 3; axis++) {
      out += one.normal[axis] * (double)t.corner[i].normal[axis];
      reach += one.normal[axis] * one.middle[axis];
    }
    area += size;
    volume += (out < 0.0 ? -reach : reach) / 3.0; /* theorem of Gauss, with the side that the gradient names */
  }
  ck_assert_double_eq_tol(area, 4.0 * PI * 0.49, 0.005 * 4.0 * PI * 0.49);
  ck_assert_double_eq_tol(volume, 4.0 / 3.0 * PI * 0.343, 0.005 * 4.0 / 3.0 * PI * 0.343);
  solid_surface_release(&t);
  release(&f);
}
END_TEST

static int in_order(const void *a, const void *b) { return memcmp(a, b, 6 * sizeof(float)); }

/* Each edge once from either side: no hole, no doubled piece. */
START_TEST(every_edge_belongs_to_two_triangles)
{
  field f = ball(24, 0.61);
  solid_triangles t = all_of(&f, 0.0f, 0.0f);
  float(*edge)[6] = malloc(t.num * sizeof *edge);
  for (size_t i = 0; i < t.num; i++) {
    const float *a = t.corner[i].place, *b = t.corner[i / 3 * 3 + (i + 1) % 3].place;
    const int first = memcmp(a, b, 3 * sizeof(float)) < 0;
    memcpy(edge[i], first ? a : b, 3 * sizeof(float));
    memcpy(edge[i] + 3, first ? b : a, 3 * sizeof(float));
  }
  ck_assert_uint_gt(t.num, 3000);
  qsort(edge, t.num, sizeof *edge, in_order);
  size_t wrong = 0;
  for (size_t i = 0; i < t.num;) {
    size_t same = 1;
    while (i + same < t.num && memcmp(edge[i], edge[i + same], sizeof *edge) == 0)
      same++;
    wrong += same % 2;
    i += same;
  }
  ck_assert_uint_eq(wrong, 0);
  free(edge);
  solid_surface_release(&t);
  release(&f);
}
END_TEST

START_TEST(corners_lie_on_the_level_look_outward_and_carry_the_other_field)
{
  field f = ball(41, 0.9);
  const float at = 0.25f, less = 0.125f; /* so a ball of 0.65 */
  solid_triangles t = all_of(&f, at, less);
  ck_assert_uint_gt(t.num, 10000);
  for (size_t i = 0; i < t.num; i++) {
    const solid_vertex *v = &t.corner[i];
    const double x = (double)v->place[0] - 0.013, y = (double)v->place[1] + 0.021, z = (double)v->place[2] - 0.037, radius = sqrt(x * x + y * y + z * z);
    /* Linear between points: off by step^2 / (8 radius). */
    ck_assert_double_eq_tol(radius, 0.65, 3.0 * 0.06 * 0.06 / (8.0 * 0.65));
    ck_assert_double_gt((x * (double)v->normal[0] + y * (double)v->normal[1] + z * (double)v->normal[2]) / radius, 0.995);
    ck_assert_double_eq_tol((double)v->carried, (double)v->place[2] - (double)less, 1e-6);
  }
  solid_surface_release(&t);
  release(&f);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("solid surface");
  TCase *surface = tcase_create("surface");
  tcase_add_test(surface, a_ball_has_its_area_and_volume);
  tcase_add_test(surface, every_edge_belongs_to_two_triangles);
  tcase_add_test(surface, corners_lie_on_the_level_look_outward_and_carry_the_other_field);
  suite_add_tcase(suite, surface);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? 1 : 0;
}
