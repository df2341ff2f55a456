/* The heat ledger: what its remainder is told relative to. */
#include <check.h>
#include <float.h>
#include <math.h>
#include <stdlib.h>

#include "solver/ledger.h"
#include "tests/solver/heat_scene.h"

static const double HELD = 1.4e6, ROUNDS = 378e3; /* J, evaluations */

/* The remainder when `held` stays, `in` comes by a path and `stored` more is found. */
static double remainder_of(const heat_scene *s, double in, double stored, double rounds)
{
  const size_t size = ledger_mark_size(s->net, &s->r);
  double *memory = calloc(2 * size, sizeof *memory);
  ck_assert_ptr_nonnull(memory);
  const ledger_mark from = ledger_mark_in(memory, s->net, &s->r), to = ledger_mark_in(memory + size, s->net, &s->r);
  from.part_heat[0] = HELD;
  to.part_heat[0] = HELD + stored;
  to.path_heat[0] = in;
  *to.rounds = rounds;
  heat_ledger found = {0};
  message msg = {""};
  ck_assert_msg(ledger_between(&found, s->net, &s->r, &from, &to, &msg) == STATUS_OK, "%s", msg.text);
  const double remainder = found.residual_relative;
  ledger_release(&found);
  free(memory);
  return remainder;
}

static void open_tub(heat_scene *s)
{
  heat_scene_init(s, GRID_RZ, (size_t[]){3, 1, 3}, (double[]){0.1, 0.0, 0.1}, NULL);
  const material water = heat_scene_water();
  heat_scene_paint(s, heat_scene_part(s, MESH_SOLID, &water, 4.0), 0, 0, 3);
  heat_scene_rule(s, SURFACE_FIXED, 0, MESH_VOID, FACES_TOP, 0.0, -20.0);
  heat_scene_open(s);
}

START_TEST(what_is_missing_is_told_of_the_heat_moved)
{
  heat_scene s;
  open_tub(&s);
  ck_assert_double_eq_tol(remainder_of(&s, 1e5, 1e5 - 1.0, 1e3), 1e-5, 1e-10); /* 1 J of 100 kJ */
  ck_assert_double_eq_tol(remainder_of(&s, -1e5, -1e5 - 1.0, 1e3), 1e-5, 1e-10);
  heat_scene_release(&s);
}
END_TEST

/* Eight terms of the size of what is held, each rounded to the distance of doubles, per evaluation: less than that may be missing at rest,
 * and no more. */
START_TEST(at_rest_joules_are_missed_once_they_are_more_than_rounding)
{
  heat_scene s;
  open_tub(&s);
  const double rounding = 8.0 * DBL_EPSILON * ROUNDS * HELD; /* 9.4e-4 J */
  ck_assert_double_le(remainder_of(&s, 0.9 * rounding, 0.0, ROUNDS), 1e-9);
  ck_assert_double_gt(remainder_of(&s, 1.1 * rounding, 0.0, ROUNDS), 1e-9);
  ck_assert_double_gt(remainder_of(&s, 0.9 * rounding, 0.0, 0.5 * ROUNDS), 1e-9);
  heat_scene_release(&s);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("ledger");
  TCase *t = tcase_create("remainder");
  tcase_add_test(t, what_is_missing_is_told_of_the_heat_moved);
  tcase_add_test(t, at_rest_joules_are_missed_once_they_are_more_than_rounding);
  suite_add_tcase(suite, t);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
