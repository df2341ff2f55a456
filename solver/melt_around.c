#include "solver/melt_around.h"

#include <math.h>

#include "materials/moist_air.h"
#include "solver/film.h"

static const double STEFAN_BOLTZMANN = 5.670374419e-8; /* W/(m2 K4), CODATA 2018 */
static const double FACING_UP = 0.7;                   /* upward component of the normal from which a face looks up */
static const double STABLE_SHARE = 0.5;                /* of the still film where cold air lies on the face */

double melt_around_total(const melt_flux *q) { return q->dry + q->moisture + q->water; }

double melt_around_air_film(const melt_air *air, const melt_size *size, double surface, double upward)
{
  const double mean = 0.5 * (air->temperature + surface), difference = fabs(air->temperature - surface);
  const film_fluid f = film_air(mean);
  const double still = film_vertical(&f, f.density * difference / (mean + 273.15), fmax(size->height, 1e-3));
  double blown = 0.0;
  if (air->wind > 0.0) {
    const double width = fmax(size->width, 1e-3);
    blown = film_nusselt_along(air->wind * width * f.density / f.viscosity, film_prandtl(&f)) * f.conductivity / width;
  }
  const bool stable = upward > FACING_UP && air->temperature > surface;
  return film_mixed(stable ? STABLE_SHARE * still : still, blown);
}

double melt_around_water_film(const melt_pool *pool, const melt_size *size, double surface)
{
  return isnan(pool->film) ? film_water_natural(surface, pool->temperature, fmax(size->wetted_height, 1e-3)) : pool->film;
}

static double fourth_power(double celsius)
{
  const double square = (celsius + 273.15) * (celsius + 273.15);
  return square * square;
}

melt_flux melt_around_air(const melt_air *air, double air_film, double surface)
{
  melt_flux q = {0};
  q.dry = isnan(air->film) ? air_film * (air->temperature - surface)
                                 + air->emissivity * STEFAN_BOLTZMANN * (fourth_power(air->temperature) - fourth_power(surface))
                           : air->film * (air->temperature - surface);
  if (air->moisture) {
    const moist_air_room room = {.convection = air_film,
                                 .temperature = air->temperature,
                                 .relative_humidity = air->relative_humidity,
                                 .pressure = air->pressure};
    q.moisture = moist_air_latent_flux(&room, surface);
  }
  return q;
}

melt_flux melt_around_water(const melt_pool *pool, double water_film, double surface)
{
  return (melt_flux){.water = water_film * (pool->temperature - surface)};
}
