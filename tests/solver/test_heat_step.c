/* Marching the heat balance: exact freezing, ledger, two integrators, landing, undo, no allocation. */
#include <check.h>
#include <math.h>
#include <omp.h>
#include <stdlib.h>
#include <string.h>

#include "tests/solver/heat_scene.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

/* ------------------------------------------------------------------------------------------- count every allocation */

#if !defined(__SANITIZE_ADDRESS__) && defined(__GLIBC__)
#define COUNTS_ALLOCATIONS
static volatile size_t allocations;
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t num, size_t size);
extern void *__libc_realloc(void *old, size_t size);
void *malloc(size_t size);
void *calloc(size_t num, size_t size);
void *realloc(void *old, size_t size);

void *malloc(size_t size)
{
  allocations++;
  return __libc_malloc(size);
}

void *calloc(size_t num, size_t size)
{
  allocations++;
  return __libc_calloc(num, size);
}

void *realloc(void *old, size_t size)
{
  allocations++;
  return __libc_realloc(old, size);
}
#endif

/* ------------------------------------------------------------------------------------------- scenes */

/* A line (slab) or a cylinder of water of depth R; film NAN: the outer wall fixed at `cold`. Part 0. */
static void open_bar(heat_scene *s, bool cylinder, size_t num, double depth, double warm, double cold, double film)
{
  const bool slab[6] = {true, false, true, true, true, true}, round[6] = {true, false, true, true, true, true};
  heat_scene_init(s, cylinder ? GRID_RZ : GRID_XYZ, (size_t[]){num, 1, 1}, (double[]){depth, 1.0, 1.0}, cylinder ? round : slab);
  const material water = heat_scene_water();
  const int part = heat_scene_part(s, MESH_SOLID, &water, warm);
  heat_scene_paint(s, part, 0, 0, num);
  if (isnan(film))
    heat_scene_rule(s, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, cold);
  else
    heat_scene_rule(s, SURFACE_FILM, part, MESH_VOID, FACES_ALL, film, cold);
  heat_scene_open(s);
}

/* Its part's liquid moves; before the scene is opened. Afterwards by so much to the sides: move_sideways. */
static void let_move(heat_scene *s, int part)
{
  s->baths[0] = (rig_bath){.part = part, .flow = {.kind = MOTION_STILL}};
  s->r.num_baths = 1;
}

static void move_sideways(heat_scene *s, double factor)
{
  for (size_t i = 0; i < s->m->num_nodes; i++)
    network_horizontal_factor(s->net)[i] = factor;
}

/* Water inside a thin metal wall inside foam, the room outside, a held rod in the middle: every kind of path. */
static void open_mixed(heat_scene *s)
{
  heat_scene_init(s, GRID_RZ, (size_t[]){14, 1, 12}, (double[]){0.14, 0.0, 0.12}, NULL);
  const material water = heat_scene_water(), metal = heat_scene_solid(200.0, 2.4e6), foam = heat_scene_solid(0.03, 4.2e4);
  const int w = heat_scene_part(s, MESH_SOLID, &water, 6.0), rod = heat_scene_part(s, MESH_HELD, NULL, -22.0),
            wall = heat_scene_part(s, MESH_THIN_WALL, &metal, 3.0), f = heat_scene_part(s, MESH_SOLID, &foam, 9.0);
  heat_scene_paint(s, w, 0, 2, 9);
  heat_scene_paint(s, rod, 0, 0, 2);
  heat_scene_paint(s, wall, 0, 9, 10);
  heat_scene_paint(s, f, 0, 10, 14);
  s->r.room.film = 8.0;
  s->r.room.temperature = heat_scene_constant(s, 24.0);
  heat_scene_rule(s, SURFACE_CONTACT, rod, w, FACES_ALL, 0.0007, NAN);
  heat_scene_rule(s, SURFACE_FLOOR, w, MESH_VOID, FACES_BOTTOM, 3.0, 12.0);
  heat_scene_open(s);
}

/* ------------------------------------------------------------------------------------------- exact freezing */

/* Neumann's solution (Carslaw & Jaeger 1959, Conduction of Heat in Solids, 2nd ed., sec. 11.2), water at 10 degC, wall at -20 degC:
 * lambda from its own equation, front 2 lambda sqrt(alpha_s t), heat 2 q t. The liquid conducts `factor` times what it does at rest. */
static double neumann_lambda(double warm, double cold, double factor)
{
  const double as = 2.2 / 2.05e6, al = factor * 0.58 / 4.2e6, K = factor * 0.58 / 2.2, phi = warm / -cold, Ste = 2050.0 * -cold / 334000.0;
  double low = 1e-6, high = 2.0;
  for (int i = 0; i < 200; i++) {
    const double l = 0.5 * (low + high), m = l * sqrt(as / al);
    const double f = exp(-l * l) / erf(l) - K * phi * sqrt(as / al) * exp(-m * m) / erfc(m) - l * sqrt(3.14159265358979323846) / Ste;
    *(f > 0.0 ? &low : &high) = l;
  }
  return low;
}

