#include "io/band_tree.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/band_spread.h"
#include "io/figure_words.h"
#include "io/summary_path.h"

enum { PATH = 200, NAMED = 3 };

typedef struct {
  json_t *const *runs;
  const band_inputs *inputs;
  json_t *words;
  bool failed;
} maker;

static bool is_whole(const maker *m, size_t i)
{
  return m->runs[2 * i + 1] && (m->inputs->inputs[i].two || m->runs[2 * i]);
}

/* Effects of all inputs on a figure; false when some run does not know it. */
static bool effects_on(const maker *m, const char *path, double middle, band_spread_effect *effects)
{
  for (size_t i = 0; i < m->inputs->num; i++) {
    effects[i] = (band_spread_effect){middle, middle, m->inputs->inputs[i].two, m->inputs->inputs[i].three};
    if (!is_whole(m, i))
      continue; /* named among left_out */
    const double high = summary_path_number(summary_path_find(m->runs[2 * i + 1], path));
    const double low = effects[i].two ? middle : summary_path_number(summary_path_find(m->runs[2 * i], path));
    if (isnan(low) || isnan(high))
      return false;
    effects[i].low = low;
    effects[i].high = high;
  }
  return true;
}

/* ------------------------------------------------------------------------------------------------ figures */

static void put(maker *m, json_t *object, const char *key, json_t *value)
{
  m->failed = json_object_set_new(object, key, value) != 0 || m->failed;
}

static void put_number(maker *m, json_t *to, const char *key, const char *path, double middle)
{
  band_spread_effect effects[BAND_INPUTS_MOST];
  double low, high;
  if (!effects_on(m, path, middle, effects))
    return;
  band_spread_find(middle, effects, m->inputs->num, &low, &high);
  put(m, to, key, json_pack("[f, f, f]", fmin(low, middle), middle, fmax(high, middle)));
}

/* Words and yes-or-no that some run says otherwise. */
static void put_word(maker *m, const char *path, const json_t *middle)
{
  json_t *all = json_array();
  m->failed = json_array_append(all, (json_t *)(size_t)middle) != 0 || m->failed;
  for (size_t k = 0; k < 2 * m->inputs->num; k++) {
    const json_t *other = m->runs[k] ? summary_path_find(m->runs[k], path) : NULL;
    bool known = !other || json_is_object(other) || json_is_array(other);
    for (size_t i = 0; i < json_array_size(all) && !known; i++)
      known = json_equal(json_array_get(all, i), other);
    if (!known)
      m->failed = json_array_append(all, (json_t *)(size_t)other) != 0 || m->failed;
  }
  if (json_array_size(all) > 1)
    put(m, m->words, path, all);
  else
    json_decref(all);
}

static json_t *band_of(maker *m, const json_t *middle, const char *path);

static void put_members(maker *m, json_t *to, const json_t *from, const char *path)
{
  static const char *const skipped[] = {"format", "provenance", "pockets", "stages", "events", "warnings", "residual_relative", "salt_residual_relative", "band"};
  const char *key;
  json_t *value;
  json_object_foreach((json_t *)(size_t)from, key, value) {
    char inner[PATH];
    bool skip = strlen(path) + strlen(key) + 2 > sizeof inner;
    for (size_t i = 0; i < sizeof skipped / sizeof *skipped; i++)
      skip = skip || strcmp(key, skipped[i]) == 0;
    if (skip)
      continue;
    (void)snprintf(inner, sizeof inner, "%.120s%s%.70s", path, *path ? "." : "", key);
    if (json_is_number(value)) {
      put_number(m, to, key, inner, json_number_value(value));
    } else if (json_is_object(value) || json_is_array(value)) {
      json_t *below = band_of(m, value, inner);
      if (below)
        put(m, to, key, below);
    } else if (strcmp(key, "name") != 0) {
      put_word(m, inner, value);
    }
  }
}

