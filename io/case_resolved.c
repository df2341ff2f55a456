/* The case as a file with every default written out. Values stand as they were written, so that it reruns to the same bits. */
#include <stdlib.h>
#include <string.h>

#include "io/case_file.h"
#include "io/case_keys.h"

typedef struct {
  char *text;
  size_t length, room;
  bool failed;
  const case_file *c;
} writer;

static void add(writer *w, const char *text, size_t n)
{
  if (w->failed)
    return;
  if (w->length + n + 1 > w->room) {
    const size_t room = 2 * (w->length + n + 1) + 256;
    char *more = realloc(w->text, room);
    if (!more) {
      w->failed = true;
      return;
    }
    w->text = more;
    w->room = room;
  }
  memcpy(w->text + w->length, text, n);
  w->length += n;
  w->text[w->length] = 0;
}

static void say(writer *w, const char *text)
{
  add(w, text, strlen(text));
}

static void indent(writer *w, int depth)
{
  for (int i = 0; i < depth; i++)
    say(w, "  ");
}

/* Plain where YAML reads it back unchanged, else in double quotes. */
static bool is_plain(const char *text)
{
  const size_t n = strlen(text);
  const size_t good = strspn(text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 ._/%()+-*^");
  return n > 0 && good == n && text[0] != ' ' && text[n - 1] != ' ' && text[0] != '%' && text[0] != '*' && text[0] != '-' && text[0] != '.';
}

static bool is_signed_number(const char *text)
{
  return text[0] == '-' && text[1] >= '0' && text[1] <= '9' && is_plain(text + 1);
}

static void say_text(writer *w, const char *text)
{
  if (is_plain(text) || is_signed_number(text)) {
    say(w, text);
    return;
  }
  say(w, "\"");
  for (const char *p = text; *p; p++) {
    char escaped[8];
    if (*p == '"' || *p == '\\')
      (void)snprintf(escaped, sizeof escaped, "\\%c", *p);
    else if ((unsigned char)*p < 32 || *p == 127)
      (void)snprintf(escaped, sizeof escaped, "\\x%02X", (unsigned char)*p);
    else
      (void)snprintf(escaped, sizeof escaped, "%c", *p);
    say(w, escaped);
  }
  say(w, "\"");
}

/* Lists of values on one line: [a, [b, c]]. */
static void say_flow(writer *w, const yaml_node *n)
{
  if (n->kind == YAML_TEXT) {
    say_text(w, n->text);
    return;
  }
  say(w, n->kind == YAML_LIST ? "[" : "{");
  for (size_t i = 0; i < n->num; i++) {
    if (i)
      say(w, ", ");
    if (n->keys) {
      say_text(w, n->keys[i]->text);
      say(w, ": ");
    }
    say_flow(w, n->items[i]);
  }
  say(w, n->kind == YAML_LIST ? "]" : "}");
}

static void say_map(writer *w, const yaml_node *map, case_section section, int depth, bool first_inline);

static void say_value(writer *w, const case_key *k, const yaml_node *value, int depth)
{
  if (value->kind == YAML_MAP && k->type != VALUE_LIST) {
    say(w, "\n");
    say_map(w, value, k->child, depth + 1, false);
  } else if (k->type == VALUE_LIST && value->kind == YAML_LIST) {
    say(w, "\n");
    for (size_t i = 0; i < value->num; i++) {
      indent(w, depth + 1);
      say(w, "- ");
      say_map(w, value->items[i], k->child, depth + 2, true);
    }
  } else if (value->kind == YAML_LIST && value->num > 3) { /* tables and profiles: a row a line */
    say(w, "\n");
    for (size_t i = 0; i < value->num; i++) {
      indent(w, depth + 1);
      say(w, "- ");
      say_flow(w, value->items[i]);
      say(w, "\n");
    }
  } else {
    say(w, " ");
    say_flow(w, value);
    say(w, "\n");
  }
}

static bool is_word(const yaml_node *map, const char *key, const char *const *words, size_t num)
{
  const yaml_node *value = yaml_tree_value(map, key);
  for (size_t i = 0; value && value->kind == YAML_TEXT && i < num; i++)
    if (strcmp(value->text, words[i]) == 0)
      return true;
  return false;
}

/* A stage that time ends, or that is done at once, has no limit. */
static bool stage_has_limit(const yaml_node *map)
{
  static const char *const at_once[] = {"fill", "exchange", "pour_off", "add_salt", "draw"}, *const time[] = {"time"};
  return !yaml_tree_value(map, "for") && !is_word(map, "until", time, 1)
         && (yaml_tree_value(map, "until") || !is_word(map, "kind", at_once, sizeof at_once / sizeof *at_once));
}

/* Presets that would contradict what is given, or say nothing about this item. */
static bool preset_counts(const yaml_node *map, const case_key *k)
{
  static const struct {
    case_section section;
    const char *key, *with, *without;
  } only[] = {
      {SECTION_PART, "open", "wall", "around"},          {SECTION_PART, "wall_side", "wall", "around"},
      {SECTION_GRID, "error", NULL, "spacing"},
      {SECTION_BODY, "ice", NULL, "material"},           {SECTION_MATERIAL, "latent_heat", "table", NULL},
      {SECTION_COMPRESSOR, "best_efficiency", "displacement", NULL},
  };
  if (!k->preset || yaml_tree_value(map, k->key))
    return false;
  for (size_t i = 0; i < sizeof only / sizeof *only; i++)
    if (only[i].section == k->section && strcmp(only[i].key, k->key) == 0)
      return (!only[i].with || yaml_tree_value(map, only[i].with)) && (!only[i].without || !yaml_tree_value(map, only[i].without));
  static const char *const channels[] = {"channels"};
  if (k->section == SECTION_COIL && is_word(map, "shape", channels, 1))
    return strcmp(k->key, "outer_film") == 0;
  if (k->section == SECTION_COIL && strcmp(k->key, "upright") == 0) {
    const yaml_node *kind = yaml_tree_value(map, "shape");
    return kind && kind->kind == YAML_TEXT && strcmp(kind->text, "serpentine") == 0;
  }
  static const char *const aerated[] = {"aerated"};
  if (k->section == SECTION_BODY && strcmp(k->key, "motion") == 0)
    return !is_word(map, "air", aerated, 1);
  if (k->section == SECTION_STAGE && strcmp(k->key, "limit") == 0)
    return stage_has_limit(map);
  if (k->section == SECTION_MOTION && strcmp(k->key, "stirring") == 0) {
    const yaml_node *kind = yaml_tree_value(map, "kind");
    return kind && kind->kind == YAML_TEXT && strcmp(kind->text, "stirred") == 0;
  }
  return true;
}

/* An outside file by the name of its copy beside the results, and what it was. */
static void say_file(writer *w, const yaml_node *part, int depth)
{
  for (size_t i = 0; i < w->c->num_parts; i++) {
    const case_part *p = &w->c->parts[i];
    if (p->item != part || !p->file)
      continue;
    say(w, "file: ");
    say_text(w, p->file_name);
    say(w, "\n");
    if (yaml_tree_value(part, "fingerprint"))
      continue;
    indent(w, depth);
    say(w, "fingerprint: ");
    say_text(w, p->file_hash);
    say(w, "\n");
  }
}

static void say_map(writer *w, const yaml_node *map, case_section section, int depth, bool first_inline)
{
  for (size_t i = 0; i < map->num; i++) {
    const case_key *k = case_keys_find(section, map->keys[i]->text);
    if (!first_inline)
      indent(w, depth);
    first_inline = false;
    if (section == SECTION_PART && strcmp(map->keys[i]->text, "file") == 0) {
      say_file(w, map, depth);
      continue;
    }
    say_text(w, map->keys[i]->text);
    say(w, ":");
    say_value(w, k, map->items[i], depth);
  }
  for (size_t i = 0; i < case_keys_num(); i++) {
    const case_key *k = case_keys_at(i);
    if (k->section != section || !preset_counts(map, k))
      continue;
    indent(w, depth);
    say(w, k->key);
    say(w, ": ");
    say_text(w, k->preset);
    say(w, "\n");
  }
}

/* Sections whose every key has a preset are written even when they were not. */
static void say_missing_sections(writer *w, const yaml_node *root)
{
  static const struct {
    const char *key;
    case_section section;
  } sections[] = {{"room", SECTION_ROOM}, {"grid", SECTION_GRID}, {"run", SECTION_RUN}};
  const yaml_node empty = {.kind = YAML_MAP};
  for (size_t i = 0; i < sizeof sections / sizeof *sections; i++)
    if (!yaml_tree_value(root, sections[i].key)) {
      say(w, sections[i].key);
      say(w, ":\n");
      say_map(w, &empty, sections[i].section, 1, false);
    }
  if (!yaml_tree_value(root, "stages"))
    say(w, "stages:\n  - name: freeze\n    kind: freeze\n    until: frozen\n    limit: 120 h\n");
}

status case_file_resolved(const case_file *c, char **text, message *msg)
{
  writer w = {.c = c};
  say(&w, "# Resolved case: every default is written out.\n");
  say_map(&w, c->tree, SECTION_CASE, 0, false);
  say_missing_sections(&w, c->tree);
  if (w.failed) {
    free(w.text);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the resolved case", w.room);
  }
  *text = w.text;
  return STATUS_OK;
}
