#include "solver/wall_iteration.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/wide.h"

/* K at the patch that has most, at which the iteration stops: what the remainder, kept as heat of the wall, would do to the wall's own temperature within
 * its lag. It then drives the wall back, so it costs no energy and leaves no bias (a cube in a 3 mm shell freezes in the same time to 0.1 % at 1e-4 and
 * at 1e-2). Measured in W instead, it would drown a patch of a few square millimetres, and with it the steps. At 1e-3 K a step answered some of the wall's
 * heat with up to 1.6 times as much the other way, so that an aluminium pot swung by thousandths of a kelvin from step to step; at 1e-4 that dies away.
 * Half a rig behind a mirror plane has the remainder of the whole, since the iteration is the same whatever it meets. Conjugate gradients fit themselves to
 * what they find, and let grow what they do not: in an aluminium box of water that moved the rounding by which its two sides differ grew 10 to 20
 * times a step, until walls beside the plane differed by as much as is left over. */
static const double SOLVE_ERROR = 1e-4;
enum { MOST_ITERATIONS = 400, WIDEN_AFTER = 20 };
static const double WIDEN_BY = 0.25; /* of the bound of the least modes, where they are slower than it says */

/* Rows are taken in strips of LANES side by side, each strip as deep as the row of it that has most links; shorter rows are filled up with links of
 * no conductance to themselves. The links of a row keep their order. */
enum { LANES = WALL_ITERATION_LANES, PARTS = LANES / WIDE };

typedef struct {
  int32_t other[LANES];
  double conductance[LANES];
} layer; /* one link of every row of a strip */

struct wall_iteration {
  size_t num, num_strips, num_links;
  size_t *first;              /* [num_strips + 1] layers of each strip */
  layer *layers;
  uint32_t *slot;             /* [2 num_links] LANES times the layer, and the lane, of each end of a link */
  /* [LANES num_strips], zero beyond num */
  double *diagonal, *inverse; /* W/K, and 1 / (the diagonal with the links to images) */
  double *weight;             /* K/W, of a remainder                                  */
  double *along[2];           /* K, the way of this iteration and of the next         */
  double most, least;         /* eigenvalues of the matrix over its diagonal          */
};

/* ------------------------------------------------------------------------------------------- making */

/* How many links each row has, then where each link of it lies. */
static bool place_links(wall_iteration *w, const wall_link_place *links)
{
  uint32_t *filled = calloc(LANES * w->num_strips + 1, sizeof *filled);
  if (!filled)
    return false;
  for (size_t l = 0; l < w->num_links; l++)
    filled[links[l].row]++, filled[links[l].column]++;
  for (size_t s = 0; s < w->num_strips; s++) {
    uint32_t depth = 0;
    for (size_t row = LANES * s; row < LANES * (s + 1); row++) {
      depth = filled[row] > depth ? filled[row] : depth;
      filled[row] = 0;
    }
    w->first[s + 1] = w->first[s] + depth;
  }
  w->layers = calloc(w->first[w->num_strips] + 1, sizeof *w->layers);
  for (size_t s = 0; w->layers && s < w->num_strips; s++)
    for (size_t n = w->first[s]; n < w->first[s + 1]; n++)
      for (size_t lane = 0; lane < LANES; lane++)
        w->layers[n].other[lane] = (int32_t)(LANES * s + lane);
  for (size_t l = 0; w->layers && l < w->num_links; l++)
    for (size_t side = 0; side < 2; side++) {
      const size_t row = (size_t)(side == 0 ? links[l].row : links[l].column), n = w->first[row / LANES] + filled[row]++;
      w->layers[n].other[row % LANES] = side == 0 ? links[l].column : links[l].row;
      w->slot[2 * l + side] = (uint32_t)(LANES * n + row % LANES);
    }
  free(filled);
  return w->layers != NULL;
}

wall_iteration *wall_iteration_create(size_t num, const wall_link_place *links, size_t num_links)
{
  wall_iteration *w = calloc(1, sizeof *w);
  if (!w)
    return NULL;
  w->num = num;
  w->num_strips = (num + LANES - 1) / LANES;
  w->num_links = num_links;
  w->first = calloc(w->num_strips + 1, sizeof *w->first);
  w->slot = calloc(2 * num_links + 1, sizeof *w->slot);
  double **array[] = {&w->diagonal, &w->inverse, &w->weight, &w->along[0], &w->along[1]};
  bool ok = w->first && w->slot;
  for (size_t a = 0; a < sizeof array / sizeof *array; a++)
    ok = (*array[a] = calloc(LANES * w->num_strips + 1, sizeof(double))) != NULL && ok;
  if (!ok || !place_links(w, links))
    wall_iteration_destroy(&w);
  return w;
}

void wall_iteration_destroy(wall_iteration **w)
{
  if (!*w)
    return;
  wall_iteration *x = *w;
  void *owned[] = {x->first, x->layers, x->slot, x->diagonal, x->inverse, x->weight, x->along[0], x->along[1]};
  for (size_t n = 0; n < sizeof owned / sizeof *owned; n++)
    free(owned[n]);
  free(x);
  *w = NULL;
}

