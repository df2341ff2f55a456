#include "io/sweep.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "io/case_run.h"
#include "io/result_dir.h"
#include "io/run_command.h"
#include "io/series_csv.h"
#include "io/summary_json.h"
#include "io/summary_path.h"
#include "io/text_hash.h"

enum { LONGEST_PLAN = 4 << 20, LONGEST_SUMMARY = 64 << 20, LONGEST_TEXT = 200 };

/* ------------------------------------------------------------------------------------------------ the directory */

static bool is_empty(const char *path)
{
  DIR *d = opendir(path);
  size_t num = 0;
  for (const struct dirent *e; d && (e = readdir(d)) != NULL;)
    num += strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0;
  if (d)
    (void)closedir(d);
  return num == 0;
}

/* The workers of a sweep that was killed hold its lock too, and take a moment to end: worth a wait of two seconds. */
static bool locked(int file, int how)
{
  for (int tries = 0; flock(file, how | LOCK_NB) != 0; tries++) {
    if (errno != EWOULDBLOCK)
      return true; /* a file system without locks */
    if (tries == 100)
      return false;
    (void)nanosleep(&(struct timespec){.tv_nsec = 20000000}, NULL);
  }
  return true;
}

static status claim(sweep *s, bool shared, message *msg)
{
  char ledger_path[WHOLE_FILE_PATH];
  struct stat what;
  status code = whole_file_join(ledger_path, s->directory, "ledger", msg);
  if (code == STATUS_OK && mkdir(s->directory, 0777) != 0 && errno != EEXIST)
    return whole_file_fault(msg, "make the directory", s->directory, errno);
  s->lock = open(s->directory, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (s->lock < 0)
    return whole_file_fault(msg, "use the directory", s->directory, errno);
  if (!locked(s->lock, shared ? LOCK_SH : LOCK_EX))
    return message_set(msg, STATUS_BAD_INPUT, "another lastwater is working in %s; wait for it, or choose another directory with -o DIR", s->directory);
  if (code == STATUS_OK && stat(ledger_path, &what) != 0 && !is_empty(s->directory))
    code = message_set(msg, STATUS_BAD_INPUT, "%s holds something that is no sweep; choose another directory with -o DIR", s->directory);
  return code;
}

static status keep_copy(const sweep *s, const char *name, const char *text, size_t n, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, s->directory, name, msg);
  return code == STATUS_OK && !whole_file_exists(path) ? whole_file_write(path, text, n, msg) : code;
}

static status keep_copies(const sweep *s, message *msg)
{
  char *text = NULL;
  size_t n = 0;
  status code = whole_file_read(s->plan->path, LONGEST_PLAN, &text, &n, msg);
  if (code == STATUS_OK)
    code = keep_copy(s, "plan.yaml", text, n, msg);
  if (code == STATUS_OK)
    code = keep_copy(s, "case.yaml", s->plan->case_text, s->plan->case_length, msg);
  free(text);
  return code;
}

status sweep_open(sweep *s, const plan_file *p, const plan_points *points, const char *asked_directory, const char *journal, bool shared,
                  bool resume, message *msg)
{
  char path[WHOLE_FILE_PATH];
  *s = (sweep){.plan = p, .points = points, .lock = -1};
  status code = result_dir_name(s->directory, p->path, asked_directory, msg);
  if (code == STATUS_OK)
    code = claim(s, shared, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, s->directory, "ledger", msg);
  if (code == STATUS_OK)
    code = ledger_open(&s->ledger, path, p->identity, journal, msg);
  if (code == STATUS_OK && !resume && ledger_num(s->ledger, LEDGER_DONE) + ledger_num(s->ledger, LEDGER_FAILED) > 0)
    code = message_set(msg, STATUS_BAD_INPUT, "%s holds %zu of the %zu runs of this plan; --resume goes on with them, -o DIR begins elsewhere",
                       s->directory, ledger_num(s->ledger, LEDGER_DONE) + ledger_num(s->ledger, LEDGER_FAILED), plan_points_num_cases(points));
  if (code == STATUS_OK)
    code = keep_copies(s, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, s->directory, "cases", msg);
  if (code == STATUS_OK && mkdir(path, 0777) != 0 && errno != EEXIST)
    code = whole_file_fault(msg, "make the directory", path, errno);
  return code;
}

