/* Ice of a stirred bath: layers on its tubes and walls (network.h, "Stirred baths"). */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>

#include "materials/water.h"

/* Ice thinner than this covers a share of the surface only; m. Its resistance is a fifth of a good film's. */
static const double WHOLE_COVER = 0.25e-3;
/* Joints keep their layer's resistance over a step, which may change by so much of itself. */
static const double STEP_CHANGE = 0.1;

/* ------------------------------------------------------------------------------------------- making */

static int32_t pool_of(const network *net, int32_t part)
{
  for (size_t node = 0; node < net->num_nodes; node++)
    if (net->part[node] == part)
      return (int32_t)node;
  return -1;
}

/* Maxwell 1873: brine dispersed in ice with a share `held` of the room. */
static double layer_conductivity(const rig_bath *b, double temperature)
{
  const double ice = water_ice_conductivity(ICE_ANDERSSON_INABA, temperature), brine = brine_conductivity(b->salt, b->mass_fraction, temperature);
  return ice * (2.0 * ice + brine - 2.0 * b->held_brine * (ice - brine)) / (2.0 * ice + brine + b->held_brine * (ice - brine));
}

static void list_baths(network *net)
{
  for (size_t i = 0; i < net->rig->num_baths; i++) {
    const rig_bath *b = &net->rig->baths[i];
    const phase_curve *c = net->curve[b->part];
    if (!net->pooled[b->part] || b->mode != SALT_MIXED || !(c->liquid_enthalpy > c->solid_enthalpy))
      continue;
    const int32_t pool = pool_of(net, b->part);
    const double latent = brine_effective_latent_heat(b->salt, c->freezing_temperature);
    net->ice_baths[net->num_ice_baths++] = (ice_bath){.part = b->part, .pool = pool, .salt = b->salt, .latent = latent,
                                                      .mass = net->volume[pool] * net->rig->parts[b->part].stuff->density,
                                                      .depth = 1.0 / (latent * WATER_ICE_DENSITY * (1.0 - b->held_brine)),
                                                      .conductivity = layer_conductivity(b, c->freezing_temperature)};
  }
}

static int32_t ice_bath_of(const network *net, int32_t part)
{
  for (size_t i = 0; i < net->num_ice_baths; i++)
    if (net->ice_baths[i].part == part)
      return (int32_t)i;
  return -1;
}

static void add_layer(network *net, ice_layer layer)
{
  net->layers[net->num_layers++] = layer;
}

static void layers_on_tubes(network *net)
{
  for (size_t i = 0; i < net->num_wells; i++) {
    well_entry *w = &net->wells[i];
    const int32_t bath = w->by_temperature && w->shells < 0 ? ice_bath_of(net, net->part[net->well_node[w->first]]) : -1;
    if (bath < 0)
      continue;
    const double radius = 0.5 * net->rig->coils[w->coil].tube_outer;
    const double film = net->rig->coils[w->coil].outer_film;
    w->layer = (int32_t)net->num_layers;
    w->tube -= film > 0.0 ? 1.0 / (film * w->outer) : 0.0; /* the layer has it */
    w->dry -= film > 0.0 ? 1.0 / (film * w->outer) : 0.0;
    add_layer(net, (ice_layer){.bath = bath, .well = (int32_t)i, .joint = -1, .radius = radius, .area = w->outer,
                               .film = film});
  }
}

/* Ice forms where something solid draws heat: not on the free surface. */
static void layers_on_joints(network *net)
{
  for (size_t i = 0; i < net->mesh->num_interfaces; i++) {
    joint *j = &net->joints[i];
    const bool solid = j->kind == JOINT_WALL || j->kind == JOINT_PAIR || (j->kind == JOINT_OUTSIDE && j->outside.held >= 0);
    for (int side = 0; solid && side < 2; side++) {
      const int32_t bath = j->node[side] >= 0 && (j->kind != JOINT_WALL || j->open[side]) ? ice_bath_of(net, net->part[j->node[side]]) : -1;
      if (bath < 0)
        continue;
      j->layer[side] = (int32_t)net->num_layers;
      add_layer(net, (ice_layer){.bath = bath, .well = -1, .joint = (int32_t)i, .side = side, .area = net->mesh->interfaces[i].area[side]});
    }
  }
}

