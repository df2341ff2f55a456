#include "geometry/mesh_cut.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/mesh_wall.h"

static const double pi = 3.14159265358979323846;
/* Fractions of a cell: closer than this is on the surface; and of a sub-cell: how far beside a surface one looks for what is
 * there. The first is well below the second. */
enum { MOST_HALVINGS = 4 };
/* Sub-cells in which a distance is far from linear (an edge of a shape) are halved: a chamfer costs area in proportion to its
 * size. In GRID_RZ 4 times, in GRID_XYZ 3 times. */
static const double kink_fraction = 0.02;
static const double snap_fraction = 1e-6, look_fraction = 1e-3, step_fraction = 1e-4, across_fraction = 0.02;

enum { IS_BODY, IS_FACE, IS_INNER, IS_OUTER };

/* What becomes of the pieces that the layers divide a simplex into. */
typedef struct {
  int kind;          /* IS_BODY: volume; IS_FACE: aperture; IS_INNER: surface of `level`, keep what its part has; IS_OUTER: the
                        other side of that surface */
  int level;         /* IS_INNER, IS_OUTER: the layer whose surface it is                     */
  double normal[3];  /* out of that layer; IS_FACE: out of the cell                           */
  int side;          /* IS_FACE: 0 .. 5                                                       */
  int32_t far_cell;  /* IS_INNER, IS_OUTER: the cell on the other side, or MESH_NONE         */
} target;

struct mesh_cut_work {
  mesh_cut_request q;
  int dim, axes[3];         /* the axes that count: r, z or x, y, z                            */
  double *field;            /* [(samples + 1)^dim * SIMPLEX_MAX_FIELDS] values at the corners  */
  /* the cell at hand */
  size_t cell, ijk[3];
  const mesh_layers_near *near;
  double low[3], high[3], eps, step, look;
  mesh_cut_piece slot[SIMPLEX_MAX_FIELDS + 1]; /* 0: base; level + 1: that active layer         */
  mesh_cut_list *list;
  size_t first_facet;
  /* the simplex at hand */
  int flat[SIMPLEX_MAX_FIELDS]; /* all its values vanish: -1 inside, 1 outside, by its middle; else 0 */
  double inverse[3][3];         /* of its edges, for gradients                                  */
  bool has_inverse;
  const simplex *whole;
  double touch; /* m: surfaces that face each other closer than this touch: the gap is an error of the linear fields */
};

mesh_cut_work *mesh_cut_work_create(const mesh_cut_request *q)
{
  mesh_cut_work *w = calloc(1, sizeof *w);
  if (!w) return NULL;
  w->q = *q;
  w->dim = q->g->kind == GRID_RZ ? 2 : 3;
  w->axes[1] = w->dim == 2 ? 2 : 1;
  w->axes[2] = 2;
  size_t corners = 1;
  for (int d = 0; d < w->dim; d++) corners *= (size_t)q->samples + 1;
  w->field = malloc(corners * SIMPLEX_MAX_FIELDS * sizeof *w->field);
  if (!w->field) mesh_cut_work_destroy(&w);
  return w;
}

void mesh_cut_work_destroy(mesh_cut_work **work)
{
  if (!*work) return;
  free((*work)->field);
  free(*work);
  *work = NULL;
}

/* ---- lists ----------------------------------------------------------------------------------- */

static bool make_room(void **array, size_t *room, size_t wanted, size_t size)
{
  if (wanted <= *room) return true;
  const size_t more = wanted > 2 * *room ? wanted : 2 * *room;
  void *grown = realloc(*array, more * size);
  if (!grown) return false;
  *array = grown;
  *room = more;
  return true;
}

static mesh_cut_facet *new_facet(mesh_cut_list *l)
{
  if (!make_room((void **)&l->facets, &l->room_facets, l->num_facets + 1, sizeof *l->facets)) {
    l->no_memory = true;
    return NULL;
  }
  mesh_cut_facet *f = &l->facets[l->num_facets++];
  memset(f, 0, sizeof *f);
  return f;
}

void mesh_cut_append(mesh_cut_list *to, const mesh_cut_list *from)
{
  to->no_memory = to->no_memory || from->no_memory ||
                  !make_room((void **)&to->pieces, &to->room_pieces, to->num_pieces + from->num_pieces, sizeof *to->pieces) ||
                  !make_room((void **)&to->facets, &to->room_facets, to->num_facets + from->num_facets, sizeof *to->facets) ||
                  !make_room((void **)&to->traces, &to->room_traces, to->num_traces + from->num_traces, sizeof *to->traces);
  if (to->no_memory) return;
  if (from->num_pieces) memcpy(to->pieces + to->num_pieces, from->pieces, from->num_pieces * sizeof *to->pieces);
  if (from->num_facets) memcpy(to->facets + to->num_facets, from->facets, from->num_facets * sizeof *to->facets);
  if (from->num_traces) memcpy(to->traces + to->num_traces, from->traces, from->num_traces * sizeof *to->traces);
  to->num_pieces += from->num_pieces;
  to->num_facets += from->num_facets;
  to->num_traces += from->num_traces;
  to->num_lost += from->num_lost;
  to->dropped_area += from->dropped_area;
}

