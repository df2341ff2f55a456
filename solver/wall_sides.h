/* The two sides of thin walls as the march reads them: sides that stand before nodes packed one after the other by patch, sides that
 * stand before surroundings summed, for their heat is affine in the one temperature of the patch.
 *
 * Into the wall flow  q = a u_node + o - g T  from a node and  Q = O - G T  from all surroundings of one ledger path; of the latter
 * moisture brings  sum of m0 + m1 q. */
#ifndef LASTWATER_WALL_SIDES_H
#define LASTWATER_WALL_SIDES_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "io/status.h"

typedef struct { int32_t i, patch, path, moist_path; double a, o, g, m0, m1; } wall_link;
                                                                     /* q into the wall = a u_i + o - g T_w; i -1: environment */

typedef struct wall_sides wall_sides;

/* Which link stands where is fixed here, coefficients come with _refresh. inverse_volume: [> every i], 1/m3. place[> every i]: where the potential of
 * a node lies, those of nodes beside each other in the grid being far apart. */
status wall_sides_create(wall_sides **out, const wall_link *links, size_t num_links, size_t num_patches, const double *inverse_volume,
                         const int32_t *place, message *msg);
void wall_sides_destroy(wall_sides **s); /* NULL-safe */
void wall_sides_refresh(wall_sides *s, const wall_link *links);

/* right[patch] += sum of a u + o over its sides, W; potential by place. */
void wall_sides_offer(const wall_sides *s, const double *potential, double *right);
/* heat[patch] += sum of q, W; target[node], or by place, -= scale q / V; path_rate[path] += what its surroundings give, W. */
void wall_sides_exchange(const wall_sides *s, const double *potential, const double *temperature, double scale, double *heat,
                         double *target, bool by_place, double *path_rate);

#endif
