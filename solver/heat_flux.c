#include "solver/heat_flux.h"

#include <stdbool.h>

#define ALWAYS_INLINE static inline __attribute__((always_inline))

enum { LANES = 8, CHUNK = 64 };

/* ---------------------------------------------------------------------------------------------- potential of enthalpy */

ALWAYS_INLINE void three_lines(const phase_curve *c, size_t begin, size_t end, const double *restrict enthalpy,
                               double *restrict potential)
{
  const double solid_end = c->solid_enthalpy, liquid_end = c->liquid_enthalpy;
  const double solid_slope = c->solid_potential_slope, liquid_slope = c->liquid_potential_slope;
  for (size_t i = begin; i < end; i++) {
    const double below = enthalpy[i] - solid_end, above = enthalpy[i] - liquid_end;
    potential[i] = solid_slope * (below < 0.0 ? below : 0.0) + liquid_slope * (above > 0.0 ? above : 0.0);
  }
}

/* In short loops of one decision each, so that all but the two reads from the table run in whole vectors. */
ALWAYS_INLINE void bins(const phase_curve *c, size_t begin, size_t end, const double *restrict enthalpy,
                        double *restrict potential)
{
  const double origin = c->origin, per_width = 1.0 / c->width, last = (double)(c->num_bins - 1);
  const double *restrict edge = c->potential;
  double past[CHUNK], held[CHUNK], low[CHUNK], high[CHUNK];
  int bin[CHUNK];
  for (size_t at = begin; at < end; at += CHUNK) {
    const size_t num = end - at < CHUNK ? end - at : CHUNK;
    for (size_t l = 0; l < num; l++) {
      past[l] = (enthalpy[at + l] - origin) * per_width;
      held[l] = past[l] < 0.0 ? 0.0 : past[l];
    }
    for (size_t l = 0; l < num; l++) {
      const int whole = (int)(held[l] > last ? last : held[l]);
      bin[l] = whole;
      past[l] -= (double)whole;
    }
    for (size_t l = 0; l < num; l++) {
      const double *at_bin = edge + bin[l];
      low[l] = at_bin[0];
      high[l] = at_bin[1];
    }
    for (size_t l = 0; l < num; l++)
      potential[at + l] = low[l] + (high[l] - low[l]) * past[l];
  }
}

ALWAYS_INLINE void run_of(const phase_curve *c, size_t begin, size_t end, const double *enthalpy, double *potential)
{
  if (!c)
    for (size_t i = begin; i < end; i++)
      potential[i] = 0.0;
  else if (c->three_lines)
    three_lines(c, begin, end, enthalpy, potential);
  else
    bins(c, begin, end, enthalpy, potential);
}

/* Whole vectors: a run is rounded up to LANES and spills into the next, which then overwrites what was spilled. */
static void spilling_run(const phase_curve *c, size_t begin, size_t end, size_t num, const double *enthalpy,
                         double *potential)
{
  const size_t rounded = begin + (end - begin + LANES - 1) / LANES * LANES;
  run_of(c, begin, rounded > num ? end : rounded, enthalpy, potential);
}

void heat_flux_potential(const heat_flux_run *runs, size_t num_runs, size_t num, const double *enthalpy, double *potential)
{
  if (num < HEAT_FLUX_THREADED) {
    for (size_t r = 0; r < num_runs; r++)
      spilling_run(runs[r].curve, runs[r].begin, runs[r].end, num, enthalpy, potential);
    return;
  }
#pragma omp parallel for schedule(static)
  for (size_t r = 0; r < num_runs; r++)
    run_of(runs[r].curve, runs[r].begin, runs[r].end, enthalpy, potential);
}

/* ------------------------------------------------------------------------------------------- the sweep over regular faces */

/* What row `row` needs: its own potentials and conductances, those of the rows beside, below and above. */
typedef struct {
  const double *u, *behind, *ahead, *below, *above;
  const double *x, *y_low, *y_high, *z_low, *z_high, *inverse_volume;
} row_view;

ALWAYS_INLINE row_view view(const heat_flux_rows *rows, const double *potential, size_t row)
{
  const size_t n = rows->num[0], plane = rows->num[1], num_rows = plane * rows->num[2];
  const size_t k = plane == 1 ? row : row / plane, j = row - k * plane;
  const double *u = potential + row * n;
  row_view v = {.u = u, .x = rows->conductance[0] ? rows->conductance[0][row] : rows->none, .inverse_volume = rows->inverse_volume[row]};
  const bool deep = rows->conductance[1] != NULL, tall = rows->conductance[2] != NULL;
  v.y_high = deep ? rows->conductance[1][row] : rows->none;
  v.y_low = deep && j > 0 ? rows->conductance[1][row - 1] : rows->none;
  v.z_high = tall ? rows->conductance[2][row] : rows->none;
  v.z_low = tall && k > 0 ? rows->conductance[2][row - plane] : rows->none;
  v.behind = j > 0 ? u - n : u; /* where there is no row, the conductance is zero */
  v.ahead = j + 1 < plane ? u + n : u;
  v.below = k > 0 ? u - plane * n : u;
  v.above = row + plane < num_rows ? u + plane * n : u;
  return v;
}

