#include "solver/run_finish.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "materials/material.h"
#include "materials/refrigerant.h"
#include "solver/front_speed.h"
#include "solver/plant_account.h"
#include "solver/pocket_pressure.h"
#include "solver/pockets.h"
#include "solver/run_clouding.h"
#include "solver/run_expansion.h"
#include "solver/run_piece.h"
#include "solver/verdict.h"

static const double LEAST_POCKET_SHARE = 0.001;
static const double MOST_BOOKS_ERROR = 1e-9, MOST_CLAMPED = 0.02; /* of air and minerals, of salt; of a body's nodes */
enum { LEAST_POCKET_NODES_RZ = 9, LEAST_POCKET_NODES_XYZ = 27 };

/* kg/m3 at 0 degC and 101325 Pa: ice by IAPWS R10-06(2009), water by IAPWS SR6-08(2011). */
static const double ICE_DENSITY = 916.72, WATER_DENSITY = 999.84;

/* Area of the body's surface that faces up to the room, m2. */
static double open_area(const mesh *m, int part)
{
  double area = 0.0;
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    if (f->part[0] == part && f->part[1] == MESH_VOID && f->patch == MESH_NONE)
      area += f->area[0] * fmax(f->normal[2], 0.0);
  }
  return area;
}

static status finish_body(run *x, size_t index, const uint8_t *open, double start, message *msg)
{
  const rig_body *body = &x->rig->bodies[index];
  const body_watch *watch = &x->bodies[index];
  const material *water = x->rig->parts[body->part].stuff;
  body_result *res = &x->results.bodies[index];
  const pockets_request request = {
      .part = body->part,
      .density = water->density,
      .start_time = start,
      .solid_time = x->results.solid_time,
      .open = body->open_top ? open : NULL,
      .least_share = LEAST_POCKET_SHARE,
      .least_nodes = x->mesh->grid->kind == GRID_RZ ? LEAST_POCKET_NODES_RZ : LEAST_POCKET_NODES_XYZ};
  pockets_found found = {0};
  const status code = pockets_find(&found, x->results.pocket, x->mesh, &x->neighbours, &request, msg);
  if (code != STATUS_OK)
    return code;
  (void)snprintf(res->name, sizeof res->name, "%s", body->name);
  res->complete = !isnan(watch->solid_at);
  /* What happened before the freeze began has no time of its own; finish_warnings tells it. */
  res->freeze_time = res->complete ? fmax(watch->solid_at, start) - start : NAN;
  res->fraction = watch->share;
  for (int i = 0; i < BODY_WATCH_MARKS; i++)
    res->mark[i] = watch->mark[i] >= start ? watch->mark[i] - start : NAN;
  res->mass = body->mass;
  const double area = open_area(x->mesh, body->part);
  res->level_rise = body->open_top && area > 0.0 ? body->mass * (1.0 / ICE_DENSITY - 1.0 / WATER_DENSITY) / area : NAN;
  res->num_pockets = found.num;
  res->pockets = found.pocket;
  for (int axis = 0; axis < 3; axis++)
    res->last_position[axis] = NAN;
  res->last_time = res->last_distance = NAN;
  if (found.num > 0 && res->complete) {
    memcpy(res->last_position, found.pocket[0].position, sizeof res->last_position);
    res->last_time = fmax(found.pocket[0].last_at, start) - start;
    res->last_trapped = found.pocket[0].trapped;
    res->last_distance = found.last_distance;
  }
  run_expansion_body(res, area, water->density);
  return STATUS_OK;
}

/* A body that is not solid yet is later than any that is. */
static bool freezes_later(const body_result *a, const body_result *b)
{
  if (a->complete != b->complete)
    return !a->complete;
  return a->complete ? a->freeze_time > b->freeze_time : a->fraction < b->fraction;
}

