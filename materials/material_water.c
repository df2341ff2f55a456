/* Water and ice as one material, meshed at the frozen size: enthalpy per volume is the density of ice at 0 degC times the specific
 * enthalpy, in both phases, so that mass and heat are those of the water filled in and the thickness is that of the ice. */
#include <math.h>

#include "materials/material.h"
#include "materials/water.h"

enum { ROWS = 3000 };                /* per phase: some 0.02 K apart                             */
enum { BINS_OVER_PLATEAU = 1600 };   /* 1.9e5 J/m3 a bin, 0.1 K of ice                           */
static const double coldest = -60.0, warmest = 60.0; /* degC, beyond which the end bins continue */

/* Continues a path from `row` by one phase: temperatures step away from freezing by `step`, Simpson's rule within each step
 * (exact to rounding for these smooth c and k). direction +1 liquid, -1 ice. */
static void march(phase_path *p, size_t row, int direction, double step, ice_law law)
{
  for (size_t i = 0; i < ROWS; i++) {
    const size_t from = direction > 0 ? row + i : row - i, to = direction > 0 ? from + 1 : from - 1;
    const double a = p->temperature[from], b = a + step, m = 0.5 * (a + b);
    double c, k;
    if (direction > 0) {
      c = (water_specific_heat(a) + 4.0 * water_specific_heat(m) + water_specific_heat(b)) / 6.0;
      k = (water_conductivity(a) + 4.0 * water_conductivity(m) + water_conductivity(b)) / 6.0;
    } else {
      c = (water_ice_specific_heat(a) + 4.0 * water_ice_specific_heat(m) + water_ice_specific_heat(b)) / 6.0;
      k = (water_ice_conductivity(law, a) + 4.0 * water_ice_conductivity(law, m) + water_ice_conductivity(law, b)) / 6.0;
    }
    p->temperature[to] = b;
    p->enthalpy[to] = p->enthalpy[from] + WATER_ICE_DENSITY * c * step;
    p->potential[to] = p->potential[from] + k * step;
    p->liquid_fraction[to] = direction > 0 ? 1.0 : 0.0;
  }
}

status material_water(material *out, ice_law law, double freezing_temperature, message *msg)
{
  *out = (material){.density = WATER_ICE_DENSITY, .latent_heat = WATER_ICE_DENSITY * WATER_LATENT_HEAT};
  if (!(freezing_temperature > coldest + 1.0 && freezing_temperature < warmest - 1.0))
    return message_set(msg, STATUS_BAD_INPUT, "freezing temperature of water = %g degC; it must lie between %g and %g degC",
                       freezing_temperature, coldest + 1.0, warmest - 1.0);
  if (law < ICE_ANDERSSON_INABA || law > ICE_SLACK)
    return message_set(msg, STATUS_BAD_INPUT, "unknown law of ice conductivity (number %d)", (int)law);
  (void)snprintf(out->name, sizeof out->name, "water");
  (void)snprintf(out->source, sizeof out->source, "IAPWS SR6-08(2011), R10-06(2009); ice conductivity: %s", water_ice_law_name(law));

  phase_path path;
  status s = phase_curve_path_create(&path, 2 * ROWS + 2, msg);
  if (s != STATUS_OK)
    return s;
  const size_t frozen = ROWS, molten = ROWS + 1;
  path.enthalpy[frozen] = 0.0;
  path.enthalpy[molten] = out->latent_heat;
  path.temperature[frozen] = path.temperature[molten] = freezing_temperature;
  path.potential[frozen] = path.potential[molten] = 0.0;
  path.liquid_fraction[frozen] = 0.0;
  path.liquid_fraction[molten] = 1.0;
  march(&path, frozen, -1, (coldest - freezing_temperature) / ROWS, law);
  march(&path, molten, 1, (warmest - freezing_temperature) / ROWS, law);
  s = phase_curve_through(&out->curve, &path, 0.0, out->latent_heat / BINS_OVER_PLATEAU, msg);
  phase_curve_path_release(&path);
  return s;
}
