#include "tests/bench/triad.h"

#include <math.h>
#include <omp.h>
#include <stdbool.h>
#include <stdlib.h>

#include "tests/bench/stopwatch.h"

enum { NUM = 1 << 23, SWEEPS = 12 }; /* 64 MiB an array */

double triad_rate(int threads)
{
  double *memory = malloc(3 * (size_t)NUM * sizeof *memory);
  if (!memory)
    return NAN;
  double *a = memory, *b = memory + NUM, *c = memory + 2 * (size_t)NUM, best = 0.0;
#pragma omp parallel for schedule(static) num_threads(threads)
  for (size_t i = 0; i < NUM; i++)
    a[i] = 0.0, b[i] = 1.0, c[i] = 2.0;
  for (int sweep = 0; sweep < SWEEPS; sweep++) {
    const double start = stopwatch_wall(), s = 3.0 + sweep;
#pragma omp parallel for schedule(static) num_threads(threads)
    for (size_t i = 0; i < NUM; i++)
      a[i] = b[i] + s * c[i];
    const double rate = 24.0 * NUM / (stopwatch_wall() - start) * 1e-9;
    best = rate > best ? rate : best;
  }
  const bool kept = a[NUM / 3] > 0.0; /* the sweeps may not be optimised away */
  free(memory);
  return kept ? best : NAN;
}
