#include "solver/run_piece.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/run_parts.h"
#include "solver/run_stage.h"
#include "solver/thermal_shock.h"

static const double EMISSIVITY = 0.97;      /* wet ice */
static const double LONGEST_STEP = 900.0;   /* s */
static const double LATE = 0.03;            /* of the ice left: from there on steps are a thousandth of the time that has passed, */
static const double LATE_STEP = 1e-3, SHORTEST_LATE = 1.0; /* s: the last of it may go anywhere within one                            */
static const double SHORTEST_CUT = 1.0;     /* s: ends by temperature are met to the second */

static const rig_stage *stage_now(const run *x) { return &x->rig->stages[x->stage]; }

/* The stage in which it came out; there is one. */
static size_t first_of_piece(const rig *r)
{
  size_t first = 0;
  while (!rig_stage_is_of_piece(&r->stages[first]))
    first++;
  return first;
}

bool run_piece_wanted(const rig *r)
{
  for (size_t stage = 0; stage < r->num_stages; stage++)
    if (rig_stage_is_of_piece(&r->stages[stage]))
      return true;
  return false;
}

/* ---- making it ---- */

/* Ice of a body by cell: the share of the cell that is the body's, as far as its node is ice. */
static void ice_by_cell(const run *x, int part, double *volume, double *temperature)
{
  const mesh *m = x->mesh;
  const size_t num = grid_num_cells(m->grid);
  const float *share = m->share + (size_t)part * num;
  for (size_t cell = 0; cell < num; cell++) {
    size_t at[3];
    grid_cell_indices(m->grid, cell, at);
    const int32_t node = share[cell] > 0.0f ? mesh_find_node(m, cell, part) : MESH_NONE;
    volume[cell] = node == MESH_NONE ? 0.0 : share[cell] * grid_cell_volume(m->grid, at[0], at[1], at[2]) * (1.0 - x->liquid_fraction[node]);
    temperature[cell] = node == MESH_NONE ? 0.0 : x->temperature[node];
  }
}

static melt_air air_at(const run *x, const rig_stage *stage, double time)
{
  const rig_room *room = &x->rig->room;
  return (melt_air){.temperature = stage->changes_room ? stage->room : schedule_at(&room->temperature, time),
                    .relative_humidity = room->relative_humidity,
                    .pressure = room->pressure,
                    .wind = stage->around.wind,
                    .emissivity = EMISSIVITY,
                    .film = stage->around.film,
                    .moisture = true};
}

static melt_pool pool_of(const rig_stage *stage)
{
  const rig_surroundings *a = &stage->around;
  return (melt_pool){.present = a->pool,
                     .fixed = !(a->pool_volume > 0.0),
                     .mass = 1000.0 * a->pool_volume, /* kg/m3 of water, near enough for a tub */
                     .temperature = a->pool_temperature,
                     .film = a->pool_film,
                     .floating = a->floating,
                     .level = a->level};
}

static status make_piece(run *x, const rig_stage *stage, message *msg)
{
  const size_t num = grid_num_cells(x->mesh->grid);
  const int part = x->rig->bodies[stage->body].part;
  double *volume = calloc(2 * num, sizeof *volume);
  if (!volume)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a piece of ice", 2 * num * sizeof *volume);
  run_parts_show_state(x, x->state.enthalpy);
  ice_by_cell(x, part, volume, volume + num);
  const melt_piece piece = {.grid = x->mesh->grid, .ice = x->rig->parts[part].stuff, .volume = volume, .temperature = volume + num,
                            .underside_covered = stage->around.underside_covered, .images = x->mesh->images};
  const melt_air air = air_at(x, stage, x->state.time);
  const melt_pool pool = pool_of(stage);
  melt_destroy(&x->piece);
  const status code = melt_create(&x->piece, &piece, &air, &pool, msg);
  free(volume);
  return code;
}

status run_piece_allocate(run *x, message *msg)
{
  if (!run_piece_wanted(x->rig))
    return STATUS_OK;
  x->piece_length = melt_state_length_for(grid_num_cells(x->mesh->grid));
  x->piece_memory = calloc(x->piece_length, sizeof *x->piece_memory);
  return x->piece_memory ? STATUS_OK
                         : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a piece of ice", x->piece_length * sizeof *x->piece_memory);
}

