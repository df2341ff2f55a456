/* Conduction without freezing: transients with a Biot number, layered walls, thermal bridges.
 *
 * Transients: exact series of plate, cylinder and sphere, Carslaw & Jaeger 1959, Conduction of Heat in Solids, ch. 3, 7, 9;
 * Incropera & DeWitt, ch. 5. Layered walls: exact. Thermal bridges: EN ISO 10211:2007/2017, annex A, cases 1, 2 and 4; the
 * geometry of cases 2 and 4 is from memory, confirmed by an independent computation that reproduces all published values. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"

/* ------------------------------------------------------------------------------------------------ transients */

typedef enum { PLATE, CYLINDER, SPHERE } body_kind;
static const char *const kind_name[] = {"plate", "cylinder", "sphere"};

enum { TIMES = 3 };
static const double fourier[TIMES] = {0.2, 0.5, 1.0};
typedef struct {
  body_kind kind;
  double biot, root;                /* first eigenvalue of the series */
  double centre[TIMES], mean[TIMES]; /* (T - T_ambient)/(T_initial - T_ambient) */
} transient_case;

static const transient_case transients[] = {
  {PLATE, 1, 0.86033358901938, {0.950641778505, 0.772526383424, 0.533859401409}, {0.851595457687, 0.681104565447, 0.470397248865}},
  {PLATE, 10, 1.4288700112141, {0.829254730823, 0.454640555613, 0.163817641693}, {0.58326203257, 0.315016267148, 0.11349564112}},
  {CYLINDER, 1, 1.2557837117946, {0.870174243933, 0.548586203892, 0.249379713546}, {0.71851625867, 0.447384263627, 0.203347045666}},
  {CYLINDER, 10, 2.1794965966645, {0.600232336852, 0.145800059431, 0.013560406183}, {0.311675916272, 0.0747654628875, 0.0069535201604}},
  {SPHERE, 1, 1.5707963267949, {0.772311606859, 0.3707774298, 0.107977044444}, {0.601810081369, 0.287000516518, 0.0835782088825}},
  {SPHERE, 10, 2.8363003893485, {0.382664326492, 0.0344782877857, 0.000617567972932}, {0.152438919921, 0.0136257629993, 0.000244060657847}}};

static const double HOT = 20.0, RADIUS = 0.05; /* degC above the ambient, m */

static int build_transient(bench_rig *b, const transient_case *c, size_t cells)
{
  const double k = 0.7, density = 900.0, specific_heat = 1700.0;
  const shape *region = NULL;
  material stuff;
  bench_rig_init(b);
  if (c->kind == SPHERE) {
    const double h = RADIUS / ((double)cells - 0.3), centre[3] = {0.0, 0.0, 0.0};
    const size_t num[3] = {cells + 1, 1, 2 * cells + 2};
    const double low[3] = {0.0, 0.0, -h * ((double)cells + 0.37)};
    const double high[3] = {h * (double)num[0], 1.0, low[2] + h * (double)num[2]};
    shape *ball = NULL;
    bench_rig_grid(b, GRID_RZ, num, low, high, NULL);
    ck_assert_int_eq(shape_sphere(&ball, centre, RADIUS, NULL), STATUS_OK);
    region = bench_rig_keep(b, ball);
  } else {
    const size_t num[3] = {cells, 1, 1};
    const double low[3] = {0.0, 0.0, 0.0}, high[3] = {RADIUS, 1.0, 1.0};
    const bool mirror[6] = {c->kind == PLATE, false, true, true, true, true};
    bench_rig_grid(b, c->kind == PLATE ? GRID_XYZ : GRID_RZ, num, low, high, mirror);
    region = bench_rig_everywhere(b);
  }
  ck_assert_int_eq(material_constant(&stuff, "solid", k, density, specific_heat, NULL), STATUS_OK);
  const int part = bench_rig_part(b, PART_SOLID, region, &stuff, HOT);
  bench_rig_rule(b, SURFACE_FILM, part, MESH_VOID, FACES_ALL, c->biot * k / RADIUS, 0.0);
  return part;
}

