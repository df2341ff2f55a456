/* A mesh made by hand from parts that fill whole cells of a grid: for tests and timings of the heat balance alone. */
#ifndef LASTWATER_ALIGNED_MESH_H
#define LASTWATER_ALIGNED_MESH_H

#include "geometry/mesh.h"

/* part_of[grid_num_cells]: a part index or MESH_VOID. kind[num_parts]: MESH_HELD cells get no nodes; cells of a MESH_THIN_WALL part, one
 * cell thick, become wall patches: the neighbours on opposite sides (along r or x, then z, then y) face each other through it.
 * Distances run from mid-cell to face; the grid's outer surfaces meet the void. Copies part_of; NULL when out of memory. */
mesh *aligned_mesh_create(const grid *g, const int32_t *part_of, const mesh_layer_kind *kind, int32_t num_parts);

/* Evenly divided edges, num + 1 values; free() them. */
double *aligned_mesh_edges(double low, double high, size_t num);

#endif
