#include "solver/plant.h"

#include <math.h>

#include "materials/refrigerant.h"
#include "solver/compressor.h"
#include "solver/nonlinear_solve.h"

/* Share of the compressor's power that reaches the condenser; the rest leaves its shell to the room. */
static const double POWER_TO_CONDENSER = 0.9;
static const double POWER_FACTOR = 0.8, STARTING_CURRENT = 5.0;

typedef struct { double capacity, power, gas; } load;

/* In the coil's and the condenser's temperature: a suction line lies between. */
static load all_compressors(const rig_plant *p, double evaporating, double condensing)
{
  const double te = evaporating - p->suction_line_loss;
  load sum = {0.0, 0.0, -INFINITY};
  for (size_t i = 0; i < p->num_compressors; i++) {
    const compressor_load one = compressor_at(p, &p->compressors[i], te, condensing);
    sum.capacity += one.capacity;
    sum.power += one.power;
    sum.gas = fmax(sum.gas, compressor_discharge_temperature(p, &one, te, condensing));
  }
  return sum;
}

static double rejected(load l)
{
  return l.capacity + POWER_TO_CONDENSER * l.power;
}

static plant_point point_of(const rig_plant *p, double evaporating, double condensing)
{
  const load l = all_compressors(p, evaporating, condensing);
  return (plant_point){.evaporating = evaporating,
                       .condensing = condensing,
                       .suction = plant_pressure(p, evaporating - p->suction_line_loss),
                       .discharge = plant_pressure(p, condensing),
                       .capacity = l.capacity,
                       .power = l.power,
                       .gas = l.gas,
                       .steady_condensing = condensing};
}

/* Unknowns: condensing temperature (unless given), and evaporating temperature (when balanced with a bath, or with the room in reverse). */
typedef struct {
  nonlinear_problem base;
  const rig_plant *plant;
  bool finds_condensing, finds_evaporating;
  double evaporating, condensing, air, source, conductance; /* source: what the evaporator draws its heat from, degC, W/K */
} balance;

static void temperatures_of(const balance *b, const double *x, double *evaporating, double *condensing)
{
  size_t next = 0;
  *condensing = b->finds_condensing ? x[next++] : b->condensing;
  *evaporating = b->finds_evaporating ? x[next] : b->evaporating;
}

static status balance_residual(const nonlinear_problem *self, const double *x, double *f)
{
  const balance *b = (const balance *)self;
  double evaporating, condensing;
  size_t next = 0;
  temperatures_of(b, x, &evaporating, &condensing);
  const load l = all_compressors(b->plant, evaporating, condensing);
  if (!isfinite(l.capacity) || !isfinite(l.power)) {
    return STATUS_RETRY; /* outside the property fits */
  }
  if (b->finds_condensing) {
    f[next++] = condensing - b->air - rejected(l) / b->plant->condenser_conductance;
  }
  if (b->finds_evaporating) {
    f[next] = b->source - evaporating - l.capacity / b->conductance;
  }
  return STATUS_OK;
}

/* Solves for what is not given. All residuals are in K. */
static status settle(balance *b, plant_point *out, message *msg)
{
  static const double scale[2] = {10.0, 10.0}, unit[2] = {1.0, 1.0};
  double x[2], evaporating, condensing;
  size_t num = 0;
  message why = {""};
  if (b->finds_condensing) {
    x[num++] = b->air + 12.0; /* a usual difference */
  }
  if (b->finds_evaporating) {
    x[num++] = b->source - 8.0;
  }
  if (num > 0) {
    b->base = (nonlinear_problem){num, balance_residual, scale, unit, 1e-9};
    if (nonlinear_solve(&b->base, x, &why) != STATUS_OK) {
      return message_set(msg, STATUS_FAILED, "the plant finds no balance in a room of %.1f degC (%s): check compressor and condenser",
                         b->air, why.text);
    }
  }
  temperatures_of(b, x, &evaporating, &condensing);
  const plant_point found = point_of(b->plant, evaporating, condensing);
  if (!isfinite(found.capacity) || !isfinite(found.power)) {
    return message_set(msg, STATUS_FAILED, "the plant has no data at %.1f degC evaporating, %.1f degC condensing", evaporating,
                       condensing);
  }
  *out = found;
  return STATUS_OK;
}

