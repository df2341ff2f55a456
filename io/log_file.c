#include "io/log_file.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FIELD = 128, MOST_FAULTS = 20 };

typedef struct {
  const char *at, *end;  /* what is not read yet */
  size_t line, column;
  char part;             /* between fields       */
  const quantity_system *units;
  fault_list *faults;
  bool used[LOG_FILE_COLUMNS + 1];
  char unit[LOG_FILE_COLUMNS + 1][FIELD];
  size_t num_fields;
} reader;

static fault_place here(const reader *r) { return (fault_place){.line = r->line, .column = r->column}; }

/* ------------------------------------------------------------------------------------------------ fields */

/* The next field of the line without the blanks and quotes around it; false at the end of the line. */
static bool next_field(reader *r, char field[FIELD], fault_place *at)
{
  if (r->at >= r->end || *r->at == '\n')
    return false;
  const char *begin = r->at;
  bool quoted = false;
  while (r->at < r->end && *r->at != '\n' && (quoted || *r->at != r->part)) {
    quoted = quoted != (*r->at == '"');
    r->at++;
  }
  const char *end = r->at;
  *at = here(r);
  r->column += (size_t)(end - begin);
  if (r->at < r->end && *r->at == r->part) {
    r->at++;
    r->column++;
  }
  while (begin < end && (isspace((unsigned char)*begin) || *begin == '"'))
    begin++;
  while (end > begin && (isspace((unsigned char)end[-1]) || end[-1] == '"'))
    end--;
  size_t n = 0;
  for (; begin < end && n + 1 < FIELD; begin++)
    field[n++] = *begin ? *begin : '?';
  field[n] = 0;
  return true;
}

/* To the beginning of the next line that holds something; false at the end of the text. */
static bool next_line(reader *r)
{
  for (;;) {
    while (r->at < r->end && *r->at != '\n')
      r->at++;
    if (r->at >= r->end)
      return false;
    r->at++;
    r->line++;
    r->column = 1;
    const char *c = r->at;
    while (c < r->end && (*c == ' ' || *c == '\r' || *c == '\t'))
      c++;
    if (c < r->end && *c != '\n' && *c != '#')
      return true;
  }
}

/* ------------------------------------------------------------------------------------------------ the heading */

/* "core [degC]", "core (degC)", "probe.core_degC" -> core and degC. False without a unit. */
static bool split_heading(const char *field, char name[LOG_FILE_NAME], char unit[FIELD])
{
  const char *open = strpbrk(field, "[("), *score = strrchr(field, '_');
  size_t n = 0;
  if (open) {
    n = (size_t)(open - field);
    (void)snprintf(unit, FIELD, "%s", open + 1);
    unit[strcspn(unit, "])")] = 0;
  } else if (score) {
    n = (size_t)(score - field);
    (void)snprintf(unit, FIELD, "%s", score + 1);
  }
  while (n > 0 && field[n - 1] == ' ')
    n--;
  const char *from = strncmp(field, "probe.", 6) == 0 && n > 6 ? field + 6 : field;
  n -= (size_t)(from - field);
  (void)snprintf(name, LOG_FILE_NAME, "%.*s", (int)(n < LOG_FILE_NAME ? n : LOG_FILE_NAME - 1), from);
  return n > 0 && unit[0];
}

static bool is_unit_of(const reader *r, quantity_kind kind, const char *unit)
{
  char text[FIELD + 8];
  quantity q;
  (void)snprintf(text, sizeof text, "1 %s", unit);
  return quantity_parse(r->units, kind, text, &q, NULL) == STATUS_OK;
}

static char find_part(const reader *r)
{
  for (const char *c = r->at; c < r->end && *c != '\n'; c++)
    if (*c == ',' || *c == ';' || *c == '\t')
      return *c;
  return ',';
}

static void read_heading(reader *r, log_file *l)
{
  char field[FIELD], name[LOG_FILE_NAME], unit[FIELD] = "";
  fault_place at;
  r->part = find_part(r);
  for (; next_field(r, field, &at); r->num_fields++) {
    unit[0] = 0;
    if (r->num_fields > LOG_FILE_COLUMNS) {
      fault_add(r->faults, at, "more than %d columns", LOG_FILE_COLUMNS);
      return;
    }
    const bool whole = split_heading(field, name, unit);
    (void)snprintf(r->unit[r->num_fields], FIELD, "%s", unit);
    if (r->num_fields == 0) {
      if (!whole || strcmp(name, "time") != 0 || !is_unit_of(r, QUANTITY_TIME, unit))
        fault_add(r->faults, at, "the first column is the time with its unit, for instance \"time [min]\"; found \"%.60s\"", field);
      continue;
    }
    if (!whole)
      fault_add(r->faults, at, "\"%.60s\" has no unit; a column is headed like \"core [degC]\"", field);
    r->used[r->num_fields] = whole && is_unit_of(r, QUANTITY_TEMPERATURE, unit);
    if (r->used[r->num_fields])
      (void)snprintf(l->name[l->num_columns++], LOG_FILE_NAME, "%s", name);
  }
  if (fault_count(r->faults) == 0 && l->num_columns == 0)
    fault_add(r->faults, (fault_place){.line = r->line, .column = 1}, "no column is a temperature; one is headed like \"core [degC]\"");
}

