/* Thin walls of a network: tangents of their sides, their matrix, their temperatures (network.h). */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Tangents at a patch of wall are found anew until it moves less than this, K: as near as the solve itself. */
static const double WALL_SETTLED = 1e-3;
enum { WALL_ROUNDS = 4, MANY_LINKS = 20000 };

static bool conducts_evenly(const phase_curve *wall)
{
  return wall->three_lines && wall->solid_enthalpy == wall->liquid_enthalpy && wall->solid_potential_slope == wall->liquid_potential_slope;
}

static double conductivity_of(const phase_curve *wall, double temperature)
{
  return conducts_evenly(wall) ? wall->liquid_potential_slope / wall->liquid_temperature_slope : phase_curve_conductivity_at(wall, temperature, 1);
}

/* ------------------------------------------------------------------------------------------- sides */

static bool same_surroundings(const surroundings *a, const surroundings *b)
{
  return a->kind == b->kind && a->rule == b->rule && a->held == b->held && a->wet == b->wet && a->closed == b->closed;
}

/* Where a wall of that part meets those surroundings: one for all sides alike. */
static int32_t outside_of(network *net, int32_t part, int32_t contact, const surroundings *meets)
{
  size_t x = 0;
  while (x < net->num_wall_outsides && !(net->wall_outsides[x].part == part && net->wall_outsides[x].contact == contact &&
                                         same_surroundings(&net->wall_outsides[x].meets, meets)))
    x++;
  if (x == net->num_wall_outsides)
    net->wall_outsides[net->num_wall_outsides++] = (wall_outside){.part = part, .contact = contact, .meets = *meets, .temperature = NAN};
  return (int32_t)x;
}

void network_walls_build(network *net)
{
  net->num_wall_outsides = 0;
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    const joint *j = &net->joints[i];
    const mesh_interface *f = &net->mesh->interfaces[i];
    if (j->kind != JOINT_WALL)
      continue;
    for (int s = 0; s < 2; s++)
      if (j->open[s]) {
        const double own = f->area[s], middle = 0.5 * (f->area[0] + f->area[1]);
        net->wall_places[j->slot[s]] = (wall_place){
            .contact = j->contact[s], .place = (int32_t)(2 * i) + s, .upright = network_ends_upright(f), .area = own,
            .outside = j->node[s] < 0 ? outside_of(net, net->mesh->patches[j->patch].part, j->contact[s], &j->outside) : -1,
            .reach = j->node[s] >= 0 ? mesh_reach(net->mesh, f, s) : 0.0,
            .wall_reach = 0.5 * net->mesh->patches[j->patch].thickness / (0.5 * (own + middle))};
      }
  }
}

status network_walls_make_sides(network *net, message *msg)
{
  int32_t *place = malloc((net->num_unknowns + 1) * sizeof *place);
  if (!place)
    return network_no_memory(msg, net->num_unknowns, "nodes");
  for (size_t i = 0; i < net->num_unknowns; i++)
    place[i] = (int32_t)i;
  for (size_t n = 0; n < net->num_entry_cells; n++)
    place[net->entry_node[n]] = (int32_t)(net->num_unknowns + n);
  const status code = wall_sides_create(&net->sides, net->links, net->num_links, net->num_patches, net->inverse_volume, place, msg);
  free(place);
  return code;
}

static int32_t layer_on(const network *net, const wall_place *w)
{
  return net->num_layers > 0 ? net->joints[w->place / 2].layer[w->place % 2] : -1;
}

/* Half the wall, whose mid-plane is at its temperature, and the contact. */
static double resistance_behind(const network *net, size_t l, double time)
{
  const wall_link *link = &net->links[l];
  const wall_place *w = &net->wall_places[l];
  const double k = conductivity_of(net->curve[net->part[net->num_nodes + (size_t)link->patch]], net->wall_temperature[link->patch]);
  return w->wall_reach / k + network_ends_contact(net, w->contact, w->area, time);
}

static void set_link(network *net, size_t l, const surface_side *side, double resistance)
{
  wall_link *link = &net->links[l];
  const int32_t place = net->wall_places[l].place;
  link->g = 1.0 / (side->resistance + resistance);
  link->a = link->g * side->slope;
  link->o = link->g * side->offset;
  link->m0 = side->moisture;
  link->m1 = side->moisture_share;
  if (place % 2 == 0)
    net->surface[place / 2] = side->surface;
}

static surface_end end_of_wall(const network *net, size_t l)
{
  return (surface_end){.kind = SURFACE_END_ENVIRONMENT, .temperature = net->wall_temperature[net->links[l].patch], .factor = 1.0};
}

/* Which parts are at rest, of constant properties in each phase, and neither stirred nor melting: most sides stand before those. */
static void look_at_parts(network *net)
{
  for (int32_t part = 0; part < net->mesh->num_parts; part++) {
    const phase_curve *c = net->curve[part];
    wall_before *x = &net->wall_befores[part];
    x->plain = c && c->three_lines && !net->moving && !net->pooled[part] && !net->dry[part] && net->num_mix == 0 && net->num_layers == 0 &&
               !(net->thawing && net->rig->parts[part].kind == PART_WATER);
    if (x->plain)
      x->stuff = (surface_plain){.freezing_temperature = c->freezing_temperature,
                                 .solid_conductivity = c->solid_potential_slope / c->solid_temperature_slope,
                                 .liquid_conductivity = c->liquid_potential_slope / c->liquid_temperature_slope};
  }
}

