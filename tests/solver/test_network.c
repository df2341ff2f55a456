/* The heat balance of a rig, rate by rate: conservation, steady walls, surfaces, rules, same bits. */
#include <check.h>
#include <math.h>
#include <omp.h>
#include <stdlib.h>
#include <string.h>

#include "materials/moist_air.h"
#include "tests/solver/heat_scene.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

static uint32_t seed_now;

static double chance(void) /* 0..1; Numerical Recipes' quick generator */
{
  seed_now = seed_now * 1664525u + 1013904223u;
  return (double)(seed_now >> 8) / 16777216.0;
}

/* ------------------------------------------------------------------------------------------- conservation */

static void open_random(heat_scene *s, int number)
{
  seed_now = 77u + (uint32_t)number;
  const bool flat = number % 2 == 0;
  heat_scene_init(s, flat ? GRID_RZ : GRID_XYZ, (size_t[]){9, flat ? 1 : 5, 8}, (double[]){0.31, 0.17, 0.23}, NULL);
  const material water = heat_scene_water(), ice = heat_scene_water(), steel = heat_scene_solid(16.0, 3.9e6), metal = heat_scene_solid(200.0, 2.4e6);
  const int part[3] = {heat_scene_part(s, MESH_SOLID, &water, 4.0), heat_scene_part(s, MESH_SOLID, &ice, -3.0),
                       heat_scene_part(s, MESH_SOLID, &steel, 7.0)};
  const int held = heat_scene_part(s, MESH_HELD, NULL, -14.0);
  const int wall = heat_scene_part(s, MESH_THIN_WALL, &metal, 1.0);
  for (size_t cell = 0; cell < grid_num_cells(s->g); cell++) {
    const double c = chance();
    s->part_of[cell] = c < 0.9 ? part[(int)(chance() * 2.99)] : c < 0.95 ? held : MESH_VOID;
  }
  heat_scene_paint(s, wall, 0, 4, 5);
  s->parts[held].held_film = 55.0;
  s->r.room.film = 11.0;
  s->r.room.temperature = heat_scene_constant(s, 19.0);
  heat_scene_rule(s, SURFACE_CONTACT, part[0], part[1], FACES_ALL, 0.003, NAN);
  heat_scene_rule(s, SURFACE_CONTACT, wall, part[2], FACES_ALL, 0.001, NAN);
  heat_scene_rule(s, SURFACE_FIXED, part[2], MESH_VOID, FACES_TOP, 0.0, -21.0);
  heat_scene_open(s);
  for (size_t i = 0; i < network_num_nodes(s->net); i++)
    s->state.enthalpy[i] = network_part(s->net)[i] >= 0 ? -4e7 + 4.2e8 * chance() : 0.0;
  for (size_t p = 0; p < s->m->num_patches; p++)
    s->state.enthalpy[s->m->num_nodes + p] = 1e7 * (chance() - 0.5);
}

/* Whatever the parts, the heat that nodes and walls gain is what the paths bring. */
START_TEST(random_networks_conserve)
{
  heat_scene s;
  open_random(&s, _i);
  ck_assert_uint_gt(s.m->num_patches, 0);
  ck_assert_uint_gt(network_num_paths(s.net), 3);

  heat_scene_rates(&s);
  double gained = 0.0, moved = 0.0, brought = 0.0;
  for (size_t i = 0; i < network_num_nodes(s.net); i++) {
    gained += network_volume(s.net)[i] * s.rate[i];
    moved += fabs(network_volume(s.net)[i] * s.rate[i]);
  }
  for (size_t path = 0; path < network_num_paths(s.net); path++)
    brought += s.path_rate[path];
  ck_assert_double_gt(moved, 1.0);
  ck_assert_double_gt(fabs(brought), 1e-3 * moved);
  ck_assert_double_eq_tol(gained, brought, 1e-12 * moved);
  heat_scene_release(&s);
}
END_TEST

/* ------------------------------------------------------------------------------------------- steady walls */

/* Plane wall of steel, foam and plastic between two films (thickness and conductivity 2 mm 16, 50 mm 0.035, 10 mm 0.4 W/mK; 150 and
 * 8 W/m2K; -20 and 20 degC): resistances in series (Incropera & DeWitt, ch. 3). */
START_TEST(steady_multilayer_wall_is_exact)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){62, 1, 1}, (double[]){0.062, 0.5, 0.7}, (bool[]){false, false, true, true, true, true});
  const double k[3] = {16.0, 0.035, 0.4};
  const size_t end[3] = {2, 52, 62};
  int part[3];
  for (int layer = 0; layer < 3; layer++) {
    const material m = heat_scene_solid(k[layer], 1e6 * (layer + 1));
    part[layer] = heat_scene_part(&s, MESH_SOLID, &m, 0.0);
    heat_scene_paint(&s, part[layer], 0, layer ? end[layer - 1] : 0, end[layer]);
  }
  heat_scene_rule(&s, SURFACE_FILM, part[0], MESH_VOID, FACES_ALL, 150.0, -20.0);
  heat_scene_rule(&s, SURFACE_FILM, part[2], MESH_VOID, FACES_ALL, 8.0, 20.0);
  heat_scene_open(&s);
  const double q = -40.0 / (1.0 / 150.0 + 0.002 / 16.0 + 0.05 / 0.035 + 0.01 / 0.4 + 1.0 / 8.0);
  assert_close(q, -25.2308131305, 1e-11);
  double T = -20.0 - q / 150.0; /* towards the warm side, against the flux */
  for (size_t cell = 0; cell < 62; cell++) {
    const int layer = cell < 2 ? 0 : cell < 52 ? 1 : 2;
    s.state.enthalpy[cell] = phase_curve_enthalpy(&s.stuff[layer].curve, T - q * 0.0005 / k[layer]);
    T -= q * 0.001 / k[layer];
  }
  heat_scene_rates(&s);
  const double area = 0.35;
  for (size_t cell = 0; cell < 62; cell++)
    ck_assert_double_eq_tol(s.rate[cell] * network_volume(s.net)[cell], 0.0, 1e-10 * fabs(q) * area);
  for (size_t i = 0; i < s.m->num_interfaces; i++)
    assert_close(fabs(network_interface_heat(s.net, i, s.state.enthalpy)), fabs(q) * area, 1e-10);
  heat_scene_release(&s);
}
END_TEST

