/* What one stage costs beside the memory: stages and the triad in turn, with one and two threads, so that both meet the same company on the
 * machine; of the ratios of every round the middle one is to be believed. */
#ifndef LASTWATER_BENCH_STAGE_COST_H
#define LASTWATER_BENCH_STAGE_COST_H

#include "tests/bench/freeze.h"
#include "tests/bench/triad.h"

typedef struct {
  size_t nodes;
  double front;              /* share of the nodes through which the front runs                      */
  double best, median;       /* s per stage with one thread, wall time                               */
  double bytes;              /* per node, resident: all that network, integrator and state hold      */
  double of_triad;           /* bandwidth with one thread over the triad's, medians of the rounds    */
  double speedup, triad_speedup, of_speedup; /* two threads over one: of a stage, of the triad, of one over the other */
} stage_cost;

/* Marches to that moment, s, then times so many rounds. bytes_per_stage: per node, that count for the bandwidth. */
status stage_cost_measure(const freeze_problem *x, double moment, size_t rounds, double bytes_per_stage, triad *t, stage_cost *out, message *msg);

#endif
