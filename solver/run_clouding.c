#include "solver/run_clouding.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "materials/air_in_water.h"
#include "solver/clear_piece.h"
#include "solver/clear_view.h"
#include "solver/clear_white.h"
#include "solver/clouding.h"

enum { SLICES = 200 };

/* The band: onset 1.5, 2.5, 5 and the film 1.4, 1, 0.7 times (the range of both in tap water). */
enum { PESSIMIST, MIDDLE, OPTIMIST, NUM_VIEWS };
static const double ONSET[NUM_VIEWS] = {1.5, 2.5, 5.0}, FILM[NUM_VIEWS] = {1.4, 1.0, 0.7};

static status make_maps(run *x, message *msg)
{
  results *res = &x->results;
  double **map[] = {&res->gas_fraction, &res->clarity, &res->minerals, &res->clear_speed};
  if (res->clarity)
    return STATUS_OK;
  for (size_t i = 0; i < sizeof map / sizeof *map; i++) {
    *map[i] = malloc((res->num_nodes + 1) * sizeof **map[i]);
    if (!*map[i])
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a map of clear ice", res->num_nodes * sizeof(double));
    for (size_t n = 0; n < res->num_nodes; n++)
      (*map[i])[n] = NAN;
  }
  return STATUS_OK;
}

/* Temperature of the liquid over time, from the rows of the series: the mean of the body while it is above 0 degC, put on what is still
 * liquid. The ice already there is colder than 0, so this is a little low; it only thins the film while the water is warm. */
static status bulk_temperature(const run *x, size_t body, schedule *bulk, message *msg)
{
  const time_series *s = &x->results.series;
  char name[64];
  size_t share = 0, mean = 0;
  for (size_t c = 1; c < s->num_columns; c++) {
    (void)snprintf(name, sizeof name, "%s.frozen_share", x->rig->bodies[body].name);
    share = strcmp(s->name[c], name) == 0 ? c : share;
    (void)snprintf(name, sizeof name, "%s.temperature", x->rig->parts[x->rig->bodies[body].part].name);
    mean = strcmp(s->name[c], name) == 0 ? c : mean;
  }
  if (share == 0 || mean == 0 || s->num_rows == 0)
    return STATUS_OK;
  double *rows = malloc(2 * s->num_rows * sizeof *rows);
  if (!rows)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the temperature of water", 2 * s->num_rows * sizeof *rows);
  *bulk = (schedule){.num = s->num_rows, .time = rows, .value = rows + s->num_rows};
  for (size_t row = 0; row < s->num_rows; row++) {
    const double *v = s->values + row * s->num_columns;
    bulk->time[row] = v[0];
    bulk->value[row] = v[share] < 1.0 ? fmin(fmax(v[mean], 0.0) / (1.0 - v[share]), x->rig->parts[x->rig->bodies[body].part].initial_temperature) : 0.0;
    bulk->value[row] = fmax(bulk->value[row], 0.0);
  }
  return STATUS_OK;
}

static void span_of(const mesh *m, int part, double *low, double *high)
{
  *low = INFINITY;
  *high = -INFINITY;
  for (size_t n = 0; n < m->num_nodes; n++)
    if (m->part[n] == part && m->volume[n] > 0.0) {
      *low = fmin(*low, m->centroid[n][2]);
      *high = fmax(*high, m->centroid[n][2]);
    }
}

/* The exchanges of the body's water up to the end of the freeze that is judged. */
static status find_exchanges(const run *x, size_t body, clouding_exchange **found, size_t *num, message *msg)
{
  const size_t judged = run_parts_judged_stage(x->rig);
  *num = 0;
  *found = malloc((judged + 2) * sizeof **found); /* and one more to try */
  if (!*found)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for exchanges of water", (judged + 2) * sizeof **found);
  for (size_t i = 0; i < judged; i++)
    if (x->rig->stages[i].kind == STAGE_EXCHANGE && x->rig->stages[i].body == (int)body)
      (*found)[(*num)++] = (clouding_exchange){x->results.stages[i].start_at, x->rig->stages[i].share};
  return STATUS_OK;
}

