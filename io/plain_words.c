#include "io/plain_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

void plain_words_duration(double seconds, char text[PLAIN_WORDS])
{
  if (!isfinite(seconds)) {
    (void)snprintf(text, PLAIN_WORDS, "not known");
    return;
  }
  const char *sign = seconds < -0.5 ? "\xE2\x88\x92" : "";
  const double s = fabs(seconds);
  if (s < 59.5)
    (void)snprintf(text, PLAIN_WORDS, "%s%.0f s", sign, s);
  else if (s < 3600.0 - 0.5)
    (void)snprintf(text, PLAIN_WORDS, "%s%.0f min %.0f s", sign, floor(round(s) / 60.0), fmod(round(s), 60.0));
  else if (s < 240.0 * 3600.0) {
    const double minutes = round(s / 60.0);
    (void)snprintf(text, PLAIN_WORDS, "%s%.0f h %.0f min", sign, floor(minutes / 60.0), fmod(minutes, 60.0));
  } else {
    const double hours = round(s / 3600.0);
    (void)snprintf(text, PLAIN_WORDS, "%s%.0f d %.0f h", sign, floor(hours / 24.0), fmod(hours, 24.0));
  }
}

/* Significant digits without an exponent and without zeros at the end. */
static void figure(double value, int digits, char text[PLAIN_WORDS])
{
  if (fabs(value) < 0.999 * pow(10.0, digits) && (value == 0.0 || fabs(value) >= 1e-3))
    (void)snprintf(text, PLAIN_WORDS, "%.*g", digits, value);
  else if (fabs(value) < 1.0)
    (void)snprintf(text, PLAIN_WORDS, "%.*e", digits - 1, value);
  else
    (void)snprintf(text, PLAIN_WORDS, "%.0f", value);
}

void plain_words_mass(double kilograms, bool listed, char text[PLAIN_WORDS])
{
  static const double KG_PER_LB = 0.45359237;
  char metric[PLAIN_WORDS], us[PLAIN_WORDS];
  const bool small = fabs(kilograms) < 0.9995;
  if (!isfinite(kilograms)) {
    (void)snprintf(text, PLAIN_WORDS, "not known");
    return;
  }
  figure(small ? 1e3 * kilograms : kilograms, 3, metric);
  figure(kilograms / KG_PER_LB * (small ? 16.0 : 1.0), small ? 2 : 3, us);
  (void)snprintf(text, PLAIN_WORDS, "%.20s %s%s%.20s %s%s", metric, small ? "g" : "kg", listed ? ", " : " (", us, small ? "oz" : "lb", listed ? "" : ")");
}

void plain_words_volume(double cubic_metres, char text[PLAIN_WORDS])
{
  static const double GALLON = 0.003785411784; /* m3, US; 128 fluid ounces */
  char metric[PLAIN_WORDS], us[PLAIN_WORDS];
  const bool small = fabs(cubic_metres) < 0.9995e-3;
  if (!isfinite(cubic_metres)) {
    (void)snprintf(text, PLAIN_WORDS, "not known");
    return;
  }
  figure(small ? 1e6 * cubic_metres : 1e3 * cubic_metres, small ? 3 : 4, metric);
  figure(cubic_metres / GALLON * (small ? 128.0 : 1.0), 3, us);
  (void)snprintf(text, PLAIN_WORDS, "%.20s %s (%.20s %s)", metric, small ? "mL" : "L", us, small ? "US fl oz" : "US gal");
}

static bool is_long(double metres)
{
  return fabs(metres) >= 10.0; /* five digits and more of millimetres are not read */
}

void plain_words_length(double metres, char text[PLAIN_WORDS])
{
  char number[PLAIN_WORDS];
  if (!isfinite(metres)) {
    (void)snprintf(text, PLAIN_WORDS, "not known");
    return;
  }
  figure(is_long(metres) ? metres : 1e3 * metres, 4, number);
  (void)snprintf(text, PLAIN_WORDS, "%.60s %s", number, is_long(metres) ? "m" : "mm");
}

static void millimetres(double metres, char text[PLAIN_WORDS])
{
  if (is_long(metres)) {
    plain_words_value(metres, 3, "m", text);
    return;
  }
  const double mm = round(metres * 1000.0);
  (void)snprintf(text, PLAIN_WORDS, "%s%.0f mm", mm < 0.0 ? "\xE2\x88\x92" : "", fabs(mm));
}

void plain_words_place(const double point[3], bool revolved, char text[PLAIN_WORDS])
{
  char part[3][PLAIN_WORDS];
  for (int k = 0; k < 3; k++)
    millimetres(point[k], part[k]);
  if (!isfinite(point[0]) || !isfinite(point[2]))
    (void)snprintf(text, PLAIN_WORDS, "not known");
  else if (revolved && fabs(point[0]) < 0.0005)
    (void)snprintf(text, PLAIN_WORDS, "the axis, z = %.30s", part[2]);
  else if (revolved)
    (void)snprintf(text, PLAIN_WORDS, "r = %.30s, z = %.30s", part[0], part[2]);
  else
    (void)snprintf(text, PLAIN_WORDS, "x = %.24s, y = %.24s, z = %.24s", part[0], part[1], part[2]);
}

void plain_words_value(double value, int digits, const char *unit, char text[PLAIN_WORDS])
{
  if (!isfinite(value)) {
    (void)snprintf(text, PLAIN_WORDS, "not known");
    return;
  }
  const double size = fabs(value);
  const int before = size >= 1.0 ? (int)floor(log10(size)) + 1 : 1;
  const int decimals = size > 0.0 && size < 1.0 ? (int)fmin(6.0, digits - 1 - floor(log10(size))) : digits > before ? digits - before : 0;
  const bool zero = size < 0.5 * pow(10.0, -decimals);
  char number[64];
  if (zero) /* as many places as 0 has */
    (void)snprintf(number, sizeof number, "%.*f", digits > before ? digits - before : 0, 0.0);
  else
    (void)snprintf(number, sizeof number, "%.*f", decimals, size);
  const char *sign = plain_words_unit(unit);
  (void)snprintf(text, PLAIN_WORDS, "%s%s%s%.24s", value < 0.0 && !zero ? "\xE2\x88\x92" : "", number, *sign ? " " : "", sign);
}

const char *plain_words_unit(const char *unit)
{
  if (strcmp(unit, "degC") == 0)
    return "\xC2\xB0" "C";
  if (strcmp(unit, "1") == 0)
    return "";
  return unit;
}

void plain_words_wrap(FILE *to, const char *first, const char *further, const char *text)
{
  enum { COLUMNS = 80 };
  int column = fprintf(to, "%s", first);
  bool begins = true;
  for (const char *p = text + strspn(text, " "); *p; p += strspn(p, " ")) {
    const size_t n = strcspn(p, " ");
    if (!begins && column + 1 + (int)n > COLUMNS) {
      column = fprintf(to, "\n%s", further) - 1;
      begins = true;
    }
    column += fprintf(to, "%s%.*s", begins ? "" : " ", (int)n, p);
    begins = false;
    p += n;
  }
  (void)fprintf(to, "\n");
}
