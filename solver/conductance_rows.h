/* The regular faces of a mesh as rows for the sweep: equal rows are kept once, so that on a grid of long uniform stretches
 * the conductances stay in cache and cost no memory traffic. Liquid in motion needs rows of its own: a working copy. */
#ifndef LASTWATER_CONDUCTANCE_ROWS_H
#define LASTWATER_CONDUCTANCE_ROWS_H

#include <stdbool.h>
#include <stdint.h>

#include "solver/heat_flux.h"

typedef struct conductance_rows conductance_rows;

/* values[num_rows * length]: one that differs from that of the cell before, or of the row before, by the rounding of the grid's edges only
 * (1e-12 of it) is made the same, so that rows are even and equal. */
void conductance_rows_even_out(double *values, size_t num_rows, size_t length);

/* inverse_volume: [>= num_cells], after pooling. pooled[part]: that part's faces are left out. with_motion: room for the working copy. */
status conductance_rows_create(conductance_rows **out, const mesh *m, const double *inverse_volume, const bool *pooled,
                               bool with_motion, message *msg);
void conductance_rows_destroy(conductance_rows **c); /* NULL-safe */

/* Multiplies the faces by the factors of network.h; liquid[cell]: the node holds liquid. False: no working copy. */
bool conductance_rows_move(conductance_rows *c, const double *horizontal, const double *vertical, const bool *liquid);
void conductance_rows_still(conductance_rows *c); /* back to factors of 1 */

const heat_flux_rows *conductance_rows_view(const conductance_rows *c);
/* Adds to sum[cell] the conductances of all its regular faces, m, as they stand. */
void conductance_rows_add_sums(const conductance_rows *c, double *sum);

#endif
