/* A polygon cut into triangles.
 *
 * A fan about a corner from which all of it is seen, where there is one; else, if the polygon is flat, ear after ear is cut off (a corner
 * whose triangle holds no other corner: every simple polygon has two; Meisters, Amer. Math. Monthly 82 (1975) 648). A polygon that is flat
 * has the same surface however it is cut. */
#ifndef LASTWATER_TRIANGLE_POLYGON_H
#define LASTWATER_TRIANGLE_POLYGON_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* corners[num], num >= 3, in order, are indices of points; they are used up. triangles[num - 2] is filled; they run the way the polygon
 * does. False: the polygon is bent, so that it could be cut in more ways than one, or crosses itself. No memory is taken. */
bool triangle_polygon_cut(const double (*points)[3], uint32_t *corners, size_t num, uint32_t (*triangles)[3]);

#endif
