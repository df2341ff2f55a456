/* Potentials of cells that lie anywhere among the nodes against those found one by one. */
#include <check.h>
#include <omp.h>
#include <stdlib.h>

#include "solver/needed_cells.h"
#include "tests/solver/some_front.h"

enum { NODES = 20000, RUNS = 4 };

static const phase_curve water = {.three_lines = true, .solid_enthalpy = 0.0, .liquid_enthalpy = 3.06e8, .solid_potential_slope = 1.2e-6,
                                  .liquid_potential_slope = 1.4e-7};
static const phase_curve metal = {.three_lines = true, .solid_potential_slope = 8e-5, .liquid_potential_slope = 8e-5};
/* Nothing, metal, water, metal: a needed cell may lie in any of them. */
static const heat_potential_run runs[RUNS] = {{0, 1000, NULL}, {1000, 1500, &metal}, {1500, 18000, &water}, {18000, NODES, &metal}};

static const phase_curve *curve_at(int32_t node)
{
  size_t r = 0;
  while (runs[r].end <= (size_t)node)
    r++;
  return runs[r].curve;
}

static void ask(unsigned seed)
{
  heat_potential_ramp *ramps = malloc(NODES * sizeof *ramps);
  double *before = malloc(NODES * sizeof *before), *enthalpy = malloc(NODES * sizeof *enthalpy);
  double *side_by_side = malloc(NODES * sizeof *side_by_side), *by_node = malloc(NODES * sizeof *by_node);
  int32_t *node = malloc(NODES * sizeof *node);
  front_ramps front;
  needed_cells cells;
  size_t num = 0;
  ck_assert(front_ramps_create(&front, NODES));
  size_t num_ramps = some_front_make(ramps, NODES, &seed), kept = 0;
  for (size_t r = 0; r < num_ramps; r++)
    if (curve_at(ramps[r].node) == &water)
      ramps[kept++] = ramps[r];
  for (size_t r = 0; r < kept; r++)
    front.order[r] = (int32_t)r;
  for (int32_t i = 0; i < NODES; i++) {
    enthalpy[i] = some_front_enthalpy(&seed);
    before[i] = some_front_chance(&seed) < 0.7 ? enthalpy[i] : some_front_enthalpy(&seed);
    by_node[i] = -1.0;
    if (some_front_chance(&seed) < 0.4)
      node[num++] = i;
  }
  front_ramps_fill(&front, ramps, kept, before);
  const heat_potential_nodes nodes = {.num = NODES, .num_runs = RUNS, .runs = runs, .front = &front.view};
  ck_assert(needed_cells_create(&cells, node, num));
  needed_cells_refresh(&cells, &nodes, before);
  const heat_potential_found found = {.needed = side_by_side, .by_node = by_node, .also_by_node = true};
  needed_cells_potentials(&cells, enthalpy, &found);
  size_t wrong = 0, r = 0;
  for (size_t i = 0; i < num; i++) {
    while (r < kept && ramps[r].node < node[i])
      r++;
    const double expected = some_front_potential(curve_at(node[i]), ramps + r, r < kept ? 1 : 0, node[i], enthalpy[node[i]]);
    wrong += side_by_side[i] != expected || by_node[node[i]] != expected;
  }
  ck_assert_uint_gt(num, 4000); /* so many that threads share them */
  ck_assert_uint_eq(wrong, 0);
  needed_cells_destroy(&cells);
  front_ramps_destroy(&front);
  free(ramps);
  free(before);
  free(enthalpy);
  free(side_by_side);
  free(by_node);
  free(node);
}

START_TEST(needed_cells_have_the_potentials_of_their_nodes)
{
  omp_set_num_threads(1 + _i);
  ask(11u);
  ask(12u);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("needed_cells");
  TCase *t = tcase_create("potentials");
  tcase_add_loop_test(t, needed_cells_have_the_potentials_of_their_nodes, 0, 3);
  suite_add_tcase(suite, t);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed > 0;
}
