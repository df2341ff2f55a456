#include "io/result_dir.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/text_hash.h"

enum { LONGEST_CASE = 64 << 20 }; /* bytes of a resolved case that are looked at */

/* What a run leaves; any of these without case.yaml are results of an unknown case. */
static const char *const LEFT_BY_RUNS[] = {"summary.json", "fields.h5", "fields.part.h5", "checkpoint.h5", "series.csv"};

status result_dir_name(char path[WHOLE_FILE_PATH], const char *case_path, const char *asked, message *msg)
{
  int num;
  if (asked && asked[0]) {
    num = snprintf(path, WHOLE_FILE_PATH, "%s", asked);
  } else {
    const char *name = strrchr(case_path, '/');
    const char *dot = strrchr(name ? name : case_path, '.');
    const bool is_case = dot && (strcmp(dot, ".yaml") == 0 || strcmp(dot, ".yml") == 0);
    const int length = is_case ? (int)(dot - case_path) : (int)strlen(case_path);
    num = snprintf(path, WHOLE_FILE_PATH, "%.*s.result", length, case_path);
  }
  return num < 0 || num >= WHOLE_FILE_PATH ? whole_file_fault(msg, "use", case_path, ENAMETOOLONG) : STATUS_OK;
}

static status check_case(const char *directory, const char *case_text, message *msg)
{
  char path[WHOLE_FILE_PATH], *there = NULL, have[TEXT_HASH], want[TEXT_HASH];
  status code = whole_file_join(path, directory, RESULT_DIR_CASE, msg);
  if (code != STATUS_OK)
    return code;
  if (whole_file_exists(path)) {
    code = whole_file_read(path, LONGEST_CASE, &there, NULL, msg);
    if (code != STATUS_OK)
      return code;
    text_hash(there, have);
    text_hash(case_text, want);
    free(there);
    return strcmp(have, want) == 0
               ? STATUS_OK
               : message_set(msg, STATUS_BAD_INPUT,
                             "%s holds the results of another case (see its %s); choose another directory with -o DIR, or remove it",
                             directory, RESULT_DIR_CASE);
  }
  for (size_t i = 0; i < sizeof LEFT_BY_RUNS / sizeof *LEFT_BY_RUNS; i++) {
    code = whole_file_join(path, directory, LEFT_BY_RUNS[i], msg);
    if (code != STATUS_OK)
      return code;
    if (whole_file_exists(path))
      return message_set(msg, STATUS_BAD_INPUT,
                         "%s holds a %s but no %s that says of which case; choose another directory with -o DIR, or remove it", directory,
                         LEFT_BY_RUNS[i], RESULT_DIR_CASE);
  }
  return STATUS_OK;
}

status result_dir_claim(const char *path, const char *case_text, int *lock, message *msg)
{
  *lock = -1;
  if (mkdir(path, 0777) != 0 && errno != EEXIST)
    return whole_file_fault(msg, "make directory", path, errno);
  const int fd = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0)
    return whole_file_fault(msg, "use directory", path, errno);
  status code = STATUS_OK;
  /* A file system without locks gives none; then two runs into one directory are the user's to avoid. */
  if (flock(fd, LOCK_EX | LOCK_NB) != 0 && errno == EWOULDBLOCK)
    code = message_set(msg, STATUS_BAD_INPUT, "another run is writing to %s; wait for it, or choose another directory with -o DIR", path);
  if (code == STATUS_OK)
    code = check_case(path, case_text, msg);
  if (code == STATUS_OK)
    *lock = fd;
  else
    (void)close(fd);
  return code;
}

void result_dir_release(int *lock)
{
  if (*lock >= 0)
    (void)close(*lock);
  *lock = -1;
}