static status finish_bodies(run *x, message *msg)
{
  const rig *r = x->rig;
  results *res = &x->results;
  const double start = res->stages[rig_stage_first_freeze(r->stages, r->num_stages)].start_at;
  uint8_t *open = calloc(x->mesh->num_nodes + 1, 1);
  if (!open)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for open surfaces", x->mesh->num_nodes + 1);
  for (size_t node = 0; node < x->mesh->num_nodes; node++)
    res->pocket[node] = -1;
  status code = front_speed_fill(front_track_start_time(x->front), front_track_freeze_time(x->front), &x->neighbours, x->mesh, res->front_speed, msg);
  for (size_t body = 0; code == STATUS_OK && body < r->num_bodies; body++) {
    pockets_mark_open(open, x->mesh, r->bodies[body].part);
    code = finish_body(x, body, open, start, msg);
    if (code == STATUS_OK)
      code = run_clouding_body(x, body, start, msg);
  }
  for (size_t body = 0; code == STATUS_OK && body < r->num_bodies; body++)
    if (res->last_body < 0 || freezes_later(&res->bodies[body], &res->bodies[res->last_body]))
      res->last_body = (int)body;
  free(open);
  return code;
}

/* The parts whose wall holds water: what has to be drawn out of a bath. */
static void mark_moulds(const run *x, uint8_t *is_mould)
{
  const rig *r = x->rig;
  const mesh *m = x->mesh;
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    for (int side = 0; side < 2; side++) {
      if (f->part[side] == MESH_VOID || r->parts[f->part[side]].kind != PART_WATER)
        continue;
      const int wall = f->patch != MESH_NONE ? m->patches[f->patch].part : f->part[1 - side];
      if (wall != MESH_VOID && r->parts[wall].kind == PART_SOLID)
        is_mould[wall] = 1;
    }
  }
}

/* The place of a coil beside which number i of its points lies, in (x, y, z): its own, and a tube's radius away along each axis. */
static void beside_line(const rig_coil *k, size_t point, int i, double at[3])
{
  static const double around[7][3] = {{0, 0, 0}, {1, 0, 0}, {-1, 0, 0}, {0, 1, 0}, {0, -1, 0}, {0, 0, 1}, {0, 0, -1}};
  for (int a = 0; a < 3; a++)
    at[a] = k->points[point][a] + 0.5 * k->tube_outer * around[i][a];
}

/* The bath's nodes at and just outside every tube in it; returns how many, at most room. */
static size_t nodes_at_tubes(const run *x, int part, int32_t *nodes, size_t room)
{
  static const double around[5][2] = {{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}};
  size_t num = 0;
  for (size_t coil = 0; coil < x->rig->num_coils; coil++) {
    const rig_coil *k = &x->rig->coils[coil];
    for (size_t ring = 0; ring < k->num_rings; ring++)
      for (int i = 0; i < 5; i++) {
        const double radius = 0.5 * k->tube_outer;
        const double point[3] = {k->rings[ring][0] + radius * around[i][0], 0.0, k->rings[ring][1] + radius * around[i][1]};
        const int32_t node = mesh_node_at(x->mesh, point);
        if (node != MESH_NONE && x->mesh->part[node] == part && num < room)
          nodes[num++] = node;
      }
    for (size_t point = 0; point < k->num_points; point++)
      for (int i = 0; i < 7; i++) {
        double at[3];
        beside_line(k, point, i, at);
        const int32_t node = mesh_node_at(x->mesh, at);
        if (node != MESH_NONE && x->mesh->part[node] == part && num < room)
          nodes[num++] = node;
      }
  }
  return num;
}

static size_t num_tube_points(const rig *r)
{
  size_t num = 0;
  for (size_t coil = 0; coil < r->num_coils; coil++)
    num += 5 * r->coils[coil].num_rings + 7 * r->coils[coil].num_points;
  return num;
}

