#include "materials/material_solid.h"

#include <ctype.h>
#include <math.h>
#include <string.h>

/* How conductivity follows temperature, k(t) = k(0 degC) * shape(t). */
typedef enum {
  SHAPE_LINEAR,  /* 1 + slope t                                                                  */
  SHAPE_NIST,    /* ratio of the NIST polynomial of the alloy to its value at 0 degC, held at its
                    300 K value above 300 K, where the polynomial ends                          */
  SHAPE_FOAM     /* F(0) / F(t), F the R-value factor of the EPS-IA booklet, base minus slope t  */
} shape_kind;

/* NIST cryogenic material properties: log10 k = sum a_i x^i, x = log10(T / K), 4..300 K. */
enum { NIST_TERMS = 9 };
static const double nist_1100[NIST_TERMS] = {23.39172, -148.5733, 422.1917, -653.6664, 607.0402, -346.152, 118.4276, -22.2781, 1.770187};
static const double nist_3003[NIST_TERMS] = {0.63736, -1.1437, 7.4624, -12.6905, 11.9165, -6.18721, 1.63939, -0.172667, 0.0};
static const double nist_6061[NIST_TERMS] = {0.07918, 1.0957, -0.07277, 0.08084, 0.02803, -0.09464, 0.04179, -0.00571, 0.0};
static const double nist_304[NIST_TERMS] = {-1.4087, 1.3982, 0.2543, -0.626, 0.2334, 0.4256, -0.4658, 0.165, -0.0199};

typedef struct {
  const char *name;
  double density;             /* kg/m3                                     */
  double specific_heat;       /* J/(kg K) at 0 degC                        */
  double specific_heat_slope; /* J/(kg K2)                                 */
  double low, conductivity, high; /* W/(m K) at 0 degC, published range    */
  shape_kind shape;
  double base, slope;         /* SHAPE_LINEAR: slope, 1/K; SHAPE_FOAM: both */
  const double *nist;
  bool chloride;              /* attacked by chloride brines (common practice, no source) */
  const char *source;
} solid;

