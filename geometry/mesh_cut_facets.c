/* Where parts meet: summed per pair of cells, parts and facing. */
#include "geometry/mesh_cut_parts.h"

#include <math.h>

#include "geometry/mesh_wall.h"

/* Of a sub-cell: how far beside a wall one looks across it. */
static const double across_fraction = 0.02;

static bool gets_node(const mesh_cut_work *w, int32_t part)
{
  return part >= 0 && w->q.layers[part].kind == MESH_SOLID;
}

static bool is_wall(const mesh_cut_work *w, int32_t part)
{
  return part >= 0 && w->q.layers[part].kind == MESH_THIN_WALL;
}

int32_t mesh_cut_facets_facing(const double normal[3])
{
  if (fabs(normal[2]) > 0.7) return normal[2] > 0 ? 5 : 4;
  return fabs(normal[0]) >= (1 - 1e-6) * fabs(normal[1]) ? (normal[0] > 0 ? 1 : 0) : (normal[1] > 0 ? 3 : 2);
}

/* The record of this cell for a pair of sides; made when there is none. Sides without a node keep no cell. */
static mesh_cut_facet *facet_between(mesh_cut_work *w, const int32_t cell[2], const int32_t part[2], int32_t wall, int32_t key,
                                     const double normal[3])
{
  const int32_t facing = mesh_cut_facets_facing(normal);
  const int32_t own[2] = {gets_node(w, part[0]) ? cell[0] : MESH_NONE, gets_node(w, part[1]) ? cell[1] : MESH_NONE};
  for (size_t i = w->first_facet; i < w->list->num_facets; i++) {
    mesh_cut_facet *f = &w->list->facets[i];
    if (f->cell[0] == own[0] && f->cell[1] == own[1] && f->part[0] == part[0] && f->part[1] == part[1] && f->wall == wall && f->key == key &&
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
  f->facing = facing;
  return f;
}

/* Mean square distance of a flat piece from its middle. */
static double spread_of(const simplex *s)
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

/* spread: of the piece about its own middle, m2. */
static void add_to_facet(mesh_cut_facet *f, int side, double area, const double moment[3], const double normal[3], double spread)
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

static int32_t cell_at(const mesh_cut_work *w, const double x[3], double way, const double normal[3], int32_t otherwise)
{
  const double p[3] = {x[0] + way * normal[0], x[1] + way * normal[1], x[2] + way * normal[2]};
  size_t cell;
  return grid_find(w->q.g, p, &cell) ? (int32_t)cell : otherwise;
}

/* A facet on the inner surface of a wall; `into` points into the wall, `part` and `cell` lie before it. */
static void add_through_wall(mesh_cut_work *w, const simplex *s, const mesh_cut_measure *m, int32_t wall, int32_t part, int32_t cell,
                             const double into[3])
{
  const mesh_layer *layer = &w->q.layers[wall];
  const double x[3] = {m->full_moment[0] / m->full, m->full_moment[1] / m->full, m->full_moment[2] / m->full};
  int32_t far_cell, far_part;
  if (!mesh_wall_look_across(&w->q, layer, x, w->step, across_fraction * w->width, &far_cell, &far_part)) {
    w->list->num_lost++;
    return;
  }
  simplex outer;
  outer.k = s->k;
  for (int v = 0; v <= s->k; v++) mesh_wall_outer_point(layer, s->v[v].x, w->step, outer.v[v].x);
  const mesh_cut_measure mo = mesh_cut_measure_of(w, &outer);
  const int32_t key = cell_at(w, x, -w->look, into, cell);
  const bool turned = !gets_node(w, part); /* side 0 has a node */
  const bool bare = part == MESH_VOID && far_part == MESH_VOID;
  if (turned && !gets_node(w, far_part) && !bare) return;
  const int32_t cells[2] = {turned ? far_cell : cell, turned ? cell : far_cell}, parts[2] = {turned ? far_part : part, turned ? part : far_part};
  const double n[3] = {turned ? -into[0] : into[0], turned ? -into[1] : into[1], turned ? -into[2] : into[2]};
  mesh_cut_facet *f = facet_between(w, cells, parts, wall, key, n);
  if (!f) return;
  add_to_facet(f, turned ? 1 : 0, m->full, m->full_moment, n, spread_of(s));
  add_to_facet(f, turned ? 0 : 1, mo.full, mo.full_moment, n, spread_of(&outer));
}

/* The record of the rim of a wall that ends in the cell `key`, by what is before it and facing. */
static mesh_cut_facet *rim_of(mesh_cut_work *w, int32_t wall, int32_t part, int32_t key, const double normal[3])
{
  const int32_t facing = mesh_cut_facets_facing(normal);
  for (size_t i = w->first_facet; i < w->list->num_facets; i++) {
    mesh_cut_facet *f = &w->list->facets[i];
    if (f->place == MESH_CUT_RIM && f->wall == wall && f->part[1] == part && f->key == key && f->facing == facing) return f;
  }
  mesh_cut_facet *f = mesh_cut_list_facet(w->list);
  if (!f) return NULL;
  *f = (mesh_cut_facet){.cell = {MESH_NONE, MESH_NONE}, .part = {MESH_VOID, part}, .wall = wall, .key = key, .facing = facing, .place = MESH_CUT_RIM};
  return f;
}

/* A facet across a wall where it ends. `part` is before it, `into` points into the wall. */
static void add_rim(mesh_cut_work *w, const simplex *s, const mesh_cut_measure *m, int32_t wall, int32_t part, const double into[3])
{
  double foot[3];
  const double x[3] = {m->full_moment[0] / m->full, m->full_moment[1] / m->full, m->full_moment[2] / m->full};
  const double n[3] = {-into[0], -into[1], -into[2]};
  mesh_wall_foot(&w->q.layers[wall], x, w->step, foot);
  const int32_t key = cell_at(w, foot, w->look, into, MESH_NONE);
  mesh_cut_facet *f = key == MESH_NONE ? NULL : rim_of(w, wall, part, key, n);
  if (f) add_to_facet(f, 1, m->full, m->full_moment, n, spread_of(s));
}

void mesh_cut_facets_add(mesh_cut_work *w, const simplex *s, const mesh_cut_target *t, int32_t outer_part)
{
  const int32_t inner_part = w->near->active[t->level].part, cell = (int32_t)w->cell;
  const mesh_cut_measure m = mesh_cut_measure_of(w, s);
  if (!(m.full > 0)) return;
  const bool inner_wall = is_wall(w, inner_part), outer_wall = is_wall(w, outer_part);
  if (inner_wall && outer_wall) {
    w->list->dropped_area += m.full;
    return;
  }
  if (inner_wall || outer_wall) {
    const int32_t wall = inner_wall ? inner_part : outer_part;
    const double x[3] = {m.full_moment[0] / m.full, m.full_moment[1] / m.full, m.full_moment[2] / m.full};
    const double sign = inner_wall ? -1 : 1, into[3] = {sign * t->normal[0], sign * t->normal[1], sign * t->normal[2]};
    const mesh_wall_side side = mesh_wall_side_at(&w->q.layers[wall], x, into, w->step);
    const int32_t before = inner_wall ? outer_part : inner_part;
    if (side == MESH_WALL_INNER) add_through_wall(w, s, &m, wall, before, inner_wall ? t->far_cell : cell, into);
    if (side == MESH_WALL_RIM) add_rim(w, s, &m, wall, before, into);
    return;
  }
  const bool turned = !gets_node(w, inner_part);
  if (turned && !gets_node(w, outer_part)) return;
  const int32_t cells[2] = {turned ? t->far_cell : cell, turned ? cell : t->far_cell};
  const int32_t parts[2] = {turned ? outer_part : inner_part, turned ? inner_part : outer_part};
  const double sign = turned ? -1 : 1, n[3] = {sign * t->normal[0], sign * t->normal[1], sign * t->normal[2]};
  mesh_cut_facet *f = facet_between(w, cells, parts, MESH_NONE, MESH_NONE, n);
  if (!f) return;
  for (int side = 0; side < 2; side++) add_to_facet(f, side, m.full, m.full_moment, n, spread_of(s));
}

static bool borders_on_nothing(const grid *g, const size_t ijk[3], int axis, int side)
{
  const bool edge = side == 0 ? ijk[axis] == 0 : ijk[axis] + 1 == g->num[axis];
  if (!edge || g->mirror[2 * axis + side]) return false;
  return !(g->kind == GRID_RZ && axis == 0 && side == 0 && g->edges[0][0] == 0);
}

bool mesh_cut_facets_at_grid_edge(const grid *g, const size_t ijk[3], int axis, int side)
{
  return side == 0 ? ijk[axis] == 0 : ijk[axis] + 1 == g->num[axis];
}

/* Area of a cell face as seen from inside; where the grid ends it is a surface. */
void mesh_cut_facets_face(mesh_cut_work *w, int slot, int axis, int side, const mesh_cut_measure *m)
{
  mesh_cut_piece *p = &w->slot[slot];
  p->aperture[2 * axis + side] += m->full;
  if (!gets_node(w, p->part) || !borders_on_nothing(w->q.g, w->ijk, axis, side)) return;
  const int32_t cells[2] = {p->cell, MESH_NONE}, parts[2] = {p->part, MESH_VOID};
  double normal[3] = {0, 0, 0};
  normal[axis] = side == 0 ? -1 : 1;
  mesh_cut_facet *f = facet_between(w, cells, parts, MESH_NONE, MESH_NONE, normal);
  if (!f) return;
  for (int s = 0; s < 2; s++) add_to_facet(f, s, m->full, m->full_moment, normal, 0);
}

void mesh_cut_facets_outer(mesh_cut_list *list, const grid *g, size_t cell, int32_t part, int axis, int side)
{
  size_t ijk[3];
  grid_cell_indices(g, cell, ijk);
  if (!borders_on_nothing(g, ijk, axis, side)) return;
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
  for (int s = 0; s < 2; s++) add_to_facet(f, s, area, moment, normal, 0);
}
