/* The stages of stabilised explicit steps: RKC2 of second order (Sommeijer, Shampine & Verwer 1998, J. Comput. Appl. Math. 88:315) and its like of first order,
 * RKC1 (T_s as it is; from memory, van der Houwen & Sommeijer 1980).
 *
 * s stages of RKC2 multiply what decays at the rate lambda by  1 - b_s T_s(w0) + b_s T_s(w0 - w1 lambda h),  T_s Chebyshev's polynomial, w0 = 1 +
 * damping / s^2, w1 = T_s'(w0) / T_s''(w0), b_j = T_j''(w0) / T_j'(w0)^2, stable up to
 *   lambda h = (w0 + 1) / w1   (there, 2.1)
 * With the usual damping of 2/13 that is 0.65 s^2, but of what should long have decayed up to 0.95 is left; with 2 used here 0.54 s^2 and 0.29 to 0.59 (of five stages 0.33 to 0.61). RKL2 (Meyer, Balsara &
 * Aslam 2014, J. Comput. Phys. 257:594), its like on Legendre's polynomials, reaches (s^2 + s - 2) / 2 and leaves 0.3 to 0.7 of it. What is left stands in nodes just frozen through, from which the next
 * step is found (front_node.h): with 2/13 the exact lines of plane, inward, outward and space freezing lie 5, 6, 2 and -2 % further off than with RKL2 on
 * the average, with 2 by -2, 2, -3 and -2 %. */
#ifndef LASTWATER_STABILISED_H
#define LASTWATER_STABILISED_H

#include <stddef.h>

/* Of stage j: Y_j = mu Y_(j-1) + nu Y_(j-2) + rest Y_0 + rate F(Y_(j-1)) + start_rate F_0. The weights include the time step. */
typedef struct {
  double mu, nu, rest, rate, start_rate;
} stage_weights;

enum { STABILISED_MOST_STAGES = 999 };

/* The largest eigenvalue (1/s) times step (s) at which RKC2 of so many stages (2 or more) is stable. */
double stabilised_reach(size_t stages);
/* The least odd number of stages from 3 that reach it; STABILISED_MOST_STAGES where none does. */
size_t stabilised_stages_for(double eigenvalue_times_step);
/* Fills w[2 .. stages] of RKC2; returns the weight of F_0 in Y_1 = Y_0 + .. F_0, s. */
double stabilised_second_order(size_t stages, double step, stage_weights *w);
/* The same of RKC1, of first order: T_s(w0 - w1 lambda h) / T_s(w0), w1 = T_s(w0) / T_s'(w0), w0 such that of all that decays fast
 * `left` (0 to 1) at most is left. */
double stabilised_first_order(size_t stages, double left, double step, stage_weights *w);
/* The largest eigenvalue times step at which it is stable. */
double stabilised_first_order_reach(size_t stages, double left);

#endif
