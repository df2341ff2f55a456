#include "clouding_column.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>

void clouding_column_create(clouding_column *s, size_t num, double depth, bool upright)
{
  double across[2] = {0.0, 0.1}, *along = malloc((num + 1) * sizeof *along);
  for (size_t k = 0; k <= num; k++)
    along[k] = depth * (double)k / (double)num;
  const size_t count[3] = {upright ? num : 1, 1, upright ? 1 : num};
  const double *const edges[3] = {upright ? along : across, upright ? across : NULL, upright ? across : along};
  const bool mirror[6] = {false};
  message msg = {""};
  *s = (clouding_column){0};
  ck_assert_msg(grid_create(&s->g, upright ? GRID_XYZ : GRID_RZ, count, edges, mirror, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(shape_cylinder(&s->all, 10.0, -1.0, 10.0, &msg) == STATUS_OK, "%s", msg.text);
  const mesh_layer layer = {.kind = MESH_SOLID, .region = s->all};
  ck_assert_msg(mesh_create(&s->m, s->g, &layer, 1, 0, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(adjacency_create(&s->a, s->m, &msg) == STATUS_OK, "%s", msg.text);
  free(along);
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
  s->of = (clouding_history_request){.m = s->m,
                                     .a = &s->a,
                                     .part = 0,
                                     .density = CLOUDING_COLUMN_ICE,
                                     .freeze_time = s->time,
                                     .front_speed = s->speed,
                                     .pocket_of_node = s->pocket_of,
                                     .pockets = &s->root,
                                     .num_pockets = 1,
                                     .pressure = 101325.0,
                                     .surface_level = 0.0};
  s->ask = (clouding_request){
      .history = &s->history, .gas = gas, .num_slices = 400, .film = {.kind = MOTION_STILL, .factor = 1.0, .diffusivity = 1e-9}};
}

void clouding_column_destroy(clouding_column *s)
{
  clouding_history_release(&s->history);
  clouding_plane_release(&s->marched);
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

void clouding_column_freeze(clouding_column *s, double speed)
{
  const double depth = s->g->edges[2][s->g->num[2]]; /* along z */
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

void clouding_column_set(clouding_column *s, const clouding_plane *c, const clouding_plane_found *found, size_t num, bool upright)
{
  clouding_column_create(s, num, c->depth * 999.8 / CLOUDING_COLUMN_ICE, upright);
  for (size_t n = 0; n < num; n++) {
    s->time[n] = found->time[num - 1 - n];
    s->speed[n] = found->speed[num - 1 - n];
  }
  s->ask.bulk_temperature = (schedule){.num = found->num_bulk, .time = found->bulk_time, .value = found->bulk};
  s->ask.air = c->air * CLOUDING_COLUMN_AIR;
  s->ask.minerals = c->minerals;
  s->ask.film.thickness = c->film;
  s->ask.film.minerals = CLOUDING_COLUMN_FILM;
  s->ask.film.height = 0.3;
  s->ask.film.aerated = s->of.open_top = c->breathing > 0.0;
  s->renewed = (clouding_exchange){.time = found->time[(size_t)(c->renewed * (double)num)], .share = 1.0};
  s->ask.exchanges = &s->renewed;
  s->ask.num_exchanges = c->renewed > 0.0;
}

void clouding_column_march(clouding_column *s, const clouding_plane *c, size_t num, bool upright)
{
  clouding_plane_found marched;
  clouding_plane_follow(&marched, c, num);
  clouding_column_set(s, c, &marched, num, upright);
  s->marched = marched;
}
