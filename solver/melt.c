#include "solver/melt.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/melt_parts.h"

static const double MARK[MELT_MARKS] = {0.5, 0.1, 0.01}; /* of the mass left */
static const double LATE[MELT_LATE] = {0.40, 0.22, 0.12, 0.065, 0.035, 0.02}; /* of the first mass: where the law of the last ice is taken */
static const double RENEWED = 4.0;                /* steps: in which the surface passes a cell */
static const double COLDEST = -100.0;              /* degC: nothing that this program computes is colder */
static const double GONE = 1e-6;                  /* of the first mass */
static const double WATER_SPECIFIC_HEAT = 4200.0; /* J/(kg K), near 10 degC, IAPWS SR6-08(2011) */

void melt_destroy(melt **out)
{
  melt *x = *out;
  *out = NULL;
  if (!x)
    return;
  ice_surface_release(&x->surface);
  free(x->state);
  free(x->volume);
  free(x->host);
  free(x->links);
  free(x);
}

static status allocate(melt *x, message *msg)
{
  const size_t n = x->num_cells;
  x->state = calloc(2 * n + NUM_SCALARS, sizeof *x->state);
  x->volume = calloc(9 * n, sizeof *x->volume); /* and the arrays after it */
  x->host = malloc(n * sizeof *x->host);
  x->links = malloc(3 * n * sizeof *x->links);
  if (!x->state || !x->volume || !x->host || !x->links)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a piece of ice that melts", n * 140);
  x->heat = x->state + n;
  x->scalar = x->state + 2 * n;
  double **const rows[] = {&x->temperature, &x->speed, &x->lumped, &x->source, &x->rate, &x->start, &x->before, &x->now};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
    *rows[i] = x->volume + (i + 1) * n;
  return STATUS_OK;
}

static double mass_now(const melt *x) { return x->ice->density * melt_inside_sum(x->volume, x->num_cells); }

/* What falls to one image of the piece. */
static melt_pool share_of_pool(const melt *x, const melt_pool *pool)
{
  melt_pool share = *pool;
  share.mass /= x->images;
  share.room_conductance /= x->images;
  return share;
}

/* Volumes from the surface, with the one factor that makes the first mass right. */
static void take_volumes(melt *x)
{
  for (size_t i = 0; i < x->num_cells; i++)
    x->volume[i] = x->scalar[FACTOR] * x->surface.share[i] * x->surface.cell_volume[i];
}

static status check_piece(const melt_piece *p, double *all, message *msg)
{
  const size_t n = grid_num_cells(p->grid);
  *all = 0.0;
  for (size_t i = 0; i < n; i++) {
    if (!(p->volume[i] >= 0.0) || (p->volume[i] > 0.0 && !isfinite(p->temperature[i])))
      return message_set(msg, STATUS_BAD_INPUT, "melting: cell %zu holds %g m3 of ice at %g degC", i, p->volume[i], p->temperature[i]);
    *all += p->volume[i];
  }
  return *all > 0.0 ? STATUS_OK : message_set(msg, STATUS_BAD_INPUT, "melting: there is no ice; freeze it first");
}

/* The surface of the piece; its heat, scaled so that the sum over the rebuilt volumes is that of the piece. */
static status place_piece(melt *x, const melt_piece *piece, double volume, message *msg)
{
  size_t at[3];
  double *share = x->source;
  for (size_t i = 0; i < x->num_cells; i++) {
    grid_cell_indices(x->grid, i, at);
    share[i] = fmin(1.0, piece->volume[i] / grid_cell_volume(x->grid, at[0], at[1], at[2]));
  }
  status code = ice_surface_create(&x->surface, x->grid, share, msg);
  for (int i = 0; code == STATUS_OK && i < 2; i++) /* what renewing moves at first is scaled away below */
    code = ice_surface_renew(&x->surface, msg);
  if (code != STATUS_OK)
    return code;
  x->scalar[FACTOR] = 1.0;
  take_volumes(x);
  const double rebuilt = melt_inside_sum(x->volume, x->num_cells);
  if (rebuilt <= 0.0)
    return message_set(msg, STATUS_BAD_INPUT, "melting: the piece is thinner than the grid can show; use smaller cells");
  x->scalar[FACTOR] = volume / rebuilt;
  take_volumes(x);
  double given = 0.0, kept = 0.0;
  for (size_t i = 0; i < x->num_cells; i++) {
    const double cold = piece->volume[i] > 0.0 ? melt_inside_cold(x->ice, piece->temperature[i]) : 0.0;
    given += piece->volume[i] * cold;
    x->heat[i] = x->volume[i] * cold;
    kept += x->heat[i];
  }
  for (size_t i = 0; kept < 0.0 && i < x->num_cells; i++)
    x->heat[i] *= given / kept;
  memcpy(x->state, x->surface.distance, x->num_cells * sizeof *x->state);
  return STATUS_OK;
}

