/* Which nodes of one part lie beside each other: the mesh's same-part faces as lists per node. */
#ifndef LASTWATER_ADJACENCY_H
#define LASTWATER_ADJACENCY_H

#include "geometry/mesh.h"

typedef struct {
  size_t num_nodes;
  size_t *start;      /* [num_nodes + 1], owned: neighbours of node n are entries start[n] .. start[n + 1] - 1      */
  int32_t *neighbour; /* owned, like the next two: [start[num_nodes]]; the same order for any number of threads      */
  float *distance;    /* m, between centroids                                                                      */
  float *area;        /* m2, open aperture                                                                         */
  int8_t *direction;  /* 2 * axis + 1 when the neighbour lies towards rising coordinate, 2 * axis when falling      */
} adjacency;

status adjacency_create(adjacency *out, const mesh *m, message *msg); /* *out untouched on failure */
void adjacency_release(adjacency *a);                                 /* NULL-safe                 */

#endif