static void take_marks(run *x, size_t which)
{
  const melt_report r = melt_now(x->piece);
  const double heats[RUN_PIECE_MARKS] = {r.heat_air, r.heat_moisture, r.heat_water, r.heat_stored};
  memcpy(x->piece_marks + which * RUN_PIECE_MARKS, heats, sizeof heats);
}

/* ---- does the change of surroundings crack it? ---- */

/* Half the smallest extent of the piece, m: what it is as a slab. */
static double half_of(const run *x)
{
  const grid *g = x->mesh->grid;
  const double *volume = melt_volume(x->piece);
  double smallest = INFINITY;
  for (int axis = 0; axis < 3; axis++) {
    double low = INFINITY, high = -INFINITY;
    for (size_t cell = 0; cell < grid_num_cells(g); cell++) {
      size_t at[3];
      if (volume[cell] <= 0.0)
        continue;
      grid_cell_indices(g, cell, at);
      low = fmin(low, g->edges[axis][at[axis]]);
      high = fmax(high, g->edges[axis][at[axis] + 1]);
    }
    if (g->kind == GRID_RZ && axis == 1)
      continue;
    if (g->mirror[2 * axis] && !g->mirror[2 * axis + 1])
      low = 2.0 * g->edges[axis][0] - high; /* with its image behind the plane */
    if (g->mirror[2 * axis + 1] && !g->mirror[2 * axis])
      high = 2.0 * g->edges[axis][g->num[axis]] - low;
    smallest = fmin(smallest, g->kind == GRID_RZ && axis == 0 ? high : 0.5 * (high - low));
  }
  return smallest;
}

static void judge_shock(const run *x, const rig_stage *stage, piece_result *out)
{
  const melt_report r = melt_now(x->piece);
  const melt_air air = air_at(x, stage, x->state.time);
  const melt_pool pool = pool_of(stage);
  const double half = half_of(x);
  const melt_size size = {.height = 2.0 * half, .width = 2.0 * half, .wetted_height = 2.0 * half};
  const double radiation = 4.0 * EMISSIVITY * 5.670374e-8 * 273.15 * 273.15 * 273.15; /* W/(m2 K), linearised at 0 degC */
  const double film = pool.present ? melt_around_water_film(&pool, &size, 0.0)
                      : isnan(air.film) ? melt_around_air_film(&air, &size, 0.0, 0.0) + radiation : air.film;
  const thermal_shock_step step = {.shape = x->mesh->grid->kind == GRID_RZ ? SHOCK_CYLINDER : SHOCK_SLAB,
                                   .half = half,
                                   .temperature = fmin(r.mean_temperature, 0.0),
                                   .surroundings = pool.present ? pool.temperature : air.temperature,
                                   .film = film};
  const thermal_shock shock = thermal_shock_of(&step);
  out->crack_index = shock.index;
  out->warmest_start = step.surroundings >= step.temperature ? -shock.safe_step : step.surroundings + shock.safe_step;
  out->tempering = thermal_shock_tempering(half, film);
}

/* ---- marching it ---- */

status run_piece_begin(run *x, message *msg)
{
  const rig_stage *stage = stage_now(x);
  status code = STATUS_OK;
  if (!x->piece) {
    code = make_piece(x, stage, msg);
  } else {
    const melt_air air = air_at(x, stage, x->state.time);
    const melt_pool pool = pool_of(stage);
    melt_move(x->piece, &air, &pool, stage->around.underside_covered);
  }
  if (code != STATUS_OK)
    return code;
  take_marks(x, x->stage);
  piece_result *out = &x->results.stages[x->stage].piece;
  const melt_report r = melt_now(x->piece);
  *out = (piece_result){.present = true, .time = NAN, .mark = {NAN, NAN, NAN}, .pool_ice = NAN, .mass_start = r.mass};
  judge_shock(x, stage, out);
  /* Saved as soon as it is known: a run that is resumed inside the stage finds it again. */
  run_parts_save_stage(x);
  return STATUS_OK;
}

/* Seconds into the step at which the piece met the end of its stage; NAN: not met. */
static double end_in_step(const rig_stage *stage, const melt_report *before, const melt_report *after)
{
  const double step = after->time - before->time;
  if (after->gone)
    return fmax(0.0, after->gone_at - before->time);
  if (stage->until != UNTIL_PART_ABOVE && stage->until != UNTIL_PART_BELOW)
    return NAN;
  const double T0 = before->mean_temperature, T1 = after->mean_temperature;
  const bool met = stage->until == UNTIL_PART_ABOVE ? T1 >= stage->temperature : T1 <= stage->temperature;
  return !met ? NAN : T0 == T1 ? 0.0 : fmin(step, fmax(0.0, step * (stage->temperature - T0) / (T1 - T0)));
}

