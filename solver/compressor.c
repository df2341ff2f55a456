#include "solver/compressor.h"

#include <math.h>

#include "materials/refrigerant.h"

/* Typical small hermetic compressors (band +-20 %): share of the swept volume that fills at pressure ratio 1, clearance share; total
 * isentropic efficiency best_efficiency at BEST_RATIO, falling with the logarithm of the ratio, motor included. Engineering judgement. */
static const double FILL_SHARE = 0.92, CLEARANCE = 0.035, BEST_RATIO = 4.0, RATIO_WIDTH = 2.4, LEAST_EFFICIENCY = 0.25;
static const double DEFAULT_EFFICIENCY = 0.58;
static const double WORK_IN_GAS = 0.85; /* of the power; the rest leaves the shell */

/* R449A is run as R404A with the capacity and the coefficient of performance it typically has beside it (capacity 0.90 to 1.0,
 * coefficient 1.0 to 1.08; from memory). */
static const double R449A_CAPACITY = 0.95, R449A_PERFORMANCE = 1.04;

/* X = C1 + C2 S + C3 D + C4 S^2 + C5 S D + C6 D^2 + C7 S^3 + C8 D S^2 + C9 S D^2 + C10 D^3 (AHRI 540). */
static double rating(const double c[10], double S, double D)
{
  return c[0] + c[1] * S + c[2] * D + c[3] * S * S + c[4] * S * D + c[5] * D * D + c[6] * S * S * S + c[7] * D * S * S +
         c[8] * S * D * D + c[9] * D * D * D;
}

/* J/kg taken in by a kilogram of refrigerant in the evaporator. */
static double effect_of(const rig_plant *p, refrigerant_kind fluid, double te, double tc)
{
  return refrigerant_liquid_enthalpy(fluid, te) + refrigerant_latent_heat(fluid, te) + refrigerant_vapour_specific_heat(fluid, te) * p->useful_superheat -
         refrigerant_liquid_enthalpy(fluid, tc - p->subcooling);
}

static compressor_load by_displacement(const rig_plant *p, refrigerant_kind fluid, double displacement, double best, double te, double tc)
{
  const double suction = refrigerant_pressure(fluid, REFRIGERANT_DEW, te), ratio = refrigerant_pressure(fluid, REFRIGERANT_DEW, tc) / suction;
  const double k = refrigerant_isentropic_exponent(fluid, te, tc);
  const double filling = FILL_SHARE * (1.0 - CLEARANCE * (pow(ratio, 1.0 / k) - 1.0));
  const double T = te + 273.15;
  const double density = refrigerant_vapour_density(fluid, te) * T / (T + p->suction_superheat);
  const double flow = density * displacement * fmax(filling, 0.0); /* a ratio too high for it moves nothing */
  const double work = k / (k - 1.0) * suction / density * (pow(ratio, (k - 1.0) / k) - 1.0);
  const double off_best = log(ratio / BEST_RATIO) / RATIO_WIDTH;
  const double efficiency = fmax((best > 0.0 ? best : DEFAULT_EFFICIENCY) * (1.0 - off_best * off_best), LEAST_EFFICIENCY);
  compressor_load l = {flow * effect_of(p, fluid, te, tc), flow * work / efficiency, flow};
  if (fluid == REFRIGERANT_R449A) {
    l.power *= R449A_CAPACITY / R449A_PERFORMANCE;
    l.capacity *= R449A_CAPACITY;
  }
  return l;
}

static compressor_load of_unit_volume(const rig_plant *p, const rig_compressor *c, refrigerant_kind fluid, double te, double tc)
{
  return by_displacement(p, fluid, 1.0, c->best_efficiency, te, tc);
}

compressor_load compressor_at(const rig_plant *p, const rig_compressor *c, double te, double tc)
{
  if (!c->has_rating)
    return by_displacement(p, p->refrigerant, c->displacement, c->best_efficiency, te, tc);
  compressor_load l = {rating(c->capacity, te, tc), rating(c->power, te, tc), NAN};
  if (c->made_for_other) {
    const compressor_load here = of_unit_volume(p, c, p->refrigerant, te, tc), there = of_unit_volume(p, c, c->made_for, te, tc);
    l.capacity *= here.capacity / there.capacity;
    l.power *= here.power / there.power;
  }
  l.flow = l.capacity / effect_of(p, p->refrigerant, te, tc);
  return l;
}

double compressor_motor_load(const rig_plant *p, const rig_compressor *c, double te, double tc)
{
  if (!c->made_for_other)
    return 1.0;
  return of_unit_volume(p, c, p->refrigerant, te, tc).power / of_unit_volume(p, c, c->made_for, te, tc).power;
}

double compressor_discharge_temperature(const rig_plant *p, const compressor_load *l, double te, double tc)
{
  const refrigerant_kind fluid = p->refrigerant;
  const double suction = refrigerant_liquid_enthalpy(fluid, te) + refrigerant_latent_heat(fluid, te) + refrigerant_vapour_specific_heat(fluid, te) * p->suction_superheat;
  const double saturated = refrigerant_liquid_enthalpy(fluid, tc) + refrigerant_latent_heat(fluid, tc);
  return tc + (suction + WORK_IN_GAS * l->power / l->flow - saturated) / refrigerant_vapour_specific_heat(fluid, tc);
}
