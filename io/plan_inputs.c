#include "io/plan_inputs.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/plan_reader.h"

enum { SHOWN = 60, MOST_STEPS = 1000000 };

typedef struct {
  plan_file *p;
  fault_list *faults;
  message *msg;
} reader;

static status no_memory(const reader *r)
{
  return message_set(r->msg, STATUS_NO_MEMORY, "out of memory for the plan");
}

/* ------------------------------------------------------------------------------------------------ values */

static bool takes_numbers(const case_key *k)
{
  return k->type == VALUE_QUANTITY || k->type == VALUE_SCHEDULE || k->type == VALUE_WORD_OR_QUANTITY;
}

static bool in_range(const case_key *k, double value)
{
  switch (k->range) {
  case RANGE_ABOVE_ZERO: return value > 0.0;
  case RANGE_NOT_BELOW_ZERO: return value >= 0.0;
  case RANGE_SHARE: return value >= 0.0 && value <= 1.0;
  case RANGE_ANY: break;
  }
  return true;
}

static bool number_of(const reader *r, const plan_input *in, const char *text, fault_place at, quantity *q)
{
  message why = {""};
  if (quantity_parse(r->p->units, in->what->kind, text, q, &why) != STATUS_OK) {
    fault_add(r->faults, at, "%s: %.300s", in->key, why.text);
    return false;
  }
  if (in_range(in->what, q->value))
    return true;
  fault_add(r->faults, at, "%s: \"%.*s\" is out of the range of that key%s", in->key, SHOWN, text,
            in->what->range == RANGE_SHARE ? ", 0 to 100 %" : in->what->range == RANGE_ABOVE_ZERO ? ", above zero" : ", not below zero");
  return false;
}

static bool looks_numeric(const char *text)
{
  return text[0] && strchr("+-.0123456789", text[0]) != NULL;
}

/* A listed value, checked as far as the key's type goes; what only the whole case can tell, the run tells. */
static void check_level(const reader *r, plan_input *in, const char *text, const yaml_node *n, double *number)
{
  quantity q;
  *number = NAN;
  if (takes_numbers(in->what) && n->kind == YAML_TEXT && (in->what->type != VALUE_WORD_OR_QUANTITY || looks_numeric(text))) {
    if (number_of(r, in, text, n->at, &q)) {
      *number = q.value;
      in->gauge = q.gauge;
    }
  } else if (in->what->choices && n->kind == YAML_TEXT && !case_keys_is_choice(in->what->choices, text)) {
    fault_add(r->faults, n->at, "%s: \"%.*s\" is not one of %s", in->key, SHOWN, text, in->what->choices);
  } else if (in->what->type == VALUE_FLAG && !case_keys_is_choice("yes|no|true|false", text)) {
    fault_add(r->faults, n->at, "%s: yes or no is accepted", in->key);
  }
}

static status make_room(const reader *r, plan_input *in, size_t num)
{
  in->level = calloc(num, sizeof *in->level);
  in->level_number = calloc(num, sizeof *in->level_number);
  return in->level && in->level_number ? STATUS_OK : no_memory(r);
}

static status read_values(const reader *r, plan_input *in, const yaml_node *values)
{
  if (values->kind != YAML_LIST || values->num == 0) {
    fault_add(r->faults, values->at, "%s: values is empty; a list such as [30 mm, 50 mm] is wanted", in->key);
    return STATUS_OK;
  }
  status code = make_room(r, in, values->num);
  bool numeric = true;
  for (size_t i = 0; code == STATUS_OK && i < values->num; i++) {
    in->level[i] = plan_reader_flow(values->items[i]);
    in->num_levels = i + 1;
    if (!in->level[i])
      return no_memory(r);
    check_level(r, in, in->level[i], values->items[i], &in->level_number[i]);
    if (strchr(in->level[i], '\n') || !in->level[i][0])
      fault_add(r->faults, values->items[i]->at, "%s: a value of one line is wanted", in->key);
    numeric = numeric && !isnan(in->level_number[i]);
  }
  in->numeric = numeric;
  return code;
}

/* ------------------------------------------------------------------------------------------------ ranges */

/* "18 %" -> 18 and "%"; false when it is not a plain decimal with one unit (then the range is kept in SI). */
static bool split_number(const char *text, double *number, char unit[48])
{
  char *end = NULL;
  if (!looks_numeric(text))
    return false;
  *number = strtod(text, &end);
  while (*end == ' ')
    end++;
  const size_t n = strlen(end);
  if (end == text || n >= 48 || strpbrk(end, "+/") == end || isdigit((unsigned char)*end))
    return false;
  (void)snprintf(unit, 48, "%.47s", end);
  return true;
}

