#include "solver/ledger.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double ROUNDED = 1.8e-15; /* of the heat held, by one evaluation: 8 times the distance of doubles at 1 */
static const double ADDED = 1.5e-14;   /* of the heat held, when it is summed over the nodes                     */
static const double CLOSES = 1e-9;

const char *const ledger_brought[LEDGER_BROUGHT] = {"water and ice poured", "salt dissolving", "warm water dip"};

size_t ledger_mark_size(const network *net, const rig *r)
{
  return network_num_paths(net) + 2 * r->num_parts + LEDGER_BROUGHT + 1;
}

ledger_mark ledger_mark_in(double *memory, const network *net, const rig *r)
{
  double *parts = memory + network_num_paths(net);
  return (ledger_mark){.path_heat = memory, .part_heat = parts, .latent = parts + r->num_parts, .brought = parts + 2 * r->num_parts,
                       .rounds = parts + 2 * r->num_parts + LEDGER_BROUGHT};
}

void ledger_mark_take(ledger_mark *mark, const network *net, const rig *r, const thermal_state *state, const double *latent,
                      const double brought[LEDGER_BROUGHT], double rounds)
{
  *mark->rounds = rounds;
  memcpy(mark->brought, brought, LEDGER_BROUGHT * sizeof *brought);
  memcpy(mark->latent, latent, r->num_parts * sizeof *latent);
  memcpy(mark->path_heat, state->path_heat, network_num_paths(net) * sizeof *mark->path_heat);
  for (size_t part = 0; part < r->num_parts; part++)
    mark->part_heat[part] = network_part_heat(net, state->enthalpy, (int)part);
}

static void add_entry(heat_ledger *l, const char *before, const char *name, double joules)
{
  ledger_entry *e = &l->entries[l->num++];
  (void)snprintf(e->name, sizeof e->name, "%s%s", before, name);
  e->joules = joules;
}

status ledger_between(heat_ledger *out, const network *net, const rig *r, const ledger_mark *from, const ledger_mark *to,
                      message *msg)
{
  heat_ledger made = {.entries = calloc(network_num_paths(net) + LEDGER_BROUGHT + r->num_parts + 1, sizeof *made.entries)};
  if (!made.entries)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: the heat ledger of %zu parts", r->num_parts);
  for (size_t path = 0; path < network_num_paths(net); path++)
    add_entry(&made, "", network_path_name(net, path), to->path_heat[path] - from->path_heat[path]);
  for (int i = 0; i < LEDGER_BROUGHT; i++)
    if (to->brought[i] != from->brought[i])
      add_entry(&made, "", ledger_brought[i], to->brought[i] - from->brought[i]);
  made.num_paths = made.num;
  double both = 0.0, net_in = 0.0, stored = 0.0, held = 0.0;
  for (size_t part = 0; part < r->num_parts; part++) {
    add_entry(&made, "stored in ", r->parts[part].name, to->part_heat[part] - from->part_heat[part]);
    made.entries[made.num - 1].latent = to->latent[part] - from->latent[part];
    held += fabs(to->part_heat[part]);
  }
  for (size_t i = 0; i < made.num; i++) {
    *(i < made.num_paths ? &net_in : &stored) += made.entries[i].joules;
    both += fabs(made.entries[i].joules);
  }
  const double moved = 0.5 * both; /* it stands on both sides of the books */
  const double rounding = (ADDED + ROUNDED * (*to->rounds - *from->rounds)) * held;
  made.residual_relative = moved > 0.0 ? (net_in - stored) / fmax(moved, rounding / CLOSES) : 0.0;
  free(out->entries);
  *out = made;
  return STATUS_OK;
}

void ledger_release(heat_ledger *l)
{
  free(l->entries);
  *l = (heat_ledger){0};
}
