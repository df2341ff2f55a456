#include "tests/solver/aligned_mesh.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
  const grid *g;
  const int32_t *part_of;
  const mesh_layer_kind *kind;
  int32_t *patch_of; /* [cells] */
  mesh *m;
} maker;

double *aligned_mesh_edges(double low, double high, size_t num)
{
  double *edges = malloc((num + 1) * sizeof *edges);
  for (size_t i = 0; edges && i <= num; i++)
    edges[i] = low + (high - low) * (double)i / (double)num;
  return edges;
}

static bool conducts(const maker *k, size_t cell)
{
  return k->part_of[cell] >= 0 && k->kind[k->part_of[cell]] == MESH_SOLID;
}

static bool is_wall(const maker *k, size_t cell)
{
  return k->part_of[cell] >= 0 && k->kind[k->part_of[cell]] == MESH_THIN_WALL;
}

static double width(const grid *g, int axis, size_t i)
{
  return g->edges[axis][i + 1] - g->edges[axis][i];
}

static double half(const grid *g, int axis, const size_t at[3])
{
  return 0.5 * width(g, axis, at[axis]);
}

/* Neighbour of a cell along an axis; false at the edge of the grid. */
static bool step(const grid *g, const size_t at[3], int axis, int side, size_t to[3])
{
  memcpy(to, at, 3 * sizeof *to);
  if (side == 0 ? at[axis] == 0 : at[axis] + 1 == g->num[axis])
    return false;
  to[axis] = side == 0 ? at[axis] - 1 : at[axis] + 1;
  return true;
}

static size_t cell_at(const grid *g, const size_t at[3])
{
  return grid_cell(g, at[0], at[1], at[2]);
}

/* No surface lies on the axis, on a plane of symmetry, or round the full turn. */
static bool has_surface(const grid *g, const size_t at[3], int axis, int side)
{
  if (g->kind == GRID_RZ && (axis == 1 || (axis == 0 && side == 0 && g->edges[0][at[0]] == 0.0)))
    return false;
  return !g->mirror[2 * axis + side];
}

static void add_interface(maker *k, const size_t at[3], int axis, int side, int32_t other_node, int32_t other_part, int32_t patch,
                          double other_area, double other_distance)
{
  mesh_interface *f = &k->m->interfaces[k->m->num_interfaces++];
  const size_t cell = cell_at(k->g, at);
  *f = (mesh_interface){.node = {(int32_t)cell, other_node}, .part = {k->part_of[cell], other_part}, .patch = patch};
  f->area[0] = grid_face_area(k->g, axis, side, at[0], at[1], at[2]);
  f->area[1] = other_area > 0.0 ? other_area : f->area[0];
  f->distance[0] = half(k->g, axis, at);
  f->distance[1] = other_distance;
  f->normal[axis] = side == 0 ? -1.0 : 1.0;
  grid_cell_centre(k->g, at[0], at[1], at[2], f->centroid);
  f->centroid[axis] = k->g->edges[axis][at[axis] + (side == 0 ? 0 : 1)];
}

/* Surfaces of one conducting cell. Pairs of parts are listed once, from the lower cell; walls from the lower side too. */
static void add_surface(maker *k, const size_t at[3], int axis, int side)
{
  size_t to[3], beyond[3];
  if (!step(k->g, at, axis, side, to)) {
    if (has_surface(k->g, at, axis, side))
      add_interface(k, at, axis, side, MESH_NONE, MESH_VOID, MESH_NONE, 0.0, 0.0);
    return;
  }
  const size_t cell = cell_at(k->g, at), other = cell_at(k->g, to);
  if (k->part_of[other] == k->part_of[cell])
    return;
  if (is_wall(k, other)) {
    const bool through = step(k->g, to, axis, side, beyond);
    const size_t far_cell = through ? cell_at(k->g, beyond) : 0;
    if (through && is_wall(k, far_cell)) /* the wall runs this way: its end face touches us, and is left out */
      return;
    const double far_area = grid_face_area(k->g, axis, side, to[0], to[1], to[2]);
    if (through && conducts(k, far_cell)) {
      /* a corner of the wall is met by two cells of one part: it has no way through */
      if (side == 1 && k->part_of[far_cell] != k->part_of[cell])
        add_interface(k, at, axis, side, (int32_t)far_cell, k->part_of[far_cell], k->patch_of[other], far_area, half(k->g, axis, beyond));
    } else {
      add_interface(k, at, axis, side, MESH_NONE, through ? k->part_of[far_cell] : MESH_VOID, k->patch_of[other], far_area, 0.0);
    }
  } else if (conducts(k, other)) {
    if (side == 1)
      add_interface(k, at, axis, side, (int32_t)other, k->part_of[other], MESH_NONE, 0.0, half(k->g, axis, to));
  } else {
    add_interface(k, at, axis, side, MESH_NONE, k->part_of[other], MESH_NONE, 0.0, 0.0);
  }
}

