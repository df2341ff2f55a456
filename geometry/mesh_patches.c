#include "geometry/mesh_patches.h"

#include <math.h>
#include <stdlib.h>

#include "geometry/mesh_layers.h"

static const double least_of_straight = 0.25; /* the way along a wall beside the straight one between centroids */

/* Floor, sides and ceiling of a block stay apart: in a corner they are twice as long as the block is wide, and not of one temperature. */
typedef enum { UPRIGHT, DOWN, UP, NUM_POSTURES } posture;

typedef struct {
  int32_t wall;
  posture looks;
  size_t block;
} patch_name;

static int compare_names(const void *a, const void *b)
{
  const patch_name *x = a, *y = b;
  if (x->wall != y->wall) return x->wall < y->wall ? -1 : 1;
  if (x->looks != y->looks) return x->looks < y->looks ? -1 : 1;
  return x->block < y->block ? -1 : x->block > y->block;
}

/* Number of the block along an axis and how many there may be. Blocks are counted from the mirror plane, or from the middle of the grid: so a
 * symmetric rig has symmetric patches, and half of it has the same ones as the whole. */
static size_t block_along(const grid *g, int axis, size_t i, double length, size_t *num)
{
  static const double rounding = 1e-6; /* of a block */
  const double low = g->edges[axis][0], high = g->edges[axis][g->num[axis]], middle = 0.5 * (g->edges[axis][i] + g->edges[axis][i + 1]);
  *num = g->num[axis];
  if (!(length > 0)) return i;
  const bool from_high = !g->mirror[2 * axis] && g->mirror[2 * axis + 1];
  const double way = g->mirror[2 * axis] ? middle - low : from_high ? high - middle : middle - 0.5 * (low + high);
  const double most = floor((high - low) / length) + 2;
  *num = 2 * (size_t)most;
  return (size_t)(most + floor(way / length + rounding));
}

static posture posture_of(int32_t facing)
{
  return facing == MESH_CUT_DOWN ? DOWN : facing == MESH_CUT_UP ? UP : UPRIGHT;
}

static patch_name name_of(const grid *g, const mesh_layer *layers, int32_t wall, size_t cell, posture looks)
{
  const double length = g->kind == GRID_RZ ? 0 : layers[wall].even_length;
  size_t ijk[3], num[3], at[3];
  grid_cell_indices(g, cell, ijk);
  for (int a = 0; a < 3; a++) at[a] = block_along(g, a, ijk[a], length, &num[a]);
  return (patch_name){wall, looks, (at[2] * num[1] + at[1]) * num[0] + at[0]};
}

static int32_t find_patch(const patch_name *names, size_t num, patch_name wanted)
{
  const patch_name *found = num ? bsearch(&wanted, names, num, sizeof *names, compare_names) : NULL;
  return found ? (int32_t)(found - names) : MESH_NONE;
}

/* The patch of a wall in a cell that looks one way, or, if that will do, another. */
static int32_t patch_at(const grid *g, const mesh_layer *layers, const patch_name *names, size_t num, int32_t wall, size_t cell, posture looks, bool or_another)
{
  int32_t found = find_patch(names, num, name_of(g, layers, wall, cell, looks));
  for (int other = UPRIGHT; or_another && other < NUM_POSTURES && found == MESH_NONE; other++) found = find_patch(names, num, name_of(g, layers, wall, cell, (posture)other));
  return found;
}

/* Patches of a wall with a floor of its own: at the edge between sides and floor one that lets as much heat through as its facets together,
 * area / thickness = sum of theirs. */
