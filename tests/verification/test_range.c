/* Freezing over a range of temperature: alloys with a linear liquid fraction, brines by the lever rule.
 *
 * Linear fraction between solidus and liquidus, eutectic remainder at the solidus, constant k and c in the mush: exact similarity
 * solution, Tien & Geiger 1967 (J. Heat Transfer 89:230), Ozisik & Uzzell 1979 (J. Heat Transfer 101:331); numbers computed
 * independently (closed form and an independent integration agree to 3e-12).
 * Lever rule f = T_l/T, eutectic at -21.1 degC: self-similar half space, computed independently (shooting, 1e-10). Slab with a
 * convective wall: computed independently (explicit enthalpy scheme, 64 to 256 cells, extrapolated; errors a few 1e-4). */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

static const double rho = 1000.0, L = 334000.0, k_s = 2.2, c_s = 2050.0, k_l = 0.58, c_l = 4200.0;
static const double EUTECTIC = -21.1; /* degC */

static material linear_mush(double solidus, double liquidus, double eutectic_share)
{
  const double k_m = 0.5 * (k_s + k_l), c_m = 0.5 * (c_s + c_l);
  const double T[] = {-60.0, solidus, solidus, liquidus, liquidus, 60.0};
  const double k[] = {k_s, k_s, k_m, k_m, k_l, k_l};
  const double c[] = {rho * c_s, rho * c_s, rho * c_m, rho * c_m, rho * c_l, rho * c_l};
  const double f[] = {0.0, 0.0, eutectic_share, 1.0, 1.0, 1.0};
  const material_table table = {6, T, k, c, f, rho * L, rho};
  material out;
  message msg = {""};
  ck_assert_msg(material_from_table(&out, "mush", &table, &msg) == STATUS_OK, "%s", msg.text);
  return out;
}

static material lever_rule(double liquidus)
{
  enum { STEPS = 300, ROWS = STEPS + 4 };
  double T[ROWS], k[ROWS], c[ROWS], f[ROWS];
  T[0] = -60.0, f[0] = 0.0;
  T[1] = EUTECTIC, f[1] = 0.0;
  for (int i = 0; i <= STEPS; i++) { /* even in the logarithm of T, where f changes evenly */
    T[2 + i] = EUTECTIC * pow(liquidus / EUTECTIC, (double)i / STEPS);
    f[2 + i] = liquidus / T[2 + i];
  }
  f[STEPS + 2] = 1.0;
  T[STEPS + 3] = 60.0, f[STEPS + 3] = 1.0;
  for (int i = 0; i < ROWS; i++) {
    k[i] = k_s + (k_l - k_s) * f[i];
    c[i] = rho * (c_s + (c_l - c_s) * f[i]);
  }
  const material_table table = {ROWS, T, k, c, f, rho * L, rho};
  material out;
  message msg = {""};
  ck_assert_msg(material_from_table(&out, "brine by the lever rule", &table, &msg) == STATUS_OK, "%s", msg.text);
  return out;
}

enum { DEPTHS = 5 };
static const double depth[DEPTHS] = {0.005, 0.01, 0.02, 0.03, 0.06}; /* m */
typedef struct {
  const char *name;
  bool lever;
  double solidus, liquidus, eutectic_share; /* degC */
  double wall, initial;                     /* degC */
  double solid_front, liquid_front;         /* m at 3600 s; NAN: the solidus is not reached */
  double wall_flux;                         /* W/m2 at 3600 s; heat drawn by then = 2 q t */
  double temperature[DEPTHS];               /* degC at 3600 s */
} half_space;

