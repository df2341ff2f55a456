/* The rig as it was understood: parts by name, coil, probes, levels, in mm. */
#ifndef LASTWATER_PICTURE_SECTION_H
#define LASTWATER_PICTURE_SECTION_H

#include "geometry/mesh.h"
#include "solver/rig.h"

status picture_section_draw(const char *path, const rig *r, const mesh *m, message *msg);

#endif