/* Slope of specific heat: of polymers 0.4 % per K where no table was at hand (from memory); metals, glass, foams: none. */
static const solid solids[] = {
    {"aluminium 1100", 2710, 882, 0.0, 215, 222, 225, SHAPE_NIST, 0, 0, nist_1100, true,
     "producer data 222 W/mK at 25 degC (O temper); T-dependence NIST; cp from memory"},
    {"aluminium 3003", 2730, 878, 0.0, 155, 193, 193, SHAPE_NIST, 0, 0, nist_3003, true,
     "producer data: O 193, H12 163, H14 159, H18 155 W/mK; T-dependence NIST; cp from memory"},
    {"aluminium 6061", 2700, 880, 0.0, 152, 160, 170, SHAPE_NIST, 0, 0, nist_6061, true,
     "T6: supplier 167, NIST 151 at 0 degC; T-dependence NIST; cp from memory"},
    {"copper", 8933, 381, 0.0, 385, 404, 405, SHAPE_LINEAR, 0, -3.0e-4, NULL, false,
     "Incropera Table A.1: 413 W/mK at 200 K, 401 at 300 K"},
    {"copper tube", 8940, 385, 0.0, 300, 335, 345, SHAPE_LINEAR, 0, 0, NULL, false,
     "C12200, phosphorus-deoxidised: supplier data (from memory)"},
    {"brass", 8400, 380, 0.0, 105, 120, 125, SHAPE_LINEAR, 0, 0, NULL, true, "ISO 10456 (from memory)"},
    {"stainless steel 304", 7900, 470, 0.0, 14.0, 14.7, 16.3, SHAPE_NIST, 0, 0, nist_304, true,
     "NIST 14.6 W/mK at 0 degC, Incropera 14.9 at 300 K (from memory); T-dependence NIST"},
    {"mild steel", 7850, 460, 0.0, 45, 50, 60, SHAPE_LINEAR, 0, 0, NULL, true, "ISO 10077-2; CIBSE Guide A"},
    {"galvanised steel", 7850, 460, 0.0, 45, 50, 60, SHAPE_LINEAR, 0, 0, NULL, true, "as mild steel: ISO 10077-2; CIBSE Guide A"},
    {"hdpe", 955, 1850, 6.25, 0.40, 0.45, 0.52, SHAPE_LINEAR, 0, -2.0e-3, NULL, false,
     "ISO 10077-2: 0.50 W/mK; k 10 % higher at -50 degC and cp 1700/1850/1950 at -20/0/20 degC from memory"},
    {"pp", 910, 1570, 5.7, 0.17, 0.22, 0.22, SHAPE_LINEAR, 0, 7.0e-4, NULL, false,
     "Springer Handbook of Condensed Matter and Materials Data Table 3.3-6"},
    {"pvc", 1390, 900, 3.6, 0.15, 0.165, 0.17, SHAPE_LINEAR, 0, 0, NULL, false, "ISO 10077-2: 0.17; CIBSE Guide A: 0.16 W/mK"},
    {"pla", 1240, 1200, 4.8, 0.11, 0.13, 0.20, SHAPE_LINEAR, 0, 0, NULL, false,
     "data sheet 0.13 W/mK; cp of the glassy state from memory; solid, multiply by the infill of a print"},
    {"petg", 1270, 1200, 4.8, 0.17, 0.21, 0.29, SHAPE_LINEAR, 0, 0, NULL, false, "supplier data (from memory)"},
    {"abs", 1040, 1300, 5.2, 0.17, 0.18, 0.25, SHAPE_LINEAR, 0, 0, NULL, false, "Plastics Engineering Table 1.8: 0.25; plastics tables 0.17 W/mK"},
    {"acrylic", 1180, 1420, 3.5, 0.17, 0.19, 0.21, SHAPE_LINEAR, 0, 0, NULL, false, "ISO 10077-2: 0.18; Plastics Engineering Table 1.8: 0.20 W/mK"},
    {"silicone rubber", 1200, 1200, 0.0, 0.20, 0.30, 0.35, SHAPE_LINEAR, 0, 0, NULL, false, "ISO 10077-2: 0.35 pure; filler-dependent; cp from memory"},
    {"glass", 2500, 790, 0.0, 0.95, 1.0, 1.05, SHAPE_LINEAR, 0, 0, NULL, false, "soda-lime: ISO 10077-2; CIBSE Guide A"},
    {"borosilicate glass", 2230, 750, 0.0, 1.05, 1.1, 1.2, SHAPE_LINEAR, 0, 1.6e-3, NULL, false,
     "CRC Handbook, thermal conductivity of glasses: 0.90/1.10/1.25 W/mK at -100/0/100 degC"},
    {"eps", 15, 1300, 0.0, 0.032, 0.034, 0.038, SHAPE_FOAM, 1.125, 0.0050, NULL, false, "15 kg/m3; EPS-IA booklet Eq. 3 for T; base value from memory"},
    {"eps 30", 30, 1300, 0.0, 0.029, 0.031, 0.034, SHAPE_FOAM, 1.119, 0.0048, NULL, false, "30 kg/m3; EPS-IA booklet Eq. 4 for T; base value from memory"},
    {"xps", 32, 1450, 0.0, 0.028, 0.032, 0.036, SHAPE_FOAM, 1.100, 0.0040, NULL, false, "32 kg/m3; EPS-IA booklet Eq. 5 for T; cp from memory"},
    {"pu foam", 35, 1400, 0.0, 0.022, 0.026, 0.030, SHAPE_LINEAR, 0, 0, NULL, false, "aged; CIBSE Guide A 0.028-0.030 W/mK, cp 1470"},
    {"plywood", 500, 1600, 0.0, 0.11, 0.13, 0.15, SHAPE_LINEAR, 0, 0, NULL, false, "ISO 10456 softwood 500 kg/m3, dry, across the grain"},
    {"concrete", 2300, 1000, 0.0, 1.35, 1.75, 2.3, SHAPE_LINEAR, 0, 0, NULL, false, "ISO 10456, dense"},
    {"air", 1.293, 1006, 0.0, 0.0241, 0.0243, 0.0244, SHAPE_LINEAR, 0, 3.09e-3, NULL, false,
     "handbook value at 1 atm, k = 0.0243 + 7.5e-5 t W/mK (from memory); density of 0 degC throughout"},
};

size_t material_solid_count(void)
{
  return sizeof solids / sizeof solids[0];
}

const char *material_solid_name(size_t index)
{
  return index < material_solid_count() ? solids[index].name : NULL;
}

/* Letters compared without case; a run of blanks, '-' or '_' counts as one blank. */
static bool same_name(const char *a, const char *b)
{
  while (*a && *b) {
    const bool gap_a = *a == ' ' || *a == '-' || *a == '_', gap_b = *b == ' ' || *b == '-' || *b == '_';
    if (gap_a != gap_b || (!gap_a && tolower((unsigned char)*a) != tolower((unsigned char)*b)))
      return false;
    a++;
    b++;
  }
  return *a == *b;
}

static const solid *find(const char *name)
{
  for (size_t i = 0; i < material_solid_count(); i++)
    if (same_name(solids[i].name, name))
      return &solids[i];
  return NULL;
}

