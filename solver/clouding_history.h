/* Where and when the water of one body froze, in the order of time: what a pass for clear and white ice (clouding.h) goes
 * through. Made once from the finished front (front.h, pockets.h), and read by as many passes as are wanted. */
#ifndef LASTWATER_CLOUDING_HISTORY_H
#define LASTWATER_CLOUDING_HISTORY_H

#include "solver/adjacency.h"
#include "solver/results.h"

typedef struct {
  const mesh *m;
  const adjacency *a;
  int part;
  double density;            /* kg/m3: mass of a node = density * its mesh volume                           */
  const double *freeze_time; /* [num_nodes] s, NAN: still liquid; of a node that melted and froze again: the last time */
  /* [num_nodes] s: its first ice, a quarter of it, its last liquid (front.h); NULL: not known */
  const double *begin_time, *quarter_time, *solid_time;
  const double *front_speed;             /* [num_nodes] m/s, NAN: unknown                                               */
  const int32_t *pocket_of_node;         /* [num_nodes] index into pockets                                              */
  const pocket *pockets;                 /* [num_pockets] parents before children; borrowed while the history lives     */
  size_t num_pockets;
  double start_time;    /* s: the freeze began                                                         */
  bool open_top;        /* air passes through surfaces that face up to the room                        */
  double surface_level; /* m, z of the surface: pressure grows below it                                */
  double pressure;      /* Pa absolute, at the surface                                                 */
} clouding_history_request;

/* A node, or a part of one, while it freezes: one half evenly from begin to middle, the other from there to end. */
typedef struct {
  double begin, middle, end;   /* s                                           */
  double mass, speed;          /* kg, m/s                                        */
  double share;                /* of its node                                    */
  double normal_z;             /* upward part of the unit vector from ice to water */
  double pressure, saturation; /* Pa, m3 STP of air per kg                  */
  double surface;              /* m2 at an open surface ...                      */
  double shut[2];              /* ... which ice covers between these shares of the crossing */
  int32_t node, pocket;
} clouding_crossing;

typedef struct {
  clouding_crossing *crossings; /* [num] by rising begin                    */
  size_t num;
  const pocket *pockets; /* [num_pockets] borrowed                         */
  size_t num_pockets;
  double *own, *bare; /* [num_pockets] kg and m2 of open surface of the nodes of the pocket itself, frozen or not */
  double mass;        /* kg of water                                    */
  double frozen;      /* kg of it that froze                            */
  double end;         /* s: the last of it                              */
  double density, pressure;
  bool open_top;
  size_t num_clamped; /* nodes whose speed was unknown or beyond 1e-9 to 1e-4 m/s and set to it */
} clouding_history;

/* STATUS_NO_MEMORY, else STATUS_OK; release it in either case. */
status clouding_history_create(clouding_history *out, const clouding_history_request *q, message *msg);
/* The same with nodes that freeze alike put together (the same pocket, way of facing, 1/256 of the mass in time, 4 % of speed, 1
 * % of pressure): for passes that need no maps. node is -1. Borrows the pockets; release both. */
status clouding_history_bundle(clouding_history *out, const clouding_history *h, message *msg);
void clouding_history_release(clouding_history *h); /* NULL-safe */

#endif