static void take_floors(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, const int32_t *patch_of)
{
  const double step = 1e-4 * grid_smallest_spacing(m->grid);
  for (size_t p = 0; p < m->num_patches; p++)
    if (layers[m->patches[p].part].floor.thickness > 0) m->patches[p].thickness = 0;
  for (size_t f = 0; f < list->num_facets; f++) {
    const mesh_cut_facet *x = &list->facets[f];
    if (patch_of[f] == MESH_NONE || x->place == MESH_CUT_RIM || !(layers[x->wall].floor.thickness > 0)) continue;
    const double area = x->area[0] + x->area[1];
    double at[3];
    for (int a = 0; a < 3; a++) at[a] = (x->moment[0][a] + x->moment[1][a]) / area;
    m->patches[patch_of[f]].thickness += 0.5 * area / mesh_layers_thickness(&layers[x->wall], at, step);
  }
  for (size_t p = 0; p < m->num_patches; p++)
    if (layers[m->patches[p].part].floor.thickness > 0) m->patches[p].thickness = m->patches[p].area / m->patches[p].thickness;
}

/* Part of a patch that looks one way. */
typedef struct {
  double size, place[3]; /* at mid thickness: m of the section in GRID_RZ, m2 in GRID_XYZ; size times its middle */
  double normal[3];      /* out of the wall, times area                                                       */
} piece;

enum { FACINGS = 6 };

static void add_to_piece(piece *p, const mesh_cut_facet *f)
{
  p->size += f->middle;
  for (int a = 0; a < 3; a++) {
    p->place[a] += f->middle_place[a];
    p->normal[a] += (f->outside == 1 ? 1 : -1) * (f->vector[0][a] + f->vector[1][a]);
  }
}

/* From sums to the middle and a unit normal. */
static void finish_piece(piece *p)
{
  const double *n = p->normal, length = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
  for (int a = 0; a < 3 && p->size > 0; a++) {
    p->place[a] /= p->size;
    p->normal[a] = length > 0 ? n[a] / length : 0;
  }
}

/* Fills the patches and pieces[num * FACINGS], by which way they look. */
static bool fill_patches(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, const int32_t *patch_of, const patch_name *names, size_t num, piece *pieces)
{
  m->patches = calloc(num ? num : 1, sizeof *m->patches);
  if (!m->patches) return false;
  m->num_patches = num;
  for (size_t p = 0; p < num; p++) {
    m->patches[p].part = names[p].wall;
    m->patches[p].thickness = layers[names[p].wall].thickness;
  }
  for (size_t f = 0; f < list->num_facets; f++) {
    const mesh_cut_facet *x = &list->facets[f];
    if (patch_of[f] == MESH_NONE || x->place == MESH_CUT_RIM) continue;
    mesh_patch *p = &m->patches[patch_of[f]];
    for (int s = 0; s < 2; s++) {
      p->area += 0.5 * x->area[s];
      for (int a = 0; a < 3; a++) p->centroid[a] += 0.5 * x->moment[s][a];
    }
    add_to_piece(&pieces[patch_of[f] * FACINGS + x->looks], x);
  }
  for (size_t p = 0; p < num; p++)
    for (int a = 0; a < 3; a++) m->patches[p].centroid[a] /= m->patches[p].area;
  for (size_t p = 0; p < num * FACINGS; p++) finish_piece(&pieces[p]);
  take_floors(m, layers, list, patch_of);
  return true;
}

/* ---- along the wall -------------------------------------------------------------------------------------------- */

static void cross(const double a[3], const double b[3], double c[3])
{
  for (int i = 0; i < 3; i++) c[i] = a[(i + 1) % 3] * b[(i + 2) % 3] - a[(i + 2) % 3] * b[(i + 1) % 3];
}

static double dot(const double a[3], const double b[3]) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }

/* Adds `share` times the way along the wall from one flat piece to another, as a vector in the plane across `common`: to the edge where their planes
 * meet, and on from there. Pieces that hardly differ in direction: the straight way. */