/* What the stages of that freeze let run; num 0: all of it, all the time. */
static status find_drives(const run *x, clouding_drive **found, size_t *num, message *msg)
{
  const size_t judged = run_parts_judged_stage(x->rig);
  bool changes = false;
  *num = 0;
  *found = malloc((judged + 1) * sizeof **found);
  if (!*found)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for what drives the water", (judged + 1) * sizeof **found);
  for (size_t i = rig_stage_first_freeze(x->rig->stages, x->rig->num_stages); i <= judged; i++) {
    const rig_stage *s = &x->rig->stages[i];
    changes = changes || s->stirrers_stand || s->air_off;
    (*found)[(*num)++] = (clouding_drive){x->results.stages[i].start_at, !s->stirrers_stand, !s->air_off};
  }
  *num = changes ? *num : 0;
  return STATUS_OK;
}

static status history_of(const run *x, size_t index, double start, clouding_history *out, message *msg)
{
  const rig_body *body = &x->rig->bodies[index];
  return clouding_history_create(out,
                                 &(clouding_history_request){.m = x->mesh,
                                                             .a = &x->neighbours,
                                                             .part = body->part,
                                                             .density = x->rig->parts[body->part].stuff->density,
                                                             .freeze_time = x->results.freeze_time,
                                                             .begin_time = front_track_start_time(x->front),
                                                             .quarter_time = front_track_quarter_time(x->front),
                                                             .solid_time = x->results.solid_time,
                                                             .front_speed = x->results.front_speed,
                                                             .pocket_of_node = x->results.pocket,
                                                             .pockets = x->results.bodies[index].pockets,
                                                             .num_pockets = x->results.bodies[index].num_pockets,
                                                             .start_time = start,
                                                             .open_top = body->open_top,
                                                             .surface_level = body->surface_level,
                                                             .pressure = x->rig->room.pressure},
                                 msg);
}

static clouding_request request_of(const run *x, const rig_body *body, const clouding_history *history)
{
  double low, high;
  span_of(x->mesh, body->part, &low, &high);
  const front_gas_constants gas = front_gas_defaults();
  return (clouding_request){.history = history,
                            .air = body->clouding.air,
                            .minerals = body->clouding.minerals,
                            .film = {.kind = body->flow.by_air ? MOTION_STILL : body->flow.kind, /* air counts for itself */
                                     .stirring = body->flow.stirring,
                                     .speed = body->flow.speed,
                                     .aerated = body->clouding.aerated,
                                     .minerals = body->clouding.minerals,
                                     .height = fmax(high - low, 1e-3),
                                     .thickness = NAN,
                                     .factor = 1.0,
                                     .diffusivity = gas.diffusivity},
                            .thickness = body->clouding.film,
                            .gas = gas,
                            .detached = 1.0,
                            .num_slices = SLICES};
}

/* Cells that are clear ice of the body through and through. */
static status find_piece(clear_piece *piece, const run *x, int part, const double *clarity, message *msg)
{
  const mesh *m = x->mesh;
  const size_t num_cells = grid_num_cells(m->grid);
  const float *covered = m->share + (size_t)part * num_cells;
  uint8_t *clear = malloc(num_cells + 1);
  if (!clear)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the largest clear piece", num_cells);
  for (size_t cell = 0; cell < num_cells; cell++) {
    const int32_t node = mesh_find_node(m, cell, part);
    clear[cell] = node != MESH_NONE && covered[cell] > 0.999f && clarity[node] < CLOUDING_CLEAR; /* false for NAN */
  }
  const status code = clear_piece_find(piece, m->grid, clear, msg);
  free(clear);
  return code;
}

