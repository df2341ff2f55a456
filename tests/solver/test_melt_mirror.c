/* A piece that melts behind mirror planes: half and quarter against the whole, cell by cell. The whole is a grid that is symmetric about the planes. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/melt.h"

enum { HALVES = 3 }; /* the whole; halved by one plane; by two */

typedef struct {
  grid *g;
  material ice;
  double *volume, *temperature;
  melt *x;
} piece;

static const double CELL = 0.01; /* m */

/* A pot: tapered round, off the cells. */
static double pot(const double p[3]) { return fmax(hypot(p[0], p[1]) - (0.065 + 0.02 / 0.11 * p[2]), fmax(-p[2], p[2] - 0.0934)); }
/* A box along the grid, longer than wide. */
static double box(const double p[3]) { return fmax(fmax(fabs(p[0]) - 0.0712, fabs(p[1]) - 0.05), fmax(-p[2], p[2] - 0.0875)); }
/* A dumb-bell: it parts, and its halves shrink away from the plane x = 0. */
static double bell(const double p[3])
{
  const double ball = hypot(hypot(fabs(p[0]) - 0.04, p[1]), p[2] - 0.048) - 0.0371, neck = fmax(fabs(p[0]) - 0.04, fmax(fabs(p[1]), fabs(p[2] - 0.05)) - 0.0143);
  return fmin(ball, neck);
}

static const struct {
  const char *name;
  double (*distance)(const double point[3]);
  double temperature; /* degC */
  bool pool, covered;
} pieces[] = {
    {"pot in air", pot, 0.0, false, false},
    {"cold pot in air", pot, -18.0, false, false},
    {"cold pot on a floor", pot, -18.0, false, true},
    {"pot afloat", pot, -6.0, true, false},
    {"box in air", box, -18.0, false, false},
    {"box afloat", box, -6.0, true, false},
    {"dumb-bell in air", bell, -18.0, false, false},
    {"dumb-bell afloat", bell, -6.0, true, false},
};

static const size_t whole_cells[3] = {20, 20, 12};

static void make(piece *p, int which, int halved)
{
  const bool mirror[6] = {halved > 1, false, halved > 0, false, false, false};
  size_t num[3];
  double *edges[3];
  for (int axis = 0; axis < 3; axis++) {
    num[axis] = mirror[2 * axis] ? whole_cells[axis] / 2 : whole_cells[axis];
    edges[axis] = malloc((num[axis] + 1) * sizeof *edges[axis]);
    const double start = axis == 2 ? -1.0 : mirror[2 * axis] ? 0.0 : -0.5 * (double)num[axis];
    for (size_t i = 0; i <= num[axis]; i++)
      edges[axis][i] = CELL * (start + (double)i);
  }
  const double *const given[3] = {edges[0], edges[1], edges[2]};
  ck_assert_int_eq(grid_create(&p->g, GRID_XYZ, num, given, mirror, NULL), STATUS_OK);
  const constant_phases plain = {.density = 917.0, .solid_conductivity = 2.2, .solid_specific_heat = 2050.0, .liquid_conductivity = 0.58,
                                 .liquid_specific_heat = 4200.0, .latent_heat = 334000.0, .freezing_temperature = 0.0};
  ck_assert_int_eq(material_constant_phases(&p->ice, "plain", &plain, NULL), STATUS_OK);
  const size_t n = grid_num_cells(p->g);
  p->volume = calloc(n, sizeof *p->volume);
  p->temperature = calloc(n, sizeof *p->temperature);
  enum { POINTS = 8 };
  for (size_t cell = 0; cell < n; cell++) {
    size_t at[3];
    grid_cell_indices(p->g, cell, at);
    int inside = 0;
    for (int a = 0; a < POINTS * POINTS * POINTS; a++) {
      const int step[3] = {a % POINTS, a / POINTS % POINTS, a / POINTS / POINTS};
      double point[3];
      for (int axis = 0; axis < 3; axis++)
        point[axis] = edges[axis][at[axis]] + CELL * (step[axis] + 0.5) / POINTS;
      inside += pieces[which].distance(point) < 0.0;
    }
    p->volume[cell] = CELL * CELL * CELL * inside / (POINTS * POINTS * POINTS);
    p->temperature[cell] = pieces[which].temperature;
  }
  for (int axis = 0; axis < 3; axis++)
    free(edges[axis]);
  const melt_air air = {.temperature = 20.0, .relative_humidity = 0.5, .pressure = 101325.0, .wind = 1.0, .emissivity = 0.97, .film = NAN, .moisture = true};
  const melt_pool pool = {.present = pieces[which].pool, .mass = 30.0, .temperature = 15.0, .film = NAN, .floating = true};
  const melt_piece made = {.grid = p->g, .ice = &p->ice, .volume = p->volume, .temperature = p->temperature, .underside_covered = pieces[which].covered,
                           .images = halved == 0 ? 1.0 : halved == 1 ? 2.0 : 4.0};
  message msg = {""};
  ck_assert_msg(melt_create(&p->x, &made, &air, &pool, &msg) == STATUS_OK, "%s", msg.text);
}

static void release(piece *p)
{
  melt_destroy(&p->x);
  grid_destroy(&p->g);
  material_release(&p->ice);
  free(p->volume);
  free(p->temperature);
}

static const double ALIKE = 1e-9; /* relative; sums of a whole and of a half are rounded differently */

static void assert_alike(const char *name, const char *what, double whole, double part, double scale)
{
  ck_assert_msg(fabs(part - whole) <= ALIKE * scale, "%s: %s: %.15g of the whole, %.15g", name, what, whole, part);
}

START_TEST(half_and_quarter_melt_as_the_whole)
{
  piece p[HALVES] = {{0}};
  for (int h = 0; h < HALVES; h++)
    make(&p[h], _i, h);
  melt_report whole = melt_now(p[0].x);
  for (int step = 0; !whole.gone; step++) {
    ck_assert_int_lt(step, 5000);
    for (int h = 0; h < HALVES; h++)
      ck_assert_int_eq(melt_advance(p[h].x, 60.0, NULL), STATUS_OK);
    whole = melt_now(p[0].x);
    for (int h = 1; h < HALVES; h++) {
      const melt_report part = melt_now(p[h].x);
      assert_alike(pieces[_i].name, "time", whole.time, part.time, whole.time);
      assert_alike(pieces[_i].name, "mass", whole.mass, part.mass, whole.first_mass);
      assert_alike(pieces[_i].name, "heat", whole.heat_stored, part.heat_stored, whole.first_mass * 334000.0);
    }
  }
  for (int h = 1; h < HALVES; h++) {
    const melt_report part = melt_now(p[h].x);
    for (int i = 0; i < MELT_MARKS; i++)
      assert_alike(pieces[_i].name, "mark", whole.mark[i], part.mark[i], whole.mark[i]);
    assert_alike(pieces[_i].name, "end", whole.gone_at, part.gone_at, whole.gone_at);
  }
  for (int h = 0; h < HALVES; h++)
    release(&p[h]);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("melt_mirror");
  TCase *c = tcase_create("melt_mirror");
  tcase_set_timeout(c, 300);
  const bool brief = getenv("LASTWATER_BRIEF") != NULL; /* under sanitizers: one of them, cold and afloat */
  tcase_add_loop_test(c, half_and_quarter_melt_as_the_whole, brief ? 3 : 0, brief ? 4 : sizeof pieces / sizeof *pieces);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
