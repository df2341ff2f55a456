#include "clouding_column.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/film.h"

void clouding_column_create(clouding_column *s, size_t num, double depth)
{
  double r[2] = {0.0, 0.1}, *z = malloc((num + 1) * sizeof *z);
  for (size_t k = 0; k <= num; k++)
    z[k] = depth * (double)k / (double)num;
  const size_t count[3] = {1, 1, num};
  const double *const edges[3] = {r, NULL, z};
  const bool mirror[6] = {false};
  message msg = {""};
  *s = (clouding_column){0};
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
  s->limit = calloc(nodes, sizeof(double));
  s->pocket_of = calloc(nodes, sizeof(int32_t));
  s->root = (pocket){.parent = -1, .closed_at = NAN};
  front_gas_constants gas = front_gas_defaults();
  gas.surface_tension = 0.0;
  s->of = (clouding_history_request){.m = s->m, .a = &s->a, .part = 0, .density = CLOUDING_COLUMN_ICE, .freeze_time = s->time, .front_speed = s->speed,
                                     .pocket_of_node = s->pocket_of, .pockets = &s->root, .num_pockets = 1, .pressure = 101325.0,
                                     .surface_level = 0.0};
  s->ask = (clouding_request){.history = &s->history, .gas = gas, .num_slices = 400,
                              .film = {.kind = MOTION_STILL, .factor = 1.0, .diffusivity = 1e-9}};
}

void clouding_column_destroy(clouding_column *s)
{
  clouding_history_release(&s->history);
  free(s->bulk);
  free(s->time);
  free(s->speed);
  free(s->fraction);
  free(s->extinction);
  free(s->mineral);
  free(s->limit);
  free(s->pocket_of);
  adjacency_release(&s->a);
  mesh_destroy(&s->m);
  shape_destroy(&s->all);
  grid_destroy(&s->g);
}

void clouding_column_run(clouding_column *s)
{
  message msg = {""};
  const clouding_maps maps = {s->fraction, s->extinction, s->mineral, s->limit};
  clouding_history_release(&s->history);
  ck_assert_msg(clouding_history_create(&s->history, &s->of, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(clouding_find(&s->found, &maps, &s->ask, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_double_le(clouding_books_error(&s->found.air), 1e-9);
  ck_assert_double_le(clouding_books_error(&s->found.salt), 1e-9);
  ck_assert_double_eq_tol(s->found.clear + s->found.hazy + s->found.white, 1.0, 1e-9);
}

/* Quasi-steady in the ice (Stefan); the column stands at its frozen depth. The water ahead is one temperature and gives its heat to the front
 * through its film; before there is ice, to the cold side. */
static void freeze_by_stefan(clouding_column *s, const clouding_column_front *c)
{
  const double heat = CLOUDING_COLUMN_ICE * 333550.0, k = 2.22, step = 2.0, depth = s->g->edges[2][s->g->num[2]];
  double x = 0.0, t = 0.0, bulk = c->warm;
  const size_t most = 20000;
  s->bulk = malloc(2 * most * sizeof *s->bulk);
  for (size_t n = s->m->num_nodes; n-- > 0;) {
    const double centre = depth - s->m->centroid[n][2];
    double speed = 0.0;
    while (x < centre) {
      const double out = c->cold / (1.0 / c->h + x / k), film = isnan(c->h_water) ? film_water_natural(0.0, bulk, 0.3) : c->h_water;
      const double given = film * bulk;
      speed = fmax(out - given, 0.0) / heat;
      const double lost = speed > 0.0 || x > 0.0 ? given : (c->cold + bulk) / (1.0 / c->h + 1.0 / fmax(film, 1.0));
      if (t >= 60.0 * (double)s->num_bulk && s->num_bulk < most) {
        s->bulk[s->num_bulk] = t;
        s->bulk[most + s->num_bulk++] = bulk;
      }
      bulk = fmax(bulk - step * lost / (4200.0 * CLOUDING_COLUMN_ICE * (depth - x)), 0.0);
      x += step * speed;
      t += step;
    }
    s->time[n] = t - (x - centre) / speed;
    s->speed[n] = speed;
  }
  s->hours = (t + (depth - x) / s->speed[0]) / 3600.0;
  s->ask.bulk_temperature = (schedule){.num = s->num_bulk, .time = s->bulk, .value = s->bulk + most};
}

void clouding_column_freeze(clouding_column *s, double speed)
{
  const double depth = s->g->edges[2][s->g->num[2]];
  for (size_t n = 0; n < s->m->num_nodes; n++) {
    s->time[n] = (depth - s->m->centroid[n][2]) / speed;
    s->speed[n] = speed;
  }
}

/* Frozen share at the top of the first node whose extinction exceeds a level. */
double clouding_column_first_above(const clouding_column *s, double level)
{
  for (size_t n = s->m->num_nodes; n-- > 0;)
    if (s->extinction[n] > level)
      return (double)(s->m->num_nodes - 1 - n) / (double)s->m->num_nodes;
  return 1.0;
}

void clouding_column_set(clouding_column *s, const clouding_column_front *c, size_t num)
{
  clouding_column_create(s, num, c->depth * 999.8 / CLOUDING_COLUMN_ICE);
  freeze_by_stefan(s, c);
  s->ask.air = c->air * CLOUDING_COLUMN_AIR;
  s->ask.minerals = c->minerals;
  s->ask.film.thickness = c->film;
  s->ask.film.minerals = 0.162; /* 1.1 mm at 0 degC, with solutal convection and the 3 mm of still water */
  s->ask.film.height = 0.3;
  s->ask.film.aerated = s->of.open_top = c->aerated;
}
