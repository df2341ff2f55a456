/* A few nonlinear equations in as many unknowns: SUNDIALS KINSOL (Newton with line search, dense Jacobian by differences) behind one door.
 *
 * A problem is a struct whose first member is a nonlinear_problem; its residual function finds its own data from there:
 *   typedef struct { nonlinear_problem base; double a; } my_problem;
 *   static status my_residual(const nonlinear_problem *p, const double *x, double *f)
 *   { const my_problem *m = (const my_problem *)p; ... } */
#ifndef LASTWATER_NONLINEAR_SOLVE_H
#define LASTWATER_NONLINEAR_SOLVE_H

#include <stddef.h>

#include "io/status.h"

typedef struct nonlinear_problem nonlinear_problem;
struct nonlinear_problem {
  size_t num;                /* equations and unknowns */
  /* Fills f[num] from x[num]; STATUS_RETRY asks for another x (outside the range of the physics), negative stops. */
  status (*residual)(const nonlinear_problem *self, const double *x, double *f);
  const double *unknown_scale;  /* [num] > 0, a typical size of each unknown         */
  const double *residual_scale; /* [num] > 0, what counts as one unit of each residual */
  double tolerance;             /* largest |f| / residual_scale at the end            */
};

/* x[num]: first guess in, solution out (untouched on failure). STATUS_FAILED says why it stopped. */
status nonlinear_solve(const nonlinear_problem *problem, double *x, message *msg);

#endif
