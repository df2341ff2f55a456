/* Stirred water: one temperature, films at its surfaces and at the ice. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "tests/solver/heat_scene.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

enum { CELLS = 40 };
static const double DEPTH = 0.2, FILM = 300.0, RHO = 1000.0, C_ICE = 2050.0, C_WATER = 4200.0, K_ICE = 2.2, LATENT = 334000.0;

typedef struct {
  heat_scene s;
  rig_body body;
} slab;

/* A slab of stirred water in x (mirrors at its sides) or in z of a cylinder; only its cold end is open. */
static void slab_create(slab *t, bool round, double start, surface_kind kind, double coefficient, double cold, integrator_kind integrator)
{
  *t = (slab){0};
  if (round)
    heat_scene_init(&t->s, GRID_RZ, (size_t[]){1, 1, CELLS}, (double[]){0.3, 0.0, DEPTH}, NULL);
  else
    heat_scene_init(&t->s, GRID_XYZ, (size_t[]){CELLS, 1, 1}, (double[]){DEPTH, 0.2, 0.3}, (bool[]){false, true, true, true, true, true});
  const material water = heat_scene_water();
  const int part = heat_scene_part(&t->s, MESH_SOLID, &water, start);
  heat_scene_paint(&t->s, part, 0, 0, round ? 1 : CELLS);
  t->body = (rig_body){.name = "water", .part = part, .flow = {.kind = MOTION_STIRRED, .film_coefficient = FILM}};
  t->s.r.num_bodies = 1;
  t->s.r.bodies = &t->body;
  heat_scene_rule(&t->s, kind, part, MESH_VOID, round ? FACES_BOTTOM : FACES_SIDE, coefficient, cold);
  heat_scene_open(&t->s);
  heat_scene_step(&t->s, integrator, integrator == INTEGRATOR_BDF ? 1e-5 : 0.01);
}

static double far_temperature(const slab *t)
{
  return heat_scene_temperature(&t->s, CELLS - 1);
}

/* No ice: m c dT/dt = -A (T - T_e) / (1 / h + 1 / h_s), an exponential, exact. */
START_TEST(it_cools_as_one_lump_behind_its_film)
{
  slab t;
  slab_create(&t, _i % 2, 9.0, SURFACE_FILM, 150.0, 1.0, _i / 2 ? INTEGRATOR_BDF : INTEGRATOR_STABILISED);
  while (t.s.state.time < 3600.0)
    heat_scene_advance(&t.s, fmin(60.0, 3600.0 - t.s.state.time));
  const double rate = 1.0 / (1.0 / 150.0 + 1.0 / FILM) / (RHO * C_WATER * DEPTH);
  for (size_t node = 0; node < CELLS; node++)
    assert_close(heat_scene_temperature(&t.s, node) - 1.0, 8.0 * exp(-rate * 3600.0), 0.002);
  ck_assert_double_lt(fabs(heat_scene_residual(&t.s)), 1e-9);
  heat_scene_release(&t.s);
}
END_TEST

/* Limits: a twelfth of a cell, 0.1 K.
 * Computed independently: the ice on a grid that moves with the front (x = y s, 60 even steps, explicit), the water a lump behind a film,
 *   rho (L + c T) ds/dt = k T_x(s) - h T,   rho c (depth - s) dT/dt = -h T
 * (what freezes gives up its own warmth there). */
typedef struct {
  double front, warmth;
} lump;

static lump lump_at(double time, double start, double cold)
{
  enum { STEPS = 60 };
  double ice[STEPS + 1], s = 2e-4, T = start;
  for (int i = 0; i <= STEPS; i++)
    ice[i] = cold * (1.0 - (double)i / STEPS);
  for (double t = 0.0; t < time;) {
    const double dy = 1.0 / STEPS, dt = fmin(0.4 * RHO * C_ICE / K_ICE * s * s * dy * dy, 1.0);
    const double slope = (3.0 * ice[STEPS] - 4.0 * ice[STEPS - 1] + ice[STEPS - 2]) / (2.0 * dy * s);
    const double speed = (K_ICE * slope - FILM * T) / (RHO * (LATENT + C_WATER * T));
    double next[STEPS + 1];
    for (int i = 1; i < STEPS; i++)
      next[i] = ice[i] + dt * (K_ICE / (RHO * C_ICE) * (ice[i + 1] - 2.0 * ice[i] + ice[i - 1]) / (dy * dy * s * s) +
                               (double)i * dy * speed / s * (ice[i + 1] - ice[i - 1]) / (2.0 * dy));
    for (int i = 1; i < STEPS; i++)
      ice[i] = next[i];
    s = fmax(s + dt * speed, 2e-4);
    T -= dt * FILM * T / (RHO * C_WATER * (DEPTH - s));
    t += dt;
  }
  return (lump){.front = s, .warmth = T};
}

START_TEST(ice_grows_against_the_film_of_warm_water)
{
  slab t;
  const double start = 8.0, cold = -10.0;
  slab_create(&t, _i % 2, start, SURFACE_FIXED, 0.0, cold, _i / 2 ? INTEGRATOR_BDF : INTEGRATOR_STABILISED);
  for (int hour = 1; hour <= 9; hour += 2) {
    while (t.s.state.time < 3600.0 * hour)
      heat_scene_advance(&t.s, fmin(60.0, 3600.0 * hour - t.s.state.time));
    const lump want = lump_at(3600.0 * hour, start, cold);
    const double got = DEPTH * (1.0 - heat_scene_liquid(&t.s, 0));
    ck_assert_double_eq_tol(got, want.front, 0.08 * DEPTH / CELLS);
    ck_assert_double_eq_tol(far_temperature(&t), want.warmth, 0.1);
  }
  ck_assert_double_lt(fabs(heat_scene_residual(&t.s)), 1e-9);
  heat_scene_release(&t.s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("network_mix");
  TCase *c = tcase_create("stirred water");
  tcase_set_timeout(c, 60.0);
  tcase_add_loop_test(c, it_cools_as_one_lump_behind_its_film, 0, 4);
  tcase_add_loop_test(c, ice_grows_against_the_film_of_warm_water, 0, 4);
  suite_add_tcase(suite, c);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
