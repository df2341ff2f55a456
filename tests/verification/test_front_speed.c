/* Speed of the front where two walls meet and where two fronts do: within 5 % from two cells off the ridge on.
 *
 * Corner of two cold walls, water at its freezing point: the front is  y / s = Y(x / s),  s = sqrt(4 alpha t),  so that a point p of it
 * moves with p / (2 t) and the front with  p . n / (2 t).  Y computed independently (mapped spectral collocation, error 1e-6; Rathjen & Jiji 1971,
 * J. Heat Transfer 93:101, published a fit that supports it to 0.4 %). Slab between unlike walls: each front is Neumann's,  s = 2 lambda sqrt(alpha t),  until it
 * meets the other, since water at its freezing point takes no note of either (Carslaw & Jaeger 1959, sec. 11.2).
 * Corner of three cold walls: no curve is needed, since nothing sets a length but  sqrt(alpha t):  the time at which the front passes a point grows with
 * the square of the distance along a ray from the corner, and its speed falls as one over it. Round bodies at Stefan number 0.01: the steady profile of
 * each moment (London & Seban 1943, Trans. ASME 65:771, from memory), a third of the Stefan number off. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "bench_rig.h"
#include "geometry/shape_placed.h"
#include "solver/run.h"

static const double WIDTH = 0.1, COLD = -20.0; /* m, degC */
enum { POINTS = 6, NEAR = 7, CORNER_CELLS = 64, CORNER_BRIEF = 40, SLAB_CELLS = 40 };

/* ---- the corner's curve ---- */

typedef struct { double stefan, lambda, x[POINTS], y[POINTS], off[POINTS], bend[POINTS]; } corner;

/* Rathjen and Jiji's form, y^m = lambda^m + C / (x^m - lambda^m), through the diagonal; with this m it is within 0.1 % of the table. */
static double form(const corner *c, double x, double *slope)
{
  const double m = 6.5, l = pow(c->lambda, m), root = pow(c->x[0], m) - l, gap = pow(x, m) - l, y = pow(l + root * root / gap, 1.0 / m);
  *slope = -root * root / (gap * gap) * pow(x / y, m - 1.0);
  return y;
}

/* A cubic spline through what the form is off, flat at both ends; second derivatives after Press et al. 1992, Numerical Recipes, sec. 3.3. */
static void fit(corner *c)
{
  double work[POINTS], slope;
  const double *x = c->x, *y = c->off;
  const size_t n = POINTS;
  for (size_t i = 0; i < n; i++)
    c->off[i] = c->y[i] - form(c, x[i], &slope);
  c->bend[0] = -0.5;
  work[0] = 3.0 / (x[1] - x[0]) * (y[1] - y[0]) / (x[1] - x[0]);
  for (size_t i = 1; i + 1 < n; i++) {
    const double share = (x[i] - x[i - 1]) / (x[i + 1] - x[i - 1]), p = share * c->bend[i - 1] + 2.0;
    const double rise = (y[i + 1] - y[i]) / (x[i + 1] - x[i]) - (y[i] - y[i - 1]) / (x[i] - x[i - 1]);
    c->bend[i] = (share - 1.0) / p;
    work[i] = (6.0 * rise / (x[i + 1] - x[i - 1]) - share * work[i - 1]) / p;
  }
  const double last = -3.0 / (x[n - 1] - x[n - 2]) * (y[n - 1] - y[n - 2]) / (x[n - 1] - x[n - 2]);
  c->bend[n - 1] = (last - 0.5 * work[n - 2]) / (0.5 * c->bend[n - 2] + 1.0);
  for (size_t i = n - 1; i-- > 0;)
    c->bend[i] = c->bend[i] * c->bend[i + 1] + work[i];
}

static double curve(const corner *c, double x, double *slope)
{
  const double plain = form(c, x, slope);
  if (x >= c->x[POINTS - 1])
    return plain;
  size_t i = 0;
  while (i + 2 < POINTS && c->x[i + 1] < x)
    i++;
  const double h = c->x[i + 1] - c->x[i], a = (c->x[i + 1] - x) / h, b = 1.0 - a;
  *slope += (c->off[i + 1] - c->off[i]) / h - (3.0 * a * a - 1.0) / 6.0 * h * c->bend[i] + (3.0 * b * b - 1.0) / 6.0 * h * c->bend[i + 1];
  return plain + a * c->off[i] + b * c->off[i + 1] + ((a * a * a - a) * c->bend[i] + (b * b * b - b) * c->bend[i + 1]) * h * h / 6.0;
}

