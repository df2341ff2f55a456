#include "io/run_batch.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/case_run.h"
#include "io/interrupt.h"
#include "io/run_pool.h"

enum { LONGEST_SUMMARY = 8 << 20 };

typedef struct {
  const run_batch_case *c;
  run_batch_run *runs;
} batch;

/* In a process of its own: the summary as text is the answer. */
static status work(const void *what, size_t job, void *answer, size_t room, message *msg)
{
  const batch *b = what;
  const run_batch_run *r = &b->runs[job];
  const size_t num = b->c->num_set + r->num_set;
  const char **set = calloc(num + 1, sizeof *set);
  char *text = NULL;
  case_run_done done;
  if (!set)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the settings of a run");
  for (size_t i = 0; i < num; i++)
    set[i] = i < b->c->num_set ? b->c->set[i] : r->set[i - b->c->num_set];
  const case_run_request want = {b->c->case_path, b->c->case_text, b->c->case_length, set, num};
  status code = case_run_march(&done, &want, msg);
  if (code == STATUS_OK)
    code = case_run_summary(&done, &text, NULL, msg);
  if (code == STATUS_OK && strlen(text) >= room)
    code = message_set(msg, STATUS_FAILED, "the summary of a run takes %zu bytes, more than %zu", strlen(text), room);
  if (code == STATUS_OK)
    memcpy(answer, text, strlen(text) + 1);
  free(text);
  case_run_release(&done);
  free(set);
  return code;
}

static status take(batch *b, run_pool *pool, message *msg)
{
  run_pool_answer a;
  status code = run_pool_next(pool, &a, msg);
  if (code != STATUS_OK)
    return code;
  run_batch_run *r = &b->runs[a.job];
  r->why = a.why;
  if (a.code == STATUS_OK && (r->summary = json_loads(a.answer, 0, NULL)) == NULL)
    return message_set(msg, STATUS_FAILED, "the summary of a run cannot be read back");
  if (a.code == STATUS_NO_MEMORY || a.code == STATUS_FILE || a.killed)
    return message_set(msg, a.killed ? STATUS_FAILED : a.code, "%s", a.why.text);
  return STATUS_OK;
}

static void show(const run_batch_case *c, size_t ended, size_t num, bool last)
{
  if (!c->what)
    return;
  if (isatty(STDERR_FILENO) == 1)
    (void)fprintf(stderr, "\r%s: %zu of %zu runs ended%s", c->what, ended, num, last ? "\n" : "");
  else if (last)
    (void)fprintf(stderr, "%s: %zu runs ended\n", c->what, ended);
  (void)fflush(stderr);
}

status run_batch_go(const run_batch_case *c, run_batch_run *runs, size_t num, message *msg)
{
  batch b = {c, runs};
  run_pool *pool = NULL;
  size_t started = 0, ended = 0;
  status code = num ? run_pool_create(&pool, c->jobs < num ? c->jobs : num, LONGEST_SUMMARY, work, &b, msg) : STATUS_OK;
  interrupt_begin();
  while (code == STATUS_OK && ended < num) {
    if (started < num && !run_pool_is_full(pool)) {
      code = run_pool_start(pool, started++, msg);
      continue;
    }
    code = take(&b, pool, msg);
    ended++;
    show(c, ended, num, ended == num);
    if (code == STATUS_OK && interrupt_count() > 0)
      code = message_set(msg, STATUS_INTERRUPTED, "interrupted; nothing was written");
  }
  interrupt_end();
  run_pool_destroy(&pool);
  return code;
}

void run_batch_release(run_batch_run *runs, size_t num)
{
  for (size_t i = 0; i < num; i++) {
    json_decref(runs[i].summary);
    runs[i].summary = NULL;
  }
}
