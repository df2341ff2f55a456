#include "solver/series.h"

#include <math.h>
#include <stdlib.h>

status series_add_column(time_series *s, const char *unit, message *msg, const char *name_format, ...)
{
  const size_t num = s->num_columns + 1;
  char(*names)[64] = realloc(s->name, num * sizeof *names);
  if (names)
    s->name = names;
  char(*units)[16] = realloc(s->unit, num * sizeof *units);
  if (units)
    s->unit = units;
  if (!names || !units)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the names of the series", num * 80);
  va_list args;
  va_start(args, name_format);
  (void)vsnprintf(s->name[num - 1], sizeof *s->name, name_format, args);
  va_end(args);
  (void)snprintf(s->unit[num - 1], sizeof *s->unit, "%s", unit);
  s->num_columns = num;
  return STATUS_OK;
}

status series_reserve(time_series *s, size_t num_rows, message *msg)
{
  if (num_rows <= s->capacity)
    return STATUS_OK;
  double *values = realloc(s->values, num_rows * s->num_columns * sizeof *values);
  if (!values)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for %zu rows of the series",
                       num_rows * s->num_columns * sizeof *values, num_rows);
  s->values = values;
  s->capacity = num_rows;
  return STATUS_OK;
}

double *series_append(time_series *s, message *msg)
{
  if (s->num_rows == s->capacity && series_reserve(s, s->capacity ? 2 * s->capacity : 256, msg) != STATUS_OK)
    return NULL;
  double *row = s->values + s->num_rows++ * s->num_columns;
  for (size_t column = 0; column < s->num_columns; column++)
    row[column] = NAN;
  return row;
}

void series_release(time_series *s)
{
  free(s->name);
  free(s->unit);
  free(s->values);
  *s = (time_series){0};
}
