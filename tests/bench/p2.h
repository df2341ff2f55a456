/* A model problem for timing: a pot of water in brine with a coil, foam all round, in (r, z).
 *
 * Water R 0.22 m, H 0.55 m at 10 degC in a 3 mm aluminium pot, in brine at 0 degC out to r 0.40 m and 50 mm below it; 50 mm of foam at
 * 5 degC round, below and on top; outside a film of 8 W/m2K to 25 degC. Coil: 18 rings of 12.7 mm tube at r 0.26 m, z 0.12 .. 0.63 m,
 * refrigerant at -25 degC, film 1000 W/m2K on the tube's outer area, spread over the cells it covers. Constants in p2.c;
 * they are inputs of the problem, not recommended data. Run until solid. */
#ifndef LASTWATER_BENCH_P2_H
#define LASTWATER_BENCH_P2_H

#include "solver/rig.h"

/* in the order of painting */
enum { P2_FOAM, P2_BRINE, P2_WALL, P2_WATER, P2_PARTS, P2_RINGS = 18, P2_SHAPES = 8 };

typedef struct {
  rig r;
  grid *g;
  mesh *m;
  rig_part parts[P2_PARTS];
  material stuff[P2_PARTS];
  shape *region[P2_PARTS], *cavity;
  rig_coil coil;
  double rings[P2_RINGS][2];
  double zero_time, coolant, room;
} p2;

/* Cells of about `spacing` m; the pot's wall has a row of its own. With `wall_nodes` the wall is meshed as a solid of one cell. */
status p2_create(p2 *x, double spacing, bool wall_nodes, message *msg);
void p2_release(p2 *x);

#endif