/* From the value of the cell nearest the centre to the centre, by the shape of the first eigenfunction. */
static double centre_value(const bench_rig *b, const transient_case *c)
{
  const double at[3] = {1e-6, c->kind == SPHERE ? 0.0 : 0.5, c->kind == SPHERE ? 1e-6 : 0.5};
  const int32_t node = mesh_node_at(b->m, at);
  ck_assert_int_ge(node, 0);
  const double *where = b->m->centroid[node];
  const double distance = c->kind == SPHERE ? hypot(where[0], where[2]) : where[0];
  const double zr = c->root * distance / RADIUS; /* small: two terms of cos, J0 and sin(x)/x are enough */
  const double dims = c->kind == PLATE ? 1.0 : c->kind == CYLINDER ? 2.0 : 3.0;
  const double profile = 1.0 - zr * zr / (2.0 * dims);
  return bench_rig_temperature(b, at) / HOT / profile;
}

static double mean_value(const bench_rig *b, int part)
{
  return network_part_mean_temperature(b->net, b->state.enthalpy, part) / HOT;
}

START_TEST(transients_follow_the_series)
{
  const size_t cells[] = {20, 40};
  const double unit = RADIUS * RADIUS * 900.0 * 1700.0 / 0.7; /* s per unit of Fo */
  bench_rig_title("cooling with a film: exact series; limit 0.2 %% of the initial difference");
  for (size_t i = 0; i < sizeof transients / sizeof *transients; i++)
    for (size_t level = 0; level < (bench_rig_brief() ? 1 : 2); level++) {
      const transient_case *c = &transients[i];
      bench_rig b;
      const int part = build_transient(&b, c, cells[level]);
      const bench_march how = {.tolerance = 1e-4, .longest_step = unit / 500.0, .limit = unit};
      bench_rig_open(&b, how, 900.0 * 1700.0 * HOT);
      for (int t = 0; t < TIMES; t++) {
        bench_rig_march(&b, fourier[t] * unit);
        bench_rig_judge_difference(centre_value(&b, c), c->centre[t], 0.002, "%s Bi %g Fo %.1f, %zu cells: centre", kind_name[c->kind],
                                   c->biot, fourier[t], cells[level]);
        bench_rig_judge_difference(mean_value(&b, part), c->mean[t], 0.002, "%s Bi %g Fo %.1f, %zu cells: mean", kind_name[c->kind],
                                   c->biot, fourier[t], cells[level]);
      }
      bench_rig_release(&b);
    }
  bench_rig_verdict();
}
END_TEST

/* ------------------------------------------------------------------------------------------------ layered walls */

/* Only the steady state counts, so every material gets the same diffusivity: it is reached soonest. */
static const double DIFFUSIVITY = 1e-4; /* m2/s */
static material steady_material(double conductivity)
{
  material stuff;
  ck_assert_int_eq(material_constant(&stuff, "layer", conductivity, 1000.0, conductivity / DIFFUSIVITY / 1000.0, NULL), STATUS_OK);
  return stuff;
}

enum { LAYERS = 3 };
typedef struct {
  const char *name;
  grid_kind kind;
  double start;                              /* m: inner radius, or 0 */
  double thickness[LAYERS], conductivity[LAYERS];
  size_t cells[LAYERS];
  double film[2], ambient[2];                /* W/m2K, degC: first, last */
  double flow, limit_percent;                /* W/m2 or W per m of pipe, from first to last */
  double inner[2];                           /* degC at the two inner faces */
} layered_wall;

