/* Files that are whole or absent.
 *
 * A file is written under a temporary name in the same directory (NAME.tmp), every call checked, brought to the disk (fsync), and
 * only then renamed to its final name, and the directory brought to the disk too. When anything fails, what stood there before
 * stays as it was, the temporary file is removed, and one sentence says what, where, why, and what to do. */
#ifndef LASTWATER_WHOLE_FILE_H
#define LASTWATER_WHOLE_FILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#include "io/status.h"

enum { WHOLE_FILE_PATH = 4096 }; /* bytes of a path, with its end */

typedef struct whole_file whole_file;

/* Opens the temporary file for writing. STATUS_FILE: nothing was left behind. */
status whole_file_open(whole_file **out, const char *path, message *msg);
/* Where to write; owned by the file. Errors may be left to whole_file_commit, which looks at all of them. */
FILE *whole_file_stream(whole_file *f);
/* Flushes, checks, renames. *f is released and NULL afterwards, whatever happened. */
status whole_file_commit(whole_file **f, message *msg);
/* Drops the temporary file; NULL-safe. */
void whole_file_abandon(whole_file **f);

/* The whole of it in one call. */
status whole_file_write(const char *path, const void *bytes, size_t num_bytes, message *msg);
/* Reads a file of at most `most` bytes; *bytes is allocated, ends with a 0 byte that num_bytes (may be NULL) does not count. free() it. */
status whole_file_read(const char *path, size_t most, char **bytes, size_t *num_bytes, message *msg);

/* For files that a library wrote: brings `temporary` to the disk and renames it to `path`. On failure both stay as they are. */
status whole_file_rename(const char *temporary, const char *path, message *msg);
/* Removes a file and brings the directory to the disk; no such file is fine. */
status whole_file_remove(const char *path, message *msg);
bool whole_file_exists(const char *path);
/* directory/name; STATUS_FILE when it is longer than WHOLE_FILE_PATH. */
status whole_file_join(char path[WHOLE_FILE_PATH], const char *directory, const char *name, message *msg);

/* STATUS_FILE with the sentence "cannot DOING PATH: REASON; what to do", for system error number `error`. */
status whole_file_fault(message *msg, const char *doing, const char *path, int error);

#endif
