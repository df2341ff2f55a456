/* What `check` tells of a plant: a table of what it carries and what the gauges read, each compressor's share, switches, currents. */
#ifndef LASTWATER_CHECK_PLANT_H
#define LASTWATER_CHECK_PLANT_H

#include <stdio.h>

#include "solver/rig.h"

/* Nothing for a rig without a plant. */
void check_plant_print(FILE *to, const rig *r);

#endif
