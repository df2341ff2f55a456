#include "poisson.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

typedef struct {
  size_t num[3];
  double low[3], h;
  bool *inside;
  float (*share)[6]; /* of a step that is left to the surface; 1 within */
  double *value;
} lattice;

static void place(const lattice *l, size_t i, size_t j, size_t k, double point[3])
{
  point[0] = l->low[0] + l->h * (double)i;
  point[1] = l->low[1] + l->h * (double)j;
  point[2] = l->low[2] + l->h * (double)k;
}

static size_t index_of(const lattice *l, size_t i, size_t j, size_t k) { return (k * l->num[1] + j) * l->num[0] + i; }

/* Share of the step from a point inside to one outside at which the surface is passed. */
static double crossing(const shape *s, const double from[3], int direction, double h)
{
  double low = 0.0, high = 1.0;
  for (int n = 0; n < 30; n++) {
    const double middle = 0.5 * (low + high);
    double point[3] = {from[0], from[1], from[2]};
    point[direction / 2] += (direction % 2 ? middle : -middle) * h;
    if (shape_distance(s, point) < 0.0)
      low = middle;
    else
      high = middle;
  }
  return fmax(low, 1e-4);
}

static void open_lattice(lattice *l, const shape *s, int steps)
{
  double high[3], longest = 0.0;
  shape_bounds(s, l->low, high);
  for (int axis = 0; axis < 3; axis++)
    longest = fmax(longest, high[axis] - l->low[axis]);
  l->h = longest / steps;
  size_t all = 1;
  for (int axis = 0; axis < 3; axis++) {
    l->num[axis] = (size_t)ceil((high[axis] - l->low[axis]) / l->h) + 3;
    l->low[axis] -= 0.73 * l->h; /* off every face */
    all *= l->num[axis];
  }
  l->inside = calloc(all, sizeof *l->inside);
  l->share = calloc(all, sizeof *l->share);
  l->value = calloc(all, sizeof *l->value);
}

static void fill(lattice *l, const shape *s)
{
  double point[3];
  for (size_t k = 1; k + 1 < l->num[2]; k++)
    for (size_t j = 1; j + 1 < l->num[1]; j++)
      for (size_t i = 1; i + 1 < l->num[0]; i++) {
        place(l, i, j, k, point);
        l->inside[index_of(l, i, j, k)] = shape_distance(s, point) < 0.0;
      }
  const size_t stride[3] = {1, l->num[0], l->num[0] * l->num[1]};
  for (size_t k = 1; k + 1 < l->num[2]; k++)
    for (size_t j = 1; j + 1 < l->num[1]; j++)
      for (size_t i = 1; i + 1 < l->num[0]; i++) {
        const size_t here = index_of(l, i, j, k);
        place(l, i, j, k, point);
        for (int d = 0; l->inside[here] && d < 6; d++)
          l->share[here][d] = l->inside[d % 2 ? here + stride[d / 2] : here - stride[d / 2]] ? 1.0f : (float)crossing(s, point, d, l->h);
      }
}

static double sweep(lattice *l, double over)
{
  const size_t stride[3] = {1, l->num[0], l->num[0] * l->num[1]}, all = l->num[2] * stride[2];
  double most = 0.0;
  for (size_t here = 0; here < all; here++) {
    if (!l->inside[here])
      continue;
    double sum = l->h * l->h, weight = 0.0;
    for (int d = 0; d < 6; d++) {
      const size_t next = d % 2 ? here + stride[d / 2] : here - stride[d / 2];
      weight += 1.0 / (double)l->share[here][d];
      sum += l->inside[next] ? l->value[next] : 0.0;
    }
    const double change = over * (sum / weight - l->value[here]);
    l->value[here] += change;
    most = fmax(most, fabs(change));
  }
  return most;
}

double poisson_largest(const shape *s, int steps)
{
  lattice l;
  double largest = 0.0;
  open_lattice(&l, s, steps);
  fill(&l, s);
  const size_t all = l.num[0] * l.num[1] * l.num[2];
  const double over = 2.0 / (1.0 + 3.0 / (double)steps);
  for (int n = 0; n < 4000; n++) {
    const double change = sweep(&l, over);
    for (size_t i = 0; i < all; i++)
      largest = fmax(largest, l.value[i]);
    if (change < 1e-7 * largest)
      break;
    largest = 0.0;
  }
  free(l.inside);
  free(l.share);
  free(l.value);
  return largest;
}
