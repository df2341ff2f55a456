#include <math.h>

#include "geometry/shape_class.h"
#include "geometry/simplex.h"

/* Volume by recursive halving of boxes (rectangles of the half plane for a figure of revolution): a box whose centre is
 * further from the surface than its corners is whole or empty; the smallest boxes are divided in simplices and cut where
 * the distance, linear inside, vanishes. Halved again until two refinements agree. */

static const double pi = 3.14159265358979323846;

typedef struct {
  const shape *s;
  int dim;     /* 2: rectangles (r, z) weighted by 2 pi r; 3: boxes */
  double eps;  /* m: closer than this is on the surface             */
} sampler;

static double weighted_measure(const sampler *q, const simplex *part)
{
  const double size = simplex_measure(part);
  return q->dim == 3 ? size : size * 2 * pi * (part->v[0].x[0] + part->v[1].x[0] + part->v[2].x[0]) / 3;
}

static double whole_box(const sampler *q, const double low[3], const double high[3])
{
  const double x = high[0] - low[0], z = high[2] - low[2];
  return q->dim == 3 ? x * (high[1] - low[1]) * z : pi * x * (high[0] + low[0]) * z;
}

/* The corner of a box by bits: 1 high x, 2 high y, 4 high z. */
static void set_corner(const sampler *q, const double low[3], const double high[3], int bits, simplex_vertex *v)
{
  v->x[0] = bits & 1 ? high[0] : low[0];
  v->x[1] = bits & 2 ? high[1] : low[1];
  v->x[2] = bits & 4 ? high[2] : low[2];
  v->f[0] = shape_distance(q->s, v->x);
}

static bool on_surface(const sampler *q, const simplex *s)
{
  for (int v = 0; v <= s->k; v++)
    if (fabs(s->v[v].f[0]) > q->eps) return false;
  return true;
}

static double cut_box(const sampler *q, const double low[3], const double high[3])
{
  static const int triangles[2][4] = {{0, 1, 5, 0}, {0, 4, 5, 0}};
  static const int tetrahedra[5][4] = {{0, 3, 5, 6}, {1, 0, 3, 5}, {2, 0, 3, 6}, {4, 0, 5, 6}, {7, 3, 5, 6}};
  simplex_vertex corner[8];
  for (int bits = 0; bits < 8; bits++)
    if (q->dim == 3 || !(bits & 2)) set_corner(q, low, high, bits, &corner[bits]);
  const int(*table)[4] = q->dim == 3 ? tetrahedra : triangles;
  double sum = 0;
  for (int t = 0; t < (q->dim == 3 ? 5 : 2); t++) {
    simplex whole = {.k = q->dim};
    simplex_parts parts;
    for (int v = 0; v <= q->dim; v++) whole.v[v] = corner[table[t][v]];
    if (on_surface(q, &whole)) { /* a corner of the shape: the values say nothing, its middle does */
      double middle[3] = {0, 0, 0};
      for (int v = 0; v <= q->dim; v++)
        for (int a = 0; a < 3; a++) middle[a] += whole.v[v].x[a] / (q->dim + 1);
      if (shape_distance(q->s, middle) < 0) sum += weighted_measure(q, &whole);
      continue;
    }
    simplex_divide(&whole, 1, 0, q->eps, &parts);
    for (int p = 0; p < parts.num_inside; p++) sum += weighted_measure(q, &parts.inside[p]);
  }
  return sum;
}

static double volume_in(const sampler *q, const double low[3], const double high[3], int depth)
{
  double centre[3], diagonal = 0;
  int longest = 0;
  for (int a = 0; a < 3; a++) {
    const double w = high[a] - low[a];
    centre[a] = 0.5 * (low[a] + high[a]);
    diagonal += w * w;
    if (w > high[longest] - low[longest]) longest = a;
  }
  const double d = shape_distance(q->s, centre), reach = 0.5 * sqrt(diagonal);
  if (d >= reach) return 0;
  if (d <= -reach) return whole_box(q, low, high);
  if (depth == 0) return cut_box(q, low, high);
  double upper[3] = {high[0], high[1], high[2]}, lower[3] = {low[0], low[1], low[2]};
  upper[longest] = lower[longest] = centre[longest];
  return volume_in(q, low, upper, depth - 1) + volume_in(q, lower, high, depth - 1);
}

double shape_volume_below(const shape *s, bool revolved, double z_level, double rel_tol)
{
  double low[3], high[3];
  if (s->volume_below && !revolved) return s->volume_below(s, z_level);
  shape_bounds(s, low, high);
  if (z_level < high[2]) high[2] = z_level;
  if (revolved) low[0] = low[1] = high[1] = 0;
  for (int a = 0; a < 3; a++) {
    if (!(high[a] > low[a]) && !(revolved && a == 1)) return 0;
    if (!isfinite(high[a] - low[a])) return INFINITY;
  }
  const int dim = revolved ? 2 : 3, deepest = revolved ? 26 : 27;
  const double size = high[2] - low[2] + high[0] - low[0];
  double last = -1, volume = 0;
  for (int depth = 5 * dim; depth <= deepest; depth += dim) {
    const sampler q = {.s = s, .dim = dim, .eps = 1e-10 * size};
    volume = volume_in(&q, low, high, depth);
    /* Two empty answers agree too soon: a wall thinner than the boxes shows itself only further down. */
    /* In three dimensions a refinement costs four times as much as the one before; the error falls fourfold, so that a third of the last
     * change is left, and is added. */
    const double left = dim == 3 ? (volume - last) / 3 : volume - last;
    if (last > 0 && fabs(left) <= 0.5 * rel_tol * volume) return dim == 3 ? volume + left : volume;
    last = volume;
  }
  return volume;
}
