/* The parts that pictures are made of: ticks, colours, lines of equal value. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/axes.h"
#include "io/canvas.h"
#include "io/colour_map.h"
#include "io/contour.h"

/* ------------------------------------------------------------------------------------------------ ticks */

static const struct { double low, high; size_t most; double first, step; size_t num; int decimals; } ranges[] = {
    {0.0, 10.0, 11, 0.0, 1.0, 11, 0},   {0.0, 10.0, 10, 0.0, 2.0, 6, 0},      {-3.2, 7.9, 6, -2.0, 2.0, 5, 0},
    {0.0, 0.037, 5, 0.0, 0.01, 4, 2},   {1234.0, 1300.0, 5, 1240.0, 20.0, 4, 0}, {-0.3, 0.3, 7, -0.3, 0.1, 7, 1},
    {0.0, 24.0, 14, 0.0, 2.0, 13, 0},   {-26.3, 4.1, 9, -25.0, 5.0, 6, 0}};

START_TEST(ticks_are_round_inside_and_few)
{
  const axes_ticks t = axes_ticks_between(ranges[_i].low, ranges[_i].high, ranges[_i].most);
  ck_assert_uint_eq(t.num, ranges[_i].num);
  ck_assert_double_eq_tol(axes_tick(&t, 0), ranges[_i].first, 1e-12);
  ck_assert_double_eq_tol(t.step, ranges[_i].step, 1e-15);
  ck_assert_int_eq(t.decimals, ranges[_i].decimals);
}
END_TEST

START_TEST(an_empty_or_unknown_range_has_no_ticks)
{
  ck_assert_uint_eq(axes_ticks_between(1.0, 1.0, 5).num, 0);
  ck_assert_uint_eq(axes_ticks_between(2.0, 1.0, 5).num, 0);
  ck_assert_uint_eq(axes_ticks_between(NAN, 1.0, 5).num, 0);
  ck_assert_uint_eq(axes_ticks_between(0.0, INFINITY, 5).num, 0);
}
END_TEST

START_TEST(numbers_have_a_true_minus_and_no_minus_zero)
{
  char text[32];
  axes_number(-12.5, 1, text, sizeof text);
  ck_assert_str_eq(text, "\xE2\x88\x92" "12.5");
  axes_number(-0.04, 1, text, sizeof text);
  ck_assert_str_eq(text, "0.0");
}
END_TEST

/* ------------------------------------------------------------------------------------------------ colours */

/* CIELAB (D65) of the primaries of sRGB, from the standards' matrices (IEC 61966-2-1, ISO/CIE 11664-4); these rounded figures are
 * tabulated widely, quoted here from memory. */
static const struct { colour c; double lab[3]; } primaries[] = {{{1, 1, 1, 1}, {100.0, 0.0, 0.0}},
                                                                {{1, 0, 0, 1}, {53.24, 80.09, 67.20}},
                                                                {{0, 1, 0, 1}, {87.73, -86.18, 83.18}},
                                                                {{0, 0, 1, 1}, {32.30, 79.19, -107.86}},
                                                                {{0, 0, 0, 1}, {0.0, 0.0, 0.0}}};

START_TEST(lab_of_the_primaries_and_back)
{
  double lab[3];
  colour back;
  colour_map_to_lab(primaries[_i].c, lab);
  for (int k = 0; k < 3; k++)
    ck_assert_double_eq_tol(lab[k], primaries[_i].lab[k], 0.05);
  ck_assert(colour_map_from_lab(lab, &back));
  ck_assert_double_eq_tol(back.red, primaries[_i].c.red, 2e-3);
  ck_assert_double_eq_tol(back.green, primaries[_i].c.green, 2e-3);
  ck_assert_double_eq_tol(back.blue, primaries[_i].c.blue, 2e-3);
}
END_TEST

static double apart(colour a, colour b)
{
  double p[3], q[3];
  colour_map_to_lab(a, p);
  colour_map_to_lab(b, q);
  return hypot(hypot(p[0] - q[0], p[1] - q[1]), p[2] - q[2]);
}

START_TEST(equal_steps_of_value_are_equal_steps_of_colour)
{
  /* 1976 colour difference between entries sixteen apart; a two-sided map is judged side by side. */
  colour_map map;
  colour_map_fill(&map, (colour_map_kind)_i);
  for (int half = 0; half < 2; half++) {
    double least = INFINITY, most = 0.0;
    for (int k = 0; k < 7; k++) {
      const int from = half * 128 + 16 * k;
      const double step = apart(map.entry[from], map.entry[from + 16]);
      least = fmin(least, step);
      most = fmax(most, step);
    }
    ck_assert_msg(most < 1.25 * least, "map %d, half %d: steps from %g to %g", _i, half, least, most);
    ck_assert_double_gt(least, 3.0); /* a just noticeable difference is about 2.3 (Mahy et al. 1994, from memory) */
  }
}
END_TEST

