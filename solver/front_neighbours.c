#include "solver/front_neighbours.h"

#include <stdlib.h>
#include <string.h>

/* From how many to where each begins. */
static void count_up(uint32_t *start, size_t num_nodes)
{
  for (size_t n = 0; n < num_nodes; n++)
    start[n + 1] += start[n];
}

static void list_faces(front_neighbours *f, const front_cells_network *n, uint32_t *next)
{
  for (size_t i = 0; i < n->num_faces; i++) {
    f->face_start[n->faces[i].left + 1]++;
    if (n->faces[i].right != n->faces[i].left)
      f->face_start[n->faces[i].right + 1]++;
  }
  count_up(f->face_start, n->num_nodes);
  memcpy(next, f->face_start, n->num_nodes * sizeof *next);
  for (size_t i = 0; i < n->num_faces; i++)
    for (int s = 0; s < (n->faces[i].right != n->faces[i].left ? 2 : 1); s++) {
      const uint32_t at = next[s ? n->faces[i].right : n->faces[i].left]++;
      f->face_of[at] = (uint32_t)i;
      f->face_other[at] = s ? n->faces[i].left : n->faces[i].right;
    }
}

static void list_surfaces(front_neighbours *f, const front_cells_network *n, uint32_t *next)
{
  for (size_t i = 0; i < n->num_surfaces; i++)
    if (n->surface_node[i] >= 0)
      f->surface_start[n->surface_node[i] + 1]++;
  count_up(f->surface_start, n->num_nodes);
  memcpy(next, f->surface_start, n->num_nodes * sizeof *next);
  for (size_t i = 0; i < n->num_surfaces; i++)
    if (n->surface_node[i] >= 0)
      f->surface_of[next[n->surface_node[i]]++] = (uint32_t)i;
}

bool front_neighbours_create(front_neighbours *out, const front_cells_network *n)
{
  const heat_flux_rows *rows = conductance_rows_view(n->rows);
  const ptrdiff_t row = (ptrdiff_t)rows->num[0], plane = row * (ptrdiff_t)rows->num[1];
  front_neighbours f = {.rows = rows, .num_cells = rows->num[0] * rows->num[1] * rows->num[2], .apart = {-1, 1, -row, row, -plane, plane}};
  uint32_t *next = calloc(n->num_nodes + 1, sizeof *next);
  f.face_start = calloc(n->num_nodes + 1, sizeof *f.face_start);
  f.surface_start = calloc(n->num_nodes + 1, sizeof *f.surface_start);
  f.face_of = calloc(2 * n->num_faces + 1, sizeof *f.face_of);
  f.face_other = calloc(2 * n->num_faces + 1, sizeof *f.face_other);
  f.surface_of = calloc(n->num_surfaces + 1, sizeof *f.surface_of);
  const bool enough = next && f.face_start && f.surface_start && f.face_of && f.face_other && f.surface_of;
  if (enough) {
    list_faces(&f, n, next);
    list_surfaces(&f, n, next);
    *out = f;
  } else {
    front_neighbours_release(&f);
  }
  free(next);
  return enough;
}

void front_neighbours_release(front_neighbours *f)
{
  free(f->face_start);
  free(f->surface_start);
  free(f->face_of);
  free(f->face_other);
  free(f->surface_of);
  *f = (front_neighbours){.rows = NULL};
}
