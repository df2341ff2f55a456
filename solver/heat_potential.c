#include "solver/heat_potential.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

#include "solver/wide.h"

#define ALWAYS_INLINE static inline __attribute__((always_inline))

enum { LANES = HEAT_POTENTIAL_SPARE, PACK = HEAT_POTENTIAL_PACK };

/* ------------------------------------------------------------------------------------------- the curves */

/* One straight line: a material that never freezes and conducts evenly. */
ALWAYS_INLINE void one_line(const phase_curve *c, size_t num, const double *restrict enthalpy, double *restrict potential)
{
  const double origin = c->liquid_enthalpy, slope = c->liquid_potential_slope;
  for (size_t i = 0; i < num; i++)
    potential[i] = slope * (enthalpy[i] - origin);
}

ALWAYS_INLINE void three_lines(const phase_curve *c, size_t num, const double *restrict enthalpy, double *restrict potential)
{
  const double solid_end = c->solid_enthalpy, liquid_end = c->liquid_enthalpy;
  const double solid_slope = c->solid_potential_slope, liquid_slope = c->liquid_potential_slope;
  for (size_t i = 0; i < num; i++) {
    const double below = enthalpy[i] - solid_end, above = enthalpy[i] - liquid_end;
    potential[i] = solid_slope * (below < 0.0 ? below : 0.0) + liquid_slope * (above > 0.0 ? above : 0.0);
  }
}

/* Both edges of a bin, of two one after the other: reads of 16 bytes. */
typedef double pair __attribute__((vector_size(16)));
typedef double pair_in_table __attribute__((vector_size(16), aligned(8), may_alias));

ALWAYS_INLINE pair one_bin(const double *edge, int32_t bin)
{
  return *(const pair_in_table *)(edge + bin);
}

#if WIDE > 2
typedef double four __attribute__((vector_size(32)));

ALWAYS_INLINE four two_bins(const double *edge, int32_t first, int32_t second)
{
  return __builtin_shufflevector(one_bin(edge, first), one_bin(edge, second), 0, 1, 2, 3);
}
#endif

typedef struct {
  wide low, high;
} wide_edges;

ALWAYS_INLINE wide_edges edges_of(const double *edge, const int32_t *bin)
{
#if WIDE == 8
  const four begin[2] = {two_bins(edge, bin[0], bin[2]), two_bins(edge, bin[1], bin[3])};
  const four end[2] = {two_bins(edge, bin[4], bin[6]), two_bins(edge, bin[5], bin[7])};
  const wide even = __builtin_shufflevector(begin[0], end[0], 0, 1, 2, 3, 4, 5, 6, 7), odd = __builtin_shufflevector(begin[1], end[1], 0, 1, 2, 3, 4, 5, 6, 7);
  return (wide_edges){.low = __builtin_shufflevector(even, odd, 0, 8, 2, 10, 4, 12, 6, 14), .high = __builtin_shufflevector(even, odd, 1, 9, 3, 11, 5, 13, 7, 15)};
#elif WIDE == 4
  const four even = two_bins(edge, bin[0], bin[2]), odd = two_bins(edge, bin[1], bin[3]);
  return (wide_edges){.low = __builtin_shufflevector(even, odd, 0, 4, 2, 6), .high = __builtin_shufflevector(even, odd, 1, 5, 3, 7)};
#else
  const wide first = one_bin(edge, bin[0]), second = one_bin(edge, bin[1]);
  return (wide_edges){.low = __builtin_shufflevector(first, second, 0, 2), .high = __builtin_shufflevector(first, second, 1, 3)};
#endif
}

typedef struct {
  wide origin, per_width, last;
  const double *edge;
} table;

/* Per node 8 bytes read, 8 written, 16 from the table (in cache); 6 operations and a conversion there and back. */
ALWAYS_INLINE wide look_up(const table *t, wide enthalpy)
{
  const wide place = (enthalpy - t->origin) * t->per_width;
  const wide held = (wide)((wide_masks)place & (place > 0.0));
  const wide_masks inside = held < t->last;
  const wide whole = (wide)(((wide_masks)held & inside) | ((wide_masks)t->last & ~inside));
  const wide_integers bins = __builtin_convertvector(whole, wide_integers);
  const wide share = place - __builtin_convertvector(bins, wide);
  int32_t bin[WIDE];
  memcpy(bin, &bins, sizeof bin);
  const wide_edges e = edges_of(t->edge, bin);
  return e.low + (e.high - e.low) * share;
}

