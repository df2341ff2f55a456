/* Melting away: the surface rebuilt from shares of ice, mass against time, heat that adds up.
 *
 * Constant film, ice at its melting point, water leaving: every surface recedes at h T / (rho L), so a slab, a long cylinder and a sphere or
 * cube of half-thickness R are gone at rho L R / (h T), and mass falls as (1 - t/t_m)^n, n = 1, 2, 3 (geometry alone). */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/melt.h"

typedef struct {
  grid *g;
  material ice;
  double *volume, *temperature;
  melt *x;
} piece;

/* Share of a cell inside distance(point) < 0, by points. */
static void fill(piece *p, double (*distance)(const double point[3]), double temperature)
{
  const size_t n = grid_num_cells(p->g);
  p->volume = calloc(n, sizeof *p->volume);
  p->temperature = calloc(n, sizeof *p->temperature);
  enum { POINTS = 24 };
  const bool ring = p->g->kind == GRID_RZ;
  for (size_t cell = 0; cell < n; cell++) {
    size_t at[3];
    grid_cell_indices(p->g, cell, at);
    double inside = 0.0, all = 0.0;
    for (int a = 0; a < POINTS; a++)
      for (int b = 0; b < (ring || p->g->num[1] == 1 ? 1 : POINTS); b++)
        for (int c = 0; c < (p->g->num[2] == 1 ? 1 : POINTS); c++) {
          const int step[3] = {a, b, c};
          double point[3];
          for (int axis = 0; axis < 3; axis++) {
            const double *e = p->g->edges[axis];
            point[axis] = e[at[axis]] + (e[at[axis] + 1] - e[at[axis]]) * (step[axis] + 0.5) / POINTS;
          }
          const double weight = ring ? point[0] : 1.0;
          if (ring)
            point[1] = 0.0;
          all += weight;
          inside += distance(point) < 0.0 ? weight : 0.0;
        }
    p->volume[cell] = inside / all * grid_cell_volume(p->g, at[0], at[1], at[2]);
    p->temperature[cell] = temperature;
  }
}

/* With LASTWATER_BRIEF set (under sanitizers): half as many cells along each axis of a solid grid, and limits twice as wide. */
static bool brief(void) { return getenv("LASTWATER_BRIEF") != NULL; }

static void even_grid(piece *p, grid_kind kind, const size_t full[3], const double low[3], const double high[3], const bool mirror[6])
{
  double *edges[3];
  size_t num[3];
  const bool solid = full[0] > 1 && full[1] > 1 && full[2] > 1;
  for (int axis = 0; axis < 3; axis++)
    num[axis] = brief() && solid ? (full[axis] + 1) / 2 : full[axis];
  for (int axis = 0; axis < 3; axis++) {
    edges[axis] = malloc((num[axis] + 1) * sizeof(double));
    for (size_t i = 0; i <= num[axis]; i++)
      edges[axis][i] = low[axis] + (high[axis] - low[axis]) * (double)i / (double)num[axis];
  }
  const double *const given[3] = {edges[0], edges[1], edges[2]};
  ck_assert_int_eq(grid_create(&p->g, kind, num, given, mirror, NULL), STATUS_OK);
  for (int axis = 0; axis < 3; axis++)
    free(edges[axis]);
  const constant_phases plain = {.density = 917.0, .solid_conductivity = 2.2, .solid_specific_heat = 2050.0, .liquid_conductivity = 0.58,
                                 .liquid_specific_heat = 4200.0, .latent_heat = 334000.0, .freezing_temperature = 0.0};
  ck_assert_int_eq(material_constant_phases(&p->ice, "plain", &plain, NULL), STATUS_OK);
}

static void start(piece *p, const melt_air *air, const melt_pool *pool)
{
  message msg = {""};
  const melt_piece given = {.grid = p->g, .ice = &p->ice, .volume = p->volume, .temperature = p->temperature};
  ck_assert_msg(melt_create(&p->x, &given, air, pool, &msg) == STATUS_OK, "%s", msg.text);
}

