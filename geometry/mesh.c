#include "geometry/mesh.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/mesh_merge.h"
#include "geometry/mesh_wall.h"

static const double least_reach = 0.05;    /* of the cell's width along the normal: centroid to surface */
static const double least_distance = 0.25; /* of the mean width: centroid to centroid                    */
static const double step_fraction = 1e-4;  /* of the smallest spacing, for differences of distances      */
static const double least_area = 1e-12;    /* of a cell's face: smaller facets are rounding              */

enum { SAMPLES_RZ = 8, SAMPLES_XYZ = 3, CELLS_PER_BLOCK = 64 };

typedef struct {
  mesh *m;
  struct mesh_lookup *l;
  mesh_cut_request request;
  int32_t *uniform; /* [num_cells] part of the uncut cells */
  mesh_cut_list list;
} builder;

/* ---- which cells are cut, and cutting them ------------------------------------------------------------------ */

static status copy_layers(struct mesh_lookup *l, const mesh_layer *layers, int32_t num, message *msg)
{
  l->layers = calloc((size_t)num + 1, sizeof *l->layers);
  if (!l->layers) return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for layers", ((size_t)num + 1) * sizeof *l->layers);
  l->num_layers = num;
  for (int32_t part = 0; part < num; part++) {
    shape *region = NULL, *cavity = NULL;
    l->layers[part] = layers[part];
    l->layers[part].region = l->layers[part].cavity = NULL;
    status code = shape_clone(layers[part].region, &region, msg);
    l->layers[part].region = region;
    if (code == STATUS_OK && layers[part].kind == MESH_THIN_WALL) {
      code = shape_clone(layers[part].cavity, &cavity, msg);
      l->layers[part].cavity = cavity;
    }
    if (code != STATUS_OK) return code;
  }
  return STATUS_OK;
}

static status find_cut_cells(builder *b, message *msg)
{
  struct mesh_lookup *l = b->l;
  const size_t num_cells = grid_num_cells(b->m->grid);
  int crowded = 0;
#pragma omp parallel for schedule(static) reduction(| : crowded)
  for (size_t cell = 0; cell < num_cells; cell++) {
    mesh_layers_near near;
    if (!mesh_cut_find_near(&b->request, cell, &near)) crowded |= 1;
    else if (near.num_active > 0) l->cut_of_cell[cell] = 0;
    else {
      l->cut_of_cell[cell] = MESH_NONE;
      b->uniform[cell] = near.base;
    }
  }
  if (crowded)
    return message_set(msg, STATUS_BAD_INPUT, "more than %d surfaces meet in one cell; take a finer grid or fewer parts", SIMPLEX_MAX_FIELDS);
  for (size_t cell = 0; cell < num_cells; cell++)
    if (l->cut_of_cell[cell] != MESH_NONE) {
      l->cut_of_cell[cell] = (int32_t)l->num_cut++;
      b->uniform[cell] = MESH_VOID;
    }
  return STATUS_OK;
}

/* Cuts in blocks of cells; the blocks are joined in order, so the result does not depend on the threads. */
static bool cut_cells(builder *b)
{
  const struct mesh_lookup *l = b->l;
  const size_t num_cells = grid_num_cells(b->m->grid), num_blocks = (l->num_cut + CELLS_PER_BLOCK - 1) / CELLS_PER_BLOCK;
  size_t *cells = malloc((l->num_cut + 1) * sizeof *cells);
  mesh_cut_list *lists = calloc(num_blocks + 1, sizeof *lists);
  bool done = cells && lists;
  for (size_t cell = 0; done && cell < num_cells; cell++)
    if (l->cut_of_cell[cell] != MESH_NONE) cells[l->cut_of_cell[cell]] = cell;
  if (done) {
#pragma omp parallel
    {
      mesh_cut_work *work = mesh_cut_work_create(&b->request);
#pragma omp for schedule(dynamic)
      for (size_t block = 0; block < num_blocks; block++) {
        if (!work) {
          lists[block].no_memory = true;
          continue;
        }
        for (size_t i = block * CELLS_PER_BLOCK; i < l->num_cut && i < (block + 1) * CELLS_PER_BLOCK; i++) {
          mesh_layers_near near;
          (void)mesh_cut_find_near(&b->request, cells[i], &near);
          mesh_cut_cell(work, cells[i], &near, &lists[block]);
        }
      }
      mesh_cut_work_destroy(&work);
    }
    for (size_t block = 0; block < num_blocks; block++) mesh_cut_append(&b->list, &lists[block]);
    done = !b->list.no_memory;
  }
  for (size_t block = 0; lists && block < num_blocks; block++) mesh_cut_list_free(&lists[block]);
  free(lists);
  free(cells);
  return done;
}