/* Edits (insert, drop, change one letter) that turn one name into the other; the first 63 letters count. */
static unsigned edits(const char *a, const char *b)
{
  unsigned row[64];
  const size_t m = strlen(a) < 63 ? strlen(a) : 63, n = strlen(b) < 63 ? strlen(b) : 63;
  for (size_t j = 0; j <= n; j++)
    row[j] = (unsigned)j;
  for (size_t i = 1; i <= m; i++) {
    unsigned diagonal = row[0];
    row[0] = (unsigned)i;
    for (size_t j = 1; j <= n; j++) {
      const unsigned change = diagonal + (tolower((unsigned char)a[i - 1]) != tolower((unsigned char)b[j - 1]));
      const unsigned shorter = row[j] < row[j - 1] ? row[j] + 1 : row[j - 1] + 1;
      diagonal = row[j];
      row[j] = change < shorter ? change : shorter;
    }
  }
  return row[n];
}

const char *material_solid_nearest(const char *name)
{
  size_t best = 0;
  for (size_t i = 1; i < material_solid_count(); i++)
    if (edits(name, solids[i].name) < edits(name, solids[best].name))
      best = i;
  return solids[best].name;
}

bool material_solid_attacked_by_chloride(const char *name)
{
  const solid *s = find(name);
  return s && s->chloride;
}

bool material_solid_conductivity_spread(const char *name, solid_spread *out)
{
  const solid *s = find(name);
  if (s)
    *out = (solid_spread){s->low, s->conductivity, s->high};
  return s != NULL;
}

static double nist_conductivity(const double *a, double t)
{
  const double x = log10(fmin(t + 273.15, 300.0));
  double sum = 0.0;
  for (size_t i = NIST_TERMS; i-- > 0;)
    sum = a[i] + x * sum;
  return pow(10.0, sum);
}

static double conductivity(const solid *s, double t)
{
  switch (s->shape) {
  case SHAPE_NIST:
    return s->conductivity * nist_conductivity(s->nist, t) / nist_conductivity(s->nist, 0.0);
  case SHAPE_FOAM:
    return s->conductivity * s->base / (s->base - s->slope * t);
  case SHAPE_LINEAR:
    break;
  }
  return s->conductivity * (1.0 + s->slope * t);
}

/* Rows half a kelvin apart; H = u = 0 at 0 degC. Beyond the ends the end rows are continued. */
static status curve_of(phase_curve *out, const solid *s, message *msg)
{
  enum { HALF = 200 };
  const double step = 0.5;
  phase_path path;
  status result = phase_curve_path_create(&path, 2 * HALF + 1, msg);
  if (result != STATUS_OK)
    return result;
  for (size_t i = 0; i < path.num; i++) {
    const double t = step * ((double)i - HALF);
    path.temperature[i] = t;
    path.enthalpy[i] = s->density * t * (s->specific_heat + 0.5 * s->specific_heat_slope * t);
    path.liquid_fraction[i] = 0.0;
  }
  path.potential[HALF] = 0.0;
  for (size_t i = HALF; i < 2 * HALF; i++) {
    const double up = path.temperature[i], down = -up;
    const double rise = (conductivity(s, up) + 4.0 * conductivity(s, up + 0.5 * step) + conductivity(s, up + step)) / 6.0;
    const double fall = (conductivity(s, down) + 4.0 * conductivity(s, down - 0.5 * step) + conductivity(s, down - step)) / 6.0;
    path.potential[i + 1] = path.potential[i] + rise * step;
    path.potential[2 * HALF - i - 1] = path.potential[2 * HALF - i] - fall * step;
  }
  result = phase_curve_through(out, &path, 0.0, (path.enthalpy[2 * HALF] - path.enthalpy[0]) / 1000.0, msg);
  phase_curve_path_release(&path);
  return result;
}

status material_solid(material *out, const char *name, message *msg)
{
  const solid *s = find(name);
  *out = (material){.density = 0.0};
  if (!s)
    return message_set(msg, STATUS_BAD_INPUT, "unknown material '%s'; the nearest known is '%s'", name, material_solid_nearest(name));
  status result;
  if (s->shape == SHAPE_LINEAR && s->slope == 0.0 && s->specific_heat_slope == 0.0)
    result = material_constant(out, s->name, s->conductivity, s->density, s->specific_heat, msg);
  else
    result = curve_of(&out->curve, s, msg);
  if (result != STATUS_OK)
    return result;
  out->density = s->density;
  (void)snprintf(out->name, sizeof out->name, "%s", s->name);
  (void)snprintf(out->source, sizeof out->source, "%s", s->source);
  return STATUS_OK;
}
