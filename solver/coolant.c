#include "solver/coolant.h"

#include <math.h>
#include <stdlib.h>

/* A step is repeated until the evaporating temperature moves less than this. */
static const double BALANCED = 0.05;             /* K */
static const double FIRST_GUESS = -10.0;         /* degC */
static const double HOTTEST_GUESS = 30.0;        /* degC: nor at an evaporator warmer than this */
static const double LINEARISED_BELOW_CUTOUT = 5; /* K: no plant is asked for a point further below its cut-out */

/* What a checkpoint must hold, one double each; AT_ are of the last accepted step, SUM_ since the stage began. */
enum {
  AT_COIL,      /* degC in the coil; NAN just after a switch: heat starts anew */
  AT_HEAT,      /* W taken by all coils                                      */
  AT_POWER,     /* W drawn                                                   */
  AT_STEADY,    /* degC that the condenser tends to                          */
  DUTY,         /* plant_duty                                                */
  GUESS,        /* degC, where the plant is linearised                       */
  SWITCH_MODE,
  SWITCH_SINCE, /* s                                                         */
  SUM_TIME,     /* s with the plant running                                  */
  SUM_STAGE,    /* s of the stage                                            */
  SUM_HEAT,     /* J                                                         */
  SUM_WORK,     /* J                                                         */
  GAS_HIGH,     /* degC, hottest gas of the stage; -INFINITY: none            */
  SPREADS,      /* evaporating, condensing, suction, discharge: sum over running time, low, high */
  MEMORY_NUM = SPREADS + 12
};

struct coolant {
  const rig *rig;
  network *net;
  int plant_coil;      /* the first coil on the plant; -1: none   */
  rig_plant plant;     /* the rig's, with the set point of the stage (its arrays are the rig's) */
  double room;         /* degC in this stage; NAN: the rig's      */
  double memory[MEMORY_NUM];
};

status coolant_create(coolant **out, const rig *r, network *net, message *msg)
{
  coolant *c = calloc(1, sizeof *c);
  if (!c)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the refrigerant side", sizeof *c);
  *c = (coolant){.rig = r, .net = net, .plant_coil = -1, .plant = r->plant, .room = NAN};
  for (size_t coil = r->num_coils; coil-- > 0;)
    if (r->coils[coil].coolant == COOLANT_PLANT)
      c->plant_coil = (int)coil;
  if (c->plant_coil >= 0 && !r->plant.present) {
    coolant_destroy(&c);
    return message_set(msg, STATUS_BAD_INPUT, "a coil hangs on the plant, but the rig has no plant; add one or give the coil a "
                                              "refrigerant temperature");
  }
  c->memory[AT_COIL] = c->memory[AT_HEAT] = c->memory[AT_POWER] = NAN;
  c->memory[GUESS] = FIRST_GUESS;
  c->memory[AT_STEADY] = NAN;
  c->memory[GAS_HIGH] = -INFINITY;
  *out = c;
  return STATUS_OK;
}

void coolant_destroy(coolant **c)
{
  free(*c);
  *c = NULL;
}

static plant_switch switch_of(const coolant *c)
{
  return (plant_switch){.mode = (plant_mode)c->memory[SWITCH_MODE], .since = c->memory[SWITCH_SINCE]};
}

static plant_duty duty_of(const coolant *c)
{
  return (plant_duty)c->memory[DUTY];
}

static bool plant_is_running(const coolant *c)
{
  return c->plant_coil >= 0 && switch_of(c).mode == PLANT_RUNS && duty_of(c) != PLANT_STOPPED;
}

void coolant_set_duty(coolant *c, plant_duty duty, double time)
{
  double *m = c->memory;
  if (duty_of(c) == duty)
    return;
  m[DUTY] = (double)duty;
  m[SWITCH_MODE] = (double)PLANT_RUNS;
  m[SWITCH_SINCE] = time;
  m[AT_COIL] = m[AT_STEADY] = NAN;
}

void coolant_use_stage(coolant *c, const rig_stage *stage, double time)
{
  c->room = stage->changes_room ? stage->room : NAN;
  c->plant.set_point = stage->changes_set_point ? stage->set_point : c->rig->plant.set_point;
  coolant_set_duty(c, stage->plant == STAGE_PLANT_HEATS ? PLANT_HEATS : stage->plant == STAGE_PLANT_STANDS ? PLANT_STOPPED : PLANT_COOLS, time);
}

static double air_temperature(const coolant *c, double time)
{
  return isnan(c->room) ? schedule_at(&c->rig->room.temperature, time) : c->room;
}

