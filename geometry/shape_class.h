/* What a shape is made of, for the files that add kinds of shape: a distance, bounds, and plain data.
 *
 * Everything owned hangs on `a`, `b` and `points`, so that cloning and destroying need no code per kind. */
#ifndef LASTWATER_SHAPE_CLASS_H
#define LASTWATER_SHAPE_CLASS_H

#include "geometry/shape.h"

struct shape {
  double (*distance)(const shape *s, const double point[3]);
  void (*bounds)(const shape *s, double low[3], double high[3]);
  shape *a, *b;        /* operands, owned; NULL where there are none         */
  double value[8];     /* sizes, m; meaning by kind                          */
  double (*points)[2]; /* m, (r, z) corners, owned; NULL where there are none */
  size_t num_points;
};

#endif
