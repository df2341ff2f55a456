/* A checkpoint: the whole state of a run in a file of its own, from which the run goes on to the same bits.
 *
 *   /          attributes format, program, case_hash, byte_order, sizeof_double, sizeof_event, num_rows, num_events, num_times, wall_s
 *   /state     one data set per array of run_state, with its unit; a checksum per chunk
 *   /fields    the mark in fields.part.h5 (see file_mark.h): pieces, bytes; attribute file_size
 *
 * One writer and one reader for all arrays, driven by the table that run_state hands out. The file appears by rename: whole, or as it
 * was before. What does not fit, another format, program, machine, case, or a state of other arrays, is refused with the reason. */
#ifndef LASTWATER_CHECKPOINT_H
#define LASTWATER_CHECKPOINT_H

#include "io/file_mark.h"
#include "io/text_hash.h"
#include "solver/run.h"

#define CHECKPOINT_NAME "checkpoint.h5"
enum { CHECKPOINT_FORMAT = 2 };

typedef struct {
  char case_hash[TEXT_HASH];
  size_t num_rows, num_events; /* of the series and events: for run_reserve  */
  size_t num_times;            /* stored in fields.part.h5                     */
  double wall;                 /* s of work so far                             */
  file_mark fields;            /* owned                                        */
} checkpoint_header;

status checkpoint_write(const char *path, const checkpoint_header *h, const state_field *fields, size_t num_fields, message *msg);

/* Reads the header and checks it against case_hash. Release it. STATUS_FILE: refused; *h is empty. */
status checkpoint_read_header(const char *path, const char *case_hash, checkpoint_header *h, message *msg);
void checkpoint_release_header(checkpoint_header *h);

/* Fills the arrays of the fields. All of them are looked at before the first is written to: names, types and counts must be the
 * file's, none missing and none more. Damage to the numbers themselves shows by checksum while reading: the arrays are then spoilt. */
status checkpoint_read_state(const char *path, const state_field *fields, size_t num_fields, message *msg);

#endif
