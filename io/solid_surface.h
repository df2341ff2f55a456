/* Triangles where a field on a rectilinear lattice passes a value: by tetrahedra, six to a box of eight points, all round its diagonal.
 *
 * In a tetrahedron the field is taken as linear, so neighbours share their edges and the surface has no holes; two values more are carried
 * along linearly. Normals are those of the field's gradient. One layer of boxes at a time, so that no whole surface is ever held. */
#ifndef LASTWATER_SOLID_SURFACE_H
#define LASTWATER_SOLID_SURFACE_H

#include <stddef.h>

#include "io/status.h"

typedef struct {
  size_t num[3];  /* points along each axis; point (i, j, k) has index (k * num[1] + j) * num[0] + i */
  double *at[3];  /* [num[axis]] m, rising                                                            */
} solid_lattice;

typedef struct {
  float place[3];  /* m                                              */
  float normal[3]; /* unit, to where the field falls; 0: not known   */
  float carried;   /* of the other field, less its threshold         */
} solid_vertex;
typedef struct { solid_vertex *corner; size_t num, capacity; } solid_triangles; /* corners, three a triangle; owned */

typedef struct {
  const float *level, *carried; /* [points of the lattice]                         */
  float at, less;               /* the surface is where level = at; vertices carry carried - less */
} solid_surface_fields;

/* Makes *out the triangles between the layers k and k + 1 of points, k < num[2] - 1; room already there is used again. */
status solid_surface_layer(solid_triangles *out, const solid_lattice *l, const solid_surface_fields *f, size_t k, message *msg);
/* Adds a triangle. */
status solid_surface_add(solid_triangles *out, const solid_vertex corner[3], message *msg);
void solid_surface_release(solid_triangles *t);

#endif
