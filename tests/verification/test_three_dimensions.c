/* Shapes that fit no grid plane, in (x, y, z): a sphere, a cylinder tipped by 30 degrees, and a cube that does fit.
 *
 * Sphere: references computed independently (front-fixing Landau transform, Chebyshev collocation; relative error below 2e-6); they
 * lie between Plank's time and (1 + Ste) times it (Hill & Dewynne 1987). Cube and finite cylinder: computed independently (explicit
 * enthalpy scheme on three to five grids, extrapolated; error below 5e-4). 20 cells per radius throughout, and mirror planes where they serve. */
#include <check.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench_rig.h"
#include "geometry/shape_placed.h"
#include "geometry/shape_triangles.h"

static const double RADIUS = 0.05, COLD = -20.0; /* m, degC */
enum { CELLS = 20 };

typedef struct {
  const char *name;
  double biot, fourier, limit; /* h R/k_s, INFINITY: fixed wall; alpha_s t/R2, complete; percent */
  bool default_steps;
} freeze_case;

static double unit_of(const constant_phases *p)
{
  return RADIUS * RADIUS * p->density * p->solid_specific_heat / p->solid_conductivity;
}

static void cool(bench_rig *b, int water, const constant_phases *p, double biot)
{
  if (isinf(biot))
    bench_rig_rule(b, SURFACE_FIXED, water, MESH_VOID, FACES_ALL, 0.0, COLD);
  else
    bench_rig_rule(b, SURFACE_FILM, water, MESH_VOID, FACES_ALL, biot * p->solid_conductivity / RADIUS, COLD);
}

/* Steps whose own error is some hundredths of a percent: a 3-D check cannot afford bench_rig_exact. */
static bench_march fine_steps(double duration)
{
  return (bench_march){.tolerance = 0.01, .longest_step = duration / 400.0, .limit = 3.0 * duration};
}

typedef struct {
  double complete; /* Fourier number */
  size_t stages;
} outcome;

/* Freezes it and releases the rig. */
static outcome freeze(bench_rig *b, const freeze_case *c, const constant_phases *p)
{
  const double duration = c->fourier * unit_of(p);
  bench_history h;
  bench_rig_run(b, c->default_steps ? bench_rig_default(duration) : fine_steps(duration), &h);
  const outcome found = {.complete = h.complete / unit_of(p), .stages = h.stages};
  bench_rig_judge_ledger(&h);
  bench_rig_forget(&h);
  bench_rig_release(b);
  return found;
}

/* ---- sphere: an octant, its centre on the corner of the grid, its surface off every plane ---- */

/* The shape is taken over. */
static outcome freeze_ball(const freeze_case *c, shape *ball)
{
  const constant_phases p = bench_rig_set_ste(0.2);
  const double h = RADIUS / ((double)CELLS - 0.3);
  const size_t num[3] = {CELLS + 1, CELLS + 1, CELLS + 1};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {h * (double)num[0], h * (double)num[1], h * (double)num[2]};
  const bool mirror[6] = {true, false, true, false, true, false};
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
  const int water = bench_rig_water(&b, bench_rig_keep(&b, ball), &p, 0.0);
  cool(&b, water, &p, c->biot);
  return freeze(&b, c, &p);
}

static outcome freeze_sphere(const freeze_case *c)
{
  const double centre[3] = {0.0, 0.0, 0.0};
  shape *ball = NULL;
  ck_assert_int_eq(shape_sphere(&ball, centre, RADIUS, NULL), STATUS_OK);
  return freeze_ball(c, ball);
}

/* ---- a finite cylinder, as high as it is wide, tipped by 30 degrees: half of it, its middle off every plane but the mirror's ---- */

static outcome freeze_tipped_cylinder(const freeze_case *c)
{
  const constant_phases p = bench_rig_set_ste(0.2);
  const double h = RADIUS / ((double)CELLS - 0.3), pi = acos(-1.0), origin[3] = {0.0, 0.0, 0.0};
  const size_t num[3] = {58, CELLS + 1, 58};
  const double low[3] = {-28.63 * h, 0.0, -28.41 * h};
  const double high[3] = {low[0] + h * (double)num[0], h * (double)num[1], low[2] + h * (double)num[2]};
  const bool mirror[6] = {false, false, true, false, false, false};
  const shape_placed_frame frame = shape_placed_turn(1.0, 0.0, pi / 6.0, 0.0, origin, origin);
  shape *upright = NULL, *tipped = NULL;
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
  ck_assert_int_eq(shape_cylinder(&upright, RADIUS, -RADIUS, RADIUS, NULL), STATUS_OK);
  ck_assert_int_eq(shape_placed(&tipped, upright, &frame, NULL), STATUS_OK);
  const int water = bench_rig_water(&b, bench_rig_keep(&b, tipped), &p, 0.0);
  cool(&b, water, &p, c->biot);
  return freeze(&b, c, &p);
}

