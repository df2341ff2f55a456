/* The largest clear piece against every box of a small block. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/clear_piece.h"

#define assert_close(got, want, rel) ck_assert_double_eq_tol((got), (want), (rel) * fabs(want))

static grid *make(grid_kind kind, size_t nx, size_t ny, size_t nz, bool mirror_low_x)
{
  double e[3][16];
  const size_t num[3] = {nx, ny, nz};
  for (int axis = 0; axis < 3; axis++)
    for (size_t i = 0; i <= num[axis]; i++)
      e[axis][i] = 0.01 * (double)i * (1.0 + 0.07 * (double)i) * (1.0 + 0.3 * axis); /* uneven */
  const double *const edges[3] = {e[0], kind == GRID_RZ ? NULL : e[1], e[2]};
  const bool mirror[6] = {mirror_low_x};
  grid *g = NULL;
  message msg = {""};
  ck_assert_msg(grid_create(&g, kind, num, edges, mirror, &msg) == STATUS_OK, "%s", msg.text);
  return g;
}

/* Tries every box, cell by cell. */
static double largest_by_trial(const grid *g, const uint8_t *clear, bool mirrored)
{
  double best = 0.0;
  for (size_t a = 0; a < g->num[0]; a++)
    for (size_t b = a + 1; b <= g->num[0]; b++)
      for (size_t c = 0; c < g->num[1]; c++)
        for (size_t d = c + 1; d <= g->num[1]; d++)
          for (size_t e = 0; e < g->num[2]; e++)
            for (size_t f = e + 1; f <= g->num[2]; f++) {
              bool all = true;
              for (size_t k = e; k < f; k++)
                for (size_t j = c; j < d; j++)
                  for (size_t i = a; i < b; i++)
                    all = all && clear[(k * g->num[1] + j) * g->num[0] + i];
              const double volume = (g->edges[0][b] - g->edges[0][a]) * (g->edges[1][d] - g->edges[1][c]) *
                                    (g->edges[2][f] - g->edges[2][e]) * (mirrored && a == 0 ? 2.0 : 1.0);
              best = all && volume > best ? volume : best;
            }
  return best;
}

START_TEST(box_is_the_largest_of_all)
{
  const bool mirrored = _i % 2;
  grid *g = make(GRID_XYZ, 6, 5, 4, mirrored);
  uint8_t clear[120];
  message msg = {""};
  clear_piece piece;
  unsigned state = 12345u + (unsigned)_i;
  for (size_t c = 0; c < 120; c++) {
    state = state * 1664525u + 1013904223u;
    clear[c] = (state >> 16) % 100 < 80;
  }
  ck_assert_int_eq(clear_piece_find(&piece, g, clear, &msg), STATUS_OK);
  assert_close(piece.volume, largest_by_trial(g, clear, mirrored), 1e-12);
  assert_close(piece.size[0] * piece.size[1] * piece.size[2], piece.volume, 1e-12);
  for (int axis = 0; axis < 3; axis++)
    assert_close(piece.high[axis] - piece.low[axis], piece.size[axis], 1e-12);
  ck_assert(!mirrored || piece.low[0] > 0.0 || piece.low[0] == -piece.high[0]);
  grid_destroy(&g);
}
END_TEST

/* A clear block with a cloudy core that begins half way up: below it the whole width, about the core only a ring, which does not count. */
START_TEST(cylinder_ends_below_a_cloudy_core)
{
  grid *g = make(GRID_RZ, 8, 1, 10, false);
  uint8_t clear[80];
  message msg = {""};
  clear_piece piece;
  memset(clear, 1, sizeof clear);
  for (size_t k = 5; k < 10; k++)
    clear[k * 8] = clear[k * 8 + 1] = 0;
  ck_assert_int_eq(clear_piece_find(&piece, g, clear, &msg), STATUS_OK);
  assert_close(piece.size[0], g->edges[0][8], 1e-12);
  assert_close(piece.size[2], g->edges[2][5], 1e-12);
  ck_assert_double_eq(piece.low[2], 0.0);
  assert_close(piece.volume, 3.14159265358979323846 * pow(g->edges[0][8], 2.0) * g->edges[2][5], 1e-12);
  memset(clear, 0, sizeof clear);
  ck_assert_int_eq(clear_piece_find(&piece, g, clear, &msg), STATUS_OK);
  ck_assert_double_eq(piece.volume, 0.0);
  grid_destroy(&g);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("clear_piece");
  TCase *all = tcase_create("all");
  tcase_add_loop_test(all, box_is_the_largest_of_all, 0, 20);
  tcase_add_test(all, cylinder_ends_below_a_cloudy_core);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
