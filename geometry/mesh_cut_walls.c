/* Where thin walls have their inner and outer surfaces and their rims. */
#include "geometry/mesh_cut_parts.h"

#include <math.h>

#include "geometry/mesh_wall.h"

/* Of a sub-cell: how far beside a wall one looks across it. */
static const double across_fraction = 0.02;

static int32_t cell_at(const mesh_cut_work *w, const double x[3], double way, const double normal[3], int32_t otherwise)
{
  const double p[3] = {x[0] + way * normal[0], x[1] + way * normal[1], x[2] + way * normal[2]};
  size_t cell;
  return grid_find(w->q.g, p, &cell) ? (int32_t)cell : otherwise;
}

/* What lies on both sides of a piece of wall: [0] within it, [1] outside. */
typedef struct {
  int32_t wall, key;        /* key: the cell at the wall's inside */
  int32_t part[2], cell[2], across;
} wall_sides;

/* The record of a piece of wall that faces `outward`; on `to` the record's side that is the wall's own side 0. NULL: none is kept. */
static mesh_cut_facet *facet_of_wall(mesh_cut_work *w, const wall_sides *q, const double outward[3], int *to)
{
  const bool turned = !mesh_cut_facets_has_node(w, q->part[0]), bare = q->part[0] == MESH_VOID && q->part[1] == MESH_VOID; /* side 0 has a node */
  if (turned && !mesh_cut_facets_has_node(w, q->part[1]) && !bare) return NULL;
  const int32_t cells[2] = {q->cell[turned], q->cell[!turned]}, parts[2] = {q->part[turned], q->part[!turned]};
  const double sign = turned ? -1 : 1, n[3] = {sign * outward[0], sign * outward[1], sign * outward[2]};
  mesh_cut_facet *f = mesh_cut_facets_between(w, cells, parts, q->wall, q->key, q->across, n);
  if (f) f->looks = mesh_cut_facets_facing(outward);
  *to = turned;
  return f;
}

/* Adds what one side of a piece of wall has; `outward` is its normal. */
static void add_to_wall(mesh_cut_facet *f, int to, int own, const mesh_cut_measure *m, const double outward[3], double spread)
{
  const double sign = to == 1 ? -1 : 1, n[3] = {sign * outward[0], sign * outward[1], sign * outward[2]};
  mesh_cut_facets_add_area(f, own == to ? 0 : 1, m->full, m->full_moment, n, spread);
  f->outside = 1 - to;
  f->middle += 0.5 * m->plain;
  for (int a = 0; a < 3; a++) f->middle_place[a] += 0.5 * m->plain_moment[a];
}

static double width_of(const mesh_cut_work *w, const mesh_layer *wall, const simplex *line)
{
  simplex middle;
  middle.k = line->k;
  for (int v = 0; v <= line->k; v++) {
    double outer[3];
    mesh_wall_outer_point(wall, line->v[v].x, w->step, outer);
    for (int a = 0; a < 3; a++) middle.v[v].x[a] = 0.5 * (line->v[v].x[a] + outer[a]);
  }
  return mesh_cut_measure_of(w, &middle).full;
}

static void add_trace(mesh_cut_work *w, const mesh_cut_trace *t)
{
  if (!(t->width > 0)) return;
  if (mesh_cut_list_room((void **)&w->list->traces, &w->list->room_traces, w->list->num_traces + 1, sizeof *w->list->traces))
    w->list->traces[w->list->num_traces++] = *t;
  else w->list->no_memory = true;
}

void mesh_cut_walls_add_trace(mesh_cut_work *w, int level, int axis, int side, const simplex *line)
{
  const bool at_mirror = mesh_cut_facets_at_grid_edge(w->q.g, w->ijk, axis, side);
  const size_t cell = at_mirror || side == 1 ? w->cell : mesh_cut_facets_neighbour(w, axis, side);
  const mesh_layers_active *l = &w->near->active[level];
  double middle[3] = {0, 0, 0}, normal[3];
  for (int v = 0; v <= line->k; v++)
    for (int a = 0; a < 3; a++) middle[a] += line->v[v].x[a] / (line->k + 1);
  shape_normal(l->layer->cavity, middle, w->step, normal);
  add_trace(w, &(mesh_cut_trace){.cell = (int32_t)cell, .wall = l->part, .axis = axis, .at_mirror = at_mirror, .upward = normal[2], .width = width_of(w, l->layer, line)});
}