/* ---- what fits ---- */

static outcome freeze_cube(const freeze_case *c)
{
  const constant_phases p = bench_rig_set_ste(0.2);
  const size_t num[3] = {CELLS, CELLS, CELLS};
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {RADIUS, RADIUS, RADIUS};
  const bool mirror[6] = {true, false, true, false, true, false};
  bench_rig b;
  bench_rig_init(&b);
  bench_rig_grid(&b, GRID_XYZ, num, low, high, mirror);
  const int water = bench_rig_water(&b, bench_rig_everywhere(&b), &p, 0.0);
  cool(&b, water, &p, c->biot);
  return freeze(&b, c, &p);
}

/* ---- the sphere as triangles, out of a file's bytes ---- */

enum { ROUND = 96, RINGS = 48, TRIANGLES = 2 * ROUND * (RINGS - 1), LINE = 96 };

static void point_of(double radius, int ring, int round, double point[3])
{
  const double pi = acos(-1.0), down = pi * ring / RINGS, turn = 2.0 * pi * (round % ROUND) / ROUND;
  const bool pole = ring == 0 || ring == RINGS;
  point[0] = pole ? 0.0 : radius * sin(down) * cos(turn);
  point[1] = pole ? 0.0 : radius * sin(down) * sin(turn);
  point[2] = radius * cos(down);
}

/* Fills triangle[TRIANGLES][3][3], counter-clockwise seen from outside. */
static void make_triangles(double radius, double (*triangle)[3][3])
{
  size_t num = 0;
  for (int ring = 0; ring < RINGS; ring++)
    for (int k = 0; k < ROUND; k++)
      for (int half = 0; half < 2; half++) {
        const int corner[2][3][2] = {{{ring, k}, {ring + 1, k}, {ring + 1, k + 1}}, {{ring, k}, {ring + 1, k + 1}, {ring, k + 1}}};
        if ((half == 0 && ring == RINGS - 1) || (half == 1 && ring == 0))
          continue; /* at the poles one of the two has no width */
        for (int v = 0; v < 3; v++)
          point_of(radius, corner[half][v][0], corner[half][v][1], triangle[num][v]);
        num++;
      }
  ck_assert_uint_eq(num, TRIANGLES);
}

static double volume_of(double (*triangle)[3][3])
{
  double six = 0.0;
  for (size_t n = 0; n < TRIANGLES; n++) {
    const double *a = triangle[n][0], *b = triangle[n][1], *c = triangle[n][2];
    six += a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) + a[2] * (b[0] * c[1] - b[1] * c[0]);
  }
  return six / 6.0;
}

/* The bytes of a file in mm, free() them. */
static char *stl_of(double (*triangle)[3][3], size_t *num_bytes)
{
  char *bytes = calloc(84 + 50 * (size_t)TRIANGLES, 1);
  const uint32_t count = TRIANGLES;
  ck_assert_ptr_nonnull(bytes);
  memcpy(bytes + 80, &count, sizeof count);
  for (size_t n = 0; n < TRIANGLES; n++)
    for (size_t v = 0; v < 9; v++) {
      const float x = (float)(1e3 * triangle[n][v / 3][v % 3]);
      memcpy(bytes + 84 + 50 * n + 12 + 4 * v, &x, sizeof x);
    }
  *num_bytes = 84 + 50 * (size_t)TRIANGLES;
  return bytes;
}

static char *obj_of(double (*triangle)[3][3], size_t *num_bytes)
{
  const size_t room = 4 * (size_t)TRIANGLES * LINE;
  char *text = calloc(room, 1);
  size_t at = 0;
  ck_assert_ptr_nonnull(text);
  for (size_t n = 0; n < TRIANGLES; n++) {
    for (int v = 0; v < 3; v++)
      at += (size_t)snprintf(text + at, room - at, "v %.9g %.9g %.9g\n", 1e3 * triangle[n][v][0], 1e3 * triangle[n][v][1], 1e3 * triangle[n][v][2]);
    at += (size_t)snprintf(text + at, room - at, "f %zu %zu %zu\n", 3 * n + 1, 3 * n + 2, 3 * n + 3);
  }
  *num_bytes = at;
  return text;
}

