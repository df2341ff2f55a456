/* Floors on ground against worked figures and against each other. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/ground.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

/* ISO 13370 by hand, computed independently: 1 m2 with 4 m of edge, 2 W/(m K), wall 0.2 m: B' 0.5 m < d_t 0.62 m, 2 / (0.2285 + 0.62) = 2.357 W/(m2 K);
 * with 1.5 m2 K/W of insulation 2 / (0.2285 + 3.62) = 0.52. 100 m2 with 40 m: B' 5 m, 4 / (15.708 + 0.62) ln(26.335) = 0.801. */
START_TEST(slab_on_ground_by_hand)
{
  ground_slab g = {.area = 1.0, .perimeter = 4.0, .wall = 0.2, .conductivity = 2.0};
  assert_close(ground_slab_transmittance(&g), 2.357, 5e-3);
  g.insulation = 1.5;
  assert_close(ground_slab_transmittance(&g), 0.52, 5e-3);
  assert_close(ground_slab_transmittance(&(ground_slab){.area = 100.0, .perimeter = 40.0, .wall = 0.2, .conductivity = 2.0}), 0.8013, 1e-3);
}
END_TEST

/* 4 r lambda: r 0.5 m on 1.5 W/(m K) are 3.00 W/K. */
START_TEST(disc_on_half_a_space_is_exact)
{
  const double area = 3.14159265358979323846 * 0.25;
  assert_close(ground_disc(area, 1.5) * area, 3.0, 1e-12);
}
END_TEST

/* Two ways to the same: the disc with the two air films in series, 1 / (1 / 4.514 + 0.21) = 2.317, is the small slab within 3 %. */
START_TEST(disc_and_films_are_the_small_slab)
{
  const ground_slab g = {.area = 1.0, .perimeter = 4.0, .wall = 0.2, .conductivity = 2.0};
  assert_close(1.0 / (1.0 / ground_disc(1.0, 2.0) + 0.21), ground_slab_transmittance(&g), 0.03);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("ground");
  TCase *t = tcase_create("ground");
  tcase_add_test(t, slab_on_ground_by_hand);
  tcase_add_test(t, disc_on_half_a_space_is_exact);
  tcase_add_test(t, disc_and_films_are_the_small_slab);
  suite_add_tcase(s, t);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
