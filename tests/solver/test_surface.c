/* A surface of ice that melts: pinned at the freezing point once it is warmed to it, and only then. Liquid that moves before a cold surface: with ice on it
 * where it would be colder than freezing, so that the heat never leaps. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "materials/material.h"
#include "solver/surface.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

static material ice;

static void set_up(void)
{
  const constant_phases phases = {.density = 917.0, .solid_conductivity = 2.2, .solid_specific_heat = 2050.0, .liquid_conductivity = 0.56,
                                  .liquid_specific_heat = 4200.0, .latent_heat = 334000.0, .freezing_temperature = 0.0};
  ck_assert_int_eq(material_constant_phases(&ice, "ice", &phases, NULL), STATUS_OK);
}

static void tear_down(void) { material_release(&ice); }

/* W from the water, 1 m2 through 500 W/(m2 K), into a node of ice 8 mm deep at -9 degC. */
static double heat_from(double water, bool melts, surface_side side[2])
{
  const surface_end end[2] = {{.kind = SURFACE_END_NODE, .curve = &ice.curve, .potential = -9.0 * 2.2, .temperature = -9.0, .reach = 4e-3, .factor = 1.0, .melts = melts},
                              {.kind = SURFACE_END_ENVIRONMENT, .temperature = water, .reach = 1.0 / 500.0, .factor = 1.0}};
  surface_balance(end, 0.0, side);
  const double offered = side[0].slope * end[0].potential + side[0].offset;
  return (side[1].offset - offered) / (side[0].resistance + side[1].resistance);
}

/* 20 degC: at a surface of 0 degC 500 x 20 = 10 kW, less what a film of 0.02 mm takes (1.8 %); with water half the way, (0.56 T + 2.2 x 9) / 4 mm, it is less. */
START_TEST(a_melting_surface_is_at_the_freezing_point)
{
  surface_side side[2];
  assert_close(heat_from(20.0, true, side), 10e3 / (1.0 + 500.0 * 0.02e-3 / 0.56), 1e-9);
  ck_assert_double_lt(fabs(side[0].surface), 0.4);
  const double T = (500.0 * 20.0 - 2.2 * 9.0 / 4e-3) / (500.0 + 0.56 / 4e-3); /* 500 (20 - T) = (0.56 T + 2.2 x 9) / 4 mm */
  assert_close(heat_from(20.0, false, side), 500.0 * (20.0 - T), 1e-9);
}
END_TEST

/* Water of 5 degC gives less than ice of -9 degC would take from a surface of 0 degC (2.5 kW against 4.95): the surface stays below, and nothing melts. */
START_TEST(a_surface_that_stays_below_conducts_as_ice)
{
  surface_side side[2], plain[2];
  const double heat = heat_from(5.0, true, side);
  assert_close(heat, 14.0 / (1.0 / 500.0 + 4e-3 / 2.2), 1e-9);
  ck_assert_double_lt(side[0].surface, 0.0);
  ck_assert_double_eq(heat, heat_from(5.0, false, plain));
}
END_TEST

/* Liquid at 2 degC that moves, 8 mm from its surface: sixfold, so 0.56 x 6 / 8 mm = 420 W/K. Its ice lies on the surface. */
#define LIQUID {.kind = SURFACE_END_NODE, .curve = &ice.curve, .potential = 2.0 * 0.56, .temperature = 2.0, .reach = 8e-3, .factor = 6.0, .lays_ice = true}

static double heat_between(const surface_end end[2], double resistance, surface_side side[2])
{
  surface_balance(end, resistance, side);
  const double offered[2] = {side[0].slope * end[0].potential + side[0].offset, side[1].slope * end[1].potential + side[1].offset};
  return (offered[0] - offered[1]) / (side[0].resistance + resistance + side[1].resistance);
}

static double heat_to(double coolant, bool lays_ice, double warmer, surface_side side[2])
{
  surface_end end[2] = {LIQUID, {.kind = SURFACE_END_ENVIRONMENT, .temperature = coolant, .reach = 1.0 / 600.0, .factor = 1.0}};
  end[0].lays_ice = lays_ice;
  end[0].potential += warmer;
  return heat_between(end, 1.0 / 600.0, side); /* 300 W/K in all */
}

/* 420 x 2 = 840 W to a face at 0 degC: what 300 W/K let through at 2.8 K. At rest, behind ice alone: (0.56 x 2 / 2.2 + T) / (8 mm / 2.2 + 1 / 300), which is
 * 840 W at T = 5.3455 K. */
START_TEST(ice_on_a_surface_lets_through_what_the_film_brings)
{
  surface_side side[2];
  const double last = 840.0 * (8e-3 / 2.2 + 1.0 / 300.0) - 1.12 / 2.2; /* K below freezing */
  assert_close(heat_to(-2.0, true, 0.0, side), 4.0 / (1.0 / 420.0 + 1.0 / 300.0), 1e-12);
  ck_assert_double_gt(side[0].surface, 0.0);
  assert_close(heat_to(-4.0, true, 0.0, side), 840.0, 1e-12);
  assert_close(side[0].surface, -4.0 + 840.0 / 300.0, 1e-12);
  assert_close(side[1].surface, -4.0 + 840.0 / 600.0, 1e-12);
  const double at_rest = (1.12 / 2.2 + 8.0) / (8e-3 / 2.2 + 1.0 / 300.0);
  assert_close(heat_to(-8.0, true, 0.0, side), at_rest, 1e-12);
  /* no leap at either end, and a leap of a third without the ice */
  assert_close(heat_to(-2.8 + 1e-6, true, 0.0, side), heat_to(-2.8 - 1e-6, true, 0.0, side), 1e-6);
  assert_close(heat_to(-last + 1e-6, true, 0.0, side), heat_to(-last - 1e-6, true, 0.0, side), 1e-6);
  ck_assert_double_gt(heat_to(-2.8 + 1e-6, false, 0.0, side), 1.5 * heat_to(-2.8 - 1e-6, false, 0.0, side));
}
END_TEST