static shape *ball_of(const char *name, const char *bytes, size_t num_bytes)
{
  const double origin[3] = {0.0, 0.0, 0.0};
  const shape_placed_frame frame = shape_placed_turn(1.0, 0.0, 0.0, 0.0, origin, origin);
  triangle_file file;
  triangle_surface surface;
  shape *ball = NULL;
  message msg = {""};
  ck_assert_msg(triangle_file_read(&file, name, bytes, num_bytes, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(triangle_surface_create(&surface, &file, name, &msg) == STATUS_OK, "%s", msg.text);
  triangle_surface_place(&surface, 1e-3, &frame);
  ck_assert_msg(shape_triangles(&ball, &surface, name, &msg) == STATUS_OK, "%s", msg.text);
  return ball;
}

/* The faceted ball is blown up until it holds as much water as the round one. */
START_TEST(sphere_out_of_a_triangle_file_is_the_sphere)
{
  static const char *const names[2] = {"ball.stl", "ball.obj"};
  const freeze_case c = {.name = "Ste 0.2 Bi 2", .biot = 2.0, .fourier = 1.909709202, .limit = 0.2, .default_steps = true};
  double (*triangle)[3][3] = calloc(TRIANGLES, sizeof *triangle);
  ck_assert_ptr_nonnull(triangle);
  make_triangles(RADIUS, triangle);
  make_triangles(RADIUS * cbrt(4.0 / 3.0 * acos(-1.0) * pow(RADIUS, 3) / volume_of(triangle)), triangle);
  bench_rig_title("three dimensions: a sphere, as shape and as triangles");
  const double round = freeze_sphere(&c).complete;
  for (int way = 0; way < 2; way++) {
    size_t num_bytes;
    char *bytes = way == 0 ? stl_of(triangle, &num_bytes) : obj_of(triangle, &num_bytes);
    bench_rig_judge(freeze_ball(&c, ball_of(names[way], bytes, num_bytes)).complete, round, c.limit, "%s against the sphere: complete", names[way]);
    free(bytes);
  }
  free(triangle);
  bench_rig_verdict();
}
END_TEST

/* ---- time and cost ---- */

typedef struct {
  const char *name;
  outcome (*freeze)(const freeze_case *c);
  double fourier[2], limit; /* Ste 0.2: Bi 2, fixed wall; percent */
} solid;

static const solid solids[] = {
    {"cube, octant", freeze_cube, {2.411233, 1.304587}, 0.6},
    {"sphere, octant", freeze_sphere, {1.909709202, 0.966295035}, 0.3},
    {"cylinder tipped by 30 degrees", freeze_tipped_cylinder, {2.203388, 1.163718}, 0.3}};

static size_t num_solids(void)
{
  return bench_rig_brief() ? 2 : sizeof solids / sizeof *solids;
}

static freeze_case case_of(const solid *s, int wall, bool default_steps)
{
  return (freeze_case){.name = wall ? "Ste 0.2, fixed wall" : "Ste 0.2 Bi 2", .biot = wall ? INFINITY : 2.0, .fourier = s->fourier[wall],
                       .limit = s->limit, .default_steps = default_steps};
}

START_TEST(shapes_freeze_on_time)
{
  bench_rig_title("three dimensions: shapes that fit and that do not");
  for (size_t i = 0; i < num_solids(); i++)
    for (int wall = 0; wall < (bench_rig_brief() ? 1 : 2); wall++) {
      const freeze_case c = case_of(&solids[i], wall, false);
      bench_rig_judge(solids[i].freeze(&c).complete, c.fourier, c.limit, "%s, %s, %d cells: complete", solids[i].name, c.name, (int)CELLS);
    }
  bench_rig_verdict();
}
END_TEST

START_TEST(cut_shapes_cost_at_most_twice_the_stages)
{
  bench_rig_title("three dimensions: stages at default steps");
  for (int wall = 0; wall < (bench_rig_brief() ? 1 : 2); wall++) {
    const freeze_case fits = case_of(&solids[0], wall, true);
    const size_t fitting = solids[0].freeze(&fits).stages;
    for (size_t i = 1; i < num_solids(); i++) {
      const freeze_case c = case_of(&solids[i], wall, true);
      const size_t stages = solids[i].freeze(&c).stages;
      bench_rig_judge_that(stages <= 2 * fitting, "%s, %s: %zu stages, the cube %zu", solids[i].name, c.name, stages, fitting);
    }
  }
  bench_rig_verdict();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("three dimensions");
  TCase *tcase = tcase_create("three dimensions");
  tcase_add_test(tcase, shapes_freeze_on_time);
  tcase_add_test(tcase, cut_shapes_cost_at_most_twice_the_stages);
  tcase_add_test(tcase, sphere_out_of_a_triangle_file_is_the_sphere);
  tcase_set_timeout(tcase, 600);
  suite_add_tcase(suite, tcase);
  return bench_rig_run_suite(suite);
}
