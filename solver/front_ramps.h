/* The ramps of a front (heat_potential.h) in the order of their nodes, in packs. */
#ifndef LASTWATER_FRONT_RAMPS_H
#define LASTWATER_FRONT_RAMPS_H

#include "solver/heat_potential.h"

typedef struct {
  heat_potential_front view; /* of the last fill */
  int32_t *node, *order;     /* [most] owned, like the rest */
  heat_potential_pack *pack;
  size_t most;
} front_ramps;

bool front_ramps_create(front_ramps *r, size_t most); /* false: out of memory */
void front_ramps_destroy(front_ramps *r);
/* ramps[num], of which r->order says the order; borrowed until the next fill. The same bits for any number of threads. */
void front_ramps_fill(front_ramps *r, const heat_potential_ramp *ramps, size_t num);

#endif
