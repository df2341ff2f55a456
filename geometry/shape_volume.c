#include <math.h>

#include "geometry/shape_class.h"
#include "geometry/simplex.h"

/* Volume by recursive halving of boxes (rectangles of the half plane for a figure of revolution): a box whose centre is
 * further from the surface than its corners is whole or empty; one in which the distance is as good as linear is divided in
 * simplices and cut where it vanishes; any other is halved. So flat walls cost next to nothing, and the boxes gather at edges and
 * at what is curved. How far from linear: the distance at the centre against the mean of the corners, the bend. A sheet thinner than the
 * box shows itself there too, since the distance bends at it.
 *
 * In three dimensions the cut is put right by the bend. Of x^2 / 2 over a box of side h the mean of the corners less the centre is h^2 / 8,
 * what the five tetrahedra give on the average h^2 / 8, the true average h^2 / 24 (the centre being 0), and products like x y fall out of all
 * three: the distance is in truth less by 2/3 of the bend, so that the surface lies that much further out. What is left in doubt is counted
 * as a quarter of the bend. (Against closed forms: 1e-3 of it for ball, ring and grown box, a quarter where all of it is at straight
 * edges.) */

static const double pi = 3.14159265358979323846;

typedef struct {
  const shape *s;
  int dim;       /* 2: rectangles (r, z) weighted by 2 pi r; 3: boxes      */
  double eps;    /* m: closer than this is on the surface                  */
  double accept; /* m3: a box with less doubt than this is not halved      */
  double doubt;  /* m3: of all boxes that were cut                         */
} sampler;

enum { LEAST_HALVINGS = 5, MOST_HALVINGS = 15, PASSES = 12 }; /* halvings of every axis */

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

/* bend: m, see above. */
static double cut_box(const sampler *q, const simplex_vertex corner[8], double bend)
{
  static const int triangles[2][4] = {{0, 1, 5, 0}, {0, 4, 5, 0}};
  static const int tetrahedra[5][4] = {{0, 3, 5, 6}, {1, 0, 3, 5}, {2, 0, 3, 6}, {4, 0, 5, 6}, {7, 3, 5, 6}};
  const int(*table)[4] = q->dim == 3 ? tetrahedra : triangles;
  double sum = 0, area = 0; /* area: m2, where the distance vanishes */
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
    for (int p = 0; p < parts.num_facets; p++) area += simplex_measure(&parts.facet[p]);
  }
  return q->dim == 3 ? sum + 2.0 / 3.0 * bend * area : sum;
}

/* Corners of a box; the bend: how far the distance at the centre is below the mean of theirs. */
static double look_at_corners(const sampler *q, const double low[3], const double high[3], double at_centre, simplex_vertex corner[8])
{
  double mean = 0;
  for (int bits = 0; bits < 8; bits++) {
    if (q->dim == 2 && bits & 2) continue;
    set_corner(q, low, high, bits, &corner[bits]);
    mean += corner[bits].f[0] / (q->dim == 3 ? 8 : 4);
  }
  return mean - at_centre;
}

static double volume_in(sampler *q, const double low[3], const double high[3], int depth)
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
  if (depth >= LEAST_HALVINGS * q->dim) {
    simplex_vertex corner[8];
    const double bend = look_at_corners(q, low, high, d, corner);
    const double doubt = (q->dim == 3 ? 0.25 : 1) * fabs(bend) * whole_box(q, low, high) / (high[longest] - low[longest]);
    if (doubt <= q->accept || depth >= MOST_HALVINGS * q->dim) {
      q->doubt += doubt;
      return cut_box(q, corner, bend);
    }
  }
  double upper[3] = {high[0], high[1], high[2]}, lower[3] = {low[0], low[1], low[2]};
  upper[longest] = lower[longest] = centre[longest];
  return volume_in(q, low, upper, depth + 1) + volume_in(q, lower, high, depth + 1);
}

double shape_volume_below(const shape *s, bool revolved, double z_level, double rel_tol)
{
  double low[3], high[3];
  const double known = s->volume_below && !revolved ? s->volume_below(s, 0, z_level) : NAN;
  if (!isnan(known)) return known;
  shape_bounds(s, low, high);
  if (z_level < high[2]) high[2] = z_level;
  if (revolved) low[0] = low[1] = high[1] = 0;
  for (int a = 0; a < 3; a++) {
    if (!(high[a] > low[a]) && !(revolved && a == 1)) return 0;
    if (!isfinite(high[a] - low[a])) return INFINITY;
  }
  sampler q = {.s = s, .dim = revolved ? 2 : 3, .eps = 1e-10 * (high[2] - low[2] + high[0] - low[0])};
  const double whole = whole_box(&q, low, high);
  double volume = 0;
  q.accept = rel_tol * whole;
  for (int pass = 0; pass < PASSES; pass++) {
    q.doubt = 0;
    volume = volume_in(&q, low, high, 0);
    if (q.doubt <= rel_tol * volume) break;
    q.accept *= fmin(fmax(0.3 * rel_tol * volume / q.doubt, 0.02), 0.3);
  }
  return volume;
}
