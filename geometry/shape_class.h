/* What a shape is made of, for the files that add kinds of shape: a distance, bounds, and plain data.
 *
 * Everything owned hangs on `a`, `b`, `points` and `shared`, so that cloning and destroying need no code per kind. */
#ifndef LASTWATER_SHAPE_CLASS_H
#define LASTWATER_SHAPE_CLASS_H

#include <stdatomic.h>

#include "geometry/shape.h"

/* Data too large to copy: read only once it is made, and held by all clones together. The last one releases it. */
typedef struct shape_shared shape_shared;
struct shape_shared {
  atomic_size_t holders;
  void (*release)(shape_shared *s);
};

static inline void shape_shared_start(shape_shared *s, void (*release)(shape_shared *s))
{
  atomic_init(&s->holders, 1);
  s->release = release;
}

struct shape {
  double (*distance)(const shape *s, const double point[3]);
  void (*normal)(const shape *s, const double point[3], double step, double normal[3]); /* as shape_normal; NULL: by differences */
  void (*bounds)(const shape *s, double low[3], double high[3]);
  shape *a, *b;        /* operands, owned; NULL where there are none         */
  double value[16];    /* sizes, m; meaning by kind                          */
  double (*points)[2]; /* m, (r, z) corners, owned; NULL where there are none */
  size_t num_points;
  /* m3, exact, of a bounded solid grown by `grown` >= 0 m, below a level; NAN or NULL: not known, to be sampled */
  double (*volume_below)(const shape *s, double grown, double z_level);
  bool convex;          /* surely                                           */
  bool subtracts;       /* it is a without b                                */
  bool lid;             /* all that is below value[2]                       */
  shape_shared *shared; /* NULL where there is none */
};

/* Of an upright prism grown by `grown` (>= 0, then rounded), with convex ground of given area, m2, and perimeter, m: at a height where the
 * rounding has come to rho, the section is area + perimeter rho + pi rho^2 (Steiner). */
double shape_prism_volume(double area, double perimeter, double z_low, double z_high, double grown, double z_level);

/* Puts a filled record on the heap; on failure its operands and points go too. */
status shape_put(shape **out, struct shape made, message *msg);

#endif
