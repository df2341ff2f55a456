#include "solver/liquids.h"

#include <math.h>
#include <stdlib.h>

#include "solver/bath_strength.h"
#include "solver/convection.h"
#include "solver/film.h"

/* Motion is worked out anew when a liquid changed by this much since the last time. */
static const double SHARE_CHANGE = 0.01;
static const double TEMPERATURE_CHANGE = 0.25; /* K, or less: */
static const double DISTANCE_CHANGE = 0.02;    /* of the distance from the onset of freezing */
static const double LEAST_TEMPERATURE_CHANGE = 0.02; /* K */
static const double SHORTEST_LIMIT = 1.0;      /* s */

/* What is remembered of each liquid, and of each bath, between updates. */
enum {
  LIQUID_SHARE, LIQUID_TEMPERATURE, /* when motion was last worked out   */
  LAST_SHARE, LAST_TEMPERATURE,     /* at the last update                */
  LIQUID_MEMORY
};
/* Of each bath: strength of its liquid; heat that moisture brought, J, and water, kg; salt added, kg, and the water bound in it; strength over that at
 * the start, overall and where its curve was made. */
enum { BATH_STRENGTH, MOIST_HEAT, MOIST_WATER, ADDED_SALT, BOUND_WATER, THINNED, CURVE_THINNED, BATH_MEMORY };
static const double RESTING_DIFFERENCE = 2.0, RESTING_HEIGHT = 0.5; /* K, m: what moves a stirred bath whose stirrer stands (judgement) */
static const double CURVE_STEP = 1e-3;             /* of the strength: a closed curve is made anew      */
static const double LATENT_WATER = 2.50e6, LATENT_FROST = 2.83e6; /* J/kg, as in materials/moist_air.h  */
enum { LAST_TIME, STEP_LIMIT, OWN_MEMORY }; /* s: of the last update; the longest step that moves no liquid too far */

typedef struct {
  int part;
  const motion *flow;
  const rig_bath *bath; /* NULL: water */
} liquid;

struct liquids {
  const mesh *mesh;
  const rig *rig;
  network *net;
  convection *convection;
  const phase_curve **curve; /* [num_parts] in force */
  size_t num;
  liquid *liquid;    /* [num] bodies first, then baths */
  double *memory;    /* [OWN_MEMORY + num * LIQUID_MEMORY + num_baths * BATH_MEMORY]: see above */
  material *mixed;   /* [num_baths] the curve in force of a still, mixed bath, or of one that moisture has thinned; empty for the others */
  int32_t **node;    /* [num_baths] unknowns of a still, mixed bath; NULL for the others */
  size_t *num_nodes; /* [num_baths] */
  double *salt;      /* [num_baths] kg, at the start */
  double *mass;      /* [num_baths] kg in the mesh */
  double *temperature, *liquid_fraction; /* [mesh nodes], of the liquids */
  size_t num_capped;
  bool stirrers_stand, air_off;
};

static double *bath_memory(const liquids *l, size_t bath)
{
  return l->memory + OWN_MEMORY + l->num * LIQUID_MEMORY + bath * BATH_MEMORY;
}

static double *strength(const liquids *l, size_t bath)
{
  return &bath_memory(l, bath)[BATH_STRENGTH];
}

/* Of all salt in all that is in the tub. */
static double overall_strength(const liquids *l, size_t bath)
{
  return l->rig->baths[bath].mass_fraction * bath_memory(l, bath)[THINNED];
}

void liquids_destroy(liquids **out)
{
  liquids *l = *out;
  if (!l)
    return;
  convection_destroy(&l->convection);
  for (size_t bath = 0; l->mixed && bath < l->rig->num_baths; bath++)
    material_release(&l->mixed[bath]);
  for (size_t bath = 0; l->node && bath < l->rig->num_baths; bath++)
    free(l->node[bath]);
  free(l->mixed);
  free(l->node);
  free(l->num_nodes);
  free(l->curve);
  free(l->liquid);
  free(l->memory);
  free(l->salt);
  free(l->mass);
  free(l->temperature);
  free(l->liquid_fraction);
  free(l);
  *out = NULL;
}

