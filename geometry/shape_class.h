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
  void (*bounds)(const shape *s, double low[3], double high[3]);
  shape *a, *b;        /* operands, owned; NULL where there are none         */
  double value[16];    /* sizes, m; meaning by kind                          */
  double (*points)[2]; /* m, (r, z) corners, owned; NULL where there are none */
  size_t num_points;
  double (*volume_below)(const shape *s, double z_level); /* m3, exact, of bounded solids; NULL: sampled */
  shape_shared *shared; /* NULL where there is none */
};

/* Puts a filled record on the heap; on failure its operands and points go too. */
status shape_put(shape **out, struct shape made, message *msg);

#endif
