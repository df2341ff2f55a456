#include "geometry/triangle_crossing.h"

#include <math.h>
#include <stdbool.h>

typedef struct {
  const triangle_surface *s;
  const triangle_tree *tree;
} search;

static double turn(const double u[3], const double v[3], const double w[3]) /* u x v . w */
{
  return (u[1] * v[2] - u[2] * v[1]) * w[0] + (u[2] * v[0] - u[0] * v[2]) * w[1] + (u[0] * v[1] - u[1] * v[0]) * w[2];
}

static void way(const double from[3], const double to[3], double v[3])
{
  for (int a = 0; a < 3; a++) v[a] = to[a] - from[a];
}

/* True when p to q goes through the triangle, both ends being farther than `far` from its plane, clear of its border. */
static bool goes_through(const double p[3], const double q[3], const double *const c[3], double far, double at[3])
{
  double u[3], v[3], to_p[3], to_q[3];
  way(c[0], c[1], u);
  way(c[0], c[2], v);
  way(c[0], p, to_p);
  way(c[0], q, to_q);
  const double n[3] = {u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]};
  const double hp = n[0] * to_p[0] + n[1] * to_p[1] + n[2] * to_p[2], hq = n[0] * to_q[0] + n[1] * to_q[1] + n[2] * to_q[2];
  if ((hp > 0) == (hq > 0)) return false; /* nearly always */
  const double size = sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
  if (!(size > 0) || !((hp > far * size && hq < -far * size) || (hp < -far * size && hq > far * size))) return false;
  const double t = hp / (hp - hq);
  for (int a = 0; a < 3; a++) at[a] = p[a] + t * (q[a] - p[a]);
  for (int e = 0; e < 3; e++) {
    double edge[3], to[3];
    way(c[e], c[(e + 1) % 3], edge);
    way(c[e], at, to);
    const double reach = sqrt(edge[0] * edge[0] + edge[1] * edge[1] + edge[2] * edge[2]);
    if (!(turn(edge, to, n) > far * reach * size)) return false;
  }
  return true;
}

static bool has(const uint32_t corner[3], uint32_t point)
{
  return corner[0] == point || corner[1] == point || corner[2] == point;
}

/* An edge of triangle i through triangle j. */
static bool edges_go_through(const triangle_surface *s, uint32_t i, uint32_t j, double at[3])
{
  const uint32_t *a = s->corners[i], *b = s->corners[j];
  const double *const c[3] = {s->points[b[0]], s->points[b[1]], s->points[b[2]]};
  for (int e = 0; e < 3; e++) {
    const uint32_t p = a[e], q = a[(e + 1) % 3];
    if (!has(b, p) && !has(b, q) && goes_through(s->points[p], s->points[q], c, s->step, at)) return true;
  }
  return false;
}

static bool pair_crosses(const triangle_surface *s, uint32_t i, uint32_t j, double at[3])
{
  const uint32_t *a = s->corners[i], *b = s->corners[j];
  if (has(b, a[0]) + has(b, a[1]) + has(b, a[2]) >= 2) return false;
  return edges_go_through(s, i, j, at) || edges_go_through(s, j, i, at);
}

/* Triangles above i whose boxes meet that of i; the number of those that cross it. */
static size_t crossings_of(const search *q, uint32_t i, double at[3])
{
  uint32_t stack[TRIANGLE_TREE_DEEPEST + 2];
  size_t waiting = 0, found = 0;
  float low[3], high[3];
  for (int a = 0; a < 3; a++) {
    const uint32_t *c = q->s->corners[i];
    const double x = q->s->points[c[0]][a], y = q->s->points[c[1]][a], z = q->s->points[c[2]][a];
    low[a] = (float)fmin(x, fmin(y, z)); /* rounding loses less than the weld, and so no crossing that counts */
    high[a] = (float)fmax(x, fmax(y, z));
  }
  stack[waiting++] = 0;
  while (waiting > 0) {
    const triangle_tree_node *n = &q->tree->nodes[stack[--waiting]];
    for (int side = 0; side < 2; side++) {
      bool meets = true;
      for (int a = 0; a < 3; a++) meets = meets && n->low[side][a] <= high[a] && n->high[side][a] >= low[a];
      if (!meets) continue;
      if (n->num[side] == 0) stack[waiting++] = n->first[side];
      for (uint32_t k = 0; k < n->num[side]; k++) {
        double place[3];
        const uint32_t j = q->tree->order[n->first[side] + k];
        if (j > i && pair_crosses(q->s, i, j, place) && found++ == 0)
          for (int a = 0; a < 3; a++) at[a] = place[a];
      }
    }
  }
  return found;
}

void triangle_crossing_find(const triangle_surface *s, const triangle_tree *tree, triangle_crossing *out)
{
  const search q = {s, tree};
  size_t num = 0, first = s->num_triangles;
#pragma omp parallel for schedule(dynamic, 1024) reduction(+ : num) reduction(min : first)
  for (size_t i = 0; i < s->num_triangles; i++) {
    double at[3];
    const size_t found = crossings_of(&q, (uint32_t)i, at);
    num += found; /* whole numbers: the same sum in any order */
    if (found > 0 && i < first) first = i;
  }
  *out = (triangle_crossing){.num = num};
  if (num > 0) (void)crossings_of(&q, (uint32_t)first, out->place);
}
