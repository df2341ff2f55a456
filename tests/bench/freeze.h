/* One freeze of a model problem from start to solid, timed. */
#ifndef LASTWATER_BENCH_FREEZE_H
#define LASTWATER_BENCH_FREEZE_H

#include "solver/heat_step.h"

typedef struct {
  const rig *r;
  const mesh *m;
  int water; /* part */
} freeze_problem;

typedef struct {
  double hours[3]; /* to 50, 99, 100 % */
  double made, seconds, processor, residual, frozen; /* s to make the network; s and processor s of the march */
  size_t steps, rejected, stages, nodes;
} freeze;

/* tolerance 0: the default; limit: s simulated. */
status freeze_run(const freeze_problem *x, integrator_kind integrator, double tolerance, double limit, freeze *out, message *msg);

#endif