static void add_outer_faces(builder *b)
{
  const grid *g = b->m->grid;
  const size_t num_cells = grid_num_cells(g);
  for (size_t cell = 0; cell < num_cells; cell++) {
    const int32_t part = b->uniform[cell];
    if (part < 0 || b->l->layers[part].kind != MESH_SOLID) continue;
    size_t ijk[3];
    grid_cell_indices(g, cell, ijk);
    for (int axis = 0; axis < 3; axis++) {
      if (g->kind == GRID_RZ && axis == 1) continue;
      if (ijk[axis] == 0) mesh_cut_add_outer_face(&b->list, g, cell, part, axis, 0);
      if (ijk[axis] + 1 == g->num[axis]) mesh_cut_add_outer_face(&b->list, g, cell, part, axis, 1);
    }
  }
}

/* Pieces come cell by cell: where those of each cut cell begin. */
static bool index_pieces(builder *b)
{
  struct mesh_lookup *l = b->l;
  l->first = calloc(l->num_cut + 1, sizeof *l->first);
  l->piece_part = malloc((b->list.num_pieces + 1) * sizeof *l->piece_part);
  l->piece_node = malloc((b->list.num_pieces + 1) * sizeof *l->piece_node);
  if (!l->first || !l->piece_part || !l->piece_node) return false;
  for (size_t p = 0; p < b->list.num_pieces; p++) {
    l->piece_part[p] = b->list.pieces[p].part;
    l->piece_node[p] = MESH_NONE;
    l->first[l->cut_of_cell[b->list.pieces[p].cell] + 1] = p + 1;
  }
  for (size_t cut = 0; cut < l->num_cut; cut++)
    if (l->first[cut + 1] < l->first[cut]) l->first[cut + 1] = l->first[cut];
  return true;
}

/* ---- shares -------------------------------------------------------------------------------------------------- */

static double whole_volume(const grid *g, size_t cell)
{
  size_t ijk[3];
  grid_cell_indices(g, cell, ijk);
  return grid_cell_volume(g, ijk[0], ijk[1], ijk[2]);
}

static bool fill_shares(builder *b)
{
  mesh *m = b->m;
  const grid *g = m->grid;
  const size_t num_cells = grid_num_cells(g), num_parts = (size_t)m->num_parts;
  m->share = calloc(num_cells * num_parts + 1, sizeof *m->share);
  m->part_volume = calloc(num_parts + 1, sizeof *m->part_volume);
  if (!m->share || !m->part_volume) return false;
  for (size_t cell = 0; cell < num_cells; cell++)
    if (b->uniform[cell] >= 0) {
      m->share[(size_t)b->uniform[cell] * num_cells + cell] = 1;
      m->part_volume[b->uniform[cell]] += whole_volume(g, cell);
    }
  for (size_t p = 0; p < b->list.num_pieces; p++) {
    const mesh_cut_piece *x = &b->list.pieces[p];
    if (x->part < 0) continue;
    m->share[(size_t)x->part * num_cells + (size_t)x->cell] += (float)(x->volume / whole_volume(g, (size_t)x->cell));
    if (b->l->layers[x->part].kind != MESH_THIN_WALL) m->part_volume[x->part] += x->volume;
  }
  for (size_t p = 0; p < m->num_patches; p++) m->part_volume[m->patches[p].part] += m->patches[p].area * m->patches[p].thickness;
  return true;
}

/* ---- same-part faces --------------------------------------------------------------------------------------------- */

