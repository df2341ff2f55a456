#include "io/seek_command.h"

#include <errno.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "io/plan_command.h"
#include "io/result_dir.h"
#include "io/run_pool.h"
#include "io/seek_answer.h"
#include "io/whole_file.h"

/* ------------------------------------------------------------------------------------------------ the directory */

/* An answer of the same plan may be written over; anything else is left alone. */
static status claim(const char *directory, const plan_file *p, message *msg)
{
  char path[WHOLE_FILE_PATH], identity[32];
  struct stat there;
  status code = whole_file_join(path, directory, "answer.json", msg);
  if (code != STATUS_OK || stat(directory, &there) != 0)
    return code;
  (void)snprintf(identity, sizeof identity, "%016llx", (unsigned long long)p->identity);
  json_t *answer = json_load_file(path, 0, NULL);
  const char *of = json_string_value(json_object_get(answer, "plan"));
  if (!of || strcmp(of, identity) != 0)
    code = message_set(msg, STATUS_BAD_INPUT, "%s is there and holds no answer to this plan; choose another directory with -o DIR", directory);
  json_decref(answer);
  return code;
}

static status write_text(const char *directory, const char *name, const char *text, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, directory, name, msg);
  return code == STATUS_OK ? whole_file_write(path, text, strlen(text), msg) : code;
}

/* ------------------------------------------------------------------------------------------------ the answer */

typedef struct {
  const options *o;
  seek_runs runs;
  seek_target_answer target;
  seek_best_answer best;
  char directory[WHOLE_FILE_PATH];
} seek;

static const seek_target_answer *target_of(const seek *s) { return s->runs.plan->target.present ? &s->target : NULL; }
static const seek_best_answer *best_of(const seek *s) { return s->runs.plan->target.present ? NULL : &s->best; }

static status write_words(const seek *s, message *msg)
{
  char path[WHOLE_FILE_PATH];
  whole_file *f = NULL;
  status code = whole_file_join(path, s->directory, "answer.txt", msg);
  if (code == STATUS_OK)
    code = whole_file_open(&f, path, msg);
  if (code != STATUS_OK)
    return code;
  (void)seek_answer_print(whole_file_stream(f), &s->runs, target_of(s), best_of(s));
  return whole_file_commit(&f, msg); /* which looks at all errors of the stream */
}

static status finish(const seek *s, message *msg)
{
  char path[WHOLE_FILE_PATH], *json = NULL;
  status code = mkdir(s->directory, 0777) == 0 || errno == EEXIST ? STATUS_OK : whole_file_fault(msg, "make the directory", s->directory, errno);
  if (code == STATUS_OK)
    code = whole_file_join(path, s->directory, "runs.csv", msg);
  if (code == STATUS_OK)
    code = seek_runs_write(&s->runs, path, msg);
  if (code == STATUS_OK)
    code = write_words(s, msg);
  if (code == STATUS_OK)
    code = seek_answer_json(&json, &s->runs, target_of(s), best_of(s), msg);
  if (code == STATUS_OK)
    code = write_text(s->directory, "answer.json", json, msg);
  if (code == STATUS_OK) {
    errno = 0;
    bool ok = s->o->json ? printf("%s\n", json) > 0 : seek_answer_print(stdout, &s->runs, target_of(s), best_of(s));
    ok = fflush(stdout) == 0 && ok;
    code = ok ? STATUS_OK : message_set(msg, STATUS_FILE, "cannot write the answer to standard output: %s", strerror(errno ? errno : EIO));
  }
  free(json);
  return code;
}

status seek_command(const options *o, message *msg)
{
  plan_file *p = NULL;
  seek s = {.o = o};
  status code = plan_command_read(&p, o, PLAN_SEEK, msg);
  if (code == STATUS_OK)
    code = result_dir_name(s.directory, p->path, o->directory, msg);
  if (code == STATUS_OK)
    code = claim(s.directory, p, msg);
  if (code == STATUS_OK)
    code = seek_runs_create(&s.runs, p, o->jobs > 0 ? (size_t)o->jobs : run_pool_processors(), o->quiet, msg);
  if (code == STATUS_OK)
    code = p->target.present ? seek_target_find(&s.target, &s.runs, msg) : seek_best_find(&s.best, &s.runs, msg);
  if (code == STATUS_OK)
    code = finish(&s, msg);
  seek_runs_release(&s.runs);
  plan_file_destroy(&p);
  return code;
}
