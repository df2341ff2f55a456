#include "materials/air_in_water.h"

#include <math.h>

static const double SATURATION = 29.14e-6;  /* m3 STP/kg, 0 degC, 101325 Pa */
static const double STANDARD_PRESSURE = 101325.0, VAPOUR_PRESSURE = 611.0; /* Pa; of water at 0 degC */

double air_in_water_balance(double temperature)
{
  static const double gas[3][4] = {{-172.4965, 248.4262, 143.0738, -21.7120},  /* N2 */
                                   {-173.4292, 249.6339, 143.3483, -21.8492},  /* O2 */
                                   {-173.5146, 245.4510, 141.8222, -21.8020}}; /* Ar */
  const double x = (temperature + 273.15) / 100.0;
  double sum = 0.0; /* mL STP per litre: per kg within 0.1 % below 10 degC, 0.5 % at 30 degC */
  for (int i = 0; i < 3; i++)
    sum += exp(gas[i][0] + gas[i][1] / x + gas[i][2] * log(x) + gas[i][3] * x);
  return 1e-6 * sum;
}

double air_in_water_saturation(double pressure)
{
  return SATURATION * fmax(pressure - VAPOUR_PRESSURE, 0.0) / (STANDARD_PRESSURE - VAPOUR_PRESSURE);
}

double air_in_water_oxygen_diffusivity(double temperature)
{
  const double kelvin = temperature + 273.15;
  return 1e-4 * pow(10.0, -4.410 + 773.8 / kelvin - (506.4 / kelvin) * (506.4 / kelvin));
}

double air_in_water_treated(air_treatment treatment, double temperature, double pressure)
{
  switch (treatment) {
  case AIR_TAP:
    return 0.9;
  case AIR_BOILED:
    return 0.15;
  case AIR_DEGASSED:
    return 0.10;
  case AIR_STOOD:
  case AIR_AERATED:
    break;
  }
  return air_in_water_balance(temperature) / SATURATION * air_in_water_saturation(pressure) / SATURATION;
}
