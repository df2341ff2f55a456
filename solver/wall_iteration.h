/* Chebyshev's iteration for the temperatures of thin walls whose patches branch (wall_solve.h): on the matrix over its diagonal, from a guess. */
#ifndef LASTWATER_WALL_ITERATION_H
#define LASTWATER_WALL_ITERATION_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

typedef struct {
  int32_t row, column; /* places in the solve's own order */
} wall_link_place;

typedef struct wall_iteration wall_iteration;

/* Copies what it needs; NULL: out of memory. */
wall_iteration *wall_iteration_create(size_t num, const wall_link_place *links, size_t num_links);
void wall_iteration_destroy(wall_iteration **w); /* NULL-safe */

/* By place: alone[num], diagonal[num] > 0, W/K, without and with the links; pivot[num] > 0: with those to images, too. weight[num], K/W, of what the
 * iteration leaves over. conductance[num_links], W/K. */
typedef struct {
  const double *alone, *diagonal, *pivot, *weight, *conductance;
} wall_iteration_matrix;
void wall_iteration_set(wall_iteration *w, const wall_iteration_matrix *of);

enum { WALL_ITERATION_LANES = 8 };
/* right, W, becomes the remainder; left, K: the guess on entry, the solution on return. Both have room for num rounded up to a multiple of
 * WALL_ITERATION_LANES, zero beyond num. False: not found to 0.0001 K (weight times remainder), nor nearer than the guess. */
bool wall_iteration_solve(wall_iteration *w, double *right, double *left);

#endif
