/* A tapered drum in a brine bath, and results invented for it: something to draw. Nothing here is a claim about ice. */
#ifndef LASTWATER_PICTURE_RIG_H
#define LASTWATER_PICTURE_RIG_H

#include "geometry/mesh.h"
#include "solver/results.h"
#include "solver/rig.h"

typedef struct picture_rig picture_rig;

/* Dimension is data: GRID_RZ, or GRID_XYZ with a plane of symmetry at y = 0 (a box of water in a box of brine). Any failure ends
 * the test. */
picture_rig *picture_rig_create(grid_kind kind);
void picture_rig_destroy(picture_rig **p);
rig *picture_rig_rig(picture_rig *p);
mesh *picture_rig_mesh(picture_rig *p);
/* Freeze times from the distance to the wall, last water deep inside, one trapped pocket, 24 h. */
results *picture_rig_results(picture_rig *p);
/* degC and 1, per node, from the freeze times at a time, s. Valid until destroyed; the same arrays each call. */
const double *picture_rig_temperature(picture_rig *p, double time);
const double *picture_rig_liquid(picture_rig *p, double time);

#endif
