/* How far a body of water has frozen: its share, and when it passed 0.5, 0.9, 0.99 and the end. */
#ifndef LASTWATER_BODY_WATCH_H
#define LASTWATER_BODY_WATCH_H

#include "materials/phase_curve.h"
#include "solver/network.h"

enum { BODY_WATCH_MARKS = 3, BODY_WATCH_MEMORY = BODY_WATCH_MARKS + 3, BODY_WATCH_BLOCK = 4096 };
extern const double body_watch_share_of_mark[BODY_WATCH_MARKS]; /* 0.5, 0.9, 0.99 */

typedef struct {
  int part;
  size_t num_nodes;
  int32_t *nodes;           /* the body's unknowns, shells round tubes included, rising    */
  double *ice;              /* [num_nodes / BODY_WATCH_BLOCK + 1] work: m3 of ice          */
  size_t last_liquid;       /* index in nodes of one that held liquid: looked at first     */
  double volume;            /* m3, their sum                                               */
  double share;             /* frozen, 0..1, after the last update                         */
  double rate;              /* 1/s at which the share grew over the step of that update    */
  double mark[BODY_WATCH_MARKS]; /* s from time zero; NAN until reached; first crossing    */
  double solid_at;          /* s from time zero when the last node went solid; NAN: liquid left */
} body_watch;

status body_watch_create(body_watch *b, const network *net, int part, message *msg);
void body_watch_release(body_watch *b);

/* Share of the body that is ice, by mass: _at a state by its enthalpy alone; the other within or right after a step, where the nodes of
 * the front are known (network_front_frozen). */
double body_watch_share_at(const body_watch *b, const network *net, const phase_curve *curve, const double *enthalpy);
double body_watch_share(const body_watch *b, const network *net, const phase_curve *curve, const double *enthalpy);

/* When in the step from (t0, before) to (t1, after) the last liquid of the body goes, by linear crossing per node of the enthalpy at
 * which it is frozen through (network_front_at); t0 when none was left then; NAN when liquid is left at t1. */
double body_watch_completion(body_watch *b, const network *net, const phase_curve *curve, double t0, const double *before, double t1,
                             const double *after);

/* Takes note of an accepted step: share, marks, completion. */
void body_watch_update(body_watch *b, const network *net, const phase_curve *curve, double t0, const double *before, double t1,
                       const double *after);

/* The last of the water decides the freeze time: from 98.5 % frozen on, a step takes at most a share of the time that the rest still
 * needs, down to a finest step of 60 s or 0.2 % of the time `elapsed` since the stage began, whichever is less, s. INFINITY before
 * that, when the share does not grow, and when all is solid. */
double body_watch_longest_step(const body_watch *b, double elapsed);

/* What a checkpoint needs of it, [BODY_WATCH_MEMORY]. */
void body_watch_save(const body_watch *b, double *memory);
void body_watch_load(body_watch *b, const double *memory);

#endif