/* Time and speed of the front at a point, across >= deep; alpha of the ice. */
static double corner_speed(const corner *c, double across, double deep, double alpha, double *time)
{
  double low = across / 50.0, high = across / c->x[0], slope; /* s: at `high` the front is at the diagonal */
  for (int i = 0; i < 80; i++) {
    const double s = 0.5 * (low + high);
    if (deep / s > curve(c, across / s, &slope))
      low = s; /* the front has not come yet */
    else
      high = s;
  }
  (void)curve(c, across / high, &slope);
  *time = high * high / (4.0 * alpha);
  return (deep - across * slope) / sqrt(1.0 + slope * slope) / (2.0 * *time);
}

/* Y(x / s) of the corner, at the diagonal first. */
static const corner corners[] = {{.stefan = 0.5, .lambda = 0.464785920646, .x = {0.535407, 0.6, 0.8, 1.0, 1.2, 1.5}, .y = {0.535407, 0.496899, 0.469641, 0.465666, 0.464947, 0.464798}},
                                 {.stefan = 1.0, .lambda = 0.620062633314, .x = {0.703721, 0.8, 1.0, 1.2, 1.5, 2.0}, .y = {0.703721, 0.651871, 0.626540, 0.621563, 0.620230, 0.620066}}};

START_TEST(round_a_corner_the_front_has_its_speed)
{
  corner cases[2] = {corners[0], corners[1]};
  const size_t cells = bench_rig_brief() ? CORNER_BRIEF : CORNER_CELLS, num[3] = {cells, cells, 1};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {WIDTH, WIDTH, 1.0}, h = WIDTH / (double)cells;
  const bool mirror[6] = {false, true, false, true, true, true};
  bench_rig_title("speed of the front: corner of two walls at -20 degC");
  for (int k = 0; k < 2; k++) {
    const constant_phases p = bench_rig_set_ste(cases[k].stefan);
    const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat), until = 0.25 * WIDTH * WIDTH / (4.0 * alpha);
    bench_rig b;
    bench_history history;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
    const int water = bench_rig_water(&b, bench_rig_everywhere(&b), &p, 0.0);
    bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, COLD);
    fit(&cases[k]);
    /* The mirror planes stand at x / s = 2 or farther: too far to be felt. */
    run *x = bench_rig_run_kept(&b, (bench_march){.tolerance = 0.01, .longest_step = until / 400.0, .limit = until}, &history);
    const results *found = run_results(x);
    const mesh *m = run_mesh(x);
    double worst[4] = {0.0, 0.0, 0.0, 0.0}; /* percent: near the corner line, on the ridge there, on the ridge, elsewhere */
    for (size_t n = 0; n < m->num_nodes; n++) {
      const double *at = m->centroid[n], across = fmax(at[0], at[1]), deep = fmin(at[0], at[1]);
      double time;
      const double want = corner_speed(&cases[k], across, deep, alpha, &time);
      if (time > 0.75 * until || deep < 2.0 * h || across > 0.9 * WIDTH)
        continue; /* the next cell must have frozen too */
      const double error = 100.0 * (found->front_speed[n] / want - 1.0);
      const bool ridge = across - deep < 1.5 * h; /* centroids lie whole cells apart */
      double *counted = &worst[across < NEAR * h ? (ridge ? 1 : 0) : ridge ? 2 : 3];
      if (!(fabs(error) <= fabs(*counted))) /* also when it is not a number */
        *counted = error;
    }
    static const char *const where[4] = {"two to seven cells off the corner line and two off the diagonal", "two to seven cells off the corner line, on the diagonal and next to it",
                                         "on the diagonal and next to it", "two cells off the diagonal"};
    for (int i = 0; i < 4; i++)
      bench_rig_judge(1.0 + 0.01 * worst[i], 1.0, 5.0, "Ste %g, %s: worst speed", cases[k].stefan, where[i]);
    run_destroy(&x);
    bench_rig_forget(&history);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* ---- the same corner, turned against the grid ---- */

static const double turns[] = {15.0, 30.0, 45.0}; /* degrees, of the corner's diagonal from the x axis */
enum { TURNED_CELLS = 48 };

/* Water between two cold walls, their corner in the middle of the grid, its diagonal `turn` upwards from the x axis. The grid ends in planes that no heat passes, too far
 * off to be felt. On the ridge itself, where the front turns within half a cell, nothing is asked (DEVELOPERS.md tells how far off it is). */