START_TEST(lightness_falls_along_the_map)
{
  colour_map map;
  colour_map_fill(&map, (colour_map_kind)_i);
  const int first = _i == COLOUR_MAP_TEMPERATURE ? 128 : 0;
  double before[3], lab[3];
  colour_map_to_lab(map.entry[first], before);
  for (int k = first + 1; k < COLOUR_MAP_SIZE; k++) {
    colour_map_to_lab(map.entry[k], lab);
    ck_assert_double_lt(lab[0], before[0] + 1e-9);
    memcpy(before, lab, sizeof lab);
  }
  if (first) /* the other side rises to the middle */
    for (int k = 1; k <= first; k++) {
      double a[3], b[3];
      colour_map_to_lab(map.entry[k - 1], a);
      colour_map_to_lab(map.entry[k], b);
      ck_assert_double_lt(a[0], b[0] + 1e-9);
    }
}
END_TEST

/* What people without red or green cones see, in linear sRGB: Machado, Oliveira & Fernandes, "A physiologically-based model for
 * simulation of color vision deficiency", IEEE TVCG 15 (2009), severity 1.0; figures from memory. */
static const double blindness[2][3][3] = {
    {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
    {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}}};

static double linear(double v) { return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4); }
static double encoded(double v)
{
  const double cut = fmin(fmax(v, 0.0), 1.0);
  return cut <= 0.0031308 ? 12.92 * cut : 1.055 * pow(cut, 1.0 / 2.4) - 0.055;
}

static colour seen(colour c, int kind)
{
  const double rgb[3] = {linear(c.red), linear(c.green), linear(c.blue)};
  double out[3];
  for (int i = 0; i < 3; i++)
    out[i] = encoded(blindness[kind][i][0] * rgb[0] + blindness[kind][i][1] * rgb[1] + blindness[kind][i][2] * rgb[2]);
  return (colour){out[0], out[1], out[2], 1.0};
}

START_TEST(no_two_places_of_a_map_look_alike_to_the_colour_blind)
{
  /* Any two of 17 stations stay at least 4 apart in CIELAB, about two just noticeable differences. */
  colour_map map;
  colour_map_fill(&map, (colour_map_kind)_i);
  for (int kind = 0; kind < 2; kind++)
    for (int a = 0; a < 17; a++)
      for (int b = 0; b < a; b++) {
        const double d = apart(seen(colour_map_at(&map, a / 16.0), kind), seen(colour_map_at(&map, b / 16.0), kind));
        ck_assert_msg(d > 4.0, "map %d, sight %d: stations %d and %d are %g apart", _i, kind, b, a, d);
      }
}
END_TEST

START_TEST(what_is_not_a_number_has_no_colour)
{
  colour_map map;
  colour_map_fill(&map, COLOUR_MAP_TIME);
  ck_assert_double_eq(colour_map_at(&map, NAN).alpha, 0.0);
  ck_assert_double_eq(colour_map_at(&map, 7.0).blue, map.entry[COLOUR_MAP_SIZE - 1].blue);
  ck_assert_double_eq(colour_map_at(&map, -7.0).blue, map.entry[0].blue);
}
END_TEST

/* ------------------------------------------------------------------------------------------------ lines */

enum { W = 61, H = 41 };

static void fill(float *v, double (*f)(double, double))
{
  for (int j = 0; j < H; j++)
    for (int i = 0; i < W; i++)
      v[j * W + i] = (float)f(i, j);
}

static double cone(double x, double y) { return hypot(x - 30.3, y - 20.1); }
static double slope(double x, double y) { return x + 0.5 * y; }
static double saddle(double x, double y) { return (x - 29.5) * (y - 19.5); }

START_TEST(a_circle_is_one_closed_line_of_the_right_length)
{
  float v[W * H];
  fill(v, cone);
  contour_set set;
  ck_assert_int_eq(contour_trace(&set, v, W, H, 12.37, NULL), STATUS_OK);
  ck_assert_uint_eq(set.num, 1);
  ck_assert(set.lines[0].closed);
  /* Chords of linear interpolation: each point is off the circle by less than (1/8) h2 / R = 0.011. */
  for (size_t k = 0; k < set.lines[0].num; k++)
    ck_assert_double_eq_tol(cone(set.lines[0].points[k][0], set.lines[0].points[k][1]), 12.37, 0.0125);
  ck_assert_double_eq_tol(contour_length(&set.lines[0]), 2.0 * acos(-1.0) * 12.37, 0.01 * 77.7);
  contour_release(&set);
}
END_TEST

START_TEST(a_straight_front_is_one_open_line_from_edge_to_edge)
{
  float v[W * H];
  fill(v, slope);
  contour_set set;
  ck_assert_int_eq(contour_trace(&set, v, W, H, 40.25, NULL), STATUS_OK);
  ck_assert_uint_eq(set.num, 1);
  ck_assert(!set.lines[0].closed);
  /* from (40.25, 0) to (20.25, 40) */
  ck_assert_double_eq_tol(contour_length(&set.lines[0]), hypot(20.0, 40.0), 1e-4);
  contour_release(&set);
}
END_TEST