/* `heat`, W, passes a thin wall whose middle is at `middle`, degC: no node gains any. */
static void assert_steady(heat_scene *s, double heat, double middle)
{
  heat_scene_rates(s);
  for (size_t i = 0; i < network_num_nodes(s->net); i++)
    ck_assert_double_eq_tol(s->rate[i] * network_volume(s->net)[i], 0.0, 1e-10 * heat);
  assert_close(network_wall_temperature(s->net, 0), middle, 1e-10);
}

/* A thin wall of resistance e/k between two solids, contact on one side: series again, and the wall at its mid-plane temperature. */
START_TEST(thin_wall_is_a_resistance_in_series)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){11, 1, 1}, (double[]){0.033, 0.2, 0.3}, (bool[]){false, false, true, true, true, true});
  const material a = heat_scene_solid(2.2, 1.9e6), b = heat_scene_solid(0.58, 4.2e6), plastic = heat_scene_solid(0.19, 1.7e6);
  const int pa = heat_scene_part(&s, MESH_SOLID, &a, 0.0), pb = heat_scene_part(&s, MESH_SOLID, &b, 0.0);
  const int wall = heat_scene_part(&s, MESH_THIN_WALL, &plastic, 0.0);
  heat_scene_paint(&s, pa, 0, 0, 5);
  heat_scene_paint(&s, wall, 0, 5, 6);
  heat_scene_paint(&s, pb, 0, 6, 11);
  heat_scene_rule(&s, SURFACE_FIXED, pa, MESH_VOID, FACES_ALL, 0.0, -17.0);
  heat_scene_rule(&s, SURFACE_FIXED, pb, MESH_VOID, FACES_ALL, 0.0, 6.0);
  heat_scene_rule(&s, SURFACE_CONTACT, wall, pb, FACES_ALL, 0.004, NAN);
  heat_scene_open(&s);
  const double q = 23.0 / (0.015 / 2.2 + 0.003 / 0.19 + 0.004 + 0.015 / 0.58); /* W/m2 from b to a */
  for (size_t cell = 0; cell < 11; cell++) {
    if (cell < 5)
      s.state.enthalpy[cell] = phase_curve_enthalpy(&s.stuff[pa].curve, -17.0 + q * (0.0015 + 0.003 * (double)cell) / 2.2);
    else if (cell > 5)
      s.state.enthalpy[cell] = phase_curve_enthalpy(&s.stuff[pb].curve, 6.0 - q * (0.033 - 0.0015 - 0.003 * (double)cell) / 0.58);
  }
  const double middle = -17.0 + q * (0.015 / 2.2 + 0.0015 / 0.19);
  s.state.enthalpy[s.m->num_nodes] = phase_curve_enthalpy(&s.stuff[wall].curve, middle);
  assert_steady(&s, q * 0.06, middle);
  heat_scene_release(&s);
}
END_TEST

/* In the second stage other surroundings meet the wall: in a steady state of those no node gains heat, and what one path brings another takes. */
START_TEST(thin_wall_meets_what_the_rules_of_a_stage_say)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){11, 1, 1}, (double[]){0.033, 0.2, 0.3}, (bool[]){false, false, true, true, true, true});
  const material a = heat_scene_solid(2.2, 1.9e6), plastic = heat_scene_solid(0.19, 1.7e6);
  const int part = heat_scene_part(&s, MESH_SOLID, &a, 0.0), wall = heat_scene_part(&s, MESH_THIN_WALL, &plastic, 0.0);
  heat_scene_paint(&s, part, 0, 0, 5);
  heat_scene_paint(&s, wall, 0, 5, 6);
  for (size_t cell = 6; cell < 11; cell++)
    s.part_of[cell] = MESH_VOID;
  heat_scene_rule(&s, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, -17.0);
  heat_scene_rule(&s, SURFACE_FILM, wall, MESH_VOID, FACES_ALL, 41.0, -3.0);
  heat_scene_rule(&s, SURFACE_FILM, wall, MESH_VOID, FACES_ALL, 13.0, 24.0);
  s.rules[2].stage = 2;
  s.r.num_stages = 2;
  heat_scene_open(&s);
  const double into[2] = {-3.0, 24.0}, film[2] = {41.0, 13.0};
  for (size_t stage = 0; stage < 2; stage++) {
    message msg = {""};
    ck_assert_msg(network_use_stage(s.net, stage, NAN, &msg) == STATUS_OK, "%s", msg.text);
    const double q = (into[stage] + 17.0) / (0.015 / 2.2 + 0.003 / 0.19 + 1.0 / film[stage]);
    for (size_t cell = 0; cell < 5; cell++)
      s.state.enthalpy[cell] = phase_curve_enthalpy(&s.stuff[part].curve, -17.0 + q * (0.0015 + 0.003 * (double)cell) / 2.2);
    const double middle = -17.0 + q * (0.015 / 2.2 + 0.0015 / 0.19);
    s.state.enthalpy[s.m->num_nodes] = phase_curve_enthalpy(&s.stuff[wall].curve, middle);
    for (int again = 0; again < 2; again++) { /* also where nothing has changed since the refresh before */
      assert_steady(&s, q * 0.06, middle);
      double least = 0.0, most = 0.0;
      for (size_t path = 0; path < network_num_paths(s.net); path++) {
        least = fmin(least, s.path_rate[path]);
        most = fmax(most, s.path_rate[path]);
      }
      assert_close(most, q * 0.06, 1e-10);
      assert_close(least, -q * 0.06, 1e-10);
    }
  }
  heat_scene_release(&s);
}
END_TEST

/* Along a wall of metal: fin of thickness e, film h on both sides, root held: T falls as cosh (Incropera & DeWitt, ch. 3.6). In the
 * network the films come from held parts on both sides, the root from a node in good contact. */
