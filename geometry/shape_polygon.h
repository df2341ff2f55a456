/* A closed polygon in the half plane (r, z): is it one, and how far is a point from it. */
#ifndef LASTWATER_SHAPE_POLYGON_H
#define LASTWATER_SHAPE_POLYGON_H

#include <stddef.h>

#include "io/status.h"

/* STATUS_BAD_INPUT, the edges named from 0: fewer than 3 points, not finite, r < 0, two edges that cross or touch, no area. */
status shape_polygon_check(const double (*rz)[2], size_t num_points, message *msg);

/* Signed distance, m, from (r, z) to the surface of the revolved polygon, negative inside. Exact. Edges that lie on
 * r = 0 are no surface. */
double shape_polygon_distance(const double (*rz)[2], size_t num_points, double r, double z);

/* The same for a polygon in a plane (x, y): points may lie on either side of 0, and every edge is surface. */
status shape_polygon_check_plane(const double (*xy)[2], size_t num_points, message *msg);
double shape_polygon_plane_distance(const double (*xy)[2], size_t num_points, double x, double y);

#endif
