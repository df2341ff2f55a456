#include "geometry/mesh.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/mesh_cut.h"
#include "geometry/mesh_images.h"
#include "geometry/mesh_interfaces.h"
#include "geometry/mesh_merge.h"

enum { CHUNK = 32 }; /* cut cells that one thread does at a time; the result does not depend on it */
static const double least_node_distance = 0.25, most_node_distance = 4; /* of a cell */
/* Gradients along a surface beside those across it. Chosen among seven settings by measurement: flux through a tilted plate (1.5 mm
 * in 3 mm cells, worst of 16) off by 1.6 % with the plain component along the axis, by 1.3 / 0.8 / 0.4 / 0.2 % with a spread of
 * 1 / 0.3 / 0.1 / 0.02. It is no gain everywhere: between two spheres, 20 cells per radius, the component was off by at most 0.18 %
 * and 0.02 by 0.46 %; a heated sphere by 0.46 and 0.35 %, and there the component varies more with the place on the grid. */
static const double gradient_spread = 0.02;

/* ---- what was asked for ------------------------------------------------------------------------- */

static status check_layers(const mesh_layer *layers, int32_t num_layers, int samples, message *msg)
{
  if (num_layers < 0 || (num_layers > 0 && !layers)) return message_set(msg, STATUS_BAD_INPUT, "mesh: no layers given");
  if (samples < 0 || samples > 64)
    return message_set(msg, STATUS_BAD_INPUT, "mesh: %d samples per cell edge; 1 to 64 are possible, 0 for the default", samples);
  for (int32_t l = 0; l < num_layers; l++) {
    if (!layers[l].region) return message_set(msg, STATUS_BAD_INPUT, "mesh: part %d has no shape", (int)l);
    if (layers[l].kind != MESH_THIN_WALL) continue;
    if (!layers[l].cavity) return message_set(msg, STATUS_BAD_INPUT, "mesh: thin wall %d has no cavity", (int)l);
    if (!(layers[l].thickness > 0 && isfinite(layers[l].thickness)))
      return message_set(msg, STATUS_BAD_INPUT, "mesh: thin wall %d is %g m thick; it must be above 0", (int)l, layers[l].thickness);
    const mesh_floor *f = &layers[l].floor;
    if (!(f->thickness >= 0 && isfinite(f->thickness) && f->side_cosine < 1))
      return message_set(msg, STATUS_BAD_INPUT, "mesh: the floor of thin wall %d is %g m thick, and the cosine of its sides %g; thicknesses must not be "
                         "below 0, cosines below 1", (int)l, f->thickness, f->side_cosine);
  }
  return STATUS_OK;
}

static void lookup_destroy(struct mesh_lookup **lookup)
{
  struct mesh_lookup *l = *lookup;
  if (!l) return;
  for (int32_t i = 0; l->layers && i < l->num_layers; i++) {
    shape *region = (shape *)(uintptr_t)l->layers[i].region, *cavity = (shape *)(uintptr_t)l->layers[i].cavity; /* ours: clones */
    shape_destroy(&region);
    shape_destroy(&cavity);
  }
  free(l->layers);
  free(l->cut_of_cell);
  free(l->first);
  free(l->piece_part);
  free(l->piece_node);
  free(l);
  *lookup = NULL;
}

static status lookup_create(struct mesh_lookup **out, const grid *g, const mesh_layer *layers, int32_t num_layers, message *msg)
{
  struct mesh_lookup *l = calloc(1, sizeof *l);
  status s = STATUS_OK;
  if (!l || !(l->layers = calloc((size_t)num_layers + 1, sizeof *l->layers)) ||
      !(l->cut_of_cell = malloc(grid_num_cells(g) * sizeof *l->cut_of_cell)))
    s = message_set(msg, STATUS_NO_MEMORY, "out of memory for the mesh of %zu cells", grid_num_cells(g));
  if (s == STATUS_OK) {
    l->num_layers = num_layers;
    l->step = 1e-4 * grid_smallest_spacing(g);
  }
  for (int32_t i = 0; s == STATUS_OK && i < num_layers; i++) {
    shape *copy = NULL;
    l->layers[i] = layers[i]; /* but for the shapes, which are our own */
    s = shape_clone(layers[i].region, &copy, msg);
    l->layers[i].region = copy;
    copy = NULL;
    if (s == STATUS_OK && layers[i].kind == MESH_THIN_WALL) s = shape_clone(layers[i].cavity, &copy, msg);
    l->layers[i].cavity = copy;
  }
  if (s != STATUS_OK && l) lookup_destroy(&l);
  *out = l;
  return s;
}