static void add_way(const piece *from, const piece *to, const double common[3], double share, double way[3])
{
  static const double hardly = 0.1;
  double edge[3], along[3], d[3];
  for (int a = 0; a < 3; a++) d[a] = to->place[a] - from->place[a];
  cross(from->normal, to->normal, edge);
  const double sine = sqrt(dot(edge, edge));
  for (int a = 0; a < 3 && sine > hardly; a++) edge[a] /= sine;
  cross(edge, common, along);
  const double length = sqrt(dot(along, along)), skewed = dot(edge, common); /* length: of `along`, and of what of the edge lies across `common` */
  if (!(sine > hardly && length > hardly)) {
    for (int a = 0; a < 3; a++) way[a] += share * d[a];
    return;
  }
  const double to_edge = dot(d, to->normal) / sine, from_edge = -dot(d, from->normal) / sine, beside = dot(d, edge);
  for (int a = 0; a < 3; a++) way[a] += share * ((to_edge + from_edge) * along[a] + beside * (edge[a] - skewed * common[a])) / length;
}

/* Length of the mean way along the wall from the points of one patch to those of another: for a strip round an edge from the middle of the one to the
 * middle of the other, where the straight way between centroids cuts the corner. */
static double distance_along(const piece *p, const piece *q, const double x[3], const double y[3])
{
  double common[3] = {0, 0, 0}, way[3] = {0, 0, 0}, size[2] = {0, 0};
  for (int i = 0; i < FACINGS; i++) {
    size[0] += p[i].size;
    size[1] += q[i].size;
    for (int a = 0; a < 3; a++) common[a] += p[i].size * p[i].normal[a] + q[i].size * q[i].normal[a];
  }
  const double length = sqrt(dot(common, common));
  for (int a = 0; a < 3; a++) common[a] = length > 0 ? common[a] / length : 0;
  for (int i = 0; i < FACINGS; i++)
    for (int j = 0; j < FACINGS; j++)
      if (p[i].size > 0 && q[j].size > 0) add_way(&p[i], &q[j], common, p[i].size * q[j].size / (size[0] * size[1]), way);
  const double d[3] = {y[0] - x[0], y[1] - x[1], y[2] - x[2]};
  return fmax(sqrt(dot(way, way)), least_of_straight * sqrt(dot(d, d)));
}

static int compare_links(const void *a, const void *b)
{
  const mesh_patch_link *x = a, *y = b;
  if (x->patch[0] != y->patch[0]) return x->patch[0] < y->patch[0] ? -1 : 1;
  return x->patch[1] < y->patch[1] ? -1 : x->patch[1] > y->patch[1];
}

/* The patch on one side of a trace, in a cell beside it. */
static int32_t patch_of_trace(const mesh *m, const mesh_layer *layers, const patch_name *names, size_t num, const mesh_cut_trace *tr, size_t cell)
{
  static const double wavering = 0.2; /* a wall that slopes so nearly as the limit of floors may count as floor on one side only of a cell's face */
  const posture looks = tr->upward < -MESH_CUT_LOOKS_ALONG_Z ? DOWN : tr->upward > MESH_CUT_LOOKS_ALONG_Z ? UP : UPRIGHT;
  const bool between = tr->axis != MESH_CUT_EDGE && fabs(fabs(tr->upward) - MESH_CUT_LOOKS_ALONG_Z) < wavering;
  return patch_at(m->grid, layers, names, num, tr->wall, cell, looks, between);
}