START_TEST(round_a_corner_that_is_turned_the_front_has_its_speed)
{
  const size_t cells = TURNED_CELLS, num[3] = {cells, 2 * cells, 1};
  const double h = WIDTH / (double)cells, low[3] = {-0.5 * WIDTH, -WIDTH, 0.0}, high[3] = {0.5 * WIDTH, WIDTH, 1.0}, origin[3] = {0.37 * h, 0.21 * h, 0.0};
  const bool mirror[6] = {true, true, true, true, true, true};
  bench_rig_title("speed of the front: corner of two walls turned against the grid");
  for (size_t t = 0; t < 2 * sizeof turns / sizeof *turns; t++) {
    corner c = corners[t % 2];
    const double turn = turns[t / 2], angle = acos(-1.0) * (turn - 45.0) / 180.0, from[3] = {0.0, 0.0, -1.0}, to[3] = {3.0 * WIDTH, 3.0 * WIDTH, 2.0}, zero[3] = {0.0, 0.0, 0.0};
    const constant_phases p = bench_rig_set_ste(c.stefan);
    const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat), until = 0.06 * WIDTH * WIDTH / (4.0 * alpha);
    const shape_placed_frame frame = shape_placed_turn(1.0, angle, 0.0, 0.0, zero, origin);
    bench_rig b;
    bench_history history;
    shape *square = NULL, *turned = NULL;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
    ck_assert_int_eq(shape_box(&square, from, to, NULL), STATUS_OK);
    ck_assert_int_eq(shape_placed(&turned, square, &frame, NULL), STATUS_OK);
    const int water = bench_rig_water(&b, bench_rig_keep(&b, turned), &p, 0.0);
    bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, COLD);
    fit(&c);
    run *x = bench_rig_run_kept(&b, (bench_march){.tolerance = 0.01, .longest_step = until / 400.0, .limit = until}, &history);
    const results *found = run_results(x);
    const mesh *m = run_mesh(x);
    double worst = 0.0;
    size_t counted = 0;
    for (size_t n = 0; n < m->num_nodes; n++) {
      const double *at = m->centroid[n], dx = at[0] - origin[0], dy = at[1] - origin[1];
      const double along = dx * cos(angle) + dy * sin(angle), up = dy * cos(angle) - dx * sin(angle), across = fmax(along, up), deep = fmin(along, up);
      double time;
      if (!(m->volume[n] > 0.0) || m->part[n] != water || deep < 2.0 * h || across - deep < 2.0 * sqrt(2.0) * h || across > 0.3 * WIDTH)
        continue;
      const double want = corner_speed(&c, across, deep, alpha, &time);
      if (time > 0.6 * until)
        continue; /* cells a diagonal further must have frozen too */
      const double error = 100.0 * (found->front_speed[n] / want - 1.0);
      if (!(fabs(error) <= fabs(worst)))
        worst = error;
      counted++;
    }
    bench_rig_judge_that(counted >= 10, "Ste %g, diagonal at %g degrees: %zu nodes compared", c.stefan, turn, counted);
    bench_rig_judge(1.0 + 0.01 * worst, 1.0, 5.0, "Ste %g, diagonal at %g degrees, two cells off the ridge and the walls: worst speed", c.stefan, turn);
    run_destroy(&x);
    bench_rig_forget(&history);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* sqrt(pi) lambda exp(lambda^2) erf(lambda) = Ste, by halving. */
static double lambda_of(double stefan)
{
  double low = 0.0, high = 3.0;
  for (int i = 0; i < 80; i++) {
    const double l = 0.5 * (low + high);
    if (sqrt(acos(-1.0)) * l * exp(l * l) * erf(l) < stefan)
      low = l;
    else
      high = l;
  }
  return low;
}

/* ---- a corner of three walls ---- */

enum { CUBE_CELLS = 40, CUBE_BRIEF = 28 };

