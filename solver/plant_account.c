#include "solver/plant_account.h"

#include <math.h>
#include <stdio.h>

#include "solver/plant.h"

static const double J_PER_KWH = 3.6e6;

plant_account plant_account_of(const rig_plant *p, const plant_result *of, double seconds, double work, double ice)
{
  plant_account a = {.present = of->present && p->present};
  if (!a.present)
    return a;
  const plant_current current = plant_current_at(p, of->evaporating.high, of->condensing.high);
  a.performance = of->work > 0.0 ? of->heat / of->work : NAN;
  a.energy = work;
  a.energy_per_kg = ice > 0.0 ? work / ice : NAN;
  a.price = p->tariff > 0.0 ? p->tariff * work / J_PER_KWH : NAN;
  a.running_current = current.running;
  a.starting_current = current.starting;
  a.running_share = seconds > 0.0 ? of->running / seconds : NAN;
  for (size_t i = 0; i < p->num_compressors && i < PLANT_ACCOUNT_SHARES; i++) {
    const plant_share s = plant_share_of(p, i, of->evaporating.mean, of->condensing.mean);
    (void)snprintf(a.shares[i].name, sizeof a.shares[i].name, "%s", p->compressors[i].name);
    a.shares[i].share = s.share;
    a.shares[i].power = s.power;
    a.shares[i].motor_load = s.motor_load;
    a.num_shares++;
  }
  return a;
}