static bool fill_links(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, const patch_name *names, size_t num, const piece *pieces)
{
  m->patch_links = malloc((list->num_traces ? list->num_traces : 1) * sizeof *m->patch_links);
  if (!m->patch_links) return false;
  for (size_t t = 0; t < list->num_traces; t++) {
    const mesh_cut_trace *tr = &list->traces[t];
    size_t ijk[3], beyond = (size_t)tr->cell;
    if (tr->at_mirror) continue;
    if (tr->axis != MESH_CUT_EDGE) {
      grid_cell_indices(m->grid, (size_t)tr->cell, ijk);
      ijk[tr->axis]++;
      beyond = grid_cell(m->grid, ijk[0], ijk[1], ijk[2]);
    }
    const int32_t a = patch_of_trace(m, layers, names, num, tr, (size_t)tr->cell);
    const int32_t b = tr->axis == MESH_CUT_EDGE ? patch_at(m->grid, layers, names, num, tr->wall, beyond, UPRIGHT, false) : patch_of_trace(m, layers, names, num, tr, beyond);
    if (a == MESH_NONE || b == MESH_NONE || a == b) continue;
    const double thickness = 2 / (1 / m->patches[a].thickness + 1 / m->patches[b].thickness); /* one behind the other */
    m->patch_links[m->num_patch_links++] = (mesh_patch_link){.patch = {a < b ? a : b, a < b ? b : a}, .area = tr->width * thickness};
  }
  qsort(m->patch_links, m->num_patch_links, sizeof *m->patch_links, compare_links);
  size_t kept = 0;
  for (size_t l = 0; l < m->num_patch_links; l++) {
    if (kept > 0 && compare_links(&m->patch_links[kept - 1], &m->patch_links[l]) == 0)
      m->patch_links[kept - 1].area += m->patch_links[l].area;
    else m->patch_links[kept++] = m->patch_links[l];
  }
  m->num_patch_links = kept;
  for (size_t l = 0; l < kept; l++) {
    const int32_t *patch = m->patch_links[l].patch;
    m->patch_links[l].distance =
        distance_along(pieces + patch[0] * FACINGS, pieces + patch[1] * FACINGS, m->patches[patch[0]].centroid, m->patches[patch[1]].centroid);
  }
  return true;
}

static int compare_mirrors(const void *a, const void *b)
{
  const mesh_patch_mirror *x = a, *y = b;
  if (x->patch != y->patch) return x->patch < y->patch ? -1 : 1;
  return (x->axis > y->axis) - (x->axis < y->axis);
}

/* Along the wall from a patch to its image beyond the plane on the grid's end along an axis. */
static double distance_to_image(const mesh *m, const piece *pieces, int32_t patch, int axis)
{
  const grid *g = m->grid;
  const double plane = g->edges[axis][g->mirror[2 * axis] ? 0 : g->num[axis]], *x = m->patches[patch].centroid;
  double y[3] = {x[0], x[1], x[2]};
  piece image[FACINGS];
  y[axis] = 2 * plane - y[axis];
  for (int i = 0; i < FACINGS; i++) {
    image[i] = pieces[patch * FACINGS + i];
    image[i].place[axis] = 2 * plane - image[i].place[axis];
    image[i].normal[axis] = -image[i].normal[axis];
  }
  return distance_along(pieces + patch * FACINGS, image, x, y);
}

/* Links of patches to their own images. */
static bool fill_mirrors(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, const patch_name *names, size_t num, const piece *pieces)
{
  size_t kept = 0, num_at_mirrors = 0;
  for (size_t t = 0; t < list->num_traces; t++) num_at_mirrors += list->traces[t].at_mirror;
  if (num_at_mirrors == 0) return true;
  m->patch_mirrors = malloc(num_at_mirrors * sizeof *m->patch_mirrors);
  if (!m->patch_mirrors) return false;
  for (size_t t = 0; t < list->num_traces; t++) {
    const mesh_cut_trace *tr = &list->traces[t];
    const int32_t patch = tr->at_mirror ? patch_of_trace(m, layers, names, num, tr, (size_t)tr->cell) : MESH_NONE;
    if (patch == MESH_NONE) continue;
    m->patch_mirrors[m->num_patch_mirrors++] = (mesh_patch_mirror){.patch = patch, .axis = tr->axis, .area = tr->width * m->patches[patch].thickness};
  }
  qsort(m->patch_mirrors, m->num_patch_mirrors, sizeof *m->patch_mirrors, compare_mirrors);
  for (size_t l = 0; l < m->num_patch_mirrors; l++) {
    if (kept > 0 && compare_mirrors(&m->patch_mirrors[kept - 1], &m->patch_mirrors[l]) == 0) m->patch_mirrors[kept - 1].area += m->patch_mirrors[l].area;
    else m->patch_mirrors[kept++] = m->patch_mirrors[l];
  }
  m->num_patch_mirrors = kept;
  for (size_t l = 0; l < kept; l++) m->patch_mirrors[l].distance = distance_to_image(m, pieces, m->patch_mirrors[l].patch, m->patch_mirrors[l].axis);
  return true;
}