/* Length of a line along an edge: what of it goes the way in which the normals on either side do not turn. (Of itself it zigzags round the edge.) */
static double length_along(const mesh_cut_work *w, const simplex *line, const double below[3], const double above[3])
{
  static const double hardly = 0.02;
  double edge[3], sine = 0, lengths[2] = {0, 0}, way = 0;
  const double full = mesh_cut_measure_of(w, line).full;
  if (line->k == 0) return full;
  for (int a = 0; a < 3; a++) {
    edge[a] = below[(a + 1) % 3] * above[(a + 2) % 3] - below[(a + 2) % 3] * above[(a + 1) % 3];
    sine += edge[a] * edge[a];
    lengths[0] += below[a] * below[a];
    lengths[1] += above[a] * above[a];
    way += (line->v[1].x[a] - line->v[0].x[a]) * edge[a];
  }
  return sine > hardly * hardly * lengths[0] * lengths[1] ? fabs(way) / sqrt(sine) : full;
}

/* Where a facet of the inner surface turns from level to upright, by the normals at its corners: the line there. */
static void add_edges(mesh_cut_work *w, const simplex *s, int32_t wall, int32_t key)
{
  double normal[4][3];
  for (int v = 0; v <= s->k; v++) shape_normal(w->q.layers[wall].cavity, s->v[v].x, w->step, normal[v]);
  for (int up = 0; up < 2; up++) {
    const double level = up ? MESH_CUT_LOOKS_ALONG_Z : -MESH_CUT_LOOKS_ALONG_Z;
    double below[3] = {0, 0, 0}, above[3] = {0, 0, 0};
    bool some_below = false, some_above = false;
    simplex whole = *s;
    for (int v = 0; v <= s->k; v++) {
      const double f = whole.v[v].f[0] = normal[v][2] - level;
      some_below = some_below || f < 0;
      some_above = some_above || f > 0;
      for (int a = 0; a < 3; a++) *(f < 0 ? &below[a] : &above[a]) += normal[v][a];
    }
    if (!some_below || !some_above) continue;
    simplex_parts parts;
    simplex_divide(&whole, 1, 0, 0, &parts);
    for (int i = 0; i < parts.num_facets; i++)
      add_trace(w, &(mesh_cut_trace){.cell = key, .wall = wall, .axis = MESH_CUT_EDGE, .upward = up ? 1 : -1, .width = length_along(w, &parts.facet[i], below, above)});
  }
}

/* A facet on the inner surface of a wall; `into` points into the wall, `part` and `cell` lie before it. Where the wall's outer surface is outside the
 * grid nothing is cut: it is taken for the inner one moved along its normals. */
static void add_inside_of_wall(mesh_cut_work *w, const simplex *s, const mesh_cut_measure *m, int32_t wall, int32_t part, int32_t cell, const double into[3])
{
  const mesh_layer *layer = &w->q.layers[wall];
  const double x[3] = {m->full_moment[0] / m->full, m->full_moment[1] / m->full, m->full_moment[2] / m->full};
  wall_sides q = {.wall = wall, .key = cell_at(w, x, -w->look, into, cell), .part = {part}, .cell = {cell}};
  mesh_wall_opposite seen, last;
  if (!mesh_wall_look_across(&w->q, layer, x, w->step, across_fraction * w->width, &seen)) {
    w->list->num_lost++;
    return;
  }
  q.cell[1] = seen.cell;
  q.part[1] = seen.part;
  q.across = seen.across;
  int to;
  mesh_cut_facet *f = facet_of_wall(w, &q, into, &to);
  if (!f) return;
  add_to_wall(f, to, 0, m, into, mesh_cut_facets_spread(s));
  add_edges(w, s, wall, q.key);
  if (q.cell[1] != MESH_NONE) return;
  (void)mesh_wall_look_across(&w->q, layer, x, w->step, -across_fraction * w->width, &last);
  if (last.cell != MESH_NONE) return;
  simplex outer;
  outer.k = s->k;
  for (int v = 0; v <= s->k; v++) mesh_wall_outer_point(layer, s->v[v].x, w->step, outer.v[v].x);
  const mesh_cut_measure mo = mesh_cut_measure_of(w, &outer);
  add_to_wall(f, to, 1, &mo, into, mesh_cut_facets_spread(&outer));
}

