/* Even grids and layers for tests. */
#ifndef LASTWATER_TESTS_BOX_GRID_H
#define LASTWATER_TESTS_BOX_GRID_H

#include "geometry/mesh.h"

/* Even cells from low to high; in GRID_RZ axis 1 is ignored. Aborts the test when the grid is refused. */
grid *box_grid_make(grid_kind kind, const size_t num[3], const double low[3], const double high[3], const bool *mirror);

/* The wall of a thickness around a cavity (borrowed), below z_top; all of it for INFINITY. */
shape *box_grid_wall_around(const shape *cavity, double thickness, double z_top);

/* Area of the interfaces between two parts (side 0 one, side 1 other), m2. */
double box_grid_area(const mesh *m, int32_t one, int32_t other, int side);

#endif
