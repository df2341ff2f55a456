#include "solver/network_parts.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A node may be this much colder or warmer at the end of a step than any of its part was at the start, K, before the bound on
 * the eigenvalues could be too low; heat_step looks again after the step. */
static const double RANGE_MARGIN = 1.0;
/* Longest lag of the carried wall heat, s. */
static const double LONGEST_WALL_LAG = 60.0;
/* Tangents at walls are found anew until the wall moves less than this, K. */
static const double WALL_SETTLED = 1e-2;
/* Longest lag of the shells round a tube, in a^2 / (du/dH). */
static const double LONGEST_SHELL_LAG = 0.15;
enum { WALL_ROUNDS = 4, COOLANT_ROUNDS = 4, SHELL_ROUNDS = 12, LANES = NETWORK_STRANDS };

/* Not the library's: those are real calls under strict flags. */
static inline double larger(double a, double b)
{
  return a > b ? a : b;
}

static inline double smaller(double a, double b)
{
  return a < b ? a : b;
}

/* ------------------------------------------------------------------------------------------- making and freeing */

status network_create(network **out, const mesh *m, const rig *r, message *msg)
{
  network *net = calloc(1, sizeof *net);
  if (!net)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes", sizeof *net);
  net->mesh = m;
  net->rig = r;
  const status code = network_build(net, msg);
  if (code != STATUS_OK) {
    network_destroy(&net);
    return code;
  }
  network_restart(net);
  *out = net;
  return STATUS_OK;
}

void network_destroy(network **net)
{
  if (!*net)
    return;
  network *x = *net;
  void *owned[] = {x->volume,      x->inverse_volume, x->horizontal,  x->vertical,   x->still_sum,   x->sum,
                   x->entry_still, x->entry_sum,      x->slope,       x->pivot,      x->film,        x->steepest,
                   x->steepest_moving, x->low,        x->high,        x->low_moving, x->high_moving, x->wall_temperature,
                   x->wall_right,  x->wall_diagonal,  x->wall_heat,   x->wall_own,   x->wall_relax,  (void *)x->curve,
                   x->pooled,      x->unknown,        x->part,        x->liquid,     x->potential_memory, x->faces,
                   x->joints,      x->pairs,          x->outsides,    x->links,      x->surface,     x->lateral,
                   x->coolant,     x->coolant_temperature, x->coil_heat, x->runs,    x->run_part,    x->wells,
                   x->well_node,   x->well_weight,    x->path_name,  x->still_most,     x->entry_node};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
    free(owned[i]);
  for (size_t ring = 0; ring < x->num_rings; ring++)
    coil_shells_release(&x->rings[ring]);
  free(x->rings);
  free(x->shell_factor);
  conductance_rows_destroy(&x->rows);
  wall_solve_destroy(&x->walls);
  front_cells_destroy(&x->front);
  free(x->face_moved);
  free(x->front_surface);
  wall_sides_destroy(&x->sides);
  free(x);
  *net = NULL;
}

size_t network_num_nodes(const network *net)
{
  return net->num_unknowns;
}

const double *network_volume(const network *net)
{
  return net->volume;
}

const int32_t *network_node(const network *net)
{
  return net->unknown;
}

const int32_t *network_part(const network *net)
{
  return net->part;
}

size_t network_num_paths(const network *net)
{
  return net->num_paths;
}

const char *network_path_name(const network *net, size_t path)
{
  return net->path_name[path];
}

double *network_horizontal_factor(network *net)
{
  return net->horizontal;
}

double *network_vertical_factor(network *net)
{
  return net->vertical;
}

void network_set_film(network *net, int part, double film_coefficient)
{
  net->film[part] = film_coefficient;
}

void network_set_curve(network *net, int part, const phase_curve *curve)
{
  net->curve[part] = curve;
  for (size_t r = 0; r < net->num_runs; r++)
    if (net->run_part[r] == part)
      net->runs[r].curve = curve;
}

void network_set_coolant(network *net, size_t coil, coolant_state c)
{
  net->coolant[coil] = c;
}

double network_coolant_temperature(const network *net, size_t coil)
{
  return net->coolant_temperature[coil];
}

double network_coil_heat(const network *net, size_t coil)
{
  return net->coil_heat[coil];
}

static void initial_of(const network *net, size_t from, size_t to, double *enthalpy)
{
  for (size_t at = from; at < to; at++) {
    const int32_t part = net->part[at];
    enthalpy[at] = part >= 0 ? phase_curve_enthalpy(net->curve[part], net->rig->parts[part].initial_temperature) : 0.0;
  }
}

void network_initial(const network *net, double *enthalpy)
{
  initial_of(net, 0, net->num_unknowns, enthalpy);
}

void network_initial_walls(const network *net, double *enthalpy)
{
  initial_of(net, net->num_nodes, net->num_nodes + net->num_patches, enthalpy);
}

void network_restart(network *net)
{
  for (size_t p = 0; p < net->num_patches; p++)
    net->wall_temperature[p] = 0.0;
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    net->coolant_temperature[coil] = net->coil_heat[coil] = NAN;
}

/* ------------------------------------------------------------------------------------------- temperatures and tangents */

static heat_flux_nodes nodes_of(const network *net)
{
  heat_flux_nodes nodes = {.num = net->num_nodes, .num_runs = net->num_runs, .runs = net->runs, .needed = net->entry_node,
                           .num_needed = net->num_entry_cells};
  nodes.ramps = front_cells_ramps(net->front, &nodes.num_ramps);
  return nodes;
}

static double node_temperature(const network *net, size_t unknown, const double *enthalpy)
{
  const phase_curve *c = net->curve[net->part[unknown]];
  if (!c->three_lines)
    return phase_curve_temperature(c, enthalpy[unknown]);
  const double below = enthalpy[unknown] - c->solid_enthalpy, above = enthalpy[unknown] - c->liquid_enthalpy;
  return c->freezing_temperature + c->solid_temperature_slope * (below < 0.0 ? below : 0.0) +
         c->liquid_temperature_slope * (above > 0.0 ? above : 0.0);
}

static bool holds_liquid(const network *net, size_t unknown, const double *enthalpy)
{
  return enthalpy[unknown] > net->curve[net->part[unknown]]->solid_enthalpy;
}