status melt_create(melt **out, const melt_piece *piece, const melt_air *air, const melt_pool *pool, message *msg)
{
  double volume;
  status code = check_piece(piece, &volume, msg);
  if (code != STATUS_OK)
    return code;
  melt *x = calloc(1, sizeof *x);
  if (!x)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: a piece of ice that melts");
  x->grid = piece->grid;
  x->ice = piece->ice;
  x->underside_covered = piece->underside_covered;
  x->images = piece->images > 0.0 ? piece->images : 1.0;
  x->air = *air;
  x->pool = share_of_pool(x, pool);
  x->num_cells = grid_num_cells(piece->grid);
  code = allocate(x, msg);
  if (code == STATUS_OK)
    code = place_piece(x, piece, volume, msg);
  if (code != STATUS_OK) {
    melt_destroy(&x);
    return code;
  }
  double *s = x->scalar;
  s[GONE_AT] = s[WATERLINE] = NAN;
  for (int i = 0; i < MELT_LATE; i++)
    s[LATE_TIME + i] = NAN;
  for (int i = 0; i < MELT_MARKS; i++)
    s[FIRST_MARK + i] = NAN;
  s[FIRST_MASS] = mass_now(x);
  s[FIRST_HEAT] = melt_inside_sum(x->heat, x->num_cells);
  s[POOL_TEMPERATURE] = pool->temperature;
  s[POOL_MASS] = x->pool.mass;
  *out = x;
  return STATUS_OK;
}

void melt_set_air(melt *x, const melt_air *air) { x->air = *air; }
const double *melt_volume(const melt *x) { return x->volume; }
const double *melt_temperature(const melt *x) { return x->temperature; }

void melt_again(melt *x, const melt_air *air, const melt_pool *pool, bool underside_covered)
{
  x->air = *air;
  x->pool = share_of_pool(x, pool);
  x->underside_covered = underside_covered;
}

void melt_move(melt *x, const melt_air *air, const melt_pool *pool, bool underside_covered)
{
  melt_again(x, air, pool, underside_covered);
  x->scalar[POOL_TEMPERATURE] = pool->temperature;
  x->scalar[POOL_MASS] = x->pool.mass;
  x->scalar[POOL_ICE] = 0.0;
  x->scalar[WATERLINE] = NAN;
}

size_t melt_state_length_for(size_t num_cells) { return 2 * num_cells + NUM_SCALARS; }
size_t melt_state_length(const melt *x) { return 2 * x->num_cells + NUM_SCALARS; }
double *melt_state(melt *x) { return x->state; }

void melt_restored(melt *x)
{
  memcpy(x->surface.distance, x->state, x->num_cells * sizeof *x->state);
  ice_surface_measure(&x->surface);
  take_volumes(x);
}

/* ---- a step ---- */

/* The heat of the step, J, shared among its sources as they were at its start. */
static void book(melt *x, const melt_flux *sums, double taken)
{
  const double all = melt_around_total(sums), part = all != 0.0 ? taken / all : 0.0;
  x->scalar[HEAT_AIR] += part * sums->dry;
  x->scalar[HEAT_MOISTURE] += part * sums->moisture;
  x->scalar[HEAT_WATER] += part * sums->water;
}

/* Straight line through the times against (mass left)^(1/n): its value at no mass, and the squares it misses by. */
static double fit_end(const double *late, double n, double *missed)
{
  double sx = 0.0, sy = 0.0, sxx = 0.0, sxy = 0.0;
  for (int i = 0; i < MELT_LATE; i++) {
    const double x = pow(LATE[i], 1.0 / n);
    sx += x;
    sy += late[i];
    sxx += x * x;
    sxy += x * late[i];
  }
  const double slope = (MELT_LATE * sxy - sx * sy) / (MELT_LATE * sxx - sx * sx), end = (sy - slope * sx) / MELT_LATE;
  *missed = 0.0;
  for (int i = 0; i < MELT_LATE; i++) {
    const double off = late[i] - end - slope * pow(LATE[i], 1.0 / n);
    *missed += off * off;
  }
  return end;
}

