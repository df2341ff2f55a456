/* What a run found of clear and white ice (results.h), as an object of summary.json and back. */
#ifndef LASTWATER_SUMMARY_CLEAR_H
#define LASTWATER_SUMMARY_CLEAR_H

#include <jansson.h>

#include "solver/results.h"

/* A new object; revolved: positions are [r, z]. What is not known is left out. NULL: out of memory, or a figure is infinite. */
json_t *summary_clear_write(const clear_result *c, bool revolved);
/* Fills all of *c; what the object lacks is NAN. NULL: present is false. num_clamped is not stored. */
void summary_clear_read(clear_result *c, const json_t *object, bool revolved);

#endif
