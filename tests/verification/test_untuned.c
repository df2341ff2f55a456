/* Cases that no part of the program was set by: the same limits, other numbers, other places on the grid.
 *
 * One-phase bodies: computed independently (front-fixing Landau transform, Chebyshev collocation; relative error below 1e-6). Cones:
 * cone_elements.h, a plain second way; it is first held against the values that the other cone checks use. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"
#include "cone_elements.h"

static const double RADIUS = 0.05; /* m */
static const size_t radius_cells[] = {20, 40};

typedef enum { SLAB, CYLINDER, SPHERE } body_kind;
static const char *const kind_name[] = {"slab", "cylinder", "sphere"};

typedef struct {
  body_kind kind;
  double stefan, biot, complete; /* complete: Fo */
  double offset;                 /* of the grid against the body, in cells; slab and cylinder fit it */
} body_case;

static const body_case bodies[] = {
  {SLAB, 0.2, 2, 5.269941599, 0},     {SLAB, 1.0, 20, 0.714432544, 0},     {SLAB, 2.0, INFINITY, 0.390038393, 0},
  {CYLINDER, 0.2, 0.5, 6.717849516, 0}, {CYLINDER, 0.5, INFINITY, 0.643576317, 0}, {CYLINDER, 1.0, 1, 1.025810631, 0},
  {CYLINDER, 1.0, 20, 0.418006232, 0}, {CYLINDER, 2.0, 2, 0.443678813, 0},
  {SPHERE, 0.2, 5, 1.348836648, 0.11}, {SPHERE, 0.2, 0.5, 4.599211458, 0.46}, {SPHERE, 0.2, 2, 1.909709202, 0.71},
  {SPHERE, 0.2, 2, 1.909709202, 0.93}};

static double unit_of(const constant_phases *p)
{
  return RADIUS * RADIUS * p->density * p->solid_specific_heat / p->solid_conductivity;
}

static void cool(bench_rig *b, int water, double biot, const constant_phases *p)
{
  if (isinf(biot))
    bench_rig_rule(b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, -20.0);
  else
    bench_rig_rule(b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, biot * p->solid_conductivity / RADIUS, -20.0);
}

static int build_body(bench_rig *b, const body_case *c, size_t cells, const constant_phases *p)
{
  bench_rig_init(b);
  if (c->kind == SPHERE) {
    const double h = RADIUS / ((double)cells - 0.41), centre[3] = {0.0, 0.0, 0.0};
    const size_t num[3] = {cells + 1, 1, 2 * cells + 2};
    const double low[3] = {0.0, 0.0, -h * ((double)cells + c->offset)};
    const double high[3] = {h * (double)num[0], 1.0, low[2] + h * (double)num[2]};
    shape *ball = NULL;
    bench_rig_grid(b, GRID_RZ, num, low, high, NULL);
    ck_assert_int_eq(shape_sphere(&ball, centre, RADIUS, NULL), STATUS_OK);
    return bench_rig_water(b, bench_rig_keep(b, ball), p, 0.0);
  }
  const size_t num[3] = {cells, 1, 1};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {RADIUS, 1.0, 1.0};
  const bool mirror[6] = {c->kind == SLAB, false, true, true, true, true};
  bench_rig_grid(b, c->kind == SLAB ? GRID_XYZ : GRID_RZ, num, low, high, mirror);
  return bench_rig_water(b, bench_rig_everywhere(b), p, 0.0);
}

static double march(bench_rig *b, double duration)
{
  bench_history h;
  bench_rig_run(b, bench_rig_exact(duration), &h);
  bench_rig_judge_ledger(&h);
  const double complete = h.complete;
  bench_rig_forget(&h);
  bench_rig_release(b);
  return complete;
}

