/* What a page knows of the rig beside its fields: parts by name and look, bodies, coils, probes. */
#ifndef LASTWATER_PAGE_RIG_H
#define LASTWATER_PAGE_RIG_H

#include <stdio.h>

#include "solver/rig.h"

/* Members of an object that is open: begins with a comma. */
void page_rig_write(FILE *to, const rig *r);

#endif