static void release(piece *p)
{
  melt_destroy(&p->x);
  grid_destroy(&p->g);
  material_release(&p->ice);
  free(p->volume);
  free(p->temperature);
}

static const melt_air warm = {.temperature = 20.0, .relative_humidity = 0.5, .pressure = 101325.0, .film = 10.0};
static const melt_pool no_pool = {0};
static const double R = 0.1;

static double sphere(const double p[3]) { return sqrt(p[0] * p[0] + p[1] * p[1] + p[2] * p[2]) - R; }
static double cylinder(const double p[3]) { return hypot(p[0], p[1]) - R; }
static double block(const double p[3]) { return fmax(fmax(fabs(p[0]), fabs(p[1])), fabs(p[2])) - R; }
static double slab(const double p[3]) { return fabs(p[0]) - R; }
static double turned_bar(const double p[3])
{
  const double c = cos(0.5), s = sin(0.5);
  return fmax(fabs(c * p[0] + s * p[1]), fabs(c * p[1] - s * p[0])) - R;
}

/* Marches to the end; compares marks and end with (1 - t/t_m)^n. */
static void melts_like(piece *p, double power, double limit)
{
  const double most = brief() ? 2.0 * limit : limit;
  const double end = 917.0 * 334000.0 * R / (10.0 * 20.0);
  start(p, &warm, &no_pool);
  for (size_t step = 0; !melt_now(p->x).gone && step < 10000; step++)
    ck_assert_int_eq(melt_advance(p->x, 0.05 * end, NULL), STATUS_OK);
  const melt_report r = melt_now(p->x);
  const double left[MELT_MARKS] = {0.5, 0.1, 0.01};
  for (int i = 0; i < MELT_MARKS; i++)
    ck_assert_double_eq_tol(r.mark[i], end * (1.0 - pow(left[i], 1.0 / power)), most * end);
  ck_assert_double_eq_tol(r.gone_at, end, most * end);
  ck_assert_double_eq_tol(r.heat_air, r.heat_stored, 1e-9 * r.heat_stored);
  release(p);
}

static const bool corner_mirrors[6] = {true, false, true, false, true, false};
static const bool plane_mirrors[6] = {true, false, true, true, true, true};

START_TEST(a_slab_melts_in_proportion_to_time)
{
  piece p = {0};
  even_grid(&p, GRID_XYZ, (size_t[3]){24, 1, 1}, (double[3]){0, 0, 0}, (double[3]){0.12, 0.1, 0.1}, plane_mirrors);
  fill(&p, slab, 0.0);
  melts_like(&p, 1.0, 0.01);
}
END_TEST

START_TEST(a_cylinder_melts_by_its_own_area)
{
  piece p = {0};
  even_grid(&p, GRID_RZ, (size_t[3]){24, 1, 1}, (double[3]){0, 0, 0}, (double[3]){0.12, 1, 0.1}, (bool[6]){false, false, false, false, true, true});
  fill(&p, cylinder, 0.0);
  melts_like(&p, 2.0, 0.01);
}
END_TEST

START_TEST(a_cylinder_of_square_cells_melts_by_its_own_area)
{
  piece p = {0};
  even_grid(&p, GRID_XYZ, (size_t[3]){23, 23, 1}, (double[3]){0, 0, 0}, (double[3]){0.115, 0.115, 0.1}, (bool[6]){true, false, true, false, true, true});
  fill(&p, cylinder, 0.0);
  melts_like(&p, 2.0, 0.01);
}
END_TEST

START_TEST(a_bar_turned_against_the_grid_melts_by_its_own_area)
{
  piece p = {0};
  even_grid(&p, GRID_XYZ, (size_t[3]){60, 60, 1}, (double[3]){-0.15, -0.15, 0}, (double[3]){0.15, 0.15, 0.1}, (bool[6]){false, false, false, false, true, true});
  fill(&p, turned_bar, 0.0);
  melts_like(&p, 2.0, 0.01);
}
END_TEST