START_TEST(lines_stop_at_what_is_not_known)
{
  float v[W * H];
  fill(v, slope);
  for (int i = 0; i < W; i++)
    v[20 * W + i] = NAN; /* row 20: the line is cut in two */
  contour_set set;
  ck_assert_int_eq(contour_trace(&set, v, W, H, 40.25, NULL), STATUS_OK);
  ck_assert_uint_eq(set.num, 2);
  ck_assert_double_eq_tol(contour_length(&set.lines[0]) + contour_length(&set.lines[1]), hypot(19.0, 38.0), 1e-4);
  contour_release(&set);
}
END_TEST

START_TEST(a_saddle_gives_two_lines_that_do_not_cross)
{
  float v[W * H];
  fill(v, saddle);
  for (int sign = -1; sign <= 1; sign += 2) {
    contour_set set;
    ck_assert_int_eq(contour_trace(&set, v, W, H, 0.1 * sign, NULL), STATUS_OK);
    ck_assert_uint_eq(set.num, 2);
    for (size_t l = 0; l < 2; l++) /* each stays on its own side of the middle */
      for (size_t k = 1; k < set.lines[l].num; k++)
        ck_assert_double_gt((set.lines[l].points[k][0] - 29.5) * (set.lines[l].points[0][0] - 29.5), 0.0);
    contour_release(&set);
  }
}
END_TEST

START_TEST(a_flat_field_has_no_lines)
{
  float v[W * H] = {0.0f};
  contour_set set;
  ck_assert_int_eq(contour_trace(&set, v, W, H, 0.5, NULL), STATUS_OK);
  ck_assert_uint_eq(set.num, 0);
  contour_release(&set);
}
END_TEST

START_TEST(labels_lie_on_their_line_and_never_over_each_other)
{
  float v[W * H];
  fill(v, cone);
  const contour_box bounds = {{0.0, 0.0}, {W - 1.0, H - 1.0}};
  const double size[2] = {9.0, 4.0};
  contour_box taken[8];
  size_t num = 0;
  for (double level = 4.0; level < 20.0; level += 4.0) {
    contour_set set;
    double centre[2];
    ck_assert_int_eq(contour_trace(&set, v, W, H, level, NULL), STATUS_OK);
    ck_assert(contour_place_label(&set, size, &bounds, taken, num, centre));
    ck_assert_double_eq_tol(cone(centre[0], centre[1]), level, 0.05);
    for (size_t k = 0; k < num; k++)
      ck_assert(fabs(centre[0] - 0.5 * (taken[k].low[0] + taken[k].high[0])) >= size[0] ||
                fabs(centre[1] - 0.5 * (taken[k].low[1] + taken[k].high[1])) >= size[1]);
    taken[num++] = (contour_box){{centre[0] - 4.5, centre[1] - 2.0}, {centre[0] + 4.5, centre[1] + 2.0}};
    contour_release(&set);
  }
  contour_set set;
  double centre[2];
  ck_assert_int_eq(contour_trace(&set, v, W, H, 8.0, NULL), STATUS_OK);
  const contour_box all = {{-1.0, -1.0}, {W, H}};
  ck_assert(!contour_place_label(&set, size, &bounds, &all, 1, centre)); /* no room at all */
  contour_release(&set);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("parts of pictures");
  TCase *t = tcase_create("parts");
  tcase_add_loop_test(t, ticks_are_round_inside_and_few, 0, (int)(sizeof ranges / sizeof *ranges));
  tcase_add_test(t, an_empty_or_unknown_range_has_no_ticks);
  tcase_add_test(t, numbers_have_a_true_minus_and_no_minus_zero);
  tcase_add_loop_test(t, lab_of_the_primaries_and_back, 0, 5);
  tcase_add_loop_test(t, equal_steps_of_value_are_equal_steps_of_colour, 0, 3);
  tcase_add_loop_test(t, lightness_falls_along_the_map, 0, 3);
  tcase_add_loop_test(t, no_two_places_of_a_map_look_alike_to_the_colour_blind, 0, 3);
  tcase_add_test(t, what_is_not_a_number_has_no_colour);
  tcase_add_test(t, a_circle_is_one_closed_line_of_the_right_length);
  tcase_add_test(t, a_straight_front_is_one_open_line_from_edge_to_edge);
  tcase_add_test(t, lines_stop_at_what_is_not_known);
  tcase_add_test(t, a_saddle_gives_two_lines_that_do_not_cross);
  tcase_add_test(t, a_flat_field_has_no_lines);
  tcase_add_test(t, labels_lie_on_their_line_and_never_over_each_other);
  suite_add_tcase(s, t);
  SRunner *runner = srunner_create(s);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed != 0;
}
