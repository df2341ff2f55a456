/* A case's tree walked along the table of keys: every fault of form, unit, range and name. */
#include "io/case_keys.h"

#include <ctype.h>
#include <string.h>

#include "io/nearest.h"
#include "materials/material.h"

enum { PATH = 192, SHOWN = 60, MOST_WORDS = 64, NAME_BYTES = 47 };

typedef struct {
  const yaml_node *root;
  const quantity_system *units;
  fault_list *faults;
  bool revolved;
} checker;

static void check_map(const checker *c, const yaml_node *map, case_section section, const char *path);

static void say_kind(const checker *c, const yaml_node *value, const char *path, const char *wanted)
{
  fault_add(c->faults, value->at, "%s: found %s; %s is accepted", path, yaml_tree_kind_name(value->kind), wanted);
}

static void check_range(const checker *c, const case_key *k, const quantity *q, const yaml_node *value, const char *path)
{
  if (k->range == RANGE_ABOVE_ZERO && !(q->low > 0.0))
    fault_add(c->faults, value->at, "%s: \"%.*s\" must be above zero", path, SHOWN, value->text);
  else if (k->range == RANGE_NOT_BELOW_ZERO && q->low < 0.0)
    fault_add(c->faults, value->at, "%s: \"%.*s\" must not be below zero", path, SHOWN, value->text);
  else if (k->range == RANGE_SHARE && (q->low < 0.0 || q->high > 1.0))
    fault_add(c->faults, value->at, "%s: \"%.*s\" must lie between 0 and 100 %%; write for instance 22 %% or 0.22", path, SHOWN, value->text);
}

static bool check_number(const checker *c, quantity_kind kind, const yaml_node *value, const char *path, quantity *q)
{
  message msg = {""};
  if (value->kind != YAML_TEXT) {
    char wanted[128];
    (void)snprintf(wanted, sizeof wanted, "%s such as %s", quantity_name(kind), quantity_example(kind));
    say_kind(c, value, path, wanted);
    return false;
  }
  if (quantity_parse(c->units, kind, value->text, q, &msg) == STATUS_OK)
    return true;
  fault_add(c->faults, value->at, "%s: %.400s", path, msg.text);
  return false;
}

static void check_quantity(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  quantity q;
  if (check_number(c, k->kind, value, path, &q))
    check_range(c, k, &q, value, path);
}

static void check_schedule(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  if (value->kind != YAML_LIST) {
    check_quantity(c, k, value, path);
    return;
  }
  double before = -1.0;
  if (value->num == 0)
    fault_add(c->faults, value->at, "%s: an empty table; rows are [time, value], for instance [2 h, %s]", path,
              quantity_example(k->kind));
  for (size_t row = 0; row < value->num; row++) {
    const yaml_node *r = value->items[row];
    quantity time, q;
    if (r->kind != YAML_LIST || r->num != 2) {
      fault_add(c->faults, r->at, "%s: row %zu of a table in time is [time, value], for instance [2 h, %s]", path, row + 1,
                quantity_example(k->kind));
      continue;
    }
    if (check_number(c, QUANTITY_TIME, r->items[0], path, &time)) {
      if (time.value < 0.0 || time.value <= before)
        fault_add(c->faults, r->items[0]->at, "%s: the times of a table start at 0 s or later and rise; \"%.*s\" does not", path, SHOWN,
                  r->items[0]->text);
      before = time.value;
    }
    if (check_number(c, k->kind, r->items[1], path, &q))
      check_range(c, k, &q, r->items[1], path);
  }
}

static void check_point(const checker *c, const yaml_node *value, size_t num, const char *path)
{
  quantity q;
  if (value->kind != YAML_LIST || value->num != num) {
    fault_add(c->faults, value->at, "%s: a place is written %s", path,
              num == 2 ? (c->revolved ? "[r, z], for instance [0 mm, 300 mm]" : "[x, y], for instance [0 mm, 300 mm]")
                       : "[x, y, z], for instance [0 mm, 0 mm, 300 mm]");
    return;
  }
  for (size_t i = 0; i < num; i++)
    (void)check_number(c, QUANTITY_LENGTH, value->items[i], path, &q);
}

