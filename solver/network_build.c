/* Making a network: unknowns, rows, faces, joints, walls, wells, paths. */
#include "solver/network_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "materials/moist_air.h"
#include "solver/coil_line.h"

enum { PAD = 16 };

static status no_memory(message *msg, size_t num, const char *what)
{
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu %s", num, what);
}

static const char *part_name(const network *net, int32_t part)
{
  return part >= 0 ? net->rig->parts[part].name : "the room";
}

/* ------------------------------------------------------------------------------------------- arrays of known size */

static status allocate(network *net, message *msg)
{
  const size_t n = net->num_unknowns + 1, parts = (size_t)net->mesh->num_parts + 1, patches = net->num_patches + 1;
  const size_t interfaces = net->mesh->num_interfaces + 1, coils = net->rig->num_coils + 1;
  double **by_unknown[] = {&net->volume, &net->inverse_volume, &net->horizontal, &net->vertical, &net->still_sum,
                           &net->sum,    &net->entry_still,    &net->entry_sum,  &net->slope,    &net->pivot, &net->gain};
  double **by_part[] = {&net->film, &net->steepest, &net->steepest_moving, &net->low_moving, &net->high_moving, &net->still_most, &net->most, &net->most_moving, &net->most_icing};
  double **by_patch[] = {&net->wall_temperature, &net->wall_right, &net->wall_diagonal, &net->wall_heat, &net->wall_own, &net->wall_relax};
  bool ok = true;
  for (size_t a = 0; a < sizeof by_unknown / sizeof *by_unknown; a++)
    ok = (*by_unknown[a] = calloc(n, sizeof(double))) != NULL && ok;
  for (size_t a = 0; a < sizeof by_part / sizeof *by_part; a++)
    ok = (*by_part[a] = calloc(parts, sizeof(double))) != NULL && ok;
  for (size_t a = 0; a < sizeof by_patch / sizeof *by_patch; a++)
    ok = (*by_patch[a] = calloc(patches, sizeof(double))) != NULL && ok;
  ok = (net->low = calloc(NETWORK_SHARES * parts * NETWORK_STRANDS, sizeof(double))) != NULL && ok;
  ok = (net->high = calloc(NETWORK_SHARES * parts * NETWORK_STRANDS, sizeof(double))) != NULL && ok;
  ok = (net->curve = calloc(parts, sizeof *net->curve)) != NULL && ok;
  ok = (net->pooled = calloc(parts, sizeof *net->pooled)) != NULL && ok;
  ok = (net->dry = calloc(parts, sizeof *net->dry)) != NULL && ok;
  ok = (net->unknown = calloc(n, sizeof *net->unknown)) != NULL && ok;
  ok = (net->part = calloc(n, sizeof *net->part)) != NULL && ok;
  ok = (net->liquid = calloc(n, sizeof *net->liquid)) != NULL && ok;
  ok = (net->potential_memory = calloc(n + 2 * PAD, sizeof(double))) != NULL && ok;
  ok = (net->faces = calloc(net->mesh->num_faces + 1, sizeof *net->faces)) != NULL && ok;
  ok = (net->joints = calloc(interfaces, sizeof *net->joints)) != NULL && ok;
  ok = (net->pairs = calloc(interfaces, sizeof *net->pairs)) != NULL && ok;
  ok = (net->outsides = calloc(interfaces, sizeof *net->outsides)) != NULL && ok;
  ok = (net->links = calloc(2 * interfaces, sizeof *net->links)) != NULL && ok;
  ok = (net->wall_places = calloc(2 * interfaces, sizeof *net->wall_places)) != NULL && ok;
  ok = (net->unsettled = calloc(patches, sizeof *net->unsettled)) != NULL && ok;
  ok = (net->surface = calloc(interfaces, sizeof *net->surface)) != NULL && ok;
  ok = (net->lateral = calloc(net->mesh->num_patch_links + 1, sizeof *net->lateral)) != NULL && ok;
  ok = (net->coolant = calloc(coils, sizeof *net->coolant)) != NULL && ok;
  ok = (net->coolant_temperature = calloc(coils, sizeof(double))) != NULL && ok;
  ok = (net->coil_heat = calloc(coils, sizeof(double))) != NULL && ok;
  if (!ok)
    return no_memory(msg, net->num_unknowns, "nodes of the heat balance");
  net->potential = net->potential_memory + PAD;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- unknowns */

/* A part with channels is one temperature. Between it and what it touches: its film, or a contact that is next to none. */
static void find_channelled(network *net)
{
  static const double CONTACT = 1e5; /* W/(m2 K): a fiftieth of a millimetre of ice */
  for (size_t coil = 0; coil < net->rig->num_coils; coil++) {
    const rig_coil *c = &net->rig->coils[coil];
    if (!(c->conductance > 0.0))
      continue;
    net->pooled[c->part] = true;
    net->film[c->part] = c->outer_film > 0.0 ? c->outer_film : CONTACT;
  }
}

static void find_pools(network *net)
{
  for (size_t part = 0; part < net->rig->num_parts; part++)
    net->film[part] = NAN;
  for (size_t body = 0; body < net->rig->num_bodies; body++)
    if (net->rig->bodies[body].flow.kind == MOTION_STIRRED)
      net->film[net->rig->bodies[body].part] = net->rig->bodies[body].flow.film_coefficient;
  for (size_t bath = 0; bath < net->rig->num_baths; bath++) {
    const rig_bath *b = &net->rig->baths[bath];
    if (b->flow.kind != MOTION_STIRRED)
      continue;
    net->pooled[b->part] = true;
    net->film[b->part] = b->flow.film_coefficient;
  }
  find_channelled(net);
}

/* Volumes after pooling; the lowest-numbered node of a stirred bath carries all of it. */
static status fill_unknowns(network *net, message *msg)
{
  const mesh *m = net->mesh;
  int32_t *pool = malloc(((size_t)m->num_parts + 1) * sizeof *pool);
  if (!pool)
    return no_memory(msg, (size_t)m->num_parts, "parts");
  for (int32_t part = 0; part < m->num_parts; part++)
    pool[part] = -1;
  for (size_t node = 0; node < net->num_nodes; node++) {
    const int32_t part = m->volume[node] > 0.0 ? m->part[node] : MESH_VOID;
    size_t to = node;
    if (part >= 0 && net->pooled[part]) {
      if (pool[part] < 0)
        pool[part] = (int32_t)node;
      to = (size_t)pool[part];
    }
    net->unknown[node] = (int32_t)to;
    net->part[node] = to == node ? part : MESH_VOID;
    if (part >= 0)
      net->volume[to] += m->volume[node];
  }
  for (size_t p = 0; p < net->num_patches; p++) {
    const size_t at = net->num_nodes + p;
    net->unknown[at] = (int32_t)at;
    net->part[at] = m->patches[p].part;
    net->volume[at] = m->patches[p].area * m->patches[p].thickness;
  }
  for (size_t ring = 0; ring < net->num_rings; ring++) { /* shells take the place of nodes */
    const coil_shells *s = &net->rings[ring];
    for (size_t n = 0; n < s->num_inside; n++)
      net->volume[s->inside[n]] = 0.0;
    for (size_t i = 0; i < s->num; i++) {
      net->unknown[s->first + i] = (int32_t)(s->first + i);
      net->part[s->first + i] = s->part;
      net->volume[s->first + i] = s->volume[i];
    }
  }
  for (size_t l = 0; l < net->room_for_layers; l++) { /* layers of ice are no place of their own */
    net->unknown[net->first_layer + l] = (int32_t)(net->first_layer + l);
    net->part[net->first_layer + l] = MESH_VOID;
  }
  const size_t *num = m->grid->num;
  conductance_rows_even_out(net->volume, num[1] * num[2], num[0]);
  for (size_t at = 0; at < net->num_unknowns; at++) {
    net->inverse_volume[at] = net->volume[at] > 0.0 ? 1.0 / net->volume[at] : 0.0;
    net->horizontal[at] = net->vertical[at] = 1.0;
  }
  free(pool);
  return STATUS_OK;
}

/* Runs over the nodes of the mesh only: patches are not swept. */
static status fill_runs(network *net, message *msg)
{
  size_t num = 0;
  for (size_t node = 0; node < net->num_nodes; node++)
    num += node == 0 || net->part[node] != net->part[node - 1];
  net->runs = calloc(num + 1, sizeof *net->runs);
  net->run_part = calloc(num + 1, sizeof *net->run_part);
  if (!net->runs || !net->run_part)
    return no_memory(msg, num, "runs of nodes");
  for (size_t node = 0; node < net->num_nodes; node++) {
    if (node == 0 || net->part[node] != net->part[node - 1]) {
      net->run_part[net->num_runs] = net->part[node];
      net->runs[net->num_runs++] = (heat_potential_run){.begin = node};
    }
    net->runs[net->num_runs - 1].end = node + 1;
  }
  return STATUS_OK;
}

/* The same for potentials: absent nodes conduct nothing, so that any potential will do, and go with a neighbour's run. */
static status fill_potential_runs(network *net, message *msg)
{
  net->potential_runs = calloc(net->num_runs + 1, sizeof *net->potential_runs);
  net->potential_run_part = calloc(net->num_runs + 1, sizeof *net->potential_run_part);
  if (!net->potential_runs || !net->potential_run_part)
    return no_memory(msg, net->num_runs, "runs of nodes");
  for (size_t r = 0; r < net->num_runs; r++) {
    const int32_t part = net->run_part[r];
    const size_t last = net->num_potential_runs - 1; /* once there is one */
    if (net->num_potential_runs > 0 && (part < 0 || net->potential_run_part[last] < 0 || net->potential_run_part[last] == part)) {
      net->potential_runs[last].end = net->runs[r].end;
      net->potential_run_part[last] = part >= 0 ? part : net->potential_run_part[last];
    } else {
      net->potential_run_part[net->num_potential_runs] = part;
      net->potential_runs[net->num_potential_runs++] = net->runs[r];
    }
  }
  for (size_t r = 0; r < net->num_potential_runs; r++)
    net->potential_runs[r].curve = net->potential_run_part[r] >= 0 ? net->curve[net->potential_run_part[r]] : NULL;
  return STATUS_OK;
}

static bool anything_moves(const rig *r)
{
  for (size_t b = 0; b < r->num_bodies; b++)
    if (r->bodies[b].flow.kind != MOTION_NONE)
      return true;
  for (size_t b = 0; b < r->num_baths; b++)
    if (r->baths[b].flow.kind != MOTION_NONE)
      return true;
  return false;
}

static void fill_faces(network *net)
{
  const mesh *m = net->mesh;
  for (size_t f = 0; f < m->num_faces; f++) {
    const mesh_face *face = &m->faces[f];
    const int32_t left = net->unknown[face->left], right = net->unknown[face->right];
    if (left == right || !(net->volume[left] > 0.0 && net->volume[right] > 0.0))
      continue;
    const double g = face->area / face->distance;
    net->faces[net->num_faces++] = (face_entry){left, right, face->axis, g, g};
    net->still_sum[left] += g;
    net->still_sum[right] += g;
  }
}

/* ------------------------------------------------------------------------------------------- paths */

/* The path of that name, made when it is new. path_name has room for two per interface and one per coil. */
static int32_t path_index(network *net, const char *format, const char *what)
{
  char name[NETWORK_PATH_NAME];
  (void)snprintf(name, sizeof name, format, what);
  for (size_t p = 0; p < net->num_paths; p++)
    if (strcmp(net->path_name[p], name) == 0)
      return (int32_t)p;
  memcpy(net->path_name[net->num_paths], name, sizeof name);
  return (int32_t)net->num_paths++;
}

static int32_t path_of(network *net, const surroundings *s, int32_t part)
{
  const surface_rule *rule = s->rule >= 0 ? &net->rig->rules[s->rule] : NULL;
  if (s->held >= 0)
    return path_index(net, "held: %s", net->rig->parts[s->held].name);
  if (s->kind == SURFACE_FIXED)
    return path_index(net, "%s held fixed", part_name(net, part));
  if (s->kind == SURFACE_FLOOR)
    return path_index(net, "%s to floor", part_name(net, part));
  if (rule && rule->temperature.num > 0)
    return path_index(net, "%s to surroundings", part_name(net, part));
  return path_index(net, "%s to room", part_name(net, part));
}

static int32_t moist_path_of(network *net, const surroundings *s, int32_t part)
{
  if (s->held >= 0 || s->kind != SURFACE_FILM || !(s->wet || (s->rule >= 0 && net->rig->rules[s->rule].condensation)))
    return -1;
  return path_index(net, NETWORK_MOISTURE "%s", part_name(net, part));
}

/* ------------------------------------------------------------------------------------------- rules */

static bool face_matches(face_choice choice, double upward)
{
  switch (choice) {
  case FACES_ALL:
    return true;
  case FACES_TOP:
    return upward > 0.7;
  case FACES_BOTTOM:
    return upward < -0.7;
  case FACES_SIDE:
    return upward >= -0.7 && upward <= 0.7;
  }
  return false;
}

/* Last rule for the surface between parts a and b, upward = n_z from a to b; -1: none. */
static int32_t rule_between(const rig *r, size_t stage, int32_t a, int32_t b, double upward)
{
  int32_t found = -1;
  for (size_t i = 0; i < r->num_rules; i++) {
    const surface_rule *rule = &r->rules[i];
    if (rule->stage > 0 && (size_t)rule->stage != stage + 1)
      continue;
    if ((rule->part == a && rule->other == b && face_matches(rule->faces, upward)) ||
        (rule->part == b && rule->other == a && face_matches(rule->faces, -upward)))
      found = (int32_t)i;
  }
  return found;
}

/* Open brine takes moisture from the air and gives it; under a lid (a film weaker than radiation alone) it does neither. */
static bool is_open_bath(const rig *r, int32_t part, int32_t rule)
{
  const schedule *film = rule >= 0 ? &r->rules[rule].coefficient : NULL;
  double most = film ? 0.0 : r->room.film;
  for (size_t i = 0; film && i < film->num; i++)
    most = fmax(most, film->value[i]);
  if (rule >= 0 && r->rules[rule].kind != SURFACE_FILM)
    return false;
  for (size_t bath = 0; bath < r->num_baths; bath++)
    if (r->baths[bath].part == part && r->baths[bath].open_surface)
      return moist_air_convective_part(most, schedule_at(&r->room.temperature, 0.0), schedule_at(&r->room.temperature, 0.0)) > 0.0;
  return false;
}

/* What `part` meets at a surface towards `other` (the room or a held part) in a stage; open false: no heat passes. */
static status find_surroundings(const network *net, size_t stage, int32_t part, int32_t other, double upward, surroundings *s,
                                int32_t *contact, bool *open, message *msg)
{
  const rig *r = net->rig;
  const int32_t rule = rule_between(r, stage, part, other, upward);
  const bool held = other >= 0;
  *s = (surroundings){.kind = SURFACE_FILM, .rule = -1, .held = held ? other : -1, .wet = !held && is_open_bath(r, part, rule)};
  *contact = -1;
  *open = true;
  if (rule >= 0 && r->rules[rule].kind == SURFACE_INSULATED) {
    *open = false;
  } else if (held) {
    if (rule >= 0 && r->rules[rule].kind != SURFACE_CONTACT)
      return message_set(msg, STATUS_BAD_INPUT, "surface of %s to %s: a held part takes only `contact` or `insulated`, its own film is held_film",
                         part_name(net, part), part_name(net, other));
    *contact = rule;
    s->kind = r->parts[other].held_film > 0.0 ? SURFACE_FILM : SURFACE_FIXED;
  } else if (rule >= 0) {
    const surface_rule *chosen = &r->rules[rule];
    if (chosen->kind == SURFACE_CONTACT)
      return message_set(msg, STATUS_BAD_INPUT, "surface of %s: a contact needs two parts", part_name(net, part));
    if (chosen->kind == SURFACE_FIXED && chosen->temperature.num == 0)
      return message_set(msg, STATUS_BAD_INPUT, "surface of %s: a fixed temperature is not given", part_name(net, part));
    if (chosen->kind != SURFACE_FIXED && chosen->coefficient.num == 0)
      return message_set(msg, STATUS_BAD_INPUT, "surface of %s: its heat transfer coefficient is not given", part_name(net, part));
    s->kind = chosen->kind;
    s->rule = rule;
  } else {
    *open = r->room.film > 0.0;
  }
  if (*open && s->held < 0 && s->kind != SURFACE_FIXED && r->room.temperature.num == 0 &&
      (s->rule < 0 || r->rules[s->rule].temperature.num == 0) &&
      !(s->kind == SURFACE_FLOOR && r->room.floor_temperature.num > 0))
    return message_set(msg, STATUS_BAD_INPUT, "surface of %s: neither its surroundings nor the room have a temperature", part_name(net, part));
  return STATUS_OK;
}

static bool rules_change(const rig *r)
{
  for (size_t i = 0; i < r->num_rules; i++)
    if (r->rules[i].stage > 0)
      return true;
  return false;
}

/* What a surface meets in a stage, with the paths its heat is booked under. */
static status set_surroundings(network *net, size_t stage, int32_t part, int32_t other, double upward, joint *j, int32_t *contact, bool *open,
                               message *msg)
{
  const status code = find_surroundings(net, stage, part, other, upward, &j->outside, contact, open, msg);
  j->outside.closed = !*open;
  if (code != STATUS_OK || !*open)
    return code;
  j->path = path_of(net, &j->outside, part);
  j->moist_path = moist_path_of(net, &j->outside, part);
  return STATUS_OK;
}

/* The same for all stages, so that every path is known from the start; open: heat passes in one of them. Leaves the first stage's in place. */
static status meet_surroundings(network *net, int32_t part, int32_t other, double upward, joint *j, int32_t *contact, bool *open, message *msg)
{
  const size_t num = rules_change(net->rig) ? net->rig->num_stages : 1;
  status code = STATUS_OK;
  bool any = false, now = false;
  for (size_t stage = num; code == STATUS_OK && stage-- > 0;) {
    code = set_surroundings(net, stage, part, other, upward, j, contact, &now, msg);
    any = any || now;
  }
  *open = any;
  return code;
}

/* Contact between two parts that both conduct; -1: perfect. */
static status find_contact(const network *net, int32_t a, int32_t b, double upward, int32_t *contact, bool *open, message *msg)
{
  const int32_t rule = rule_between(net->rig, 0, a, b, upward);
  *contact = -1;
  *open = true;
  if (rule < 0)
    return STATUS_OK;
  const surface_kind kind = net->rig->rules[rule].kind;
  if (kind == SURFACE_INSULATED)
    *open = false;
  else if (kind == SURFACE_CONTACT && net->rig->rules[rule].coefficient.num > 0)
    *contact = rule;
  else
    return message_set(msg, STATUS_BAD_INPUT, "between %s and %s: only `contact` with a resistance or `insulated` can stand",
                       part_name(net, a), part_name(net, b));
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------- joints */

static status make_wall_joint(network *net, const mesh_interface *f, joint *j, message *msg)
{
  const int32_t wall = net->mesh->patches[f->patch].part;
  j->kind = JOINT_WALL;
  j->part[0] = f->part[0];
  status code = STATUS_OK;
  if (j->node[0] >= 0) /* else it is bare */
    code = find_contact(net, f->part[0], wall, f->normal[2], &j->contact[0], &j->open[0], msg);
  if (code != STATUS_OK)
    return code;
  if (j->node[1] >= 0)
    code = find_contact(net, wall, f->part[1], f->normal[2], &j->contact[1], &j->open[1], msg);
  else
    code = meet_surroundings(net, wall, f->part[1], f->normal[2], j, &j->contact[1], &j->open[1], msg);
  if (code != STATUS_OK)
    return code;
  for (int s = 0; s < 2; s++)
    if (j->open[s]) {
      j->slot[s] = net->num_links;
      net->links[net->num_links++] = (wall_link){.i = j->node[s], .patch = f->patch, .path = j->node[s] >= 0 ? -1 : j->path,
                                                 .moist_path = j->node[s] >= 0 ? -1 : j->moist_path};
    }
  return STATUS_OK;
}

static status make_joint(network *net, const mesh_interface *f, joint *j, message *msg)
{
  *j = (joint){.node = {-1, -1}, .part = {f->part[0], f->part[1]}, .patch = f->patch, .contact = {-1, -1}, .layer = {-1, -1}, .path = -1, .moist_path = -1};
  for (int s = 0; s < 2; s++)
    if (f->node[s] >= 0)
      j->node[s] = net->unknown[f->node[s]];
  if (f->patch >= 0)
    return make_wall_joint(net, f, j, msg);
  if (f->node[0] < 0)
    return STATUS_OK;
  bool open = true;
  if (j->node[1] >= 0) {
    const status code = find_contact(net, f->part[0], f->part[1], f->normal[2], &j->contact[0], &open, msg);
    if (code != STATUS_OK || !open)
      return code;
    j->kind = JOINT_PAIR;
    j->slot[0] = net->num_pairs;
    net->pairs[net->num_pairs++] = (pair_entry){.i = j->node[0], .j = j->node[1]};
    return STATUS_OK;
  }
  const status code = meet_surroundings(net, f->part[0], f->part[1], f->normal[2], j, &j->contact[0], &open, msg);
  if (code != STATUS_OK || !open)
    return code;
  j->kind = JOINT_OUTSIDE;
  j->slot[0] = net->num_outsides;
  net->outsides[net->num_outsides++] = (outside_entry){.i = j->node[0], .path = j->path, .moist_path = j->moist_path};
  return STATUS_OK;
}

static status make_joints(network *net, message *msg)
{
  status code = STATUS_OK;
  for (size_t f = 0; code == STATUS_OK && f < net->mesh->num_interfaces; f++)
    code = make_joint(net, &net->mesh->interfaces[f], &net->joints[f], msg);
  return code;
}

status network_build_stage(network *net, size_t stage, message *msg)
{
  status code = STATUS_OK;
  if (!rules_change(net->rig) || stage == net->stage)
    return STATUS_OK;
  net->stage = stage;
  for (size_t i = 0; code == STATUS_OK && i < net->mesh->num_interfaces; i++) {
    const mesh_interface *f = &net->mesh->interfaces[i];
    joint *j = &net->joints[i];
    const bool wall = j->kind == JOINT_WALL;
    bool open = true;
    if (j->node[1] >= 0 || !(j->kind == JOINT_OUTSIDE || (wall && j->open[1])))
      continue;
    code = set_surroundings(net, stage, wall ? net->mesh->patches[f->patch].part : f->part[0], f->part[1], f->normal[2], j,
                            &j->contact[wall ? 1 : 0], &open, msg);
    if (wall) {
      net->links[j->slot[1]].path = j->path;
      net->links[j->slot[1]].moist_path = j->moist_path;
    } else {
      net->outsides[j->slot[0]].path = j->path;
      net->outsides[j->slot[0]].moist_path = j->moist_path;
    }
  }
  wall_sides_destroy(&net->sides);
  if (code == STATUS_OK)
    code = wall_sides_create(&net->sides, net->links, net->num_links, net->num_patches, net->inverse_volume, msg);
  return code;
}

/* ------------------------------------------------------------------------------------------- coils */

static const double PI = 3.14159265358979323846;

/* K/W from the tube's outer surface to the refrigerant, `length` m of tube with an inner film; outer film included when the tube has one. */
static double tube_resistance(const rig_coil *c, double inner_film, double length)
{
  const double outer = 0.5 * c->tube_outer, inner = outer - c->tube_wall;
  double r = 0.0;
  if (c->outer_film > 0.0)
    r += 1.0 / (c->outer_film * 2.0 * PI * outer * length);
  if (c->tube_wall > 0.0 && c->tube_conductivity > 0.0)
    r += log(outer / inner) / (2.0 * PI * c->tube_conductivity * length);
  if (inner_film > 0.0)
    r += 1.0 / (inner_film * 2.0 * PI * inner * length);
  return r;
}

/* What is on the way through `length` m of tube: wetted inside, and full of vapour. */
static void fill_tube(well_entry *w, const rig_coil *c, double length)
{
  w->tube = tube_resistance(c, c->inner_film, length);
  w->dry_share = c->inner_film > 0.0 ? c->superheated_share : 0.0; /* a perfect inner side knows no vapour */
  w->dry = tube_resistance(c, c->superheated_film, length);
}

static status grow_wells(network *net, size_t more_wells, size_t more_nodes, message *msg)
{
  well_entry *wells = realloc(net->wells, (net->num_wells + more_wells + 1) * sizeof *wells);
  net->wells = wells ? wells : net->wells;
  int32_t *nodes = realloc(net->well_node, (net->num_well_nodes + more_nodes + 1) * sizeof *nodes);
  net->well_node = nodes ? nodes : net->well_node;
  double *weights = realloc(net->well_weight, (net->num_well_nodes + more_nodes + 1) * sizeof *weights);
  net->well_weight = weights ? weights : net->well_weight;
  return wells && nodes && weights ? STATUS_OK : no_memory(msg, net->num_well_nodes + more_nodes, "nodes of the coil");
}

static void add_well(network *net, well_entry w, const int32_t *node, const double *weight, size_t num)
{
  w.first = net->num_well_nodes;
  w.num = num;
  for (size_t n = 0; n < num; n++) {
    net->well_node[net->num_well_nodes] = node[n];
    net->well_weight[net->num_well_nodes++] = weight[n];
  }
  net->wells[net->num_wells++] = w;
}

static int32_t pool_of(const network *net, int32_t part)
{
  for (size_t node = 0; node < net->num_nodes; node++)
    if (net->part[node] == part)
      return (int32_t)node;
  return -1;
}

/* Channels through a part that is one temperature. */
static status channels_in_pool(network *net, size_t coil, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  const int32_t pool = pool_of(net, c->part);
  const double whole = 1.0;
  if (pool < 0)
    return message_set(msg, STATUS_BAD_INPUT, "coil %s: \"%s\" is thinner than the grid's cells, so there is no room for channels in it; make it thicker, or the cells "
                       "finer", c->name, net->rig->parts[c->part].name);
  const status code = grow_wells(net, 1, 1, msg);
  if (code == STATUS_OK)
    add_well(net, (well_entry){.coil = (int32_t)coil, .by_temperature = true, .shells = -1, .layer = -1, .tube = 1.0 / c->conductance}, &pool, &whole, 1);
  return code;
}

/* A ring in a stirred bath: the bath's film on the tube is put in at each refresh, when the tube has none of its own. */
static status ring_in_pool(network *net, size_t coil, size_t ring, int32_t part, double length, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  const status code = grow_wells(net, 1, 1, msg);
  if (code != STATUS_OK)
    return code;
  const int32_t pool = pool_of(net, part);
  const double whole = 1.0;
  /* geometric: the outer area, where the bath's own film is needed */
  well_entry w = {.coil = (int32_t)coil, .by_temperature = true, .shells = -1, .layer = -1, .ring = ring, .outer = PI * c->tube_outer * length,
                  .geometric = c->outer_film > 0.0 ? 0.0 : PI * c->tube_outer * length};
  fill_tube(&w, c, length);
  add_well(net, w, &pool, &whole, 1);
  return STATUS_OK;
}

/* Index of the shells round a ring, -1: none. */
static int32_t shells_of(const network *net, size_t coil, size_t ring)
{
  for (size_t i = 0; i < net->num_rings; i++)
    if (net->rings[i].coil == (int32_t)coil && net->rings[i].ring == ring)
      return (int32_t)i;
  return -1;
}

static status ring_in_shells(network *net, size_t coil, int32_t shells, double length, message *msg)
{
  const status code = grow_wells(net, 1, 0, msg);
  well_entry w = {.coil = (int32_t)coil, .layer = -1, .shells = shells, .geometric = net->rings[shells].geometric};
  fill_tube(&w, &net->rig->coils[coil], length);
  if (code == STATUS_OK)
    add_well(net, w, NULL, NULL, 0);
  return code;
}

/* A tube whose film acts on the cells it covers: a well for each of them, its share of `joined`. Room for num wells and nodes is there. */
static status spread_over(network *net, const well_entry *joined, const int32_t *node, const double *weight, size_t num, message *msg)
{
  static const double whole = 1.0;
  if (!(joined->tube > 0.0))
    return message_set(msg, STATUS_BAD_INPUT, "coil %s: a spread coil needs a film, a tube wall or an inner film", net->rig->coils[joined->coil].name);
  for (size_t n = 0; n < num; n++) {
    if (!(weight[n] > 0.0))
      continue;
    well_entry one = *joined;
    one.tube /= weight[n];
    one.dry /= weight[n];
    add_well(net, one, &node[n], &whole, 1);
  }
  return STATUS_OK;
}

static status ring_in_grid(network *net, size_t coil, size_t ring, int32_t part, double scale, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  coil_well w = {0};
  message inner = {""};
  status code = coil_well_create(&w, net->mesh, part, c->rings[ring][0], c->rings[ring][1], 0.5 * c->tube_outer, c->spread, &inner);
  if (code != STATUS_OK)
    return message_set(msg, code, "coil %s, ring %zu: %.900s", c->name, ring + 1, inner.text);
  well_entry joined = {.coil = (int32_t)coil, .by_temperature = c->spread, .shells = -1, .layer = -1};
  fill_tube(&joined, c, w.length * scale);
  code = grow_wells(net, w.num, w.num, msg);
  if (code == STATUS_OK && c->spread) {
    code = spread_over(net, &joined, w.node, w.weight, w.num, msg);
  } else if (code == STATUS_OK) {
    joined.geometric = w.geometric * scale;
    joined.radius = 0.5 * c->tube_outer;
    joined.length = w.length * scale;
    add_well(net, joined, w.node, w.weight, w.num);
  }
  coil_well_release(&w);
  return code;
}

/* A piece of tube along a line. */
static status piece_in_grid(network *net, size_t coil, const coil_line_piece *p, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  well_entry joined = {.coil = (int32_t)coil, .by_temperature = c->spread, .shells = -1, .layer = -1};
  fill_tube(&joined, c, p->length);
  const status code = grow_wells(net, c->spread ? p->num : 1, p->num, msg);
  if (code != STATUS_OK)
    return code;
  if (c->spread)
    return spread_over(net, &joined, p->node, p->weight, p->num, msg);
  joined.geometric = p->geometric;
  joined.radius = 0.5 * c->tube_outer;
  joined.length = p->length;
  add_well(net, joined, p->node, p->weight, p->num);
  return STATUS_OK;
}

/* A tube along a line: a well for each piece, and one for all that lies in a stirred part. */
static status line_in_grid(network *net, size_t coil, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  coil_line line;
  message inner = {""};
  status code = coil_line_create(&line, net->mesh, (const double(*)[3])c->points, c->num_points, 0.5 * c->tube_outer, net->pooled, c->spread, &inner);
  if (code != STATUS_OK)
    return message_set(msg, code, "coil %s: %.900s", c->name, inner.text);
  for (size_t i = 0; code == STATUS_OK && i < line.num; i++) {
    if (line.pieces[i].num > 0)
      code = piece_in_grid(net, coil, &line.pieces[i], msg);
  }
  for (int32_t part = 0; code == STATUS_OK && part < net->mesh->num_parts; part++) {
    double length = 0.0;
    for (size_t i = 0; net->pooled[part] && i < line.num; i++)
      length += line.pieces[i].part == part ? line.pieces[i].length : 0.0;
    if (length > 0.0)
      code = ring_in_pool(net, coil, 0, part, length, msg);
  }
  coil_line_release(&line);
  return code;
}

static status make_coil(network *net, size_t coil, message *msg)
{
  const rig_coil *c = &net->rig->coils[coil];
  if (c->conductance > 0.0)
    return channels_in_pool(net, coil, msg);
  if (c->num_points > 0)
    return line_in_grid(net, coil, msg);
  double turns = 0.0;
  for (size_t ring = 0; ring < c->num_rings; ring++)
    turns += 2.0 * PI * c->rings[ring][0];
  const double scale = c->length > 0.0 && turns > 0.0 ? c->length / turns : 1.0; /* the rise of the helix */
  status code = STATUS_OK;
  for (size_t ring = 0; code == STATUS_OK && ring < c->num_rings; ring++) {
    const double point[3] = {c->rings[ring][0], 0.0, c->rings[ring][1]};
    const int32_t node = mesh_node_at(net->mesh, point);
    if (node < 0) {
      code = message_set(msg, STATUS_BAD_INPUT, "coil %s, ring %zu at r = %g m, z = %g m lies in no part that conducts; move it",
                         c->name, ring + 1, point[0], point[2]);
      break;
    }
    const int32_t part = net->mesh->part[node];
    const int32_t shells = shells_of(net, coil, ring);
    const double length = 2.0 * PI * point[0] * scale;
    code = net->pooled[part] ? ring_in_pool(net, coil, ring, part, length, msg)
           : shells >= 0     ? ring_in_shells(net, coil, shells, length, msg)
                             : ring_in_grid(net, coil, ring, part, scale, msg);
  }
  return code;
}

static status make_coils(network *net, message *msg)
{
  status code = STATUS_OK;
  for (size_t coil = 0; code == STATUS_OK && coil < net->rig->num_coils; coil++) {
    char what[NETWORK_PATH_NAME];
    const char *name = net->rig->coils[coil].name;
    (void)snprintf(what, sizeof what, "%s%s", strstr(name, "coil") ? "" : "coil ", name);
    const int32_t path = path_index(net, "%s", what);
    if (coil == 0)
      net->first_coil_path = (size_t)path;
    net->coolant[coil].temperature = network_value(&net->rig->coils[coil].temperature, 0.0, NAN);
    net->coolant_temperature[coil] = NAN;
    code = make_coil(net, coil, msg);
  }
  return code;
}

/* ------------------------------------------------------------------------------------------- does every node touch something? */

static status refuse_lonely(const network *net, message *msg)
{
  bool *touched = calloc(net->num_unknowns + 1, sizeof *touched);
  if (!touched)
    return no_memory(msg, net->num_unknowns, "nodes");
  for (size_t node = 0; node < net->num_unknowns; node++)
    touched[node] = net->volume[node] <= 0.0 || net->still_sum[node] > 0.0 || node >= net->num_nodes;
  for (size_t f = 0; f < net->mesh->num_interfaces; f++)
    for (int s = 0; s < 2; s++)
      if (net->mesh->interfaces[f].node[s] >= 0)
        touched[net->unknown[net->mesh->interfaces[f].node[s]]] = true;
  status code = STATUS_OK;
  for (size_t node = 0; code == STATUS_OK && node < net->num_unknowns; node++)
    if (!touched[node])
      code = message_set(msg, STATUS_BAD_INPUT, "part %s: its piece of %g litres at (%g, %g, %g) m touches nothing, so no heat can reach it",
                         part_name(net, net->part[node]), 1000.0 * net->volume[node], net->mesh->centroid[node][0],
                         net->mesh->centroid[node][1], net->mesh->centroid[node][2]);
  free(touched);
  return code;
}

/* ------------------------------------------------------------------------------------------- what bounds the step */

static status find_entry_nodes(network *net, message *msg)
{
  bool *reached = calloc(net->num_unknowns + 1, sizeof *reached);
  net->entry_node = calloc(net->num_unknowns + 1, sizeof *net->entry_node);
  if (!reached || !net->entry_node) {
    free(reached);
    return no_memory(msg, net->num_unknowns, "nodes");
  }
  for (size_t i = 0; i < net->mesh->num_interfaces; i++)
    for (int s = 0; s < 2; s++)
      if (net->joints[i].node[s] >= 0)
        reached[net->joints[i].node[s]] = true;
  for (size_t n = 0; n < net->num_well_nodes; n++)
    reached[net->well_node[n]] = true;
  for (size_t n = 0; n < net->num_mix; n++)
    reached[net->mix_node[n]] = true;
  for (size_t ring = 0; ring < net->num_rings; ring++)
    for (size_t n = 0; n < net->rings[ring].num_rim; n++)
      reached[net->rings[ring].node[n]] = true;
  for (size_t f = 0; f < net->num_faces; f++)
    reached[net->faces[f].left] = reached[net->faces[f].right] = true;
  size_t num_skew;
  const int32_t *skew = network_skew_nodes(net, &num_skew);
  for (size_t n = 0; n < num_skew; n++)
    reached[skew[n]] = true;
  const size_t num_cells = grid_num_cells(net->mesh->grid);
  for (size_t node = 0; node < net->num_nodes; node++) {
    if (reached[node]) {
      net->entry_node[net->num_entry_nodes++] = (int32_t)node;
      net->num_entry_cells += node < num_cells;
    }
    const double sum = net->still_sum[node] * net->inverse_volume[node];
    if (net->part[node] >= 0 && sum > net->still_most[net->part[node]])
      net->still_most[net->part[node]] = sum;
  }
  free(reached);
  memcpy(net->sum, net->still_sum, net->num_unknowns * sizeof *net->sum);
  net->entry_place = calloc(net->num_entry_cells + 1, sizeof *net->entry_place);
  return net->entry_place ? STATUS_OK : no_memory(msg, net->num_entry_cells, "nodes at surfaces");
}

/* ------------------------------------------------------------------------------------------- all of it */

static status make_walls(network *net, message *msg)
{
  if (net->num_patches == 0)
    return STATUS_OK;
  network_walls_build(net);
  const status code = wall_sides_create(&net->sides, net->links, net->num_links, net->num_patches, net->inverse_volume, msg);
  if (code != STATUS_OK)
    return code;
  return wall_solve_create(&net->walls, net->num_patches, net->mesh->patch_links, net->mesh->num_patch_links,
                           net->mesh->grid->kind == GRID_RZ, msg);
}

static status make_front(network *net, message *msg)
{
  const size_t num_surfaces = 2 * net->mesh->num_interfaces;
  const size_t num_faces = net->num_faces + net->mesh->num_mirror_faces;
  front_cells_face *faces = calloc(num_faces + 1, sizeof *faces);
  int32_t *surface_node = calloc(num_surfaces + 1, sizeof *surface_node);
  net->face_moved = calloc(num_faces + 1, sizeof *net->face_moved);
  net->front_surface = calloc(num_surfaces + 1, sizeof *net->front_surface);
  net->front_nearer = calloc(num_surfaces + 1, sizeof *net->front_nearer);
  status code = STATUS_OK;
  if (!faces || !surface_node || !net->face_moved || !net->front_surface || !net->front_nearer) {
    code = no_memory(msg, num_faces, "faces");
  } else {
    for (size_t f = 0; f < net->num_faces; f++)
      faces[f] = (front_cells_face){net->faces[f].left, net->faces[f].right};
    for (size_t f = net->num_faces; f < num_faces; f++) {
      const int32_t node = net->unknown[net->mesh->mirror_faces[f - net->num_faces].node];
      faces[f] = (front_cells_face){node, node};
    }
    for (size_t i = 0; i < num_surfaces; i++) {
      const joint *j = &net->joints[i / 2];
      const bool shut = j->kind == JOINT_NONE || (j->kind == JOINT_WALL && !j->open[i % 2]);
      surface_node[i] = shut ? -1 : j->node[i % 2];
      net->front_nearer[i] = 1.0;
    }
    const front_cells_network n = {.rows = net->rows, .num_nodes = net->num_nodes, .num_parts = net->rig->num_parts, .part = net->part,
                                   .curve = net->curve, .excluded = net->pooled, .faces = faces, .num_faces = num_faces,
                                   .surface_node = surface_node, .num_surfaces = num_surfaces,
                                   .round_axis = net->mesh->grid->kind == GRID_RZ && !(net->mesh->grid->edges[0][0] > 0.0)};
    code = front_cells_create(&net->front, &n, msg);
  }
  free(faces);
  free(surface_node);
  return code;
}

static status check_parts(const network *net, message *msg)
{
  if ((size_t)net->mesh->num_parts != net->rig->num_parts)
    return message_set(msg, STATUS_BAD_INPUT, "the mesh has %d parts, the rig %zu", (int)net->mesh->num_parts, net->rig->num_parts);
  for (size_t part = 0; part < net->rig->num_parts; part++)
    if (!net->rig->parts[part].stuff && net->rig->parts[part].kind != PART_HELD)
      return message_set(msg, STATUS_BAD_INPUT, "part %s has no material", net->rig->parts[part].name);
  return STATUS_OK;
}

status network_build(network *net, message *msg)
{
  status code = check_parts(net, msg);
  if (code != STATUS_OK)
    return code;
  net->num_nodes = net->mesh->num_nodes;
  net->num_patches = net->mesh->num_patches;
  code = network_rings(net, net->num_nodes + net->num_patches, msg);
  if (code != STATUS_OK)
    return code;
  network_ice_count(net);
  net->first_layer = net->num_nodes + net->num_patches + net->num_shells;
  net->num_unknowns = net->first_layer + net->room_for_layers;
  net->path_name = calloc(2 * net->mesh->num_interfaces + net->rig->num_coils + 1, sizeof *net->path_name);
  if (!net->path_name)
    return no_memory(msg, net->mesh->num_interfaces, "heat paths");
  code = allocate(net, msg);
  if (code != STATUS_OK)
    return code;
  for (size_t part = 0; part < net->rig->num_parts; part++)
    net->curve[part] = net->rig->parts[part].stuff ? &net->rig->parts[part].stuff->curve : NULL;
  net->stage_room = NAN;
  find_pools(net);
  code = fill_unknowns(net, msg);
  if (code == STATUS_OK)
    code = fill_runs(net, msg);
  if (code == STATUS_OK)
    code = fill_potential_runs(net, msg);
  if (code == STATUS_OK)
    code = conductance_rows_create(&net->rows, net->mesh, net->inverse_volume, net->pooled, anything_moves(net->rig), msg);
  if (code == STATUS_OK) {
    conductance_rows_add_sums(net->rows, net->still_sum);
    fill_faces(net);
    code = make_joints(net, msg);
  }
  if (code == STATUS_OK)
    code = refuse_lonely(net, msg);
  if (code == STATUS_OK)
    code = make_walls(net, msg);
  if (code == STATUS_OK)
    code = make_coils(net, msg);
  if (code == STATUS_OK)
    code = network_tube_ice_make(net, msg);
  if (code == STATUS_OK)
    code = network_ice_make(net, msg);
  if (code == STATUS_OK)
    code = network_mix_make(net, msg);
  if (code == STATUS_OK)
    code = network_skew_make(net, msg);
  if (code == STATUS_OK)
    code = find_entry_nodes(net, msg);
  if (code == STATUS_OK)
    code = make_front(net, msg);
  return code;
}
