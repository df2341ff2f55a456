#include "solver/estimate.h"

#include <math.h>

const estimate_shape estimate_slab = {1.0 / 2.0, 1.0 / 8.0};
const estimate_shape estimate_cylinder = {1.0 / 4.0, 1.0 / 16.0};
const estimate_shape estimate_sphere = {1.0 / 6.0, 1.0 / 24.0};

const char *estimate_leaves_out(estimate_formula which)
{
  switch (which) {
    case ESTIMATE_PLANK:
      return "Plank counts the latent heat only: the water starts at its freezing point, ice and mould store no heat, and the bath never warms.";
    case ESTIMATE_CAN_ICE:
      return "The can-ice rule knows one thickness and one temperature: a tall can twice as long as wide in well-stirred brine, whatever the "
             "film, the mould, the feed water or a cold side less.";
    case ESTIMATE_PHAM:
      return "Pham adds the superheat of the water to Plank, but takes one film and one constant bath temperature on all sides of a slab, "
             "cylinder or ball.";
  }
  return "";
}

/* (x - 1) (b1 - x) (b2 - x) ln(x / (x - 1)): 0 in the limit x -> 1. */
static double brick_term(double x, double b1, double b2)
{
  return x - 1.0 > 1e-12 ? (x - 1.0) * (b1 - x) * (b2 - x) * log(x / (x - 1.0)) : 0.0;
}

estimate_shape estimate_brick(double b1, double b2)
{
  const double middle = fmin(b1, b2), longest = fmax(b1, b2);
  /* Sides ten thousand times the shortest are as good as endless (1.3e-4) and keep the differences in range. */
  if (middle > 1e4) {
    return estimate_slab;
  }
  const double b = middle, c = fmin(longest, 1e5 * middle);
  const double P = b * c / (2.0 * (b * c + b + c));
  const double Q = 4.0 * sqrt((b - c) * (b - 1.0) + (c - 1.0) * (c - 1.0));
  if (Q < 1e-3) { /* a cube: the logarithms cancel */
    return (estimate_shape){P, estimate_sphere.R};
  }
  const double r = (b + c + 1.0 + Q / 4.0) / 3.0, s = (b + c + 1.0 - Q / 4.0) / 3.0;
  return (estimate_shape){P, (brick_term(r, b, c) - brick_term(s, b, c)) / (2.0 * Q) + (2.0 * b + 2.0 * c - 1.0) / 72.0};
}

double estimate_plank(estimate_shape shape, double thickness, const estimate_setting *s)
{
  const double below = s->freezing_temperature - s->surroundings;
  if (!(below > 0.0)) {
    return NAN;
  }
  return s->density * s->latent_heat / below *
         (shape.P * thickness * (1.0 / s->film + s->wall_resistance) + shape.R * thickness * thickness / s->conductivity);
}

double estimate_can_ice(double thickness, double brine_temperature)
{
  /* 7 / 0.0254^2 * 5 / 9 = 6028.0, hours */
  return brine_temperature < 0.0 ? 3600.0 * 7.0 / (0.0254 * 0.0254) / 1.8 * thickness * thickness / -brine_temperature : NAN;
}

double estimate_pham(int dimensions, double half_thickness, double initial_temperature, double liquid_heat,
                     const estimate_setting *s)
{
  const double below = s->freezing_temperature - s->surroundings;
  const double warm = 0.5 * (initial_temperature + s->freezing_temperature) - s->surroundings;
  if (!(below > 0.0) || !(initial_temperature >= s->freezing_temperature)) {
    return NAN;
  }
  const double resistance = 1.0 / s->film + s->wall_resistance; /* m2 K/W */
  const double cooling = s->density * liquid_heat * (initial_temperature - s->freezing_temperature) / warm;
  const double freezing = s->density * s->latent_heat / below;
  /* R / (E h) (1 + Bi / 2) with Bi = R / (k / h): finite for a fixed surface too. */
  return half_thickness / dimensions * (cooling + freezing) * (resistance + 0.5 * half_thickness / s->conductivity);
}