START_TEST(front_and_heat_follow_neumann)
{
  const double lambda = neumann_lambda(10.0, -20.0, 1.0);
  assert_close(lambda, 0.22200863734753449917, 1e-13);
  const double s_exact = 2.0 * lambda * sqrt(2.2 / 2.05e6 * 3600.0);
  assert_close(s_exact, 0.027598503093049, 1e-12);
  const double q = 2.2 * 20.0 / (erf(lambda) * sqrt(3.14159265358979323846 * 2.2 / 2.05e6 * 3600.0));
  /* 40 cells to the front; the far end lies 8 diffusion lengths beyond it */
  heat_scene s;
  const double depth = 0.2067;
  open_bar(&s, false, 300, depth, 10.0, -20.0, NAN);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.005);
  heat_scene_march(&s, 3600.0);
  const double front = depth * (1.0 - heat_scene_liquid(&s, 0));
  /* 0.5 % in time is 0.25 % in depth */
  assert_close(front, s_exact, 0.0025);
  assert_close(s.state.path_heat[0], -2.0 * q * 3600.0, 0.0025);
  ck_assert_double_le(fabs(heat_scene_residual(&s)), 1e-9);
  heat_scene_release(&s);
}
END_TEST

/* Liquid that moves conducts more, ice does not, and water at freezing has nothing to carry whatever it does: 13 and 39 cells deep, at default steps. With the factor
 * for all that a node of the front conducts to the next one it was 6 and 2 % too deep (factor 3), 13 and 5 % (factor 12). */
static const struct {
  double warm, factor;
} moving[] = {{0.01, 3.0}, {10.0, 3.0}, {0.01, 12.0}, {10.0, 12.0}};

/* A bar of water that moves sideways. Part 0. */
static void open_moving_bar(heat_scene *s, size_t num, double depth, double start, double surface, double factor)
{
  const bool slab[6] = {true, false, true, true, true, true};
  heat_scene_init(s, GRID_XYZ, (size_t[]){num, 1, 1}, (double[]){depth, 1.0, 1.0}, slab);
  const material water = heat_scene_water();
  const int part = heat_scene_part(s, MESH_SOLID, &water, start);
  heat_scene_paint(s, part, 0, 0, num);
  heat_scene_rule(s, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, surface);
  let_move(s, part);
  heat_scene_open(s);
  move_sideways(s, factor);
  heat_scene_step(s, INTEGRATOR_STABILISED, 0.0);
}

START_TEST(a_front_in_moving_water_follows_neumann)
{
  static const double seconds[] = {400.0, 3600.0}, within[] = {0.015, 0.008};
  enum { CELLS = 600 };
  const double depth = 2.0 * 0.2067, lambda = neumann_lambda(moving[_i].warm, -20.0, moving[_i].factor);
  heat_scene s;
  open_moving_bar(&s, CELLS, depth, moving[_i].warm, -20.0, moving[_i].factor);
  for (size_t i = 0; i < sizeof seconds / sizeof *seconds; i++) {
    heat_scene_march(&s, seconds[i]);
    assert_close(depth * (1.0 - heat_scene_liquid(&s, 0)), 2.0 * lambda * sqrt(2.2 / 2.05e6 * seconds[i]), within[i]);
  }
  heat_scene_release(&s);
}
END_TEST

/* The same for ice at its melting point under a surface at 4 degC (Carslaw & Jaeger, sec. 11.2 with the ice at rest): lambda exp(lambda^2) erf(lambda)
 * = Ste / sqrt(pi). 2.4 to 11 cells deep it comes 3 to 6 % late. With the factor of ice for a node half frozen,
 * whichever way the front goes, a fifth to two thirds of it were missing. */
START_TEST(ice_melts_in_moving_water_as_neumann_says)
{
  static const double factor[] = {3.0, 12.0}, seconds[] = {3600.0, 20000.0};
  const double ste = 4.2e6 * 4.0 / 334e6, pi = 3.14159265358979323846;
  double low = 1e-6, high = 1.0;
  for (int i = 0; i < 200; i++) {
    const double l = 0.5 * (low + high);
    *(l * exp(l * l) * erf(l) < ste / sqrt(pi) ? &low : &high) = l;
  }
  heat_scene s;
  open_moving_bar(&s, 100, 0.5, -0.01, 4.0, factor[_i]);
  for (size_t i = 0; i < sizeof seconds / sizeof *seconds; i++) {
    heat_scene_march(&s, seconds[i]);
    assert_close(0.5 * heat_scene_liquid(&s, 0), 2.0 * low * sqrt(factor[_i] * 0.58 / 4.2e6 * seconds[i]), 0.07);
  }
  heat_scene_release(&s);
}
END_TEST