static void list_liquids(liquids *l)
{
  const rig *r = l->rig;
  for (size_t part = 0; part < r->num_parts; part++)
    l->curve[part] = r->parts[part].stuff ? &r->parts[part].stuff->curve : NULL;
  for (size_t body = 0; body < r->num_bodies; body++)
    l->liquid[l->num++] = (liquid){.part = r->bodies[body].part, .flow = &r->bodies[body].flow};
  for (size_t bath = 0; bath < r->num_baths; bath++)
    l->liquid[l->num++] = (liquid){.part = r->baths[bath].part, .flow = &r->baths[bath].flow, .bath = &r->baths[bath]};
  for (size_t at = 0; at < network_num_nodes(l->net); at++) /* a tube among shells takes the room of liquid */
    for (size_t bath = 0; bath < r->num_baths; bath++)
      if (network_part(l->net)[at] == r->baths[bath].part)
        l->mass[bath] += network_volume(l->net)[at] * r->parts[r->baths[bath].part].stuff->density;
  for (size_t bath = 0; bath < r->num_baths; bath++) {
    l->salt[bath] = l->mass[bath] * r->baths[bath].mass_fraction;
    *strength(l, bath) = r->baths[bath].mass_fraction;
    bath_memory(l, bath)[THINNED] = bath_memory(l, bath)[CURVE_THINNED] = 1.0;
  }
}

/* A stirred bath is one node, on which `mixed` and `closed` are the same lever rule. */
static bool is_still_and_mixed(const rig_bath *b)
{
  return b->mode == SALT_MIXED && b->flow.kind != MOTION_STIRRED;
}

/* The curve of a mixed bath at its present strength; the old one stays in force on failure. */
static status rebuild_curve(liquids *l, size_t bath, message *msg)
{
  const rig_bath *b = &l->rig->baths[bath];
  material fresh = {0};
  const status code = brine_mixed(&fresh, b->salt, b->liquidus, *strength(l, bath), l->rig->parts[b->part].stuff->density,
                                  b->held_brine, b->mush, msg);
  if (code != STATUS_OK)
    return code;
  material_release(&l->mixed[bath]);
  l->mixed[bath] = fresh;
  l->curve[b->part] = &l->mixed[bath].curve;
  network_set_curve(l->net, b->part, l->curve[b->part]);
  return STATUS_OK;
}

/* The curve of a closed or stirred bath that moisture has thinned. */
static status rebuild_closed_curve(liquids *l, size_t bath, message *msg)
{
  const rig_bath *b = &l->rig->baths[bath];
  material fresh = {0};
  const status code = brine_closed_at(&fresh, b->salt, b->liquidus, b->mass_fraction * bath_memory(l, bath)[CURVE_THINNED], b->mass_fraction,
                                      l->rig->parts[b->part].stuff->density, b->mush, msg);
  if (code != STATUS_OK)
    return code;
  material_release(&l->mixed[bath]);
  l->mixed[bath] = fresh;
  l->curve[b->part] = &l->mixed[bath].curve;
  network_set_curve(l->net, b->part, l->curve[b->part]);
  return STATUS_OK;
}

/* Strength of all that is in the tub over that at the start, by the water and the salt that came to it. */
static double thinning(const liquids *l, size_t bath)
{
  const double *m = bath_memory(l, bath), added = m[ADDED_SALT], salt = l->salt[bath];
  return (1.0 + added / salt) * l->mass[bath] / (l->mass[bath] + m[MOIST_WATER] + added + m[BOUND_WATER]);
}

status liquids_take_moisture(liquids *l, size_t bath, double heat, const double *enthalpy, message *msg)
{
  double *m = bath_memory(l, bath);
  const double more = heat - m[MOIST_HEAT];
  if (more == 0.0)
    return STATUS_OK;
  const bool frost = network_part_mean_temperature(l->net, enthalpy, l->rig->baths[bath].part) < 0.0;
  m[MOIST_HEAT] = heat;
  m[MOIST_WATER] += more / (frost ? LATENT_FROST : LATENT_WATER);
  m[THINNED] = thinning(l, bath);
  if (is_still_and_mixed(&l->rig->baths[bath]) || fabs(m[THINNED] - m[CURVE_THINNED]) < CURVE_STEP)
    return STATUS_OK;
  m[CURVE_THINNED] = m[THINNED];
  return rebuild_closed_curve(l, bath, msg);
}

