#include "io/run_log.h"

#include <errno.h>
#include <stdarg.h>
#include <stdlib.h>

#include "io/whole_file.h"

struct run_log {
  FILE *stream;
  int error; /* the first that a line met */
  char part[WHOLE_FILE_PATH], path[WHOLE_FILE_PATH];
};

status run_log_open(run_log **out, const char *directory, bool keep, message *msg)
{
  run_log *l = calloc(1, sizeof *l);
  if (!l)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the log", sizeof *l);
  status code = whole_file_join(l->part, directory, RUN_LOG_PART, msg);
  if (code == STATUS_OK)
    code = whole_file_join(l->path, directory, RUN_LOG_NAME, msg);
  if (code == STATUS_OK && !(l->stream = fopen(l->part, keep ? "a" : "w")))
    code = whole_file_fault(msg, "write", l->part, errno);
  if (code == STATUS_OK)
    *out = l;
  else
    free(l);
  return code;
}

/* Each line goes out at once: the last one before a crash is the one that matters. */
void run_log_line(run_log *l, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  errno = 0;
  const bool ok = vfprintf(l->stream, format, args) >= 0 && fputc('\n', l->stream) != EOF && fflush(l->stream) == 0;
  va_end(args);
  if (!ok && !l->error)
    l->error = errno ? errno : EIO;
}

status run_log_finish(run_log **l, message *msg)
{
  run_log *log = *l;
  *l = NULL;
  int error = log->error;
  if (fclose(log->stream) != 0 && !error)
    error = errno;
  const status code =
      error ? whole_file_fault(msg, "write", log->part, error) : whole_file_rename(log->part, log->path, msg);
  free(log);
  return code;
}

void run_log_close(run_log **l)
{
  if (!*l)
    return;
  (void)fclose((*l)->stream);
  free(*l);
  *l = NULL;
}