/* Complete freezing of 0.05 m (half slab, radius), water at T_i: front-tracking collocation, two resolutions agreeing to 3e-7
 * (class of problem: Riley, Smith & Poots 1974, Int. J. Heat Mass Transfer 17:1507). 40 cells: 0.1 %. */
static const struct {
  bool cylinder;
  double warm, cold, film, seconds;
} inward[] = {{false, 10.0, -20.0, NAN, 10619.49822},  {true, 10.0, -20.0, NAN, 5439.455},
              {false, 10.0, -20.0, 100.0, 19976.89278}, {true, 10.0, -20.0, 100.0, 10257.364}};

START_TEST(complete_freezing_takes_the_exact_time)
{
  heat_scene s;
  open_bar(&s, inward[_i].cylinder, 40, 0.05, inward[_i].warm, inward[_i].cold, inward[_i].film);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.005);
  const double solid = s.stuff[0].curve.solid_enthalpy;
  double frozen_at = NAN;
  while (isnan(frozen_at) && s.state.time < 2.0 * inward[_i].seconds) {
    const double before = s.state.time, last = s.state.enthalpy[0];
    heat_scene_advance(&s, 20.0);
    if (s.state.enthalpy[0] <= solid) /* the centre freezes last; linear within the step */
      frozen_at = before + (s.state.time - before) * (last - solid) / (last - s.state.enthalpy[0]);
  }
  ck_assert_msg(fabs(frozen_at / inward[_i].seconds - 1.0) <= 1e-3, "frozen after %.3f s, exact %.3f s", frozen_at, inward[_i].seconds);
  ck_assert_double_le(fabs(heat_scene_residual(&s)), 1e-9);
  heat_scene_release(&s);
}
END_TEST

/* ------------------------------------------------------------------------------------------- ledger */

START_TEST(ledger_closes_and_misses_every_path_that_is_taken_away)
{
  heat_scene s;
  open_mixed(&s);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
  heat_scene_march(&s, 7200.0);
  ck_assert_uint_ge(network_num_paths(s.net), 4);
  ck_assert_double_le(fabs(heat_scene_residual(&s)), 1e-9);
  for (size_t path = 0; path < network_num_paths(s.net); path++) {
    const double kept = s.state.path_heat[path];
    s.state.path_heat[path] = 0.0;
    ck_assert_msg(fabs(heat_scene_residual(&s)) > 1e-9, "path %s was not missed", network_path_name(s.net, path));
    s.state.path_heat[path] = kept;
  }
  heat_scene_release(&s);
}
END_TEST

/* The shell of a box: its walls are solved by conjugate gradients, whose remainder must not be lost. */
START_TEST(ledger_closes_with_an_iterative_wall_solve)
{
  heat_scene s;
  heat_scene_init(&s, GRID_XYZ, (size_t[]){9, 8, 7}, (double[]){0.09, 0.08, 0.07}, NULL);
  const material water = heat_scene_water(), metal = heat_scene_solid(200.0, 2.4e6), brine = heat_scene_solid(3.0, 3.3e6);
  const int outside = heat_scene_part(&s, MESH_SOLID, &brine, -12.0), wall = heat_scene_part(&s, MESH_THIN_WALL, &metal, 0.0),
            inside = heat_scene_part(&s, MESH_SOLID, &water, 7.0);
  for (size_t cell = 0; cell < grid_num_cells(s.g); cell++) {
    size_t at[3];
    grid_cell_indices(s.g, cell, at);
    size_t depth = 99; /* rings from the outside */
    for (int axis = 0; axis < 3; axis++) {
      const size_t low = at[axis], high = s.g->num[axis] - 1 - at[axis];
      depth = low < depth ? low : depth;
      depth = high < depth ? high : depth;
    }
    s.part_of[cell] = depth == 0 ? outside : depth == 1 ? wall : inside;
  }
  heat_scene_rule(&s, SURFACE_FILM, outside, MESH_VOID, FACES_ALL, 60.0, -25.0);
  heat_scene_open(&s);
  ck_assert_uint_gt(s.m->num_patch_links, 100);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
  heat_scene_march(&s, 3600.0);
  ck_assert_double_lt(heat_scene_liquid(&s, inside), 0.95);
  ck_assert_double_le(fabs(heat_scene_residual(&s)), 1e-9);
  heat_scene_release(&s);
}
END_TEST

/* ------------------------------------------------------------------------------------------- the wall's heat capacity */

