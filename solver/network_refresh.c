/* Freezes the coefficients of a network over one step. */
#include "solver/network_parts.h"

#include <math.h>
#include <string.h>

/* What a pair adds to the bound 2 * sum at its two nodes. Its form G (difference)^2 is no larger than with the surface between them held at
 * a fixed temperature: then each node meets its own side alone, of which half counts. That or the plain row sums, for both alike. */
static void sum_pair(network *net, const joint *j, const pair_entry *e, const surface_side side[2])
{
  const double whole[2] = {e->a, e->b};
  double own[2], held = 0.0, free = 0.0;
  for (int s = 0; s < 2; s++) {
    own[s] = 0.5 * side[s].slope / side[s].resistance;
    held = larger(held, own[s] * net->inverse_volume[j->node[s]]);
    free = larger(free, whole[s] * net->inverse_volume[j->node[s]]);
  }
  for (int s = 0; s < 2; s++) {
    const double half = network_half_cell(net, j, s);
    network_add_to_sums(net, (size_t)j->node[s], held < free ? own[s] : whole[s], held < free ? 0.5 * half : half);
  }
}

static void refresh_pair(network *net, const joint *j, const double *enthalpy, double time)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  surface_end end[2] = {network_ends_node(net, j, 0, enthalpy), network_ends_node(net, j, 1, enthalpy)};
  for (int s = 0; s < 2; s++)
    network_ends_meet_front(net, (size_t)(2 * (j - net->joints) + s), (size_t)j->node[s], enthalpy, end[1 - s].temperature, &end[s]);
  const double resistance = network_ends_contact(net, j->contact[0], 0.5 * (f->area[0] + f->area[1]), time);
  surface_side side[2];
  surface_balance(end, resistance, side);
  bool left = false;
  for (int s = 0; s < 2; s++)
    left = network_ends_leave_front(net, (size_t)(2 * (j - net->joints) + s), (size_t)j->node[s], enthalpy, side[s].surface, &end[s]) || left;
  if (left)
    surface_balance(end, resistance, side);
  bool again = network_mix_freezes(net, j->node[0], side[0].surface);
  again = network_mix_freezes(net, j->node[1], side[1].surface) || again;
  if (again) {
    refresh_pair(net, j, enthalpy, time);
    return;
  }
  const double g = 1.0 / (side[0].resistance + resistance + side[1].resistance);
  pair_entry *e = &net->pairs[j->slot[0]];
  e->a = g * side[0].slope;
  e->b = g * side[1].slope;
  e->c = g * (side[0].offset - side[1].offset);
  sum_pair(net, j, e, side);
  net->surface[j - net->joints] = side[0].surface;
}

static void refresh_outside(network *net, const joint *j, const double *enthalpy, double time)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  moist_air_room air;
  surface_end end[2] = {network_ends_node(net, j, 0, enthalpy), network_ends_outside(net, &j->outside, f->area[0], time, &air)};
  network_ends_meet_front(net, (size_t)(2 * (j - net->joints)), (size_t)j->node[0], enthalpy, end[1].temperature, &end[0]);
  const double resistance = network_ends_contact(net, j->contact[0], f->area[0], time);
  surface_side side[2];
  surface_balance(end, resistance, side);
  if (network_ends_leave_front(net, (size_t)(2 * (j - net->joints)), (size_t)j->node[0], enthalpy, side[0].surface, &end[0]))
    surface_balance(end, resistance, side);
  if (network_mix_freezes(net, j->node[0], side[0].surface)) {
    refresh_outside(net, j, enthalpy, time);
    return;
  }
  const double g = 1.0 / (side[0].resistance + resistance + side[1].resistance);
  outside_entry *e = &net->outsides[j->slot[0]];
  e->a = g * side[0].slope;
  e->c = g * (side[0].offset - side[1].offset);
  e->m0 = side[1].moisture;
  e->m1 = side[1].moisture_share;
  /* an entry to a fixed temperature has no partner in its row: half of it counts in the bound 2 * sum */
  network_add_to_sums(net, (size_t)e->i, 0.5 * e->a, 0.5 * network_half_cell(net, j, 0));
  net->surface[j - net->joints] = side[0].surface;
}

static status check_films(const network *net, message *msg)
{
  for (size_t part = 0; part < net->rig->num_parts; part++)
    if (net->pooled[part] && !(net->film[part] > 0.0))
      return message_set(msg, STATUS_FAILED, "stirred bath %s has no film coefficient", net->rig->parts[part].name);
  for (size_t body = 0; body < net->rig->num_bodies; body++)
    if (net->rig->bodies[body].flow.kind == MOTION_STIRRED && !(net->film[net->rig->bodies[body].part] > 0.0))
      return message_set(msg, STATUS_FAILED, "stirred body %s has no film coefficient", net->rig->bodies[body].name);
  return STATUS_OK;
}

