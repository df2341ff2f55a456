/* The surface of a piece of ice that loses its skin: a signed distance at every cell, negative in the ice.
 *
 * It is made from how full each cell is: a partly filled cell is cut by a plane whose normal is the falling direction of the share of ice
 * (weights 1 2 1 over the cells around: Youngs 1982, from memory) and behind which exactly that share lies; further cells take
 * the distance to the nearest of these pieces of plane (ice_pieces.h). The surface recedes by s += speed * step, the
 * speed of each cell being that of its neighbours nearer to the surface, so that flat faces stay flat and edges sharp.
 * Nothing here hangs on the order in which cells are visited, and a ridge of the distance, as at the middle of a piece, is told from a plain, so that half a
 * piece behind a mirror plane is the whole to rounding.
 * Volume and area of the ice in a cell: each half, quarter or eighth of it is cut by the plane of its own one-sided slopes; the area is
 * the volume that a unit of receding takes away, ring-weighted in (r, z). So a slanting or round surface has its own area and not that
 * of a staircase, which is 4 / pi (a circle) to 3 / 2 (a sphere) times too large.
 *
 * Only what the outside reaches counts as bare: from beyond the grid through cells without ice, never through a mirror plane. */
#ifndef LASTWATER_ICE_SURFACE_H
#define LASTWATER_ICE_SURFACE_H

#include <stdint.h>

#include "geometry/grid.h"
#include "solver/ice_pieces.h"

typedef struct {
  const grid *grid;    /* borrowed */
  size_t num_cells;
  double *distance;    /* [num_cells] m: the state; whoever restores it calls ice_surface_measure */
  double *cell_volume; /* [num_cells] m3 */
  double *share;       /* [num_cells] of the cell that is ice, 0..1 */
  double *area;        /* [num_cells] m2 of surface in it, bare or not */
  uint8_t *bare;       /* [num_cells] 1: the outside reaches it */
  double *speed, *work;
  size_t *queue;
  ice_pieces pieces;
} ice_surface;

/* Makes the distance from share[num_cells], 0..1, and measures. Owned by the caller: ice_surface_release. */
status ice_surface_create(ice_surface *out, const grid *g, const double *share, message *msg);
void ice_surface_release(ice_surface *s);

/* Fills share, area and bare from the distance. */
void ice_surface_measure(ice_surface *s);
/* Unit normal out of the ice, from central differences of the distance; in GRID_RZ {n_r, 0, n_z}. */
void ice_surface_normal(const ice_surface *s, size_t cell, double normal[3]);
/* Moves the surface: speed[num_cells], m/s >= 0, is read where area > 0, and written elsewhere (carried inward). Measures anew. */
bool ice_surface_recede(ice_surface *s, double *speed, double step); /* true: the speeds differed */
/* Where speeds differ the distance drifts from being one: everything off the surface is worked out anew from it. */
status ice_surface_renew(ice_surface *s, message *msg);

#endif
