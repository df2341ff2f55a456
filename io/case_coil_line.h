/* Coils in (x, y, z): helix, serpentine or any line, and the room they have. */
#ifndef LASTWATER_CASE_COIL_LINE_H
#define LASTWATER_CASE_COIL_LINE_H

#include "geometry/tube_path.h"
#include "io/case_build.h"

typedef struct {
  double radius, height, turns; /* of a helix, resolved */
} case_coil_helix;

/* Where the axis of a helix stands, or the middle of a serpentine: "axis_at", else the z axis. */
bool case_coil_line_axis(const case_build *b, const yaml_node *item, double axis[2]);

/* Fills points, length and figures of coil and rig coil; a helix needs `helix` (else NULL). Tells what does not fit. Fails only when memory is out. */
status case_coil_line_build(case_build *b, const yaml_node *item, const char *path, const case_coil_helix *helix, case_coil *coil, rig_coil *out);

/* m, the smallest free way from the tube to a shape, and where it is smallest (may be NULL). */
double case_coil_line_gap(const rig_coil *coil, const shape *s, double at[3]);

#endif
