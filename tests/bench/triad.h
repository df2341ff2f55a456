/* Memory bandwidth: a = b + s c over arrays far larger than the caches (McCalpin 1995, the triad), 24 bytes counted per element. */
#ifndef LASTWATER_BENCH_TRIAD_H
#define LASTWATER_BENCH_TRIAD_H

typedef struct triad triad;

triad *triad_create(void); /* NULL: no memory */
void triad_destroy(triad **t); /* NULL-safe */

/* GB/s of one sweep with so many threads. */
double triad_sweep(triad *t, int threads);
/* The best of some sweeps. */
double triad_rate(triad *t, int threads);

#endif
