/* Thin walls of a network: tangents of their sides, their matrix, their temperatures (network.h). */
#include "solver/network_parts.h"

#include <math.h>
#include <string.h>

/* Tangents at a patch of wall are found anew until it moves less than this, K: as near as the solve itself. */
static const double WALL_SETTLED = 1e-3;
enum { WALL_ROUNDS = 4, MANY_LINKS = 20000 };

static double conductivity_of(const phase_curve *wall, double temperature)
{
  const bool constant = wall->three_lines && wall->solid_enthalpy == wall->liquid_enthalpy &&
                        wall->solid_potential_slope == wall->liquid_potential_slope;
  return constant ? wall->liquid_potential_slope / wall->liquid_temperature_slope : phase_curve_conductivity_at(wall, temperature, 1);
}

/* ------------------------------------------------------------------------------------------- sides */

void network_walls_build(network *net)
{
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    const joint *j = &net->joints[i];
    const mesh_interface *f = &net->mesh->interfaces[i];
    if (j->kind != JOINT_WALL)
      continue;
    for (int s = 0; s < 2; s++)
      if (j->open[s]) {
        const double own = f->area[s], middle = 0.5 * (f->area[0] + f->area[1]);
        net->wall_places[j->slot[s]] = (wall_place){
            .contact = j->contact[s], .place = (int32_t)(2 * i) + s, .outside = j->outside, .upright = network_ends_upright(f), .area = own,
            .reach = j->node[s] >= 0 ? mesh_reach(net->mesh, f, s) : 0.0,
            .wall_reach = 0.5 * net->mesh->patches[j->patch].thickness / (0.5 * (own + middle))};
      }
  }
}

static int32_t layer_on(const network *net, const wall_place *w)
{
  return net->num_layers > 0 ? net->joints[w->place / 2].layer[w->place % 2] : -1;
}

/* Tangent of one side of a wall whose mid-plane is at T_wall: half the wall, the contact, then the node or the surroundings. */
static void refresh_side(network *net, size_t l, const double *enthalpy, double time)
{
  wall_link *link = &net->links[l];
  const wall_place *w = &net->wall_places[l];
  const double wall_temperature = net->wall_temperature[link->patch];
  const double k = conductivity_of(net->curve[net->part[net->num_nodes + (size_t)link->patch]], wall_temperature);
  const double resistance = w->wall_reach / k + network_ends_contact(net, w->contact, w->area, time);
  moist_air_room air;
  surface_end end[2] = {link->i >= 0 ? network_ends_at(net, (size_t)link->i, w->area, w->reach, w->upright, layer_on(net, w), enthalpy)
                                           : network_ends_outside(net, &w->outside, w->area, time, &air),
                              {.kind = SURFACE_END_ENVIRONMENT, .temperature = wall_temperature, .factor = 1.0}};
  if (link->i >= 0)
    network_ends_meet_front(net, (size_t)w->place, (size_t)link->i, enthalpy, wall_temperature, &end[0]);
  surface_side side[2] = {{.offset = end[0].temperature, .resistance = end[0].reach}}; /* as it is before dry surroundings */
  if (link->i >= 0 || end[0].moist)
    surface_balance(end, resistance, side);
  if (link->i >= 0 && network_ends_leave_front(net, (size_t)w->place, (size_t)link->i, enthalpy, side[0].surface, &end[0]))
    surface_balance(end, resistance, side);
  if (link->i >= 0 && network_mix_freezes(net, link->i, side[0].surface)) {
    refresh_side(net, l, enthalpy, time);
    return;
  }
  link->g = 1.0 / (side[0].resistance + resistance);
  link->a = link->g * side[0].slope;
  link->o = link->g * side[0].offset;
  link->m0 = side[0].moisture;
  link->m1 = side[0].moisture_share;
  if (w->place % 2 == 0)
    net->surface[w->place / 2] = side[0].surface;
}

void network_walls_refresh_sides(network *net, const double *enthalpy, double time)
{
  /* each side writes its own link only, but in stirred water a side may change the state of its node */
#pragma omp parallel for schedule(static) if (net->num_links >= MANY_LINKS && net->num_mix == 0)
  for (size_t l = 0; l < net->num_links; l++)
    refresh_side(net, l, enthalpy, time);
  wall_sides_refresh(net->sides, net->links);
}

