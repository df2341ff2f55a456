/* Two pictures of a rig in (x, y, z) as solids: the ice cut away at some moments, with the water that is left standing in it; and the last
 * pockets of water inside the transparent outline of their mould. */
#ifndef LASTWATER_PICTURE_ICE_H
#define LASTWATER_PICTURE_ICE_H

#include "io/ice_moments.h"

/* A rig in (x, y, z) with bodies of water, and a map of freeze times in which something froze. */
bool picture_ice_wanted(const ice_moments_of *of);
/* num >= 1. */
status picture_ice_draw_cut(const char *path, const ice_moments_of *of, const ice_moment *moments, size_t num, message *msg);
status picture_ice_draw_pockets(const char *path, const ice_moments_of *of, message *msg);

#endif
