/* Where the white ice of a block lies. */
#ifndef LASTWATER_CLEAR_WHITE_H
#define LASTWATER_CLEAR_WHITE_H

#include "geometry/mesh.h"
#include "io/status.h"

/* {r, 0, z} or {x, y, z}, m, mirrored halves included. NAN in all of them: none is white. */
typedef struct {
  double middle[3];        /* its centre of volume                                                 */
  double low[3], high[3];  /* along each axis one twentieth of it lies below low, one twentieth above high */
} clear_white;

/* extinction[num_nodes], 1/m, NAN where there is no ice; white: from `bound` on. STATUS_NO_MEMORY, else STATUS_OK. */
status clear_white_find(clear_white *out, const mesh *m, int part, const double *extinction, double bound, message *msg);

#endif
