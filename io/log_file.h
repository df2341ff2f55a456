/* A thermometer's log: a table of text, one column of times, one column a probe.
 *
 *   time [min], core [degC], bath [F]          or as series.csv has it: time_s,probe.core_degC
 *   0, 8.1, -2.0
 *   5, 7.9,                                    an empty field, "-" or "nan": a gap
 *
 * Columns are parted by commas, semicolons or tabs (whatever the heading uses first); lines that begin with # are skipped. The unit stands
 * in the heading, in brackets or after the last underscore. Times rise. A field that is no number is a fault at file:line:column. SI, degC. */
#ifndef LASTWATER_LOG_FILE_H
#define LASTWATER_LOG_FILE_H

#include "io/fault.h"
#include "io/quantity.h"

enum { LOG_FILE_NAME = 64, LOG_FILE_COLUMNS = 64, LOG_FILE_ROWS = 200000 };

typedef struct {
  size_t num_rows, num_columns;          /* columns without the time      */
  char (*name)[LOG_FILE_NAME];           /* [num_columns] "core" of "probe.core_degC" */
  double *time;                          /* [num_rows] s                  */
  double *value;                         /* [num_rows * num_columns] degC; NAN: a gap */
} log_file;

/* Columns whose unit is no temperature are left out. STATUS_BAD_INPUT with faults told; *out is then empty. */
status log_file_parse(log_file *out, const char *text, size_t length, const quantity_system *units, fault_list *faults, message *msg);
void log_file_release(log_file *l);

#endif