void mesh_cut_list_free(mesh_cut_list *list)
{
  free(list->pieces);
  free(list->facets);
  free(list->traces);
  *list = (mesh_cut_list){0};
}

/* ---- measures: a linear function over a k-simplex S: integral of f g = |S| (sum f_i g_i + sum f sum g) / ((k+1)(k+2)) ---- */

typedef struct {
  double plain, plain_moment[3]; /* of the simplex in its plane                         */
  double full, full_moment[3];   /* the same in space: weighted with 2 pi r in GRID_RZ  */
} measure;

static measure measure_of(const mesh_cut_work *w, const simplex *s)
{
  measure m = {.plain = simplex_measure(s)};
  const double n = s->k + 1;
  double sum[3] = {0, 0, 0}, product[3] = {0, 0, 0};
  for (int v = 0; v <= s->k; v++)
    for (int a = 0; a < 3; a++) {
      sum[a] += s->v[v].x[a];
      product[a] += s->v[v].x[a] * s->v[v].x[0];
    }
  for (int a = 0; a < 3; a++) m.plain_moment[a] = m.plain * sum[a] / n;
  if (w->dim == 3) {
    m.full = m.plain;
    memcpy(m.full_moment, m.plain_moment, sizeof m.full_moment);
  } else {
    m.full = 2 * pi * m.plain_moment[0];
    for (int a = 0; a < 3; a++) m.full_moment[a] = 2 * pi * m.plain * (product[a] + sum[0] * sum[a]) / (n * (n + 1));
  }
  return m;
}

/* A box of the dimension of a cell or of a face: plain and full as above. */
static measure measure_of_box(const mesh_cut_work *w, const double low[3], const double high[3])
{
  measure m = {.plain = 1};
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    if (high[a] > low[a]) m.plain *= high[a] - low[a];
  }
  m.full = m.plain;
  for (int a = 0; a < 3; a++) m.plain_moment[a] = m.full_moment[a] = m.plain * 0.5 * (low[a] + high[a]);
  if (w->dim == 2) {
    const double r = 0.5 * (low[0] + high[0]), dr = high[0] - low[0], z = 0.5 * (low[2] + high[2]);
    m.full = 2 * pi * r * m.plain;
    m.full_moment[0] = 2 * pi * m.plain * (r * r + dr * dr / 12);
    m.full_moment[1] = 0;
    m.full_moment[2] = m.full * z;
  }
  return m;
}

/* ---- facets ------------------------------------------------------------------------------------ */

static bool gets_node(const mesh_cut_work *w, int32_t part)
{
  return part >= 0 && w->q.layers[part].kind == MESH_SOLID;
}

static bool is_wall(const mesh_cut_work *w, int32_t part)
{
  return part >= 0 && w->q.layers[part].kind == MESH_THIN_WALL;
}

int32_t mesh_cut_facing(const double normal[3])
{
  if (fabs(normal[2]) > 0.7) return normal[2] > 0 ? 5 : 4;
  return fabs(normal[0]) >= (1 - 1e-6) * fabs(normal[1]) ? (normal[0] > 0 ? 1 : 0) : (normal[1] > 0 ? 3 : 2);
}

/* The record of this cell for a pair of sides; made when there is none. Sides without a node keep no cell. */
static mesh_cut_facet *facet_between(mesh_cut_work *w, const int32_t cell[2], const int32_t part[2], int32_t wall, int32_t key,
                                     const double normal[3])
{
  const int32_t facing = mesh_cut_facing(normal);
  const int32_t own[2] = {gets_node(w, part[0]) ? cell[0] : MESH_NONE, gets_node(w, part[1]) ? cell[1] : MESH_NONE};
  for (size_t i = w->first_facet; i < w->list->num_facets; i++) {
    mesh_cut_facet *f = &w->list->facets[i];
    if (f->cell[0] == own[0] && f->cell[1] == own[1] && f->part[0] == part[0] && f->part[1] == part[1] && f->wall == wall && f->key == key &&
        f->facing == facing)
      return f;
  }
  mesh_cut_facet *f = new_facet(w->list);
  if (!f) return NULL;
  for (int s = 0; s < 2; s++) {
    f->cell[s] = own[s];
    f->part[s] = part[s];
  }
  f->wall = wall;
  f->key = key;
  f->facing = facing;
  return f;
}

static void add_to_facet(mesh_cut_facet *f, int side, double area, const double moment[3], const double normal[3])
{
  f->area[side] += area;
  for (int a = 0; a < 3; a++) {
    f->vector[side][a] += area * normal[a];
    f->moment[side][a] += moment[a];
    f->reach[side] += moment[a] * normal[a];
  }
}

static int32_t cell_at(const mesh_cut_work *w, const double x[3], double way, const double normal[3], int32_t otherwise)
{
  const double p[3] = {x[0] + way * normal[0], x[1] + way * normal[1], x[2] + way * normal[2]};
  size_t cell;
  return grid_find(w->q.g, p, &cell) ? (int32_t)cell : otherwise;
}