/* ---- cutting all cells ----------------------------------------------------------------------------- */

/* Fills uniform[] (the part of an uncut cell) and cut_of_cell[]: 0 for a cell to cut, else MESH_NONE. False: too many layers
 * meet in *bad_cell. */
static bool classify_cells(const mesh_cut_request *q, int32_t *uniform, int32_t *cut_of_cell, size_t *bad_cell)
{
  const size_t num_cells = grid_num_cells(q->g);
  size_t bad = SIZE_MAX;
#pragma omp parallel for schedule(static) reduction(min : bad)
  for (size_t c = 0; c < num_cells; c++) {
    mesh_layers_near near;
    if (!mesh_cut_find_near(q, c, &near)) {
      if (c < bad) bad = c;
      continue;
    }
    uniform[c] = near.base;
    cut_of_cell[c] = near.num_active > 0 ? 0 : MESH_NONE;
  }
  *bad_cell = bad;
  return bad == SIZE_MAX;
}

static void cut_chunk(mesh_cut_work *work, const mesh_cut_request *q, const size_t *cells, size_t num, mesh_cut_list *list)
{
  for (size_t i = 0; i < num; i++) {
    mesh_layers_near near;
    if (mesh_cut_find_near(q, cells[i], &near)) mesh_cut_cell(work, cells[i], &near, list);
  }
}

/* Cuts the listed cells; the records end up in the order of the list whatever thread did them. */
static bool cut_cells(const mesh_cut_request *q, const size_t *cells, size_t num, mesh_cut_list *all)
{
  const size_t num_chunks = (num + CHUNK - 1) / CHUNK;
  mesh_cut_list *lists = calloc(num_chunks ? num_chunks : 1, sizeof *lists);
  if (!lists) return false;
#pragma omp parallel
  {
    mesh_cut_work *work = mesh_cut_work_create(q);
#pragma omp for schedule(dynamic)
    for (size_t chunk = 0; chunk < num_chunks; chunk++) {
      const size_t first = chunk * CHUNK;
      if (!work) lists[chunk].no_memory = true;
      else cut_chunk(work, q, cells + first, num - first < CHUNK ? num - first : CHUNK, &lists[chunk]);
    }
    mesh_cut_work_destroy(&work);
  }
  for (size_t chunk = 0; chunk < num_chunks; chunk++) {
    mesh_cut_list_append(all, &lists[chunk]);
    mesh_cut_list_free(&lists[chunk]);
  }
  free(lists);
  return !all->no_memory;
}

/* Puts the pieces into the lookup, by cut cell. */
static bool index_pieces(struct mesh_lookup *l, const mesh_cut_list *list, size_t num_cut)
{
  l->num_cut = num_cut;
  l->first = calloc(num_cut + 1, sizeof *l->first);
  l->piece_part = malloc((list->num_pieces + 1) * sizeof *l->piece_part);
  l->piece_node = malloc((list->num_pieces + 1) * sizeof *l->piece_node);
  if (!l->first || !l->piece_part || !l->piece_node) return false;
  for (size_t p = 0; p < list->num_pieces; p++) {
    l->first[l->cut_of_cell[list->pieces[p].cell] + 1] = p + 1;
    l->piece_part[p] = list->pieces[p].part;
  }
  return true;
}