/* A thick-walled case against the same wall meshed as cells: the time to freeze half of the water agrees. The wall holds about a
 * tenth of the sensible heat, so leaving its heat capacity out would show. */
START_TEST(thin_wall_keeps_the_heat_of_its_metal)
{
  double half_frozen[2];
  for (int thin = 0; thin < 2; thin++) {
    heat_scene s;
    const size_t num = thin ? 21 : 24; /* 20 cells of 1 mm water, then 4 mm of metal as one patch or as 4 cells */
    heat_scene_init(&s, GRID_XYZ, (size_t[]){num, 1, 1}, (double[]){0.024, 1.0, 1.0}, (bool[]){true, false, true, true, true, true});
    if (thin)
      for (size_t i = 0; i <= num; i++)
        s.g->edges[0][i] = i <= 20 ? 0.001 * (double)i : 0.024;
    const material water = heat_scene_water(), metal = heat_scene_solid(200.0, 2.4e6);
    const int w = heat_scene_part(&s, MESH_SOLID, &water, 3.0), m = heat_scene_part(&s, thin ? MESH_THIN_WALL : MESH_SOLID, &metal, 40.0);
    heat_scene_paint(&s, w, 0, 0, 20);
    heat_scene_paint(&s, m, 0, 20, num);
    heat_scene_rule(&s, SURFACE_FILM, m, MESH_VOID, FACES_ALL, 90.0, -20.0);
    heat_scene_open(&s);
    heat_scene_step(&s, INTEGRATOR_STABILISED, 0.01);
    double before = 1.0, time = 0.0;
    half_frozen[thin] = NAN;
    while (isnan(half_frozen[thin]) && s.state.time < 20000.0) {
      time = s.state.time;
      heat_scene_advance(&s, 10.0);
      const double liquid = heat_scene_liquid(&s, w);
      if (liquid <= 0.5)
        half_frozen[thin] = time + (s.state.time - time) * (before - 0.5) / (before - liquid);
      before = liquid;
    }
    heat_scene_release(&s);
  }
  assert_close(half_frozen[1], half_frozen[0], 2e-3);
}
END_TEST

/* ------------------------------------------------------------------------------------------- the second opinion */

START_TEST(bdf_agrees_with_the_stabilised_steps)
{
  double liquid[2], heat[2];
  for (int which = 0; which < 2; which++) {
    heat_scene s;
    open_mixed(&s);
    heat_scene_step(&s, which ? INTEGRATOR_BDF : INTEGRATOR_STABILISED, which ? 1e-6 : 1e-3);
    heat_scene_march(&s, 5400.0);
    liquid[which] = heat_scene_liquid(&s, 0);
    heat[which] = network_stored_heat(s.net, s.state.enthalpy) - s.stored_at_start;
    ck_assert_double_le(fabs(heat_scene_residual(&s)), 1e-9);
    heat_scene_release(&s);
  }
  ck_assert_double_lt(liquid[0], 0.8);
  assert_close(liquid[1], liquid[0], 1e-3);
  assert_close(heat[1], heat[0], 1e-3);
}
END_TEST

/* ------------------------------------------------------------------------------------------- the step itself */

START_TEST(steps_land_exactly_and_can_be_undone)
{
  heat_scene s;
  open_mixed(&s);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
  heat_scene_march(&s, 1000.0);
  ck_assert_double_eq(s.state.time, 1000.0);
  const size_t n = network_num_nodes(s.net), paths = network_num_paths(s.net);
  double *before = malloc((n + paths) * sizeof *before), *after = malloc(n * sizeof *after);
  memcpy(before, s.state.enthalpy, n * sizeof *before);
  memcpy(before + n, s.state.path_heat, paths * sizeof *before);
  const double next = s.state.next_step, error = s.state.last_error;
  heat_scene_advance(&s, 7.3);
  ck_assert_double_eq(s.state.time, 1000.0 + 7.3);
  ck_assert_double_eq(heat_step_previous_time(s.step), 1000.0);
  ck_assert_mem_eq(heat_step_previous_enthalpy(s.step), before, n * sizeof *before);
  memcpy(after, s.state.enthalpy, n * sizeof *after);
  heat_step_undo(s.step, &s.state);
  ck_assert_mem_eq(s.state.enthalpy, before, n * sizeof *before);
  ck_assert_mem_eq(s.state.path_heat, before + n, paths * sizeof *before);
  ck_assert_double_eq(s.state.time, 1000.0);
  ck_assert_double_eq(s.state.next_step, next);
  ck_assert_double_eq(s.state.last_error, error);
  heat_scene_advance(&s, 7.3);
  ck_assert_mem_eq(s.state.enthalpy, after, n * sizeof *after);
  /* the mean of the rates at both ends is the slope of the step, to its own error */
  message msg = {""};
  ck_assert_int_eq(network_rate(s.net, s.state.enthalpy, s.rate, s.path_rate, &msg), STATUS_OK);
  double rise = 0.0, slope = 0.0;
  for (size_t i = 0; i < n; i++) {
    rise += network_volume(s.net)[i] * (s.state.enthalpy[i] - before[i]) / 7.3;
    slope += network_volume(s.net)[i] * 0.5 * (heat_step_rate_before(s.step)[i] + s.rate[i]);
  }
  assert_close(rise, slope, 0.02);
  free(before);
  free(after);
  heat_scene_release(&s);
}
END_TEST

