/* The table of solids: moulds, tubs, tubes, insulation. Values at 0 degC with their spread; the sources stand in the .c file. */
#ifndef LASTWATER_MATERIAL_SOLID_H
#define LASTWATER_MATERIAL_SOLID_H

#include "materials/material.h"

size_t material_solid_count(void);

/* Conductivity at 0 degC with the range in which published values lie, W/(m K); false when the name is unknown. */
typedef struct { double low, middle, high; } solid_spread;
bool material_solid_conductivity_spread(const char *name, solid_spread *out);
/* The name of the table nearest to what was written; never NULL. */
const char *material_solid_nearest(const char *name);

#endif