static const half_space half_spaces[] = {
  {"mush -4..-0.5", false, -4, -0.5, 0.0, -15, 5, 0.0194465889753, 0.0284509178949, 1254.5932933,
   {-12.15018844, -9.30958001, -3.537740211, -0.1175982412, 4.144586835}},
  {"mush -4..-0.5, a fifth eutectic", false, -4, -0.5, 0.2, -15, 5, 0.0195196855312, 0.029494135574, 1249.9714322,
   {-12.16068701, -9.330543242, -3.654305419, -0.3709516901, 4.102238478}},
  {"mush -2..-0.1", false, -2, -0.1, 0.0, -20, 10, 0.0252630259881, 0.0288376288873, 1589.1160838,
   {-16.39031915, -12.79229534, -5.677171913, 0.4333479018, 8.400921728}},
  {"brine, onset -3, wall -15", true, 0, -3, 0, -15, 5, NAN, 0.023962835856, 915.2729159,
   {-12.5269162, -9.98987977, -4.80672741, -1.10612122, 3.97935394}},
  {"brine, onset -3, wall -35", true, 0, -3, 0, -35, 5, 0.016310880847, 0.037903953012, 1885.586988,
   {-30.7168848, -26.4476014, -17.8336211, -9.08049745, 3.00938767}},
  {"brine, onset -0.3, wall -15", true, 0, -0.3, 0, -15, 5, NAN, 0.02543997019, 1271.577164,
   {-12.0639779, -9.12778808, -3.29012782, 0.689688752, 4.2795259}},
  {"brine, onset -10, wall -28", true, 0, -10, 0, -28, 2, 0.0121499364, 0.028640500598, 1253.368777,
   {-25.1529699, -22.315134, -15.6854121, -9.26342283, 0.117304306}}};

/* Temperature at a depth, linear between nodes. */
static double temperature_at(const bench_rig *b, double x)
{
  double x0 = 0.0, T0 = b->rules[0].temperature.value[0];
  for (size_t cell = 0; cell < b->m->num_nodes; cell++) {
    const double x1 = b->m->centroid[cell][0];
    const double T1 = phase_curve_temperature(&b->parts[0].stuff->curve, b->state.enthalpy[cell]);
    if (x1 >= x)
      return T0 + (T1 - T0) * (x - x0) / (x1 - x0);
    x0 = x1, T0 = T1;
  }
  return NAN;
}

/* Depth at which the temperature passes a value, linear between nodes. */
static double depth_of(const bench_rig *b, double temperature)
{
  double x0 = 0.0, T0 = b->rules[0].temperature.value[0];
  for (size_t cell = 0; cell < b->m->num_nodes; cell++) {
    const double x1 = b->m->centroid[cell][0];
    const double T1 = phase_curve_temperature(&b->parts[0].stuff->curve, b->state.enthalpy[cell]);
    if (T1 > temperature)
      return x0 + (x1 - x0) * (temperature - T0) / (T1 - T0);
    x0 = x1, T0 = T1;
  }
  return NAN;
}

/* Depth frozen through at the solidus: where a share freezes there at one temperature, by how much of it has; else by the
 * temperature. */
static double solid_depth(const bench_rig *b, double solidus, double share)
{
  double x = 0.0;
  if (share == 0.0)
    return depth_of(b, solidus);
  for (size_t cell = 0; cell < b->m->num_nodes; cell++) {
    const double f = phase_curve_liquid_fraction(&b->parts[0].stuff->curve, b->state.enthalpy[cell]);
    x += b->m->volume[cell] * fmax(0.0, 1.0 - f / share); /* 1 m2 of wall */
  }
  return x;
}

START_TEST(half_space_freezes_over_a_range)
{
  enum { MOST = 600 };
  const half_space *c = &half_spaces[_i];
  double edges[MOST], step = 0.0002;
  size_t num = 0;
  edges[0] = 0.0;
  while (edges[num] < 0.22 && num + 1 < MOST) {
    if (edges[num] > 0.045)
      step *= 1.05;
    edges[num + 1] = edges[num] + step;
    num++;
  }
  const material stuff = c->lever ? lever_rule(c->liquidus) : linear_mush(c->solidus, c->liquidus, c->eutectic_share);
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_line(&b, GRID_XYZ, num, edges, false, true);
  const int part = bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, c->initial);
  bench_rig_rule(&b, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, c->wall);
  bench_rig_open(&b, bench_rig_exact(3600.0), rho * L);
  const double before = network_part_heat(b.net, b.state.enthalpy, part);
  bench_rig_march(&b, 3600.0);
  const double span = c->initial - c->wall, drawn = before - network_part_heat(b.net, b.state.enthalpy, part);
  bench_rig_title("half space: %s, 0.2 mm cells, at 3600 s", c->name);
  bench_rig_judge(drawn, 2.0 * c->wall_flux * 3600.0, 0.5, "heat drawn, J/m2");
  bench_rig_judge(depth_of(&b, c->liquidus), c->liquid_front, 0.5, "liquidus, m");
  if (!isnan(c->solid_front))
    bench_rig_judge(c->lever ? solid_depth(&b, EUTECTIC, c->liquidus / EUTECTIC) : solid_depth(&b, c->solidus, c->eutectic_share), c->solid_front, 0.5, "solidus, m");
  for (int i = 0; i < DEPTHS; i++)
    bench_rig_judge_difference(temperature_at(&b, depth[i]), c->temperature[i], 0.005 * span, "temperature at %g mm", 1000.0 * depth[i]);
  bench_rig_release(&b);
  bench_rig_verdict();
}
END_TEST

