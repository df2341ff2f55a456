/* A mark in a growing file: enough to bring the file back, byte for byte, to what it was when the mark was taken.
 *
 * Whoever writes the file says which ranges of it will never be written again; the mark holds a copy of all the rest and the file's
 * length. Whatever a kill left behind, also a file torn in the middle of a write, is then undone by writing the copy back and
 * cutting off the tail. For a file of compressed fields the copy is small: tables of contents, not fields. */
#ifndef LASTWATER_FILE_MARK_H
#define LASTWATER_FILE_MARK_H

#include <stddef.h>
#include <stdint.h>

#include "io/status.h"

typedef struct {
  uint64_t offset, length; /* bytes */
} file_range;

typedef struct {
  uint64_t file_size;    /* bytes                                            */
  size_t num_pieces;
  file_range *pieces;    /* [num_pieces] rising, apart; owned                 */
  size_t num_bytes;      /* sum of their lengths                             */
  unsigned char *bytes;  /* their contents, one after the other; owned        */
} file_mark;

/* Takes a mark of the file as it stands on its way to the disk (flush it first). unchanging[num] is sorted here. */
status file_mark_take(file_mark *mark, const char *path, file_range *unchanging, size_t num, message *msg);
/* Brings the file back and to the disk. STATUS_FILE when it is missing or shorter than it was: then it is not touched. */
status file_mark_return(const file_mark *mark, const char *path, message *msg);
void file_mark_release(file_mark *mark);

#endif
