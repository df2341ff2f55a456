/* The refrigerating plant: what its compressors can carry at a coil temperature, and when it switches.
 *
 * Compressors in parallel share suction and discharge; heat and power add (compressor.h). Temperatures degC, pressures Pa absolute
 * unless said, heat and power W. */
#ifndef LASTWATER_PLANT_H
#define LASTWATER_PLANT_H

#include "solver/rig.h"

/* What it does to the coil. Reversed, the coil condenses and a coil in room air evaporates (reversing_conductance); without one the hot
 * gas of the compressors gives the coil their power alone. */
typedef enum { PLANT_COOLS, PLANT_HEATS, PLANT_STOPPED } plant_duty;

typedef struct {
  double evaporating, condensing; /* degC; cooling: in the coil and in the condenser             */
  double suction, discharge;      /* Pa, at the compressor (suction line lost) and in the condenser */
  double capacity;                /* W taken from the coil; below 0: given to it                */
  double power;                   /* W drawn                                                    */
  double gas;                     /* degC, hottest gas leaving a compressor                     */
  double steady_condensing;       /* degC it would go to; above `condensing` when the high-pressure switch comes first */
} plant_point;

/* The plant at a coil temperature and a room temperature. The condensing temperature is given or follows from
 * room + (capacity + 0.9 power) / condenser_conductance, at most that of the high-pressure switch. STATUS_FAILED: no such point (message). */
status plant_at(const rig_plant *p, plant_duty duty, double coil_temperature, double air_temperature, double site_pressure, plant_point *out,
                message *msg);

/* The line capacity = intercept + slope * coil temperature that touches the plant's own curve; W and W/K. */
status plant_linearise(const rig_plant *p, plant_duty duty, double coil_temperature, double air_temperature, double site_pressure, double *intercept,
                       double *slope, message *msg);

/* Balance with a bath, cooling: conductance (bath - evaporating) = capacity. */
status plant_balance(const rig_plant *p, double bath_temperature, double conductance, double air_temperature, plant_point *out,
                     message *msg);

/* What one compressor does of it. */
typedef struct {
  double capacity, power, share; /* W, W, of the capacity                                       */
  double motor_load;             /* power over that on the refrigerant it was made for, 1: the same */
} plant_share;
plant_share plant_share_of(const rig_plant *p, size_t compressor, double evaporating, double condensing);

/* A from the socket while all run (at a power factor of 0.8, from memory, unless given) and at the worst start (5 times the running
 * current of the largest unless given: common practice, no source); NAN without a voltage. */
typedef struct { double running, starting; } plant_current;
plant_current plant_current_at(const rig_plant *p, double evaporating, double condensing);

/* Vapour pressure of the plant's refrigerant, Pa absolute (dew line), and the temperature at a pressure, degC. */
double plant_pressure(const rig_plant *p, double temperature);
/* Coil temperature below which the low-pressure cut-out stops the plant, and above which it may start again, degC;
 * site_pressure Pa absolute. */
double plant_cutout_temperature(const rig_plant *p, double site_pressure);
double plant_restart_temperature(const rig_plant *p, double site_pressure);
/* Condensing temperature at which the high-pressure switch acts; INFINITY without one. */
double plant_high_cutout_temperature(const rig_plant *p, double site_pressure);

typedef enum { PLANT_RUNS, PLANT_OFF_PRESSURE, PLANT_OFF_THERMOSTAT, PLANT_OFF_HIGH_PRESSURE } plant_mode;
typedef struct {
  plant_mode mode;
  double since; /* s from time zero: when it went into this mode */
} plant_switch;
typedef struct {
  double time;       /* s                                                                        */
  double evaporating;/* degC while it runs; of the resting coil while it does not                */
  double steady_condensing; /* degC, of plant_at; NAN: not known                                 */
  double air;        /* degC of the room                                                         */
  double controlled; /* degC, mean of the thermostat's part, NAN without one                      */
} plant_readings;

/* The switch. Thermostat: off at set_point - differential / 2, on at set_point + differential / 2. High pressure: the condenser warms after a
 * start with the time constant condenser_lag towards steady_condensing; the switch acts when it gets there. Not on again before
 * minimum_off, and after low pressure not before the resting coil's pressure has risen to restart_gauge, unless a capillary tube lets the sides even out. *event: NULL, or what happened ("low-pressure cut-out", "high-pressure cut-out", "restart", "thermostat off",
 * "thermostat on"). */
plant_switch plant_switch_next(plant_switch now, const rig_plant *p, const plant_readings *r, double site_pressure, const char **event);

#endif
