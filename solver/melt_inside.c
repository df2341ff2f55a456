#include "solver/melt_parts.h"

#include <float.h>
#include <math.h>
#include <string.h>

static const double COLD = 0.02;  /* K below the melting point from which ice conducts at all */
static const double EQUAL = 1e-9; /* relative: amounts that differ by less are equal */

/* ---- heat and temperature of ice ---- */

/* J per m3 at a temperature, 0 at the melting point, negative below. */
double melt_inside_cold(const material *ice, double temperature)
{
  const phase_curve *c = &ice->curve;
  return temperature < c->freezing_temperature ? phase_curve_enthalpy(c, temperature) - c->solid_enthalpy : 0.0;
}

double melt_inside_temperature(const material *ice, double heat_per_volume)
{
  return phase_curve_temperature(&ice->curve, ice->curve.solid_enthalpy + fmin(heat_per_volume, 0.0));
}

static double potential_of(const material *ice, double heat_per_volume)
{
  return phase_curve_potential(&ice->curve, ice->curve.solid_enthalpy + fmin(heat_per_volume, 0.0));
}

double melt_inside_sum(const double *a, size_t n)
{
  double s = 0.0;
  for (size_t i = 0; i < n; i++)
    s += a[i];
  return s;
}

/* ---- where the heat sits: hosts, temperatures ---- */

bool melt_inside_neighbour(const grid *g, size_t cell, int axis, int side, size_t *other)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  if (side ? at[axis] + 1 >= g->num[axis] : at[axis] == 0)
    return false;
  at[axis] = side ? at[axis] + 1 : at[axis] - 1;
  *other = grid_cell(g, at[0], at[1], at[2]);
  return true;
}

/* The side of a cell along an axis that counts first: towards a mirror plane, else towards the middle of the grid, so that half a piece and the
 * whole choose alike. */
static int first_side(const grid *g, const size_t at[3], int axis)
{
  if (g->mirror[2 * axis] != g->mirror[2 * axis + 1])
    return g->mirror[2 * axis] ? 0 : 1;
  return 2 * at[axis] + 1 < g->num[axis] ? 1 : 0;
}

/* The neighbour with the most of `ice`, at least `least` of it; of those with equally much the first. MELT_NO_CELL: none. */
static int32_t most_ice_beside(const grid *g, size_t cell, const double *ice, double least)
{
  int32_t best = MELT_NO_CELL;
  size_t at[3], other;
  grid_cell_indices(g, cell, at);
  for (int axis = 0; axis < 3; axis++) {
    const int first = first_side(g, at, axis);
    for (int turn = 0; turn < 2; turn++)
      if (melt_inside_neighbour(g, cell, axis, turn ? 1 - first : first, &other) && ice[other] >= least
          && (best == MELT_NO_CELL || ice[other] > ice[best] * (1.0 + EQUAL)))
        best = (int32_t)other;
  }
  return best;
}

/* The host of a cell that is less than half full. */
static int32_t choose_host(const melt *x, size_t cell) { return most_ice_beside(x->grid, cell, x->surface.share, 0.5); }

size_t melt_inside_owner(const melt *x, size_t cell) { return x->host[cell] == MELT_NO_CELL ? cell : (size_t)x->host[cell]; }

static void sum_lumps(melt *x)
{
  for (size_t i = 0; i < x->num_cells; i++)
    x->lumped[i] = x->volume[i];
  for (size_t i = 0; i < x->num_cells; i++)
    if (x->host[i] != MELT_NO_CELL) {
      x->lumped[x->host[i]] += x->lumped[i];
      x->lumped[i] = 0.0;
    }
}

void melt_inside_place(melt *x)
{
  const size_t n = x->num_cells;
  for (size_t i = 0; i < n; i++)
    x->host[i] = x->surface.share[i] > 0.0 && x->surface.share[i] < 0.5 ? choose_host(x, i) : MELT_NO_CELL;
  sum_lumps(x);
  for (size_t i = 0; i < n; i++)
    if (x->host[i] != MELT_NO_CELL) {
      x->heat[x->host[i]] += x->heat[i];
      x->heat[i] = 0.0;
    }
  for (size_t i = 0; i < n; i++)
    x->temperature[i] = x->lumped[i] > 0.0 ? melt_inside_temperature(x->ice, x->heat[i] / x->lumped[i]) : NAN;
  for (size_t i = 0; i < n; i++)
    if (x->host[i] != MELT_NO_CELL)
      x->temperature[i] = x->temperature[x->host[i]];
}

/* Heat of cells that share a temperature goes back to where the ice is now. */
void melt_inside_return(melt *x)
{
  sum_lumps(x);
  for (size_t i = 0; i < x->num_cells; i++) {
    const int32_t h = x->host[i];
    if (h == MELT_NO_CELL || x->volume[i] <= 0.0)
      continue;
    const double part = x->heat[h] * (x->volume[i] / x->lumped[h]);
    x->heat[i] = part;
    x->heat[h] -= part;
    x->lumped[h] -= x->volume[i];
  }
}

double melt_inside_coldest(const melt *x)
{
  double least = 0.0;
  for (size_t i = 0; i < x->num_cells; i++)
    if (x->lumped[i] > 0.0)
      least = fmin(least, x->heat[i] / x->lumped[i]);
  return least;
}

/* A cell whose ice has gone leaves its heat to a neighbour with ice, else to all. What ice there is left in a cell cannot be colder than `least`: the cold of
 * what melted of it is shared by all, too; a sliver would keep that of a whole cell. */
