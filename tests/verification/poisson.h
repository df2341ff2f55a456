/* The largest value of Phi,  div grad Phi = -1  in a shape, Phi = 0 on its surface: by finite differences on an even lattice that knows nothing
 * of cut cells, each step to the surface as long as it is (Gibou, Fedkiw, Cheng & Kang 2002, J. Comput. Phys. 176:205: second order,
 * symmetric). It shares with the program only the shape's distance. */
#ifndef LASTWATER_TESTS_POISSON_H
#define LASTWATER_TESTS_POISSON_H

#include "geometry/shape.h"

/* m2; `steps` along the longest edge of the shape's box; successive over-relaxation to 1e-7. */
double poisson_largest(const shape *s, int steps);

#endif
