#include "geometry/mesh_wall.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/mesh_layers.h"

mesh_wall_side mesh_wall_side_at(const mesh_layer *wall, const double point[3], const double into[3], double step)
{
  double normal[3];
  const double c = shape_distance(wall->cavity, point);
  shape_normal(wall->cavity, point, step, normal);
  const double along = normal[0] * into[0] + normal[1] * into[1] + normal[2] * into[2];
  const double thickness = mesh_layers_thickness(wall, point, step);
  /* The rim lies outside the cavity. A facet cut short across an edge of the cavity lies inside it, whichever way it looks; left out, it
   * would take all of the wall's outside round that edge with it. */
  if (c <= 0 || (along > 0.5 && fabs(c) < fabs(c - thickness))) return MESH_WALL_INNER;
  if (along < -0.5 && fabs(c - thickness) <= fabs(c)) return MESH_WALL_OUTER;
  return MESH_WALL_RIM;
}

void mesh_wall_outer_point(const mesh_layer *wall, const double inner[3], double step, double outer[3])
{
  double normal[3];
  const double way = mesh_layers_thickness(wall, inner, step) - shape_distance(wall->cavity, inner);
  shape_normal(wall->cavity, inner, step, normal);
  for (int a = 0; a < 3; a++) outer[a] = inner[a] + way * normal[a];
}

void mesh_wall_foot(const mesh_layer *wall, const double point[3], double step, double foot[3])
{
  static const double inside = 50; /* steps: little beside a sub-cell */
  double normal[3];
  shape_normal(wall->cavity, point, step, normal);
  const double depth = shape_distance(wall->cavity, point) + inside * step;
  for (int a = 0; a < 3; a++) foot[a] = point[a] - depth * normal[a];
}

/* Reflects a point at the mirror planes and the axis that it lies behind; false when it is outside the grid. */
static bool bring_into_grid(const grid *g, double point[3])
{
  if (g->kind == GRID_RZ && point[0] < 0) point[0] = -point[0];
  for (int a = 0; a < 3; a++) {
    if (g->kind == GRID_RZ && a == 1) continue;
    const double low = g->edges[a][0], high = g->edges[a][g->num[a]];
    if (point[a] < low && g->mirror[2 * a]) point[a] = 2 * low - point[a];
    if (point[a] > high && g->mirror[2 * a + 1]) point[a] = 2 * high - point[a];
    if (point[a] < low || point[a] > high) return false;
  }
  return true;
}

bool mesh_wall_look_across(const mesh_cut_request *q, const mesh_layer *wall, const double inner[3], double step, double beyond,
                           int32_t *cell, int32_t *part)
{
  double p[3] = {inner[0], inner[1], inner[2]};
  for (int turn = 0; turn < 4; turn++) {
    const double way = mesh_layers_thickness(wall, p, step) + beyond - shape_distance(wall->cavity, p);
    if (fabs(way) < 0.25 * beyond) break;
    double normal[3];
    shape_normal(wall->cavity, p, step, normal);
    for (int a = 0; a < 3; a++) p[a] += way * normal[a];
  }
  size_t found;
  *cell = MESH_NONE;
  *part = MESH_VOID;
  if (!bring_into_grid(q->g, p) || !grid_find(q->g, p, &found)) return true;
  *part = mesh_layers_part(q->layers, q->num_layers, p, step);
  *cell = (int32_t)found;
  return *part < 0 || q->layers[*part].kind != MESH_THIN_WALL;
}

/* ---- patches ------------------------------------------------------------------------------------------- */

typedef struct {
  int32_t wall;
  size_t block;
} patch_name;