static const layered_wall walls[] = {
  {"steel, foam, plastic", GRID_XYZ, 0.0, {0.002, 0.05, 0.01}, {16, 0.035, 0.4}, {4, 20, 10}, {150, 8}, {-20, 20}, -25.2308131305, 1e-4,
   {-19.8286407275, 16.2153780304}},
  {"pipe, ice, insulation", GRID_RZ, 0.02, {0.002, 0.03, 0.04}, {16, 2.2, 0.035}, {4, 30, 40}, {800, 10}, {-10, 25}, -12.321561843, 0.1,
   {-9.86575348074, -9.09898670064}}};

START_TEST(layered_wall_carries_the_exact_flow)
{
  const layered_wall *c = &walls[_i];
  double edges[100];
  size_t num = 0;
  bench_rig b;
  int parts[LAYERS];
  edges[0] = c->start;
  for (int layer = 0; layer < LAYERS; layer++) {
    const double from = edges[num];
    for (size_t i = 1; i <= c->cells[layer]; i++)
      edges[num + i] = from + c->thickness[layer] * (double)i / (double)c->cells[layer];
    num += c->cells[layer];
  }
  bench_rig_init(&b);
  bench_rig_line(&b, c->kind, num, edges, false, false);
  double inner = c->start;
  for (int layer = 0; layer < LAYERS; layer++) {
    const double outer = inner + c->thickness[layer];
    const material stuff = steady_material(c->conductivity[layer]);
    const shape *region = NULL;
    if (c->kind == GRID_RZ) {
      shape *tube = NULL;
      ck_assert_int_eq(shape_tube(&tube, inner, outer, -1.0, 2.0, NULL), STATUS_OK);
      region = bench_rig_keep(&b, tube);
    } else {
      region = bench_rig_box(&b, inner, outer, -1.0, 2.0, -1.0, 2.0);
    }
    parts[layer] = bench_rig_part(&b, PART_SOLID, region, &stuff, 0.0);
    inner = outer;
  }
  bench_rig_rule(&b, SURFACE_FILM, parts[0], MESH_VOID, FACES_ALL, c->film[0], c->ambient[0]);
  bench_rig_rule(&b, SURFACE_FILM, parts[LAYERS - 1], MESH_VOID, FACES_ALL, c->film[1], c->ambient[1]);
  const bench_march how = {.tolerance = 1e-3, .longest_step = 0.0, .limit = 1e9};
  bench_rig_open(&b, how, 1e4);
  bench_rig_march(&b, 3e4);
  bench_rig_title("layered wall: %s", c->name);
  bench_rig_judge(-bench_rig_flow(&b, parts[0], MESH_VOID, FACES_ALL), c->flow, c->limit_percent, "flow in at the first face");
  bench_rig_judge(bench_rig_flow(&b, parts[2], MESH_VOID, FACES_ALL), c->flow, c->limit_percent, "flow out at the last face");
  for (int face = 0; face < 2; face++) {
    double x = c->start;
    for (int layer = 0; layer <= face; layer++)
      x += c->thickness[layer];
    const double point[3] = {x, 0.5, 0.5};
    bench_rig_judge_difference(bench_rig_surface_temperature(&b, parts[face], parts[face + 1], point), c->inner[face],
                               c->limit_percent / 100.0 * 40.0, "temperature of inner face %d", face + 1);
  }
  bench_rig_release(&b);
  bench_rig_verdict();
}
END_TEST

/* ------------------------------------------------------------------------------------------------ thermal bridges */

/* ISO 10211 case 1: a square section, 20 degC on top, 0 degC on the other three sides; symmetric half. The published
 * table is rounded to 0.1; here the exact series behind it. */
static const double square_section[7][4] = {{9.65818776956, 13.3790553228, 14.7289184261, 15.0853799071},
                                            {5.25173779679, 8.64056663774, 10.3155484468, 10.8105843652},
                                            {3.18868431773, 5.60899932824, 7.01415296627, 7.46512201259},
                                            {2.01415296627, 3.64056663774, 4.65818776956, 5.0},
                                            {1.2624666852, 2.30860341559, 2.98584703373, 3.21850244829},
                                            {0.739647314506, 1.35943336226, 1.76684880941, 1.90828235933},
                                            {0.341812230437, 0.629559565933, 0.819930570973, 0.886314160355}};