/* Does a layer of ice of this thickness on the tubes of a stirred bath reach a mould's wetted wall? */
static bool layer_reaches_mould(const run *x, int part, const uint8_t *is_mould, double thickness)
{
  const mesh *m = x->mesh;
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const mesh_interface *f = &m->interfaces[i];
    const int wall = f->patch != MESH_NONE ? m->patches[f->patch].part : f->part[0] == part ? f->part[1] : f->part[0];
    if ((f->part[0] != part && f->part[1] != part) || wall < 0 || !is_mould[wall])
      continue;
    const double between = f->patch != MESH_NONE ? m->patches[f->patch].thickness : 0.0; /* a thin wall is placed at its inner face */
    for (size_t coil = 0; coil < x->rig->num_coils; coil++) {
      const rig_coil *k = &x->rig->coils[coil];
      for (size_t ring = 0; ring < k->num_rings; ring++)
        if (hypot(k->rings[ring][0] - f->centroid[0], k->rings[ring][1] - f->centroid[2]) < 0.5 * k->tube_outer + thickness + between)
          return true;
    }
  }
  return false;
}

/* What makes the bath soft enough at the mould: a warmer bath, or more salt in it as cold as it is at the wall. */
static void what_would_change_it(draw_answer *a, const rig_bath *bath, const bath_state *now, double wall_temperature)
{
  static const double most_ice = 0.999 * VERDICT_STIFF;
  const double wanted = (1.0 - most_ice) * brine_liquidus_fraction(bath->salt, bath->liquidus, wall_temperature);
  a->free_above = brine_onset(bath->salt, bath->liquidus, now->overall / (1.0 - most_ice));
  a->salt_to_add = a->draw == DRAW_FREE ? 0.0 : fmax(0.0, bath->mass * (wanted - now->overall) / (1.0 - wanted));
}

static draw_answer answer_of(const verdict_found *v, const rig_bath *bath, const bath_state *now)
{
  draw_answer a = {.present = v->touches_mould, .mode = bath->mode, .draw = v->draw, .ice_at_wall = v->ice_at_wall, .bridged = v->bridged,
                   .force_low = v->force.low, .force_high = v->force.high};
  if (a.present)
    what_would_change_it(&a, bath, now, v->wall_temperature);
  return a;
}

static status verdict_now(const run *x, size_t index, const uint8_t *is_mould, int32_t *tube_nodes, verdict_found *found, message *msg)
{
  const rig_bath *bath = &x->rig->baths[index];
  double *layer = calloc(x->mesh->num_interfaces + 1, sizeof *layer);
  if (!layer)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the ice on %zu surfaces", x->mesh->num_interfaces);
  for (size_t i = 0; i < x->mesh->num_interfaces; i++)
    layer[i] = network_ice_on_wall(x->net, i, x->state.enthalpy);
  const verdict_request request = {.bath = bath->part,
                                   .is_mould = is_mould,
                                   .liquid_fraction = x->liquid_fraction,
                                   .temperature = x->temperature,
                                   .layer = layer,
                                   .density = x->rig->parts[bath->part].stuff->density,
                                   .coil_node = tube_nodes,
                                   .num_coil_nodes = nodes_at_tubes(x, bath->part, tube_nodes, num_tube_points(x->rig))};
  const status code = verdict_of_bath(found, x->mesh, &x->neighbours, &request, msg);
  free(layer);
  network_ice layered;
  if (code != STATUS_OK || !found->touches_mould || !network_ice_at(x->net, bath->part, x->state.enthalpy, &layered))
    return code;
  const double thickest = network_ice_on_tubes(x->net, x->state.enthalpy).thickest;
  if (thickest > 0.0 && layer_reaches_mould(x, bath->part, is_mould, thickest)) {
    found->bridged = true;
    found->lets_go = false;
    found->draw = DRAW_LOCKED;
  }
  return code;
}

