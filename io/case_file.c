#include "io/case_file.h"

#include <stdlib.h>
#include <string.h>

#include "io/case_build.h"
#include "io/case_override.h"

/* ------------------------------------------------------------------------------------------------ life */

static char *copy_text(const char *text)
{
  const size_t n = strlen(text);
  char *copy = malloc(n + 1);
  if (copy)
    memcpy(copy, text, n + 1);
  return copy;
}

void case_file_destroy(case_file **c)
{
  if (!*c)
    return;
  grid_destroy(&(*c)->rig.mesh_grid);
  case_store_destroy(&(*c)->store);
  yaml_tree_destroy(&(*c)->tree);
  for (size_t i = 0; i < (*c)->num_overrides; i++)
    free((*c)->overrides[i]);
  free((*c)->overrides);
  free((*c)->notes);
  free((*c)->path);
  free(*c);
  *c = NULL;
}

static status keep_overrides(case_file *c, const char *const *overrides, size_t num, message *msg)
{
  c->overrides = calloc(num + 1, sizeof *c->overrides);
  for (size_t i = 0; c->overrides && i < num; i++) {
    const size_t room = strlen(overrides[i]) + 8;
    char *text = malloc(room);
    if (!text)
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for an override", room);
    (void)snprintf(text, room, "--set %s", overrides[i]);
    c->overrides[c->num_overrides++] = text;
  }
  return c->overrides ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the overrides");
}

static status begin(case_file **out, const char *path, const char *const *overrides, size_t num_overrides, message *msg)
{
  case_file *c = calloc(1, sizeof *c);
  if (!c)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a case", sizeof *c);
  c->path = copy_text(path);
  status code = c->path ? case_store_create(&c->store, msg) : message_set(msg, STATUS_NO_MEMORY, "out of memory for a file name");
  if (code == STATUS_OK)
    code = keep_overrides(c, overrides, num_overrides, msg);
  if (code == STATUS_OK)
    *out = c;
  else
    case_file_destroy(&c);
  return code;
}

/* ------------------------------------------------------------------------------------------------ building */

static void read_head(const case_build *b)
{
  case_file *c = b->c;
  const yaml_node *dimension = yaml_tree_value(c->tree, "dimension"), *title = yaml_tree_value(c->tree, "title");
  c->revolved = !dimension || dimension->kind != YAML_TEXT || strcmp(dimension->text, "xyz") != 0;
  (void)snprintf(c->rig.title, sizeof c->rig.title, "%.120s", title && title->kind == YAML_TEXT ? title->text : "");
}

static status build(case_build *b)
{
  case_keys_check(b->c->tree, b->units, b->faults);
  if (b->c->tree->kind != YAML_MAP)
    return STATUS_OK;
  read_head(b);
  status code = case_room_build(b);
  if (code == STATUS_OK)
    code = case_parts_build(b);
  if (code == STATUS_OK)
    code = case_coils_build(b);
  if (code == STATUS_OK)
    code = case_liquids_build(b);
  if (code == STATUS_OK)
    case_coils_settle(b);
  if (code == STATUS_OK)
    code = case_surfaces_build(b);
  if (code == STATUS_OK)
    code = case_stages_build(b);
  if (code == STATUS_OK)
    code = case_plant_build(b);
  if (code == STATUS_OK && fault_count(b->faults) == 0)
    code = case_grid_build(b);
  if (code == STATUS_OK && fault_count(b->faults) == 0)
    code = case_sense_check(b);
  return code;
}

static status keep_notes(const case_build *b)
{
  size_t room = 1;
  for (size_t i = 0; i < fault_num_notes(b->faults); i++)
    room += strlen(fault_note_text(b->faults, i)) + 1;
  char *notes = malloc(room), *p = notes;
  if (!notes)
    return message_set(b->msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for notes", room);
  *p = 0;
  for (size_t i = 0; i < fault_num_notes(b->faults); i++)
    p += snprintf(p, room - (size_t)(p - notes), "%s\n", fault_note_text(b->faults, i));
  b->c->notes = notes;
  return STATUS_OK;
}

static status resolve(case_file *c, fault_list *faults, message *msg)
{
  quantity_system *units = NULL;
  status code = quantity_system_create(&units, msg);
  for (size_t i = 0; code == STATUS_OK && i < c->num_overrides; i++)
    code = case_override_apply(c->tree, c->overrides[i] + strlen("--set "), c->overrides[i], faults, msg);
  case_build b = {.c = c, .units = units, .faults = faults, .msg = msg};
  if (code == STATUS_OK)
    code = build(&b);
  if (code == STATUS_OK && fault_count(faults) == 0)
    code = keep_notes(&b);
  quantity_system_destroy(&units);
  return code;
}

/* Turns the list of faults into the answer of the reader. */
static status conclude(status code, fault_list *faults, const char *path, char **text, message *msg)
{
  const size_t num = fault_count(faults);
  if (code == STATUS_OK || code == STATUS_BAD_INPUT) {
    if (num == 0)
      return code;
    if (fault_text(faults, text, msg) != STATUS_OK)
      return STATUS_NO_MEMORY;
    return message_set(msg, STATUS_BAD_INPUT, "%s: %zu fault%s; nothing was computed", path, num, num == 1 ? "" : "s");
  }
  return code;
}

static status read_from(case_file **out, const char *path, const char *text, size_t length, const char *const *overrides,
                        size_t num_overrides, char **faults, message *msg)
{
  case_file *c = NULL;
  fault_list *list = NULL;
  *faults = NULL;
  status code = begin(&c, path, overrides, num_overrides, msg);
  if (code == STATUS_OK)
    code = fault_list_create(&list, c->path, msg);
  if (code == STATUS_OK)
    code = text ? yaml_tree_parse(&c->tree, text, length, list, msg) : yaml_tree_read(&c->tree, path, list, msg);
  if (code == STATUS_OK)
    code = resolve(c, list, msg);
  if (list)
    code = conclude(code, list, c->path, faults, msg);
  fault_list_destroy(&list);
  if (code == STATUS_OK)
    *out = c;
  else
    case_file_destroy(&c);
  return code;
}

status case_file_read(case_file **out, const char *path, const char *const *overrides, size_t num_overrides, char **faults, message *msg)
{
  return read_from(out, path, NULL, 0, overrides, num_overrides, faults, msg);
}

status case_file_parse(case_file **out, const char *path, const char *text, size_t length, const char *const *overrides,
                       size_t num_overrides, char **faults, message *msg)
{
  return read_from(out, path, text, length, overrides, num_overrides, faults, msg);
}