START_TEST(iso_10211_case_1)
{
  const size_t half = 32, num[3] = {half, 1, 2 * half};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {0.5, 1.0, 1.0};
  const bool mirror[6] = {false, true, true, true, false, false};
  const material stuff = steady_material(1.0);
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
  const int part = bench_rig_part(&b, PART_SOLID, bench_rig_everywhere(&b), &stuff, 5.0);
  bench_rig_rule(&b, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, 0.0);
  bench_rig_rule(&b, SURFACE_FIXED, part, MESH_VOID, FACES_TOP, 0.0, 20.0);
  const bench_march how = {.tolerance = 1e-3, .longest_step = 0.0, .limit = 1e9};
  bench_rig_open(&b, how, 1e4 * 20.0);
  bench_rig_march(&b, 2e4);
  bench_rig_title("ISO 10211 annex A, case 1: 28 temperatures, limit 0.1 K");
  double worst = 0.0;
  for (int row = 0; row < 7; row++)
    for (int column = 0; column < 4; column++) {
      const double x = 0.125 * (column + 1), z = 1.0 - 0.125 * (row + 1), off = 0.25 / (double)half;
      double mean = 0.0; /* the point is a corner of four cells, or of two at the plane of symmetry */
      for (int corner = 0; corner < 4; corner++) {
        const double side = column == 3 ? -off : corner % 2 ? off : -off;
        const double at[3] = {x + side, 0.5, z + (corner / 2 ? off : -off)};
        mean += 0.25 * bench_rig_temperature(&b, at);
      }
      worst = fmax(worst, fabs(mean - square_section[row][column]));
    }
  bench_rig_judge_difference(worst, 0.0, 0.1, "largest difference, K");
  bench_rig_release(&b);
  bench_rig_verdict();
}
END_TEST

/* Even cells between stops, so that each stop is hit. counts[i] cells from stop i to i + 1. */
static size_t edges_between(const double *stops, const size_t *counts, size_t num_stretches, double *edges)
{
  size_t num = 0;
  edges[0] = stops[0];
  for (size_t s = 0; s < num_stretches; s++)
    for (size_t i = 1; i <= counts[s]; i++, num++)
      edges[num + 1] = stops[s] + (stops[s + 1] - stops[s]) * (double)i / (double)counts[s];
  return num;
}