/* Values of a facet on the outer surface: the place opposite on the inner one and the normal there; and room for one to divide it by. */
enum { FOOT, OUTWARD = 3, LEVEL = 6, NUM_OUTSIDE };

/* The lowest edge of cells along an axis above `least`; INFINITY: there is none. */
static double edge_above(const grid *g, int axis, double least)
{
  size_t low = 0, high = g->num[axis] + 1;
  while (low < high) {
    const size_t middle = (low + high) / 2;
    if (g->edges[axis][middle] > least) high = middle;
    else low = middle + 1;
  }
  return low <= g->num[axis] ? g->edges[axis][low] : INFINITY;
}

/* Of a facet whose feet lie on two faces of the cavity, across an edge that the wall is inside of: their mean would lie in the wall. */
static void foot_of_middle(const mesh_cut_work *w, const mesh_cut_measure *m, int32_t wall, double foot[3], double outward[3])
{
  const double middle[3] = {m->full_moment[0] / m->full, m->full_moment[1] / m->full, m->full_moment[2] / m->full};
  mesh_wall_foot(&w->q.layers[wall], middle, w->step, foot, outward);
}

/* Turns a facet into its image beyond the mirror planes that its foot was brought back over: as in the whole rig, it belongs to the patch on the other side. */
static void follow_foot(const grid *g, const double before[3], const double foot[3], mesh_cut_measure *m, double outward[3], double n[3])
{
  for (int a = 0; a < 3 && g->kind == GRID_XYZ; a++) {
    if (before[a] == foot[a]) continue;
    m->full_moment[a] = (before[a] + foot[a]) * m->full - m->full_moment[a]; /* the plane lies midway */
    m->plain_moment[a] = (before[a] + foot[a]) * m->plain - m->plain_moment[a];
    outward[a] = -outward[a];
    n[a] = -n[a];
  }
}

/* A foot on a face between cells, as are those of what lies round a sharp edge in the middle of a rig, is taken to be on the side of what it is the foot
 * of: else a rounding decides. */
static void lean_foot(const mesh_cut_work *w, const double middle[3], double foot[3])
{
  for (int a = 0; a < 3; a++) foot[a] += middle[a] > foot[a] ? 2 * w->eps : middle[a] < foot[a] ? -2 * w->eps : 0;
}

/* The outer surface is measured by its own facets: round an edge of the cavity it is more than the inner one moved along its normals, where the wall
 * ends less, and which way it looks there only it can tell. (By the inner one a pan of 12 cm with a wall of 3 mm had between 4 and 15 % too much or too
 * little of floor outside, as the cells happened to lie.) `part` and `cell` are before it; its foot lies in one cell and it faces one way. */
