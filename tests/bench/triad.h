/* Memory bandwidth: a = b + s c over arrays far larger than the caches (McCalpin 1995, the triad), 24 bytes counted per element. */
#ifndef LASTWATER_BENCH_TRIAD_H
#define LASTWATER_BENCH_TRIAD_H

/* GB/s with so many threads, best of some sweeps; NAN: no memory. */
double triad_rate(int threads);

#endif
