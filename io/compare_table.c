#include "io/compare_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/plain_words.h"

enum { KEY = 192, CELL = 64 };
static const double SAME = 1e-6; /* relative */
static const double J_PER_KWH = 3.6e6;
static const double MM_PER_HOUR = 3.6e6; /* of m/s */

typedef struct {
  char key[KEY];
  json_t **values; /* [num_runs], NULL: the run lacks it */
} row;

typedef struct {
  row *rows;
  size_t num, capacity;
} row_list;

struct compare_table {
  const stored_run *runs;
  size_t num_runs;
  row_list inputs, answers;
  bool failed; /* out of memory */
};

/* ------------------------------------------------------------------------------------------------ rows */

static row *row_named(compare_table *t, row_list *l, const char *key)
{
  for (size_t i = 0; i < l->num; i++)
    if (strcmp(l->rows[i].key, key) == 0)
      return &l->rows[i];
  if (l->num == l->capacity) {
    const size_t capacity = 2 * l->capacity + 64;
    row *rows = realloc(l->rows, capacity * sizeof *rows);
    if (!rows)
      return NULL;
    l->rows = rows;
    l->capacity = capacity;
  }
  row *r = &l->rows[l->num];
  (void)snprintf(r->key, sizeof r->key, "%s", key);
  r->values = calloc(t->num_runs, sizeof(json_t *));
  if (!r->values)
    return NULL;
  l->num++;
  return r;
}

/* Takes over value. */
static void put(compare_table *t, row_list *l, size_t run, const char *key, json_t *value)
{
  row *r = value ? row_named(t, l, key) : NULL;
  if (!r || r->values[run]) {
    t->failed = t->failed || !r;
    json_decref(value);
    return;
  }
  r->values[run] = value;
}

static void join(char out[KEY], const char *before, const char *name)
{
  (void)snprintf(out, KEY, "%.120s%s%.60s", before, *before ? "." : "", name);
}

static void put_input(compare_table *t, size_t run, const char *key, const yaml_node *node)
{
  char below[KEY], number[24];
  if (node->kind == YAML_TEXT)
    put(t, &t->inputs, run, key, json_string(node->text));
  for (size_t i = 0; node->kind != YAML_TEXT && i < node->num; i++) {
    const yaml_node *name = node->kind == YAML_LIST ? yaml_tree_value(node->items[i], "name") : node->keys[i];
    (void)snprintf(number, sizeof number, "%zu", i + 1);
    join(below, key, name && name->kind == YAML_TEXT ? name->text : number);
    put_input(t, run, below, node->items[i]);
  }
}

static void put_answer(compare_table *t, size_t run, const char *key, json_t *value)
{
  char below[KEY], number[24];
  const char *name;
  json_t *item;
  size_t i;
  if (json_is_object(value)) {
    json_object_foreach(value, name, item)
    {
      join(below, key, name);
      put_answer(t, run, below, item);
    }
  } else if (json_is_array(value)) {
    json_array_foreach(value, i, item)
    {
      name = json_string_value(json_object_get(item, "name"));
      (void)snprintf(number, sizeof number, "%zu", i + 1);
      join(below, key, name ? name : number);
      put_answer(t, run, below, item);
    }
  } else if (!json_is_null(value)) {
    put(t, &t->answers, run, key, json_incref(value));
  }
}

static void put_summary(compare_table *t, size_t run)
{
  static const char *const left_out[] = {"format", "provenance", "events", "pockets", "warnings"};
  const char *name;
  json_t *value;
  json_object_foreach(t->runs[run].summary, name, value)
  {
    bool wanted = true;
    for (size_t i = 0; i < sizeof left_out / sizeof *left_out; i++)
      wanted = wanted && strcmp(name, left_out[i]) != 0;
    const bool repeated = (strcmp(name, "bodies") == 0 || strcmp(name, "baths") == 0) && json_array_size(value) < 2;
    const bool single = strcmp(name, "stages") == 0 && json_array_size(value) < 2;
    if (wanted && !repeated && !single)
      put_answer(t, run, name, value);
  }
}