START_TEST(iso_10211_case_2)
{
  enum { CONCRETE, WOOD, INSULATION, ALUMINIUM };
  /* z up; bottom sheet 0 .. 1.5 mm, insulation to 41.5 mm, concrete to 47.5 mm; x from the plane of the aluminium leg. */
  const double x_stops[] = {0, 0.0015, 0.015, 0.03, 0.08, 0.2, 0.5}, z_stops[] = {0, 0.0015, 0.01, 0.035, 0.0365, 0.0415, 0.0475};
  const size_t x_counts[] = {3, 14, 10, 12, 12, 10}, z_counts[] = {3, 8, 14, 3, 6, 6};
  double x_edges[80], z_edges[60];
  const double y_edges[2] = {0.0, 1.0};
  const size_t num[3] = {edges_between(x_stops, x_counts, 6, x_edges), 1, edges_between(z_stops, z_counts, 6, z_edges)};
  const double *const edges[3] = {x_edges, y_edges, z_edges};
  const bool mirror[6] = {true, true, true, true, false, false};
  const double conductivity[] = {1.15, 0.12, 0.029, 230.0};
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid_edges(&b, GRID_XYZ, num, edges, mirror);
  const shape *regions[4];
  regions[INSULATION] = bench_rig_everywhere(&b);
  regions[CONCRETE] = bench_rig_box(&b, -1, 1, -1, 2, 0.0415, 1);
  regions[WOOD] = bench_rig_box(&b, -1, 0.015, -1, 2, 0.0365, 0.0415);
  shape *sheet = NULL, *leg = NULL, *flange = NULL, *both = NULL, *aluminium = NULL;
  const double sheet_low[3] = {-1, -1, -1}, sheet_high[3] = {1, 2, 0.0015}, leg_low[3] = {-1, -1, 0}, leg_high[3] = {0.0015, 2, 0.0365};
  const double flange_low[3] = {-1, -1, 0.035}, flange_high[3] = {0.015, 2, 0.0365};
  ck_assert_int_eq(shape_box(&sheet, sheet_low, sheet_high, NULL), STATUS_OK);
  ck_assert_int_eq(shape_box(&leg, leg_low, leg_high, NULL), STATUS_OK);
  ck_assert_int_eq(shape_box(&flange, flange_low, flange_high, NULL), STATUS_OK);
  ck_assert_int_eq(shape_union(&both, leg, flange, NULL), STATUS_OK);
  ck_assert_int_eq(shape_union(&aluminium, sheet, both, NULL), STATUS_OK);
  regions[ALUMINIUM] = bench_rig_keep(&b, aluminium);
  const int order[] = {INSULATION, CONCRETE, WOOD, ALUMINIUM};
  int part[4];
  for (int i = 0; i < 4; i++) {
    const material stuff = steady_material(conductivity[order[i]]);
    part[order[i]] = bench_rig_part(&b, PART_SOLID, regions[order[i]], &stuff, 10.0);
    bench_rig_rule(&b, SURFACE_FILM, part[order[i]], MESH_VOID, FACES_TOP, 1.0 / 0.06, 0.0);
    bench_rig_rule(&b, SURFACE_FILM, part[order[i]], MESH_VOID, FACES_BOTTOM, 1.0 / 0.11, 20.0);
  }
  const bench_march how = {.tolerance = 1e-2, .longest_step = 0.0, .limit = 1e9};
  bench_rig_open(&b, how, 1e4 * 20.0);
  bench_rig_march(&b, 4e4);
  bench_rig_title("ISO 10211 annex A, case 2: published values; 1 %% of the flow, 0.1 K");
  const double out = bench_rig_flow(&b, part[CONCRETE], MESH_VOID, FACES_TOP);
  const double in = -bench_rig_flow(&b, part[ALUMINIUM], MESH_VOID, FACES_BOTTOM);
  bench_rig_judge(out, 9.5, 1.0, "flow out at the top, W/m");
  bench_rig_judge(in, 9.5, 1.0, "flow in at the bottom, W/m");
  const struct { const char *name; int side, other; double x, z, published; } points[] = {
    {"A, top left surface", CONCRETE, MESH_VOID, 0, 0.0475, 7.1},      {"B, top right surface", CONCRETE, MESH_VOID, 0.5, 0.0475, 0.8},
    {"C, concrete on wood, left", WOOD, CONCRETE, 0, 0.0415, 7.9},
    {"E, concrete underside right", INSULATION, CONCRETE, 0.5, 0.0415, 0.8}, {"F, wood on flange, left", WOOD, ALUMINIUM, 0, 0.0365, 16.4},
    {"G, flange at 15 mm", WOOD, ALUMINIUM, 0.015, 0.0365, 16.3},      {"H, bottom left surface", ALUMINIUM, MESH_VOID, 0, 0, 16.8},
    {"I, bottom right surface", ALUMINIUM, MESH_VOID, 0.5, 0, 18.3}};
  for (size_t i = 0; i < sizeof points / sizeof *points; i++) {
    const double at[3] = {points[i].x, 0.5, points[i].z};
    const int other = points[i].other == MESH_VOID ? MESH_VOID : part[points[i].other];
    bench_rig_judge_difference(bench_rig_surface_temperature(&b, part[points[i].side], other, at), points[i].published, 0.1, "%s",
                               points[i].name);
  }
  /* D lies where wood and insulation meet under the concrete: between the two interfaces on either side. */
  const double d[3] = {0.015, 0.5, 0.0415};
  const double under = 0.5 * (bench_rig_surface_temperature(&b, part[WOOD], part[CONCRETE], d) +
                              bench_rig_surface_temperature(&b, part[INSULATION], part[CONCRETE], d));
  bench_rig_judge_difference(under, 6.3, 0.1, "D, concrete at 15 mm");
  bench_rig_release(&b);
  bench_rig_verdict();
}
END_TEST

