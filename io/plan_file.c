#include "io/plan_file.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_file.h"
#include "io/case_override.h"
#include "io/nearest.h"
#include "io/plan_reader.h"
#include "io/text_hash.h"
#include "io/whole_file.h"

enum { LONGEST_CASE = 4 << 20 };

/* ------------------------------------------------------------------------------------------------ life */

static void release_input(plan_input *in)
{
  for (size_t i = 0; in->level && i < in->num_levels; i++)
    free(in->level[i]);
  free(in->level);
  free(in->level_number);
  free(in->base);
}

void plan_file_destroy(plan_file **p)
{
  plan_file *f = *p;
  if (!f)
    return;
  for (size_t i = 0; f->inputs && i < f->num_inputs; i++)
    release_input(&f->inputs[i]);
  for (size_t i = 0; f->set && i < f->num_set; i++)
    free(f->set[i]);
  free(f->inputs);
  free(f->set);
  free(f->report);
  free(f->goals);
  free(f->limits);
  yaml_tree_destroy(&f->tree);
  yaml_tree_destroy(&f->case_tree);
  quantity_system_destroy(&f->own_units);
  free(f->path);
  free(f->case_path);
  free(f->case_text);
  free(f);
  *p = NULL;
}

static char *copy_bytes(const char *text, size_t n)
{
  char *copy = malloc(n + 1);
  if (copy) {
    memcpy(copy, text, n);
    copy[n] = 0;
  }
  return copy;
}

static status no_memory(message *msg)
{
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for the plan");
}

/* units NULL: it gets its own. */
static status begin(plan_file **out, const char *path, const quantity_system *units, message *msg)
{
  plan_file *p = calloc(1, sizeof *p);
  if (p)
    p->path = copy_bytes(path, strlen(path));
  if (!p || !p->path) {
    free(p);
    return no_memory(msg);
  }
  *out = p;
  const status code = units ? STATUS_OK : quantity_system_create(&p->own_units, msg);
  p->units = units ? units : p->own_units;
  return code;
}

void plan_file_number_text(const plan_input *in, double number, char *text, size_t size)
{
  (void)snprintf(text, size, "%.7g%s%s", number, in->unit[0] ? " " : "", in->unit);
}

/* ------------------------------------------------------------------------------------------------ what it means */

/* Adds up the meaning of a tree: kinds, texts, order; not places, comments or quotes. */
static uint64_t mix(uint64_t h, const void *bytes, size_t n)
{
  return (h ^ text_hash_bytes(bytes, n)) * 0x9E3779B97F4A7C15u + 1u;
}

static uint64_t meaning_of(uint64_t h, const yaml_node *n)
{
  h = mix(h, &n->kind, sizeof n->kind);
  if (n->kind == YAML_TEXT)
    return mix(h, n->text, strlen(n->text));
  for (size_t i = 0; i < n->num; i++) {
    if (n->keys)
      h = meaning_of(h, n->keys[i]);
    h = meaning_of(h, n->items[i]);
  }
  return mix(h, &n->num, sizeof n->num);
}

static void find_identity(plan_file *p)
{
  uint64_t h = meaning_of(meaning_of(1u, p->tree), p->case_tree);
  for (size_t i = 0; i < p->num_set; i++)
    h = mix(h, p->set[i], strlen(p->set[i]));
  p->identity = mix(h, LASTWATER_VERSION, strlen(LASTWATER_VERSION));
}

/* ------------------------------------------------------------------------------------------------ reading */

/* The case's own form, with what is set for all runs; faults of the case are told under its own name. */
static status read_case_tree(plan_file *p, char **faults, message *msg)
{
  fault_list *list = NULL;
  status code = fault_list_create(&list, p->case_path, msg);
  if (code == STATUS_OK)
    code = yaml_tree_parse(&p->case_tree, p->case_text, p->case_length, list, msg);
  if (code == STATUS_OK && p->case_tree->kind != YAML_MAP)
    fault_add(list, p->case_tree->at, "a case is a map of keys, not %s", yaml_tree_kind_name(p->case_tree->kind));
  if ((code == STATUS_OK || code == STATUS_BAD_INPUT) && fault_count(list) > 0) {
    code = fault_text(list, faults, msg);
    if (code == STATUS_OK)
      code = message_set(msg, STATUS_BAD_INPUT, "%s: the case of the plan cannot be read", p->case_path);
  }
  fault_list_destroy(&list);
  return code;
}

static status conclude(const plan_file *p, status code, fault_list *list, char **faults, message *msg)
{
  const size_t num = list ? fault_count(list) : 0;
  if ((code != STATUS_OK && code != STATUS_BAD_INPUT) || num == 0)
    return code;
  free(*faults);
  *faults = NULL;
  if (fault_text(list, faults, msg) != STATUS_OK)
    return STATUS_NO_MEMORY;
  return message_set(msg, STATUS_BAD_INPUT, "%s: %zu fault%s; nothing was computed", p->path, num, num == 1 ? "" : "s");
}