/* A bar of ice at rest, the heat of one node off by 1 K, or of two: after a step of many times what the fastest
 * of it takes to decay, RKC2 alone leaves 0.59 at most (stabilised.h), the tail 0.45 of that. */
START_TEST(a_step_forgets_what_decays_fast)
{
  enum { CELLS = 40 };
  heat_scene s;
  open_bar(&s, false, CELLS, 0.05, -20.0, -20.0, NAN);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 1e6); /* any error is good */
  const double kelvin = 2.05e6;
  double rest[CELLS];
  memcpy(rest, s.state.enthalpy, sizeof rest);
  for (int i = 0; i <= _i; i++)
    s.state.enthalpy[CELLS / 2 + i] += kelvin;
  s.state.next_step = ldexp(1.0, 9); /* s, a rung of the steps; the fastest of it decays in 0.36 s */
  heat_scene_advance(&s, 1e9);
  ck_assert_double_eq(s.state.time, 512.0);
  for (int i = 0; i < CELLS; i++)
    ck_assert_double_lt(fabs(s.state.enthalpy[i] - rest[i]) / kelvin, 0.59 * 0.45);
  heat_scene_release(&s);
}
END_TEST

/* A square corner that freezes from two sides. */
static void open_corner(heat_scene *s, double warm)
{
  enum { CELLS = 40 };
  const bool mirror[6] = {false, true, true, true, false, true};
  heat_scene_init(s, GRID_XYZ, (size_t[]){CELLS, 1, CELLS}, (double[]){0.2, 1.0, 0.2}, mirror);
  const material water = heat_scene_water();
  const int part = heat_scene_part(s, MESH_SOLID, &water, warm);
  heat_scene_paint(s, part, 0, 0, CELLS);
  heat_scene_rule(s, SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, -20.0);
  heat_scene_open(s);
}

/* Half a trough of water that moves, cooled from below and from the side, under warm air. */
static void open_trough(heat_scene *s, double warm)
{
  enum { WIDE = 16, HIGH = 20 };
  const bool mirror[6] = {true, false, true, true, false, false};
  heat_scene_init(s, GRID_XYZ, (size_t[]){WIDE, 1, HIGH}, (double[]){0.08, 1.0, 0.1}, mirror);
  const material water = heat_scene_water();
  const int part = heat_scene_part(s, MESH_SOLID, &water, warm);
  heat_scene_paint(s, part, 0, 0, WIDE);
  heat_scene_rule(s, SURFACE_FIXED, part, MESH_VOID, FACES_BOTTOM, 0.0, -10.0);
  heat_scene_rule(s, SURFACE_FILM, part, MESH_VOID, FACES_SIDE, 60.0, -10.0);
  heat_scene_rule(s, SURFACE_FILM, part, MESH_VOID, FACES_TOP, 8.0, 10.0);
  let_move(s, part);
  heat_scene_open(s);
  move_sideways(s, 3.0);
}

/* Water freezes twice, from states that differ by a few roundings; returns by how many times the difference has grown when a
 * tenth is left. share: of the step that the front's own pace allows. */
static double growth_of_rounding(void (*open)(heat_scene *s, double warm), double warm, double share)
{
  const double apart = 1e-4; /* J/m3 */
  heat_scene twin[2];
  for (int i = 0; i < 2; i++) {
    open(&twin[i], warm);
    heat_scene_step(&twin[i], INTEGRATOR_STABILISED, 0.0);
  }
  thermal_state *a = &twin[0].state, *b = &twin[1].state;
  const size_t num = twin[0].m->num_nodes;
  bool parted = false;
  double worst = 0.0;
  while (heat_scene_liquid(&twin[0], 0) > 0.1) {
    if (!parted && heat_scene_liquid(&twin[0], 0) < 0.9) {
      parted = true;
      for (size_t n = 0; n < num; n++)
        b->enthalpy[n] += apart * ((double)(n * 7919 % 1000) / 500.0 - 1.0);
    }
    const double time = a->time;
    heat_scene_advance(&twin[0], 1e9);
    const double step = share * (a->time - time); /* so that neither is bound by the pace of its own front */
    heat_step_undo(twin[0].step, a);
    b->next_step = a->next_step;
    for (int i = 0; i < 2; i++)
      heat_scene_advance(&twin[i], step);
    ck_assert_double_eq(a->time, b->time);
  }
  for (size_t n = 0; n < num; n++)
    worst = fmax(worst, fabs(a->enthalpy[n] - b->enthalpy[n]));
  for (int i = 0; i < 2; i++)
    heat_scene_release(&twin[i]);
  return worst / apart;
}

