/* Mirror planes: half or a quarter of a symmetric rig is computed, and told as the whole. */
#ifndef LASTWATER_CASE_MIRROR_H
#define LASTWATER_CASE_MIRROR_H

#include "io/case_build.h"

typedef struct {
  bool plane[2]; /* across x, y          */
  double at[2];  /* m; the side above it is computed */
} case_mirror;

/* Reads the planes, and refuses those that the rig (its parts, already ordered) is not symmetric about; probes on the other side are
 * put where their images are. tolerance: m, how far a surface may differ from its image. */
case_mirror case_mirror_read(const case_build *b, double tolerance);

#endif
