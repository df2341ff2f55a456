#include "materials/moist_air.h"

#include <math.h>

static const double vapour_gas_constant = 461.52, dry_gas_constant = 287.05; /* J/(kg K) */
static const double air_specific_heat = 1006.0;                              /* J/(kg K) */
static const double lewis = 0.90;                                            /* Le^(2/3) */
static const double emissivity = 0.95, stefan_boltzmann = 5.670374e-8;         /* of plastic, paint, frost; W/(m2 K4) */
static const double latent_water = 2.50e6, latent_frost = 2.83e6;            /* J/kg     */

double moist_air_saturation_water(double t)
{
  return 611.2 * exp(17.62 * t / (243.12 + t));
}

double moist_air_saturation_ice(double t)
{
  return 611.2 * exp(22.46 * t / (272.62 + t));
}

double moist_air_saturation(double t)
{
  return t <= 0.0 ? moist_air_saturation_ice(t) : moist_air_saturation_water(t);
}

double moist_air_vapour_pressure(double t, double relative_humidity)
{
  return relative_humidity * moist_air_saturation_water(t);
}

double moist_air_dew_point(double vapour_pressure)
{
  const double x = log(vapour_pressure / 611.2);
  return 243.12 * x / (17.62 - x);
}

double moist_air_absolute_humidity(double vapour_pressure, double t)
{
  return vapour_pressure / (vapour_gas_constant * (t + 273.15));
}

double moist_air_humidity_ratio(double vapour_pressure, double pressure)
{
  return dry_gas_constant / vapour_gas_constant * vapour_pressure / (pressure - vapour_pressure);
}

/* m/s: mass transfer coefficient by the analogy of heat and mass transfer; air density at the mean temperature of the film. */
static double transfer(const moist_air_room *room, double surface)
{
  const double density = room->pressure / (dry_gas_constant * (0.5 * (room->temperature + surface) + 273.15));
  return room->convection / (density * air_specific_heat * lewis);
}

double moist_air_condensation(const moist_air_room *room, double surface)
{
  const double in_air = moist_air_absolute_humidity(moist_air_vapour_pressure(room->temperature, room->relative_humidity), room->temperature);
  return transfer(room, surface) * (in_air - moist_air_absolute_humidity(moist_air_saturation(surface), surface));
}

double moist_air_latent_flux(const moist_air_room *room, double surface)
{
  return (surface < 0.0 ? latent_frost : latent_water) * moist_air_condensation(room, surface);
}

double moist_air_latent_coefficient(const moist_air_room *room, double surface)
{
  const double a = surface < 0.0 ? 22.46 : 17.62, b = surface < 0.0 ? 272.62 : 243.12, kelvin = surface + 273.15;
  /* rho_v = p/(R T): d rho_v/dT = rho_v (dlnp/dT - 1/T). */
  const double slope = moist_air_absolute_humidity(moist_air_saturation(surface), surface) * (a * b / ((b + surface) * (b + surface)) - 1.0 / kelvin);
  return (surface < 0.0 ? latent_frost : latent_water) * transfer(room, surface) * slope;
}

double moist_air_convective_part(double film, double room_temperature, double surface_temperature)
{
  const double a = room_temperature + 273.15, s = surface_temperature + 273.15;
  return fmax(film - emissivity * stefan_boltzmann * (a * a + s * s) * (a + s), 0.0);
}
