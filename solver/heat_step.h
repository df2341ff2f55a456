/* One accepted step of the heat balance, by the stabilised integrator (RKC2 with a tail of RKC1, stabilised.h) or by SUNDIALS CVODE (BDF,
 * preconditioned Krylov) on the same right-hand side.
 *
 * The heat moved along each path is carried as further unknowns with the same stage weights, so that the ledger closes to
 * rounding without any term being a difference of others. */
#ifndef LASTWATER_HEAT_STEP_H
#define LASTWATER_HEAT_STEP_H

#include "solver/network.h"

typedef struct heat_step heat_step;

typedef struct {
  integrator_kind integrator;
  double tolerance;     /* see rig_control; 0: the default */
  double latent_scale;  /* J/m3, what the error is measured against */
  double longest_step;  /* s, 0: none */
} heat_step_options;

typedef struct {        /* the marching state; arrays owned by whoever made it */
  double time;          /* s */
  double *enthalpy;     /* [num_nodes] J/m3 */
  double *path_heat;    /* [num_paths] J since the start */
  double next_step;     /* s, what the controller would try next; 0 at the start: first step 1 s */
  double last_error;    /* controller memory */
  int nodes_ahead;      /* how far the next refresh looks ahead of a front (front_cells.h), from its depth at the step before; 0 at the start */
  double open;          /* J, bdf only: heat that stands in the nodes and came by no rate, to be given back (time_integrator.h) */
} thermal_state;

/* Allocates every workspace; borrows the network. */
status heat_step_create(heat_step **out, network *net, const heat_step_options *options, message *msg);
void heat_step_destroy(heat_step **s);

/* Steps are a whole number of sixty-fourths of a power of two (1 % shorter on the average), so that rigs that are alike but for
 * the last digits, one behind a mirror plane and the whole, take the same ones; a step's own error is far larger than those digits. The longest such
 * step, s, that is no longer; one that is infinite is handed back. */
double heat_step_rung_below(double step);

/* Takes one accepted step, at most `most` seconds long (> 0), landing exactly on time + most when it is shorter than the controller
 * would go. Rejected tries are repeated inside with a smaller step. Afterwards: state->time, enthalpy, path_heat advanced;
 * heat_step_previous_enthalpy gives the state before. STATUS_FAILED says node, place, time, step, and what to try. */
status heat_step_advance(heat_step *s, thermal_state *state, double most, message *msg);
const double *heat_step_previous_enthalpy(const heat_step *s);
double heat_step_previous_time(const heat_step *s);
/* Rates dH/dt at the start of the last step (for sub-step crossings), J/(m3 s). */
const double *heat_step_rate_before(const heat_step *s);
/* Undo the last step (the caller changed a coefficient and wants it repeated). */
void heat_step_undo(heat_step *s, thermal_state *state);
/* bdf: takes the open heat out of the nodes, evenly, so that state and sums of the paths agree to rounding; it has then forgotten its history. For
 * where the books are looked at. */
void heat_step_settle(heat_step *s, thermal_state *state);
/* Forget all history (events, checkpoints): the next step starts as after a restart. */
void heat_step_restart(heat_step *s);
void heat_step_counts(const heat_step *s, size_t *steps, size_t *rejected, size_t *stages);

#endif