static status cut_grid(const mesh_cut_request *q, struct mesh_lookup *l, int32_t *uniform, mesh_cut_list *list, message *msg)
{
  const size_t num_cells = grid_num_cells(q->g);
  size_t bad, num_cut = 0;
  if (!classify_cells(q, uniform, l->cut_of_cell, &bad))
    return message_set(msg, STATUS_BAD_INPUT, "mesh: more than %d surfaces meet in grid cell %zu; use a finer spacing or fewer parts",
                       SIMPLEX_MAX_FIELDS, bad);
  for (size_t c = 0; c < num_cells; c++) num_cut += l->cut_of_cell[c] == 0;
  size_t *cells = malloc((num_cut + 1) * sizeof *cells);
  bool done = cells != NULL;
  if (done) {
    num_cut = 0;
    for (size_t c = 0; c < num_cells; c++)
      if (l->cut_of_cell[c] == 0) {
        l->cut_of_cell[c] = (int32_t)num_cut;
        cells[num_cut++] = c;
      }
    done = cut_cells(q, cells, num_cut, list) && index_pieces(l, list, num_cut);
  }
  free(cells);
  return done ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory while cutting %zu grid cells", num_cut);
}

/* Faces of uncut cells where the grid ends. */
static void add_outer_faces(const mesh_cut_request *q, const struct mesh_lookup *l, const int32_t *uniform, mesh_cut_list *list)
{
  const size_t num_cells = grid_num_cells(q->g);
  for (size_t c = 0; c < num_cells; c++) {
    if (l->cut_of_cell[c] != MESH_NONE || uniform[c] < 0 || q->layers[uniform[c]].kind != MESH_SOLID) continue;
    for (int face = 0; face < 6; face++)
      if (!(q->g->kind == GRID_RZ && face / 2 == 1)) mesh_cut_facets_outer(list, q->g, c, uniform[c], face / 2, face % 2);
  }
}

/* ---- shares and volumes of parts ------------------------------------------------------------------------ */

static bool fill_shares(mesh *m, const struct mesh_lookup *l, const int32_t *uniform, const mesh_cut_list *list)
{
  const size_t num_cells = grid_num_cells(m->grid), parts = (size_t)m->num_parts;
  m->share = calloc(parts * num_cells + 1, sizeof *m->share);
  m->part_volume = calloc(parts + 1, sizeof *m->part_volume);
  if (!m->share || !m->part_volume) return false;
  for (size_t c = 0; c < num_cells; c++) {
    size_t at[3];
    grid_cell_indices(m->grid, c, at);
    const double volume = grid_cell_volume(m->grid, at[0], at[1], at[2]);
    if (l->cut_of_cell[c] == MESH_NONE) {
      if (uniform[c] < 0) continue;
      m->share[(size_t)uniform[c] * num_cells + c] = 1;
      m->part_volume[uniform[c]] += volume;
      continue;
    }
    const int32_t cut = l->cut_of_cell[c];
    for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++) {
      if (l->piece_part[p] < 0) continue;
      m->share[(size_t)l->piece_part[p] * num_cells + c] = (float)(list->pieces[p].volume / volume);
      m->part_volume[l->piece_part[p]] += list->pieces[p].volume;
    }
  }
  for (int32_t p = 0; p < m->num_parts; p++)
    if (l->layers[p].kind == MESH_THIN_WALL) m->part_volume[p] = 0;
  for (size_t p = 0; p < m->num_patches; p++) m->part_volume[m->patches[p].part] += m->patches[p].area * m->patches[p].thickness;
  return true;
}

/* ---- faces between nodes of one part ------------------------------------------------------------------------ */

static double spacing(const grid *g, size_t cell, int axis)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  return g->edges[axis][at[axis] + 1] - g->edges[axis][at[axis]];
}

/* Heat near a surface flows mostly along its normal n. A two-point flux over distance d sees g . D / d for a gradient g and
 * the way D between two centroids, where g_axis is right. With gradients spread as C = mean of n n^T + spread I, the mean
 * square error is smallest for 1 / d = (D . C e_axis) / (D . C D): exact along a flat surface's normal, and the plain distance
 * where D runs along the axis. */
