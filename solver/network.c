#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

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
                   x->pooled,      x->dry,         x->unknown,        x->part,        x->liquid,     x->warmth,      x->potential_memory, x->faces,
                   x->joints,      x->pairs,          x->outsides,    x->links,      x->surface,     x->lateral,   x->to_image,
                   x->coolant,     x->coolant_temperature, x->coil_heat, x->runs,    x->run_part,    x->wells,
                   x->well_node,   x->well_weight,    x->well_portion,    x->path_name,  x->still_most,     x->entry_node, x->gain,        x->most,     x->most_moving, x->most_icing,
                   x->wall_places, x->wall_outsides, x->wall_befores, x->unsettled,  x->potential_runs, x->potential_run_part};
  for (size_t i = 0; i < sizeof owned / sizeof *owned; i++)
    free(owned[i]);
  for (size_t ring = 0; ring < x->num_rings; ring++)
    coil_shells_release(&x->rings[ring]);
  free(x->rings);
  free(x->shell_factor);
  free(x->layers);
  free(x->mix_node);
  free(x->mix_clear);
  free(x->mix_state);
  free(x->mix_film);
  free(x->mix_area);
  free(x->mix_before);
  free(x->mix_temperature);
  free(x->mix_face);
  free(x->mix_behind);
  free(x->ice_baths);
  conductance_rows_destroy(&x->rows);
  wall_solve_destroy(&x->walls);
  front_cells_destroy(&x->front);
  needed_cells_destroy(&x->entry_cells);
  free(x->front_depth);
  free(x->face_moved);
  free(x->front_surface);
  free(x->front_nearer);
  network_skew_destroy(&x->skew);
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

double network_count(const network *net, size_t unknown)
{
  const int32_t part = net->part[unknown];
  return part >= 0 && net->pooled[part] && unknown < net->num_nodes && net->mesh->images > 0.0 ? 1.0 / net->mesh->images : 1.0;
}