/* d q / d u = 6 / 8 mm with ice, on both sides of the balance as well as in the tangent that a step keeps. */
START_TEST(the_tangent_of_a_surface_with_ice_is_that_of_its_film)
{
  surface_side side[2], other[2];
  const double warmer = 1e-3, heat = heat_to(-4.0, true, 0.0, side), more = heat_to(-4.0, true, warmer, other);
  assert_close(more - heat, 6.0 / 8e-3 * warmer, 1e-9);
  assert_close(side[0].slope / (side[0].resistance + 1.0 / 600.0 + side[1].resistance), 6.0 / 8e-3, 1e-12);
}
END_TEST

/* The other end is told of the heat: ice of -4 degC that melts at -1 degC, 8 mm behind its surface. At rest the surface is at -1.7 degC, with 840 W
 * at -1 + (840 x 8 mm - 2.2 x 3) / 0.56, of water. Either end may be the one with the ice. */
START_TEST(what_stands_behind_takes_the_heat_of_the_film)
{
  material other;
  const constant_phases phases = {.density = 917.0, .solid_conductivity = 2.2, .solid_specific_heat = 2050.0, .liquid_conductivity = 0.56,
                                  .liquid_specific_heat = 4200.0, .latent_heat = 334000.0, .freezing_temperature = -1.0};
  ck_assert_int_eq(material_constant_phases(&other, "other", &phases, NULL), STATUS_OK);
  const surface_end behind = {.kind = SURFACE_END_NODE, .curve = &other.curve, .potential = -3.0 * 2.2, .temperature = -4.0, .reach = 8e-3, .factor = 1.0};
  for (int s = 0; s < 2; s++) {
    const surface_end liquid = LIQUID, end[2] = {s ? behind : liquid, s ? liquid : behind};
    surface_side side[2];
    assert_close(heat_between(end, 0.0, side), s ? -840.0 : 840.0, 1e-12);
    assert_close(side[0].surface, -1.0 + (840.0 * 8e-3 - 6.6) / 0.56, 1e-9);
    assert_close(side[1].surface, side[0].surface, 1e-9);
  }
  material_release(&other);
}
END_TEST

static double chance(uint32_t *seed) /* 0..1; Numerical Recipes' quick generator */
{
  *seed = *seed * 1664525u + 1013904223u;
  return (double)(*seed >> 8) / 16777216.0;
}

/* Nodes of ice, water and both (at the freezing point) before colder and warmer walls: the surface on the node's branch or on the other. */
START_TEST(the_plain_balance_gives_the_same_bits)
{
  const phase_curve *c = &ice.curve;
  const surface_plain plain = {.freezing_temperature = c->freezing_temperature,
                               .solid_conductivity = c->solid_potential_slope / c->solid_temperature_slope,
                               .liquid_conductivity = c->liquid_potential_slope / c->liquid_temperature_slope};
  uint32_t seed = 23u;
  size_t found = 0, other_branch = 0;
  enum { TIMES = 20000 };
  for (int n = 0; n < TIMES; n++) {
    const double enthalpy = c->solid_enthalpy - 8e7 + chance(&seed) * (c->liquid_enthalpy - c->solid_enthalpy + 1.6e8);
    const double resistance = 1e-4 + 0.1 * chance(&seed), wall = n % 50 == 0 ? 0.0 : -30.0 + 60.0 * chance(&seed);
    const surface_end end[2] = {{.kind = SURFACE_END_NODE, .curve = c, .potential = phase_curve_potential(c, enthalpy),
                                 .temperature = phase_curve_temperature(c, enthalpy), .reach = 1e-3 + 0.1 * chance(&seed), .factor = 1.0},
                                {.kind = SURFACE_END_ENVIRONMENT, .temperature = wall, .factor = 1.0}};
    surface_side want[2], got;
    surface_balance(end, resistance, want);
    if (!surface_plain_balance(&plain, end[0].potential, end[0].temperature, end[0].reach, resistance, wall, &got))
      continue;
    found++;
    other_branch += (got.surface < 0.0) != (end[0].temperature < 0.0);
    ck_assert_double_eq(got.slope, want[0].slope);
    ck_assert_double_eq(got.offset, want[0].offset);
    ck_assert_double_eq(got.resistance, want[0].resistance);
    ck_assert_double_eq(got.surface, want[0].surface);
    ck_assert_double_eq(want[0].moisture, 0.0);
    ck_assert_double_eq(want[0].moisture_share, 0.0);
  }
  ck_assert_uint_gt(found, TIMES - TIMES / 20);
  ck_assert_uint_gt(other_branch, TIMES / 20);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("surface");
  TCase *t = tcase_create("surface");
  tcase_add_checked_fixture(t, set_up, tear_down);
  tcase_add_test(t, a_melting_surface_is_at_the_freezing_point);
  tcase_add_test(t, a_surface_that_stays_below_conducts_as_ice);
  tcase_add_test(t, ice_on_a_surface_lets_through_what_the_film_brings);
  tcase_add_test(t, the_tangent_of_a_surface_with_ice_is_that_of_its_film);
  tcase_add_test(t, what_stands_behind_takes_the_heat_of_the_film);
  tcase_add_test(t, the_plain_balance_gives_the_same_bits);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
