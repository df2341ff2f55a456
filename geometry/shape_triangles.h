/* A solid bounded by triangles.
 *
 * The distance is exact: the nearest triangle by a tree of boxes; closest point of a triangle after Ericson, Real-Time Collision
 * Detection (2005) 5.1.5. The sign is that of the way to the closest point against the normal there: of the face, or, on an edge or a
 * corner, the pseudo-normal weighted by angles, with which the sign is right for every closed surface (Baerentzen & Aanaes, IEEE Trans.
 * Vis. Comput. Graphics 11 (2005) 243). The volume below a level is exact too.
 *
 * Clones share one store, counted. Any number of threads may ask at once. Memory that stays: some 210 bytes a triangle. */
#ifndef LASTWATER_SHAPE_TRIANGLES_H
#define LASTWATER_SHAPE_TRIANGLES_H

#include "geometry/shape.h"
#include "geometry/triangle_surface.h"

/* Takes over the surface, its points in m (released on success and on failure alike); name is used in messages. STATUS_BAD_INPUT:
 * faces that cross, how many and where. */
status shape_triangles(shape **out, triangle_surface *surface, const char *name, message *msg);

#endif
