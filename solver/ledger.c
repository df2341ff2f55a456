#include "solver/ledger.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

size_t ledger_mark_size(const network *net, const rig *r)
{
  return network_num_paths(net) + r->num_parts;
}

ledger_mark ledger_mark_in(double *memory, const network *net)
{
  return (ledger_mark){.path_heat = memory, .part_heat = memory + network_num_paths(net)};
}

void ledger_mark_take(ledger_mark *mark, const network *net, const rig *r, const thermal_state *state)
{
  memcpy(mark->path_heat, state->path_heat, network_num_paths(net) * sizeof *mark->path_heat);
  for (size_t part = 0; part < r->num_parts; part++)
    mark->part_heat[part] = network_part_heat(net, state->enthalpy, (int)part);
}

status ledger_between(heat_ledger *out, const network *net, const rig *r, const ledger_mark *from, const ledger_mark *to,
                      message *msg)
{
  const size_t num_paths = network_num_paths(net), num = num_paths + r->num_parts;
  ledger_entry *entries = calloc(num + 1, sizeof *entries);
  if (!entries)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the heat ledger", (num + 1) * sizeof *entries);

  double moved = 0.0, net_in = 0.0, stored = 0.0;
  for (size_t path = 0; path < num_paths; path++) {
    ledger_entry *entry = &entries[path];
    (void)snprintf(entry->name, sizeof entry->name, "%s", network_path_name(net, path));
    entry->joules = to->path_heat[path] - from->path_heat[path];
    net_in += entry->joules;
    moved += fabs(entry->joules);
  }
  for (size_t part = 0; part < r->num_parts; part++) {
    ledger_entry *entry = &entries[num_paths + part];
    (void)snprintf(entry->name, sizeof entry->name, "stored in %s", r->parts[part].name);
    entry->joules = to->part_heat[part] - from->part_heat[part];
    stored += entry->joules;
    moved += fabs(entry->joules);
  }
  free(out->entries);
  *out = (heat_ledger){.num = num, .entries = entries, .num_paths = num_paths,
                       .residual_relative = moved > 0.0 ? 2.0 * (net_in - stored) / moved : 0.0};
  return STATUS_OK;
}

void ledger_release(heat_ledger *l)
{
  free(l->entries);
  *l = (heat_ledger){0};
}
