/* A column of water that freezes from one end, its history made up or marched as a plane front, and the pass for clear ice over
 * it. */
#ifndef LASTWATER_TESTS_CLOUDING_COLUMN_H
#define LASTWATER_TESTS_CLOUDING_COLUMN_H

#include "clouding_plane.h"
#include "solver/clouding.h"

#define CLOUDING_COLUMN_AIR 29.14e-6 /* m3 STP per kg: in balance at 0 degC */
#define CLOUDING_COLUMN_ICE 916.7    /* kg/m3 */

typedef struct {
  grid *g;
  shape *all;
  mesh *m;
  adjacency a;
  double *time, *speed, *fraction, *extinction, *mineral, *limit;
  int32_t *pocket_of;
  clouding_plane_found marched; /* owned; empty unless marched here */
  clouding_exchange renewed;
  pocket root;
  clouding_history_request of;
  clouding_history history;
  clouding_request ask;
  clouding_found found;
} clouding_column;

/* Even slices along z, or along x with an upright front; the last freezes first. No history yet, bubbles without their own
 * pressure and none that leaves the front. */
void clouding_column_create(clouding_column *s, size_t num, double depth, bool upright);
void clouding_column_destroy(clouding_column *s);
/* The pass over it; its books close. */
void clouding_column_run(clouding_column *s);
/* A front of constant speed. */
void clouding_column_freeze(clouding_column *s, double speed);
/* Frozen share at the top of the first slice whose extinction exceeds a level; 1: none. */
double clouding_column_first_above(const clouding_column *s, double level);

/* The history of a plane front marched apart (clouding_plane.h), `num` nodes of it: from the top down, or sideways from an
 * upright wall. With the film, air and minerals of the case; an exchange at `renewed`. Films that are not given are those of
 * still water that holds `minerals_of_film`, kg/m3. Takes `found` (borrowed while it lives) from clouding_plane_follow with the
 * same num. */
void clouding_column_set(clouding_column *s, const clouding_plane *c, const clouding_plane_found *found, size_t num,
                         bool upright);
/* The same, and the march in it: for tests that look at nothing else of the march. */
void clouding_column_march(clouding_column *s, const clouding_plane *c, size_t num, bool upright);
#define CLOUDING_COLUMN_FILM 0.162 /* kg/m3 of minerals that make a film of 1.1 mm at 0 degC, with the 3 mm of still water */

#endif
