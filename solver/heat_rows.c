#include "solver/heat_rows.h"

#include <stdbool.h>
#include <stdint.h>

#include "solver/wide.h"

/* One compiled loop for each kind of row; not inlined, so that each has the registers to itself. */
#define KERNEL __attribute__((noinline))
#define ALWAYS_INLINE static inline __attribute__((always_inline))

/* ------------------------------------------------------------------------------------------- in one plane */

/* Divergence of cell i: into it along the row, from ahead and behind. */
ALWAYS_INLINE double into_plane(const double *restrict u, const double *restrict ahead, const double *restrict x,
                                const double *restrict towards, double *restrict carried, size_t i)
{
  const double here = u[i];
  const double along = x[i + 1] * (*(u + i + 1) - here) - x[i] * (here - *(u + i - 1));
  const double in = towards[i] * (ahead[i] - here), out = carried[i];
  carried[i] = in;
  return along + (in - out);
}

/* Per cell 8 bytes read (the enthalpy, for the potential), 8 written; conductances and potentials lie in cache; 11 operations. */
KERNEL void heat_rows_plane_rate(const heat_rows_plane *v, size_t num, double *restrict rate)
{
  const double *restrict u = v->u, *restrict ahead = v->ahead, *restrict x = v->x, *restrict towards = v->towards,
               *restrict per_volume = v->inverse_volume;
  double *restrict carried = v->carried;
#pragma omp simd simdlen(4)
  for (size_t i = 0; i < num; i++)
    rate[i] = per_volume[i] * into_plane(u, ahead, x, towards, carried, i);
}