/* Cooling. Where the condenser could not shed the heat below the high-pressure switch, the point is that of the switch. */
static status cooling_at(const rig_plant *p, double evaporating, double air, double site_pressure, plant_point *out, message *msg)
{
  balance b = {.plant = p, .evaporating = evaporating, .air = air, .condensing = p->condensing_temperature,
               .finds_condensing = isnan(p->condensing_temperature)};
  const double most = plant_high_cutout_temperature(p, site_pressure);
  if (b.finds_condensing && isfinite(most)) {
    const plant_point at_limit = point_of(p, evaporating, most);
    const double steady = air + (at_limit.capacity + POWER_TO_CONDENSER * at_limit.power) / p->condenser_conductance;
    if (steady >= most) {
      *out = at_limit;
      out->steady_condensing = steady;
      return STATUS_OK;
    }
  }
  return settle(&b, out, msg);
}

/* Reversed: the coil condenses at its own temperature, the air coil evaporates. Without one, the compressors' power alone goes into the coil. */
static status heating_at(const rig_plant *p, double coil, double air, double site_pressure, plant_point *out, message *msg)
{
  /* Below room temperature the coil would draw liquid by itself: the compressors then work against the lowest head they can. */
  static const double least_lift = 15.0, usual_difference = 10.0; /* K */
  const bool hot_gas = !(p->reversing_conductance > 0.0);
  balance b = {.plant = p, .air = air, .source = air, .conductance = p->reversing_conductance, .finds_evaporating = !hot_gas,
               .evaporating = fmin(air - usual_difference, coil - usual_difference)};
  const double most = plant_high_cutout_temperature(p, site_pressure);
  b.condensing = fmin(fmax(coil, (hot_gas ? b.evaporating : air - usual_difference) + least_lift), most);
  const status code = settle(&b, out, msg);
  if (code == STATUS_OK) {
    out->capacity = -(POWER_TO_CONDENSER * out->power + (hot_gas ? 0.0 : out->capacity));
    out->steady_condensing = coil;
  }
  return code;
}

status plant_at(const rig_plant *p, plant_duty duty, double coil_temperature, double air_temperature, double site_pressure, plant_point *out,
                message *msg)
{
  if (duty == PLANT_HEATS)
    return heating_at(p, coil_temperature, air_temperature, site_pressure, out, msg);
  return cooling_at(p, coil_temperature, air_temperature, site_pressure, out, msg);
}

status plant_linearise(const rig_plant *p, plant_duty duty, double coil_temperature, double air_temperature, double site_pressure, double *intercept,
                       double *slope, message *msg)
{
  static const double apart = 0.05; /* K */
  plant_point here = {0}, colder = {0}, warmer = {0};
  status s = plant_at(p, duty, coil_temperature, air_temperature, site_pressure, &here, msg);
  if (s == STATUS_OK) {
    s = plant_at(p, duty, coil_temperature - apart, air_temperature, site_pressure, &colder, msg);
  }
  if (s == STATUS_OK) {
    s = plant_at(p, duty, coil_temperature + apart, air_temperature, site_pressure, &warmer, msg);
  }
  if (s == STATUS_OK) {
    *slope = (warmer.capacity - colder.capacity) / (2.0 * apart);
    *intercept = here.capacity - *slope * coil_temperature;
  }
  return s;
}

status plant_balance(const rig_plant *p, double bath_temperature, double conductance, double air_temperature, plant_point *out,
                     message *msg)
{
  balance b = {.plant = p, .finds_evaporating = true, .finds_condensing = isnan(p->condensing_temperature), .condensing = p->condensing_temperature,
               .air = air_temperature, .source = bath_temperature, .conductance = conductance};
  return settle(&b, out, msg);
}

/* ---- what each does, and what the socket feels ---- */

plant_share plant_share_of(const rig_plant *p, size_t compressor, double evaporating, double condensing)
{
  const double te = evaporating - p->suction_line_loss;
  const compressor_load one = compressor_at(p, &p->compressors[compressor], te, condensing);
  const load all = all_compressors(p, evaporating, condensing);
  return (plant_share){.capacity = one.capacity, .power = one.power, .share = one.capacity / all.capacity,
                       .motor_load = compressor_motor_load(p, &p->compressors[compressor], te, condensing)};
}

