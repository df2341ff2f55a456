#include "solver/heat_flux.h"

#include <omp.h>
#include <stdbool.h>
#include <string.h>

#define KERNEL __attribute__((noinline))
#define ALWAYS_INLINE static inline __attribute__((always_inline))

enum { LANES = 8, CHUNK = 64 };

/* Threads of one sweep: as many as allowed and as there is room for. */
static int num_threads_of_sweep(void)
{
  const int allowed = omp_get_max_threads();
  return allowed < HEAT_FLUX_MOST_THREADS ? allowed : HEAT_FLUX_MOST_THREADS;
}

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

/* Vectors for the one place where a plain loop is not enough: two reads per node from a table. */
typedef double pair __attribute__((vector_size(16)));
typedef double four __attribute__((vector_size(32)));
typedef double eight __attribute__((vector_size(64)));
typedef double pair_in_table __attribute__((vector_size(16), aligned(8), may_alias));
typedef double eight_in_row __attribute__((vector_size(64), aligned(8), may_alias));

/* Both edges of the bins bin[0], bin[2], bin[4], bin[6], one after the other: four reads of 16 bytes. */
ALWAYS_INLINE eight every_other_bin(const double *edge, const int *bin)
{
  const pair a = *(const pair_in_table *)(edge + bin[0]), b = *(const pair_in_table *)(edge + bin[2]);
  const pair c = *(const pair_in_table *)(edge + bin[4]), d = *(const pair_in_table *)(edge + bin[6]);
  const four ab = __builtin_shufflevector(a, b, 0, 1, 2, 3), cd = __builtin_shufflevector(c, d, 0, 1, 2, 3);
  return __builtin_shufflevector(ab, cd, 0, 1, 2, 3, 4, 5, 6, 7);
}