static double width_of(const grid *g, size_t cell, int axis)
{
  size_t ijk[3];
  grid_cell_indices(g, cell, ijk);
  return g->edges[axis][ijk[axis] + 1] - g->edges[axis][ijk[axis]];
}

static bool add_face(mesh *m, size_t *room, size_t cell, size_t other, int axis, int32_t a, int32_t b, double area)
{
  const double least = least_distance * 0.5 * (width_of(m->grid, cell, axis) + width_of(m->grid, other, axis));
  double distance = m->centroid[b][axis] - m->centroid[a][axis];
  if (distance < least) {
    distance = least;
    m->num_floored++;
  }
  if ((size_t)a == cell && (size_t)b == other) {
    m->regular[axis][cell] = area / distance;
    return true;
  }
  if (m->num_faces == *room) {
    const size_t more = *room ? 2 * *room : 256;
    mesh_face *grown = realloc(m->faces, more * sizeof *grown);
    if (!grown) return false;
    m->faces = grown;
    *room = more;
  }
  m->faces[m->num_faces++] = (mesh_face){.left = a, .right = b, .axis = axis, .area = area, .distance = distance};
  return true;
}

/* The faces between a cell and its upper neighbour along an axis, one per part that both have. */
static bool join_cells(builder *b, size_t cell, size_t other, int axis, size_t *room)
{
  mesh *m = b->m;
  const struct mesh_lookup *l = b->l;
  const int32_t cut = l->cut_of_cell[cell];
  const size_t num = cut == MESH_NONE ? 1 : l->first[cut + 1] - l->first[cut];
  for (size_t i = 0; i < num; i++) {
    const int32_t part = cut == MESH_NONE ? b->uniform[cell] : l->piece_part[l->first[cut] + i];
    const int32_t left = part < 0 ? MESH_NONE : mesh_find_node(m, cell, part);
    const int32_t right = left == MESH_NONE ? MESH_NONE : mesh_find_node(m, other, part);
    if (right == MESH_NONE || right == left) continue;
    const double area = mesh_merge_aperture(m->grid, l, &b->list, b->uniform, cell, part, axis, 1);
    if (area > 0 && !add_face(m, room, cell, other, axis, left, right, area)) return false;
  }
  return true;
}

static bool join_nodes(builder *b)
{
  mesh *m = b->m;
  const grid *g = m->grid;
  const size_t num_cells = grid_num_cells(g);
  size_t room = 0;
  for (int axis = 0; axis < 3; axis++) {
    if (g->num[axis] == 1) continue;
    m->regular[axis] = calloc(num_cells, sizeof *m->regular[axis]);
    if (!m->regular[axis]) return false;
    for (size_t cell = 0; cell < num_cells; cell++) {
      size_t ijk[3];
      grid_cell_indices(g, cell, ijk);
      if (ijk[axis] + 1 == g->num[axis]) continue;
      ijk[axis]++;
      if (!join_cells(b, cell, grid_cell(g, ijk[0], ijk[1], ijk[2]), axis, &room)) return false;
    }
  }
  return true;
}

/* ---- interfaces ---------------------------------------------------------------------------------------------------- */

typedef struct {
  mesh_cut_facet f;
  int32_t node[2], patch;
  size_t order;
} placed_facet;

static int compare_placed(const void *a, const void *b)
{
  const placed_facet *x = a, *y = b;
  const int32_t p[6] = {x->node[0], x->node[1], x->f.part[0], x->f.part[1], x->patch, x->f.facing};
  const int32_t q[6] = {y->node[0], y->node[1], y->f.part[0], y->f.part[1], y->patch, y->f.facing};
  for (int i = 0; i < 6; i++)
    if (p[i] != q[i]) return p[i] < q[i] ? -1 : 1;
  return x->order < y->order ? -1 : x->order > y->order;
}

static bool same_pair(const placed_facet *x, const placed_facet *y)
{
  return x->node[0] == y->node[0] && x->node[1] == y->node[1] && x->f.part[0] == y->f.part[0] && x->f.part[1] == y->f.part[1] &&
         x->patch == y->patch && x->f.facing == y->f.facing;
}

static double length_of(const double v[3])
{
  return sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
}