static void check_points(const checker *c, const yaml_node *value, const char *path)
{
  if (value->kind != YAML_LIST || value->num < 3) {
    fault_add(c->faults, value->at, "%s: a profile is a list of at least three [r, z]", path);
    return;
  }
  for (size_t i = 0; i < value->num; i++) {
    check_point(c, value->items[i], 2, path);
    quantity r;
    message msg;
    const yaml_node *p = value->items[i];
    if (p->kind == YAML_LIST && p->num == 2 && p->items[0]->kind == YAML_TEXT &&
        quantity_parse(c->units, QUANTITY_LENGTH, p->items[0]->text, &r, &msg) == STATUS_OK && r.value < 0.0)
      fault_add(c->faults, p->at, "%s: point %zu has a negative radius, \"%.*s\"", path, i + 1, SHOWN, p->items[0]->text);
  }
}

/* A list of at least `fewest` places of `num` lengths. */
static void check_places(const checker *c, const yaml_node *value, size_t num, size_t fewest, const char *path)
{
  if (value->kind != YAML_LIST || value->num < fewest) {
    fault_add(c->faults, value->at, "%s: a list of at least %zu places %s is wanted", path, fewest, num == 2 ? "[x, y]" : "[x, y, z]");
    return;
  }
  for (size_t i = 0; i < value->num; i++)
    check_point(c, value->items[i], num, path);
}

static void check_numbers(const checker *c, const yaml_node *value, const char *path)
{
  quantity q;
  if (value->kind != YAML_LIST || value->num != 10) {
    fault_add(c->faults, value->at, "%s: a list of ten plain numbers is wanted", path);
    return;
  }
  for (size_t i = 0; i < value->num; i++)
    (void)check_number(c, QUANTITY_NUMBER, value->items[i], path, &q);
}

static void check_table(const checker *c, const yaml_node *value, const char *path)
{
  static const quantity_kind columns[4] = {QUANTITY_TEMPERATURE, QUANTITY_CONDUCTIVITY, QUANTITY_VOLUMETRIC_HEAT, QUANTITY_SHARE};
  double before = -1e9, liquid = 0.0;
  if (value->kind != YAML_LIST || value->num < 2) {
    fault_add(c->faults, value->at, "%s: at least two rows [temperature, conductivity, heat per volume, liquid share] are wanted", path);
    return;
  }
  for (size_t row = 0; row < value->num; row++) {
    const yaml_node *r = value->items[row];
    quantity q[4];
    bool good = r->kind == YAML_LIST && r->num == 4;
    if (!good)
      fault_add(c->faults, r->at, "%s: row %zu is not [temperature, conductivity, heat per volume, liquid share]", path, row + 1);
    for (size_t i = 0; good && i < 4; i++)
      good = check_number(c, columns[i], r->items[i], path, &q[i]);
    if (!good)
      continue;
    if (q[0].value < before)
      fault_add(c->faults, r->at, "%s: row %zu: temperatures must not fall from row to row", path, row + 1);
    if (!(q[1].value > 0.0) || !(q[2].value > 0.0))
      fault_add(c->faults, r->at, "%s: row %zu: conductivity and heat per volume must be above zero", path, row + 1);
    if (q[3].value < liquid || q[3].value > 1.0)
      fault_add(c->faults, r->at, "%s: row %zu: the liquid share lies between 0 and 1 and never falls with temperature", path, row + 1);
    before = q[0].value;
    liquid = q[3].value;
  }
}

/* Splits "a|b|c" into words; the storage is the caller's. */
static size_t split(const char *choices, char *storage, size_t room, const char **words)
{
  size_t num = 0;
  (void)snprintf(storage, room, "%s", choices);
  for (char *p = storage; p && num < MOST_WORDS;) {
    char *end = strchr(p, '|');
    if (end)
      *end++ = 0;
    words[num++] = p;
    p = end;
  }
  return num;
}

static bool is_triangle_piece(const case_key *k, const yaml_node *value)
{
  return k->section == SECTION_PIECE && strcmp(value->text, "triangles") == 0;
}

static void check_choice(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  char storage[256];
  const char *words[MOST_WORDS];
  if (value->kind != YAML_TEXT) {
    (void)snprintf(storage, sizeof storage, "one of %s", k->choices);
    say_kind(c, value, path, storage);
  } else if (!case_keys_is_choice(k->choices, value->text)) {
    const char *near = nearest_word(value->text, words, split(k->choices, storage, sizeof storage, words));
    fault_add(c->faults, value->at, "%s: \"%.*s\" is not one of %s%s%s%s%s", path, SHOWN, value->text, k->choices,
              near ? "; the closest is \"" : "", near ? near : "", near ? "\"" : "",
              is_triangle_piece(k, value) ? "; a triangle file is a part of its own: join it with other solids in the drawing program" : "");
  }
}

