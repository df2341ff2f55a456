/* Force to draw a mould out of slush, against hand arithmetic. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/draw_force.h"

static const double pi = 3.14159265358979323846;

/* A pot of 0.3 m by 0.6 m under brine: 0.565 m2 of side, 0.0707 m2 of floor, leaning outward going up by `draft` degrees. */
static draw_grip pot(double draft, double ice)
{
  draw_grip g = {0};
  for (int i = 0; i < 12; i++)
    draw_force_add(&g, pi * 0.3 * 0.6 / 12.0, -sin(draft * pi / 180.0), ice);
  draw_force_add(&g, pi * 0.15 * 0.15, -1.0, ice);
  return g;
}

/* At 30 % ice a pot of 0.57 m2 of side holds with 10 to 40 N in fresh slush (tau_1 1 to 5 kPa) and some 1.7 kN in aged (200 kPa): hand estimate with
 * tau = tau_1 phi^3.5; here the floor's 0.07 m2 come on top. */
START_TEST(tapered_pot_holds_as_estimated_by_hand)
{
  const draw_grip g = pot(2.0, 0.30);
  const draw_force f = draw_force_of(&g, 0.6, 1200.0);
  const double tau = pow(0.30, 3.5), area = pi * 0.3 * 0.6 + pi * 0.15 * 0.15;
  ck_assert_double_eq_tol(f.low, 1e3 * tau * area, 1e-9);
  ck_assert_double_eq_tol(f.high, 200e3 * tau * area, 1e-6);
  ck_assert_double_gt(f.low, 8.0);
  ck_assert_double_lt(f.low, 12.0);
  ck_assert_double_eq_tol(f.high, 1700.0, 0.15 * 1700.0);
  ck_assert_double_eq_tol(f.draft, 2.0, 1e-9);
  ck_assert_int_eq(f.kind, DRAFT_TAPERED);
}
END_TEST

/* A parallel wall sucks at its floor: head of 0.6 m of brine, 1200 * 9.81 * 0.6 = 7.06 kPa, and five yield stresses on 0.0707 m2. */
START_TEST(parallel_pot_sucks_at_its_floor)
{
  const draw_grip g = pot(0.0, 0.20), tapered = pot(2.0, 0.20);
  const draw_force f = draw_force_of(&g, 0.6, 1200.0), t = draw_force_of(&tapered, 0.6, 1200.0);
  ck_assert_int_eq(f.kind, DRAFT_PARALLEL);
  ck_assert_double_eq_tol(f.low, t.low, 1e-9);
  ck_assert_double_eq_tol(f.high - t.high, pi * 0.0225 * (1200.0 * 9.81 * 0.6 + 5.0 * 200e3 * pow(0.20, 3.5)), 1e-6);
}
END_TEST

START_TEST(reversed_pot_is_told_and_harder)
{
  const draw_grip g = pot(-3.0, 0.30), parallel = pot(0.0, 0.30);
  const draw_force f = draw_force_of(&g, 0.6, 1200.0), p = draw_force_of(&parallel, 0.6, 1200.0);
  ck_assert_int_eq(f.kind, DRAFT_REVERSED);
  ck_assert_double_eq_tol(f.draft, -3.0, 1e-9);
  ck_assert_double_gt(f.high, p.high);
  /* A bulge in 3 % of the wall is told although the mean is tapered. */
  draw_grip b = {0};
  draw_force_add(&b, 0.97, -sin(2.0 * pi / 180.0), 0.1);
  draw_force_add(&b, 0.03, sin(4.0 * pi / 180.0), 0.1);
  ck_assert_int_eq(draw_force_of(&b, 0.5, 1200.0).kind, DRAFT_REVERSED);
}
END_TEST

/* Frozen in: tens to hundreds of kN. */
START_TEST(frozen_in_is_never_pulled)
{
  const draw_grip g = pot(2.0, 0.45);
  const draw_force f = draw_force_of(&g, 0.6, 1200.0);
  ck_assert_double_gt(f.low, 1e4);
  ck_assert_double_gt(f.high, 1e5);
  const draw_grip none = pot(2.0, 0.0);
  ck_assert_double_eq(draw_force_of(&none, 0.6, 1200.0).high, 0.0);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("draw_force");
  TCase *t = tcase_create("draw_force");
  tcase_add_test(t, tapered_pot_holds_as_estimated_by_hand);
  tcase_add_test(t, parallel_pot_sucks_at_its_floor);
  tcase_add_test(t, reversed_pot_is_told_and_harder);
  tcase_add_test(t, frozen_in_is_never_pulled);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