typedef struct {
  const mesh *m;
  int32_t *index;      /* [num_nodes] row of nn, or MESH_NONE for a node with no surface */
  double (*nn)[7];     /* sums over its interfaces: area times xx, yy, zz, yz, xz, xy; area  */
} surface_normals;

static bool surface_normals_create(surface_normals *q, const mesh *m)
{
  int32_t num = 0;
  *q = (surface_normals){.m = m, .index = malloc(m->num_nodes * sizeof *q->index)};
  if (!q->index) return false;
  for (size_t n = 0; n < m->num_nodes; n++) q->index[n] = MESH_NONE;
  for (size_t i = 0; i < m->num_interfaces; i++)
    for (int s = 0; s < 2; s++) {
      const int32_t node = m->interfaces[i].node[s];
      if (node != MESH_NONE && q->index[node] == MESH_NONE) q->index[node] = num++;
    }
  q->nn = calloc((size_t)num + 1, sizeof *q->nn);
  if (!q->nn) return false;
  for (size_t i = 0; i < m->num_interfaces; i++)
    for (int s = 0; s < 2; s++) {
      const mesh_interface *f = &m->interfaces[i];
      if (f->node[s] == MESH_NONE) continue;
      double *c = q->nn[q->index[f->node[s]]], n[3];
      mesh_outward(f, s, n);
      for (int a = 0; a < 3; a++) {
        c[a] += f->area[s] * n[a] * n[a];
        c[3 + a] += f->area[s] * n[(a + 1) % 3] * n[(a + 2) % 3];
      }
      c[6] += f->area[s];
    }
  return true;
}

static void surface_normals_free(surface_normals *q)
{
  free(q->index);
  free(q->nn);
}

/* The distance over which the face of two nodes conducts. */
static double node_distance(mesh *m, const surface_normals *q, int32_t left, int32_t right, int axis)
{
  double way[3], c[7] = {0}, cd[3], to_axis, square = 0;
  for (int a = 0; a < 3; a++) way[a] = m->centroid[right][a] - m->centroid[left][a];
  const int32_t row[2] = {q->index[left], q->index[right]};
  for (int s = 0; s < 2; s++)
    for (int i = 0; i < 7 && row[s] != MESH_NONE; i++) c[i] += q->nn[row[s]][i];
  for (int i = 0; i < 6 && c[6] > 0; i++) c[i] /= c[6];
  for (int a = 0; a < 3; a++) c[a] += gradient_spread;
  for (int a = 0; a < 3; a++) cd[a] = c[a] * way[a] + c[3 + (a + 2) % 3] * way[(a + 1) % 3] + c[3 + (a + 1) % 3] * way[(a + 2) % 3];
  to_axis = cd[axis];
  for (int a = 0; a < 3; a++) square += cd[a] * way[a];
  const double h = 0.5 * (spacing(m->grid, (size_t)m->cell[left], axis) + spacing(m->grid, (size_t)m->cell[right], axis));
  if (to_axis * least_node_distance * h > square || to_axis * most_node_distance * h < square) {
    m->num_floored++;
    return to_axis * least_node_distance * h > square ? least_node_distance * h : most_node_distance * h;
  }
  return square / to_axis;
}

static const double straight = 1e-6; /* of the distance: less is rounding */

typedef struct {
  mesh_skew_face *items;
  size_t num, room;
} skew_list;

