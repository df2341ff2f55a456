/* A finished run read back from its result directory: the case, its mesh, the summary. */
#ifndef LASTWATER_STORED_RUN_H
#define LASTWATER_STORED_RUN_H

#include <jansson.h>

#include "geometry/mesh.h"
#include "io/case_file.h"
#include "io/whole_file.h"

typedef struct {
  char directory[WHOLE_FILE_PATH];
  char label[64];   /* the directory's own name, without ".result" */
  case_file *of;    /* owned */
  mesh *mesh;       /* owned */
  json_t *summary;  /* owned */
} stored_run;

/* STATUS_BAD_INPUT: the directory holds no finished run; the sentence says what is missing. *out is empty unless STATUS_OK. */
status stored_run_open(stored_run *out, const char *directory, message *msg);
void stored_run_close(stored_run *s); /* also of an empty one */

#endif
