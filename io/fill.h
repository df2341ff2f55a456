/* Litres to level and back: how high a liquid stands in a hollow with things standing in it. */
#ifndef LASTWATER_FILL_H
#define LASTWATER_FILL_H

#include "geometry/shape.h"

typedef struct {          /* tube that also takes up room: turns, or a line */
  size_t num;
  const double (*rings)[2]; /* m {r, z}                             */
  size_t num_points;
  const double (*points)[3]; /* m {x, y, z}; NULL when num_points is 0  */
  double tube_radius;       /* m                                    */
} fill_rings;

typedef struct {
  const shape *space;     /* borrowed: the hollow without what stands in it                     */
  bool revolved;
  double floor, rim;      /* m, z between which it may be filled                                */
  const fill_rings *rings; /* [num_rings] borrowed; may be NULL                                   */
  size_t num_rings;
} fill;

/* m3 below level z. Relative error about 1e-6 (1e-3 in three dimensions) of the whole. */
double fill_volume(const fill *f, double z);
/* m, the level at which the volume (m3, 0 < volume <= fill_volume at the rim) is reached. */
double fill_level(const fill *f, double volume);

#endif