static status finish_bath(run *x, size_t index, const uint8_t *is_mould, int32_t *tube_nodes, message *msg)
{
  const rig_bath *bath = &x->rig->baths[index];
  const bath_state now = liquids_bath(x->liquids, index, x->state.enthalpy);
  bath_result *res = &x->results.baths[index];
  (void)snprintf(res->name, sizeof res->name, "%s", bath->name);
  res->mass_fraction = now.mass_fraction;
  res->salt_error = liquids_salt_error(x->liquids, index, x->state.enthalpy);
  res->freezing_onset = brine_onset(bath->salt, bath->liquidus, bath->mass_fraction);
  res->ice_fraction_mean = now.ice_fraction;
  res->water_taken = now.water_taken != 0.0 ? now.water_taken : NAN;
  res->mean_temperature = network_part_mean_temperature(x->net, x->state.enthalpy, bath->part);
  network_ice layered;
  if (network_ice_at(x->net, bath->part, x->state.enthalpy, &layered)) {
    const network_ice_cost cost = network_ice_on_tubes(x->net, x->state.enthalpy);
    res->coil_ice = isnan(cost.mean) ? 0.0 : cost.mean;
    res->coil_ice_most = cost.thickest;
    res->coil_ice_resistance = cost.resistance;
  }
  res->ice_fraction_max = 0.0;
  for (size_t node = 0; node < x->mesh->num_nodes; node++)
    if (x->mesh->part[node] == bath->part && x->mesh->volume[node] > 0.0)
      res->ice_fraction_max = fmax(res->ice_fraction_max, 1.0 - x->liquid_fraction[node]);
  verdict_found found;
  const status code = verdict_now(x, index, is_mould, tube_nodes, &found, msg);
  if (code == STATUS_OK) {
    res->touches_mould = found.touches_mould;
    res->draw = found.draw;
    res->ice_at_wall = found.ice_at_wall;
    res->answer = answer_of(&found, bath, &now);
    res->draft = found.force.draft;
    res->parallel = found.touches_mould && found.force.kind == DRAFT_PARALLEL;
    res->reversed = found.touches_mould && found.force.kind == DRAFT_REVERSED;
    res->other_freeze_time = NAN;
  }
  return code;
}

status run_finish_baths(run *x, message *msg)
{
  const rig *r = x->rig;
  uint8_t *is_mould = calloc(r->num_parts + 1, sizeof *is_mould);
  int32_t *tube_nodes = calloc(num_tube_points(r) + 1, sizeof *tube_nodes);
  status code = STATUS_OK;
  if (!is_mould || !tube_nodes)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the verdict on a bath",
                       r->num_parts + num_tube_points(r) * sizeof *tube_nodes);
  if (code == STATUS_OK) {
    run_parts_show(x, x->state.time);
    mark_moulds(x, is_mould);
  }
  for (size_t bath = 0; code == STATUS_OK && bath < r->num_baths; bath++)
    code = finish_bath(x, bath, is_mould, tube_nodes, msg);
  free(is_mould);
  free(tube_nodes);
  return code;
}

status run_finish_lets_go(run *x, bool *lets_go, message *msg)
{
  const rig *r = x->rig;
  uint8_t *is_mould = calloc(r->num_parts + 1, sizeof *is_mould);
  int32_t *tube_nodes = calloc(num_tube_points(r) + 1, sizeof *tube_nodes);
  status code = STATUS_OK;
  if (!is_mould || !tube_nodes)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the verdict on a bath", r->num_parts);
  *lets_go = true;
  if (code == STATUS_OK)
    mark_moulds(x, is_mould);
  for (size_t bath = 0; code == STATUS_OK && bath < r->num_baths; bath++) {
    verdict_found found;
    code = verdict_now(x, bath, is_mould, tube_nodes, &found, msg);
    *lets_go = *lets_go && code == STATUS_OK && (!found.touches_mould || found.lets_go);
  }
  free(is_mould);
  free(tube_nodes);
  return code;
}

static void choose_contact_bath(results *res)
{
  for (size_t bath = res->num_baths; bath-- > 0;)
    if (res->baths[bath].touches_mould)
      res->contact_bath = (int)bath;
}