START_TEST(a_sphere_melts_in_rings_and_in_boxes)
{
  piece p = {0};
  even_grid(&p, GRID_RZ, (size_t[3]){22, 1, 45}, (double[3]){0, 0, -0.112}, (double[3]){0.11, 1, 0.113}, NULL);
  fill(&p, sphere, 0.0);
  melts_like(&p, 3.0, 0.01);
  even_grid(&p, GRID_XYZ, (size_t[3]){22, 22, 22}, (double[3]){0, 0, 0}, (double[3]){0.11, 0.11, 0.11}, corner_mirrors);
  fill(&p, sphere, 0.0);
  melts_like(&p, 3.0, 0.01);
}
END_TEST

START_TEST(a_cube_and_a_bar_melt_to_their_middle)
{
  piece p = {0};
  even_grid(&p, GRID_XYZ, (size_t[3]){22, 22, 22}, (double[3]){0, 0, 0}, (double[3]){0.11, 0.11, 0.11}, corner_mirrors);
  fill(&p, block, 0.0);
  melts_like(&p, 3.0, 0.01);
  even_grid(&p, GRID_XYZ, (size_t[3]){22, 22, 1}, (double[3]){0, 0, 0}, (double[3]){0.11, 0.11, 0.1}, (bool[6]){true, false, true, false, true, true});
  fill(&p, block, 0.0);
  melts_like(&p, 2.0, 0.01);
}
END_TEST

static void quarter_block(piece *p, double temperature)
{
  even_grid(p, GRID_XYZ, (size_t[3]){12, 12, 24}, (double[3]){0, 0, -0.12}, (double[3]){0.12, 0.12, 0.12}, (bool[6]){true, false, true, false, false, false});
  fill(p, block, temperature);
}

/* Cold ice takes c |T| more heat; while its skin is cold it draws more than h T, so it is gone sooner than the heat alone says. */
START_TEST(cold_ice_melts_later_by_less_than_its_cold)
{
  const double end = 917.0 * 334000.0 * R / (10.0 * 20.0), cold = 20.0;
  piece p = {0};
  even_grid(&p, GRID_XYZ, (size_t[3]){24, 1, 1}, (double[3]){0, 0, 0}, (double[3]){0.12, 0.1, 0.1}, plane_mirrors);
  fill(&p, slab, -cold);
  start(&p, &warm, &no_pool);
  while (!melt_now(p.x).gone)
    ck_assert_int_eq(melt_advance(p.x, 0.05 * end, NULL), STATUS_OK);
  const melt_report r = melt_now(p.x);
  const double most = 1.0 + 2050.0 * cold / 334000.0;
  ck_assert_double_gt(r.gone_at, end * (1.0 + 0.45 * (most - 1.0))); /* the skin is at -20 degC at first: the film gives twice as much */
  ck_assert_double_lt(r.gone_at, end * most);
  ck_assert_double_eq_tol(r.heat_stored, r.first_mass * (334000.0 + 2050.0 * cold), 1e-5 * r.heat_stored);
  ck_assert_double_eq_tol(r.heat_air, r.heat_stored, 1e-9 * r.heat_stored);
  release(&p);
}
END_TEST

/* A wall of ice at -10 degC behind a film of Biot number 10 to 0 degC: its middle follows the series of Carslaw & Jaeger 1959, 3.11. */
START_TEST(the_middle_of_a_slab_warms_like_the_series)
{
  piece p = {0};
  even_grid(&p, GRID_XYZ, (size_t[3]){20, 1, 1}, (double[3]){0, 0, 0}, (double[3]){0.1, 0.1, 0.1}, plane_mirrors);
  fill(&p, slab, -10.0);
  melt_air air = warm;
  air.temperature = 0.0;
  air.film = 10.0 * 2.2 / R;
  start(&p, &air, &no_pool);
  const double diffusivity = 2.2 / (917.0 * 2050.0), time = 0.3 * R * R / diffusivity;
  while (melt_now(p.x).time < time)
    ck_assert_int_eq(melt_advance(p.x, time - melt_now(p.x).time, NULL), STATUS_OK);
  const double pi = 3.141592653589793, x = 0.0025 / R;
  double theta = 0.0;
  for (int n = 0; n < 8; n++) {
    double low = n * pi, high = (n + 0.5) * pi; /* root of w tan w = 10 */
    for (int i = 0; i < 60; i++) {
      const double w = 0.5 * (low + high);
      if ((w * sin(w) < 10.0 * cos(w)) == (n % 2 == 0))
        low = w;
      else
        high = w;
    }
    const double w = 0.5 * (low + high);
    theta += 4.0 * sin(w) / (2.0 * w + sin(2.0 * w)) * exp(-w * w * 0.3) * cos(w * x);
  }
  ck_assert_double_eq_tol(melt_temperature(p.x)[0], -10.0 * theta, 0.1);
  release(&p);
}
END_TEST

