/* A thin tube in a coarse grid, against exact conduction from line and ring sources. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/coil_well.h"

static const double pi = 3.14159265358979323846;

typedef struct {
  grid *g;
  shape *whole, *inner;
  mesh *m;
} domain;

/* A rectangle of the half plane filled with part 0; with inner_radius > 0 part 1 fills r < inner_radius. */
static domain domain_create(const double *r_edges, size_t num_r, const double *z_edges, size_t num_z, double inner_radius)
{
  domain d = {0};
  message msg = {""};
  const size_t num[3] = {num_r, 1, num_z};
  const double *const edges[3] = {r_edges, NULL, z_edges};
  const bool mirror[6] = {false};
  ck_assert_msg(grid_create(&d.g, GRID_RZ, num, edges, mirror, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(shape_cylinder(&d.whole, 2.0 * r_edges[num_r], z_edges[0] - 1.0, z_edges[num_z] + 1.0, &msg) == STATUS_OK, "%s",
                msg.text);
  mesh_layer layers[2] = {{.kind = MESH_SOLID, .region = d.whole}};
  if (inner_radius > 0.0) {
    ck_assert_msg(shape_cylinder(&d.inner, inner_radius, z_edges[0] - 1.0, z_edges[num_z] + 1.0, &msg) == STATUS_OK, "%s",
                  msg.text);
    layers[1] = (mesh_layer){.kind = MESH_SOLID, .region = d.inner};
  }
  ck_assert_msg(mesh_create(&d.m, d.g, layers, inner_radius > 0.0 ? 2 : 1, 0, &msg) == STATUS_OK, "%s", msg.text);
  return d;
}

static void domain_destroy(domain *d)
{
  mesh_destroy(&d->m);
  shape_destroy(&d->whole);
  shape_destroy(&d->inner);
  grid_destroy(&d->g);
}

static double *even_edges(double low, double high, size_t num)
{
  double *e = malloc((num + 1) * sizeof *e);
  ck_assert_ptr_nonnull(e);
  for (size_t i = 0; i <= num; i++) {
    e[i] = low + (high - low) * (double)i / (double)num;
  }
  return e;
}

/* y = A x: steady conduction with k = 1 and every outer surface held at 0, by the half-cell distance. */
static void apply(const mesh *m, const double *wall, const double *x, double *y)
{
  for (size_t n = 0; n < m->num_nodes; n++) {
    y[n] = wall[n] * x[n];
  }
  for (int axis = 0; axis < 3; axis += 2) {
    const size_t step = axis == 0 ? 1 : m->grid->num[0];
    for (size_t n = 0; m->regular[axis] && n < grid_num_cells(m->grid); n++) {
      if (m->regular[axis][n] > 0.0) {
        const double flow = m->regular[axis][n] * (x[n] - x[n + step]);
        y[n] += flow;
        y[n + step] -= flow;
      }
    }
  }
}

static double dot(const double *a, const double *b, size_t num)
{
  double sum = 0.0;
  for (size_t n = 0; n < num; n++) {
    sum += a[n] * b[n];
  }
  return sum;
}

/* Mean potential at the tube's nodes for 1 W/m of tube, by conjugate gradients. */
static double mean_at_tube(const mesh *m, const coil_well *w)
{
  const size_t num = m->num_nodes;
  double *wall = calloc(num, sizeof *wall), *x = calloc(num, sizeof *x), *r = calloc(num, sizeof *r);
  double *p = calloc(num, sizeof *p), *y = calloc(num, sizeof *y);
  ck_assert(wall && x && r && p && y);
  for (size_t f = 0; f < m->num_interfaces; f++) {
    const mesh_interface *i = &m->interfaces[f];
    ck_assert_int_eq(i->part[1], MESH_VOID);
    wall[i->node[0]] += i->area[0] / i->distance[0];
  }
  for (size_t n = 0; n < w->num; n++) {
    p[w->node[n]] = r[w->node[n]] = w->length * w->weight[n];
  }
  double square = dot(r, r, num);
  const double first = square;
  for (int step = 0; step < 5000 && square > 1e-24 * first; step++) {
    apply(m, wall, p, y);
    const double length = square / dot(p, y, num);
    for (size_t n = 0; n < num; n++) {
      x[n] += length * p[n];
      r[n] -= length * y[n];
    }
    const double next = dot(r, r, num);
    for (size_t n = 0; n < num; n++) {
      p[n] = r[n] + next / square * p[n];
    }
    square = next;
  }
  ck_assert_double_le(square, 1e-20 * first);
  double mean = 0.0;
  for (size_t n = 0; n < w->num; n++) {
    mean += w->weight[n] * x[w->node[n]];
  }
  free(wall);
  free(x);
  free(r);
  free(p);
  free(y);
  return mean;
}

/* Conformal radius over w of a square of side w about (x, z) in units of w: the potential of a line source with its walls at 0 is
 * ln(that w / a) / (2 pi) at the small radius a. Method of images: a strip in closed form, mirrored in the other direction
 * (Carslaw & Jaeger 1959, ch. 14). In the middle it is 0.5393526 = 1.0787 / 2, the handbook shape factor of a tube in a square. */
static double conformal_radius(double x, double z)
{
  double sum = log(2.0 / pi * sin(pi * x));
  for (int n = -20; n <= 20; n++) {
    for (int mirrored = 0; mirrored < 2; mirrored++) {
      if (n == 0 && !mirrored) {
        continue;
      }
      const double apart = (mirrored ? -z : z) + 2.0 * n - z;
      const double c = cosh(pi * apart);
      sum += (mirrored ? -0.5 : 0.5) * log((c - cos(2.0 * pi * x)) / (c - 1.0));
    }
  }
  return exp(sum);
}

static const double tube_over_cell[] = {0.05, 0.1, 0.25, 0.5, 1.0};
static const double place_in_cell[][2] = {{0.5, 0.5}, {0.0, 0.5}, {0.5, 0.0}, {0.0, 0.0}, {0.3, 0.1}, {0.82, 0.61}};

/* A square duct far from the axis, where a ring is a straight tube. _i picks tube size and place. */
START_TEST(tube_in_a_square_duct_takes_the_exact_heat)
{
  const double h = 0.01, *place = place_in_cell[_i / 5], tube = tube_over_cell[_i % 5] * h;
  const size_t num = 17;
  const double w = (double)num * h, far = 4000.0 * w;
  ck_assert_double_eq_tol(conformal_radius(0.5, 0.5), 0.5393526011884, 1e-12);
  double *r = even_edges(far, far + w, num), *z = even_edges(0.0, w, num);
  domain d = domain_create(r, num, z, num, 0.0);
  const double x = (8.0 + place[0]) * h, up = (8.0 + place[1]) * h;
  coil_well well;
  message msg = {""};
  ck_assert_msg(coil_well_create(&well, d.m, 0, far + x, up, tube, false, &msg) == STATUS_OK, "%s", msg.text);
  const double got = 1.0 / (mean_at_tube(d.m, &well) + well.length / well.geometric);
  const double want = 2.0 * pi / log(conformal_radius(x / w, up / w) * w / tube);
  ck_assert_double_eq_tol(got, want, (tube < 0.2 * h ? 0.01 : 0.02) * want); /* the requirement; met with a tenth of it: */
  ck_assert_double_eq_tol(got, want, 0.0015 * want);
  coil_well_release(&well);
  domain_destroy(&d);
  free(r);
  free(z);
}
END_TEST

/* Rings in a closed cylinder with all walls at 0: mean rise on the tube circle of radius 4 mm for 100 W/m in k = 2.2, by the exact
 * Bessel series (Carslaw & Jaeger 1959, ch. 14; 6000 terms, summed independently). The second ring is tight: r0 = 25 mm. */
static const struct { double r_outer, r0, z0, rise; size_t num_r, num_z; } rings[] = {
    {0.21, 0.105, 0.135, 27.057215510, 7, 10},  {0.21, 0.105, 0.135, 27.057215510, 14, 20},
    {0.21, 0.105, 0.135, 27.057215510, 35, 50}, {0.20, 0.025, 0.155, 25.424886908, 20, 30},
    {0.20, 0.025, 0.155, 25.424886908, 60, 90}};
START_TEST(ring_in_a_cylinder_takes_the_exact_heat)
{
  double *r = even_edges(0.0, rings[_i].r_outer, rings[_i].num_r), *z = even_edges(0.0, 0.3, rings[_i].num_z);
  domain d = domain_create(r, rings[_i].num_r, z, rings[_i].num_z, 0.0);
  coil_well well;
  message msg = {""};
  ck_assert_msg(coil_well_create(&well, d.m, 0, rings[_i].r0, rings[_i].z0, 0.004, false, &msg) == STATUS_OK, "%s", msg.text);
  const double rise = 100.0 / 2.2 * (mean_at_tube(d.m, &well) + well.length / well.geometric);
  ck_assert_double_eq_tol(rise, rings[_i].rise, 0.005 * rings[_i].rise);
  coil_well_release(&well);
  domain_destroy(&d);
  free(r);
  free(z);
}
END_TEST

/* Stretched spacing (growth 1.12 both ways from the duct's middle): the radius must come from the true spacings. */
START_TEST(stretched_spacing_is_as_good)
{
  enum { NUM = 24 };
  const double far = 700.0;
  double r[NUM + 1], z[NUM + 1];
  for (int n = 0; n <= NUM; n++) {
    const double x = (n - NUM / 2) / 2.0;
    z[n] = 0.05 * sinh(0.24 * x) / sinh(0.24 * NUM / 4.0);
    r[n] = far + 0.05 * (n - NUM / 2) / (NUM / 2.0);
  }
  domain d = domain_create(r, NUM, z, NUM, 0.0);
  coil_well well;
  ck_assert_int_eq(coil_well_create(&well, d.m, 0, far + 0.001, -0.0022, 0.001, false, NULL), STATUS_OK);
  const double got = 1.0 / (mean_at_tube(d.m, &well) + well.length / well.geometric);
  const double want = 2.0 * pi / log(conformal_radius(0.51, 0.5 - 0.022) * 0.1 / 0.001);
  ck_assert_double_eq_tol(got, want, 0.01 * want);
  coil_well_release(&well);
  domain_destroy(&d);
}
END_TEST

START_TEST(weights_sum_to_one_about_the_tube)
{
  double *r = even_edges(1.0, 1.2, 20), *z = even_edges(0.0, 0.2, 20);
  domain d = domain_create(r, 20, z, 20, 0.0);
  coil_well well;
  ck_assert_int_eq(coil_well_create(&well, d.m, 0, 1.0937, 0.0811, 0.004, false, NULL), STATUS_OK);
  double sum = 0.0, at_r = 0.0, at_z = 0.0;
  for (size_t n = 0; n < well.num; n++) {
    ck_assert_double_gt(well.weight[n], 0.0);
    sum += well.weight[n];
    at_r += well.weight[n] * d.m->centroid[well.node[n]][0];
    at_z += well.weight[n] * d.m->centroid[well.node[n]][2];
  }
  ck_assert_double_eq_tol(sum, 1.0, 1e-14);
  ck_assert_double_eq_tol(at_r, 1.0937, 1e-9);
  ck_assert_double_eq_tol(at_z, 0.0811, 1e-12);
  ck_assert_double_eq_tol(well.length, 2.0 * pi * 1.0937, 1e-12);
  coil_well_release(&well);
  domain_destroy(&d);
  free(r);
  free(z);
}
END_TEST

/* Centred on a corner of four cells and on a cell: the shares of the cross-section are plain geometry. */
START_TEST(spread_shares_follow_the_cross_section)
{
  double *r = even_edges(0.0, 0.2, 20), *z = even_edges(0.0, 0.2, 20);
  domain d = domain_create(r, 20, z, 20, 0.0);
  coil_well well;
  ck_assert_int_eq(coil_well_create(&well, d.m, 0, 0.1, 0.1, 0.00635, true, NULL), STATUS_OK);
  ck_assert_uint_eq(well.num, 4);
  for (size_t n = 0; n < 4; n++) {
    ck_assert_double_eq_tol(well.weight[n], 0.25, 1e-12);
  }
  ck_assert_double_eq(well.geometric, 0.0);
  coil_well_release(&well);
  ck_assert_int_eq(coil_well_create(&well, d.m, 0, 0.095, 0.105, 0.003, true, NULL), STATUS_OK);
  ck_assert_uint_eq(well.num, 1);
  ck_assert_double_eq_tol(well.weight[0], 1.0, 1e-12);
  coil_well_release(&well);
  domain_destroy(&d);
  free(r);
  free(z);
}
END_TEST

/* r0, z0, tube radius; what the sentence must say. Part 1 fills r < 0.05. */
static const struct { double r0, z0, tube; const char *says; } refused[] = {
    {0.195, 0.1, 0.006, "leaves the grid"}, {0.1, 0.004, 0.006, "leaves the grid"}, {0.1, 0.25, 0.006, "leaves the grid"},
    {0.052, 0.1, 0.008, "reaches out of part 0"}, {0.025, 0.105, 0.001, "does not lie in part 0"}, {0.1, 0.1, 0.0, "above 0"},
    {0.005, 0.1, 0.006, "larger than its tube"}, {NAN, 0.1, 0.006, "above 0"}};
START_TEST(misplaced_tubes_are_refused_with_the_place)
{
  double *r = even_edges(0.0, 0.2, 20), *z = even_edges(0.0, 0.2, 20);
  domain d = domain_create(r, 20, z, 20, 0.05);
  coil_well well = {.num = 77};
  message msg = {""};
  ck_assert_int_eq(coil_well_create(&well, d.m, 0, refused[_i].r0, refused[_i].z0, refused[_i].tube, false, &msg),
                   STATUS_BAD_INPUT);
  ck_assert_msg(strstr(msg.text, refused[_i].says) != NULL, "said: %s", msg.text);
  ck_assert_uint_eq(well.num, 77);
  domain_destroy(&d);
  free(r);
  free(z);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("coil_well");
  TCase *tc = tcase_create("coil_well");
  tcase_add_loop_test(tc, tube_in_a_square_duct_takes_the_exact_heat, 0, 30);
  tcase_add_loop_test(tc, ring_in_a_cylinder_takes_the_exact_heat, 0, 5);
  tcase_add_test(tc, stretched_spacing_is_as_good);
  tcase_add_test(tc, weights_sum_to_one_about_the_tube);
  tcase_add_test(tc, spread_shares_follow_the_cross_section);
  tcase_add_loop_test(tc, misplaced_tubes_are_refused_with_the_place, 0, (int)(sizeof refused / sizeof refused[0]));
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? 0 : 1;
}
