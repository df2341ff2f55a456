#include "solver/pocket_pressure.h"

#include <math.h>

#include "materials/ice_strength.h"
#include "materials/water.h"

double pocket_pressure_elastic_share(const pocket_shell *s, double modulus)
{
  const double nu = ICE_STRENGTH_POISSON, cube = pow(s->outer / s->radius, 3.0);
  const double give = ((1.0 - 2.0 * nu) + 0.5 * (1.0 + nu) * cube) / (modulus * (cube - 1.0)); /* u_a / a per pascal */
  return (3.0 * give + ICE_STRENGTH_WATER_COMPRESSIBILITY) / ICE_STRENGTH_SWELLING;
}

crack_risk pocket_pressure_risk(double index) { return index < 0.5 ? CRACK_NONE : index < 1.0 ? CRACK_POSSIBLE : CRACK_LIKELY; }

/* Beyond the melting pressure at the coldest of the shell, its outer face, twice as cold as its mean, no more water freezes. Ice Ih ends at -22 degC. */
static double most_pressure(double mean_temperature)
{
  return ice_strength_melting_pressure(fmin(fmax(2.0 * mean_temperature, -22.0), 0.0));
}

pocket_stress pocket_pressure_of(const pocket_shell *s)
{
  const double root = sqrt(3.0), pace = root * ICE_STRENGTH_SWELLING * s->speed / (s->radius * ice_strength_creep(s->temperature));
  const double stress = cbrt(pace), share = s->radius / s->outer;
  pocket_stress out = {.pressure = 2.0 * root * stress * (1.0 - share), .skin_tension = root * stress * share};
  const double held = fmin(most_pressure(s->temperature) / out.pressure, 1.0);
  out.pressure *= held;
  out.skin_tension *= held;
  /* Stretching alone would reach that pressure after this much of the pocket has frozen: 3 V / a is its share per second. */
  out.settling = 3.0 * out.pressure * pocket_pressure_elastic_share(s, ICE_STRENGTH_SLOW_MODULUS) / (3.0 * s->speed / s->radius);
  out.index = out.skin_tension / ICE_STRENGTH_TENSILE;
  out.risk = pocket_pressure_risk(out.index);
  return out;
}

double pocket_pressure_shell_temperature(double radius, double outer, double speed)
{
  const double flux = WATER_ICE_DENSITY * WATER_LATENT_HEAT * speed, k = water_ice_conductivity(ICE_YEN, -5.0);
  return -0.5 * flux * radius * (outer - radius) / (outer * k);
}
