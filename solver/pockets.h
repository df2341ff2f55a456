/* Pockets: connected regions of liquid, how they parted, closed and vanished.
 *
 * One pass over the nodes of a body in falling order of the time their last liquid went (union-find): going back in time, a region is
 * born at its last node, grows, and meets others. Where two meet they parted in forward time; the one that lives longer goes on as the
 * parent, the other is its child. So [0] is the root, and its last water is the body's last liquid. */
#ifndef LASTWATER_POCKETS_H
#define LASTWATER_POCKETS_H

#include "solver/adjacency.h"
#include "solver/results.h"

typedef struct {
  int part;                  /* the body's part                                                                   */
  double density;            /* kg/m3 of mesh volume                                                              */
  double start_time;         /* s from time zero: the freeze began                                                */
  const double *solid_time;  /* [num_nodes] s, NAN: still liquid                                                  */
  const uint8_t *open;       /* [num_nodes] 1 where a node touches an open surface; NULL: no open surface          */
  double least_share;        /* a pocket counts from this share of the fill (0.001)                                */
  size_t least_nodes;        /* ... and from more nodes than this (9 in (r, z), 27 in (x, y, z))                   */
} pockets_request;

typedef struct {
  size_t num;
  pocket *pocket;            /* [num], owned (free): [0] the root, then in falling order of last_at                 */
  size_t num_small;          /* pockets too small to count, merged into their parents                               */
  double last_distance;      /* m from the root's last water to the nearest surface of the body                     */
} pockets_found;

/* Fills `found` and pocket_of_node[num_nodes] (only the nodes of the part are written: index into found->pocket).
 *
 * parted_at, mass: when it parted from its parent and the mass of its water then (a root: start_time, all of it).
 * closed_at, closed_mass: when its last liquid path to an open surface froze, and its mass then. A child that parted from a region that
 *   was already closed, or that closed before it parted, has the parent's closed_at and its own mass at parting. A body without any open
 *   surface was closed from start_time on. NAN when it stayed open until it vanished (or has not closed yet).
 * trapped: closed with more than least_share of the fill and more than least_nodes nodes.
 * position: centroid of its last node, moved to the top of the parabola through its neighbours' times along each axis. */
status pockets_find(pockets_found *found, int32_t *pocket_of_node, const mesh *m, const adjacency *a,
                    const pockets_request *request, message *msg);

/* Marks in open[num_nodes] (1, else untouched) the nodes of `part` whose interface to the room faces up (n_z > 0.7). */
void pockets_mark_open(uint8_t *open, const mesh *m, int part);

/* The connected liquid as it stands during the march. */
typedef struct {
  double volume;    /* m3 of liquid                                          */
  double low, high; /* m, z span of its cells                                 */
  bool open;        /* holds a node that touches an open surface              */
} pockets_region;
typedef struct {
  size_t num;
  pockets_region *region; /* [num], owned; in order of their lowest node      */
  int32_t *label;         /* [num_nodes] index into region, -1 where not liquid or another part */
  size_t capacity;
  int32_t *stack;         /* workspace [num_nodes]                            */
} pockets_labels;
status pockets_labels_create(pockets_labels *l, size_t num_nodes, message *msg);
void pockets_labels_release(pockets_labels *l);
/* Labels the nodes of `part` with liquid_fraction > 0. Allocates only when there are more regions than ever before. */
status pockets_label(pockets_labels *l, const mesh *m, const adjacency *a, int part, const double *liquid_fraction,
                     const uint8_t *open, message *msg);

#endif