static status finish_ledger(run *x, message *msg)
{
  const rig *r = x->rig;
  status code = STATUS_OK;
  for (size_t stage = 0; code == STATUS_OK && stage < r->num_stages; stage++) {
    const ledger_mark from = run_parts_mark_at(x, stage), to = run_parts_mark_at(x, stage + 1);
    stage_result *s = &x->results.stages[stage];
    (void)snprintf(s->name, sizeof s->name, "%s", r->stages[stage].name);
    s->kind = r->stages[stage].kind;
    code = ledger_between(&s->ledger, x->net, r, &from, &to, msg);
  }
  if (code == STATUS_OK) {
    const ledger_mark from = run_parts_mark_at(x, 0), to = run_parts_mark_at(x, r->num_stages);
    code = ledger_between(&x->results.ledger, x->net, r, &from, &to, msg);
  }
  x->results.plant = x->results.stages[run_parts_judged_stage(r)].plant;
  return code;
}

static status warn(results *res, message *msg, const char *format, ...) __attribute__((format(printf, 3, 4)));
static status warn(results *res, message *msg, const char *format, ...)
{
  char(*warnings)[512] = realloc(res->warnings, (res->num_warnings + 1) * sizeof *warnings);
  if (!warnings)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for warnings", (res->num_warnings + 1) * sizeof *warnings);
  res->warnings = warnings;
  va_list args;
  va_start(args, format);
  (void)vsnprintf(warnings[res->num_warnings++], sizeof *warnings, format, args);
  va_end(args);
  return STATUS_OK;
}

/* In stages in which the plant is asked for one of its ways. */
static size_t count_events(const rig *r, const results *res, const char *what, stage_plant way)
{
  double num = 0.0;
  for (size_t event = 0; event < res->num_events; event++)
    for (size_t stage = 0; stage < r->num_stages && strcmp(res->events[event].what, what) == 0; stage++)
      if (r->stages[stage].plant == way && strcmp(r->stages[stage].name, res->events[event].stage) == 0)
        num += res->events[event].count;
  return (size_t)num;
}

static bool are_alike(const run_event *a, const run_event *b)
{
  return strcmp(a->what, b->what) == 0 && strcmp(a->where, b->where) == 0 && strcmp(a->stage, b->stage) == 0;
}

/* A plant that cycles all day says the same thing again and again: from MANY on, what is alike within a stage is one event with its number, the
 * first and the last. */
static void sum_up_events(results *res)
{
  enum { MANY = 5 };
  size_t kept = 0;
  for (size_t i = 0; i < res->num_events; i++) {
    res->events[i].count = 1.0;
    res->events[i].last_at = res->events[i].at;
  }
  for (size_t i = 0; i < res->num_events; i++) {
    const run_event e = res->events[i];
    size_t same = kept;
    double alike = 0.0;
    for (size_t j = 0; j < kept; j++)
      if (are_alike(&e, &res->events[j])) {
        alike += res->events[j].count;
        same = j;
      }
    for (size_t j = i; j < res->num_events; j++)
      alike += are_alike(&e, &res->events[j]);
    if (alike >= MANY && same < kept) {
      res->events[same].count += 1.0;
      res->events[same].last_at = e.at;
    } else {
      res->events[kept++] = e;
    }
  }
  res->num_events = kept;
}

/* In reverse the coil in the bath condenses and the one in the room, or none, evaporates. */
static status finish_reverse_warnings(const rig *r, results *res, message *msg)
{
  const size_t high = count_events(r, res, "high-pressure cut-out", STAGE_PLANT_HEATS), low = count_events(r, res, "low-pressure cut-out", STAGE_PLANT_HEATS);
  status code = STATUS_OK;
  if (high > 0)
    code = warn(res, msg, "in reverse the high-pressure switch stopped the plant %zu time%s: the coil cannot give off that much heat. More coil, motion in the bath or "
                          "less compressor helps, or warm water round the mould (dip)", high, high == 1 ? "" : "s");
  if (code == STATUS_OK && low > 0)
    code = warn(res, msg, "in reverse the low-pressure switch stopped the plant %zu time%s: the coil in the room's air is too small for the compressor", low,
                low == 1 ? "" : "s");
  return code;
}