void network_ice_count(network *net)
{
  for (size_t i = 0; i < net->rig->num_baths; i++) {
    const rig_bath *b = &net->rig->baths[i];
    if (b->flow.kind != MOTION_STIRRED || b->mode != SALT_MIXED)
      continue;
    for (size_t coil = 0; coil < net->rig->num_coils; coil++)
      net->room_for_layers += net->rig->coils[coil].num_rings + (net->rig->coils[coil].num_points > 0); /* a line has one layer in a bath */
    for (size_t f = 0; f < net->mesh->num_interfaces; f++)
      net->room_for_layers += (net->mesh->interfaces[f].part[0] == b->part) + (net->mesh->interfaces[f].part[1] == b->part);
  }
}

status network_ice_make(network *net, message *msg)
{
  net->layers = calloc(net->room_for_layers + 1, sizeof *net->layers);
  net->ice_baths = calloc(net->rig->num_baths + 1, sizeof *net->ice_baths);
  if (!net->layers || !net->ice_baths)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu layers of ice", net->room_for_layers);
  list_baths(net);
  layers_on_tubes(net);
  layers_on_joints(net);
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- the bath */

static double heat_per_area(const network *net, size_t layer, const double *enthalpy)
{
  const double y = enthalpy[net->first_layer + layer];
  return y > 0.0 ? y : 0.0;
}

static double layered_share(const network *net, size_t bath, const double *enthalpy)
{
  double heat = 0.0;
  for (size_t l = 0; l < net->num_layers; l++)
    if (net->layers[l].bath == (int32_t)bath)
      heat += heat_per_area(net, l, enthalpy) * net->layers[l].area;
  return heat / (net->ice_baths[bath].latent * net->ice_baths[bath].mass);
}

/* Enthalpy at which the lever rule of the whole bath has this share of ice. */
static double enthalpy_of_share(const phase_curve *c, double ice)
{
  double low = c->solid_enthalpy, high = c->liquid_enthalpy;
  for (int i = 0; i < 60; i++) {
    const double middle = 0.5 * (low + high);
    if (1.0 - phase_curve_liquid_fraction(c, middle) > ice)
      low = middle;
    else
      high = middle;
  }
  return high;
}

/* More ice in layers than the lever rule has: the liquid between them is that much warmer than its ice line, T = T_l(x) + what the rest
 * of the heat does to the share 1 - x. Less: the rest of the ice floats, and all is at the ice line. */
static ice_bath bath_at(const network *net, size_t bath, const double *enthalpy)
{
  ice_bath b = net->ice_baths[bath];
  const phase_curve *c = net->curve[b.part];
  const double H = enthalpy[b.pool], lever = 1.0 - phase_curve_liquid_fraction(c, H);
  b.layered = layered_share(net, bath, enthalpy);
  b.share = larger(b.layered, lever);
  if (b.layered <= lever) {
    b.temperature = phase_curve_temperature(c, H);
    b.ice_line = smaller(b.temperature, c->freezing_temperature);
    return b;
  }
  const double at = enthalpy_of_share(c, b.layered);
  b.ice_line = phase_curve_temperature(c, at);
  b.temperature = b.ice_line + phase_curve_temperature(c, c->liquid_enthalpy + (H - at) / (1.0 - b.layered)) - c->freezing_temperature;
  return b;
}

/* ------------------------------------------------------------------------------------------- one layer */

static double film_on(const network *net, const ice_layer *l)
{
  const double of_bath = l->well >= 0 && net->wells[l->well].film > 0.0 ? net->wells[l->well].film : net->film[net->ice_baths[l->bath].part];
  return l->film > 0.0 ? l->film : of_bath;
}

/* What the surface is offered by film and ice side by side. */
static void find_layer(const network *net, ice_layer *l, double heat)
{
  const ice_bath *b = &net->ice_baths[l->bath];
  const double film = film_on(net, l), volume = heat * b->depth; /* m3/m2 */
  const double cover = smaller(1.0, volume / WHOLE_COVER), deep = larger(volume, WHOLE_COVER);
  double per_area = b->conductivity / deep;
  l->face = l->area;
  l->thickness = volume;
  if (l->radius > 0.0) { /* r^2 = a^2 + 2 a volume */
    const double a = l->radius, r = sqrt(a * a + 2.0 * a * deep);
    per_area = b->conductivity / (a * log(r / a));
    l->face = l->area * r / a;
    l->thickness = sqrt(a * a + 2.0 * a * volume) - a;
  }
  l->cover = cover;
  l->bare = (1.0 - cover) * film * l->area;
  l->ice = cover * per_area * l->area;
  l->wash = cover * film * l->face;
  l->conductance = l->bare + l->ice;
  l->offered = (l->bare * b->temperature + l->ice * b->ice_line) / l->conductance;
}

void network_ice_find(network *net, const double *enthalpy)
{
  for (size_t i = 0; i < net->num_ice_baths; i++) {
    net->ice_baths[i] = bath_at(net, i, enthalpy);
    net->potential[net->ice_baths[i].pool] = phase_curve_potential_at(net->curve[net->ice_baths[i].part], net->ice_baths[i].temperature);
  }
  for (size_t i = 0; i < net->num_layers; i++) {
    ice_layer *l = &net->layers[i];
    if (l->well < 0)
      continue;
    well_entry *w = &net->wells[l->well];
    find_layer(net, l, heat_per_area(net, i, enthalpy));
    w->g = network_coils_through(w, 1.0 / l->conductance);
  }
}

void network_ice_refresh(network *net, const double *enthalpy)
{
  for (size_t i = 0; i < net->num_layers; i++)
    if (net->layers[i].joint >= 0)
      find_layer(net, &net->layers[i], heat_per_area(net, i, enthalpy));
  network_ice_find(net, enthalpy);
}

/* Heat out of the bath through a layer, W, at the last evaluation. */
static double drawn(const network *net, const ice_layer *l)
{
  if (l->well >= 0) {
    const well_entry *w = &net->wells[l->well];
    return w->g * (l->offered - net->coolant_temperature[w->coil]);
  }
  const joint *j = &net->joints[l->joint];
  if (j->kind == JOINT_PAIR) {
    const pair_entry *e = &net->pairs[j->slot[0]];
    const double q = e->a * net->potential[e->i] - e->b * net->potential[e->j] + e->c;
    return l->side == 0 ? q : -q;
  }
  if (j->kind == JOINT_OUTSIDE) {
    const outside_entry *e = &net->outsides[j->slot[0]];
    return e->a * net->potential[e->i] + e->c;
  }
  const wall_link *e = &net->links[j->slot[l->side]];
  return e->a * net->potential[e->i] + e->o - e->g * net->wall_temperature[e->patch];
}

static double surface_of(const network *net, const ice_layer *l)
{
  const double offered = l->cover > 0.0 ? l->offered : net->ice_baths[l->bath].temperature;
  return offered - drawn(net, l) / l->conductance;
}

/* Ice grows by what is drawn through it, and where a bare surface is colder than the ice line; the bath's film melts it. W. */
static double growth(const network *net, const ice_layer *l)
{
  const ice_bath *b = &net->ice_baths[l->bath];
  const double below = b->ice_line - surface_of(net, l);
  return l->ice * below + (below > 0.0 ? l->bare * below : 0.0) - l->wash * (b->temperature - b->ice_line);
}

void network_ice_grow(const network *net, double scale, double *target)
{
  for (size_t i = 0; i < net->num_layers; i++) {
    const ice_layer *l = &net->layers[i];
    const ice_bath *b = &net->ice_baths[l->bath];
    target[net->first_layer + i] += scale * growth(net, l) / l->area * b->latent / brine_effective_latent_heat(b->salt, b->ice_line);
  }
}

/* ------------------------------------------------------------------------------------------- how fast */

/* d(growth)/d(heat per area) from the resistance that thickness adds: q^2 / (dT k A^2) depth. */
static double by_thickness(const network *net, const ice_layer *l)
{
  const ice_bath *b = &net->ice_baths[l->bath];
  const double q = drawn(net, l), fall = fabs(b->ice_line - surface_of(net, l));
  const double whole = l->well >= 0 ? fabs(l->offered - net->coolant_temperature[net->wells[l->well].coil]) : fall + fabs(q) / l->conductance;
  return l->cover > 0.0 && whole > 0.0 ? q * q / (whole * b->conductivity * l->area * l->area) * b->depth : 0.0;
}

/* While it covers a share only, all that it does grows with it; and the warmth of the liquid follows the ice there is. */
static double by_cover(const network *net, const ice_layer *l)
{
  const ice_bath *b = &net->ice_baths[l->bath];
  if (l->cover >= 1.0)
    return 0.0;
  const double film = film_on(net, l);
  return (film * fabs(b->temperature - b->ice_line) + b->conductivity / WHOLE_COVER * fabs(b->ice_line - surface_of(net, l))) * b->depth / WHOLE_COVER;
}

double network_ice_bound(const network *net)
{
  double largest = 0.0;
  for (size_t i = 0; i < net->num_layers; i++) {
    const ice_layer *l = &net->layers[i];
    const double rate = (l->well >= 0 ? by_thickness(net, l) : 0.0) + by_cover(net, l);
    largest = larger(largest, 2.0 * rate);
  }
  for (size_t bath = 0; bath < net->num_ice_baths; bath++) {
    double wash = 0.0;
    const phase_curve *c = net->curve[net->ice_baths[bath].part];
    for (size_t i = 0; i < net->num_layers; i++)
      wash += net->layers[i].bath == (int32_t)bath ? net->layers[i].wash : 0.0;
    const double heat_capacity = phase_curve_enthalpy(c, c->freezing_temperature + 1.0) - c->liquid_enthalpy; /* J/(m3 K) */
    largest = larger(largest, 4.0 * wash / (heat_capacity * net->volume[net->ice_baths[bath].pool]));
  }
  return largest;
}

double network_ice_step(const network *net)
{
  double shortest = INFINITY;
  for (size_t i = 0; i < net->num_layers; i++) {
    const ice_layer *l = &net->layers[i];
    const double rate = l->joint >= 0 ? by_thickness(net, l) : 0.0;
    if (rate > 0.0)
      shortest = smaller(shortest, STEP_CHANGE / rate);
  }
  return shortest;
}

/* ------------------------------------------------------------------------------------------- telling */

bool network_ice_at(const network *net, int part, const double *enthalpy, network_ice *out)
{
  const int32_t bath = ice_bath_of(net, part);
  if (bath < 0)
    return false;
  const ice_bath b = bath_at(net, (size_t)bath, enthalpy);
  *out = (network_ice){.temperature = b.temperature, .ice_line = b.ice_line, .share = b.share, .floating = b.share - b.layered};
  return true;
}

double network_ice_radius(const network *net, size_t coil, size_t ring, const double *enthalpy)
{
  for (size_t i = 0; i < net->num_layers; i++) {
    const ice_layer *l = &net->layers[i];
    if (l->well < 0 || net->wells[l->well].coil != (int32_t)coil || net->wells[l->well].ring != ring)
      continue;
    const double depth = net->ice_baths[l->bath].depth;
    return sqrt(l->radius * l->radius + 2.0 * l->radius * depth * heat_per_area(net, i, enthalpy));
  }
  return NAN;
}

void network_ice_copy(const network *net, int part, const double *from, double *to)
{
  const int32_t bath = ice_bath_of(net, part);
  for (size_t i = 0; bath >= 0 && i < net->num_layers; i++)
    if (net->layers[i].bath == bath)
      to[net->first_layer + i] = from ? from[net->first_layer + i] : 0.0;
}

double network_ice_on_wall(const network *net, size_t interface, const double *enthalpy)
{
  double thick = 0.0;
  const joint *j = &net->joints[interface];
  for (int side = 0; side < 2; side++)
    if (net->num_layers > 0 && j->layer[side] >= 0) {
      const ice_layer *l = &net->layers[j->layer[side]];
      thick = larger(thick, net->ice_baths[l->bath].depth * heat_per_area(net, (size_t)j->layer[side], enthalpy));
    }
  return thick;
}

network_ice_cost network_ice_on_tubes(const network *net, const double *enthalpy)
{
  network_ice_cost sum = {0};
  double area = 0.0, ice = 0.0;
  bool bare = false;
  for (size_t i = 0; i < net->num_layers; i++) {
    ice_layer l = net->layers[i];
    if (l.well < 0)
      continue;
    find_layer(net, &l, heat_per_area(net, i, enthalpy));
    area += l.area;
    sum.mean += l.area * l.thickness;
    sum.thickest = larger(sum.thickest, l.thickness);
    ice += l.ice;
    bare = bare || l.cover < 1.0;
  }
  sum.mean = area > 0.0 ? sum.mean / area : NAN;
  sum.resistance = ice > 0.0 && !bare ? 1.0 / ice : 0.0;
  return sum;
}
