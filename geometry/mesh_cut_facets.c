/* Where parts meet: summed per pair of cells, parts and facing. */
#include "geometry/mesh_cut_parts.h"

#include <math.h>

bool mesh_cut_facets_has_node(const mesh_cut_work *w, int32_t part)
{
  return part >= 0 && w->q.layers[part].kind == MESH_SOLID;
}

bool mesh_cut_facets_is_wall(const mesh_cut_work *w, int32_t part)
{
  return part >= 0 && w->q.layers[part].kind == MESH_THIN_WALL;
}

int32_t mesh_cut_facets_facing(const double normal[3])
{
  if (fabs(normal[2]) > MESH_CUT_LOOKS_ALONG_Z * sqrt(normal[0] * normal[0] + normal[1] * normal[1] + normal[2] * normal[2])) return normal[2] > 0 ? 5 : 4;
  return fabs(normal[0]) >= (1 - 1e-6) * fabs(normal[1]) ? (normal[0] > 0 ? 1 : 0) : (normal[1] > 0 ? 3 : 2);
}

mesh_cut_facet *mesh_cut_facets_between(mesh_cut_work *w, const int32_t cell[2], const int32_t part[2], int32_t wall, int32_t key, int32_t across, const double normal[3])
{
  const int32_t facing = mesh_cut_facets_facing(normal);
  const int32_t own[2] = {mesh_cut_facets_has_node(w, part[0]) ? cell[0] : MESH_NONE, mesh_cut_facets_has_node(w, part[1]) ? cell[1] : MESH_NONE};
  for (size_t i = w->first_facet; i < w->list->num_facets; i++) {
    mesh_cut_facet *f = &w->list->facets[i];
    if (f->cell[0] == own[0] && f->cell[1] == own[1] && f->part[0] == part[0] && f->part[1] == part[1] && f->wall == wall && f->key == key && f->across == across &&
        f->facing == facing && f->place != MESH_CUT_RIM)
      return f;
  }
  mesh_cut_facet *f = mesh_cut_list_facet(w->list);
  if (!f) return NULL;
  if (own[0] == MESH_NONE) f->place = MESH_CUT_BARE;
  for (int s = 0; s < 2; s++) {
    f->cell[s] = own[s];
    f->part[s] = part[s];
  }
  f->wall = wall;
  f->key = key;
  f->across = across;
  f->facing = facing;
  return f;
}

double mesh_cut_facets_spread(const simplex *s)
{
  const double vertices = s->k + 1;
  double sum = 0;
  for (int a = 0; a < 3; a++) {
    double middle = 0;
    for (int v = 0; v <= s->k; v++) middle += s->v[v].x[a] / vertices;
    for (int v = 0; v <= s->k; v++) sum += (s->v[v].x[a] - middle) * (s->v[v].x[a] - middle);
  }
  return sum / (vertices * (vertices + 1));
}

void mesh_cut_facets_add_area(mesh_cut_facet *f, int side, double area, const double moment[3], const double normal[3], double spread)
{
  if (side == 0) f->spread += area * spread;
  f->area[side] += area;
  for (int a = 0; a < 3; a++) {
    f->vector[side][a] += area * normal[a];
    f->moment[side][a] += moment[a];
    f->reach[side] += moment[a] * normal[a];
    if (side == 0) f->spread += moment[a] * moment[a] / area;
  }
}

