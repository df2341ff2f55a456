/* How the front crosses one node: when, how fast, which way, and when it shuts an open surface above. Used by clouding_history.h.
 */
#ifndef LASTWATER_CLOUDING_CROSSING_H
#define LASTWATER_CLOUDING_CROSSING_H

#include "solver/clouding_history.h"

#define CLOUDING_CROSSING_PARTS 4 /* even */

/* A node, or where growth changes across it, its parts in the order in which they freeze, each with a speed of its own: linear
 * from the middle of the node to those of its neighbours along the axis of the greatest change. Without them the edge of clear
 * ice would stand at the faces of cells. Returns how many; *end: s, when all of it is frozen; *num_clamped counts one more where
 * the speed was. */
size_t clouding_crossing_describe(clouding_crossing parts[CLOUDING_CROSSING_PARTS], double *end, size_t *num_clamped,
                                  const clouding_history_request *q, int32_t node, double open_area);

#endif
