#include "io/part_lattice.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK = 6, LAST_PART = 255 }; /* samples per side that are tried together */

/* The box of cells in which anything is painted. */
static bool find_box(part_lattice *l, const rig *r, const mesh *m)
{
  const grid *g = m->grid;
  const size_t cells = grid_num_cells(g);
  bool any = false;
  for (size_t cell = 0; cell < cells; cell++) {
    float share = 0.0f;
    size_t ijk[3];
    for (size_t part = 0; part < r->num_parts; part++)
      share += m->share[part * cells + cell];
    if (!(share > 0.0f))
      continue;
    grid_cell_indices(g, cell, ijk);
    for (int axis = 0; axis < 3; axis++) {
      const double low = g->edges[axis][ijk[axis]], high = g->edges[axis][ijk[axis] + 1];
      l->low[axis] = any ? fmin(l->low[axis], low) : low;
      l->high[axis] = any ? fmax(l->high[axis], high) : high;
    }
    any = true;
  }
  if (g->kind == GRID_RZ) {
    l->low[0] = l->low[1] = l->high[1] = 0.0;
  }
  return any;
}

static void choose_numbers(part_lattice *l, bool revolved, size_t most)
{
  const double wide = l->high[0] - l->low[0], deep = l->high[1] - l->low[1], tall = l->high[2] - l->low[2];
  const double step = revolved ? sqrt(wide * tall / (double)most) : cbrt(wide * deep * tall / (double)most);
  for (int axis = 0; axis < 3; axis++)
    l->num[axis] = (size_t)fmax(1.0, ceil((l->high[axis] - l->low[axis]) / step));
}

/* A hair beside the middle of the step: a point on the very surface between two parts would belong to neither. */
static void point_of(const part_lattice *l, const double at[3], double point[3])
{
  static const double MIDDLE = 0.5037;
  for (int axis = 0; axis < 3; axis++)
    point[axis] = l->low[axis] + (l->num[axis] > 1 ? at[axis] + MIDDLE : 0.5) / (double)l->num[axis] * (l->high[axis] - l->low[axis]);
}

static uint8_t part_at(const rig *r, const double point[3], const int *candidates, size_t num)
{
  int part = MESH_VOID;
  for (size_t i = 0; i < num; i++)
    if (shape_distance(r->parts[candidates[i]].region, point) < 0.0)
      part = candidates[i];
  return part + 1 < LAST_PART ? (uint8_t)(part + 1) : LAST_PART;
}

/* A distance is never larger than the true one: a part farther from the block's middle than its half diagonal covers none of it. */
static void paint_block(part_lattice *l, const rig *r, const size_t from[3], int *candidates)
{
  size_t to[3], num = 0;
  double middle[3], half = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    to[axis] = from[axis] + BLOCK < l->num[axis] ? from[axis] + BLOCK : l->num[axis];
    half += pow(0.51 * BLOCK * (l->high[axis] - l->low[axis]) / (double)l->num[axis], 2);
  }
  point_of(l, (const double[3]){(double)from[0] + 0.5 * (BLOCK - 1), l->num[1] > 1 ? (double)from[1] + 0.5 * (BLOCK - 1) : 0.0,
                                (double)from[2] + 0.5 * (BLOCK - 1)}, middle);
  for (size_t part = 0; part < r->num_parts; part++)
    if (shape_distance(r->parts[part].region, middle) <= sqrt(half))
      candidates[num++] = (int)part;
  for (size_t k = from[2]; k < to[2]; k++)
    for (size_t j = from[1]; j < to[1]; j++)
      for (size_t i = from[0]; i < to[0]; i++) {
        double point[3];
        point_of(l, (const double[3]){(double)i, (double)j, (double)k}, point);
        l->part[(k * l->num[1] + j) * l->num[0] + i] = part_at(r, point, candidates, num);
      }
}

status part_lattice_create(part_lattice *out, const rig *r, const mesh *m, size_t most, message *msg)
{
  part_lattice l = {0};
  if (!find_box(&l, r, m))
    return message_set(msg, STATUS_BAD_INPUT, "there is nothing to draw: no part lies in the grid");
  choose_numbers(&l, m->grid->kind == GRID_RZ, most);
  l.part = calloc(l.num[0] * l.num[1] * l.num[2], 1);
  int *candidates = malloc((r->num_parts + 1) * sizeof *candidates);
  if (!l.part || !candidates) {
    free(candidates);
    part_lattice_release(&l);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the page", l.num[0] * l.num[1] * l.num[2]);
  }
  for (size_t k = 0; k < l.num[2]; k += BLOCK)
    for (size_t j = 0; j < l.num[1]; j += BLOCK)
      for (size_t i = 0; i < l.num[0]; i += BLOCK)
        paint_block(&l, r, (const size_t[3]){i, j, k}, candidates);
  free(candidates);
  *out = l;
  return STATUS_OK;
}

void part_lattice_release(part_lattice *l)
{
  free(l->part);
  *l = (part_lattice){0};
}
