/* Shells round a tube: what they hold, what they pass on, what bounds their step, and that they need nothing but the state. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "heat_scene.h"
#include "solver/coil_shells.h"

static const double PI = 3.14159265358979323846;
static const double TUBE = 0.004;              /* m */
static const double PLACE[2] = {0.1037, 0.0812}; /* r, z: on no line of the grid */
static const double GRID_HIGH[3] = {0.2, 0.0, 0.16};
static const size_t CELLS[3] = {20, 1, 16};

typedef struct {
  heat_scene s;
  rig_coil coil[2];
  double ring[2][2];
} tube_scene;

static rig_coil coil_of(heat_scene *s, double (*ring)[2], const char *name, double temperature)
{
  rig_coil c = {.num_rings = 1, .rings = ring, .tube_outer = 2.0 * TUBE, .tube_wall = 0.0005, .tube_conductivity = 300.0,
                .inner_film = 3000.0, .coolant = COOLANT_FIXED, .temperature = heat_scene_constant(s, temperature)};
  (void)snprintf(c.name, sizeof c.name, "%s", name);
  return c;
}

/* The whole grid in one part. */
static void cut(heat_scene *s)
{
  shape *all = NULL;
  message msg = {""};
  ck_assert_int_eq(shape_cylinder(&all, 1.0, -1.0, 1.0, &msg), STATUS_OK);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = all};
  ck_assert_int_eq(mesh_create(&s->m, s->g, &layer, 1, 0, &msg), STATUS_OK);
  shape_destroy(&all);
}

static void open_scene(tube_scene *t, const material *stuff, double start, double coolant, size_t num_coils)
{
  heat_scene *s = &t->s;
  heat_scene_init(s, GRID_RZ, CELLS, GRID_HIGH, NULL);
  const int part = heat_scene_part(s, MESH_SOLID, stuff, start);
  heat_scene_rule(s, SURFACE_FILM, part, MESH_VOID, FACES_TOP, 12.0, 9.0);
  for (size_t i = 0; i < num_coils; i++) {
    t->ring[i][0] = PLACE[0];
    t->ring[i][1] = PLACE[1] + (i == 0 ? 0.0 : 0.045);
    t->coil[i] = coil_of(s, &t->ring[i], i == 0 ? "lower" : "upper", coolant);
  }
  s->r.coils = t->coil;
  s->r.num_coils = num_coils;
  cut(s);
  heat_scene_open(s);
}

static unsigned seed_now;
static double chance(void)
{
  seed_now = seed_now * 1664525u + 1013904223u;
  return (double)(seed_now >> 8) / 16777216.0;
}

static void stir_up(heat_scene *s, double low, double high)
{
  for (size_t i = 0; i < network_num_nodes(s->net); i++)
    s->state.enthalpy[i] = network_part(s->net)[i] >= 0 ? low + (high - low) * chance() : 0.0;
}

/* ------------------------------------------------------------------------------------------------ */

START_TEST(nothing_is_lost_but_the_tube)
{
  tube_scene t;
  const material water = heat_scene_water();
  open_scene(&t, &water, 2.0, -10.0, 2);
  ck_assert(!isnan(network_coil_ice_radius(t.s.net, 0, 0, t.s.state.enthalpy)));
  double volume = 0.0;
  for (size_t i = 0; i < network_num_nodes(t.s.net); i++)
    volume += network_volume(t.s.net)[i];
  const double tubes = 2.0 * PI * TUBE * TUBE * 2.0 * PI * PLACE[0], all = PI * GRID_HIGH[0] * GRID_HIGH[0] * GRID_HIGH[2];
  ck_assert_double_eq_tol(volume, all - tubes, 1e-12 * all);
  heat_scene_release(&t.s);
}
END_TEST

/* Any state, between solid and liquid: what leaves one side arrives at the other, and the coils' paths count what goes. */
START_TEST(heat_is_passed_on_whole)
{
  tube_scene t;
  const material water = heat_scene_water();
  open_scene(&t, &water, 2.0, -10.0, 2);
  seed_now = 11u;
  for (int trial = 0; trial < 20; trial++) {
    stir_up(&t.s, -4e7, 3.8e8);
    heat_scene_rates(&t.s);
    double gained = 0.0, given = 0.0, moved = 0.0;
    for (size_t i = 0; i < network_num_nodes(t.s.net); i++) {
      gained += network_volume(t.s.net)[i] * t.s.rate[i];
      moved += fabs(network_volume(t.s.net)[i] * t.s.rate[i]);
    }
    for (size_t p = 0; p < network_num_paths(t.s.net); p++)
      given += t.s.path_rate[p];
    ck_assert_double_eq_tol(gained, given, 1e-12 * moved);
  }
  heat_scene_release(&t.s);
}
END_TEST

