/* The surface of a piece of ice as round plates, one in each cell that it runs through, and how far a point is from the nearest of them.
 *
 * That distance is the least over all plates and their images behind mirror planes, however they are ordered, so that it is the same for half a
 * piece and the whole; it changes by no more than the plates do. They are found through a tree of boxes round neighbouring plates: a box that is farther than
 * the nearest plate so far is passed over. */
#ifndef LASTWATER_ICE_PIECES_H
#define LASTWATER_ICE_PIECES_H

#include <stdint.h>

#include "geometry/grid.h"

typedef struct {
  double point[3], normal[3]; /* m; unit. 0 along axes of one cell, along which the surface goes on for ever */
  double reach;               /* m: radius */
  uint64_t order;             /* of its cell: neighbours have like numbers */
} ice_piece;

typedef struct { double low[3], high[3]; } ice_pieces_box;

typedef struct {
  ice_piece *pieces;          /* owned, like boxes */
  ice_pieces_box *boxes;      /* node 1: all of it; 2 n and 2 n + 1: its halves */
  size_t num, room, num_boxes;
} ice_pieces;

void ice_pieces_release(ice_pieces *p);
void ice_pieces_clear(ice_pieces *p); /* the room is kept */
/* The plate of a cell: `distance` is that of the cell's middle from it, m, negative in the ice; normal[3], unit, out of the ice. */
status ice_pieces_add(ice_pieces *p, const grid *g, size_t cell, double distance, const double normal[3], message *msg);
/* To be called when all are added: images behind mirror planes, and the tree. */
status ice_pieces_arrange(ice_pieces *p, const grid *g, message *msg);
/* Distance, m, from the middle of a cell, or `most` where all are farther. */
double ice_pieces_distance(const ice_pieces *p, const grid *g, const size_t at[3], double most);

#endif