status liquids_add_salt(liquids *l, size_t bath, double salt, double rest, message *msg)
{
  double *m = bath_memory(l, bath);
  m[ADDED_SALT] += salt;
  m[BOUND_WATER] += rest;
  m[THINNED] = thinning(l, bath);
  if (is_still_and_mixed(&l->rig->baths[bath]))
    return STATUS_OK; /* the next update finds its strength by the salt balance */
  m[CURVE_THINNED] = m[THINNED];
  return rebuild_closed_curve(l, bath, msg);
}

void liquids_drive(liquids *l, bool stirrers_stand, bool air_off)
{
  l->stirrers_stand = stirrers_stand;
  l->air_off = air_off;
}

static status start_mixed(liquids *l, size_t bath, message *msg)
{
  const int part = l->rig->baths[bath].part;
  const size_t num_unknowns = network_num_nodes(l->net);
  for (size_t at = 0; at < num_unknowns; at++)
    l->num_nodes[bath] += network_part(l->net)[at] == part && network_volume(l->net)[at] > 0.0;
  l->node[bath] = malloc((l->num_nodes[bath] + 1) * sizeof **l->node);
  if (!l->node[bath])
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the nodes of a bath",
                       (l->num_nodes[bath] + 1) * sizeof **l->node);
  size_t num = 0;
  for (size_t at = 0; at < num_unknowns; at++)
    if (network_part(l->net)[at] == part && network_volume(l->net)[at] > 0.0)
      l->node[bath][num++] = (int32_t)at;
  return rebuild_curve(l, bath, msg);
}

status liquids_create(liquids **out, const mesh *m, const adjacency *a, const rig *r, network *net, message *msg)
{
  liquids *l = calloc(1, sizeof *l);
  if (!l)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the liquids", sizeof *l);
  *l = (liquids){.mesh = m, .rig = r, .net = net};
  const size_t num = r->num_bodies + r->num_baths;
  l->curve = calloc(r->num_parts + 1, sizeof *l->curve);
  l->liquid = calloc(num + 1, sizeof *l->liquid);
  l->memory = calloc(OWN_MEMORY + num * LIQUID_MEMORY + r->num_baths * BATH_MEMORY + 1, sizeof *l->memory);
  l->mixed = calloc(r->num_baths + 1, sizeof *l->mixed);
  l->node = calloc(r->num_baths + 1, sizeof *l->node);
  l->num_nodes = calloc(r->num_baths + 1, sizeof *l->num_nodes);
  l->salt = calloc(r->num_baths + 1, sizeof *l->salt);
  l->mass = calloc(r->num_baths + 1, sizeof *l->mass);
  l->temperature = calloc(m->num_nodes + 1, sizeof *l->temperature);
  l->liquid_fraction = calloc(m->num_nodes + 1, sizeof *l->liquid_fraction);
  status code = STATUS_OK;
  if (!l->curve || !l->liquid || !l->memory || !l->mixed || !l->node || !l->num_nodes || !l->salt || !l->mass || !l->temperature || !l->liquid_fraction)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the liquids", 16 * m->num_nodes);
  if (code == STATUS_OK)
    code = convection_create(&l->convection, m, a, msg);
  if (code == STATUS_OK)
    list_liquids(l);
  for (size_t bath = 0; code == STATUS_OK && bath < r->num_baths; bath++)
    if (is_still_and_mixed(&r->baths[bath]))
      code = start_mixed(l, bath, msg);
  if (code == STATUS_OK)
    *out = l;
  else
    liquids_destroy(&l);
  return code;
}

const phase_curve *liquids_curve(const liquids *l, int part)
{
  return l->curve[part];
}

/* Share of ice by mass over the unknowns of a part. */
static double ice_share(const liquids *l, int part, const double *enthalpy)
{
  network_ice layered;
  if (network_ice_at(l->net, part, enthalpy, &layered))
    return layered.share;
  const double *volume = network_volume(l->net);
  double ice = 0.0, all = 0.0;
  for (size_t at = 0; at < network_num_nodes(l->net); at++)
    if (network_part(l->net)[at] == part && volume[at] > 0.0) {
      ice += volume[at] * (1.0 - phase_curve_liquid_fraction(l->curve[part], enthalpy[at]));
      all += volume[at];
    }
  return all > 0.0 ? ice / all : 0.0;
}