START_TEST(off_a_corner_of_three_walls_the_speed_falls_with_the_distance)
{
  static const double stefan[] = {1.0, 0.1};
  const size_t cells = bench_rig_brief() ? CUBE_BRIEF : CUBE_CELLS, num[3] = {cells, cells, cells};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {WIDTH, WIDTH, WIDTH};
  const bool mirror[6] = {false, true, false, true, false, true};
  bench_rig_title("speed of the front: corner of three walls at -20 degC");
  for (int k = 0; k < 2; k++) {
    const constant_phases p = bench_rig_set_ste(stefan[k]);
    const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat), until = pow(0.33 * WIDTH / (2.0 * lambda_of(stefan[k])), 2) / alpha;
    bench_rig b;
    bench_history history;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
    const int water = bench_rig_water(&b, bench_rig_everywhere(&b), &p, 0.0);
    bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, COLD);
    run *x = bench_rig_run_kept(&b, (bench_march){.tolerance = 0.01, .longest_step = until / 400.0, .limit = until}, &history);
    const results *found = run_results(x);
    double worst = 0.0;
    size_t counted = 0;
    for (size_t i = 6; 3 * i + 3 < cells; i++)
      for (size_t j = 4; j + 2 <= i; j++)
        for (size_t l = 2; l + 2 <= j; l++) {
          const size_t near = i + cells * (j + cells * l), far = 3 * i + 1 + cells * (3 * j + 1 + cells * (3 * l + 1)); /* middles at thrice the distance */
          if (!(found->freeze_time[far] < 0.75 * until))
            continue;
          const double error = 100.0 * (found->front_speed[near] / (3.0 * found->front_speed[far]) - 1.0);
          if (!(fabs(error) <= fabs(worst)))
            worst = error;
          counted++;
        }
    bench_rig_judge_that(counted >= 5, "Ste %g: %zu rays compared", stefan[k], counted);
    bench_rig_judge(1.0 + 0.01 * worst, 1.0, 5.0, "Ste %g, two cells off walls and ridges: worst speed, of what it is three times as far out", stefan[k]);
    run_destroy(&x);
    bench_rig_forget(&history);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* ---- a slab between unlike walls ---- */

START_TEST(where_fronts_meet_each_has_its_speed)
{
  static const double warmer[] = {-20.0, -8.0, -3.0};
  const double h = WIDTH / SLAB_CELLS, low[3] = {0.0, 0.0, 0.0}, high[3] = {WIDTH, 1.0, 1.0};
  const size_t num[3] = {SLAB_CELLS, 1, 1};
  const bool mirror[6] = {false, false, true, true, true, true};
  bench_rig_title("speed of the front: slab between walls at -20 degC and warmer");
  for (int k = 0; k < 3; k++) {
    const constant_phases p = bench_rig_set_ste(0.2);
    const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat), near = lambda_of(0.2), far = lambda_of(0.2 * warmer[k] / COLD);
    const double meet = WIDTH * near / (near + far), duration = meet * meet / (4.0 * near * near * alpha);
    bench_rig b;
    bench_history history;
    bench_rig_init(&b);
    bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
    const int water = bench_rig_water(&b, bench_rig_everywhere(&b), &p, 0.0);
    (void)bench_rig_held(&b, bench_rig_box(&b, WIDTH - h, 2.0 * WIDTH, -1.0, 2.0, -1.0, 2.0), warmer[k], 1e9);
    bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, COLD);
    run *x = bench_rig_run_kept(&b, bench_rig_exact(duration), &history);
    const results *found = run_results(x);
    const mesh *m = run_mesh(x);
    double worst = 0.0, beside = 0.0;
    const double wide = WIDTH - h, ridge = wide * near / (near + far);
    for (size_t n = 0; n < m->num_nodes; n++) {
      const double at = m->centroid[n][0], depth = at < ridge ? at : wide - at, lambda = at < ridge ? near : far;
      if (!(m->volume[n] > 0.0) || m->part[n] != water || fabs(at - ridge) < 2.0 * h)
        continue;
      const double error = 100.0 * (found->front_speed[n] * depth / (2.0 * lambda * lambda * alpha) - 1.0);
      double *counted = depth < 2.0 * h ? &beside : &worst;
      if (!(fabs(error) <= fabs(*counted)))
        *counted = error;
    }
    bench_rig_judge(1.0 + 0.01 * beside, 1.0, 5.0, "other wall at %g degC, the two nodes beside either wall: worst speed", warmer[k]);
    bench_rig_judge(1.0 + 0.01 * worst, 1.0, 5.0, "other wall at %g degC, two cells off where they meet: worst speed", warmer[k]);
    run_destroy(&x);
    bench_rig_forget(&history);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

/* ---- round bodies that fit no grid line ---- */

enum { RADIUS_CELLS = 10, ROD_CELLS = 6 };
static const double SLOW = 0.01; /* Stefan number */

/* Speeds times radius / (alpha Ste), x = r / radius. */
static double into_cylinder(double x) { return -1.0 / (x * log(x)); }
static double into_sphere(double x) { return 1.0 / (x * (1.0 - x)); }
static double from_rod(double x) { return 1.0 / (x * log(x)); }