/* The SI unit as it is written, with the gauge mark of a pressure. */
static void si_unit(const plan_input *in, char unit[48])
{
  (void)snprintf(unit, 48, "%s%s", quantity_unit(in->what->kind), in->what->kind != QUANTITY_PRESSURE ? "" : in->gauge ? "(g)" : "(a)");
}

/* A range in the unit it was written in, if both ends share it and give the same values so; else in SI. */
static void choose_unit(const reader *r, plan_input *in, const char *from, const char *to, double low, double high)
{
  char other[48];
  quantity a, b;
  if (split_number(from, &in->low, in->unit) && split_number(to, &in->high, other) && strcmp(in->unit, other) == 0) {
    char text[96];
    bool same = true;
    plan_file_number_text(in, in->low, text, sizeof text);
    same = same && quantity_parse(r->p->units, in->what->kind, text, &a, NULL) == STATUS_OK && fabs(a.value - low) <= 1e-6 * fabs(low);
    plan_file_number_text(in, in->high, text, sizeof text);
    same = same && quantity_parse(r->p->units, in->what->kind, text, &b, NULL) == STATUS_OK && fabs(b.value - high) <= 1e-6 * fabs(high);
    if (same)
      return;
  }
  in->low = low;
  in->high = high;
  si_unit(in, in->unit);
}

static status make_steps(const reader *r, plan_input *in, size_t num)
{
  const status code = make_room(r, in, num);
  for (size_t i = 0; code == STATUS_OK && i < num; i++) {
    const double share = num > 1 ? (double)i / (double)(num - 1) : 0.0;
    const double number = in->ratio ? in->low * pow(in->high / in->low, share) : in->low + share * (in->high - in->low);
    char text[96];
    quantity q;
    plan_file_number_text(in, number, text, sizeof text);
    in->level[i] = malloc(strlen(text) + 1);
    in->num_levels = i + 1;
    if (!in->level[i])
      return no_memory(r);
    (void)strcpy(in->level[i], text);
    in->level_number[i] = quantity_parse(r->p->units, in->what->kind, text, &q, NULL) == STATUS_OK ? q.value : NAN;
  }
  return code;
}

static size_t read_steps(const reader *r, const plan_input *in, const yaml_node *n)
{
  char *end = NULL;
  const unsigned long value = n->kind == YAML_TEXT && isdigit((unsigned char)n->text[0]) ? strtoul(n->text, &end, 10) : 0;
  if (end && !*end && value >= 2 && value <= MOST_STEPS)
    return (size_t)value;
  fault_add(r->faults, n->at, "%s: steps is a whole number from 2 to %d", in->key, MOST_STEPS);
  return 0;
}

