#include "io/series_csv.h"

#include <math.h>
#include <string.h>

#include "io/whole_file.h"

static void put_heading(FILE *to, const char *name, const char *unit)
{
  const bool quoted = strpbrk(name, ",\"\r\n") || strpbrk(unit, ",\"\r\n");
  if (quoted)
    (void)fputc('"', to);
  for (const char *c = name; *c; c++) {
    if (*c == '"')
      (void)fputc('"', to);
    (void)fputc(*c, to);
  }
  if (unit[0] && strcmp(unit, "1") != 0)
    (void)fprintf(to, "_%s", unit);
  if (quoted)
    (void)fputc('"', to);
}

status series_csv_write(const char *path, const time_series *s, message *msg)
{
  whole_file *f = NULL;
  const status code = whole_file_open(&f, path, msg);
  if (code != STATUS_OK)
    return code;
  FILE *to = whole_file_stream(f);
  for (size_t c = 0; c < s->num_columns; c++) {
    if (c)
      (void)fputc(',', to);
    put_heading(to, s->name[c], s->unit[c]);
  }
  (void)fputs("\r\n", to);
  for (size_t row = 0; row < s->num_rows; row++) {
    for (size_t c = 0; c < s->num_columns; c++) {
      const double value = s->values[row * s->num_columns + c];
      if (c)
        (void)fputc(',', to);
      if (!isnan(value))
        (void)fprintf(to, "%.12g", value);
    }
    (void)fputs("\r\n", to);
  }
  return whole_file_commit(&f, msg); /* which looks at all errors of the stream */
}
