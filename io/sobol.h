/* Points of low discrepancy in the unit cube: the Sobol sequence with the direction numbers of S. Joe and F. Y. Kuo, "Constructing Sobol
 * sequences with better two-dimensional projections", SIAM J. Sci. Comput. 30 (2008) 2635-2654, their table D(6), first dimensions. */
#ifndef LASTWATER_SOBOL_H
#define LASTWATER_SOBOL_H

#include <stddef.h>

enum { SOBOL_DIMENSIONS = 32 };

/* Coordinate `dimension` (0 to SOBOL_DIMENSIONS - 1) of point `index` (0 is the origin), in [0, 1). index < 2^32. */
double sobol_coordinate(size_t dimension, size_t index);

#endif
