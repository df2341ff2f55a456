/* Temperatures of thin walls: what the iterative solve leaves over is small beside each patch's own heat, however small the patch. */
#include <check.h>
#include <math.h>

#include "solver/wall_solve.h"

enum { WIDE = 12, NUM = WIDE * WIDE, LINKS = 2 * WIDE * (WIDE - 1), SPECK = 5 * WIDE + 6 };

/* A square sheet of patches; one of them, where a surface clipped the corner of a block, has a millionth of the others' area. Its links are
 * as strong as theirs: its neighbours lie beside it all the same. */
typedef struct {
  mesh_patch_link link[LINKS];
  double conductance[LINKS], carried[NUM], diagonal[NUM], right[NUM], found[NUM];
} sheet;

static void set_link(sheet *s, size_t *num, int p, int q)
{
  s->link[*num] = (mesh_patch_link){.patch = {p, q}, .area = 1, .distance = 1};
  s->conductance[(*num)++] = 2.9 + 0.13 * ((p + 3 * q) % 7);
}

static void lay_out(sheet *s)
{
  size_t num = 0;
  for (int p = 0; p < NUM; p++) {
    const double size = p == SPECK ? 1e-6 : 1.0, offered = -3.0 - 11.0 * ((p * 37) % 23) / 23.0, own = -5.0 + 4.0 * ((p * 17) % 11) / 11.0;
    s->carried[p] = 1.7 * size;
    s->diagonal[p] = (1.7 + 0.9) * size;
    s->right[p] = (1.7 * own + 0.9 * offered) * size;
    s->found[p] = -4.0;
    if (p % WIDE + 1 < WIDE)
      set_link(s, &num, p, p + 1);
    if (p + WIDE < NUM)
      set_link(s, &num, p, p + WIDE);
  }
}

START_TEST(a_speck_of_a_patch_keeps_its_heat)
{
  static sheet s;
  wall_solve *w = NULL;
  message msg = {""};
  lay_out(&s);
  ck_assert_msg(wall_solve_create(&w, NUM, s.link, LINKS, false, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(wall_solve_matrix(w, s.diagonal, s.carried, s.conductance, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(wall_solve_temperatures(w, s.right, s.found, &msg) == STATUS_OK, "%s", msg.text);
  wall_solve_destroy(&w);
  double left[NUM], sum = 0;
  for (int p = 0; p < NUM; p++)
    left[p] = s.right[p] - s.diagonal[p] * s.found[p];
  for (int l = 0; l < LINKS; l++) {
    const double q = s.conductance[l] * (s.found[s.link[l].patch[0]] - s.found[s.link[l].patch[1]]);
    left[s.link[l].patch[0]] -= q;
    left[s.link[l].patch[1]] += q;
  }
  for (int p = 0; p < NUM; p++)
    sum += pow(left[p] / s.carried[p], 2);
  ck_assert_msg(sqrt(sum / NUM) <= 1.01e-2, "the walls' own heat would move by %g K in the root mean square, the speck's by %g K", sqrt(sum / NUM),
                left[SPECK] / s.carried[SPECK]);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("wall_solve");
  TCase *c = tcase_create("wall_solve");
  tcase_add_test(c, a_speck_of_a_patch_keeps_its_heat);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
