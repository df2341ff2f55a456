#include "solver/heat_potential.h"

#include <math.h>
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

/* x of square x^2 + line x = value, the root that grows with it from 0; 0 where both are 0. */
static inline double positive_root(double square, double line, double value)
{
  const double under = line * line + 4.0 * square * value, sum = line + sqrt(under > 0.0 ? under : 0.0);
  return sum > 0.0 ? 2.0 * value / sum : 0.0;
}

double heat_potential_ramp_at(const heat_potential_ramp *r, double enthalpy)
{
  if (enthalpy < r->half)
    return r->middle - r->ice * (1.0 - positive_root(r->frozen_square, r->frozen_line, enthalpy - r->end));
  return r->middle + r->water * (1.0 - positive_root(r->liquid_square, r->liquid_line, r->begin - enthalpy));
}

double heat_potential_ramp_frozen(const heat_potential_ramp *r, double enthalpy)
{
  if (enthalpy <= r->end || enthalpy >= r->begin)
    return enthalpy <= r->end ? 1.0 : 0.0;
  if (enthalpy < r->half) {
    const double z = positive_root(r->frozen_square, r->frozen_line, enthalpy - r->end);
    return 1.0 - 0.5 * z * (r->last ? 1.0 : z);
  }
  const double w = positive_root(r->liquid_square, r->liquid_line, r->begin - enthalpy);
  return 0.5 * w * (r->even + (1.0 - r->even) * w);
}

