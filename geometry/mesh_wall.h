/* Through a thin wall: which of its sides a facet lies on, what is on the other side, and where. */
#ifndef LASTWATER_MESH_WALL_H
#define LASTWATER_MESH_WALL_H

#include "geometry/mesh_cut.h"

typedef enum { MESH_WALL_INNER, MESH_WALL_OUTER, MESH_WALL_RIM } mesh_wall_side;

/* The side of the wall on which a point of its surface lies; `into` is the unit normal into the wall there. */
mesh_wall_side mesh_wall_side_at(const mesh_layer *wall, const double point[3], const double into[3], double step);

/* The point of the outer surface opposite a point of the inner one. */
void mesh_wall_outer_point(const mesh_layer *wall, const double inner[3], double step, double outer[3]);

/* The place of the cavity's surface nearest to a point of the wall, a little inside, and the unit normal outward through the point. */
void mesh_wall_foot(const mesh_layer *wall, const double point[3], double step, double foot[3], double normal[3]);

/* Reflects a point at the mirror planes and the axis that it lies behind; false when it is outside the grid. Bit a of *across (never NULL) is turned for a
 * mirror plane across axis a. */
bool mesh_wall_bring_into_grid(const grid *g, double point[3], int32_t *across);

typedef struct {
  int32_t cell, part;
  int32_t across; /* bit a set: it was seen beyond the mirror plane across axis a */
} mesh_wall_opposite;

/* What is just (`beyond`, m) outside the wall, opposite an inner point. A mirror plane is looked through; the cell is
 * MESH_NONE and the part MESH_VOID outside the grid. False: there is more wall. */
bool mesh_wall_look_across(const mesh_cut_request *q, const mesh_layer *wall, const double inner[3], double step, double beyond,
                           mesh_wall_opposite *found);

#endif
