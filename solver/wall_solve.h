/* Temperatures of thin conducting walls: one small linear solve for all patches of a rig.
 *
 *   (diagonal_p + sum over links G_pq) T_p - sum over links G_pq T_q = right_side_p
 *
 * The matrix is symmetric, positive definite when every diagonal is above 0. Where patches form chains (a figure of
 * revolution) it is tridiagonal after numbering along the chains, and eliminated here; where chains branch it is banded and factorised
 * once per matrix (SUNDIALS SUNLinSol_Band, LU); for a shell in three dimensions it is solved by Chebyshev's iteration from the
 * temperatures passed in (over the diagonal; to 0.0001 K). The caller must carry the remainder of the iterative solve. */
#ifndef LASTWATER_WALL_SOLVE_H
#define LASTWATER_WALL_SOLVE_H

#include <stdbool.h>

#include "geometry/mesh.h"

typedef struct wall_solve wall_solve;

/* Copies what it needs from links. banded: direct solve; else iteration. Allocates everything. */
status wall_solve_create(wall_solve **out, size_t num_patches, const mesh_patch_link *links, size_t num_links, bool banded,
                         message *msg);
void wall_solve_destroy(wall_solve **w); /* NULL-safe */

/* diagonal[num_patches] > 0, W/K, without the links; link_conductance[num_links] >= 0, W/K. image_conductance[num_patches] >= 0, W/K: of links
 * to a patch's own image beyond a mirror plane, over which no heat passes; they make the iterative solve go the way of the whole's. carried[num_patches] > 0, W/K: the share of the
 * diagonal that ties a patch to its own heat (heat capacity over lag); it measures what the iterative solve may leave over. Factorises. */
typedef struct {
  const double *diagonal, *carried, *link_conductance, *image_conductance;
} wall_solve_coefficients;
status wall_solve_matrix(wall_solve *w, const wall_solve_coefficients *of, message *msg);

/* temperature[num_patches], degC: the first guess on entry, the solution on return. */
status wall_solve_temperatures(wall_solve *w, const double *right_side, double *temperature, message *msg);

#endif