/* The last ice is a few cells wide and its end hangs on how they lie. A shape that shrinks evenly falls as (end - t)^n: the power that fits
 * best while the piece is well resolved gives the end. Where that makes no sense (several pieces, a pool that goes cold) the end is when
 * the last ice has gone from the grid. */
static double end_by_law(const double *late, double vanished)
{
  double least = INFINITY, end = vanished;
  for (double n = 0.8; n < 3.5; n += 0.05) {
    double missed;
    const double found = fit_end(late, n, &missed);
    if (missed < least) {
      least = missed;
      end = found;
    }
  }
  return fabs(end - vanished) < 0.06 * vanished ? end : vanished;
}

/* When the mass passed `at`, linear over the step. */
static void note_time(double *mark, double at, double before, double after, double time, double step)
{
  if (isnan(*mark) && after <= at)
    *mark = time + step * (before > after ? (before - at) / (before - after) : 1.0);
}

static void note_marks(melt *x, double before, double after, double step)
{
  double *s = x->scalar;
  for (int i = 0; i < MELT_MARKS; i++)
    note_time(&s[FIRST_MARK + i], MARK[i] * s[FIRST_MASS], before, after, s[TIME], step);
  for (int i = 0; i < MELT_LATE; i++)
    note_time(&s[LATE_TIME + i], LATE[i] * s[FIRST_MASS], before, after, s[TIME], step);
  if (isnan(s[GONE_AT]) && after <= GONE * s[FIRST_MASS])
    s[GONE_AT] = end_by_law(s + LATE_TIME, s[TIME] + step);
}

/* Heat of the pool over that of water at the melting point, J. */
static double pool_heat(const melt *x)
{
  const double *s = x->scalar, frozen = s[POOL_ICE] / x->ice->density;
  const double warm = s[POOL_TEMPERATURE] >= 0.0 ? (s[POOL_MASS] - s[POOL_ICE]) * WATER_SPECIFIC_HEAT * s[POOL_TEMPERATURE]
                                                 : frozen * melt_inside_cold(x->ice, s[POOL_TEMPERATURE]);
  return warm - frozen * x->ice->latent_heat;
}

/* Water is not colder than its melting point: it freezes, and only when all of it is ice it grows colder. */
static void set_pool(melt *x, double heat)
{
  double *s = x->scalar;
  const double volume = s[POOL_MASS] / x->ice->density, latent = volume * x->ice->latent_heat;
  s[POOL_ICE] = s[POOL_MASS] * fmin(fmax(-heat / latent, 0.0), 1.0);
  s[POOL_TEMPERATURE] = heat >= 0.0 ? heat / (s[POOL_MASS] * WATER_SPECIFIC_HEAT)
                        : heat >= -latent ? x->ice->curve.freezing_temperature : melt_inside_temperature(x->ice, (heat + latent) / volume);
}

/* The pool gives heat, takes the meltwater at 0 degC, and trades with the air. */
static void cool_pool(melt *x, double heat, double meltwater, double step)
{
  double *s = x->scalar;
  if (!x->pool.present || x->pool.fixed)
    return;
  const double left = pool_heat(x) - heat + x->pool.room_conductance * (x->air.temperature - s[POOL_TEMPERATURE]) * step;
  s[POOL_MASS] += meltwater;
  set_pool(x, left);
}

/* What is left is too small to have a surface on the grid: it counts as gone when it is next to nothing. */
static status finish_without_surface(melt *x, double before, double step, message *msg)
{
  if (before > 1e-3 * x->scalar[FIRST_MASS])
    return message_set(msg, STATUS_FAILED, "melting: nothing reaches the last %.3g kg of ice at %.6g s; use smaller cells", before, x->scalar[TIME]);
  for (size_t i = 0; i < x->num_cells; i++)
    x->surface.distance[i] = fmax(x->surface.distance[i], 0.0);
  memcpy(x->state, x->surface.distance, x->num_cells * sizeof *x->state);
  ice_surface_measure(&x->surface);
  take_volumes(x);
  x->scalar[HEAT_AIR] += (before - mass_now(x)) / x->ice->density * x->ice->latent_heat;
  note_marks(x, before, 0.0, step);
  x->scalar[TIME] += step;
  return STATUS_OK;
}

