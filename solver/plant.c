#include "solver/plant.h"

#include <math.h>

#include "materials/refrigerant.h"
#include "solver/nonlinear_solve.h"

/* Typical small hermetic compressors (band +-20 %): share of the swept volume that fills at pressure ratio 1, clearance share; total
 * isentropic efficiency best_efficiency at BEST_RATIO, falling with the logarithm of the ratio, motor included. Engineering judgement. */
static const double FILL_SHARE = 0.92, CLEARANCE = 0.035, BEST_RATIO = 4.0, RATIO_WIDTH = 2.4, LEAST_EFFICIENCY = 0.25;
static const double DEFAULT_EFFICIENCY = 0.58;
/* Share of the compressor's power that reaches the condenser; the rest leaves its shell to the room. */
static const double POWER_TO_CONDENSER = 0.9;

/* R449A is run as R404A with the capacity and the coefficient of performance it typically has beside it (capacity 0.90 to 1.0,
 * coefficient 1.0 to 1.08; from memory). */
static const double R449A_CAPACITY = 0.95, R449A_PERFORMANCE = 1.04;

typedef struct { double capacity, power; } load;

/* X = C1 + C2 S + C3 D + C4 S^2 + C5 S D + C6 D^2 + C7 S^3 + C8 D S^2 + C9 S D^2 + C10 D^3 (AHRI 540). */
static double rating(const double c[10], double S, double D)
{
  return c[0] + c[1] * S + c[2] * D + c[3] * S * S + c[4] * S * D + c[5] * D * D + c[6] * S * S * S + c[7] * D * S * S +
         c[8] * S * D * D + c[9] * D * D * D;
}

/* One compressor by its swept volume, at the saturation temperatures of its own suction and of the condenser. */
static load by_displacement(const rig_plant *p, const rig_compressor *c, double te, double tc)
{
  const refrigerant_kind fluid = p->refrigerant;
  const double suction = plant_pressure(p, te), ratio = plant_pressure(p, tc) / suction;
  const double k = refrigerant_isentropic_exponent(fluid, te, tc);
  const double filling = FILL_SHARE * (1.0 - CLEARANCE * (pow(ratio, 1.0 / k) - 1.0));
  const double T = te + 273.15;
  const double density = refrigerant_vapour_density(fluid, te) * T / (T + p->suction_superheat);
  const double flow = density * c->displacement * fmax(filling, 0.0); /* a ratio too high for it moves nothing */
  const double effect = refrigerant_liquid_enthalpy(fluid, te) + refrigerant_latent_heat(fluid, te) +
                        refrigerant_vapour_specific_heat(fluid, te) * p->useful_superheat -
                        refrigerant_liquid_enthalpy(fluid, tc - p->subcooling);
  const double work = k / (k - 1.0) * suction / density * (pow(ratio, (k - 1.0) / k) - 1.0);
  const double off_best = log(ratio / BEST_RATIO) / RATIO_WIDTH;
  const double best = c->best_efficiency > 0.0 ? c->best_efficiency : DEFAULT_EFFICIENCY;
  const double efficiency = fmax(best * (1.0 - off_best * off_best), LEAST_EFFICIENCY);
  load l = {flow * effect, flow * work / efficiency};
  if (fluid == REFRIGERANT_R449A) {
    l.power *= R449A_CAPACITY / R449A_PERFORMANCE;
    l.capacity *= R449A_CAPACITY;
  }
  return l;
}

static load all_compressors(const rig_plant *p, double evaporating, double condensing)
{
  const double te = evaporating - p->suction_line_loss;
  load sum = {0.0, 0.0};
  for (size_t i = 0; i < p->num_compressors; i++) {
    const rig_compressor *c = &p->compressors[i];
    const load one = c->has_rating ? (load){rating(c->capacity, te, condensing), rating(c->power, te, condensing)}
                                   : by_displacement(p, c, te, condensing);
    sum.capacity += one.capacity;
    sum.power += one.power;
  }
  return sum;
}

static plant_point point_of(const rig_plant *p, double evaporating, double condensing)
{
  const load l = all_compressors(p, evaporating, condensing);
  return (plant_point){.evaporating = evaporating,
                       .condensing = condensing,
                       .suction = plant_pressure(p, evaporating - p->suction_line_loss),
                       .discharge = plant_pressure(p, condensing),
                       .capacity = l.capacity,
                       .power = l.power};
}

