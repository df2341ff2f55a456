#include "io/case_path.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/nearest.h"

enum { STEP = 64, MOST_WORDS = 64 };

size_t case_path_item(const yaml_node *list, const char *name)
{
  char *end = NULL;
  for (size_t i = 0; i < list->num; i++) {
    const yaml_node *n = yaml_tree_value(list->items[i], "name");
    if (n && n->kind == YAML_TEXT && strcmp(n->text, name) == 0)
      return i;
  }
  const unsigned long number = name[0] >= '0' && name[0] <= '9' ? strtoul(name, &end, 10) : 0;
  return end && !*end && number >= 1 && number <= list->num && !yaml_tree_value(list->items[number - 1], "name") ? number - 1 : SIZE_MAX;
}

typedef struct {
  const char *path, *rest; /* all of it; what is not walked yet */
  char step[STEP];
  fault_list *faults;
  fault_place at;
} walker;

/* Takes the next step off the path; false at its end, or when a step is empty or too long. */
static bool next(walker *w)
{
  const char *dot = strchr(w->rest, '.');
  const size_t n = dot ? (size_t)(dot - w->rest) : strlen(w->rest);
  if (n == 0 || n >= STEP)
    return false;
  memcpy(w->step, w->rest, n);
  w->step[n] = 0;
  w->rest += n + (dot != NULL);
  return true;
}

static void unknown_key(const walker *w, case_section section)
{
  const char *known[MOST_WORDS];
  size_t num = 0;
  for (size_t i = 0; i < case_keys_num() && num < MOST_WORDS; i++)
    if (case_keys_at(i)->section == section)
      known[num++] = case_keys_at(i)->key;
  const char *near = nearest_word(w->step, known, num);
  fault_add(w->faults, w->at, "%.120s: \"%s\" is not a key of %s%s%s%s; lastwater --help keys lists them", w->path, w->step,
            case_keys_section_name(section), near ? "; the closest is \"" : "", near ? near : "", near ? "\"" : "");
}

static void no_such_item(const walker *w, const yaml_node *list, const char *key)
{
  const char *names[MOST_WORDS];
  size_t num = 0;
  for (size_t i = 0; list && i < list->num && num < MOST_WORDS; i++) {
    const yaml_node *n = yaml_tree_value(list->items[i], "name");
    if (n && n->kind == YAML_TEXT)
      names[num++] = n->text;
  }
  const char *near = nearest_word(w->step, names, num);
  fault_add(w->faults, w->at, "%.120s: nothing in %s of the case is named \"%s\"%s%s%s", w->path, key, w->step, near ? "; the closest is \"" : "",
            near ? near : "", near ? "\"" : "");
}

/* From a list to the named item. */
static bool enter_list(walker *w, const case_key *k, const yaml_node **node)
{
  const yaml_node *list = *node && (*node)->kind == YAML_LIST ? *node : NULL;
  if (!next(w)) {
    fault_add(w->faults, w->at, "%.120s: the name of one of %s is missing at the end, and its key", w->path, k->key);
    return false;
  }
  const size_t item = list ? case_path_item(list, w->step) : SIZE_MAX;
  if (item == SIZE_MAX) {
    no_such_item(w, list, k->key);
    return false;
  }
  *node = list->items[item];
  return true;
}

static bool has_keys(const case_key *k)
{
  return k->type == VALUE_MAP || k->type == VALUE_LIST || k->type == VALUE_WORD_OR_MAP || k->type == VALUE_SOLID;
}

bool case_path_find(case_path *out, const yaml_node *root, const char *path, fault_list *faults, fault_place at)
{
  walker w = {.path = path, .rest = path, .faults = faults, .at = at};
  case_section section = SECTION_CASE;
  const yaml_node *node = root;
  for (;;) {
    if (!next(&w)) {
      fault_add(faults, at, "\"%.120s\" is not the path of a key; one is written like parts.pot.wall", path);
      return false;
    }
    const case_key *k = case_keys_find(section, w.step);
    if (!k) {
      unknown_key(&w, section);
      return false;
    }
    node = yaml_tree_value(node, k->key);
    if (k->type == VALUE_LIST && !enter_list(&w, k, &node))
      return false;
    if (!*w.rest && w.rest[-1] != '.') {
      *out = (case_path){.key = k, .value = node};
      return k->type != VALUE_LIST || (fault_add(faults, at, "%.120s: the key of that item is missing at the end", path), false);
    }
    if (!has_keys(k)) {
      fault_add(faults, at, "%.120s: %s is a value of its own, nothing stands below it", path, k->key);
      return false;
    }
    section = k->child;
  }
}
