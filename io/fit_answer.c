#include "io/fit_answer.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>

#include "io/plain_words.h"

static const double ALIKE = 0.95; /* correlation from which two inputs cannot be told apart */

double fit_answer_before(const fit_input *inputs, size_t num, const fit_solve_answer *found)
{
  double variance = 0.0;
  for (size_t i = 0; i < num; i++) {
    if (isnan(inputs[i].low))
      return NAN;
    const double half = 0.5 * (fit_inputs_place(&inputs[i], inputs[i].high) - fit_inputs_place(&inputs[i], inputs[i].low));
    variance += found->forecast_slope[i] * found->forecast_slope[i] * half * half / 3.0;
  }
  return 1.645 * sqrt(variance);
}

void fit_answer_ends(const fit_answer *a, size_t input, double *low, double *high)
{
  const double place = a->found->place[input], half = a->found->half[input];
  *low = fit_inputs_value(&a->inputs[input], place - half);
  *high = fit_inputs_value(&a->inputs[input], place + half);
}

/* ------------------------------------------------------------------------------------------------ in words */

static void say_input(FILE *to, const fit_answer *a, size_t i)
{
  char text[96], low_text[96], high_text[96];
  double low, high;
  fit_inputs_text(&a->inputs[i], fit_inputs_value(&a->inputs[i], a->found->place[i]), text, sizeof text);
  if (!isfinite(a->found->half[i])) {
    (void)fprintf(to, "  %s: the log says nothing about it; it stays at %s\n", a->inputs[i].key, text);
    return;
  }
  fit_answer_ends(a, i, &low, &high);
  const char *unit = quantity_unit(a->inputs[i].kind);
  (void)snprintf(text, sizeof text, "%.4g", fit_inputs_value(&a->inputs[i], a->found->place[i]));
  (void)snprintf(low_text, sizeof low_text, "%.4g", low);
  (void)snprintf(high_text, sizeof high_text, "%.4g", high);
  (void)fprintf(to, "  %s = %s %s   (%s to %s)\n", a->inputs[i].key, text, unit, low_text, high_text);
}

static void say_alike(FILE *to, const fit_answer *a)
{
  for (size_t i = 0; i < a->model->num_inputs; i++)
    for (size_t j = i + 1; j < a->model->num_inputs; j++)
      if (fabs(a->found->correlation[i][j]) > ALIKE)
        (void)fprintf(to, "Warning: %s and %s cannot be told apart by this log (correlation %.3f): only %s of them is settled. Fix one, or measure at another place.\n",
                      a->inputs[i].key, a->inputs[j].key, a->found->correlation[i][j], a->found->correlation[i][j] > 0.0 ? "the difference" : "the sum");
}

static void say_forecast(FILE *to, const fit_answer *a)
{
  char now[PLAIN_WORDS], half[PLAIN_WORDS], before[PLAIN_WORDS];
  if (isnan(a->found->forecast))
    return;
  plain_words_duration(a->found->forecast, now);
  plain_words_duration(a->found->forecast_half, half);
  (void)fprintf(to, "Frozen solid after %s", now);
  if (isfinite(a->found->forecast_half))
    (void)fprintf(to, ", give or take %s (nine of ten)", half);
  if (isfinite(a->before_half)) {
    plain_words_duration(a->before_half, before);
    (void)fprintf(to, "; by what was known before it was %s", before);
  }
  (void)fprintf(to, ". The inputs that were not fitted keep their own spread: run --band.\n");
}

bool fit_answer_print(FILE *to, const fit_answer *a)
{
  const fit_solve_answer *f = a->found;
  (void)fprintf(to, "Settled by %zu measured values (all lie in the brackets together with 95 %%):\n", f->num_used);
  for (size_t i = 0; i < a->model->num_inputs; i++)
    say_input(to, a, i);
  say_alike(to, a);
  (void)fprintf(to, "The thermometers scatter by %.2g K about the model; %zu outliers left out; %zu runs.\n", f->scatter, f->num_outliers, f->num_runs);
  if (f->likeness > 0.3)
    (void)fprintf(to, "Neighbouring residuals are alike (%.2f): the model misses something or the thermometer is slow; the brackets are widened for it.\n",
                  f->likeness);
  say_forecast(to, a);
  return !ferror(to);
}

/* ------------------------------------------------------------------------------------------------ for programs */

static void put_real(json_t *o, const char *key, double value)
{
  if (isfinite(value))
    (void)json_object_set_new(o, key, json_real(value));
}

static json_t *inputs_array(const fit_answer *a)
{
  json_t *list = json_array();
  for (size_t i = 0; i < a->model->num_inputs; i++) {
    double low, high;
    json_t *o = json_pack("{s: s}", "key", a->inputs[i].key);
    put_real(o, "value", fit_inputs_value(&a->inputs[i], a->found->place[i]));
    fit_answer_ends(a, i, &low, &high);
    if (isfinite(a->found->half[i])) {
      put_real(o, "low", low);
      put_real(o, "high", high);
    }
    (void)json_array_append_new(list, o);
  }
  return list;
}

static json_t *alike_array(const fit_answer *a)
{
  json_t *list = json_array();
  for (size_t i = 0; i < a->model->num_inputs; i++)
    for (size_t j = i + 1; j < a->model->num_inputs; j++)
      if (fabs(a->found->correlation[i][j]) > ALIKE)
        (void)json_array_append_new(list, json_pack("[s, s]", a->inputs[i].key, a->inputs[j].key));
  return list;
}

status fit_answer_json(char **text, const fit_answer *a, message *msg)
{
  json_t *root = json_object(), *forecast = json_object();
  (void)json_object_set_new(root, "format", json_integer(1));
  (void)json_object_set_new(root, "inputs", inputs_array(a));
  (void)json_object_set_new(root, "alike", alike_array(a));
  put_real(root, "scatter_K", a->found->scatter);
  (void)json_object_set_new(root, "samples", json_integer((json_int_t)a->found->num_used));
  (void)json_object_set_new(root, "outliers", json_integer((json_int_t)a->found->num_outliers));
  (void)json_object_set_new(root, "runs", json_integer((json_int_t)a->found->num_runs));
  put_real(forecast, "freeze_time_s", a->found->forecast);
  put_real(forecast, "half_s", a->found->forecast_half);
  put_real(forecast, "before_half_s", a->before_half);
  (void)json_object_set_new(root, "forecast", forecast);
  *text = root ? json_dumps(root, JSON_INDENT(2)) : NULL;
  json_decref(root);
  return *text ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for the answer");
}
