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

static double dot(const double u[3], const double v[3])
{
  return u[0] * v[0] + u[1] * v[1] + u[2] * v[2];
}

static void way(const double from[3], const double to[3], double v[3])
{
  for (int a = 0; a < 3; a++) v[a] = to[a] - from[a];
}

/* ---- through an edge or a corner of the surface ----------------------------------------------------------- */

/* About a place on the surface, as far as its next edges: corners of a plane's piece that begins there, from a round to b. */
typedef struct {
  double a[3], b[3], n[3], size; /* ways; a x b and its length */
} sector;

enum { MOST_SECTORS = 64 };

typedef struct {
  sector of[MOST_SECTORS];
  int num;
} fan;

static bool add_sector(fan *f, const double apex[3], const double from[3], const double to[3])
{
  if (f->num == MOST_SECTORS) return false;
  sector *s = &f->of[f->num++];
  way(apex, from, s->a);
  way(apex, to, s->b);
  for (int i = 0; i < 3; i++) s->n[i] = s->a[(i + 1) % 3] * s->b[(i + 2) % 3] - s->a[(i + 2) % 3] * s->b[(i + 1) % 3];
  s->size = sqrt(dot(s->n, s->n));
  return true;
}

/* Between a and b, or less than `far` beside. m lies near the plane. */
static bool lies_in(const sector *s, const double m[3], double far)
{
  return turn(s->a, m, s->n) >= -far * sqrt(dot(s->a, s->a)) * s->size && turn(m, s->b, s->n) >= -far * sqrt(dot(s->b, s->b)) * s->size;
}

static bool passes(const sector *s, const double x[3], const double y[3])
{
  const double hx = dot(s->n, x), hy = dot(s->n, y);
  double m[3];
  if ((hx > 0) == (hy > 0)) return false;
  for (int a = 0; a < 3; a++) m[a] = x[a] + hx / (hx - hy) * (y[a] - x[a]);
  return lies_in(s, m, 0);
}

/* True when the places x and y, seen from the apex, lie on different sides of the fan: a way from one to the other about the apex passes it an
 * odd number of times. Neither may lie on it. */
static bool sides_differ(const fan *f, const double x[3], const double y[3], double far)
{
  static const double aside[3] = {0.3713906764, -0.7427813527, 0.5570860145}; /* any direction in which nobody builds */
  const double reach = sqrt(dot(x, x)) + sqrt(dot(y, y)), by[3] = {reach * aside[0], reach * aside[1], reach * aside[2]};
  bool odd = false;
  for (int i = 0; i < f->num; i++) {
    const sector *s = &f->of[i];
    if (!(s->size > 0)) continue;
    if (fabs(dot(s->n, x)) <= far * s->size && lies_in(s, x, far)) return false;
    if (fabs(dot(s->n, y)) <= far * s->size && lies_in(s, y, far)) return false;
    odd = odd != (passes(s, x, by) != passes(s, by, y));
  }
  return odd;
}

/* The faces round the point in which half edge `half` begins. False: more than are looked at. */
static bool fan_of_point(const triangle_surface *s, uint32_t half, fan *f)
{
  const uint32_t first = half;
  do {
    const uint32_t t = half / 3, e = half % 3;
    const double *apex = s->points[s->corners[t][e]];
    if (!add_sector(f, apex, s->points[s->corners[t][(e + 1) % 3]], s->points[s->corners[t][(e + 2) % 3]])) return false;
    half = s->across[3 * t + (e + 2) % 3]; /* the edge that ends there, seen from the next face: it begins there */
  } while (half != first);
  return true;
}

/* The two faces at an edge, about a place on it. */
static bool fan_of_edge(const triangle_surface *s, uint32_t half, const double at[3], fan *f)
{
  const uint32_t both[2] = {half, s->across[half]};
  for (int i = 0; i < 2; i++) {
    const uint32_t *c = s->corners[both[i] / 3], e = both[i] % 3;
    const double *p = s->points[c[e]], *q = s->points[c[(e + 1) % 3]], *r = s->points[c[(e + 2) % 3]];
    if (!add_sector(f, at, q, r) || !add_sector(f, at, r, p)) return false;
  }
  return true;
}

