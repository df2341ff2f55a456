/* One body of water of a rig in (x, y, z) on a lattice of points: where it is and when it froze, mirrored halves included.
 *
 * The points are the middles of the cells round the body, with one more layer all round, so that its surface is closed. `inside` comes from
 * the body's share of each cell, so the surface is that of the true shape and no staircase; freeze times are those of the nodes,
 * continued flat beyond the water for a few cells. */
#ifndef LASTWATER_ICE_FIELD_H
#define LASTWATER_ICE_FIELD_H

#include "io/ice_moments.h"
#include "io/solid_surface.h"

typedef struct {
  solid_lattice lattice;
  float *inside;   /* [points] share of the body in the cell, less one half: its surface is at 0     */
  float *late;     /* [points] s from time zero: when it froze; beyond the end of the run: it did not */
  int32_t *pocket; /* [points] index into the body's pockets, -1 unknown                              */
  double low[3], high[3]; /* m: box of the body                                                       */
} ice_field;

/* STATUS_BAD_INPUT: no cell holds the body. *out is empty unless STATUS_OK. */
status ice_field_create(ice_field *out, const ice_moments_of *of, size_t body, message *msg);
void ice_field_release(ice_field *f);
size_t ice_field_num(const ice_field *f);

/* Fills level[points]: above 0 in the water of a pocket that froze after a moment, s, below 0 in the rest. */
void ice_field_of_pocket(const ice_field *f, int32_t which, double after, float *level);

#endif
