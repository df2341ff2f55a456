#include "solver/front_film.h"

#include <math.h>

#include "solver/film.h"

static const double VISCOSITY = 1.79e-6;                          /* m2/s, water at 0 degC */
static const double WATER_CONDUCTIVITY = 0.561, PRANDTL = 13.4;   /* W/(m K), 1; at 0 degC */
static const double GRAVITY = 9.81;
static const double SALT_DIFFUSIVITY = 0.75e-9, SALT_DENSITY = 0.8e-3; /* m2/s; relative rise of density per kg/m3 */
static const double CRITICAL_RAYLEIGH = 1000.0;
static const double STILL_MOST = 3e-3, UNMOVED_MOST = 8e-3;       /* m */
static const double DENSEST_AT = 4.0;                             /* degC */

double front_film_stirred(double specific_power, double diffusivity)
{
  const double schmidt = VISCOSITY / diffusivity;
  return diffusivity / (0.13 * pow(specific_power * VISCOSITY, 0.25) * pow(schmidt, -2.0 / 3.0));
}

/* Heat and air alike: Sh = Nu (Sc / Pr)^(1/3). */
static double beside(double heat_transfer_coefficient, double diffusivity)
{
  return heat_transfer_coefficient > 0.0 ? WATER_CONDUCTIVITY / heat_transfer_coefficient * cbrt(PRANDTL * diffusivity / VISCOSITY) : INFINITY;
}

double front_film_thermal(double bulk_temperature, double height, double diffusivity)
{
  return beside(bulk_temperature > 0.0 ? film_water_natural(0.0, bulk_temperature, height) : 0.0, diffusivity);
}

double front_film_pumped(double speed, double height, double diffusivity)
{
  const film_fluid water = film_water(0.0);
  return beside(film_along(&water, speed, height), diffusivity);
}

double front_film_solutal(double minerals, double diffusivity)
{
  if (!(minerals > 0.0))
    return INFINITY;
  const double salt = cbrt(CRITICAL_RAYLEIGH * VISCOSITY * SALT_DIFFUSIVITY / (GRAVITY * SALT_DENSITY * minerals));
  return salt * cbrt(diffusivity / SALT_DIFFUSIVITY);
}

static double cube(double x) { return x * x * x; }

double front_film_at(const front_film_setting *s, double bulk_temperature, double normal_z)
{
  if (!isnan(s->thickness))
    return s->factor * s->thickness;
  if (s->kind == MOTION_NONE && !s->aerated)
    return s->factor * UNMOVED_MOST;
  double sum = cube(1.0 / STILL_MOST);
  if (normal_z > -FRONT_FILM_LEVEL || bulk_temperature > DENSEST_AT)
    sum += cube(1.0 / front_film_thermal(bulk_temperature, s->height, s->diffusivity));
  if (normal_z < FRONT_FILM_LEVEL)
    sum += cube(1.0 / front_film_solutal(s->minerals, s->diffusivity));
  if (s->kind == MOTION_STIRRED)
    sum += cube(1.0 / (s->speed > 0.0 ? front_film_pumped(s->speed, s->height, s->diffusivity) : front_film_stirred(s->stirring, s->diffusivity)));
  if (s->aerated)
    sum += cube(1.0 / front_film_stirred(FRONT_FILM_AIR_POWER, s->diffusivity));
  return s->factor / cbrt(sum);
}
