/* What one stage costs, stages timed pair by pair: the best and the middle one tell the code from the company it has on the machine. */
#ifndef LASTWATER_BENCH_STAGE_COST_H
#define LASTWATER_BENCH_STAGE_COST_H

#include "tests/bench/freeze.h"

typedef struct {
  size_t nodes;
  double best, median; /* s per stage, wall time                                               */
  double bytes;        /* per node, resident: all that network, integrator and state hold      */
} stage_cost;

/* Takes some steps, then times `pairs` pairs of stages with so many threads. */
status stage_cost_measure(const freeze_problem *x, size_t steps, size_t pairs, int threads, stage_cost *out, message *msg);

#endif