typedef struct {
  const char *name;
  double liquidus, initial, cold, film;
  struct { double time, centre, surface, heat, liquid; } at[3]; /* s, degC, degC, J/m2, 1 */
} brine_slab;

static const brine_slab slabs[] = {
  {"onset -3, +2/-18 degC, h 200", -3, 2, -18, 200,
   {{3600, -1.707673, -13.291045, 4957383.84, 0.7118424}, {7200, -3.004940, -14.571077, 7819811.61, 0.5210945},
    {14400, -9.538659, -15.864326, 11858300.47, 0.2569119}}},
  {"onset -0.5, +5/-15 degC, h 100", -0.5, 5, -15, 100,
   {{3600, 2.038499, -5.854932, 3990003.71, 0.7628721}, {7200, -0.255301, -7.728611, 6909588.54, 0.5660743},
    {14400, -0.500093, -9.540724, 11402457.34, 0.2462900}}},
  {"onset -8, +2/-40 degC, h 300", -8, 2, -40, 300,
   {{3600, -8.001895, -33.961653, 10571171.68, 0.4304855}, {7200, -20.473141, -36.125911, 15878960.89, 0.1002011},
    {14400, -39.982273, -39.995796, 18330183.38, 0.0}}}};

START_TEST(brine_slab_freezes_with_a_convective_wall)
{
  const brine_slab *c = &slabs[_i];
  const size_t cells = 80, num[3] = {cells, 1, 1};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {0.04, 1.0, 1.0};
  const bool mirror[6] = {false, true, true, true, true, true};
  const material stuff = lever_rule(c->liquidus);
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
  const int part = bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, c->initial);
  bench_rig_rule(&b, SURFACE_FILM, part, MESH_VOID, FACES_ALL, c->film, c->cold);
  bench_rig_open(&b, bench_rig_exact(14400.0), rho * L);
  const double before = network_part_heat(b.net, b.state.enthalpy, part), span = c->initial - c->cold;
  bench_rig_title("brine slab 40 mm, %s, 80 cells", c->name);
  for (int i = 0; i < 3; i++) {
    bench_rig_march(&b, c->at[i].time);
    const double wall[3] = {0.0, 0.5, 0.5}, centre[3] = {0.0399, 0.5, 0.5};
    bench_rig_judge(before - network_part_heat(b.net, b.state.enthalpy, part), c->at[i].heat, 0.5, "%.0f s: heat drawn, J/m2", c->at[i].time);
    bench_rig_judge_difference(bench_rig_liquid(&b, part), c->at[i].liquid, 0.005, "%.0f s: mean liquid fraction", c->at[i].time);
    bench_rig_judge_difference(bench_rig_temperature(&b, centre), c->at[i].centre, 0.005 * span, "%.0f s: centre", c->at[i].time);
    bench_rig_judge_difference(bench_rig_surface_temperature(&b, part, MESH_VOID, wall), c->at[i].surface, 0.005 * span, "%.0f s: surface",
                               c->at[i].time);
  }
  bench_rig_release(&b);
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("freezing over a range");
  TCase *tcase = tcase_create("range");
  tcase_add_loop_test(tcase, half_space_freezes_over_a_range, 0, (int)(sizeof half_spaces / sizeof *half_spaces));
  tcase_add_loop_test(tcase, brine_slab_freezes_with_a_convective_wall, 0, 3);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
