/* Which node speaks for the water, and which for the rest, in each cell of the grid.
 *
 * A cut cell holds one node per part. Files keep two values a cell: `water`, the part of kind PART_WATER with the largest share of
 * the cell, and `rest`, the other part with the largest share that has a node. A node that was merged speaks where it went. */
#ifndef LASTWATER_CELL_NODES_H
#define LASTWATER_CELL_NODES_H

#include <stdint.h>

#include "geometry/mesh.h"
#include "solver/rig.h"

/* water[num_cells], rest[num_cells]: node or MESH_NONE; the caller owns both. r->parts must be the parts of m. */
void cell_nodes_fill(const mesh *m, const rig *r, int32_t *water, int32_t *rest);
/* out[cell] = value[node[cell]], NAN where the cell has none. */
void cell_nodes_spread(const int32_t *node, size_t num_cells, const double *value, double *out);

#endif
