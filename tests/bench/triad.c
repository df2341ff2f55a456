#include "tests/bench/triad.h"

#include <omp.h>
#include <stddef.h>
#include <stdlib.h>

#include "tests/bench/stopwatch.h"

enum { NUM = 1 << 23, SWEEPS = 12 }; /* 64 MiB an array */

struct triad {
  double *a, *b, *c, s;
};

triad *triad_create(void)
{
  triad *t = calloc(1, sizeof *t);
  double *memory = malloc(3 * (size_t)NUM * sizeof *memory);
  if (!t || !memory) {
    free(t);
    free(memory);
    return NULL;
  }
  *t = (triad){.a = memory, .b = memory + NUM, .c = memory + 2 * (size_t)NUM, .s = 3.0};
  for (size_t i = 0; i < NUM; i++)
    t->a[i] = 0.0, t->b[i] = 1.0, t->c[i] = 2.0;
  return t;
}

void triad_destroy(triad **t)
{
  if (*t)
    free((*t)->a);
  free(*t);
  *t = NULL;
}

double triad_sweep(triad *t, int threads)
{
  const double start = stopwatch_wall(), s = t->s++, *b = t->b, *c = t->c;
  double *a = t->a;
#pragma omp parallel for schedule(static) num_threads(threads)
  for (size_t i = 0; i < NUM; i++)
    a[i] = b[i] + s * c[i];
  return 24.0 * NUM / (stopwatch_wall() - start) * 1e-9;
}

double triad_rate(triad *t, int threads)
{
  double best = 0.0;
  for (int sweep = 0; sweep < SWEEPS; sweep++) {
    const double rate = triad_sweep(t, threads);
    best = rate > best ? rate : best;
  }
  return best;
}