START_TEST(water_melts_below_the_line_and_air_above)
{
  piece p = {0};
  quarter_block(&p, 0.0);
  const melt_pool lake = {.present = true, .fixed = true, .temperature = 8.0, .film = 150.0, .level = 0.03};
  start(&p, &warm, &lake);
  ck_assert_int_eq(melt_advance(p.x, 1.0, NULL), STATUS_OK);
  const melt_report r = melt_now(p.x);
  /* Quarter of a cube of 0.2 m, water up to z = 0.03: sides 2 x 0.1 x 0.13 and the bottom 0.01 wet; sides 2 x 0.1 x 0.07 and the top dry. */
  ck_assert_double_eq_tol(r.heat_water, 150.0 * 8.0 * 0.036, (brief() ? 0.06 : 0.02) * r.heat_water);
  ck_assert_double_eq_tol(r.heat_air, 10.0 * 20.0 * 0.024, (brief() ? 0.08 : 0.03) * r.heat_air);
  release(&p);
}
END_TEST

START_TEST(a_floating_block_shows_a_tenth_and_cools_its_pool)
{
  piece p = {0};
  quarter_block(&p, -5.0);
  const melt_pool tub = {.present = true, .mass = 4.0, .temperature = 15.0, .film = NAN, .floating = true};
  start(&p, &warm, &tub);
  ck_assert_int_eq(melt_advance(p.x, 1.0, NULL), STATUS_OK);
  ck_assert_double_eq_tol(melt_now(p.x).waterline, -R + 2.0 * R * 917.0 / 999.84, 1e-3 * R); /* Archimedes */
  while (melt_now(p.x).time < 7200.0)
    ck_assert_int_eq(melt_advance(p.x, 600.0, NULL), STATUS_OK);
  const melt_report r = melt_now(p.x);
  /* Heat of the water over 0 degC: what it had less what it gave; the meltwater joins at 0 degC. c = 4200 J/(kg K). */
  ck_assert_double_eq_tol(r.pool_mass * 4200.0 * r.pool_temperature, 4.0 * 4200.0 * 15.0 - r.heat_water, 1e-6 * r.heat_water);
  ck_assert_double_eq_tol(r.pool_mass, 4.0 + r.first_mass - r.mass, 1e-9);
  ck_assert_double_lt(r.pool_temperature, 6.0);
  ck_assert_double_eq_tol(r.heat_air + r.heat_moisture + r.heat_water, r.heat_stored, 1e-9 * r.heat_stored);
  release(&p);
}
END_TEST

