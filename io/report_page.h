/* report.html: one self-contained page with the answer in sentences, the pictures, what to beware of, and the figures in tables.
 *
 * No script, no outside file: it opens without a network, prints, fits a phone, and follows the reader's dark or light setting.
 * It says only what the results hold; a figure that is not known leaves its sentence or cell out. */
#ifndef LASTWATER_REPORT_PAGE_H
#define LASTWATER_REPORT_PAGE_H

#include "io/summary_json.h"
#include "solver/results.h"
#include "solver/rig.h"

#define REPORT_PAGE_NAME "report.html"

/* Writes the page (whole or not at all). Pictures are read from pictures_dir by the names of io/pictures.h; one that is not there is
 * left out; NULL: none. p may be NULL. STATUS_FILE: cannot be written, or a picture cannot be read. */
status report_page_write(const char *path, const char *pictures_dir, const rig *r, const results *res, const provenance *p,
                         message *msg);

#endif
