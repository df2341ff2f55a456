/* Nodes through which a sharp freezing front runs: the sensible heat in them.
 *
 * A plain enthalpy scheme holds a node at the freezing point until its last latent heat is gone; only then does it cool, at one go, by
 * all that the ice in it should long have lost (and a superheated node must give up all its superheat before its first ice). In one
 * dimension Tacke 1985 (Int. J. Numer. Meth. Engng 21:543) puts that sensible heat into the node while the front crosses it. Here,
 * with sigma_s, sigma_l the fall of the potential u over one node's depth in the ice behind and in the liquid ahead,
 *     freezing begins at H_B = H_l + sigma_l / (2 du/dH_l) and ends at H_A = H_s - ICE_SHARE sigma_s / (2 du/dH_s),
 *     f = (H_B - H) / (H_B - H_A) in between,
 * so that a node frozen through has at once nearly the temperature of the middle of such a node. It offers u = u_f over most of the
 * way, and meets the material's own curve at H_A and H_B along straight lines over the last and first share of f.
 *
 * The conductances stay as they are, those of the weak form: correcting them too for the place of the front gains in one dimension but
 * freezes an oblique front 0.4 to 0.7 % too early at 40 to 20 nodes per radius (measured on spheres and cones).
 *
 * sigma is the mean over the ways out of the node, weighted by their conductances: towards an even neighbour with its potential D below
 * u_f it is D; behind a surface whose half node holds the share rho of the whole resistance, 2 rho D (the front in mid-node).
 *
 * Everything is found anew from the state by front_cells_refresh and stays for the step; nothing is remembered. H keeps its meaning:
 * only the map from H to the potential changes, so heat is conserved to rounding. The lines are nowhere steeper than the curve beside
 * the plateau, so the bound on the step stands (they would overlap above some hundred kelvins per node). */
#ifndef LASTWATER_FRONT_CELLS_H
#define LASTWATER_FRONT_CELLS_H

#include "solver/conductance_rows.h"

typedef struct front_cells front_cells;

typedef struct { int32_t left, right; } front_cells_face; /* a face that the regular rows do not hold; left == right: on
                                                            a mirror plane, to the node's own image */

/* A surface of a node: heat out of the node, W, = conductance * u + heat; half: conductance from the node's centre to it, m. */
typedef struct { double conductance, heat, half; } front_cells_surface;

typedef struct {
  const conductance_rows *rows;    /* borrowed, like part, curve and excluded               */
  size_t num_nodes, num_parts;
  const int32_t *part;             /* [num_nodes], < 0: absent                              */
  const phase_curve *const *curve; /* [num_parts] read at each refresh                      */
  const bool *excluded;            /* [num_parts] pools                                     */
  const front_cells_face *faces;   /* [num_faces] read at creation only                     */
  size_t num_faces;
  const int32_t *surface_node;     /* [num_surfaces] -1: none; read at creation only        */
  size_t num_surfaces;
} front_cells_network;

status front_cells_create(front_cells **out, const front_cells_network *n, message *msg);
void front_cells_destroy(front_cells **f); /* NULL-safe */

/* Finds the nodes of the front for a state. potential[num_nodes]: of the curves. face_conductance[num_faces], m; surface[num_surfaces].
 * Allocates nothing; the same bits for any number of threads. */
void front_cells_refresh(front_cells *f, const double *enthalpy, const double *potential, const double *face_conductance,
                         const front_cells_surface *surface);
/* The nodes of the last refresh and what they offer, by rising node; owned by f. */
const heat_potential_ramp *front_cells_ramps(const front_cells *f, size_t *num);

#endif
