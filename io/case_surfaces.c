/* Rules for surfaces: films, fixed temperatures, insulation, floor, contact. */
#include <string.h>

#include "io/case_build.h"

enum { PATH = 96 };

static bool find_sides(const case_build *b, const yaml_node *item, const char *path, surface_rule *out)
{
  const char *of = case_build_text(item, SECTION_SURFACE, "of"), *against = case_build_text(item, SECTION_SURFACE, "against");
  out->part = case_build_find_rig_part(b, of);
  out->other = strcmp(against, "room") == 0 ? MESH_VOID : case_build_find_rig_part(b, against);
  if (out->part < 0 || (out->other < 0 && strcmp(against, "room") != 0))
    return false; /* told already, or that part is not sound */
  if (out->part != out->other)
    return true;
  case_build_fault(b, item, "against", "%s: \"%.48s\" cannot meet itself", path, of);
  return false;
}

static status make_rule(case_build *b, const yaml_node *item, const char *path, surface_rule *out)
{
  static const char *const ways[] = {"film", "fixed", "insulated", "floor", "contact"};
  static const surface_kind kinds[] = {SURFACE_FILM, SURFACE_FIXED, SURFACE_INSULATED, SURFACE_FLOOR, SURFACE_CONTACT};
  static const face_choice faces[] = {FACES_ALL, FACES_TOP, FACES_BOTTOM, FACES_SIDE};
  const int way = case_build_one_of(b, item, path, ways, 5);
  const int face = case_build_choice(item, SECTION_SURFACE, "faces");
  status code = STATUS_OK;
  if (way < 0)
    return STATUS_OK;
  out->kind = kinds[way];
  out->faces = faces[face < 0 ? 0 : face];
  out->condensation = case_build_flag(item, SECTION_SURFACE, "condensation");
  if (out->kind == SURFACE_CONTACT && out->other == MESH_VOID)
    case_build_fault(b, item, "contact", "%s: a contact is between two parts; name the other with \"against\"", path);
  if (out->other != MESH_VOID && out->kind != SURFACE_CONTACT && out->kind != SURFACE_INSULATED)
    case_build_fault(b, item, ways[way], "%s: between two parts only \"contact\" and \"insulated\" make sense", path);
  if (out->kind != SURFACE_FILM && out->kind != SURFACE_FLOOR && case_build_has(item, "temperature"))
    case_build_fault(b, item, "temperature", "%s: \"temperature\" goes with \"film\" or \"floor\"", path);
  if (out->condensation && out->kind != SURFACE_FILM)
    case_build_fault(b, item, "condensation", "%s: \"condensation\" goes with \"film\"", path);
  if (out->kind == SURFACE_INSULATED && !case_build_flag(item, SECTION_SURFACE, "insulated"))
    case_build_fault(b, item, "insulated", "%s: leave \"insulated\" out, or say yes", path);
  if (out->kind == SURFACE_FILM || out->kind == SURFACE_FLOOR || out->kind == SURFACE_CONTACT)
    code = case_build_schedule(b, item, SECTION_SURFACE, ways[way], &out->coefficient);
  if (code == STATUS_OK)
    code = case_build_schedule(b, item, SECTION_SURFACE, out->kind == SURFACE_FIXED ? "fixed" : "temperature", &out->temperature);
  return code;
}

/* A list of rules; stage 0: for always, else for the stage of that number. */
static status make_rules(case_build *b, const yaml_node *list, size_t stage)
{
  rig *r = &b->c->rig;
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && list && list->kind == YAML_LIST && i < list->num; i++) {
    char path[PATH];
    surface_rule rule = {.stage = (int)stage};
    if (stage > 0)
      (void)snprintf(path, sizeof path, "stages[%zu].surfaces[%zu]", stage, i + 1);
    else
      (void)snprintf(path, sizeof path, "surfaces[%zu]", i + 1);
    if (!case_build_is_sound(b, list->items[i]) || !find_sides(b, list->items[i], path, &rule))
      continue;
    code = make_rule(b, list->items[i], path, &rule);
    if (stage > 0 && rule.other != MESH_VOID)
      case_build_fault(b, list->items[i], "against", "%s: in one stage only, a surface meets the room", path);
    r->rules[r->num_rules++] = rule;
  }
  return code;
}

/* What the air resists that is left between ice and a lid; first in the list, so that a rule of the user's counts before it. */
static status make_lids(case_build *b)
{
  rig *r = &b->c->rig;
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < r->num_bodies; i++) {
    const case_liquid *q = &b->c->bodies[i];
    if (!q->sound || !(q->lid_contact > 0.0))
      continue;
    surface_rule *lid = &r->rules[r->num_rules++];
    *lid = (surface_rule){.kind = SURFACE_CONTACT, .part = q->rig_part, .other = b->c->parts[q->vessel].rig_part, .faces = FACES_TOP};
    code = case_build_constant(b, q->lid_contact, &lid->coefficient);
  }
  return code;
}

static size_t num_rules(const yaml_node *list) { return list && list->kind == YAML_LIST ? list->num : 0; }

status case_surfaces_build(case_build *b)
{
  rig *r = &b->c->rig;
  const yaml_node *list = yaml_tree_value(b->c->tree, "surfaces"), *stages = yaml_tree_value(b->c->tree, "stages");
  size_t num = num_rules(list) + r->num_bodies;
  for (size_t i = 0; i < num_rules(stages); i++)
    if (stages->items[i]->kind == YAML_MAP)
      num += num_rules(yaml_tree_value(stages->items[i], "surfaces"));
  if (num == 0)
    return STATUS_OK;
  r->rules = case_store_array(b->c->store, num, sizeof *r->rules, b->msg);
  if (!r->rules)
    return STATUS_NO_MEMORY;
  status code = make_lids(b);
  if (code == STATUS_OK)
    code = make_rules(b, list, 0);
  for (size_t i = 0; code == STATUS_OK && i < num_rules(stages); i++)
    if (stages->items[i]->kind == YAML_MAP)
      code = make_rules(b, yaml_tree_value(stages->items[i], "surfaces"), i + 1);
  return code;
}
