#include "io/case_build.h"

#include <stdarg.h>
#include <string.h>

bool case_build_has(const yaml_node *map, const char *key)
{
  return yaml_tree_value(map, key) != NULL;
}

bool case_build_number(const case_build *b, quantity_kind kind, const yaml_node *value, double *out)
{
  quantity q;
  if (!value || value->kind != YAML_TEXT || quantity_parse(b->units, kind, value->text, &q, NULL) != STATUS_OK)
    return false;
  if (q.spread)
    fault_note(b->faults, value->at, "\"%.60s\": the spread counts with run --band; without it the middle value is computed", value->text);
  *out = q.value;
  return true;
}

const char *case_build_text(const yaml_node *map, case_section section, const char *key)
{
  const yaml_node *value = yaml_tree_value(map, key);
  const case_key *k = case_keys_find(section, key);
  return value ? value->text : k ? k->preset : NULL;
}

bool case_build_quantity(const case_build *b, const yaml_node *map, case_section section, const char *key, double *out)
{
  const yaml_node *value = yaml_tree_value(map, key);
  const case_key *k = case_keys_find(section, key);
  quantity q;
  if (value)
    return case_build_number(b, k->kind, value, out);
  if (!k->preset || quantity_parse(b->units, k->kind, k->preset, &q, NULL) != STATUS_OK)
    return false;
  *out = q.value;
  return true;
}

bool case_build_pressure(const case_build *b, const yaml_node *map, case_section section, const char *key, double site, double *gauge)
{
  const char *text = case_build_text(map, section, key);
  quantity q;
  if (!text || quantity_parse(b->units, QUANTITY_PRESSURE, text, &q, NULL) != STATUS_OK)
    return false;
  *gauge = q.gauge ? q.value : q.value - site;
  return true;
}

bool case_build_flag(const yaml_node *map, case_section section, const char *key)
{
  const char *text = case_build_text(map, section, key);
  return text && (strcmp(text, "yes") == 0 || strcmp(text, "true") == 0);
}

int case_build_choice(const yaml_node *map, case_section section, const char *key)
{
  const char *text = case_build_text(map, section, key);
  return text ? case_keys_choice_index(case_keys_find(section, key)->choices, text) : -1;
}

status case_build_constant(const case_build *b, double value, schedule *out)
{
  double *rows = case_store_array(b->c->store, 2, sizeof *rows, b->msg);
  if (!rows)
    return STATUS_NO_MEMORY;
  rows[1] = value;
  *out = (schedule){.num = 1, .time = rows, .value = rows + 1};
  return STATUS_OK;
}

status case_build_schedule(const case_build *b, const yaml_node *map, case_section section, const char *key, schedule *out)
{
  const yaml_node *value = yaml_tree_value(map, key);
  const case_key *k = case_keys_find(section, key);
  double constant = 0.0;
  *out = (schedule){0};
  if (!value || value->kind == YAML_TEXT)
    return case_build_quantity(b, map, section, key, &constant) ? case_build_constant(b, constant, out) : STATUS_OK;
  if (value->kind != YAML_LIST || value->num == 0)
    return STATUS_OK;
  double *rows = case_store_array(b->c->store, 2 * value->num, sizeof *rows, b->msg);
  if (!rows)
    return STATUS_NO_MEMORY;
  for (size_t row = 0; row < value->num; row++) {
    const yaml_node *r = value->items[row];
    if (r->kind != YAML_LIST || r->num != 2 || !case_build_number(b, QUANTITY_TIME, r->items[0], &rows[row]) ||
        !case_build_number(b, k->kind, r->items[1], &rows[value->num + row]))
      return STATUS_OK;
  }
  *out = (schedule){.num = value->num, .time = rows, .value = rows + value->num};
  return STATUS_OK;
}

bool case_build_point(const case_build *b, const yaml_node *list, size_t num, double *out)
{
  if (!list || list->kind != YAML_LIST || list->num != num)
    return false;
  for (size_t i = 0; i < num; i++)
    if (!case_build_number(b, QUANTITY_LENGTH, list->items[i], &out[i]))
      return false;
  return true;
}

void case_build_fault(const case_build *b, const yaml_node *map, const char *key, const char *format, ...)
{
  char text[512];
  va_list args;
  va_start(args, format);
  (void)vsnprintf(text, sizeof text, format, args);
  va_end(args);
  const yaml_node *value = key ? yaml_tree_value(map, key) : NULL;
  fault_add(b->faults, value ? value->at : map ? map->at : (fault_place){0}, "%s", text);
}

int case_build_one_of(const case_build *b, const yaml_node *map, const char *what, const char *const *keys, size_t num)
{
  int found = -1;
  char list[128] = "";
  for (size_t i = 0; i < num; i++) {
    const size_t n = strlen(list);
    (void)snprintf(list + n, sizeof list - n, "%s%s", n ? ", " : "", keys[i]);
  }
  for (size_t i = 0; i < num; i++) {
    if (!case_build_has(map, keys[i]))
      continue;
    if (found >= 0) {
      case_build_fault(b, map, keys[i], "%s: \"%s\" and \"%s\" are both given; give one of %s", what, keys[found], keys[i], list);
      return -1;
    }
    found = (int)i;
  }
  if (found < 0)
    case_build_fault(b, map, NULL, "%s: give one of %s", what, list);
  return found;
}

int case_build_find_part(const case_build *b, const char *name)
{
  for (size_t i = 0; name && i < b->c->num_parts; i++)
    if (strcmp(b->c->parts[i].name, name) == 0)
      return (int)i;
  return -1;
}

int case_build_find_rig_part(const case_build *b, const char *name)
{
  for (size_t i = 0; name && i < b->c->rig.num_parts; i++)
    if (strcmp(b->c->rig.parts[i].name, name) == 0)
      return (int)i;
  return -1;
}

bool case_build_is_sound(const case_build *b, const yaml_node *item)
{
  if (!item)
    return true;
  if (fault_is_at(b->faults, item->at))
    return false;
  for (size_t i = 0; i < item->num; i++)
    if ((item->keys && fault_is_at(b->faults, item->keys[i]->at)) || !case_build_is_sound(b, item->items[i]))
      return false;
  return true;
}
