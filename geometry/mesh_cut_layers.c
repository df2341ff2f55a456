/* Gives each layer its share of a simplex: the last one first, the others what remains; facets where it ends. */
#include "geometry/mesh_cut_parts.h"

#include <math.h>

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

bool mesh_cut_layers_vanishes(const mesh_cut_work *w, const simplex *s, int field)
{
  for (int v = 0; v <= s->k; v++)
    if (fabs(s->v[v].f[field]) > w->eps) return false;
  return true;
}

void mesh_cut_layers_set(simplex *s, int field, double value)
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
    if (mesh_cut_layers_vanishes(w, s, i) || (i >= own->first && i < own->first + own->num)) mesh_cut_layers_set(s, i, value[i] < 0 ? -1 : 1);
}

static void leaf(mesh_cut_work *w, const simplex *s, int level, const mesh_cut_target *t)
{
  const int slot = level + 1;
  if (t->kind == MESH_CUT_BODY) {
    const mesh_cut_measure m = mesh_cut_measure_of(w, s);
    mesh_cut_piece *p = &w->slot[slot];
    p->volume += m.full;
    p->weight += m.plain;
    for (int a = 0; a < 3; a++) p->moment[a] += m.plain_moment[a];
  } else if (t->kind == MESH_CUT_FACE) {
    const mesh_cut_measure m = mesh_cut_measure_of(w, s);
    mesh_cut_facets_face(w, slot, t->side / 2, t->side % 2, &m);
    mesh_cut_walls_add_end(w, s, slot, t->side / 2, t->side % 2);
  } else if (t->kind == MESH_CUT_INNER) {
    if (level != t->level) return;
    simplex beyond = *s;
    look_beyond(w, t->normal, level, &beyond);
    mesh_cut_target outer = *t;
    outer.kind = MESH_CUT_OUTER;
    mesh_cut_layers_distribute(w, &beyond, w->near->num_active - 1, &outer);
  } else if (level < t->level) {
    mesh_cut_facets_add(w, s, t, level < 0 ? w->near->base : w->near->active[level].part);
  }
}

static void start_surface(mesh_cut_work *w, const simplex *s, int level, int q);

/* Where one field of a layer is zero and the layer is not there, for another is above zero: a layer below may end along the same facet (the wall
 * above the water that stands in it), which is not cut a second time. `at`: a field of the level that vanishes, -1 none. */
static void pass_on(mesh_cut_work *w, const simplex *s, int level, int q, int at)
{
  if (level < 0) return;
  const mesh_layers_active *l = &w->near->active[level];
  if (q == l->num) {
    if (at >= 0) start_surface(w, s, level, at);
    return;
  }
  if (mesh_cut_layers_vanishes(w, s, l->first + q)) {
    pass_on(w, s, level, q + 1, at < 0 ? q : at);
    return;
  }
  simplex_parts parts;
  simplex_divide(s, w->near->num_fields, l->first + q, w->eps, &parts);
  for (int i = 0; i < parts.num_outside; i++) pass_on(w, &parts.outside[i], level - 1, 0, -1);
  for (int i = 0; i < parts.num_inside; i++) pass_on(w, &parts.inside[i], level, q + 1, at);
}

/* A facet cut out of the simplex at hand: kept where it is inside the further fields of its own layer; beyond it come the
 * layers below. Fields that vanish along with it are decided by how they go on outwards (inwards for its own layer). */
static void follow_surface(mesh_cut_work *w, const simplex *s, int level, int q, const mesh_cut_target *t)
{
  const mesh_layers_active *l = &w->near->active[level];
  if (q == l->num) {
    mesh_cut_layers_distribute(w, s, level - 1, t);
    return;
  }
  if (mesh_cut_layers_vanishes(w, s, l->first + q)) {
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

/* Passes on what of a facet lies outside the further fields of its layer. */
static void pass_on_rest(mesh_cut_work *w, const simplex *s, int level, int q)
{
  const mesh_layers_active *l = &w->near->active[level];
  if (q == l->num) return;
  if (mesh_cut_layers_vanishes(w, s, l->first + q)) {
    pass_on_rest(w, s, level, q + 1);
    return;
  }
  simplex_parts parts;
  simplex_divide(s, w->near->num_fields, l->first + q, w->eps, &parts);
  for (int i = 0; i < parts.num_outside; i++) pass_on(w, &parts.outside[i], level - 1, 0, -1);
  for (int i = 0; i < parts.num_inside; i++) pass_on_rest(w, &parts.inside[i], level, q + 1);
}

static void start_surface(mesh_cut_work *w, const simplex *facet, int level, int q)
{
  pass_on_rest(w, facet, level, q + 1);
  simplex whole = *facet, *s = &whole;
  const mesh_layers_active *own = &w->near->active[level];
  mesh_cut_target t = {.kind = MESH_CUT_OUTER, .level = level, .far_cell = (int32_t)w->cell};
  gradient(w, own->first + q, t.normal);
  const double length = sqrt(t.normal[0] * t.normal[0] + t.normal[1] * t.normal[1] + t.normal[2] * t.normal[2]);
  for (int a = 0; a < 3; a++) t.normal[a] /= length;
  /* A later layer that touches here has this facet as its own. */
  for (int f = own->first + own->num; f < w->near->num_fields; f++)
    if (side_beyond(w, s, f, t.normal) < 0 && inside_others(w, s, f)) return;
  for (int f = 0; f < own->first; f++) {
    const int side = side_beyond(w, s, f, t.normal);
    if (side != 0) mesh_cut_layers_set(s, f, side);
  }
  follow_surface(w, s, level, q + 1, &t);
}

/* s is inside the first q fields of the layer. */
static void divide_by_field(mesh_cut_work *w, const simplex *s, int level, int q, const mesh_cut_target *t)
{
  const mesh_layers_active *l = &w->near->active[level];
  if (q == l->num) {
    leaf(w, s, level, t);
    return;
  }
  const int field = l->first + q;
  if (t->kind == MESH_CUT_BODY && w->flat[field]) {
    if (w->flat[field] < 0) divide_by_field(w, s, level, q + 1, t);
    else mesh_cut_layers_distribute(w, s, level - 1, t);
    return;
  }
  bool below = false, above = false;
  for (int v = 0; v <= s->k; v++) {
    below = below || s->v[v].f[field] < -w->eps;
    above = above || s->v[v].f[field] > w->eps;
  }
  if (!below || !above) { /* most are not divided: not even copied */
    if (below) divide_by_field(w, s, level, q + 1, t);
    else mesh_cut_layers_distribute(w, s, level - 1, t);
    return;
  }
  simplex_parts parts;
  simplex_divide(s, w->near->num_fields, field, w->eps, &parts);
  for (int i = 0; i < parts.num_outside; i++) mesh_cut_layers_distribute(w, &parts.outside[i], level - 1, t);
  for (int i = 0; i < parts.num_inside; i++) divide_by_field(w, &parts.inside[i], level, q + 1, t);
  if (t->kind == MESH_CUT_BODY)
    for (int i = 0; i < parts.num_facets; i++) start_surface(w, &parts.facet[i], level, q);
}

/* Gives each layer from `level` down its share of s. */
void mesh_cut_layers_distribute(mesh_cut_work *w, const simplex *s, int level, const mesh_cut_target *t)
{
  if (level < 0) leaf(w, s, -1, t);
  else divide_by_field(w, s, level, 0, t);
}