START_TEST(thin_wall_conducts_along_itself)
{
  heat_scene s;
  const size_t n = 80;
  const bool chain = _i == 0; /* solved directly; the shell of the other case iterates and leaves up to 1e-4 K */
  heat_scene_init(&s, chain ? GRID_RZ : GRID_XYZ, (size_t[]){5, chain ? 1 : 3, n}, (double[]){0.01, 0.03, 0.4}, (bool[]){true, true, true, true, true, true});
  for (size_t i = 0; chain && i <= 5; i++)
    s.g->edges[0][i] += 1e4; /* so wide a ring that it is plane */
  const material metal = heat_scene_solid(120.0, 2.4e6), other = heat_scene_solid(1.0, 1e6);
  const int wall = heat_scene_part(&s, MESH_THIN_WALL, &metal, 0.0), low = heat_scene_part(&s, MESH_SOLID, &other, 0.0),
            high = heat_scene_part(&s, MESH_SOLID, &other, 0.0);
  s.stuff[high].curve = heat_scene_solid(1.0, 1e6).curve; /* own copy: both are released */
  heat_scene_paint(&s, low, 0, 0, 2);
  heat_scene_paint(&s, wall, 0, 2, 3);
  heat_scene_paint(&s, high, 0, 3, 5);
  /* films as contacts to nodes kept at 0 (low) degC; the first row of cells is kept at 10 degC without a contact */
  heat_scene_rule(&s, SURFACE_CONTACT, wall, low, FACES_ALL, 0.02, NAN);
  heat_scene_rule(&s, SURFACE_CONTACT, wall, high, FACES_ALL, 0.02, NAN);
  heat_scene_open(&s);
  const double e = 0.002, d = 0.001, h = 1.0 / (0.02 + d / 1.0 + 0.5 * e / 120.0), L = 0.4, dz = L / (double)n;
  const double hot = 10.0;
  for (size_t i = 0; i < s.m->num_nodes; i++)
    s.state.enthalpy[i] = network_part(s.net)[i] >= 0 ? phase_curve_enthalpy(&s.stuff[low].curve, s.m->centroid[i][2] < dz ? hot : 0.0) : 0.0;
  /* the fin is sought in its steady state: the carried heat marches until it rests, nodes held as they are */
  double bound = 0.0;
  message msg = {""};
  ck_assert_int_eq(network_refresh(s.net, s.state.enthalpy, 0.0, 1, &bound, &msg), STATUS_OK);
  const double rest = 1200.0; /* s; the wall's own time is C / 2h = 50 s */
  for (double time = 0.0; time < rest; time += 1.0 / bound) {
    ck_assert_int_eq(network_rate(s.net, s.state.enthalpy, s.rate, s.path_rate, &msg), STATUS_OK);
    for (size_t i = s.m->num_nodes; i < network_num_nodes(s.net); i++)
      s.state.enthalpy[i] += s.rate[i] / bound;
  }
  /* exact for the discrete chain from patch 1 on, given patch 0: T_i ~ cosh(mu (N - 1/2 - i)), 2 cosh mu = 2 + 2 h dz^2 / (k e) */
  const double mu = acosh(1.0 + h * dz * dz / (120.0 * e)), root = network_wall_temperature(s.net, 0);
  ck_assert_double_gt(root, 0.5);
  for (size_t p = 0; p < s.m->num_patches; p++) {
    const double at = s.m->patches[p].centroid[2] / dz - 0.5;
    if (at > 0.4)
      ck_assert_double_eq_tol(network_wall_temperature(s.net, p), root * cosh(mu * ((double)n - 0.5 - at)) / cosh(mu * ((double)n - 0.5)), (chain ? 1e-6 : 1e-3));
  }
  heat_scene_release(&s);
}
END_TEST

/* ------------------------------------------------------------------------------------------- surfaces */

/* 10 mm thick, 0.06 m2; one surface on each side along x, the upper one mirrored. */
static void one_cell(heat_scene *s, const material *stuff, surface_kind kind, double coefficient, double temperature)
{
  heat_scene_init(s, GRID_XYZ, (size_t[]){1, 1, 1}, (double[]){0.01, 0.2, 0.3}, (bool[]){false, true, true, true, true, true});
  const int part = heat_scene_part(s, MESH_SOLID, stuff, 0.0);
  heat_scene_paint(s, part, 0, 0, 1);
  heat_scene_rule(s, kind, part, MESH_VOID, FACES_ALL, coefficient, temperature);
}

START_TEST(node_at_freezing_point_conducts_as_ice_to_a_cold_wall)
{
  const material water = heat_scene_water();
  heat_scene s;
  one_cell(&s, &water, SURFACE_FIXED, 0.0, -7.5);
  heat_scene_open(&s);
  s.state.enthalpy[0] = 0.53 * s.stuff[0].curve.liquid_enthalpy + 0.47 * s.stuff[0].curve.solid_enthalpy; /* before its middle: */
  heat_scene_rates(&s);
  assert_close(s.path_rate[0], -2.2 * 0.06 / 0.0025 * 7.5, 1e-12); /* on the average a quarter of the cell is ice */
  s.state.enthalpy[0] = phase_curve_enthalpy(&s.stuff[0].curve, 3.0);
  heat_scene_rates(&s); /* water above, ice below: the potential counts both */
  assert_close(s.path_rate[0], -0.06 / 0.005 * (0.58 * 3.0 + 2.2 * 7.5), 1e-12);
  heat_scene_release(&s);
}
END_TEST

START_TEST(film_and_water_act_in_series_on_the_branch_of_the_surface)
{
  const material water = heat_scene_water();
  heat_scene s;
  one_cell(&s, &water, SURFACE_FILM, 35.0, -9.0);
  heat_scene_open(&s);
  s.state.enthalpy[0] = phase_curve_enthalpy(&s.stuff[0].curve, 12.0);
  heat_scene_rates(&s); /* surface above 0: all water */
  assert_close(s.path_rate[0], -0.06 * 21.0 / (0.005 / 0.58 + 1.0 / 35.0), 1e-12);
  ck_assert_double_gt(network_surface_temperature(s.net, 0), 0.0);
  s.state.enthalpy[0] = phase_curve_enthalpy(&s.stuff[0].curve, 0.4);
  heat_scene_rates(&s); /* surface below 0: q = (0.58 0.4 - 2.2 T_s)/d = h (T_s + 9) */
  const double Ts = (0.58 * 0.4 / 0.005 - 35.0 * 9.0) / (2.2 / 0.005 + 35.0);
  ck_assert_double_lt(Ts, 0.0);
  assert_close(network_surface_temperature(s.net, 0), Ts, 1e-9);
  assert_close(s.path_rate[0], -0.06 * 35.0 * (Ts + 9.0), 1e-9);
  heat_scene_release(&s);
}
END_TEST

