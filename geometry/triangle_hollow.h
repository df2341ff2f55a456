/* The room for a liquid in a solid that is drawn with its walls: a cup, a tray, a block with a cavity.
 *
 * Below a level the surface of the solid falls into pieces that hang together there. The level itself closes each of them, and its volume
 * (divergence of (0, 0, z - level)) is below zero for one that looks inward: a pool. Pools end at the rim, where their pieces join those of
 * the outside; the rim taken is the level up to which the most is held. A solid without pools may have hollows closed all round: shells turned
 * inward. Pools and hollows of less than a hundredth of the largest are dents and are left out. */
#ifndef LASTWATER_TRIANGLE_HOLLOW_H
#define LASTWATER_TRIANGLE_HOLLOW_H

#include "geometry/triangle_surface.h"

typedef struct {
  triangle_surface surface; /* of the hollow, looking out of it; above the rim (by eight times the height of the solid) it means nothing */
  bool open;                /* at the top                                             */
  double rim;               /* z; of a closed hollow its highest place                 */
  size_t num;               /* hollows beside each other                               */
} triangle_hollow;

/* solid: z is up. STATUS_BAD_INPUT: it has no hollow; *out is empty. */
status triangle_hollow_find(triangle_hollow *out, const triangle_surface *solid, const char *name, message *msg);

#endif
