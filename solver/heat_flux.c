#include "solver/heat_flux.h"

#include <omp.h>
#include <stdbool.h>
#include <string.h>

#define KERNEL __attribute__((noinline))
#define ALWAYS_INLINE static inline __attribute__((always_inline))

enum { LANES = HEAT_POTENTIAL_SPARE };

/* Threads of one sweep: as many as allowed and as there is room for. */
static int num_threads_of_sweep(void)
{
  const int allowed = omp_get_max_threads();
  return allowed < HEAT_FLUX_MOST_THREADS ? allowed : HEAT_FLUX_MOST_THREADS;
}

/* ------------------------------------------------------------------------------------------- rows */

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

/* One way through the slabs: potentials of `enthalpy`, then the rate of it, or the stage with it as the last but one. */
typedef struct {
  const heat_flux_rows *rows;
  const heat_potential_nodes *nodes;
  const double *enthalpy;
  const stage_weights *weights; /* NULL: target is the rate */
  const double *start, *start_rate;
  double *target;
} sweep;

/* What one thread holds of a sweep: the potentials of three slabs, the next place to find more, the heat carried from row to row. */
typedef struct {
  const sweep *s;
  heat_potential next;
  double *held, *carried;
} passage;

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
  return 2 * (HELD * (num[0] * num[1] + 2 * LANES) + num[0]);
}

/* Memory for the passage `number` (0 or 1) of a thread through the slabs [slab, end); others may be writing elsewhere. */
static passage passage_of(const sweep *s, size_t slab, size_t end, int thread, int number)
{
  const size_t size = heat_flux_scratch(s->rows->num), readable = end < s->rows->num[2] ? end * slab_size(s->rows) : s->nodes->num;
  double *held = s->rows->scratch + (size_t)thread * size + (size_t)number * (size / 2);
  return (passage){.s = s, .next = heat_potential_from(s->nodes, slab * slab_size(s->rows), readable), .held = held,
                   .carried = held + HELD * (slab_size(s->rows) + 2 * LANES)};
}

static double *held_slab(const passage *x, size_t slab)
{
  return x->held + slab % HELD * (slab_size(x->s->rows) + 2 * LANES) + LANES;
}

/* Finds the potentials of a slab: called for slabs in order. */
static void hold_slab(passage *x, size_t slab)
{
  const size_t size = slab_size(x->s->rows);
  if (slab < x->s->rows->num[2])
    heat_potential_next(&x->next, slab * size, (slab + 1) * size, x->s->enthalpy, held_slab(x, slab));
}

/* The potentials of a slab and of those below and above it; at an end, where conductances are zero, any will do. */
typedef struct {
  const double *here, *below, *above;
} slab_view;

static slab_view view_slab(const passage *x, size_t slab)
{
  const double *here = held_slab(x, slab);
  return (slab_view){.here = here, .below = slab > 0 ? held_slab(x, slab - 1) : here,
                     .above = slab + 1 < x->s->rows->num[2] ? held_slab(x, slab + 1) : here};
}

