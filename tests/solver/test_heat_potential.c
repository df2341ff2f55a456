/* Potentials of many nodes at once against those found one by one. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/front_ramps.h"

enum { NODES = 500 };

static double chance(unsigned *seed)
{
  *seed = *seed * 1664525u + 1013904223u;
  return (double)(*seed >> 8) / 16777216.0;
}

/* A front through every third node or so, of every kind: from a surface, the last of its water, plain. */
static size_t make_ramps(heat_potential_ramp *ramps, unsigned *seed)
{
  size_t num = 0;
  for (int32_t node = 0; node < NODES; node++) {
    if (chance(seed) > 0.35)
      continue;
    const double end = -2e7 * chance(seed), begin = 3.06e8 + 3e7 * chance(seed), half = end + (0.4 + 0.2 * chance(seed)) * (begin - end);
    const double frozen = chance(seed) < 0.2 ? 1.0 : chance(seed), liquid = chance(seed) < 0.2 ? 1.0 : chance(seed);
    ramps[num++] = (heat_potential_ramp){.node = node, .end = end, .half = half, .begin = begin, .middle = 3.0 * chance(seed),
                                         .ice = 20.0 * chance(seed), .water = 5.0 * chance(seed), .frozen_line = frozen * (half - end),
                                         .frozen_square = (half - end) - frozen * (half - end), .liquid_line = liquid * (begin - half),
                                         .liquid_square = (begin - half) - liquid * (begin - half)};
  }
  return num;
}

START_TEST(ramps_all_at_once_are_the_ramps_one_by_one)
{
  unsigned seed = 7u + (unsigned)_i;
  const phase_curve water = {.three_lines = true, .solid_enthalpy = 0.0, .liquid_enthalpy = 3.06e8, .solid_potential_slope = 1.2e-6,
                             .liquid_potential_slope = 1.4e-7};
  const heat_potential_run run = {0, NODES, &water};
  heat_potential_ramp ramps[NODES];
  front_ramps front;
  ck_assert(front_ramps_create(&front, NODES));
  const size_t num = make_ramps(ramps, &seed);
  for (size_t i = 0; i < num; i++)
    front.order[i] = (int32_t)i;
  front_ramps_fill(&front, ramps, num);
  const heat_potential_nodes nodes = {.num = NODES, .num_runs = 1, .runs = &run, .front = &front.view};
  double enthalpy[NODES], potential[NODES + HEAT_POTENTIAL_SPARE];
  for (size_t i = 0; i < NODES; i++)
    enthalpy[i] = -5e7 + 4.5e8 * chance(&seed);
  const size_t begin = (size_t)(100.0 * chance(&seed)), middle = begin + (size_t)(200.0 * chance(&seed));
  heat_potential at = heat_potential_from(&nodes, begin, NODES);
  heat_potential_next(&at, begin, middle, enthalpy, potential + begin);
  heat_potential_next(&at, middle, NODES, enthalpy, potential + middle);
  size_t r = 0;
  for (size_t i = begin; i < NODES; i++) {
    while (r < num && ramps[r].node < (int32_t)i)
      r++;
    const bool passes = r < num && ramps[r].node == (int32_t)i && enthalpy[i] > ramps[r].end && enthalpy[i] < ramps[r].begin;
    ck_assert_double_eq(potential[i], passes ? heat_potential_ramp_at(&ramps[r], enthalpy[i]) : phase_curve_potential(&water, enthalpy[i]));
  }
  front_ramps_destroy(&front);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("heat_potential");
  TCase *t = tcase_create("potentials");
  tcase_add_loop_test(t, ramps_all_at_once_are_the_ramps_one_by_one, 0, 20);
  suite_add_tcase(suite, t);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed > 0;
}
