/* Ice released from its mould by warming: the film between them against half a space of ice at -10 degC that takes 3 kW/m2 from time 0.
 *
 * The hand formula: 36.4 s to 0 degC at the surface and 142.2 s to a film of 0.5 mm (computed independently from the same closed form); 766 s at
 * 1 kW/m2 and 21 s at -5 degC and 10 kW/m2. The march: plain explicit time stepping on cells of 0.25 mm, below. */
#include "bench_rig.h"

#include <math.h>
#include <stdlib.h>

#include "solver/release.h"

START_TEST(the_hand_formula_gives_the_published_times)
{
  bench_rig_title("release, by hand");
  bench_rig_judge(release_by_hand(-10.0, 3000.0, 0.5e-3).melts_at, 36.4, 1.0, "surface at 0 degC, 3 kW/m2");
  bench_rig_judge(release_by_hand(-10.0, 3000.0, 0.5e-3).released_at, 142.2, 1.0, "film of 0.5 mm, 3 kW/m2");
  bench_rig_judge(release_by_hand(-10.0, 1000.0, 0.5e-3).released_at, 766.0, 1.0, "film of 0.5 mm, 1 kW/m2");
  bench_rig_judge(release_by_hand(-5.0, 10000.0, 0.5e-3).released_at, 21.0, 3.0, "film of 0.5 mm, 10 kW/m2 (given to two figures)");
  bench_rig_verdict();
}
END_TEST

static const double K = 2.22, HEAT_CAPACITY = 917.0 * 2050.0, MELTING = 917.0 * 334000.0, FLUX = 3000.0;

/* s: the oracle. The surface takes the flux until it is at 0 degC; then what the ice does not take melts. */
static double oracle(void)
{
  enum { CELLS = 480 };
  const double cell = 0.25e-3, step = 0.4 * cell * cell * HEAT_CAPACITY / K;
  double temperature[CELLS], film = 0.0, time = 0.0;
  for (int i = 0; i < CELLS; i++)
    temperature[i] = -10.0;
  for (; film < RELEASE_FILM; time += step) {
    const bool melts = temperature[0] + FLUX * 0.5 * cell / K >= 0.0;
    double left = melts ? -K * temperature[0] / (0.5 * cell) : FLUX;
    film += (FLUX - left) * step / MELTING;
    for (int i = 0; i < CELLS; i++) {
      const double right = i + 1 < CELLS ? K * (temperature[i] - temperature[i + 1]) / cell : 0.0;
      temperature[i] += step * (left - right) / (HEAT_CAPACITY * cell);
      left = right;
    }
  }
  return time;
}

/* A bar of ice against a mould that is heated by 3 kW/m2 through next to nothing. */
static double released_after(double cell)
{
  const constant_phases ice = {.density = 917.0, .solid_conductivity = K, .solid_specific_heat = 2050.0, .liquid_conductivity = 0.58,
                               .liquid_specific_heat = 4200.0, .latent_heat = 334000.0, .freezing_temperature = 0.0};
  enum { LENGTH_MM = 200 };
  bench_rig b;
  bench_rig_init(&b);
  const size_t cells = (size_t)(1e-3 * LENGTH_MM / cell + 0.5);
  double edges[LENGTH_MM * 2 + 3];
  edges[0] = -0.01;
  for (size_t i = 0; i <= cells; i++)
    edges[i + 1] = (double)i * cell;
  bench_rig_line(&b, GRID_XYZ, cells + 1, edges, false, true);
  const int body = bench_rig_water(&b, bench_rig_everywhere(&b), &ice, -10.0);
  material plate;
  ck_assert_int_eq(material_constant(&plate, "plate", 1000.0, 1.0, 1.0, NULL), STATUS_OK);
  const int mould = bench_rig_part(&b, PART_SOLID, bench_rig_box(&b, -0.01, 0.0, -1.0, 1.0, -1.0, 1.0), &plate, -10.0);
  bench_rig_rule(&b, SURFACE_FILM, mould, MESH_VOID, FACES_ALL, 0.3, 1e4); /* 3 kW/m2 within 0.1 % */
  bench_march how = bench_rig_exact(150.0);
  how.longest_step = 0.25;
  bench_rig_open(&b, how, 3e8);
  double time = 0.0, before = 0.0, released = NAN;
  double *liquid = calloc(2 * b.m->num_nodes, sizeof *liquid), *temperature = liquid + b.m->num_nodes;
  const phase_curve *curve = &b.stuff[body].curve;
  adjacency beside;
  ck_assert_int_eq(adjacency_create(&beside, b.m, NULL), STATUS_OK);
  const uint8_t is_mould[2] = {body == 0 ? 0 : 1, mould == 0 ? 0 : 1};
  for (; isnan(released) && time < 400.0; time += 0.5) {
    bench_rig_march(&b, time + 0.5);
    for (size_t n = 0; n < b.m->num_nodes; n++)
      if (b.m->part[n] == body) {
        liquid[n] = phase_curve_liquid_fraction(curve, b.state.enthalpy[n]);
        temperature[n] = phase_curve_temperature(curve, b.state.enthalpy[n]);
      }
    release_film film;
    ck_assert_int_eq(release_film_now(&film, b.m, &beside, body, is_mould, &(release_ice){temperature, liquid, curve}, NULL), STATUS_OK);
    if (film.thinnest >= RELEASE_FILM)
      released = time + 0.5 * (RELEASE_FILM - before) / (film.thinnest - before);
    before = film.thinnest;
  }
  free(liquid);
  adjacency_release(&beside);
  bench_rig_release(&b);
  return released;
}

/* A cell melts when its mean is at 0 degC, its surface rho c h^2 / (2 k) sooner (cell h; 7 to 42 s of 137 from 4 to 10 mm), which the film allows for. */
START_TEST(the_film_grows_as_in_a_half_space)
{
  static const double cell[] = {1e-3, 2.5e-3, 5e-3, 10e-3};
  const double want = oracle();
  bench_rig_title("release, half space at -10 degC, 3 kW/m2: film of 0.5 mm");
  for (int i = bench_rig_brief() ? 3 : 0; i < 4; i++)
    bench_rig_judge(released_after(cell[i]), want, 3.0, "cells of %g mm", 1e3 * cell[i]);
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *s = suite_create("release");
  TCase *c = tcase_create("release");
  tcase_add_test(c, the_hand_formula_gives_the_published_times);
  tcase_add_test(c, the_film_grows_as_in_a_half_space);
  suite_add_tcase(s, c);
  return bench_rig_run_suite(s);
}
