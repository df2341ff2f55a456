#include "solver/adjacency.h"

#include <math.h>
#include <stdlib.h>

typedef struct {
  size_t left, right;
  int axis;
  double area, distance;
} link;

static double centroid_distance(const mesh *m, size_t left, size_t right)
{
  double square = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    const double d = m->centroid[right][axis] - m->centroid[left][axis];
    square += d * d;
  }
  return sqrt(square);
}

/* The link that starts at `cell` along an axis in the regular arrays; false when there is none. */
static bool regular_link(const mesh *m, int axis, size_t cell, link *l)
{
  if (!m->regular[axis] || !(m->regular[axis][cell] > 0.0)) {
    return false;
  }
  const size_t *num = m->grid->num;
  const size_t step = axis == 0 ? 1 : axis == 1 ? num[0] : num[0] * num[1];
  const double distance = centroid_distance(m, cell, cell + step);
  *l = (link){cell, cell + step, axis, m->regular[axis][cell] * distance, distance};
  return true;
}

static link listed_link(const mesh *m, const mesh_face *f)
{
  const bool rising = m->centroid[f->right][f->axis] >= m->centroid[f->left][f->axis];
  const size_t low = (size_t)(rising ? f->left : f->right), high = (size_t)(rising ? f->right : f->left);
  return (link){low, high, f->axis, f->area, f->distance};
}

static void put(adjacency *a, size_t *next, const link *l)
{
  for (int up = 0; up < 2; up++) {
    const size_t at = next[up ? l->left : l->right]++;
    a->neighbour[at] = (int32_t)(up ? l->right : l->left);
    a->distance[at] = (float)l->distance;
    a->area[at] = (float)l->area;
    a->direction[at] = (int8_t)(2 * l->axis + up);
  }
}

status adjacency_create(adjacency *out, const mesh *m, message *msg)
{
  const size_t num_cells = grid_num_cells(m->grid);
  adjacency a = {.num_nodes = m->num_nodes};
  link l;
  size_t *next = calloc(m->num_nodes + 1, sizeof *next);
  a.start = calloc(m->num_nodes + 1, sizeof *a.start);
  if (!next || !a.start) {
    goto no_memory;
  }
  for (int axis = 0; axis < 3; axis++) {
    for (size_t cell = 0; cell < num_cells; cell++) {
      if (regular_link(m, axis, cell, &l)) {
        a.start[l.left + 1]++;
        a.start[l.right + 1]++;
      }
    }
  }
  for (size_t f = 0; f < m->num_faces; f++) {
    a.start[m->faces[f].left + 1]++;
    a.start[m->faces[f].right + 1]++;
  }
  for (size_t n = 0; n < m->num_nodes; n++) {
    a.start[n + 1] += a.start[n];
    next[n] = a.start[n];
  }
  const size_t num = a.start[m->num_nodes];
  a.neighbour = malloc((num + 1) * sizeof *a.neighbour);
  a.distance = malloc((num + 1) * sizeof *a.distance);
  a.area = malloc((num + 1) * sizeof *a.area);
  a.direction = malloc((num + 1) * sizeof *a.direction);
  if (!a.neighbour || !a.distance || !a.area || !a.direction) {
    goto no_memory;
  }
  for (int axis = 0; axis < 3; axis++) {
    for (size_t cell = 0; cell < num_cells; cell++) {
      if (regular_link(m, axis, cell, &l)) {
        put(&a, next, &l);
      }
    }
  }
  for (size_t f = 0; f < m->num_faces; f++) {
    l = listed_link(m, &m->faces[f]);
    put(&a, next, &l);
  }
  free(next);
  *out = a;
  return STATUS_OK;
no_memory:
  free(next);
  adjacency_release(&a);
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for the neighbours of %zu nodes", m->num_nodes);
}

void adjacency_release(adjacency *a)
{
  if (a) {
    free(a->start);
    free(a->neighbour);
    free(a->distance);
    free(a->area);
    free(a->direction);
    *a = (adjacency){0};
  }
}
