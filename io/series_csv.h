/* series.csv: one row per time, for a spreadsheet. Comma-separated (RFC 4180 quoting), decimal point, the unit in each heading
 * ("time_s", "water.temperature_degC"; none for plain numbers), an empty field where there is no value. */
#ifndef LASTWATER_SERIES_CSV_H
#define LASTWATER_SERIES_CSV_H

#include "solver/results.h"

#define SERIES_CSV_NAME "series.csv"

/* Whole or absent; s may have no rows. */
status series_csv_write(const char *path, const time_series *s, message *msg);

#endif