/* A facet on the inner surface of a wall; `into` points into the wall, `part` and `cell` lie before it. */
static void add_through_wall(mesh_cut_work *w, const simplex *s, const measure *m, int32_t wall, int32_t part, int32_t cell,
                             const double into[3])
{
  const mesh_layer *layer = &w->q.layers[wall];
  const double x[3] = {m->full_moment[0] / m->full, m->full_moment[1] / m->full, m->full_moment[2] / m->full};
  int32_t far_cell, far_part;
  if (!mesh_wall_look_across(&w->q, layer, x, w->step, across_fraction * w->look / look_fraction, &far_cell, &far_part)) {
    w->list->num_lost++;
    return;
  }
  simplex outer;
  outer.k = s->k;
  for (int v = 0; v <= s->k; v++) mesh_wall_outer_point(layer, s->v[v].x, w->step, outer.v[v].x);
  const measure mo = measure_of(w, &outer);
  const int32_t key = cell_at(w, x, -w->look, into, cell);
  const bool turned = !gets_node(w, part); /* side 0 has a node */
  if (turned && !gets_node(w, far_part)) return;
  const int32_t cells[2] = {turned ? far_cell : cell, turned ? cell : far_cell}, parts[2] = {turned ? far_part : part, turned ? part : far_part};
  const double n[3] = {turned ? -into[0] : into[0], turned ? -into[1] : into[1], turned ? -into[2] : into[2]};
  mesh_cut_facet *f = facet_between(w, cells, parts, wall, key, n);
  if (!f) return;
  add_to_facet(f, turned ? 1 : 0, m->full, m->full_moment, n);
  add_to_facet(f, turned ? 0 : 1, mo.full, mo.full_moment, n);
}

static void add_facet(mesh_cut_work *w, const simplex *s, const target *t, int32_t outer_part)
{
  const int32_t inner_part = w->near->active[t->level].part, cell = (int32_t)w->cell;
  const measure m = measure_of(w, s);
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
    if (side == MESH_WALL_RIM) w->list->dropped_area += m.full;
    if (side == MESH_WALL_INNER)
      add_through_wall(w, s, &m, wall, inner_wall ? outer_part : inner_part, inner_wall ? t->far_cell : cell, into);
    return;
  }
  const bool turned = !gets_node(w, inner_part);
  if (turned && !gets_node(w, outer_part)) return;
  const int32_t cells[2] = {turned ? t->far_cell : cell, turned ? cell : t->far_cell};
  const int32_t parts[2] = {turned ? outer_part : inner_part, turned ? inner_part : outer_part};
  const double sign = turned ? -1 : 1, n[3] = {sign * t->normal[0], sign * t->normal[1], sign * t->normal[2]};
  mesh_cut_facet *f = facet_between(w, cells, parts, MESH_NONE, MESH_NONE, n);
  if (!f) return;
  add_to_facet(f, 0, m.full, m.full_moment, n);
  add_to_facet(f, 1, m.full, m.full_moment, n);
}

static bool borders_on_nothing(const grid *g, const size_t ijk[3], int axis, int side)
{
  const bool edge = side == 0 ? ijk[axis] == 0 : ijk[axis] + 1 == g->num[axis];
  if (!edge || g->mirror[2 * axis + side]) return false;
  return !(g->kind == GRID_RZ && axis == 0 && side == 0 && g->edges[0][0] == 0);
}

static bool at_grid_edge(const grid *g, const size_t ijk[3], int axis, int side)
{
  return side == 0 ? ijk[axis] == 0 : ijk[axis] + 1 == g->num[axis];
}

/* Area of a cell face as seen from inside; where the grid ends it is a surface. */
static void add_face(mesh_cut_work *w, int slot, int axis, int side, const measure *m)
{
  mesh_cut_piece *p = &w->slot[slot];
  p->aperture[2 * axis + side] += m->full;
  if (!gets_node(w, p->part) || !borders_on_nothing(w->q.g, w->ijk, axis, side)) return;
  const int32_t cells[2] = {p->cell, MESH_NONE}, parts[2] = {p->part, MESH_VOID};
  double normal[3] = {0, 0, 0};
  normal[axis] = side == 0 ? -1 : 1;
  mesh_cut_facet *f = facet_between(w, cells, parts, MESH_NONE, MESH_NONE, normal);
  if (!f) return;
  for (int s = 0; s < 2; s++) add_to_facet(f, s, m->full, m->full_moment, normal);
}

/* ---- dividing by the layers ---------------------------------------------------------------------- */

static void distribute(mesh_cut_work *w, const simplex *s, int level, const target *t);

