#include "solver/body_watch.h"

#include <math.h>
#include <stdlib.h>

const double body_watch_share_of_mark[BODY_WATCH_MARKS] = {0.5, 0.9, 0.99};

status body_watch_create(body_watch *b, const network *net, int part, message *msg)
{
  *b = (body_watch){.part = part, .solid_at = NAN};
  for (int i = 0; i < BODY_WATCH_MARKS; i++)
    b->mark[i] = NAN;
  size_t num = 0;
  const double *volume = network_volume(net);
  for (size_t node = 0; node < network_num_nodes(net); node++)
    num += network_part(net)[node] == part && volume[node] > 0.0;
  b->nodes = malloc((num + 1) * sizeof *b->nodes);
  if (!b->nodes)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the nodes of a body", (num + 1) * sizeof *b->nodes);
  for (size_t node = 0; node < network_num_nodes(net); node++)
    if (network_part(net)[node] == part && volume[node] > 0.0) {
      b->nodes[b->num_nodes++] = (int32_t)node;
      b->volume += volume[node];
    }
  return STATUS_OK;
}

void body_watch_release(body_watch *b)
{
  free(b->nodes);
  *b = (body_watch){0};
}

double body_watch_share(const body_watch *b, const network *net, const phase_curve *curve, const double *enthalpy)
{
  double ice = 0.0;
  for (size_t i = 0; i < b->num_nodes; i++) {
    const size_t node = (size_t)b->nodes[i];
    ice += network_volume(net)[node] * (1.0 - phase_curve_liquid_fraction(curve, enthalpy[node]));
  }
  return b->volume > 0.0 ? ice / b->volume : 0.0;
}

double body_watch_completion(const body_watch *b, const phase_curve *curve, double t0, const double *before, double t1,
                             const double *after)
{
  const double solid = curve->solid_enthalpy;
  double last = NAN;
  for (size_t i = 0; i < b->num_nodes; i++) {
    const size_t node = (size_t)b->nodes[i];
    if (after[node] > solid)
      return NAN;
    if (before[node] > solid) {
      const double crossing = t0 + (t1 - t0) * (before[node] - solid) / (before[node] - after[node]);
      if (!(crossing <= last))
        last = crossing;
    }
  }
  return last;
}

void body_watch_update(body_watch *b, const network *net, const phase_curve *curve, double t0, const double *before, double t1,
                       const double *after)
{
  const double old_share = b->share, new_share = body_watch_share(b, net, curve, after);
  for (int i = 0; i < BODY_WATCH_MARKS; i++) {
    const double wanted = body_watch_share_of_mark[i];
    if (isnan(b->mark[i]) && old_share < wanted && new_share >= wanted)
      b->mark[i] = t0 + (t1 - t0) * (wanted - old_share) / (new_share - old_share);
  }
  const double completion = body_watch_completion(b, curve, t0, before, t1, after);
  if (!isnan(completion))
    b->solid_at = completion;
  else if (new_share < 1.0)
    b->solid_at = NAN;
  b->share = new_share;
}
