/* A column of water that freezes from the top down, its history made up or marched as a plane front, and the pass for clear ice over it. */
#ifndef LASTWATER_TESTS_CLOUDING_COLUMN_H
#define LASTWATER_TESTS_CLOUDING_COLUMN_H

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
  double *bulk;            /* degC of the water, every 60 s: [2 * num_bulk], times first */
  size_t num_bulk;
  double hours;            /* until all is frozen */
  pocket root;
  clouding_history_request of;
  clouding_history history;
  clouding_request ask;
  clouding_found found;
} clouding_column;

/* Even slices, no history yet, bubbles without their own pressure and none that leaves the front. */
void clouding_column_create(clouding_column *s, size_t num, double depth);
void clouding_column_destroy(clouding_column *s);
/* The pass over it; its books close. */
void clouding_column_run(clouding_column *s);
/* A front of constant speed. */
void clouding_column_freeze(clouding_column *s, double speed);
/* Frozen share at the top of the first slice whose extinction exceeds a level; 1: none. */
double clouding_column_first_above(const clouding_column *s, double level);

/* A plane front behind a film h (W/(m2 K)), `cold` K below 0 degC. */
typedef struct {
  double depth;           /* m of water                                              */
  double cold, h;
  double warm;            /* degC of the water at first                              */
  double h_water;         /* W/(m2 K) from the water to the front; NAN: that of still water, Churchill & Chu 1975 */
  double air;             /* over that in balance at 0 degC                          */
  double film;            /* m; NAN: still, from 0.3 mm in warm water to 1.1 mm at 0 degC */
  double minerals;        /* kg/m3                                                   */
  bool aerated;
} clouding_column_front;
void clouding_column_set(clouding_column *s, const clouding_column_front *c, size_t num);

#endif
