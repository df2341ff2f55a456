#include "solver/front_gas.h"

#include <math.h>

static const double ICE_DENSITY = 916.7, WATER_DENSITY = 999.8; /* kg/m3 at 0 degC: IAPWS R10-06; Kell 1975 */
static const double LATENT_HEAT = 333550.0;                     /* J/kg */
static const double ICE_CONDUCTIVITY = 2.22, WATER_CONDUCTIVITY = 0.561; /* W/(m K) at 0 degC */
static const double STANDARD_PRESSURE = 101325.0;
static const double CYLINDERS_BELOW = 5e-6;          /* m/s: Bari & Hallett 1974 (J. Glaciol. 13:489) */
static const double LEAST_SPACING = 30e-6, MOST_SPACING = 8e-3; /* m */
static const double PI = 3.14159265358979323846;

front_gas_constants front_gas_defaults(void)
{
  return (front_gas_constants){.diffusivity = 1.0e-9, .onset = 2.5, .full = 5.0, .hold = 1.3, .spacing_factor = 3.0, .surface_tension = 0.0757};
}

static double approach(double speed) { return speed * ICE_DENSITY / WATER_DENSITY; }

front_gas_layer front_gas_layer_of(const front_gas_constants *c, double speed, double thickness)
{
  const double peclet = approach(speed) * thickness / c->diffusivity;
  return (front_gas_layer){.shut = exp(-peclet), .open = -expm1(-peclet)};
}

front_gas_capture front_gas_at(const front_gas_constants *c, const front_gas_layer *layer, double bulk, double saturation)
{
  front_gas_capture f = {.supersaturation = bulk / (layer->shut * saturation)};
  if (f.supersaturation <= c->onset)
    return f;
  const double rise = (f.supersaturation - c->onset) / (c->full - c->onset);
  const double over = fmax(0.0, (bulk - c->hold * saturation * layer->shut) / layer->open);
  f.share = fmin(rise, 1.0);
  f.captured = f.share * over;
  f.slope = over > 0.0 ? f.share / layer->open : 0.0;
  if (rise < 1.0)
    f.slope += over / (layer->shut * saturation * (c->full - c->onset));
  return f;
}

/* Diameter over what it would be without the pressure inside: x with x^2 + e x = 1. */
static double shrink_cylinder(double e) { return 2.0 / (e + sqrt(e * e + 4.0)); }

/* x with x^3 + e x^2 = 1, from above by Newton. */
static double shrink_sphere(double e)
{
  double x = 1.0;
  for (int i = 0; i < 8; i++) {
    const double step = (x * x * (x + e) - 1.0) / (x * (3.0 * x + 2.0 * e));
    x -= step;
    if (step < 1e-12)
      break;
  }
  return x;
}

front_gas_bubbles front_gas_bubbles_of(const front_gas_constants *c, double trapped, double share, double speed, double pressure)
{
  front_gas_bubbles b = {.spacing = fmin(fmax(c->spacing_factor * c->diffusivity / approach(speed), LEAST_SPACING), MOST_SPACING)};
  const bool cylinders = speed < CYLINDERS_BELOW;
  const double fraction = trapped * ICE_DENSITY * STANDARD_PRESSURE / pressure, local = fraction / share;
  const double diameter = b.spacing * (cylinders ? sqrt(4.0 * local / PI) : cbrt(6.0 * local / PI));
  const double e = 4.0 * c->surface_tension / (pressure * diameter), x = cylinders ? shrink_cylinder(e) : shrink_sphere(e);
  b.diameter = diameter * x;
  b.fraction = fraction * x * x * (cylinders ? 1.0 : x);
  b.number = share / (b.spacing * b.spacing * b.spacing);
  b.extinction = 1.5 * b.fraction / b.diameter;
  return b;
}

double front_gas_detached(double normal_z, bool agitated)
{
  static const double still[3] = {0.0, 0.2, 0.5}, moved[3] = {0.3, 0.8, 0.9}; /* faces down, upright, faces up */
  const double *share = agitated ? moved : still;
  return normal_z > 0.0 ? share[1] + normal_z * (share[2] - share[1]) : share[1] - normal_z * (share[0] - share[1]);
}

double front_gas_stagnant(double tau)
{
  return (1.0 + 0.5 * tau) * (1.0 + erf(0.5 * sqrt(tau))) + sqrt(tau / PI) * exp(-0.25 * tau);
}

double front_gas_clear_speed(const front_gas_constants *c, double bulk, double saturation, double film)
{
  return WATER_DENSITY / ICE_DENSITY * c->diffusivity / film * fmax(log(c->onset * saturation / bulk), 0.0);
}

double front_gas_reflectance(double extinction, double depth)
{
  const double scattered = 0.75 * 0.26 * extinction * depth;
  return scattered / (1.0 + scattered);
}

double front_gas_salt_limit(double diffusivity, double liquidus_slope)
{
  return ICE_DENSITY * LATENT_HEAT * diffusivity / ((ICE_CONDUCTIVITY + WATER_CONDUCTIVITY) * liquidus_slope);
}

double front_gas_salt_rise(double speed, double film, double air_diffusivity)
{
  const double own_film = film * cbrt(FRONT_GAS_SALT_DIFFUSIVITY / air_diffusivity);
  return exp(approach(speed) * own_film / FRONT_GAS_SALT_DIFFUSIVITY);
}
