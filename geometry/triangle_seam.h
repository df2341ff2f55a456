/* Seams of a welded surface that are closed in fact and open by its edges: faces that the file gives twice, and edges that run past a point of
 * the faces beyond them (T-junctions), which leave slits without width. */
#ifndef LASTWATER_TRIANGLE_SEAM_H
#define LASTWATER_TRIANGLE_SEAM_H

#include "geometry/triangle_surface.h"

/* Drops every triangle that has the corners of an earlier one, whichever way round. across is not kept. */
status triangle_seam_drop_twins(triangle_surface *s, message *msg);
/* Drops triangles less than `flat` high that hang on no other by an edge, and divides those along whose open edge, within `flat`, a point of
 * another open edge lies. across (of every half edge, UINT32_MAX where there is not exactly one neighbour) must be there, and is not kept.
 * *changed: the edges are to be paired again, and this may find more. */
status triangle_seam_sew(triangle_surface *s, double flat, bool *changed, message *msg);

#endif
