/* What stands in the way of a look straight through the middle of a block. */
#ifndef LASTWATER_CLEAR_VIEW_H
#define LASTWATER_CLEAR_VIEW_H

#include "geometry/mesh.h"

/* Optical depth, the integral of extinction along a straight line through the middle of a body's span, mirrored halves included. depth, length:
 * [3] along x, y, z; in (r, z) [0] across the axis at half the height, [1] NAN, [2] down the axis; length in m of ice on that line. A line that meets no
 * ice has NAN. extinction[num_nodes], 1/m, NAN where there is no ice: that stretch, water or a hollow, counts as clear. Allocates nothing. */
void clear_view_find(double depth[3], double length[3], const mesh *m, int part, const double *extinction);

#endif