static status read_range(const reader *r, plan_input *in, const yaml_node *item, bool needs_steps)
{
  const yaml_node *from = yaml_tree_value(item, "from"), *to = yaml_tree_value(item, "to"), *steps = yaml_tree_value(item, "steps");
  const yaml_node *by = yaml_tree_value(item, "by");
  quantity a, b;
  if (!from || !to || from->kind != YAML_TEXT || to->kind != YAML_TEXT) {
    fault_add(r->faults, item->at, "%s: say values: [...], or from and to", in->key);
    return STATUS_OK;
  }
  if (!takes_numbers(in->what)) {
    fault_add(r->faults, from->at, "%s takes no numbers; list its values: values: [...]", in->key);
    return STATUS_OK;
  }
  if (!number_of(r, in, from->text, from->at, &a) || !number_of(r, in, to->text, to->at, &b))
    return STATUS_OK;
  if (!(a.value < b.value)) {
    fault_add(r->faults, from->at, "%s: the range from \"%.*s\" to \"%.*s\" is empty", in->key, SHOWN, from->text, SHOWN, to->text);
    return STATUS_OK;
  }
  if (a.gauge != b.gauge) {
    fault_add(r->faults, to->at, "%s: both ends are gauge or both absolute", in->key);
    return STATUS_OK;
  }
  in->gauge = a.gauge;
  in->numeric = in->range = true;
  choose_unit(r, in, from->text, to->text, a.value, b.value);
  if (by && (by->kind != YAML_TEXT || !case_keys_is_choice("even|ratio", by->text)))
    fault_add(r->faults, by->at, "%s: by: even or ratio is accepted", in->key);
  in->ratio = by && by->kind == YAML_TEXT && strcmp(by->text, "ratio") == 0;
  if (in->ratio && !(in->low > 0.0)) {
    fault_add(r->faults, by->at, "%s: equal ratios need a range above zero", in->key);
    in->ratio = false;
  }
  if (!steps && needs_steps)
    fault_add(r->faults, item->at, "%s: steps is missing: how many values from end to end", in->key);
  const size_t num = steps ? read_steps(r, in, steps) : 0;
  return num ? make_steps(r, in, num) : STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ an input */

/* What the case says without the plan: where one-at-a-time starts from, and what equal points are found by. */
static status read_base(const reader *r, plan_input *in, const case_path *found)
{
  quantity q;
  in->base_number = NAN;
  if (found->value)
    in->base = plan_reader_flow(found->value);
  else if (found->key->preset && (in->base = malloc(strlen(found->key->preset) + 1)) != NULL)
    (void)strcpy(in->base, found->key->preset);
  if (!in->base)
    return found->value || found->key->preset ? no_memory(r) : STATUS_OK;
  if (takes_numbers(in->what) && quantity_parse(r->p->units, in->what->kind, in->base, &q, NULL) == STATUS_OK)
    in->base_number = q.value;
  return STATUS_OK;
}

static void check_item_keys(const reader *r, const yaml_node *item)
{
  for (size_t i = 0; i < item->num; i++)
    if (!case_keys_is_choice("key|values|from|to|steps|by", item->keys[i]->text))
      fault_add(r->faults, item->keys[i]->at, "vary.%.*s: unknown key; accepted are key, values, from, to, steps, by", SHOWN, item->keys[i]->text);
}

static status read_input(const reader *r, const yaml_node *item, bool needs_steps)
{
  case_path found;
  const yaml_node *key = yaml_tree_value(item, "key"), *values = yaml_tree_value(item, "values");
  if (item->kind != YAML_MAP || !key || key->kind != YAML_TEXT || strlen(key->text) >= PLAN_PATH) {
    fault_add(r->faults, item->at, "vary: an item is written {key: parts.foam.wall, values: [30 mm, 50 mm]}");
    return STATUS_OK;
  }
  check_item_keys(r, item);
  if (!case_path_find(&found, r->p->case_tree, key->text, r->faults, key->at))
    return STATUS_OK;
  if (found.key->type == VALUE_NAME || found.key->type == VALUE_LIST || found.key->type == VALUE_MAP) {
    fault_add(r->faults, key->at, "%.120s is not a value that can vary", key->text);
    return STATUS_OK;
  }
  for (size_t i = 0; i < r->p->num_inputs; i++)
    if (strcmp(r->p->inputs[i].key, key->text) == 0)
      fault_add(r->faults, key->at, "%.120s varies twice", key->text);
  plan_input *in = &r->p->inputs[r->p->num_inputs++];
  (void)snprintf(in->key, sizeof in->key, "%s", key->text);
  in->at = key->at;
  in->what = found.key;
  status code = read_base(r, in, &found);
  if (code != STATUS_OK)
    return code;
  if (values && (yaml_tree_value(item, "from") || yaml_tree_value(item, "to")))
    fault_add(r->faults, values->at, "%.120s: either values, or from and to", key->text);
  return values ? read_values(r, in, values) : read_range(r, in, item, needs_steps);
}

status plan_inputs_read(plan_file *p, plan_use use, fault_list *faults, message *msg)
{
  const reader r = {.p = p, .faults = faults, .msg = msg};
  const yaml_node *vary = yaml_tree_value(p->tree, "vary"), *design = yaml_tree_value(p->tree, "design");
  const bool sampled = design && design->kind == YAML_TEXT && case_keys_is_choice("latin_hypercube|sobol", design->text);
  if (!vary || vary->kind != YAML_LIST || vary->num == 0) {
    fault_add(faults, vary ? vary->at : p->tree->at, "vary is empty: list what varies, {key: parts.foam.wall, values: [30 mm, 50 mm]}");
    return STATUS_OK;
  }
  if (vary->num > PLAN_MOST_INPUTS) {
    fault_add(faults, vary->at, "vary: more than %d inputs", PLAN_MOST_INPUTS);
    return STATUS_OK;
  }
  p->inputs = calloc(vary->num, sizeof *p->inputs);
  if (!p->inputs)
    return no_memory(&r);
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < vary->num; i++)
    code = read_input(&r, vary->items[i], use == PLAN_SWEEP && !sampled);
  return code;
}
