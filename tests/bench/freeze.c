#include "tests/bench/freeze.h"

#include <math.h>
#include <stdlib.h>

#include "solver/body_watch.h"
#include "tests/bench/stopwatch.h"

/* The steps of a run of a case: what the end of the freeze allows. */
static status march(body_watch *water, const phase_curve *curve, const network *net, heat_step *step, thermal_state *state, double limit,
                    freeze *out, message *msg)
{
  while (isnan(water->solid_at) && state->time < limit) {
    const status code = heat_step_advance(step, state, fmin(limit - state->time, body_watch_longest_step(water, state->time)), msg);
    if (code != STATUS_OK)
      return code;
    body_watch_update(water, net, curve, heat_step_previous_time(step), heat_step_previous_enthalpy(step), state->time, state->enthalpy);
  }
  const double at[3] = {water->mark[0], water->mark[2], water->solid_at};
  for (int mark = 0; mark < 3; mark++)
    out->hours[mark] = at[mark] / 3600.0;
  out->frozen = water->share;
  return STATUS_OK;
}

/* Heat of all paths less what is stored more, over the heat moved. */
static double ledger_residual(const network *net, const thermal_state *state, double stored_before)
{
  double in = 0.0, moved = 0.0;
  for (size_t path = 0; path < network_num_paths(net); path++) {
    in += state->path_heat[path];
    moved += fabs(state->path_heat[path]);
  }
  return (in - (network_stored_heat(net, state->enthalpy) - stored_before)) / moved;
}

status freeze_run(const freeze_problem *x, integrator_kind integrator, double tolerance, double limit, freeze *out, message *msg)
{
  network *net = NULL;
  heat_step *step = NULL;
  thermal_state state = {0};
  body_watch water = {0};
  const heat_step_options options = {.integrator = integrator, .tolerance = tolerance, .latent_scale = 3.06e8};
  const double start = stopwatch_wall();
  status code = network_create(&net, x->m, x->r, msg);
  if (code == STATUS_OK)
    code = heat_step_create(&step, net, &options, msg);
  if (code == STATUS_OK)
    code = body_watch_create(&water, net, x->water, msg);
  if (code == STATUS_OK) {
    state.enthalpy = calloc(network_num_nodes(net) + 1, sizeof(double));
    state.path_heat = calloc(network_num_paths(net) + 1, sizeof(double));
    if (!state.enthalpy || !state.path_heat)
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory");
  }
  if (code == STATUS_OK) {
    network_initial(net, state.enthalpy);
    const double stored = network_stored_heat(net, state.enthalpy), begin = stopwatch_wall(), begin_processor = stopwatch_processor();
    out->made = begin - start;
    code = march(&water, &x->r->parts[x->water].stuff->curve, net, step, &state, limit, out, msg);
    out->seconds = stopwatch_wall() - begin;
    out->processor = stopwatch_processor() - begin_processor;
    out->residual = ledger_residual(net, &state, stored);
    out->nodes = network_num_nodes(net);
    heat_step_counts(step, &out->steps, &out->rejected, &out->stages);
  }
  body_watch_release(&water);
  free(state.enthalpy);
  free(state.path_heat);
  heat_step_destroy(&step);
  network_destroy(&net);
  return code;
}
