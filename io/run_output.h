/* The files a finished run leaves: fields.h5, fields.xdmf, series.csv, summary.json, summary.txt, pictures/, report.html. */
#ifndef LASTWATER_RUN_OUTPUT_H
#define LASTWATER_RUN_OUTPUT_H

#include "io/case_file.h"
#include "io/field_store.h"
#include "io/summary_json.h"
#include "solver/run.h"

typedef struct {
  char *json, *text; /* summary.json and summary.txt; owned, see run_output_release */
} run_output;

/* Finishes *fields (NULL afterwards) and writes everything into the directory, each file whole or not at all; figures first, pictures
 * and page last. Stops at the first failure: what was written by then is good. */
status run_output_write(run_output *out, const char *directory, const case_file *c, const run *x, field_store **fields,
                        const provenance *p, message *msg);
void run_output_release(run_output *out);

#endif