/* Per node 8 bytes read, 8 written, 16 from the table (in cache); 6 operations and a conversion there and back. */
ALWAYS_INLINE void bins(const phase_curve *c, size_t begin, size_t end, const double *restrict enthalpy,
                        double *restrict potential)
{
  const double origin = c->origin, per_width = 1.0 / c->width, last = (double)(c->num_bins - 1);
  const double *restrict edge = c->potential;
  double past[CHUNK];
  int bin[CHUNK];
  for (size_t at = begin; at < end; at += CHUNK) {
    const size_t num = end - at < CHUNK ? end - at : CHUNK;
    for (size_t l = 0; l < num; l++) {
      const double place = (enthalpy[at + l] - origin) * per_width, held = place < 0.0 ? 0.0 : place;
      const int whole = (int)(held > last ? last : held);
      bin[l] = whole;
      past[l] = place - (double)whole;
    }
    size_t l = 0;
    for (; l + LANES <= num; l += LANES) {
      const eight even = every_other_bin(edge, bin + l), odd = every_other_bin(edge, bin + l + 1);
      const eight low = __builtin_shufflevector(even, odd, 0, 8, 2, 10, 4, 12, 6, 14);
      const eight high = __builtin_shufflevector(even, odd, 1, 9, 3, 11, 5, 13, 7, 15);
      const eight share = *(const eight_in_row *)(past + l);
      *(eight_in_row *)(potential + at + l) = low + (high - low) * share;
    }
    for (; l < num; l++)
      potential[at + l] = edge[bin[l]] + (edge[bin[l] + 1] - edge[bin[l]]) * past[l];
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

/* Potentials of nodes [begin, end) into potential[0 ..]. *run lies at or before begin and is moved on to the end. Whole vectors: a run is
 * rounded up to LANES and spills into the next, which then overwrites what was spilled; the last one spills up to `spare` further. */
static void potentials_of(const heat_flux_run **run, size_t begin, size_t end, size_t spare, const double *enthalpy, double *potential)
{
  for (size_t at = begin; at < end;) {
    while ((*run)->end <= at)
      ++*run;
    const size_t stop = (*run)->end < end ? (*run)->end : end, num = stop - at, rounded = (num + LANES - 1) / LANES * LANES;
    run_of((*run)->curve, 0, at + rounded > end + spare ? num : rounded, enthalpy + at, potential + (at - begin));
    at = stop;
  }
}

static size_t first_ramp_from(const heat_flux_nodes *nodes, size_t node)
{
  size_t low = 0, high = nodes->num_ramps;
  while (low < high) {
    const size_t middle = low + (high - low) / 2;
    if ((size_t)nodes->ramps[middle].node < node)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

/* Replaces the potentials of nodes [begin, end), given in potential[0 ..], where the front runs through them. *ramp is the first one from
 * begin and is moved on to end. Few nodes: no need of vectors. */
static void ramps_of(const heat_flux_nodes *nodes, size_t *ramp, size_t begin, size_t end, const double *enthalpy, double *potential)
{
  for (; *ramp < nodes->num_ramps && (size_t)nodes->ramps[*ramp].node < end; ++*ramp) {
    const heat_flux_ramp *r = &nodes->ramps[*ramp];
    const double f = (r->begin - enthalpy[r->node]) * r->per_range;
    if (!(f > 0.0 && f < 1.0))
      continue;
    const double late = f - r->from_late, early = r->to_early - f;
    potential[(size_t)r->node - begin] = r->middle - r->late_slope * (late > 0.0 ? late : 0.0) + r->early_slope * (early > 0.0 ? early : 0.0);
  }
}

void heat_flux_potential(const heat_flux_nodes *nodes, const double *enthalpy, double *potential)
{
  const heat_flux_run *run = nodes->runs;
  potentials_of(&run, 0, nodes->num, 0, enthalpy, potential);
}

static const heat_flux_run *run_at(const heat_flux_nodes *nodes, size_t node)
{
  size_t low = 0, high = nodes->num_runs;
  while (high - low > 1) {
    const size_t middle = low + (high - low) / 2;
    if (nodes->runs[middle].begin <= node)
      low = middle;
    else
      high = middle;
  }
  return nodes->runs + low;
}

/* ------------------------------------------------------------------------------------------- the sweep over regular faces */

/* A slab is a plane of cells, or in one plane a row. Of each thread's slabs only the potentials of three are ever held, in turn, so that
 * they stay in cache; what entries need of them is copied out. */
enum { HELD = 3 };

/* What a row needs: its potentials and those of the row ahead and of the slabs below and above, the conductances of the faces towards
 * them (aligned with the cells, but x, which begins with the face below the first cell), and the heat that the row behind sent through
 * the faces between: those are worked out once and carried on. */
typedef struct {
  const double *u, *ahead, *below, *above;
  const double *x, *towards, *z_low, *z_high, *inverse_volume;
  double *carried;
} row_view;

/* A sweep: potentials of `enthalpy`, then the rate of it, or a stage with it as the last but one. */
typedef struct {
  const heat_flux_rows *rows;
  const heat_flux_nodes *nodes;
  const double *enthalpy;
  double *potential;
  const stage_weights *weights; /* NULL: target is the rate */
  const double *start, *start_rate;
  double *target;
} sweep;

/* One thread's slabs [first, end), and its place in the runs and in the nodes that entries need. */
typedef struct {
  size_t first, end;
  double *held, *carried;
  const heat_flux_run *run;
  size_t needed, ramp;
} share;

ALWAYS_INLINE bool is_deep(const heat_flux_rows *rows)
{
  return rows->conductance[1] != NULL;
}

static size_t slab_size(const heat_flux_rows *rows)
{
  return rows->num[0] * rows->num[1];
}

size_t heat_flux_scratch(const size_t num[3])
{
  return HELD * (num[0] * num[1] + 2 * LANES) + num[0];
}

static double *held_slab(const sweep *s, const share *x, size_t slab)
{
  return x->held + slab % HELD * (slab_size(s->rows) + 2 * LANES) + LANES;
}

/* Where there is no row, the conductance is zero and any potential will do. */
ALWAYS_INLINE row_view view(const sweep *s, const share *x, size_t slab, size_t j)
{
  const heat_flux_rows *rows = s->rows;
  const size_t n = rows->num[0], plane = rows->num[1], row = slab * plane + j;
  const bool deep = is_deep(rows), tall = rows->conductance[2] != NULL;
  const double *u = held_slab(s, x, slab) + j * n, *const *between = rows->conductance[deep ? 1 : 2];
  row_view v = {.u = u, .inverse_volume = rows->inverse_volume[row], .carried = x->carried};
  v.x = rows->conductance[0] ? rows->conductance[0][row] : rows->none;
  v.below = slab > 0 ? held_slab(s, x, slab - 1) + j * n : u;
  v.above = slab + 1 < rows->num[2] ? held_slab(s, x, slab + 1) + j * n : u;
  v.ahead = !deep ? v.above : j + 1 < plane ? u + n : u;
  v.towards = (between ? between[row] : rows->none) + 1;
  v.z_high = (tall ? rows->conductance[2][row] : rows->none) + 1;
  v.z_low = (tall && slab > 0 ? rows->conductance[2][row - plane] : rows->none) + 1;
  return v;
}

/* Divergence of cell i: into it along the row, from ahead and behind, from above and below. */
ALWAYS_INLINE double heat_into(const double *restrict u, const double *restrict ahead, const double *restrict below,
                               const double *restrict above, const double *restrict x, const double *restrict towards,
                               const double *restrict z_low, const double *restrict z_high, double *restrict carried, size_t i,
                               bool deep)
{
  const double here = u[i];
  const double along = x[i + 1] * (*(u + i + 1) - here) - x[i] * (here - *(u + i - 1));
  const double in = towards[i] * (ahead[i] - here), out = carried[i];
  carried[i] = in;
  if (!deep)
    return along + (in - out);
  return along + (in - out) + (z_high[i] * (above[i] - here) - z_low[i] * (here - below[i]));
}

/* Per cell 8 bytes read (the enthalpy, for the potential), 8 written; conductances and potentials lie in cache; 11 operations in a
 * plane, 17 in space. Vectors of four: longer ones cross a cache line at every unaligned read, and most reads are. */
ALWAYS_INLINE void rate_row(const row_view *v, size_t n, bool deep, double *restrict rate)
{
  const double *restrict u = v->u, *restrict ahead = v->ahead, *restrict below = v->below, *restrict above = v->above,
               *restrict x = v->x, *restrict towards = v->towards, *restrict z_low = v->z_low, *restrict z_high = v->z_high,
               *restrict per_volume = v->inverse_volume;
  double *restrict carried = v->carried;
#pragma omp simd simdlen(4)
  for (size_t i = 0; i < n; i++)
    rate[i] = per_volume[i] * heat_into(u, ahead, below, above, x, towards, z_low, z_high, carried, i, deep);
}

/* Per cell 32 bytes read (last, next, start, start_rate), 8 written; 20 operations in a plane, 26 in space. */
ALWAYS_INLINE void stage_row(const row_view *v, size_t n, bool deep, const stage_weights *w, const double *restrict start,
                             const double *restrict start_rate, const double *restrict last, double *restrict next)
{
  const double *restrict u = v->u, *restrict ahead = v->ahead, *restrict below = v->below, *restrict above = v->above,
               *restrict x = v->x, *restrict towards = v->towards, *restrict z_low = v->z_low, *restrict z_high = v->z_high,
               *restrict per_volume = v->inverse_volume;
  double *restrict carried = v->carried;
  const double mu = w->mu, nu = w->nu, rest = w->rest, by_rate = w->rate, by_start_rate = w->start_rate;
#pragma omp simd simdlen(4)
  for (size_t i = 0; i < n; i++) {
    const double rate = per_volume[i] * heat_into(u, ahead, below, above, x, towards, z_low, z_high, carried, i, deep);
    next[i] = mu * last[i] + nu * next[i] + rest * start[i] + by_start_rate * start_rate[i] + by_rate * rate;
  }
}

/* One compiled loop for each kind of row; not inlined, so that each has the registers to itself. */
static KERNEL void rate_row_in_plane(const row_view *v, size_t n, double *restrict rate)
{
  rate_row(v, n, false, rate);
}

static KERNEL void rate_row_in_space(const row_view *v, size_t n, double *restrict rate)
{
  rate_row(v, n, true, rate);
}

static KERNEL void stage_row_in_plane(const row_view *v, size_t n, const stage_weights *w, const double *restrict start,
                                      const double *restrict start_rate, const double *restrict last, double *restrict next)
{
  stage_row(v, n, false, w, start, start_rate, last, next);
}

static KERNEL void stage_row_in_space(const row_view *v, size_t n, const stage_weights *w, const double *restrict start,
                                      const double *restrict start_rate, const double *restrict last, double *restrict next)
{
  stage_row(v, n, true, w, start, start_rate, last, next);
}

static void sweep_row(const sweep *s, const share *x, size_t slab, size_t j)
{
  const heat_flux_rows *rows = s->rows;
  const size_t n = rows->num[0], at = (slab * rows->num[1] + j) * n;
  const row_view v = view(s, x, slab, j);
  if (s->weights && is_deep(rows))
    stage_row_in_space(&v, n, s->weights, s->start + at, s->start_rate + at, s->enthalpy + at, s->target + at);
  else if (s->weights)
    stage_row_in_plane(&v, n, s->weights, s->start + at, s->start_rate + at, s->enthalpy + at, s->target + at);
  else if (is_deep(rows))
    rate_row_in_space(&v, n, s->target + at);
  else
    rate_row_in_plane(&v, n, s->target + at);
}

static void sweep_slab(const sweep *s, const share *x, size_t slab)
{
  if (is_deep(s->rows))
    memset(x->carried, 0, s->rows->num[0] * sizeof *x->carried);
  for (size_t j = 0; j < s->rows->num[1]; j++)
    sweep_row(s, x, slab, j);
}

/* Finds the potentials of a slab; the share's own ones are copied out where entries need them. */
static void hold_slab(const sweep *s, share *x, size_t slab)
{
  const size_t begin = slab * slab_size(s->rows), end = begin + slab_size(s->rows), left = s->nodes->num - end;
  double *held = held_slab(s, x, slab);
  potentials_of(&x->run, begin, end, left < LANES ? left : LANES, s->enthalpy, held);
  ramps_of(s->nodes, &x->ramp, begin, end, s->enthalpy, held);
  if (slab < x->first || slab >= x->end)
    return;
  for (; x->needed < s->nodes->num_needed && (size_t)s->nodes->needed[x->needed] < end; x->needed++)
    s->potential[s->nodes->needed[x->needed]] = held[(size_t)s->nodes->needed[x->needed] - begin];
}

static size_t first_needed_from(const heat_flux_nodes *nodes, size_t node)
{
  size_t low = 0, high = nodes->num_needed;
  while (low < high) {
    const size_t middle = low + (high - low) / 2;
    if ((size_t)nodes->needed[middle] < node)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

/* Heat sent through the faces below the first slab of a share in one plane. */
static void begin_carried(const sweep *s, const share *x)
{
  const size_t n = s->rows->num[0];
  memset(x->carried, 0, n * sizeof *x->carried);
  if (is_deep(s->rows) || x->first == 0)
    return;
  const row_view v = view(s, x, x->first, 0);
  for (size_t i = 0; i < n; i++)
    x->carried[i] = v.z_low[i] * (v.u[i] - v.below[i]);
}

/* Slabs one after the other, potentials one slab ahead. Those beside the share are found here too, once more: same operands, same bits. */
static void sweep_share(const sweep *s, size_t thread, size_t num_threads)
{
  const size_t num_slabs = s->rows->num[2], size = slab_size(s->rows);
  share x = {.first = thread * num_slabs / num_threads, .end = (thread + 1) * num_slabs / num_threads};
  if (x.first == x.end)
    return;
  x.held = s->rows->scratch + thread * heat_flux_scratch(s->rows->num);
  x.carried = x.held + HELD * (size + 2 * LANES);
  x.run = run_at(s->nodes, x.first > 0 ? (x.first - 1) * size : 0);
  x.needed = first_needed_from(s->nodes, x.first * size);
  x.ramp = first_ramp_from(s->nodes, x.first > 0 ? (x.first - 1) * size : 0);
  if (x.first > 0)
    hold_slab(s, &x, x.first - 1);
  hold_slab(s, &x, x.first);
  begin_carried(s, &x);
  for (size_t slab = x.first; slab < x.end; slab++) {
    if (slab + 1 < num_slabs)
      hold_slab(s, &x, slab + 1);
    sweep_slab(s, &x, slab);
  }
}

/* The nodes that are not cells of the grid. */
static void further_potentials(const sweep *s)
{
  const size_t begin = slab_size(s->rows) * s->rows->num[2];
  const heat_flux_run *run = run_at(s->nodes, begin);
  size_t ramp = first_ramp_from(s->nodes, begin);
  potentials_of(&run, begin, s->nodes->num, 0, s->enthalpy, s->potential + begin);
  ramps_of(s->nodes, &ramp, begin, s->nodes->num, s->enthalpy, s->potential + begin);
}

/* Below HEAT_FLUX_THREADED no parallel region is entered at all: even one of a single thread costs time and memory. */
static void sweep_all(const sweep *s)
{
  further_potentials(s);
  const int num_threads = s->nodes->num < HEAT_FLUX_THREADED ? 1 : num_threads_of_sweep();
  if (num_threads == 1) {
    sweep_share(s, 0, 1);
    return;
  }
#pragma omp parallel num_threads(num_threads)
  sweep_share(s, (size_t)omp_get_thread_num(), (size_t)omp_get_num_threads());
}

void heat_flux_rate(const heat_flux_rows *rows, const heat_flux_nodes *nodes, const double *enthalpy, double *potential, double *rate)
{
  const sweep s = {.rows = rows, .nodes = nodes, .enthalpy = enthalpy, .potential = potential, .target = rate};
  sweep_all(&s);
}

void heat_flux_stage(const heat_flux_rows *rows, const heat_flux_nodes *nodes, const stage_weights *w, double *potential,
                     const double *start, const double *start_rate, const double *last, double *next)
{
  const sweep s = {.rows = rows, .nodes = nodes, .enthalpy = last, .potential = potential, .weights = w, .start = start,
                   .start_rate = start_rate, .target = next};
  sweep_all(&s);
}
