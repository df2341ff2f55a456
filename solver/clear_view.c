#include "solver/clear_view.h"

#include <math.h>

/* Cells from first to last that hold some of the part, along each axis; false: none do. */
static bool span_of(const mesh *m, int part, size_t first[3], size_t last[3])
{
  const size_t num_cells = grid_num_cells(m->grid);
  const float *covered = m->share + (size_t)part * num_cells;
  bool any = false;
  for (size_t cell = 0; cell < num_cells; cell++) {
    size_t ijk[3];
    if (!(covered[cell] > 0.0f))
      continue;
    grid_cell_indices(m->grid, cell, ijk);
    for (int axis = 0; axis < 3; axis++) {
      first[axis] = any && first[axis] < ijk[axis] ? first[axis] : ijk[axis];
      last[axis] = any && last[axis] > ijk[axis] ? last[axis] : ijk[axis];
    }
    any = true;
  }
  return any;
}

/* The axis r = 0 is the middle of a turned body as a mirror is that of a halved one. */
static bool is_halved(const grid *g, int axis, int side)
{
  return (g->kind == GRID_RZ && axis == 0 && side == 0) || g->mirror[2 * axis + side];
}

/* The cell in the middle of the span, where a mirror stands at the mirror. */
static size_t middle_of(const grid *g, int axis, size_t first, size_t last)
{
  const double *edge = g->edges[axis];
  if (is_halved(g, axis, 0) && first == 0)
    return first;
  if (is_halved(g, axis, 1) && last + 1 == g->num[axis])
    return last;
  const double middle = 0.5 * (edge[first] + edge[last + 1]);
  size_t cell = first;
  while (cell < last && edge[cell + 1] <= middle)
    cell++;
  return cell;
}

void clear_view_find(double depth[3], double length[3], const mesh *m, int part, const double *extinction)
{
  const grid *g = m->grid;
  size_t first[3], last[3], at[3];
  depth[0] = depth[1] = depth[2] = length[0] = length[1] = length[2] = NAN;
  if (!span_of(m, part, first, last))
    return;
  for (int axis = 0; axis < 3; axis++)
    at[axis] = g->kind == GRID_RZ && axis == 1 ? 0 : middle_of(g, axis, first[axis], last[axis]);
  for (int axis = 0; axis < 3; axis++) {
    double sum = 0.0, ice = 0.0;
    size_t ijk[3] = {at[0], at[1], at[2]};
    if (g->kind == GRID_RZ && axis == 1)
      continue;
    for (ijk[axis] = first[axis]; ijk[axis] <= last[axis]; ijk[axis]++) {
      const size_t cell = grid_cell(g, ijk[0], ijk[1], ijk[2]);
      const int32_t node = mesh_find_node(m, cell, part);
      if (node == MESH_NONE || isnan(extinction[node]))
        continue;
      const double stretch = (g->edges[axis][ijk[axis] + 1] - g->edges[axis][ijk[axis]]) * (double)m->share[(size_t)part * grid_num_cells(g) + cell];
      sum += extinction[node] * stretch;
      ice += stretch;
    }
    const double halves = (is_halved(g, axis, 0) && first[axis] == 0) || (is_halved(g, axis, 1) && last[axis] + 1 == g->num[axis]) ? 2.0 : 1.0;
    if (ice > 0.0) {
      depth[axis] = halves * sum;
      length[axis] = halves * ice;
    }
  }
}
