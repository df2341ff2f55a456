#include "io/page_json.h"

#include <math.h>

void page_json_text(FILE *to, const char *text)
{
  fputc('"', to);
  for (; *text; text++) {
    const unsigned char c = (unsigned char)*text;
    if (c == '"' || c == '\\')
      fprintf(to, "\\%c", c);
    else if (c < 0x20 || c == '<' || c == '>' || c == '&')
      fprintf(to, "\\u%04x", c);
    else
      fputc(c, to);
  }
  fputc('"', to);
}

void page_json_raw(FILE *to, const char *text)
{
  for (; *text; text++)
    if (*text == '<') /* in strings only: escaped, it cannot end the script that holds it */
      fputs("\\u003c", to);
    else
      fputc(*text, to);
}

void page_json_key(FILE *to, const char *name)
{
  page_json_text(to, name);
  fputc(':', to);
}

void page_json_number(FILE *to, double value)
{
  if (isfinite(value))
    fprintf(to, "%.12g", value);
  else
    fputs("null", to);
}

void page_json_numbers(FILE *to, const double *values, size_t num)
{
  for (size_t i = 0; i < num; i++) {
    fputs(i ? "," : "[", to);
    page_json_number(to, values[i]);
  }
  fputs(num ? "]" : "[]", to);
}