/* What begins like a number is read as one. */
static void check_word_or_quantity(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  if (value->kind == YAML_TEXT && value->text[0] && strchr("+-.0123456789", value->text[0]))
    check_quantity(c, k, value, path);
  else
    check_choice(c, k, value, path);
}

static void check_flag(const checker *c, const yaml_node *value, const char *path)
{
  if (value->kind != YAML_TEXT || !case_keys_is_choice("yes|no|true|false", value->text))
    fault_add(c->faults, value->at, "%s: yes or no is accepted", path);
}

static void check_name(const checker *c, const yaml_node *value, const char *path)
{
  if (value->kind != YAML_TEXT) {
    say_kind(c, value, path, "a name");
    return;
  }
  const size_t n = strlen(value->text);
  const size_t good =
      strspn(value->text, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_- ");
  if (n == 0 || n > NAME_BYTES || good != n || value->text[0] == ' ' || value->text[n - 1] == ' ')
    fault_add(c->faults, value->at, "%s: \"%.*s\" cannot be a name; letters, digits, _, - and spaces inside are accepted, at most %d", path,
              SHOWN, value->text, NAME_BYTES);
  else if (strcmp(value->text, "room") == 0)
    fault_add(c->faults, value->at, "%s: \"room\" is the air around and cannot be a name", path);
}

static size_t names_in(const yaml_node *root, const char *list, const char **names, size_t num)
{
  const yaml_node *items = yaml_tree_value(root, list);
  for (size_t i = 0; items && items->kind == YAML_LIST && i < items->num && num < MOST_WORDS; i++) {
    const yaml_node *name = yaml_tree_value(items->items[i], "name");
    if (name && name->kind == YAML_TEXT)
      names[num++] = name->text;
  }
  return num;
}

static void check_reference(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  const char *names[MOST_WORDS], *parts[MOST_WORDS];
  size_t num = 0;
  if (value->kind != YAML_TEXT) {
    say_kind(c, value, path, "a name");
    return;
  }
  if (k->among & AMONG_PARTS)
    num = names_in(c->root, "parts", names, num);
  if (k->among & AMONG_BODIES)
    num = names_in(c->root, "bodies", names, num);
  if (k->among & AMONG_BATHS)
    num = names_in(c->root, "baths", names, num);
  if ((k->among & AMONG_ROOM) && num < MOST_WORDS)
    names[num++] = "room";
  for (size_t i = 0; i < num; i++)
    if (strcmp(names[i], value->text) == 0)
      return;
  if (num == MOST_WORDS || !names_in(c->root, "parts", parts, 0))
    return; /* too many names to be listed here (told elsewhere), or no parts at all (told too) */
  const char *near = nearest_word(value->text, names, num);
  fault_add(c->faults, value->at, "%s: nothing is named \"%.*s\"%s%s%s", path, SHOWN, value->text, near ? "; the closest is \"" : "",
            near ? near : "", near ? "\"" : "");
}

static void check_solid(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  if (value->kind == YAML_MAP) {
    check_map(c, value, k->child, path);
    return;
  }
  if (value->kind != YAML_TEXT) {
    say_kind(c, value, path, "the name of a solid, or a map of its figures,");
    return;
  }
  enum { SOLIDS_MOST = 64 };
  const char *names[SOLIDS_MOST];
  size_t num = 0;
  for (size_t i = 0; i < material_num_solids() && num < SOLIDS_MOST; i++) {
    names[num] = material_solid_name(i);
    if (strcmp(names[num++], value->text) == 0)
      return;
  }
  const char *near = nearest_word(value->text, names, num);
  fault_add(c->faults, value->at, "%s: no solid is named \"%.*s\"%s%s%s; --help keys lists them", path, SHOWN, value->text,
            near ? "; the closest is \"" : "", near ? near : "", near ? "\"" : "");
}

static void check_list(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  char inner[PATH];
  if (value->kind != YAML_LIST) {
    say_kind(c, value, path, "a list of items, each beginning with \"- \",");
    return;
  }
  if (k->required && value->num == 0)
    fault_add(c->faults, value->at, "%s: the list is empty; at least one item is wanted", path);
  for (size_t i = 0; i < value->num; i++) {
    const yaml_node *item = value->items[i], *name = yaml_tree_value(item, "name");
    if (name && name->kind == YAML_TEXT)
      (void)snprintf(inner, sizeof inner, "%.120s.%.48s", path, name->text);
    else
      (void)snprintf(inner, sizeof inner, "%.120s[%zu]", path, i + 1);
    if (item->kind != YAML_MAP) {
      say_kind(c, item, inner, "a map of keys");
      continue;
    }
    check_map(c, item, k->child, inner);
    for (size_t j = 0; name && name->kind == YAML_TEXT && j < i; j++) {
      const yaml_node *other = yaml_tree_value(value->items[j], "name");
      if (other && other->kind == YAML_TEXT && strcmp(other->text, name->text) == 0) {
        fault_add(c->faults, name->at, "%s: the name \"%.*s\" is given twice; first in line %zu", path, SHOWN, name->text, other->at.line);
        break;
      }
    }
  }
}

static void check_value(const checker *c, const case_key *k, const yaml_node *value, const char *path)
{
  switch (k->type) {
  case VALUE_TEXT:
    if (value->kind != YAML_TEXT)
      say_kind(c, value, path, "a text");
    break;
  case VALUE_NAME: check_name(c, value, path); break;
  case VALUE_REFERENCE: check_reference(c, k, value, path); break;
  case VALUE_CHOICE: check_choice(c, k, value, path); break;
  case VALUE_FLAG: check_flag(c, value, path); break;
  case VALUE_QUANTITY: check_quantity(c, k, value, path); break;
  case VALUE_SCHEDULE: check_schedule(c, k, value, path); break;
  case VALUE_POINT: check_point(c, value, (c->revolved && k->section == SECTION_PROBE) || strcmp(k->key, "axis_at") == 0 ? 2 : 3, path); break;
  case VALUE_POINTS: check_points(c, value, path); break;
  case VALUE_OUTLINE: check_places(c, value, 2, 3, path); break;
  case VALUE_PATH: check_places(c, value, 3, 2, path); break;
  case VALUE_NUMBERS: check_numbers(c, value, path); break;
  case VALUE_TABLE: check_table(c, value, path); break;
  case VALUE_SOLID: check_solid(c, k, value, path); break;
  case VALUE_LIST: check_list(c, k, value, path); break;
  case VALUE_MAP:
    if (value->kind == YAML_MAP)
      check_map(c, value, k->child, path);
    else
      say_kind(c, value, path, "a map of keys");
    break;
  case VALUE_WORD_OR_QUANTITY: check_word_or_quantity(c, k, value, path); break;
  case VALUE_WORD_OR_MAP:
    if (value->kind == YAML_MAP)
      check_map(c, value, k->child, path);
    else
      check_choice(c, k, value, path);
    break;
  }
}

/* The known key closest to a mistyped one, or NULL; list (may be NULL) gets all of the section's keys. */
static const char *nearest_key(const char *typed, case_section section, char *list, size_t room)
{
  const char *known[MOST_WORDS];
  size_t num = 0;
  for (size_t i = 0; i < case_keys_num() && num < MOST_WORDS; i++)
    if (case_keys_at(i)->section == section) {
      known[num++] = case_keys_at(i)->key;
      const size_t n = list ? strlen(list) : 0;
      if (list)
        (void)snprintf(list + n, room - n, "%s%s", n ? ", " : "", case_keys_at(i)->key);
    }
  return nearest_word(typed, known, num);
}

/* A required key that is there, but mistyped: that was told. */
static bool is_mistyped(const yaml_node *map, case_section section, const char *key)
{
  for (size_t i = 0; i < map->num; i++)
    if (!case_keys_find(section, map->keys[i]->text)) {
      const char *near = nearest_key(map->keys[i]->text, section, NULL, 0);
      if (near && strcmp(near, key) == 0)
        return true;
    }
  return false;
}

static void unknown_key(const checker *c, const yaml_node *key, case_section section, const char *path)
{
  char list[700] = "";
  const char *near = nearest_key(key->text, section, list, sizeof list);
  if (near)
    fault_add(c->faults, key->at, "%s%s%.*s: unknown key; the closest is \"%s\"", path, *path ? "." : "", SHOWN, key->text, near);
  else
    fault_add(c->faults, key->at, "%s%s%.*s: unknown key; accepted are %s", path, *path ? "." : "", SHOWN, key->text, list);
}

/* In { } a comma ends a value: `{wall: 1,5 mm}` is read as wall: 1 and a key "5 mm" without value. Number i of the map and what follows it. */
static bool is_cut_at_comma(const yaml_node *map, size_t i)
{
  if (i + 1 >= map->num || map->items[i]->kind != YAML_TEXT || map->items[i + 1]->kind != YAML_TEXT || map->items[i + 1]->text[0] != 0)
    return false;
  const char *before = map->items[i]->text, *after = map->keys[i + 1]->text;
  const size_t n = strlen(before);
  return n > 0 && isdigit((unsigned char)before[n - 1]) && strspn(before, "+-0123456789") == n && isdigit((unsigned char)after[0]);
}

static void check_map(const checker *c, const yaml_node *map, case_section section, const char *path)
{
  char inner[PATH];
  for (size_t i = 0; i < map->num; i++) {
    const case_key *k = case_keys_find(section, map->keys[i]->text);
    (void)snprintf(inner, sizeof inner, "%.120s%s%.48s", path, *path ? "." : "", map->keys[i]->text);
    if (k && is_cut_at_comma(map, i)) {
      fault_add(c->faults, map->items[i]->at, "%s: \"%.20s,%.40s\" has a comma in the number; the decimal sign is a point (1.5 mm)", inner,
                map->items[i]->text, map->keys[i + 1]->text);
      i++;
    } else if (k)
      check_value(c, k, map->items[i], inner);
    else
      unknown_key(c, map->keys[i], section, path);
  }
  for (size_t i = 0; i < case_keys_num(); i++)
    if (case_keys_at(i)->section == section && case_keys_at(i)->required && !yaml_tree_value(map, case_keys_at(i)->key) &&
        !is_mistyped(map, section, case_keys_at(i)->key))
      fault_add(c->faults, map->at, "%s%sthe key \"%s\" is missing: %s", path, *path ? ": " : "", case_keys_at(i)->key, case_keys_at(i)->help);
}

/* parts, bodies and baths are all parts of the rig and share one set of names. */
static void check_names_across(const checker *c)
{
  static const char *const lists[] = {"parts", "bodies", "baths"};
  for (size_t a = 1; a < 3; a++) {
    const yaml_node *items = yaml_tree_value(c->root, lists[a]);
    for (size_t i = 0; items && items->kind == YAML_LIST && i < items->num; i++) {
      const yaml_node *name = yaml_tree_value(items->items[i], "name");
      for (size_t b = 0; name && name->kind == YAML_TEXT && b < a; b++) {
        const char *names[MOST_WORDS];
        const size_t num = names_in(c->root, lists[b], names, 0);
        for (size_t j = 0; j < num; j++)
          if (strcmp(names[j], name->text) == 0)
            fault_add(c->faults, name->at, "%s: the name \"%.*s\" is already borne by one of %s; parts, bodies and baths need names of "
                                           "their own", lists[a], SHOWN, name->text, lists[b]);
      }
    }
  }
}

void case_keys_check(const yaml_node *root, const quantity_system *units, fault_list *faults)
{
  checker c = {.root = root, .units = units, .faults = faults, .revolved = true};
  if (root->kind != YAML_MAP) {
    fault_add(faults, root->at, "a case is a map of keys (title, dimension, parts, ...), not %s", yaml_tree_kind_name(root->kind));
    return;
  }
  const yaml_node *dimension = yaml_tree_value(root, "dimension");
  c.revolved = !dimension || dimension->kind != YAML_TEXT || strcmp(dimension->text, "xyz") != 0;
  for (const char *const *list = (const char *const[]){"parts", "bodies", "baths", "coils", "surfaces", "stages", "probes", NULL}; *list;
       list++) {
    const yaml_node *items = yaml_tree_value(root, *list);
    if (items && items->kind == YAML_LIST && items->num >= MOST_WORDS)
      fault_add(faults, items->at, "%s: more than %d items", *list, MOST_WORDS - 1);
  }
  check_map(&c, root, SECTION_CASE, "");
  check_names_across(&c);
}
