#include "io/seek_runs.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/run_batch.h"
#include "io/summary_path.h"
#include "io/whole_file.h"

enum { TEXT = PLAN_PATH + 128 };

status seek_runs_create(seek_runs *s, const plan_file *p, size_t jobs, bool quiet, message *msg)
{
  *s = (seek_runs){.plan = p, .jobs = jobs, .most = p->runs, .quiet = quiet, .capacity = p->runs + 1};
  s->place = calloc(s->capacity * p->num_inputs, sizeof *s->place);
  s->value = calloc(s->capacity * p->num_report + 1, sizeof *s->value);
  s->why = calloc(s->capacity, sizeof *s->why);
  if (s->place && s->value && s->why)
    return STATUS_OK;
  seek_runs_release(s);
  return message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu runs", p->runs);
}

void seek_runs_release(seek_runs *s)
{
  free(s->place);
  free(s->value);
  free(s->why);
  s->place = s->value = NULL;
  s->why = NULL;
  s->num = 0;
}

double seek_runs_number(const seek_runs *s, size_t input, double place)
{
  const plan_input *in = &s->plan->inputs[input];
  return in->ratio ? in->low * pow(in->high / in->low, place) : in->low + place * (in->high - in->low);
}

void seek_runs_text(const seek_runs *s, size_t input, double place, char *text, size_t size)
{
  plan_file_number_text(&s->plan->inputs[input], seek_runs_number(s, input, place), text, size);
}

size_t seek_runs_column(const seek_runs *s, const char *path)
{
  size_t k = 0;
  while (k + 1 < s->plan->num_report && strcmp(s->plan->report[k], path) != 0)
    k++;
  return k;
}

static void keep(seek_runs *s, const double *place, const run_batch_run *r)
{
  const size_t n = s->num++;
  memcpy(s->place + n * s->plan->num_inputs, place, s->plan->num_inputs * sizeof *place);
  for (size_t k = 0; k < s->plan->num_report; k++)
    s->value[n * s->plan->num_report + k] = r->summary ? summary_path_number(summary_path_find(r->summary, s->plan->report[k])) : NAN;
  s->why[n] = r->why;
  if (!s->quiet && !r->summary)
    (void)fprintf(stderr, "lastwater: run %zu failed: %s\n", n + 1, r->why.text);
}

status seek_runs_make(seek_runs *s, const double *places, size_t num, message *msg)
{
  const plan_file *p = s->plan;
  const size_t inputs = p->num_inputs;
  char(*texts)[TEXT] = calloc(num * inputs + 1, sizeof *texts);
  const char **lists = calloc(num * inputs + 1, sizeof *lists);
  run_batch_run *runs = calloc(num + 1, sizeof *runs);
  status code = texts && lists && runs ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu runs", num);
  for (size_t n = 0; code == STATUS_OK && n < num; n++) {
    for (size_t i = 0; i < inputs; i++) {
      char value[96];
      seek_runs_text(s, i, places[n * inputs + i], value, sizeof value);
      (void)snprintf(texts[n * inputs + i], TEXT, "%s=%s", p->inputs[i].key, value);
      lists[n * inputs + i] = texts[n * inputs + i];
    }
    runs[n] = (run_batch_run){.set = lists + n * inputs, .num_set = inputs};
  }
  const run_batch_case c = {p->case_path, p->case_text, p->case_length, (const char *const *)p->set, p->num_set, s->jobs, NULL};
  if (code == STATUS_OK)
    code = run_batch_go(&c, runs, num, msg);
  for (size_t n = 0; code == STATUS_OK && n < num && s->num < s->capacity; n++)
    keep(s, places + n * inputs, &runs[n]);
  if (runs)
    run_batch_release(runs, num);
  free(runs);
  free(lists);
  free(texts);
  return code;
}

status seek_runs_write(const seek_runs *s, const char *path, message *msg)
{
  whole_file *f = NULL;
  const plan_file *p = s->plan;
  const status code = whole_file_open(&f, path, msg);
  if (code != STATUS_OK)
    return code;
  FILE *to = whole_file_stream(f);
  (void)fputs("run", to);
  for (size_t i = 0; i < p->num_inputs; i++)
    (void)fprintf(to, ",\"%s_%s\"", p->inputs[i].key, p->inputs[i].unit);
  for (size_t k = 0; k < p->num_report; k++)
    (void)fprintf(to, ",%s", p->report[k]);
  (void)fputs("\r\n", to);
  for (size_t n = 0; n < s->num; n++) {
    (void)fprintf(to, "%zu", n + 1);
    for (size_t i = 0; i < p->num_inputs; i++)
      (void)fprintf(to, ",%.12g", seek_runs_number(s, i, s->place[n * p->num_inputs + i]));
    for (size_t k = 0; k < p->num_report; k++)
      if (isnan(s->value[n * p->num_report + k]))
        (void)fputc(',', to);
      else
        (void)fprintf(to, ",%.17g", s->value[n * p->num_report + k]);
    (void)fputs("\r\n", to);
  }
  return whole_file_commit(&f, msg); /* which looks at all errors of the stream */
}
