/* The plain way, as fast as plain is: forward Euler on enthalpy, the wall as cells, flat loops that a compiler turns into vectors, lists
 * for what is no regular face; one thread, nothing fused. What a careful person writes first. Timed for a share of the steps it
 * would need. */
#ifndef LASTWATER_BENCH_EXPLICIT_ORACLE_H
#define LASTWATER_BENCH_EXPLICIT_ORACLE_H

#include "tests/bench/p2.h"

typedef struct {
  double step;        /* s, the stable step it took            */
  size_t steps;       /* taken                                 */
  double seconds;     /* processor time of these steps         */
  double heat;        /* J stored in all parts at the end less at the start */
  double time;        /* s simulated                           */
} oracle_result;

/* x must have been created with wall_nodes. Takes `steps` steps from the start. */
status explicit_oracle_run(const p2 *x, size_t steps, oracle_result *out, message *msg);

#endif
