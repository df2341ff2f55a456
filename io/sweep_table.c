#include "io/sweep_table.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/figure_words.h"
#include "io/h5_file.h"
#include "io/report_unit.h"

/* ------------------------------------------------------------------------------------------------ gathering */

void sweep_table_release(sweep_table *t)
{
  for (size_t i = 0; t->word && i < t->num_cases * t->num_values; i++)
    free(t->word[i]);
  free(t->word);
  free(t->state);
  free(t->value);
  free(t->input);
  free(t->rank);
  free(t->front);
  free(t->ranked);
  *t = (sweep_table){0};
}

static char *copy_text(const char *text)
{
  char *copy = malloc(strlen(text) + 1);
  return copy ? strcpy(copy, text) : NULL;
}

static status take_values(sweep_table *t, size_t which, const char *payload, message *msg)
{
  json_error_t error;
  json_t *list = json_loads(payload, 0, &error);
  status code = STATUS_OK;
  if (!list || json_array_size(list) != t->num_values)
    code = message_set(msg, STATUS_FAILED, "the ledger's line about case %zu holds %zu figures, not %zu", which, json_array_size(list), t->num_values);
  for (size_t k = 0; code == STATUS_OK && k < t->num_values; k++) {
    const json_t *v = json_array_get(list, k);
    const size_t at = which * t->num_values + k;
    if (json_is_number(v))
      t->value[at] = json_number_value(v);
    else if (json_is_boolean(v))
      t->value[at] = json_is_true(v) ? 1.0 : 0.0;
    else if (json_is_string(v) && (t->word[at] = copy_text(json_string_value(v))) == NULL)
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the table");
  }
  json_decref(list);
  return code;
}

static status gather(sweep_table *t, message *msg)
{
  char text[PLAN_POINTS_VALUE];
  status code = STATUS_OK;
  for (size_t i = 0; i < t->num_cases * t->num_values; i++)
    t->value[i] = NAN;
  for (size_t which = 0; code == STATUS_OK && which < t->num_cases; which++) {
    const uint64_t key = sweep_key(t->s, which);
    t->state[which] = ledger_state_of(t->s->ledger, key);
    if (t->state[which] == LEDGER_DONE)
      code = take_values(t, which, ledger_payload(t->s->ledger, key), msg);
  }
  for (size_t point = 0; point < t->num_points; point++)
    for (size_t i = 0; i < t->num_inputs; i++)
      (void)plan_points_value(t->s->points, point, i, text, &t->input[point * t->num_inputs + i]);
  return code;
}

/* ------------------------------------------------------------------------------------------------ order */

size_t sweep_table_goal(const sweep_table *t, size_t goal)
{
  const plan_file *p = t->s->plan;
  for (size_t k = 0; goal < p->num_goals && k < p->num_report; k++)
    if (strcmp(p->report[k], p->goals[goal].path) == 0)
      return k;
  return SIZE_MAX;
}

/* Smaller is better. NAN: not known. */
static double badness(const sweep_table *t, size_t which, size_t goal)
{
  const size_t k = sweep_table_goal(t, goal);
  const double v = k == SIZE_MAX ? NAN : t->value[which * t->num_values + k];
  return t->s->plan->goals[goal].best == GOAL_MOST ? -v : v;
}

typedef struct { double first, second; uint32_t which; } standing;

static int by_standing(const void *a, const void *b)
{
  const standing *x = a, *y = b;
  if (x->first != y->first)
    return x->first < y->first ? -1 : 1;
  if (!isnan(x->second) && !isnan(y->second) && x->second != y->second)
    return x->second < y->second ? -1 : 1;
  return x->which < y->which ? -1 : 1;
}

/* After sorting by the first goal, the front are those whose second goal is better than that of all before. */
static void find_front(sweep_table *t, const standing *list)
{
  double best = INFINITY;
  for (size_t i = 0; i < t->num_ranked; i++)
    if (list[i].second < best || (i > 0 && list[i].second == best && list[i].first == list[i - 1].first && t->front[list[i - 1].which])) {
      best = list[i].second;
      t->front[list[i].which] = 1;
    }
}

