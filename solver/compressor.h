/* One compressor between two saturation temperatures: what it carries, draws and pumps, and how hot its gas leaves.
 *
 * By a 10-coefficient rating (AHRI 540, EN 12900, from memory) or by swept volume with a volumetric efficiency (a model of typical
 * behaviour, +-20 %, not of any make). Temperatures degC at the compressor: dew points of suction and of discharge. */
#ifndef LASTWATER_COMPRESSOR_H
#define LASTWATER_COMPRESSOR_H

#include "solver/rig.h"

typedef struct {
  double capacity;  /* W taken in the evaporator */
  double power;     /* W drawn                   */
  double flow;      /* kg/s of refrigerant       */
} compressor_load;

/* A rating holds for the refrigerant the compressor was made for; on another it is scaled by what the swept-volume model gives for the two
 * side by side. NAN where the properties end. */
compressor_load compressor_at(const rig_plant *p, const rig_compressor *c, double evaporating, double condensing);

/* Power on the plant's refrigerant over power on the one it was made for, at the same temperatures: how far its motor is loaded. 1 when
 * they are the same. Below 1 the vapour it was built for is denser than what it gets: the motor is too large for its work. */
double compressor_motor_load(const rig_plant *p, const rig_compressor *c, double evaporating, double condensing);

/* Temperature of the gas that leaves: enthalpy at suction and 85 % of the power (the rest leaves through the shell), then down to the
 * saturated vapour at its specific heat. degC, some 5 K. */
double compressor_discharge_temperature(const rig_plant *p, const compressor_load *l, double evaporating, double condensing);

#endif