/* Lists of named items keep their names; lists of numbers (places) and what holds no figure are left out: NULL. */
static json_t *band_of(maker *m, const json_t *middle, const char *path)
{
  json_t *made = json_is_array(middle) ? json_array() : json_object();
  if (json_is_object(middle))
    put_members(m, made, middle, path);
  size_t i;
  const json_t *item;
  json_array_foreach(middle, i, item) {
    char inner[PATH];
    const char *name = json_string_value(json_object_get(item, "name"));
    if (!name)
      continue;
    json_t *o = json_object();
    put(m, o, "name", json_string(name));
    (void)snprintf(inner, sizeof inner, "%.120s.%.60s", path, name);
    put_members(m, o, item, inner);
    m->failed = json_array_append_new(made, o) != 0 || m->failed;
  }
  if ((json_is_array(made) ? json_array_size(made) : json_object_size(made)) > 0)
    return made;
  json_decref(made);
  return NULL;
}

/* ------------------------------------------------------------------------------------------------ inputs */

/* The figure that inputs are ordered by. */
static const char *find_lead(const maker *m, const json_t *middle)
{
  static const char *const leads[] = {"freeze.time_s", "melt.time_s", "freeze.fraction", "plant.heat_J"};
  band_spread_effect effects[BAND_INPUTS_MOST];
  for (size_t i = 0; i < sizeof leads / sizeof *leads; i++) {
    const double value = summary_path_number(summary_path_find(middle, leads[i]));
    if (!isnan(value) && effects_on(m, leads[i], value, effects))
      return leads[i];
  }
  return NULL;
}

static json_t *input_object(const band_input *in, const band_spread_effect *e, double share)
{
  json_t *o = json_pack("{s: s, s: s}", "key", in->key, "from_to", in->says);
  if (in->source)
    (void)json_object_set_new(o, "source", json_string(in->source));
  (void)json_object_set_new(o, "lead_low", json_real(e->low));
  (void)json_object_set_new(o, "lead_high", json_real(e->high));
  (void)json_object_set_new(o, "variance_share", json_real(share));
  return o;
}

static void put_inputs(maker *m, json_t *band, const json_t *middle)
{
  const char *lead = find_lead(m, middle);
  band_spread_effect effects[BAND_INPUTS_MOST];
  double variance[BAND_INPUTS_MOST], sum = 0.0;
  json_t *list = json_array(), *most = json_array(), *left = json_array();
  const double value = lead ? summary_path_number(summary_path_find(middle, lead)) : NAN;
  if (lead)
    (void)effects_on(m, lead, value, effects);
  for (size_t i = 0; i < m->inputs->num; i++) {
    variance[i] = lead ? band_spread_variance(value, &effects[i]) : 0.0;
    sum += variance[i];
    if (!is_whole(m, i))
      m->failed = json_array_append_new(left, json_string(m->inputs->inputs[i].key)) != 0 || m->failed;
  }
  for (size_t i = 0; lead && i < m->inputs->num; i++)
    m->failed = json_array_append_new(list, input_object(&m->inputs->inputs[i], &effects[i], sum > 0.0 ? variance[i] / sum : 0.0)) != 0 || m->failed;
  for (size_t named = 0; lead && named < NAMED; named++) {
    size_t best = 0;
    for (size_t i = 1; i < m->inputs->num; i++)
      best = variance[i] > variance[best] ? i : best;
    if (m->inputs->num == 0 || !(variance[best] > 0.0))
      break;
    m->failed = json_array_append_new(most, json_string(m->inputs->inputs[best].key)) != 0 || m->failed;
    variance[best] = 0.0;
  }
  if (lead)
    put(m, band, "lead", json_string(lead));
  put(m, band, "inputs", list);
  put(m, band, "matters_most", most);
  put(m, band, "left_out", left);
  if (m->inputs->num_left_out)
    put(m, band, "num_left_out", json_integer((json_int_t)m->inputs->num_left_out));
}

status band_tree_make(json_t **out, const json_t *middle, json_t *const *runs, const band_inputs *inputs, message *msg)
{
  maker m = {.runs = runs, .inputs = inputs, .words = json_object()};
  json_t *band = json_object();
  put_members(&m, band, middle, "");
  put_inputs(&m, band, middle);
  put(&m, band, "words", m.words);
  if (m.failed) {
    json_decref(band);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the band");
  }
  *out = band;
  return STATUS_OK;
}

