/* A front through every third of some nodes or so, of every kind: from a surface, the last of its water, plain. */
#ifndef LASTWATER_SOME_FRONT_H
#define LASTWATER_SOME_FRONT_H

#include "solver/heat_potential.h"

double some_front_chance(unsigned *seed); /* 0 .. 1 */
/* ramps[nodes] by rising node; returns how many. */
size_t some_front_make(heat_potential_ramp *ramps, int32_t nodes, unsigned *seed);
/* J/m3: ice, a front, or water. */
double some_front_enthalpy(unsigned *seed);
/* What a node offers, by itself. */
double some_front_potential(const phase_curve *c, const heat_potential_ramp *ramps, size_t num, int32_t node, double enthalpy);

#endif