/* Newton's method with the plant: the heat of all plant coils is what the plant takes at the temperature found. */
START_TEST(plant_takes_what_the_coils_give)
{
  tube_scene t;
  const material water = heat_scene_water();
  open_scene(&t, &water, 2.0, -10.0, 2);
  const coolant_state plant = {.plant = true, .temperature = -12.0, .intercept = 260.0, .slope = 7.0};
  network_set_coolant(t.s.net, 0, plant);
  network_set_coolant(t.s.net, 1, plant);
  seed_now = 3u;
  for (int trial = 0; trial < 20; trial++) {
    stir_up(&t.s, -2e7, 3.6e8);
    heat_scene_rates(&t.s);
    const double T = network_coolant_temperature(t.s.net, 0), heat = network_coil_heat(t.s.net, 0) + network_coil_heat(t.s.net, 1);
    ck_assert_double_eq(T, network_coolant_temperature(t.s.net, 1));
    ck_assert_double_eq_tol(heat, 260.0 + 7.0 * T, 1e-9 * 260.0);
  }
  heat_scene_release(&t.s);
}
END_TEST

/* Power iteration on the rate of a medium without phase change. */
START_TEST(bound_covers_the_largest_eigenvalue)
{
  tube_scene t;
  const material solid = heat_scene_solid(2.2, 2.05e6);
  open_scene(&t, &solid, 0.0, 0.0, 2);
  t.s.rules[0].temperature = heat_scene_constant(&t.s, 0.0);
  const size_t n = network_num_nodes(t.s.net);
  message msg = {""};
  double bound = 0.0, growth = 0.0;
  ck_assert_int_eq(network_refresh(t.s.net, t.s.state.enthalpy, 0.0, 1, &bound, &msg), STATUS_OK);
  seed_now = 5u;
  stir_up(&t.s, -0.5, 0.5);
  for (int round = 0; round < 800; round++) {
    ck_assert_int_eq(network_rate(t.s.net, t.s.state.enthalpy, t.s.rate, t.s.path_rate, &msg), STATUS_OK);
    double in = 0.0, out = 0.0;
    for (size_t i = 0; i < n; i++)
      if (network_volume(t.s.net)[i] > 0.0) {
        in += t.s.state.enthalpy[i] * t.s.state.enthalpy[i];
        out += t.s.rate[i] * t.s.rate[i];
      }
    growth = sqrt(out / in);
    for (size_t i = 0; i < n; i++)
      t.s.state.enthalpy[i] = t.s.rate[i] / sqrt(out);
  }
  ck_assert_double_le(growth, bound * (1.0 + 1e-9));
  ck_assert_double_ge(growth, 0.4 * bound);
  heat_scene_release(&t.s);
}
END_TEST

/* The same state in a network that was used before and in a fresh one. */
START_TEST(rate_hangs_on_the_state_alone)
{
  tube_scene used, fresh;
  const material water = heat_scene_water(), again = heat_scene_water();
  open_scene(&used, &water, 2.0, -10.0, 2);
  open_scene(&fresh, &again, 2.0, -10.0, 2);
  const size_t n = network_num_nodes(used.s.net);
  seed_now = 21u;
  for (int trial = 0; trial < 3; trial++) {
    stir_up(&used.s, -4e7, 3.8e8);
    heat_scene_rates(&used.s);
  }
  memcpy(fresh.s.state.enthalpy, used.s.state.enthalpy, n * sizeof(double));
  network_restart(used.s.net);
  heat_scene_rates(&used.s);
  heat_scene_rates(&fresh.s);
  ck_assert_mem_eq(used.s.rate, fresh.s.rate, n * sizeof(double));
  heat_scene_release(&used.s);
  heat_scene_release(&fresh.s);
}
END_TEST

