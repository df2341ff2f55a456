#include "io/plan_reader.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/nearest.h"
#include "io/plan_inputs.h"
#include "io/report_unit.h"

enum { SHOWN = 60, MOST_KEYS = 16 };

typedef struct {
  plan_file *p;
  plan_use use;
  fault_list *faults;
  message *msg;
} reader;

/* ------------------------------------------------------------------------------------------------ values as text */

static size_t measure(const yaml_node *n)
{
  size_t room = 4 + (n->kind == YAML_TEXT ? 2 * strlen(n->text) : 0);
  for (size_t i = 0; i < n->num; i++)
    room += measure(n->items[i]) + (n->keys ? measure(n->keys[i]) + 4 : 0);
  return room;
}

static char *write_flow(char *to, const yaml_node *n, bool inner)
{
  if (n->kind == YAML_TEXT && !inner)
    return to + sprintf(to, "%s", n->text);
  if (n->kind == YAML_TEXT) { /* inside brackets a text stands in quotes: a comma in it is its own */
    *to++ = '"';
    for (const char *c = n->text; *c; c++) {
      if (*c == '"' || *c == '\\')
        *to++ = '\\';
      *to++ = *c;
    }
    *to++ = '"';
    *to = 0;
    return to;
  }
  *to++ = n->kind == YAML_LIST ? '[' : '{';
  for (size_t i = 0; i < n->num; i++) {
    if (i)
      to += sprintf(to, ", ");
    if (n->keys) {
      to = write_flow(to, n->keys[i], true);
      to += sprintf(to, ": ");
    }
    to = write_flow(to, n->items[i], true);
  }
  *to++ = n->kind == YAML_LIST ? ']' : '}';
  *to = 0;
  return to;
}

char *plan_reader_flow(const yaml_node *value)
{
  char *text = malloc(measure(value) + 1);
  if (text)
    (void)write_flow(text, value, false);
  return text;
}

/* ------------------------------------------------------------------------------------------------ keys */

/* Refuses keys of a map that are not among `known` (words separated by '|'). */
static void check_keys(const reader *r, const yaml_node *map, const char *where, const char *known)
{
  char storage[256];
  const char *words[MOST_KEYS];
  size_t num = 0;
  (void)snprintf(storage, sizeof storage, "%s", known);
  for (char *rest = storage, *word; num < MOST_KEYS && (word = strtok_r(rest, "|", &rest)) != NULL;)
    words[num++] = word;
  for (size_t i = 0; i < map->num; i++) {
    if (case_keys_is_choice(known, map->keys[i]->text))
      continue;
    const char *near = nearest_word(map->keys[i]->text, words, num);
    fault_add(r->faults, map->keys[i]->at, "%s%s%.*s: unknown key; %s %s", where, *where ? "." : "", SHOWN, map->keys[i]->text,
              near ? "the closest is" : "accepted are", near ? near : known);
  }
}

static const char *text_of(const reader *r, const yaml_node *map, const char *key)
{
  const yaml_node *n = yaml_tree_value(map, key);
  if (n && n->kind != YAML_TEXT)
    fault_add(r->faults, n->at, "%s: found %s; a text is accepted", key, yaml_tree_kind_name(n->kind));
  return n && n->kind == YAML_TEXT ? n->text : NULL;
}

/* A whole number from low to high; `other` when the key is missing or wrong. */
static size_t count_of(const reader *r, const yaml_node *map, const char *key, size_t low, size_t high, size_t other)
{
  const yaml_node *n = yaml_tree_value(map, key);
  size_t value = 0;
  if (!n)
    return other;
  const bool digits = n->kind == YAML_TEXT && n->text[0] && strlen(n->text) <= 18 && strspn(n->text, "0123456789") == strlen(n->text);
  if (digits)
    value = (size_t)strtoull(n->text, NULL, 10);
  if (digits && value >= low && value <= high)
    return value;
  fault_add(r->faults, n->at, "%s: \"%.*s\" is not a whole number from %zu to %zu", key, SHOWN, n->kind == YAML_TEXT ? n->text : "", low, high);
  return other;
}