/* A closed or stirred bath. Its liquid holds all its salt, but for what froze with the last of a kilogram at the eutectic; NAN without any. */
typedef struct { double ice, strength; } bath_sums;
static bath_sums sum_up_bath(const liquids *l, size_t bath, const double *enthalpy)
{
  const rig_bath *b = &l->rig->baths[bath];
  const double overall = overall_strength(l, bath), eutectic = brine_eutectic(b->salt).mass_fraction, *volume = network_volume(l->net);
  const double most = isnan(eutectic) ? INFINITY : eutectic; /* kg of salt in a kilogram of liquid */
  const phase_curve *curve = l->curve[b->part];
  network_ice layered;
  if (network_ice_at(l->net, b->part, enthalpy, &layered))
    return (bath_sums){layered.share, layered.share < 1.0 ? overall / (1.0 - layered.share) : NAN};
  double all = 0.0, liquid_share = 0.0, salt = 0.0;
  for (size_t at = 0; at < network_num_nodes(l->net); at++)
    if (network_part(l->net)[at] == b->part && volume[at] > 0.0) {
      const double share = phase_curve_liquid_fraction(curve, enthalpy[at]), room = share * most;
      all += volume[at];
      liquid_share += volume[at] * share;
      salt += volume[at] * (room < overall ? room : overall);
    }
  return (bath_sums){all > 0.0 ? 1.0 - liquid_share / all : 0.0, liquid_share > 0.0 ? salt / liquid_share : NAN};
}

/* Temperatures and liquid fractions of the nodes of a part. */
static void show_part(liquids *l, int part, const double *enthalpy)
{
  const mesh *m = l->mesh;
  const int32_t *unknown = network_node(l->net);
  for (size_t node = 0; node < m->num_nodes; node++)
    if (m->part[node] == part && m->volume[node] > 0.0) {
      const double h = enthalpy[unknown[node]];
      l->temperature[node] = phase_curve_temperature(l->curve[part], h);
      l->liquid_fraction[node] = phase_curve_liquid_fraction(l->curve[part], h);
    }
}

/* The same; returns the share of ice by mass. */
static double look_at(liquids *l, int part, const double *enthalpy)
{
  show_part(l, part, enthalpy);
  return ice_share(l, part, enthalpy);
}

/* How far a liquid may cool before its motion is another one. */
static double temperature_change(const liquids *l, int part, double temperature)
{
  const double distance = fabs(temperature - l->curve[part]->freezing_temperature);
  return fmin(TEMPERATURE_CHANGE, fmax(LEAST_TEMPERATURE_CHANGE, DISTANCE_CHANGE * distance));
}

/* Shortens the next step when this one moved a liquid further than its motion may lag behind. */
static void limit_step(liquids *l, double *memory, double time, double share, double temperature, double allowed)
{
  const double elapsed = time - l->memory[LAST_TIME];
  const double moved = fmax(fabs(share - memory[LAST_SHARE]) / SHARE_CHANGE, fabs(temperature - memory[LAST_TEMPERATURE]) / allowed);
  if (elapsed > 0.0 && moved > 0.0)
    l->memory[STEP_LIMIT] = fmin(l->memory[STEP_LIMIT], fmax(SHORTEST_LIMIT, elapsed / moved));
  memory[LAST_SHARE] = share;
  memory[LAST_TEMPERATURE] = temperature;
}

static status update_motion(liquids *l, size_t index, double time, const double *enthalpy, double share, bool always, message *msg)
{
  const liquid *q = &l->liquid[index];
  double *memory = l->memory + OWN_MEMORY + index * LIQUID_MEMORY;
  const double temperature = network_part_mean_temperature(l->net, enthalpy, q->part);
  const double allowed = temperature_change(l, q->part, temperature);
  if (q->flow->kind != MOTION_NONE)
    limit_step(l, memory, time, share, temperature, allowed);
  if (!always && fabs(share - memory[LIQUID_SHARE]) < SHARE_CHANGE && fabs(temperature - memory[LIQUID_TEMPERATURE]) < allowed)
    return STATUS_OK;
  memory[LIQUID_SHARE] = share;
  memory[LIQUID_TEMPERATURE] = temperature;
  convection_request request = {.part = q->part,
                                .flow = q->flow,
                                .temperature = l->temperature,
                                .liquid_fraction = l->liquid_fraction,
                                .freezing_temperature = l->curve[q->part]->freezing_temperature};
  if (q->bath) {
    const size_t bath = (size_t)(q->bath - l->rig->baths);
    request.brine = true;
    request.salt = q->bath->salt;
    request.mode = q->bath->mode;
    request.mass_fraction = q->bath->mode == SALT_MIXED ? *strength(l, bath) : overall_strength(l, bath);
  }
  convection_report report = {0};
  const status code = convection_factors(l->convection, &request, network_horizontal_factor(l->net),
                                         network_vertical_factor(l->net), &report, msg);
  l->num_capped += report.num_capped;
  return code;
}

