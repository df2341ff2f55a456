#include "solver/body_watch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/heat_flux.h"

static const double NEARLY_FROZEN = 0.985;
static const double STEP_OF_REMAINING = 0.15;   /* of the time that the rest needs at the pace of the last step */
static const double FINEST_STEP = 60.0;         /* s: near the end a step need not be shorter */
static const double FINEST_OF_ELAPSED = 0.002;  /* nor than this share of the time so far */
static const double SHORTEST_STEP = 0.1;        /* s */

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
  b->ice = malloc((num / BODY_WATCH_BLOCK + 1) * sizeof *b->ice);
  if (!b->nodes || !b->ice)
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
  free(b->ice);
  *b = (body_watch){0};
}

static double ice_of_block(const body_watch *b, const double *volume, const phase_curve *curve, const double *enthalpy, size_t from)
{
  const size_t to = from + BODY_WATCH_BLOCK < b->num_nodes ? from + BODY_WATCH_BLOCK : b->num_nodes;
  double ice = 0.0;
  for (size_t i = from; i < to; i++) {
    const size_t node = (size_t)b->nodes[i];
    ice += volume[node] * (1.0 - phase_curve_liquid_fraction(curve, enthalpy[node]));
  }
  return ice;
}

/* Shares of blocks first, then their sum: the same bits for any number of threads. */
double body_watch_share_at(const body_watch *b, const network *net, const phase_curve *curve, const double *enthalpy)
{
  const size_t num_blocks = (b->num_nodes + BODY_WATCH_BLOCK - 1) / BODY_WATCH_BLOCK;
#pragma omp parallel for schedule(static) if (b->num_nodes >= HEAT_FLUX_THREADED)
  for (size_t block = 0; block < num_blocks; block++)
    b->ice[block] = ice_of_block(b, network_volume(net), curve, enthalpy, block * BODY_WATCH_BLOCK);
  double ice = 0.0;
  for (size_t block = 0; block < num_blocks; block++)
    ice += b->ice[block];
  return b->volume > 0.0 ? ice / b->volume : 0.0;
}

double body_watch_share(const body_watch *b, const network *net, const phase_curve *curve, const double *enthalpy)
{
  double more = 0.0;
  for (size_t i = 0; i < network_front_num(net); i++) {
    const size_t node = (size_t)network_front_at(net, i).node;
    if (network_part(net)[node] == b->part)
      more += network_volume(net)[node] * (network_front_frozen(net, i, enthalpy[node]) - (1.0 - phase_curve_liquid_fraction(curve, enthalpy[node])));
  }
  return body_watch_share_at(b, net, curve, enthalpy) + (b->volume > 0.0 ? more / b->volume : 0.0);
}

/* Where each node of a body is frozen through; goes up its nodes. */
typedef struct {
  const network *net;
  double solid; /* J/m3, of a node without a front */
  size_t next;
  network_front_node front; /* the next one; node < 0: no more */
} solid_levels;

static void next_front(solid_levels *l)
{
  l->front = l->next < network_front_num(l->net) ? network_front_at(l->net, l->next) : (network_front_node){.node = -1};
  l->next++;
}

static double solid_level(solid_levels *l, int32_t node)
{
  while (l->front.node >= 0 && l->front.node < node)
    next_front(l);
  return l->front.node == node ? l->front.end : l->solid;
}

double body_watch_completion(body_watch *b, const network *net, const phase_curve *curve, double t0, const double *before, double t1,
                             const double *after)
{
  solid_levels levels = {.net = net, .solid = curve->solid_enthalpy};
  double last = t0; /* also when all were frozen through before the step, by the levels that hold now */
  if (b->num_nodes > 0 && after[b->nodes[b->last_liquid]] > curve->solid_enthalpy)
    return NAN;
  next_front(&levels);
  for (size_t i = 0; i < b->num_nodes; i++) {
    const size_t node = (size_t)b->nodes[i];
    const double solid = solid_level(&levels, b->nodes[i]);
    if (after[node] > solid) {
      b->last_liquid = i;
      return NAN;
    }
    if (before[node] > solid)
      last = fmax(last, t0 + (t1 - t0) * (before[node] - solid) / (before[node] - after[node]));
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
  const double completion = body_watch_completion(b, net, curve, t0, before, t1, after);
  if (isnan(completion) || isnan(b->solid_at) || completion > t0)
    b->solid_at = completion;
  b->rate = (new_share - old_share) / (t1 - t0);
  b->share = new_share;
}

double body_watch_longest_step(const body_watch *b, double elapsed)
{
  if (!(b->share > NEARLY_FROZEN && b->rate > 0.0 && isnan(b->solid_at)))
    return INFINITY;
  const double finest = fmin(FINEST_STEP, fmax(SHORTEST_STEP, FINEST_OF_ELAPSED * elapsed));
  return fmax(finest, STEP_OF_REMAINING * (1.0 - b->share) / b->rate);
}

void body_watch_save(const body_watch *b, double *memory)
{
  memcpy(memory, b->mark, sizeof b->mark);
  memory[BODY_WATCH_MARKS] = b->share;
  memory[BODY_WATCH_MARKS + 1] = b->solid_at;
  memory[BODY_WATCH_MARKS + 2] = b->rate;
}

void body_watch_load(body_watch *b, const double *memory)
{
  memcpy(b->mark, memory, sizeof b->mark);
  b->share = memory[BODY_WATCH_MARKS];
  b->solid_at = memory[BODY_WATCH_MARKS + 1];
  b->rate = memory[BODY_WATCH_MARKS + 2];
}