/* Width of the cell of a node along a direction. */
static double width_along(const mesh *m, int32_t node, const double n[3])
{
  double width = INFINITY;
  for (int a = 0; a < 3; a++)
    if (fabs(n[a]) > 1e-9 && !(m->grid->kind == GRID_RZ && a == 1))
      width = fmin(width, width_of(m->grid, (size_t)m->cell[node], a) / fabs(n[a]));
  return width;
}

static void finish_interface(mesh *m, const mesh_cut_facet *f, mesh_interface *out)
{
  const double *v = f->vector[0];
  const double length = length_of(v);
  for (int a = 0; a < 3; a++) {
    out->normal[a] = length > 0 ? v[a] / length : 0;
    out->centroid[a] = f->area[0] > 0 ? f->moment[0][a] / f->area[0] : 0;
  }
  for (int s = 0; s < 2; s++) {
    out->part[s] = f->part[s];
    out->area[s] = f->area[s];
    out->distance[s] = 0;
    if (out->node[s] == MESH_NONE) continue;
    const double *c = m->centroid[out->node[s]];
    const double along = c[0] * f->vector[s][0] + c[1] * f->vector[s][1] + c[2] * f->vector[s][2];
    const double least = least_reach * width_along(m, out->node[s], out->normal);
    out->distance[s] = (s == 0 ? f->reach[s] - along : along - f->reach[s]) / f->area[s];
    if (out->distance[s] < least) {
      out->distance[s] = least;
      m->num_floored++;
    }
  }
}

static void add_facet_to(mesh_cut_facet *sum, const mesh_cut_facet *f)
{
  for (int s = 0; s < 2; s++) {
    sum->area[s] += f->area[s];
    sum->reach[s] += f->reach[s];
    for (int a = 0; a < 3; a++) {
      sum->vector[s][a] += f->vector[s][a];
      sum->moment[s][a] += f->moment[s][a];
    }
  }
}

static placed_facet turned(placed_facet x)
{
  placed_facet y = x;
  y.f.facing = -x.f.facing;
  for (int s = 0; s < 2; s++) {
    y.node[s] = x.node[1 - s];
    y.f.part[s] = x.f.part[1 - s];
    y.f.area[s] = x.f.area[1 - s];
    y.f.reach[s] = -x.f.reach[1 - s];
    for (int a = 0; a < 3; a++) {
      y.f.vector[s][a] = -x.f.vector[1 - s][a];
      y.f.moment[s][a] = x.f.moment[1 - s][a];
    }
  }
  return y;
}

static double face_scale(const grid *g, int32_t cell)
{
  size_t ijk[3];
  double area = 0;
  grid_cell_indices(g, (size_t)cell, ijk);
  for (int a = 0; a < 3; a++)
    if (!(g->kind == GRID_RZ && a == 1)) area = fmax(area, grid_face_area(g, a, 1, ijk[0], ijk[1], ijk[2]));
  return area;
}

/* Gives every facet its nodes; drops rounding, counts facets whose side has lost its node. */
static size_t place_facets(builder *b, const int32_t *patch_of, placed_facet *placed)
{
  mesh *m = b->m;
  size_t num = 0;
  for (size_t i = 0; i < b->list.num_facets; i++) {
    placed_facet x = {.f = b->list.facets[i], .patch = patch_of[i], .order = i};
    bool whole = true;
    for (int s = 0; s < 2; s++) {
      x.node[s] = x.f.cell[s] == MESH_NONE ? MESH_NONE : mesh_find_node(m, (size_t)x.f.cell[s], x.f.part[s]);
      whole = whole && (x.f.cell[s] == MESH_NONE || x.node[s] != MESH_NONE);
    }
    const int32_t cell = x.f.cell[0] != MESH_NONE ? x.f.cell[0] : x.f.cell[1];
    if (cell == MESH_NONE || x.f.area[0] <= least_area * face_scale(m->grid, cell)) continue;
    if (!whole || (x.node[0] == MESH_NONE && x.node[1] == MESH_NONE)) {
      m->num_lost++;
      continue;
    }
    if (x.node[0] == x.node[1]) continue;
    /* One order for a pair, so that facets found from either side add up. */
    const bool turn = x.node[0] == MESH_NONE || (x.node[1] != MESH_NONE && x.node[1] < x.node[0]);
    placed[num++] = turn ? turned(x) : x;
  }
  qsort(placed, num, sizeof *placed, compare_placed);
  return num;
}