/* ------------------------------------------------------------------------------------------------ the rows */

static bool is_gap(const char *field)
{
  static const char *const gaps[] = {"", "-", "--", "nan", "NaN", "NAN", "null"};
  for (size_t i = 0; i < sizeof gaps / sizeof *gaps; i++)
    if (strcmp(field, gaps[i]) == 0)
      return true;
  return false;
}

/* NAN: a gap, or told. */
static double number_of(reader *r, quantity_kind kind, const char *field, size_t column, fault_place at)
{
  char text[2 * FIELD + 2];
  quantity q;
  message why = {""};
  if (is_gap(field))
    return NAN;
  (void)snprintf(text, sizeof text, "%s %s", field, r->unit[column]);
  if (strspn(field, "+-.0123456789eE") == strlen(field) && quantity_parse(r->units, kind, text, &q, &why) == STATUS_OK)
    return q.value;
  if (fault_count(r->faults) < MOST_FAULTS)
    fault_add(r->faults, at, "\"%.40s\" is no number%s", field, strchr(field, ',') ? "; the decimal sign is a point" : "");
  return NAN;
}

static void read_row(reader *r, log_file *l)
{
  char field[FIELD];
  fault_place at;
  double *row = l->value + l->num_rows * l->num_columns;
  size_t column = 0, kept = 0;
  for (size_t i = 0; i < l->num_columns; i++)
    row[i] = NAN;
  for (; next_field(r, field, &at); column++) {
    if (column >= r->num_fields) {
      if (fault_count(r->faults) < MOST_FAULTS && field[0])
        fault_add(r->faults, at, "field %zu of a table with %zu columns", column + 1, r->num_fields);
    } else if (column == 0) {
      const double time = number_of(r, QUANTITY_TIME, field, 0, at);
      if ((isnan(time) || (l->num_rows > 0 && time < l->time[l->num_rows - 1])) && fault_count(r->faults) < MOST_FAULTS)
        fault_add(r->faults, at, "the times must be there and rise; \"%.40s\" does not", field);
      l->time[l->num_rows] = time;
    } else if (r->used[column]) {
      row[kept++] = number_of(r, QUANTITY_TEMPERATURE, field, column, at);
    }
  }
  if (column > 0)
    l->num_rows++;
}

static size_t count_lines(const char *text, size_t length)
{
  size_t num = 1;
  for (size_t i = 0; i < length; i++)
    num += text[i] == '\n';
  return num;
}

static status make_room(log_file *l, size_t rows, message *msg)
{
  l->time = calloc(rows + 1, sizeof *l->time);
  l->value = calloc((rows + 1) * (l->num_columns + 1), sizeof *l->value);
  return l->time && l->value ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for a log of %zu rows", rows);
}

void log_file_release(log_file *l)
{
  free(l->name);
  free(l->time);
  free(l->value);
  *l = (log_file){0};
}

status log_file_parse(log_file *out, const char *text, size_t length, const quantity_system *units, fault_list *faults, message *msg)
{
  log_file l = {.name = calloc(LOG_FILE_COLUMNS + 1, sizeof *l.name)};
  reader *r = calloc(1, sizeof *r);
  const size_t lines = count_lines(text, length);
  status code = l.name && r ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for a log");
  if (code == STATUS_OK) {
    *r = (reader){.at = text, .end = text + length, .line = 1, .column = 1, .units = units, .faults = faults};
    if (length >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
      r->at += 3;
    if (r->at < r->end && (*r->at == '#' || *r->at == '\n' || *r->at == '\r'))
      (void)next_line(r);
    read_heading(r, &l);
  }
  if (code == STATUS_OK && lines > LOG_FILE_ROWS)
    fault_add(faults, (fault_place){0}, "more than %d rows; take every so many", LOG_FILE_ROWS);
  if (code == STATUS_OK && fault_count(faults) == 0)
    code = make_room(&l, lines, msg);
  while (code == STATUS_OK && fault_count(faults) < MOST_FAULTS && l.time && next_line(r))
    read_row(r, &l);
  if (code == STATUS_OK && fault_count(faults) == 0 && l.num_rows < 2)
    fault_add(faults, (fault_place){0}, "the log holds %zu rows; at least two are wanted", l.num_rows);
  if (code == STATUS_OK && fault_count(faults) > 0)
    code = message_set(msg, STATUS_BAD_INPUT, "the log cannot be used: %zu faults", fault_count(faults));
  free(r);
  if (code == STATUS_OK)
    *out = l;
  else
    log_file_release(&l);
  return code;
}