ALWAYS_INLINE void bins(const phase_curve *c, size_t num, const double *restrict enthalpy, double *restrict potential)
{
  const wide zero = {0.0};
  const table t = {.origin = zero + c->origin, .per_width = zero + 1.0 / c->width, .last = zero + (double)(c->num_bins - 1), .edge = c->potential};
  size_t at = 0;
  for (; at + WIDE <= num; at += WIDE)
    wide_write(potential + at, look_up(&t, wide_read(enthalpy + at)));
  if (at < num) {
    double some[WIDE] = {0.0};
    memcpy(some, enthalpy + at, (num - at) * sizeof *some);
    wide_write(some, look_up(&t, wide_read(some)));
    memcpy(potential + at, some, (num - at) * sizeof *some);
  }
}

/* Mostly a cell or two between rows: too few for a call. */
ALWAYS_INLINE void nothing(size_t num, double *potential)
{
  size_t i = 0;
  for (; i + WIDE <= num; i += WIDE)
    wide_write(potential + i, (wide){0.0});
  for (; i < num; i++)
    potential[i] = 0.0;
}

ALWAYS_INLINE void run_of(const phase_curve *c, size_t num, const double *enthalpy, double *potential)
{
  if (!c)
    nothing(num, potential);
  else if (!c->three_lines)
    bins(c, num, enthalpy, potential);
  else if (c->solid_enthalpy == c->liquid_enthalpy && c->solid_potential_slope == c->liquid_potential_slope)
    one_line(c, num, enthalpy, potential);
  else
    three_lines(c, num, enthalpy, potential);
}

/* Potentials of nodes [begin, end) into potential[0 ..]. *run lies at or before begin and is moved on to the end. Whole vectors: a run is
 * rounded up to LANES and spills into the next, which then overwrites what was spilled; the last one spills up to `spare` further. */
static void potentials_of(const heat_potential_run **run, size_t begin, size_t end, size_t spare, const double *enthalpy, double *potential)
{
  for (size_t at = begin; at < end;) {
    while ((*run)->end <= at)
      ++*run;
    const size_t stop = (*run)->end < end ? (*run)->end : end, num = stop - at, rounded = (num + LANES - 1) / LANES * LANES;
    run_of((*run)->curve, at + rounded > end + spare ? num : rounded, enthalpy + at, potential + (at - begin));
    at = stop;
  }
}

/* ------------------------------------------------------------------------------------------- the front */

/* x of (all - line) x^2 + line x = value, the root that grows with it from 0; 0 where both are 0. */
static inline double positive_root(double all, double line, double value)
{
  const double square = all - line;
  const double under = line * line + 4.0 * square * value, sum = line + sqrt(under > 0.0 ? under : 0.0);
  return sum > 0.0 ? 2.0 * value / sum : 0.0;
}

typedef struct {
  double end, half, begin, middle, ice, water, frozen_line, liquid_line;
} one_ramp;

/* Both sides are the same but for the sign: what lies between an edge and the middle, and where they meet. */
ALWAYS_INLINE double ramp_at(const one_ramp *r, double enthalpy)
{
  const bool frozen = enthalpy < r->half;
  const double edge = frozen ? r->end : r->begin, line = frozen ? r->frozen_line : r->liquid_line, height = frozen ? -r->ice : r->water;
  return r->middle + height * (1.0 - positive_root(fabs(r->half - edge), line, fabs(enthalpy - edge)));
}

double heat_potential_ramp_at(const heat_potential_ramp *r, double enthalpy)
{
  const one_ramp one = {r->end, r->half, r->begin, r->middle, r->ice, r->water, r->frozen_line, r->liquid_line};
  return ramp_at(&one, enthalpy);
}

