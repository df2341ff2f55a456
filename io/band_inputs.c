#include "io/band_inputs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_keys.h"

/* Published spreads of what nobody knows better. Natural convection and radiation in a room, correlations of liquid films: +-30 % (reviews
 * of the correlations give 15 to 30 %; the films of a real rig are its least known part). Refrigerant in small smooth tubes: 500 to 3000 W/m2K around
 * 1500; vapour alone 30 to 120 around 80. Freezing curve: the two published sources. Ice: the laws of Yen (1981) and Fukusako (1990) lie about
 * 3 % below and 2.5 % above that of Andersson and Inaba (2005) at -10 degC. First bubbles in tap water: 1.5 to 5 times saturation. */
static const char FILMS[] = "films are known to about 30 %", TUBE[] = "refrigerant in small smooth tubes, 500 to 3000 W/m2K",
                  VAPOUR[] = "vapour in tubes, 30 to 120 W/m2K", CURVE[] = "the two published freezing curves", ICE[] = "published laws of the conductivity of ice",
                  BUBBLES[] = "first bubbles at 1.5 to 5 times saturation";
static const double FILM_SPREAD = 0.3;

typedef struct {
  band_inputs *out;
  const quantity_system *units;
} finder;

static band_input *add(finder *f)
{
  if (f->out->num == BAND_INPUTS_MOST) {
    f->out->num_left_out++;
    return NULL;
  }
  band_input *in = &f->out->inputs[f->out->num++];
  *in = (band_input){.source = NULL};
  return in;
}

static const char *unit_of(const case_key *k, bool gauge)
{
  return k->kind == QUANTITY_PRESSURE ? (gauge ? "Pa(g)" : "Pa(a)") : quantity_unit(k->kind);
}

static void add_range(finder *f, const char *path, const case_key *k, bool gauge, double low, double high, const char *source)
{
  band_input *in = add(f);
  if (!in)
    return;
  const char *unit = unit_of(k, gauge), *space = unit[0] ? " " : "";
  in->source = source;
  (void)snprintf(in->key, sizeof in->key, "%s", path);
  (void)snprintf(in->low, sizeof in->low, "%.160s=%.9g%s%s", path, low, space, unit);
  (void)snprintf(in->high, sizeof in->high, "%.160s=%.9g%s%s", path, high, space, unit);
  (void)snprintf(in->says, sizeof in->says, "%.4g .. %.4g%s%s", low, high, space, unit);
}

/* ------------------------------------------------------------------------------------------------ what is not asked for */

/* The factor of low and high end of a key that carries a published spread; false when it carries none. */
static bool published(const case_key *k, double *low, double *high, const char **source)
{
  *low = 1.0 - FILM_SPREAD;
  *high = 1.0 + FILM_SPREAD;
  *source = FILMS;
  if (k->section == SECTION_COIL && strcmp(k->key, "inner_film") == 0) {
    *low = 1.0 / 3.0;
    *high = 2.0;
    *source = TUBE;
  } else if (k->section == SECTION_COIL && strcmp(k->key, "superheated_film") == 0) {
    *low = 0.375;
    *high = 1.5;
    *source = VAPOUR;
  }
  return k->kind == QUANTITY_FILM && (k->type == VALUE_QUANTITY || k->type == VALUE_SCHEDULE) && strcmp(k->key, "floor") != 0;
}

static void look_at_number(finder *f, const case_key *k, const char *text, const char *path)
{
  quantity q;
  double low, high;
  const char *source;
  if (quantity_parse(f->units, k->kind, text, &q, NULL) != STATUS_OK)
    return; /* a word, where words are taken */
  if (q.spread)
    add_range(f, path, k, q.gauge, q.low, q.high, NULL);
  else if (published(k, &low, &high, &source) && q.value > 0.0)
    add_range(f, path, k, q.gauge, low * q.value, high * q.value, source);
}

static void look_at_rows(finder *f, const case_key *k, const yaml_node *n)
{
  quantity q;
  if (n->kind == YAML_TEXT)
    f->out->num_left_out += quantity_parse(f->units, k->kind, n->text, &q, NULL) == STATUS_OK && q.spread;
  for (size_t i = 0; i < n->num; i++)
    look_at_rows(f, k, n->items[i]);
}

/* What the correlations of a liquid's films give, unless the film is given. */
static void add_motion(finder *f, const yaml_node *item, const char *path)
{
  const yaml_node *m = yaml_tree_value(item, "motion");
  const char *kind = m && m->kind == YAML_TEXT ? m->text : "still";
  if (m && m->kind == YAML_MAP && (yaml_tree_value(m, "film") || yaml_tree_value(m, "film_factor")))
    return;
  const yaml_node *named = m && m->kind == YAML_MAP ? yaml_tree_value(m, "kind") : NULL;
  if (strcmp(named && named->kind == YAML_TEXT ? named->text : kind, "none") == 0)
    return;
  band_input *in = add(f);
  if (!in)
    return;
  in->source = FILMS;
  (void)snprintf(in->key, sizeof in->key, "%.180s.motion.film_factor", path);
  (void)snprintf(in->says, sizeof in->says, "%.2g .. %.2g", 1.0 - FILM_SPREAD, 1.0 + FILM_SPREAD);
  for (int end = 0; end < 2; end++) {
    const double factor = end ? 1.0 + FILM_SPREAD : 1.0 - FILM_SPREAD;
    char *to = end ? in->high : in->low;
    if (m && m->kind == YAML_MAP)
      (void)snprintf(to, BAND_INPUTS_TEXT, "%.180s.motion.film_factor=%.2g", path, factor);
    else
      (void)snprintf(to, BAND_INPUTS_TEXT, "%.180s.motion={kind: %.10s, film_factor: %.2g}", path, kind, factor);
  }
}

