#include "io/whole_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

struct whole_file {
  FILE *stream;
  char path[WHOLE_FILE_PATH], temporary[WHOLE_FILE_PATH];
};

static const char *what_to_do(int error)
{
  switch (error) {
  case ENOSPC:
  case EDQUOT:
    return "free some space there or choose another directory with -o DIR; what was there before is unchanged";
  case EFBIG:
    return "files there are limited in size (see ulimit -f); raise the limit or choose another directory with -o DIR";
  case EACCES:
  case EPERM:
  case EROFS:
    return "choose a directory that you may write to with -o DIR";
  case ENOENT:
  case ENOTDIR:
    return "check the path";
  case EISDIR:
    return "a directory stands where the file belongs; remove it or choose another directory with -o DIR";
  case ENAMETOOLONG:
    return "choose a shorter path with -o DIR";
  default:
    return "check the disk, or choose another directory with -o DIR";
  }
}

status whole_file_fault(message *msg, const char *doing, const char *path, int error)
{
  return message_set(msg, STATUS_FILE, "cannot %s %s: %s; %s", doing, path, strerror(error), what_to_do(error));
}

/* A rename is on the disk only when its directory is. */
static int sync_directory_of(const char *path)
{
  char directory[WHOLE_FILE_PATH];
  (void)snprintf(directory, sizeof directory, "%s", path);
  char *slash = strrchr(directory, '/');
  if (!slash)
    (void)strcpy(directory, ".");
  else
    slash[slash == directory ? 1 : 0] = '\0';
  const int fd = open(directory, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
  if (fd < 0)
    return errno;
  /* EINVAL: a file system that cannot sync a directory has nothing to sync. */
  const int error = fsync(fd) != 0 && errno != EINVAL ? errno : 0;
  (void)close(fd);
  return error;
}

status whole_file_open(whole_file **out, const char *path, message *msg)
{
  whole_file *f = calloc(1, sizeof *f);
  if (!f)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes to write %s", sizeof *f, path);
  const int num = snprintf(f->temporary, sizeof f->temporary, "%s.tmp", path);
  if (num < 0 || (size_t)num >= sizeof f->temporary) {
    free(f);
    return whole_file_fault(msg, "write", path, ENAMETOOLONG);
  }
  (void)snprintf(f->path, sizeof f->path, "%s", path);
  f->stream = fopen(f->temporary, "wb");
  if (!f->stream) {
    const int error = errno;
    free(f);
    return whole_file_fault(msg, "write", path, error);
  }
  *out = f;
  return STATUS_OK;
}

FILE *whole_file_stream(whole_file *f)
{
  return f->stream;
}

/* Flushes, syncs and closes the stream; the first error number, 0 when all went well. */
static int close_checked(FILE *stream)
{
  int error = 0;
  errno = 0;
  if (fflush(stream) != 0)
    error = errno ? errno : EIO;
  if (ferror(stream) && !error)
    error = errno ? errno : EIO;
  if (!error && fsync(fileno(stream)) != 0 && errno != EINVAL && errno != EROFS)
    error = errno;
  if (fclose(stream) != 0 && !error)
    error = errno;
  return error;
}

status whole_file_commit(whole_file **f, message *msg)
{
  whole_file *w = *f;
  status code = STATUS_OK;
  int error = close_checked(w->stream);
  w->stream = NULL;
  if (!error && rename(w->temporary, w->path) != 0)
    error = errno;
  if (error)
    (void)unlink(w->temporary);
  else
    error = sync_directory_of(w->path);
  if (error)
    code = whole_file_fault(msg, "write", w->path, error);
  free(w);
  *f = NULL;
  return code;
}

void whole_file_abandon(whole_file **f)
{
  if (!*f)
    return;
  (void)fclose((*f)->stream);
  (void)unlink((*f)->temporary);
  free(*f);
  *f = NULL;
}

status whole_file_write(const char *path, const void *bytes, size_t num_bytes, message *msg)
{
  whole_file *f = NULL;
  const status code = whole_file_open(&f, path, msg);
  if (code != STATUS_OK)
    return code;
  errno = 0;
  if (num_bytes && fwrite(bytes, 1, num_bytes, f->stream) != num_bytes) {
    const int error = errno ? errno : EIO;
    whole_file_abandon(&f);
    return whole_file_fault(msg, "write", path, error);
  }
  return whole_file_commit(&f, msg);
}

static status read_stream(FILE *stream, const char *path, size_t most, char **bytes, size_t *num_bytes, message *msg)
{
  size_t num = 0, capacity = 0;
  char *text = NULL;
  for (;;) {
    if (num + 1 >= capacity) {
      capacity = capacity ? 2 * capacity : 65536;
      char *bigger = realloc(text, capacity);
      if (!bigger) {
        free(text);
        return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes to read %s", capacity, path);
      }
      text = bigger;
    }
    const size_t got = fread(text + num, 1, capacity - 1 - num, stream);
    num += got;
    if (got == 0 || num > most)
      break;
  }
  if (ferror(stream)) {
    const int error = errno ? errno : EIO;
    free(text);
    return whole_file_fault(msg, "read", path, error);
  }
  if (num > most) {
    free(text);
    return message_set(msg, STATUS_FILE, "cannot read %s: it is longer than the %zu bytes that are accepted", path, most);
  }
  text[num] = '\0';
  *bytes = text;
  if (num_bytes)
    *num_bytes = num;
  return STATUS_OK;
}

status whole_file_read(const char *path, size_t most, char **bytes, size_t *num_bytes, message *msg)
{
  FILE *stream = fopen(path, "rb");
  if (!stream)
    return whole_file_fault(msg, "read", path, errno);
  errno = 0;
  const status code = read_stream(stream, path, most, bytes, num_bytes, msg);
  (void)fclose(stream);
  return code;
}

status whole_file_rename(const char *temporary, const char *path, message *msg)
{
  const int fd = open(temporary, O_RDONLY | O_CLOEXEC);
  if (fd < 0)
    return whole_file_fault(msg, "write", path, errno);
  int error = fsync(fd) != 0 && errno != EINVAL && errno != EROFS ? errno : 0;
  (void)close(fd);
  if (!error && rename(temporary, path) != 0)
    error = errno;
  if (!error)
    error = sync_directory_of(path);
  return error ? whole_file_fault(msg, "write", path, error) : STATUS_OK;
}

status whole_file_remove(const char *path, message *msg)
{
  if (unlink(path) != 0)
    return errno == ENOENT ? STATUS_OK : whole_file_fault(msg, "remove", path, errno);
  const int error = sync_directory_of(path);
  return error ? whole_file_fault(msg, "remove", path, error) : STATUS_OK;
}

bool whole_file_exists(const char *path)
{
  struct stat s;
  return stat(path, &s) == 0 && S_ISREG(s.st_mode);
}

status whole_file_join(char path[WHOLE_FILE_PATH], const char *directory, const char *name, message *msg)
{
  const size_t length = strlen(directory);
  const char *between = length > 0 && directory[length - 1] == '/' ? "" : "/";
  const int num = snprintf(path, WHOLE_FILE_PATH, "%s%s%s", directory, between, name);
  if (num < 0 || num >= WHOLE_FILE_PATH)
    return whole_file_fault(msg, "use", directory, ENAMETOOLONG);
  return STATUS_OK;
}