static status add_set(plan_file *p, const char *text, message *msg)
{
  char **more = realloc(p->set, (p->num_set + 1) * sizeof *more);
  if (!more)
    return no_memory(msg);
  p->set = more;
  p->set[p->num_set] = copy_bytes(text, strlen(text));
  return p->set[p->num_set++] ? STATUS_OK : no_memory(msg);
}

/* What is set for all runs goes into the tree of the case, so that the base values of the inputs are what they will be. */
static status apply_set(plan_file *p, fault_list *list, message *msg)
{
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < p->num_set; i++)
    code = case_override_apply(p->case_tree, p->set[i], p->set[i], list, msg);
  return code;
}

static status read_body(plan_file *p, plan_use use, const char *const *overrides, size_t num, char **faults, fault_list *list, message *msg)
{
  status code = read_case_tree(p, faults, msg);
  if (code == STATUS_OK)
    code = plan_reader_set(p, list, msg);
  for (size_t i = 0; code == STATUS_OK && i < num; i++)
    code = add_set(p, overrides[i], msg);
  if (code == STATUS_OK)
    code = apply_set(p, list, msg);
  if (code == STATUS_OK)
    code = plan_reader_body(p, use, list, msg);
  if (code == STATUS_OK)
    find_identity(p);
  return code;
}

status plan_file_parse(plan_file **out, const char *path, const char *text, size_t length, const char *case_text, size_t case_length,
                       plan_use use, const quantity_system *units, char **faults, message *msg)
{
  plan_file *p = NULL;
  fault_list *list = NULL;
  *faults = NULL;
  status code = begin(&p, path, units, msg);
  if (code == STATUS_OK)
    code = fault_list_create(&list, p->path, msg);
  if (code == STATUS_OK)
    code = yaml_tree_parse(&p->tree, text, length, list, msg);
  if (code == STATUS_OK) {
    p->case_path = copy_bytes("case.yaml", 9);
    p->case_text = copy_bytes(case_text, case_length);
    p->case_length = case_length;
    code = p->case_path && p->case_text ? read_body(p, use, NULL, 0, faults, list, msg) : no_memory(msg);
  }
  if (p)
    code = conclude(p, code, list, faults, msg);
  fault_list_destroy(&list);
  if (code == STATUS_OK)
    *out = p;
  else
    plan_file_destroy(&p);
  return code;
}

/* The case beside the plan, unless its name is a path from the root. */
static status find_case(plan_file *p, fault_list *list, message *msg)
{
  const yaml_node *name = yaml_tree_value(p->tree, "case");
  const char *slash = strrchr(p->path, '/');
  if (!name || name->kind != YAML_TEXT || !name->text[0]) {
    fault_add(list, name ? name->at : p->tree->at, "case: the name of a case file is wanted, for instance case: case.yaml");
    return STATUS_BAD_INPUT;
  }
  const size_t before = name->text[0] == '/' || !slash ? 0 : (size_t)(slash - p->path) + 1, n = strlen(name->text);
  p->case_path = malloc(before + n + 1);
  if (!p->case_path)
    return no_memory(msg);
  memcpy(p->case_path, p->path, before);
  memcpy(p->case_path + before, name->text, n + 1);
  message why = {""};
  const status code = whole_file_read(p->case_path, LONGEST_CASE, &p->case_text, &p->case_length, &why);
  if (code == STATUS_NO_MEMORY)
    return message_set(msg, code, "%s", why.text);
  if (code != STATUS_OK) {
    fault_add(list, name->at, "case: %.300s", why.text);
    return STATUS_BAD_INPUT;
  }
  return STATUS_OK;
}

/* Reads the case as it will be with the plan's settings: a case that is wrong anyway is told before anything is begun. */
static status try_case(const plan_file *p, char **faults, message *msg)
{
  case_file *c = NULL;
  const status code = case_file_parse(&c, p->case_path, p->case_text, p->case_length, (const char *const *)p->set, p->num_set, faults, msg);
  case_file_destroy(&c);
  return code;
}

status plan_file_read(plan_file **out, const char *path, plan_use use, const char *const *overrides, size_t num_overrides, char **faults,
                      message *msg)
{
  plan_file *p = NULL;
  fault_list *list = NULL;
  *faults = NULL;
  status code = begin(&p, path, NULL, msg);
  if (code == STATUS_OK)
    code = fault_list_create(&list, p->path, msg);
  if (code == STATUS_OK)
    code = yaml_tree_read(&p->tree, path, list, msg);
  if (code == STATUS_OK)
    code = find_case(p, list, msg);
  if (code == STATUS_OK)
    code = read_body(p, use, overrides, num_overrides, faults, list, msg);
  if (p)
    code = conclude(p, code, list, faults, msg);
  fault_list_destroy(&list);
  if (code == STATUS_OK)
    code = try_case(p, faults, msg);
  if (code == STATUS_OK)
    *out = p;
  else
    plan_file_destroy(&p);
  return code;
}
