/* Where the ice is clear, hazy or white, over the section of the rig, as it shows over a dark ground; the largest clear piece outlined. */
#ifndef LASTWATER_PICTURE_CLEAR_H
#define LASTWATER_PICTURE_CLEAR_H

#include "geometry/mesh.h"
#include "solver/results.h"

/* Wants res->clarity. Shade: light that 100 mm of such ice sends back (front_gas.h). Classes as in clouding.h. */
status picture_clear_draw(const char *path, const rig *r, const mesh *m, const results *res, message *msg);
/* Is there anything to draw? */
bool picture_clear_wanted(const results *res);

#endif