/* The thin direction of a wall cell: the axis along which it has no neighbour of the wall on at least one side and is thinnest. */
static int thin_axis(const maker *k, const size_t at[3])
{
  int thin = 0;
  for (int axis = 1; axis < 3; axis++)
    if (k->g->num[axis] > 1 && width(k->g, axis, at[axis]) < width(k->g, thin, at[thin]))
      thin = axis;
  return thin;
}

static void add_patches(maker *k)
{
  const grid *g = k->g;
  mesh *m = k->m;
  size_t at[3], to[3];
  for (size_t cell = 0; cell < grid_num_cells(g); cell++) {
    k->patch_of[cell] = MESH_NONE;
    if (!is_wall(k, cell))
      continue;
    grid_cell_indices(g, cell, at);
    k->patch_of[cell] = (int32_t)m->num_patches;
    mesh_patch *p = &m->patches[m->num_patches++];
    p->part = k->part_of[cell];
    p->thickness = width(g, thin_axis(k, at), at[thin_axis(k, at)]);
    p->area = grid_cell_volume(g, at[0], at[1], at[2]) / p->thickness;
    grid_cell_centre(g, at[0], at[1], at[2], p->centroid);
  }
  for (size_t cell = 0; cell < grid_num_cells(g); cell++) {
    if (!is_wall(k, cell))
      continue;
    grid_cell_indices(g, cell, at);
    for (int axis = 0; axis < 3; axis++)
      if (step(g, at, axis, 1, to) && is_wall(k, cell_at(g, to)))
        m->patch_links[m->num_patch_links++] =
            (mesh_patch_link){.patch = {k->patch_of[cell], k->patch_of[cell_at(g, to)]},
                              .area = grid_face_area(g, axis, 1, at[0], at[1], at[2]), .distance = half(g, axis, at) + half(g, axis, to)};
  }
}

static bool allocate(mesh *m, size_t num)
{
  m->volume = calloc(num, sizeof *m->volume);
  m->centroid = calloc(num, sizeof *m->centroid);
  m->part = calloc(num, sizeof *m->part);
  m->cell = calloc(num, sizeof *m->cell);
  m->faces = calloc(1, sizeof *m->faces);
  m->interfaces = calloc(6 * num, sizeof *m->interfaces);
  m->patches = calloc(num, sizeof *m->patches);
  m->patch_links = calloc(3 * num, sizeof *m->patch_links);
  m->share = calloc((size_t)m->num_parts * num, sizeof *m->share);
  m->part_volume = calloc((size_t)m->num_parts + 1, sizeof *m->part_volume);
  bool ok = m->volume && m->centroid && m->part && m->cell && m->faces && m->interfaces && m->patches && m->patch_links &&
            m->share && m->part_volume;
  for (int axis = 0; axis < 3; axis++)
    if (m->grid->num[axis] > 1)
      ok = (m->regular[axis] = calloc(num, sizeof(double))) != NULL && ok;
  return ok;
}

static void add_nodes(maker *k)
{
  const grid *g = k->g;
  mesh *m = k->m;
  size_t at[3], to[3];
  for (size_t cell = 0; cell < m->num_nodes; cell++) {
    grid_cell_indices(g, cell, at);
    m->cell[cell] = (int32_t)cell;
    grid_cell_centre(g, at[0], at[1], at[2], m->centroid[cell]);
    m->part[cell] = conducts(k, cell) ? k->part_of[cell] : MESH_VOID;
    if (k->part_of[cell] >= 0) {
      m->part_volume[k->part_of[cell]] += grid_cell_volume(g, at[0], at[1], at[2]);
      m->share[(size_t)k->part_of[cell] * m->num_nodes + cell] = 1.0f;
    }
    if (!conducts(k, cell))
      continue;
    m->volume[cell] = grid_cell_volume(g, at[0], at[1], at[2]);
    for (int axis = 0; axis < 3; axis++)
      if (step(g, at, axis, 1, to) && k->part_of[cell_at(g, to)] == k->part_of[cell])
        m->regular[axis][cell] = grid_face_area(g, axis, 1, at[0], at[1], at[2]) / (half(g, axis, at) + half(g, axis, to));
    for (int axis = 0; axis < 3; axis++)
      for (int side = 0; side < 2; side++)
        add_surface(k, at, axis, side);
  }
}

mesh *aligned_mesh_create(const grid *g, const int32_t *part_of, const mesh_layer_kind *kind, int32_t num_parts)
{
  mesh *m = calloc(1, sizeof *m);
  if (!m)
    return NULL;
  const size_t num = grid_num_cells(g);
  m->grid = g;
  m->num_parts = num_parts;
  m->num_nodes = num;
  maker k = {g, part_of, kind, malloc(num * sizeof *k.patch_of), m};
  if (!allocate(m, num) || !k.patch_of) {
    free(k.patch_of);
    mesh_destroy(&m);
    return NULL;
  }
  add_patches(&k);
  add_nodes(&k);
  free(k.patch_of);
  return m;
}