static void add_outside_of_wall(mesh_cut_work *w, const simplex *s, int32_t wall, int32_t part, int32_t cell, const double into[3])
{
  mesh_cut_measure m = mesh_cut_measure_of(w, s);
  double foot[3] = {0, 0, 0}, outward[3] = {0, 0, 0}, n[3] = {-into[0], -into[1], -into[2]};
  if (!(m.full > 0)) return;
  for (int v = 0; v <= s->k; v++)
    for (int a = 0; a < 3; a++) {
      foot[a] += s->v[v].f[FOOT + a] / (s->k + 1);
      outward[a] += s->v[v].f[OUTWARD + a];
    }
  if (shape_distance(w->q.layers[wall].cavity, foot) > 0) foot_of_middle(w, &m, wall, foot, outward);
  const double middle[3] = {m.full_moment[0] / m.full, m.full_moment[1] / m.full, m.full_moment[2] / m.full};
  lean_foot(w, middle, foot);
  const double before[3] = {foot[0], foot[1], foot[2]};
  int32_t across = 0;
  size_t key;
  if (!mesh_wall_bring_into_grid(w->q.g, foot, &across) || !grid_find(w->q.g, foot, &key)) {
    w->list->dropped_area += m.full;
    return;
  }
  follow_foot(w->q.g, before, foot, &m, outward, n);
  const wall_sides q = {.wall = wall, .key = (int32_t)key, .part = {mesh_layers_part(w->q.layers, w->q.num_layers, foot, w->step), part}, .cell = {(int32_t)key, cell}, .across = across};
  if (mesh_cut_facets_is_wall(w, q.part[0])) {
    w->list->num_lost++;
    return;
  }
  int to;
  mesh_cut_facet *f = facet_of_wall(w, &q, outward, &to);
  if (f) add_to_wall(f, to, 1, &m, n, mesh_cut_facets_spread(s));
}

/* Divides an outer facet where the value LEVEL is zero, and each half further: first by the cells its foot lies in, along each axis, then by which way
 * it looks. */
static void divide_outside(mesh_cut_work *w, const simplex *s, int stage, int32_t wall, int32_t part, int32_t cell, const double into[3])
{
  if (stage == w->dim + 2) {
    add_outside_of_wall(w, s, wall, part, cell, into);
    return;
  }
  const int value = stage < w->dim ? FOOT + w->axes[stage] : OUTWARD + 2;
  double least = INFINITY, most = -INFINITY;
  for (int v = 0; v <= s->k; v++) {
    least = fmin(least, s->v[v].f[value]);
    most = fmax(most, s->v[v].f[value]);
  }
  const double level = stage < w->dim ? edge_above(w->q.g, w->axes[stage], least + w->eps) : stage == w->dim ? -MESH_CUT_LOOKS_ALONG_Z : MESH_CUT_LOOKS_ALONG_Z;
  if (!(least < level - w->eps && level + w->eps < most)) {
    divide_outside(w, s, stage + 1, wall, part, cell, into);
    return;
  }
  simplex whole = *s;
  simplex_parts parts;
  for (int v = 0; v <= s->k; v++) whole.v[v].f[LEVEL] = s->v[v].f[value] - level;
  simplex_divide(&whole, NUM_OUTSIDE, LEVEL, w->eps, &parts);
  for (int i = 0; i < parts.num_inside; i++) divide_outside(w, &parts.inside[i], stage + 1, wall, part, cell, into);
  for (int i = 0; i < parts.num_outside; i++) divide_outside(w, &parts.outside[i], stage < w->dim ? stage : stage + 1, wall, part, cell, into);
}

static void start_outside(mesh_cut_work *w, const simplex *s, int32_t wall, int32_t part, int32_t cell, const double into[3])
{
  simplex outer = *s;
  for (int v = 0; v <= s->k; v++) mesh_wall_foot(&w->q.layers[wall], s->v[v].x, w->step, &outer.v[v].f[FOOT], &outer.v[v].f[OUTWARD]);
  divide_outside(w, &outer, 0, wall, part, cell, into);
}

/* The record of the rim of a wall that ends in the cell `key`, by what is before it, in which cell, and facing. */
static mesh_cut_facet *rim_of(mesh_cut_work *w, int32_t wall, int32_t part, int32_t cell, int32_t key, int32_t across, const double normal[3])
{
  const int32_t facing = mesh_cut_facets_facing(normal);
  for (size_t i = w->first_facet; i < w->list->num_facets; i++) {
    mesh_cut_facet *f = &w->list->facets[i];
    if (f->place == MESH_CUT_RIM && f->wall == wall && f->part[1] == part && f->cell[1] == cell && f->key == key && f->across == across && f->facing == facing) return f;
  }
  mesh_cut_facet *f = mesh_cut_list_facet(w->list);
  if (!f) return NULL;
  *f = (mesh_cut_facet){.cell = {MESH_NONE, cell}, .part = {MESH_VOID, part}, .wall = wall, .key = key, .across = across, .facing = facing, .place = MESH_CUT_RIM};
  return f;
}

