/* The flat faces of a solid of triangles that lie square to an axis: a grid does well to have its planes there. */
#ifndef LASTWATER_TRIANGLE_FLATS_H
#define LASTWATER_TRIANGLE_FLATS_H

#include "geometry/triangle_surface.h"

enum { TRIANGLE_FLATS_MOST = 8 };

typedef struct {
  double at;   /* place along the axis                  */
  int outward; /* 1: the solid lies below it; -1: above */
  double area;
} triangle_flat;

/* Fills flats[] with the largest planes square to the axis that hold at least `share` of the area each; their number. Faces that reach above z = top
 * do not count. Without memory: 0. */
size_t triangle_flats_find(const triangle_surface *s, int axis, double top, double share, triangle_flat flats[TRIANGLE_FLATS_MOST]);

#endif
