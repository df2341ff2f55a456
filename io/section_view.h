/* A plane cut through the rig, sampled for drawing: which part lies where, and fields over it.
 *
 * The plane is spanned by two grid axes and passes through a point; dimension is data: (r, z) is the plane of axes 0 and 2 through
 * the axis of revolution, shown on both sides of it. A plane of symmetry at the low end of an axis is shown on both sides too.
 * Parts come from their shapes (so edges are smooth), fields from the nodes of the mesh: bilinear between cell centres within one
 * part, never across a wall. */
#ifndef LASTWATER_SECTION_VIEW_H
#define LASTWATER_SECTION_VIEW_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "geometry/mesh.h"
#include "solver/rig.h"

typedef struct {
  int across, up;       /* grid axes that run to the right and upward       */
  double at[3];         /* m, a point of the plane                          */
  double mirror;        /* m, coordinate of the mirror on the axis `across`; NAN: none */
  double mirror_up;     /* the same on the axis `up`                         */
  double low[2], high[2]; /* m, what is shown: {across, up}, mirrored side included */
  size_t width, height; /* samples; row 0 on top                            */
  int16_t *part;        /* [height * width] part index, MESH_VOID the room  */
  bool revolved;        /* GRID_RZ                                          */
} section_view;

typedef struct {
  int across, up;
  double at[3];
  size_t most_width, most_height; /* samples */
  bool water_only;                /* frame the bodies of water, not the whole rig */
} section_view_request;

/* Fails with STATUS_NO_MEMORY only, or STATUS_BAD_INPUT when nothing is painted in that plane. */
status section_view_create(section_view **out, const rig *r, const mesh *m, const section_view_request *want, message *msg);
void section_view_destroy(section_view **v); /* NULL-safe */

/* The point of the rig (mirrored back, {r, 0, z} in GRID_RZ) at a sample; samples may be fractions. */
void section_view_point(const section_view *v, double column, double row, double point[3]);
/* Where a point shows, in samples; `mirrored`: its image on the other side of the mirror across. False: outside,
 * or farther from the plane than a fiftieth of what is shown (then column and row are untouched). */
bool section_view_sample(const section_view *v, const double point[3], bool mirrored, double *column, double *row);

typedef enum { SECTION_FLAT, SECTION_SMOOTH, SECTION_SLOPED } section_blend;
/* Fills field[height * width] from one value per node: NAN where there is no node or its value is not finite.
 * FLAT: the node's own value. SMOOTH: bilinear, continued flat to the wall. SLOPED: continued with its slope to the wall,
 * within the range of the values. */
status section_view_field(const section_view *v, const rig *r, const mesh *m, const double *node_values, section_blend blend,
                          float *field, message *msg);

#endif