ALWAYS_INLINE double heat_into(const double *u, const double *behind, const double *ahead, const double *below,
                               const double *above, const double *x, const double *y_low, const double *y_high,
                               const double *z_low, const double *z_high, size_t i, bool deep)
{
  const double here = u[i];
  const double along = x[i + 1] * (*(u + i + 1) - here) - x[i] * (here - *(u + i - 1));
  const double upward = z_high[i + 1] * (above[i] - here) - z_low[i + 1] * (here - below[i]);
  if (!deep)
    return along + upward;
  return along + (y_high[i + 1] * (ahead[i] - here) - y_low[i + 1] * (here - behind[i])) + upward;
}

ALWAYS_INLINE void rate_row(const row_view *v, size_t n, bool deep, double *restrict rate)
{
  const double *restrict u = v->u, *restrict behind = v->behind, *restrict ahead = v->ahead, *restrict below = v->below,
               *restrict above = v->above, *restrict x = v->x, *restrict y_low = v->y_low, *restrict y_high = v->y_high,
               *restrict z_low = v->z_low, *restrict z_high = v->z_high, *restrict per_volume = v->inverse_volume;
  for (size_t i = 0; i < n; i++)
    rate[i] = per_volume[i] * heat_into(u, behind, ahead, below, above, x, y_low, y_high, z_low, z_high, i, deep);
}

ALWAYS_INLINE void stage_row(const row_view *v, size_t n, bool deep, const stage_weights *w, const double *restrict start,
                             const double *restrict start_rate, const double *restrict last, double *restrict next)
{
  const double *restrict u = v->u, *restrict behind = v->behind, *restrict ahead = v->ahead, *restrict below = v->below,
               *restrict above = v->above, *restrict x = v->x, *restrict y_low = v->y_low, *restrict y_high = v->y_high,
               *restrict z_low = v->z_low, *restrict z_high = v->z_high, *restrict per_volume = v->inverse_volume;
  const double mu = w->mu, nu = w->nu, rest = w->rest, by_rate = w->rate, by_start_rate = w->start_rate;
  for (size_t i = 0; i < n; i++) {
    const double rate = per_volume[i] * heat_into(u, behind, ahead, below, above, x, y_low, y_high, z_low, z_high, i, deep);
    next[i] = mu * last[i] + nu * next[i] + rest * start[i] + by_start_rate * start_rate[i] + by_rate * rate;
  }
}

static void one_rate_row(const heat_flux_rows *rows, const double *potential, size_t row, double *rate)
{
  const size_t n = rows->num[0];
  const row_view v = view(rows, potential, row);
  if (rows->conductance[1])
    rate_row(&v, n, true, rate + row * n);
  else
    rate_row(&v, n, false, rate + row * n);
}

static void one_stage_row(const heat_flux_rows *rows, const stage_weights *w, const double *potential, size_t row,
                          const double *start, const double *start_rate, const double *last, double *next)
{
  const size_t n = rows->num[0], at = row * n;
  const row_view v = view(rows, potential, row);
  if (rows->conductance[1])
    stage_row(&v, n, true, w, start + at, start_rate + at, last + at, next + at);
  else
    stage_row(&v, n, false, w, start + at, start_rate + at, last + at, next + at);
}

/* Below HEAT_FLUX_THREADED no parallel region is entered at all: even one of a single thread costs time and memory. */

void heat_flux_rate(const heat_flux_rows *rows, const double *potential, double *rate)
{
  const size_t num_rows = rows->num[1] * rows->num[2];
  if (rows->num[0] * num_rows < HEAT_FLUX_THREADED) {
    for (size_t row = 0; row < num_rows; row++)
      one_rate_row(rows, potential, row, rate);
    return;
  }
#pragma omp parallel for schedule(static)
  for (size_t row = 0; row < num_rows; row++)
    one_rate_row(rows, potential, row, rate);
}

void heat_flux_stage(const heat_flux_rows *rows, const stage_weights *w, const double *potential, const double *start,
                     const double *start_rate, const double *last, double *next)
{
  const size_t num_rows = rows->num[1] * rows->num[2];
  if (rows->num[0] * num_rows < HEAT_FLUX_THREADED) {
    for (size_t row = 0; row < num_rows; row++)
      one_stage_row(rows, w, potential, row, start, start_rate, last, next);
    return;
  }
#pragma omp parallel for schedule(static)
  for (size_t row = 0; row < num_rows; row++)
    one_stage_row(rows, w, potential, row, start, start_rate, last, next);
}