/* The plant's line for the coming step; a plant that is off carries nothing. */
static status plant_line(const coolant *c, double time, coolant_state *line, message *msg)
{
  const rig_plant *plant = &c->plant;
  *line = (coolant_state){.plant = true, .temperature = c->memory[GUESS]};
  if (!plant_is_running(c))
    return STATUS_OK;
  const double lowest = plant_cutout_temperature(plant, c->rig->room.pressure) - LINEARISED_BELOW_CUTOUT;
  const double guess = duty_of(c) == PLANT_COOLS ? fmin(fmax(c->memory[GUESS], lowest), HOTTEST_GUESS) : c->memory[GUESS];
  return plant_linearise(plant, duty_of(c), guess, air_temperature(c, time), c->rig->room.pressure, &line->intercept, &line->slope, msg);
}

status coolant_prepare(coolant *c, double time, message *msg)
{
  coolant_state line = {0};
  if (c->plant_coil >= 0) {
    const status code = plant_line(c, time, &line, msg);
    if (code != STATUS_OK)
      return code;
  }
  for (size_t coil = 0; coil < c->rig->num_coils; coil++) {
    const rig_coil *k = &c->rig->coils[coil];
    const double temperature = schedule_at(&k->temperature, time);
    if (k->coolant != COOLANT_PLANT && isnan(temperature))
      return message_set(msg, STATUS_BAD_INPUT, "coil '%s' has no refrigerant temperature; give one, or let it hang on the plant",
                         k->name);
    network_set_coolant(c->net, coil, k->coolant == COOLANT_PLANT ? line : (coolant_state){.temperature = temperature});
  }
  return STATUS_OK;
}

static double coil_now(const coolant *c)
{
  return network_coolant_temperature(c->net, c->plant_coil >= 0 ? (size_t)c->plant_coil : 0);
}

bool coolant_wants_repeat(coolant *c)
{
  if (!plant_is_running(c))
    return false;
  const double found = coil_now(c);
  const bool repeat = fabs(found - c->memory[GUESS]) > BALANCED;
  c->memory[GUESS] = found;
  return repeat;
}

/* What the plant's condenser tends to when the coil is at a temperature; NAN where there is no such point. */
static double steady_condensing(const coolant *c, double coil, double time)
{
  plant_point p;
  const bool known = plant_is_running(c) && plant_at(&c->plant, duty_of(c), coil, air_temperature(c, time), c->rig->room.pressure, &p, NULL) == STATUS_OK;
  return known ? p.steady_condensing : NAN;
}

/* Reversed, the coil is the condenser: its pressure is felt at once, and neither thermostat nor low-pressure switch acts. */
static plant_switch next_switch(const coolant *c, plant_readings now, const char **event)
{
  *event = NULL;
  if (duty_of(c) == PLANT_STOPPED)
    return switch_of(c);
  if (duty_of(c) == PLANT_HEATS) {
    now.evaporating = INFINITY;
    now.controlled = NAN;
    now.air = now.steady_condensing;
  }
  return plant_switch_next(switch_of(c), &c->plant, &now, c->rig->room.pressure, event);
}

static double between(double a, double b, double share)
{
  return a + share * (b - a);
}

static plant_switch switch_at_share(const coolant *c, double share, const plant_readings ends[2], const char **event)
{
  return next_switch(c, (plant_readings){.time = between(ends[0].time, ends[1].time, share),
                                         .evaporating = between(ends[0].evaporating, ends[1].evaporating, share),
                                         .controlled = between(ends[0].controlled, ends[1].controlled, share),
                                         .steady_condensing = ends[1].steady_condensing, .air = ends[1].air}, event);
}

double coolant_switch_time(const coolant *c, const double *enthalpy_before, double t0, const double *enthalpy_after, double t1)
{
  if (c->plant_coil < 0)
    return NAN;
  const int part = c->plant.thermostat_part;
  const double coil = coil_now(c), coil_before = isnan(c->memory[AT_COIL]) ? coil : c->memory[AT_COIL];
  const plant_readings ends[2] = {
      {.time = t0, .evaporating = coil_before, .controlled = part >= 0 ? network_part_mean_temperature(c->net, enthalpy_before, part) : NAN},
      {.time = t1, .evaporating = coil, .controlled = part >= 0 ? network_part_mean_temperature(c->net, enthalpy_after, part) : NAN,
       .steady_condensing = steady_condensing(c, coil, t1), .air = air_temperature(c, t1)}};
  const char *event = NULL;
  (void)switch_at_share(c, 1.0, ends, &event);
  if (!event)
    return NAN;
  double low = 0.0, high = 1.0;
  while ((high - low) * (t1 - t0) > 0.1) {
    const double middle = 0.5 * (low + high);
    event = NULL;
    (void)switch_at_share(c, middle, ends, &event);
    *(event ? &high : &low) = middle;
  }
  return t0 + high * (t1 - t0);
}

static void add_to_spread(double *spread, double value, double seconds, bool first)
{
  spread[0] += value * seconds;
  spread[1] = first ? value : fmin(spread[1], value);
  spread[2] = first ? value : fmax(spread[2], value);
}