/* What a step finds from the state at its start and keeps must not make more of a rounding: found from nodes just frozen through, without the tail of the
 * step, it grew to 1e11 times (water at freezing) and 3e7 times (4 K warmer) as much; a liquid node that took any more enthalpy beside it for liquid
 * ahead of the front made 1e9 times. In the trough it grew to 955 times while
 * all that nodes of the front conducted had the factor of moving water. How the steps fall decides, so with steps of several lengths. */
START_TEST(marches_a_rounding_apart_stay_together)
{
  static const double share[] = {0.66, 0.7, 0.74, 0.78, 0.8, 0.82, 0.86, 0.9};
  for (size_t i = 0; i < sizeof share / sizeof *share; i++) {
    const double growth = growth_of_rounding(_i < 2 ? open_corner : open_trough, 4.0 * (_i % 2), share[i]);
    ck_assert_msg(growth < 100.0, "steps of %g: a rounding has grown %g times", share[i], growth);
  }
}
END_TEST

/* Deeper than fifty nodes a step depends on how far was looked ahead: the state holds all that it goes on from, and an undone step leaves nothing. */
START_TEST(a_deep_front_goes_on_from_its_state_alone)
{
  enum { CELLS = 150 };
  heat_scene bar[2];
  for (int i = 0; i < 2; i++) {
    open_bar(&bar[i], false, CELLS, 0.3, 0.0, -20.0, NAN);
    heat_scene_step(&bar[i], INTEGRATOR_STABILISED, 0.0);
  }
  thermal_state *a = &bar[0].state, *b = &bar[1].state;
  while (heat_scene_liquid(&bar[0], 0) > 0.5)
    heat_scene_advance(&bar[0], 1e9);
  ck_assert_int_gt(a->nodes_ahead, 1);
  size_t num;
  const unsigned char *memory = network_front_memory(bar[0].net, &num);
  memcpy(network_front_memory(bar[1].net, &num), memory, num);
  memcpy(b->enthalpy, a->enthalpy, network_num_nodes(bar[0].net) * sizeof *a->enthalpy);
  memcpy(b->path_heat, a->path_heat, network_num_paths(bar[0].net) * sizeof *a->path_heat);
  *b = (thermal_state){a->time, b->enthalpy, b->path_heat, a->next_step, a->last_error, a->nodes_ahead, a->open};
  heat_scene_advance(&bar[1], 1e9);
  heat_step_undo(bar[1].step, b);
  for (int i = 0; i < 10; i++) {
    heat_scene_advance(&bar[0], 1e9);
    heat_scene_advance(&bar[1], 1e9);
    ck_assert_double_eq(a->time, b->time);
  }
  ck_assert_int_eq(memcmp(a->enthalpy, b->enthalpy, CELLS * sizeof *a->enthalpy), 0);
  for (int i = 0; i < 2; i++)
    heat_scene_release(&bar[i]);
}
END_TEST

/* How deep the front of a bar cooled at one end is, or at both, wherever in its node it stands: the nodes frozen, or, nearer to the end, six times those that
 * are left. On the average: after a step of about a node it is spread over three of them, and what is taken for a layer is off by a quarter (RMS). */
