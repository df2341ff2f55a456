#include "solver/coolant.h"

#include <math.h>
#include <stdlib.h>

/* What a checkpoint must hold, one double each. */
enum {
  MEMORY_TEMPERATURE, /* degC, of the last accepted step */
  MEMORY_HEAT,        /* W                               */
  MEMORY_NUM
};

struct coolant {
  const rig *rig;
  network *net;
  double memory[MEMORY_NUM];
};

status coolant_create(coolant **out, const rig *r, network *net, message *msg)
{
  coolant *c = calloc(1, sizeof *c);
  if (!c)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the refrigerant side", sizeof *c);
  *c = (coolant){.rig = r, .net = net, .memory = {NAN, NAN}};
  *out = c;
  return STATUS_OK;
}

void coolant_destroy(coolant **c)
{
  free(*c);
  *c = NULL;
}

status coolant_prepare(coolant *c, double time, message *msg)
{
  for (size_t coil = 0; coil < c->rig->num_coils; coil++) {
    const rig_coil *k = &c->rig->coils[coil];
    const double temperature = schedule_at(&k->temperature, time);
    if (isnan(temperature))
      return message_set(msg, STATUS_BAD_INPUT, "coil '%s' has no refrigerant temperature; give one, or let it hang on the plant",
                         k->name);
    network_set_coolant(c->net, coil, (coolant_state){.temperature = temperature});
  }
  return STATUS_OK;
}

bool coolant_wants_repeat(coolant *c, double time_after)
{
  (void)c, (void)time_after;
  return false;
}

double coolant_switch_time(const coolant *c, const double *enthalpy_before, double t0, const double *enthalpy_after, double t1)
{
  (void)c, (void)enthalpy_before, (void)t0, (void)enthalpy_after, (void)t1;
  return NAN;
}

size_t coolant_accept(coolant *c, const double *enthalpy, double t0, double t1, run_event *events, size_t room)
{
  (void)enthalpy, (void)t0, (void)t1, (void)events, (void)room;
  if (c->rig->num_coils == 0)
    return 0;
  double heat = 0.0;
  for (size_t coil = 0; coil < c->rig->num_coils; coil++)
    heat += network_coil_heat(c->net, coil);
  c->memory[MEMORY_TEMPERATURE] = network_coolant_temperature(c->net, 0);
  c->memory[MEMORY_HEAT] = heat;
  return 0;
}

double coolant_temperature(const coolant *c)
{
  return c->memory[MEMORY_TEMPERATURE];
}

double coolant_heat(const coolant *c)
{
  return c->memory[MEMORY_HEAT];
}

double coolant_power(const coolant *c)
{
  (void)c;
  return NAN;
}

void coolant_new_stage(coolant *c)
{
  (void)c;
}

plant_result coolant_stage_result(const coolant *c)
{
  (void)c;
  return (plant_result){.present = false};
}

size_t coolant_num_memory(const coolant *c)
{
  (void)c;
  return MEMORY_NUM;
}

double *coolant_memory(coolant *c)
{
  return c->memory;
}