static void note_running_plant(coolant *c, double t1, double seconds)
{
  plant_point p;
  double *m = c->memory;
  if (plant_at(&c->plant, duty_of(c), m[AT_COIL], air_temperature(c, t1), c->rig->room.pressure, &p, NULL) != STATUS_OK)
    return; /* no point at this temperature: the cut-out acts on it next */
  const bool first = m[SUM_TIME] == 0.0;
  add_to_spread(m + SPREADS, p.evaporating, seconds, first);
  add_to_spread(m + SPREADS + 3, p.condensing, seconds, first);
  add_to_spread(m + SPREADS + 6, p.suction, seconds, first);
  add_to_spread(m + SPREADS + 9, p.discharge, seconds, first);
  m[SUM_TIME] += seconds;
  m[SUM_WORK] += p.power * seconds;
  m[AT_POWER] = p.power;
  m[AT_STEADY] = p.steady_condensing;
  m[GAS_HIGH] = fmax(m[GAS_HIGH], p.gas);
}

static size_t note_event(run_event *e, double at, const char *what, double value)
{
  *e = (run_event){.at = at, .value = value, .last_at = at, .count = 1.0};
  (void)snprintf(e->what, sizeof e->what, "%s", what);
  (void)snprintf(e->where, sizeof e->where, "plant");
  return 1;
}

size_t coolant_accept(coolant *c, const double *enthalpy, double t0, double t1, run_event *events, size_t room)
{
  if (c->rig->num_coils == 0)
    return 0;
  double *m = c->memory;
  double heat = 0.0;
  for (size_t coil = 0; coil < c->rig->num_coils; coil++)
    heat += network_coil_heat(c->net, coil);
  m[SUM_HEAT] += (t1 - t0) * 0.5 * (heat + (isnan(m[AT_COIL]) ? heat : m[AT_HEAT]));
  m[SUM_STAGE] += t1 - t0;
  m[AT_HEAT] = heat;
  m[AT_COIL] = coil_now(c);
  if (c->plant_coil < 0)
    return 0;
  m[AT_POWER] = 0.0;
  m[AT_STEADY] = NAN;
  const double gas_before = m[GAS_HIGH], hottest = c->plant.hottest_gas;
  size_t num = 0;
  if (plant_is_running(c))
    note_running_plant(c, t1, t1 - t0);
  if (hottest > 0.0 && m[GAS_HIGH] > hottest && gas_before <= hottest && num < room)
    num += note_event(&events[num], t1, "discharge gas too hot", m[GAS_HIGH]);

  const int part = c->plant.thermostat_part;
  const char *what = NULL;
  const double coil = m[AT_COIL];
  const plant_readings now = {.time = t1, .evaporating = coil, .steady_condensing = m[AT_STEADY], .air = air_temperature(c, t1),
                              .controlled = part >= 0 ? network_part_mean_temperature(c->net, enthalpy, part) : NAN};
  const plant_switch next = next_switch(c, now, &what);
  m[SWITCH_MODE] = (double)next.mode;
  m[SWITCH_SINCE] = next.since;
  if (what)
    m[AT_COIL] = NAN;
  if (what && num < room)
    num += note_event(&events[num], t1, what, coil);
  return num;
}

double coolant_temperature(const coolant *c)
{
  return c->rig->num_coils == 0 ? NAN : isnan(c->memory[AT_COIL]) ? coil_now(c) : c->memory[AT_COIL];
}

double coolant_heat(const coolant *c)
{
  return c->memory[AT_HEAT];
}

double coolant_power(const coolant *c)
{
  return c->memory[AT_POWER];
}

void coolant_new_stage(coolant *c)
{
  for (int i = SUM_TIME; i < MEMORY_NUM; i++)
    c->memory[i] = 0.0;
  c->memory[GAS_HIGH] = -INFINITY;
}

static spread3 spread_of(const double *spread, double seconds)
{
  return (spread3){.mean = spread[0] / seconds, .low = spread[1], .high = spread[2]};
}

plant_result coolant_stage_result(const coolant *c)
{
  const double *m = c->memory;
  if (c->plant_coil < 0 || !(m[SUM_TIME] > 0.0))
    return (plant_result){.present = false};
  return (plant_result){.present = true,
                        .evaporating = spread_of(m + SPREADS, m[SUM_TIME]),
                        .condensing = spread_of(m + SPREADS + 3, m[SUM_TIME]),
                        .suction = spread_of(m + SPREADS + 6, m[SUM_TIME]),
                        .discharge = spread_of(m + SPREADS + 9, m[SUM_TIME]),
                        .running = m[SUM_TIME],
                        .gas_high = isfinite(m[GAS_HIGH]) ? m[GAS_HIGH] : NAN,
                        .heat = m[SUM_HEAT],
                        .work = m[SUM_WORK],
                        .mean_power = m[SUM_WORK] / m[SUM_STAGE]};
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
