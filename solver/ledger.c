#include "solver/ledger.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Of the heat that the parts hold: what is done at once moves next to none, and its rounding is that of what is held. */
static const double NEXT_TO_NOTHING = 1e-5;

size_t ledger_mark_size(const network *net, const rig *r)
{
  return network_num_paths(net) + r->num_parts + 1;
}

ledger_mark ledger_mark_in(double *memory, const network *net)
{
  return (ledger_mark){.path_heat = memory, .carried = memory + network_num_paths(net), .part_heat = memory + network_num_paths(net) + 1};
}

void ledger_mark_take(ledger_mark *mark, const network *net, const rig *r, const thermal_state *state, double carried)
{
  *mark->carried = carried;
  memcpy(mark->path_heat, state->path_heat, network_num_paths(net) * sizeof *mark->path_heat);
  for (size_t part = 0; part < r->num_parts; part++)
    mark->part_heat[part] = network_part_heat(net, state->enthalpy, (int)part);
}

status ledger_between(heat_ledger *out, const network *net, const rig *r, const ledger_mark *from, const ledger_mark *to,
                      message *msg)
{
  const double carried = *to->carried - *from->carried;
  const size_t of_network = network_num_paths(net), num_paths = of_network + (carried != 0.0 ? 1 : 0), num = num_paths + r->num_parts;
  ledger_entry *entries = calloc(num + 1, sizeof *entries);
  if (!entries)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the heat ledger", (num + 1) * sizeof *entries);

  double moved = 0.0, net_in = 0.0, stored = 0.0, held = 0.0;
  for (size_t path = 0; path < of_network; path++) {
    ledger_entry *entry = &entries[path];
    (void)snprintf(entry->name, sizeof entry->name, "%s", network_path_name(net, path));
    entry->joules = to->path_heat[path] - from->path_heat[path];
    net_in += entry->joules;
    moved += fabs(entry->joules);
  }
  if (num_paths > of_network) {
    (void)snprintf(entries[of_network].name, sizeof entries[of_network].name, "%s", LEDGER_CARRIED);
    entries[of_network].joules = carried;
    net_in += carried;
    moved += fabs(carried);
  }
  for (size_t part = 0; part < r->num_parts; part++) {
    ledger_entry *entry = &entries[num_paths + part];
    (void)snprintf(entry->name, sizeof entry->name, "stored in %s", r->parts[part].name);
    entry->joules = to->part_heat[part] - from->part_heat[part];
    stored += entry->joules;
    moved += fabs(entry->joules);
    held += fabs(to->part_heat[part]);
  }
  free(out->entries);
  *out = (heat_ledger){.num = num, .entries = entries, .num_paths = num_paths,
                       .residual_relative = moved > 0.0 ? 2.0 * (net_in - stored) / fmax(moved, NEXT_TO_NOTHING * held) : 0.0};
  return STATUS_OK;
}

void ledger_release(heat_ledger *l)
{
  free(l->entries);
  *l = (heat_ledger){0};
}