/* Where there is no row, the conductance is zero and any potential will do. */
ALWAYS_INLINE row_view view(const passage *x, const slab_view *at, size_t slab, size_t j, bool deep)
{
  const heat_flux_rows *rows = x->s->rows;
  const size_t n = rows->num[0], plane = rows->num[1], row = slab * plane + j;
  const bool tall = rows->conductance[2] != NULL;
  const double *u = at->here + j * n, *above = at->above + j * n, *const *between = rows->conductance[deep ? 1 : 2];
  return (row_view){.u = u, .above = above, .below = at->below + j * n, .ahead = !deep ? above : j + 1 < plane ? u + n : u,
                    .inverse_volume = rows->inverse_volume[row], .carried = x->carried,
                    .x = rows->conductance[0] ? rows->conductance[0][row] : rows->none,
                    .towards = (between ? between[row] : rows->none) + 1,
                    .z_high = (tall ? rows->conductance[2][row] : rows->none) + 1,
                    .z_low = (tall && slab > 0 ? rows->conductance[2][row - plane] : rows->none) + 1};
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

/* Cells [from, n). Per cell 32 bytes read (last, next, start, start_rate), 8 written; 20 operations in a plane, 26 in space. */
ALWAYS_INLINE void stage_row(const row_view *v, size_t from, size_t n, bool deep, const stage_weights *w, const double *restrict start,
                             const double *restrict start_rate, const double *restrict last, double *restrict next)
{
  const double *restrict u = v->u, *restrict ahead = v->ahead, *restrict below = v->below, *restrict above = v->above,
               *restrict x = v->x, *restrict towards = v->towards, *restrict z_low = v->z_low, *restrict z_high = v->z_high,
               *restrict per_volume = v->inverse_volume;
  double *restrict carried = v->carried;
  const double mu = w->mu, nu = w->nu, rest = w->rest, by_rate = w->rate, by_start_rate = w->start_rate;
#pragma omp simd simdlen(4)
  for (size_t i = from; i < n; i++) {
    const double rate = per_volume[i] * heat_into(u, ahead, below, above, x, towards, z_low, z_high, carried, i, deep);
    next[i] = mu * last[i] + nu * next[i] + rest * start[i] + by_start_rate * start_rate[i] + by_rate * rate;
  }
}

/* In a plane reads bound a row, not operations: every potential along the row and every flux along it is read or found once, four at a
 * time, and handed on in registers: 10 reads for four cells, not 15. (In space there are too few registers for it.) */
typedef double four __attribute__((vector_size(32)));
typedef double four_in_row __attribute__((vector_size(32), aligned(8), may_alias));
enum { FOUR = 4 };

ALWAYS_INLINE four read_four(const double *at)
{
  return *(const four_in_row *)at;
}

ALWAYS_INLINE void write_four(double *at, four values)
{
  *(four_in_row *)at = values;
}

/* The same bits as stage_row for the whole fours of the row; returns where they end. Nothing comes through the face below the first cell. */
ALWAYS_INLINE size_t stage_fours(const row_view *shared, size_t n, const stage_weights *weights, const double *start,
                                 const double *start_rate, const double *last, double *next)
{
  const row_view v = *shared;
  const stage_weights w = *weights;
  four here = read_four(v.u), lower = {0.0};
  size_t i = 0;
  for (; i + FOUR <= n; i += FOUR) {
    const four beyond = read_four(v.u + i + FOUR), up = __builtin_shufflevector(here, beyond, 1, 2, 3, 4);
    const four upper = read_four(v.x + i + 1) * (up - here), along = upper - __builtin_shufflevector(lower, upper, 3, 4, 5, 6);
    const four in = read_four(v.towards + i) * (read_four(v.ahead + i) - here), out = read_four(v.carried + i);
    const four rate = read_four(v.inverse_volume + i) * (along + (in - out));
    write_four(next + i, w.mu * read_four(last + i) + w.nu * read_four(next + i) + w.rest * read_four(start + i) +
                             w.start_rate * read_four(start_rate + i) + w.rate * rate);
    write_four(v.carried + i, in);
    here = beyond;
    lower = upper;
  }
  return i;
}

/* One compiled loop for each kind of row; not inlined, so that each has the registers to itself. */
static KERNEL void rate_row_in_plane(const row_view *v, size_t n, double *rate)
{
  rate_row(v, n, false, rate);
}

static KERNEL void rate_row_in_space(const row_view *v, size_t n, double *rate)
{
  rate_row(v, n, true, rate);
}

static KERNEL void stage_row_in_plane(const row_view *v, size_t n, const stage_weights *w, const double *start,
                                      const double *start_rate, const double *last, double *next)
{
  stage_row(v, stage_fours(v, n, w, start, start_rate, last, next), n, false, w, start, start_rate, last, next);
}

static KERNEL void stage_row_in_space(const row_view *v, size_t n, const stage_weights *w, const double *start,
                                      const double *start_rate, const double *last, double *next)
{
  stage_row(v, 0, n, true, w, start, start_rate, last, next);
}

static void sweep_plane_row(const passage *x, const slab_view *in, size_t slab)
{
  const sweep *s = x->s;
  const size_t n = s->rows->num[0], at = slab * n;
  const row_view v = view(x, in, slab, 0, false);
  if (s->weights)
    stage_row_in_plane(&v, n, s->weights, s->start + at, s->start_rate + at, s->enthalpy + at, s->target + at);
  else
    rate_row_in_plane(&v, n, s->target + at);
}

static void sweep_space_row(const passage *x, const slab_view *in, size_t slab, size_t j)
{
  const sweep *s = x->s;
  const size_t n = s->rows->num[0], at = (slab * s->rows->num[1] + j) * n;
  const row_view v = view(x, in, slab, j, true);
  if (s->weights)
    stage_row_in_space(&v, n, s->weights, s->start + at, s->start_rate + at, s->enthalpy + at, s->target + at);
  else
    rate_row_in_space(&v, n, s->target + at);
}

/* The potentials of the slabs beside it must be held. */
static void sweep_slab(passage *x, size_t slab)
{
  const slab_view in = view_slab(x, slab);
  if (!is_deep(x->s->rows)) {
    sweep_plane_row(x, &in, slab);
    return;
  }
  memset(x->carried, 0, x->s->rows->num[0] * sizeof *x->carried);
  for (size_t j = 0; j < x->s->rows->num[1]; j++)
    sweep_space_row(x, &in, slab, j);
}

/* In one plane: heat sent through the faces below the first slab of a passage, whose potentials and those below are held. */
static void begin_carried(const passage *x, size_t slab)
{
  const size_t n = x->s->rows->num[0];
  memset(x->carried, 0, n * sizeof *x->carried);
  if (is_deep(x->s->rows) || slab == 0)
    return;
  const slab_view in = view_slab(x, slab);
  const row_view v = view(x, &in, slab, 0, false);
  for (size_t i = 0; i < n; i++)
    x->carried[i] = v.z_low[i] * (v.u[i] - v.below[i]);
}

/* ------------------------------------------------------------------------------------------- the needed cells of slabs */

static size_t first_needed_from(const heat_potential_nodes *nodes, size_t node)
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

/* Adds to a finished slab what the entries gave. */
static void take_gains(const sweep *s, size_t slab, size_t needed, const double *gain)
{
  const size_t end = (slab + 1) * slab_size(s->rows);
  for (; needed < s->nodes->num_needed && (size_t)s->nodes->needed[needed] < end; needed++)
    s->target[s->nodes->needed[needed]] += gain[s->nodes->needed[needed]];
}

/* Copies out of a held slab; returns the first needed cell of the next one. */
static size_t copy_needed(const passage *x, size_t slab, size_t needed, double *potential)
{
  const size_t begin = slab * slab_size(x->s->rows), end = begin + slab_size(x->s->rows);
  const double *held = held_slab(x, slab);
  for (; needed < x->s->nodes->num_needed && (size_t)x->s->nodes->needed[needed] < end; needed++)
    potential[x->s->nodes->needed[needed]] = held[(size_t)x->s->nodes->needed[needed] - begin];
  return needed;
}

/* ------------------------------------------------------------------------------------------- shares of threads */

typedef struct { size_t first, end; } share; /* of slabs */

static share share_of(const heat_flux_rows *rows, int thread, int num_threads)
{
  const size_t num = rows->num[2];
  return (share){.first = (size_t)thread * num / (size_t)num_threads, .end = ((size_t)thread + 1) * num / (size_t)num_threads};
}

/* Below HEAT_FLUX_THREADED no parallel region is entered at all: even one of a single thread costs time and memory. */
static int num_threads_for(const heat_potential_nodes *nodes)
{
  return nodes->num < HEAT_FLUX_THREADED ? 1 : num_threads_of_sweep();
}

/* The nodes that are not cells of the grid. */
static void further_potentials(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const double *enthalpy, double *potential)
{
  const size_t begin = slab_size(rows) * rows->num[2];
  heat_potential at = heat_potential_from(nodes, begin, nodes->num);
  if (begin < nodes->num)
    heat_potential_next(&at, begin, nodes->num, enthalpy, potential + begin);
}

/* ------------------------------------------------------------------------------------------- the rate */

/* Slabs one after the other, potentials one slab ahead. Those beside the share are found here too, once more: same operands, same bits. */
static void rate_share(const sweep *s, int thread, int num_threads, double *potential)
{
  const share own = share_of(s->rows, thread, num_threads);
  if (own.first == own.end)
    return;
  const size_t begin = own.first > 0 ? own.first - 1 : 0;
  size_t needed = first_needed_from(s->nodes, own.first * slab_size(s->rows));
  passage x = passage_of(s, begin, own.end + 1, thread, 0);
  for (size_t slab = begin; slab <= own.first; slab++)
    hold_slab(&x, slab);
  begin_carried(&x, own.first);
  for (size_t slab = own.first; slab < own.end; slab++) {
    hold_slab(&x, slab + 1);
    sweep_slab(&x, slab);
    needed = copy_needed(&x, slab, needed, potential);
  }
}

void heat_flux_rate(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const double *enthalpy, double *potential, double *rate)
{
  const sweep s = {.rows = rows, .nodes = nodes, .enthalpy = enthalpy, .target = rate};
  const int num_threads = num_threads_for(nodes);
  further_potentials(rows, nodes, enthalpy, potential);
  if (num_threads == 1) {
    rate_share(&s, 0, 1, potential);
    return;
  }
#pragma omp parallel num_threads(num_threads)
  rate_share(&s, omp_get_thread_num(), omp_get_num_threads(), potential);
}

/* ------------------------------------------------------------------------------------------- two stages in one sweep */

/* Both stages run through the slabs together, the second one slab behind the first, while what they read is still in cache: per cell
 * of the grid 48 bytes cross the memory for two stages, not 80. The second stage of a slab needs the first of its neighbours, so it
 * leaves out the slabs that border on those of another thread: finish_share. */
typedef struct {
  sweep first, second;
  const double *gain;
  double *potential;
} stage_pair;

static share inner_of(const heat_flux_rows *rows, share own)
{
  return (share){.first = own.first > 0 ? own.first + 1 : 0, .end = own.end < rows->num[2] ? own.end - 1 : own.end};
}

static void stages_share(const stage_pair *p, int thread, int num_threads)
{
  const heat_flux_rows *rows = p->first.rows;
  const share own = share_of(rows, thread, num_threads), inner = inner_of(rows, own);
  if (own.first == own.end)
    return;
  const size_t begin = own.first > 0 ? own.first - 1 : 0;
  size_t needed = first_needed_from(p->first.nodes, own.first * slab_size(rows));
  passage x = passage_of(&p->first, begin, own.end + 1, thread, 0), y = passage_of(&p->second, own.first, own.end, thread, 1);
  for (size_t slab = begin; slab <= own.first; slab++)
    hold_slab(&x, slab);
  begin_carried(&x, own.first);
  for (size_t slab = own.first; slab <= own.end; slab++) {
    if (slab < own.end) {
      hold_slab(&x, slab + 1);
      sweep_slab(&x, slab);
      take_gains(&p->first, slab, needed, p->gain);
      hold_slab(&y, slab);
      needed = copy_needed(&y, slab, needed, p->potential);
    }
    if (slab == inner.first && inner.first < inner.end)
      begin_carried(&y, slab);
    if (slab > inner.first && slab <= inner.end)
      sweep_slab(&y, slab - 1);
  }
}

static void second_stage_of(const stage_pair *p, size_t slab, int thread)
{
  const size_t begin = slab > 0 ? slab - 1 : 0;
  passage y = passage_of(&p->second, begin, slab + 2, thread, 1);
  for (size_t beside = begin; beside <= slab + 1; beside++)
    hold_slab(&y, beside);
  begin_carried(&y, slab);
  sweep_slab(&y, slab);
}

/* The second stage of the slabs that stages_share left out, when all threads have done that. */
static void finish_share(const stage_pair *p, int thread, int num_threads)
{
  const share own = share_of(p->first.rows, thread, num_threads), inner = inner_of(p->first.rows, own);
  for (size_t slab = own.first; slab < own.end; slab++)
    if (slab < inner.first || slab >= inner.end)
      second_stage_of(p, slab, thread);
}

void heat_flux_stages(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const stage_weights w[2], const double *gain,
                      double *potential, const double *start, const double *start_rate, double *last, double *next)
{
  const stage_pair p = {.first = {.rows = rows, .nodes = nodes, .enthalpy = last, .weights = &w[0], .start = start,
                                  .start_rate = start_rate, .target = next},
                        .second = {.rows = rows, .nodes = nodes, .enthalpy = next, .weights = &w[1], .start = start,
                                   .start_rate = start_rate, .target = last},
                        .gain = gain, .potential = potential};
  const int num_threads = num_threads_for(nodes);
  further_potentials(rows, nodes, next, potential);
  if (num_threads == 1) {
    stages_share(&p, 0, 1);
    return;
  }
#pragma omp parallel num_threads(num_threads)
  {
    stages_share(&p, omp_get_thread_num(), omp_get_num_threads());
#pragma omp barrier
    finish_share(&p, omp_get_thread_num(), omp_get_num_threads());
  }
}

void heat_flux_needed(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const double *enthalpy, double *potential)
{
  heat_potential_needed(nodes, enthalpy, potential);
  further_potentials(rows, nodes, enthalpy, potential);
}

/* Of nodes [begin, end), nothing written beyond. */
static void potentials_between(const heat_potential_nodes *curves, size_t begin, size_t end, const double *enthalpy, double *potential)
{
  heat_potential at = heat_potential_from(curves, begin, end);
  if (begin < end)
    heat_potential_next(&at, begin, end, enthalpy, potential + begin);
}

void heat_flux_potential(const heat_potential_nodes *nodes, const double *enthalpy, double *potential)
{
  heat_potential_nodes curves = *nodes;
  curves.num_ramps = 0;
  const int num_threads = num_threads_for(nodes);
  if (num_threads == 1) {
    potentials_between(&curves, 0, nodes->num, enthalpy, potential);
    return;
  }
#pragma omp parallel num_threads(num_threads)
  {
    const size_t thread = (size_t)omp_get_thread_num(), num = (size_t)omp_get_num_threads();
    potentials_between(&curves, thread * nodes->num / num, (thread + 1) * nodes->num / num, enthalpy, potential);
  }
}
