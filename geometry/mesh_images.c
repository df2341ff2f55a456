#include "geometry/mesh_images.h"

double mesh_images_of(const grid *g)
{
  double images = 1;
  for (int axis = 0; axis < 3; axis++)
    if (g->mirror[2 * axis] != g->mirror[2 * axis + 1]) images *= 2;
  return images;
}

void mesh_images_count(mesh *m)
{
  const double images = mesh_images_of(m->grid);
  const size_t num_cells = grid_num_cells(m->grid);
  if (images == 1) return;
  m->images *= images;
  for (size_t n = 0; n < m->num_nodes; n++) m->volume[n] *= images;
  for (int axis = 0; axis < 3; axis++)
    for (size_t c = 0; m->regular[axis] && c < num_cells; c++) m->regular[axis][c] *= images;
  for (size_t f = 0; f < m->num_faces; f++) m->faces[f].area *= images;
  for (size_t i = 0; i < m->num_interfaces; i++)
    for (int side = 0; side < 2; side++) m->interfaces[i].area[side] *= images;
  for (size_t p = 0; p < m->num_patches; p++) m->patches[p].area *= images;
  for (size_t l = 0; l < m->num_patch_links; l++) m->patch_links[l].area *= images;
  for (int32_t p = 0; p < m->num_parts; p++) m->part_volume[p] *= images;
  m->dropped_area *= images;
}
