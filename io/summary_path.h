/* One figure of a summary by its path: freeze.time_s, bodies.water.freeze.time_s, last_liquid.position_m.2 (the second of a list).
 * A key may hold points itself (freeze.marks_s.0.9): the longest key that fits counts. */
#ifndef LASTWATER_SUMMARY_PATH_H
#define LASTWATER_SUMMARY_PATH_H

#include <jansson.h>

/* Borrowed; NULL when there is nothing at that path. */
const json_t *summary_path_find(const json_t *summary, const char *path);
/* The path of a number, text or yes-or-no in the summary that comes closest to one that is not there; false when none is near. */
int summary_path_nearest(const json_t *summary, const char *path, char *near, size_t size);

/* Number of a value: a number itself, 1 or 0 of yes or no; NAN otherwise (also of NULL). */
double summary_path_number(const json_t *value);

#endif
