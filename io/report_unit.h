/* The unit of a figure of summary.json, from the suffix of its key: freeze.time_s, bath.freezing_onset_C, plant.work_J. */
#ifndef LASTWATER_REPORT_UNIT_H
#define LASTWATER_REPORT_UNIT_H

#include "io/quantity.h"

typedef struct {
  const char *suffix;  /* "_s"                                                           */
  const char *unit;    /* UDUNITS text: "s", "degC", "1"                                  */
  quantity_kind kind;  /* how a person writes it in a plan; QUANTITY_NUMBER: a bare number */
} report_unit;

/* By the last part of the path that has a suffix; without one, a plain number. */
report_unit report_unit_of(const char *path);

#endif
