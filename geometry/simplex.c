#include "geometry/simplex.h"

#include <math.h>
#include <stdbool.h>
#include <stddef.h>

static void copy_vertex(simplex_vertex *to, const simplex_vertex *from, int num_fields)
{
  for (int a = 0; a < 3; a++) to->x[a] = from->x[a];
  for (int f = 0; f < num_fields; f++) to->f[f] = from->f[f];
}

static void copy_simplex(simplex *to, const simplex *from, int num_fields)
{
  to->k = from->k;
  for (int v = 0; v <= from->k; v++) copy_vertex(&to->v[v], &from->v[v], num_fields);
}

/* The point between a (value < 0) and b (value > 0) where the field vanishes. The two ends always enter in this order,
 * so that neighbours which share the edge find the same bits. */
static void crossing(const simplex_vertex *a, const simplex_vertex *b, int num_fields, int field, simplex_vertex *e)
{
  const double t = a->f[field] / (a->f[field] - b->f[field]);
  for (int i = 0; i < 3; i++) e->x[i] = a->x[i] == b->x[i] ? a->x[i] : a->x[i] + t * (b->x[i] - a->x[i]);
  for (int f = 0; f < num_fields; f++) e->f[f] = a->f[f] == b->f[f] ? a->f[f] : a->f[f] + t * (b->f[f] - a->f[f]);
  e->f[field] = 0;
}

typedef struct {
  const simplex_vertex *side[4];     /* vertices on the side that is filled          */
  const simplex_vertex *zero[4];     /* vertices on the cut                          */
  const simplex_vertex *edge[4][4];  /* crossing between side i and opposite j       */
  int num_side, num_zero, num_opposite, num_fields;
} division;

/* Staircase paths through the table edge[first..][0..] triangulate its convex hull; each path, with the vertices given in
 * `head`, makes one simplex. */
static int fill_paths(const division *d, int first, const simplex_vertex *head[], int num_head, simplex *out, int k)
{
  const int rows = d->num_side - first, columns = d->num_opposite;
  const bool square = rows == 2 && columns == 2; /* two paths; every other table that occurs has one row or column */
  for (int path = 0; path < (square ? 2 : 1); path++) {
    int at = 0;
    for (int h = 0; h < num_head; h++) copy_vertex(&out[path].v[at++], head[h], d->num_fields);
    for (int z = 0; z < d->num_zero; z++) copy_vertex(&out[path].v[at++], d->zero[z], d->num_fields);
    if (square) {
      copy_vertex(&out[path].v[at++], d->edge[first][0], d->num_fields);
      copy_vertex(&out[path].v[at++], path == 0 ? d->edge[first][1] : d->edge[first + 1][0], d->num_fields);
      copy_vertex(&out[path].v[at++], d->edge[first + 1][1], d->num_fields);
    } else {
      for (int r = 0; r < rows; r++)
        for (int c = 0; c < columns; c++) copy_vertex(&out[path].v[at++], d->edge[first + r][c], d->num_fields);
    }
    out[path].k = k;
  }
  return square ? 2 : 1;
}

static int fill_side(const division *d, simplex *out, int k)
{
  int num = 0;
  for (int i = 0; i < d->num_side; i++) num += fill_paths(d, i, (const simplex_vertex **)d->side, i + 1, out + num, k);
  return num;
}

void simplex_divide(const simplex *s, int num_fields, int field, double eps, simplex_parts *parts)
{
  const simplex_vertex *below[4], *above[4], *zero[4];
  int num_below = 0, num_above = 0, num_zero = 0;
  for (int v = 0; v <= s->k; v++) {
    const double f = s->v[v].f[field];
    if (f < -eps) below[num_below++] = &s->v[v];
    else if (f > eps) above[num_above++] = &s->v[v];
    else zero[num_zero++] = &s->v[v];
  }
  parts->num_inside = parts->num_outside = parts->num_facets = 0;
  if (num_below == 0) {
    copy_simplex(&parts->outside[parts->num_outside++], s, num_fields);
    return;
  }
  if (num_above == 0) {
    copy_simplex(&parts->inside[parts->num_inside++], s, num_fields);
    return;
  }
  simplex_vertex edge[4][4];
  division in = {.num_side = num_below, .num_zero = num_zero, .num_opposite = num_above, .num_fields = num_fields};
  division out = {.num_side = num_above, .num_zero = num_zero, .num_opposite = num_below, .num_fields = num_fields};
  for (int z = 0; z < num_zero; z++) in.zero[z] = out.zero[z] = zero[z];
  for (int i = 0; i < num_below; i++) in.side[i] = below[i];
  for (int j = 0; j < num_above; j++) out.side[j] = above[j];
  for (int i = 0; i < num_below; i++)
    for (int j = 0; j < num_above; j++) {
      crossing(below[i], above[j], num_fields, field, &edge[i][j]);
      in.edge[i][j] = out.edge[j][i] = &edge[i][j];
    }
  parts->num_inside = fill_side(&in, parts->inside, s->k);
  parts->num_outside = fill_side(&out, parts->outside, s->k);
  parts->num_facets = fill_paths(&in, 0, NULL, 0, parts->facet, s->k - 1);
}

double simplex_measure(const simplex *s)
{
  double e[3][3] = {{0}};
  for (int v = 1; v <= s->k; v++)
    for (int a = 0; a < 3; a++) e[v - 1][a] = s->v[v].x[a] - s->v[0].x[a];
  if (s->k == 0) return 1;
  if (s->k == 1) return sqrt(e[0][0] * e[0][0] + e[0][1] * e[0][1] + e[0][2] * e[0][2]);
  const double c[3] = {e[0][1] * e[1][2] - e[0][2] * e[1][1], e[0][2] * e[1][0] - e[0][0] * e[1][2], e[0][0] * e[1][1] - e[0][1] * e[1][0]};
  if (s->k == 2) return 0.5 * sqrt(c[0] * c[0] + c[1] * c[1] + c[2] * c[2]);
  return fabs(c[0] * e[2][0] + c[1] * e[2][1] + c[2] * e[2][2]) / 6;
}
