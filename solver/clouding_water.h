/* The liquid of every pocket of a body with what is dissolved in it: parting, exchange, the open surface, and the end. Used by clouding.h. */
#ifndef LASTWATER_CLOUDING_WATER_H
#define LASTWATER_CLOUDING_WATER_H

#include "solver/clouding.h"

typedef struct {
  double own;        /* kg of liquid in nodes of this pocket itself                        */
  double liquid;     /* kg, with all that has not parted from it yet                       */
  double air, salt;  /* m3 STP, kg                                                         */
  double bubble;     /* m3 STP of free gas under its ice                                   */
  double bare, surface; /* m2 of open surface: of its own nodes, with all that has not parted yet */
  double front;      /* m2 */
  double freezing;   /* kg in the slice */
  int32_t live;      /* the pocket it is still part of */
  int32_t first;     /* of its nodes in the slice, -1  */
  bool parted, vanished;
} clouding_water;

typedef struct {
  const clouding_history *history;
  clouding_water *of;      /* [history->num_pockets], owned                 */
  double air, salt;        /* per kg of water as poured: m3 STP, kg         */
  clouding_books *air_books, *salt_books; /* borrowed                       */
} clouding_waters;

/* As poured. */
status clouding_water_create(clouding_waters *out, const clouding_request *q, clouding_books *air, clouding_books *salt, message *msg);
void clouding_water_release(clouding_waters *all);

/* Finds what hangs together at `time`. Those that part then take their share of the air and minerals of the water they leave. */
void clouding_water_part(clouding_waters *all, double time);
/* A share of what is liquid makes way for water as it was poured. */
void clouding_water_exchange(clouding_waters *all, double share);
/* Air blown in keeps its way out open in a vessel without a lid (the tube stays in the core until the last). */
bool clouding_water_is_open(const clouding_waters *all, int32_t k, double time, bool aerated);
/* Air passes through the open surface for some seconds. */
void clouding_water_breathe(clouding_waters *all, clouding_water *w, const front_film_setting *film, double seconds);
/* What is left, with whatever bubble lay under the ice, stays with the last water. */
void clouding_water_vanish(clouding_waters *all, clouding_water *w);
/* At the end: what is liquid keeps its own. `least`: kg from which it counts. */
void clouding_water_settle(clouding_waters *all, double least);

#endif