static status rank(sweep_table *t, message *msg)
{
  if (t->s->plan->num_goals == 0)
    return STATUS_OK;
  standing *list = malloc((t->num_cases + 1) * sizeof *list);
  if (!list)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the ranked list");
  for (size_t which = 0; which < t->num_cases; which++) {
    const double first = badness(t, which, 0);
    if (t->state[which] == LEDGER_DONE && !isnan(first))
      list[t->num_ranked++] = (standing){first, t->s->plan->num_goals > 1 ? badness(t, which, 1) : NAN, (uint32_t)which};
  }
  qsort(list, t->num_ranked, sizeof *list, by_standing);
  for (size_t i = 0; i < t->num_ranked; i++) {
    t->ranked[i] = list[i].which;
    t->rank[list[i].which] = (uint32_t)(i > 0 && list[i].first == list[i - 1].first ? t->rank[list[i - 1].which] : i + 1);
  }
  if (t->s->plan->num_goals > 1)
    find_front(t, list);
  free(list);
  return STATUS_OK;
}

status sweep_table_create(sweep_table *t, const sweep *s, message *msg)
{
  *t = (sweep_table){.s = s,
                     .num_points = plan_points_num(s->points),
                     .num_cases = plan_points_num_cases(s->points),
                     .num_inputs = s->plan->num_inputs,
                     .num_values = s->plan->num_report};
  const size_t cells = t->num_cases * t->num_values + 1;
  t->state = calloc(t->num_cases + 1, sizeof *t->state);
  t->value = calloc(cells, sizeof *t->value);
  t->word = calloc(cells, sizeof *t->word);
  t->input = calloc(t->num_points * t->num_inputs + 1, sizeof *t->input);
  t->rank = calloc(t->num_cases + 1, sizeof *t->rank);
  t->front = calloc(t->num_cases + 1, sizeof *t->front);
  t->ranked = calloc(t->num_cases + 1, sizeof *t->ranked);
  status code = STATUS_OK;
  if (!t->state || !t->value || !t->word || !t->input || !t->rank || !t->front || !t->ranked)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for a table of %zu points", t->num_points);
  if (code == STATUS_OK)
    code = gather(t, msg);
  if (code == STATUS_OK)
    code = rank(t, msg);
  if (code != STATUS_OK)
    sweep_table_release(t);
  return code;
}

/* ------------------------------------------------------------------------------------------------ as CSV */

static void put_text(FILE *to, const char *text)
{
  const bool quoted = strpbrk(text, ",\"\r\n") != NULL;
  if (quoted)
    (void)fputc('"', to);
  for (const char *c = text; *c; c++) {
    if (*c == '"')
      (void)fputc('"', to);
    (void)fputc(*c, to);
  }
  if (quoted)
    (void)fputc('"', to);
}

/* Pressures say which. */
static const char *input_unit(const plan_input *in)
{
  if (!in->numeric)
    return "";
  return in->what->kind == QUANTITY_PRESSURE ? (in->gauge ? "Pa(g)" : "Pa(a)") : quantity_unit(in->what->kind);
}

static void put_heading(const sweep_table *t, FILE *to)
{
  const plan_file *p = t->s->plan;
  char text[PLAN_PATH + 64];
  (void)fputs("point,case,state", to);
  for (size_t i = 0; i < t->num_inputs; i++) {
    const char *unit = input_unit(&p->inputs[i]);
    (void)snprintf(text, sizeof text, "%s%s%s", p->inputs[i].key, unit[0] ? "_" : "", unit);
    (void)fputc(',', to);
    put_text(to, text);
  }
  for (size_t k = 0; k < t->num_values; k++) {
    (void)fputc(',', to);
    put_text(to, p->report[k]);
  }
  (void)fputs(p->num_goals ? p->num_goals > 1 ? ",rank,front,reason\r\n" : ",rank,reason\r\n" : ",reason\r\n", to);
}

static const char *state_name(ledger_state state)
{
  return state == LEDGER_DONE ? "done" : state == LEDGER_FAILED ? "failed" : "to do";
}

static void put_row(const sweep_table *t, size_t point, FILE *to)
{
  const plan_file *p = t->s->plan;
  const size_t which = plan_points_case(t->s->points, point);
  (void)fprintf(to, "%zu,%zu,%s", point, which, state_name(t->state[which]));
  for (size_t i = 0; i < t->num_inputs; i++) {
    char text[PLAN_POINTS_VALUE];
    double number;
    (void)plan_points_value(t->s->points, point, i, text, &number);
    (void)fputc(',', to);
    if (p->inputs[i].numeric && !isnan(number))
      (void)fprintf(to, "%.12g", number);
    else
      put_text(to, text);
  }
  for (size_t k = 0; k < t->num_values; k++) {
    const size_t at = which * t->num_values + k;
    (void)fputc(',', to);
    if (t->word[at])
      put_text(to, t->word[at]);
    else if (!isnan(t->value[at]))
      (void)fprintf(to, "%.17g", t->value[at]);
  }
  if (p->num_goals > 0 && t->rank[which])
    (void)fprintf(to, ",%u", t->rank[which]);
  else if (p->num_goals > 0)
    (void)fputc(',', to);
  if (p->num_goals > 1)
    (void)fprintf(to, ",%s", t->rank[which] ? t->front[which] ? "yes" : "no" : "");
  (void)fputc(',', to);
  if (t->state[which] == LEDGER_FAILED)
    put_text(to, ledger_payload(t->s->ledger, sweep_key(t->s, which)));
  (void)fputs("\r\n", to);
}