static bool equal(const json_t *a, const json_t *b)
{
  if (!a || !b)
    return a == b;
  if (!json_is_number(a) || !json_is_number(b))
    return json_equal(a, b);
  const double x = json_number_value(a), y = json_number_value(b);
  return fabs(x - y) <= SAME * fmax(fabs(x), fabs(y));
}

static void drop_equal(const compare_table *t, row_list *l)
{
  size_t kept = 0;
  for (size_t i = 0; i < l->num; i++) {
    bool same = true;
    for (size_t run = 1; run < t->num_runs; run++)
      same = same && equal(l->rows[i].values[0], l->rows[i].values[run]);
    if (!same) {
      l->rows[kept++] = l->rows[i];
      continue;
    }
    for (size_t run = 0; run < t->num_runs; run++)
      json_decref(l->rows[i].values[run]);
    free(l->rows[i].values);
  }
  l->num = kept;
}

status compare_table_create(compare_table **out, const stored_run *runs, size_t num, message *msg)
{
  compare_table *t = calloc(1, sizeof *t);
  if (!t)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the comparison");
  t->runs = runs;
  t->num_runs = num;
  for (size_t run = 0; run < num; run++) {
    put_input(t, run, "", runs[run].of->tree);
    put_summary(t, run);
  }
  drop_equal(t, &t->inputs);
  drop_equal(t, &t->answers);
  if (t->failed) {
    compare_table_destroy(&t);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the comparison");
  }
  *out = t;
  return STATUS_OK;
}

static void release_rows(const compare_table *t, row_list *l)
{
  for (size_t i = 0; i < l->num; i++) {
    for (size_t run = 0; run < t->num_runs; run++)
      json_decref(l->rows[i].values[run]);
    free(l->rows[i].values);
  }
  free(l->rows);
}

void compare_table_destroy(compare_table **t)
{
  if (!*t)
    return;
  release_rows(*t, &(*t)->inputs);
  release_rows(*t, &(*t)->answers);
  free(*t);
  *t = NULL;
}

/* ------------------------------------------------------------------------------------------------ JSON */

static json_t *rows_json(const compare_table *t, const row_list *l)
{
  json_t *list = json_array();
  for (size_t i = 0; i < l->num; i++) {
    json_t *o = json_object(), *values = json_array();
    for (size_t run = 0; run < t->num_runs; run++)
      (void)json_array_append_new(values, l->rows[i].values[run] ? json_incref(l->rows[i].values[run]) : json_null());
    (void)json_object_set_new(o, "key", json_string(l->rows[i].key));
    (void)json_object_set_new(o, "values", values);
    (void)json_array_append_new(list, o);
  }
  return list;
}

status compare_table_json(char **text, const compare_table *t, message *msg)
{
  json_t *root = json_object(), *names = json_array();
  for (size_t run = 0; run < t->num_runs; run++)
    (void)json_array_append_new(names, json_string(t->runs[run].label));
  (void)json_object_set_new(root, "runs", names);
  (void)json_object_set_new(root, "inputs", rows_json(t, &t->inputs));
  (void)json_object_set_new(root, "answers", rows_json(t, &t->answers));
  *text = json_dumps(root, JSON_INDENT(1));
  json_decref(root);
  return *text ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the comparison");
}

/* ------------------------------------------------------------------------------------------------ text */

static bool ends_with(const char *text, const char *end)
{
  const size_t a = strlen(text), b = strlen(end);
  return a >= b && strcmp(text + a - b, end) == 0;
}