static surface_end node_end(const network *net, const joint *j, int s, const double *enthalpy)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  const size_t node = (size_t)j->node[s];
  const int32_t part = net->part[node];
  surface_end end = {.kind = SURFACE_END_NODE, .curve = net->curve[part], .potential = net->potential[node],
                     .temperature = node_temperature(net, node, enthalpy), .reach = f->distance[s] / f->area[s], .factor = 1.0};
  if (net->pooled[part]) {
    end.kind = SURFACE_END_STIRRED;
    end.reach = 1.0 / (net->film[part] * f->area[s]);
  } else if (net->moving && holds_liquid(net, node, enthalpy)) {
    end.factor = fabs(f->normal[2]) < 0.7 ? net->horizontal[node] : net->vertical[node];
  }
  return end;
}

/* A film is convection and radiation together; moisture follows the convection. Radiation of a surface of emissivity 0.95:
 * 4 eps sigma T^3 (Incropera & DeWitt, ch. 1); a weaker film is all radiation. */
static double convective_part(double film, double temperature)
{
  const double T = temperature + 273.15, radiation = 4.0 * 0.95 * 5.670374e-8 * T * T * T;
  return film > radiation ? film - radiation : 0.0;
}

/* Temperature of the surroundings and their resistance, K/W. `air` is filled where moisture counts. */
static surface_end outside_end(const network *net, const surroundings *s, double area, double time, moist_air_room *air)
{
  const rig *r = net->rig;
  const double room = network_value(&r->room.temperature, time, NAN);
  surface_end end = {.kind = SURFACE_END_ENVIRONMENT, .temperature = room, .factor = 1.0};
  if (s->held >= 0) {
    const rig_part *held = &r->parts[s->held];
    end.temperature = schedule_at(&held->held, time);
    end.reach = held->held_film > 0.0 ? 1.0 / (held->held_film * area) : 0.0;
  } else if (s->rule >= 0) {
    const surface_rule *rule = &r->rules[s->rule];
    const double ambient = s->kind == SURFACE_FLOOR ? network_value(&r->room.floor_temperature, time, room) : room;
    end.temperature = network_value(&rule->temperature, time, ambient);
    const double film = s->kind == SURFACE_FIXED ? INFINITY : schedule_at(&rule->coefficient, time);
    end.reach = 1.0 / (film * area);
    if (rule->condensation && s->kind == SURFACE_FILM) {
      *air = (moist_air_room){.convection = convective_part(film, end.temperature), .temperature = end.temperature,
                              .relative_humidity = r->room.relative_humidity, .pressure = r->room.pressure};
      end.moist = air;
      end.area = area;
    }
  } else {
    end.reach = 1.0 / (r->room.film * area);
  }
  return end;
}

static double contact_resistance(const network *net, int32_t rule, double area, double time)
{
  return rule >= 0 ? schedule_at(&net->rig->rules[rule].coefficient, time) / area : 0.0;
}

/* Upper bound of what a conductance in series with a half cell can be, in potential units, for the node at rest. */
static void add_to_sums(network *net, size_t node, double conductance, double half_cell)
{
  net->entry_sum[node] += conductance;
  net->entry_still[node] += conductance < half_cell ? conductance : half_cell;
}

static double half_cell_of(const network *net, const joint *j, int s)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  return net->pooled[net->part[j->node[s]]] ? INFINITY : f->area[s] / f->distance[s];
}

static void refresh_pair(network *net, const joint *j, const double *enthalpy, double time)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  const surface_end end[2] = {node_end(net, j, 0, enthalpy), node_end(net, j, 1, enthalpy)};
  const double resistance = contact_resistance(net, j->contact[0], 0.5 * (f->area[0] + f->area[1]), time);
  surface_side side[2];
  surface_balance(end, resistance, side);
  const double g = 1.0 / (side[0].resistance + resistance + side[1].resistance);
  pair_entry *e = &net->pairs[j->slot[0]];
  e->a = g * side[0].slope;
  e->b = g * side[1].slope;
  e->c = g * (side[0].offset - side[1].offset);
  add_to_sums(net, (size_t)e->i, e->a, half_cell_of(net, j, 0));
  add_to_sums(net, (size_t)e->j, e->b, half_cell_of(net, j, 1));
  net->surface[j - net->joints] = side[0].surface;
}

static void refresh_outside(network *net, const joint *j, const double *enthalpy, double time)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  moist_air_room air;
  const surface_end end[2] = {node_end(net, j, 0, enthalpy), outside_end(net, &j->outside, f->area[0], time, &air)};
  const double resistance = contact_resistance(net, j->contact[0], f->area[0], time);
  surface_side side[2];
  surface_balance(end, resistance, side);
  const double g = 1.0 / (side[0].resistance + resistance + side[1].resistance);
  outside_entry *e = &net->outsides[j->slot[0]];
  e->a = g * side[0].slope;
  e->c = g * (side[0].offset - side[1].offset);
  e->m0 = side[1].moisture;
  e->m1 = side[1].moisture_share;
  /* an entry to a fixed temperature has no partner in its row: half of it counts in the bound 2 * sum */
  add_to_sums(net, (size_t)e->i, 0.5 * e->a, 0.5 * half_cell_of(net, j, 0));
  net->surface[j - net->joints] = side[0].surface;
}

/* ------------------------------------------------------------------------------------------- thin walls */

static double conductivity_of(const phase_curve *wall, double temperature)
{
  const bool constant = wall->three_lines && wall->solid_enthalpy == wall->liquid_enthalpy &&
                        wall->solid_potential_slope == wall->liquid_potential_slope;
  return constant ? wall->liquid_potential_slope / wall->liquid_temperature_slope : phase_curve_conductivity_at(wall, temperature, 1);
}

/* Tangent of one side of a wall whose mid-plane is at T_wall: half the wall, the contact, then the node or the surroundings. */
static void refresh_wall_side(network *net, const joint *j, int s, const double *enthalpy, double time)
{
  const mesh_interface *f = &net->mesh->interfaces[j - net->joints];
  const mesh_patch *patch = &net->mesh->patches[j->patch];
  const double own = f->area[s], middle = 0.5 * (f->area[0] + f->area[1]);
  const double wall_temperature = net->wall_temperature[j->patch];
  const double k = conductivity_of(net->curve[patch->part], wall_temperature);
  const double resistance = 0.5 * patch->thickness / (k * 0.5 * (own + middle)) + contact_resistance(net, j->contact[s], own, time);
  moist_air_room air;
  const surface_end end[2] = {j->node[s] >= 0 ? node_end(net, j, s, enthalpy) : outside_end(net, &j->outside, own, time, &air),
                              {.kind = SURFACE_END_ENVIRONMENT, .temperature = wall_temperature, .factor = 1.0}};
  surface_side side[2];
  surface_balance(end, resistance, side);
  wall_link *link = &net->links[j->slot[s]];
  link->g = 1.0 / (side[0].resistance + resistance);
  link->a = link->g * side[0].slope;
  link->o = link->g * side[0].offset;
  link->m0 = side[0].moisture;
  link->m1 = side[0].moisture_share;
  if (s == 0)
    net->surface[j - net->joints] = side[0].surface;
}