START_TEST(in_round_bodies_the_front_has_its_speed)
{
  static const struct { const char *name; grid_kind grid; bool ball, outwards; double (*speed)(double); } cases[] = {
    {"cylinder in (x, y), inwards", GRID_XYZ, false, false, into_cylinder}, {"sphere in (r, z), inwards", GRID_RZ, true, false, into_sphere},
    {"sphere in (x, y, z), inwards", GRID_XYZ, true, false, into_sphere}, {"from a rod in (x, y), outwards", GRID_XYZ, false, true, from_rod}};
  bench_rig_title("speed of the front: round bodies, Stefan number 0.01");
  for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
    const constant_phases p = bench_rig_set_ste(SLOW);
    const double alpha = p.solid_conductivity / (p.density * p.solid_specific_heat), h = WIDTH / (RADIUS_CELLS - 0.37), centre[3] = {0.0, 0.0, 0.0};
    const double radius = cases[k].outwards ? ROD_CELLS * h : WIDTH, end = (cases[k].outwards ? 3.0 : 1.0) * RADIUS_CELLS * h + h, unit = WIDTH * WIDTH / (4.0 * alpha * SLOW);
    const bool round_axis = cases[k].grid == GRID_RZ, flat = !round_axis && !cases[k].ball, mirror[6] = {!round_axis, false, !round_axis, false, true, flat};
    const size_t many = (cases[k].outwards ? 3 : 1) * RADIUS_CELLS + 1, num[3] = {many, round_axis ? 1 : many, flat ? 1 : many};
    const double low[3] = {0.0, 0.0, 0.0}, high[3] = {end, round_axis ? 1.0 : end, flat ? 1.0 : end};
    shape *body = NULL;
    bench_rig b;
    bench_history history;
    bench_rig_init(&b);
    bench_rig_grid(&b, cases[k].grid, num, low, high, mirror);
    if (cases[k].ball)
      ck_assert_int_eq(shape_sphere(&body, centre, radius, NULL), STATUS_OK);
    else
      ck_assert_int_eq(shape_cylinder(&body, radius, -1.0, 2.0, NULL), STATUS_OK);
    const int water = bench_rig_water(&b, cases[k].outwards ? bench_rig_everywhere(&b) : body, &p, 0.0);
    (void)bench_rig_keep(&b, body);
    if (cases[k].outwards)
      (void)bench_rig_held(&b, body, COLD, 1e9);
    else
      bench_rig_rule(&b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, COLD);
    run *x = bench_rig_run_kept(&b, (bench_march){.tolerance = 0.005, .longest_step = unit / 500.0, .limit = 3.0 * unit}, &history);
    const results *found = run_results(x);
    const mesh *m = run_mesh(x);
    double worst = 0.0;
    size_t counted = 0;
    for (size_t n = 0; n < m->num_nodes; n++) {
      const double *at = m->centroid[n], r = sqrt(at[0] * at[0] + (round_axis ? 0.0 : at[1] * at[1]) + (flat ? 0.0 : at[2] * at[2]));
      if (!(m->volume[n] > 0.0) || m->part[n] != water || r < 2.0 * h || fabs(r - radius) < 2.0 * h || !(found->freeze_time[n] < 2.0 * unit))
        continue;
      const double error = 100.0 * (found->front_speed[n] * radius / (alpha * SLOW * cases[k].speed(r / radius)) - 1.0);
      if (!(fabs(error) <= fabs(worst)))
        worst = error;
      counted++;
    }
    bench_rig_judge_that(counted >= 20, "%s: %zu nodes compared", cases[k].name, counted);
    bench_rig_judge(1.0 + 0.01 * worst, 1.0, 5.0, "%s, two cells off surface and centre: worst speed", cases[k].name);
    run_destroy(&x);
    bench_rig_forget(&history);
    bench_rig_release(&b);
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("front speed");
  TCase *tcase = tcase_create("front speed");
  tcase_add_test(tcase, round_a_corner_the_front_has_its_speed);
  if (!bench_rig_brief()) /* under sanitizers: the same code as the corner above, and coarser it has too few nodes to compare */
    tcase_add_test(tcase, round_a_corner_that_is_turned_the_front_has_its_speed);
  tcase_add_test(tcase, off_a_corner_of_three_walls_the_speed_falls_with_the_distance);
  tcase_add_test(tcase, in_round_bodies_the_front_has_its_speed);
  tcase_add_test(tcase, where_fronts_meet_each_has_its_speed);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