START_TEST(the_front_knows_how_deep_it_is)
{
  enum { CELLS = 60, FROM = 10 };
  heat_scene bar[2];
  for (int i = 0; i < 2; i++) {
    const size_t cells = (size_t)(i + 1) * CELLS;
    const bool mirror[6] = {false, i == 0, true, true, true, true};
    heat_scene_init(&bar[i], GRID_XYZ, (size_t[]){cells, 1, 1}, (double[]){0.1 * (i + 1), 1.0, 1.0}, mirror);
    const material water = heat_scene_water();
    const int part = heat_scene_part(&bar[i], MESH_SOLID, &water, 0.0);
    heat_scene_paint(&bar[i], part, 0, 0, cells);
    heat_scene_rule(&bar[i], SURFACE_FIXED, part, MESH_VOID, FACES_ALL, 0.0, -20.0);
    heat_scene_open(&bar[i]);
    heat_scene_step(&bar[i], INTEGRATOR_STABILISED, 0.0);
    heat_scene_rates(&bar[i]);
  }
  double sum = 0.0, square = 0.0, num = 0.0;
  while (heat_scene_liquid(&bar[0], 0) > 0.1) {
    double depth[2];
    for (int i = 0; i < 2; i++) {
      heat_scene_advance(&bar[i], 1e9);
      heat_scene_rates(&bar[i]);
      depth[i] = network_front_moves(bar[i].net, bar[i].state.enthalpy, bar[i].rate).depth;
    }
    ck_assert_msg(fabs(depth[1] - depth[0]) < 1e-6 * depth[0], "half of the bar %.9g deep, the whole %.9g", depth[0], depth[1]);
    const double left = CELLS * heat_scene_liquid(&bar[0], 0), behind = CELLS - left, nearest = behind < 6.0 * left ? behind : 6.0 * left;
    if (behind > FROM) {
      sum += depth[0] / nearest;
      square += pow(depth[0] / nearest - 1.0, 2.0);
      num += 1.0;
    }
  }
  ck_assert_double_gt(num, 50.0);
  ck_assert_double_eq_tol(sum / num, 1.0, 0.1);
  ck_assert_double_lt(sqrt(square / num), 0.35);
  for (int i = 0; i < 2; i++)
    heat_scene_release(&bar[i]);
}
END_TEST

/* As fast as Neumann's is, wherever in a node it stands: seen in steps of a fifth of a node while it runs from the 10th node to the 20th. */
START_TEST(the_front_knows_how_fast_it_is)
{
  enum { CELLS = 60 };
  static const double depth = 0.1, alpha = 2.2 / (1000.0 * 2050.0);
  const double width = depth / CELLS, lambda = neumann_lambda(0.0, -20.0, 1.0);
  double least = INFINITY, most = 0.0;
  size_t seen = 0;
  heat_scene s;
  open_bar(&s, false, CELLS, depth, 0.0, -20.0, NAN);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
  heat_scene_march(&s, pow(10.0 * width / (2.0 * lambda), 2) / alpha);
  while (2.0 * lambda * sqrt(alpha * s.state.time) < 20.0 * width) {
    heat_scene_rates(&s);
    const double pace = network_front_moves(s.net, s.state.enthalpy, s.rate).pace, ratio = pace * width / (lambda * sqrt(alpha / s.state.time));
    least = fmin(least, ratio);
    most = fmax(most, ratio);
    seen++;
    heat_scene_advance(&s, 0.2 / pace);
  }
  ck_assert_uint_ge(seen, 40);
  ck_assert_msg(least > 0.9 && most < 1.1, "%g to %g times as fast as it is", least, most);
  heat_scene_release(&s);
}
END_TEST

/* A step that starts far too long is cut down, and the answer does not care. */
START_TEST(too_long_a_step_is_rejected_and_repeated)
{
  heat_scene s;
  open_bar(&s, false, 40, 0.05, 10.0, -20.0, NAN);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.005);
  s.state.next_step = 4000.0;
  heat_scene_march(&s, 2944.99387);
  size_t steps, rejected, stages;
  heat_step_counts(s.step, &steps, &rejected, &stages);
  ck_assert_uint_gt(rejected, 0);
  ck_assert_uint_gt(steps, 1);
  ck_assert_uint_ge(stages, 3 * steps);
  ck_assert_double_eq_tol(heat_scene_liquid(&s, 0), 0.5, 0.002); /* half frozen at that time, as in complete_freezing */
  heat_scene_release(&s);
}
END_TEST

START_TEST(a_restart_from_the_state_gives_the_same_bits)
{
  heat_scene a, b;
  open_mixed(&a);
  heat_scene_step(&a, INTEGRATOR_STABILISED, 0.0);
  heat_scene_march(&a, 1800.0);
  open_mixed(&b);
  heat_scene_step(&b, INTEGRATOR_STABILISED, 0.0);
  const size_t n = network_num_nodes(a.net);
  memcpy(b.state.enthalpy, a.state.enthalpy, n * sizeof *a.state.enthalpy);
  memcpy(b.state.path_heat, a.state.path_heat, network_num_paths(a.net) * sizeof *a.state.path_heat);
  b.state.time = a.state.time;
  b.state.next_step = a.state.next_step;
  b.state.last_error = a.state.last_error;
  for (int i = 0; i < 5; i++) {
    heat_scene_advance(&a, 1e4);
    heat_scene_advance(&b, 1e4);
  }
  ck_assert_double_eq(a.state.time, b.state.time);
  ck_assert_mem_eq(a.state.enthalpy, b.state.enthalpy, n * sizeof *a.state.enthalpy);
  ck_assert_mem_eq(a.state.path_heat, b.state.path_heat, network_num_paths(a.net) * sizeof *a.state.path_heat);
  heat_scene_release(&a);
  heat_scene_release(&b);
}
END_TEST

