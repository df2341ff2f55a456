#include "solver/run_expansion.h"

#include <math.h>

#include "materials/ice_strength.h"
#include "solver/pocket_pressure.h"

static const double LEAST_SHELL = 0.1; /* of the pocket's radius: a pocket under the skin still has one */

static void press(pocket *p, double density)
{
  const double life = p->last_at - p->closed_at, volume = p->closed_mass / density;
  p->pressure = p->skin_tension = p->crack_index = NAN;
  if (!p->trapped || !(volume > 0.0) || !(life > 0.0))
    return;
  pocket_shell shell = {.radius = cbrt(volume * 3.0 / (4.0 * 3.141592653589793))};
  shell.outer = fmax(p->distance, (1.0 + LEAST_SHELL) * shell.radius);
  shell.speed = shell.radius / life;
  shell.temperature = pocket_pressure_shell_temperature(shell.radius, shell.outer, shell.speed);
  const pocket_stress stress = pocket_pressure_of(&shell);
  p->pressure = stress.pressure;
  p->skin_tension = stress.skin_tension;
  p->crack_index = stress.index;
}

void run_expansion_body(body_result *body, double open_area, double density)
{
  double shut_in = 0.0; /* kg; children of a closed pocket are part of it */
  body->crack_index = body->dome_volume = body->dome_height = NAN;
  for (size_t i = 0; i < body->num_pockets; i++) {
    pocket *p = &body->pockets[i];
    const bool parent_closed = p->parent >= 0 && body->pockets[p->parent].closed_at <= p->parted_at;
    if (!isnan(p->closed_at) && !parent_closed)
      shut_in += p->closed_mass;
    press(p, density);
    if (!isnan(p->crack_index))
      body->crack_index = fmax(p->crack_index, isnan(body->crack_index) ? 0.0 : body->crack_index);
  }
  if (shut_in > 0.0) {
    body->dome_volume = shut_in / density * ICE_STRENGTH_SWELLING / (1.0 + ICE_STRENGTH_SWELLING);
    body->dome_height = open_area > 0.0 ? body->dome_volume / open_area : NAN;
  }
}