/* False, nothing done: there is more to it than that. */
static bool refresh_plain(network *net, size_t l, const double *enthalpy, double resistance)
{
  const size_t node = (size_t)net->links[l].i;
  const wall_place *w = &net->wall_places[l];
  const wall_before *before = &net->wall_befores[net->part[node]];
  const double other = net->wall_temperature[net->links[l].patch];
  if (!before->plain || (other < before->stuff.freezing_temperature && network_holds_liquid(net, node, enthalpy)))
    return false;
  surface_side side;
  if (!surface_plain_balance(&before->stuff, net->potential[node], network_node_temperature(net, node, enthalpy), w->reach, resistance, other, &side))
    return false;
  net->front_nearer[w->place] = 1.0;
  set_link(net, l, &side, resistance);
  return true;
}

/* Tangent of a side that stands before a node. */
static void refresh_inner(network *net, size_t l, const double *enthalpy, double time)
{
  const int32_t node = net->links[l].i;
  const wall_place *w = &net->wall_places[l];
  const double resistance = resistance_behind(net, l, time);
  if (refresh_plain(net, l, enthalpy, resistance))
    return;
  surface_end end[2] = {network_ends_at(net, (size_t)node, w->area, w->reach, w->upright, layer_on(net, w), enthalpy), end_of_wall(net, l)};
  network_ends_meet_front(net, (size_t)w->place, (size_t)node, enthalpy, end[1].temperature, &end[0]);
  surface_side side[2];
  surface_balance(end, resistance, side);
  if (network_ends_leave_front(net, (size_t)w->place, (size_t)node, enthalpy, side[0].surface, &end[0]))
    surface_balance(end, resistance, side);
  if (network_mix_freezes(net, node, side[0].surface)) {
    refresh_inner(net, l, enthalpy, time);
    return;
  }
  set_link(net, l, &side[0], resistance);
}

/* Of a side that stands before surroundings. */
static void refresh_outer(network *net, size_t l, double time)
{
  const wall_place *w = &net->wall_places[l];
  const double resistance = resistance_behind(net, l, time);
  moist_air_room air;
  const surface_end end[2] = {network_ends_outside(net, &net->wall_outsides[w->outside].meets, w->area, time, &air), end_of_wall(net, l)};
  surface_side side[2] = {{.offset = end[0].temperature, .resistance = end[0].reach}}; /* as it is before dry surroundings */
  if (end[0].moist)
    surface_balance(end, resistance, side);
  set_link(net, l, &side[0], resistance);
}

static void refresh_side(network *net, size_t l, const double *enthalpy, double time)
{
  if (net->links[l].i >= 0)
    refresh_inner(net, l, enthalpy, time);
  else
    refresh_outer(net, l, time);
}

/* What wall and surroundings are like now; `still` where no side between them changes by it. */
static void look_at_outside(network *net, wall_outside *x, double time)
{
  const phase_curve *wall = net->curve[x->part];
  moist_air_room air;
  const surface_end end = network_ends_outside(net, &x->meets, 1.0, time, &air);
  const double k = conducts_evenly(wall) ? conductivity_of(wall, end.temperature) : NAN; /* at any temperature */
  x->fixed = !end.moist && !isnan(k);
  x->still = x->fixed && x->contact < 0 && end.temperature == x->temperature && end.reach == x->reach && k == x->conductivity;
  x->temperature = end.temperature;
  x->reach = end.reach;
  x->conductivity = k;
}

static bool is_outer(const network *net, size_t l)
{
  return net->links[l].i < 0;
}

void network_walls_refresh_sides(network *net, const double *enthalpy, double time)
{
  look_at_parts(net);
  for (size_t x = 0; x < net->num_wall_outsides; x++)
    look_at_outside(net, &net->wall_outsides[x], time);
  /* each side writes its own link only, but in stirred water a side may change the state of its node, and with it that node's other sides */
  do {
#pragma omp parallel for schedule(static) if (net->num_links >= MANY_LINKS && net->num_mix == 0)
    for (size_t l = 0; l < net->num_links; l++)
      if (!(is_outer(net, l) && net->wall_outsides[net->wall_places[l].outside].still))
        refresh_side(net, l, enthalpy, time);
  } while (network_mix_has_begun(net));
  wall_sides_refresh(net->sides, net->links);
}

/* With other temperatures of the walls, all else being as it was. */
static void refresh_unsettled(network *net, const double *enthalpy, double time)
{
  do {
#pragma omp parallel for schedule(static) if (net->num_links >= MANY_LINKS && net->num_mix == 0)
    for (size_t l = 0; l < net->num_links; l++)
      if (net->unsettled[net->links[l].patch] && !(is_outer(net, l) && net->wall_outsides[net->wall_places[l].outside].fixed))
        refresh_side(net, l, enthalpy, time);
  } while (network_mix_has_begun(net));
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
  memset(net->to_image, 0, net->num_patches * sizeof *net->to_image);
  for (size_t l = 0; l < net->mesh->num_patch_mirrors; l++) {
    const mesh_patch_mirror *link = &net->mesh->patch_mirrors[l];
    const phase_curve *c = net->curve[net->part[net->num_nodes + (size_t)link->patch]];
    net->to_image[link->patch] += conductivity_of(c, net->wall_temperature[link->patch]) * link->area / link->distance;
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
  const wall_solve_coefficients of = {net->wall_diagonal, net->wall_relax, net->lateral, net->to_image};
  return wall_solve_matrix(net->walls, &of, msg);
}

status network_walls_refresh(network *net, const double *enthalpy, double time, double lag, message *msg)
{
  refresh_wall_masses(net, enthalpy, lag);
  network_bring_near(net, net->potential, net->near);
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