/* Held part with a film of its own and a contact; insulated; last rule wins. */
START_TEST(held_part_contact_and_rules_in_order)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){2, 1, 1}, (double[]){0.02, 0.2, 0.3}, NULL);
  const material solid = heat_scene_solid(1.7, 2e6);
  const int part = heat_scene_part(&s, MESH_SOLID, &solid, 5.0), rod = heat_scene_part(&s, MESH_HELD, NULL, -15.0);
  s.parts[rod].held_film = 80.0;
  heat_scene_paint(&s, rod, 0, 0, 1);
  heat_scene_paint(&s, part, 0, 1, 2);
  s.r.room.film = 9.0;
  s.r.room.temperature = heat_scene_constant(&s, 21.0);
  heat_scene_rule(&s, SURFACE_CONTACT, rod, part, FACES_ALL, 0.006, NAN);
  heat_scene_rule(&s, SURFACE_FILM, part, MESH_VOID, FACES_ALL, 500.0, -3.0);
  heat_scene_rule(&s, SURFACE_INSULATED, part, MESH_VOID, FACES_ALL, 0.0, NAN);
  heat_scene_rule(&s, SURFACE_FILM, part, MESH_VOID, FACES_TOP, 12.0, 30.0); /* top: z, 0.01 x 0.2 m2 */
  heat_scene_open(&s);
  heat_scene_rates(&s);
  ck_assert_uint_eq(network_num_paths(s.net), 2);
  double held = 0.0, top = 0.0;
  for (size_t p = 0; p < 2; p++)
    *(strncmp(network_path_name(s.net, p), "held", 4) == 0 ? &held : &top) = s.path_rate[p];
  assert_close(held, 0.06 * (-15.0 - 5.0) / (1.0 / 80.0 + 0.006 + 0.005 / 1.7), 1e-12);
  assert_close(top, 0.002 * (30.0 - 5.0) / (1.0 / 12.0 + 0.15 / 1.7), 1e-12);
  heat_scene_release(&s);
}
END_TEST

/* Below the dew point the surface takes the film's heat and the moisture's; the fixed point is found here by bisection. */
START_TEST(moisture_settles_below_the_dew_point_only)
{
  const material foam = heat_scene_solid(0.05, 1e5);
  heat_scene s;
  one_cell(&s, &foam, SURFACE_FILM, 9.0, 20.0);
  s.rules[0].condensation = true;
  s.r.room.temperature = heat_scene_constant(&s, 20.0);
  s.r.room.relative_humidity = 0.65; /* dew point 13.2 degC */
  s.r.room.pressure = 101325.0;
  heat_scene_open(&s);
  ck_assert_uint_eq(network_num_paths(s.net), 2);
  const size_t moist = strncmp(network_path_name(s.net, 0), "moisture", 8) == 0 ? 0 : 1;
  s.state.enthalpy[0] = phase_curve_enthalpy(&s.stuff[0].curve, 15.0);
  heat_scene_rates(&s);
  ck_assert_double_eq(s.path_rate[moist], 0.0);
  assert_close(s.path_rate[1 - moist], 0.06 * 5.0 / (0.005 / 0.05 + 1.0 / 9.0), 1e-12);
  s.state.enthalpy[0] = phase_curve_enthalpy(&s.stuff[0].curve, -18.0);
  heat_scene_rates(&s);
  moist_air_room air = {.temperature = 20.0, .relative_humidity = 0.65, .pressure = 101325.0};
  double low = -18.0, high = 20.0;
  for (int i = 0; i < 200; i++) {
    const double T = 0.5 * (low + high), a = 293.15, b = T + 273.15;
    air.convection = 9.0 - 0.95 * 5.670374e-8 * (a * a + b * b) * (a + b);
    *(9.0 * (20.0 - T) + moist_air_latent_flux(&air, T) > 0.05 / 0.005 * (T + 18.0) ? &low : &high) = T;
  }
  ck_assert_double_lt(low, 13.0);
  ck_assert_double_gt(moist_air_latent_flux(&air, low), 5.0);
  ck_assert_double_eq_tol(network_surface_temperature(s.net, 0), low, 1e-3);
  assert_close(s.path_rate[moist], 0.06 * moist_air_latent_flux(&air, low), 1e-3);
  assert_close(s.path_rate[1 - moist], 0.06 * 9.0 * (20.0 - low), 1e-3);
  assert_close(s.rate[0] * network_volume(s.net)[0], s.path_rate[0] + s.path_rate[1], 1e-12);
  heat_scene_release(&s);
}
END_TEST

/* A stirred bath is one node with a film at each surface. */
START_TEST(stirred_bath_is_one_node_with_films)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){4, 1, 1}, (double[]){0.04, 0.2, 0.3}, (bool[]){false, false, true, true, true, true});
  const material steel = heat_scene_solid(16.0, 3.9e6), brine = heat_scene_water();
  const int pot = heat_scene_part(&s, MESH_SOLID, &steel, 8.0), bath = heat_scene_part(&s, MESH_SOLID, &brine, 2.0);
  heat_scene_paint(&s, pot, 0, 0, 1);
  heat_scene_paint(&s, bath, 0, 1, 4);
  s.baths[0] = (rig_bath){.part = bath, .flow = {.kind = MOTION_STIRRED, .film_coefficient = 420.0}};
  s.r.num_baths = 1;
  heat_scene_open(&s);
  ck_assert_int_eq(network_node(s.net)[1], 1);
  ck_assert_int_eq(network_node(s.net)[3], 1);
  assert_close(network_volume(s.net)[1], 3.0 * 0.01 * 0.06, 1e-12);
  ck_assert_double_eq(network_volume(s.net)[2], 0.0);
  heat_scene_rates(&s);
  const double q = 0.06 * (8.0 - 2.0) / (0.005 / 16.0 + 1.0 / 420.0);
  assert_close(s.rate[0], -q / (0.01 * 0.06), 1e-12);
  assert_close(s.rate[1], q / (0.03 * 0.06), 1e-12);
  network_set_film(s.net, bath, NAN);
  double bound = 0.0;
  message msg = {""};
  ck_assert_int_eq(network_refresh(s.net, s.state.enthalpy, 0.0, 1, &bound, &msg), STATUS_FAILED);
  ck_assert_ptr_nonnull(strstr(msg.text, "part 1"));
  heat_scene_release(&s);
}
END_TEST

