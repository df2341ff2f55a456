/* One simplex of a cell and its faces: body, apertures, surfaces that lie along it, traces of walls. */
#include "geometry/mesh_cut_parts.h"

#include <math.h>

static void find_flat(mesh_cut_work *w, const simplex *s)
{
  double middle[3] = {0, 0, 0}, value[SIMPLEX_MAX_FIELDS];
  bool known = false;
  for (int f = 0; f < w->near->num_fields; f++) {
    w->flat[f] = 0;
    if (!mesh_cut_layers_vanishes(w, s, f)) continue;
    if (!known) {
      for (int v = 0; v <= s->k; v++)
        for (int a = 0; a < 3; a++) middle[a] += s->v[v].x[a] / (s->k + 1);
      mesh_layers_fields(w->near, middle, w->step, value);
      known = true;
    }
    w->flat[f] = value[f] < 0 ? -1 : 1;
  }
}

/* The side of the cell on which all corners but one lie, or -1. */
static int cell_side_opposite(const mesh_cut_work *w, const mesh_cut_corner *c, int opposite)
{
  for (int d = 0; d < w->dim; d++)
    for (int side = 0; side < 2; side++) {
      const int a = w->axes[d], wanted = side == 0 ? 0 : w->q.samples << MESH_CUT_MOST_HALVINGS;
      bool all = true;
      for (int v = 0; v <= w->dim; v++)
        if (v != opposite && c[v].at[a] != wanted) all = false;
      if (all) return 2 * a + side;
    }
  return -1;
}

/* Unit normal of the face opposite a vertex, away from it. */
static void face_normal(const mesh_cut_work *w, const simplex *face, const double opposite[3], double n[3])
{
  const double *p = face->v[0].x;
  double e[2][3] = {{0}};
  for (int v = 1; v < w->dim; v++)
    for (int a = 0; a < 3; a++) e[v - 1][a] = face->v[v].x[a] - p[a];
  if (w->dim == 2) {
    n[0] = e[0][2];
    n[1] = 0;
    n[2] = -e[0][0];
  } else {
    for (int a = 0; a < 3; a++) n[a] = e[0][(a + 1) % 3] * e[1][(a + 2) % 3] - e[0][(a + 2) % 3] * e[1][(a + 1) % 3];
  }
  double length = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]), out = 0;
  for (int a = 0; a < 3; a++) out += n[a] * (p[a] - opposite[a]);
  if (out < 0) length = -length;
  for (int a = 0; a < 3; a++) n[a] /= length;
}

/* Where the inner surface of each thin wall meets a face of the cell: the wall's width there. A surface that only touches counts for
 * the face on its inner side. */
static void add_traces(mesh_cut_work *w, const simplex *face, int axis, int side)
{
  for (int level = 0; level < w->near->num_active; level++) {
    const mesh_layers_active *l = &w->near->active[level];
    if (l->layer->kind != MESH_THIN_WALL) continue;
    int zeros = 0, inner = 0;
    simplex line;
    simplex_parts parts;
    line.k = face->k - 1;
    for (int v = 0; v <= face->k; v++) {
      if (fabs(face->v[v].f[l->first]) <= w->eps && zeros < face->k) line.v[zeros++] = face->v[v];
      else if (face->v[v].f[l->first] > 0) inner++;
    }
    simplex_divide(face, w->near->num_fields, l->first, w->eps, &parts);
    if (parts.num_facets > 0) line = parts.facet[0]; /* a face divided by a line has one piece of line */
    else if (!(zeros == face->k && inner == 1)) continue;
    if (line.k == 0) {
      if (line.v[0].f[l->first + 2] <= 0) mesh_cut_walls_add_trace(w, level, axis, side, &line);
    } else {
      simplex_divide(&line, w->near->num_fields, l->first + 2, w->eps, &parts);
      for (int i = 0; i < parts.num_inside; i++) mesh_cut_walls_add_trace(w, level, axis, side, &parts.inside[i]);
    }
  }
}

