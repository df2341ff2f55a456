/* SUNDIALS CVODE behind one door: BDF with preconditioned Krylov (SPGMR) for the heat balance of a network.
 *
 * The independent second opinion on the stabilised steps: same right-hand side (network_rate, with network_refresh at every
 * evaluation, so nothing is frozen over a step), other method. The heat of every path is an unknown of the same system. */
#ifndef LASTWATER_TIME_INTEGRATOR_H
#define LASTWATER_TIME_INTEGRATOR_H

#include "solver/network.h"

typedef struct time_integrator time_integrator;

/* rel_tol: relative tolerance; enthalpies count from latent_scale (J/m3) upward. Borrows the network. */
status time_integrator_create(time_integrator **out, network *net, double rel_tol, double latent_scale, message *msg);
void time_integrator_destroy(time_integrator **t); /* NULL-safe */

/* Starts afresh at a state (order one, no history). enthalpy [network_num_nodes], path_heat [network_num_paths]. */
status time_integrator_restart(time_integrator *t, double time, const double *enthalpy, const double *path_heat, message *msg);

/* One internal step, not past `stop`; longest (s, 0: none) caps it. On success fills the state at *time. */
status time_integrator_step(time_integrator *t, double stop, double longest, double *time, double *enthalpy, double *path_heat,
                            message *msg);
void time_integrator_counts(const time_integrator *t, size_t *rate_evaluations, size_t *error_test_failures);

#endif