/* Factors multiply conduction where both nodes hold liquid: the larger across a side face, the lower node's across a level one. */
START_TEST(motion_factors_reach_liquid_faces_only)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){2, 1, 2}, (double[]){0.02, 0.5, 0.02}, (bool[]){true, true, true, true, true, true});
  const material water = heat_scene_water();
  const int part = heat_scene_part(&s, MESH_SOLID, &water, 5.0);
  heat_scene_paint(&s, part, 0, 0, 2);
  s.baths[0] = (rig_bath){.part = part, .flow = {.kind = MOTION_STILL}};
  s.r.num_baths = 1;
  heat_scene_open(&s);
  const phase_curve *c = &s.stuff[part].curve;
  const double T[4] = {2.0, 7.0, 4.0, -6.0}; /* cells 0 1 below, 2 3 above; 3 is ice */
  for (int i = 0; i < 4; i++) {
    s.state.enthalpy[i] = phase_curve_enthalpy(c, T[i]);
    network_horizontal_factor(s.net)[i] = 3.0 + i;
    network_vertical_factor(s.net)[i] = 11.0 + i;
  }
  heat_scene_rates(&s);
  const double V = 0.01 * 0.5 * 0.01, G = 0.5; /* area / distance */
  assert_close(s.rate[0] * V, G * 0.58 * (4.0 * 5.0 + 11.0 * 2.0), 1e-12);
  assert_close(s.rate[2] * V, G * (-11.0 * 0.58 * 2.0 - (0.58 * 4.0 + 2.2 * 6.0)), 1e-12);
  assert_close(s.rate[3] * V, G * (0.58 * 4.0 + 2.2 * 6.0 + 0.58 * 7.0 + 2.2 * 6.0), 1e-12);
  for (int i = 0; i < 4; i++)
    network_horizontal_factor(s.net)[i] = network_vertical_factor(s.net)[i] = 1.0;
  heat_scene_rates(&s);
  assert_close(s.rate[0] * V, G * 0.58 * 7.0, 1e-12);
  heat_scene_release(&s);
}
END_TEST

/* J/m3 at which the node after the front is frozen through, water at its freezing point ahead of it, the one beyond it being so much warmer, J/m3. */
static double end_of_next(double warmer)
{
  enum { CELLS = 8, NEXT = 3 };
  heat_scene s;
  const bool mirror[6] = {false, true, true, true, true, true};
  heat_scene_init(&s, GRID_XYZ, (size_t[]){CELLS, 1, 1}, (double[]){0.08, 0.01, 0.01}, mirror);
  const material water = heat_scene_water();
  const int part = heat_scene_part(&s, MESH_SOLID, &water, 0.0);
  heat_scene_paint(&s, part, 0, 0, CELLS);
  heat_scene_rule(&s, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, -10.0);
  heat_scene_open(&s);
  const phase_curve *c = &s.stuff[part].curve;
  for (size_t i = 0; i < CELLS; i++)
    s.state.enthalpy[i] = c->liquid_enthalpy;
  s.state.enthalpy[0] = c->solid_enthalpy - 8e6;
  s.state.enthalpy[1] = c->solid_enthalpy - 4e6;
  s.state.enthalpy[2] = c->solid_enthalpy + 0.2 * (c->liquid_enthalpy - c->solid_enthalpy);
  s.state.enthalpy[NEXT + 1] += warmer;
  heat_scene_rates(&s);
  double end = NAN;
  for (size_t i = 0; i < network_front_num(s.net); i++)
    if (network_front_at(s.net, i).node == NEXT)
      end = network_front_at(s.net, i).end;
  heat_scene_release(&s);
  return end;
}

/* Whether the next one but one holds a rounding more or less decides nothing: liquid follows either way, and the node is frozen through with the front in the middle
 * of that. Were it the last one, half the fall of u would do. */
START_TEST(liquid_follows_a_front_however_it_is_rounded)
{
  const double end = end_of_next(0.0);
  ck_assert_double_eq_tol(end_of_next(1e-6), end, 1.0);
  ck_assert_double_eq_tol(end_of_next(-1e-6), end, 1.0);
  ck_assert_double_eq_tol(end_of_next(-1e3), end, 1e4);
  ck_assert_double_eq_tol(end_of_next(-1e8), 0.5 * end, 1e-3 * fabs(end)); /* ice has come towards it: it is the last one */
}
END_TEST

/* J/m3 at which the node before a wall at 6 degC begins to freeze, the front coming towards it, in liquid that conducts so many times as well. */
static double begins_before_a_warm_wall(double factor)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){3, 1, 1}, (double[]){0.03, 0.2, 0.3}, (bool[]){true, false, true, true, true, true});
  const material water = heat_scene_water();
  const int part = heat_scene_part(&s, MESH_SOLID, &water, 3.0);
  heat_scene_paint(&s, part, 0, 0, 3);
  heat_scene_rule(&s, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, 6.0);
  s.baths[0] = (rig_bath){.part = part, .flow = {.kind = MOTION_STILL}};
  s.r.num_baths = 1;
  heat_scene_open(&s);
  const phase_curve *c = &s.stuff[part].curve;
  s.state.enthalpy[0] = phase_curve_enthalpy(c, -6.0);
  s.state.enthalpy[1] = 0.9 * c->solid_enthalpy + 0.1 * c->liquid_enthalpy;
  for (int i = 0; i < 3; i++)
    network_horizontal_factor(s.net)[i] = factor;
  heat_scene_rates(&s);
  double begin = NAN;
  for (size_t i = 0; i < network_front_num(s.net); i++)
    if (network_front_at(s.net, i).node == 2)
      begin = network_front_at(s.net, i).begin - c->liquid_enthalpy;
  heat_scene_release(&s);
  return begin;
}

