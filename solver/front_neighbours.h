/* Which nodes a node of the front conducts to, and which surfaces it has: the regular rows of the grid as they are, further faces
 * and the surfaces as lists per node. */
#ifndef LASTWATER_FRONT_NEIGHBOURS_H
#define LASTWATER_FRONT_NEIGHBOURS_H

#include "solver/front_cells.h"

typedef struct {
  const conductance_rows *rows;         /* borrowed                                          */
  uint32_t *face_start, *surface_start; /* [num_nodes + 1] where the lists of a node begin   */
  uint32_t *face_of, *surface_of;       /* faces [2 num_faces], surfaces [num_surfaces]      */
  int32_t *face_other;                  /* [2 num_faces] the nodes over those faces          */
} front_neighbours;

/* All but the rows is owned by *out: front_neighbours_release. False: out of memory, nothing to release. */
bool front_neighbours_create(front_neighbours *out, const front_cells_network *n);
void front_neighbours_release(front_neighbours *f);

/* Goes through the neighbours of a node: the regular ones, down and up each axis, then those over further faces. */
typedef struct {
  const double *face_conductance;
  const uint32_t *face, *faces_end; /* further ones still to come */
  const int32_t *face_other;
  size_t next[6];          /* regular neighbours          */
  double over[6];          /* m, conductances to them     */
  int side_of[6], num, at; /* axis and side; how many of them, and which is next */
  int side;                /* the neighbour at hand: 2 axis + 1 up, 2 axis down; -1 over a further face */
  size_t other;
  double conductance;
} front_neighbours_walk;

static inline void front_neighbours_add(front_neighbours_walk *w, int side, size_t other, double conductance)
{
  w->next[w->num] = other;
  w->over[w->num] = conductance;
  w->side_of[w->num] = side;
  w->num += conductance > 0.0;
}

/* Fills *w in place: handed back as a value it was copied, 200 bytes a node. */
static inline void front_neighbours_begin(front_neighbours_walk *w, const front_neighbours *f, const double *face_conductance, size_t node)
{
  const heat_flux_rows *v = conductance_rows_view(f->rows);
  const uint32_t n = (uint32_t)v->num[0], row = (uint32_t)node / n, i = (uint32_t)node - row * n;
  const size_t swept = v->num[1] * v->num[2], apart[3] = {0, 1, v->num[1]};
  w->face_conductance = face_conductance;
  w->face = f->face_of + f->face_start[node];
  w->faces_end = f->face_of + f->face_start[node + 1];
  w->face_other = f->face_other + f->face_start[node];
  w->num = w->at = 0;
  if (row >= swept)
    return;
  if (v->conductance[0] && i > 0)
    front_neighbours_add(w, 0, node - 1, v->conductance[0][row][i]);
  if (v->conductance[0] && i + 1 < n)
    front_neighbours_add(w, 1, node + 1, v->conductance[0][row][i + 1]);
  for (int axis = 1; axis < 3; axis++) {
    if (v->conductance[axis] && row >= apart[axis])
      front_neighbours_add(w, 2 * axis, node - apart[axis] * n, v->conductance[axis][row - apart[axis]][i + 1]);
    if (v->conductance[axis] && row + apart[axis] < swept)
      front_neighbours_add(w, 2 * axis + 1, node + apart[axis] * n, v->conductance[axis][row][i + 1]);
  }
}

static inline bool front_neighbours_step(front_neighbours_walk *w)
{
  if (w->at < w->num) {
    w->side = w->side_of[w->at];
    w->other = w->next[w->at];
    w->conductance = w->over[w->at++];
    return true;
  }
  if (w->face == w->faces_end)
    return false;
  w->side = -1;
  w->other = (size_t)*w->face_other++;
  w->conductance = w->face_conductance[*w->face++];
  return true;
}

/* The next node along the same line of regular ones, and the conductance to it, from the neighbour at hand on; false: there is none. */
static inline bool front_neighbours_beyond(const front_neighbours *f, const front_neighbours_walk *w, size_t *node, double *conductance)
{
  if (w->side < 0)
    return false;
  const heat_flux_rows *v = conductance_rows_view(f->rows);
  const uint32_t n = (uint32_t)v->num[0], row = (uint32_t)w->other / n, i = (uint32_t)w->other - row * n;
  const size_t swept = v->num[1] * v->num[2], apart[3] = {0, 1, v->num[1]}, rows = apart[w->side / 2];
  switch (w->side) {
  case 0:
    *conductance = i > 0 ? v->conductance[0][row][i] : 0.0;
    break;
  case 1:
    *conductance = i + 1 < n ? v->conductance[0][row][i + 1] : 0.0;
    break;
  default:
    *conductance = w->side % 2 == 0 ? (row >= rows ? v->conductance[w->side / 2][row - rows][i + 1] : 0.0)
                                    : (row + rows < swept ? v->conductance[w->side / 2][row][i + 1] : 0.0);
  }
  const size_t stride = w->side < 2 ? 1 : rows * n;
  *node = w->side % 2 == 0 ? w->other - stride : w->other + stride;
  return *conductance > 0.0;
}

#endif