status sweep_table_write_csv(const sweep_table *t, const char *path, message *msg)
{
  whole_file *f = NULL;
  const status code = whole_file_open(&f, path, msg);
  if (code != STATUS_OK)
    return code;
  put_heading(t, whole_file_stream(f));
  for (size_t point = 0; point < t->num_points; point++)
    put_row(t, point, whole_file_stream(f));
  return whole_file_commit(&f, msg); /* which looks at all errors of the stream */
}

/* ------------------------------------------------------------------------------------------------ as HDF5 */

static bool put_numbers(hid_t where, const sweep_table *t, const char *name, const char *units, const double *values)
{
  const h5_file_layout l = {.name = name, .units = units, .long_name = name, .stored_type = H5T_IEEE_F64LE, .memory_type = H5T_NATIVE_DOUBLE,
                            .rank = 1, .extent = {t->num_points}, .chunk = {h5_file_chunk_rows(t->num_points, 8)}, .compressed = true};
  return h5_file_write_set(where, &l, values);
}

/* Texts of one length, padded with zeros. */
static bool put_words(hid_t where, const sweep_table *t, const char *name, const char *texts, size_t length)
{
  const hid_t type = H5Tcopy(H5T_C_S1);
  bool ok = type >= 0 && H5Tset_size(type, length) >= 0;
  const h5_file_layout l = {.name = name, .long_name = name, .stored_type = type, .memory_type = type, .rank = 1, .extent = {t->num_points}};
  ok = ok && h5_file_write_set(where, &l, texts);
  if (type >= 0)
    (void)H5Tclose(type);
  return ok;
}

/* One column: numbers, or words when no row holds a number. */
typedef struct {
  double *numbers;
  char *words;
  size_t length;
  bool is_word;
} column;

static void input_column(const sweep_table *t, size_t input, column *c)
{
  c->is_word = !t->s->plan->inputs[input].numeric;
  for (size_t point = 0; point < t->num_points; point++) {
    char text[PLAN_POINTS_VALUE];
    (void)plan_points_value(t->s->points, point, input, text, &c->numbers[point]);
    (void)snprintf(c->words + point * c->length, c->length, "%s", text);
  }
}

static void value_column(const sweep_table *t, size_t k, column *c)
{
  c->is_word = false;
  for (size_t point = 0; point < t->num_points; point++) {
    const size_t at = plan_points_case(t->s->points, point) * t->num_values + k;
    c->numbers[point] = t->value[at];
    (void)snprintf(c->words + point * c->length, c->length, "%s", t->word[at] ? t->word[at] : "");
    c->is_word = c->is_word || t->word[at];
  }
}

static bool put_point_columns(hid_t where, const sweep_table *t, column *c)
{
  static const char *const names[] = {"case", "state", "rank", "front"};
  bool ok = true;
  for (int what = 0; what < 4; what++) {
    for (size_t point = 0; point < t->num_points; point++) {
      const size_t which = plan_points_case(t->s->points, point);
      const double values[] = {(double)which, (double)t->state[which], t->rank[which] ? (double)t->rank[which] : NAN, (double)t->front[which]};
      c->numbers[point] = values[what];
    }
    ok = ok && put_numbers(where, t, names[what], "1", c->numbers);
  }
  return ok && h5_file_put_text(where, ".", "states", "0 to do, 1 done, 2 failed");
}