static bool fill_interfaces(builder *b)
{
  mesh *m = b->m;
  int32_t *patch_of = malloc((b->list.num_facets + 1) * sizeof *patch_of);
  placed_facet *placed = malloc((b->list.num_facets + 1) * sizeof *placed);
  bool done = patch_of && placed && mesh_wall_patches(m, b->l->layers, &b->list, patch_of);
  const size_t num = done ? place_facets(b, patch_of, placed) : 0;
  m->interfaces = done ? calloc(num + 1, sizeof *m->interfaces) : NULL;
  done = done && m->interfaces;
  for (size_t i = 0; done && i < num;) {
    mesh_cut_facet sum = placed[i].f;
    size_t j = i + 1;
    for (; j < num && same_pair(&placed[i], &placed[j]); j++) add_facet_to(&sum, &placed[j].f);
    mesh_interface *out = &m->interfaces[m->num_interfaces++];
    out->node[0] = placed[i].node[0];
    out->node[1] = placed[i].node[1];
    out->patch = placed[i].patch;
    finish_interface(m, &sum, out);
    i = j;
  }
  free(patch_of);
  free(placed);
  return done;
}

/* ---- the whole -------------------------------------------------------------------------------------------------------- */

static bool build(builder *b)
{
  if (!cut_cells(b)) return false;
  add_outer_faces(b);
  b->m->num_lost = b->list.num_lost;
  b->m->dropped_area = b->list.dropped_area;
  return !b->list.no_memory && index_pieces(b) && mesh_merge_nodes(b->m, b->l, &b->list, b->uniform) && join_nodes(b) &&
         fill_interfaces(b) && fill_shares(b);
}

status mesh_create(mesh **out, const grid *g, const mesh_layer *layers, int32_t num_layers, int samples, message *msg)
{
  const size_t num_cells = grid_num_cells(g);
  if (num_cells > INT32_MAX / 4)
    return message_set(msg, STATUS_BAD_INPUT, "the grid has %zu cells; at most %d fit. Take a larger spacing", num_cells, INT32_MAX / 4);
  builder b = {.m = calloc(1, sizeof *b.m), .l = calloc(1, sizeof *b.l), .uniform = malloc((num_cells + 1) * sizeof *b.uniform)};
  status code = STATUS_OK;
  if (b.l) b.l->cut_of_cell = malloc((num_cells + 1) * sizeof *b.l->cut_of_cell);
  if (!b.m || !b.l || !b.uniform || !b.l->cut_of_cell)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for %zu cells", num_cells * 8, num_cells);
  if (code == STATUS_OK) {
    b.m->grid = g;
    b.m->num_parts = num_layers;
    b.l->step = step_fraction * grid_smallest_spacing(g);
    code = copy_layers(b.l, layers, num_layers, msg);
  }
  if (code == STATUS_OK) {
    b.m->lookup = b.l;
    b.request = (mesh_cut_request){.g = g, .layers = b.l->layers, .num_layers = num_layers,
                                   .samples = samples > 0 ? samples : g->kind == GRID_RZ ? SAMPLES_RZ : SAMPLES_XYZ};
    code = find_cut_cells(&b, msg);
  }
  if (code == STATUS_OK && !build(&b))
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: some %zu bytes for the nodes of %zu cells", num_cells * 100, num_cells);
  mesh_cut_list_free(&b.list);
  free(b.uniform);
  if (b.m) b.m->lookup = b.l;
  else free(b.l);
  if (code == STATUS_OK) *out = b.m;
  else mesh_destroy(&b.m);
  return code;
}

static void lookup_free(struct mesh_lookup *l)
{
  if (!l) return;
  for (int32_t part = 0; l->layers && part < l->num_layers; part++) {
    shape *region = (shape *)l->layers[part].region, *cavity = (shape *)l->layers[part].cavity;
    shape_destroy(&region);
    shape_destroy(&cavity);
  }
  free(l->layers);
  free(l->cut_of_cell);
  free(l->first);
  free(l->piece_part);
  free(l->piece_node);
  free(l);
}

