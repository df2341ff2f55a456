/* Ice cut away and the last pockets: moments from the map of freeze times, surfaces where the made-up times say, colours on the pictures. */
#include <cairo.h>
#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "io/canvas.h"
#include "io/ice_scene.h"
#include "io/picture_ice.h"
#include "picture_rig.h"
#include "scratch.h"

static picture_rig *rig_of_box;
static ice_moments_of of;
static char dir[SCRATCH_PATH];

static void set_up(void)
{
  scratch_create(dir);
  rig_of_box = picture_rig_create(GRID_XYZ);
  of = (ice_moments_of){picture_rig_rig(rig_of_box), picture_rig_mesh(rig_of_box), picture_rig_results(rig_of_box)};
}

static void tear_down(void)
{
  picture_rig_destroy(&rig_of_box);
  canvas_release_caches();
  scratch_remove(dir);
}

/* ------------------------------------------------------------------------------------------------ moments */

START_TEST(shares_and_times_answer_each_other)
{
  double before = -1.0;
  for (double share = 0.05; share < 1.0; share += 0.1) {
    const double time = ice_moments_time(&of, ICE_MOMENTS_ALL, share);
    ck_assert_double_ge(time, before); /* places as deep froze at once */
    ck_assert_double_ge(ice_moments_share(&of, ICE_MOMENTS_ALL, time), share);
    ck_assert_double_lt(ice_moments_share(&of, ICE_MOMENTS_ALL, time * (1.0 - 1e-9) - 1e-3), share + 1e-12);
    ck_assert_double_eq(ice_moments_time(&of, 0, share), time); /* one body: it is all */
    before = time;
  }
  ck_assert(isinf(ice_moments_time(&of, ICE_MOMENTS_ALL, 1.1)));
}
END_TEST

static bool is_first_with(double share, const ice_moment *m)
{
  return m->share >= share && ice_moments_share(&of, ICE_MOMENTS_ALL, m->at - 1.0) < share;
}

/* Half and nine tenths of the water, and the moment at which the pocket of the made-up run closed, 0.9 of a day; in order. */
START_TEST(the_usual_moments_are_half_nine_tenths_and_the_last_pocket)
{
  ice_moment m[ICE_MOMENTS_MOST];
  ck_assert_uint_eq(ice_moments_usual(&of, m), 3);
  bool half = false, most = false, alone = false;
  for (int i = 0; i < 3; i++) {
    ck_assert(i == 0 || m[i].at >= m[i - 1].at);
    half = half || (strstr(m[i].words, "50 %") && is_first_with(0.5, &m[i]));
    most = most || (strstr(m[i].words, "90 %") && is_first_with(0.9, &m[i]));
    alone = alone || (strstr(m[i].words, "pocket") && m[i].at == 0.9 * 86400.0);
  }
  ck_assert(half && most && alone);
}
END_TEST

