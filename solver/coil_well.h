/* A tube much thinner than the cells around it, joined to the grid by an equivalent radius.
 *
 * In a medium of one conductivity the potential near a line source q' (W/m) is  -(q'/(2 pi)) ln(rho) + smooth, u = integral of k dT.
 * On the grid the source is shared over a few nodes with weights w_n; the same weights read off the potential,
 * ubar = sum w_n u_n. The equivalent radius r_eff is the rho at which the true potential equals ubar, so that the heat
 * that flows into the tube (radius a) is
 *     q = geometric * (ubar - u(T_tube)),   geometric = 2 pi length / ln(r_eff / a).
 * Peaceman 1978 (SPE J. 18:183) gives r_eff = 0.2 h for one square cell with the source at its centre; here r_eff comes from the
 * discrete problem itself, solved on a patch of the true spacings round the tube with the exact potential of a ring
 * (complete elliptic integral; Carslaw & Jaeger 1959, sec. 10.3) on the patch's edge. It therefore holds for a tube
 * anywhere in its cell, for stretched spacing and for a tight ring. */
#ifndef LASTWATER_COIL_WELL_H
#define LASTWATER_COIL_WELL_H

#include "geometry/mesh.h"

typedef struct {
  size_t num;       /* nodes that share the heat                                  */
  int32_t *node;    /* [num], owned; all of one part                               */
  double *weight;   /* [num], owned; >= 0, sum 1                                   */
  double length;    /* m of tube                                                   */
  double geometric; /* m, 2 pi length / ln(r_eff / a); 0 when spread               */
  double equivalent_radius; /* m, r_eff > a; NAN when spread                        */
  /* With shells (coil_well_open); else 0 and NULL. */
  size_t num_inside;
  int32_t *inside;      /* [num_inside] nodes whose place the shells take, owned                     */
  double outer_radius;  /* m, of the circle of the same volume as the nodes inside, > tube_radius     */
} coil_well;

/* Joins one turn of tube, a ring of radius r0 at height z0 with tube radius tube_radius (m), to the nodes of `part`.
 * GRID_RZ only. With `spread` the weights are the shares of the tube's cross-section in each cell instead, and geometric is 0:
 * the caller then puts its film between the nodes and the tube.
 * STATUS_BAD_INPUT, with the place: the tube leaves the grid, crosses the axis, or comes within its own radius of another part or
 * of unfilled space. *out is untouched on failure; coil_well_release frees the arrays. */
status coil_well_create(coil_well *out, const mesh *m, int part, double r0, double z0, double tube_radius, bool spread,
                        message *msg);

/* The same tube with the cells round it cleared, so that shells round the tube (coil_shells.h) can take their place and ice that is
 * thinner than a cell is resolved. The cells whose middle lies within `reach` (m) of the tube's axis hold no heat any more, and
 * the cells at the edge of that hole share the tube's heat as they would if the tube stood on the conducting grid: outside, the
 * field is then that of the grid with the tube. `geometric` is 0; the heat into a circle of radius r <= outer_radius is
 *     2 pi length / ln(equivalent_radius / r) (ubar - u(r)).
 * `others` [num_others]: r, z of other tubes: their holes must not meet this one, so a cell is cleared only when it lies a cell width
 * nearer to this tube than to any of them, and the circles of the shells stay apart.
 * `may_go` [num_nodes]: nodes that may be cleared; `may_edge` [num_nodes]: nodes that may lie at the edge.
 * STATUS_OK with num_inside 0 and nothing else set: there is no room for it. Errors as coil_well_create. */
status coil_well_open(coil_well *out, const mesh *m, int part, double r0, double z0, double tube_radius, double reach,
                      const double (*others)[2], size_t num_others, const bool *may_go, const bool *may_edge, message *msg);
void coil_well_release(coil_well *w); /* NULL-safe; leaves an empty record */

#endif
