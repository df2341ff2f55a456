/* The parts of the pages that are not figures: layout, style and scripts, from io/page/, put into the program when it is built.
 * The table is made by io/page/embed.cmake. */
#ifndef LASTWATER_PAGE_TEXT_H
#define LASTWATER_PAGE_TEXT_H

#include <stddef.h>

typedef struct {
  const char *name;           /* of the file, e.g. "report.html" */
  const unsigned char *bytes; /* static */
  size_t num;
} page_text_file;

extern const page_text_file page_text_files[]; /* in the order of their names; ends with a NULL name */

#endif
