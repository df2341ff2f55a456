#include "io/fit_model.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_path.h"
#include "io/case_run.h"
#include "io/interrupt.h"
#include "io/run_pool.h"

enum { SETTING = FIT_INPUTS_TEXT + 100 };
static const double MOST_ROWS = 2000.0, MOST_STEPS = 4000.0, STEPS_A_ROW = 6.0;

status fit_model_find_probes(fit_model *m, message *msg)
{
  const yaml_node *probes = yaml_tree_value(m->c->tree, "probes");
  m->num_probes = 0;
  for (size_t k = 0; k < m->log->num_columns; k++)
    if (probes && probes->kind == YAML_LIST && case_path_item(probes, m->log->name[k]) != SIZE_MAX)
      m->column[m->num_probes++] = k;
  const double length = m->log->time[m->log->num_rows - 1] - m->log->time[0];
  const double every = fmax(0.5 * length / (double)(m->log->num_rows - 1), m->log->time[m->log->num_rows - 1] / MOST_ROWS);
  (void)snprintf(m->sampling[0], sizeof m->sampling[0], "run.series_every=%.6g s", fmax(every, 0.1));
  /* Between two rows the model is a straight line, and where a front passes a probe the value depends on where the steps happened to end: short steps
   * keep that honest and slopes by differences smooth. */
  const double step = fmax(every / STEPS_A_ROW, m->log->time[m->log->num_rows - 1] / MOST_STEPS), own = m->c->rig.control.longest_step;
  (void)snprintf(m->sampling[1], sizeof m->sampling[1], "run.longest_step=%.6g s", own > 0.0 ? fmin(own, step) : step);
  return m->num_probes ? STATUS_OK
                       : message_set(msg, STATUS_BAD_INPUT, "no column of the log bears the name of a probe of the case (probes: [{name: core, at: ...}])");
}

/* ------------------------------------------------------------------------------------------------ in the worker */

typedef struct {
  fit_model *m;
  const double *places;
} task;

static size_t series_column(const time_series *s, const char *probe)
{
  char name[LOG_FILE_NAME + 8];
  (void)snprintf(name, sizeof name, "probe.%s", probe);
  for (size_t k = 1; k < s->num_columns; k++)
    if (strcmp(s->name[k], name) == 0)
      return k;
  return SIZE_MAX;
}

/* Straight between rows; before the first and after the last row the end value. */
static double value_at(const time_series *s, size_t column, double time, size_t *row)
{
  const double *v = s->values;
  const size_t n = s->num_columns;
  while (*row + 1 < s->num_rows && v[(*row + 1) * n] <= time)
    (*row)++;
  if (*row + 1 >= s->num_rows || time <= v[*row * n])
    return v[*row * n + column];
  const double share = (time - v[*row * n]) / (v[(*row + 1) * n] - v[*row * n]);
  return v[*row * n + column] + share * (v[(*row + 1) * n + column] - v[*row * n + column]);
}

static void read_series(const fit_model *m, const results *res, double *answer)
{
  for (size_t p = 0; p < m->num_probes; p++) {
    const size_t column = series_column(&res->series, m->log->name[m->column[p]]);
    size_t row = 0;
    for (size_t i = 0; i < m->log->num_rows; i++)
      answer[1 + i * m->num_probes + p] = column == SIZE_MAX || res->series.num_rows == 0 ? NAN : value_at(&res->series, column, m->log->time[i], &row);
  }
  answer[0] = res->last_body >= 0 ? res->bodies[res->last_body].freeze_time : NAN;
}

static status work(const void *what, size_t job, void *answer, size_t room, message *msg)
{
  const task *t = what;
  const fit_model *m = t->m;
  char texts[FIT_SOLVE_MOST][SETTING];
  const char **set = calloc(m->c->num_overrides + m->num_inputs + 3, sizeof *set);
  case_run_done done = {0};
  size_t num = 0;
  (void)room;
  if (!set)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the settings of a run");
  for (size_t i = 0; i < m->c->num_overrides; i++)
    set[num++] = m->c->overrides[i] + strlen("--set ");
  for (size_t i = 0; i < m->num_inputs; i++) {
    char value[96];
    fit_inputs_text(&m->inputs[i], fit_inputs_value(&m->inputs[i], t->places[job * m->num_inputs + i]), value, sizeof value);
    (void)snprintf(texts[i], SETTING, "%s=%s", m->inputs[i].key, value);
    set[num++] = texts[i];
  }
  set[num++] = m->sampling[0];
  set[num++] = m->sampling[1];
  const case_run_request want = {m->c->path, m->case_text, m->case_length, set, num};
  const status code = case_run_march(&done, &want, msg);
  if (code == STATUS_OK)
    read_series(m, run_results(done.run), answer);
  case_run_release(&done);
  free(set);
  return code;
}

/* ------------------------------------------------------------------------------------------------ outside */

static status take(fit_model *m, run_pool *pool, double *predictions, double *forecast, message *msg)
{
  const size_t values = m->log->num_rows * m->num_probes;
  run_pool_answer a;
  const status code = run_pool_next(pool, &a, msg);
  if (code != STATUS_OK)
    return code;
  m->num_runs++;
  if (a.code == STATUS_NO_MEMORY || a.code == STATUS_FILE || a.killed)
    return message_set(msg, STATUS_FAILED, "%s", a.why.text);
  const double *answer = a.answer;
  forecast[a.job] = a.code == STATUS_OK ? answer[0] : NAN;
  for (size_t i = 0; i < values; i++)
    predictions[a.job * values + i] = a.code == STATUS_OK ? answer[1 + i] : NAN;
  return STATUS_OK;
}

status fit_model_predict(void *what, const double *places, size_t num, double *predictions, double *forecast, message *msg)
{
  fit_model *m = what;
  task t = {m, places};
  run_pool *pool = NULL;
  size_t started = 0, ended = 0;
  status code = run_pool_create(&pool, m->jobs < num ? m->jobs : num, (1 + m->log->num_rows * m->num_probes) * sizeof(double), work, &t, msg);
  interrupt_begin();
  while (code == STATUS_OK && ended < num) {
    if (started < num && !run_pool_is_full(pool)) {
      code = run_pool_start(pool, started++, msg);
      continue;
    }
    code = take(m, pool, predictions, forecast, msg);
    ended++;
    if (code == STATUS_OK && interrupt_count() > 0)
      code = message_set(msg, STATUS_INTERRUPTED, "interrupted; nothing was written");
  }
  interrupt_end();
  run_pool_destroy(&pool);
  return code;
}
