#include "io/file_mark.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "io/whole_file.h"

static int by_offset(const void *a, const void *b)
{
  const file_range *x = a, *y = b;
  return x->offset < y->offset ? -1 : x->offset > y->offset;
}

/* What lies between the unchanging ranges. pieces[num + 1] has room for all of it. */
static void find_pieces(file_mark *mark, const file_range *unchanging, size_t num)
{
  uint64_t at = 0;
  for (size_t i = 0; i <= num; i++) {
    const uint64_t end = i < num && unchanging[i].offset < mark->file_size ? unchanging[i].offset : mark->file_size;
    if (end > at) {
      mark->pieces[mark->num_pieces++] = (file_range){.offset = at, .length = end - at};
      mark->num_bytes += (size_t)(end - at);
    }
    if (i < num && unchanging[i].offset + unchanging[i].length > at)
      at = unchanging[i].offset + unchanging[i].length;
  }
}

/* Moves all of [offset, offset + length) between file and memory; 0 or an error number. */
static int transfer(int fd, bool to_file, unsigned char *bytes, uint64_t offset, uint64_t length)
{
  while (length > 0) {
    const ssize_t done = to_file ? pwrite(fd, bytes, (size_t)length, (off_t)offset) : pread(fd, bytes, (size_t)length, (off_t)offset);
    if (done < 0 && errno == EINTR)
      continue;
    if (done <= 0)
      return done < 0 ? errno : EIO;
    bytes += done;
    offset += (uint64_t)done;
    length -= (uint64_t)done;
  }
  return 0;
}

static int transfer_all(const file_mark *mark, int fd, bool to_file)
{
  unsigned char *bytes = mark->bytes;
  int error = 0;
  for (size_t i = 0; !error && i < mark->num_pieces; i++) {
    error = transfer(fd, to_file, bytes, mark->pieces[i].offset, mark->pieces[i].length);
    bytes += mark->pieces[i].length;
  }
  return error;
}

status file_mark_take(file_mark *mark, const char *path, file_range *unchanging, size_t num, message *msg)
{
  *mark = (file_mark){0};
  struct stat s;
  const int fd = open(path, O_RDONLY | O_CLOEXEC);
  if (fd < 0)
    return whole_file_fault(msg, "read", path, errno);
  status code = STATUS_OK;
  int error = fstat(fd, &s) != 0 ? errno : 0;
  if (!error) {
    mark->file_size = (uint64_t)s.st_size;
    if (num)
      qsort(unchanging, num, sizeof *unchanging, by_offset);
    mark->pieces = malloc((num + 1) * sizeof *mark->pieces);
    if (mark->pieces)
      find_pieces(mark, unchanging, num);
    mark->bytes = mark->pieces ? malloc(mark->num_bytes + 1) : NULL;
    if (!mark->bytes)
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes to mark %s", mark->num_bytes + num * sizeof *mark->pieces,
                         path);
    else
      error = transfer_all(mark, fd, false);
  }
  (void)close(fd);
  if (error)
    code = whole_file_fault(msg, "read", path, error);
  if (code != STATUS_OK)
    file_mark_release(mark);
  return code;
}

status file_mark_return(const file_mark *mark, const char *path, message *msg)
{
  struct stat s;
  const int fd = open(path, O_RDWR | O_CLOEXEC);
  if (fd < 0)
    return whole_file_fault(msg, "continue", path, errno);
  status code = STATUS_OK;
  int error = fstat(fd, &s) != 0 ? errno : 0;
  if (!error && (uint64_t)s.st_size < mark->file_size)
    code = message_set(msg, STATUS_FILE,
                       "cannot continue %s: it is cut short, %lld bytes where the checkpoint needs %llu; run again without --resume",
                       path, (long long)s.st_size, (unsigned long long)mark->file_size);
  else if (!error) {
    error = transfer_all(mark, fd, true);
    if (!error && ftruncate(fd, (off_t)mark->file_size) != 0)
      error = errno;
    if (!error && fsync(fd) != 0)
      error = errno;
  }
  (void)close(fd);
  return error ? whole_file_fault(msg, "continue", path, error) : code;
}

void file_mark_release(file_mark *mark)
{
  free(mark->pieces);
  free(mark->bytes);
  *mark = (file_mark){0};
}