static void refresh_wall_sides(network *net, const double *enthalpy, double time)
{
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    const joint *j = &net->joints[i];
    if (j->kind != JOINT_WALL)
      continue;
    for (int s = 0; s < 2; s++)
      if (j->open[s])
        refresh_wall_side(net, j, s, enthalpy, time);
  }
  wall_sides_refresh(net->sides, net->links);
}

static void sum_wall_links(network *net)
{
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    const joint *j = &net->joints[i];
    if (j->kind != JOINT_WALL)
      continue;
    for (int s = 0; s < 2; s++)
      if (j->open[s] && j->node[s] >= 0)
        add_to_sums(net, (size_t)j->node[s], net->links[j->slot[s]].a, half_cell_of(net, j, s));
  }
}

static double own_wall_temperature(const network *net, size_t patch, const double *enthalpy)
{
  return node_temperature(net, net->num_nodes + patch, enthalpy);
}

/* C / t_w of each patch, and lateral conductances. */
static void refresh_wall_masses(network *net, const double *enthalpy, double lag)
{
  for (size_t p = 0; p < net->num_patches; p++) {
    const phase_curve *c = net->curve[net->part[net->num_nodes + p]];
    const double T = own_wall_temperature(net, p, enthalpy);
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
static status find_wall_temperatures(network *net, const double *enthalpy, message *msg)
{
  for (size_t p = 0; p < net->num_patches; p++) {
    net->wall_own[p] = own_wall_temperature(net, p, enthalpy);
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
  return wall_solve_matrix(net->walls, net->wall_diagonal, net->lateral, msg);
}

static status refresh_walls(network *net, const double *enthalpy, double time, double lag, message *msg)
{
  refresh_wall_masses(net, enthalpy, lag);
  status code = set_wall_matrix(net, msg);
  for (int round = 0; code == STATUS_OK && round < WALL_ROUNDS; round++) {
    double moved = 0.0;
    memcpy(net->wall_heat, net->wall_temperature, net->num_patches * sizeof *net->wall_heat);
    code = find_wall_temperatures(net, enthalpy, msg);
    for (size_t p = 0; p < net->num_patches; p++)
      moved = larger(moved, fabs(net->wall_temperature[p] - net->wall_heat[p]));
    if (code != STATUS_OK || moved < WALL_SETTLED)
      break;
    refresh_wall_sides(net, enthalpy, time);
    code = set_wall_matrix(net, msg);
  }
  return code;
}

/* ------------------------------------------------------------------------------------------- coils */

static double well_potential(const network *net, const well_entry *w)
{
  double sum = 0.0;
  for (size_t n = w->first; n < w->first + w->num; n++)
    sum += net->well_weight[n] * net->potential[net->well_node[n]];
  return sum;
}

static double well_drive(const network *net, const well_entry *w, const double *enthalpy)
{
  if (w->shells >= 0)
    return w->slope * net->rings[w->shells].potential[0] + w->offset;
  if (w->by_temperature)
    return node_temperature(net, (size_t)net->well_node[w->first], enthalpy);
  return w->slope * well_potential(net, w) + w->offset;
}

static void refresh_well(network *net, well_entry *w, const double *enthalpy, double coolant)
{
  const coil_shells *shells = w->shells >= 0 ? &net->rings[w->shells] : NULL;
  const size_t node = shells ? shells->first : (size_t)net->well_node[w->first];
  const phase_curve *c = net->curve[net->part[node]];
  if (w->by_temperature) { /* geometric: the tube's outer area where the bath's own film stands on it */
    w->g = 1.0 / (w->tube + (w->geometric > 0.0 ? 1.0 / (net->film[net->part[node]] * w->geometric) : 0.0));
    return;
  }
  const surface_end end[2] = {{.kind = SURFACE_END_NODE, .curve = c, .potential = shells ? shells->potential[0] : well_potential(net, w),
                               .temperature = shells ? phase_curve_temperature(c, shells->ahead[0]) : node_temperature(net, node, enthalpy),
                               .reach = 1.0 / w->geometric, .factor = 1.0},
                              {.kind = SURFACE_END_ENVIRONMENT, .temperature = coolant, .reach = w->tube, .factor = 1.0}};
  surface_side side[2];
  surface_balance(end, 0.0, side);
  w->slope = side[0].slope;
  w->offset = side[0].offset;
  w->g = 1.0 / (side[0].resistance + side[1].resistance);
}

static void sum_wells(network *net, const double *enthalpy)
{
  for (size_t i = 0; i < net->num_wells; i++) {
    const well_entry *w = &net->wells[i];
    for (size_t n = w->first; n < w->first + w->num; n++) { /* none with shells: those are summed for themselves */
      const size_t node = (size_t)net->well_node[n];
      double slope = w->slope;
      if (w->by_temperature) {
        const phase_curve *c = net->curve[net->part[node]];
        const double T = node_temperature(net, node, enthalpy);
        slope = 1.0 / smaller(phase_curve_conductivity_at(c, T, -1), phase_curve_conductivity_at(c, T, 1));
      }
      net->entry_sum[node] += 0.5 * w->g * slope * net->well_weight[n];
      net->entry_still[node] += 0.5 * w->g * slope * net->well_weight[n];
    }
  }
}

/* The plant: heat of all its coils = intercept + slope T, each ring giving g (drive - T), drive = fixed + by_coolant T. One unknown. */
typedef struct {
  bool plant;
  double offered, conductance;
  const coolant_state *state;
} coolant_balance;

static void coolant_begin(const network *net, coolant_balance *b)
{
  *b = (coolant_balance){0};
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    if (net->coolant[coil].plant) {
      b->plant = true;
      b->state = &net->coolant[coil];
    }
}

static void coolant_add(const network *net, coolant_balance *b, const well_entry *w, double fixed, double by_coolant)
{
  if (!net->coolant[w->coil].plant)
    return;
  b->offered += w->g * fixed;
  b->conductance += w->g * (1.0 - by_coolant);
}

static void coolant_settle(network *net, const coolant_balance *b)
{
  const double found = b->plant ? (b->offered - b->state->intercept) / (b->conductance + b->state->slope) : NAN;
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    net->coolant_temperature[coil] = net->coolant[coil].plant ? found : net->coolant[coil].temperature;
}

/* The shells a lag ahead, together with the coolant: Newton's method, which ends when every shell keeps to its tangent. */
static void find_shells(network *net, const double *enthalpy)
{
  bool again = net->num_rings > 0;
  for (size_t ring = 0; ring < net->num_rings; ring++)
    coil_shells_start(&net->rings[ring], net->curve[net->rings[ring].part], enthalpy);
  for (int round = 0; again && round < SHELL_ROUNDS; round++) {
    coolant_balance b;
    coolant_begin(net, &b);
    for (size_t i = 0; i < net->num_wells; i++) {
      const well_entry *w = &net->wells[i];
      double fixed = 0.0, by_coolant = 0.0;
      if (w->shells >= 0) {
        const coil_shells_tube tube = {.g = w->g, .slope = w->slope, .offset = w->offset};
        coil_shells_linearise(&net->rings[w->shells], net->potential, net->shell_lag, &tube, &fixed, &by_coolant);
        coolant_add(net, &b, w, w->slope * fixed + w->offset, w->slope * by_coolant);
      } else if (b.plant) {
        coolant_add(net, &b, w, well_drive(net, w, enthalpy), 0.0);
      }
    }
    coolant_settle(net, &b);
    again = false;
    for (size_t i = 0; i < net->num_wells; i++) {
      const well_entry *w = &net->wells[i];
      if (w->shells >= 0 &&
          coil_shells_move(&net->rings[w->shells], net->curve[net->rings[w->shells].part], net->coolant_temperature[w->coil]))
        again = true;
    }
  }
}

static void find_coolant(network *net, const double *enthalpy)
{
  coolant_balance b;
  find_shells(net, enthalpy);
  coolant_begin(net, &b);
  for (size_t i = 0; b.plant && i < net->num_wells; i++)
    if (net->coolant[net->wells[i].coil].plant)
      coolant_add(net, &b, &net->wells[i], well_drive(net, &net->wells[i], enthalpy), 0.0);
  coolant_settle(net, &b);
}

static void refresh_coils(network *net, const double *enthalpy)
{
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    net->coolant_temperature[coil] = net->coolant[coil].temperature;
  for (int round = 0; round < COOLANT_ROUNDS; round++) {
    for (size_t i = 0; i < net->num_wells; i++)
      refresh_well(net, &net->wells[i], enthalpy, net->coolant_temperature[net->wells[i].coil]);
    double before = 0.0, after = 0.0;
    for (size_t coil = 0; coil < net->rig->num_coils; coil++)
      before += net->coolant_temperature[coil];
    find_coolant(net, enthalpy);
    for (size_t coil = 0; coil < net->rig->num_coils; coil++)
      after += net->coolant_temperature[coil];
    if (fabs(after - before) < WALL_SETTLED)
      break;
  }
}

/* ------------------------------------------------------------------------------------------- liquid in motion */

static bool factors_are_one(const network *net)
{
  for (size_t node = 0; node < net->num_nodes; node++)
    if (net->horizontal[node] != 1.0 || net->vertical[node] != 1.0)
      return false;
  return true;
}

static double face_factor(const network *net, const face_entry *f)
{
  if (!net->liquid[f->left] || !net->liquid[f->right])
    return 1.0;
  if (f->axis != 2)
    return larger(net->horizontal[f->left], net->horizontal[f->right]);
  const bool left_lower = net->mesh->centroid[f->left][2] <= net->mesh->centroid[f->right][2];
  return net->vertical[left_lower ? f->left : f->right];
}

static status refresh_motion(network *net, const double *enthalpy, message *msg)
{
  const bool was_moving = net->moving;
  net->moving = !factors_are_one(net);
  if (!net->moving) {
    if (was_moving)
      conductance_rows_still(net->rows);
    for (size_t f = 0; was_moving && f < net->num_faces; f++)
      net->faces[f].moved = net->faces[f].still;
    memcpy(net->sum, net->still_sum, net->num_unknowns * sizeof *net->sum);
    return STATUS_OK;
  }
  for (size_t node = 0; node < net->num_nodes; node++)
    net->liquid[node] = net->part[node] >= 0 && holds_liquid(net, node, enthalpy);
  if (!conductance_rows_move(net->rows, net->horizontal, net->vertical, net->liquid))
    return message_set(msg, STATUS_FAILED, "liquid in motion was asked for in a rig whose bodies and baths are all without motion");
  memset(net->sum, 0, net->num_unknowns * sizeof *net->sum);
  conductance_rows_add_sums(net->rows, net->sum);
  for (size_t f = 0; f < net->num_faces; f++) {
    face_entry *face = &net->faces[f];
    face->moved = face->still * face_factor(net, face);
    net->sum[face->left] += face->moved;
    net->sum[face->right] += face->moved;
  }
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- shells round tubes, at a refresh */

/* How much motion multiplies conduction between a tube and what lies round it, along and up: a line source in a medium of unlike
 * conductivities k_r, k_z spreads its heat as in one of sqrt(k_r k_z) (Carslaw & Jaeger 1959, sec. 1.20). */
static double motion_at(const network *net, size_t node)
{
  return net->moving && net->liquid[node] ? sqrt(net->horizontal[node] * net->vertical[node]) : 1.0;
}

static status refresh_cross(network *net, coil_shells *s, message *msg)
{
  double *factor = net->shell_factor;
  for (size_t f = 0; f < s->num_faces; f++) {
    const face_entry face = {.left = s->face[f].lower, .right = s->face[f].upper, .axis = s->face[f].axis};
    factor[f] = net->moving ? face_factor(net, &face) : 1.0;
  }
  return coil_shells_cross(s, factor, msg);
}

/* Liquid in motion conducts round the tube as it does at the rim. */
static status refresh_shells(network *net, coil_shells *s, const double *enthalpy, message *msg)
{
  const double solid = net->curve[s->part]->solid_enthalpy;
  double factor = 0.0;
  for (size_t n = 0; n < s->num_rim; n++)
    factor += s->weight[n] * motion_at(net, (size_t)s->node[n]);
  s->link_now = s->link * (enthalpy[s->first + s->num - 1] > solid ? factor : 1.0);
  for (size_t i = 0; i + 1 < s->num; i++)
    s->between_now[i] = s->between[i] * (enthalpy[s->first + i] > solid ? factor : 1.0);
  coil_shells_start(s, net->curve[s->part], enthalpy);
  return net->moving != net->cross_moving || net->moving ? refresh_cross(net, s, msg) : STATUS_OK;
}

static status refresh_rings(network *net, const double *enthalpy, message *msg)
{
  status code = STATUS_OK;
  for (size_t ring = 0; code == STATUS_OK && ring < net->num_rings; ring++)
    code = refresh_shells(net, &net->rings[ring], enthalpy, msg);
  net->cross_moving = net->moving;
  return code;
}

/* Shells and the nodes at the rims of their holes: links count whole, they have a partner in the row. */
static void sum_shells(network *net)
{
  for (size_t ring = 0; ring < net->num_rings; ring++) {
    const coil_shells *s = &net->rings[ring];
    for (size_t n = 0; n < s->num_rim; n++) {
      double sum = s->weight[n] * s->link_now;
      for (size_t other = 0; other < s->num_rim; other++)
        sum += s->cross[n * s->num_rim + other];
      add_to_sums(net, (size_t)s->node[n], sum, sum);
    }
  }
}

/* ------------------------------------------------------------------------------------------- the bound on the eigenvalues */

typedef struct {
  double low, high;
} range;

static void widen(double *low, double *high, range r)
{
  *low = r.low < *low ? r.low : *low;
  *high = r.high > *high ? r.high : *high;
}

/* Widens the LANES strands of a part over one of its runs. */
static void widen_strands(double *low, double *high, const double *enthalpy, size_t num)
{
  double least[LANES], most[LANES];
  memcpy(least, low, sizeof least);
  memcpy(most, high, sizeof most);
  size_t i = 0;
  for (; i + LANES <= num; i += LANES) {
#pragma omp simd
    for (size_t l = 0; l < LANES; l++) {
      const double h = enthalpy[i + l];
      least[l] = h < least[l] ? h : least[l];
      most[l] = h > most[l] ? h : most[l];
    }
  }
  for (size_t l = 0; i < num; i++, l++) {
    least[l] = enthalpy[i] < least[l] ? enthalpy[i] : least[l];
    most[l] = enthalpy[i] > most[l] ? enthalpy[i] : most[l];
  }
  memcpy(low, least, sizeof least);
  memcpy(high, most, sizeof most);
}

/* The strands of a part's enthalpies together. */
static range whole_range(const double *low, const double *high)
{
  range all = {low[0], high[0]};
  for (size_t l = 1; l < LANES; l++)
    widen(&all.low, &all.high, (range){low[l], high[l]});
  return all;
}

static range range_of_moving(const network *net, size_t begin, size_t end, const double *enthalpy)
{
  range all = {DBL_MAX, -DBL_MAX};
  for (size_t node = begin; node < end; node++)
    if (net->liquid[node] && (net->horizontal[node] > 1.0 || net->vertical[node] > 1.0))
      widen(&all.low, &all.high, (range){enthalpy[node], enthalpy[node]});
  return all;
}

static double steepest_between(const phase_curve *c, double low, double high)
{
  if (!c || low > high)
    return 0.0;
  return phase_curve_steepest(c, phase_curve_temperature(c, low) - RANGE_MARGIN, phase_curve_temperature(c, high) + RANGE_MARGIN);
}

static void find_steepest(network *net, const double *enthalpy)
{
  for (int32_t part = 0; part < net->mesh->num_parts; part++) {
    for (size_t l = 0; l < LANES; l++) {
      net->low[(size_t)part * LANES + l] = DBL_MAX;
      net->high[(size_t)part * LANES + l] = -DBL_MAX;
    }
    net->low_moving[part] = DBL_MAX;
    net->high_moving[part] = -DBL_MAX;
  }
  for (size_t r = 0; r < net->num_runs; r++) {
    const int32_t part = net->run_part[r];
    if (part < 0)
      continue;
    const size_t begin = net->runs[r].begin, end = net->runs[r].end;
    widen_strands(net->low + (size_t)part * LANES, net->high + (size_t)part * LANES, enthalpy + begin, end - begin);
    if (net->moving)
      widen(&net->low_moving[part], &net->high_moving[part], range_of_moving(net, begin, end, enthalpy));
  }
  for (int32_t part = 0; part < net->mesh->num_parts; part++) {
    const range all = whole_range(net->low + (size_t)part * LANES, net->high + (size_t)part * LANES);
    net->steepest[part] = steepest_between(net->curve[part], all.low, all.high);
    /* what moves is liquid: no margin below its own coldest */
    const phase_curve *c = net->curve[part];
    const bool any = c && net->low_moving[part] <= net->high_moving[part];
    net->steepest_moving[part] = any ? phase_curve_steepest(c, phase_curve_temperature(c, net->low_moving[part]),
                                                            phase_curve_temperature(c, net->high_moving[part]) + RANGE_MARGIN)
                                     : 0.0;
  }
}

static double bound_at(const network *net, size_t node)
{
  const int32_t part = net->part[node];
  const double rest = net->steepest[part] * (net->still_sum[node] + net->entry_still[node]);
  const double flow = net->steepest_moving[part] * (net->sum[node] + net->entry_sum[node]);
  return 2.0 * larger(rest, flow) * net->inverse_volume[node];
}

/* Row sums of V^-1 S G, similar to the Jacobian V^-1 G S (S = du/dH): twice the diagonal bounds every eigenvalue (Gershgorin).
 * Without motion only the nodes that entries reach need a look; the rest is known per part. */
static double largest_eigenvalue(const network *net)
{
  double largest = 0.0;
  for (int32_t part = 0; part < net->mesh->num_parts; part++)
    largest = larger(largest, 2.0 * net->steepest[part] * net->still_most[part]);
  if (net->moving)
    for (size_t node = 0; node < net->num_nodes; node++)
      largest = net->part[node] >= 0 ? larger(largest, bound_at(net, node)) : largest;
  else
    for (size_t n = 0; n < net->num_entry_nodes; n++)
      largest = larger(largest, bound_at(net, (size_t)net->entry_node[n]));
  return largest;
}

static status check_films(const network *net, message *msg)
{
  for (size_t part = 0; part < net->rig->num_parts; part++)
    if (net->pooled[part] && !(net->film[part] > 0.0))
      return message_set(msg, STATUS_FAILED, "stirred bath %s has no film coefficient", net->rig->parts[part].name);
  return STATUS_OK;
}

/* The wall's own lag follows from the nodes' bound: as slow as costs no stages, but never slower than LONGEST_WALL_LAG. */
static double wall_lag(double bound)
{
  const double lag = bound > 0.0 ? 2.0 / bound : LONGEST_WALL_LAG;
  return lag < LONGEST_WALL_LAG ? lag : LONGEST_WALL_LAG;
}

/* Lag of the shells: as slow as costs no stages, but never slower than a share of the time in which heat crosses a tube's radius. */
static double shell_lag(const network *net, double bound)
{
  double lag = bound > 0.0 ? 2.0 / bound : INFINITY;
  for (size_t ring = 0; ring < net->num_rings; ring++) {
    const coil_shells *s = &net->rings[ring];
    lag = smaller(lag, LONGEST_SHELL_LAG * s->edge[0] * s->edge[0] / net->steepest[s->part]);
  }
  return lag;
}

static double bound_of(const network *net)
{
  const double nodes = largest_eigenvalue(net);
  return net->num_rings > 0 ? larger(nodes, 2.0 / net->shell_lag) : nodes;
}

/* The front as it stands, with every surface as the coefficients just found have it. */
static void refresh_front(network *net, const double *enthalpy)
{
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    const joint *j = &net->joints[i];
    front_cells_surface *s = &net->front_surface[2 * i];
    if (j->kind == JOINT_PAIR) {
      const pair_entry *e = &net->pairs[j->slot[0]];
      s[0] = (front_cells_surface){e->a, e->c - e->b * net->potential[e->j], half_cell_of(net, j, 0)};
      s[1] = (front_cells_surface){e->b, -e->c - e->a * net->potential[e->i], half_cell_of(net, j, 1)};
    } else if (j->kind == JOINT_OUTSIDE) {
      const outside_entry *e = &net->outsides[j->slot[0]];
      s[0] = (front_cells_surface){e->a, e->c, half_cell_of(net, j, 0)};
    }
    for (int side = 0; j->kind == JOINT_WALL && side < 2; side++)
      if (j->open[side] && j->node[side] >= 0) {
        const wall_link *e = &net->links[j->slot[side]];
        s[side] = (front_cells_surface){e->a, e->o - e->g * net->wall_temperature[e->patch], half_cell_of(net, j, side)};
      }
  }
  for (size_t f = 0; f < net->num_faces; f++)
    net->face_moved[f] = net->faces[f].moved;
  front_cells_refresh(net->front, enthalpy, net->potential, net->face_moved, net->front_surface);
}

status network_refresh(network *net, const double *enthalpy, double time, double *spectral_radius, message *msg)
{
  status code = check_films(net, msg);
  if (code == STATUS_OK)
    code = refresh_motion(net, enthalpy, msg);
  if (code != STATUS_OK)
    return code;
  const heat_flux_nodes nodes = nodes_of(net);
  heat_flux_potential(&nodes, enthalpy, net->potential);
  memset(net->entry_sum, 0, net->num_unknowns * sizeof *net->entry_sum);
  memset(net->entry_still, 0, net->num_unknowns * sizeof *net->entry_still);
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    if (net->joints[i].kind == JOINT_PAIR)
      refresh_pair(net, &net->joints[i], enthalpy, time);
    else if (net->joints[i].kind == JOINT_OUTSIDE)
      refresh_outside(net, &net->joints[i], enthalpy, time);
    else if (net->joints[i].kind == JOINT_NONE)
      net->surface[i] = net->joints[i].node[0] >= 0 ? node_temperature(net, (size_t)net->joints[i].node[0], enthalpy) : NAN;
  }
  find_steepest(net, enthalpy);
  if (net->num_rings > 0) {
    code = refresh_rings(net, enthalpy, msg);
    if (code != STATUS_OK)
      return code;
    sum_shells(net);
    net->shell_lag = shell_lag(net, largest_eigenvalue(net));
  }
  refresh_coils(net, enthalpy);
  sum_wells(net, enthalpy);
  double bound = bound_of(net);
  if (net->num_patches > 0) {
    for (size_t p = 0; p < net->num_patches; p++)
      net->wall_temperature[p] = own_wall_temperature(net, p, enthalpy);
    refresh_wall_sides(net, enthalpy, time);
    const double lag = wall_lag(bound);
    code = refresh_walls(net, enthalpy, time, lag, msg);
    sum_wall_links(net);
    bound = larger(bound_of(net), 2.0 / lag);
  }
  *spectral_radius = bound;
  if (code == STATUS_OK && !net->front_held)
    refresh_front(net, enthalpy);
  return code;
}

void network_hold_front(network *net, bool hold)
{
  net->front_held = hold;
}

double network_bound(network *net, const double *enthalpy)
{
  find_steepest(net, enthalpy);
  return bound_of(net);
}

/* ------------------------------------------------------------------------------------------- evaluation */

static inline void add(const network *net, double *target, double scale, int32_t node, double heat)
{
  target[node] += scale * heat * net->inverse_volume[node];
}

static void add_faces(const network *net, double scale, double *target)
{
  for (size_t f = 0; f < net->num_faces; f++) {
    const face_entry *e = &net->faces[f];
    const double q = e->moved * (net->potential[e->left] - net->potential[e->right]);
    add(net, target, scale, e->left, -q);
    add(net, target, scale, e->right, q);
  }
}

static void add_pairs(const network *net, double scale, double *target)
{
  for (size_t p = 0; p < net->num_pairs; p++) {
    const pair_entry *e = &net->pairs[p];
    const double q = e->a * net->potential[e->i] - e->b * net->potential[e->j] + e->c;
    add(net, target, scale, e->i, -q);
    add(net, target, scale, e->j, q);
  }
}

/* Heat Q from an environment, parted between film and moisture. */
static inline void give(double *path_rate, int32_t path, int32_t moist_path, double heat, double m0, double m1)
{
  const double moisture = moist_path >= 0 ? m0 + m1 * heat : 0.0;
  path_rate[path] += heat - moisture;
  if (moist_path >= 0)
    path_rate[moist_path] += moisture;
}

static void add_outsides(const network *net, double scale, double *target, double *path_rate)
{
  for (size_t o = 0; o < net->num_outsides; o++) {
    const outside_entry *e = &net->outsides[o];
    const double q = e->a * net->potential[e->i] + e->c;
    add(net, target, scale, e->i, -q);
    give(path_rate, e->path, e->moist_path, -q, e->m0, e->m1);
  }
}

/* What leaves the sides enters the wall: its carried heat takes exactly that, whatever the solve left over. */
static status add_walls(network *net, const double *enthalpy, double scale, double *target, double *path_rate, message *msg)
{
  const status code = find_wall_temperatures(net, enthalpy, msg);
  if (code != STATUS_OK)
    return code;
  const double *T = net->wall_temperature;
  memset(net->wall_heat, 0, net->num_patches * sizeof *net->wall_heat);
  wall_sides_exchange(net->sides, net->potential, T, scale, net->wall_heat, target, path_rate);
  for (size_t l = 0; l < net->mesh->num_patch_links; l++) {
    const mesh_patch_link *link = &net->mesh->patch_links[l];
    const double q = net->lateral[l] * (T[link->patch[0]] - T[link->patch[1]]);
    net->wall_heat[link->patch[0]] -= q;
    net->wall_heat[link->patch[1]] += q;
  }
  for (size_t p = 0; p < net->num_patches; p++)
    add(net, target, scale, (int32_t)(net->num_nodes + p), net->wall_heat[p]);
  return STATUS_OK;
}

/* Shells: `heat` goes into the tube. A node that was cleared follows the shell that stands in for it (stand_in). */
static void add_shells(const network *net, const coil_shells *s, double scale, double heat, double *target)
{
  const int32_t first = (int32_t)s->first, last = first + (int32_t)s->num - 1;
  add(net, target, scale, first, -heat);
  for (int32_t i = first; i < last; i++) {
    const double q = s->between_now[i - first] * (s->potential[i - first] - s->potential[i - first + 1]);
    add(net, target, scale, i, -q);
    add(net, target, scale, i + 1, q);
  }
  double rim = 0.0;
  for (size_t n = 0; n < s->num_rim; n++)
    rim += s->weight[n] * net->potential[s->node[n]];
  const double outward = s->link_now * (s->potential[s->num - 1] - rim);
  add(net, target, scale, last, -outward);
  for (size_t n = 0; n < s->num_rim; n++) {
    double q = s->weight[n] * outward;
    for (size_t other = 0; other < s->num_rim; other++)
      q += s->cross[n * s->num_rim + other] * (net->potential[s->node[other]] - net->potential[s->node[n]]);
    add(net, target, scale, s->node[n], q);
  }
}

/* Nodes that were cleared for shells have no volume; they show the shell that stands in for them. */
static void stand_in(const network *net, double *values)
{
  for (size_t ring = 0; ring < net->num_rings; ring++)
    for (size_t n = 0; n < net->rings[ring].num_inside; n++)
      values[net->rings[ring].inside[n]] = values[net->rings[ring].shell_of[n]];
}

static void add_coils(network *net, const double *enthalpy, double scale, double *target, double *path_rate)
{
  find_coolant(net, enthalpy);
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    net->coil_heat[coil] = 0.0;
  for (size_t i = 0; i < net->num_wells; i++) {
    const well_entry *w = &net->wells[i];
    const double q = w->g * (well_drive(net, w, enthalpy) - net->coolant_temperature[w->coil]);
    if (w->shells >= 0)
      add_shells(net, &net->rings[w->shells], scale, q, target);
    for (size_t n = w->first; n < w->first + w->num; n++)
      add(net, target, scale, net->well_node[n], -q * net->well_weight[n]);
    net->coil_heat[w->coil] += q;
  }
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    path_rate[net->first_coil_path + coil] -= net->coil_heat[coil];
}

/* Adds scale times the rates of everything but the regular faces; path_rate from zero. */
static status add_entries(network *net, const double *enthalpy, double scale, double *target, double *path_rate, message *msg)
{
  memset(path_rate, 0, net->num_paths * sizeof *path_rate);
  add_faces(net, scale, target);
  add_pairs(net, scale, target);
  add_outsides(net, scale, target, path_rate);
  if (net->rig->num_coils > 0)
    add_coils(net, enthalpy, scale, target, path_rate);
  stand_in(net, target);
  return net->num_patches > 0 ? add_walls(net, enthalpy, scale, target, path_rate, msg) : STATUS_OK;
}

static size_t num_swept(const network *net)
{
  const size_t *num = net->mesh->grid->num;
  return num[0] * num[1] * num[2];
}

status network_rate(network *net, const double *enthalpy, double *rate, double *path_rate, message *msg)
{
  const heat_flux_nodes nodes = nodes_of(net);
  heat_flux_rate(conductance_rows_view(net->rows), &nodes, enthalpy, net->potential, rate);
  const size_t swept = num_swept(net);
  memset(rate + swept, 0, (net->num_unknowns - swept) * sizeof *rate);
  return add_entries(net, enthalpy, 1.0, rate, path_rate, msg);
}

status network_stage(network *net, const stage_weights *w, const double *start, const double *start_rate, const double *last,
                     double *next, double *path_rate, message *msg)
{
  const heat_flux_nodes nodes = nodes_of(net);
  heat_flux_stage(conductance_rows_view(net->rows), &nodes, w, net->potential, start, start_rate, last, next);
  for (size_t i = num_swept(net); i < net->num_unknowns; i++)
    next[i] = w->mu * last[i] + w->nu * next[i] + w->rest * start[i] + w->start_rate * start_rate[i];
  return add_entries(net, last, w->rate, next, path_rate, msg);
}

/* ------------------------------------------------------------------------------------------- preconditioner */

/* Diagonal incomplete factors of 1 - gamma J over the regular faces: A_ij = -gamma G_ij s_j / V_i,
 * pivot_i = A_ii - sum over j < i of A_ij A_ji / pivot_j (Saad 2003, Iterative Methods for Sparse Linear Systems, sec. 10.3.2). */
void network_precondition_set(network *net, const double *enthalpy, double gamma)
{
  net->gamma = gamma;
  const heat_flux_rows *rows = conductance_rows_view(net->rows);
  const size_t n = rows->num[0], num_rows = rows->num[1] * rows->num[2], stride[3] = {1, n, n * rows->num[1]};
  for (size_t i = 0; i < net->num_unknowns; i++) {
    const int32_t part = net->part[i];
    net->slope[i] = 0.0;
    if (part >= 0 && i < net->num_nodes) {
      const phase_curve *c = net->curve[part];
      const double delta = 1e-3 * (fabs(enthalpy[i]) + 1e6);
      net->slope[i] = (phase_curve_potential(c, enthalpy[i] + delta) - phase_curve_potential(c, enthalpy[i] - delta)) / (2.0 * delta);
    }
    net->pivot[i] = 1.0 + gamma * net->slope[i] * net->inverse_volume[i] * (net->sum[i] + net->entry_sum[i]);
  }
  for (size_t row = 0; row < num_rows; row++)
    for (size_t i = 0; i < n; i++) {
      const size_t cell = row * n + i;
      for (int axis = 0; axis < 3; axis++) {
        const double g = rows->conductance[axis] ? rows->conductance[axis][row][i + 1] : 0.0;
        const size_t up = cell + stride[axis];
        if (g > 0.0) { /* row `up` has cell before it */
          const double product = gamma * g * gamma * g * net->slope[cell] * net->slope[up] * net->inverse_volume[up] * net->inverse_volume[cell];
          net->pivot[up] -= product / net->pivot[cell];
        }
      }
    }
}

void network_precondition(const network *net, const double *b, double *x)
{
  const heat_flux_rows *rows = conductance_rows_view(net->rows);
  const size_t n = rows->num[0], num_rows = rows->num[1] * rows->num[2], stride[3] = {1, n, n * rows->num[1]};
  if (x != b)
    memcpy(x, b, net->num_unknowns * sizeof *x);
  for (size_t row = 0; row < num_rows; row++)
    for (size_t i = 0; i < n; i++) { /* forward: divide, then pass on to the later neighbours */
      const size_t cell = row * n + i;
      x[cell] /= net->pivot[cell];
      for (int axis = 0; axis < 3; axis++) {
        const double g = rows->conductance[axis] ? rows->conductance[axis][row][i + 1] : 0.0;
        if (g > 0.0)
          x[cell + stride[axis]] += net->gamma * g * net->slope[cell] * net->inverse_volume[cell + stride[axis]] * x[cell];
      }
    }
  for (size_t row = num_rows; row-- > 0;)
    for (size_t i = n; i-- > 0;) { /* backward */
      const size_t cell = row * n + i;
      double later = 0.0;
      for (int axis = 0; axis < 3; axis++) {
        const double g = rows->conductance[axis] ? rows->conductance[axis][row][i + 1] : 0.0;
        if (g > 0.0)
          later += g * net->slope[cell + stride[axis]] * x[cell + stride[axis]];
      }
      x[cell] += net->gamma * net->inverse_volume[cell] * later / net->pivot[cell];
    }
  for (size_t i = n * num_rows; i < net->num_unknowns; i++)
    x[i] /= net->pivot[i];
}

/* ------------------------------------------------------------------------------------------- reports */

/* Sum of heat of the unknowns of one part (every part: -1), in blocks of fixed size so that its bits are fixed too. */
static double heat_of(const network *net, const double *enthalpy, int32_t part)
{
  double total = 0.0;
  for (size_t from = 0; from < net->num_unknowns; from += NETWORK_BLOCK) {
    const size_t to = from + NETWORK_BLOCK < net->num_unknowns ? from + NETWORK_BLOCK : net->num_unknowns;
    double block = 0.0;
    for (size_t i = from; i < to; i++)
      if (net->volume[i] > 0.0 && net->part[i] >= 0 && (part < 0 || net->part[i] == part))
        block += net->volume[i] * enthalpy[i];
    total += block;
  }
  return total;
}

double network_stored_heat(const network *net, const double *enthalpy)
{
  return heat_of(net, enthalpy, -1);
}

double network_part_heat(const network *net, const double *enthalpy, int part)
{
  return heat_of(net, enthalpy, part);
}

double network_part_mean_temperature(const network *net, const double *enthalpy, int part)
{
  double sum = 0.0, volume = 0.0;
  for (size_t i = 0; i < net->num_unknowns; i++)
    if (net->part[i] == part && net->volume[i] > 0.0) {
      sum += net->volume[i] * node_temperature(net, i, enthalpy);
      volume += net->volume[i];
    }
  return volume > 0.0 ? sum / volume : NAN;
}

double network_coil_ice_radius(const network *net, size_t coil, size_t ring, const double *enthalpy)
{
  for (size_t i = 0; i < net->num_rings; i++)
    if (net->rings[i].coil == (int32_t)coil && net->rings[i].ring == ring)
      return coil_shells_ice_radius(&net->rings[i], net->curve[net->rings[i].part], enthalpy);
  return NAN;
}

double network_wall_temperature(const network *net, size_t patch)
{
  return net->wall_temperature[patch];
}

double network_surface_temperature(const network *net, size_t interface)
{
  return net->surface[interface];
}

static double potential_of(const network *net, int32_t node, const double *enthalpy)
{
  return phase_curve_potential(net->curve[net->part[node]], enthalpy[node]);
}

double network_interface_heat(const network *net, size_t interface, const double *enthalpy)
{
  const joint *j = &net->joints[interface];
  switch (j->kind) {
  case JOINT_PAIR: {
    const pair_entry *e = &net->pairs[j->slot[0]];
    return e->a * potential_of(net, e->i, enthalpy) - e->b * potential_of(net, e->j, enthalpy) + e->c;
  }
  case JOINT_OUTSIDE: {
    const outside_entry *e = &net->outsides[j->slot[0]];
    return e->a * potential_of(net, e->i, enthalpy) + e->c;
  }
  case JOINT_WALL: {
    if (!j->open[0])
      return 0.0;
    const wall_link *e = &net->links[j->slot[0]];
    return e->a * potential_of(net, e->i, enthalpy) + e->o - e->g * net->wall_temperature[e->patch];
  }
  case JOINT_NONE:
    break;
  }
  return 0.0;
}
