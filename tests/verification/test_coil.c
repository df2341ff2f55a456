/* A tube in a coarse grid: flow into it, and the ice that grows on it.
 *
 * Flow: line source in the middle of a square duct with cold walls, T = q'/(2 pi k) ln(0.5393526011884 w/a) (conformal radius of the
 * square; the handbook shape factor ln(1.08 w/d)); one turn of tube in a closed cylinder, exact Bessel series, computed
 * independently. Cell and tube are joined by an equivalent radius: Peaceman 1978 (SPE J. 18:183). Ice: the cylinder with a cold
 * surface in much water, computed independently (front-fixing collocation, 1e-8). */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

static const double PI = 3.14159265358979323846;
static const double SIDE = 0.2, FAR = 200.0; /* m: of the duct; of the axis, so far that a ring is a straight tube */

static void add_coil(bench_rig *b, double r, double z, double radius, double temperature)
{
  rig_coil *coil = &b->coils[0];
  b->ring[0][0] = r;
  b->ring[0][1] = z;
  *coil = (rig_coil){.name = "coil",
                     .num_rings = 1,
                     .rings = b->ring,
                     .tube_outer = 2.0 * radius,
                     .tube_wall = 0.05 * radius,
                     .tube_conductivity = 1e9,
                     .length = 2.0 * PI * r,
                     .coolant = COOLANT_FIXED,
                     .temperature = bench_rig_constant(b, temperature)};
  b->r.num_coils = 1;
}

/* ------------------------------------------------------------------------------------------------ flow */

typedef struct { const char *name; size_t across, up; } tube_place; /* cells of the duct: odd numbers put the tube on a node */
static const tube_place places[] = {{"node", 17, 17}, {"face", 17, 16}, {"corner", 16, 16}};
static const double ratios[] = {0.05, 0.1, 0.25, 0.5, 1.0, 2.0, 5.0}; /* tube radius / cell */

static material plain_solid(double conductivity)
{
  material stuff;
  ck_assert_int_eq(material_constant(&stuff, "solid", conductivity, 1000.0, conductivity / 1e-4 / 1000.0, NULL), STATUS_OK);
  return stuff;
}

/* The tube stands `away` from the inner wall, halfway up. */
static double flow_into_tube(const tube_place *place, double radius, double away)
{
  const double k = 2.2, low[3] = {FAR, 0.0, 0.0}, high[3] = {FAR + SIDE, 1.0, SIDE}, r = FAR + away;
  const size_t num[3] = {place->across, 1, place->up};
  const material stuff = plain_solid(k);
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_RZ, num, low, high, NULL);
  const int part = bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, 0.0);
  bench_rig_rule(&b, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, 0.0);
  add_coil(&b, r, 0.5 * SIDE, radius, -10.0);
  const bench_march how = {.tolerance = 1e-3, .longest_step = 0.0, .limit = 1e9};
  bench_rig_open(&b, how, k / 1e-4 * 10.0);
  bench_rig_march(&b, 5e3);
  const double flow = network_coil_heat(b.net, 0);
  bench_rig_release(&b);
  return flow / (2.0 * PI * r);
}

START_TEST(tube_in_a_square_duct_takes_the_exact_flow)
{
  const tube_place *place = &places[_i];
  bench_rig_title("tube in the middle of a square duct, centred on a cell's %s: W per m", place->name);
  for (size_t i = 0; i < sizeof ratios / sizeof *ratios; i += bench_rig_brief() ? 3 : 1) {
    const double radius = ratios[i] * SIDE / (double)place->across;
    const double exact = 2.0 * PI * 2.2 * 10.0 / log(0.5393526011884 * SIDE / radius);
    const double limit = ratios[i] < 0.25 ? 1.0 : 2.0;
    bench_rig_judge(flow_into_tube(place, radius, 0.5 * SIDE), exact, limit, "radius / cell %.2f", ratios[i]);
  }
  bench_rig_verdict();
}
END_TEST

/* Mean potential on a circle of radius a round a line source of 1 W/m and conductivity 1 at x0 and half the height of the duct: the
 * strip between two walls in closed form, the other two walls by their series (images; Carslaw & Jaeger 1959, ch. XIV). */
static double rise_in_duct(double x0, double a)
{
  double rise = log(2.0 * SIDE / (PI * a)) / (2.0 * PI);
  for (int n = 1; n < 400; n += 2) {
    const double k = n * PI / SIDE;
    rise += 2.0 / SIDE * ((1.0 - exp(-2.0 * k * x0)) * (1.0 - exp(-2.0 * k * (SIDE - x0))) / (2.0 * k * (1.0 - exp(-2.0 * k * SIDE))) - 1.0 / (2.0 * k));
  }
  return rise;
}