/* ------------------------------------------------------------------------------------------------ in words */

typedef struct {
  char *text;
  size_t used, room;
} writer;

static void say(writer *w, const char *text)
{
  const size_t n = strlen(text);
  if (w->used + n + 1 <= w->room) {
    memcpy(w->text + w->used, text, n + 1);
    w->used += n;
  }
}

static void say_figure(writer *w, const json_t *band, const char *what, const char *path)
{
  const json_t *three = summary_path_find(band, path);
  char low[PLAIN_WORDS], middle[PLAIN_WORDS], high[PLAIN_WORDS], line[512];
  if (json_array_size(three) != 3)
    return;
  figure_words_of(path, json_number_value(json_array_get(three, 0)), low);
  figure_words_of(path, json_number_value(json_array_get(three, 1)), middle);
  figure_words_of(path, json_number_value(json_array_get(three, 2)), high);
  (void)snprintf(line, sizeof line, "  %-22s %s .. %s .. %s\n", what, low, middle, high);
  say(w, line);
}

static void say_inputs(writer *w, const json_t *band)
{
  const json_t *most = json_object_get(band, "matters_most"), *inputs = json_object_get(band, "inputs");
  const char *lead = json_string_value(json_object_get(band, "lead"));
  char line[768];
  size_t i, j;
  const json_t *name, *input;
  if (json_array_size(most) == 0 || !lead)
    return;
  (void)snprintf(line, sizeof line, "What matters most to %s:\n", lead);
  say(w, line);
  json_array_foreach(most, i, name)
    json_array_foreach(inputs, j, input)
      if (json_equal(json_object_get(input, "key"), name)) {
        char low[PLAIN_WORDS], high[PLAIN_WORDS];
        const char *source = json_string_value(json_object_get(input, "source"));
        figure_words_of(lead, json_number_value(json_object_get(input, "lead_low")), low);
        figure_words_of(lead, json_number_value(json_object_get(input, "lead_high")), high);
        (void)snprintf(line, sizeof line, "  %s (%s%s%s): %s to %s\n", json_string_value(name), json_string_value(json_object_get(input, "from_to")),
                       source ? "; " : "", source ? source : "", low, high);
        say(w, line);
      }
}

status band_tree_words(char **text, const json_t *band, message *msg)
{
  static const char *const figures[][2] = {
      {"frozen solid after", "freeze.time_s"}, {"half frozen after", "freeze.marks_s.0.5"}, {"frozen at the end", "freeze.fraction"},
      {"clear", "clear.fraction"},             {"pour off after", "clear.stop_time_s"},    {"bath begins to freeze", "bath.freezing_onset_C"},
      {"ice in the bath", "bath.ice_fraction_mean"}, {"heat to the plant", "plant.heat_J"}, {"work of the plant", "plant.work_J"},
      {"evaporating", "plant.evaporating_C"},  {"released after", "release.time_s"},       {"melted after", "melt.time_s"}};
  writer w = {.room = 1 << 14};
  w.text = malloc(w.room);
  if (!w.text)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the band");
  w.text[0] = 0;
  say(&w, "How sure it is: low .. middle .. high; nine of ten lie between low and high.\n");
  for (size_t i = 0; i < sizeof figures / sizeof *figures; i++)
    say_figure(&w, band, figures[i][0], figures[i][1]);
  const char *key;
  json_t *value;
  json_object_foreach(json_object_get(band, "words"), key, value) {
    char line[256], *all = json_dumps(value, JSON_COMPACT);
    (void)snprintf(line, sizeof line, "  %.120s is not sure: %.80s\n", key, all ? all : "");
    free(all);
    say(&w, line);
  }
  say_inputs(&w, band);
  json_t *left = json_object_get(band, "left_out");
  if (json_array_size(left) > 0)
    say(&w, "Some inputs are left out, since runs at their ends failed: see band.left_out in summary.json.\n");
  *text = w.text;
  return STATUS_OK;
}