/* One step; taken again when the end of the stage lies more than a second before its end. */
static status piece_step(run *x, const rig_stage *stage, double most, melt_report *before, melt_report *after, message *msg)
{
  *before = melt_now(x->piece);
  memcpy(x->piece_memory, melt_state(x->piece), x->piece_length * sizeof *x->piece_memory);
  status code = melt_advance(x->piece, most, msg);
  *after = melt_now(x->piece);
  const double end = code == STATUS_OK ? end_in_step(stage, before, after) : NAN;
  if (isnan(end) || after->gone || after->time - before->time - end <= SHORTEST_CUT)
    return code;
  memcpy(melt_state(x->piece), x->piece_memory, x->piece_length * sizeof *x->piece_memory);
  melt_restored(x->piece);
  code = melt_advance(x->piece, end + 0.5 * SHORTEST_CUT, msg);
  *after = melt_now(x->piece);
  return code;
}

static double longest_step(const run *x, double left)
{
  const melt_report now = melt_now(x->piece);
  const double late = now.mass < LATE * now.first_mass ? fmax(SHORTEST_LATE, LATE_STEP * now.time) : INFINITY;
  return fmin(fmin(LONGEST_STEP, late), fmin(left, run_parts_next_table_row(x->rig, x->state.time) - x->state.time));
}

status run_piece_step(run *x, message *msg)
{
  const rig_stage *stage = stage_now(x);
  const double t0 = x->state.time, left = x->clock[CLOCK_STAGE_START] + stage->limit - t0;
  melt_report before, after;
  if (!(left > 0.0) || melt_now(x->piece).gone) {
    x->clock[CLOCK_STAGE_OVER] = stage->until == UNTIL_MELTED && melt_now(x->piece).gone ? 1.0 : 2.0;
    return STATUS_OK;
  }
  const melt_air air = air_at(x, stage, t0);
  melt_set_air(x->piece, &air);
  status code = piece_step(x, stage, longest_step(x, left), &before, &after, msg);
  if (code != STATUS_OK)
    return code;
  const double end = end_in_step(stage, &before, &after);
  x->state.time = t0 + (after.gone ? end : after.time - before.time);
  if (!isnan(end))
    x->clock[CLOCK_STAGE_OVER] = 1.0;
  else if (x->state.time >= x->clock[CLOCK_STAGE_START] + stage->limit * (1.0 - 1e-12))
    x->clock[CLOCK_STAGE_OVER] = 2.0;
  const double from[2] = {before.mass, before.mean_temperature}, to[2] = {after.mass, after.gone ? NAN : after.mean_temperature};
  return run_parts_note_piece(x, t0, from, to, msg);
}

void run_piece_finish(run *x)
{
  const rig_stage *stage = stage_now(x);
  stage_result *out = &x->results.stages[x->stage];
  piece_result *p = &out->piece;
  const melt_report r = melt_now(x->piece);
  take_marks(x, x->stage + 1);
  const double begun = out->start_at - x->results.stages[first_of_piece(x->rig)].start_at; /* on the piece's own clock */
  for (int i = 0; i < MELT_MARKS; i++)
    p->mark[i] = r.mark[i] - begun;
  p->time = r.gone && stage->kind == STAGE_MELT ? out->end_at - out->start_at : NAN;
  p->mass_end = r.gone ? 0.0 : r.mass;
  p->mean_temperature = r.gone ? NAN : r.mean_temperature;
  p->pool_temperature = r.pool_temperature;
  p->pool_ice = r.pool_ice;
  p->surface_error = r.surface_error;
}

/* ---- its books ---- */

