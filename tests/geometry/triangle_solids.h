/* Solids of triangles for the tests, and the bytes of the files that would hold them. */
#ifndef TRIANGLE_SOLIDS_H
#define TRIANGLE_SOLIDS_H

#include "geometry/triangle_file.h"

/* An octahedron whose faces are divided n times along each edge and blown up to a sphere: 8 n^2 triangles, their own points each.
 * radius is multiplied by 1 + spikes * (a fixed noise between -1 and 1 of the point). */
triangle_file triangle_solids_ball(int n, const double centre[3], double radius, double spikes);
triangle_file triangle_solids_box(const double low[3], const double high[3]); /* 12 triangles, 8 points */
/* b's triangles after a's; b is released. */
void triangle_solids_append(triangle_file *a, triangle_file *b);
void triangle_solids_turn_over(triangle_file *f, size_t first, size_t every); /* triangles first, first + every, ... */
void triangle_solids_leave_out(triangle_file *f, size_t triangle);
double triangle_solids_volume(const triangle_file *f); /* signed */

/* Allocated; free() them. */
char *triangle_solids_stl(const triangle_file *f, size_t *num_bytes);
char *triangle_solids_stl_text(const triangle_file *f, size_t *num_bytes);
char *triangle_solids_obj(const triangle_file *f, size_t *num_bytes);

#endif