/* A facet that names a patch: it goes through the wall, and there is inner surface. */
static bool names_patch(const mesh_cut_facet *f)
{
  return f->wall != MESH_NONE && f->place != MESH_CUT_RIM && f->area[1 - f->outside] > 0;
}

/* The patch of the blocks around a cell whose name has not one of its own: of those with inner surface in a neighbouring cell the nearest; MESH_NONE: none has. */
static int32_t patch_beside(const grid *g, const mesh_layer *layers, const mesh_cut_facet *f, const patch_name *names, size_t num)
{
  static const int turn[6] = {-1, 1, -1, 1, -1, 1};
  size_t at[3];
  double nearest = INFINITY, place[3];
  int32_t found = MESH_NONE;
  const double area = f->area[0] + f->area[1];
  for (int a = 0; a < 3; a++) place[a] = (f->moment[0][a] + f->moment[1][a]) / area;
  for (int face = 0; face < 6; face++) {
    grid_cell_indices(g, (size_t)f->key, at);
    const int axis = face / 2;
    if (turn[face] < 0 ? at[axis] == 0 : at[axis] + 1 == g->num[axis]) continue;
    at[axis] = turn[face] < 0 ? at[axis] - 1 : at[axis] + 1;
    double centre[3], square = 0;
    const int32_t patch = patch_at(g, layers, names, num, f->wall, grid_cell(g, at[0], at[1], at[2]), posture_of(f->looks), true);
    grid_cell_centre(g, at[0], at[1], at[2], centre);
    for (int a = 0; a < 3; a++) square += (centre[a] - place[a]) * (centre[a] - place[a]);
    if (patch == MESH_NONE || square >= nearest) continue;
    nearest = square;
    found = patch;
  }
  return found;
}

bool mesh_patches_make(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, int32_t *patch_of)
{
  size_t num = 0, kept = 0;
  patch_name *names = malloc((list->num_facets ? list->num_facets : 1) * sizeof *names);
  if (!names) return false;
  for (size_t f = 0; f < list->num_facets; f++)
    if (names_patch(&list->facets[f])) names[num++] = name_of(m->grid, layers, list->facets[f].wall, (size_t)list->facets[f].key, posture_of(list->facets[f].looks));
  qsort(names, num, sizeof *names, compare_names);
  for (size_t i = 0; i < num; i++)
    if (kept == 0 || compare_names(&names[kept - 1], &names[i]) != 0) names[kept++] = names[i];
  for (size_t f = 0; f < list->num_facets; f++) {
    const mesh_cut_facet *x = &list->facets[f];
    patch_of[f] = x->wall == MESH_NONE ? MESH_NONE : patch_at(m->grid, layers, names, kept, x->wall, (size_t)x->key, posture_of(x->looks), true);
    if (x->wall != MESH_NONE && patch_of[f] == MESH_NONE) patch_of[f] = patch_beside(m->grid, layers, x, names, kept);
  }
  piece *pieces = calloc(kept * FACINGS + 1, sizeof *pieces);
  const bool done = pieces && fill_patches(m, layers, list, patch_of, names, kept, pieces) && fill_links(m, layers, list, names, kept, pieces) &&
                    fill_mirrors(m, layers, list, names, kept, pieces);
  free(pieces);
  free(names);
  return done;
}
