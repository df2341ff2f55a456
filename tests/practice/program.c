#define _XOPEN_SOURCE 700
#include "program.h"

#include <check.h>
#include <fcntl.h>
#include <ftw.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static void must(bool ok, const char *what)
{
  if (!ok) {
    perror(what);
    abort();
  }
}

double program_clock(void)
{
  struct timespec t;
  must(clock_gettime(CLOCK_MONOTONIC, &t) == 0, "clock");
  return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* In the child: output into files, limits, then the program. */
static void become(const char *const *arguments, const program_wishes *w, int out, int err)
{
  char *argv[32] = {"lastwater"};
  for (size_t i = 0; arguments[i] && i < 30; i++)
    argv[i + 1] = (char *)arguments[i];
  const struct rlimit limit = {.rlim_cur = w->file_limit, .rlim_max = RLIM_INFINITY};
  if (dup2(out, STDOUT_FILENO) < 0 || dup2(err, STDERR_FILENO) < 0 || (w->file_limit && setrlimit(RLIMIT_FSIZE, &limit) != 0))
    _exit(126);
  (void)execv(PROGRAM, argv);
  _exit(127);
}

static bool is_there(const char *path)
{
  struct stat s;
  return lstat(path, &s) == 0;
}

static bool time_to_kill(const program_wishes *w, double begun)
{
  if (w->kill_when_exists)
    return is_there(w->kill_when_exists) && !(w->kill_when_gone && is_there(w->kill_when_gone));
  return w->kill_after > 0.0 && program_clock() - begun >= w->kill_after;
}

static char *read_stream(FILE *f)
{
  must(fseek(f, 0, SEEK_END) == 0, "seek");
  const long size = ftell(f);
  char *text = malloc((size_t)size + 1);
  must(text && size >= 0 && fseek(f, 0, SEEK_SET) == 0, "read");
  must(fread(text, 1, (size_t)size, f) == (size_t)size, "read");
  text[size] = '\0';
  (void)fclose(f);
  return text;
}

program_result program_run(const char *const *arguments, const program_wishes *wishes)
{
  static const program_wishes none = {0};
  const program_wishes *w = wishes ? wishes : &none;
  FILE *out = tmpfile(), *err = tmpfile();
  must(out && err, "tmpfile");
  const double begun = program_clock();
  const pid_t child = fork();
  must(child >= 0, "fork");
  if (child == 0)
    become(arguments, w, fileno(out), fileno(err));
  int how = 0;
  bool sent = false;
  while (waitpid(child, &how, WNOHANG) == 0) {
    if (!sent && time_to_kill(w, begun)) {
      (void)kill(child, w->kill_signal);
      sent = true;
    }
    (void)nanosleep(&(struct timespec){.tv_nsec = 500000}, NULL);
  }
  program_result r = {.exit_code = WIFEXITED(how) ? WEXITSTATUS(how) : -1, .signal_number = WIFSIGNALED(how) ? WTERMSIG(how) : 0};
  r.out = read_stream(out);
  r.err = read_stream(err);
  must(r.exit_code != 126 && r.exit_code != 127, PROGRAM);
  return r;
}

void program_release(program_result *r)
{
  free(r->out);
  free(r->err);
  *r = (program_result){0};
}

void program_directory(char path[512])
{
  const char *where = getenv("TMPDIR");
  (void)snprintf(path, 512, "%s/lastwater_practice_XXXXXX", where && where[0] ? where : "/tmp");
  must(mkdtemp(path) != NULL, path);
}

static int remove_one(const char *path, const struct stat *s, int kind, struct FTW *at)
{
  (void)s;
  (void)kind;
  (void)at;
  return remove(path);
}

void program_remove(const char *path)
{
  (void)nftw(path, remove_one, 16, FTW_DEPTH | FTW_PHYS);
}

char *program_read(const char *directory, const char *name, size_t *num_bytes)
{
  char path[1024];
  (void)snprintf(path, sizeof path, "%s/%s", directory, name);
  FILE *f = fopen(path, "rb");
  if (!f)
    return NULL;
  struct stat s;
  must(fstat(fileno(f), &s) == 0, path);
  if (num_bytes)
    *num_bytes = (size_t)s.st_size;
  return read_stream(f);
}

bool program_has(const char *directory, const char *name)
{
  char path[1024];
  (void)snprintf(path, sizeof path, "%s/%s", directory, name);
  return is_there(path);
}

void program_write(const char *directory, const char *name, const char *text)
{
  char path[1024];
  (void)snprintf(path, sizeof path, "%s/%s", directory, name);
  FILE *f = fopen(path, "w");
  must(f && fputs(text, f) >= 0 && fclose(f) == 0, path);
}

program_result program_run_case(const char *directory, const char *name, const char *text, const char *const *options)
{
  char file[128], path[1024], results[1024];
  const char *arguments[16] = {"run", path, "-o", results, "--quiet"};
  for (size_t n = 0; options && options[n]; n++) {
    must(n < 10, "more options than there is room for");
    arguments[5 + n] = options[n];
  }
  (void)snprintf(file, sizeof file, "%s.yaml", name);
  (void)snprintf(path, sizeof path, "%s/%s", directory, file);
  (void)snprintf(results, sizeof results, "%s/%s", directory, name);
  program_write(directory, file, text);
  return program_run(arguments, NULL);
}

json_t *program_summary_of_case(const char *directory, const char *name, const char *text, const char *const *options)
{
  char results[1024];
  program_result r = program_run_case(directory, name, text, options);
  ck_assert_msg(r.exit_code == 0, "%s: exit %d, signal %d: %s", name, r.exit_code, r.signal_number, r.err);
  program_release(&r);
  (void)snprintf(results, sizeof results, "%s/%s", directory, name);
  return program_summary(results);
}

json_t *program_summary(const char *directory)
{
  json_error_t fault;
  char *text = program_read(directory, "summary.json", NULL);
  ck_assert_msg(text != NULL, "no summary in %s", directory);
  json_t *root = json_loads(text, 0, &fault);
  ck_assert_msg(root != NULL, "%s: %s", directory, fault.text);
  free(text);
  return root;
}

double program_figure(const json_t *summary, const char *object, const char *key)
{
  const json_t *value = json_object_get(json_object_get(summary, object), key);
  ck_assert_msg(json_is_number(value), "%s.%s is no number", object, key);
  return json_number_value(value);
}

double program_number(const json_t *object, const char *key)
{
  ck_assert_msg(json_is_number(json_object_get(object, key)), "%s is no number", key);
  return json_number_value(json_object_get(object, key));
}

void program_must_refuse(program_result *r, const char *says)
{
  ck_assert_msg(r->exit_code == 2 && strstr(r->err, says), "exit %d; \"%s\" is not said in: %s", r->exit_code, says, r->err);
  ck_assert_str_eq(r->out, "");
  program_release(r);
}
