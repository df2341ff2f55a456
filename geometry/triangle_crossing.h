/* Faces of a surface that run through each other. */
#ifndef LASTWATER_TRIANGLE_CROSSING_H
#define LASTWATER_TRIANGLE_CROSSING_H

#include "geometry/triangle_surface.h"
#include "geometry/triangle_tree.h"

typedef struct {
  size_t num;       /* pairs of triangles of which an edge of one goes through the other, its ends farther than the weld from it */
  double place[3];  /* the first of them, in the unit of the points                                         */
} triangle_crossing;

/* Looks at all pairs whose boxes meet. Faces that only touch, or lie on one another, are not counted. Where an edge meets an edge or a corner,
 * the faces that hang together there tell whether it goes through. */
void triangle_crossing_find(const triangle_surface *s, const triangle_tree *tree, triangle_crossing *out);

#endif
