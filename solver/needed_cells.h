/* Potentials of the cells that surfaces, walls and tubes ask for between sweeps: gathered side by side, they are found like those of a row. */
#ifndef LASTWATER_NEEDED_CELLS_H
#define LASTWATER_NEEDED_CELLS_H

#include "solver/front_ramps.h"

typedef struct {
  size_t num;
  const int32_t *node; /* [num] cells, rising; borrowed */
  heat_potential_run *runs;
  heat_potential_ramp *ramp; /* [num] those of the front at the last refresh, node: place among the cells */
  front_ramps ramps;
  heat_potential_nodes as_nodes; /* the cells side by side, as if there were no others */
  double *enthalpy;              /* [num] work */
} needed_cells;

bool needed_cells_create(needed_cells *n, const int32_t *node, size_t num); /* false: out of memory */
void needed_cells_destroy(needed_cells *n);
/* Which materials and ramps the cells have among `nodes`: for any number of enthalpies, until those change. */
void needed_cells_refresh(needed_cells *n, const heat_potential_nodes *nodes, const double *enthalpy);
/* The bits of heat_potential_next, for any number of threads. Bytes per cell: 4 and 8 read where they lie, 8 written; by node, 8 more where they lie. */
void needed_cells_potentials(const needed_cells *n, const double *enthalpy, const heat_potential_found *found);

#endif
