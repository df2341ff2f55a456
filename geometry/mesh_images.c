#include "geometry/mesh_images.h"

#include <stdlib.h>

#include "geometry/mesh_merge.h"

double mesh_images_of(const grid *g)
{
  double images = 1;
  for (int axis = 0; axis < 3; axis++)
    if (g->mirror[2 * axis] != g->mirror[2 * axis + 1]) images *= 2;
  return images;
}

/* ---- faces on the planes ------------------------------------------------------------------------------ */

static bool add_face(mesh *m, size_t *room, int32_t node, int axis, double area)
{
  if (node == MESH_NONE || !(area > 0)) return true;
  if (m->num_mirror_faces == *room) {
    const size_t more = *room ? 2 * *room : 256;
    mesh_mirror_face *grown = realloc(m->mirror_faces, more * sizeof *grown);
    if (!grown) return false;
    m->mirror_faces = grown;
    *room = more;
  }
  m->mirror_faces[m->num_mirror_faces++] = (mesh_mirror_face){.node = node, .axis = axis, .area = area};
  return true;
}

static bool add_cell(mesh *m, const mesh_cut_list *list, size_t *room, size_t cell, const size_t at[3], int axis, int side)
{
  const struct mesh_lookup *l = m->lookup;
  const int32_t cut = l->cut_of_cell[cell];
  if (cut == MESH_NONE)
    return m->part[cell] < 0 || add_face(m, room, (int32_t)cell, axis, grid_face_area(m->grid, axis, side, at[0], at[1], at[2]));
  for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++)
    if (!add_face(m, room, l->piece_node[p], axis, list->pieces[p].aperture[2 * axis + side])) return false;
  return true;
}

static int compare_faces(const void *a, const void *b)
{
  const mesh_mirror_face *x = a, *y = b;
  if (x->node != y->node) return x->node < y->node ? -1 : 1;
  return x->axis != y->axis ? x->axis - y->axis : (x->area > y->area) - (x->area < y->area);
}

/* One face a node and axis; its distance is twice that of the centroid from the plane, within the limits of other nodes. */
static void join_faces(mesh *m)
{
  const grid *g = m->grid;
  size_t kept = 0;
  if (m->num_mirror_faces) qsort(m->mirror_faces, m->num_mirror_faces, sizeof *m->mirror_faces, compare_faces);
  for (size_t f = 0; f < m->num_mirror_faces; f++) {
    mesh_mirror_face *x = &m->mirror_faces[f], *last = kept ? &m->mirror_faces[kept - 1] : NULL;
    if (last && last->node == x->node && last->axis == x->axis) last->area += x->area;
    else m->mirror_faces[kept++] = *x;
  }
  m->num_mirror_faces = kept;
  for (size_t f = 0; f < kept; f++) {
    mesh_mirror_face *x = &m->mirror_faces[f];
    size_t at[3];
    grid_cell_indices(g, (size_t)m->cell[x->node], at);
    const double *edge = g->edges[x->axis], width = edge[at[x->axis] + 1] - edge[at[x->axis]], place = m->centroid[x->node][x->axis];
    const double below = place - edge[0], above = edge[g->num[x->axis]] - place;
    const double way = 2 * (g->mirror[2 * x->axis] && (!g->mirror[2 * x->axis + 1] || below < above) ? below : above);
    x->distance = way < 0.25 * width ? 0.25 * width : way > 4 * width ? 4 * width : way;
  }
}

bool mesh_images_find_faces(mesh *m, const mesh_cut_list *list)
{
  const grid *g = m->grid;
  size_t room = 0;
  for (int axis = 0; axis < 3; axis++)
    for (int side = 0; side < 2; side++) {
      if (!g->mirror[2 * axis + side] || g->num[axis] == 1) continue;
      for (size_t c = 0; c < grid_num_cells(g); c++) {
        size_t at[3];
        grid_cell_indices(g, c, at);
        if (at[axis] == (side == 0 ? 0 : g->num[axis] - 1) && !add_cell(m, list, &room, c, at, axis, side)) return false;
      }
    }
  join_faces(m);
  return true;
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
  for (size_t f = 0; f < m->num_skew_faces; f++) m->skew_faces[f].conductance *= images;
  for (size_t f = 0; f < m->num_mirror_faces; f++) m->mirror_faces[f].area *= images;
  for (size_t i = 0; i < m->num_interfaces; i++)
    for (int side = 0; side < 2; side++) m->interfaces[i].area[side] *= images;
  for (size_t p = 0; p < m->num_patches; p++) m->patches[p].area *= images;
  for (size_t l = 0; l < m->num_patch_links; l++) m->patch_links[l].area *= images;
  for (size_t l = 0; l < m->num_patch_mirrors; l++) m->patch_mirrors[l].area *= images;
  for (int32_t p = 0; p < m->num_parts; p++) m->part_volume[p] *= images;
  m->dropped_area *= images;
}