/* Notes a face that conducts over `distance`, if its nodes do not lie opposite each other. */
static bool add_skew(skew_list *list, const mesh *m, int32_t left, int32_t right, int axis, double area, double distance)
{
  mesh_skew_face f = {.left = left, .right = right, .axis = axis, .conductance = area / distance};
  double square = 0;
  for (int a = 0; a < 3; a++) {
    f.skew[a] = m->centroid[right][a] - m->centroid[left][a] - (a == axis ? distance : 0);
    square += f.skew[a] * f.skew[a];
  }
  if (square <= straight * straight * distance * distance) return true;
  if (list->num == list->room) {
    const size_t more = list->room ? 2 * list->room : 1024;
    mesh_skew_face *grown = realloc(list->items, more * sizeof *grown);
    if (!grown) return false;
    list->items = grown;
    list->room = more;
  }
  list->items[list->num++] = f;
  return true;
}

typedef struct {
  int32_t left, right, axis;
  double area;
} joint;

static int compare_joints(const void *a, const void *b)
{
  const joint *x = a, *y = b;
  if (x->left != y->left) return x->left < y->left ? -1 : 1;
  if (x->right != y->right) return x->right < y->right ? -1 : 1;
  if (x->axis != y->axis) return x->axis < y->axis ? -1 : 1;
  return x->area < y->area ? -1 : x->area > y->area;
}

typedef struct {
  joint *items;
  size_t num, room;
} joint_list;

static bool add_joint(joint_list *list, joint j)
{
  if (list->num == list->room) {
    const size_t more = list->room ? 2 * list->room : 1024;
    joint *grown = realloc(list->items, more * sizeof *grown);
    if (!grown) return false;
    list->items = grown;
    list->room = more;
  }
  list->items[list->num++] = j;
  return true;
}

/* Joints across the face between a cell and its upper neighbour, at least one of them cut. */
static bool add_joints(const mesh *m, const mesh_cut_list *list, const int32_t *uniform, size_t cell, size_t upper, int axis, joint_list *to)
{
  const struct mesh_lookup *l = m->lookup;
  const size_t one = l->cut_of_cell[cell] != MESH_NONE ? cell : upper;
  const int32_t cut = l->cut_of_cell[one];
  for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++) {
    const int32_t part = l->piece_part[p];
    if (part < 0 || l->layers[part].kind != MESH_SOLID) continue;
    const int32_t left = mesh_find_node(m, cell, part), right = mesh_find_node(m, upper, part);
    if (left == MESH_NONE || right == MESH_NONE || left == right) continue;
    const double area = mesh_merge_aperture(m->grid, l, list, uniform, cell, part, axis, 1);
    if (area > 0 && !add_joint(to, (joint){left, right, axis, area})) return false;
  }
  return true;
}

static size_t stride_of(const grid *g, int axis)
{
  return axis == 0 ? 1 : axis == 1 ? g->num[0] : g->num[0] * g->num[1];
}

static bool has_upper(const grid *g, size_t cell, int axis)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  return at[axis] + 1 < g->num[axis];
}

/* Sums joints of equal ends and axis; those between neighbouring primary nodes go to the regular arrays. */
static bool write_joints(mesh *m, const surface_normals *normals, joint_list *list, skew_list *skew)
{
  const size_t num_cells = grid_num_cells(m->grid);
  if (list->num) qsort(list->items, list->num, sizeof *list->items, compare_joints);
  m->faces = malloc((list->num + 1) * sizeof *m->faces);
  if (!m->faces) return false;
  for (size_t i = 0; i < list->num;) {
    joint j = list->items[i++];
    for (; i < list->num && list->items[i].left == j.left && list->items[i].right == j.right && list->items[i].axis == j.axis; i++)
      j.area += list->items[i].area;
    const double distance = node_distance(m, normals, j.left, j.right, j.axis);
    const size_t left = (size_t)j.left, right = (size_t)j.right;
    if (!add_skew(skew, m, j.left, j.right, j.axis, j.area, distance)) return false;
    if (left < num_cells && right < num_cells && has_upper(m->grid, left, j.axis) && right == left + stride_of(m->grid, j.axis))
      m->regular[j.axis][left] += j.area / distance;
    else m->faces[m->num_faces++] = (mesh_face){.left = j.left, .right = j.right, .axis = j.axis, .area = j.area, .distance = distance};
  }
  return true;
}