/* The front w nodes before the middle, u rises by r = 2 x 6 K k / (1 + 2 w) per node, and the node holds r (w + (1 - w)^2 / 8) / (du/dH) over its freezing point less
 * (1 - w)^2 / 2 of the latent heat (front_node.h): 3 K x 4.2 MJ/m3K for w = 0.858 and r = 4.42 K k. It begins at r / (du/dH), however well the liquid conducts. */
START_TEST(motion_does_not_steepen_the_liquid_before_a_warm_wall)
{
  assert_close(begins_before_a_warm_wall(1.0), 4.2e6 * 4.42, 0.05); /* w is found in three rounds */
  assert_close(begins_before_a_warm_wall(7.0), begins_before_a_warm_wall(1.0), 1e-12);
}
END_TEST

/* Two rings under a plant: their heat is what the plant makes at the temperature that is found; and each ring gives
 * film * area * (T - T_coolant), the nodes being equally warm. Fixed coolant: the same without the plant. */
START_TEST(plant_and_coil_agree_on_one_temperature)
{
  heat_scene s;
  heat_scene_init(&s, GRID_RZ, (size_t[]){10, 1, 12}, (double[]){0.20, 0.0, 0.24}, NULL);
  const material brine = heat_scene_water();
  const int part = heat_scene_part(&s, MESH_SOLID, &brine, 5.0);
  double rings[2][2] = {{0.11, 0.07}, {0.13, 0.17}}, zero = 0.0, fixed = -31.0;
  rig_coil coil = {.name = "spiral", .num_rings = 2, .rings = rings, .tube_outer = 0.012, .outer_film = 700.0, .spread = true,
                   .temperature = {1, &zero, &fixed}};
  s.r.num_coils = 1;
  s.r.coils = &coil;
  shape *all = NULL;
  message msg = {""};
  ck_assert_int_eq(shape_cylinder(&all, 1.0, -1.0, 1.0, &msg), STATUS_OK);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = all};
  ck_assert_int_eq(mesh_create(&s.m, s.g, &layer, 1, 0, &msg), STATUS_OK);
  ck_assert_msg(network_create(&s.net, s.m, &s.r, &msg) == STATUS_OK, "%s", msg.text);
  s.state.enthalpy = calloc(network_num_nodes(s.net) + 1, sizeof(double));
  s.rate = calloc(network_num_nodes(s.net) + 1, sizeof(double));
  s.path_rate = calloc(network_num_paths(s.net) + 1, sizeof(double));
  network_initial(s.net, s.state.enthalpy);
  heat_scene_rates(&s);
  const double pi = 3.14159265358979323846, conductance = 700.0 * pi * 0.012 * 2.0 * pi * (0.11 + 0.13);
  assert_close(network_coil_heat(s.net, 0), conductance * (5.0 + 31.0), 1e-10);
  assert_close(s.path_rate[0], -network_coil_heat(s.net, 0), 1e-14);
  network_set_coolant(s.net, 0, (coolant_state){.plant = true, .temperature = -10.0, .intercept = 900.0, .slope = 25.0});
  heat_scene_rates(&s);
  const double T = (conductance * 5.0 - 900.0) / (conductance + 25.0);
  assert_close(network_coolant_temperature(s.net, 0), T, 1e-10);
  assert_close(network_coil_heat(s.net, 0), 900.0 + 25.0 * T, 1e-10);
  assert_close(part == 0 ? s.path_rate[0] : NAN, -(900.0 + 25.0 * T), 1e-10);
  network_destroy(&s.net);
  shape_destroy(&all);
  heat_scene_release(&s);
}
END_TEST

/* ------------------------------------------------------------------------------------------- bounds and bits */

/* Power iteration on the rate: the bound holds, and is not wasteful. */
START_TEST(bound_covers_the_largest_eigenvalue)
{
  heat_scene s;
  heat_scene_init(&s, GRID_RZ, (size_t[]){12, 1, 10}, (double[]){0.12, 0.0, 0.1}, NULL);
  const material steel = heat_scene_solid(16.0, 3.9e6), wood = heat_scene_solid(0.15, 8e5), metal = heat_scene_solid(200.0, 2.4e6);
  const int a = heat_scene_part(&s, MESH_SOLID, &steel, 0.0), b = heat_scene_part(&s, MESH_SOLID, &wood, 0.0),
            wall = heat_scene_part(&s, MESH_THIN_WALL, &metal, 0.0);
  heat_scene_paint(&s, a, 0, 0, 6);
  heat_scene_paint(&s, wall, 0, 6, 7);
  heat_scene_paint(&s, b, 0, 7, 12);
  heat_scene_rule(&s, SURFACE_FIXED, a, MESH_VOID, FACES_TOP, 0.0, 0.0);
  heat_scene_open(&s);
  const size_t n = network_num_nodes(s.net);
  message msg = {""};
  double bound = 0.0, growth = 0.0;
  ck_assert_int_eq(network_refresh(s.net, s.state.enthalpy, 0.0, 1, &bound, &msg), STATUS_OK);
  seed_now = 5u;
  for (size_t i = 0; i < n; i++)
    s.state.enthalpy[i] = network_part(s.net)[i] >= 0 ? chance() - 0.5 : 0.0;
  for (int round = 0; round < 600; round++) {
    ck_assert_int_eq(network_rate(s.net, s.state.enthalpy, s.rate, s.path_rate, &msg), STATUS_OK);
    double in = 0.0, out = 0.0;
    for (size_t i = 0; i < n; i++) {
      in += s.state.enthalpy[i] * s.state.enthalpy[i];
      out += s.rate[i] * s.rate[i];
    }
    growth = sqrt(out / in);
    for (size_t i = 0; i < n; i++)
      s.state.enthalpy[i] = s.rate[i] / sqrt(out);
  }
  ck_assert_double_le(growth, bound * (1.0 + 1e-9));
  ck_assert_double_ge(growth, 0.5 * bound);
  heat_scene_release(&s);
}
END_TEST

