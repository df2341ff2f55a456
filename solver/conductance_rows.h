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
/* Motion beside a front. Where it has passed a node's middle the node offers ice, so many nodes of its fall below freezing; that part of the
 * difference to the next node is the ice's, which does not move, and only what is above freezing the liquid's: with the factor F a face carries
 *   G (below + F above),  below = |min(u_i, 0) - min(u_j, 0)|,  above = |max(u_i, 0) - max(u_j, 0)|,  u less u at freezing (front_node.h).
 * With F for all of it a node drew F times its due out of the next one, which froze through while it melted again: plane fronts were 6 and 13 % too deep 13
 * cells from where they began with factors of 3 and 12. warmth[cell]: u less u at freezing, W/m; NAN: it does not freeze sharply. conductances: of the face at rest and with F. */
double conductance_rows_beside_front(double still, double moved, double warmth, double other);
void conductance_rows_meet_front(conductance_rows *c, const double *warmth); /* all rows with motion */
void conductance_rows_still(conductance_rows *c); /* back to factors of 1 */

const heat_flux_rows *conductance_rows_view(const conductance_rows *c);
/* Adds to sum[cell] the conductances of all its regular faces, m, as they stand. */
void conductance_rows_add_sums(const conductance_rows *c, double *sum);

#endif