static bool fill_faces(mesh *m, const mesh_cut_list *list, const int32_t *uniform)
{
  const struct mesh_lookup *l = m->lookup;
  const grid *g = m->grid;
  const size_t num_cells = grid_num_cells(g);
  joint_list joints = {0};
  skew_list skew = {0};
  surface_normals normals;
  bool done = surface_normals_create(&normals, m);
  for (int axis = 0; axis < 3 && done; axis++) {
    if (g->num[axis] == 1) continue;
    m->regular[axis] = calloc(num_cells, sizeof **m->regular);
    done = m->regular[axis] != NULL;
    const size_t stride = stride_of(g, axis);
    for (size_t c = 0; c < num_cells && done; c++) {
      if (!has_upper(g, c, axis)) continue;
      if (l->cut_of_cell[c] != MESH_NONE || l->cut_of_cell[c + stride] != MESH_NONE) {
        done = add_joints(m, list, uniform, c, c + stride, axis, &joints);
      } else if (m->part[c] >= 0 && m->part[c] == m->part[c + stride]) {
        size_t at[3];
        grid_cell_indices(g, c, at);
        const double distance = node_distance(m, &normals, (int32_t)c, (int32_t)(c + stride), axis);
        const double area = grid_face_area(g, axis, 1, at[0], at[1], at[2]);
        m->regular[axis][c] = area / distance;
        done = add_skew(&skew, m, (int32_t)c, (int32_t)(c + stride), axis, area, distance);
      }
    }
  }
  done = done && write_joints(m, &normals, &joints, &skew);
  m->skew_faces = skew.items;
  m->num_skew_faces = skew.num;
  free(joints.items);
  surface_normals_free(&normals);
  return done;
}

/* ---- the mesh ------------------------------------------------------------------------------------------------------ */

status mesh_create(mesh **out, const grid *g, const mesh_layer *layers, int32_t num_layers, int samples, message *msg)
{
  status s = check_layers(layers, num_layers, samples, msg);
  if (s != STATUS_OK) return s;
  const size_t num_cells = grid_num_cells(g);
  mesh_cut_list list = {0};
  int32_t *uniform = malloc(num_cells * sizeof *uniform);
  mesh *m = calloc(1, sizeof *m);
  if (!m || !uniform) {
    s = message_set(msg, STATUS_NO_MEMORY, "out of memory for the mesh of %zu cells", num_cells);
    goto end;
  }
  m->grid = g;
  m->num_parts = num_layers;
  s = lookup_create(&m->lookup, g, layers, num_layers, msg);
  if (s != STATUS_OK) goto end;
  const int usual = g->kind == GRID_RZ ? 8 : 3;
  const mesh_cut_request q = {.g = g, .layers = m->lookup->layers, .num_layers = num_layers, .samples = samples ? samples : usual};
  s = cut_grid(&q, m->lookup, uniform, &list, msg);
  if (s != STATUS_OK) goto end;
  add_outer_faces(&q, m->lookup, uniform, &list);
  m->images = 1.0;
  m->num_lost = list.num_lost;
  m->dropped_area = list.dropped_area;
  if (list.no_memory || !mesh_merge_nodes(m, m->lookup, &list, uniform) || !mesh_interfaces_fill(m, &list) || !fill_faces(m, &list, uniform) ||
      !mesh_images_find_faces(m, &list) || !fill_shares(m, m->lookup, uniform, &list))
    s = message_set(msg, STATUS_NO_MEMORY, "out of memory for the mesh of %zu cells", num_cells);
end:
  mesh_cut_list_free(&list);
  free(uniform);
  if (s == STATUS_OK) *out = m;
  else mesh_destroy(&m);
  return s;
}