START_TEST(asked_moments_are_times_or_shares_within_the_run)
{
  ice_moment m[ICE_MOMENTS_MOST];
  message msg = {""};
  const char *const good[2] = {"6 h", "80 %"};
  ck_assert_msg(ice_moments_read(&of, good, 2, m, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_double_eq(m[0].at, 21600.0);
  ck_assert(is_first_with(0.8, &m[1]));
  static const struct { const char *text, *said; } bad[] = {{"3 kg", "a time"}, {"40 h", "no such moment"}, {"-1 h", "no such moment"}, {"120 %", "120 %"}, {"", "a time"}};
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    ck_assert_int_eq(ice_moments_read(&of, &bad[i].text, 1, m, &msg), STATUS_BAD_INPUT);
    ck_assert_msg(strstr(msg.text, bad[i].said), "%s", msg.text);
  }
  const char *const many[7] = {"1 h", "2 h", "3 h", "4 h", "5 h", "6 h", "7 h"};
  ck_assert_int_eq(ice_moments_read(&of, many, 7, m, &msg), STATUS_BAD_INPUT);
}
END_TEST

/* ------------------------------------------------------------------------------------------------ fields */

/* The body is a box, half of which is computed: its surface must close over both halves, with the box's own faces. On a lattice edges are
 * rounded by about a cell, 25 mm, which takes (2 - pi / 2) of that from the area for each metre of edge. */
START_TEST(the_surface_of_a_body_is_that_of_the_whole)
{
  ice_field f;
  ck_assert_int_eq(ice_field_create(&f, &of, 0, NULL), STATUS_OK);
  solid_triangles t = {NULL, 0, 0};
  double area = 0.0, low = INFINITY, high = -INFINITY;
  for (size_t k = 0; k + 1 < f.lattice.num[2]; k++) {
    ck_assert_int_eq(solid_surface_layer(&t, &f.lattice, &(solid_surface_fields){f.inside, f.inside, 0.0f, 0.0f}, k, NULL), STATUS_OK);
    for (size_t i = 0; i < t.num; i += 3) {
      double a[3], b[3], n[3];
      for (int axis = 0; axis < 3; axis++) {
        a[axis] = (double)t.corner[i + 1].place[axis] - (double)t.corner[i].place[axis];
        b[axis] = (double)t.corner[i + 2].place[axis] - (double)t.corner[i].place[axis];
      }
      for (int axis = 0; axis < 3; axis++)
        n[axis] = a[(axis + 1) % 3] * b[(axis + 2) % 3] - a[(axis + 2) % 3] * b[(axis + 1) % 3];
      area += 0.5 * sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2]);
      low = fmin(low, (double)t.corner[i].place[1]);
      high = fmax(high, (double)t.corner[i].place[1]);
    }
  }
  const double whole = 2.0 * (0.45 * 0.30 + 0.45 * 0.35 + 0.30 * 0.35);
  const double rounded = (2.0 - 0.5 * acos(-1.0)) * 0.025 * 4.0 * (0.45 + 0.30 + 0.35);
  ck_assert_msg(area < whole && area > whole - 1.3 * rounded, "%.4g of %.4g m2", area, whole);
  ck_assert_double_eq_tol(low, -0.15, 0.002);
  ck_assert_double_eq_tol(high, 0.15, 0.002);
  solid_surface_release(&t);
  ice_field_release(&f);
}
END_TEST

START_TEST(water_of_a_pocket_is_its_own_and_late)
{
  ice_field f;
  ck_assert_int_eq(ice_field_create(&f, &of, 0, NULL), STATUS_OK);
  float *level = malloc(ice_field_num(&f) * sizeof *level);
  ice_field_of_pocket(&f, 1, 0.9 * 86400.0, level);
  size_t inside = 0;
  for (size_t i = 0; i < ice_field_num(&f); i++) {
    ck_assert(level[i] <= 0.0f || (f.pocket[i] == 1 && (double)f.late[i] > 0.9 * 86400.0));
    inside += level[i] > 0.0f;
  }
  ck_assert_uint_gt(inside, 0);
  free(level);
  ice_field_release(&f);
}
END_TEST

/* ------------------------------------------------------------------------------------------------ pictures */

/* Pixels of a hue: more blue than red by far, or the reverse. */
static size_t count(const char *path, bool blue, int from, int to)
{
  cairo_surface_t *s = cairo_image_surface_create_from_png(path);
  ck_assert_int_eq(cairo_surface_status(s), CAIRO_STATUS_SUCCESS);
  const int width = cairo_image_surface_get_width(s), height = cairo_image_surface_get_height(s), stride = cairo_image_surface_get_stride(s);
  size_t num = 0;
  for (int y = 180; y < height - 240; y++) /* between titles and legend */
    for (int x = from * width / 1600; x < to * width / 1600; x++) {
      uint32_t p;
      memcpy(&p, cairo_image_surface_get_data(s) + (size_t)y * (size_t)stride + 4 * (size_t)x, sizeof p);
      const int red = p >> 16 & 255, here = p & 255;
      num += blue ? here > red + 70 : red > here + 70;
    }
  cairo_surface_destroy(s);
  return num;
}

START_TEST(the_water_that_is_left_shrinks_from_picture_to_picture)
{
  char path[SCRATCH_PATH + 32];
  message msg = {""};
  ice_moment m[ICE_MOMENTS_MOST];
  const char *const texts[3] = {"20 %", "60 %", "95 %"};
  (void)snprintf(path, sizeof path, "%s/cut.png", dir);
  ck_assert_int_eq(ice_moments_read(&of, texts, 3, m, NULL), STATUS_OK);
  ck_assert_msg(picture_ice_draw_cut(path, &of, m, 3, &msg) == STATUS_OK, "%s", msg.text);
  const size_t first = count(path, true, 0, 533), second = count(path, true, 533, 1066), third = count(path, true, 1066, 1600);
  ck_assert_msg(first > second && second > 2 * third && third > 100, "%zu %zu %zu pixels of water", first, second, third);
}
END_TEST

