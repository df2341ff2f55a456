#include "solver/film.h"

#include <math.h>

#include "materials/water.h"

static const double gravity = 9.81;           /* m/s2                                     */
static const double WATER_DENSEST = 999.972; /* kg/m3, at 4.03 degC (Gebhart & Mollendorf 1977) */

double film_nusselt_vertical(double rayleigh, double prandtl)
{
  const double root = 0.825 + 0.387 * pow(rayleigh, 1.0 / 6.0) / pow(1.0 + pow(0.492 / prandtl, 9.0 / 16.0), 8.0 / 27.0);
  return root * root;
}

double film_nusselt_tube(double rayleigh, double prandtl)
{
  const double root = 0.60 + 0.387 * pow(rayleigh, 1.0 / 6.0) / pow(1.0 + pow(0.559 / prandtl, 9.0 / 16.0), 8.0 / 27.0);
  return root * root;
}

double film_nusselt_tube_morgan(double rayleigh)
{
  static const struct { double below, factor, power; } range[] = {
      {1e-2, 0.675, 0.058}, {1e2, 1.02, 0.148}, {1e4, 0.850, 0.188}, {1e7, 0.480, 0.250}, {INFINITY, 0.125, 0.333}};
  size_t i = 0;
  while (rayleigh >= range[i].below) {
    i++;
  }
  return range[i].factor * pow(rayleigh, range[i].power);
}

double film_nusselt_crossflow(double reynolds, double prandtl)
{
  return 0.3 + 0.62 * sqrt(reynolds) * cbrt(prandtl) / pow(1.0 + pow(0.4 / prandtl, 2.0 / 3.0), 0.25) *
                   pow(1.0 + pow(reynolds / 282000.0, 5.0 / 8.0), 0.8);
}

double film_nusselt_along(double reynolds, double prandtl)
{
  const double laminar = 0.664 * sqrt(reynolds) * cbrt(prandtl);
  const double turbulent = 0.037 * pow(reynolds, 0.8) * prandtl / (1.0 + 2.443 * pow(reynolds, -0.1) * (pow(prandtl, 2.0 / 3.0) - 1.0));
  return sqrt(laminar * laminar + turbulent * turbulent);
}

double film_nusselt_layer(double rayleigh, double prandtl)
{
  return rayleigh < 1700.0 ? 1.0 : fmax(1.0, 0.069 * cbrt(rayleigh) * pow(prandtl, 0.074));
}

film_fluid film_water(double temperature)
{
  return (film_fluid){.density = film_water_density(temperature),
                      .specific_heat = water_specific_heat(temperature),
                      .conductivity = water_conductivity(temperature),
                      .viscosity = water_viscosity(temperature)};
}

film_fluid film_air(double temperature)
{
  const double kelvin = temperature + 273.15, viscosity = 1.458e-6 * kelvin * sqrt(kelvin) / (kelvin + 110.4), c = 1006.0;
  return (film_fluid){.density = 101325.0 / (287.05 * kelvin), .specific_heat = c, .conductivity = viscosity * c / 0.71, .viscosity = viscosity};
}

film_fluid film_brine(brine_salt salt, double mass_fraction, double temperature)
{
  return (film_fluid){.density = brine_density(salt, mass_fraction, temperature),
                      .specific_heat = brine_specific_heat(salt, mass_fraction, temperature),
                      .conductivity = brine_conductivity(salt, mass_fraction, temperature),
                      .viscosity = brine_viscosity(salt, mass_fraction, temperature)};
}

double film_prandtl(const film_fluid *f) { return f->viscosity * f->specific_heat / f->conductivity; }

double film_rayleigh(const film_fluid *f, double density_difference, double length)
{
  const double diffusivity = f->conductivity / (f->density * f->specific_heat);
  return gravity * density_difference * length * length * length / (f->viscosity * diffusivity); /* rho nu = viscosity */
}

double film_water_density(double temperature) { return WATER_DENSEST * (1.0 - water_density_defect(temperature)); }

double film_water_density_difference(double surface_temperature, double bulk_temperature)
{
  static const double simpson[9] = {1, 4, 2, 4, 2, 4, 2, 4, 1};
  const double surface = film_water_density(surface_temperature), bulk = film_water_density(bulk_temperature);
  double mean = 0.0; /* over the linear profile from the surface to the bulk */
  for (int i = 0; i < 9; i++) {
    mean += simpson[i] / 24.0 * film_water_density(surface_temperature + (bulk_temperature - surface_temperature) * i / 8.0);
  }
  const double low = fmin(surface_temperature, bulk_temperature), high = fmax(surface_temperature, bulk_temperature);
  const double densest = film_water_density(fmax(low, fmin(high, 4.0))); /* anywhere in the layer */
  const double rising = densest - surface, sinking = densest - bulk;
  return fmax(2.0 * fabs(mean - bulk), 0.35 * fmax(rising, sinking));
}

double film_water_natural(double surface_temperature, double bulk_temperature, double height)
{
  if (surface_temperature == bulk_temperature) {
    return 0.0;
  }
  const film_fluid f = film_water(0.5 * (surface_temperature + bulk_temperature));
  return film_vertical(&f, film_water_density_difference(surface_temperature, bulk_temperature), height);
}

double film_vertical(const film_fluid *f, double density_difference, double height)
{
  return film_nusselt_vertical(film_rayleigh(f, density_difference, height), film_prandtl(f)) * f->conductivity / height;
}

double film_tube(const film_fluid *f, double density_difference, double diameter)
{
  return film_nusselt_tube(film_rayleigh(f, density_difference, diameter), film_prandtl(f)) * f->conductivity / diameter;
}

double film_crossflow(const film_fluid *f, double speed, double diameter)
{
  return film_nusselt_crossflow(speed * diameter * f->density / f->viscosity, film_prandtl(f)) * f->conductivity / diameter;
}

double film_along(const film_fluid *f, double speed, double length)
{
  return film_nusselt_along(speed * length * f->density / f->viscosity, film_prandtl(f)) * f->conductivity / length;
}

double film_stirred(const film_fluid *f, double stirring)
{
  return 0.13 * pow(stirring * f->viscosity / f->density, 0.25) * pow(film_prandtl(f), -2.0 / 3.0) * f->density *
         f->specific_heat;
}

double film_mixed(double natural, double forced) { return cbrt(natural * natural * natural + forced * forced * forced); }