void mesh_destroy(mesh **m)
{
  if (!m || !*m) return;
  for (int axis = 0; axis < 3; axis++) free((*m)->regular[axis]);
  free((*m)->volume);
  free((*m)->centroid);
  free((*m)->part);
  free((*m)->cell);
  free((*m)->faces);
  free((*m)->skew_faces);
  free((*m)->mirror_faces);
  free((*m)->interfaces);
  free((*m)->patches);
  free((*m)->patch_links);
  free((*m)->patch_mirrors);
  free((*m)->share);
  free((*m)->part_volume);
  lookup_destroy(&(*m)->lookup);
  free(*m);
  *m = NULL;
}

int32_t mesh_find_node(const mesh *m, size_t cell, int32_t part)
{
  const struct mesh_lookup *l = m->lookup;
  const int32_t cut = l->cut_of_cell[cell];
  if (part < 0) return MESH_NONE;
  if (cut == MESH_NONE) return m->part[cell] == part ? (int32_t)cell : MESH_NONE;
  for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++)
    if (l->piece_part[p] == part) return l->piece_node[p];
  return MESH_NONE;
}

int32_t mesh_node_at(const mesh *m, const double point[3])
{
  size_t cell;
  if (!grid_find(m->grid, point, &cell)) return MESH_NONE;
  if (m->lookup->cut_of_cell[cell] == MESH_NONE) return m->part[cell] >= 0 ? (int32_t)cell : MESH_NONE;
  return mesh_find_node(m, cell, mesh_layers_part(m->lookup->layers, m->num_parts, point, m->lookup->step));
}

void mesh_outward(const mesh_interface *f, int side, double normal[3])
{
  const int32_t turned = side == 1 ? f->across : 0;
  for (int a = 0; a < 3; a++) normal[a] = (side == 0) == !(turned & 1 << a) ? f->normal[a] : -f->normal[a];
}

double mesh_reach(const mesh *m, const mesh_interface *f, int side)
{
  const double inward = (side == 0 ? 0.5 : -0.5) * f->distance[side];
  const double ring = m->grid->kind == GRID_RZ ? (f->centroid[0] - inward * f->normal[0]) / f->centroid[0] : 1, half_way = ring * (1 - inward * f->curvature);
  return f->distance[side] / (f->area[side] * (half_way >= 0.5 && half_way <= 2 ? half_way : 1));
}

/* ---- is it sound -------------------------------------------------------------------------------------------------------- */

static bool fault(message *msg, const char *what, size_t index)
{
  (void)message_set(msg, STATUS_FAILED, "mesh: %s (index %zu)", what, index);
  return false;
}

static bool solid(const mesh *m, int32_t part)
{
  return part >= 0 && m->lookup->layers[part].kind == MESH_SOLID;
}

static bool is_node(const mesh *m, int32_t node)
{
  return node >= 0 && (size_t)node < m->num_nodes && m->volume[node] > 0;
}

static bool nodes_are_valid(const mesh *m, message *msg)
{
  double *sum = calloc((size_t)m->num_parts + 1, sizeof *sum);
  bool sound = sum != NULL;
  if (!sound) (void)message_set(msg, STATUS_NO_MEMORY, "out of memory while checking the mesh");
  for (size_t n = 0; sound && n < m->num_nodes; n++) {
    const double *x = m->centroid[n];
    if (!(m->volume[n] >= 0) || !isfinite(m->volume[n] + x[0] + x[1] + x[2])) sound = fault(msg, "a node is not finite", n);
    else if ((m->volume[n] > 0) != (m->part[n] >= 0) || m->part[n] >= m->num_parts) sound = fault(msg, "a node of no part has a volume", n);
    else if (m->part[n] >= 0) sum[m->part[n]] += m->volume[n];
  }
  for (int32_t p = 0; sound && p < m->num_parts; p++)
    if (solid(m, p) && !(fabs(sum[p] - m->part_volume[p]) <= 1e-7 * m->part_volume[p]))
      sound = fault(msg, "the nodes of a part do not add up to its volume", (size_t)p);
  free(sum);
  return sound;
}