size_t network_num_parts(const network *net)
{
  return (size_t)net->mesh->num_parts;
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

status network_use_stage(network *net, size_t stage, double room, message *msg)
{
  net->stage_room = room;
  return network_joints_use_stage(net, stage, msg);
}

void network_set_dry(network *net, int part, bool dry) { net->dry[part] = dry; }

void network_set_tube_film(network *net, int part, double diameter, double film_coefficient)
{
  for (size_t i = 0; i < net->num_wells; i++) {
    well_entry *w = &net->wells[i];
    if (w->by_temperature && w->shells < 0 && net->part[net->well_node[w->first]] == part && net->rig->coils[w->coil].tube_outer == diameter)
      w->film = film_coefficient;
  }
}

void network_set_thawing(network *net, bool thawing) { net->thawing = thawing; }

void network_set_film(network *net, int part, double film_coefficient)
{
  net->film[part] = film_coefficient;
}

void network_set_curve(network *net, int part, const phase_curve *curve)
{
  net->curve[part] = curve;
  for (size_t r = 0; r < net->num_potential_runs; r++)
    if (net->potential_run_part[r] == part)
      net->potential_runs[r].curve = curve;
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

unsigned char *network_front_memory(network *net, size_t *num)
{
  *num = net->num_nodes;
  return front_cells_memory(net->front);
}

size_t network_front_num(const network *net)
{
  return front_cells_front(net->front)->num;
}

network_front_node network_front_at(const network *net, size_t i)
{
  const heat_potential_ramp *r = heat_potential_front_ramp(front_cells_front(net->front), i);
  return (network_front_node){.node = r->node, .begin = r->begin, .half = r->half, .end = r->end};
}

double network_front_frozen(const network *net, size_t i, double enthalpy)
{
  return heat_potential_ramp_frozen(heat_potential_front_ramp(front_cells_front(net->front), i), enthalpy);
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

/* Neighbours mostly share a path: its sum is kept in hand. */
static void add_outsides(const network *net, double scale, double *target, double *path_rate)
{
  if (net->num_outsides == 0)
    return;
  int32_t path = net->outsides[0].path;
  double sum = path_rate[path];
  for (size_t o = 0; o < net->num_outsides; o++) {
    const outside_entry *e = &net->outsides[o];
    const double q = e->a * net->potential[e->i] + e->c;
    add(net, target, scale, e->i, -q);
    if (e->path != path) {
      path_rate[path] = sum;
      path = e->path;
      sum = path_rate[path];
    }
    sum -= q;
    if (e->moist_path >= 0) {
      const double moisture = e->m0 - e->m1 * q;
      sum -= moisture;
      path_rate[e->moist_path] += moisture;
    }
  }
  path_rate[path] = sum;
}

/* What leaves the sides enters the wall: its carried heat takes exactly that, whatever the solve left over. `near`: of entry cells, the gains that lie
 * behind target. */
static status add_walls(network *net, const double *enthalpy, double scale, double *target, bool near, double *path_rate, message *msg)
{
  const status code = network_walls_find(net, enthalpy, msg);
  if (code != STATUS_OK)
    return code;
  const double *T = net->wall_temperature;
  memset(net->wall_heat, 0, net->num_patches * sizeof *net->wall_heat);
  wall_sides_exchange(net->sides, net->potential, T, scale, net->wall_heat, target, near, path_rate);
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
  network_coils_find(net, enthalpy);
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    net->coil_heat[coil] = 0.0;
  for (size_t i = 0; i < net->num_wells; i++) {
    const well_entry *w = &net->wells[i];
    const double q = w->g * (network_coils_drive(net, w, enthalpy) - net->coolant_temperature[w->coil]);
    if (w->shells >= 0)
      add_shells(net, &net->rings[w->shells], scale, q, target);
    for (size_t n = w->first; n < w->first + w->num; n++)
      add(net, target, scale, net->well_node[n], -q * net->well_weight[n]);
    net->coil_heat[w->coil] += q;
  }
  for (size_t coil = 0; coil < net->rig->num_coils; coil++)
    path_rate[net->first_coil_path + coil] -= net->coil_heat[coil];
}

/* Anything but walls reaches the grid, which knows its nodes by number alone. */
static bool any_by_node(const network *net)
{
  size_t num_skew;
  (void)network_skew_nodes(net, &num_skew);
  return net->num_faces + num_skew + net->num_mix + net->num_pairs + net->num_outsides + net->num_wells + net->num_rings + net->num_ice_baths > 0;
}

/* Gains of the others are brought beside those of walls, so that in all each is the sum of the same terms in the same order. */
static void begin_near(const network *net, const double *target)
{
  if (any_by_node(net))
    network_bring_near(net, target, net->near_gain);
  else
    memset(net->near_gain, 0, net->num_entry_cells * sizeof *net->near_gain);
}

static void take_from_near(const network *net, double *target)
{
  for (size_t n = 0; n < net->num_entry_cells; n++)
    target[net->entry_node[n]] = net->near_gain[n];
}

/* Adds scale times the rates of everything but the regular faces; path_rate from zero. near: target is net->gain, and what entry cells gain is found in
 * net->near_gain. */
static status add_entries(network *net, const double *enthalpy, double scale, double *target, bool near, double *path_rate, message *msg)
{
  memset(path_rate, 0, net->num_paths * sizeof *path_rate);
  network_ice_find(net, enthalpy);
  add_faces(net, scale, target);
  network_skew_add(net, scale, target);
  network_mix_begin(net, enthalpy, scale, target);
  add_pairs(net, scale, target);
  add_outsides(net, scale, target, path_rate);
  if (net->rig->num_coils > 0)
    add_coils(net, enthalpy, scale, target, path_rate);
  if (net->num_mix + net->num_ice_baths > 0) /* they have set potentials */
    network_bring_near(net, net->potential, net->near);
  if (near)
    begin_near(net, target);
  const status code = net->num_patches > 0 ? add_walls(net, enthalpy, scale, target, near, path_rate, msg) : STATUS_OK;
  network_ice_grow(net, scale, target);
  if (near && net->num_mix > 0)
    take_from_near(net, target);
  network_mix_end(net, enthalpy, scale, target);
  if (near && net->num_mix > 0)
    network_bring_near(net, target, net->near_gain);
  return code;
}

static size_t num_swept(const network *net)
{
  const size_t *num = net->mesh->grid->num;
  return num[0] * num[1] * num[2];
}

static heat_potential_found found_of(const network *net)
{
  return (heat_potential_found){.needed = net->near, .by_node = net->potential, .also_by_node = any_by_node(net)};
}

status network_rate(network *net, const double *enthalpy, double *rate, double *path_rate, message *msg)
{
  const heat_potential_nodes nodes = network_potential_nodes(net);
  const heat_potential_found found = found_of(net);
  heat_flux_rate(conductance_rows_view(net->rows), &nodes, enthalpy, &found, rate);
  const size_t swept = num_swept(net);
  memset(rate + swept, 0, (net->num_unknowns - swept) * sizeof *rate);
  const status code = add_entries(net, enthalpy, 1.0, rate, false, path_rate, msg);
  stand_in(net, rate);
  return code;
}

/* Stage of the unknowns that are not cells: no regular faces. */
static void stage_further(const network *net, const stage_weights *w, const double *start, const double *start_rate, const double *last, double *next)
{
  for (size_t i = num_swept(net); i < net->num_unknowns; i++)
    next[i] = w->mu * last[i] + w->nu * next[i] + w->rest * start[i] + w->start_rate * start_rate[i];
}

/* The entries of the first stage need only potentials that are known before the sweep: their gains are found first and taken up in it,
 * so that the second stage of a slab can follow at once. Those of the second stage are added when the sweep has ended. */
status network_stages(network *net, const stage_weights w[2], const double *start, const double *start_rate, double *last, double *next,
                      double *const path_rate[2], message *msg)
{
  const heat_potential_nodes nodes = network_potential_nodes(net);
  const heat_potential_found found = found_of(net);
  const heat_flux_rows *rows = conductance_rows_view(net->rows);
  double *gain = net->gain;
  const size_t swept = num_swept(net);
  needed_cells_potentials(&net->entry_cells, last, &found);
  heat_flux_further(rows, &nodes, last, net->potential);
  for (size_t n = 0; found.also_by_node && n < net->num_entry_cells; n++)
    gain[net->entry_node[n]] = 0.0;
  memset(gain + swept, 0, (net->num_unknowns - swept) * sizeof *gain);
  status code = add_entries(net, last, w[0].rate, gain, true, path_rate[0], msg);
  if (code != STATUS_OK)
    return code;
  stage_further(net, &w[0], start, start_rate, last, next);
  for (size_t i = swept; i < net->num_unknowns; i++)
    next[i] += gain[i];
  heat_flux_stages(rows, &nodes, w, net->near_gain, &found, start, start_rate, last, next);
  stand_in(net, next);
  stage_further(net, &w[1], start, start_rate, next, last);
  code = add_entries(net, next, w[1].rate, last, false, path_rate[1], msg);
  stand_in(net, last);
  return code;
}
