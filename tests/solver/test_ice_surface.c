/* The surface of ice from shares of cells: its area, that renewing keeps what is there, and the nearest piece of it. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "solver/ice_surface.h"

static const double CELL = 0.01; /* m */
static const size_t cells[3] = {20, 20, 12};

static grid *make_grid(const bool mirror[6])
{
  double *edges[3];
  grid *g = NULL;
  for (int axis = 0; axis < 3; axis++) {
    edges[axis] = malloc((cells[axis] + 1) * sizeof *edges[axis]);
    for (size_t i = 0; i <= cells[axis]; i++)
      edges[axis][i] = CELL * (double)i;
  }
  ck_assert_int_eq(grid_create(&g, GRID_XYZ, cells, (const double *const[3]){edges[0], edges[1], edges[2]}, mirror, NULL), STATUS_OK);
  for (int axis = 0; axis < 3; axis++)
    free(edges[axis]);
  return g;
}

static const double low[3] = {0.0288, 0.03, 0.0163}, high[3] = {0.1712, 0.17, 0.1038};

/* Share of a cell in the box from low to high: the product of what it covers along each axis. */
static double *shares_of_box(const grid *g)
{
  const size_t n = grid_num_cells(g);
  double *share = malloc(n * sizeof *share);
  for (size_t cell = 0; cell < n; cell++) {
    size_t at[3];
    grid_cell_indices(g, cell, at);
    share[cell] = 1.0;
    for (int axis = 0; axis < 3; axis++)
      share[cell] *= fmax(0.0, fmin(high[axis], g->edges[axis][at[axis] + 1]) - fmax(low[axis], g->edges[axis][at[axis]])) / CELL;
  }
  return share;
}

static void sum_up(const ice_surface *s, double *volume, double *area)
{
  *volume = *area = 0.0;
  for (size_t i = 0; i < s->num_cells; i++) {
    *volume += s->share[i] * s->cell_volume[i];
    *area += s->area[i];
  }
}

/* A box whose faces lie anywhere in the cells keeps its volume and its area, however often it is renewed: its edges stay edges. */
START_TEST(a_box_that_is_renewed_stays_a_box)
{
  grid *g = make_grid(NULL);
  double *share = shares_of_box(g), first, volume, area;
  ice_surface s;
  ck_assert_int_eq(ice_surface_create(&s, g, share, NULL), STATUS_OK);
  sum_up(&s, &first, &area);
  for (int i = 0; i < 30; i++)
    ck_assert_int_eq(ice_surface_renew(&s, NULL), STATUS_OK);
  sum_up(&s, &volume, &area);
  const double a = high[0] - low[0], b = high[1] - low[1], c = high[2] - low[2];
  ck_assert_double_eq_tol(first, a * b * c, 0.02 * a * b * c); /* melt.c scales what is left of it away */
  ck_assert_double_eq_tol(volume, first, 0.001 * first);
  ck_assert_double_eq_tol(area, 2.0 * (a * b + b * c + c * a), 0.05 * 2.0 * (a * b + b * c + c * a)); /* 14 cells wide: edges are rounded off in theirs */
  ice_surface_release(&s);
  free(share);
  grid_destroy(&g);
}
END_TEST

/* The tree against all plates one by one; the images behind the planes x = 0 and z = 0.12 m are those of all plates. */
START_TEST(the_nearest_piece_is_the_nearest_of_all)
{
  const bool mirror[6] = {true, false, false, false, false, true};
  grid *g = make_grid(mirror);
  ice_pieces p = {0};
  enum { PLATES = 300 };
  unsigned dice = 7;
  for (int i = 0; i < PLATES; i++) {
    double normal[3], length = 0.0;
    for (int axis = 0; axis < 3; axis++) {
      dice = dice * 1664525u + 1013904223u;
      normal[axis] = (double)(dice >> 8) / (double)(1u << 24) - 0.5;
      length += normal[axis] * normal[axis];
    }
    for (int axis = 0; axis < 3; axis++)
      normal[axis] /= sqrt(length);
    dice = dice * 1664525u + 1013904223u;
    ck_assert_int_eq(ice_pieces_add(&p, g, (dice >> 4) % grid_num_cells(g), 0.4 * CELL * normal[1], normal, NULL), STATUS_OK);
  }
  ice_piece all[PLATES];
  for (int i = 0; i < PLATES; i++)
    all[i] = p.pieces[i];
  ck_assert_int_eq(ice_pieces_arrange(&p, g, NULL), STATUS_OK);
  for (size_t cell = 0; cell < grid_num_cells(g); cell += 7) {
    size_t at[3];
    grid_cell_indices(g, cell, at);
    double least = INFINITY;
    for (int i = 0; i < 4 * PLATES; i++) {
      ice_piece one = all[i / 4];
      if (i & 1) {
        one.point[0] = -one.point[0];
        one.normal[0] = -one.normal[0];
      }
      if (i & 2) {
        one.point[2] = 0.24 - one.point[2];
        one.normal[2] = -one.normal[2];
      }
      double along = 0.0, square = 0.0;
      for (int axis = 0; axis < 3; axis++) {
        const double way = CELL * ((double)at[axis] + 0.5) - one.point[axis];
        along += way * one.normal[axis];
        square += way * way;
      }
      const double across = sqrt(fmax(0.0, square - along * along));
      least = fmin(least, hypot(along, fmax(0.0, across - one.reach)));
    }
    ck_assert_double_eq_tol(ice_pieces_distance(&p, g, at, 1.0), least, 1e-9);
    ck_assert_double_eq_tol(ice_pieces_distance(&p, g, at, 0.004), fmin(0.004, least), 1e-9);
  }
  ice_pieces_release(&p);
  grid_destroy(&g);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("ice_surface");
  TCase *c = tcase_create("ice_surface");
  tcase_add_test(c, a_box_that_is_renewed_stays_a_box);
  tcase_add_test(c, the_nearest_piece_is_the_nearest_of_all);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
