/* Nodes out of pieces: one per part in a cell, and the small ones merged into a neighbour.
 *
 * A node smaller than half its cell goes to the same-part neighbour with the largest aperture, the smallest first; a group that
 * has reached half a cell stops growing, so that a part thinner than a cell everywhere pairs up instead of becoming one node. */
#ifndef LASTWATER_MESH_MERGE_H
#define LASTWATER_MESH_MERGE_H

#include "geometry/mesh_cut.h"

/* Which node holds a part in a cell. */
struct mesh_lookup {
  int32_t *cut_of_cell;  /* [num_cells] index among the cut cells, or MESH_NONE                    */
  size_t num_cut;
  size_t *first;         /* [num_cut + 1] pieces of a cut cell                                      */
  int32_t *piece_part;   /* [first[num_cut]]                                                        */
  int32_t *piece_node;   /* [first[num_cut]] MESH_NONE for held parts, walls and the room           */
  double step;           /* m, for differences of distances                                         */
  mesh_layer *layers;    /* [num_parts] with shapes of their own                                    */
  int32_t num_layers;
};

/* Area, m2, through which a part is open from its cell to the neighbour on one side; 0 at the edge of the grid. `uniform`
 * [num_cells] is the part of the uncut cells. */
double mesh_merge_aperture(const grid *g, const struct mesh_lookup *l, const mesh_cut_list *list, const int32_t *uniform, size_t cell,
                           int32_t part, int axis, int side);

/* Fills num_nodes, volume, centroid, part, cell of the mesh and piece_node of the lookup; counts what was merged and kept.
 * False: out of memory. */
bool mesh_merge_nodes(mesh *m, struct mesh_lookup *l, const mesh_cut_list *list, const int32_t *uniform);

#endif