START_TEST(bodies_of_other_numbers_freeze_on_time)
{
  static const double fitting[] = {0.3, 0.1}, cut[] = {0.3, 0.15}; /* percent */
  bench_rig_title("untuned: bodies");
  for (size_t i = 0; i < sizeof bodies / sizeof *bodies; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 2); level++) {
      const body_case *c = &bodies[i];
      const constant_phases p = bench_rig_set_ste(c->stefan);
      bench_rig b;
      cool(&b, build_body(&b, c, radius_cells[level], &p), c->biot, &p);
      bench_rig_judge(march(&b, c->complete * unit_of(&p)) / unit_of(&p), c->complete, c->kind == SPHERE ? cut[level] : fitting[level],
                      "%s Ste %g Bi %g, grid off by %g, %zu cells", kind_name[c->kind], c->stefan, c->biot, c->offset, radius_cells[level]);
    }
  bench_rig_verdict();
}
END_TEST

/* The values of the cone checks in test_cut_shapes.c, which a program that is not here computed. */
START_TEST(a_second_way_finds_the_same_times_of_the_cone)
{
  const constant_phases w = bench_rig_set_w(0.0);
  const cone_elements cases[] = {
    {.height = 1.6, .stefan = 0.2, .biot = INFINITY, .conductivity = 1.0, .heat_capacity = 1.0},
    {.height = 1.6, .stefan = 0.2, .biot = 2.0, .conductivity = 1.0, .heat_capacity = 1.0},
    {.height = 1.6, .stefan = 20.0 * w.solid_specific_heat / w.latent_heat, .biot = 2.0,
     .conductivity = w.liquid_conductivity / w.solid_conductivity, .heat_capacity = w.liquid_specific_heat / w.solid_specific_heat,
     .superheat = 0.5}};
  const double want[] = {0.41513, 1.04850, 1.75493};
  bench_rig_title("cone, height 1.6 R: finite elements of this folder against the values in use");
  for (int i = 0; i < 3; i++)
    bench_rig_judge(cone_elements_extrapolated(&cases[i], 80), want[i], 0.03, "cone %d", i + 1);
  bench_rig_verdict();
}
END_TEST

static double march_cone(const cone_elements *c, size_t cells, double fourier)
{
  const constant_phases p = bench_rig_set_ste(c->stefan);
  const double height = c->height * RADIUS, h = RADIUS / ((double)cells - 0.41);
  const size_t num[3] = {cells + 1, 1, (size_t)ceil(height / h) + 2};
  const double low[3] = {0.0, 0.0, -0.27 * h}, high[3] = {h * (double)num[0], 1.0, low[2] + h * (double)num[2]};
  const double section[3][2] = {{0.0, 0.0}, {RADIUS, height}, {0.0, height}};
  shape *cone = NULL;
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_RZ, num, low, high, NULL);
  ck_assert_int_eq(shape_revolved(&cone, section, 3, NULL), STATUS_OK);
  cool(&b, bench_rig_water(&b, bench_rig_keep(&b, cone), &p, 0.0), c->biot, &p);
  return march(&b, fourier * unit_of(&p)) / unit_of(&p);
}

START_TEST(flat_and_tall_cones_freeze_on_time)
{
  const double heights[] = {0.8, 3.0}, limit[] = {0.3, 0.15};
  bench_rig_title("untuned: cones");
  for (int i = 0; i < 2; i++) {
    const cone_elements c = {.height = heights[i], .stefan = 0.2, .biot = 2.0, .conductivity = 1.0, .heat_capacity = 1.0};
    const double want = cone_elements_extrapolated(&c, bench_rig_brief() ? 40 : 80);
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 2); level++)
      bench_rig_judge(march_cone(&c, radius_cells[level], want), want, limit[level], "cone of height %g R, Ste 0.2 Bi 2, %zu cells",
                      heights[i], radius_cells[level]);
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("cases nothing was set by");
  TCase *tcase = tcase_create("untuned");
  tcase_add_test(tcase, bodies_of_other_numbers_freeze_on_time);
  if (!bench_rig_brief()) /* nothing but this folder's own code */
    tcase_add_test(tcase, a_second_way_finds_the_same_times_of_the_cone);
  tcase_add_test(tcase, flat_and_tall_cones_freeze_on_time);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
