#include "materials/refrigerant.h"

#include <ctype.h>
#include <math.h>
#include <stddef.h>

static const double lowest = -60.0, highest = 65.0; /* degC */

typedef struct {
  const char *name;
  bool estimate, flammable;
  double critical_temperature, critical_pressure; /* K, Pa; NAN: saturation by three points */
  double dew[4], bubble[4];                       /* ln(p/p_c) = (T_c/T) sum a_i th^(1, 1.5, 2.5, 5), th = 1 - T/T_c */
  double critical_density;                        /* kg/m3 */
  double vapour[4];                               /* rho_c exp(c1 th^0.35 + c2 th + c3 th^2 + c4 th^4)   */
  double liquid[3];                               /* rho_c (1 + c1 th^0.35 + c2 th^0.75 + c3 th^1.5)     */
  double latent[3];                               /* kJ/kg: c1 th^0.38 + c2 th^0.8 + c3 th^1.4           */
  double enthalpy[5];                             /* kJ/kg: sum p_i t^i                                  */
  double vapour_heat[3];                          /* J/(kg K): sum c_i t^i                               */
  double exponent[3];
} coefficients;

/* Least-squares fits to the solved equations of state, -50..60 degC. */
static const coefficients all[] = {
    [REFRIGERANT_R290] = {.name = "R290", .flammable = true, .critical_temperature = 369.89, .critical_pressure = 4251200.0,
      .dew = {-6.745603, 1.4874, -1.460759, -2.368966}, .bubble = {-6.745603, 1.4874, -1.460759, -2.368966},
      .critical_density = 220.478, .vapour = {-2.15556, -4.87942, -4.61809, -25.26178}, .liquid = {1.90758, 0.47595, 0.22829},
      .latent = {580.4267, 162.2559, -191.412}, .enthalpy = {0.014, 2.49955, 0.00365044, 1.63303e-05, 1.08149e-07},
      .vapour_heat = {1739.0, 8.781, 0.0410}, .exponent = {1.0714, -0.001165, -0.000993}},
    [REFRIGERANT_R134A] = {.name = "R134a", .critical_temperature = 374.18, .critical_pressure = 4059280.0,
      .dew = {-7.640143, 1.750204, -2.559281, -3.534733}, .bubble = {-7.640143, 1.750204, -2.559281, -3.534733},
      .critical_density = 508.0, .vapour = {-2.31734, -5.66259, -5.33006, -33.40925}, .liquid = {2.12902, 0.41329, 0.34037},
      .latent = {302.8102, 61.9833, -45.277}, .enthalpy = {0.0054, 1.34285, 0.00133884, 6.63655e-06, 4.98259e-08},
      .vapour_heat = {897.0, 4.468, 0.0192}, .exponent = {1.0670, -0.000970, -0.000820}},
    [REFRIGERANT_R404A] = {.name = "R404A", .critical_temperature = 345.27, .critical_pressure = 3734800.0,
      .dew = {-7.552583, 1.928321, -2.570512, -3.403599}, .bubble = {-7.371619, 1.540022, -1.951555, -4.004547},
      .critical_density = 482.163, .vapour = {-2.28776, -5.51665, -5.20768, -31.5459}, .liquid = {2.07362, 0.54322, 0.19682},
      .latent = {272.2181, 83.7169, -73.6437}, .enthalpy = {0.0488, 1.38533, 0.00184595, 1.77868e-05, 2.43859e-07},
      .vapour_heat = {999.0, 6.289, 0.0372}, .exponent = {1.0294, -0.001411, -0.001139}},
    [REFRIGERANT_R410A] = {.name = "R410A", .critical_temperature = 344.494, .critical_pressure = 4901200.0,
      .dew = {-7.492703, 1.636276, -2.066055, -3.453795}, .bubble = {-7.393517, 1.372562, -1.698571, -4.269679},
      .critical_density = 459.03, .vapour = {-2.05344, -6.23284, -4.06533, -33.2134}, .liquid = {2.49599, 0.20504, 0.49811},
      .latent = {356.7432, 133.6569, -114.6293}, .enthalpy = {0.0749, 1.51302, 0.0020828, 2.45701e-05, 3.32741e-07},
      .vapour_heat = {1131.0, 8.589, 0.0499}, .exponent = {1.1062, -0.001073, -0.000558}},
    [REFRIGERANT_R449A] = {.name = "R449A", .estimate = true, .critical_temperature = NAN, .critical_pressure = NAN},
};
enum { NUM = sizeof all / sizeof all[0] };

/* R449A: ln p linear-quadratic in 1/T through three points, Pa. */
static const double estimate_kelvin[3] = {253.15, 273.15, 313.15};
static const double estimate_dew[3] = {2.34e5, 4.84e5, 15.3e5}, estimate_bubble[3] = {2.89e5, 5.84e5, 18.0e5};

static const coefficients *of(refrigerant_kind kind)
{
  return kind >= REFRIGERANT_R290 && kind < (refrigerant_kind)NUM ? &all[kind] : NULL;
}

/* Fits of density and heat: R449A borrows R404A's. NULL out of range. */
static const coefficients *fits(refrigerant_kind kind, double temperature)
{
  const coefficients *c = of(kind == REFRIGERANT_R449A ? REFRIGERANT_R404A : kind);
  return c && temperature >= lowest && temperature <= highest ? c : NULL;
}

const char *refrigerant_name(refrigerant_kind kind)
{
  const coefficients *c = of(kind);
  return c ? c->name : NULL;
}

