/* Ice in layers on what draws heat from a stirred bath. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "materials/water.h"
#include "tests/solver/heat_scene.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

static const double PI = 3.14159265358979323846;
static const double STRENGTH = 0.2, FILM = 480.0, HELD = 0.2, TUBE = 0.0127;

/* A tub of brine with one ring of tube in it; side by side: all of it one node. */
typedef struct {
  heat_scene s;
  shape *all;
  material brine;
  rig_coil coil;
  double ring[1][2], zero, cold;
  int bath;
} tub;

static void tub_create(tub *t, double radius, double height, double start, double cold, double inner_film)
{
  message msg = {""};
  *t = (tub){.zero = 0.0, .cold = cold, .ring = {{0.5 * radius, 0.5 * height}}};
  heat_scene_init(&t->s, GRID_RZ, (size_t[]){4, 1, 4}, (double[]){radius, 0.0, height}, NULL);
  ck_assert_int_eq(brine_closed(&t->brine, BRINE_CACL2, LIQUIDUS_TONER_CATLING, STRENGTH, MUSH_MAXWELL, &msg), STATUS_OK);
  t->bath = heat_scene_part(&t->s, MESH_SOLID, &t->brine, start);
  t->s.baths[0] = (rig_bath){.name = "tub", .part = t->bath, .salt = BRINE_CACL2, .liquidus = LIQUIDUS_TONER_CATLING, .mode = SALT_MIXED,
                             .mass_fraction = STRENGTH, .held_brine = HELD, .flow = {.kind = MOTION_STIRRED, .film_coefficient = FILM}};
  t->s.r.num_baths = 1;
  t->coil = (rig_coil){.name = "coil", .num_rings = 1, .rings = t->ring, .tube_outer = TUBE, .inner_film = inner_film,
                       .temperature = {1, &t->zero, &t->cold}};
  t->s.r.num_coils = 1;
  t->s.r.coils = &t->coil;
  ck_assert_int_eq(shape_cylinder(&t->all, 9.0, -9.0, 9.0, &msg), STATUS_OK);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = t->all};
  ck_assert_int_eq(mesh_create(&t->s.m, t->s.g, &layer, 1, 0, &msg), STATUS_OK);
  heat_scene_open(&t->s);
}

static void tub_release(tub *t)
{
  heat_scene_release(&t->s);
  shape_destroy(&t->all);
}

/* In steps no longer than a minute: only the one node of the bath is judged by the controller. */
static void march(tub *t, double time)
{
  while (t->s.state.time < time)
    heat_scene_advance(&t->s, fmin(time - t->s.state.time, 60.0));
}

static double ice_radius(const tub *t)
{
  return network_coil_ice_radius(t->s.net, 0, 0, t->s.state.enthalpy);
}

static network_ice bath_now(const tub *t)
{
  network_ice ice;
  ck_assert(network_ice_at(t->s.net, t->bath, t->s.state.enthalpy, &ice));
  return ice;
}

/* Maxwell 1873, brine dispersed in ice. */
static double layer_conductivity(double temperature)
{
  const double k = water_ice_conductivity(ICE_ANDERSSON_INABA, temperature), b = brine_conductivity(BRINE_CACL2, STRENGTH, temperature);
  return k * (2.0 * k + b - 2.0 * HELD * (k - b)) / (2.0 * k + b + HELD * (k - b));
}

/* Outward freezing on a cylinder held cold, one-phase, Ste 0.1: converged to 1e-8 (reference check 3b, a front-fixing collocation code
 * independent of this program). The layer leaves out its own sensible heat: some Ste / 4 of the time. Limit of the check: 3 %. */
static const struct { double ratio, fourier; } outward[] = {{1.5, 1.47781445}, {2.0, 6.52931306}, {3.0, 30.1114221}};

START_TEST(ice_grows_on_the_tube_as_on_a_cold_cylinder)
{
  tub t;
  const double onset = brine_onset(BRINE_CACL2, LIQUIDUS_TONER_CATLING, STRENGTH);
  const double latent = brine_effective_latent_heat(BRINE_CACL2, onset), c = 2000.0, fall = 0.1 * latent / c;
  tub_create(&t, 12.0, 12.0, onset, onset - fall, 0.0); /* so large that it does not grow stronger */
  heat_scene_step(&t.s, _i % 2 ? INTEGRATOR_BDF : INTEGRATOR_STABILISED, 0.0);
  const double unit = WATER_ICE_DENSITY * (1.0 - HELD) * latent * 0.25 * TUBE * TUBE / (layer_conductivity(onset) * fall);
  march(&t, 0.1 * outward[_i / 2].fourier * unit);
  assert_close(ice_radius(&t), 0.5 * TUBE * outward[_i / 2].ratio, 0.02);
  tub_release(&t);
}
END_TEST

/* Warm liquid: the ice stands where conduction through it is what the film brings,
 * (T_l - T_c) / (1 / (2 pi a h_i) + ln(r / a) / (2 pi k)) = 2 pi r h (T - T_l), by hand. */
START_TEST(in_a_warm_bath_the_ice_stands_still)
{
  tub t;
  const double start = -14.0, cold = -45.0, inner = 1400.0, onset = brine_onset(BRINE_CACL2, LIQUIDUS_TONER_CATLING, STRENGTH);
  tub_create(&t, 12.0, 12.0, start, cold, inner);
  heat_scene_step(&t.s, INTEGRATOR_STABILISED, 0.0);
  march(&t, 6.0 * 3600.0);
  const network_ice ice = bath_now(&t);
  const double a = 0.5 * TUBE, k = layer_conductivity(onset), r = ice_radius(&t), length = 2.0 * PI * t.ring[0][0];
  const double through = (ice.ice_line - cold) / (1.0 / (2.0 * PI * a * inner) + log(r / a) / (2.0 * PI * k));
  ck_assert_double_gt(r, 1.1 * a);
  assert_close(2.0 * PI * r * FILM * (ice.temperature - ice.ice_line), through, 0.01);
  assert_close(network_coil_heat(t.s.net, 0), through * length, 0.01);
  const network_ice_cost cost = network_ice_on_tubes(t.s.net, t.s.state.enthalpy);
  assert_close(cost.resistance, log(r / a) / (2.0 * PI * k * length), 0.01);
  assert_close(cost.mean, r - a, 0.01);
  tub_release(&t);
}
END_TEST

