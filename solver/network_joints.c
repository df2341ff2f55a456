/* Joints of a network: what stands on either side of each interface, by which rule, and to which path of the books its heat goes. */
#include "solver/network_parts.h"

#include <math.h>
#include <string.h>

#include "materials/moist_air.h"

/* ------------------------------------------------------------------------------------------- paths */

int32_t network_joints_path(network *net, const char *format, const char *what)
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
    return network_joints_path(net, "held: %s", net->rig->parts[s->held].name);
  if (s->kind == SURFACE_FIXED)
    return network_joints_path(net, "%s held fixed", network_part_name(net, part));
  if (s->kind == SURFACE_FLOOR)
    return network_joints_path(net, "%s to floor", network_part_name(net, part));
  if (rule && rule->temperature.num > 0)
    return network_joints_path(net, "%s to surroundings", network_part_name(net, part));
  return network_joints_path(net, "%s to room", network_part_name(net, part));
}

static int32_t moist_path_of(network *net, const surroundings *s, int32_t part)
{
  if (s->held >= 0 || s->kind != SURFACE_FILM || !(s->wet || (s->rule >= 0 && net->rig->rules[s->rule].condensation)))
    return -1;
  return network_joints_path(net, NETWORK_MOISTURE "%s", network_part_name(net, part));
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
                         network_part_name(net, part), network_part_name(net, other));
    *contact = rule;
    s->kind = r->parts[other].held_film > 0.0 ? SURFACE_FILM : SURFACE_FIXED;
  } else if (rule >= 0) {
    const surface_rule *chosen = &r->rules[rule];
    if (chosen->kind == SURFACE_CONTACT)
      return message_set(msg, STATUS_BAD_INPUT, "surface of %s: a contact needs two parts", network_part_name(net, part));
    if (chosen->kind == SURFACE_FIXED && chosen->temperature.num == 0)
      return message_set(msg, STATUS_BAD_INPUT, "surface of %s: a fixed temperature is not given", network_part_name(net, part));
    if (chosen->kind != SURFACE_FIXED && chosen->coefficient.num == 0)
      return message_set(msg, STATUS_BAD_INPUT, "surface of %s: its heat transfer coefficient is not given", network_part_name(net, part));
    s->kind = chosen->kind;
    s->rule = rule;
  } else {
    *open = r->room.film > 0.0;
  }
  if (*open && s->held < 0 && s->kind != SURFACE_FIXED && r->room.temperature.num == 0 &&
      (s->rule < 0 || r->rules[s->rule].temperature.num == 0) &&
      !(s->kind == SURFACE_FLOOR && r->room.floor_temperature.num > 0))
    return message_set(msg, STATUS_BAD_INPUT, "surface of %s: neither its surroundings nor the room have a temperature", network_part_name(net, part));
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
                       network_part_name(net, a), network_part_name(net, b));
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
  if (f->area[1] > 0.0 && j->node[1] >= 0)
    code = find_contact(net, wall, f->part[1], f->normal[2], &j->contact[1], &j->open[1], msg);
  else if (f->area[1] > 0.0)
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

status network_joints_make(network *net, message *msg)
{
  status code = STATUS_OK;
  for (size_t f = 0; code == STATUS_OK && f < net->mesh->num_interfaces; f++)
    code = make_joint(net, &net->mesh->interfaces[f], &net->joints[f], msg);
  return code;
}

status network_joints_use_stage(network *net, size_t stage, message *msg)
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
  if (code == STATUS_OK)
    network_walls_build(net);
  wall_sides_destroy(&net->sides);
  if (code == STATUS_OK)
    code = network_walls_make_sides(net, msg);
  return code;
}
