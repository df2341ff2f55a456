/* Which part lies where, sampled from the shapes on an even lattice over the painted box: for a page that draws any section itself.
 * In (r, z) the lattice has one sample along axis 1 and covers r >= 0. */
#ifndef LASTWATER_PART_LATTICE_H
#define LASTWATER_PART_LATTICE_H

#include <stdint.h>

#include "geometry/mesh.h"
#include "solver/rig.h"

typedef struct {
  double low[3], high[3]; /* m; the samples lie in the middles of num[] equal steps */
  size_t num[3];
  uint8_t *part;          /* [num[2]][num[1]][num[0]] part index + 1, 0 the room, 255 any part from 254 on; owned */
} part_lattice;

/* At most about `most` samples. STATUS_BAD_INPUT: nothing is painted. */
status part_lattice_create(part_lattice *out, const rig *r, const mesh *m, size_t most, message *msg);
void part_lattice_release(part_lattice *l);

#endif
