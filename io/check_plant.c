#include "io/check_plant.h"

#include <math.h>

#include "materials/refrigerant.h"
#include "solver/plant.h"

static const double PA_PER_PSI = 6894.757293168;

/* "1.44 bar(g), 20.9 psig; 2.45 bar, 35.5 psi absolute" */
static void say_pressure(FILE *to, double absolute, double site)
{
  const double gauge = absolute - site;
  (void)fprintf(to, "%.2f bar(g), %.1f psig; %.2f bar, %.1f psi absolute", gauge / 1e5, gauge / PA_PER_PSI, absolute / 1e5, absolute / PA_PER_PSI);
}

static void print_table(FILE *to, const rig *r, double air)
{
  static const double evaporating[] = {0.0, -10.0, -20.0, -30.0};
  (void)fprintf(to, "  evaporating condensing    heat   power   COP     gas  suction\n");
  for (size_t i = 0; i < 4; i++) {
    plant_point at;
    if (plant_at(&r->plant, PLANT_COOLS, evaporating[i], air, r->room.pressure, &at, NULL) != STATUS_OK)
      continue;
    (void)fprintf(to, "    %5.0f C   %6.1f C %6.0f W %6.0f W  %4.2f  %4.0f C  %.2f bar(g) %.1f psig%s\n", at.evaporating, at.condensing, at.capacity, at.power,
                  at.capacity / at.power, at.gas, (at.suction - r->room.pressure) / 1e5, (at.suction - r->room.pressure) / PA_PER_PSI,
                  at.steady_condensing > at.condensing ? " (!)" : "");
  }
}

/* Told under the table where a line of it is marked. */
static bool switch_acts(const rig *r, double air)
{
  plant_point at;
  return plant_at(&r->plant, PLANT_COOLS, 0.0, air, r->room.pressure, &at, NULL) == STATUS_OK && at.steady_condensing > at.condensing;
}

static void print_shares(FILE *to, const rig *r, double condensing)
{
  const rig_plant *p = &r->plant;
  for (size_t i = 0; i < p->num_compressors; i++) {
    const plant_share s = plant_share_of(p, i, -20.0, condensing);
    (void)fprintf(to, "  %s: %.0f %% of the heat at -20 degC, %.0f W", p->compressors[i].name, 100.0 * s.share, s.power);
    if (p->compressors[i].made_for_other)
      (void)fprintf(to, "; made for %s, its motor loaded to %.0f %%", refrigerant_name(p->compressors[i].made_for), 100.0 * s.motor_load);
    (void)fprintf(to, "\n");
  }
}

static void print_switches(FILE *to, const rig *r)
{
  const rig_plant *p = &r->plant;
  const double site = r->room.pressure;
  (void)fprintf(to, "  low-pressure switch, off at\n    ");
  say_pressure(to, site + p->cutout_gauge, site);
  (void)fprintf(to, "\n    (%.1f degC in the coil); on again %s", plant_cutout_temperature(p, site), p->evens_out ? "after its rest, for the sides even out" : "at\n    ");
  if (!p->evens_out) {
    say_pressure(to, site + p->restart_gauge, site);
    (void)fprintf(to, " (%.1f degC)", plant_restart_temperature(p, site));
  }
  (void)fprintf(to, "\n");
  if (isnan(p->condensing_temperature)) {
    (void)fprintf(to, "  high-pressure switch, off at\n    ");
    say_pressure(to, site + p->high_cutout_gauge, site);
    (void)fprintf(to, "\n    (%.1f degC condensing)\n", plant_high_cutout_temperature(p, site));
  }
}

void check_plant_print(FILE *to, const rig *r)
{
  const rig_plant *p = &r->plant;
  if (!p->present)
    return;
  const double air = schedule_at(&r->room.temperature, 0.0);
  plant_point usual;
  (void)fprintf(to, "\nThe plant: %s%s\n", refrigerant_name(p->refrigerant), refrigerant_is_estimate(p->refrigerant) ? ", an estimate after R404A and an ideal mixture" : "");
  print_table(to, r, air);
  if (switch_acts(r, air))
    (void)fprintf(to, "  (!) the condenser is too small there: the high-pressure switch stops it\n");
  if (plant_at(p, PLANT_COOLS, -20.0, air, r->room.pressure, &usual, NULL) == STATUS_OK) {
    const plant_current current = plant_current_at(p, -20.0, usual.condensing);
    print_shares(to, r, usual.condensing);
    if (isfinite(current.running))
      (void)fprintf(to, "  draws some %.1f A at %.0f V, %.0f A for a moment at the start%s\n", current.running, p->voltage, current.starting,
                    p->socket_limit > 0.0 && current.running > p->socket_limit ? "; the socket gives less" : "");
  }
  print_switches(to, r);
}
