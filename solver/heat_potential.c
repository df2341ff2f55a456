#include "solver/heat_potential.h"

#include <stddef.h>

#define ALWAYS_INLINE static inline __attribute__((always_inline))

enum { LANES = HEAT_POTENTIAL_SPARE, CHUNK = 64 };

/* ------------------------------------------------------------------------------------------- the curves */

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
static void potentials_of(const heat_potential_run **run, size_t begin, size_t end, size_t spare, const double *enthalpy, double *potential)
{
  for (size_t at = begin; at < end;) {
    while ((*run)->end <= at)
      ++*run;
    const size_t stop = (*run)->end < end ? (*run)->end : end, num = stop - at, rounded = (num + LANES - 1) / LANES * LANES;
    run_of((*run)->curve, 0, at + rounded > end + spare ? num : rounded, enthalpy + at, potential + (at - begin));
    at = stop;
  }
}

/* ------------------------------------------------------------------------------------------- the front */

/* What a node offers through which the front runs; false: it lies outside its window, and its curve holds. */
static bool ramp_of(const heat_potential_ramp *r, double enthalpy, double *potential)
{
  const double f = (r->begin - enthalpy) * r->per_range;
  if (!(f > 0.0 && f < 1.0))
    return false;
  const double late = f - r->from_late, early = r->to_early - f;
  *potential = r->middle - r->late_slope * (late > 0.0 ? late : 0.0) + r->early_slope * (early > 0.0 ? early : 0.0);
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

static const heat_potential_ramp *first_ramp_from(const heat_potential_nodes *nodes, size_t node)
{
  size_t low = 0, high = nodes->num_ramps;
  while (low < high) {
    const size_t middle = low + (high - low) / 2;
    if ((size_t)nodes->ramps[middle].node < node)
      low = middle + 1;
    else
      high = middle;
  }
  return nodes->ramps + low;
}

heat_potential heat_potential_from(const heat_potential_nodes *nodes, size_t node, size_t end)
{
  return (heat_potential){.nodes = nodes, .end = end, .run = run_at(nodes, node), .ramp = first_ramp_from(nodes, node)};
}

void heat_potential_next(heat_potential *p, size_t begin, size_t end, const double *enthalpy, double *potential)
{
  const size_t left = p->end - end;
  potentials_of(&p->run, begin, end, left < LANES ? left : LANES, enthalpy, potential);
  /* few nodes: no need of vectors */
  for (const heat_potential_ramp *last = p->nodes->ramps + p->nodes->num_ramps; p->ramp < last && (size_t)p->ramp->node < end; p->ramp++)
    (void)ramp_of(p->ramp, enthalpy[p->ramp->node], &potential[(size_t)p->ramp->node - begin]);
}

void heat_potential_needed(const heat_potential_nodes *nodes, const double *enthalpy, double *potential)
{
  const heat_potential_run *run = nodes->runs;
  const heat_potential_ramp *ramp = nodes->ramps, *last = ramp + nodes->num_ramps;
  for (size_t n = 0; n < nodes->num_needed; n++) {
    const int32_t node = nodes->needed[n];
    while (run->end <= (size_t)node)
      run++;
    while (ramp < last && ramp->node < node)
      ramp++;
    if (!(ramp < last && ramp->node == node && ramp_of(ramp, enthalpy[node], &potential[node])))
      run_of(run->curve, 0, 1, enthalpy + node, potential + node);
  }
}
