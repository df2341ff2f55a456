/* Which nodes a node of the front conducts to, and which surfaces it has: the regular rows of the grid as they are, further faces
 * and the surfaces as lists per node. */
#ifndef LASTWATER_FRONT_NEIGHBOURS_H
#define LASTWATER_FRONT_NEIGHBOURS_H

#include "solver/front_cells.h"

/* Of a cell: 2 axis down, 2 axis + 1 up. */
enum { FRONT_NEIGHBOURS_SIDES = 6 };

typedef struct {
  const heat_flux_rows *rows;           /* borrowed                                          */
  size_t num_cells;                     /* of the grid: nodes from there on have no regular neighbours */
  ptrdiff_t apart[FRONT_NEIGHBOURS_SIDES]; /* from a cell to its neighbour on each side       */
  uint32_t *face_start, *surface_start; /* [num_nodes + 1] where the lists of a node begin   */
  uint32_t *face_of, *surface_of;       /* faces [2 num_faces], surfaces [num_surfaces]      */
  int32_t *face_other;                  /* [2 num_faces] the nodes over those faces          */
} front_neighbours;

/* All but the rows is owned by *out: front_neighbours_release. False: out of memory, nothing to release. */
bool front_neighbours_create(front_neighbours *out, const front_cells_network *n);
void front_neighbours_release(front_neighbours *f);

/* Conductance between a cell and its neighbour on a side, m; 0: there is none. */
static inline double front_neighbours_over(const front_neighbours *f, size_t cell, int side)
{
  const heat_flux_rows *v = f->rows;
  const uint32_t n = (uint32_t)v->num[0], row = (uint32_t)cell / n, i = (uint32_t)cell - row * n;
  const size_t back = side == 2 ? 1 : side == 4 ? v->num[1] : 0; /* a face belongs to the cell below it: so many rows back */
  const double *const *conductance = v->conductance[side / 2];
  return conductance && row >= back ? conductance[row - back][side == 0 ? i : i + 1] : 0.0;
}

static inline size_t front_neighbours_on(const front_neighbours *f, size_t cell, int side)
{
  return (size_t)((ptrdiff_t)cell + f->apart[side]);
}

/* Goes through the neighbours of a node: the regular ones, down and up each axis, then those over further faces. */
typedef struct {
  const front_neighbours *beside;
  const double *face_conductance;
  size_t node;
  double over[FRONT_NEIGHBOURS_SIDES]; /* m, conductances to the regular neighbours      */
  int next;                            /* side to look at next                           */
  uint32_t face;                       /* further one to look at next, among the node's  */
  int side;                            /* of the neighbour at hand; -1: over a further face */
  size_t other;
  double conductance;
} front_neighbours_walk;

/* Back to the first neighbour. */
static inline void front_neighbours_again(front_neighbours_walk *w)
{
  w->next = 0;
  w->face = w->beside->face_start[w->node];
}

/* Fills *w in place: handed back as a value it was copied, some 100 bytes a node. */
static inline void front_neighbours_begin(front_neighbours_walk *w, const front_neighbours *f, const double *face_conductance, size_t node)
{
  w->beside = f;
  w->face_conductance = face_conductance;
  w->node = node;
  for (int side = 0; side < FRONT_NEIGHBOURS_SIDES; side++)
    w->over[side] = node < f->num_cells ? front_neighbours_over(f, node, side) : 0.0;
  front_neighbours_again(w);
}

static inline bool front_neighbours_step(front_neighbours_walk *w)
{
  const front_neighbours *f = w->beside;
  while (w->next < FRONT_NEIGHBOURS_SIDES) {
    w->side = w->next++;
    w->conductance = w->over[w->side];
    w->other = front_neighbours_on(f, w->node, w->side);
    if (w->conductance > 0.0)
      return true;
  }
  if (w->face == f->face_start[w->node + 1])
    return false;
  w->side = -1;
  w->other = (size_t)f->face_other[w->face];
  w->conductance = w->face_conductance[f->face_of[w->face++]];
  return true;
}

#endif