static bool put_columns(hid_t file, const sweep_table *t, column *c)
{
  const plan_file *p = t->s->plan;
  bool ok = h5_file_group(file, "inputs") && h5_file_group(file, "report") && h5_file_group(file, "point");
  const hid_t inputs = ok ? H5Gopen2(file, "inputs", H5P_DEFAULT) : -1, report = ok ? H5Gopen2(file, "report", H5P_DEFAULT) : -1;
  const hid_t points = ok ? H5Gopen2(file, "point", H5P_DEFAULT) : -1;
  for (size_t i = 0; ok && i < t->num_inputs; i++) {
    const char *unit = input_unit(&p->inputs[i]);
    input_column(t, i, c);
    ok = c->is_word ? put_words(inputs, t, p->inputs[i].key, c->words, c->length)
                    : put_numbers(inputs, t, p->inputs[i].key, unit[0] ? unit : "1", c->numbers);
  }
  for (size_t k = 0; ok && k < t->num_values; k++) {
    value_column(t, k, c);
    ok = c->is_word ? put_words(report, t, p->report[k], c->words, c->length)
                    : put_numbers(report, t, p->report[k], report_unit_of(p->report[k]).unit, c->numbers);
  }
  ok = ok && put_point_columns(points, t, c) && h5_file_put_text(file, ".", "title", p->title[0] ? p->title : "sweep");
  for (const hid_t *g = (const hid_t[]){inputs, report, points, -1}; *g >= 0; g++)
    (void)H5Gclose(*g);
  return ok;
}

status sweep_table_write_h5(const sweep_table *t, const char *path, message *msg)
{
  char temporary[WHOLE_FILE_PATH + 8];
  hid_t file = -1;
  column c = {.length = PLAN_POINTS_VALUE};
  (void)snprintf(temporary, sizeof temporary, "%s.tmp", path);
  c.numbers = malloc((t->num_points + 1) * sizeof *c.numbers);
  c.words = malloc((t->num_points + 1) * c.length);
  status code = c.numbers && c.words ? h5_file_create(&file, temporary, msg) : message_set(msg, STATUS_NO_MEMORY, "out of memory for %s", path);
  if (code == STATUS_OK && !put_columns(file, t, &c))
    code = h5_file_fault(msg, "write", path);
  if (file >= 0 && !h5_file_close(&file) && code == STATUS_OK)
    code = h5_file_fault(msg, "write", path);
  if (code == STATUS_OK)
    code = whole_file_rename(temporary, path, msg);
  if (code != STATUS_OK)
    (void)remove(temporary);
  free(c.numbers);
  free(c.words);
  return code;
}

/* ------------------------------------------------------------------------------------------------ in words */

static void print_case(const sweep_table *t, FILE *to, size_t which)
{
  const plan_file *p = t->s->plan;
  char text[PLAIN_WORDS], value[PLAN_POINTS_VALUE];
  double number;
  (void)fprintf(to, "%4u%s", t->rank[which], t->front[which] ? "*" : " ");
  for (size_t g = 0; g < p->num_goals; g++) {
    const size_t k = sweep_table_goal(t, g);
    figure_words_of(p->report[k], t->value[which * t->num_values + k], text);
    (void)fprintf(to, "  %-16s", text);
  }
  (void)fprintf(to, "  case %-6zu", which);
  for (size_t i = 0; i < t->num_inputs; i++) {
    (void)plan_points_value(t->s->points, plan_points_first(t->s->points, which), i, value, &number);
    (void)fprintf(to, "%s %s=%s", i ? "," : "", p->inputs[i].key, value);
  }
  (void)fputc('\n', to);
}

bool sweep_table_print_ranking(const sweep_table *t, FILE *to, size_t most)
{
  const plan_file *p = t->s->plan;
  if (p->num_goals == 0) {
    (void)fprintf(to, "No ranked list: the plan names no goals (goals: [{path: freeze.time_s, best: least}]).\n");
    return !ferror(to);
  }
  (void)fprintf(to, "Best first by %s (%s)", p->goals[0].path, p->goals[0].best == GOAL_LEAST ? "least" : "most");
  if (p->num_goals > 1)
    (void)fprintf(to, "; * stands on the front of trade-off with %s (%s): nothing is better by both", p->goals[1].path,
                  p->goals[1].best == GOAL_LEAST ? "least" : "most");
  (void)fprintf(to, "\nrank ");
  for (size_t g = 0; g < p->num_goals; g++)
    (void)fprintf(to, "  %-16s", p->goals[g].path);
  (void)fprintf(to, "\n");
  for (size_t i = 0; i < t->num_ranked && i < most; i++)
    print_case(t, to, t->ranked[i]);
  if (t->num_ranked > most)
    (void)fprintf(to, "... and %zu more\n", t->num_ranked - most);
  if (t->num_ranked < t->num_cases)
    (void)fprintf(to, "%zu of %zu cases have no place in the list: failed, not run, or %s is not known of them.\n", t->num_cases - t->num_ranked,
                  t->num_cases, p->goals[0].path);
  return !ferror(to);
}