/* Unknowns: condensing temperature (unless given), and evaporating temperature (when balanced with a bath). */
typedef struct {
  nonlinear_problem base;
  const rig_plant *plant;
  bool finds_condensing, finds_evaporating;
  double evaporating, air, bath, conductance;
} balance;

static void temperatures_of(const balance *b, const double *x, double *evaporating, double *condensing)
{
  size_t next = 0;
  *condensing = b->finds_condensing ? x[next++] : b->plant->condensing_temperature;
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
    f[next++] = condensing - b->air - (l.capacity + POWER_TO_CONDENSER * l.power) / b->plant->condenser_conductance;
  }
  if (b->finds_evaporating) {
    f[next] = b->bath - evaporating - l.capacity / b->conductance;
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
  b->finds_condensing = isnan(b->plant->condensing_temperature);
  if (b->finds_condensing) {
    x[num++] = b->air + 12.0; /* a usual difference */
  }
  if (b->finds_evaporating) {
    x[num++] = b->bath - 8.0;
  }
  if (num > 0) {
    b->base = (nonlinear_problem){num, balance_residual, scale, unit, 1e-9};
    if (nonlinear_solve(&b->base, x, &why) != STATUS_OK) {
      return message_set(msg, STATUS_FAILED, "the plant finds no balance in a room of %.1f degC (%s): check compressor and condenser",
                         b->air, why.text);
    }
  }
  temperatures_of(b, x, &evaporating, &condensing);
  *out = point_of(b->plant, evaporating, condensing);
  if (!isfinite(out->capacity) || !isfinite(out->power)) {
    return message_set(msg, STATUS_FAILED, "the plant has no data at %.1f degC evaporating, %.1f degC condensing", evaporating,
                       condensing);
  }
  return STATUS_OK;
}

status plant_at(const rig_plant *p, double evaporating, double air_temperature, plant_point *out, message *msg)
{
  balance b = {.plant = p, .evaporating = evaporating, .air = air_temperature};
  return settle(&b, out, msg);
}

status plant_linearise(const rig_plant *p, double evaporating, double air_temperature, double *intercept, double *slope,
                       message *msg)
{
  static const double apart = 0.05; /* K */
  plant_point here = {0}, colder = {0}, warmer = {0};
  status s = plant_at(p, evaporating, air_temperature, &here, msg);
  if (s == STATUS_OK) {
    s = plant_at(p, evaporating - apart, air_temperature, &colder, msg);
  }
  if (s == STATUS_OK) {
    s = plant_at(p, evaporating + apart, air_temperature, &warmer, msg);
  }
  if (s == STATUS_OK) {
    *slope = (warmer.capacity - colder.capacity) / (2.0 * apart);
    *intercept = here.capacity - *slope * evaporating;
  }
  return s;
}

status plant_balance(const rig_plant *p, double bath_temperature, double conductance, double air_temperature, plant_point *out,
                     message *msg)
{
  balance b = {.plant = p, .finds_evaporating = true, .air = air_temperature, .bath = bath_temperature,
               .conductance = conductance};
  return settle(&b, out, msg);
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

plant_switch plant_switch_next(plant_switch now, const rig_plant *p, double time, double coil_temperature,
                               double controlled_temperature, double site_pressure, const char **event)
{
  const bool controlled = p->thermostat_part >= 0 && !isnan(controlled_temperature);
  const bool rested = time - now.since >= p->minimum_off;
  *event = NULL;
  switch (now.mode) {
    case PLANT_RUNS:
      if (coil_temperature < plant_cutout_temperature(p, site_pressure)) {
        *event = "low-pressure cut-out";
        return (plant_switch){PLANT_OFF_PRESSURE, time};
      }
      if (controlled && controlled_temperature <= p->set_point - 0.5 * p->differential) {
        *event = "thermostat off";
        return (plant_switch){PLANT_OFF_THERMOSTAT, time};
      }
      break;
    case PLANT_OFF_PRESSURE:
      if (rested && coil_temperature > plant_restart_temperature(p, site_pressure)) {
        *event = "restart";
        return (plant_switch){PLANT_RUNS, time};
      }
      break;
    case PLANT_OFF_THERMOSTAT:
      if (rested && controlled && controlled_temperature >= p->set_point + 0.5 * p->differential) {
        *event = "thermostat on";
        return (plant_switch){PLANT_RUNS, time};
      }
      break;
  }
  return now;
}