/* A small tub, cooled for long and then left: all its ice is on the tube, and strength and ice are those of the lever rule of the whole,
 * ice = 1 - w0 / w with T the ice line of w (by hand from the liquidus). The tube warm again: it melts back to nothing. */
START_TEST(strength_and_ice_are_the_lever_rule_and_melt_back)
{
  tub t;
  tub_create(&t, 0.2, 0.3, -17.0, -30.0, 1400.0);
  heat_scene_step(&t.s, _i ? INTEGRATOR_BDF : INTEGRATOR_STABILISED, 0.0);
  march(&t, 4.0 * 3600.0);
  const network_ice grown = bath_now(&t);
  ck_assert_double_gt(grown.share, 0.03);
  ck_assert_double_gt(grown.temperature, grown.ice_line);
  assert_close(brine_liquidus_fraction(BRINE_CACL2, LIQUIDUS_TONER_CATLING, grown.ice_line), STRENGTH / (1.0 - grown.share), 1e-5);
  for (int hour = 8; hour <= 40; hour += 8) { /* a coolant no colder than the bath draws nothing: it comes to rest */
    network_set_coolant(t.s.net, 0, (coolant_state){.temperature = bath_now(&t).ice_line});
    march(&t, hour * 3600.0);
  }
  const network_ice rest = bath_now(&t);
  const double lever = 1.0 - phase_curve_liquid_fraction(&t.brine.curve, t.s.state.enthalpy[network_node(t.s.net)[0]]);
  ck_assert_double_eq_tol(rest.share, lever, 1e-6);
  ck_assert_double_eq_tol(rest.temperature, rest.ice_line, 1e-3);
  ck_assert_double_lt(rest.floating, 1e-6);
  network_set_coolant(t.s.net, 0, (coolant_state){.temperature = 20.0});
  march(&t, 44.0 * 3600.0);
  ck_assert_double_lt(ice_radius(&t) - 0.5 * TUBE, 1e-6);
  ck_assert_double_lt(fabs(heat_scene_residual(&t.s)), 1e-9);
  tub_release(&t);
}
END_TEST

/* A flat wall held cold: thickness by Stefan's formula with the contact's resistance R in series,
 * d^2 / (2 k) + R d = dT t / (rho L), computed by hand (no sensible heat). */
START_TEST(ice_grows_on_a_cold_wall)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){12, 1, 1}, (double[]){600.0, 0.2, 0.3}, (bool[]){false, false, true, true, true, true});
  message msg = {""};
  material brine;
  ck_assert_int_eq(brine_closed(&brine, BRINE_CACL2, LIQUIDUS_TONER_CATLING, STRENGTH, MUSH_MAXWELL, &msg), STATUS_OK);
  const double onset = brine.curve.freezing_temperature, latent = brine_effective_latent_heat(BRINE_CACL2, onset), cold = onset - 9.0;
  const int bath = heat_scene_part(&s, MESH_SOLID, &brine, onset);
  const int jacket = heat_scene_part(&s, MESH_HELD, NULL, cold);
  s.parts[jacket].held = heat_scene_constant(&s, cold);
  s.parts[jacket].held_film = 900.0;
  heat_scene_paint(&s, jacket, 0, 0, 1);
  heat_scene_paint(&s, bath, 0, 1, 12);
  s.baths[0] = (rig_bath){.part = bath, .salt = BRINE_CACL2, .liquidus = LIQUIDUS_TONER_CATLING, .mode = SALT_MIXED, .mass_fraction = STRENGTH,
                          .held_brine = HELD, .flow = {.kind = MOTION_STIRRED, .film_coefficient = FILM}};
  s.r.num_baths = 1;
  heat_scene_open(&s);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
  while (s.state.time < 5.0 * 3600.0)
    heat_scene_advance(&s, fmin(30.0, 5.0 * 3600.0 - s.state.time));
  const double k = layer_conductivity(onset), R = 1.0 / 900.0, grown = 9.0 * s.state.time / (WATER_ICE_DENSITY * (1.0 - HELD) * latent);
  const double d = -k * R + sqrt(k * k * R * R + 2.0 * k * grown);
  network_ice ice;
  ck_assert(network_ice_at(s.net, bath, s.state.enthalpy, &ice));
  const double mass = network_volume(s.net)[network_node(s.net)[1]] * brine.density;
  assert_close(ice.share * mass / (0.06 * WATER_ICE_DENSITY * (1.0 - HELD)), d, 0.01);
  ck_assert_double_lt(fabs(heat_scene_residual(&s)), 1e-9);
  heat_scene_release(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("network_ice");
  TCase *c = tcase_create("layers of ice in a stirred bath");
  tcase_set_timeout(c, 60.0);
  tcase_add_loop_test(c, ice_grows_on_the_tube_as_on_a_cold_cylinder, 0, 6);
  tcase_add_test(c, in_a_warm_bath_the_ice_stands_still);
  tcase_add_loop_test(c, strength_and_ice_are_the_lever_rule_and_melt_back, 0, 2);
  tcase_add_test(c, ice_grows_on_a_cold_wall);
  suite_add_tcase(suite, c);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
