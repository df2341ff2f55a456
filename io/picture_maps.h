/* Maps over the section of the rig: when each place froze, and fields at one moment. */
#ifndef LASTWATER_PICTURE_MAPS_H
#define LASTWATER_PICTURE_MAPS_H

#include "geometry/mesh.h"
#include "solver/results.h"

/* Freeze time in hours from the start of the (first) freeze stage, with lines of equal time, the last water and trapped pockets. */
status picture_maps_freeze_time(const char *path, const rig *r, const mesh *m, const results *res, message *msg);
/* values[num_nodes] of the whole rig at `time`, s from time zero. unit (UDUNITS text): "degC" gets the two-sided map about 0 degC and
 * lines of equal temperature, anything else the map of liquid fractions on 0..1. at: as in picture_layout. */
status picture_maps_field(const char *path, const rig *r, const mesh *m, const char *title, const char *unit, const double *values,
                          double time, const double *at, message *msg);

#endif
