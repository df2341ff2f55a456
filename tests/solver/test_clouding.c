/* Air and minerals along the pockets of a body, against closed forms and against histories of a plane front marched apart from this
 * program. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "materials/air_in_water.h"
#include "solver/clouding.h"
#include "solver/film.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

static const double SATURATION = 29.14e-6, ICE = 916.7;

/* A column of even slices that freezes from the top down. */
typedef struct {
  grid *g;
  shape *all;
  mesh *m;
  adjacency a;
  double *time, *speed, *fraction, *extinction, *mineral;
  int32_t *pocket_of;
  pocket root;
  clouding_request ask;
  clouding_found found;
} column;

static void column_create(column *s, size_t num, double depth)
{
  double r[2] = {0.0, 0.1}, *z = malloc((num + 1) * sizeof *z);
  for (size_t k = 0; k <= num; k++)
    z[k] = depth * (double)k / (double)num;
  const size_t count[3] = {1, 1, num};
  const double *const edges[3] = {r, NULL, z};
  const bool mirror[6] = {false};
  message msg = {""};
  *s = (column){0};
  ck_assert_msg(grid_create(&s->g, GRID_RZ, count, edges, mirror, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(shape_cylinder(&s->all, 10.0, -1.0, 10.0, &msg) == STATUS_OK, "%s", msg.text);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = s->all};
  ck_assert_msg(mesh_create(&s->m, s->g, &layer, 1, 0, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(adjacency_create(&s->a, s->m, &msg) == STATUS_OK, "%s", msg.text);
  free(z);
  const size_t nodes = s->m->num_nodes;
  s->time = malloc(nodes * sizeof(double));
  s->speed = malloc(nodes * sizeof(double));
  s->fraction = calloc(nodes, sizeof(double));
  s->extinction = calloc(nodes, sizeof(double));
  s->mineral = calloc(nodes, sizeof(double));
  s->pocket_of = calloc(nodes, sizeof(int32_t));
  s->root = (pocket){.parent = -1, .closed_at = NAN};
  front_gas_constants gas = front_gas_defaults();
  gas.surface_tension = 0.0;
  s->ask = (clouding_request){.m = s->m, .a = &s->a, .part = 0, .density = ICE, .freeze_time = s->time, .front_speed = s->speed,
                              .pocket_of_node = s->pocket_of, .pockets = &s->root, .num_pockets = 1, .pressure = 101325.0,
                              .surface_level = 0.0, .gas = gas, .num_slices = 400,
                              .film = {.kind = MOTION_STILL, .factor = 1.0, .diffusivity = 1e-9}};
}

static void column_destroy(column *s)
{
  free(s->time);
  free(s->speed);
  free(s->fraction);
  free(s->extinction);
  free(s->mineral);
  free(s->pocket_of);
  adjacency_release(&s->a);
  mesh_destroy(&s->m);
  shape_destroy(&s->all);
  grid_destroy(&s->g);
}

static void run(column *s)
{
  message msg = {""};
  ck_assert_msg(clouding_find(&s->found, s->fraction, s->extinction, s->mineral, &s->ask, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_double_le(clouding_books_error(&s->found.air), 1e-9);
  ck_assert_double_le(clouding_books_error(&s->found.salt), 1e-9);
  assert_close(s->found.clear + s->found.hazy + s->found.white, 1.0, 1e-9);
}

/* Plane front behind a film h (W/(m2 K)), quasi-steady in the ice (Stefan), cold side `cold` K below 0 degC; the sensible heat of the ice
 * adds 3 %. The water ahead is one temperature, `warm` degC at first, and gives its heat to the front through the film h_water
 * (NAN: that of still water, Churchill & Chu 1975). */
static void freeze_by_stefan(column *s, double cold, double h, double warm, double h_water)
{
  const double heat = 1.03 * ICE * 333550.0, k = 2.22, step = 1.0, depth = s->g->edges[2][s->g->num[2]];
  double x = 0.0, t = 0.0, bulk = warm;
  for (size_t n = s->m->num_nodes; n-- > 0;) {
    const double centre = depth - s->m->centroid[n][2];
    double speed = 0.0;
    while (x < centre) {
      const double out = cold / (1.0 / h + x / k), film = isnan(h_water) ? film_water_natural(0.0, bulk, 0.3) : h_water;
      const double given = film * bulk;
      speed = fmax(out - given, 0.0) / heat;
      const double lost = speed > 0.0 || x > 0.0 ? given : (cold + bulk) / (1.0 / h + 1.0 / fmax(film, 1.0));
      bulk = fmax(bulk - step * lost / (4200.0 * 999.8 * (depth - x)), 0.0);
      x += step * speed;
      t += step;
    }
    s->time[n] = t - (x - centre) / speed;
    s->speed[n] = speed;
  }
}

static void freeze_evenly(column *s, double speed)
{
  const double depth = s->g->edges[2][s->g->num[2]];
  for (size_t n = 0; n < s->m->num_nodes; n++) {
    s->time[n] = (depth - s->m->centroid[n][2]) / speed;
    s->speed[n] = speed;
  }
}

/* Frozen share at the top of the first node whose extinction exceeds a level. */
static double first_above(const column *s, double level)
{
  for (size_t n = s->m->num_nodes; n-- > 0;)
    if (s->extinction[n] > level)
      return (double)(s->m->num_nodes - 1 - n) / (double)s->m->num_nodes;
  return 1.0;
}

/* Closed pocket: 1 - c0 / (S_on E); Scheil's equation with k = 0 behind the film of Burton, Prim & Slichter 1953. */
START_TEST(onset_in_a_closed_pocket_is_where_scheil_puts_it)
{
  column s;
  column_create(&s, 97, 0.15);
  freeze_evenly(&s, -log(0.6096) * 1e-9 / 1e-3 * 999.8 / 916.7);
  s.ask.air = 0.637 * SATURATION;
  s.ask.film.thickness = 1e-3;
  s.ask.gas.onset = 2.0;
  s.ask.gas.full = 4.0;
  run(&s);
  ck_assert_double_eq_tol(s.found.onset_share, 0.4775, 0.0035); /* one slice and the 5 % that onset asks for */
  column_destroy(&s);
}
END_TEST

/* Plane fronts followed with a 2 s step by another program from the same equations: frozen share of the first bubbles, of
 * extinction above 3, 10, 30 per m, share of clear ice, frozen share at which minerals exceed 1.5 kg/m3 at the front. NAN: not reached, or it
 * hangs on how the warm water gave up its heat, of which nothing is known. Within 0.02 of the frozen share. */
typedef struct {
  double depth, cold, h, warm, h_water, air, film, minerals;
  bool aerated;
  double onset, above_3, above_10, above_30, clear, salt;
} plane_case;
static const plane_case plane[] = {
    /* still, from the top, air at -18 degC: tap water; distilled; boiled */
    {0.15, 18, 15, 15, NAN, 0.70, 1.1e-3, 0.135, false, 0.504, 0.54, 0.609, 0.806, 0.517, 0.846},
    {0.15, 18, 15, 15, NAN, 0.70, 3e-3, 0, false, 0.013, 0.016, 0.024, NAN, 0.014, NAN},
    {0.15, 18, 15, 15, NAN, 0.15, 1.1e-3, 0.135, false, 0.906, 0.913, 0.925, 0.966, 0.909, 0.846},
    /* slab of 280 mm from both sides in brine: -10 degC still, film 0.65 mm; stirred; aerated at -10, -16, -25 degC */
    {0.14, 10, 250, 20, NAN, 0.637, 0.65e-3, 0.3, false, 0.005, 0.006, 0.006, 0.008, NAN, NAN},
    {0.14, 10, 250, 20, 920, 0.637, 0.12e-3, 0.3, false, 0.728, 0.733, 0.748, NAN, 0.73, 0.794},
    {0.14, 10, 250, 20, 920, 0.637, 0.12e-3, 0.3, true, 0.992, 0.993, 0.995, NAN, 0.993, 0.794},
    {0.14, 16, 250, 20, 920, 0.637, 0.12e-3, 0.3, true, 0.987, 0.987, 0.988, NAN, 0.988, 0.783},
    {0.14, 25, 250, 20, 920, 0.637, 0.12e-3, 0.3, true, 0.977, 0.977, 0.979, 0.985, 0.978, 0.765}};

static void set_plane(column *s, const plane_case *c, size_t num)
{
  column_create(s, num, c->depth);
  freeze_by_stefan(s, c->cold, c->h, c->warm, c->h_water);
  s->ask.air = c->air * SATURATION;
  s->ask.minerals = c->minerals;
  s->ask.film.thickness = c->film;
  s->ask.film.aerated = s->ask.open_top = c->aerated;
}

static void assert_share(const char *what, double got, double want, double tol)
{
  if (!isnan(want))
    ck_assert_msg(fabs(got - want) <= tol, "%s: %.4f, wanted %.3f", what, got, want);
}

START_TEST(plane_fronts_cloud_where_they_did_elsewhere)
{
  const plane_case *c = &plane[_i];
  column s;
  set_plane(&s, c, 280);
  run(&s);
  assert_share("onset", s.found.onset_share, c->onset, 0.02);
  assert_share("above 3", first_above(&s, 3.0), c->above_3, 0.02);
  assert_share("above 10", first_above(&s, 10.0), c->above_10, 0.02);
  assert_share("above 30", first_above(&s, 30.0), c->above_30, 0.02);
  assert_share("clear", s.found.clear, c->clear, 0.02);
  assert_share("minerals", s.found.salt_share, c->salt, 0.02);
  column_destroy(&s);
}
END_TEST

/* The still slab of 280 mm was 0.514 clear: between a history whose water gives up its heat at 300 W/(m2 K) throughout, and one by
 * Churchill & Chu 1975, whose transfer fades near the density maximum. */
START_TEST(warm_water_delays_the_first_ice)
{
  plane_case even = plane[3];
  even.h_water = 300.0;
  column slow, fast;
  set_plane(&slow, &plane[3], 280);
  set_plane(&fast, &even, 280);
  run(&slow);
  run(&fast);
  ck_assert_double_lt(fast.found.clear, 0.514);
  ck_assert_double_gt(slow.found.clear, 0.514);
  ck_assert_double_lt(slow.found.clear - fast.found.clear, 0.1);
  column_destroy(&slow);
  column_destroy(&fast);
}
END_TEST

/* Halving the slices moves the clear share by less than 1 %, halving the cells by less than 2 %. */
START_TEST(slices_and_cells_do_not_count)
{
  const plane_case *c = &plane[_i];
  column base, finer, coarser;
  set_plane(&base, c, 60);
  set_plane(&finer, c, 60);
  set_plane(&coarser, c, 30);
  base.ask.num_slices = coarser.ask.num_slices = 200;
  finer.ask.num_slices = 400;
  run(&base);
  run(&finer);
  run(&coarser);
  ck_assert_double_lt(fabs(finer.found.clear - base.found.clear), 0.01);
  ck_assert_double_lt(fabs(coarser.found.clear - base.found.clear), 0.02);
  column_destroy(&base);
  column_destroy(&finer);
  column_destroy(&coarser);
}
END_TEST

/* Regression, not validation: onset and full share were chosen by these. Three still blocks of tap water frozen from the top, 95 and
 * 152 mm deep: streaks from 0.47, 0.50, 0.67 of the depth, useless from 0.87, 0.83, 0.75 (trials published by an amateur). */
START_TEST(regression_blocks_frozen_from_the_top)
{
  column s;
  set_plane(&s, &plane[0], 100);
  run(&s);
  ck_assert(s.found.onset_share >= 0.4 && s.found.onset_share <= 0.7);
  ck_assert(s.found.white_share >= 0.75 && s.found.white_share <= 0.87);
  ck_assert(s.found.stop_share < s.found.onset_share && s.found.stop_time < s.found.onset_time);
  /* 0.8 of the onset: c_b exp(w film / D) = 2.0 c_s, at the front's speed there */
  const double x = 0.15 * s.found.stop_share, heat = 1.03 * ICE * 333550.0;
  const double speed = 18.0 / (heat * (1.0 / 15.0 + x / 2.22));
  assert_close(0.70 / (1.0 - s.found.stop_share) * exp(speed * ICE / 999.8 * 1.1e-3 / 1e-9), 2.0, 0.01);
  column_destroy(&s);
}
END_TEST

/* Regression: the share that ice keeps, 0.03, was chosen by 6 mg/L measured in the clear half of a block of 135 mg/L. */
START_TEST(regression_minerals_stay_out_of_clear_ice)
{
  column s;
  set_plane(&s, &plane[0], 100);
  run(&s);
  double upper = 0.0;
  for (size_t n = 50; n < 100; n++)
    upper += s.mineral[n] / 50.0;
  ck_assert_double_gt(upper, 0.003);
  ck_assert_double_lt(upper, 0.009);
  column_destroy(&s);
}
END_TEST

/* Pockets that part share air by mass; ice that encloses water half way down ends in two voids. */
START_TEST(a_pocket_that_parts_takes_its_air_along)
{
  column s;
  column_create(&s, 60, 0.15);
  s.ask.air = 0.7 * SATURATION;
  s.ask.minerals = 0.3;
  s.ask.film.thickness = 1.1e-3;
  pocket two[2] = {{.parent = -1, .closed_at = NAN}, {.parent = 0, .parted_at = 9000.0, .closed_at = 9000.0}};
  /* The middle freezes first, then both halves towards their ends, the lower one sooner. */
  for (size_t n = 0; n < 60; n++) {
    const double away = fabs((double)n - 29.5) * 2.5e-3;
    s.speed[n] = n < 30 ? 0.7e-6 : 0.5e-6;
    s.time[n] = 7000.0 + away / s.speed[n];
    s.pocket_of[n] = n < 30;
  }
  s.ask.pockets = two;
  s.ask.num_pockets = 2;
  run(&s);
  const double poured = 0.7 * SATURATION * ICE * 0.15 * 3.14159265358979323846 * 0.01;
  assert_close(s.found.air.initial, poured, 1e-3);
  double lower = 0.0, upper = 0.0;
  for (size_t n = 0; n < 60; n++)
    *(n < 30 ? &lower : &upper) += s.fraction[n] / 30.0;
  /* At 9000 s 1.4 mm of the lower and 1.0 mm of the upper 75 mm are ice: the air is shared as 73.6 to 74.0. Nearly all ends in bubbles. */
  const double all = 2.0 * 0.7 * SATURATION * ICE; /* m3 per m3 */
  ck_assert_double_le(lower, all * 73.6 / 147.6 * (1.0 + 1e-6));
  ck_assert_double_gt(lower, all * 73.6 / 147.6 * 0.999);
  ck_assert_double_le(upper, all * 74.0 / 147.6 * (1.0 + 1e-6));
  ck_assert_double_gt(upper, all * 74.0 / 147.6 * 0.999);
  column_destroy(&s);
}
END_TEST

/* Air leaves or enters through an open surface until it balances; free bubbles leave an open pocket and stay under a closed one. */
START_TEST(an_open_surface_lets_air_out)
{
  column open, closed;
  const plane_case *c = &plane[4];
  set_plane(&open, c, 60);
  set_plane(&closed, c, 60);
  open.ask.film.aerated = closed.ask.film.aerated = true;
  open.ask.open_top = true;
  open.ask.detached = closed.ask.detached = 1.0;
  run(&open);
  run(&closed);
  ck_assert_double_gt(open.found.air.through_top, 0.4 * open.found.air.initial);
  ck_assert_double_gt(open.found.clear, closed.found.clear + 0.2);
  ck_assert_double_eq(closed.found.air.through_top, 0.0);
  ck_assert_double_gt(closed.found.air.in_void, 0.05 * closed.found.air.initial);
  column_destroy(&open);
  column_destroy(&closed);
}
END_TEST

/* Three quarters frozen, all the water is exchanged: minerals of 300 mg/L are shut in from f = 0.95 instead of 0.79 (no minerals in the ice; within
 * 0.02 as the plane fronts above). With the 3 % that ice keeps, Scheil's equation gives 1 - f = (C0 exp(w film / D) / c*)^(1 / 0.97), and a quarter of
 * that when it starts again with a quarter of the water; the onset asks for 5 % of the front and one slice more. Half of it exchanged takes away
 * half of what air has piled up, 0.75 of all. */
START_TEST(fresh_water_in_the_core_puts_minerals_off)
{
  static const struct { double share, onset; } swap[] = {{0.0, 0.79}, {1.0, 0.95}, {0.5, NAN}};
  column s;
  column_create(&s, 97, 0.15);
  freeze_evenly(&s, 0.5e-6);
  s.ask.air = 0.1 * SATURATION;
  s.ask.minerals = 0.3;
  s.ask.film.thickness = 0.1e-3;
  const clouding_exchange fresh = {.time = 0.75 * 0.15 / 0.5e-6, .share = swap[_i].share};
  s.ask.exchanges = &fresh;
  s.ask.num_exchanges = 1;
  run(&s);
  ck_assert_double_eq_tol(s.found.air.exchanged / s.found.air.initial, swap[_i].share * 0.75, 1e-3); /* half a slice */
  assert_share("minerals", s.found.salt_share, swap[_i].onset, 0.02);
  const double limit = front_gas_salt_limit(FRONT_GAS_SALT_DIFFUSIVITY, 0.05);
  const double at_front = front_gas_salt_at(0.3, 0.5e-6, 0.1e-3, 1e-9), left = pow(at_front / limit, 1.0 / 0.97);
  if (!isnan(swap[_i].onset))
    assert_share("by Scheil", s.found.salt_share, 1.0 - left * (swap[_i].share > 0.0 ? 0.25 : 1.0), 0.005);
  column_destroy(&s);
}
END_TEST

/* Water that has not frozen keeps its air. */
START_TEST(what_is_still_liquid_is_booked)
{
  column s;
  set_plane(&s, &plane[0], 60);
  for (size_t n = 0; n < 30; n++)
    s.time[n] = s.speed[n] = NAN;
  run(&s);
  assert_close(s.found.air.in_liquid, s.found.air.initial, 0.05);
  ck_assert_double_eq(s.found.air.in_void, 0.0);
  column_destroy(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clouding");
  TCase *all = tcase_create("all");
  tcase_add_test(all, onset_in_a_closed_pocket_is_where_scheil_puts_it);
  tcase_add_loop_test(all, plane_fronts_cloud_where_they_did_elsewhere, 0, (int)(sizeof plane / sizeof *plane));
  tcase_add_test(all, warm_water_delays_the_first_ice);
  tcase_add_loop_test(all, slices_and_cells_do_not_count, 0, (int)(sizeof plane / sizeof *plane));
  tcase_add_test(all, regression_blocks_frozen_from_the_top);
  tcase_add_test(all, regression_minerals_stay_out_of_clear_ice);
  tcase_add_test(all, a_pocket_that_parts_takes_its_air_along);
  tcase_add_test(all, an_open_surface_lets_air_out);
  tcase_add_loop_test(all, fresh_water_in_the_core_puts_minerals_off, 0, 3);
  tcase_add_test(all, what_is_still_liquid_is_booked);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
