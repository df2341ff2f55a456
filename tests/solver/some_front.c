#include "tests/solver/some_front.h"

double some_front_chance(unsigned *seed)
{
  *seed = *seed * 1664525u + 1013904223u;
  return (double)(*seed >> 8) / 16777216.0;
}

size_t some_front_make(heat_potential_ramp *ramps, int32_t nodes, unsigned *seed)
{
  size_t num = 0;
  for (int32_t node = 0; node < nodes; node++) {
    if (some_front_chance(seed) > 0.35)
      continue;
    const double end = -2e7 * some_front_chance(seed), begin = 3.06e8 + 3e7 * some_front_chance(seed);
    const double half = end + (0.4 + 0.2 * some_front_chance(seed)) * (begin - end);
    const double frozen = some_front_chance(seed) < 0.2 ? 1.0 : some_front_chance(seed), liquid = some_front_chance(seed) < 0.2 ? 1.0 : some_front_chance(seed);
    ramps[num++] = (heat_potential_ramp){.node = node, .end = end, .half = half, .begin = begin, .middle = 3.0 * some_front_chance(seed),
                                         .ice = 20.0 * some_front_chance(seed), .water = 5.0 * some_front_chance(seed),
                                         .frozen_line = frozen * (half - end), .liquid_line = liquid * (begin - half)};
  }
  return num;
}

double some_front_enthalpy(unsigned *seed)
{
  return -5e7 + 4.5e8 * some_front_chance(seed);
}

double some_front_potential(const phase_curve *c, const heat_potential_ramp *ramps, size_t num, int32_t node, double enthalpy)
{
  for (size_t r = 0; r < num; r++)
    if (ramps[r].node == node && enthalpy > ramps[r].end && enthalpy < ramps[r].begin)
      return heat_potential_ramp_at(&ramps[r], enthalpy);
  return c ? phase_curve_potential(c, enthalpy) : 0.0;
}
