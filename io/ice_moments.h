/* Moments of a freeze that are worth a picture, from the map of freeze times alone: so they are the same again from stored results. */
#ifndef LASTWATER_ICE_MOMENTS_H
#define LASTWATER_ICE_MOMENTS_H

#include "geometry/mesh.h"
#include "io/plain_words.h"
#include "solver/results.h"

enum { ICE_MOMENTS_MOST = 6 };

typedef struct {
  double at;                   /* s from time zero                                          */
  double share;                /* of the water's volume that was ice then                    */
  char words[3 * PLAIN_WORDS]; /* "90 % frozen, after 3 h 20 min"                            */
} ice_moment;

typedef struct { const rig *rig; const mesh *mesh; const results *results; } ice_moments_of;

double ice_moments_start(const rig *r, const results *res); /* s from time zero: when the (first) freeze began */
double ice_moments_end(const results *res);                 /* s from time zero: when the run ended              */

/* Share of the water that was ice at a time, and the time of a share (INFINITY: never within the run); of one body, or of all with
 * ICE_MOMENTS_ALL. */
#define ICE_MOMENTS_ALL (-1)
double ice_moments_share(const ice_moments_of *of, int body, double at);
double ice_moments_time(const ice_moments_of *of, int body, double share);

/* The moment from which on the water of a pocket is by itself: it has parted, its own pockets have, and if it is trapped it is closed in.
 * NAN: it never parted and was never closed in. */
double ice_moments_alone(const body_result *b, size_t pocket);

/* Half, nine tenths, and the last pocket alone, in order of time (99 % where there is one body of water to the end); what the run did
 * not reach gives way to its end. Returns their number. */
size_t ice_moments_usual(const ice_moments_of *of, ice_moment out[ICE_MOMENTS_MOST]);
/* What is asked for: times from the start of freezing ("3 h") or shares of ice ("80 %"). STATUS_BAD_INPUT names the one that is neither, or
 * beyond the run; too many are refused. */
status ice_moments_read(const ice_moments_of *of, const char *const *texts, size_t num, ice_moment out[ICE_MOMENTS_MOST], message *msg);

#endif