static void refresh_unsettled(network *net, const double *enthalpy, double time)
{
  for (size_t l = 0; l < net->num_links; l++)
    if (net->unsettled[net->links[l].patch])
      refresh_side(net, l, enthalpy, time);
  wall_sides_refresh(net->sides, net->links);
}

static double half_cell(const network *net, size_t l)
{
  return net->pooled[net->part[net->links[l].i]] ? INFINITY : 1.0 / net->wall_places[l].reach;
}

/* In the form sum of G (difference)^2 the temperatures of the walls are those that make it least, so holding all of them still can only
 * raise it, and with it every eigenvalue: the nodes then see the wall as a fixed temperature, of which half counts in the bound
 * 2 * sum, and the carried heats stand alone, with 1 / lag. */
void network_walls_sum(network *net)
{
  for (size_t l = 0; l < net->num_links; l++)
    if (net->links[l].i >= 0)
      network_add_to_sums(net, (size_t)net->links[l].i, 0.5 * net->links[l].a, 0.5 * half_cell(net, l));
}

void network_walls_show_front(const network *net, front_cells_surface *surface)
{
  for (size_t l = 0; l < net->num_links; l++) {
    const wall_link *e = &net->links[l];
    if (e->i >= 0)
      surface[net->wall_places[l].place] = (front_cells_surface){e->a, e->o - e->g * net->wall_temperature[e->patch], half_cell(net, l)};
  }
}

/* ------------------------------------------------------------------------------------------- temperatures */

double network_walls_own(const network *net, size_t patch, const double *enthalpy)
{
  return network_node_temperature(net, net->num_nodes + patch, enthalpy);
}

/* C / t_w of each patch, and lateral conductances. */
static void refresh_wall_masses(network *net, const double *enthalpy, double lag)
{
  for (size_t p = 0; p < net->num_patches; p++) {
    const phase_curve *c = net->curve[net->part[net->num_nodes + p]];
    const double T = network_walls_own(net, p, enthalpy);
    const double heat_capacity = (phase_curve_enthalpy(c, T + 0.5) - phase_curve_enthalpy(c, T - 0.5)) * net->volume[net->num_nodes + p];
    net->wall_relax[p] = heat_capacity / lag;
  }
  for (size_t l = 0; l < net->mesh->num_patch_links; l++) {
    const mesh_patch_link *link = &net->mesh->patch_links[l];
    const double T = 0.5 * (net->wall_temperature[link->patch[0]] + net->wall_temperature[link->patch[1]]);
    const double k = conductivity_of(net->curve[net->part[net->num_nodes + (size_t)link->patch[0]]], T);
    net->lateral[l] = k * link->area / link->distance;
  }
}

/* Temperatures of the walls for the potentials and carried heats in hand; fills wall_temperature. */
status network_walls_find(network *net, const double *enthalpy, message *msg)
{
  for (size_t p = 0; p < net->num_patches; p++) {
    net->wall_own[p] = network_walls_own(net, p, enthalpy);
    net->wall_right[p] = net->wall_relax[p] * net->wall_own[p];
  }
  wall_sides_offer(net->sides, net->potential, net->wall_right);
  return wall_solve_temperatures(net->walls, net->wall_right, net->wall_temperature, msg);
}

static status set_wall_matrix(network *net, message *msg)
{
  memcpy(net->wall_diagonal, net->wall_relax, net->num_patches * sizeof *net->wall_diagonal);
  for (size_t l = 0; l < net->num_links; l++)
    net->wall_diagonal[net->links[l].patch] += net->links[l].g;
  return wall_solve_matrix(net->walls, net->wall_diagonal, net->wall_relax, net->lateral, msg);
}

status network_walls_refresh(network *net, const double *enthalpy, double time, double lag, message *msg)
{
  refresh_wall_masses(net, enthalpy, lag);
  status code = set_wall_matrix(net, msg);
  for (int round = 0; code == STATUS_OK && round < WALL_ROUNDS; round++) {
    bool moved = false;
    memcpy(net->wall_heat, net->wall_temperature, net->num_patches * sizeof *net->wall_heat);
    code = network_walls_find(net, enthalpy, msg);
    for (size_t p = 0; p < net->num_patches; p++) {
      net->unsettled[p] = fabs(net->wall_temperature[p] - net->wall_heat[p]) >= WALL_SETTLED;
      moved = moved || net->unsettled[p];
    }
    if (code != STATUS_OK || !moved)
      break;
    refresh_unsettled(net, enthalpy, time);
    code = set_wall_matrix(net, msg);
  }
  return code;
}
