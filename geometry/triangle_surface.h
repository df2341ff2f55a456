/* A closed surface out of the loose triangles of a file: welded, judged, and mended where the intent is plain.
 *
 * Points that lie within a step of 2^-19 of the surface's width are one (an integer lattice: never the printed text; a surface
 * that lies sixteen times its width and more from the origin of its file: 2^-23 of the largest coordinate). Then
 *     mended, each with a warning:  triangles whose corners fell together are dropped, and those given twice; faces along whose
 *         edge points of the faces beyond lie are divided there (T-junctions); needles, flat to within the weld, are joined with their neighbour; faces turned against their neighbours are turned; a solid that is inside out is turned
 *         over as a whole (signed volume).
 *     refused, with how many and where:  holes; edges of more than two faces; one-sided surfaces; shells that enclose nothing;
 *         a shell within another and turned like it (filled or hollow? the file does not say).
 * Shells beside each other are solids of their own; a shell within another and turned against it is a hollow.
 * Faces that cross are found later, by shape_triangles. Places are told in the unit of the file.
 *
 * Memory, at its peak: some 150 bytes a triangle beside the file's own arrays. */
#ifndef LASTWATER_TRIANGLE_SURFACE_H
#define LASTWATER_TRIANGLE_SURFACE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "geometry/shape_placed.h"
#include "geometry/triangle_file.h"

enum { TRIANGLE_SURFACE_WARNINGS = 8, TRIANGLE_SURFACE_WARNING = 240 };

typedef struct {
  size_t num_points;
  double (*points)[3];    /* [num_points] owned; all different                                       */
  size_t num_triangles;
  uint32_t (*corners)[3]; /* [num_triangles] owned; counter-clockwise seen from outside              */
  uint32_t *across;       /* [3 * num_triangles] owned; at 3 * t + e: what lies beyond the edge of t from corner e to e + 1 */
  bool never_crosses;     /* known: shape_triangles need not look                                    */
  double step;            /* the weld, in the unit of the points                                      */
  double volume, area;    /* in powers of that unit                                                   */
  size_t num_shells;
  size_t num_welded;      /* points of the file that fell onto others                                 */
  size_t num_dropped, num_twins, num_divided, num_needles, num_turned, num_turned_over; /* triangles; the last: shells */
  size_t num_warnings;
  char warnings[TRIANGLE_SURFACE_WARNINGS][TRIANGLE_SURFACE_WARNING];
} triangle_surface;

/* Takes over what the file holds (it is released on success and on failure alike). name is used in messages.
 * STATUS_BAD_INPUT, STATUS_NO_MEMORY: *out is empty. */
status triangle_surface_create(triangle_surface *out, triangle_file *file, const char *name, message *msg);
void triangle_surface_release(triangle_surface *s);

/* Of the water between a face and the level above it: the integral of (z - level) n_z over the part of the face below (divergence of
 * (0, 0, z - level); the water's own surface adds nothing). h: heights of the corners over the level, S: area seen from above. */
double triangle_surface_below(const double h[3], double S);

/* Puts every point p at frame(unit p): the unit of length of the file in m, > 0, then scale, turn and way of the frame. */
void triangle_surface_place(triangle_surface *s, double unit, const shape_placed_frame *frame);

#endif
