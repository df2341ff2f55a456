#include "tests/bench/freeze.h"

#include <math.h>
#include <stdlib.h>

#include "tests/bench/stopwatch.h"

typedef struct {
  const phase_curve *curve;
  const double *volume;
  int32_t *node; /* [num] of the water */
  size_t num;
} water_nodes;

static status find_water(const freeze_problem *x, water_nodes *w, message *msg)
{
  *w = (water_nodes){.curve = &x->r->parts[x->water].stuff->curve, .volume = x->m->volume};
  w->node = malloc((x->m->num_nodes + 1) * sizeof *w->node);
  if (!w->node)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory");
  for (size_t node = 0; node < x->m->num_nodes; node++)
    if (x->m->part[node] == x->water && x->m->volume[node] > 0.0)
      w->node[w->num++] = (int32_t)node;
  return STATUS_OK;
}

/* Ice share of the water; *least_frozen: the largest enthalpy of a water node, J/m3. */
static double frozen_share(const water_nodes *w, const double *enthalpy, double *least_frozen)
{
  double ice = 0.0, all = 0.0, least = -INFINITY;
  for (size_t n = 0; n < w->num; n++) {
    const int32_t node = w->node[n];
    all += w->volume[node];
    ice += w->volume[node] * (1.0 - phase_curve_liquid_fraction(w->curve, enthalpy[node]));
    least = enthalpy[node] > least ? enthalpy[node] : least;
  }
  *least_frozen = least;
  return ice / all;
}

static status march(const water_nodes *w, heat_step *step, thermal_state *state, double limit, freeze *out, message *msg)
{
  const double solid = w->curve->solid_enthalpy;
  double least = 0.0, share = frozen_share(w, state->enthalpy, &least);
  for (int mark = 0; mark < 3; mark++)
    out->hours[mark] = NAN;
  while (least > solid && state->time < limit) {
    const double share_before = share, least_before = least, before = state->time;
    const double most = share > 0.985 ? 60.0 : limit - state->time;
    const status code = heat_step_advance(step, state, most < limit - before ? most : limit - before, msg);
    if (code != STATUS_OK)
      return code;
    share = frozen_share(w, state->enthalpy, &least);
    const double wanted[2] = {0.5, 0.99};
    for (int mark = 0; mark < 2; mark++)
      if (share_before < wanted[mark] && share >= wanted[mark])
        out->hours[mark] = (before + (state->time - before) * (wanted[mark] - share_before) / (share - share_before)) / 3600.0;
    if (least <= solid)
      out->hours[2] = (before + (state->time - before) * (least_before - solid) / (least_before - least)) / 3600.0;
  }
  out->frozen = share;
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
  water_nodes water = {0};
  const heat_step_options options = {.integrator = integrator, .tolerance = tolerance, .latent_scale = 3.06e8};
  const double start = stopwatch_wall();
  status code = network_create(&net, x->m, x->r, msg);
  if (code == STATUS_OK)
    code = heat_step_create(&step, net, &options, msg);
  if (code == STATUS_OK)
    code = find_water(x, &water, msg);
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
    code = march(&water, step, &state, limit, out, msg);
    out->seconds = stopwatch_wall() - begin;
    out->processor = stopwatch_processor() - begin_processor;
    out->residual = ledger_residual(net, &state, stored);
    out->nodes = network_num_nodes(net);
    heat_step_counts(step, &out->steps, &out->rejected, &out->stages);
  }
  free(water.node);
  free(state.enthalpy);
  free(state.path_heat);
  heat_step_destroy(&step);
  network_destroy(&net);
  return code;
}
