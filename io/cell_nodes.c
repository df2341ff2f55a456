#include "io/cell_nodes.h"

#include <math.h>

static void fill_cell(const mesh *m, const rig *r, size_t cell, size_t num_cells, int32_t *water, int32_t *rest)
{
  float most_water = 0.0f, most_rest = 0.0f;
  for (int32_t part = 0; part < m->num_parts; part++) {
    const bool is_water = r->parts[part].kind == PART_WATER;
    const float share = m->share[(size_t)part * num_cells + cell];
    if (!(share > (is_water ? most_water : most_rest)))
      continue;
    const int32_t node = mesh_find_node(m, cell, part);
    if (node == MESH_NONE)
      continue; /* a held part or a thin wall */
    *(is_water ? water : rest) = node;
    *(is_water ? &most_water : &most_rest) = share;
  }
}

void cell_nodes_fill(const mesh *m, const rig *r, int32_t *water, int32_t *rest)
{
  const size_t num_cells = grid_num_cells(m->grid);
  for (size_t cell = 0; cell < num_cells; cell++) {
    water[cell] = rest[cell] = MESH_NONE;
    fill_cell(m, r, cell, num_cells, &water[cell], &rest[cell]);
  }
}

void cell_nodes_spread(const int32_t *node, size_t num_cells, const double *value, double *out)
{
  for (size_t cell = 0; cell < num_cells; cell++)
    out[cell] = node[cell] == MESH_NONE ? NAN : value[node[cell]];
}