static int compare_names(const void *a, const void *b)
{
  const patch_name *x = a, *y = b;
  if (x->wall != y->wall) return x->wall < y->wall ? -1 : 1;
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

static patch_name name_of(const grid *g, const mesh_layer *layers, int32_t wall, size_t cell)
{
  const double length = g->kind == GRID_RZ ? 0 : layers[wall].even_length;
  size_t ijk[3], num[3], at[3];
  grid_cell_indices(g, cell, ijk);
  for (int a = 0; a < 3; a++) at[a] = block_along(g, a, ijk[a], length, &num[a]);
  return (patch_name){wall, (at[2] * num[1] + at[1]) * num[0] + at[0]};
}

static int32_t find_patch(const patch_name *names, size_t num, patch_name wanted)
{
  const patch_name *found = num ? bsearch(&wanted, names, num, sizeof *names, compare_names) : NULL;
  return found ? (int32_t)(found - names) : MESH_NONE;
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

static bool fill_patches(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, const int32_t *patch_of, const patch_name *names,
                         size_t num)
{
  m->patches = calloc(num ? num : 1, sizeof *m->patches);
  if (!m->patches) return false;
  m->num_patches = num;
  for (size_t p = 0; p < num; p++) {
    m->patches[p].part = names[p].wall;
    m->patches[p].thickness = layers[names[p].wall].thickness;
  }
  for (size_t f = 0; f < list->num_facets; f++) {
    if (patch_of[f] == MESH_NONE) continue;
    mesh_patch *p = &m->patches[patch_of[f]];
    for (int s = 0; s < 2 && list->facets[f].place != MESH_CUT_RIM; s++) {
      p->area += 0.5 * list->facets[f].area[s];
      for (int a = 0; a < 3; a++) p->centroid[a] += 0.5 * list->facets[f].moment[s][a];
    }
  }
  for (size_t p = 0; p < num; p++)
    for (int a = 0; a < 3; a++) m->patches[p].centroid[a] /= m->patches[p].area;
  take_floors(m, layers, list, patch_of);
  return true;
}

static int compare_links(const void *a, const void *b)
{
  const mesh_patch_link *x = a, *y = b;
  if (x->patch[0] != y->patch[0]) return x->patch[0] < y->patch[0] ? -1 : 1;
  return x->patch[1] < y->patch[1] ? -1 : x->patch[1] > y->patch[1];
}

static bool fill_links(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, const patch_name *names, size_t num)
{
  m->patch_links = malloc((list->num_traces ? list->num_traces : 1) * sizeof *m->patch_links);
  if (!m->patch_links) return false;
  for (size_t t = 0; t < list->num_traces; t++) {
    const mesh_cut_trace *tr = &list->traces[t];
    size_t ijk[3];
    grid_cell_indices(m->grid, (size_t)tr->cell, ijk);
    ijk[tr->axis]++;
    const int32_t a = find_patch(names, num, name_of(m->grid, layers, tr->wall, (size_t)tr->cell));
    const int32_t b = find_patch(names, num, name_of(m->grid, layers, tr->wall, grid_cell(m->grid, ijk[0], ijk[1], ijk[2])));
    if (a == MESH_NONE || b == MESH_NONE || a == b) continue;
    m->patch_links[m->num_patch_links++] =
        (mesh_patch_link){.patch = {a < b ? a : b, a < b ? b : a}, .area = tr->width * m->patches[a].thickness};
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
    const double *x = m->patches[m->patch_links[l].patch[0]].centroid, *y = m->patches[m->patch_links[l].patch[1]].centroid;
    const double d[3] = {y[0] - x[0], y[1] - x[1], y[2] - x[2]};
    m->patch_links[l].distance = sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]);
  }
  return true;
}

bool mesh_wall_patches(mesh *m, const mesh_layer *layers, const mesh_cut_list *list, int32_t *patch_of)
{
  size_t num = 0, kept = 0;
  patch_name *names = malloc((list->num_facets ? list->num_facets : 1) * sizeof *names);
  if (!names) return false;
  for (size_t f = 0; f < list->num_facets; f++)
    if (list->facets[f].wall != MESH_NONE && list->facets[f].place != MESH_CUT_RIM)
      names[num++] = name_of(m->grid, layers, list->facets[f].wall, (size_t)list->facets[f].key);
  qsort(names, num, sizeof *names, compare_names);
  for (size_t i = 0; i < num; i++)
    if (kept == 0 || compare_names(&names[kept - 1], &names[i]) != 0) names[kept++] = names[i];
  for (size_t f = 0; f < list->num_facets; f++) {
    const mesh_cut_facet *x = &list->facets[f];
    patch_of[f] = x->wall == MESH_NONE ? MESH_NONE : find_patch(names, kept, name_of(m->grid, layers, x->wall, (size_t)x->key));
  }
  const bool done = fill_patches(m, layers, list, patch_of, names, kept) && fill_links(m, layers, list, names, kept);
  free(names);
  return done;
}
