/* A round rod bent along a path. */
#ifndef LASTWATER_SHAPE_SWEPT_H
#define LASTWATER_SHAPE_SWEPT_H

#include "geometry/tube_path.h"
#include "geometry/shape.h"

/* All points within `radius` of the path (m, > 0): its ends are half balls. The path is copied. The distance is exact outside; inside, where
 * turns meet, a bound. */
status shape_swept(shape **out, const tube_path *along, double radius, message *msg);

#endif
