/* Liquid in motion: its factors on the faces of a network. */
#include "solver/network_parts.h"

#include <string.h>

/* A block at a time, all of it looked at: without an early end the loop becomes one of vectors. */
static bool factors_are_one(const network *net)
{
  const double *restrict horizontal = net->horizontal, *restrict vertical = net->vertical;
  for (size_t from = 0; from < net->num_nodes; from += NETWORK_BLOCK) {
    const size_t to = from + NETWORK_BLOCK < net->num_nodes ? from + NETWORK_BLOCK : net->num_nodes;
    int64_t others = 0;
    for (size_t node = from; node < to; node++)
      others |= (horizontal[node] != 1.0) | (vertical[node] != 1.0);
    if (others)
      return false;
  }
  return true;
}

double network_motion_face(const network *net, const face_entry *f)
{
  if (!net->liquid[f->left] || !net->liquid[f->right])
    return 1.0;
  if (f->axis != 2)
    return larger(net->horizontal[f->left], net->horizontal[f->right]);
  const bool left_lower = net->mesh->centroid[f->left][2] <= net->mesh->centroid[f->right][2];
  return net->vertical[left_lower ? f->left : f->right];
}

/* W/(m K) over a mirror plane, between a node and its image; 0 where both are one. */
double network_motion_to_image(const network *net, const mesh_mirror_face *f)
{
  const int32_t node = net->unknown[f->node];
  if (!(net->volume[node] > 0.0) || net->pooled[net->part[node]])
    return 0.0;
  const face_entry across = {.left = node, .right = node, .axis = f->axis};
  return f->area / f->distance * (net->moving ? network_motion_face(net, &across) : 1.0);
}

/* No heat passes a mirror plane, but the bound is that of the whole. */
void network_motion_sum_images(const network *net, double *sum)
{
  for (size_t f = 0; f < net->mesh->num_mirror_faces; f++)
    sum[net->unknown[net->mesh->mirror_faces[f].node]] += network_motion_to_image(net, &net->mesh->mirror_faces[f]);
}

status network_motion_refresh(network *net, const double *enthalpy, message *msg)
{
  const bool was_moving = net->moving;
  net->moving = !factors_are_one(net);
  if (!net->moving) {
    if (was_moving)
      conductance_rows_still(net->rows);
    for (size_t f = 0; was_moving && f < net->num_faces; f++)
      net->faces[f].moved = net->faces[f].still;
    if (was_moving)
      memcpy(net->sum, net->still_sum, net->num_unknowns * sizeof *net->sum);
    return STATUS_OK;
  }
  for (size_t node = 0; node < net->num_nodes; node++)
    net->liquid[node] = net->part[node] >= 0 && network_holds_liquid(net, node, enthalpy);
  if (!conductance_rows_move(net->rows, net->horizontal, net->vertical, net->liquid))
    return message_set(msg, STATUS_FAILED, "liquid in motion was asked for in a rig whose bodies and baths are all without motion");
  memset(net->sum, 0, net->num_unknowns * sizeof *net->sum);
  conductance_rows_add_sums(net->rows, net->sum);
  for (size_t f = 0; f < net->num_faces; f++) {
    face_entry *face = &net->faces[f];
    face->moved = face->still * network_motion_face(net, face);
    net->sum[face->left] += face->moved;
    net->sum[face->right] += face->moved;
  }
  network_motion_sum_images(net, net->sum);
  return STATUS_OK;
}

/* net->warmth, with the ramps of the front in place of the curves. */
static void find_warmth(network *net, const double *enthalpy)
{
  const heat_potential_front *front = front_cells_front(net->front);
  for (size_t n = 0; n < net->num_runs; n++) {
    const int32_t part = net->run_part[n];
    const bool sharp = front_cells_is_sharp(net->front, part);
    const double freezing = sharp ? phase_curve_potential(net->curve[part], net->curve[part]->liquid_enthalpy) : NAN;
    for (size_t i = net->runs[n].begin; i < net->runs[n].end; i++)
      net->warmth[i] = net->potential[i] - freezing;
  }
  for (size_t i = 0; i < front->num; i++) {
    const heat_potential_ramp *r = heat_potential_front_ramp(front, i);
    if (enthalpy[r->node] > r->end && enthalpy[r->node] < r->begin)
      net->warmth[r->node] = heat_potential_ramp_at(r, enthalpy[r->node]) - r->middle;
  }
}

void network_motion_meet_front(network *net, const double *enthalpy)
{
  if (!net->moving || net->thawing)
    return;
  find_warmth(net, enthalpy);
  conductance_rows_meet_front(net->rows, net->warmth);
  for (size_t f = 0; f < net->num_faces; f++) {
    face_entry *face = &net->faces[f];
    face->moved = conductance_rows_beside_front(face->still, face->moved, net->warmth[face->left], net->warmth[face->right]);
  }
}

bool network_motion_offers_ice(const network *net, int32_t node)
{
  return !net->thawing && net->warmth[node] < 0.0;
}

double network_motion_beside_front(const network *net, const face_entry *f)
{
  const double factor = network_motion_face(net, f);
  return net->thawing ? factor : conductance_rows_beside_front(1.0, factor, net->warmth[f->left], net->warmth[f->right]);
}

/* Behind a warm surface liquid that moves carries the heat with its factor, as the surface has it: u rises by so much less over the half node. */
void network_motion_show_front(const network *net, front_cells_surface *surface)
{
  for (size_t i = 0; net->moving && i < 2 * net->mesh->num_interfaces; i++) {
    const mesh_interface *f = &net->mesh->interfaces[i / 2];
    const int32_t node = f->node[i % 2];
    if (node < 0 || !net->liquid[node] || !(surface[i].conductance > 0.0))
      continue;
    const phase_curve *c = net->curve[net->part[node]];
    if (surface[i].heat + surface[i].conductance * phase_curve_potential(c, c->solid_enthalpy) < 0.0)
      surface[i].half *= network_ends_upright(f) ? net->horizontal[node] : net->vertical[node];
  }
}
