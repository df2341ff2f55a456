#include "solver/thermal_shock.h"

#include <math.h>

#include "materials/ice_strength.h"
#include "materials/water.h"

enum { NUM_BIOT = 10 };
static const double BIOT[NUM_BIOT] = {0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 200};
static const double CHILLED_SKIN[3][NUM_BIOT] = {{0.031, 0.058, 0.125, 0.208, 0.316, 0.477, 0.593, 0.692, 0.794, 0.892},
                                                 {0.023, 0.043, 0.094, 0.159, 0.247, 0.391, 0.505, 0.612, 0.730, 0.853},
                                                 {0.018, 0.035, 0.076, 0.130, 0.206, 0.338, 0.449, 0.559, 0.686, 0.825}};
static const double WARMED_MIDDLE[3][NUM_BIOT] = {{0.015, 0.029, 0.062, 0.102, 0.152, 0.217, 0.255, 0.279, 0.295, 0.304},
                                                  {0.023, 0.043, 0.092, 0.152, 0.228, 0.329, 0.388, 0.425, 0.450, 0.463},
                                                  {0.018, 0.034, 0.074, 0.122, 0.184, 0.268, 0.317, 0.348, 0.368, 0.379}};
static const double WARMED_AT_ONCE[3] = {0.307, 0.468, 0.386}; /* Biot number without end; a skin chilled so: 1 */

double thermal_shock_factor(shock_shape shape, double biot, bool chilled)
{
  const double *psi = (chilled ? CHILLED_SKIN : WARMED_MIDDLE)[shape];
  if (biot <= BIOT[0])
    return psi[0] * biot / BIOT[0];
  if (biot >= BIOT[NUM_BIOT - 1]) {
    const double limit = chilled ? 1.0 : WARMED_AT_ONCE[shape];
    return limit + (psi[NUM_BIOT - 1] - limit) * BIOT[NUM_BIOT - 1] / biot;
  }
  int i = 0;
  while (biot > BIOT[i + 1])
    i++;
  return psi[i] + (psi[i + 1] - psi[i]) * log(biot / BIOT[i]) / log(BIOT[i + 1] / BIOT[i]);
}

thermal_shock thermal_shock_of(const thermal_shock_step *s)
{
  const bool chilled = s->surroundings < s->temperature;
  const double biot = s->film * s->half / water_ice_conductivity(ICE_YEN, 0.5 * s->temperature);
  const double per_kelvin = ICE_STRENGTH_SLOW_MODULUS * ICE_STRENGTH_EXPANSION / (1.0 - ICE_STRENGTH_POISSON);
  const double psi = thermal_shock_factor(s->shape, biot, chilled), sudden = thermal_shock_factor(s->shape, INFINITY, chilled);
  const double by_film = psi * fabs(s->surroundings - s->temperature), by_melting = sudden * fmax(0.0, -s->temperature);
  thermal_shock out = {.tension = per_kelvin * (chilled ? by_film : fmin(by_film, by_melting))};
  out.index = out.tension / ICE_STRENGTH_TENSILE;
  out.risk = pocket_pressure_risk(out.index);
  out.safe_step = 0.5 * ICE_STRENGTH_TENSILE / (per_kelvin * (chilled ? psi : sudden));
  return out;
}

double thermal_shock_tempering(double half, double film)
{
  const double k = water_ice_conductivity(ICE_YEN, -5.0), capacity = WATER_ICE_DENSITY * water_ice_specific_heat(-5.0);
  return 0.405 * half * half * capacity / k + (film > 0.0 ? capacity * half / film : 0.0);
}
