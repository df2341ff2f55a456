#include "io/sweep_run.h"

#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "io/interrupt.h"
#include "io/run_pool.h"
#include "io/summary_json.h"
#include "io/summary_path.h"

static const double TERMINAL_INTERVAL = 0.2, LINE_INTERVAL = 5.0; /* s */
enum { MOST_TOLD = 20, LONGEST_SUMMARY = 64 << 20 };

typedef struct {
  sweep *s;
  const sweep_run_wishes *w;
  run_pool *pool;
  size_t next, num_to_do, num_ended, num_failed, num_left;
  double begun, shown;
  bool terminal, looked; /* looked: the report's paths were looked for in a first answer */
} sitting;

static double wall_clock(void)
{
  struct timespec t;
  (void)clock_gettime(CLOCK_MONOTONIC, &t);
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static bool is_mine(const sitting *t, size_t which)
{
  return which % t->w->num_shares == t->w->share;
}

/* ------------------------------------------------------------------------------------------------ progress */

static void say_left(double seconds, char *text, size_t size)
{
  if (seconds < 90.0)
    (void)snprintf(text, size, "about %.0f s left", fmax(seconds, 1.0));
  else if (seconds < 5400.0)
    (void)snprintf(text, size, "about %.0f min left", seconds / 60.0);
  else
    (void)snprintf(text, size, "about %.0f h %02.0f min left", floor(seconds / 3600.0), floor(fmod(seconds, 3600.0) / 60.0));
}

static void show(sitting *t, bool last)
{
  const double now = wall_clock();
  if (t->w->quiet || (!last && now - t->shown < (t->terminal ? TERMINAL_INTERVAL : LINE_INTERVAL)))
    return;
  t->shown = now;
  char left[64] = "";
  if (t->num_ended > 0 && t->num_ended < t->num_to_do)
    say_left((now - t->begun) * (double)(t->num_to_do - t->num_ended) / (double)t->num_ended, left, sizeof left);
  (void)fprintf(stderr, "%ssweep: %zu of %zu runs ended, %zu failed, %zu running%s%s%s", t->terminal ? "\r" : "", t->num_ended, t->num_to_do,
                t->num_failed, run_pool_num_running(t->pool), left[0] ? ", " : "", left, t->terminal && !last ? "      " : "\n");
  (void)fflush(stderr);
}

/* ------------------------------------------------------------------------------------------------ what came back */

/* A path that is not in the first answer is told at once, with what comes closest: a whole sweep is too long to wait for an empty column. */
static void look_for_paths(sitting *t, size_t which)
{
  char directory[WHOLE_FILE_PATH], path[WHOLE_FILE_PATH], near[PLAN_PATH], *text = NULL;
  t->looked = true;
  if (t->w->quiet || sweep_case_directory(t->s, which, directory, NULL) != STATUS_OK ||
      whole_file_join(path, directory, SUMMARY_JSON_NAME, NULL) != STATUS_OK || whole_file_read(path, LONGEST_SUMMARY, &text, NULL, NULL) != STATUS_OK)
    return;
  json_t *summary = json_loads(text, 0, NULL);
  for (size_t i = 0; summary && i < t->s->plan->num_report; i++) {
    const char *wanted = t->s->plan->report[i];
    const json_t *found = summary_path_find(summary, wanted);
    if (found && !json_is_object(found) && !json_is_array(found))
      continue;
    const int is_near = !found && summary_path_nearest(summary, wanted, near, sizeof near);
    (void)fprintf(stderr, "%slastwater: %s is %s in the first answer (%s)%s%s\n", t->terminal ? "\n" : "", wanted,
                  found ? "no single figure" : "not known", path, is_near ? "; the closest is " : "", is_near ? near : "");
  }
  json_decref(summary);
  free(text);
}

static void tell(sitting *t, const run_pool_answer *a, bool again)
{
  if (t->num_failed + t->num_left > MOST_TOLD)
    return;
  (void)fprintf(stderr, "%slastwater: case %zu %s: %s\n", t->terminal ? "\n" : "", a->job, again ? "was not finished and stays to do" : "failed",
                a->why.text);
}

/* Out of memory, a full disk, a kill: nothing of the case's own. */
static bool is_of_machine(const run_pool_answer *a)
{
  return a->killed || a->code == STATUS_FILE || a->code == STATUS_NO_MEMORY || a->code == STATUS_INTERRUPTED;
}

static status take(sitting *t, message *msg)
{
  run_pool_answer a;
  status code = run_pool_next(t->pool, &a, msg);
  if (code != STATUS_OK)
    return code;
  t->num_ended++;
  if (a.code == STATUS_OK) {
    code = ledger_write(t->s->ledger, sweep_key(t->s, a.job), LEDGER_DONE, a.wall, a.answer, msg);
    if (!t->looked)
      look_for_paths(t, a.job);
  } else if (is_of_machine(&a)) {
    t->num_left++;
    tell(t, &a, true);
  } else {
    t->num_failed++;
    code = ledger_write(t->s->ledger, sweep_key(t->s, a.job), LEDGER_FAILED, a.wall, a.why.text, msg);
    tell(t, &a, false);
  }
  show(t, false);
  return code;
}

/* ------------------------------------------------------------------------------------------------ the loop */

static bool find_next(sitting *t)
{
  const size_t num = plan_points_num_cases(t->s->points);
  while (t->next < num && (!is_mine(t, t->next) || ledger_state_of(t->s->ledger, sweep_key(t->s, t->next)) != LEDGER_TO_DO))
    t->next++;
  return t->next < num;
}

static void count(sitting *t)
{
  for (size_t i = 0; i < plan_points_num_cases(t->s->points); i++)
    t->num_to_do += is_mine(t, i) && ledger_state_of(t->s->ledger, sweep_key(t->s, i)) == LEDGER_TO_DO;
}

static status march(sitting *t, message *msg)
{
  status code = STATUS_OK;
  while (code == STATUS_OK) {
    while (code == STATUS_OK && !run_pool_is_full(t->pool) && find_next(t))
      code = run_pool_start(t->pool, t->next++, msg);
    if (code == STATUS_OK && run_pool_num_running(t->pool) == 0)
      break;
    if (code == STATUS_OK)
      code = take(t, msg);
    if (code == STATUS_OK && interrupt_count() > 0)
      code = message_set(msg, STATUS_INTERRUPTED, "interrupted");
  }
  return code;
}

status sweep_run(sweep *s, const sweep_run_wishes *w, message *msg)
{
  sitting t = {.s = s, .w = w, .begun = wall_clock(), .terminal = isatty(STDERR_FILENO) == 1};
  count(&t);
  t.shown = t.begun;
  if (t.num_to_do == 0)
    return STATUS_OK;
  status code = run_pool_create(&t.pool, w->jobs < t.num_to_do ? w->jobs : t.num_to_do, sweep_answer_room(s), sweep_work, s, msg);
  interrupt_begin();
  if (code == STATUS_OK)
    code = march(&t, msg);
  interrupt_end();
  if (t.pool)
    show(&t, true);
  run_pool_destroy(&t.pool);
  if (code == STATUS_INTERRUPTED)
    return message_set(msg, code, "interrupted after %zu of %zu runs; the same command with --resume goes on", t.num_ended, t.num_to_do);
  if (code == STATUS_OK && t.num_left > 0)
    code = message_set(msg, STATUS_FAILED, "%zu runs were not finished for reasons of the machine (see above); --resume tries them again", t.num_left);
  return code;
}
