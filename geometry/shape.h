/* Solids described by a signed distance.
 *
 * Every shape is a solid in (x, y, z), z up; a figure of revolution about the z axis is evaluated
 * in the half plane at {r, 0, z}. Shapes are immutable once built. A shape that takes other shapes
 * (union, offset, ...) takes ownership of them on success and on failure alike. */
#ifndef LASTWATER_SHAPE_H
#define LASTWATER_SHAPE_H

#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

typedef struct shape shape;

/* Signed distance from point to the surface, m: negative inside. Exact for primitives with convex
 * or smooth surfaces; for boolean results a bound whose zero set and sign are exact. */
double shape_distance(const shape *s, const double point[3]);
/* Unit outward normal: of the part or facet whose surface is nearest where that is known, else (and within 4 steps of an edge between two
 * parts) by central differences of the distance over `step` m. 0 where there is none. */
void shape_normal(const shape *s, const double point[3], double step, double normal[3]);
void shape_bounds(const shape *s, double low[3], double high[3]); /* m; +-INFINITY where unbounded */
void shape_destroy(shape **s); /* NULL-safe */
status shape_clone(const shape *s, shape **out, message *msg);

/* Figures of revolution about the z axis. Lengths in m, > 0 unless said. */
status shape_cylinder(shape **out, double radius, double z_low, double z_high, message *msg);
status shape_tube(shape **out, double inner_radius, double outer_radius, double z_low, double z_high, message *msg);
status shape_frustum(shape **out, double radius_low, double radius_high, double z_low, double z_high, message *msg);
status shape_sphere(shape **out, const double centre[3], double radius, message *msg);
status shape_torus(shape **out, double ring_radius, double tube_radius, double z, message *msg);
/* Closed polygon of num_points (r, z) pairs in order (either way round), r >= 0, revolved. A polygon
 * that crosses itself or encloses nothing is refused with the two edges named. */
status shape_revolved(shape **out, const double (*rz)[2], size_t num_points, message *msg);

/* Boxes and half spaces. */
status shape_box(shape **out, const double low[3], const double high[3], message *msg);
status shape_half_space(shape **out, const double point[3], const double outward_normal[3], message *msg);

/* Operations; the operands are taken over. */
status shape_union(shape **out, shape *a, shape *b, message *msg);
status shape_intersection(shape **out, shape *a, shape *b, message *msg);
status shape_difference(shape **out, shape *a, shape *b, message *msg); /* a without b */
status shape_offset(shape **out, shape *a, double distance, message *msg); /* grown by distance (m, may be < 0) */
status shape_translate(shape **out, shape *a, const double by[3], message *msg);

/* What several solids have in common: s is the intersection of its sides, each as it is or turned inside out (taken away). Each is smooth where
 * s has an edge that two of them make. Fills sides[most] (most >= 1), borrowed from s; their number. A shape that is neither an
 * intersection nor a difference, or has more of them than `most`, is kept whole. */
typedef struct {
  const shape *of;
  bool turned;
} shape_side;
size_t shape_sides(const shape *s, size_t most, shape_side *sides);

/* Volume, m3, of the part of s with z < z_level; s must be a figure of revolution when revolved is true. Exact where it follows from
 * what s is made of (and revolved is false), else sampled with error below rel_tol of the total volume. Used for levels and fills. */
double shape_volume_below(const shape *s, bool revolved, double z_level, double rel_tol);

#endif