void sweep_close(sweep *s)
{
  ledger_close(&s->ledger);
  if (s->lock >= 0)
    (void)close(s->lock);
  s->lock = -1;
}

status sweep_case_directory(const sweep *s, size_t which, char path[WHOLE_FILE_PATH], message *msg)
{
  char name[64];
  (void)snprintf(name, sizeof name, "cases/%03zu/%03zu", which / 1000, which % 1000);
  return whole_file_join(path, s->directory, name, msg);
}

/* ------------------------------------------------------------------------------------------------ one case */

typedef struct {
  size_t num;
  const char **texts;   /* the plan's settings, then this case's */
  char *storage;
} case_settings;

static status make_settings(case_settings *c, const sweep *s, size_t which, message *msg)
{
  const plan_file *p = s->plan;
  const size_t point = plan_points_first(s->points, which), room = PLAN_PATH + PLAN_POINTS_VALUE;
  *c = (case_settings){0, calloc(p->num_set + p->num_inputs + 1, sizeof *c->texts), calloc(p->num_inputs + 1, room)};
  if (!c->texts || !c->storage)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the settings of a case");
  for (size_t i = 0; i < p->num_set; i++)
    c->texts[c->num++] = p->set[i];
  for (size_t i = 0; i < p->num_inputs; i++) {
    char value[PLAN_POINTS_VALUE], *text = c->storage + i * room;
    if (plan_points_value(s->points, point, i, value, NULL))
      continue; /* the case's own */
    (void)snprintf(text, room, "%s=%s", p->inputs[i].key, value);
    c->texts[c->num++] = text;
  }
  return STATUS_OK;
}

static void release_settings(case_settings *c)
{
  free(c->texts);
  free(c->storage);
}

uint64_t sweep_key(const sweep *s, size_t which)
{
  const size_t point = plan_points_first(s->points, which);
  uint64_t h = 0x6C617374u;
  for (size_t i = 0; i < s->plan->num_inputs; i++) {
    char value[PLAN_POINTS_VALUE];
    const unsigned char own = plan_points_value(s->points, point, i, value, NULL);
    h = (h ^ text_hash_bytes(value, strlen(value))) * 0x9E3779B97F4A7C15u + own + i;
  }
  return h;
}

size_t sweep_answer_room(const sweep *s)
{
  return 64 + s->plan->num_report * (6 * LONGEST_TEXT + 8);
}

/* Figures that are no single number, text or yes-or-no are not known to a table. */
static json_t *answer_value(const json_t *found)
{
  if (json_is_number(found))
    return json_real(json_number_value(found));
  if (json_is_string(found)) {
    const char *text = json_string_value(found);
    size_t n = strlen(text);
    for (n = n < LONGEST_TEXT ? n : LONGEST_TEXT; n > 0 && ((unsigned char)text[n] & 0xC0) == 0x80;)
      n--; /* not in the middle of a character */
    return json_stringn(text, n);
  }
  return json_is_boolean(found) ? json_boolean(json_is_true(found)) : json_null();
}

static status make_answer(const sweep *s, const json_t *summary, char *answer, size_t room, message *msg)
{
  json_t *list = json_array();
  bool ok = list != NULL;
  for (size_t i = 0; i < s->plan->num_report; i++)
    ok = ok && json_array_append_new(list, answer_value(summary_path_find(summary, s->plan->report[i]))) == 0;
  char *text = ok ? json_dumps(list, JSON_COMPACT | JSON_REAL_PRECISION(17)) : NULL;
  status code = STATUS_OK;
  if (!text)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for the figures of a case");
  else if (strlen(text) >= room)
    code = message_set(msg, STATUS_FAILED, "the figures reported of a case take %zu bytes, more than %zu", strlen(text), room);
  else
    (void)snprintf(answer, room, "%s", text);
  free(text);
  json_decref(list);
  return code;
}

