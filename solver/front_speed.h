/* How fast the freezing front was as it passed each node, from the times at which it passed them.
 *
 * Like a travel-time (eikonal) solution: the slowness dt/dx along each axis, taken from the side that froze earlier; speed = 1 /
 * sqrt(sum of squares). Beside a wall or the room the surface counts as a neighbour at the node's own start time, as far as the
 * node behind bears it out (a front that runs along a wall does not come from it).
 *
 * A node is half frozen before its middle is passed by a front that is hollow, seen from the water, and after that by one that
 * bulges. The share of ice is the mean of what lies behind the front over a hat two nodes wide (front_node.h), of variance h^2 /
 * 6 along each axis, so that to first order in the curvature the middle is passed later by  - |grad t| div n h^2 / 12,  n = grad
 * t / |grad t|. That is put right first. */
#ifndef LASTWATER_FRONT_SPEED_H
#define LASTWATER_FRONT_SPEED_H

#include "solver/adjacency.h"

/* Fills speed[num_nodes of the mesh], m/s of ice grown, NAN where there is none, from start and freeze, s, as in front.h (NAN:
 * none). */
status front_speed_fill(const double *start, const double *freeze, const adjacency *a, const mesh *m, double *speed,
                        message *msg);

#endif