static status finish_plant_warnings(const rig *r, results *res, message *msg)
{
  enum { OFTEN = 3 };
  static const double MOTOR_TOO_LARGE = 0.85, KWH_PER_TONNE = 3.6e3, THRIFTY = 40.0, WASTEFUL = 250.0; /* envelope of block plants and small sets */
  const plant_account *a = &res->account;
  const rig_plant *p = &r->plant;
  const size_t num = count_events(r, res, "low-pressure cut-out", STAGE_PLANT_COOLS), high = count_events(r, res, "high-pressure cut-out", STAGE_PLANT_COOLS);
  const size_t hot = count_events(r, res, "discharge gas too hot", STAGE_PLANT_COOLS);
  status code = STATUS_OK;
  if (num > 0)
    code = warn(res, msg, "the low-pressure switch stopped the plant %zu time%s: the coil is too small or iced over%s", num, num == 1 ? "" : "s",
                num < OFTEN ? "" : ". More coil, motion in the bath, a warmer set-point or less compressor helps");
  if (code == STATUS_OK && high > 0)
    code = warn(res, msg, "the high-pressure switch stopped the plant %zu time%s: the condenser cannot shed the heat of so warm a bath. A larger condenser, more "
                          "air, or one compressor at first helps", high, high == 1 ? "" : "s");
  if (code == STATUS_OK && hot > 0)
    code = warn(res, msg, "the gas leaving a compressor reaches %.0f degC, over the limit of %.0f degC: oil and valves suffer", res->plant.gas_high, p->hottest_gas);
  if (code == STATUS_OK && a->present && p->socket_limit > 0.0 && a->running_current > p->socket_limit)
    code = warn(res, msg, "the compressors draw %.1f A, more than the socket's %.0f A", a->running_current, p->socket_limit);
  else if (code == STATUS_OK && a->present && p->socket_limit > 0.0 && a->starting_current > p->socket_limit)
    code = warn(res, msg, "starting takes %.0f A for a moment, the socket gives %.0f A: a slow breaker, or a licensed electrician's advice%s", a->starting_current,
                p->socket_limit, p->staggered_start || p->num_compressors < 2 ? "" : "; let the compressors start one after the other");
  for (size_t i = 0; code == STATUS_OK && a->present && i < a->num_shares; i++)
    if (a->shares[i].motor_load < MOTOR_TOO_LARGE)
      code = warn(res, msg, "%s was made for %s; %s is thinner vapour to it: its motor is loaded to %.0f %% only. Licensed practice decides whether it may run so",
                  a->shares[i].name, refrigerant_name(p->compressors[i].made_for), refrigerant_name(p->refrigerant), 100.0 * a->shares[i].motor_load);
    else if (a->shares[i].motor_load > 1.0)
      code = warn(res, msg, "%s was made for %s; on %s its motor draws %.0f %% of what it was built for. Licensed practice decides whether it may run so", a->shares[i].name,
                  refrigerant_name(p->compressors[i].made_for), refrigerant_name(p->refrigerant), 100.0 * a->shares[i].motor_load);
  if (code == STATUS_OK && a->present && (a->energy_per_kg < THRIFTY * KWH_PER_TONNE || a->energy_per_kg > WASTEFUL * KWH_PER_TONNE))
    code = warn(res, msg, "%.0f kWh of electricity per tonne of ice is unusual (40 to 250 is): check plant and leak", a->energy_per_kg / KWH_PER_TONNE);
  return code;
}

/* Electricity of all stages up to the judged one, over the ice that was there at its end. */
static void account_for_plant(run *x)
{
  results *res = &x->results;
  const size_t judged = run_parts_judged_stage(x->rig);
  const stage_result *stage = &res->stages[judged];
  double work = 0.0, ice = 0.0;
  for (size_t i = 0; i <= judged; i++)
    work += res->stages[i].plant.present ? res->stages[i].plant.work : 0.0;
  for (size_t body = 0; body < res->num_bodies; body++)
    ice += res->bodies[body].fraction * res->bodies[body].mass;
  res->account = plant_account_of(&x->rig->plant, &stage->plant, stage->end_at - stage->start_at, work, ice);
}

