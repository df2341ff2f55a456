/* What a body's swelling does, from its pockets. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/pocket_pressure.h"
#include "solver/run_expansion.h"

enum { ROOT, CHILD, OPEN, NUM };

static void three_pockets(body_result *b, pocket p[NUM])
{
  *b = (body_result){.num_pockets = NUM, .pockets = p};
  p[ROOT] = (pocket){.parted_at = 0.0, .closed_at = 36000.0, .last_at = 136000.0, .mass = 40.0, .closed_mass = 20.0, .distance = 0.25, .trapped = true, .parent = -1};
  p[CHILD] = (pocket){.parted_at = 50000.0, .closed_at = 36000.0, .last_at = 90000.0, .mass = 2.0, .closed_mass = 2.0, .distance = 0.2, .trapped = true, .parent = ROOT};
  p[OPEN] = (pocket){.parted_at = 1000.0, .closed_at = NAN, .last_at = 9000.0, .mass = 1.0, .closed_mass = NAN, .distance = 0.05, .trapped = false, .parent = ROOT};
}

START_TEST(what_is_shut_in_swells_by_nine_percent_once)
{
  body_result b;
  pocket p[NUM];
  three_pockets(&b, p);
  run_expansion_body(&b, 0.1, 917.0);
  /* 20 kg of water are 20.00 L and 21.81 L as ice: 1.81 L on 0.1 m2. The child is part of them. */
  ck_assert_double_eq_tol(b.dome_volume, 20.0 * (1.0 / 916.7 - 1.0 / 999.84), 0.002e-3);
  ck_assert_double_eq_tol(b.dome_height, 0.0181, 0.0001);
  run_expansion_body(&b, 0.0, 917.0);
  ck_assert(isnan(b.dome_height));
}
END_TEST

START_TEST(trapped_pockets_press_and_open_ones_do_not)
{
  body_result b;
  pocket p[NUM];
  three_pockets(&b, p);
  run_expansion_body(&b, 0.1, 917.0);
  ck_assert(isnan(p[OPEN].pressure) && isnan(p[OPEN].crack_index));
  ck_assert_double_gt(p[ROOT].pressure, 0.0);
  ck_assert_double_eq(b.crack_index, fmax(p[ROOT].crack_index, p[CHILD].crack_index));
  /* Sphere of 20 kg as ice: radius 0.1733 m, walls that close in 100 000 s: 1.73 um/s. */
  pocket_shell shell = {.radius = 0.1733, .outer = 0.25, .speed = 1.733e-6};
  shell.temperature = pocket_pressure_shell_temperature(shell.radius, shell.outer, shell.speed);
  ck_assert_double_eq_tol(p[ROOT].skin_tension, pocket_pressure_of(&shell).skin_tension, 0.002 * p[ROOT].skin_tension);
}
END_TEST

START_TEST(nothing_shut_in_says_nothing)
{
  body_result b;
  pocket p[NUM];
  three_pockets(&b, p);
  b.num_pockets = 1;
  p[ROOT].closed_at = p[ROOT].closed_mass = NAN;
  p[ROOT].trapped = false;
  run_expansion_body(&b, 0.1, 917.0);
  ck_assert(isnan(b.dome_volume) && isnan(b.dome_height) && isnan(b.crack_index) && isnan(p[ROOT].pressure));
}
END_TEST

int main(void)
{
  Suite *s = suite_create("run_expansion");
  TCase *c = tcase_create("run_expansion");
  tcase_add_test(c, what_is_shut_in_swells_by_nine_percent_once);
  tcase_add_test(c, trapped_pockets_press_and_open_ones_do_not);
  tcase_add_test(c, nothing_shut_in_says_nothing);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