START_TEST(tube_beside_a_wall_takes_the_exact_flow)
{
  static const double cells_away[] = {2.3, 3.3, 4.3, 6.0};
  const tube_place place = {"", 16, 16};
  bench_rig_title("tube beside a wall of a square duct, radius / cell 0.5: W per m");
  for (size_t i = 0; i < sizeof cells_away / sizeof *cells_away; i++) {
    const double cell = SIDE / 16.0, radius = 0.5 * cell, away = cells_away[i] * cell;
    bench_rig_judge(flow_into_tube(&place, radius, away), 2.2 * 10.0 / rise_in_duct(away, radius), 1.0, "%.1f cells from the wall", cells_away[i]);
  }
  bench_rig_verdict();
}
END_TEST

/* The same for one of an endless row of tubes, `pitch` apart, between walls SIDE apart. */
static double rise_in_row(double x0, double a, double pitch)
{
  double rise = -log(2.0 * PI * a / pitch) / (2.0 * PI) + x0 * (SIDE - x0) / (SIDE * pitch);
  for (int n = 1; n < 400; n++) {
    const double k = 2.0 * PI * n / pitch;
    rise += 2.0 / pitch * ((1.0 - exp(-2.0 * k * x0)) * (1.0 - exp(-2.0 * k * (SIDE - x0))) / (2.0 * k * (1.0 - exp(-2.0 * k * SIDE))) - 1.0 / (2.0 * k));
  }
  return rise;
}

/* Rings so close that their shells have to make room for one another: four, 2.25 cells apart, as a piece of an endless row. */
START_TEST(row_of_tubes_takes_the_exact_flow)
{
  static const double cells_away[] = {2.3, 4.1, 8.0};
  bench_rig_title("row of tubes 2.25 cells apart between cold walls, radius / cell 0.4: W per m of tube");
  for (size_t i = 0; i < sizeof cells_away / sizeof *cells_away; i++) {
    const double k = 2.2, cell = SIDE / 16.0, pitch = 2.25 * cell, radius = 0.4 * cell, away = cells_away[i] * cell;
    const size_t num[3] = {16, 1, 9};
    const double low[3] = {FAR, 0.0, 0.0}, high[3] = {FAR + SIDE, 1.0, 9.0 * cell};
    const bool mirror[6] = {false, false, false, false, true, true};
    const material stuff = plain_solid(k);
    double rings[4][2];
    bench_rig b;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_RZ, num, low, high, mirror);
    const int part = bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, 0.0);
    bench_rig_rule(&b, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, 0.0);
    add_coil(&b, FAR + away, 0.0, radius, -10.0);
    for (int ring = 0; ring < 4; ring++) {
      rings[ring][0] = FAR + away;
      rings[ring][1] = (ring + 0.5) * pitch;
    }
    b.coils[0].rings = rings;
    b.coils[0].num_rings = 4;
    b.coils[0].length = 4.0 * 2.0 * PI * (FAR + away);
    const bench_march how = {.tolerance = 1e-3, .longest_step = 0.0, .limit = 1e9};
    bench_rig_open(&b, how, k / 1e-4 * 10.0);
    bench_rig_march(&b, 5e3);
    bench_rig_judge(network_coil_heat(b.net, 0) / b.coils[0].length, k * 10.0 / rise_in_row(away, radius, pitch), 1.0,
                    "%.1f cells from the wall", cells_away[i]);
    bench_rig_judge_that(!isnan(network_coil_ice_radius(b.net, 0, 1, b.state.enthalpy)), "%.1f cells from the wall: with shells", cells_away[i]);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

START_TEST(one_turn_in_a_closed_cylinder_takes_the_exact_flow)
{
  /* Ring at r 0.105, z 0.135 m in a cylinder R 0.21, H 0.30 m with all walls at 0: mean rise on the tube circle of radius 4 mm
   * 27.05721551 K for 100 W per m; a tight ring, r 0.025, z 0.155 in R 0.20: 25.424886908 K. */
  const struct { double R, r, z, rise; size_t cells_across, cells_up; double limit; } cases[] = {
    {0.21, 0.105, 0.135, 27.05721551, 7, 10, 1.0},
    {0.21, 0.105, 0.135, 27.05721551, 21, 30, 1.0},
    {0.20, 0.025, 0.155, 25.424886908, 20, 30, 1.0}};
  bench_rig_title("one turn of tube in a closed cylinder with cold walls");
  for (size_t i = 0; i < 3; i++) {
    const size_t num[3] = {cases[i].cells_across, 1, cases[i].cells_up};
    const double low[3] = {0.0, 0.0, 0.0}, high[3] = {cases[i].R, 1.0, 0.30};
    const material stuff = plain_solid(2.2);
    bench_rig b;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_RZ, num, low, high, NULL);
    const int part = bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, 0.0);
    bench_rig_rule(&b, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, 0.0);
    add_coil(&b, cases[i].r, cases[i].z, 0.004, -cases[i].rise);
    const bench_march how = {.tolerance = 1e-3, .longest_step = 0.0, .limit = 1e9};
    bench_rig_open(&b, how, 2.2e4 * 30.0);
    bench_rig_march(&b, 2e4);
    bench_rig_judge(network_coil_heat(b.net, 0) / (2.0 * PI * cases[i].r), 100.0, cases[i].limit, "r/R %.2f, %zu cells across: W per m",
                    cases[i].r / cases[i].R, cases[i].cells_across);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* ------------------------------------------------------------------------------------------------ ice on the tube */

