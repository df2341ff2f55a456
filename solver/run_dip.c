#include "solver/run_dip.h"

#include <stdlib.h>
#include <string.h>

#include "solver/run_parts.h"

status run_dip_allocate(run *x, message *msg)
{
  bool wanted = false;
  for (size_t stage = 0; stage < x->rig->num_stages; stage++)
    wanted = wanted || x->rig->stages[stage].dips;
  if (!wanted)
    return STATUS_OK;
  x->aside_length = network_num_nodes(x->net);
  x->aside = calloc(x->aside_length + 1, sizeof *x->aside);
  return x->aside ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a bath that stands aside", x->aside_length * sizeof *x->aside);
}

static int bath_part(const run *x) { return x->rig->baths[x->rig->stages[x->stage].bath].part; }

/* Sum over the bath's unknowns of V (H - aside), J. */
static double above_aside(const run *x, int part)
{
  const double *volume = network_volume(x->net);
  double heat = 0.0;
  for (size_t i = 0; i < x->aside_length; i++)
    if (network_part(x->net)[i] == part)
      heat += volume[i] * (x->state.enthalpy[i] - x->aside[i]);
  return heat;
}

void run_dip_begin(run *x)
{
  const int part = bath_part(x);
  const double warm = phase_curve_enthalpy(liquids_curve(x->liquids, part), x->rig->stages[x->stage].dip_temperature);
  memcpy(x->aside, x->state.enthalpy, x->aside_length * sizeof *x->aside);
  for (size_t i = 0; i < x->aside_length; i++)
    if (network_part(x->net)[i] == part && network_volume(x->net)[i] > 0.0)
      x->state.enthalpy[i] = warm;
  network_ice_copy(x->net, part, NULL, x->state.enthalpy);
  x->clock[CLOCK_DIPPED] += above_aside(x, part);
}

double run_dip_end(run *x)
{
  const int part = bath_part(x);
  const ledger_mark from = run_parts_mark_at(x, x->stage);
  x->clock[CLOCK_DIPPED] -= above_aside(x, part);
  for (size_t i = 0; i < x->aside_length; i++)
    if (network_part(x->net)[i] == part && network_volume(x->net)[i] > 0.0)
      x->state.enthalpy[i] = x->aside[i];
  network_ice_copy(x->net, part, x->aside, x->state.enthalpy);
  return x->clock[CLOCK_DIPPED] - from.brought[LEDGER_DIPPED];
}