double heat_potential_ramp_frozen(const heat_potential_ramp *r, double enthalpy)
{
  if (enthalpy <= r->end || enthalpy >= r->begin)
    return enthalpy <= r->end ? 1.0 : 0.0;
  if (enthalpy < r->half) {
    const double z = positive_root(r->half - r->end, r->frozen_line, enthalpy - r->end);
    return 1.0 - 0.5 * z * (r->last ? 1.0 : z);
  }
  const double w = positive_root(r->begin - r->half, r->liquid_line, r->begin - enthalpy);
  return 0.5 * w * (r->even + (1.0 - r->even) * w);
}

/* ------------------------------------------------------------------------------------------- both, in order */

static const heat_potential_run *run_at(const heat_potential_nodes *nodes, size_t node)
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

/* The first ramp from `low` on whose node is not before `node`; at most `high`. */
static size_t first_ramp_between(const heat_potential_packs *f, size_t low, size_t high, size_t node)
{
  while (low < high) {
    const size_t middle = low + (high - low) / 2;
    if ((size_t)f->node[middle] < node)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

/* Whether the ramp of any node of a pack holds. */
ALWAYS_INLINE bool any_holds(const heat_potential_pack *f, const double *enthalpy)
{
  wide_masks any = {0};
  for (size_t l = 0; l < PACK; l += WIDE) {
    const wide h = wide_read(enthalpy + l);
    any |= (h > wide_read(f->end + l)) & (h < wide_read(f->begin + l));
  }
  int64_t all = 0;
  for (size_t l = 0; l < WIDE; l++)
    all |= any[l];
  return all != 0;
}

ALWAYS_INLINE one_ramp ramp_of_pack(const heat_potential_pack *f, size_t l)
{
  return (one_ramp){f->end[l], f->half[l], f->begin[l], f->middle[l], f->ice[l], f->water[l], f->frozen_line[l], f->liquid_line[l]};
}

/* The ramps of a pack take the place of the curves where they hold; enthalpy[0 ..] and potential[0 ..] belong to their nodes. Bytes read per
 * ramp: 64. */
ALWAYS_INLINE void ramps_of_pack(const heat_potential_pack *f, const double *restrict enthalpy, double *restrict potential)
{
#pragma omp simd
  for (size_t l = 0; l < PACK; l++) {
    const one_ramp r = ramp_of_pack(f, l);
    const double h = enthalpy[l], before = potential[l], u = ramp_at(&r, h);
    potential[l] = h > r.end && h < r.begin ? u : before;
  }
}

/* Of nodes that lie anywhere. */
ALWAYS_INLINE void ramps_apart(const heat_potential_pack *f, const int32_t *node, size_t begin, const double *restrict enthalpy, double *restrict potential)
{
  double h[PACK], u[PACK];
  for (size_t l = 0; l < PACK; l++)
    h[l] = enthalpy[node[l]];
  if (!any_holds(f, h))
    return;
  for (size_t l = 0; l < PACK; l++)
    u[l] = potential[(size_t)node[l] - begin];
  ramps_of_pack(f, h, u);
  for (size_t l = 0; l < PACK; l++)
    potential[(size_t)node[l] - begin] = u[l];
}

/* The ramps [from, to) of a pack only; the others are found for a node of these and left. */
static void some_of_pack(const heat_potential_packs *f, size_t from, size_t to, size_t begin, const double *enthalpy, double *potential)
{
  const size_t first = from / PACK * PACK;
  double h[PACK], u[PACK];
  for (size_t l = 0; l < PACK; l++) {
    const size_t i = first + l < from ? from : first + l < to ? first + l : to - 1;
    h[l] = enthalpy[f->node[i]];
    u[l] = potential[(size_t)f->node[i] - begin];
  }
  if (!any_holds(&f->pack[first / PACK], h))
    return;
  ramps_of_pack(&f->pack[first / PACK], h, u);
  for (size_t i = from; i < to; i++)
    potential[(size_t)f->node[i] - begin] = u[i - first];
}

static void ramps_one_by_one(const heat_potential_packs *f, size_t from, size_t to, size_t begin, const double *enthalpy, double *potential)
{
  for (size_t i = from; i < to; i++) {
    const heat_potential_pack *pack = &f->pack[i / PACK];
    const double h = enthalpy[f->node[i]];
    if (!(h > pack->end[i % PACK] && h < pack->begin[i % PACK]))
      continue;
    const one_ramp r = ramp_of_pack(pack, i % PACK);
    potential[(size_t)f->node[i] - begin] = ramp_at(&r, h);
  }
}

/* Asks the memory for a pack some packs ahead of ramp i: of those near the front only for what tells whether one holds. */
ALWAYS_INLINE void ask_for_pack(const heat_potential_packs *f, size_t i, bool whole)
{
  enum { AHEAD = 4 * PACK, LINE = 64 };
  const heat_potential_pack *pack = &f->pack[(i + AHEAD < f->num ? i + AHEAD : i) / PACK];
  const size_t bytes = whole ? sizeof *pack : offsetof(heat_potential_pack, half);
  for (size_t at = 0; at < bytes; at += LINE)
    __builtin_prefetch((const char *)pack + at);
}

/* Pack by pack; most nodes of a level or an upright front are neighbours along a row and are found where they lie. */
ALWAYS_INLINE void ramps_of(const heat_potential_packs *f, size_t from, size_t to, bool whole, size_t begin, const double *enthalpy, double *potential)
{
  const size_t first = (from + PACK - 1) / PACK * PACK, last = to / PACK * PACK;
  if (from < first)
    some_of_pack(f, from, first, begin, enthalpy, potential);
  for (size_t i = first; i < last; i += PACK) {
    const heat_potential_pack *pack = &f->pack[i / PACK];
    const size_t node = (size_t)f->node[i];
    ask_for_pack(f, i, whole);
    if ((size_t)f->node[i + PACK - 1] != node + PACK - 1)
      ramps_apart(pack, f->node + i, begin, enthalpy, potential);
    else if (any_holds(pack, enthalpy + node))
      ramps_of_pack(pack, enthalpy + node, potential + (node - begin));
  }
  if (last < to)
    some_of_pack(f, last, to, begin, enthalpy, potential);
}

/* The first ramp from `ramp` on whose node is not before `end`: mostly near by, but those of other rows of a slab may lie between. */
static size_t first_ramp_beyond(const heat_potential_packs *f, size_t ramp, size_t end)
{
  size_t low = ramp, step = LANES;
  while (low < f->num && low < ramp + LANES && (size_t)f->node[low] < end)
    low++;
  if (low < ramp + LANES)
    return low;
  for (; low + step <= f->num && (size_t)f->node[low + step - 1] < end; step *= 2)
    low += step;
  return first_ramp_between(f, low, low + step < f->num ? low + step : f->num, end);
}

heat_potential heat_potential_from(const heat_potential_nodes *nodes, size_t node, size_t end)
{
  heat_potential p = {.nodes = nodes, .end = end, .run = run_at(nodes, node)};
  for (int list = 0; nodes->front && list < HEAT_POTENTIAL_LISTS; list++)
    p.ramp[list] = first_ramp_between(&nodes->front->packs[list], 0, nodes->front->packs[list].num, node);
  return p;
}

void heat_potential_next(heat_potential *p, size_t begin, size_t end, const double *enthalpy, double *potential)
{
  const size_t left = p->end - end;
  potentials_of(&p->run, begin, end, left < LANES ? left : LANES, enthalpy, potential);
  for (int list = 0; p->nodes->front && list < HEAT_POTENTIAL_LISTS; list++) {
    const heat_potential_packs *f = &p->nodes->front->packs[list];
    const size_t from = first_ramp_beyond(f, p->ramp[list], begin);
    p->ramp[list] = first_ramp_beyond(f, from, end);
    if (p->ramp[list] - from < 2 * PACK) /* as in most rows of a plane: not worth vectors */
      ramps_one_by_one(f, from, p->ramp[list], begin, enthalpy, potential);
    else
      ramps_of(f, from, p->ramp[list], list == HEAT_POTENTIAL_INSIDE, begin, enthalpy, potential);
  }
}
