#include "io/case_override.h"

#include <stdint.h>
#include <string.h>

#include "io/case_path.h"
#include "io/nearest.h"

enum { STEP = 64, PATH = 512, MOST_WORDS = 64 };

typedef struct {
  fault_place at;
  fault_list *faults;
  message *msg;
} setter;

static void no_such_item(const setter *s, const yaml_node *list, const char *name)
{
  const char *names[MOST_WORDS];
  size_t num = 0;
  for (size_t i = 0; i < list->num && num < MOST_WORDS; i++) {
    const yaml_node *n = yaml_tree_value(list->items[i], "name");
    if (n && n->kind == YAML_TEXT)
      names[num++] = n->text;
  }
  const char *near = nearest_word(name, names, num);
  fault_add(s->faults, s->at, "nothing in that list is named \"%s\"%s%s%s", name, near ? "; the closest is \"" : "", near ? near : "",
            near ? "\"" : "");
}

/* The places of an override's own tree are all the override's. */
static void set_place(yaml_node *n, fault_place at)
{
  n->at = at;
  for (size_t i = 0; i < n->num; i++) {
    if (n->keys)
      set_place(n->keys[i], at);
    set_place(n->items[i], at);
  }
}

/* A value in brackets is a list or a map; all else is a text as it stands. */
static status make_value(const setter *s, const char *text, yaml_node **out)
{
  if (*text != '[' && *text != '{')
    return yaml_tree_text(out, text, s->at, s->msg);
  fault_list *own = NULL;
  status code = fault_list_create(&own, "", s->msg);
  if (code == STATUS_OK)
    code = yaml_tree_parse(out, text, strlen(text), own, s->msg);
  if (code == STATUS_BAD_INPUT || (code == STATUS_OK && fault_count(own)))
    fault_add(s->faults, s->at, "the value \"%.100s\" is not YAML that can be read", text);
  if (code == STATUS_OK)
    set_place(*out, s->at);
  fault_list_destroy(&own);
  return code;
}

static status put(const setter *s, yaml_node *map, const char *key, yaml_node *value)
{
  for (size_t i = 0; i < map->num; i++)
    if (strcmp(map->keys[i]->text, key) == 0) {
      yaml_tree_destroy(&map->items[i]);
      map->items[i] = value;
      return STATUS_OK;
    }
  yaml_node *new_key = NULL;
  const status code = yaml_tree_text(&new_key, key, s->at, s->msg);
  if (code != STATUS_OK) {
    yaml_tree_destroy(&value);
    return code;
  }
  return yaml_tree_append(map, new_key, value, s->msg);
}

/* The node that a step leads to; a missing map on the way is made. *out NULL: told. */
static status step_into(const setter *s, yaml_node *from, const char *step, yaml_node **out)
{
  *out = NULL;
  if (from->kind == YAML_LIST) {
    const size_t i = case_path_item(from, step);
    if (i == SIZE_MAX)
      no_such_item(s, from, step);
    else
      *out = from->items[i];
    return STATUS_OK;
  }
  if (from->kind == YAML_TEXT) {
    fault_add(s->faults, s->at, "\"%s\" cannot be found: what stands above it is a text, \"%.40s\"", step, from->text);
    return STATUS_OK;
  }
  *out = yaml_tree_value(from, step);
  if (*out)
    return STATUS_OK;
  yaml_node *made = NULL;
  status code = yaml_tree_map(&made, s->at, s->msg);
  if (code == STATUS_OK)
    code = put(s, from, step, made);
  if (code == STATUS_OK)
    *out = made;
  return code;
}

/* Takes the next step off the path; false at its end or when it is too long or empty. */
static bool next_step(const char **path, const char *end, char step[STEP])
{
  const char *dot = memchr(*path, '.', (size_t)(end - *path));
  const size_t n = (size_t)((dot ? dot : end) - *path);
  if (n == 0 || n >= STEP)
    return false;
  memcpy(step, *path, n);
  step[n] = 0;
  *path += n + (dot != NULL);
  return true;
}

static status finish(const setter *s, yaml_node *at, const char *step, const char *value)
{
  yaml_node *made = NULL;
  if (at->kind != YAML_MAP) {
    fault_add(s->faults, s->at, "\"%s\" cannot be set: what stands above it is %s", step, yaml_tree_kind_name(at->kind));
    return STATUS_OK;
  }
  const status code = make_value(s, value, &made);
  if (code == STATUS_BAD_INPUT)
    return STATUS_OK;
  return code == STATUS_OK ? put(s, at, step, made) : code;
}

status case_override_apply(yaml_node *root, const char *text, const char *origin, fault_list *faults, message *msg)
{
  const setter s = {.at = {.origin = origin}, .faults = faults, .msg = msg};
  const char *equals = strchr(text, '='), *path = text;
  char step[STEP];
  yaml_node *at = root;
  if (!equals || equals == text || equals - text >= PATH || !equals[1]) {
    fault_add(faults, s.at, "an override is written key.path=value, for instance parts.pot.wall=3 mm");
    return STATUS_OK;
  }
  status code = STATUS_OK;
  while (code == STATUS_OK && at) {
    if (!next_step(&path, equals, step)) {
      fault_add(faults, s.at, "a key of the path is empty or too long; keys are separated by single points");
      return STATUS_OK;
    }
    if (path >= equals)
      break;
    code = step_into(&s, at, step, &at);
  }
  return code == STATUS_OK && at ? finish(&s, at, step, equals + 1) : code;
}