static status add_entries(heat_ledger *l, const double *from, const double *to, message *msg)
{
  static const char *const names[RUN_PIECE_MARKS] = {"air to piece", "moisture on piece", "water to piece", "stored in piece"};
  double change[RUN_PIECE_MARKS], moved = 0.0, net_in = 0.0, stored = 0.0;
  bool any = false;
  for (int i = 0; i < RUN_PIECE_MARKS; i++) {
    change[i] = to[i] - from[i];
    any = any || change[i] != 0.0;
  }
  if (!any)
    return STATUS_OK;
  ledger_entry *entries = realloc(l->entries, (l->num + RUN_PIECE_MARKS) * sizeof *entries);
  if (!entries)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the heat ledger", (l->num + RUN_PIECE_MARKS) * sizeof *entries);
  l->entries = entries;
  /* Paths come first. */
  memmove(entries + l->num_paths + RUN_PIECE_MARKS - 1, entries + l->num_paths, (l->num - l->num_paths) * sizeof *entries);
  for (int i = 0; i < RUN_PIECE_MARKS; i++) {
    const size_t place = i + 1 < RUN_PIECE_MARKS ? l->num_paths + (size_t)i : l->num + (size_t)i;
    entries[place] = (ledger_entry){.joules = change[i]};
    (void)snprintf(entries[place].name, sizeof entries[place].name, "%s", names[i]);
  }
  l->num += RUN_PIECE_MARKS;
  l->num_paths += RUN_PIECE_MARKS - 1;
  for (size_t i = 0; i < l->num; i++) {
    moved += fabs(entries[i].joules);
    *(i < l->num_paths ? &net_in : &stored) += entries[i].joules;
  }
  l->residual_relative = moved > 0.0 ? 2.0 * (net_in - stored) / moved : 0.0;
  return STATUS_OK;
}

status run_piece_ledgers(run *x, message *msg)
{
  const rig *r = x->rig;
  status code = STATUS_OK;
  if (!run_piece_wanted(r))
    return STATUS_OK;
  const size_t first = first_of_piece(r);
  for (size_t stage = first; code == STATUS_OK && stage < r->num_stages; stage++)
    code = add_entries(&x->results.stages[stage].ledger, x->piece_marks + stage * RUN_PIECE_MARKS, x->piece_marks + (stage + 1) * RUN_PIECE_MARKS, msg);
  if (code == STATUS_OK)
    code = add_entries(&x->results.ledger, x->piece_marks + first * RUN_PIECE_MARKS, x->piece_marks + r->num_stages * RUN_PIECE_MARKS, msg);
  return code;
}

/* ---- showing, saving ---- */

static int part_of_piece(const run *x)
{
  return x->rig->bodies[x->rig->stages[first_of_piece(x->rig)].body].part;
}

/* Where ice has gone the water counts as liquid at its melting point, so that pictures show what is left. */
void run_piece_show(run *x)
{
  if (!x->piece)
    return;
  const mesh *m = x->mesh;
  const int part = part_of_piece(x);
  const double *volume = melt_volume(x->piece), *temperature = melt_temperature(x->piece);
  const float *share = m->share + (size_t)part * grid_num_cells(m->grid);
  for (size_t node = 0; node < m->num_nodes; node++) {
    if (m->part[node] != part || !(m->volume[node] > 0.0))
      continue;
    size_t at[3];
    const size_t cell = (size_t)m->cell[node];
    grid_cell_indices(m->grid, cell, at);
    const double all = share[cell] * grid_cell_volume(m->grid, at[0], at[1], at[2]);
    x->liquid_fraction[node] = all > 0.0 ? 1.0 - fmin(1.0, volume[cell] / all) : 1.0;
    x->temperature[node] = volume[cell] > 0.0 && isfinite(temperature[cell]) ? temperature[cell] : 0.0;
  }
}

void run_piece_keep(run *x)
{
  if (x->piece)
    memcpy(x->piece_memory, melt_state(x->piece), x->piece_length * sizeof *x->piece_memory);
}

status run_piece_restored(run *x, message *msg)
{
  const rig *r = x->rig;
  if (!run_piece_wanted(r) || x->stage >= r->num_stages)
    return STATUS_OK;
  const size_t first = first_of_piece(r);
  if (x->stage < first || (x->stage == first && x->doing == DO_STAGE_START))
    return STATUS_OK;
  /* Made of the state in which it came out, which nothing has changed since; then its own memory. */
  status code = make_piece(x, &r->stages[first], msg);
  if (code != STATUS_OK)
    return code;
  memcpy(melt_state(x->piece), x->piece_memory, x->piece_length * sizeof *x->piece_memory);
  const rig_stage *stage = &r->stages[x->stage];
  const melt_air air = air_at(x, stage, x->state.time);
  const melt_pool pool = pool_of(stage);
  melt_restored(x->piece);
  if (x->doing != DO_STAGE_START)
    melt_again(x->piece, &air, &pool, stage->around.underside_covered);
  return STATUS_OK;
}