/* between: the case's own word, when it is one of three; NULL: the case's own is low, the only other one high. */
static void add_words(finder *f, const char *path, const char *key, const char *low, const char *between, const char *high, const char *source)
{
  band_input *in = add(f);
  if (!in)
    return;
  in->source = source;
  in->two = !between;
  in->three = between != NULL;
  (void)snprintf(in->key, sizeof in->key, "%.200s.%s", path, key);
  (void)snprintf(in->low, sizeof in->low, "%.200s.%s=%s", path, key, low);
  (void)snprintf(in->high, sizeof in->high, "%.200s.%s=%s", path, key, high);
  (void)snprintf(in->says, sizeof in->says, "%s%s%s, %s", low, between ? ", " : "", between ? between : "", high);
}

static bool says(const yaml_node *item, const char *key, const char *word)
{
  const yaml_node *n = yaml_tree_value(item, key);
  return n && n->kind == YAML_TEXT && strcmp(n->text, word) == 0;
}

static void look_at_item(finder *f, case_section section, const yaml_node *item, const char *path)
{
  if (section == SECTION_BODY && !yaml_tree_value(item, "material")) {
    add_motion(f, item, path);
    if (!yaml_tree_value(item, "ice") || says(item, "ice", "andersson_inaba"))
      add_words(f, path, "ice", "yen", "andersson_inaba", "fukusako", ICE);
    if (yaml_tree_value(item, "air") && !yaml_tree_value(item, "bubbles_at")) {
      char inner[BAND_INPUTS_TEXT];
      (void)snprintf(inner, sizeof inner, "%.200s.bubbles_at", path);
      add_range(f, inner, case_keys_find(SECTION_BODY, "bubbles_at"), false, 1.5, 5.0, BUBBLES);
    }
  }
  if (section == SECTION_BATH) {
    add_motion(f, item, path);
    if (says(item, "liquidus", "melinder"))
      add_words(f, path, "liquidus", "melinder", NULL, "toner_catling", CURVE);
    else
      add_words(f, path, "liquidus", "toner_catling", NULL, "melinder", CURVE);
  }
}

/* ------------------------------------------------------------------------------------------------ the walk */

static void look_at_map(finder *f, case_section section, const yaml_node *map, const char *path);

static void look_at_list(finder *f, const case_key *k, const yaml_node *list, const char *path)
{
  char inner[BAND_INPUTS_TEXT];
  for (size_t i = 0; i < list->num; i++) {
    const yaml_node *name = yaml_tree_value(list->items[i], "name");
    if (name && name->kind == YAML_TEXT)
      (void)snprintf(inner, sizeof inner, "%.120s.%.60s", path, name->text);
    else
      (void)snprintf(inner, sizeof inner, "%.120s.%zu", path, i + 1);
    look_at_map(f, k->child, list->items[i], inner);
    look_at_item(f, k->child, list->items[i], inner);
  }
}

static void look_at_value(finder *f, const case_key *k, const yaml_node *value, const char *path)
{
  if (k->type == VALUE_LIST && value->kind == YAML_LIST)
    look_at_list(f, k, value, path);
  else if (value->kind == YAML_MAP)
    look_at_map(f, k->child, value, path);
  else if (value->kind == YAML_TEXT && (k->type == VALUE_QUANTITY || k->type == VALUE_SCHEDULE || k->type == VALUE_WORD_OR_QUANTITY))
    look_at_number(f, k, value->text, path);
  else if (value->kind == YAML_LIST)
    look_at_rows(f, k, value);
}

static void look_at_map(finder *f, case_section section, const yaml_node *map, const char *path)
{
  char inner[BAND_INPUTS_TEXT];
  for (size_t i = 0; i < case_keys_num(); i++) {
    const case_key *k = case_keys_at(i);
    if (k->section != section)
      continue;
    const yaml_node *value = yaml_tree_value(map, k->key);
    (void)snprintf(inner, sizeof inner, "%.150s%s%.60s", path, *path ? "." : "", k->key);
    if (value)
      look_at_value(f, k, value, inner);
    else if (k->preset && k->type == VALUE_QUANTITY)
      look_at_number(f, k, k->preset, inner);
  }
}

status band_inputs_find(band_inputs *out, const case_file *c, message *msg)
{
  quantity_system *units = NULL;
  const yaml_node empty = {.kind = YAML_MAP};
  *out = (band_inputs){0};
  const status code = quantity_system_create(&units, msg);
  finder f = {out, units};
  if (code == STATUS_OK) {
    look_at_map(&f, SECTION_CASE, c->tree, "");
    if (!yaml_tree_value(c->tree, "room"))
      look_at_map(&f, SECTION_ROOM, &empty, "room");
  }
  quantity_system_destroy(&units);
  return code;
}