/* A figure by the unit that its key ends with (before _min and _max); ledgers are in J without saying so. */
static void say_figure(const char *key, double value, char cell[CELL])
{
  char plain[KEY], text[PLAIN_WORDS];
  (void)snprintf(plain, sizeof plain, "%s", key);
  if (ends_with(plain, "_min") || ends_with(plain, "_max"))
    plain[strlen(plain) - 4] = '\0';
  if (ends_with(plain, "residual_relative"))
    (void)snprintf(text, sizeof text, "%.0e", value);
  else if (strstr(plain, "_m_per_s"))
    plain_words_value(MM_PER_HOUR * value, 3, "mm/h", text);
  else if (ends_with(plain, "_s") || strstr(plain, "marks_s."))
    plain_words_duration(value, text);
  else if (ends_with(plain, "_J_per_kg"))
    plain_words_value(1e3 * value / J_PER_KWH, 4, "kWh/t", text);
  else if (ends_with(plain, "_C"))
    plain_words_value(value, 4, "degC", text);
  else if (ends_with(plain, "_J") || strstr(plain, "ledger."))
    plain_words_value(value / J_PER_KWH, 4, "kWh", text);
  else if (ends_with(plain, "fraction") || ends_with(plain, "fraction_low") || ends_with(plain, "fraction_high") || ends_with(plain, "fraction_with_exchange"))
    plain_words_value(100.0 * value, 4, "%", text);
  else if (ends_with(plain, "_Pa"))
    plain_words_value(1e-5 * value, 4, "bar(a)", text);
  else if (ends_with(plain, "_W"))
    plain_words_value(value, 4, "W", text);
  else if (ends_with(plain, "_kg"))
    plain_words_value(value, 4, "kg", text);
  else if (ends_with(plain, "_A"))
    plain_words_value(value, 3, "A", text);
  else if (ends_with(plain, "_m3"))
    plain_words_value(1e6 * value, 3, "mL", text);
  else if (ends_with(plain, "_m") || strstr(plain, "_m."))
    plain_words_value(1e3 * value, 4, "mm", text);
  else
    plain_words_value(value, 4, "1", text);
  (void)snprintf(cell, CELL, "%.60s", text);
}

static void say(const char *key, const json_t *value, char cell[CELL])
{
  if (!value)
    (void)snprintf(cell, CELL, "not given");
  else if (json_is_number(value))
    say_figure(key, json_number_value(value), cell);
  else if (json_is_boolean(value))
    (void)snprintf(cell, CELL, "%s", json_is_true(value) ? "yes" : "no");
  else
    (void)snprintf(cell, CELL, "%.60s", json_string_value(value) ? json_string_value(value) : "");
}

static int columns_of(const char *text)
{
  int columns = 0;
  for (; *text; text++)
    columns += ((unsigned char)*text & 0xC0) != 0x80;
  return columns;
}

static void print_cell(FILE *to, const char *text, int width)
{
  const int fill = width - columns_of(text);
  (void)fprintf(to, "  %s%*s", text, fill > 0 ? fill : 0, "");
}

static void print_rows(FILE *to, const compare_table *t, const row_list *l, const char *title, const char *none)
{
  char cell[CELL];
  int first = 0, width = 8;
  (void)fprintf(to, "%s\n", l->num ? title : none);
  for (size_t i = 0; i < l->num; i++) {
    first = columns_of(l->rows[i].key) > first ? columns_of(l->rows[i].key) : first;
    for (size_t run = 0; run < t->num_runs; run++) {
      say(l->rows[i].key, l->rows[i].values[run], cell);
      width = columns_of(cell) > width ? columns_of(cell) : width;
    }
  }
  for (size_t run = 0; run < t->num_runs; run++)
    width = columns_of(t->runs[run].label) > width ? columns_of(t->runs[run].label) : width;
  if (!l->num)
    return;
  print_cell(to, "", first);
  for (size_t run = 0; run < t->num_runs; run++)
    print_cell(to, t->runs[run].label, run + 1 < t->num_runs ? width : 0);
  (void)fputc('\n', to);
  for (size_t i = 0; i < l->num; i++) {
    print_cell(to, l->rows[i].key, first);
    for (size_t run = 0; run < t->num_runs; run++) {
      say(l->rows[i].key, l->rows[i].values[run], cell);
      print_cell(to, cell, run + 1 < t->num_runs ? width : 0);
    }
    (void)fputc('\n', to);
  }
}

bool compare_table_print(FILE *to, const compare_table *t)
{
  print_rows(to, t, &t->inputs, "What differs in the cases", "The cases are the same.");
  (void)fputc('\n', to);
  print_rows(to, t, &t->answers, "What differs in the answers", "The answers are the same.");
  return !ferror(to);
}
