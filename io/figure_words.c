#include "io/figure_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "io/report_unit.h"

figure_words_scale figure_words_axis(const char *unit, double largest)
{
  const double a = fabs(largest);
  if (strcmp(unit, "s") == 0)
    return a >= 7200.0 ? (figure_words_scale){1.0 / 3600.0, "h"} : a >= 600.0 ? (figure_words_scale){1.0 / 60.0, "min"} : (figure_words_scale){1.0, "s"};
  if (strcmp(unit, "J") == 0)
    return a >= 3.6e4 ? (figure_words_scale){1.0 / 3.6e6, "kWh"} : (figure_words_scale){1e-3, "kJ"};
  if (strcmp(unit, "m") == 0)
    return a < 1.0 ? (figure_words_scale){1e3, "mm"} : (figure_words_scale){1.0, "m"};
  if (strcmp(unit, "m3") == 0)
    return (figure_words_scale){1e3, "L"};
  if (strcmp(unit, "Pa") == 0)
    return (figure_words_scale){1e-5, "bar"};
  if (strcmp(unit, "degC") == 0)
    return (figure_words_scale){1.0, "\xC2\xB0"
                                    "C"};
  return (figure_words_scale){1.0, strcmp(unit, "1") == 0 ? "" : unit};
}

void figure_words_of(const char *path, double value, char text[PLAIN_WORDS])
{
  const report_unit u = report_unit_of(path);
  if (isnan(value)) {
    (void)snprintf(text, PLAIN_WORDS, "not known");
  } else if (u.kind == QUANTITY_TIME) {
    plain_words_duration(value, text);
  } else if (u.kind == QUANTITY_SHARE) {
    (void)snprintf(text, PLAIN_WORDS, "%.4g %%", 100.0 * value);
  } else {
    const figure_words_scale s = figure_words_axis(u.unit, value);
    (void)snprintf(text, PLAIN_WORDS, "%.4g%s%s", value * s.scale, s.unit[0] ? " " : "", s.unit);
  }
}
