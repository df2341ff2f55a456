/* HDF5 as this program uses it: the default (old) file format, small checked calls, faults in one sentence.
 *
 * Writers return false on failure and leave the reason with the library; h5_file_fault then makes the sentence. So a block of
 * writes reads  ok = ok && h5_file_put_...;  and ends in one h5_file_fault. Nothing here prints. */
#ifndef LASTWATER_H5_FILE_H
#define LASTWATER_H5_FILE_H

#include <hdf5.h>
#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

/* First thing before any other HDF5 call, once or more: no printing, and no handler at exit (which, after a failed write, would
 * touch released memory). */
void h5_file_begin(void);

/* The file is emptied if it is there. The library's lock is not taken, so that others may look at it while it grows. */
status h5_file_create(hid_t *file, const char *path, message *msg);
/* STATUS_FILE also when the file is cut short or is no HDF5 file: the sentence says which. */
status h5_file_open(hid_t *file, const char *path, bool to_write, message *msg);
/* Flushes and closes; false when anything is not on its way to the disk. *file is -1 afterwards. */
bool h5_file_close(hid_t *file);

/* STATUS_FILE: "cannot DOING PATH: REASON; what to do", REASON the system's own where HDF5 tells it. */
status h5_file_fault(message *msg, const char *doing, const char *path);

bool h5_file_group(hid_t where, const char *name);                           /* creates it, with missing ones on the way */
bool h5_file_put_text(hid_t where, const char *object, const char *name, const char *text); /* attribute; object "." for `where` */
bool h5_file_put_integer(hid_t where, const char *object, const char *name, long long value);
bool h5_file_get_text(hid_t where, const char *object, const char *name, char *text, size_t size);
bool h5_file_get_integer(hid_t where, const char *object, const char *name, long long *value);

/* How a data set is laid out. A growing one has its first extent unlimited (given: the extent it starts with). */
typedef struct {
  const char *name, *units, *long_name; /* units: UDUNITS text */
  hid_t stored_type, memory_type;       /* e.g. H5T_IEEE_F32LE, H5T_NATIVE_FLOAT */
  int rank;                             /* 1 to 4 */
  hsize_t extent[4], chunk[4];          /* chunk[0] == 0: one plain piece, neither chunked nor compressed */
  bool growing, compressed, checked;    /* checked: with a checksum per chunk */
} h5_file_layout;
/* Creates it with its attributes; -1 on failure. The caller closes it with h5_file_close_set. Floats are NaN where not written. */
hid_t h5_file_create_set(hid_t where, const h5_file_layout *layout);
bool h5_file_close_set(hid_t *set);
/* Creates, writes the whole of it, closes. data may be NULL when an extent is 0. */
bool h5_file_write_set(hid_t where, const h5_file_layout *layout, const void *data);

/* Splits an extent of rows, each of row_bytes, into equal chunks of about a megabyte; rows per chunk, >= 1. */
hsize_t h5_file_chunk_rows(hsize_t rows, size_t row_bytes);

#endif
