/* Parts whose shape is a triangle file: read, placed, and kept with the results.
 *
 * `file` is looked for beside the case file. What a run leaves holds a copy under the part's own name and, in its case.yaml, that name
 * and the file's fingerprint (text_hash of its bytes): it reruns to the same bits, and a file that has changed since is refused. */
#ifndef LASTWATER_CASE_TRIANGLES_H
#define LASTWATER_CASE_TRIANGLES_H

#include "io/case_build.h"

typedef struct {  /* room inside a solid that is drawn with its walls */
  shape *inside;  /* up to the rim; NULL when there is none            */
  bool open;      /* at the top                                        */
} case_triangles_room;

/* Makes the shape of a part with `shape: triangles`; room: NULL, or where the room inside it goes; foot (m, may be NULL): height of its lowest point. What was mended becomes a note;
 * what cannot be used, a fault (*out stays NULL, STATUS_OK). Fills the file's fields of the part. */
status case_triangles_build(case_build *b, case_part *part, const double *foot, case_triangles_room *room, shape **out);
/* Copies the files of all parts into the directory of results. STATUS_FILE also when one has changed since it was read. */
status case_triangles_copy(const case_file *c, const char *directory, message *msg);

#endif
