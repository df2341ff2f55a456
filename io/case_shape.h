/* Shapes as a case file writes them: sizes, the pieces of a union, and where the whole is turned and moved to. */
#ifndef LASTWATER_CASE_SHAPE_H
#define LASTWATER_CASE_SHAPE_H

#include "geometry/tube_path.h"
#include "geometry/shape_placed.h"
#include "io/case_build.h"

typedef struct {
  const case_build *b;
  const yaml_node *item;  /* a part, or a piece of one              */
  case_section section;   /* SECTION_PART or SECTION_PIECE          */
  const char *path;       /* as faults call it, e.g. "parts.pot"    */
  double foot;            /* m, height it stands at                 */
} case_shape_request;

typedef struct {
  shape *own;               /* in its own frame, upright, at its foot; NULL when a fault was told */
  bool placed;              /* frame turns or moves it                                            */
  shape_placed_frame frame; /* rigid: its scale is already in `own`                                */
} case_shape;

/* Keys that another shape has, given here by mistake; `kind` "layer" for a part without a shape. */
void case_shape_refuse_foreign(const case_shape_request *q, const char *kind);

/* Fails only when memory is out. Not for triangles. */
status case_shape_build(const case_shape_request *q, case_shape *out);

/* Scale and turn of the item about a pivot (m), then its `move`; false with a fault when they are impossible here. *turned: any is given. */
bool case_shape_frame(const case_shape_request *q, const double pivot[3], shape_placed_frame *out, bool *turned);

/* The points of `key`, a list of [x, y, z]; out->num 0 when a fault was told. The caller releases it. */
status case_shape_path(const case_build *b, const yaml_node *item, const char *key, const char *path_name, tube_path *out);

#endif