bool refrigerant_from_name(const char *name, refrigerant_kind *out)
{
  for (int i = 0; i < (int)NUM; i++) {
    const char *a = name, *b = all[i].name;
    while (*a && tolower((unsigned char)*a) == tolower((unsigned char)*b)) {
      a++;
      b++;
    }
    if (*a == '\0' && *b == '\0') {
      *out = (refrigerant_kind)i;
      return true;
    }
  }
  return false;
}

bool refrigerant_is_estimate(refrigerant_kind kind)
{
  const coefficients *c = of(kind);
  return c && c->estimate;
}

bool refrigerant_is_flammable(refrigerant_kind kind)
{
  const coefficients *c = of(kind);
  return c && c->flammable;
}

/* Lagrange through three points of ln p against 1/T. */
static double estimated_pressure(const double *p, double kelvin)
{
  double sum = 0.0;
  for (int i = 0; i < 3; i++) {
    double weight = 1.0;
    for (int j = 0; j < 3; j++)
      if (j != i)
        weight *= (1.0 / kelvin - 1.0 / estimate_kelvin[j]) / (1.0 / estimate_kelvin[i] - 1.0 / estimate_kelvin[j]);
    sum += weight * log(p[i]);
  }
  return exp(sum);
}

double refrigerant_pressure(refrigerant_kind kind, refrigerant_line line, double temperature)
{
  const coefficients *c = of(kind);
  if (!c || !(temperature >= lowest && temperature <= highest))
    return NAN;
  const double kelvin = temperature + 273.15;
  if (c->estimate)
    return estimated_pressure(line == REFRIGERANT_DEW ? estimate_dew : estimate_bubble, kelvin);
  const double *a = line == REFRIGERANT_DEW ? c->dew : c->bubble, th = 1.0 - kelvin / c->critical_temperature, root = sqrt(th);
  const double sum = th * (a[0] + root * (a[1] + th * a[2])) + a[3] * th * th * th * th * th;
  return c->critical_pressure * exp(c->critical_temperature / kelvin * sum);
}

/* Newton on ln p against 1/T, nearly a straight line: a few steps from anywhere in range. */
double refrigerant_temperature(refrigerant_kind kind, refrigerant_line line, double pressure)
{
  const double low = refrigerant_pressure(kind, line, lowest), high = refrigerant_pressure(kind, line, highest);
  if (!(pressure >= low && pressure <= high))
    return NAN;
  double cold = 1.0 / (lowest + 273.15), warm = 1.0 / (highest + 273.15);
  double at_cold = log(low / pressure), at_warm = log(high / pressure);
  for (int i = 0; i < 60; i++) {
    const double x = cold + (warm - cold) * at_cold / (at_cold - at_warm);
    const double t = fmin(fmax(1.0 / x - 273.15, lowest), highest), y = log(refrigerant_pressure(kind, line, t) / pressure);
    if (fabs(y) < 1e-14)
      return t;
    /* Illinois: halve the end that stays, so that both ends close in. */
    if (y < 0.0) {
      cold = x;
      at_cold = y;
      at_warm *= 0.5;
    } else {
      warm = x;
      at_warm = y;
      at_cold *= 0.5;
    }
    if (cold - warm < 1e-17)
      break;
  }
  return 1.0 / (cold + (warm - cold) * at_cold / (at_cold - at_warm)) - 273.15;
}

double refrigerant_vapour_density(refrigerant_kind kind, double temperature)
{
  const coefficients *c = fits(kind, temperature);
  if (!c)
    return NAN;
  const double th = 1.0 - (temperature + 273.15) / c->critical_temperature;
  return c->critical_density * exp(c->vapour[0] * pow(th, 0.35) + c->vapour[1] * th + c->vapour[2] * th * th + c->vapour[3] * th * th * th * th);
}

double refrigerant_liquid_density(refrigerant_kind kind, double temperature)
{
  const coefficients *c = fits(kind, temperature);
  if (!c)
    return NAN;
  const double th = 1.0 - (temperature + 273.15) / c->critical_temperature;
  return c->critical_density * (1.0 + c->liquid[0] * pow(th, 0.35) + c->liquid[1] * pow(th, 0.75) + c->liquid[2] * pow(th, 1.5));
}

double refrigerant_latent_heat(refrigerant_kind kind, double temperature)
{
  const coefficients *c = fits(kind, temperature);
  if (!c)
    return NAN;
  const double th = 1.0 - (temperature + 273.15) / c->critical_temperature;
  return 1000.0 * (c->latent[0] * pow(th, 0.38) + c->latent[1] * pow(th, 0.8) + c->latent[2] * pow(th, 1.4));
}

double refrigerant_liquid_enthalpy(refrigerant_kind kind, double t)
{
  const coefficients *c = fits(kind, t);
  if (!c)
    return NAN;
  const double *p = c->enthalpy;
  return 1000.0 * (p[0] + t * (p[1] + t * (p[2] + t * (p[3] + t * p[4]))));
}

double refrigerant_vapour_specific_heat(refrigerant_kind kind, double t)
{
  const coefficients *c = fits(kind, t);
  return c ? c->vapour_heat[0] + t * (c->vapour_heat[1] + t * c->vapour_heat[2]) : NAN;
}

double refrigerant_isentropic_exponent(refrigerant_kind kind, double evaporating, double condensing)
{
  const coefficients *c = fits(kind, evaporating);
  return c ? c->exponent[0] + c->exponent[1] * evaporating + c->exponent[2] * condensing : NAN;
}
