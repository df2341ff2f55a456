/* The refrigerant side while it marches: temperature of every coil, plant balance, cut-out and thermostat.
 *
 * A step is taken with the plant linearised; it is repeated until the evaporating temperature moves less than 0.05 K. */
#ifndef LASTWATER_COOLANT_H
#define LASTWATER_COOLANT_H

#include "solver/network.h"
#include "solver/plant.h"
#include "solver/results.h"

typedef struct coolant coolant;

status coolant_create(coolant **out, const rig *r, network *net, message *msg);
void coolant_destroy(coolant **c);

/* From `time` on the plant cools the coil (as it does at first), heats it (reversed), or stands still. */
void coolant_set_duty(coolant *c, plant_duty duty, double time);
/* Duty, room and set point of a stage that begins at `time`; after a restore again, where nothing of the memory changes. */
void coolant_use_stage(coolant *c, const rig_stage *stage, double time);
/* Sets the coils for a step that starts at `time`. */
status coolant_prepare(coolant *c, double time, message *msg);
/* True when the step just taken should be undone, prepared anew and taken again with the plant linearised where it ended. */
bool coolant_wants_repeat(coolant *c);
/* When, inside the step just taken from t0 to t1, the cut-out or thermostat would have acted; NAN: not at all. */
double coolant_switch_time(const coolant *c, const double *enthalpy_before, double t0, const double *enthalpy_after, double t1);
/* Takes note of an accepted step; writes at most `room` events and says how many. */
size_t coolant_accept(coolant *c, const double *enthalpy, double t0, double t1, run_event *events, size_t room);

double coolant_temperature(const coolant *c); /* degC, of the plant coils or the first coil; NAN without a coil */
double coolant_heat(const coolant *c);        /* W taken from the rig by all coils, last step  */
double coolant_power(const coolant *c);       /* W drawn by the compressors, last step; NAN without a plant  */
/* Means, extremes and sums since the last call to coolant_new_stage. */
void coolant_new_stage(coolant *c);
plant_result coolant_stage_result(const coolant *c);

size_t coolant_num_memory(const coolant *c);
double *coolant_memory(coolant *c);

#endif