START_TEST(a_trapped_pocket_stands_out_and_an_open_one_does_not)
{
  char path[SCRATCH_PATH + 32];
  results *res = picture_rig_results(rig_of_box);
  size_t orange[2];
  for (size_t i = 0; i < res->num_nodes; i++)
    res->pocket[i] = res->freeze_time[i] > 0.9 * 86400.0 ? 1 : 0; /* nothing left beside the pocket */
  for (int turn = 0; turn < 2; turn++) {
    (void)snprintf(path, sizeof path, "%s/pockets%d.svg", dir, turn);
    ck_assert_int_eq(picture_ice_draw_pockets(path, &of, NULL), STATUS_OK);
    (void)snprintf(path, sizeof path, "%s/pockets%d.png", dir, turn);
    ck_assert_int_eq(picture_ice_draw_pockets(path, &of, NULL), STATUS_OK);
    orange[turn] = count(path, false, 0, 1000);
    res->bodies[0].pockets[1].trapped = false;
  }
  ck_assert_msg(orange[0] > orange[1] + 500, "%zu and %zu pixels", orange[0], orange[1]);
}
END_TEST

START_TEST(a_figure_of_revolution_has_no_such_pictures)
{
  picture_rig *round = picture_rig_create(GRID_RZ);
  ck_assert(picture_ice_wanted(&of));
  ck_assert(!picture_ice_wanted(&(ice_moments_of){picture_rig_rig(round), picture_rig_mesh(round), picture_rig_results(round)}));
  picture_rig_destroy(&round);
}
END_TEST

START_TEST(an_unfinished_freeze_shows_its_end)
{
  char path[SCRATCH_PATH + 32];
  results *res = picture_rig_results(rig_of_box);
  double *time = (double *)(uintptr_t)res->freeze_time;
  for (size_t i = 0; i < res->num_nodes; i++)
    if (time[i] > 0.3 * 86400.0)
      time[i] = NAN;
  res->bodies[0].complete = false;
  res->bodies[0].fraction = 0.6;
  res->bodies[0].num_pockets = 0;
  res->last_body = -1;
  ice_moment m[ICE_MOMENTS_MOST];
  const size_t num = ice_moments_usual(&of, m);
  ck_assert_uint_ge(num, 1);
  ck_assert_double_eq(m[num - 1].at, ice_moments_end(res));
  (void)snprintf(path, sizeof path, "%s/cut.png", dir);
  ck_assert_int_eq(picture_ice_draw_cut(path, &of, m, num, NULL), STATUS_OK);
  (void)snprintf(path, sizeof path, "%s/pockets.png", dir);
  ck_assert_int_eq(picture_ice_draw_pockets(path, &of, NULL), STATUS_OK);
  ck_assert_uint_gt(count(path, true, 0, 1000), 1000); /* what is left is water */
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("pictures of the ice");
  TCase *ice = tcase_create("ice");
  tcase_add_checked_fixture(ice, set_up, tear_down);
  tcase_add_test(ice, shares_and_times_answer_each_other);
  tcase_add_test(ice, the_usual_moments_are_half_nine_tenths_and_the_last_pocket);
  tcase_add_test(ice, asked_moments_are_times_or_shares_within_the_run);
  tcase_add_test(ice, the_surface_of_a_body_is_that_of_the_whole);
  tcase_add_test(ice, water_of_a_pocket_is_its_own_and_late);
  tcase_add_test(ice, the_water_that_is_left_shrinks_from_picture_to_picture);
  tcase_add_test(ice, a_trapped_pocket_stands_out_and_an_open_one_does_not);
  tcase_add_test(ice, a_figure_of_revolution_has_no_such_pictures);
  tcase_add_test(ice, an_unfinished_freeze_shows_its_end);
  suite_add_tcase(suite, ice);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? 1 : 0;
}