static status write_file(const char *directory, const char *name, const char *text, message *msg)
{
  char path[WHOLE_FILE_PATH];
  const status code = whole_file_join(path, directory, name, msg);
  return code == STATUS_OK ? whole_file_write(path, text, strlen(text), msg) : code;
}

static status make_directories(const sweep *s, size_t which, char path[WHOLE_FILE_PATH], message *msg)
{
  status code = sweep_case_directory(s, which, path, msg);
  if (code != STATUS_OK)
    return code;
  char *slash = strrchr(path, '/');
  *slash = 0;
  if (mkdir(path, 0777) != 0 && errno != EEXIST)
    return whole_file_fault(msg, "make the directory", path, errno);
  *slash = '/';
  if (mkdir(path, 0777) != 0 && errno != EEXIST)
    return whole_file_fault(msg, "make the directory", path, errno);
  return STATUS_OK;
}

/* Summary and series only. */
static status run_briefly(const sweep *s, const case_settings *c, const char *directory, json_t **summary, message *msg)
{
  const case_run_request want = {s->plan->case_path, s->plan->case_text, s->plan->case_length, c->texts, c->num};
  case_run_done done;
  char *text = NULL, path[WHOLE_FILE_PATH];
  status code = case_run_march(&done, &want, msg);
  if (code == STATUS_OK)
    code = case_run_summary(&done, &text, summary, msg);
  if (code == STATUS_OK)
    code = write_file(directory, SUMMARY_JSON_NAME, text, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, directory, SERIES_CSV_NAME, msg);
  if (code == STATUS_OK)
    code = series_csv_write(path, &run_results(done.run)->series, msg);
  free(text);
  case_run_release(&done);
  return code;
}

/* Everything that `run` writes, by `run` itself, but its words. */
static status run_wholly(const sweep *s, const case_settings *c, const char *directory, json_t **summary, message *msg)
{
  const options o = {.command = COMMAND_RUN, .directory = directory, .threads = 1, .quiet = true, .unsaid = true};
  case_file *file = NULL;
  char *faults = NULL, *text = NULL, path[WHOLE_FILE_PATH];
  status code = case_file_parse(&file, s->plan->case_path, s->plan->case_text, s->plan->case_length, c->texts, c->num, &faults, msg);
  if (code != STATUS_OK && faults)
    code = message_set(msg, code, "%.*s", (int)strcspn(faults, "\n"), faults);
  if (code == STATUS_OK)
    code = run_command(&o, file, msg);
  if (code == STATUS_OK)
    code = whole_file_join(path, directory, SUMMARY_JSON_NAME, msg);
  if (code == STATUS_OK)
    code = whole_file_read(path, LONGEST_SUMMARY, &text, NULL, msg);
  if (code == STATUS_OK && (*summary = json_loads(text, 0, NULL)) == NULL)
    code = message_set(msg, STATUS_FAILED, "%s cannot be read back", path);
  free(text);
  free(faults);
  case_file_destroy(&file);
  return code;
}

status sweep_work(const void *what, size_t which, void *answer, size_t room, message *msg)
{
  const sweep *s = what;
  case_settings c;
  char directory[WHOLE_FILE_PATH];
  json_t *summary = NULL;
  status code = make_settings(&c, s, which, msg);
  if (code == STATUS_OK)
    code = make_directories(s, which, directory, msg);
  if (code == STATUS_OK)
    code = (s->plan->keep_all ? run_wholly : run_briefly)(s, &c, directory, &summary, msg);
  if (code == STATUS_OK)
    code = make_answer(s, summary, answer, room, msg);
  json_decref(summary);
  release_settings(&c);
  return code;
}