/* Lighter by what 2 K more make of it: what moves a liquid at rest. */
static double resting_difference(const liquid *q, const film_fluid *f, double warm, double w)
{
  return fabs(f->density - film_brine(q->bath->salt, w, warm + RESTING_DIFFERENCE).density);
}

/* A pump drives the liquid past walls, as along plates as high as a resting one is taken to be, and across tubes; rest and drive together. */
static void update_pumped(liquids *l, const liquid *q, const film_fluid *f, double warm, double w)
{
  const double scale = q->flow->film_scale > 0.0 ? q->flow->film_scale : 1.0;
  const double rest = q->bath ? film_vertical(f, resting_difference(q, f, warm, w), RESTING_HEIGHT) : film_water_natural(warm, warm + RESTING_DIFFERENCE, RESTING_HEIGHT);
  network_set_film(l->net, q->part, scale * film_mixed(rest, film_along(f, q->flow->speed, RESTING_HEIGHT)));
  for (size_t coil = 0; q->bath && coil < l->rig->num_coils; coil++) {
    const double tube = l->rig->coils[coil].tube_outer;
    if (tube > 0.0)
      network_set_tube_film(l->net, q->part, tube, scale * film_mixed(film_tube(f, resting_difference(q, f, warm, w), tube), film_crossflow(f, q->flow->speed, tube)));
  }
}

/* A stirred liquid is one temperature: what meets it is a film. */
static void update_film(liquids *l, const liquid *q, const double *enthalpy)
{
  const bool stands = q->flow->by_air ? l->air_off : l->stirrers_stand;
  double film = stands ? NAN : q->flow->film_coefficient;
  if (q->flow->speed > 0.0)
    for (size_t coil = 0; coil < l->rig->num_coils; coil++)
      network_set_tube_film(l->net, q->part, l->rig->coils[coil].tube_outer, 0.0);
  if (!(film > 0.0)) {
    const double mean = network_part_mean_temperature(l->net, enthalpy, q->part), w = q->bath ? *strength(l, (size_t)(q->bath - l->rig->baths)) : 0.0;
    const double warm = fmax(mean, q->bath ? brine_onset(q->bath->salt, q->bath->liquidus, w) : l->curve[q->part]->freezing_temperature);
    const film_fluid f = q->bath ? film_brine(q->bath->salt, w, warm) : film_water(warm);
    if (!stands && q->flow->speed > 0.0) {
      update_pumped(l, q, &f, warm, w);
      return;
    }
    if (!stands)
      film = film_stirred(&f, q->flow->stirring);
    else if (q->bath)
      film = film_vertical(&f, resting_difference(q, &f, warm, w), RESTING_HEIGHT);
    else
      film = film_water_natural(warm, warm + RESTING_DIFFERENCE, RESTING_HEIGHT);
    if (!stands && q->flow->film_scale > 0.0)
      film *= q->flow->film_scale;
  }
  network_set_film(l->net, q->part, film);
}

/* Its film, and the step that keeps it from lagging. */
static void update_stirred(liquids *l, size_t index, double time, const double *enthalpy)
{
  const liquid *q = &l->liquid[index];
  update_film(l, q, enthalpy);
  if (q->bath)
    return;
  const double temperature = network_part_mean_temperature(l->net, enthalpy, q->part);
  limit_step(l, l->memory + OWN_MEMORY + index * LIQUID_MEMORY, time, ice_share(l, q->part, enthalpy), temperature,
             temperature_change(l, q->part, temperature));
}

static bath_strength_request request_of(const liquids *l, size_t bath, const double *enthalpy)
{
  const rig_bath *b = &l->rig->baths[bath];
  return (bath_strength_request){.salt = b->salt,
                                 .source = b->liquidus,
                                 .density = l->rig->parts[b->part].stuff->density,
                                 .held_brine = b->held_brine,
                                 .salt_mass = l->salt[bath] * bath_memory(l, bath)[THINNED],
                                 .num = l->num_nodes[bath],
                                 .node = l->node[bath],
                                 .volume = network_volume(l->net),
                                 .enthalpy = enthalpy};
}