/* Both stages of a pair, one after the other by their rates; both arrays begin as the enthalpy `start`. */
static void stages_by_rates(heat_scene *s, const stage_weights w[2], const double *start, const double *start_rate, double *next, double *last)
{
  const size_t n = network_num_nodes(s->net);
  message msg = {""};
  double *rate = malloc(n * sizeof *rate);
  for (int stage = 0; stage < 2; stage++) {
    const double *from = stage == 0 ? start : next;
    double *to = stage == 0 ? next : last;
    ck_assert_int_eq(network_rate(s->net, from, rate, s->path_rate, &msg), STATUS_OK);
    for (size_t i = 0; i < n; i++)
      to[i] = w[stage].mu * from[i] + w[stage].nu * start[i] + w[stage].rest * start[i] + w[stage].start_rate * start_rate[i] + w[stage].rate * rate[i];
  }
  free(rate);
}

/* The first from `from` on that differs by more than `tolerance` (or is no number), else `to`. Not an assertion a node: each is written to a
 * file and read back, which took half of this suite's time. */
static size_t first_apart(const double *a, const double *b, size_t from, size_t to, double tolerance)
{
  for (size_t i = from; i < to; i++)
    if (!(fabs(a[i] - b[i]) <= tolerance))
      return i;
  return to;
}

/* Cubes and plates, whose slabs are swept in one band and in several; rows of fewer cells than a vector; rows that are even but for a few
 * cells at their ends, in blocks of one row and of many. Water fills cells [from, to) along the rows. */
START_TEST(same_bits_for_any_number_of_threads)
{
  static const struct { size_t num[3], from, to; bool walls; } shapes[] = {{{60, 55, 50}, 0, 40, false}, {{67, 150, 16}, 0, 44, false},
                                                                           {{6, 2600, 10}, 0, 4, false}, {{61, 57, 48}, 3, 57, false},
                                                                           {{25, 320, 24}, 1, 24, false}, {{60, 55, 50}, 0, 60, true}};
  const size_t *num = shapes[_i].num;
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, num, (double[]){0.01 * (double)num[0], 0.01 * (double)num[1], 0.01 * (double)num[2]}, NULL);
  const material water = heat_scene_water(), steel = heat_scene_solid(16.0, 3.9e6);
  const int a = heat_scene_part(&s, MESH_SOLID, &water, 1.0), b = heat_scene_part(&s, MESH_SOLID, &steel, 0.0);
  heat_scene_paint(&s, a, 0, shapes[_i].from, shapes[_i].to);
  heat_scene_paint(&s, b, 2, 0, num[2] / 7);
  if (shapes[_i].walls) { /* a stack with one layer of nodes between each wall and the next, and a wall at the end: two threads that meet between
                             two walls both have all nodes there, and whoever comes first would leave other roundings */
    const material metal = heat_scene_solid(16.0, 3.9e6);
    const int wall = heat_scene_part(&s, MESH_THIN_WALL, &metal, 0.0);
    for (size_t k = num[2] / 7; k + 1 < num[2]; k += 2) {
      heat_scene_paint(&s, wall, 2, k, k + 1);
      heat_scene_paint(&s, k % 4 == 1 ? b : a, 2, k + 1, k + 2);
    }
    heat_scene_paint(&s, wall, 0, 59, 60);
    heat_scene_rule(&s, SURFACE_FILM, wall, MESH_VOID, FACES_ALL, 30.0, -12.0);
  }
  heat_scene_rule(&s, SURFACE_FIXED, a, MESH_VOID, FACES_ALL, 0.0, -20.0);
  heat_scene_open(&s);
  const size_t n = network_num_nodes(s.net);
  ck_assert_uint_gt(n, 150000);
  double *first_paths = malloc((network_num_paths(s.net) + 1) * sizeof *first_paths);
  seed_now = 9u;
  for (size_t i = 0; i < n; i++)
    s.state.enthalpy[i] = -1e7 + 4e8 * chance();
  enum { RATE, LAST, NEXT, KINDS }; /* the rate, and both stages of a pair */
  const stage_weights w[2] = {{1.3, -0.4, 0.1, 0.7, -0.2}, {1.1, -0.3, 0.2, 0.9, 0.15}};
  double *memory = malloc(3 * KINDS * n * sizeof *memory), *first = memory, *now = memory + KINDS * n, *wanted = memory + 2 * KINDS * n;
  message msg = {""};
  for (int threads = 1; threads <= 64; threads *= threads == 4 ? 16 : 2) { /* 64: more than slabs */
    omp_set_num_threads(threads);
    heat_scene_rates(&s);
    memcpy(now, s.rate, n * sizeof *now);
    memcpy(now + LAST * n, s.state.enthalpy, n * sizeof *now);
    memcpy(now + NEXT * n, s.state.enthalpy, n * sizeof *now);
    ck_assert_int_eq(network_stages(s.net, w, s.state.enthalpy, s.rate, now + LAST * n, now + NEXT * n,
                                    (double *[]){s.path_rate, s.path_rate}, &msg), STATUS_OK);
    for (size_t path = 0; path < network_num_paths(s.net); path++) {
      first_paths[path] = threads == 1 ? s.path_rate[path] : first_paths[path];
      ck_assert_double_eq(first_paths[path], s.path_rate[path]);
    }
    if (threads == 1) {
      memcpy(first, now, KINDS * n * sizeof *first);
      stages_by_rates(&s, w, s.state.enthalpy, now, wanted + NEXT * n, wanted + LAST * n);
      const size_t i = shapes[_i].walls ? KINDS * n : first_apart(now, wanted, n, KINDS * n, 1e-4); /* J/m3, of some 1e8 */
      ck_assert_msg(i == KINDS * n, "node %zu: %.17g, by the rates %.17g", i % n, now[i], wanted[i]); /* temperatures of walls: as near as solved */
    } else {
      const size_t i = first_apart(first, now, 0, KINDS * n, 0.0); /* the rate of an absent cell may be zero of either sign */
      ck_assert_msg(i == KINDS * n, "%d threads, node %zu: %a with one thread, now %a", threads, i % n, first[i], now[i]);
    }
  }
  free(first_paths);
  free(memory);
  heat_scene_release(&s);
}
END_TEST