/* True when p to q, which meets triangle t at its edge e or the corner where e begins, goes through the surface there: it may only touch. */
static bool goes_through_border(const triangle_surface *s, const double p[3], const double q[3], uint32_t half, bool corner, const double at[3])
{
  fan f = {.num = 0};
  double to_p[3], to_q[3];
  const double *apex = corner ? s->points[s->corners[half / 3][half % 3]] : at;
  if (!(corner ? fan_of_point(s, half, &f) : fan_of_edge(s, half, at, &f))) return false;
  way(apex, p, to_p);
  way(apex, q, to_q);
  return sides_differ(&f, to_p, to_q, s->step);
}

/* ---- through a face ----------------------------------------------------------------------------------- */

/* True when p to q goes through triangle t, both ends being farther than the weld from its plane. */
static bool goes_through(const triangle_surface *s, const double p[3], const double q[3], uint32_t t, double at[3])
{
  const uint32_t *corner = s->corners[t];
  const double *const c[3] = {s->points[corner[0]], s->points[corner[1]], s->points[corner[2]]};
  const double far = s->step;
  double u[3], v[3], to_p[3], to_q[3];
  way(c[0], c[1], u);
  way(c[0], c[2], v);
  way(c[0], p, to_p);
  way(c[0], q, to_q);
  const double n[3] = {u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]};
  const double hp = dot(n, to_p), hq = dot(n, to_q);
  if ((hp > 0) == (hq > 0)) return false; /* nearly always */
  const double size = sqrt(dot(n, n));
  if (!(size > 0) || !((hp > far * size && hq < -far * size) || (hp < -far * size && hq > far * size))) return false;
  int border = -1, at_corner = -1;
  for (int a = 0; a < 3; a++) at[a] = p[a] + hp / (hp - hq) * (q[a] - p[a]);
  for (int e = 0; e < 3; e++) {
    double edge[3], to[3];
    way(c[e], c[(e + 1) % 3], edge);
    way(c[e], at, to);
    const double reach = sqrt(dot(edge, edge)), inside = turn(edge, to, n);
    if (inside < -far * reach * size) return false;
    if (!(inside > far * reach * size)) border = e;
    if (dot(to, to) <= 4 * far * far) at_corner = e;
  }
  if (border < 0) return true;
  return goes_through_border(s, p, q, 3 * t + (uint32_t)(at_corner < 0 ? border : at_corner), at_corner >= 0, at);
}

static bool has(const uint32_t corner[3], uint32_t point)
{
  return corner[0] == point || corner[1] == point || corner[2] == point;
}

/* An edge of triangle i through triangle j. */
static bool edges_go_through(const triangle_surface *s, uint32_t i, uint32_t j, double at[3])
{
  const uint32_t *a = s->corners[i], *b = s->corners[j];
  for (int e = 0; e < 3; e++) {
    const uint32_t p = a[e], q = a[(e + 1) % 3];
    if (!has(b, p) && !has(b, q) && goes_through(s, s->points[p], s->points[q], j, at)) return true;
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
  uint32_t stack[TRIANGLE_TREE_WAITING];
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
    for (int child = 0; child < TRIANGLE_TREE_WIDE; child++) {
      bool meets = true;
      for (int a = 0; a < 3; a++) meets = meets && n->low[a][child] <= high[a] && n->high[a][child] >= low[a];
      if (!meets) continue;
      if (n->num[child] == 0) stack[waiting++] = n->first[child];
      for (uint32_t k = 0; k < n->num[child]; k++) {
        double place[3];
        const uint32_t j = q->tree->order[n->first[child] + k];
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
