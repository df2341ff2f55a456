/* Nodes through which a sharp freezing front runs: what they offer, and how much of them is ice.
 *
 * A plain enthalpy scheme holds a node at the freezing point until its last latent heat is gone; only then does it cool, at one go, by
 * all that the ice in it should long have lost (and a superheated node must give up all its superheat before its first ice).
 *
 * Derived so that the conductances, which stay those of the weak form, carry at every moment just what a plane front carries. Let the
 * front stand s nodes deep in ice of the even fall sigma of u per node (quasi-steady, as in Tacke 1985, Int. J. Numer. Meth. Engng
 * 21:543), the liquid ahead rising by sigma_l per node, and let node i with its middle at x_i offer u_f - sigma (s - x_i) once the front
 * has passed its middle, u_f + sigma_l (x_i - s) before. The heat through every face is then right, and the balance of the node whose
 * middle lies y behind the front (w before it) freezes its share
 *     f = 1 - (1 - y)^2 / 2,   0 <= y <= 1,      f = (1 - w)^2 / 2,   0 <= w <= 1:
 * a node is frozen through when the front has reached the middle of the next one, which is then half frozen. The heat it has by then
 * lost beside the latent is that of the whole ice so far: sigma (y + (1 - y)^2 / 8) / (du/dH_s) (to a twenty-fifth of sigma: the exact
 * quartic is replaced by this parabola so that H can be inverted), and the liquid holds sigma_l (w + (1 - w)^2 / 8) / (du/dH_l) more.
 * Hence u(H): a root on either side, that meets the material's curve in value and slope. An oblique front gives the same f with the
 * fall along the axis for sigma.
 *
 * A front that starts at a surface finds no node behind: it reaches the middle of the first one with f = 1/2, too, but the heat would
 * come from the middle and not from the front, an eighth of the square of the node's depth too late; so surfaces are brought nearer
 * meanwhile (network_ends_meet_front), and f = (1 - 2 w) / 2 there, w <= 1/2.
 * A node with none ahead (before a mirror plane, the last of a pool) has nobody to share with: f = (1 + 2 y) / 2, y <= 1/2.
 * Where the last water is hemmed in along two axes or more (a corner of mirror planes or between nodes, a cell on an axis of revolution) the
 * front shrinks to a line or a point, and u in the middle falls with the logarithm of what is left: with a share l liquid by
 * sigma ln(0.39 / l) / 2.8, that is by 0.5, 1 and 1.5 sigma for a tenth, a fortieth and a hundred-and-seventieth. There f = 1 - (1 - y / Y)^2 / 2,
 * y <= Y. Of Y = 1, 1.5 and 2 a square bar and a disc on square cells, 6 to 24 per radius, end -0.2, -0.05 and +0.1 % off (one to four parts
 * of that by size): 1.5 is used; on an axis, of whose node three quarters lie beyond the middle, 1 (cylinders: -0.02 %).
 * Stirred water stays warm until the front sweeps it, and conducts nothing to it: f = (1 + 2 y) / 2 from y = -1/2 on, u being that of the
 * ice carried on.
 *
 * sigma is the mean over the ways out of the node, weighted by their conductances and by how much further than the node they fall (a
 * neighbour beside it says nothing, and so the image behind a mirror plane may be missing): a neighbour D below u_f has the front
 * 1 + y from its middle, sigma = D / (1 + y); behind a surface whose half node holds the share rho of the whole resistance
 * 2 rho D / (1 + 2 rho y).
 *
 * H keeps its meaning: only the map from H to the potential changes, so heat is conserved to rounding. The lines are nowhere steeper
 * than the curve beside the plateau, so the bound on the step stands (until some hundred kelvins per node). All is found anew from the
 * state by front_cells_refresh and stays for the step; remembered is only which nodes were found, so that the last node of a pool, which
 * no wet neighbour gives away, is followed to its end. */
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
  bool round_axis;                 /* the first cell of every row lies on an axis of revolution */
} front_cells_network;

status front_cells_create(front_cells **out, const front_cells_network *n, message *msg);
void front_cells_destroy(front_cells **f); /* NULL-safe */

/* Finds the nodes of the front for a state. potential[num_nodes]: of the curves. face_conductance[num_faces], m; surface[num_surfaces].
 * apart[num_apart]: nodes that no front may enter yet and no heat is conducted to, as the clear ones of stirred water.
 * Allocates nothing; the same bits for any number of threads. */
void front_cells_refresh(front_cells *f, const double *enthalpy, const double *potential, const double *face_conductance,
                         const front_cells_surface *surface, const int32_t *apart, size_t num_apart);
/* Instead, while ice melts at its surfaces: no front, all nodes offer what their curve says. */
void front_cells_forget(front_cells *f);
/* Nodes that freeze from a surface. They look at the state alone; front_cells_prepare comes first. */
void front_cells_prepare(front_cells *f);
bool front_cells_is_sharp(const front_cells *f, int32_t part); /* it freezes at one temperature, and is no pool */
/* Whether the front has left the surface. */
bool front_cells_begins(const front_cells *f, size_t node, const double *enthalpy, const double *potential, const double *face_conductance);
/* The enthalpy, J/m3, at which the front is in the node's middle, u at the surface being `drop` below freezing, W/m. */
double front_cells_middle(const front_cells *f, size_t node, const double *potential, const double *face_conductance, double drop);
/* What it is at least, whatever lies ahead; -INFINITY: the part does not freeze at one temperature. */
double front_cells_middle_at_least(const front_cells *f, int32_t part, double drop);
/* The same for stirred water: whether the front is not yet there. */
bool front_cells_before_middle(const front_cells *f, size_t node, double enthalpy);
/* What the next refresh remembers besides the state, [num_nodes]: for restarts. */
unsigned char *front_cells_memory(front_cells *f);
/* The nodes of the last refresh and what they offer; owned by f. */
const heat_potential_front *front_cells_front(const front_cells *f);

#endif
