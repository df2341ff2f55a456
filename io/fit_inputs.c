#include "io/fit_inputs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/band_inputs.h"
#include "io/case_path.h"

double fit_inputs_value(const fit_input *in, double place)
{
  return in->logarithm ? in->start * exp(place) : in->start + place * in->unit;
}

double fit_inputs_place(const fit_input *in, double value)
{
  return in->logarithm ? log(value / in->start) : (value - in->start) / in->unit;
}

void fit_inputs_text(const fit_input *in, double value, char *text, size_t size)
{
  const char *unit = in->kind == QUANTITY_PRESSURE ? (in->gauge ? "Pa(g)" : "Pa(a)") : quantity_unit(in->kind);
  (void)snprintf(text, size, "%.9g%s%s", value, unit[0] ? " " : "", unit);
}

static status refuse(const fault_list *faults, message *msg)
{
  char *text = NULL;
  if (fault_text(faults, &text, msg) != STATUS_OK)
    return STATUS_NO_MEMORY;
  const char *said = strstr(text, "--vary");
  (void)message_set(msg, STATUS_BAD_INPUT, "%.*s", (int)strcspn(said ? said : text, "\n"), said ? said : text);
  free(text);
  return STATUS_BAD_INPUT;
}

static status find_key(const case_key **key, const yaml_node **value, const case_file *c, const char *path, message *msg)
{
  fault_list *faults = NULL;
  case_path found = {0};
  status code = fault_list_create(&faults, c->path, msg);
  if (code == STATUS_OK && !case_path_find(&found, c->tree, path, faults, (fault_place){.origin = "--vary"}))
    code = refuse(faults, msg);
  fault_list_destroy(&faults);
  *key = found.key;
  *value = found.value;
  return code;
}

static status take(fit_input *in, const char *key, const char *text, const case_key *k, const quantity_system *units, message *msg)
{
  quantity q;
  message why = {""};
  if (quantity_parse(units, k->kind, text, &q, &why) != STATUS_OK)
    return message_set(msg, STATUS_BAD_INPUT, "--vary %.100s: %.300s", key, why.text);
  *in = (fit_input){.kind = k->kind, .gauge = q.gauge, .start = q.value, .low = q.spread ? q.low : NAN, .high = q.spread ? q.high : NAN};
  in->logarithm = k->range == RANGE_ABOVE_ZERO || (k->range == RANGE_NOT_BELOW_ZERO && q.value > 0.0) || (k->range == RANGE_SHARE && q.value > 0.0);
  in->unit = q.spread ? 0.5 * (q.high - q.low) : k->kind == QUANTITY_TEMPERATURE || k->kind == QUANTITY_DIFFERENCE ? 5.0 : fmax(0.2 * fabs(q.value), 0.01);
  (void)snprintf(in->key, sizeof in->key, "%.190s", key);
  return STATUS_OK;
}

static status take_wanted(fit_input *in, const case_file *c, const quantity_system *units, const char *wanted, message *msg)
{
  char path[FIT_INPUTS_TEXT];
  const case_key *k = NULL;
  const yaml_node *value = NULL;
  const char *equals = strchr(wanted, '=');
  (void)snprintf(path, sizeof path, "%.*s", (int)(equals ? (size_t)(equals - wanted) : strlen(wanted)), wanted);
  status code = find_key(&k, &value, c, path, msg);
  if (code != STATUS_OK)
    return code;
  const char *text = equals ? equals + 1 : value && value->kind == YAML_TEXT ? value->text : k->preset;
  if (k->type != VALUE_QUANTITY && k->type != VALUE_SCHEDULE && k->type != VALUE_WORD_OR_QUANTITY)
    return message_set(msg, STATUS_BAD_INPUT, "--vary %.100s is not a number that can be fitted", path);
  if (!text)
    return message_set(msg, STATUS_BAD_INPUT, "--vary %.100s: the case gives no value to begin with; write --vary \"%.100s=LOW .. HIGH\"", path, path);
  return take(in, path, text, k, units, msg);
}

status fit_inputs_find(fit_input inputs[FIT_SOLVE_MOST], size_t *num, const case_file *c, const quantity_system *units, const char *const *wanted,
                       size_t num_wanted, message *msg)
{
  band_inputs *all = calloc(1, sizeof *all);
  status code = all ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the inputs of a fit");
  *num = 0;
  if (code == STATUS_OK && num_wanted > FIT_SOLVE_MOST)
    code = message_set(msg, STATUS_BAD_INPUT, "a log settles a few inputs, at most %d; %zu are asked for", FIT_SOLVE_MOST, num_wanted);
  for (size_t i = 0; code == STATUS_OK && i < num_wanted; i++)
    code = take_wanted(&inputs[(*num)++], c, units, wanted[i], msg);
  if (code == STATUS_OK && num_wanted == 0)
    code = band_inputs_find(all, c, msg);
  for (size_t i = 0; code == STATUS_OK && num_wanted == 0 && i < all->num; i++)
    if (!all->inputs[i].source && *num == FIT_SOLVE_MOST)
      code = message_set(msg, STATUS_BAD_INPUT, "more than %d values of the case have a spread; choose with --vary", FIT_SOLVE_MOST);
    else if (!all->inputs[i].source)
      code = take_wanted(&inputs[(*num)++], c, units, all->inputs[i].key, msg);
  if (code == STATUS_OK && *num == 0)
    code = message_set(msg, STATUS_BAD_INPUT, "say what the log shall settle: --vary room.film, --vary \"parts.foam.wall=60 mm .. 100 mm\" (repeatable), or "
                                              "give values of the case a spread");
  free(all);
  return code;
}