static status finish_bath_warnings(results *res, const bath_result *b, message *msg)
{
  if (fabs(b->salt_error) > MOST_BOOKS_ERROR && warn(res, msg, "%s: its salt is out of balance by %.1e; do not trust its strength", b->name, b->salt_error) != STATUS_OK)
    return STATUS_NO_MEMORY;
  if (!b->answer.present || b->draw == DRAW_FREE)
    return STATUS_OK;
  if (b->reversed)
    return warn(res, msg, "%s: the mould leans inward going up; slush holds it like a plug. Widen it towards the top", b->name);
  if (b->parallel)
    return warn(res, msg, "%s: the mould's wall is parallel; one to three degrees of taper, wider at the top, would let it part at once", b->name);
  return STATUS_OK;
}

/* A stage that waits until the bath lets go marches one way of its salt; the other may hold the mould. */
static status warn_of_letting_go(const rig *r, results *res, message *msg)
{
  status code = STATUS_OK;
  for (size_t stage = 0; code == STATUS_OK && stage < r->num_stages; stage++)
    for (size_t bath = 0; code == STATUS_OK && r->stages[stage].until == UNTIL_LETS_GO && bath < r->num_baths; bath++) {
      const bath_result *b = &res->baths[bath];
      if (b->answer.present && b->other.present && b->answer.draw == DRAW_LOCKED && b->answer.mode != r->baths[bath].mode)
        code = warn(res, msg, "stage %s goes by %s with its salt %s; with it %s the mould is locked at the end of the freeze and may stay so: try it with salt_mode: %s",
                    r->stages[stage].name, b->name, b->answer.mode == SALT_MIXED ? "staying between the ice" : "mixed", b->answer.mode == SALT_MIXED ? "mixed" : "staying",
                    b->answer.mode == SALT_MIXED ? "mixed" : "closed");
    }
  return code;
}

/* A plant in reverse, or a room, may need hours for what warm water does in minutes. */
static status warn_of_slow_release(const rig *r, results *res, message *msg)
{
  static const double SLOW = 3600.0; /* s */
  for (size_t stage = 0; stage < r->num_stages; stage++) {
    const stage_result *s = &res->stages[stage];
    if (s->release.present && !r->stages[stage].dips && r->stages[stage].until == UNTIL_RELEASED && s->end_at - s->start_at > SLOW && r->num_baths > 0)
      return warn(res, msg, "stage %s takes %.1f h; the mould lifted into water of 10 to 15 degC (dip) lets go in minutes; warmer water cracks cold ice", s->name,
                  (s->end_at - s->start_at) / 3600.0);
  }
  return STATUS_OK;
}

static double num_nodes_of(const mesh *m, int part)
{
  size_t num = 0;
  for (size_t n = 0; n < m->num_nodes; n++)
    num += m->part[n] == part && m->volume[n] > 0.0;
  return (double)num;
}

/* What the worst of its trapped pockets does to the block. */
static status warn_of_pressure(results *res, const body_result *b, bool open_top, message *msg)
{
  static const char *const crack[] = {"a crack is not likely", "a crack is possible", "a crack is likely"};
  const pocket *worst = &b->pockets[0];
  for (size_t i = 1; i < b->num_pockets; i++)
    if (b->pockets[i].trapped && !(b->pockets[i].crack_index <= worst->crack_index))
      worst = &b->pockets[i];
  if (isnan(worst->crack_index))
    return warn(res, msg, "%s: %.2f kg of water was shut in by ice; freezing on, it presses, bulges or cracks the block", b->name,
                worst->closed_mass);
  return warn(res, msg, "%s: %.2f kg of water was shut in by ice and presses with about %.0f bar: %s. %s", b->name, worst->closed_mass, 1e-5 * worst->pressure,
              crack[pocket_pressure_risk(worst->crack_index)],
              open_top ? "Keep the top open to the end" : "The vessel is closed: leave it a vent, and room for a tenth more");
}

