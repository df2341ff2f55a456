#include "materials/water.h"

#include <math.h>

static double polynomial(const double *a, size_t num, double x)
{
  double sum = 0.0;
  for (size_t i = num; i-- > 0;)
    sum = a[i] + x * sum;
  return sum;
}
#define POLYNOMIAL(a, x) polynomial((a), sizeof(a) / sizeof(a)[0], (x))

/* Least-squares fits to IAPWS SR6-08(2011), Revised Supplementary Release on Properties of Liquid Water at 0.1 MPa, -10..40 degC. */
static const double liquid_cp[] = {4219.303901, -3.468443869, 0.1353179365, -3.694932992e-3, 8.082984809e-5, -1.176086764e-6, 7.879674208e-9};
static const double liquid_density[] = {999.8425804, 6.772750425e-2, -9.112567806e-3, 1.077227209e-4, -1.659789046e-6, 2.089170474e-8, -1.319516186e-10};

/* Above 40 degC a parabola through IAPWS-95 at 50 and 60 degC: 4181.3 and 4185.1 J/(kg K) (from memory). */
static const double warm_cp[] = {4179.367405, 0.09989, 0.009337};

double water_specific_heat(double t)
{
  return t > 40.0 ? POLYNOMIAL(warm_cp, t - 40.0) : POLYNOMIAL(liquid_cp, t);
}

/* SR6-08 Eq. 8; below 0 degC an extrapolation that R15-11 shares. */
double water_conductivity(double t)
{
  const double x = (t + 273.15) / 300.0;
  return 1.6630 * pow(x, -1.15) - 1.7781 * pow(x, -3.4) + 1.1567 * pow(x, -6.0) - 0.432115 * pow(x, -7.6);
}

/* SR6-08 Eq. 7, 253.15..383.15 K. */
double water_viscosity(double t)
{
  const double x = (t + 273.15) / 300.0;
  return 1e-6 * (280.68 * pow(x, -1.9) + 511.45 * pow(x, -7.7) + 61.131 * pow(x, -19.6) + 0.45903 * pow(x, -40.0));
}

double water_density(double t)
{
  return POLYNOMIAL(liquid_density, t);
}

double water_expansion(double t)
{
  double slope = 0.0;
  for (size_t i = sizeof liquid_density / sizeof liquid_density[0]; i-- > 1;)
    slope = (double)i * liquid_density[i] + t * slope;
  return -slope / water_density(t);
}

double water_diffusivity(double t)
{
  return water_conductivity(t) / (water_density(t) * water_specific_heat(t));
}

double water_prandtl(double t)
{
  return water_viscosity(t) * water_specific_heat(t) / water_conductivity(t);
}

double water_density_defect(double t)
{
  return 9.297173e-6 * pow(fabs(t - 4.029325), 1.894816);
}

/* Fits to IAPWS R10-06(2009), ice Ih at 101325 Pa, -60..0 degC (Feistel & Wagner 2006, J. Phys. Chem. Ref. Data 35:1021). */
double water_ice_density(double t)
{
  return 916.7219264 + t * (-0.1464794099 + t * (-2.051797959e-4 + t * 5.249704057e-7));
}

double water_ice_specific_heat(double t)
{
  return 2096.761336 + t * (7.393938971 + t * 2.225727528e-3);
}

double water_supercooled_latent_heat(double t)
{
  return 333427.8635 + t * (2128.802002 + t * (-4.184189225 + t * 0.1210662613));
}

/* Slack 1980 (Phys. Rev. B 22:3065) as carried in the CRC Handbook table of ice; from -30 degC down from memory. Linear between. */
static double ice_slack(double t)
{
  static const double row_t[] = {-60.0, -50.0, -40.0, -30.0, -20.0, -10.0, 0.0};
  static const double row_k[] = {3.0, 2.8, 2.6, 2.5, 2.4, 2.3, 2.14};
  size_t i = 0;
  while (i < 5 && t > row_t[i + 1])
    i++;
  return row_k[i] + (row_k[i + 1] - row_k[i]) * (t - row_t[i]) / (row_t[i + 1] - row_t[i]);
}

double water_ice_conductivity(ice_law law, double t)
{
  const double kelvin = t + 273.15;
  switch (law) {
  case ICE_ANDERSSON_INABA: /* Andersson & Inaba 2005, Phys. Chem. Chem. Phys. 7:1441 */
    return 632.0 / kelvin + 0.38 - 0.00197 * kelvin;
  case ICE_YEN: /* Yen 1981, CRREL Report 81-10 */
    return 9.828 * exp(-0.0057 * kelvin);
  case ICE_FUKUSAKO: /* Fukusako 1990, Int. J. Thermophys. 11:353 */
    return 1.16 * (1.91 - 8.66e-3 * t + 2.97e-5 * t * t);
  case ICE_PRINGLE: /* Pringle et al. 2007, J. Geophys. Res. 112, limit of pure ice */
    return 2.11 - 0.011 * t;
  case ICE_SLACK:
    return ice_slack(t);
  }
  return NAN;
}

const char *water_ice_law_name(ice_law law)
{
  switch (law) {
  case ICE_ANDERSSON_INABA:
    return "Andersson & Inaba 2005";
  case ICE_YEN:
    return "Yen 1981";
  case ICE_FUKUSAKO:
    return "Fukusako 1990";
  case ICE_PRINGLE:
    return "Pringle et al. 2007";
  case ICE_SLACK:
    return "Slack 1980 (CRC Handbook)";
  }
  return "unknown";
}