/* Reads bound a row in a plane, not operations: every potential along the row and every flux along it is read or found once, four at a
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

/* The whole fours of the row; returns where they end. Nothing comes through the face below the first cell. */
ALWAYS_INLINE size_t plane_fours(const heat_rows_plane *shared, size_t num, const heat_rows_stage *to)
{
  const heat_rows_plane v = *shared;
  const stage_weights w = *to->weights;
  const double *start = to->start, *start_rate = to->start_rate, *last = to->last;
  double *next = to->next;
  four here = read_four(v.u), lower = {0.0};
  size_t i = 0;
  for (; i + FOUR <= num; i += FOUR) {
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

/* Per cell 32 bytes read (last, next, start, start_rate), 8 written; 20 operations. */
KERNEL void heat_rows_plane_stage(const heat_rows_plane *v, size_t num, const heat_rows_stage *to)
{
  const double *restrict u = v->u, *restrict ahead = v->ahead, *restrict x = v->x, *restrict towards = v->towards,
               *restrict per_volume = v->inverse_volume, *restrict start = to->start, *restrict start_rate = to->start_rate,
               *restrict last = to->last;
  double *restrict carried = v->carried, *restrict next = to->next;
  const stage_weights w = *to->weights;
  for (size_t i = plane_fours(v, num, to); i < num; i++)
    next[i] = w.mu * last[i] + w.nu * next[i] + w.rest * start[i] + w.start_rate * start_rate[i] +
              w.rate * (per_volume[i] * into_plane(u, ahead, x, towards, carried, i));
}

/* ------------------------------------------------------------------------------------------- in space */

/* WIDE cells at a time; also single ones, in rows too short for that. */
enum { LINE = 8 }; /* doubles of a line of the cache */

/* What the faces of cells conduct, along the row, from behind and ahead, from below and above, and the inverse of their volume. */
typedef struct { wide before, after, behind, ahead, below, above, per_volume; } faces;

ALWAYS_INLINE faces faces_at(const heat_rows_space *v, size_t i)
{
  return (faces){wide_read(v->x + i),     wide_read(v->x + i + 1), wide_read(v->y_low + i),         wide_read(v->y_high + i),
                 wide_read(v->z_low + i), wide_read(v->z_high + i), wide_read(v->inverse_volume + i)};
}

ALWAYS_INLINE faces even_faces(const heat_rows_space *v)
{
  const size_t i = v->even_begin;
  const wide zero = {0.0};
  return (faces){zero + v->x[i],     zero + v->x[i + 1],  zero + v->y_low[i],        zero + v->y_high[i],
                 zero + v->z_low[i], zero + v->z_high[i], zero + v->inverse_volume[i]};
}

/* dH/dt of WIDE cells: 18 operations a cell. */
ALWAYS_INLINE wide rate_at(const heat_rows_space *v, const faces *g, size_t i)
{
  const wide here = wide_read(v->u + i);
  const wide along = g->after * (wide_read(v->u + i + 1) - here) - g->before * (here - wide_read(v->u + i - 1));
  const wide across = g->ahead * (wide_read(v->ahead + i) - here) - g->behind * (here - wide_read(v->behind + i));
  const wide upright = g->above * (wide_read(v->above + i) - here) - g->below * (here - wide_read(v->below + i));
  return g->per_volume * (along + across + upright);
}

ALWAYS_INLINE double rate_of_one(const heat_rows_space *v, size_t i)
{
  const double here = v->u[i];
  const double along = v->x[i + 1] * (v->u[i + 1] - here) - v->x[i] * (here - *(v->u + i - 1));
  const double across = v->y_high[i] * (v->ahead[i] - here) - v->y_low[i] * (here - v->behind[i]);
  const double upright = v->z_high[i] * (v->above[i] - here) - v->z_low[i] * (here - v->below[i]);
  return v->inverse_volume[i] * (along + across + upright);
}

/* 9 operations more. */
ALWAYS_INLINE wide stage_at(const heat_rows_space *v, const faces *g, size_t i, const stage_weights *w, const heat_rows_stage *to)
{
  return w->mu * wide_read(to->last + i) + w->nu * wide_read(to->next + i) + w->rest * wide_read(to->start + i) +
         w->start_rate * wide_read(to->start_rate + i) + w->rate * rate_at(v, g, i);
}

/* Per cell 8 bytes read (the enthalpy, for the potential), 8 written. */
KERNEL void heat_rows_space_rate(const heat_rows_space *shared, size_t num, double *rate)
{
  const heat_rows_space v = *shared;
  const faces even = even_faces(&v);
  size_t i = 0;
  for (; i + WIDE <= num; i += WIDE) {
    if (i >= v.even_begin && i + WIDE <= v.even_end) {
      wide_write(rate + i, rate_at(&v, &even, i));
    } else {
      const faces g = faces_at(&v, i);
      wide_write(rate + i, rate_at(&v, &g, i));
    }
  }
  for (; i < num; i++)
    rate[i] = rate_of_one(&v, i);
}

static KERNEL void short_stage(const heat_rows_space *v, size_t num, const heat_rows_stage *to)
{
  const stage_weights *w = to->weights;
  for (size_t i = 0; i < num; i++)
    to->next[i] = w->mu * to->last[i] + w->nu * to->next[i] + w->rest * to->start[i] + w->start_rate * to->start_rate[i] +
                  w->rate * rate_of_one(v, i);
}

/* The first cell of which `next` begins a line of the cache, as then mostly the other arrays do. */
ALWAYS_INLINE size_t first_in_line(const double *next)
{
  return (WIDE - (size_t)((uintptr_t)next / sizeof *next) % WIDE) % WIDE;
}

/* Into the second cache: a line on its way into the first keeps one of its few places for as long as the memory takes, and what is read meanwhile waits
 * (a stage of two million cells took an eighth longer). */
ALWAYS_INLINE void ask_for_line(const double *at)
{
  enum { TO_READ = 0, SECOND_CACHE = 2 };
  __builtin_prefetch(at, TO_READ, SECOND_CACHE);
}

ALWAYS_INLINE void ask(const heat_rows_stage *to, size_t i, heat_rows_asks asks)
{
  if (asks == HEAT_ROWS_ASK_FIRST)
    ask_for_line(to->next + i + to->slab);
  if (asks == HEAT_ROWS_ASK_SECOND) {
    const size_t on = i + 2 * to->slab;
    ask_for_line(to->start + on);
    ask_for_line(to->start_rate + on);
    ask_for_line(to->next + on + to->slab);
  }
}

/* Per cell 32 bytes read (last, next, start, start_rate), 8 written. The first and the last WIDE cells, which mostly overlap with the
 * others, are found before anything of the row is overwritten. */
static KERNEL void long_stage(const heat_rows_space *shared, size_t num, const heat_rows_stage *shared_to)
{
  const heat_rows_space v = *shared;
  const heat_rows_stage to = *shared_to;
  const stage_weights w = *to.weights;
  const faces at_begin = faces_at(&v, 0), at_end = faces_at(&v, num - WIDE), even = even_faces(&v);
  const wide begin = stage_at(&v, &at_begin, 0, &w, &to), end = stage_at(&v, &at_end, num - WIDE, &w, &to);
  for (size_t at = 0; to.asks != HEAT_ROWS_ASK_NOTHING && at < num; at += LINE)
    ask(&to, at, to.asks);
  size_t i = first_in_line(to.next);
  for (; i < v.even_begin && i + WIDE <= num; i += WIDE) {
    const faces g = faces_at(&v, i);
    wide_write(to.next + i, stage_at(&v, &g, i, &w, &to));
  }
  for (; i + WIDE <= v.even_end; i += WIDE)
    wide_write(to.next + i, stage_at(&v, &even, i, &w, &to));
  for (; i + WIDE <= num; i += WIDE) {
    const faces g = faces_at(&v, i);
    wide_write(to.next + i, stage_at(&v, &g, i, &w, &to));
  }
  wide_write(to.next, begin);
  wide_write(to.next + num - WIDE, end);
}

/* ------------------------------------------------------------------------------------------- blocks of rows */

/* Rows that are alike, and even but for a few cells at their ends, are gone through without a break: the last cells of a row and the first
 * of the next are taken at once, a joint, with faces of its own. The even cells are gone through over the joints, too; a joint is found
 * before that comes to it and written when it is beyond it, by less than WIDE cells: so joints must lie two widths from each other. */
enum { SHORTEST_OF_BLOCK = 3 * WIDE };

static bool is_block(const heat_rows_space *v, size_t num)
{
  return num >= SHORTEST_OF_BLOCK && v->even_end > v->even_begin && v->even_begin + (num - v->even_end) <= WIDE;
}

/* Of the WIDE cells that begin `before` cells before the end of a row. */
static wide across_rows(const double *row, size_t num, size_t before)
{
  double value[WIDE];
  for (size_t l = 0; l < WIDE; l++)
    value[l] = row[l < before ? num - before + l : l - before];
  return wide_read(value);
}

static KERNEL faces joint_faces(const heat_rows_space *v, size_t num)
{
  const size_t before = num - v->even_end;
  return (faces){across_rows(v->x, num, before),      across_rows(v->x + 1, num, before),  across_rows(v->y_low, num, before),
                 across_rows(v->y_high, num, before), across_rows(v->z_low, num, before), across_rows(v->z_high, num, before),
                 across_rows(v->inverse_volume, num, before)};
}

/* From cell i until `end` is reached; returns the first cell that was not. What is asked for of the memory is asked after the cells
 * are written: asked for before they are read, it delayed that, and a stage of two million cells took a tenth longer. */
ALWAYS_INLINE size_t even_lanes(const heat_rows_space *v, const faces *even, const stage_weights *w, const heat_rows_stage *to, size_t i,
                                 size_t end, heat_rows_asks asks)
{
  for (; i < end; i += WIDE) {
    wide_write(to->next + i, stage_at(v, even, i, w, to));
    size_t behind = i;
    __asm__("" : "+r"(behind) : "m"(to->next[i])); /* no instruction: keeps the compiler from asking earlier */
    if (WIDE == LINE || (uintptr_t)(to->next + i) / sizeof *to->next % LINE == 0)
      ask(to, behind, asks);
  }
  return i;
}

ALWAYS_INLINE void block(const heat_rows_space *shared, size_t num, size_t num_rows, const heat_rows_stage *shared_to, heat_rows_asks asks)
{
  const heat_rows_space v = *shared;
  const heat_rows_stage to = *shared_to;
  const stage_weights w = *to.weights;
  const faces even = even_faces(&v), at_begin = faces_at(&v, 0), at_end = faces_at(&v, num - WIDE);
  const size_t last_row = num * (num_rows - 1), last = last_row + num - WIDE;
  const wide begin = stage_at(&v, &at_begin, 0, &w, &to);
  size_t i = even_lanes(&v, &even, &w, &to, first_in_line(to.next), WIDE, asks);
  wide_write(to.next, begin);
  if (num_rows > 1) {
    const faces joint = joint_faces(&v, num);
    for (size_t place = v.even_end; place < last_row; place += num) {
      const wide waiting = stage_at(&v, &joint, place, &w, &to);
      i = even_lanes(&v, &even, &w, &to, i, place + WIDE, asks);
      wide_write(to.next + place, waiting);
    }
  }
  const wide end = stage_at(&v, &at_end, last, &w, &to);
  (void)even_lanes(&v, &even, &w, &to, i, last + 1, asks);
  wide_write(to.next + last, end);
}

static KERNEL void block_asking_nothing(const heat_rows_space *v, size_t num, size_t num_rows, const heat_rows_stage *to)
{
  block(v, num, num_rows, to, HEAT_ROWS_ASK_NOTHING);
}

static KERNEL void block_asking_first(const heat_rows_space *v, size_t num, size_t num_rows, const heat_rows_stage *to)
{
  block(v, num, num_rows, to, HEAT_ROWS_ASK_FIRST);
}

static KERNEL void block_asking_second(const heat_rows_space *v, size_t num, size_t num_rows, const heat_rows_stage *to)
{
  block(v, num, num_rows, to, HEAT_ROWS_ASK_SECOND);
}

static void block_stage(const heat_rows_space *v, size_t num, size_t num_rows, const heat_rows_stage *to)
{
  if (to->asks == HEAT_ROWS_ASK_FIRST)
    block_asking_first(v, num, num_rows, to);
  else if (to->asks == HEAT_ROWS_ASK_SECOND)
    block_asking_second(v, num, num_rows, to);
  else
    block_asking_nothing(v, num, num_rows, to);
}

static void rows_stage(const heat_rows_space *first, size_t num, size_t num_rows, const heat_rows_stage *first_to)
{
  heat_rows_space v = *first;
  heat_rows_stage to = *first_to;
  for (size_t row = 0; row < num_rows; row++) {
    if (num < WIDE)
      short_stage(&v, num, &to);
    else
      long_stage(&v, num, &to);
    v.u += num, v.behind += num, v.ahead += num, v.below += num, v.above += num;
    to.start += num, to.start_rate += num, to.last += num, to.next += num;
  }
}

void heat_rows_space_stage(const heat_rows_space *v, size_t num, size_t num_rows, const heat_rows_stage *to)
{
  if (is_block(v, num))
    block_stage(v, num, num_rows, to);
  else
    rows_stage(v, num, num_rows, to);
}
