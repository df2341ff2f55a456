/* What the swelling of a body does: how hard shut-in water presses, and what it pushes out as dome, bulge or crack. */
#ifndef LASTWATER_RUN_EXPANSION_H
#define LASTWATER_RUN_EXPANSION_H

#include "solver/results.h"

/* Fills pressure, skin_tension and crack_index of the trapped pockets and the dome of the body. open_area, m2: of its surface that faces up to the
 * room (0: none); density, kg/m3 of its mesh volume. A pocket counts as a sphere of its mass whose walls close over its life. */
void run_expansion_body(body_result *body, double open_area, double density);

#endif