static status find_likely_piece(const run *x, int part, clear_result *out, message *msg)
{
  clear_piece piece = {0};
  const status code = find_piece(&piece, x, part, x->results.clarity, msg);
  out->piece_volume = piece.volume;
  memcpy(out->piece_size, piece.size, sizeof piece.size);
  memcpy(out->piece_low, piece.low, sizeof piece.low);
  memcpy(out->piece_high, piece.high, sizeof piece.high);
  return code;
}

static void look_through(const run *x, int part, clear_result *out)
{
  double length[3];
  clear_view_find(out->optical_depth, length, x->mesh, part, x->results.clarity);
  for (int axis = 0; axis < 3; axis++)
    out->reflectance[axis] = front_gas_reflectance(out->optical_depth[axis] / length[axis], length[axis]);
}

static void write_result(clear_result *out, const clouding_found *found, double start)
{
  out->present = true;
  out->fraction = found->clear;
  out->hazy_fraction = found->hazy;
  out->white_fraction = found->white;
  out->onset_time = found->onset_time - start;
  out->onset_share = found->onset_share;
  out->stop_time = found->stop_time - start;
  out->stop_share = found->stop_share;
  out->salt_time = found->salt_time - start;
  out->salt_share = found->salt_share;
  out->renew_time = found->renew_time - start;
  out->renew_share = found->renew_share;
  out->void_volume = found->air.in_void;
  out->num_visits = found->num_visits;
  out->books_error = fmax(clouding_books_error(&found->air), clouding_books_error(&found->salt));
  for (int i = 0; i < CLEAR_TENTHS; i++) {
    out->growth_speed[i] = found->growth[i].speed;
    out->growth_limit[i] = found->growth[i].limit;
  }
}

static status find_white(const run *x, int part, clear_result *out, message *msg)
{
  clear_white white;
  const status code = clear_white_find(&white, x->mesh, part, x->results.clarity, CLOUDING_WHITE, msg);
  memcpy(out->white_position, white.middle, sizeof white.middle);
  memcpy(out->white_from, white.low, sizeof white.low);
  memcpy(out->white_to, white.high, sizeof white.high);
  return code;
}

/* One pass with the constants of a view; minerals only where they are asked for: air does not need them, and the film keeps its own. */
static status look(clouding_found *found, clouding_request *q, int view, double scale, double minerals, const clouding_maps *maps, message *msg)
{
  q->gas.onset = scale * ONSET[view];
  q->gas.full = 2.0 * scale * ONSET[view];
  q->film.factor = FILM[view];
  q->minerals = minerals;
  return clouding_find(found, maps, q, msg);
}

/* What a whole exchange of the water would bring, at the moment from which it would help. */
static status try_fresh_water(clear_result *out, clouding_request *q, clouding_exchange *list, double scale, double start, message *msg)
{
  clouding_found found;
  out->renewed_fraction = NAN;
  if (isnan(out->renew_time))
    return STATUS_OK;
  size_t at = q->num_exchanges;
  for (; at > 0 && list[at - 1].time > start + out->renew_time; at--)
    list[at] = list[at - 1];
  list[at] = (clouding_exchange){start + out->renew_time, 1.0};
  q->num_exchanges++;
  const status code = look(&found, q, MIDDLE, scale, 0.0, NULL, msg);
  if (code == STATUS_OK)
    out->renewed_fraction = found.clear;
  if (code == STATUS_OK)
    out->num_visits += found.num_visits;
  return code;
}

/* One end of the band, with its own largest piece. clarity: room for a map. */
static status look_at_end(const run *x, clouding_found *found, double piece_size[3], clouding_request *q, int view, int part, double scale,
                          double *clarity, message *msg)
{
  clear_piece piece = {0};
  for (size_t n = 0; n < x->results.num_nodes; n++)
    clarity[n] = NAN;
  status code = look(found, q, view, scale, 0.0, &(clouding_maps){.extinction = clarity}, msg);
  if (code == STATUS_OK)
    code = find_piece(&piece, x, part, clarity, msg);
  for (int axis = 0; axis < 3; axis++)
    piece_size[axis] = piece.volume > 0.0 ? piece.size[axis] : 0.0;
  return code;
}