plant_current plant_current_at(const rig_plant *p, double evaporating, double condensing)
{
  plant_current c = {0.0, 0.0};
  double most = 0.0, together = 0.0;
  if (!(p->voltage > 0.0))
    return (plant_current){NAN, NAN};
  for (size_t i = 0; i < p->num_compressors; i++) {
    const rig_compressor *k = &p->compressors[i];
    const double power = compressor_at(p, k, evaporating - p->suction_line_loss, condensing).power;
    const double runs = k->running_current > 0.0 ? k->running_current : power / (p->voltage * POWER_FACTOR);
    const double starts = k->starting_current > 0.0 ? k->starting_current : STARTING_CURRENT * runs;
    c.running += runs;
    together += starts;
    most = fmax(most, starts - runs);
  }
  c.starting = p->staggered_start ? c.running + most : together;
  return c;
}

double plant_pressure(const rig_plant *p, double temperature)
{
  return refrigerant_pressure(p->refrigerant, REFRIGERANT_DEW, temperature);
}

double plant_cutout_temperature(const rig_plant *p, double site_pressure)
{
  return refrigerant_temperature(p->refrigerant, REFRIGERANT_DEW, site_pressure + p->cutout_gauge) + p->suction_line_loss;
}

double plant_restart_temperature(const rig_plant *p, double site_pressure)
{
  return refrigerant_temperature(p->refrigerant, REFRIGERANT_DEW, site_pressure + p->restart_gauge);
}

double plant_high_cutout_temperature(const rig_plant *p, double site_pressure)
{
  return p->high_cutout_gauge > 0.0 ? refrigerant_temperature(p->refrigerant, REFRIGERANT_DEW, site_pressure + p->high_cutout_gauge) : INFINITY;
}

/* The condenser warms from the room's temperature towards a steady one beyond the switch; has it got there? */
static bool pressure_is_high(const plant_switch *now, const rig_plant *p, const plant_readings *r, double site_pressure)
{
  const double most = plant_high_cutout_temperature(p, site_pressure);
  if (!(r->steady_condensing >= most))
    return false;
  return r->air >= most || r->time - now->since >= p->condenser_lag * log((r->steady_condensing - r->air) / fmax(r->steady_condensing - most, 1e-9));
}

static plant_switch switch_off(const plant_switch *now, const rig_plant *p, const plant_readings *r, double site_pressure, bool controlled, const char **event)
{
  plant_mode mode = PLANT_RUNS;
  if (r->evaporating < plant_cutout_temperature(p, site_pressure)) {
    *event = "low-pressure cut-out";
    mode = PLANT_OFF_PRESSURE;
  } else if (pressure_is_high(now, p, r, site_pressure)) {
    *event = "high-pressure cut-out";
    mode = PLANT_OFF_HIGH_PRESSURE;
  } else if (controlled && r->controlled <= p->set_point - 0.5 * p->differential) {
    *event = "thermostat off";
    mode = PLANT_OFF_THERMOSTAT;
  }
  return *event ? (plant_switch){mode, r->time} : *now;
}

plant_switch plant_switch_next(plant_switch now, const rig_plant *p, const plant_readings *r, double site_pressure, const char **event)
{
  const bool controlled = p->thermostat_part >= 0 && !isnan(r->controlled);
  const bool rested = r->time - now.since >= p->minimum_off;
  *event = NULL;
  switch (now.mode) {
    case PLANT_RUNS:
      return switch_off(&now, p, r, site_pressure, controlled, event);
    case PLANT_OFF_PRESSURE:
      if (rested && (p->evens_out || r->evaporating > plant_restart_temperature(p, site_pressure))) {
        *event = "restart";
      }
      break;
    case PLANT_OFF_HIGH_PRESSURE:
      if (rested) {
        *event = "restart";
      }
      break;
    case PLANT_OFF_THERMOSTAT:
      if (rested && controlled && r->controlled >= p->set_point + 0.5 * p->differential) {
        *event = "thermostat on";
      }
      break;
  }
  return *event ? (plant_switch){PLANT_RUNS, r->time} : now;
}
