/* From the parts of a rig to the layers and the mesh that stand for them. */
#ifndef LASTWATER_RUN_LAYERS_H
#define LASTWATER_RUN_LAYERS_H

#include "solver/rig.h"

/* True when a wall of this thickness is meshed as a thin wall: it or its floor thinner than two cells of the smallest spacing. */
bool run_layers_wall_is_thin(const rig *r, const rig_part *part);

/* Cuts the rig's grid. Refuses, by name: a body of water or bath that got no volume. */
status run_layers_mesh(mesh **out, const rig *r, message *msg);

#endif
