/* How far apart two threads are: where they share no cache, a line takes some four times as long from one to the other, the memory's bandwidth
 * is nearly twice that of one thread, and grids that lie in the caches gain less by the second. A guest of a larger machine may be moved from
 * one to the other within the hour. */
#ifndef LASTWATER_BENCH_HANDOVER_H
#define LASTWATER_BENCH_HANDOVER_H

/* s for a word to go from one thread to another and back, middle of some rounds; NAN: there is one thread only. */
double handover_seconds(void);

#endif
