#include "solver/verdict.h"

#include <math.h>
#include <stdlib.h>

static const double LEAST_LAYER = 0.25e-3; /* m: less is no layer yet (network_ice.c) */

/* The bath's side of an interface where it wets a mould (directly, or through the thin wall between); -1 elsewhere. */
static int wetted_side(const mesh *m, const verdict_request *q, const mesh_interface *f)
{
  for (int side = 0; side < 2; side++) {
    const int32_t other = f->part[1 - side];
    const bool mould_beyond = other >= 0 && q->is_mould[other];
    const bool mould_between = f->patch != MESH_NONE && q->is_mould[m->patches[f->patch].part];
    if (f->part[side] == q->bath && f->node[side] >= 0 && (mould_beyond || mould_between)) {
      return side;
    }
  }
  return -1;
}

/* Marks in reached[] every node that hangs together with a coil through ice that locks. */
static void spread_from_coil(const adjacency *a, const verdict_request *q, uint8_t *reached, int32_t *stack)
{
  size_t depth = 0;
  for (size_t i = 0; i < q->num_coil_nodes; i++) {
    const int32_t n = q->coil_node[i];
    if (!reached[n] && 1.0 - q->liquid_fraction[n] > VERDICT_LOCKED) {
      reached[n] = 1;
      stack[depth++] = n;
    }
  }
  while (depth > 0) {
    const int32_t n = stack[--depth];
    for (size_t e = a->start[n]; e < a->start[n + 1]; e++) {
      const int32_t beside = a->neighbour[e];
      if (!reached[beside] && 1.0 - q->liquid_fraction[beside] > VERDICT_LOCKED) {
        reached[beside] = 1;
        stack[depth++] = beside;
      }
    }
  }
}

status verdict_of_bath(verdict_found *out, const mesh *m, const adjacency *a, const verdict_request *request, message *msg)
{
  const verdict_request *q = request;
  verdict_found v = {.draw = DRAW_FREE};
  double area = 0.0, ice_area = 0.0, warm_area = 0.0, bottom = INFINITY, top = -INFINITY;
  draw_grip grip = {0};
  uint8_t *reached = calloc(m->num_nodes + 1, 1);
  int32_t *stack = malloc((m->num_nodes + 1) * sizeof *stack);
  status s = STATUS_OK;
  if (!reached || !stack) {
    s = message_set(msg, STATUS_NO_MEMORY, "out of memory for the draw verdict of %zu nodes", m->num_nodes);
    goto done;
  }
  spread_from_coil(a, q, reached, stack);
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    const int side = wetted_side(m, q, f);
    if (side < 0 || !(f->area[side] > 0.0)) {
      continue;
    }
    const int32_t node = f->node[side];
    const double ice = q->layer && q->layer[i] > LEAST_LAYER ? 1.0 : 1.0 - q->liquid_fraction[node];
    area += f->area[side];
    ice_area += f->area[side] * ice;
    warm_area += f->area[side] * (q->temperature ? q->temperature[node] : NAN);
    bottom = fmin(bottom, f->centroid[2]);
    top = fmax(top, f->centroid[2]);
    draw_force_add(&grip, f->area[side], side == 1 ? f->normal[2] : -f->normal[2], ice);
    v.ice_worst = ice > v.ice_worst ? ice : v.ice_worst;
    v.bridged = v.bridged || reached[node];
  }
  v.touches_mould = area > 0.0;
  v.ice_at_wall = v.touches_mould ? ice_area / area : 0.0;
  v.wall_temperature = v.touches_mould ? warm_area / area : NAN;
  if (v.touches_mould)
    v.force = draw_force_of(&grip, top - bottom, q->density);
  if (v.bridged || v.ice_at_wall > VERDICT_LOCKED) {
    v.draw = DRAW_LOCKED;
  } else if (v.ice_at_wall >= VERDICT_STIFF) {
    v.draw = DRAW_STIFF;
  }
  v.lets_go = !v.bridged && v.ice_worst <= VERDICT_LOCKED;
  *out = v;
done:
  free(reached);
  free(stack);
  return s;
}