/* Ice colder than anything round it would be heat that ran away: never in silence. */
static status check_heat(const melt *x, message *msg)
{
  const double heat = melt_inside_sum(x->heat, x->num_cells), least = melt_inside_cold(x->ice, COLDEST) * melt_inside_sum(x->volume, x->num_cells);
  if (heat >= least || mass_now(x) <= 1e-3 * x->scalar[FIRST_MASS]) /* the last of it carries what the books still lack */
    return STATUS_OK;
  return message_set(msg, STATUS_FAILED, "melting: %.3g kg of ice would be colder than %g degC at %.6g s, which cannot be: the step is too long for a thin "
                     "piece; use cells of another size", mass_now(x), COLDEST, x->scalar[TIME]);
}

status melt_advance(melt *x, double most, message *msg)
{
  double *s = x->scalar;
  if (!(most > 0.0))
    return message_set(msg, STATUS_FAILED, "melting: a step of %g s", most);
  if (!isnan(s[GONE_AT])) {
    s[TIME] += most;
    return STATUS_OK;
  }
  const double before = mass_now(x), water_before = s[HEAT_WATER];
  melt_inside_place(x);
  const melt_skin_films f = melt_skin_now(x);
  const double least = fmin(melt_inside_coldest(x), melt_inside_cold(x->ice, x->air.temperature));
  const bool cold = melt_inside_is_cold(x);
  if (cold)
    melt_inside_link(x);
  const double step = melt_skin_step(x, &f, cold, most);
  melt_flux sums;
  double surplus;
  status code = STATUS_OK;
  melt_skin_heat(x, &f, step, &sums, &surplus);
  if (s[AREA] <= 0.0)
    return finish_without_surface(x, before, step, msg);
  const double inward = melt_inside_sum(x->source, x->num_cells);
  if (cold)
    melt_inside_warm(x, step);
  else
    for (size_t i = 0; i < x->num_cells; i++)
      x->heat[i] += x->source[i];
  const bool drifts = ice_surface_recede(&x->surface, x->speed, step);
  s[STEPS] += 1.0;
  if (drifts && fmod(s[STEPS], RENEWED) == 0.0)
    code = ice_surface_renew(&x->surface, msg);
  memcpy(x->state, x->surface.distance, x->num_cells * sizeof *x->state);
  take_volumes(x);
  const double after = mass_now(x);
  book(x, &sums, inward - surplus + (before - after) / x->ice->density * x->ice->latent_heat);
  melt_inside_return(x);
  melt_inside_settle(x, least);
  note_marks(x, before, after, step);
  cool_pool(x, s[HEAT_WATER] - water_before, before - after, step);
  s[TIME] += step;
  return code == STATUS_OK ? check_heat(x, msg) : code;
}

melt_report melt_now(const melt *x)
{
  const double *s = x->scalar;
  const size_t n = x->num_cells;
  melt_report r = {.time = s[TIME],
                   .gone = !isnan(s[GONE_AT]),
                   .gone_at = s[GONE_AT],
                   .mass = x->images * mass_now(x),
                   .first_mass = x->images * s[FIRST_MASS],
                   .area = x->images * s[AREA],
                   .surface_error = s[FACTOR] - 1.0,
                   .waterline = s[WATERLINE],
                   .pool_temperature = x->pool.present ? s[POOL_TEMPERATURE] : NAN,
                   .pool_mass = x->pool.present ? x->images * s[POOL_MASS] : NAN,
                   .pool_ice = x->pool.present && !x->pool.fixed ? x->images * s[POOL_ICE] : NAN,
                   .heat_air = x->images * s[HEAT_AIR],
                   .heat_moisture = x->images * s[HEAT_MOISTURE],
                   .heat_water = x->images * s[HEAT_WATER],
                   .coldest = x->ice->curve.freezing_temperature};
  memcpy(r.mark, s + FIRST_MARK, sizeof r.mark);
  const double volume = melt_inside_sum(x->volume, n), heat = melt_inside_sum(x->heat, n);
  r.mean_temperature = volume > 0.0 ? melt_inside_temperature(x->ice, heat / volume) : NAN;
  for (size_t i = 0; i < n; i++)
    if (x->volume[i] > 0.0)
      r.coldest = fmin(r.coldest, melt_inside_temperature(x->ice, x->heat[i] / x->volume[i]));
  r.heat_stored = x->images * (heat - s[FIRST_HEAT] + x->ice->latent_heat * (s[FIRST_MASS] / x->ice->density - volume));
  return r;
}
