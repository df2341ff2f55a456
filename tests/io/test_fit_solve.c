/* The fit on a cooling curve in closed form: hidden inputs come back within their confidence, outliers do not matter, and what a log cannot tell is said. */
#include <check.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "io/fit_solve.h"

enum { NUM = 120, SEEDS = 100 };
static const double PI = 3.14159265358979324;

/* Even and normal random numbers (Box and Muller 1958) from a linear congruence (Knuth's multiplier). */
static double even(uint64_t *state)
{
  *state = *state * 6364136223846793005u + 1442695040888963407u;
  return ((double)(*state >> 11) + 0.5) / 9007199254740992.0;
}
static double normal(uint64_t *state) { return sqrt(-2.0 * log(even(state))) * cos(2.0 * PI * even(state)); }

/* Cooling towards an end: start * exp(-rate t) + end, t from 0 to 3. */
static double cooling(const double *x, size_t i) { return 20.0 * exp(x[0]) * exp(-exp(x[1]) * 3.0 * (double)i / NUM) - 5.0; }

/* Only the sum of the two inputs counts. */
static double blurred(const double *x, size_t i) { return cooling((const double[2]){x[0] + x[1], 0.0}, i); }

/* The second input does nothing. */
static double deaf(const double *x, size_t i) { return cooling((const double[2]){x[0], 0.0}, i); }

/* The product of two inputs counts for nearly all, one of them alone for a little: a narrow valley, and a bent one. */
static double valley(const double *x, size_t i)
{
  const double t = 3.0 * (double)i / NUM;
  return 20.0 * exp(-0.6 * exp(x[0]) * (1.0 + 0.5 * x[1]) * t) - 5.0 + 0.1 * x[1] * t * t;
}

typedef struct { double (*value)(const double *x, size_t i); } curve;

/* A curve at all its times; the forecast is how long until it is down: the slower, the longer. */
static status along(void *what, const double *places, size_t num, double *predictions, double *forecast, message *msg)
{
  const curve *c = what;
  (void)msg;
  for (size_t k = 0; k < num; k++) {
    for (size_t i = 0; i < NUM; i++)
      predictions[k * NUM + i] = c->value(places + 2 * k, i);
    forecast[k] = 4.0 * exp(-places[2 * k + 1]);
  }
  return STATUS_OK;
}

static const double hidden[2] = {0.21, -0.17}, start[2] = {0.0, 0.0};

/* Noise of 0.3, one in ten missing, one in twenty wildly off. */
static void measure(uint64_t seed, double measured[NUM], size_t follows[NUM])
{
  uint64_t state = seed * 977 + 13;
  for (size_t i = 0; i < NUM; i++) {
    measured[i] = cooling(hidden, i) + 0.3 * normal(&state);
    if (even(&state) < 0.05)
      measured[i] += 15.0;
    if (even(&state) < 0.1)
      measured[i] = NAN;
    follows[i] = i ? i - 1 : i;
  }
}

static fit_solve_answer solve(uint64_t seed, double (*value)(const double *x, size_t i))
{
  double measured[NUM], predictions[NUM];
  size_t follows[NUM];
  unsigned char outlier[NUM];
  fit_solve_answer found;
  message msg = {""};
  measure(seed, measured, follows);
  curve of = {value};
  const fit_solve_request ask = {.num_inputs = 2, .num_values = NUM, .start = start, .step = 0.01, .measured = measured, .follows = follows, .model = along,
                                 .what = &of};
  ck_assert_msg(fit_solve(&found, predictions, outlier, &ask, &msg) == STATUS_OK, "%s", msg.text);
  return found;
}

/* Confidence of 95 % for both together: of 100 seeds 95 are to be expected, and 88 or fewer come about once in 300 times (binomial distribution). */
START_TEST(hidden_inputs_lie_within_their_confidence)
{
  int inside = 0, runs = 0;
  double width = 0.0;
  for (uint64_t seed = 1; seed <= SEEDS; seed++) {
    const fit_solve_answer a = solve(seed, cooling);
    inside += fabs(a.place[0] - hidden[0]) < a.half[0] && fabs(a.place[1] - hidden[1]) < a.half[1];
    runs += (int)a.num_runs;
    width += a.half[1] / SEEDS;
    ck_assert_double_eq_tol(a.scatter, 0.3, 0.1);
    ck_assert_uint_gt(a.num_outliers, 0);
  }
  ck_assert_int_ge(inside, 89);
  ck_assert_double_lt(width, 0.03); /* and no wide bracket either: 0.3 / 20 over 100 values is some 0.01 */
  ck_assert_int_lt(runs / SEEDS, 80);
}
END_TEST

/* From a start far off, in a valley whose sides are some thirty times as steep as its floor; the same odds as above. */
START_TEST(a_bent_valley_is_followed_to_its_lowest_place)
{
  static const double there[2] = {-0.35, 0.9}, low[2] = {-0.6, -1.0}, high[2] = {0.6, 1.0};
  int inside = 0;
  double width = 0.0;
  for (uint64_t seed = 1; seed <= SEEDS; seed++) {
    double measured[NUM], predictions[NUM];
    size_t follows[NUM];
    unsigned char outlier[NUM];
    fit_solve_answer a;
    message msg = {""};
    curve of = {valley};
    uint64_t state = seed * 7451 + 3;
    for (size_t i = 0; i < NUM; i++) {
      measured[i] = valley(there, i) + 0.1 * normal(&state);
      follows[i] = i ? i - 1 : i;
    }
    const fit_solve_request ask = {.num_inputs = 2, .num_values = NUM, .start = start, .low = low, .high = high, .step = 0.15, .measured = measured,
                                   .follows = follows, .model = along, .what = &of};
    ck_assert_msg(fit_solve(&a, predictions, outlier, &ask, &msg) == STATUS_OK, "%s", msg.text);
    inside += fabs(a.place[0] - there[0]) < a.half[0] && fabs(a.place[1] - there[1]) < a.half[1];
    width += a.half[1] / SEEDS;
  }
  ck_assert_int_ge(inside, 89);
  ck_assert_double_lt(width, 1.0);
}
END_TEST

START_TEST(what_cannot_be_told_apart_is_alike)
{
  const fit_solve_answer a = solve(3, blurred);
  ck_assert_double_gt(fabs(a.correlation[0][1]), 0.95);
  ck_assert_double_gt(a.half[0], 1.0);
}
END_TEST

START_TEST(what_the_log_does_not_feel_has_no_confidence)
{
  const fit_solve_answer a = solve(4, deaf);
  ck_assert(isinf(a.half[1]));
  ck_assert(isfinite(a.half[0]));
}
END_TEST

/* The forecast's half width by its slope: 4 exp(-x1) has the slope -forecast. */
START_TEST(the_forecast_is_as_sure_as_its_inputs)
{
  const fit_solve_answer a = solve(5, cooling);
  ck_assert_double_eq_tol(a.forecast, 4.0 * exp(-a.place[1]), 1e-9);
  ck_assert_double_eq_tol(a.forecast_half, 1.645 * a.forecast * sqrt(a.covariance[1][1]), 0.02 * a.forecast_half);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("fit_solve");
  TCase *all = tcase_create("fit");
  tcase_add_test(all, hidden_inputs_lie_within_their_confidence);
  tcase_add_test(all, a_bent_valley_is_followed_to_its_lowest_place);
  tcase_add_test(all, what_cannot_be_told_apart_is_alike);
  tcase_add_test(all, what_the_log_does_not_feel_has_no_confidence);
  tcase_add_test(all, the_forecast_is_as_sure_as_its_inputs);
  suite_add_tcase(suite, all);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
