/* The ramps of a front (heat_potential.h) in the order of their nodes, in packs. */
#ifndef LASTWATER_FRONT_RAMPS_H
#define LASTWATER_FRONT_RAMPS_H

#include "solver/heat_potential.h"

typedef struct {
  int32_t *node; /* [most] */
  heat_potential_pack *pack;
} front_ramps_packs;

typedef struct {
  heat_potential_front view; /* of the last fill */
  int32_t *order;            /* [most] owned, like the rest */
  front_ramps_packs packs[HEAT_POTENTIAL_LISTS];
} front_ramps;

bool front_ramps_create(front_ramps *r, size_t most); /* false: out of memory */
void front_ramps_destroy(front_ramps *r);
/* ramps[num], of which r->order says the order; borrowed until the next fill. enthalpy, by node, says which are INSIDE. The same bits for any
 * number of threads. */
void front_ramps_fill(front_ramps *r, const heat_potential_ramp *ramps, size_t num, const double *enthalpy);

#endif
