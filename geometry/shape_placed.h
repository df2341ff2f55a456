/* A shape scaled, turned and moved. */
#ifndef LASTWATER_SHAPE_PLACED_H
#define LASTWATER_SHAPE_PLACED_H

#include "geometry/shape.h"

/* A point p of the shape comes to rest at  rotation (scale p) + by.  Distances stay exact. */
typedef struct {
  double scale;          /* > 0 */
  double rotation[3][3]; /* orthonormal, right-handed: rows are the new x, y, z */
  double by[3];          /* m */
} shape_placed_frame;

/* Spun about z, tipped over towards +x, then turned about z again (angles in rad, counter-clockwise from above; a tip of 90 degrees lays
 * the z axis along +x); about `pivot`, which is then moved by `by`. Whole quarter turns are exact. */
shape_placed_frame shape_placed_turn(double scale, double spin, double tilt, double turn, const double pivot[3], const double by[3]);
/* Puts the z axis onto the way from one point to another, and the origin onto the first. The points must differ. */
shape_placed_frame shape_placed_axis(const double from[3], const double to[3]);
void shape_placed_point(const shape_placed_frame *f, const double own[3], double placed[3]);

typedef enum {
  SHAPE_PLACED_UPRIGHT, /* z stays z, and x stays x                     */
  SHAPE_PLACED_SQUARE,  /* each axis lies along an axis                 */
  SHAPE_PLACED_OBLIQUE
} shape_placed_kind;
shape_placed_kind shape_placed_kind_of(const shape_placed_frame *f);

/* Takes over a. Bounds of a shape turned out of square are those of its turned box. STATUS_BAD_INPUT: numbers that are not finite,
 * scale not above 0. */
status shape_placed(shape **out, shape *a, const shape_placed_frame *f, message *msg);

/* m, the lowest z of a bounded shape: its bounds are looked at from below on ever finer meshes; within 1e-4 of its size. */
double shape_placed_lowest(const shape *s);

#endif