START_TEST(iso_10211_case_4)
{
  /* A quarter: insulation 1 x 1 x 0.2 m, iron bar 0.1 x 0.05 x 0.6 m through its middle, flush with the cold face z = 0. */
  const double x_stops[] = {0, 0.05, 0.1, 0.2, 0.5}, y_stops[] = {0, 0.025, 0.075, 0.2, 0.5}, z_stops[] = {0, 0.05, 0.15, 0.2, 0.25, 0.6};
  const size_t x_counts[] = {6, 6, 5, 6}, y_counts[] = {4, 8, 7, 6}, z_counts[] = {10, 8, 8, 6, 12};
  double x_edges[40], y_edges[40], z_edges[60];
  const size_t num[3] = {edges_between(x_stops, x_counts, 4, x_edges), edges_between(y_stops, y_counts, 4, y_edges),
                         edges_between(z_stops, z_counts, 5, z_edges)};
  const double *const edges[3] = {x_edges, y_edges, z_edges};
  const bool mirror[6] = {true, true, true, true, false, false};
  const material foam = steady_material(0.1), iron = steady_material(50.0);
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid_edges(&b, GRID_XYZ, num, edges, mirror);
  const int insulation = bench_rig_part(&b, PART_SOLID, bench_rig_box(&b, -1, 1, -1, 1, -1, 0.2), &foam, 0.5);
  const int bar = bench_rig_part(&b, PART_SOLID, bench_rig_box(&b, -1, 0.05, -1, 0.025, -1, 1), &iron, 0.5);
  for (int part = 0; part < 2; part++) {
    bench_rig_rule(&b, SURFACE_FILM, part, MESH_VOID, FACES_ALL, 10.0, 1.0);
    bench_rig_rule(&b, SURFACE_FILM, part, MESH_VOID, FACES_BOTTOM, 10.0, 0.0);
  }
  const bench_march how = {.tolerance = 1e-2, .longest_step = 0.0, .limit = 1e9};
  bench_rig_open(&b, how, 1e4);
  bench_rig_march(&b, 6e4);
  bench_rig_title("ISO 10211 annex A, case 4 (three-dimensional): published values; 1 %% of the flow, 0.005 K");
  const double out = bench_rig_flow(&b, bar, MESH_VOID, FACES_BOTTOM) + bench_rig_flow(&b, insulation, MESH_VOID, FACES_BOTTOM);
  bench_rig_judge(4.0 * out, 0.540, 1.0, "flow through the cold face, W");
  const double corner[3] = {0.0, 0.0, 0.0};
  bench_rig_judge_difference(bench_rig_surface_temperature(&b, bar, MESH_VOID, corner), 0.805, 0.005, "highest cold-side surface temperature");
  bench_rig_release(&b);
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("conduction");
  TCase *tcase = tcase_create("conduction");
  tcase_add_test(tcase, transients_follow_the_series);
  tcase_add_loop_test(tcase, layered_wall_carries_the_exact_flow, 0, 2);
  tcase_add_test(tcase, iso_10211_case_1);
  tcase_add_test(tcase, iso_10211_case_2);
  tcase_add_test(tcase, iso_10211_case_4);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