void mesh_cut_facets_add(mesh_cut_work *w, const simplex *s, const mesh_cut_target *t, int32_t outer_part)
{
  const int32_t inner_part = w->near->active[t->level].part, cell = (int32_t)w->cell;
  const mesh_cut_measure m = mesh_cut_measure_of(w, s);
  if (!(m.full > 0)) return;
  const bool inner_wall = mesh_cut_facets_is_wall(w, inner_part), outer_wall = mesh_cut_facets_is_wall(w, outer_part);
  if (inner_wall && outer_wall) {
    w->list->dropped_area += m.full;
    return;
  }
  if (inner_wall || outer_wall) {
    const int32_t wall = inner_wall ? inner_part : outer_part;
    const double sign = inner_wall ? -1 : 1, into[3] = {sign * t->normal[0], sign * t->normal[1], sign * t->normal[2]};
    mesh_cut_walls_add(w, s, &m, wall, inner_wall ? outer_part : inner_part, inner_wall ? t->far_cell : cell, into);
    return;
  }
  const bool turned = !mesh_cut_facets_has_node(w, inner_part);
  if (turned && !mesh_cut_facets_has_node(w, outer_part)) return;
  const int32_t cells[2] = {turned ? t->far_cell : cell, turned ? cell : t->far_cell};
  const int32_t parts[2] = {turned ? outer_part : inner_part, turned ? inner_part : outer_part};
  const double sign = turned ? -1 : 1, n[3] = {sign * t->normal[0], sign * t->normal[1], sign * t->normal[2]};
  mesh_cut_facet *f = mesh_cut_facets_between(w, cells, parts, MESH_NONE, MESH_NONE, 0, n);
  if (!f) return;
  for (int side = 0; side < 2; side++) mesh_cut_facets_add_area(f, side, m.full, m.full_moment, n, mesh_cut_facets_spread(s));
}

bool mesh_cut_facets_border(const grid *g, const size_t ijk[3], int axis, int side)
{
  const bool edge = side == 0 ? ijk[axis] == 0 : ijk[axis] + 1 == g->num[axis];
  if (!edge || g->mirror[2 * axis + side]) return false;
  return !(g->kind == GRID_RZ && axis == 0 && side == 0 && g->edges[0][0] == 0);
}

bool mesh_cut_facets_at_grid_edge(const grid *g, const size_t ijk[3], int axis, int side)
{
  return side == 0 ? ijk[axis] == 0 : ijk[axis] + 1 == g->num[axis];
}

size_t mesh_cut_facets_neighbour(const mesh_cut_work *w, int axis, int side)
{
  size_t at[3] = {w->ijk[0], w->ijk[1], w->ijk[2]};
  at[axis] = side == 0 ? at[axis] - 1 : at[axis] + 1;
  return grid_cell(w->q.g, at[0], at[1], at[2]);
}

/* Area of a cell face as seen from inside; where the grid ends it is a surface. */
void mesh_cut_facets_face(mesh_cut_work *w, int slot, int axis, int side, const mesh_cut_measure *m)
{
  mesh_cut_piece *p = &w->slot[slot];
  p->aperture[2 * axis + side] += m->full;
  if (!mesh_cut_facets_has_node(w, p->part) || !mesh_cut_facets_border(w->q.g, w->ijk, axis, side)) return;
  const int32_t cells[2] = {p->cell, MESH_NONE}, parts[2] = {p->part, MESH_VOID};
  double normal[3] = {0, 0, 0};
  normal[axis] = side == 0 ? -1 : 1;
  mesh_cut_facet *f = mesh_cut_facets_between(w, cells, parts, MESH_NONE, MESH_NONE, 0, normal);
  if (!f) return;
  for (int s = 0; s < 2; s++) mesh_cut_facets_add_area(f, s, m->full, m->full_moment, normal, 0);
}

void mesh_cut_facets_outer(mesh_cut_list *list, const grid *g, size_t cell, int32_t part, int axis, int side)
{
  size_t ijk[3];
  grid_cell_indices(g, cell, ijk);
  if (!mesh_cut_facets_border(g, ijk, axis, side)) return;
  mesh_cut_facet *f = mesh_cut_list_facet(list);
  if (!f) return;
  double centre[3], normal[3] = {0, 0, 0}, moment[3];
  const double area = grid_face_area(g, axis, side, ijk[0], ijk[1], ijk[2]);
  grid_cell_centre(g, ijk[0], ijk[1], ijk[2], centre); /* in GRID_RZ the ring's r: right for faces across z */
  centre[axis] = g->edges[axis][ijk[axis] + (size_t)side];
  normal[axis] = side == 0 ? -1 : 1;
  for (int a = 0; a < 3; a++) moment[a] = area * centre[a];
  f->cell[0] = (int32_t)cell;
  f->cell[1] = MESH_NONE;
  f->part[0] = part;
  f->part[1] = MESH_VOID;
  f->wall = f->key = MESH_NONE;
  f->facing = mesh_cut_facets_facing(normal);
  for (int s = 0; s < 2; s++) mesh_cut_facets_add_area(f, s, area, moment, normal, 0);
}
