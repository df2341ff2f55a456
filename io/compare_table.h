/* What differs between finished runs: inputs key by key from their resolved cases, answers key by key from their summaries.
 *
 * Items of named lists are told by name ("parts.drum.wall"), others by number. Answers are equal when they agree to six digits.
 * provenance, events, pockets and warnings are left out; single bodies and baths stand under the keys that repeat them. */
#ifndef LASTWATER_COMPARE_TABLE_H
#define LASTWATER_COMPARE_TABLE_H

#include <stdio.h>

#include "io/stored_run.h"

typedef struct compare_table compare_table;

status compare_table_create(compare_table **out, const stored_run *runs, size_t num, message *msg);
void compare_table_destroy(compare_table **t); /* NULL-safe */

/* {"runs": [label], "inputs": [{"key", "values"}], "answers": [...]}: a value that a run lacks is null. free() it. */
status compare_table_json(char **text, const compare_table *t, message *msg);
/* As a table to read. False when the stream fails. */
bool compare_table_print(FILE *to, const compare_table *t);

#endif