/* Both integrators grow the same ice, and the books close. What stands in for a cleared node shows the ice of its shell. */
START_TEST(both_integrators_grow_the_same_ice)
{
  double radius[2];
  for (int which = 0; which < 2; which++) {
    tube_scene t;
    const material water = heat_scene_water();
    open_scene(&t, &water, 2.0, -15.0, 1);
    heat_scene_step(&t.s, which == 0 ? INTEGRATOR_STABILISED : INTEGRATOR_BDF, 1e-5);
    heat_scene_march(&t.s, 1200.0);
    radius[which] = network_coil_ice_radius(t.s.net, 0, 0, t.s.state.enthalpy);
    ck_assert_double_gt(radius[which], 1.5 * TUBE);
    ck_assert_double_lt(fabs(heat_scene_residual(&t.s)), 1e-9);
    const int32_t node = mesh_node_at(t.s.m, (const double[]){PLACE[0], 0.0, PLACE[1]});
    ck_assert_double_eq(network_volume(t.s.net)[node], 0.0);
    ck_assert_double_lt(heat_scene_temperature(&t.s, (size_t)node), -0.1);
    heat_scene_release(&t.s);
  }
  ck_assert_double_eq_tol(radius[0], radius[1], 0.01 * radius[1]);
}
END_TEST

/* A ring two cells from the edge of the grid's part has no room for shells and is joined to the nodes as before. */
START_TEST(without_room_the_ring_is_joined_to_the_nodes)
{
  tube_scene t;
  const material water = heat_scene_water();
  heat_scene *s = &t.s;
  heat_scene_init(s, GRID_RZ, CELLS, GRID_HIGH, NULL);
  const int part = heat_scene_part(s, MESH_SOLID, &water, 2.0);
  heat_scene_rule(s, SURFACE_FILM, part, MESH_VOID, FACES_TOP, 12.0, 9.0);
  t.ring[0][0] = 0.1037;
  t.ring[0][1] = 0.0062;
  t.coil[0] = coil_of(s, &t.ring[0], "low", -10.0);
  s->r.coils = t.coil;
  s->r.num_coils = 1;
  cut(s);
  heat_scene_open(s);
  ck_assert(isnan(network_coil_ice_radius(s->net, 0, 0, s->state.enthalpy)));
  heat_scene_rates(s);
  ck_assert_double_gt(network_coil_heat(s->net, 0), 1.0);
  ck_assert_uint_eq(network_num_nodes(s->net), s->m->num_nodes + s->m->num_patches);
  heat_scene_release(s);
}
END_TEST

/* Three nodes in a row, the middle one cleared: in series. A star of four: g_i g_j / sum. */
START_TEST(cleared_cells_conduct_across)
{
  double cross[16];
  int32_t inside[1] = {9};
  coil_shells_face faces[4] = {{.place = {1, 0}, .still = 2.0}, {.place = {0, 2}, .still = 3.0}, {.place = {3, 0}, .still = 1.0}, {.place = {0, 4}, .still = 4.0}};
  coil_shells s = {.num_inside = 1, .inside = inside, .num_rim = 4, .cross = cross, .face = faces, .num_faces = 4};
  ck_assert_int_eq(coil_shells_cross(&s, NULL, NULL), STATUS_OK);
  ck_assert_double_eq_tol(cross[0 * 4 + 1], 2.0 * 3.0 / 10.0, 1e-15);
  ck_assert_double_eq_tol(cross[3 * 4 + 2], 4.0 * 1.0 / 10.0, 1e-15);
  ck_assert_double_eq(cross[2 * 4 + 2], 0.0);
  const double factor[4] = {3.0, 2.0, 1.0, 1.0};
  ck_assert_int_eq(coil_shells_cross(&s, factor, NULL), STATUS_OK);
  ck_assert_double_eq_tol(cross[1 * 4 + 0], 6.0 * 6.0 / 17.0, 1e-15);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("coil_shells");
  TCase *tc = tcase_create("coil_shells");
  tcase_add_test(tc, nothing_is_lost_but_the_tube);
  tcase_add_test(tc, heat_is_passed_on_whole);
  tcase_add_test(tc, plant_takes_what_the_coils_give);
  tcase_add_test(tc, bound_covers_the_largest_eigenvalue);
  tcase_add_test(tc, rate_hangs_on_the_state_alone);
  tcase_add_test(tc, both_integrators_grow_the_same_ice);
  tcase_add_test(tc, without_room_the_ring_is_joined_to_the_nodes);
  tcase_add_test(tc, cleared_cells_conduct_across);
  suite_add_tcase(suite, tc);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
