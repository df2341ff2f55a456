/* Temperatures of thin walls: what the iterative solve leaves over is small beside each patch's own heat, however small the patch and whatever its links, and the same behind a
 * mirror plane. */
#include <check.h>
#include <math.h>
#include <stdbool.h>

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
  static const double none[NUM];
  wall_solve *w = NULL;
  message msg = {""};
  lay_out(&s);
  ck_assert_msg(wall_solve_create(&w, NUM, s.link, LINKS, false, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(wall_solve_matrix(w, &(wall_solve_coefficients){s.diagonal, s.carried, s.conductance, none}, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(wall_solve_temperatures(w, s.right, s.found, &msg) == STATUS_OK, "%s", msg.text);
  wall_solve_destroy(&w);
  double left[NUM], most = 0;
  for (int p = 0; p < NUM; p++)
    left[p] = s.right[p] - s.diagonal[p] * s.found[p];
  for (int l = 0; l < LINKS; l++) {
    const double q = s.conductance[l] * (s.found[s.link[l].patch[0]] - s.found[s.link[l].patch[1]]);
    left[s.link[l].patch[0]] -= q;
    left[s.link[l].patch[1]] += q;
  }
  for (int p = 0; p < NUM; p++)
    most = fmax(most, fabs(left[p] / s.carried[p]));
  ck_assert_msg(most <= 1.0001e-3, "a wall's own heat would move by %g K, the speck's by %g K", most, left[SPECK] / s.carried[SPECK]);
}
END_TEST

/* Rows of one link beside one of many, two links between the same patches, and one patch that has none. */
START_TEST(patches_with_any_number_of_links_balance)
{
  enum { PATCHES = 13, ALONE = 11, STAR = 11, NUM_LINKS = STAR + 2 };
  mesh_patch_link link[NUM_LINKS];
  double conductance[NUM_LINKS], carried[PATCHES], diagonal[PATCHES], right[PATCHES], found[PATCHES], left[PATCHES];
  static const double none[PATCHES];
  size_t num = 0;
  for (int p = 1; p < PATCHES; p++)
    if (p != ALONE)
      link[num++] = (mesh_patch_link){.patch = {p % 2 == 0 ? p : 0, p % 2 == 0 ? 0 : p}, .area = 1, .distance = 1};
  link[num++] = (mesh_patch_link){.patch = {3, 4}, .area = 1, .distance = 1};
  link[num++] = (mesh_patch_link){.patch = {4, 3}, .area = 1, .distance = 1};
  ck_assert_uint_eq(num, NUM_LINKS);
  for (size_t l = 0; l < NUM_LINKS; l++)
    conductance[l] = 0.7 + 0.11 * (double)l;
  for (int p = 0; p < PATCHES; p++) {
    carried[p] = 1.3 + 0.07 * p;
    diagonal[p] = carried[p] + 0.4;
    right[p] = -9.0 - 0.8 * ((5 * p) % 7);
    found[p] = 0.0;
  }
  wall_solve *w = NULL;
  message msg = {""};
  ck_assert_msg(wall_solve_create(&w, PATCHES, link, NUM_LINKS, false, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(wall_solve_matrix(w, &(wall_solve_coefficients){diagonal, carried, conductance, none}, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(wall_solve_temperatures(w, right, found, &msg) == STATUS_OK, "%s", msg.text);
  wall_solve_destroy(&w);
  for (int p = 0; p < PATCHES; p++)
    left[p] = right[p] - diagonal[p] * found[p];
  for (int l = 0; l < NUM_LINKS; l++) {
    const double q = conductance[l] * (found[link[l].patch[0]] - found[link[l].patch[1]]);
    left[link[l].patch[0]] -= q;
    left[link[l].patch[1]] += q;
  }
  for (int p = 0; p < PATCHES; p++)
    ck_assert_msg(fabs(left[p] / carried[p]) <= 1.0001e-3, "patch %d would move by %g K", p, left[p] / carried[p]);
  ck_assert_double_eq_tol(found[ALONE], right[ALONE] / diagonal[ALONE], 1e-3);
}
END_TEST

/* A sheet that is alike left and right, all of it or its right half: columns[0 ..] of the half are the whole's from the middle on. What surrounds it
 * changes from solve to solve, most where `round` says. */
enum { HALF = WIDE / 2 };

static int from_middle(int column, bool half)
{
  return half ? column : column >= HALF ? column - HALF : HALF - 1 - column;
}

static void lay_out_even(sheet *s, bool half, double image[NUM], mesh_patch_link *link, size_t *num_links)
{
  const int wide = half ? HALF : WIDE;
  *num_links = 0;
  for (int p = 0; p < wide * WIDE; p++) {
    const int column = from_middle(p % wide, half), row = p / wide;
    s->carried[p] = 0.3 + 0.05 * ((column + 2 * row) % 5);
    s->diagonal[p] = s->carried[p] + 0.02;
    s->found[p] = -4.0;
    image[p] = half && column == 0 ? 0.5 + 0.1 * (row % 3) : 0.0;
    if (p % wide + 1 < wide) {
      const bool in_middle = !half && p % wide + 1 == HALF;
      const int outer = from_middle(p % wide, half) > from_middle(p % wide + 1, half) ? p % wide : p % wide + 1;
      link[*num_links] = (mesh_patch_link){.patch = {p, p + 1}, .area = 1, .distance = 1};
      s->conductance[(*num_links)++] = in_middle ? 0.5 + 0.1 * (row % 3) : 0.4 + 0.13 * ((from_middle(outer, half) + row) % 7);
    }
    if (row + 1 < WIDE) {
      link[*num_links] = (mesh_patch_link){.patch = {p, p + wide}, .area = 1, .distance = 1};
      s->conductance[(*num_links)++] = 0.6 + 0.1 * ((3 * column + row) % 4);
    }
  }
}

static void solve_round(sheet *s, wall_solve *w, bool half, int round)
{
  const int wide = half ? HALF : WIDE;
  message msg = {""};
  for (int p = 0; p < wide * WIDE; p++) {
    const int column = from_middle(p % wide, half), row = p / wide;
    s->right[p] = s->diagonal[p] * (-4.0 - 0.03 * round - 0.5 * sin(0.7 * round + row) / (1 + column));
  }
  ck_assert_msg(wall_solve_temperatures(w, s->right, s->found, &msg) == STATUS_OK, "%s", msg.text);
}

/* An iteration that fits itself to what it finds lets what it does not find grow from solve to solve: here rounding, which differs left and right. */
START_TEST(half_a_sheet_stays_the_whole_solve_after_solve)
{
  enum { ROUNDS = 300 };
  static sheet s[2];
  static double image[2][NUM];
  static mesh_patch_link link[2][LINKS];
  wall_solve *w[2] = {NULL, NULL};
  message msg = {""};
  for (int half = 0; half < 2; half++) {
    size_t num_links;
    lay_out_even(&s[half], half, image[half], link[half], &num_links);
    const wall_solve_coefficients of = {s[half].diagonal, s[half].carried, s[half].conductance, image[half]};
    ck_assert_msg(wall_solve_create(&w[half], half ? NUM / 2 : NUM, link[half], num_links, false, &msg) == STATUS_OK, "%s", msg.text);
    ck_assert_msg(wall_solve_matrix(w[half], &of, &msg) == STATUS_OK, "%s", msg.text);
    for (int round = 0; round < ROUNDS; round++) solve_round(&s[half], w[half], half, round);
  }
  for (int row = 0; row < WIDE; row++)
    for (int column = 0; column < HALF; column++) {
      const double half = s[1].found[row * HALF + column];
      ck_assert_double_eq_tol(s[0].found[row * WIDE + HALF + column], half, 1e-12);
      ck_assert_double_eq_tol(s[0].found[row * WIDE + HALF - 1 - column], half, 1e-12);
    }
  for (int half = 0; half < 2; half++) wall_solve_destroy(&w[half]);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("wall_solve");
  TCase *c = tcase_create("wall_solve");
  tcase_add_test(c, a_speck_of_a_patch_keeps_its_heat);
  tcase_add_test(c, patches_with_any_number_of_links_balance);
  tcase_add_test(c, half_a_sheet_stays_the_whole_solve_after_solve);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