static void gradient(mesh_cut_work *w, int field, double g[3])
{
  const simplex *s = w->whole;
  if (!w->has_inverse) {
    double e[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
    for (int i = 0; i < w->dim; i++)
      for (int d = 0; d < w->dim; d++) e[i][d] = s->v[i + 1].x[w->axes[d]] - s->v[0].x[w->axes[d]];
    const double det = e[0][0] * (e[1][1] * e[2][2] - e[1][2] * e[2][1]) - e[0][1] * (e[1][0] * e[2][2] - e[1][2] * e[2][0]) +
                       e[0][2] * (e[1][0] * e[2][1] - e[1][1] * e[2][0]);
    for (int i = 0; i < 3; i++)
      for (int j = 0; j < 3; j++) {
        const int i1 = (i + 1) % 3, i2 = (i + 2) % 3, j1 = (j + 1) % 3, j2 = (j + 2) % 3;
        w->inverse[j][i] = (e[i1][j1] * e[i2][j2] - e[i1][j2] * e[i2][j1]) / det;
      }
    w->has_inverse = true;
  }
  g[0] = g[1] = g[2] = 0;
  for (int d = 0; d < w->dim; d++)
    for (int i = 0; i < w->dim; i++) g[w->axes[d]] += w->inverse[d][i] * (s->v[i + 1].f[field] - s->v[0].f[field]);
}

static bool vanishes(const mesh_cut_work *w, const simplex *s, int field)
{
  for (int v = 0; v <= s->k; v++)
    if (fabs(s->v[v].f[field]) > w->eps) return false;
  return true;
}

static void set_field(simplex *s, int field, double value)
{
  for (int v = 0; v <= s->k; v++) s->v[v].f[field] = value;
}

/* Values just beyond a surface of layer `level` that lies along the division of the cell: looked up there, not extrapolated.
 * All corners of a facet may be on surfaces though it is not, along an edge of the shape: so the middle decides about its own
 * layer, and about others that vanish there. */
static void look_beyond(mesh_cut_work *w, const double normal[3], int level, simplex *s)
{
  const mesh_layers_active *own = &w->near->active[level];
  double middle[3], value[SIMPLEX_MAX_FIELDS];
  for (int a = 0; a < 3; a++) middle[a] = w->look * normal[a];
  for (int v = 0; v <= s->k; v++) {
    double x[3], *f = s->v[v].f;
    for (int a = 0; a < 3; a++) {
      x[a] = s->v[v].x[a] + w->look * normal[a];
      middle[a] += s->v[v].x[a] / (s->k + 1);
    }
    mesh_layers_fields(w->near, x, w->step, f);
    for (int i = 0; i < w->near->num_fields; i++)
      if (fabs(f[i]) <= w->eps) f[i] = 0;
  }
  mesh_layers_fields(w->near, middle, w->step, value);
  for (int i = 0; i < w->near->num_fields; i++)
    if (vanishes(w, s, i) || (i >= own->first && i < own->first + own->num)) set_field(s, i, value[i] < 0 ? -1 : 1);
}

static void leaf(mesh_cut_work *w, const simplex *s, int level, const target *t)
{
  const int slot = level + 1;
  if (t->kind == IS_BODY) {
    const measure m = measure_of(w, s);
    mesh_cut_piece *p = &w->slot[slot];
    p->volume += m.full;
    p->weight += m.plain;
    for (int a = 0; a < 3; a++) p->moment[a] += m.plain_moment[a];
  } else if (t->kind == IS_FACE) {
    const measure m = measure_of(w, s);
    add_face(w, slot, t->side / 2, t->side % 2, &m);
  } else if (t->kind == IS_INNER) {
    if (level != t->level) return;
    simplex beyond = *s;
    look_beyond(w, t->normal, level, &beyond);
    target outer = *t;
    outer.kind = IS_OUTER;
    distribute(w, &beyond, w->near->num_active - 1, &outer);
  } else if (level < t->level) {
    add_facet(w, s, t, level < 0 ? w->near->base : w->near->active[level].part);
  }
}

/* A facet cut out of the simplex at hand: kept where it is inside the further fields of its own layer; beyond it come the
 * layers below. Fields that vanish along with it are decided by how they go on outwards (inwards for its own layer). */
static void follow_surface(mesh_cut_work *w, const simplex *s, int level, int q, const target *t)
{
  const mesh_layers_active *l = &w->near->active[level];
  if (q == l->num) {
    distribute(w, s, level - 1, t);
    return;
  }
  if (vanishes(w, s, l->first + q)) {
    follow_surface(w, s, level, q + 1, t);
    return;
  }
  simplex_parts parts;
  simplex_divide(s, w->near->num_fields, l->first + q, w->eps, &parts);
  for (int i = 0; i < parts.num_inside; i++) follow_surface(w, &parts.inside[i], level, q + 1, t);
}

/* The facet lies inside the further fields of the layer that a field belongs to. */
static bool inside_others(const mesh_cut_work *w, const simplex *s, int field)
{
  for (int a = 0; a < w->near->num_active; a++) {
    const mesh_layers_active *l = &w->near->active[a];
    if (field < l->first || field >= l->first + l->num) continue;
    for (int f = l->first; f < l->first + l->num; f++)
      for (int v = 0; v <= s->k && f != field; v++)
        if (s->v[v].f[f] > w->eps) return false;
  }
  return true;
}

/* How a field goes on along the normal of a facet, when the facet lies on its zero set or so close to it, face to face, that
 * the two surfaces touch: -1 inside, 1 outside; else 0. */
static int side_beyond(mesh_cut_work *w, const simplex *s, int field, const double normal[3])
{
  double nearest = 0, g[3];
  for (int v = 0; v <= s->k; v++)
    if (fabs(s->v[v].f[field]) > nearest) nearest = fabs(s->v[v].f[field]);
  if (nearest > w->touch) return 0;
  gradient(w, field, g);
  const double along = g[0] * normal[0] + g[1] * normal[1] + g[2] * normal[2];
  if (nearest <= w->eps) return along < 0 ? -1 : 1;
  return along < -0.9 * sqrt(g[0] * g[0] + g[1] * g[1] + g[2] * g[2]) ? -1 : 0;
}

static void start_surface(mesh_cut_work *w, simplex *s, int level, int q)
{
  const mesh_layers_active *own = &w->near->active[level];
  target t = {.kind = IS_OUTER, .level = level, .far_cell = (int32_t)w->cell};
  gradient(w, own->first + q, t.normal);
  const double length = sqrt(t.normal[0] * t.normal[0] + t.normal[1] * t.normal[1] + t.normal[2] * t.normal[2]);
  for (int a = 0; a < 3; a++) t.normal[a] /= length;
  /* A later layer that touches here has this facet as its own. */
  for (int f = own->first + own->num; f < w->near->num_fields; f++)
    if (side_beyond(w, s, f, t.normal) < 0 && inside_others(w, s, f)) return;
  for (int f = 0; f < own->first; f++) {
    const int side = side_beyond(w, s, f, t.normal);
    if (side != 0) set_field(s, f, side);
  }
  follow_surface(w, s, level, q + 1, &t);
}

/* s is inside the first q fields of the layer. */
static void divide_by_field(mesh_cut_work *w, const simplex *s, int level, int q, const target *t)
{
  const mesh_layers_active *l = &w->near->active[level];
  if (q == l->num) {
    leaf(w, s, level, t);
    return;
  }
  const int field = l->first + q;
  if (t->kind == IS_BODY && w->flat[field]) {
    if (w->flat[field] < 0) divide_by_field(w, s, level, q + 1, t);
    else distribute(w, s, level - 1, t);
    return;
  }
  bool below = false, above = false;
  for (int v = 0; v <= s->k; v++) {
    below = below || s->v[v].f[field] < -w->eps;
    above = above || s->v[v].f[field] > w->eps;
  }
  if (!below || !above) { /* most are not divided: not even copied */
    if (below) divide_by_field(w, s, level, q + 1, t);
    else distribute(w, s, level - 1, t);
    return;
  }
  simplex_parts parts;
  simplex_divide(s, w->near->num_fields, field, w->eps, &parts);
  for (int i = 0; i < parts.num_outside; i++) distribute(w, &parts.outside[i], level - 1, t);
  for (int i = 0; i < parts.num_inside; i++) divide_by_field(w, &parts.inside[i], level, q + 1, t);
  if (t->kind == IS_BODY)
    for (int i = 0; i < parts.num_facets; i++) start_surface(w, &parts.facet[i], level, q);
}

/* Gives each layer from `level` down its share of s. */
static void distribute(mesh_cut_work *w, const simplex *s, int level, const target *t)
{
  if (level < 0) leaf(w, s, -1, t);
  else divide_by_field(w, s, level, 0, t);
}

/* ---- simplices of a sub-cell ------------------------------------------------------------------------ */

typedef struct {
  int at[3]; /* place in the cell along each axis, 0 .. samples << MOST_HALVINGS */
} corner_index;

static void find_flat(mesh_cut_work *w, const simplex *s)
{
  double middle[3] = {0, 0, 0}, value[SIMPLEX_MAX_FIELDS];
  bool known = false;
  for (int f = 0; f < w->near->num_fields; f++) {
    w->flat[f] = 0;
    if (!vanishes(w, s, f)) continue;
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
static int cell_side_opposite(const mesh_cut_work *w, const corner_index *c, int opposite)
{
  for (int d = 0; d < w->dim; d++)
    for (int side = 0; side < 2; side++) {
      const int a = w->axes[d], wanted = side == 0 ? 0 : w->q.samples << MOST_HALVINGS;
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

/* Where the inner surface of each thin wall meets a face of the cell: its width there. A surface that only touches counts for
 * the face on its inner side. */
static void add_traces(mesh_cut_work *w, const simplex *face, int axis)
{
  for (int level = 0; level < w->near->num_active; level++) {
    const mesh_layers_active *l = &w->near->active[level];
    if (l->num != 3) continue;
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
    double width = 0;
    if (line.k == 0) {
      if (line.v[0].f[l->first + 2] <= 0) width = measure_of(w, &line).full;
    } else {
      simplex_divide(&line, w->near->num_fields, l->first + 2, w->eps, &parts);
      for (int i = 0; i < parts.num_inside; i++) width += measure_of(w, &parts.inside[i]).full;
    }
    if (!(width > 0)) continue;
    if (!make_room((void **)&w->list->traces, &w->list->room_traces, w->list->num_traces + 1, sizeof *w->list->traces)) {
      w->list->no_memory = true;
      return;
    }
    w->list->traces[w->list->num_traces++] = (mesh_cut_trace){.cell = (int32_t)w->cell, .axis = axis, .wall = l->part, .width = width};
  }
}

static size_t neighbour(const mesh_cut_work *w, int axis, int side)
{
  size_t at[3] = {w->ijk[0], w->ijk[1], w->ijk[2]};
  at[axis] = side == 0 ? at[axis] - 1 : at[axis] + 1;
  return grid_cell(w->q.g, at[0], at[1], at[2]);
}

/* Some field vanishes on the face opposite a vertex. */
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
static void add_simplex_face(mesh_cut_work *w, const simplex *s, const corner_index *c, int opposite)
{
  const int side = cell_side_opposite(w, c, opposite);
  if (side < 0 && !has_surface(w, s, opposite)) return;
  simplex face;
  face.k = s->k - 1;
  for (int v = 0, at = 0; v <= s->k; v++)
    if (v != opposite) face.v[at++] = s->v[v];
  const bool grid_edge = side >= 0 && at_grid_edge(w->q.g, w->ijk, side / 2, side % 2);
  if (side >= 0 && side % 2 == 1 && !grid_edge) add_traces(w, &face, side / 2);
  bool zero[SIMPLEX_MAX_FIELDS], any = false;
  for (int f = 0; f < w->near->num_fields; f++) {
    zero[f] = vanishes(w, &face, f);
    any = any || zero[f];
    if (zero[f]) set_field(&face, f, (w->flat[f] ? w->flat[f] : s->v[opposite].f[f]) < 0 ? -1 : 1);
  }
  const int top = w->near->num_active - 1;
  if (side >= 0) {
    target t = {.kind = IS_FACE, .side = side};
    distribute(w, &face, top, &t);
  }
  if (!any || grid_edge) return;
  for (int level = 0; level <= top; level++) {
    const mesh_layers_active *l = &w->near->active[level];
    bool ends_here = false;
    for (int f = l->first; f < l->first + l->num; f++) ends_here = ends_here || (zero[f] && face.v[0].f[f] < 0);
    if (!ends_here) continue;
    target t = {.kind = IS_INNER, .level = level, .far_cell = (int32_t)(side < 0 ? w->cell : neighbour(w, side / 2, side % 2))};
    face_normal(w, &face, s->v[opposite].x, t.normal);
    distribute(w, &face, top, &t);
  }
}

static void add_simplex(mesh_cut_work *w, const simplex *s, const corner_index *c)
{
  const target body = {.kind = IS_BODY};
  w->whole = s;
  w->has_inverse = false;
  find_flat(w, s);
  distribute(w, s, w->near->num_active - 1, &body);
  for (int v = 0; v <= s->k; v++) add_simplex_face(w, s, c, v);
}

/* ---- sub-cells --------------------------------------------------------------------------------------- */

/* A box of the cell that is treated as a whole: corners by bits, 1 high x, 2 high y, 4 high z (by half of them in GRID_RZ). */
typedef struct {
  int at[3], halvings; /* its low corner, and how often it was halved */
  int num;
  int bits[8];
  corner_index corner[8];
  double *field[8];
} subcell;

static double corner_place(const mesh_cut_work *w, int axis, int at)
{
  const int n = w->q.samples << MOST_HALVINGS;
  if (at == n) return w->high[axis];
  return w->low[axis] + (w->high[axis] - w->low[axis]) * at / n;
}

/* Values of the fields at a place, those next to a surface set on it. */
static void place_fields(const mesh_cut_work *w, const int at[3], double *f)
{
  const double x[3] = {corner_place(w, 0, at[0]), w->dim == 2 ? 0 : corner_place(w, 1, at[1]), corner_place(w, 2, at[2])};
  mesh_layers_fields(w->near, x, w->step, f);
  for (int q = 0; q < w->near->num_fields; q++)
    if (fabs(f[q]) <= w->eps) f[q] = 0;
}

static double *corner_field(const mesh_cut_work *w, const int at[3])
{
  const int n = w->q.samples + 1, i = at[0] >> MOST_HALVINGS, j = at[1] >> MOST_HALVINGS, k = at[2] >> MOST_HALVINGS;
  return w->field + (size_t)(w->dim == 2 ? k * n + i : (k * n + j) * n + i) * SIMPLEX_MAX_FIELDS;
}

static void fill_corner_fields(mesh_cut_work *w)
{
  const int n = w->q.samples, one = 1 << MOST_HALVINGS;
  for (int k = 0; k <= n; k++)
    for (int j = 0; j <= (w->dim == 2 ? 0 : n); j++)
      for (int i = 0; i <= n; i++) {
        const int at[3] = {i * one, j * one, k * one};
        place_fields(w, at, corner_field(w, at));
      }
}

static void set_corners(const mesh_cut_work *w, subcell *b)
{
  const int size = 1 << (MOST_HALVINGS - b->halvings);
  b->num = 0;
  for (int bits = 0; bits < 8; bits++) {
    if (w->dim == 2 && (bits & 2)) continue;
    b->bits[b->num] = bits;
    b->corner[b->num++] = (corner_index){{b->at[0] + (bits & 1) * size, b->at[1] + (bits >> 1 & 1) * size, b->at[2] + (bits >> 2 & 1) * size}};
  }
}

/* The slot whose part has all of a box, by its corners; -1 when a surface may run through it. */
static int slot_of_whole(const mesh_cut_work *w, const subcell *b)
{
  for (int level = w->near->num_active - 1; level >= 0; level--) {
    const mesh_layers_active *l = &w->near->active[level];
    bool inside = true, outside = false;
    for (int q = l->first; q < l->first + l->num; q++) {
      bool above = true;
      for (int c = 0; c < b->num; c++) {
        const double f = b->field[c][q];
        if (!(f > 0)) above = false;
        if (!(f < 0)) inside = false;
      }
      outside = outside || above;
    }
    if (inside) return level + 1;
    if (!outside) return -1;
  }
  return 0;
}

/* A surface may run through the box, and its field is far from linear there: the value in the middle is not the mean of the
 * corners'. (A tip may enter without reaching a corner.) */
static bool has_kink(const mesh_cut_work *w, const subcell *b, int half)
{
  double middle[SIMPLEX_MAX_FIELDS], width = INFINITY, diagonal = 0;
  bool known = false;
  for (int d = 0; d < w->dim; d++) {
    const double x = corner_place(w, w->axes[d], b->at[w->axes[d]] + 2 * half) - corner_place(w, w->axes[d], b->at[w->axes[d]]);
    if (x < width) width = x;
    diagonal += x * x;
  }
  diagonal = sqrt(diagonal);
  for (int q = 0; q < w->near->num_fields; q++) {
    double mean = 0, nearest = INFINITY;
    for (int c = 0; c < b->num; c++) {
      mean += b->field[c][q] / b->num;
      if (fabs(b->field[c][q]) < nearest) nearest = fabs(b->field[c][q]);
    }
    if (nearest > diagonal) continue;
    if (!known) place_fields(w, (int[3]){b->at[0] + half, b->at[1] + half, b->at[2] + half}, middle);
    known = true;
    if (fabs(middle[q]) < 0.499 * diagonal && fabs(middle[q] - mean) > kink_fraction * width) return true;
  }
  return false;
}

static void add_whole_subcell(mesh_cut_work *w, int slot, const subcell *b)
{
  const int size = 1 << (MOST_HALVINGS - b->halvings), end = w->q.samples << MOST_HALVINGS;
  double low[3] = {0, 0, 0}, high[3] = {0, 0, 0};
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    low[a] = corner_place(w, a, b->at[a]);
    high[a] = corner_place(w, a, b->at[a] + size);
  }
  const measure m = measure_of_box(w, low, high);
  mesh_cut_piece *p = &w->slot[slot];
  p->volume += m.full;
  p->weight += m.plain;
  for (int a = 0; a < 3; a++) p->moment[a] += m.plain_moment[a];
  for (int d = 0; d < w->dim; d++)
    for (int side = 0; side < 2; side++) {
      const int a = w->axes[d];
      if (side == 0 ? b->at[a] != 0 : b->at[a] + size != end) continue;
      double l[3] = {low[0], low[1], low[2]}, h[3] = {high[0], high[1], high[2]};
      if (side == 0) h[a] = low[a];
      else l[a] = high[a];
      const measure f = measure_of_box(w, l, h);
      add_face(w, slot, a, side, &f);
    }
}

/* A cell's place along an axis, counted from the mirror plane or else from the middle of the grid; only whether it is even matters. */
static size_t place_from_middle(const grid *g, int axis, size_t i)
{
  const size_t cells = g->num[axis];
  if (g->kind == GRID_RZ || g->mirror[2 * axis]) return i;
  return i + (g->mirror[2 * axis + 1] ? cells : cells / 2);
}

/* Neighbouring boxes are divided as each other's mirror image, so that a symmetric rig is cut alike on both sides, and half of it as the
 * whole. */
static void add_simplices(mesh_cut_work *w, const subcell *b)
{
  static const int triangles[2][4] = {{0, 1, 5, 0}, {0, 4, 5, 0}};
  static const int tetrahedra[5][4] = {{0, 3, 5, 6}, {1, 0, 3, 5}, {2, 0, 3, 6}, {4, 0, 5, 6}, {7, 3, 5, 6}};
  size_t parity = 0;
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    parity += ((place_from_middle(w->q.g, a, w->ijk[a]) * (size_t)w->q.samples) << b->halvings) + (size_t)(b->at[a] >> (MOST_HALVINGS - b->halvings));
  }
  w->touch = (1 << w->dim) * kink_fraction * w->look / look_fraction / (1 << b->halvings);
  const int(*table)[4] = w->dim == 3 ? tetrahedra : triangles;
  for (int t = 0; t < (w->dim == 3 ? 5 : 2); t++) {
    simplex s;
    corner_index c[4];
    s.k = w->dim;
    for (int v = 0; v <= w->dim; v++) {
      const int bits = table[t][v] ^ (int)(parity & 1), at = w->dim == 3 ? bits : (bits >> 1 & 2) | (bits & 1);
      c[v] = b->corner[at];
      s.v[v].x[1] = 0;
      for (int d = 0; d < w->dim; d++) s.v[v].x[w->axes[d]] = corner_place(w, w->axes[d], c[v].at[w->axes[d]]);
      memcpy(s.v[v].f, b->field[at], (size_t)w->near->num_fields * sizeof(double));
    }
    add_simplex(w, &s, c);
  }
}

/* Adds a box whose corners and their fields are known; halves it where that is not enough. */
static void add_subcell(mesh_cut_work *w, const subcell *b)
{
  const int slot = slot_of_whole(w, b), half = (1 << (MOST_HALVINGS - b->halvings)) / 2;
  if (b->halvings < (w->dim == 2 ? MOST_HALVINGS : 3) && has_kink(w, b, half)) {
    double field[27][SIMPLEX_MAX_FIELDS]; /* corners of the parts: digits of the index to base 3 are x, y, z */
    for (int i = 0; i < 27; i++) {
      const int digit[3] = {i % 3, i / 3 % 3, i / 9}, at[3] = {b->at[0] + digit[0] * half, b->at[1] + digit[1] * half, b->at[2] + digit[2] * half};
      if (w->dim == 3 || digit[1] == 0) place_fields(w, at, field[i]);
    }
    for (int part = 0; part < b->num; part++) {
      const int bits = b->bits[part];
      subcell child = {.halvings = b->halvings + 1,
                       .at = {b->at[0] + (bits & 1) * half, b->at[1] + (bits >> 1 & 1) * half, b->at[2] + (bits >> 2 & 1) * half}};
      set_corners(w, &child);
      for (int c = 0; c < child.num; c++) {
        const int to[3] = {(child.corner[c].at[0] - b->at[0]) / half, (child.corner[c].at[1] - b->at[1]) / half,
                           (child.corner[c].at[2] - b->at[2]) / half};
        child.field[c] = field[to[0] + 3 * to[1] + 9 * to[2]];
      }
      add_subcell(w, &child);
    }
  } else if (slot >= 0) {
    add_whole_subcell(w, slot, b);
  } else {
    add_simplices(w, b);
  }
}

/* ---- cells ---------------------------------------------------------------------------------------------- */

bool mesh_cut_find_near(const mesh_cut_request *q, size_t cell, mesh_layers_near *near)
{
  size_t ijk[3];
  double centre[3] = {0, 0, 0}, diagonal = 0;
  grid_cell_indices(q->g, cell, ijk);
  for (int a = 0; a < 3; a++) {
    if (q->g->kind == GRID_RZ && a == 1) continue;
    const double low = q->g->edges[a][ijk[a]], high = q->g->edges[a][ijk[a] + 1];
    centre[a] = 0.5 * (low + high);
    diagonal += (high - low) * (high - low);
  }
  return mesh_layers_find_near(q->layers, q->num_layers, centre, 0.505 * sqrt(diagonal), near);
}

static void enter_cell(mesh_cut_work *w, size_t cell, const mesh_layers_near *near, mesh_cut_list *list)
{
  double smallest = INFINITY;
  w->cell = cell;
  w->near = near;
  w->list = list;
  w->first_facet = list->num_facets;
  grid_cell_indices(w->q.g, cell, w->ijk);
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    w->low[a] = w->q.g->edges[a][w->ijk[a]];
    w->high[a] = w->q.g->edges[a][w->ijk[a] + 1];
    if (w->high[a] - w->low[a] < smallest) smallest = w->high[a] - w->low[a];
  }
  w->eps = snap_fraction * smallest;
  w->step = step_fraction * smallest;
  w->look = look_fraction * smallest / w->q.samples;
  for (int s = 0; s <= near->num_active; s++)
    w->slot[s] = (mesh_cut_piece){.cell = (int32_t)cell, .part = s == 0 ? near->base : near->active[s - 1].part};
}

void mesh_cut_cell(mesh_cut_work *w, size_t cell, const mesh_layers_near *near, mesh_cut_list *list)
{
  const int n = w->q.samples;
  enter_cell(w, cell, near, list);
  fill_corner_fields(w);
  for (int k = 0; k < n; k++)
    for (int j = 0; j < (w->dim == 2 ? 1 : n); j++)
      for (int i = 0; i < n; i++) {
        subcell b = {.at = {i << MOST_HALVINGS, j << MOST_HALVINGS, k << MOST_HALVINGS}};
        set_corners(w, &b);
        for (int c = 0; c < b.num; c++) b.field[c] = corner_field(w, b.corner[c].at);
        add_subcell(w, &b);
      }
  if (!make_room((void **)&list->pieces, &list->room_pieces, list->num_pieces + (size_t)near->num_active + 1, sizeof *list->pieces)) {
    list->no_memory = true;
    return;
  }
  for (int s = 0; s <= near->num_active; s++)
    if (w->slot[s].volume > 0) list->pieces[list->num_pieces++] = w->slot[s];
}

void mesh_cut_add_outer_face(mesh_cut_list *list, const grid *g, size_t cell, int32_t part, int axis, int side)
{
  size_t ijk[3];
  grid_cell_indices(g, cell, ijk);
  if (!borders_on_nothing(g, ijk, axis, side)) return;
  mesh_cut_facet *f = new_facet(list);
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
  f->facing = mesh_cut_facing(normal);
  for (int s = 0; s < 2; s++) add_to_facet(f, s, area, moment, normal);
}