static bool shares_are_valid(const mesh *m, message *msg)
{
  const size_t num_cells = grid_num_cells(m->grid);
  for (size_t c = 0; c < num_cells; c++) {
    double sum = 0;
    for (size_t p = 0; p < (size_t)m->num_parts; p++) {
      const double share = (double)m->share[p * num_cells + c];
      if (!(share >= 0)) return fault(msg, "a share is below zero", c);
      sum += share;
    }
    if (!(sum <= 1 + 1e-5)) return fault(msg, "the shares of a cell exceed one", c);
  }
  return true;
}

static bool faces_are_valid(const mesh *m, message *msg)
{
  const size_t num_cells = grid_num_cells(m->grid);
  for (size_t f = 0; f < m->num_faces; f++) {
    const mesh_face *x = &m->faces[f];
    if (!is_node(m, x->left) || !is_node(m, x->right) || x->left == x->right || m->part[x->left] != m->part[x->right])
      return fault(msg, "a face joins no two nodes of one part", f);
    if (!(x->area > 0 && x->distance > 0 && isfinite(x->area / x->distance))) return fault(msg, "a face has no area or distance", f);
  }
  for (int axis = 0; axis < 3; axis++)
    for (size_t c = 0; m->regular[axis] && c < num_cells; c++) {
      const double g = m->regular[axis][c];
      if (!(g >= 0 && isfinite(g))) return fault(msg, "a regular face is not finite", c);
      if (g > 0 && !(has_upper(m->grid, c, axis) && is_node(m, (int32_t)c) && is_node(m, (int32_t)(c + stride_of(m->grid, axis)))))
        return fault(msg, "a regular face joins no nodes", c);
    }
  return true;
}

static bool interfaces_are_valid(const mesh *m, message *msg)
{
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    const double *n = f->normal;
    const bool bare = f->node[0] == MESH_NONE && f->node[1] == MESH_NONE && f->patch != MESH_NONE && f->part[0] == MESH_VOID && f->area[0] == 0;
    if (!bare && (!is_node(m, f->node[0]) || m->part[f->node[0]] != f->part[0])) return fault(msg, "an interface has no node on side 0", i);
    if (f->node[1] != MESH_NONE && (!is_node(m, f->node[1]) || m->part[f->node[1]] != f->part[1]))
      return fault(msg, "an interface names a wrong node on side 1", i);
    if (solid(m, f->part[1]) != (f->node[1] != MESH_NONE)) return fault(msg, "an interface to a solid part has no node on side 1", i);
    if (!((bare || f->area[0] > 0) && f->area[1] >= 0 && isfinite(f->area[0] + f->area[1]))) return fault(msg, "an interface has no area", i);
    if (!bare && !(f->distance[0] > 0 && isfinite(f->distance[0]) && (f->node[1] == MESH_NONE || f->distance[1] > 0)))
      return fault(msg, "an interface has no distance", i);
    if (!(fabs(n[0] * n[0] + n[1] * n[1] + n[2] * n[2] - 1) < 1e-9)) return fault(msg, "a normal is not of unit length", i);
    if (f->patch != MESH_NONE && (f->patch < 0 || (size_t)f->patch >= m->num_patches)) return fault(msg, "an interface names no patch", i);
  }
  for (size_t p = 0; p < m->num_patches; p++)
    if (!(m->patches[p].area > 0 && isfinite(m->patches[p].area))) return fault(msg, "a wall patch has no area", p);
  for (size_t l = 0; l < m->num_patch_links; l++)
    if (!(m->patch_links[l].area > 0 && m->patch_links[l].distance > 0)) return fault(msg, "a link of wall patches has no area", l);
  for (size_t l = 0; l < m->num_patch_mirrors; l++)
    if (!(m->patch_mirrors[l].area > 0 && m->patch_mirrors[l].distance > 0)) return fault(msg, "a link of a wall patch and its image has no area", l);
  return true;
}

bool mesh_is_valid(const mesh *m, message *msg)
{
  return nodes_are_valid(m, msg) && shares_are_valid(m, msg) && faces_are_valid(m, msg) && interfaces_are_valid(m, msg);
}