/* A facet across a wall where it ends. `part` is before it, `into` points into the wall. A layer that ends level with the wall may lie before
 * it in the fields, as thin as rounding; so what counts is found a little way off. */
static void add_rim(mesh_cut_work *w, const simplex *s, const mesh_cut_measure *measure, int32_t wall, int32_t part, const double into[3])
{
  mesh_cut_measure m = *measure;
  double foot[3], normal[3], off[3], n[3] = {-into[0], -into[1], -into[2]};
  int32_t across = 0;
  size_t cell, key;
  const double x[3] = {m.full_moment[0] / m.full, m.full_moment[1] / m.full, m.full_moment[2] / m.full};
  for (int a = 0; a < 3; a++) off[a] = x[a] + across_fraction * w->width * n[a];
  const bool within = mesh_wall_bring_into_grid(w->q.g, off, &across) && grid_find(w->q.g, off, &cell);
  const int32_t seen = within ? mesh_layers_part(w->q.layers, w->q.num_layers, off, w->step) : MESH_VOID, before = mesh_cut_facets_is_wall(w, seen) ? part : seen;
  mesh_wall_foot(&w->q.layers[wall], x, w->step, foot, normal);
  for (int a = 0; a < 3; a++) foot[a] += w->look * into[a];
  lean_foot(w, x, foot);
  const double found[3] = {foot[0], foot[1], foot[2]};
  if (!mesh_wall_bring_into_grid(w->q.g, foot, &across) || !grid_find(w->q.g, foot, &key)) return;
  follow_foot(w->q.g, found, foot, &m, normal, n);
  mesh_cut_facet *f = rim_of(w, wall, before, within && mesh_cut_facets_has_node(w, before) ? (int32_t)cell : MESH_NONE, (int32_t)key, across, n);
  if (!f) return;
  f->looks = mesh_cut_facets_facing(normal);
  mesh_cut_facets_add_area(f, 1, m.full, m.full_moment, n, mesh_cut_facets_spread(s));
}

void mesh_cut_walls_add(mesh_cut_work *w, const simplex *s, const mesh_cut_measure *m, int32_t wall, int32_t part, int32_t cell, const double into[3])
{
  const double x[3] = {m->full_moment[0] / m->full, m->full_moment[1] / m->full, m->full_moment[2] / m->full};
  switch (mesh_wall_side_at(&w->q.layers[wall], x, into, w->step)) {
  case MESH_WALL_INNER: add_inside_of_wall(w, s, m, wall, part, cell, into); break;
  case MESH_WALL_OUTER: start_outside(w, s, wall, part, cell, into); break;
  case MESH_WALL_RIM: add_rim(w, s, m, wall, part, into); break;
  }
}

void mesh_cut_walls_add_end(mesh_cut_work *w, const simplex *s, int slot, int axis, int side)
{
  const int32_t wall = w->slot[slot].part;
  if (!mesh_cut_facets_is_wall(w, wall) || !mesh_cut_facets_border(w->q.g, w->ijk, axis, side)) return;
  const mesh_cut_measure m = mesh_cut_measure_of(w, s);
  if (!(m.full > 0)) return;
  const double x[3] = {m.full_moment[0] / m.full, m.full_moment[1] / m.full, m.full_moment[2] / m.full};
  const mesh_layer *layer = &w->q.layers[wall];
  /* A wall that goes on beyond the grid does not end here. */
  if (fabs(shape_distance(layer->region, x)) > w->look && fabs(shape_distance(layer->cavity, x) - mesh_layers_thickness(layer, x, w->step)) > w->look) return;
  double into[3] = {0, 0, 0};
  into[axis] = side == 0 ? 1 : -1;
  mesh_cut_walls_add(w, s, &m, wall, MESH_VOID, MESH_NONE, into);
}
