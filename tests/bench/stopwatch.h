/* Clocks of the bench, s. */
#ifndef LASTWATER_BENCH_STOPWATCH_H
#define LASTWATER_BENCH_STOPWATCH_H

#include <time.h>

static inline double stopwatch_read(clockid_t clock)
{
  struct timespec t;
  (void)clock_gettime(clock, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static inline double stopwatch_wall(void)
{
  return stopwatch_read(CLOCK_MONOTONIC);
}

/* Of all threads of this program; on a busy machine with one thread this is the time to compare. */
static inline double stopwatch_processor(void)
{
  return stopwatch_read(CLOCK_PROCESS_CPUTIME_ID);
}

#endif
