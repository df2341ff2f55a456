#include "io/report_unit.h"

#include <string.h>

/* Of endings that end alike the longest first. */
static const report_unit table[] = {
    {"_J_per_kg", "J/kg", QUANTITY_NUMBER}, {"_m_per_s", "m/s", QUANTITY_NUMBER},
    {"_s", "s", QUANTITY_TIME},         {"_C", "degC", QUANTITY_TEMPERATURE}, {"_m", "m", QUANTITY_LENGTH},    {"_m2", "m2", QUANTITY_AREA},
    {"_m3", "m3", QUANTITY_VOLUME},     {"_kg", "kg", QUANTITY_MASS},         {"_W", "W", QUANTITY_POWER},     {"_K", "K", QUANTITY_DIFFERENCE},
    {"_Pa", "Pa", QUANTITY_NUMBER},     {"_J", "J", QUANTITY_NUMBER},         {"_N", "N", QUANTITY_NUMBER},    {"_A", "A", QUANTITY_NUMBER},
    {"_deg", "degree", QUANTITY_NUMBER},    {"fraction", "1", QUANTITY_SHARE},
    {"_min", "", QUANTITY_NUMBER},      {"_max", "", QUANTITY_NUMBER},    {"_mean", "", QUANTITY_NUMBER},
    {"_low", "", QUANTITY_NUMBER},      {"_high", "", QUANTITY_NUMBER}, /* of what stands before: evaporating_C_min */
};
enum { NUM = sizeof table / sizeof *table };

/* Ends in the suffix; n letters of text count. */
static bool ends(const char *text, size_t n, const char *suffix)
{
  const size_t m = strlen(suffix);
  return n >= m && strncmp(text + n - m, suffix, m) == 0;
}

static bool find(const char *text, size_t n, report_unit *out)
{
  for (size_t i = 0; i < NUM; i++)
    if (ends(text, n, table[i].suffix)) {
      if (!table[i].unit[0])
        return find(text, n - strlen(table[i].suffix), out);
      *out = table[i];
      return true;
    }
  return false;
}

report_unit report_unit_of(const char *path)
{
  report_unit u = {"", "1", QUANTITY_NUMBER};
  for (size_t n = strlen(path); n > 0;) {
    size_t begin = n;
    while (begin > 0 && path[begin - 1] != '.')
      begin--;
    if (find(path + begin, n - begin, &u))
      return u;
    n = begin ? begin - 1 : 0;
  }
  return u;
}
