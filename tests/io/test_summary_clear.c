/* Clear and white ice in summary.json, read back, and in words. */
#include <check.h>
#include <math.h>
#include <string.h>

#include "io/clear_words.h"
#include "io/summary_clear.h"

/* A made-up result: every figure another. */
static clear_result made_up(bool revolved)
{
  clear_result c = {.present = true, .fraction = 0.41, .hazy_fraction = 0.33, .white_fraction = 0.26, .fraction_low = 0.1, .fraction_high = 0.7,
                    .onset_time = 3600.0, .onset_share = 0.05, .stop_time = 7200.0, .stop_share = 0.2, .salt_time = 9000.0, .salt_share = 0.8,
                    .renew_time = 7200.0, .renew_share = 0.2, .renewed_fraction = 0.57, .void_volume = 1e-6,
                    .piece_size = {0.3, revolved ? 0.0 : 0.2, 0.05}, .piece_low = {0.0, revolved ? 0.0 : -0.1, 0.1}, .piece_high = {0.3, revolved ? 0.0 : 0.1, 0.15},
                    .white_position = {0.01, 0.0, 0.03}, .white_from = {0.002, 0.0, 0.004}, .white_to = {0.05, 0.0, 0.06},
                    .white_low = 0.11, .white_high = 0.62, .stop_time_low = NAN, .stop_time_high = 10800.0,
                    .piece_smallest = {0.0, 0.0, 0.0}, .piece_largest = {0.4, revolved ? 0.0 : 0.3, 0.07},
                    .optical_depth = {2.0, NAN, 3.0}, .reflectance = {0.1, NAN, 0.2}, .books_error = 1e-12};
  c.piece_volume = revolved ? 3.14159265358979323846 * 0.3 * 0.3 * 0.05 : 0.3 * 0.2 * 0.05;
  if (!revolved)
    c.optical_depth[1] = c.reflectance[1] = 0.5;
  for (int i = 0; i < CLEAR_TENTHS; i++) {
    c.growth_speed[i] = i < 9 ? 1e-6 * (10.0 - i) : NAN;
    c.growth_limit[i] = 2e-6 / (1.0 + i);
  }
  return c;
}

static void assert_same(double a, double b) { ck_assert_msg((isnan(a) && isnan(b)) || a == b, "%.17g, %.17g", a, b); }

START_TEST(what_is_written_is_read)
{
  const bool revolved = _i;
  const clear_result c = made_up(revolved);
  clear_result r;
  json_t *o = summary_clear_write(&c, revolved);
  ck_assert_ptr_nonnull(o);
  ck_assert_uint_eq(json_array_size(json_object_get(o, "largest_piece_m")), revolved ? 2 : 3);
  ck_assert_double_eq(json_number_value(json_object_get(json_object_get(o, "growth_m_per_s"), "0.1")), c.growth_speed[0]);
  ck_assert_ptr_null(json_object_get(json_object_get(o, "growth_m_per_s"), "1.0"));
  summary_clear_read(&r, o, revolved);
  ck_assert(r.present);
  assert_same(r.fraction, c.fraction);
  assert_same(r.fraction_low, c.fraction_low);
  assert_same(r.white_low, c.white_low);
  assert_same(r.white_high, c.white_high);
  assert_same(r.stop_time_low, c.stop_time_low);
  assert_same(r.stop_time_high, c.stop_time_high);
  assert_same(r.renewed_fraction, c.renewed_fraction);
  assert_same(r.books_error, c.books_error);
  ck_assert_double_eq_tol(r.piece_volume, c.piece_volume, 1e-15);
  for (int axis = 0; axis < 3; axis++) {
    assert_same(r.piece_size[axis], c.piece_size[axis]);
    assert_same(r.piece_high[axis], c.piece_high[axis]);
    assert_same(r.optical_depth[axis], c.optical_depth[axis]);
    if (!revolved || axis != 1)
      assert_same(r.white_to[axis], c.white_to[axis]);
    if (!revolved || axis != 1) {
      assert_same(r.piece_smallest[axis], c.piece_smallest[axis]);
      assert_same(r.piece_largest[axis], c.piece_largest[axis]);
    }
  }
  for (int i = 0; i < CLEAR_TENTHS; i++) {
    assert_same(r.growth_speed[i], c.growth_speed[i]);
    assert_same(r.growth_limit[i], c.growth_limit[i]);
  }
  json_decref(o);
  summary_clear_read(&r, NULL, revolved);
  ck_assert(!r.present && isnan(r.fraction) && r.piece_volume == 0.0);
}
END_TEST

START_TEST(words_say_what_to_do)
{
  char text[CLEAR_WORDS];
  body_result b = {.mass = 10.0, .clear = made_up(true)};
  clear_words_shares(&b, true, text);
  ck_assert_ptr_nonnull(strstr(text, "41 % is clear (10 to 70 %"));
  ck_assert_ptr_nonnull(strstr(text, "600 mm across, 50 mm high"));
  ck_assert_ptr_nonnull(strstr(text, "cut at z = 100 and 150 mm"));
  ck_assert_ptr_nonnull(strstr(text, "26 % white (11 to 62 %)"));
  ck_assert_ptr_nonnull(strstr(text, "If bubbles form sooner, none; if later, 800 mm across, 70 mm high."));
  clear_words_advice(&b, text);
  ck_assert_ptr_nonnull(strstr(text, "stop after 2 h"));
  ck_assert_msg(strstr(text, "(20 % frozen; if bubbles form later, after 3 h 0 min) and pour off the rest. ") != NULL, "%s", text);
  ck_assert_ptr_null(strstr(text, "sooner"));
  ck_assert_ptr_nonnull(strstr(text, "pays: 57 % clear")); /* of the 8 kg that are liquid then */
  ck_assert_ptr_nonnull(strstr(text, "8.002 L"));
  clear_words_place(&b, true, text);
  ck_assert_ptr_nonnull(strstr(text, "r 2 to 50, z 4 to 60 mm"));
  ck_assert_ptr_nonnull(strstr(text, "36.0, 21.6, 10.8 mm/h; clear up to 7.2, 1.4, 0.9"));
  b.clear.renewed_fraction = 0.42;
  clear_words_advice(&b, text);
  ck_assert_ptr_nonnull(strstr(text, "does not pay: 42 % clear"));
  b.clear.stop_time = b.clear.renewed_fraction = b.clear.salt_share = NAN;
  clear_words_advice(&b, text);
  ck_assert_str_eq(text, "");
  b.clear.piece_volume = 0.0;
  clear_words_shares(&b, true, text);
  ck_assert_ptr_nonnull(strstr(text, "No clear piece"));
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("summary_clear");
  TCase *all = tcase_create("all");
  tcase_add_loop_test(all, what_is_written_is_read, 0, 2);
  tcase_add_test(all, words_say_what_to_do);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
