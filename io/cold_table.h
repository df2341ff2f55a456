/* Where the cold came from and where it went: a ledger as people read it, with shares and mean watts.
 *
 * Cold is heat the other way: a path that took heat out of the rig is where it came from, one that let heat in is where it went; a part whose store of heat
 * fell kept cold, one whose store rose gave it. */
#ifndef LASTWATER_COLD_TABLE_H
#define LASTWATER_COLD_TABLE_H

#include <stdio.h>

#include "solver/results.h"

#define COLD_TABLE_NAME "ledger.txt"

/* watts: mean over the time; NAN without one. latent: J of it that ice formed or melted; 0 where there is no liquid. */
typedef struct { const char *name; double joules, share, watts, latent; } cold_row;
typedef struct {
  size_t num_from, num_into;
  cold_row *from, *into;  /* the largest first; names borrowed from the ledger */
  double total;           /* J, all of `from`                                  */
} cold_table;

status cold_table_make(cold_table *out, const heat_ledger *ledger, double seconds, message *msg);
void cold_table_release(cold_table *t);

/* s, from the first stage's start to the last one's end. */
double cold_table_seconds(const results *res);
/* ledger.txt: a table of the whole run, then of each stage when there are several. Whole or absent. */
status cold_table_write(const char *path, const results *res, message *msg);

#endif
