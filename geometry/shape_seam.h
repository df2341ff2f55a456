/* Seams of shapes made of several: where two pieces of a union (or two that are taken away) touch or overlap by little, the distance deep inside
 * the union is that to the seam, though nothing ends there. Grown by more than that (shape_offset), the shape gets a fin along it: a wall that nobody meant. */
#ifndef LASTWATER_SHAPE_SEAM_H
#define LASTWATER_SHAPE_SEAM_H

#include "geometry/shape.h"

/* Has s a seam along which there is a fin when it is grown by `by` m (< 0: shrunk)? Then `place` lies on one. From 24 places along each axis of its bounds the
 * distance is followed from face to face: it ends at a surface or edge, or to and fro across a seam; and it counts where no surface is nearer than |by|
 * to there either (26 ways all round, the lowest led on by the slope). So a seam is missed that is smaller than a 24th of the bounds, and one all of which is
 * nearer than |by| to a true surface. Shapes that are not made of several have none. */
bool shape_seam_find(const shape *s, double by, double place[3]);

#endif
