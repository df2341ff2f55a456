#include "solver/draw_force.h"

#include <math.h>
#include <stdbool.h>

#include "solver/verdict.h"

static const double FRESH = 1e3, AGED = 200e3, EXPONENT = 3.5;          /* Pa, tau_1      */
static const double WET_ADHESION = 20e3, DRY_ADHESION = 280e3;          /* Pa             */
static const double SIDE = 0.7, HALF_DEGREE = 0.0087265, SHARE_OF_WALL = 0.02;
static const double SQUEEZE = 5.0, GRAVITY = 9.81, DEGREES = 57.29577951308232;

/* Yield stress; slush past VERDICT_LOCKED is taken as just there: what it is then is held by adhesion. */
static double yield_stress(double ice, double first)
{
  return first * pow(fmin(fmax(ice, 0.0), VERDICT_LOCKED), EXPONENT);
}

void draw_force_add(draw_grip *g, double area, double upward, double ice)
{
  const bool frozen_in = ice > VERDICT_LOCKED;
  g->grip_low += area * (frozen_in ? WET_ADHESION : yield_stress(ice, FRESH));
  g->grip_high += area * (frozen_in ? DRY_ADHESION : yield_stress(ice, AGED));
  if (upward < -SIDE) {
    g->base += area;
    g->base_ice += area * ice;
  } else if (upward < SIDE) {
    g->side += area;
    g->lean += area * upward;
    if (upward > HALF_DEGREE) {
      g->reversed += area;
      g->push_high += SQUEEZE * yield_stress(ice, AGED) * area * upward;
    }
  }
}

draw_force draw_force_of(const draw_grip *g, double depth, double density)
{
  draw_force f = {.low = g->grip_low, .high = g->grip_high};
  f.draft = g->side > 0.0 ? -DEGREES * asin(g->lean / g->side) : 90.0;
  f.kind = g->reversed > SHARE_OF_WALL * g->side ? DRAFT_REVERSED : f.draft < DEGREES * HALF_DEGREE ? DRAFT_PARALLEL : DRAFT_TAPERED;
  if (f.kind != DRAFT_TAPERED && g->base > 0.0)
    f.high += g->base * (density * GRAVITY * depth + SQUEEZE * yield_stress(g->base_ice / g->base, AGED));
  if (f.kind == DRAFT_REVERSED)
    f.high += g->push_high;
  return f;
}
