/* Nodes through which a sharp freezing front runs: what they offer, and how much of them is ice.
 *
 * A plain enthalpy scheme holds a node at the freezing point until its last latent heat is gone; only then does it cool, at one go, by
 * all that the ice in it should long have lost (and a superheated node must give up all its superheat before its first ice).
 *
 * What such a node offers instead is derived in front_node.h; here is found through which nodes the front runs. All is found anew from the
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

enum { FRONT_CELLS_MOST_AHEAD = 3 }; /* nodes after the next one */
/* Finds the nodes of the front for a state. potential[num_nodes]: of the curves. face_conductance[num_faces], m; surface[num_surfaces].
 * apart[num_apart]: nodes that no front may enter yet and no heat is conducted to, as the clear ones of stirred water. nodes_ahead: so many after the
 * next one are found, 1 to FRONT_CELLS_MOST_AHEAD; the front may run that far and a quarter of a node before the next refresh.
 * Allocates nothing; the same bits for any number of threads. */
void front_cells_refresh(front_cells *f, const double *enthalpy, const double *potential, const double *face_conductance,
                         const front_cells_surface *surface, const int32_t *apart, size_t num_apart, int nodes_ahead);
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
