/* Volume and surface of ice in a box that a plane, or faces across the axes, cut. In (r, z) a box is a ring. */
#ifndef LASTWATER_ICE_PLANE_H
#define LASTWATER_ICE_PLANE_H

#include "geometry/grid.h"

typedef struct {
  double low[3], high[3]; /* m */
  double volume;          /* m3 */
} ice_box;

/* The turn of GRID_RZ, along which nothing changes. */
bool ice_plane_thin_axis(const grid *g, int axis);
double ice_plane_width(const grid *g, int axis, size_t i); /* m, of cell i along an axis */

/* Ice where  value + slope . (x - middle) < 0, value in m at the box's middle: adds its volume, m3, and the area, m2, that one metre of
 * receding takes away per metre (the plane's own area when the slope is a unit vector). */
void ice_plane_cut(const grid *g, const ice_box *b, double value, const double slope[3], double *volume, double *area);

/* How many axes the surface lies across; two or more make an edge or a corner. */
int ice_plane_faces(const double slope[3]);
/* An octant of the cell `at` at an edge or corner; value at the cell's middle, slopes of the octant's own sides. */
void ice_plane_edge(const grid *g, const size_t at[3], const ice_box *b, double value, const double slope[3], double *volume, double *area);

#endif
