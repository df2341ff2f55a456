/* The patches that thin walls are made of, and how they conduct to each other along the wall. */
#ifndef LASTWATER_MESH_PATCHES_H
#define LASTWATER_MESH_PATCHES_H

#include "geometry/mesh_cut.h"

/* Numbers the patches of all walls: facets that go through wall w and have their key cell in one block of cells share a patch, a block being as
 * wide as the wall's even_length and at least one cell. (With 4 x 4 x 4 cells whatever the wall, the rim of 5 mm of plastic, a fin of 10 mm, had a
 * box of foam freeze 4 to 10 % too fast.) Pieces in a block without inner surface (a rim, or an outer surface whose inner one is just beside it) count with
 * the nearest patch of the blocks around. Fills patches and links of the mesh, and patch_of[num_facets] (MESH_NONE for facets that go through no wall,
 * and for pieces without a patch beside them). Links come from the traces. False: out of memory. */
bool mesh_patches_make(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, int32_t *patch_of);

#endif