/* ------------------------------------------------------------------------------------------- the matrix */

/* Bounds of the eigenvalues of the matrix over its diagonal: none is above `most` (Gershgorin's circles). Modes below `least`, what a wall of one temperature
 * would have, come slower; none grows. */
static void find_bounds(wall_iteration *w, const double *alone)
{
  double own = 0.0, all = 0.0;
  w->most = 0.0;
  for (size_t p = 0; p < w->num; p++) {
    const double with_links = 1.0 / w->inverse[p], most = 2.0 - alone[p] / with_links;
    w->most = most > w->most ? most : w->most;
    own += alone[p];
    all += with_links;
  }
  w->least = own / all;
  if (w->least > 0.9 * w->most)
    w->least = 0.9 * w->most;
}

void wall_iteration_set(wall_iteration *w, const wall_iteration_matrix *of)
{
  memcpy(w->diagonal, of->diagonal, w->num * sizeof *w->diagonal);
  memcpy(w->weight, of->weight, w->num * sizeof *w->weight);
  for (size_t p = 0; p < w->num; p++)
    w->inverse[p] = 1.0 / of->pivot[p];
  for (size_t n = 0; n < 2 * w->num_links; n++)
    w->layers[w->slot[n] / LANES].conductance[w->slot[n] % LANES] = of->conductance[n / 2];
  find_bounds(w, of->alone);
}

/* ------------------------------------------------------------------------------------------- solving */

/* Of one iteration: the ways of this one and of the next, which is keep times this one and take times the remainder over the pivot. */
typedef struct {
  const double *along;
  double *next, keep, take;
} way;

/* Values of the patches that a layer leads to. */
static inline wide values_at(const double *values, const int32_t *place)
{
  wide found;
  for (size_t l = 0; l < WIDE; l++)
    found[l] = values[place[l]];
  return found;
}

static inline wide larger_size(wide most, wide value)
{
  const wide_masks size = (wide_masks)value & INT64_MAX, larger = (wide)size > most;
  return (wide)((size & larger) | ((wide_masks)most & ~larger));
}

/* remainder -= matrix times v->along, for all rows; v->next from it. Returns what the remainder does to the patch it does most to, K. */
static double go(wall_iteration *w, const way *v, double *remainder)
{
  wide most[PARTS] = {{0.0}};
  for (size_t s = 0; s < w->num_strips; s++) {
    wide image[PARTS];
    for (size_t part = 0, at = LANES * s; part < PARTS; part++, at += WIDE)
      image[part] = wide_read(w->diagonal + at) * wide_read(v->along + at);
    for (const layer *n = w->layers + w->first[s]; n < w->layers + w->first[s + 1]; n++)
      for (size_t part = 0; part < PARTS; part++)
        image[part] -= wide_read(n->conductance + WIDE * part) * values_at(v->along, n->other + WIDE * part);
    for (size_t part = 0, at = LANES * s; part < PARTS; part++, at += WIDE) {
      const wide left_over = wide_read(remainder + at) - image[part];
      wide_write(remainder + at, left_over);
      most[part] = larger_size(most[part], left_over * wide_read(w->weight + at));
      wide_write(v->next + at, v->keep * wide_read(v->along + at) + v->take * wide_read(w->inverse + at) * left_over);
    }
  }
  double largest = 0.0;
  for (size_t part = 0; part < PARTS; part++)
    for (size_t l = 0; l < WIDE; l++)
      largest = most[part][l] > largest ? most[part][l] : largest;
  return largest;
}

/* Weights of Chebyshev's iteration (Saad 2003, Iterative Methods for Sparse Linear Systems, algorithm 12.1), one iteration after the other. */
typedef struct {
  double least, centre, half_width, share, keep, take;
} weights;

static void next_weights(weights *c, double most, int iteration)
{
  if (iteration % WIDEN_AFTER == 0) {
    c->least = iteration > 0 ? WIDEN_BY * c->least : c->least;
    c->centre = 0.5 * (most + c->least);
    c->half_width = 0.5 * (most - c->least);
    c->share = c->half_width / c->centre;
    c->keep = 0.0;
    c->take = 1.0 / c->centre;
    return;
  }
  const double next = 1.0 / (2.0 * c->centre / c->half_width - c->share);
  c->keep = next * c->share;
  c->take = 2.0 * next / c->half_width;
  c->share = next;
}

bool wall_iteration_solve(wall_iteration *w, double *right, double *left)
{
  weights c = {.least = w->least};
  next_weights(&c, w->most, 0);
  const double first_error = go(w, &(way){.along = left, .next = w->along[0], .keep = c.keep, .take = c.take}, right);
  double error = first_error;
  for (int i = 0; error > SOLVE_ERROR && i < MOST_ITERATIONS; i++) {
    const double *restrict along = w->along[i % 2];
    for (size_t p = 0; p < w->num; p++)
      left[p] += along[p];
    next_weights(&c, w->most, i + 1);
    error = go(w, &(way){.along = along, .next = w->along[1 - i % 2], .keep = c.keep, .take = c.take}, right);
  }
  return error <= SOLVE_ERROR || error < first_error; /* what is left stays in the wall as heat */
}