enum { FRONTS = 4 };
static const double front[FRONTS] = {2.0, 2.5, 3.0, 5.0}; /* r/a */
typedef struct {
  const char *name;
  double phi; /* superheat; > 0: property set W */
  double stefan, fourier[FRONTS];
} tube_ice;
static const tube_ice ices[] = {{"water at T_f, Ste 0.2", 0.0, 0.2, {3.34631231, 8.12806965, 15.3872372, 73.323026}},
                                {"superheat 0.5, Ste 0.1228", 0.5, 0.122754491, {6.82119878, 16.945752, 32.6806623, 164.099153}}};

static void grow_ice(const tube_ice *c, const tube_place *place, double ratio)
{
  const double radius = 0.004, cold = -20.0; /* m, degC */
  const constant_phases p = c->phi > 0.0 ? bench_rig_set_w(0.0) : bench_rig_set_ste(c->stefan);
  const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat), unit = radius * radius / alpha;
  const double cell = radius / ratio, wanted = c->phi > 0.0 ? 80.0 * radius : 14.0 * radius;
  size_t cells = (size_t)fmax(ceil(wanted / cell), 5.0);
  cells += cells % 2 == 0; /* odd: the tube on a node */
  const size_t num[3] = {place->across % 2 ? cells : cells + 1, 1, place->up % 2 ? cells : cells + 1};
  const double width = cell * (double)num[0], height = cell * (double)num[2];
  const double low[3] = {FAR, 0.0, 0.0}, high[3] = {FAR + width, 1.0, height}, r = FAR + 0.5 * width;
  const bool insulated[6] = {true, true, true, true, true, true};
  bench_rig b;
  bench_history h;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_RZ, num, low, high, insulated);
  (void)bench_rig_water(&b, bench_rig_everywhere(&b), &p, -c->phi * cold);
  add_coil(&b, r, 0.5 * height, radius, cold);
  bench_march how = bench_rig_exact(c->fourier[FRONTS - 1] * unit);
  how.limit = 1.05 * c->fourier[FRONTS - 1] * unit;
  bench_rig_run(&b, how, &h);
  for (int f = 0; f < FRONTS; f++) {
    const double ice = (1.0 - bench_rig_liquid_at(&h, c->fourier[f] * unit)) * (width * height - PI * radius * radius); /* m2 of section */
    bench_rig_judge(sqrt(ice / PI + radius * radius) / radius, front[f], 3.0, "radius / cell %.2f: ice radius / tube radius", ratio);
  }
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(&b);
}

START_TEST(ice_grows_on_the_tube_as_on_a_cylinder)
{
  const tube_ice *c = &ices[_i / 3];
  const tube_place *place = &places[_i % 3];
  bench_rig_title("ice on a tube centred on a cell's %s, %s: radius of the ice, limit 3 %%", place->name, c->name);
  const double finest = c->phi > 0.0 ? 1.0 : 2.0; /* superheat reaches far: a wide grid */
  for (size_t i = 1; i < sizeof ratios / sizeof *ratios && ratios[i] <= finest; i++)
    grow_ice(c, place, ratios[i]);
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("coil");
  TCase *tcase = tcase_create("coil");
  tcase_add_loop_test(tcase, tube_in_a_square_duct_takes_the_exact_flow, 0, 3);
  tcase_add_test(tcase, tube_beside_a_wall_takes_the_exact_flow);
  tcase_add_test(tcase, row_of_tubes_takes_the_exact_flow);
  tcase_add_test(tcase, one_turn_in_a_closed_cylinder_takes_the_exact_flow);
  tcase_add_loop_test(tcase, ice_grows_on_the_tube_as_on_a_cylinder, bench_rig_brief() ? 2 : 0, bench_rig_brief() ? 4 : 6); /* both kinds of water */
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