void melt_inside_settle(melt *x, double least)
{
  double homeless = 0.0;
  for (size_t i = 0; i < x->num_cells; i++) {
    if (x->heat[i] == 0.0 || x->volume[i] > 0.0)
      continue;
    const int32_t best = most_ice_beside(x->grid, i, x->volume, DBL_MIN);
    *(best == MELT_NO_CELL ? &homeless : &x->heat[best]) += x->heat[i];
    x->heat[i] = 0.0;
  }
  for (size_t i = 0; i < x->num_cells; i++)
    if (x->heat[i] < least * x->volume[i]) {
      homeless += x->heat[i] - least * x->volume[i];
      x->heat[i] = least * x->volume[i];
    }
  const double volume = melt_inside_sum(x->volume, x->num_cells);
  if (volume <= 0.0)
    x->heat[0] += homeless; /* the last ice has gone; the books keep what it lacked */
  for (size_t i = 0; volume > 0.0 && homeless != 0.0 && i < x->num_cells; i++)
    x->heat[i] += homeless * (x->volume[i] / volume);
}

/* ---- conduction inside ---- */

double melt_inside_extent(const grid *g, size_t cell, int axis)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  return g->edges[axis][at[axis] + 1] - g->edges[axis][at[axis]];
}

void melt_inside_link(melt *x)
{
  const grid *g = x->grid;
  const double *share = x->surface.share;
  size_t at[3];
  x->num_links = 0;
  for (size_t i = 0; i < x->num_cells; i++) {
    if (share[i] <= 0.0)
      continue;
    grid_cell_indices(g, i, at);
    for (int axis = 0; axis < 3; axis++) {
      size_t other;
      if (!melt_inside_neighbour(g, i, axis, 1, &other) || share[other] <= 0.0 || melt_inside_owner(x, i) == melt_inside_owner(x, other))
        continue;
      const double open = fmin(share[i], share[other]) * grid_face_area(g, axis, 1, at[0], at[1], at[2]);
      const double apart = 0.5 * (melt_inside_extent(g, i, axis) + melt_inside_extent(g, other, axis));
      x->links[x->num_links++] = (ice_link){(int32_t)melt_inside_owner(x, i), (int32_t)melt_inside_owner(x, other), open / apart};
    }
  }
}

/* Rate of heat, W, by conduction alone. */
static void conduct(const melt *x, const double *heat, double *rate)
{
  memset(rate, 0, x->num_cells * sizeof *rate);
  for (size_t i = 0; i < x->num_links; i++) {
    const ice_link *l = &x->links[i];
    const double low = potential_of(x->ice, heat[l->low] / x->lumped[l->low]);
    const double q = l->conductance * (low - potential_of(x->ice, heat[l->high] / x->lumped[l->high]));
    rate[l->low] -= q;
    rate[l->high] += q;
  }
}

/* Longest step, s, of plain explicit conduction. */
static double explicit_limit(melt *x)
{
  double *out = x->now, limit = INFINITY;
  memset(out, 0, x->num_cells * sizeof *out);
  for (size_t i = 0; i < x->num_links; i++) {
    out[x->links[i].low] += x->links[i].conductance;
    out[x->links[i].high] += x->links[i].conductance;
  }
  const double steepest = phase_curve_steepest(&x->ice->curve, -60.0, x->ice->curve.freezing_temperature - 1e-3);
  for (size_t i = 0; i < x->num_cells; i++)
    if (out[i] > 0.0)
      limit = fmin(limit, x->lumped[i] / (out[i] * steepest));
  return limit;
}

/* RKL1 with s stages is stable up to (s^2 + s) / 2 explicit steps; half of that is taken. */
static double stages_reach(int stages, double limit) { return 0.25 * limit * (double)(stages * stages + stages); }

static int stages_for(double step, double limit)
{
  int s = 2;
  while (s < MELT_STAGES_MOST && step > stages_reach(s, limit))
    s++;
  return s;
}

double melt_inside_longest(melt *x) { return stages_reach(MELT_STAGES_MOST, explicit_limit(x)); }

void melt_inside_warm(melt *x, double step)
{
  const size_t n = x->num_cells;
  const int stages = stages_for(step, explicit_limit(x));
  const double w = 2.0 / (double)(stages * stages + stages), *source = x->source;
  double *rate = x->rate, *before = x->before, *now = x->now, *start = x->start;
  memcpy(start, x->heat, n * sizeof *start);
  conduct(x, start, rate);
  for (size_t i = 0; i < n; i++) {
    before[i] = start[i];
    now[i] = start[i] + w * (step * rate[i] + source[i]);
  }
  for (int j = 2; j <= stages; j++) {
    const double mu = (2.0 * j - 1.0) / j, nu = (1.0 - j) / j;
    conduct(x, now, rate);
    for (size_t i = 0; i < n; i++) {
      const double next = mu * now[i] + nu * before[i] + mu * w * (step * rate[i] + source[i]);
      before[i] = now[i];
      now[i] = next;
    }
  }
  memcpy(x->heat, now, n * sizeof *now);
}

bool melt_inside_is_cold(const melt *x)
{
  for (size_t i = 0; i < x->num_cells; i++)
    if (x->lumped[i] > 0.0 && x->temperature[i] < x->ice->curve.freezing_temperature - COLD)
      return true;
  return false;
}

