/* A flat outline drawn up into a prism. */
#ifndef LASTWATER_SHAPE_EXTRUDED_H
#define LASTWATER_SHAPE_EXTRUDED_H

#include "geometry/shape.h"

/* Closed polygon of num_points (x, y) pairs, m, in order (either way round), from z_low to z_high. An outline that crosses itself or
 * encloses nothing is refused with the two edges named. The distance is exact. */
status shape_extruded(shape **out, const double (*xy)[2], size_t num_points, double z_low, double z_high, message *msg);

#endif
