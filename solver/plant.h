/* The refrigerating plant: what its compressors can carry at an evaporating temperature, and when it switches.
 *
 * Compressors in parallel share suction and discharge; heat and power add. A compressor is a 10-coefficient rating (AHRI 540, EN 12900, from
 * memory) or a swept volume with a volumetric efficiency (a model of typical behaviour, +-20 %, not of any make).
 * Temperatures degC, pressures Pa absolute unless said, heat and power W. */
#ifndef LASTWATER_PLANT_H
#define LASTWATER_PLANT_H

#include "solver/rig.h"

typedef struct {
  double evaporating, condensing; /* degC, in the coil and in the condenser                     */
  double suction, discharge;      /* Pa, at the compressor (suction line lost) and in the condenser */
  double capacity;                /* W taken from the coil                                      */
  double power;                   /* W drawn                                                    */
} plant_point;

/* The plant at an evaporating temperature in the coil and a room temperature. The condensing temperature is given or follows from
 * room + (capacity + 0.9 power) / condenser_conductance. STATUS_FAILED: no such point (message). */
status plant_at(const rig_plant *p, double evaporating, double air_temperature, plant_point *out, message *msg);

/* The line capacity = intercept + slope * evaporating that touches the plant's own curve at `evaporating`; W and W/K. */
status plant_linearise(const rig_plant *p, double evaporating, double air_temperature, double *intercept, double *slope,
                       message *msg);

/* Balance with a bath: conductance (bath - evaporating) = capacity. */
status plant_balance(const rig_plant *p, double bath_temperature, double conductance, double air_temperature, plant_point *out,
                     message *msg);

/* Vapour pressure of the plant's refrigerant, Pa absolute (dew line), and the temperature at a pressure, degC. */
double plant_pressure(const rig_plant *p, double temperature);
/* Coil temperature below which the low-pressure cut-out stops the plant, and above which it may start again, degC;
 * site_pressure Pa absolute. */
double plant_cutout_temperature(const rig_plant *p, double site_pressure);
double plant_restart_temperature(const rig_plant *p, double site_pressure);

typedef enum { PLANT_RUNS, PLANT_OFF_PRESSURE, PLANT_OFF_THERMOSTAT } plant_mode;
typedef struct {
  plant_mode mode;
  double since; /* s from time zero: when it went into this mode */
} plant_switch;

/* The switch at `time` (s). coil_temperature: evaporating temperature while it runs, of the resting coil while it does not;
 * controlled_temperature: mean of the thermostat's part, NAN without one. Off at set_point - differential / 2, on at
 * set_point + differential / 2; not on again before minimum_off. *event: NULL, or what happened ("low-pressure cut-out",
 * "restart", "thermostat off", "thermostat on"). */
plant_switch plant_switch_next(plant_switch now, const rig_plant *p, double time, double coil_temperature,
                               double controlled_temperature, double site_pressure, const char **event);

#endif