/* Strength of the liquid: by the salt balance of a still, mixed bath, else by the lever rule of the whole. */
static status update_strength(liquids *l, const liquid *q, size_t bath, const double *enthalpy, message *msg)
{
  double *w = strength(l, bath);
  if (!is_still_and_mixed(q->bath)) {
    show_part(l, q->part, enthalpy);
    *w = sum_up_bath(l, bath, enthalpy).strength;
    return STATUS_OK;
  }
  const bath_strength_request request = request_of(l, bath, enthalpy);
  bath_strength found;
  status code = bath_strength_find(&found, &request, *w, msg);
  if (code == STATUS_OK && found.mass_fraction != *w) {
    *w = found.mass_fraction;
    code = rebuild_curve(l, bath, msg);
  }
  return code;
}

status liquids_update(liquids *l, double time, const double *enthalpy, bool always, message *msg)
{
  status code = STATUS_OK;
  l->memory[STEP_LIMIT] = INFINITY;
  l->num_capped = 0;
  for (size_t index = 0; code == STATUS_OK && index < l->num; index++) {
    const liquid *q = &l->liquid[index];
    if (q->bath) {
      const size_t bath = (size_t)(q->bath - l->rig->baths);
      code = update_strength(l, q, bath, enthalpy, msg);
    }
    if (q->flow->kind == MOTION_STIRRED)
      update_stirred(l, index, time, enthalpy);
    else if (code == STATUS_OK)
      code = update_motion(l, index, time, enthalpy, look_at(l, q->part, enthalpy), always, msg);
  }
  l->memory[STEP_LIMIT] = fmin(l->memory[STEP_LIMIT], fmax(SHORTEST_LIMIT, network_ice_step(l->net)));
  l->memory[LAST_TIME] = time;
  return code;
}

bath_state liquids_bath(const liquids *l, size_t bath, const double *enthalpy)
{
  const rig_bath *b = &l->rig->baths[bath];
  const bath_sums sums = is_still_and_mixed(b) ? (bath_sums){ice_share(l, b->part, enthalpy), *strength(l, bath)} : sum_up_bath(l, bath, enthalpy);
  const double w = sums.strength;
  return (bath_state){.mass_fraction = w, .overall = overall_strength(l, bath), .ice_fraction = sums.ice, .onset = brine_onset(b->salt, b->liquidus, w),
                      .water_taken = bath_memory(l, bath)[MOIST_WATER]};
}

size_t liquids_num_capped(const liquids *l)
{
  return l->num_capped;
}

double liquids_step_limit(const liquids *l)
{
  return l->memory[STEP_LIMIT];
}

size_t liquids_num_memory(const liquids *l)
{
  return OWN_MEMORY + l->num * LIQUID_MEMORY + l->rig->num_baths * BATH_MEMORY;
}

double *liquids_memory(liquids *l)
{
  return l->memory;
}

double liquids_salt_error(const liquids *l, size_t bath, const double *enthalpy)
{
  if (!is_still_and_mixed(&l->rig->baths[bath]))
    return NAN;
  const bath_strength_request request = request_of(l, bath, enthalpy);
  return bath_strength_salt(&request, *strength(l, bath), NULL) / request.salt_mass - 1.0;
}

status liquids_restored(liquids *l, const double *enthalpy, message *msg)
{
  status code = STATUS_OK;
  for (size_t index = 0; code == STATUS_OK && index < l->num; index++) {
    const liquid *q = &l->liquid[index];
    if (!q->bath && q->flow->kind == MOTION_STIRRED)
      update_film(l, q, enthalpy);
    if (!q->bath)
      continue;
    const size_t bath = (size_t)(q->bath - l->rig->baths);
    if (is_still_and_mixed(q->bath))
      code = rebuild_curve(l, bath, msg);
    else if (bath_memory(l, bath)[CURVE_THINNED] != 1.0)
      code = rebuild_closed_curve(l, bath, msg);
    if (code == STATUS_OK && q->flow->kind == MOTION_STIRRED)
      update_film(l, q, enthalpy);
  }
  return code;
}