static status look_at_band(const run *x, clear_result *out, clouding_request *q, int part, double scale, double start, message *msg)
{
  clouding_found low, high;
  double *clarity = malloc((x->results.num_nodes + 1) * sizeof *clarity);
  if (!clarity)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a map of clear ice", x->results.num_nodes * sizeof *clarity);
  status code = look_at_end(x, &low, out->piece_smallest, q, PESSIMIST, part, scale, clarity, msg);
  if (code == STATUS_OK)
    code = look_at_end(x, &high, out->piece_largest, q, OPTIMIST, part, scale, clarity, msg);
  free(clarity);
  if (code != STATUS_OK)
    return code;
  out->fraction_low = low.clear;
  out->fraction_high = high.clear;
  out->white_low = high.white;
  out->white_high = low.white;
  out->stop_time_low = low.stop_time - start;
  out->stop_time_high = high.stop_time - start;
  out->num_visits += low.num_visits + high.num_visits;
  return code;
}

static status look_at_all(run *x, clear_result *out, clouding_request *q, clouding_exchange *exchanges, const rig_body *body, double start,
                          message *msg)
{
  const rig_clouding *asked = &body->clouding;
  const clouding_maps maps = {x->results.gas_fraction, x->results.clarity, x->results.minerals, x->results.clear_speed};
  const double scale = asked->onset > 0.0 ? asked->onset / ONSET[MIDDLE] : 1.0;
  clouding_found middle;
  clouding_history bundles = {.num = 0};
  status code = look(&middle, q, MIDDLE, scale, asked->minerals, &maps, msg);
  if (code == STATUS_OK) {
    write_result(out, &middle, start);
    out->num_clamped = q->history->num_clamped;
    code = look_at_band(x, out, q, body->part, scale, start, msg);
  }
  if (code == STATUS_OK) /* what needs no maps is cheaper so */
    code = clouding_history_bundle(&bundles, q->history, msg);
  q->history = &bundles;
  if (code == STATUS_OK)
    code = try_fresh_water(out, q, exchanges, scale, start, msg);
  clouding_history_release(&bundles);
  return code;
}

status run_clouding_body(run *x, size_t index, double start, message *msg)
{
  const rig_body *body = &x->rig->bodies[index];
  if (!body->clouding.asked)
    return STATUS_OK;
  clear_result *out = &x->results.bodies[index].clear;
  clouding_history history = {.num = 0};
  clouding_exchange *exchanges = NULL;
  clouding_drive *drives = NULL;
  schedule bulk = {0};
  size_t num_exchanges = 0, num_drives = 0;
  status code = make_maps(x, msg);
  if (code == STATUS_OK)
    code = bulk_temperature(x, index, &bulk, msg);
  if (code == STATUS_OK)
    code = find_exchanges(x, index, &exchanges, &num_exchanges, msg);
  if (code == STATUS_OK)
    code = find_drives(x, &drives, &num_drives, msg);
  if (code == STATUS_OK)
    code = history_of(x, index, start, &history, msg);
  if (code == STATUS_OK) {
    clouding_request request = request_of(x, body, &history);
    request.bulk_temperature = bulk;
    request.exchanges = exchanges;
    request.num_exchanges = num_exchanges;
    request.drives = drives;
    request.num_drives = num_drives;
    code = look_at_all(x, out, &request, exchanges, body, start, msg);
  }
  if (code == STATUS_OK)
    code = find_white(x, body->part, out, msg);
  if (code == STATUS_OK)
    code = find_likely_piece(x, body->part, out, msg);
  if (code == STATUS_OK)
    look_through(x, body->part, out);
  clouding_history_release(&history);
  free(exchanges);
  free(drives);
  free(bulk.time);
  return code;
}
