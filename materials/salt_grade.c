#include "materials/salt_grade.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Shares: stoichiometry for pure substances and hydrates (110.98 / 147.01 and so on); flake and pellets by ASTM D98 and product pages;
 * de-icing salts by public tender texts (MgCl2 39.2-47.5 %, NaCl at least 95 %); food salt and 94-97 % pellets from memory. */
static const salt_grade grades[] = {
  {"CaCl2 anhydrous", "calcium chloride, dry and pure", BRINE_CACL2, 1.0, 1.0, 1.0},
  {"CaCl2 flake 77", "calcium chloride flake 77-80 %", BRINE_CACL2, 0.77, 0.74, 0.80},
  {"CaCl2 flake 83", "calcium chloride flake 83-87 %", BRINE_CACL2, 0.83, 0.83, 0.87},
  {"CaCl2 pellets 90", "calcium chloride pellets 90 %", BRINE_CACL2, 0.90, 0.90, 0.92},
  {"CaCl2 pellets 94", "calcium chloride pellets 94-97 %", BRINE_CACL2, 0.94, 0.94, 0.97},
  {"CaCl2 monohydrate", "CaCl2.H2O", BRINE_CACL2, 0.86035, 0.86035, 0.86035},
  {"CaCl2 dihydrate", "CaCl2.2H2O", BRINE_CACL2, 0.75492, 0.75492, 0.75492},
  {"CaCl2 tetrahydrate", "CaCl2.4H2O", BRINE_CACL2, 0.60632, 0.60632, 0.60632},
  {"CaCl2 hexahydrate", "CaCl2.6H2O", BRINE_CACL2, 0.5066, 0.5066, 0.5066},
  {"NaCl pure", "sodium chloride, dry and pure", BRINE_NACL, 1.0, 1.0, 1.0},
  {"NaCl food salt", "evaporated or food salt", BRINE_NACL, 0.995, 0.99, 0.999},
  {"NaCl rock salt", "rock salt for roads", BRINE_NACL, 0.96, 0.95, 0.98},
  {"MgCl2 anhydrous", "magnesium chloride, dry and pure", BRINE_MGCL2, 1.0, 1.0, 1.0},
  {"MgCl2 hexahydrate", "MgCl2.6H2O", BRINE_MGCL2, 0.46832, 0.46832, 0.46832},
  {"MgCl2 flake", "magnesium chloride flake for roads", BRINE_MGCL2, 0.46, 0.392, 0.475},
  {"KCl pure", "potassium chloride, dry and pure", BRINE_KCL, 1.0, 1.0, 1.0},
  {"ethylene glycol", "ethylene glycol, undiluted, without inhibitors", BRINE_ETHYLENE_GLYCOL, 1.0, 1.0, 1.0},
  {"propylene glycol", "propylene glycol, undiluted, without inhibitors", BRINE_PROPYLENE_GLYCOL, 1.0, 1.0, 1.0},
  {"ethanol", "ethanol without water", BRINE_ETHANOL, 1.0, 1.0, 1.0},
};
enum { NUM = sizeof grades / sizeof *grades };

size_t salt_grade_num(void)
{
  return NUM;
}

const salt_grade *salt_grade_at(size_t i)
{
  return i < NUM ? &grades[i] : NULL;
}

/* ---- names ---- */

static int plain(char c)
{
  return c == '_' || c == '-' ? ' ' : tolower((unsigned char)c);
}

/* How many letters of `name` the text begins with; all of them: it begins with the name. */
static size_t common(const char *text, const char *name)
{
  size_t n = 0;
  while (name[n] && plain(text[n]) == plain(name[n]))
    n++;
  return n;
}

/* "CaCl2 78 %": a salt, then a purity. */
static bool own_purity(salt_grade *out, const char *name)
{
  for (int s = BRINE_CACL2; s <= BRINE_ETHANOL; s++) {
    const char *salt = brine_name((brine_salt)s);
    if (common(name, salt) != strlen(salt) || plain(name[strlen(salt)]) != ' ')
      continue;
    char *end = NULL;
    const double percent = strtod(name + strlen(salt) + 1, &end);
    while (*end == ' ')
      end++;
    if (*end != '%' || end[1] != '\0' || !(percent > 0.0 && percent <= 100.0))
      return false;
    *out = (salt_grade){.name = salt, .words = "salt of the purity given", .salt = (brine_salt)s, .share = 0.01 * percent,
                        .low = 0.01 * percent, .high = 0.01 * percent};
    return true;
  }
  return false;
}

static const salt_grade *closest(const char *name)
{
  const salt_grade *best = NULL;
  size_t most = 1;
  for (size_t i = 0; i < NUM; i++) {
    const size_t n = common(name, grades[i].name);
    if (n > most) {
      most = n;
      best = &grades[i];
    }
  }
  return best;
}

status salt_grade_find(salt_grade *out, const char *name, message *msg)
{
  for (size_t i = 0; i < NUM; i++)
    if (common(name, grades[i].name) == strlen(grades[i].name) && name[strlen(grades[i].name)] == '\0') {
      *out = grades[i];
      return STATUS_OK;
    }
  if (own_purity(out, name))
    return STATUS_OK;
  const salt_grade *near = closest(name);
  return message_set(msg, STATUS_BAD_INPUT,
                     "no grade of salt is named \"%.60s\"%s%s%s; a salt with its purity does too, for instance \"CaCl2 78 %%\"", name,
                     near ? "; the closest is \"" : "", near ? near->name : "", near ? "\"" : "");
}

/* ---- mixing ---- */

double salt_grade_strength(const salt_grade *bags, const double *mass, size_t num, double water)
{
  double salt = 0.0, all = water;
  for (size_t i = 0; i < num; i++) {
    salt += bags[i].share * mass[i];
    all += mass[i];
  }
  return all > 0.0 ? salt / all : NAN;
}

double salt_grade_to_add(const salt_grade *g, double brine, double now, double w)
{
  return w >= now && w < g->share ? brine * (w - now) / (g->share - w) : NAN;
}

double salt_grade_water_to_add(double brine, double now, double w)
{
  return w > 0.0 && w <= now ? brine * (now / w - 1.0) : NAN;
}

/* ---- heat of dissolving ---- */

typedef struct { double bound, heat; } solution_row; /* mol of water per mol of salt; J let go per mol */

static double between(const solution_row *rows, size_t num, double bound)
{
  size_t i = 1;
  while (i + 1 < num && bound > rows[i].bound)
    i++;
  const double share = (bound - rows[i - 1].bound) / (rows[i].bound - rows[i - 1].bound);
  return rows[i - 1].heat + fmin(share, 1.0) * (rows[i].heat - rows[i - 1].heat);
}

double salt_grade_solution_heat(const salt_grade *g)
{
  static const solution_row calcium[] = {{0, 81300 - 6000}, {1, 53700 - 6000}, {2, 45900 - 6000}, {4, 10800 - 6000}, {6, -15800 - 6000}};
  static const solution_row magnesium[] = {{0, 159800}, {6, 17100}};
  const double water = 0.018015, rest = (1.0 - g->share) / water; /* mol of bound water, were all of the rest water */
  switch (g->salt) {
  case BRINE_CACL2: return g->share / 0.11098 * between(calcium, 5, rest * 0.11098 / g->share);
  case BRINE_MGCL2: return g->share / 0.095211 * between(magnesium, 2, rest * 0.095211 / g->share);
  case BRINE_NACL: return g->share / 0.058443 * -3900.0;
  case BRINE_KCL: return g->share / 0.0745513 * -17200.0;
  default: return NAN;
  }
}
