/* The table of a sweep: one row a point, from the ledger alone, so that it is the same to the bit however the runs came about. */
#ifndef LASTWATER_SWEEP_TABLE_H
#define LASTWATER_SWEEP_TABLE_H

#include "io/sweep.h"

typedef struct {
  const sweep *s;
  size_t num_points, num_cases, num_inputs, num_values;
  ledger_state *state;     /* [num_cases]                                                        */
  double *value;           /* [num_cases * num_values] SI, degC; NAN: not known, or a word        */
  char **word;             /* the same size: a word, owned; NULL: a number or not known           */
  double *input;           /* [num_points * num_inputs] SI, degC; NAN: a word                     */
  uint32_t *rank;          /* [num_cases] by the first goal, from 1; 0: without; equal figures share a rank's order by case */
  unsigned char *front;    /* [num_cases] 1: no other case is better by one of the first two goals and not worse by the other */
  size_t num_ranked;
  uint32_t *ranked;        /* [num_ranked] cases, best first                                     */
} sweep_table;

status sweep_table_create(sweep_table *t, const sweep *s, message *msg);
void sweep_table_release(sweep_table *t);

/* Whole or absent. CSV as series.csv; the unit stands in the heading ("parts.foam.wall_m"), an empty field is not known. */
status sweep_table_write_csv(const sweep_table *t, const char *path, message *msg);
/* /inputs/KEY and /report/PATH, one data set a column with units; words as texts of a fixed length; /point/case, state, rank, front. */
status sweep_table_write_h5(const sweep_table *t, const char *path, message *msg);

/* The ranked list in words: at most `most` rows. False when the stream fails. Says so when the plan has no goals. */
bool sweep_table_print_ranking(const sweep_table *t, FILE *to, size_t most);

/* Column of the first goal / second goal among the values; SIZE_MAX: there is none. */
size_t sweep_table_goal(const sweep_table *t, size_t goal);

#endif
