/* Through a thin wall: which of its sides a facet lies on, what is on the other side, and the patches it is made of. */
#ifndef LASTWATER_MESH_WALL_H
#define LASTWATER_MESH_WALL_H

#include "geometry/mesh_cut.h"

typedef enum { MESH_WALL_INNER, MESH_WALL_OUTER, MESH_WALL_RIM } mesh_wall_side;

/* The side of the wall on which a point of its surface lies; `into` is the unit normal into the wall there. */
mesh_wall_side mesh_wall_side_at(const mesh_layer *wall, const double point[3], const double into[3], double step);

/* The point of the outer surface opposite a point of the inner one. */
void mesh_wall_outer_point(const mesh_layer *wall, const double inner[3], double step, double outer[3]);

/* The place of the cavity's surface nearest to a point of the wall, a little inside. */
void mesh_wall_foot(const mesh_layer *wall, const double point[3], double step, double foot[3]);

/* Cell and part just (`beyond`, m) outside the wall, opposite an inner point. A mirror plane is looked through; the cell is
 * MESH_NONE and the part MESH_VOID outside the grid. False: there is more wall. */
bool mesh_wall_look_across(const mesh_cut_request *q, const mesh_layer *wall, const double inner[3], double step, double beyond,
                           int32_t *cell, int32_t *part);

/* Numbers the patches of all walls: facets that go through wall w and have their key cell in one block of cells share a patch, a block being as
 * wide as the wall's even_length and at least one cell. (With 4 x 4 x 4 cells whatever the wall, the rim of 5 mm of plastic, a fin of 10 mm, had a
 * box of foam freeze 4 to 10 % too fast.) Fills patches and links of the mesh, and patch_of[num_facets] (MESH_NONE for facets that go through no
 * wall, and for a rim beside which none goes through). Links come from the traces. False: out of memory. */
bool mesh_wall_patches(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, int32_t *patch_of);

#endif
