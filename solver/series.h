/* The series of a run: one row of headline quantities per stored time. */
#ifndef LASTWATER_SERIES_H
#define LASTWATER_SERIES_H

#include "solver/results.h"

/* An empty series of no columns; columns are added before the first row. */
status series_add_column(time_series *s, const char *unit, message *msg, const char *name_format, ...);
/* Room for at least num_rows rows in all. */
status series_reserve(time_series *s, size_t num_rows, message *msg);
/* Appends a row and returns it, num_columns values set to NAN for the caller to fill; NULL when out of memory (msg says). */
double *series_append(time_series *s, message *msg);
void series_release(time_series *s);

#endif
