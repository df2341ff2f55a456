/* Steady conduction over a mesh's faces and interfaces, for tests: does the mesh conduct as the body it stands for does? */
#ifndef LASTWATER_TESTS_STEADY_H
#define LASTWATER_TESTS_STEADY_H

#include "geometry/mesh.h"

typedef struct {
  const mesh *m;
  const double *conductivity;     /* [num_parts] W/(m K), of walls too                            */
  const double *held_temperature; /* [num_parts + 1] degC of held parts; the last: the room; NAN: insulated */
  double source;                  /* W/m3 in all nodes                                            */
  const bool *fixed;              /* [num_nodes] may be NULL: nodes whose temperature is given    */
} steady_problem;

/* Solves for temperature[num_nodes] by conjugate gradients (start values are read); returns the number of iterations,
 * 0 when it did not get there. */
int steady_solve(const steady_problem *p, double *temperature);

/* Heat rate, W, through an interface from side 0 to side 1. */
double steady_interface_heat(const steady_problem *p, const mesh_interface *f, const double *temperature);

#endif
