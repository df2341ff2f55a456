/* Where two parts of a mesh meet: interfaces out of the facets that the cutting found. */
#ifndef LASTWATER_MESH_INTERFACES_H
#define LASTWATER_MESH_INTERFACES_H

#include "geometry/mesh_cut.h"

/* Fills interfaces, patches and links of a mesh that has its nodes; counts what was lost and dropped. Leaves out of the list what no
 * interface comes from. False: out of memory. */
bool mesh_interfaces_fill(mesh *m, mesh_cut_list *list);

#endif
