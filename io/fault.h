/* All faults of a case file, each with its place, told in one go.
 *
 *   cases/drum/case.yaml:14:11: parts.pot.wall: "3" has no unit; a length is written like 3 mm */
#ifndef LASTWATER_FAULT_H
#define LASTWATER_FAULT_H

#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

/* Where something was written: a line of the file, or an override of the command line (origin not NULL, line 0). */
typedef struct {
  size_t line, column; /* from 1; 0: the file as a whole; columns count characters */
  const char *origin;  /* borrowed: e.g. "--set parts.pot.wall=3 mm"; NULL: the file */
} fault_place;

typedef struct fault_list fault_list;

/* file: its name, borrowed, put before every place. */
status fault_list_create(fault_list **out, const char *file, message *msg);
void fault_list_destroy(fault_list **faults); /* NULL-safe */

/* Adds a fault (a wrong input) or a note (a caution that stops nothing). No more than 200 are kept; the rest is counted. */
#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
void fault_add(fault_list *faults, fault_place at, const char *format, ...);
#if defined(__GNUC__)
__attribute__((format(printf, 3, 4)))
#endif
void fault_note(fault_list *faults, fault_place at, const char *format, ...);

size_t fault_count(const fault_list *faults);      /* faults, also those not kept */
/* True when a fault was told at this very place. */
bool fault_is_at(const fault_list *faults, fault_place at);
size_t fault_num_notes(const fault_list *faults);
/* Note number i, without its place. */
const char *fault_note_text(const fault_list *faults, size_t i);
/* True when out of memory kept a fault from being kept (it is counted all the same). */
bool fault_lost(const fault_list *faults);

/* All faults as lines in the order of their places, "file:line:column: sentence\n"; *text is allocated, free() it. */
status fault_text(const fault_list *faults, char **text, message *msg);

#endif