/* A face of two cells is traced from one of them: the one farther from the mirror plane, or from the middle of the grid (in GRID_RZ: the lower one), so that
 * both sides of a symmetric rig, and half of it, have the same traces. A mirror plane is one too. */
static bool is_traced(const mesh_cut_work *w, int axis, int side)
{
  const grid *g = w->q.g;
  const size_t i = w->ijk[axis], num = g->num[axis];
  if (mesh_cut_facets_at_grid_edge(g, w->ijk, axis, side)) return g->kind == GRID_XYZ && g->mirror[2 * axis + side];
  if (g->kind == GRID_RZ || g->mirror[2 * axis]) return side == 1;
  if (g->mirror[2 * axis + 1]) return side == 0;
  return side == 1 ? i >= num / 2 : i <= num / 2;
}

/* Some field mesh_cut_layers_vanishes on the face opposite a vertex. */
static bool has_surface(const mesh_cut_work *w, const simplex *s, int opposite)
{
  for (int f = 0; f < w->near->num_fields; f++) {
    bool zero = true;
    for (int v = 0; v <= s->k && zero; v++) zero = v == opposite || fabs(s->v[v].f[f]) <= w->eps;
    if (zero) return true;
  }
  return false;
}

/* The face of a simplex opposite one vertex: aperture of the cell when it lies on its boundary, and a surface when a layer
 * ends exactly there. */
static void add_simplex_face(mesh_cut_work *w, const simplex *s, const mesh_cut_corner *c, int opposite)
{
  const int side = cell_side_opposite(w, c, opposite);
  if (side < 0 && !has_surface(w, s, opposite)) return;
  simplex face;
  face.k = s->k - 1;
  for (int v = 0, at = 0; v <= s->k; v++)
    if (v != opposite) face.v[at++] = s->v[v];
  const bool grid_edge = side >= 0 && mesh_cut_facets_at_grid_edge(w->q.g, w->ijk, side / 2, side % 2);
  if (side >= 0 && is_traced(w, side / 2, side % 2)) add_traces(w, &face, side / 2, side % 2);
  bool zero[SIMPLEX_MAX_FIELDS], any = false;
  for (int f = 0; f < w->near->num_fields; f++) {
    zero[f] = mesh_cut_layers_vanishes(w, &face, f);
    any = any || zero[f];
    if (zero[f]) mesh_cut_layers_set(&face, f, (w->flat[f] ? w->flat[f] : s->v[opposite].f[f]) < 0 ? -1 : 1);
  }
  const int top = w->near->num_active - 1;
  if (side >= 0) {
    mesh_cut_target t = {.kind = MESH_CUT_FACE, .side = side};
    mesh_cut_layers_distribute(w, &face, top, &t);
  }
  if (!any || grid_edge) return;
  for (int level = 0; level <= top; level++) {
    const mesh_layers_active *l = &w->near->active[level];
    bool ends_here = false;
    for (int f = l->first; f < l->first + l->num; f++) ends_here = ends_here || (zero[f] && face.v[0].f[f] < 0);
    if (!ends_here) continue;
    mesh_cut_target t = {.kind = MESH_CUT_INNER, .level = level, .far_cell = (int32_t)(side < 0 ? w->cell : mesh_cut_facets_neighbour(w, side / 2, side % 2))};
    face_normal(w, &face, s->v[opposite].x, t.normal);
    mesh_cut_layers_distribute(w, &face, top, &t);
  }
}

void mesh_cut_simplices_add(mesh_cut_work *w, const simplex *s, const mesh_cut_corner *c)
{
  const mesh_cut_target body = {.kind = MESH_CUT_BODY};
  w->whole = s;
  w->has_inverse = false;
  find_flat(w, s);
  mesh_cut_layers_distribute(w, s, w->near->num_active - 1, &body);
  for (int v = 0; v <= s->k; v++) add_simplex_face(w, s, c, v);
}
