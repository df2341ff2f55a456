/* A model problem for timing: a cube of water in a thin aluminium shell, (x, y, z).
 *
 * 0.3 m of water at 10 degC, closed in 3 mm of aluminium; outside -25 degC over films of 60 W/m2K on five faces and 10 W/m2K on the lid.
 * Constants as in p2.c; they are inputs of the problem, not recommended data. Run until solid. */
#ifndef LASTWATER_BENCH_P3_H
#define LASTWATER_BENCH_P3_H

#include "solver/rig.h"

/* in the order of painting */
enum { P3_WALL, P3_WATER, P3_PARTS, P3_RULES = 2 };

typedef struct {
  rig r;
  grid *g;
  mesh *m;
  rig_part parts[P3_PARTS];
  material stuff[P3_PARTS];
  shape *region[P3_PARTS], *cavity;
  surface_rule rules[P3_RULES];
  double zero_time, outside, film[P3_RULES];
} p3;

/* num_cells: cells along an edge, the two of the wall among them, > 2. */
status p3_create(p3 *x, size_t num_cells, message *msg);
void p3_release(p3 *x);

#endif
