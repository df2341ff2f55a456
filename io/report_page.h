/* The page of a run, and of several runs side by side: one HTML file with everything in it, made from result directories alone. */
#ifndef LASTWATER_REPORT_PAGE_H
#define LASTWATER_REPORT_PAGE_H

#include "geometry/mesh.h"
#include "io/case_file.h"

#define REPORT_PAGE_NAME "report.html"

typedef struct {
  const char *directory;  /* with summary.json, fields.h5, and pictures/ if there are any  */
  const char *label;      /* what the run is called on the page                           */
  const case_file *of;    /* the case it came from, and its mesh                           */
  const mesh *mesh;
} report_page_run;

/* Writes the page of one run, whole or not at all. STATUS_FILE: a file of the directory is missing or damaged, or the page cannot be written. */
status report_page_write(const char *path, const report_page_run *one, message *msg);
/* The same of several runs, with the differences between their inputs and answers as JSON text (compare_table_json). */
status report_page_compare(const char *path, const report_page_run *runs, size_t num, const char *differences, message *msg);

#endif