void mesh_destroy(mesh **out)
{
  mesh *m = *out;
  if (!m) return;
  lookup_free(m->lookup);
  for (int axis = 0; axis < 3; axis++) free(m->regular[axis]);
  free(m->volume);
  free(m->centroid);
  free(m->part);
  free(m->cell);
  free(m->faces);
  free(m->interfaces);
  free(m->patches);
  free(m->patch_links);
  free(m->share);
  free(m->part_volume);
  free(m);
  *out = NULL;
}

/* ---- looking things up ---------------------------------------------------------------------------------------------------- */

int32_t mesh_find_node(const mesh *m, size_t cell, int32_t part)
{
  const struct mesh_lookup *l = m->lookup;
  const int32_t cut = l->cut_of_cell[cell];
  if (cut == MESH_NONE) return m->volume[cell] > 0 && m->part[cell] == part ? (int32_t)cell : MESH_NONE;
  for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++)
    if (l->piece_part[p] == part) return l->piece_node[p];
  return MESH_NONE;
}

int32_t mesh_node_at(const mesh *m, const double point[3])
{
  size_t cell;
  if (!grid_find(m->grid, point, &cell)) return MESH_NONE;
  const int32_t part = mesh_layers_part(m->lookup->layers, m->lookup->num_layers, point, m->lookup->step);
  return part < 0 ? MESH_NONE : mesh_find_node(m, cell, part);
}

bool mesh_is_valid(const mesh *m, message *msg)
{
  double volume = 0, shares = 0;
  const size_t num_cells = grid_num_cells(m->grid);
  for (size_t n = 0; n < m->num_nodes; n++) {
    const double *c = m->centroid[n];
    const bool there = m->volume[n] > 0;
    if (!(m->volume[n] >= 0) || !isfinite(m->volume[n]) || (there && !(isfinite(c[0]) && isfinite(c[1]) && isfinite(c[2]))) ||
        (there != (m->part[n] != MESH_VOID))) {
      (void)message_set(msg, STATUS_FAILED, "node %zu: volume %g m3, part %d, centroid (%g, %g, %g) m", n, m->volume[n], m->part[n], c[0], c[1], c[2]);
      return false;
    }
    volume += m->volume[n];
  }
  for (int32_t part = 0; part < m->num_parts; part++)
    if (m->lookup->layers[part].kind == MESH_SOLID) shares += m->part_volume[part];
  if (fabs(volume - shares) > 1e-6 * (volume + shares)) {
    (void)message_set(msg, STATUS_FAILED, "the nodes hold %.9g m3, the parts %.9g m3", volume, shares);
    return false;
  }
  for (int axis = 0; axis < 3; axis++)
    for (size_t cell = 0; m->regular[axis] && cell < num_cells; cell++)
      if (!(m->regular[axis][cell] >= 0) || !isfinite(m->regular[axis][cell])) {
        (void)message_set(msg, STATUS_FAILED, "face of cell %zu along axis %d: area over distance %g m", cell, axis, m->regular[axis][cell]);
        return false;
      }
  for (size_t f = 0; f < m->num_faces; f++)
    if (!(m->faces[f].area > 0) || !(m->faces[f].distance > 0)) {
      (void)message_set(msg, STATUS_FAILED, "face %zu: area %g m2, distance %g m", f, m->faces[f].area, m->faces[f].distance);
      return false;
    }
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *x = &m->interfaces[i];
    for (int s = 0; s < 2; s++)
      if ((s == 0 && x->node[0] < 0) || x->node[s] >= (int32_t)m->num_nodes || !(x->area[s] > 0) ||
          (x->node[s] >= 0 && (!(m->volume[x->node[s]] > 0) || !(x->distance[s] > 0) || m->part[x->node[s]] != x->part[s]))) {
        (void)message_set(msg, STATUS_FAILED, "interface %zu side %d: node %d, part %d, area %g m2, distance %g m", i, s, x->node[s], x->part[s],
                          x->area[s], x->distance[s]);
        return false;
      }
  }
  return true;
}
