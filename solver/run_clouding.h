/* Clear and white ice of the bodies that ask for it, once the march is over. */
#ifndef LASTWATER_RUN_CLOUDING_H
#define LASTWATER_RUN_CLOUDING_H

#include "solver/run_parts.h"

/* Fills clear of body `index` and its nodes in the maps gas_fraction and clarity, which are made on the first call; a body that does not
 * ask gets nothing. start: s from time zero, of the freeze. Its pockets, and the speed of the front, must be there. */
status run_clouding_body(run *x, size_t index, double start, message *msg);

#endif