static int choice_of(const reader *r, const yaml_node *map, const char *key, const char *choices, int other)
{
  const yaml_node *n = yaml_tree_value(map, key);
  if (!n)
    return other;
  const int i = n->kind == YAML_TEXT ? case_keys_choice_index(choices, n->text) : -1;
  if (i < 0)
    fault_add(r->faults, n->at, "%s: \"%.*s\" is not one of %s", key, SHOWN, n->kind == YAML_TEXT ? n->text : "", choices);
  return i < 0 ? other : i;
}

/* ------------------------------------------------------------------------------------------------ paths into the summary */

static bool read_path(const reader *r, const yaml_node *n, char path[PLAN_PATH])
{
  if (!n || n->kind != YAML_TEXT || !n->text[0] || strlen(n->text) >= PLAN_PATH ||
      strspn(n->text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-. ") != strlen(n->text)) {
    fault_add(r->faults, n ? n->at : r->p->tree->at, "a path into summary.json is wanted, for instance freeze.time_s");
    return false;
  }
  (void)snprintf(path, PLAN_PATH, "%s", n->text);
  return true;
}

/* Every path that is asked for is reported, once. */
static void want(plan_file *p, const char *path)
{
  for (size_t i = 0; i < p->num_report; i++)
    if (strcmp(p->report[i], path) == 0)
      return;
  (void)snprintf(p->report[p->num_report++], PLAN_PATH, "%s", path);
}

/* A value in the unit that the path's suffix names. difference: of temperatures. */
static bool read_value(const reader *r, const yaml_node *n, const char *path, double *out)
{
  const report_unit u = report_unit_of(path);
  quantity q;
  message why = {""};
  if (n->kind == YAML_TEXT && quantity_parse(r->p->units, u.kind, n->text, &q, &why) == STATUS_OK) {
    *out = q.value;
    return true;
  }
  fault_add(r->faults, n->at, "%s is given in %s: %.300s", path, u.unit, n->kind == YAML_TEXT ? why.text : "one value is wanted");
  return false;
}

static const yaml_node *list_of(const reader *r, const char *key, const char *items)
{
  const yaml_node *n = yaml_tree_value(r->p->tree, key);
  if (n && n->kind != YAML_LIST) {
    fault_add(r->faults, n->at, "%s: found %s; a list of %s is accepted", key, yaml_tree_kind_name(n->kind), items);
    return NULL;
  }
  return n;
}

static void read_goals(reader *r)
{
  const yaml_node *list = list_of(r, "goals", "{path: ..., best: least | most}");
  for (size_t i = 0; list && i < list->num; i++) {
    const yaml_node *n = list->items[i];
    plan_goal g = {.best = GOAL_LEAST};
    if (n->kind != YAML_MAP) {
      fault_add(r->faults, n->at, "goals: a goal is written {path: freeze.time_s, best: least}");
      continue;
    }
    check_keys(r, n, "goals", "path|best");
    g.best = choice_of(r, n, "best", "least|most", 0) == 0 ? GOAL_LEAST : GOAL_MOST;
    if (!yaml_tree_value(n, "best"))
      fault_add(r->faults, n->at, "goals: best: least or most is missing");
    if (read_path(r, yaml_tree_value(n, "path"), g.path)) {
      r->p->goals[r->p->num_goals++] = g;
      want(r->p, g.path);
    }
  }
}

static void read_limits(reader *r)
{
  const yaml_node *list = list_of(r, "limits", "{path: ..., most: ...}");
  if (list && list->num > PLAN_MOST_INPUTS)
    fault_add(r->faults, list->at, "limits: more than %d", PLAN_MOST_INPUTS);
  for (size_t i = 0; list && i < list->num; i++) {
    const yaml_node *n = list->items[i];
    plan_limit l = {.least = NAN, .most = NAN};
    if (n->kind != YAML_MAP) {
      fault_add(r->faults, n->at, "limits: a limit is written {path: freeze.time_s, most: 24 h}");
      continue;
    }
    check_keys(r, n, "limits", "path|least|most");
    if (!read_path(r, yaml_tree_value(n, "path"), l.path))
      continue;
    if (!yaml_tree_value(n, "least") && !yaml_tree_value(n, "most"))
      fault_add(r->faults, n->at, "limits: least or most is missing");
    if (yaml_tree_value(n, "least"))
      (void)read_value(r, yaml_tree_value(n, "least"), l.path, &l.least);
    if (yaml_tree_value(n, "most"))
      (void)read_value(r, yaml_tree_value(n, "most"), l.path, &l.most);
    r->p->limits[r->p->num_limits++] = l;
    want(r->p, l.path);
  }
}

/* Without `within`: half a percent of the target; of a temperature 0.1 K, since its zero is nowhere in particular. */
static void read_target(reader *r)
{
  const yaml_node *n = yaml_tree_value(r->p->tree, "target");
  plan_target *t = &r->p->target;
  if (!n)
    return;
  if (n->kind != YAML_MAP) {
    fault_add(r->faults, n->at, "target: written {path: freeze.time_s, value: 24 h}");
    return;
  }
  check_keys(r, n, "target", "path|value|within");
  const yaml_node *value = yaml_tree_value(n, "value"), *within = yaml_tree_value(n, "within");
  if (!read_path(r, yaml_tree_value(n, "path"), t->path))
    return;
  want(r->p, t->path);
  if (!value)
    fault_add(r->faults, n->at, "target: the value to be met is missing");
  if (!value || !read_value(r, value, t->path, &t->value))
    return;
  const bool temperature = report_unit_of(t->path).kind == QUANTITY_TEMPERATURE;
  t->within = temperature ? 0.1 : 0.005 * fabs(t->value);
  t->present = true;
  if (within) {
    quantity q;
    message why = {""};
    const quantity_kind kind = temperature ? QUANTITY_DIFFERENCE : QUANTITY_SHARE;
    if (within->kind != YAML_TEXT || quantity_parse(r->p->units, kind, within->text, &q, &why) != STATUS_OK || !(q.value > 0.0))
      fault_add(r->faults, within->at, "within: how near is near enough, %s; %.200s", temperature ? "for instance 0.1 K" : "for instance 0.5 %",
                why.text);
    else
      t->within = temperature ? q.value : q.value * fabs(t->value);
  }
  if (!(t->within > 0.0))
    fault_add(r->faults, value->at, "target: a target of zero cannot be met within a share of itself");
}

static void read_report(reader *r)
{
  const yaml_node *list = list_of(r, "report", "paths into summary.json");
  char path[PLAN_PATH];
  for (size_t i = 0; list && i < list->num; i++)
    if (read_path(r, list->items[i], path))
      want(r->p, path);
}

static status read_wishes(reader *r)
{
  static const char *const lists[] = {"report", "goals", "limits"};
  size_t room = 2;
  for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
    const yaml_node *n = yaml_tree_value(r->p->tree, lists[i]);
    room += n ? n->num : 0;
  }
  r->p->report = calloc(room, sizeof *r->p->report);
  r->p->goals = calloc(room, sizeof *r->p->goals);
  r->p->limits = calloc(room, sizeof *r->p->limits);
  if (!r->p->report || !r->p->goals || !r->p->limits)
    return message_set(r->msg, STATUS_NO_MEMORY, "out of memory for the plan");
  read_report(r);
  read_goals(r);
  if (r->use == PLAN_SEEK) {
    read_limits(r);
    read_target(r);
  }
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ the whole */

status plan_reader_set(plan_file *p, fault_list *faults, message *msg)
{
  if (p->tree->kind != YAML_MAP) {
    fault_add(faults, p->tree->at, "a plan is a map of keys (case, vary, report, ...), not %s", yaml_tree_kind_name(p->tree->kind));
    return STATUS_OK;
  }
  const yaml_node *set = yaml_tree_value(p->tree, "set");
  if (!set)
    return STATUS_OK;
  if (set->kind != YAML_MAP) {
    fault_add(faults, set->at, "set: a map is accepted, for instance set: {room.temperature: 22 C}");
    return STATUS_OK;
  }
  p->set = calloc(set->num + 1, sizeof *p->set);
  for (size_t i = 0; p->set && i < set->num; i++) {
    case_path found;
    char *value = plan_reader_flow(set->items[i]);
    const size_t room = value ? strlen(value) + strlen(set->keys[i]->text) + 2 : 0;
    char *text = value ? malloc(room) : NULL;
    if (text) {
      (void)snprintf(text, room, "%s=%s", set->keys[i]->text, value);
      (void)case_path_find(&found, p->case_tree, set->keys[i]->text, faults, set->keys[i]->at);
      p->set[p->num_set++] = text;
    }
    free(value);
    if (!text)
      return message_set(msg, STATUS_NO_MEMORY, "out of memory for the plan");
  }
  return p->set ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the plan");
}

static void read_sweep(reader *r)
{
  plan_file *p = r->p;
  const yaml_node *design = yaml_tree_value(p->tree, "design"), *points = yaml_tree_value(p->tree, "points");
  if (!design)
    fault_add(r->faults, p->tree->at, "design is missing: grid, one_at_a_time, latin_hypercube or sobol");
  p->design = (plan_design)choice_of(r, p->tree, "design", "grid|one_at_a_time|latin_hypercube|sobol", DESIGN_GRID);
  p->points = count_of(r, p->tree, "points", 1, 1000000000, 0);
  p->seed = count_of(r, p->tree, "seed", 0, 1000000000000, 1);
  p->keep_all = choice_of(r, p->tree, "keep", "summary|all", 0) == 1;
  const bool sampled = p->design == DESIGN_LATIN_HYPERCUBE || p->design == DESIGN_SOBOL;
  if (sampled && !points)
    fault_add(r->faults, design ? design->at : p->tree->at, "points is missing: how many points the design has");
  if (!sampled && points)
    fault_add(r->faults, points->at, "points goes with latin_hypercube and sobol; a grid has as many as its steps make");
  if (p->num_report == 0)
    fault_add(r->faults, p->tree->at, "report is missing: paths into summary.json, for instance report: [freeze.time_s]");
}

static void read_seek(reader *r)
{
  plan_file *p = r->p;
  p->runs = count_of(r, p->tree, "runs", 3, 100000, p->target.present ? 12 : 80);
  if (p->target.present == (p->num_goals > 0) && !yaml_tree_value(p->tree, "target"))
    fault_add(r->faults, p->tree->at, "say what is sought: a target to be met by one input, or a goal that is to be best");
  if (yaml_tree_value(p->tree, "target") && yaml_tree_value(p->tree, "goals"))
    fault_add(r->faults, yaml_tree_value(p->tree, "goals")->at, "goals: either a target is met or a goal made best, not both; a limit may stand beside a goal");
  if (p->num_goals > 1)
    fault_add(r->faults, yaml_tree_value(p->tree, "goals")->at, "goals: seek makes one goal best; put the others under limits, or sweep for the front of two");
  if (p->target.present && p->num_limits > 0)
    fault_add(r->faults, yaml_tree_value(p->tree, "limits")->at, "limits go with a goal, not with a target");
  if (p->target.present && p->num_inputs > 1)
    fault_add(r->faults, p->inputs[1].at, "a target is met by one input; %zu vary", p->num_inputs);
  for (size_t i = 0; i < p->num_inputs; i++)
    if (!p->inputs[i].range || p->inputs[i].num_levels)
      fault_add(r->faults, p->inputs[i].at, "%s: seek needs a range, from and to, without values or steps", p->inputs[i].key);
}

status plan_reader_body(plan_file *p, plan_use use, fault_list *faults, message *msg)
{
  reader r = {.p = p, .use = use, .faults = faults, .msg = msg};
  if (p->tree->kind != YAML_MAP)
    return STATUS_OK;
  check_keys(&r, p->tree, "", use == PLAN_SWEEP ? "title|case|set|vary|design|points|seed|report|goals|keep"
                                                : "title|case|set|vary|report|target|goals|limits|runs");
  const char *title = text_of(&r, p->tree, "title");
  (void)snprintf(p->title, sizeof p->title, "%.120s", title ? title : "");
  status code = plan_inputs_read(p, use, faults, msg);
  if (code == STATUS_OK)
    code = read_wishes(&r);
  if (code == STATUS_OK && use == PLAN_SWEEP)
    read_sweep(&r);
  if (code == STATUS_OK && use == PLAN_SEEK)
    read_seek(&r);
  return code;
}
