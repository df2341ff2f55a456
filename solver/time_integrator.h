/* SUNDIALS CVODES behind one door: BDF with preconditioned Krylov (SPGMR) for the heat balance of a network.
 *
 * The independent second opinion on the stabilised steps: same right-hand side (network_rate; coefficients of the last
 * network_refresh, which the caller makes between steps), other method. The heat of every path is summed with the weights of the
 * very same steps (CVODE's quadrature). What the iterative solve leaves unsolved stands in the nodes as heat that came by no rate:
 * it is counted, and given back evenly over the next steps, so that it does not pile up in the books. */
#ifndef LASTWATER_TIME_INTEGRATOR_H
#define LASTWATER_TIME_INTEGRATOR_H

#include "solver/network.h"

typedef struct time_integrator time_integrator;

/* rel_tol: relative tolerance; enthalpies count from latent_scale (J/m3) upward. Borrows the network. */
status time_integrator_create(time_integrator **out, network *net, double rel_tol, double latent_scale, message *msg);
void time_integrator_destroy(time_integrator **t); /* NULL-safe */

/* Starts afresh at a state (order one, no history), trying first_step (s, 0: its own choice). enthalpy [network_num_nodes], path_heat
 * [network_num_paths]. */
status time_integrator_restart(time_integrator *t, double time, double first_step, const double *enthalpy, const double *path_heat,
                               message *msg);

/* One internal step, not past `stop`; longest (s, 0: none) caps it. enthalpy and path_heat hold the state at *time and, on success,
 * that at the new *time. *open: J in the nodes that came by no rate so far; brought up to date. */
status time_integrator_step(time_integrator *t, double stop, double longest, double *time, double *enthalpy, double *path_heat,
                            double *open, message *msg);
/* Evaluations of the right-hand side, all of them, and failed error tests, since creation. */
/* s, what the next step would be; 0: not known, after a restart. */
double time_integrator_planned_step(const time_integrator *t);

/* Takes `open` out of the enthalpies, evenly by volume; *open: what rounding left of it. A restart must follow. */
void time_integrator_give_back(const time_integrator *t, double *enthalpy, double *open);

void time_integrator_counts(const time_integrator *t, size_t *rate_evaluations, size_t *error_test_failures);

#endif
