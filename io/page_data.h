/* What a page draws from, as JSON: one object a run, made from the files of its result directory and the case that they came from.
 *
 * summary.json stands in it as it is, so that the page says nothing else. Fields keep the precision of fields.h5. A grid too large for
 * a page is thinned: every `stride`-th cell along each axis and every `time_stride`-th stored time, values untouched; the page says so. */
#ifndef LASTWATER_PAGE_DATA_H
#define LASTWATER_PAGE_DATA_H

#include <stdio.h>

#include "geometry/mesh.h"
#include "io/case_file.h"

/* The colour ramps, as one object. */
void page_data_colours(FILE *to);
/* One run; m is the mesh of c's rig. label: what the run is called among others. STATUS_FILE: a file is missing or damaged, the sentence says which. */
status page_data_run(FILE *to, const char *directory, const char *label, const case_file *c, const mesh *m, message *msg);

#endif