/* Conductances as the front sees them, with those to the images of nodes at mirror planes. */
static void show_faces(network *net)
{
  for (size_t f = 0; f < net->num_faces; f++)
    net->face_moved[f] = net->faces[f].moved;
  for (size_t f = 0; f < net->mesh->num_mirror_faces; f++)
    net->face_moved[net->num_faces + f] = network_motion_to_image(net, &net->mesh->mirror_faces[f]);
}

/* Every surface as the coefficients just found have it. */
static void show_surfaces(network *net)
{
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    const joint *j = &net->joints[i];
    front_cells_surface *s = &net->front_surface[2 * i];
    if (j->kind == JOINT_PAIR) {
      const pair_entry *e = &net->pairs[j->slot[0]];
      s[0] = (front_cells_surface){e->a, e->c - e->b * net->potential[e->j], network_half_cell(net, j, 0)};
      s[1] = (front_cells_surface){e->b, -e->c - e->a * net->potential[e->i], network_half_cell(net, j, 1)};
    } else if (j->kind == JOINT_OUTSIDE) {
      const outside_entry *e = &net->outsides[j->slot[0]];
      s[0] = (front_cells_surface){e->a, e->c, network_half_cell(net, j, 0)};
    }
  }
  network_walls_show_front(net, net->front_surface);
  network_motion_show_front(net, net->front_surface);
  /* of a surface that was brought nearer the half node is as deep as ever: conductance / half is its share of the whole resistance */
  for (size_t i = 0; i < 2 * net->mesh->num_interfaces; i++)
    net->front_surface[i].half += (1.0 - net->front_nearer[i]) * net->front_surface[i].conductance;
}

/* The front as it stands; while ice melts at its surfaces there is none. */
static void refresh_front(network *net, const double *enthalpy, int nodes_ahead)
{
  if (net->thawing)
    front_cells_forget(net->front);
  else
    front_cells_refresh(net->front, enthalpy, net->potential, net->face_moved, net->front_surface, net->mix_clear, network_mix_list_clear(net),
                        nodes_ahead);
}

static void refresh_interfaces(network *net, const double *enthalpy, double time)
{
  for (size_t n = 0; n < net->num_entry_nodes; n++)
    net->entry_sum[net->entry_node[n]] = net->entry_still[net->entry_node[n]] = 0.0;
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    if (net->joints[i].kind == JOINT_PAIR)
      refresh_pair(net, &net->joints[i], enthalpy, time);
    else if (net->joints[i].kind == JOINT_OUTSIDE)
      refresh_outside(net, &net->joints[i], enthalpy, time);
    else if (net->joints[i].kind == JOINT_NONE)
      net->surface[i] = net->joints[i].node[0] >= 0 ? network_node_temperature(net, (size_t)net->joints[i].node[0], enthalpy) : NAN;
  }
}

status network_refresh(network *net, const double *enthalpy, double time, int nodes_ahead, double *spectral_radius, message *msg)
{
  status code = check_films(net, msg);
  if (code == STATUS_OK)
    code = network_motion_refresh(net, enthalpy, msg);
  if (code != STATUS_OK)
    return code;
  const heat_potential_nodes nodes = network_potential_nodes(net);
  heat_flux_potential(&nodes, enthalpy, net->potential);
  network_ice_refresh(net, enthalpy);
  network_mix_refresh(net, enthalpy);
  show_faces(net);
  front_cells_prepare(net->front);
  do
    refresh_interfaces(net, enthalpy, time);
  while (network_mix_has_begun(net));
  network_bound_steepest(net, enthalpy);
  if (net->num_rings > 0) {
    code = network_coils_refresh_shells(net, enthalpy, msg);
    if (code != STATUS_OK)
      return code;
    network_coils_sum_shells(net);
    network_bound_sums(net, enthalpy);
    net->shell_lag = network_bound_shell_lag(net, network_bound_nodes(net));
  }
  network_coils_refresh(net, enthalpy);
  network_coils_sum(net, enthalpy);
  network_bound_sums(net, enthalpy);
  double bound = network_bound_all(net);
  if (net->num_patches > 0) {
    for (size_t p = 0; p < net->num_patches; p++)
      net->wall_temperature[p] = network_walls_own(net, p, enthalpy);
    network_walls_refresh_sides(net, enthalpy, time);
    const double lag = network_bound_wall_lag(bound);
    code = network_walls_refresh(net, enthalpy, time, lag, msg);
    network_walls_sum(net);
    network_bound_sums(net, enthalpy);
    bound = larger(network_bound_all(net), 1.0 / lag);
  }
  *spectral_radius = network_mix_settle(net, enthalpy, larger(bound, network_ice_bound(net)));
  if (code == STATUS_OK) {
    show_surfaces(net);
    refresh_front(net, enthalpy, nodes_ahead);
    network_motion_meet_front(net, enthalpy);
    network_skew_refresh(net, enthalpy);
  }
  const heat_potential_nodes with_front = network_potential_nodes(net);
  needed_cells_refresh(&net->entry_cells, &with_front, enthalpy);
  return code;
}
