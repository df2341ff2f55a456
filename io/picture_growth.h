/* How fast the ice grew at every place, against the speed up to which it would have stayed clear there, then. */
#ifndef LASTWATER_PICTURE_GROWTH_H
#define LASTWATER_PICTURE_GROWTH_H

#include "geometry/mesh.h"
#include "io/status.h"
#include "solver/results.h"

/* Are there maps of growth speed and of its limit, and a body that asks for clear ice? */
bool picture_growth_wanted(const results *res);
/* Colour: speed over the limit; lines of equal speed in mm/h; the heavy line is the limit. Beside it both over the frozen share. */
status picture_growth_draw(const char *path, const rig *r, const mesh *m, const results *res, message *msg);

#endif
