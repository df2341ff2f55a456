#include "tests/bench/handover.h"

#include <math.h>
#include <omp.h>
#include <stdatomic.h>
#include <stdlib.h>

#include "tests/bench/stopwatch.h"

enum { ROUNDS = 21, TURNS = 5000 };

static int by_size(const void *a, const void *b)
{
  const double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/* One of the two: waits for its number, then writes the next. */
static void take_turns(atomic_int *word, int first)
{
  for (int turn = 0; turn < TURNS; turn++) {
    while (atomic_load_explicit(word, memory_order_acquire) != 2 * turn + first)
      ;
    atomic_store_explicit(word, 2 * turn + first + 1, memory_order_release);
  }
}

double handover_seconds(void)
{
  double seconds[ROUNDS];
  int threads = 1;
  for (int round = 0; round < ROUNDS; round++) {
    atomic_int word = 0;
    const double begin = stopwatch_wall();
#pragma omp parallel num_threads(2)
    {
      if (omp_get_num_threads() == 2)
        take_turns(&word, omp_get_thread_num());
#pragma omp single
      threads = omp_get_num_threads();
    }
    seconds[round] = (stopwatch_wall() - begin) / TURNS;
  }
  qsort(seconds, ROUNDS, sizeof *seconds, by_size);
  return threads == 2 ? seconds[ROUNDS / 2] : NAN;
}
