/* The largest piece without a cloud that can be sawn out of a block: a cylinder about the axis in (r, z), a box in (x, y, z). */
#ifndef LASTWATER_CLEAR_PIECE_H
#define LASTWATER_CLEAR_PIECE_H

#include <stdint.h>

#include "geometry/grid.h"
#include "io/status.h"

typedef struct {
  double volume;          /* m3, mirrored halves included; 0: there is none                                 */
  double size[3];         /* m: (r, z): radius, 0, height; else the edges along x, y, z, mirrored halves included */
  double low[3], high[3]; /* m: its corners, mirrored halves included; (r, z): {0, 0, z}, {radius, 0, z} */
} clear_piece;

/* clear[num_cells]: 1 where the whole cell is clear ice. A mirror plane that a box touches doubles it.
 * Every box is compared, so the answer is exact on the grid; time: rows^2 in (r, z), layers^2 * cells of a layer in (x, y, z). */
status clear_piece_find(clear_piece *piece, const grid *g, const uint8_t *clear, message *msg);

#endif
