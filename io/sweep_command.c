#include "io/sweep_command.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#include "io/picture_sweep.h"
#include "io/plan_command.h"
#include "io/run_pool.h"
#include "io/sweep_run.h"
#include "io/sweep_slurm.h"
#include "io/sweep_table.h"

enum { ROWS_SAID = 15 };

/* ------------------------------------------------------------------------------------------------ gathering */

static status write_ranking(const sweep_table *t, const char *path, message *msg)
{
  whole_file *f = NULL;
  const status code = whole_file_open(&f, path, msg);
  if (code != STATUS_OK)
    return code;
  (void)sweep_table_print_ranking(t, whole_file_stream(f), SIZE_MAX);
  return whole_file_commit(&f, msg); /* which looks at all errors of the stream */
}

static status write_results(const sweep_table *t, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const char *dir = t->s->directory;
  status code = whole_file_join(path, dir, "results.csv", msg);
  if (code == STATUS_OK)
    code = sweep_table_write_csv(t, path, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, dir, "results.h5", msg);
  if (code == STATUS_OK)
    code = sweep_table_write_h5(t, path, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, dir, "ranking.txt", msg);
  if (code == STATUS_OK)
    code = write_ranking(t, path, msg);
  return code == STATUS_OK ? picture_sweep_draw(t, dir, msg) : code;
}

/* ------------------------------------------------------------------------------------------------ telling */

static bool say_json(const sweep_table *t, size_t done, size_t failed)
{
  return printf("{\"directory\": \"%s\", \"points\": %zu, \"cases\": %zu, \"done\": %zu, \"failed\": %zu, \"best_case\": ", t->s->directory, t->num_points,
                t->num_cases, done, failed) > 0 &&
         (t->num_ranked ? printf("%u}\n", t->ranked[0]) : printf("null}\n")) > 0;
}

static status say_answer(const options *o, const sweep_table *t, message *msg)
{
  size_t done = 0, failed = 0;
  for (size_t i = 0; i < t->num_cases; i++) {
    done += t->state[i] == LEDGER_DONE;
    failed += t->state[i] == LEDGER_FAILED;
  }
  errno = 0;
  bool ok = true;
  if (o->json) {
    ok = say_json(t, done, failed);
  } else {
    ok = printf("%s%s%zu points, %zu unlike cases: %zu done, %zu failed, %zu to do.\n", t->s->plan->title, t->s->plan->title[0] ? "\n" : "",
                t->num_points, t->num_cases, done, failed, t->num_cases - done - failed) > 0;
    ok = sweep_table_print_ranking(t, stdout, ROWS_SAID) && ok;
    ok = printf("\nFigures: %s/results.csv, results.h5; ranking.txt has the whole list, pictures/ the effects.\n", t->s->directory) > 0 && ok;
  }
  ok = fflush(stdout) == 0 && ok;
  return ok ? STATUS_OK : message_set(msg, STATUS_FILE, "cannot write the answer to standard output: %s", strerror(errno ? errno : EIO));
}

static status gather(const options *o, const sweep *s, message *msg)
{
  sweep_table t = {0};
  status code = sweep_table_create(&t, s, msg);
  if (code == STATUS_OK)
    code = write_results(&t, msg);
  if (code == STATUS_OK)
    code = say_answer(o, &t, msg);
  sweep_table_release(&t);
  return code;
}

/* ------------------------------------------------------------------------------------------------ the whole */

/* One share beside others: its own journal, and no table. */
static status work_share(const options *o, sweep *s, message *msg)
{
  const sweep_run_wishes w = {.jobs = o->jobs > 0 ? (size_t)o->jobs : run_pool_processors(), .share = (size_t)o->share,
                              .num_shares = (size_t)o->num_shares, .quiet = o->quiet};
  const status code = sweep_run(s, &w, msg);
  if (code == STATUS_OK && !o->quiet)
    (void)fprintf(stderr, "lastwater: share %d of %d is done; sweep with --resume and without --share gathers\n", o->share + 1, o->num_shares);
  return code;
}

static status work_all(const options *o, sweep *s, message *msg)
{
  const sweep_run_wishes w = {.jobs = o->jobs > 0 ? (size_t)o->jobs : run_pool_processors(), .share = 0, .num_shares = 1, .quiet = o->quiet};
  message why = {""};
  const status worked = sweep_run(s, &w, &why);
  if (worked == STATUS_INTERRUPTED || worked == STATUS_NO_MEMORY || worked == STATUS_FILE)
    return message_set(msg, worked, "%s", why.text);
  const status code = gather(o, s, msg); /* also when some runs are left: the table says which */
  return code == STATUS_OK && worked != STATUS_OK ? message_set(msg, worked, "%s", why.text) : code;
}

static void name_journal(const options *o, char name[64])
{
  if (o->num_shares > 0)
    (void)snprintf(name, 64, "share-%06d-of-%06d", o->share + 1, o->num_shares);
  else
    (void)snprintf(name, 64, "main");
}

status sweep_command(const options *o, message *msg)
{
  plan_file *p = NULL;
  plan_points *points = NULL;
  sweep s = {.lock = -1};
  char journal[64];
  name_journal(o, journal);
  status code = STATUS_OK;
  if (o->slurm && o->num_shares > 0)
    code = message_set(msg, STATUS_BAD_INPUT, "--slurm makes the shares itself; leave --share out");
  if (code == STATUS_OK)
    code = plan_command_read(&p, o, PLAN_SWEEP, msg);
  if (code == STATUS_OK)
    code = plan_points_create(&points, p, o->yes, msg);
  if (code == STATUS_OK)
    code = sweep_open(&s, p, points, o->directory, journal, o->num_shares > 0, o->resume || o->num_shares > 0, msg);
  if (code == STATUS_OK)
    code = o->slurm ? sweep_slurm_submit(&s, o, msg) : o->num_shares > 0 ? work_share(o, &s, msg) : work_all(o, &s, msg);
  sweep_close(&s);
  plan_points_destroy(&points);
  plan_file_destroy(&p);
  return code;
}