static status finish_warnings(run *x, message *msg)
{
  const rig *r = x->rig;
  results *res = &x->results;
  const size_t judged = run_parts_judged_stage(r), began = rig_stage_first_freeze(r->stages, r->num_stages);
  const stage_result *stage = &res->stages[judged];
  status code = finish_plant_warnings(r, res, msg);
  if (code == STATUS_OK)
    code = finish_reverse_warnings(r, res, msg);
  for (size_t bath = 0; code == STATUS_OK && bath < r->num_baths; bath++)
    code = finish_bath_warnings(res, &res->baths[bath], msg);
  if (code == STATUS_OK)
    code = warn_of_letting_go(r, res, msg);
  if (code == STATUS_OK)
    code = warn_of_slow_release(r, res, msg);
  for (size_t body = 0; code == STATUS_OK && body < r->num_bodies; body++) {
    const body_result *b = &res->bodies[body];
    const double *mark = x->bodies[body].mark;
    if (!b->complete && strcmp(stage->ended_by, "time limit") == 0)
      code = warn(res, msg, "%s is not solid at the time limit: %.1f %% frozen. Allow more time, make the coolant colder, or bring it closer",
                  b->name, 100.0 * b->fraction);
    else if (!b->complete)
      code = warn(res, msg, "%s is not solid at the end of stage '%s' (ended by %s): %.1f %% frozen", b->name, r->stages[judged].name,
                  stage->ended_by, 100.0 * b->fraction);
    if (code == STATUS_OK && mark[0] < res->stages[began].start_at)
      code = warn(res, msg, "%s: half of it had frozen before stage '%s' began; times before that are left out", b->name,
                  r->stages[began].name);
    if (code == STATUS_OK && r->bodies[body].expelled > 0.0)
      code = warn(res, msg,
                  "%s: %.3g L of the ice has no room in the mould and is pushed out at the top or against the lid. Fill to 90 %% of the "
                  "height, and never freeze in a closed rigid vessel: it bursts",
                  b->name, 1e3 * r->bodies[body].expelled);
    if (code == STATUS_OK && b->clear.present && b->clear.books_error > MOST_BOOKS_ERROR)
      code = warn(res, msg, "%s: air and minerals are out of balance by %.1e; do not trust where it is clear", b->name, b->clear.books_error);
    if (code == STATUS_OK && b->clear.present && (double)b->clear.num_clamped > MOST_CLAMPED * num_nodes_of(x->mesh, r->bodies[body].part))
      code = warn(res, msg, "%s: the speed of the front is unknown or out of range at %zu places; where the ice is clear is rough there",
                  b->name, b->clear.num_clamped);
    if (code == STATUS_OK && b->last_trapped)
      code = warn_of_pressure(res, b, r->bodies[body].open_top, msg);
  }
  if (code == STATUS_OK && liquids_num_capped(x->liquids) > 0)
    code = warn(res, msg, "the motion of a liquid was held at its ceiling at %zu places: there the liquid counts as well mixed",
                liquids_num_capped(x->liquids));
  return code;
}

status run_finish(run *x, message *msg)
{
  run_parts_load_judged(x);
  heat_step_counts(x->step, &x->results.num_steps, &x->results.num_rejected, &x->results.num_stages_taken);
  status code = finish_bodies(x, msg);
  choose_contact_bath(&x->results);
  if (code == STATUS_OK)
    code = finish_ledger(x, msg);
  if (code == STATUS_OK)
    code = run_piece_ledgers(x, msg);
  account_for_plant(x);
  sum_up_events(&x->results);
  if (code == STATUS_OK)
    code = finish_warnings(x, msg);
  return code;
}
