/* A tube bent along any line through an (x, y, z) grid, joined to it by an equivalent radius as rings are (coil_well.h).
 *
 * The line is taken in straight pieces no longer than a cell. Each gives its heat to a few nodes with weights w_n, and reads the potential
 * of the grid off with the same weights, ubar = sum w_n u_n. How much that differs from the potential at the tube's surface is found from
 * one discrete problem for the whole tube: every piece gives off 1 W/m in a medium of conductivity 1 on the true spacings round the tube,
 * with the exact potential on the edge of that box. For the same tube in an unbounded medium the mean potential U_a at its surface is known
 * exactly (a straight piece of length L adds  ln((r1 + r2 + L) / (r1 + r2 - L)) / (4 pi),  r1, r2 from its ends: Carslaw & Jaeger 1959, sec. 10.3,
 * integrated along the line), so that for a piece
 *     q = geometric * (ubar - u(T_tube)),   geometric = length / (U_a - ubar) = 2 pi length / ln(r_eff / a).
 * It holds at any place and in any direction, for stretched spacing, and for turns that see each other.
 *
 * There are no shells round the tube here as in (r, z) (coil_shells.h): ice within the nodes that share a piece's heat is a ring round the tube by
 * its amount only (network_tube_ice.c). A ring of 10 mm tube at -12 degC, ice against the same with shells, in cells of 5, 10 and 20 mm: in still
 * water at 2 degC after 10 min +0.3, -1.1 and -0.7 %, after an hour +0.8, -1.5 and -1.3 %, after four +0.2, +1.1 and -2.0 %; in water at 6 degC
 * that moves of itself, where the nodes must lose their warmth before the first ice is seen, -5.0 and -7.6 % after four hours in cells of 10 and 20 mm.
 * In stirred water the film stands on the tube and on its ring: the tube's heat in half an hour from 6 degC, against a ring worked out for itself, in cells of
 * 10 and 20 mm +4 and +20 % with a film of 100 W/(m2 K), +1 and +18 % with 1000; its ice is told too late there (-19 and -50 %), as the
 * nodes' warmth counts first. The shells of (r, z) know no film: 2 % too little heat with 100, 31 % with 1000. */
#ifndef LASTWATER_COIL_LINE_H
#define LASTWATER_COIL_LINE_H

#include "geometry/mesh.h"

typedef struct {
  int32_t part;     /* in which its middle lies                                            */
  double length;    /* m, images behind mirror planes counted                              */
  double middle[3]; /* m                                                                   */
  size_t num;       /* nodes that share its heat; 0 for a piece in a part that is one node */
  int32_t *node;    /* [num], owned by the line                                            */
  double *weight;   /* [num], >= 0, sum 1                                                  */
  double geometric; /* m, images counted; 0 when num is 0                                  */
  double equivalent_radius; /* m, > tube radius; NAN when num is 0                         */
} coil_line_piece;

typedef struct {
  size_t num;
  coil_line_piece *pieces;
} coil_line;

/* points [num_points]: m, the middle of the tube; what lies behind a mirror plane of the grid is left to its image. pooled [num_parts]: parts
 * that are one node, whose pieces only get their length. spread: the weights are the shares of the tube's volume in each cell instead, and
 * geometric is 0; the caller then puts its film between the nodes and the tube.
 * STATUS_BAD_INPUT, with the place: the tube leaves the grid or lies in no part, or has no room for its heat. *out is empty on failure. */
status coil_line_create(coil_line *out, const mesh *m, const double (*points)[3], size_t num_points, double tube_radius, const bool *pooled,
                        bool spread, message *msg);
void coil_line_release(coil_line *line); /* NULL-safe */

#endif