/* What a node offers through which the front runs; false: it lies outside its window, and its curve holds. */
static bool ramp_of(const heat_potential_ramp *r, double enthalpy, double *potential)
{
  if (!(enthalpy > r->end && enthalpy < r->begin))
    return false;
  *potential = heat_potential_ramp_at(r, enthalpy);
  return true;
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

static size_t first_ramp_from(const heat_potential_nodes *nodes, size_t node)
{
  size_t low = 0, high = nodes->front ? nodes->front->num : 0;
  while (low < high) {
    const size_t middle = low + (high - low) / 2;
    if ((size_t)nodes->front->node[middle] < node)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

/* Whether the ramp of any node of a pack holds. Of those far ahead of the front, which most often fill packs of their own, none does. */
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

/* The ramps of a pack take the place of the curves where they hold; enthalpy[0 ..] and potential[0 ..] belong to their nodes. The bits of
 * heat_potential_ramp_at. Bytes read per ramp: 80. */
ALWAYS_INLINE void ramps_of_pack(const heat_potential_pack *f, const double *restrict enthalpy, double *restrict potential)
{
  if (!any_holds(f, enthalpy))
    return;
#pragma omp simd
  for (size_t l = 0; l < PACK; l++) {
    const double h = enthalpy[l], before = potential[l], of_ice = -f->ice[l], of_water = f->water[l];
    const double square_of_ice = f->frozen_square[l], line_of_ice = f->frozen_line[l], square_of_water = f->liquid_square[l],
                 line_of_water = f->liquid_line[l];
    const bool frozen = h < f->half[l];
    const double square = frozen ? square_of_ice : square_of_water, line = frozen ? line_of_ice : line_of_water;
    const double value = frozen ? h - f->end[l] : f->begin[l] - h, height = frozen ? of_ice : of_water;
    const double under = line * line + 4.0 * square * value, sum = line + sqrt(under > 0.0 ? under : 0.0);
    const double u = f->middle[l] + height * (1.0 - (sum > 0.0 ? 2.0 * value / sum : 0.0));
    potential[l] = h > f->end[l] && h < f->begin[l] ? u : before;
  }
}

/* The same for nodes that lie anywhere. */
ALWAYS_INLINE void ramps_apart(const heat_potential_pack *f, const int32_t *node, size_t begin, const double *restrict enthalpy, double *restrict potential)
{
  double h[PACK], u[PACK];
  for (size_t l = 0; l < PACK; l++) {
    h[l] = enthalpy[node[l]];
    u[l] = potential[(size_t)node[l] - begin];
  }
  ramps_of_pack(f, h, u);
  for (size_t l = 0; l < PACK; l++)
    potential[(size_t)node[l] - begin] = u[l];
}

/* The ramps [from, to) of a pack only; the others are found for a node of these and left. */
static void some_of_pack(const heat_potential_front *f, size_t from, size_t to, size_t begin, const double *enthalpy, double *potential)
{
  const size_t first = from / PACK * PACK;
  double h[PACK], u[PACK];
  for (size_t l = 0; l < PACK; l++) {
    const size_t i = first + l < from ? from : first + l < to ? first + l : to - 1;
    h[l] = enthalpy[f->node[i]];
    u[l] = potential[(size_t)f->node[i] - begin];
  }
  ramps_of_pack(&f->pack[first / PACK], h, u);
  for (size_t i = from; i < to; i++)
    potential[(size_t)f->node[i] - begin] = u[i - first];
}

static void ramps_one_by_one(const heat_potential_front *f, size_t from, size_t to, size_t begin, const double *enthalpy, double *potential)
{
  for (size_t i = from; i < to; i++)
    (void)ramp_of(&f->ramp[f->order[i]], enthalpy[f->node[i]], &potential[(size_t)f->node[i] - begin]);
}

/* Asks the memory for a pack some packs ahead of ramp i. */
ALWAYS_INLINE void ask_for_pack(const heat_potential_front *f, size_t i)
{
  enum { AHEAD = 4 * PACK, LINE = 64 };
  const char *first = (const char *)&f->pack[(i + AHEAD < f->num ? i + AHEAD : i) / PACK];
  for (size_t at = 0; at < sizeof(heat_potential_pack); at += LINE)
    __builtin_prefetch(first + at);
}

/* Pack by pack; most nodes of a level or an upright front are neighbours along a row and are found where they lie. */
static void ramps_of(const heat_potential_front *f, size_t from, size_t to, size_t begin, const double *enthalpy, double *potential)
{
  const size_t first = (from + PACK - 1) / PACK * PACK, last = to / PACK * PACK;
  if (from < first)
    some_of_pack(f, from, first, begin, enthalpy, potential);
  for (size_t i = first; i < last; i += PACK) {
    const heat_potential_pack *pack = &f->pack[i / PACK];
    const size_t node = (size_t)f->node[i];
    ask_for_pack(f, i);
    if ((size_t)f->node[i + PACK - 1] == node + PACK - 1)
      ramps_of_pack(pack, enthalpy + node, potential + (node - begin));
    else
      ramps_apart(pack, f->node + i, begin, enthalpy, potential);
  }
  if (last < to)
    some_of_pack(f, last, to, begin, enthalpy, potential);
}

/* The first ramp from `ramp` on whose node is not before `end`. */
static size_t first_ramp_beyond(const heat_potential_front *f, size_t ramp, size_t end)
{
  while (ramp + LANES <= f->num && (size_t)f->node[ramp + LANES - 1] < end)
    ramp += LANES;
  while (ramp < f->num && (size_t)f->node[ramp] < end)
    ramp++;
  return ramp;
}

heat_potential heat_potential_from(const heat_potential_nodes *nodes, size_t node, size_t end)
{
  return (heat_potential){.nodes = nodes, .end = end, .run = run_at(nodes, node), .ramp = first_ramp_from(nodes, node)};
}

void heat_potential_next(heat_potential *p, size_t begin, size_t end, const double *enthalpy, double *potential)
{
  const size_t left = p->end - end;
  potentials_of(&p->run, begin, end, left < LANES ? left : LANES, enthalpy, potential);
  const heat_potential_front *front = p->nodes->front;
  if (!front)
    return;
  const size_t from = first_ramp_beyond(front, p->ramp, begin);
  p->ramp = first_ramp_beyond(front, from, end);
  if (p->ramp - from >= 2 * PACK)
    ramps_of(front, from, p->ramp, begin, enthalpy, potential);
  else /* as in most rows of a plane: not worth vectors */
    ramps_one_by_one(front, from, p->ramp, begin, enthalpy, potential);
}

void heat_potential_find_needed(const heat_potential_nodes *nodes, heat_potential_place *place)
{
  const heat_potential_run *run = nodes->runs;
  const heat_potential_front *front = nodes->front;
  size_t ramp = 0;
  for (size_t n = 0; n < nodes->num_needed; n++) {
    const int32_t node = nodes->needed[n];
    while (run->end <= (size_t)node)
      run++;
    while (front && ramp < front->num && front->node[ramp] < node)
      ramp++;
    const bool passes = front && ramp < front->num && front->node[ramp] == node;
    place[n] = (heat_potential_place){.curve = run->curve, .ramp = passes ? &front->ramp[front->order[ramp]] : NULL};
  }
}

static void one_needed(const heat_potential_nodes *nodes, size_t n, const double *enthalpy, const heat_potential_found *found)
{
  const int32_t node = nodes->needed[n];
  const heat_potential_place *p = &nodes->place[n];
  double potential;
  if (!p->ramp || !ramp_of(p->ramp, enthalpy[node], &potential))
    potential = p->curve ? phase_curve_potential(p->curve, enthalpy[node]) : 0.0;
  found->needed[n] = potential;
  if (found->also_by_node)
    found->by_node[node] = potential;
}

/* A parallel region costs time even where it has one thread. */
void heat_potential_needed(const heat_potential_nodes *nodes, const double *enthalpy, const heat_potential_found *found)
{
  enum { MANY = 4000 }; /* fewer are not worth a second thread */
  if (nodes->num_needed < MANY) {
    for (size_t n = 0; n < nodes->num_needed; n++)
      one_needed(nodes, n, enthalpy, found);
    return;
  }
#pragma omp parallel for schedule(static)
  for (size_t n = 0; n < nodes->num_needed; n++)
    one_needed(nodes, n, enthalpy, found);
}