/* Water at 0 degC that gives heat to colder ice freezes: what the ice is short of is latent heat of the pool, c |T| / L of its mass (heat balance). */
START_TEST(cold_ice_freezes_water_of_its_pool)
{
  piece p = {0};
  quarter_block(&p, -18.0);
  const melt_air none = {.temperature = -18.0, .relative_humidity = 0.5, .pressure = 101325.0, .film = 0.0};
  const melt_pool tub = {.present = true, .mass = 4.0, .temperature = 0.0, .film = NAN, .floating = true};
  start(&p, &none, &tub);
  while (melt_now(p.x).time < 10.0 * 3600.0)
    ck_assert_int_eq(melt_advance(p.x, 60.0, NULL), STATUS_OK);
  const melt_report r = melt_now(p.x);
  ck_assert_double_eq_tol(r.pool_temperature, 0.0, 1e-12);
  ck_assert_double_eq_tol(r.pool_ice, r.first_mass * 2050.0 * 18.0 / 334000.0, 0.01 * r.pool_ice);
  ck_assert_double_eq_tol(r.pool_ice * 334000.0, r.heat_water, 1e-9 * r.heat_water);
  ck_assert_double_eq_tol(r.mass, r.first_mass, 1e-3 * r.first_mass);
  release(&p);
}
END_TEST

/* Afloat in frosty air: it goes on melting below while its top is frozen, and the air draws heat out of the pool through it. */
START_TEST(a_piece_afloat_in_frosty_air_melts_from_below)
{
  piece p = {0};
  quarter_block(&p, -18.0);
  const melt_air frost = {.temperature = -10.0, .relative_humidity = 0.6, .pressure = 101325.0, .film = 20.0};
  const melt_pool lake = {.present = true, .fixed = true, .temperature = 6.0, .film = 200.0, .floating = true};
  start(&p, &frost, &lake);
  while (melt_now(p.x).time < 3600.0)
    ck_assert_int_eq(melt_advance(p.x, 60.0, NULL), STATUS_OK);
  const melt_report r = melt_now(p.x);
  ck_assert_double_lt(r.heat_air, 0.0);
  ck_assert_double_lt(r.mass, 0.9 * r.first_mass);
  ck_assert_double_gt(r.coldest, -18.1);
  ck_assert_double_eq_tol(r.heat_air + r.heat_moisture + r.heat_water, r.heat_stored, 1e-9 * r.heat_stored);
  while (!melt_now(p.x).gone && melt_now(p.x).time < 1e6)
    ck_assert_int_eq(melt_advance(p.x, 60.0, NULL), STATUS_OK);
  ck_assert(melt_now(p.x).gone);
  release(&p);
}
END_TEST

START_TEST(an_underside_that_is_covered_gets_no_heat)
{
  piece p = {0};
  quarter_block(&p, 0.0);
  const melt_piece given = {.grid = p.g, .ice = &p.ice, .volume = p.volume, .temperature = p.temperature, .underside_covered = true};
  ck_assert_int_eq(melt_create(&p.x, &given, &warm, &no_pool, NULL), STATUS_OK);
  ck_assert_int_eq(melt_advance(p.x, 1.0, NULL), STATUS_OK);
  ck_assert_double_eq_tol(melt_now(p.x).heat_air, 10.0 * 20.0 * 0.05, (brief() ? 0.08 : 0.04) * 10.0); /* five of six faces of 0.01 m2; cells at the lower edges count as underside */
  release(&p);
}
END_TEST

/* On a floor that gives no heat a cube of 2 R loses sides and top at one speed: mass (1 - t/t_m)^2 (1 - t / (2 t_m)), gone at t_m. */
START_TEST(a_cube_on_a_covered_floor_melts_from_sides_and_top)
{
  const double end = 917.0 * 334000.0 * R / (10.0 * 20.0);
  piece p = {0};
  even_grid(&p, GRID_XYZ, (size_t[3]){22, 22, 44}, (double[3]){0, 0, -0.11}, (double[3]){0.11, 0.11, 0.11}, (bool[6]){true, false, true, false, false, false});
  fill(&p, block, 0.0);
  const melt_piece given = {.grid = p.g, .ice = &p.ice, .volume = p.volume, .temperature = p.temperature, .underside_covered = true};
  ck_assert_int_eq(melt_create(&p.x, &given, &warm, &no_pool, NULL), STATUS_OK);
  for (size_t step = 0; !melt_now(p.x).gone && step < 10000; step++)
    ck_assert_int_eq(melt_advance(p.x, 0.05 * end, NULL), STATUS_OK);
  const melt_report r = melt_now(p.x);
  static const double left[2] = {0.5, 0.1};
  for (int i = 0; i < 2; i++) {
    double low = 0.0, high = 1.0;
    for (int n = 0; n < 60; n++) {
      const double t = 0.5 * (low + high);
      *((1.0 - t) * (1.0 - t) * (1.0 - 0.5 * t) > left[i] ? &low : &high) = t;
    }
    ck_assert_double_eq_tol(r.mark[i], end * low, (brief() ? 0.04 : 0.02) * end);
  }
  ck_assert_double_eq_tol(r.gone_at, end, (brief() ? 0.1 : 0.05) * end); /* a cell: the last of it is a spike thinner than that */
  ck_assert_double_eq_tol(r.heat_air, r.heat_stored, 1e-9 * r.heat_stored);
  release(&p);
}
END_TEST