START_TEST(steps_have_the_same_bits_for_any_number_of_threads)
{
  double *first = NULL;
  size_t n = 0;
  for (int threads = 1; threads <= 4; threads *= 2) {
    omp_set_num_threads(threads);
    heat_scene s;
    heat_scene_init(&s, GRID_XYZ, (size_t[]){60, 55, 50}, (double[]){0.6, 0.55, 0.5}, NULL);
    const material water = heat_scene_water();
    const int w = heat_scene_part(&s, MESH_SOLID, &water, 1.0);
    heat_scene_paint(&s, w, 0, 0, 40);
    heat_scene_rule(&s, SURFACE_FIXED, w, MESH_VOID, FACES_ALL, 0.0, -20.0);
    heat_scene_open(&s);
    heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
    heat_scene_march(&s, 300.0);
    n = network_num_nodes(s.net);
    if (threads == 1) {
      first = malloc(n * sizeof *first);
      memcpy(first, s.state.enthalpy, n * sizeof *first);
    } else {
      ck_assert_mem_eq(first, s.state.enthalpy, n * sizeof *first);
    }
    heat_scene_release(&s);
  }
  free(first);
}
END_TEST

#ifdef COUNTS_ALLOCATIONS
START_TEST(a_step_allocates_nothing)
{
  heat_scene s;
  open_mixed(&s);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
  heat_scene_advance(&s, 1e4);
  status code = STATUS_OK;
  message msg = {""};
  const size_t before = allocations; /* the assertions allocate, so none stands between */
  for (int i = 0; code == STATUS_OK && i < 10; i++)
    code = heat_step_advance(s.step, &s.state, 1e4, &msg);
  const size_t after = allocations;
  ck_assert_int_eq(code, STATUS_OK);
  ck_assert_uint_gt(before, 0);
  ck_assert_uint_eq(after, before);
  heat_scene_release(&s);
}
END_TEST
#endif

START_TEST(bad_requests_are_refused)
{
  heat_scene s;
  open_mixed(&s);
  message msg = {""};
  heat_step_options options = {.integrator = INTEGRATOR_STABILISED, .latent_scale = 0.0};
  ck_assert_int_eq(heat_step_create(&s.step, s.net, &options, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_null(s.step);
  heat_scene_step(&s, INTEGRATOR_STABILISED, 0.0);
  ck_assert_int_eq(heat_step_advance(s.step, &s.state, 0.0, &msg), STATUS_FAILED);
  ck_assert_double_eq(s.state.time, 0.0);
  s.state.enthalpy[40] = NAN; /* a ruined state ends with a message, not with a loop */
  ck_assert_int_eq(heat_step_advance(s.step, &s.state, 10.0, &msg), STATUS_FAILED);
  ck_assert_ptr_nonnull(strstr(msg.text, "node 40"));
  heat_scene_release(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("heat_step");
  TCase *t = tcase_create("heat_step");
  tcase_set_timeout(t, 300);
  tcase_add_test(t, front_and_heat_follow_neumann);
  tcase_add_loop_test(t, a_front_in_moving_water_follows_neumann, 0, (int)(sizeof moving / sizeof *moving));
  tcase_add_loop_test(t, ice_melts_in_moving_water_as_neumann_says, 0, 2);
  tcase_add_loop_test(t, complete_freezing_takes_the_exact_time, 0, (int)(sizeof inward / sizeof *inward));
  tcase_add_test(t, ledger_closes_and_misses_every_path_that_is_taken_away);
  tcase_add_test(t, ledger_closes_with_an_iterative_wall_solve);
  tcase_add_test(t, thin_wall_keeps_the_heat_of_its_metal);
  tcase_add_test(t, bdf_agrees_with_the_stabilised_steps);
  tcase_add_test(t, steps_land_exactly_and_can_be_undone);
  tcase_add_loop_test(t, a_step_forgets_what_decays_fast, 0, 2);
  tcase_add_loop_test(t, marches_a_rounding_apart_stay_together, 0, 4);
  tcase_add_test(t, a_deep_front_goes_on_from_its_state_alone);
  tcase_add_test(t, the_front_knows_how_deep_it_is);
  tcase_add_test(t, the_front_knows_how_fast_it_is);
  tcase_add_test(t, too_long_a_step_is_rejected_and_repeated);
  tcase_add_test(t, a_restart_from_the_state_gives_the_same_bits);
  tcase_add_test(t, steps_have_the_same_bits_for_any_number_of_threads);
#ifdef COUNTS_ALLOCATIONS
  tcase_add_test(t, a_step_allocates_nothing);
#endif
  tcase_add_test(t, bad_requests_are_refused);
  suite_add_tcase(suite, t);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