/* Two stages in one sweep are, node by node, what their formula gives with the rates. */
START_TEST(two_stages_follow_the_rates)
{
  heat_scene s;
  open_random(&s, _i);
  heat_scene_rates(&s);
  const size_t n = network_num_nodes(s.net), num_paths = network_num_paths(s.net);
  const stage_weights w[2] = {{1.3, -0.4, 0.1, 0.7, -0.2}, {1.1, -0.3, 0.2, 0.9, 0.15}};
  /* J/m3, of some 1e8; in space the walls are solved for by iteration, to 0.01 K, from where the last solve ended */
  const double close = s.g->kind == GRID_RZ ? 1e-6 : 2000.0;
  double *start = s.state.enthalpy, *memory = malloc((6 * n + 4 * num_paths) * sizeof *memory);
  double *start_rate = memory, *last = memory + n, *next = memory + 2 * n, *wanted[2] = {memory + 3 * n, memory + 4 * n}, *rate = memory + 5 * n;
  double *path[4];
  for (int p = 0; p < 4; p++)
    path[p] = memory + 6 * n + (size_t)p * num_paths;
  message msg = {""};
  for (size_t i = 0; i < n; i++) {
    const double share = network_volume(s.net)[i] > 0.0 ? 1.0 : 0.0;
    start_rate[i] = share * 3e3 * (chance() - 0.5);
    last[i] = start[i] + share * 2e7 * (chance() - 0.5);
    next[i] = start[i] + share * 2e7 * (chance() - 0.5);
  }
  const double *before[3] = {next, last, wanted[0]};
  for (int stage = 0; stage < 2; stage++) {
    ck_assert_int_eq(network_rate(s.net, before[stage + 1], rate, path[stage], &msg), STATUS_OK);
    for (size_t i = 0; i < n; i++)
      wanted[stage][i] = w[stage].mu * before[stage + 1][i] + w[stage].nu * before[stage][i] + w[stage].rest * start[i] +
                         w[stage].start_rate * start_rate[i] + w[stage].rate * rate[i];
  }
  ck_assert_int_eq(network_stages(s.net, w, start, start_rate, last, next, (double *[]){path[2], path[3]}, &msg), STATUS_OK);
  for (size_t i = 0; i < n; i++) {
    ck_assert_double_eq_tol(next[i], wanted[0][i], close);
    ck_assert_double_eq_tol(last[i], wanted[1][i], close);
  }
  for (size_t p = 0; p < 2 * num_paths; p++)
    ck_assert_double_eq_tol(path[2][p], path[0][p], (s.g->kind == GRID_RZ ? 1e-9 : 1e-3) * (1.0 + fabs(path[0][p])));
  free(memory);
  heat_scene_release(&s);
}
END_TEST

/* ------------------------------------------------------------------------------------------- refusals */

START_TEST(a_piece_that_touches_nothing_is_refused_by_name)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){3, 1, 1}, (double[]){0.03, 1.0, 1.0}, (bool[]){true, true, true, true, true, true});
  const material solid = heat_scene_solid(1.0, 1e6);
  const int part = heat_scene_part(&s, MESH_SOLID, &solid, 0.0);
  heat_scene_paint(&s, part, 0, 0, 3);
  heat_scene_open(&s);
  /* the first cell is cut off: its only face is taken away */
  s.m->regular[0][0] = 0.0;
  network *net = NULL;
  message msg = {""};
  ck_assert_int_eq(network_create(&net, s.m, &s.r, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_null(net);
  ck_assert_ptr_nonnull(strstr(msg.text, "part 0"));
  heat_scene_release(&s);
}
END_TEST

START_TEST(surfaces_without_what_they_need_are_refused)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){1, 1, 1}, (double[]){1.0, 1.0, 1.0}, NULL);
  const material solid = heat_scene_solid(1.0, 1e6);
  const int part = heat_scene_part(&s, MESH_SOLID, &solid, 0.0);
  heat_scene_paint(&s, part, 0, 0, 1);
  heat_scene_open(&s);
  static const surface_kind kind[] = {SURFACE_FILM, SURFACE_FIXED, SURFACE_CONTACT, SURFACE_FLOOR};
  s.rules[0] = (surface_rule){.kind = kind[_i], .part = part, .other = MESH_VOID};
  if (kind[_i] == SURFACE_CONTACT)
    s.rules[0].coefficient = heat_scene_constant(&s, 0.1);
  s.r.num_rules = 1;
  network *net = NULL;
  message msg = {""};
  ck_assert_int_eq(network_create(&net, s.m, &s.r, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "part 0"));
  heat_scene_release(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("network");
  TCase *t = tcase_create("network");
  tcase_set_timeout(t, 120);
  tcase_add_loop_test(t, random_networks_conserve, 0, 12);
  tcase_add_test(t, steady_multilayer_wall_is_exact);
  tcase_add_test(t, thin_wall_is_a_resistance_in_series);
  tcase_add_test(t, thin_wall_meets_what_the_rules_of_a_stage_say);
  tcase_add_loop_test(t, thin_wall_conducts_along_itself, 0, 2);
  tcase_add_test(t, node_at_freezing_point_conducts_as_ice_to_a_cold_wall);
  tcase_add_test(t, film_and_water_act_in_series_on_the_branch_of_the_surface);
  tcase_add_test(t, held_part_contact_and_rules_in_order);
  tcase_add_test(t, moisture_settles_below_the_dew_point_only);
  tcase_add_test(t, stirred_bath_is_one_node_with_films);
  tcase_add_test(t, motion_factors_reach_liquid_faces_only);
  tcase_add_test(t, liquid_follows_a_front_however_it_is_rounded);
  tcase_add_test(t, motion_does_not_steepen_the_liquid_before_a_warm_wall);
  tcase_add_test(t, plant_and_coil_agree_on_one_temperature);
  tcase_add_test(t, bound_covers_the_largest_eigenvalue);
  tcase_add_loop_test(t, same_bits_for_any_number_of_threads, 0, 6);
  tcase_add_loop_test(t, two_stages_follow_the_rates, 0, 6);
  tcase_add_test(t, a_piece_that_touches_nothing_is_refused_by_name);
  tcase_add_loop_test(t, surfaces_without_what_they_need_are_refused, 0, 4);
  suite_add_tcase(suite, t);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