START_TEST(a_restored_piece_goes_on_to_the_same_bits)
{
  piece p = {0}, q = {0};
  quarter_block(&p, -5.0);
  quarter_block(&q, -5.0);
  const melt_pool tub = {.present = true, .mass = 4.0, .temperature = 15.0, .film = NAN, .floating = true};
  start(&p, &warm, &tub);
  start(&q, &warm, &tub);
  for (int i = 0; i < 30; i++)
    ck_assert_int_eq(melt_advance(p.x, 60.0, NULL), STATUS_OK);
  memcpy(melt_state(q.x), melt_state(p.x), melt_state_length(p.x) * sizeof(double));
  melt_restored(q.x);
  for (int i = 0; i < 30; i++) {
    ck_assert_int_eq(melt_advance(p.x, 60.0, NULL), STATUS_OK);
    ck_assert_int_eq(melt_advance(q.x, 60.0, NULL), STATUS_OK);
  }
  ck_assert_mem_eq(melt_state(p.x), melt_state(q.x), melt_state_length(p.x) * sizeof(double));
  release(&p);
  release(&q);
}
END_TEST

START_TEST(no_ice_is_refused)
{
  piece p = {0};
  quarter_block(&p, 0.0);
  memset(p.volume, 0, grid_num_cells(p.g) * sizeof *p.volume);
  const melt_piece given = {.grid = p.g, .ice = &p.ice, .volume = p.volume, .temperature = p.temperature};
  message msg = {""};
  ck_assert_int_eq(melt_create(&p.x, &given, &warm, &no_pool, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "no ice"));
  release(&p);
}
END_TEST

Suite *suite(void);
Suite *suite(void)
{
  Suite *s = suite_create("melt");
  TCase *c = tcase_create("melt");
  tcase_add_test(c, a_slab_melts_in_proportion_to_time);
  tcase_add_test(c, a_cylinder_melts_by_its_own_area);
  tcase_add_test(c, a_cylinder_of_square_cells_melts_by_its_own_area);
  tcase_add_test(c, a_bar_turned_against_the_grid_melts_by_its_own_area);
  tcase_add_test(c, a_sphere_melts_in_rings_and_in_boxes);
  tcase_add_test(c, a_cube_and_a_bar_melt_to_their_middle);
  tcase_add_test(c, cold_ice_melts_later_by_less_than_its_cold);
  tcase_add_test(c, the_middle_of_a_slab_warms_like_the_series);
  tcase_add_test(c, water_melts_below_the_line_and_air_above);
  tcase_add_test(c, a_floating_block_shows_a_tenth_and_cools_its_pool);
  tcase_add_test(c, cold_ice_freezes_water_of_its_pool);
  tcase_add_test(c, a_piece_afloat_in_frosty_air_melts_from_below);
  tcase_add_test(c, an_underside_that_is_covered_gets_no_heat);
  tcase_add_test(c, a_cube_on_a_covered_floor_melts_from_sides_and_top);
  tcase_add_test(c, a_restored_piece_goes_on_to_the_same_bits);
  tcase_add_test(c, no_ice_is_refused);
  suite_add_tcase(s, c);
  return s;
}

int main(void)
{
  SRunner *r = srunner_create(suite());
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
