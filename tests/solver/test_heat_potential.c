/* Potentials of many nodes at once against those found one by one. */
#include <check.h>
#include <stdlib.h>

#include "solver/front_ramps.h"
#include "tests/solver/some_front.h"

enum { NODES = 500 };

START_TEST(ramps_all_at_once_are_the_ramps_one_by_one)
{
  unsigned seed = 7u + (unsigned)_i;
  const phase_curve water = {.three_lines = true, .solid_enthalpy = 0.0, .liquid_enthalpy = 3.06e8, .solid_potential_slope = 1.2e-6,
                             .liquid_potential_slope = 1.4e-7};
  const heat_potential_run run = {0, NODES, &water};
  heat_potential_ramp ramps[NODES];
  front_ramps front;
  ck_assert(front_ramps_create(&front, NODES));
  const size_t num = some_front_make(ramps, NODES, &seed);
  for (size_t i = 0; i < num; i++)
    front.order[i] = (int32_t)i;
  double enthalpy[NODES], before[NODES], potential[NODES + HEAT_POTENTIAL_SPARE];
  for (size_t i = 0; i < NODES; i++) {
    enthalpy[i] = some_front_enthalpy(&seed);
    before[i] = some_front_chance(&seed) < 0.7 ? enthalpy[i] : some_front_enthalpy(&seed); /* some fronts come or go within a step */
  }
  front_ramps_fill(&front, ramps, num, before);
  const heat_potential_nodes nodes = {.num = NODES, .num_runs = 1, .runs = &run, .front = &front.view};
  const size_t begin = (size_t)(100.0 * some_front_chance(&seed)), middle = begin + (size_t)(200.0 * some_front_chance(&seed));
  heat_potential at = heat_potential_from(&nodes, begin, NODES);
  heat_potential_next(&at, begin, middle, enthalpy, potential + begin);
  heat_potential_next(&at, middle, NODES, enthalpy, potential + middle);
  for (size_t i = begin; i < NODES; i++)
    ck_assert_double_eq(potential[i], some_front_potential(&water, ramps, num, (int32_t)i, enthalpy[i]));
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
