/* What lies behind mirror planes counts too.
 *
 * A mesh cut on one side of a mirror plane of its grid holds half of the rig. Here its volumes and areas, and with them every mass, heat and
 * flow worked out from them, are made those of the whole: each node stands for itself and its images. Temperatures are the same, since
 * heat and the ways of heat grow alike; a factor of 2 or 4 changes no digit. */
#ifndef LASTWATER_MESH_IMAGES_H
#define LASTWATER_MESH_IMAGES_H

#include "geometry/mesh_cut.h"

/* 1, 2, 4 or 8: two for each axis with a mirror plane on one side; planes on both sides of an axis have no end of images and count none. */
double mesh_images_of(const grid *g);

/* Fills mirror_faces: what is open of a part on a mirror plane, wherever the grid has more than one cell along that axis. False: out of
 * memory. */
bool mesh_images_find_faces(mesh *m, const mesh_cut_list *list);

/* Multiplies volumes and areas by it: of nodes, faces, interfaces, patches and parts. Once for a mesh. */
void mesh_images_count(mesh *m);

#endif
