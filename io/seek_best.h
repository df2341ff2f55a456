/* The inputs that make one goal best while limits hold: a few evenly spread runs first, then M. J. D. Powell's linear approximations (COBYLA,
 * "A direct search optimization method that models the objective and constraint functions by linear interpolation", 1994) by NLopt from the
 * best of them, then one run to either side of the best for every input, which tells how flat it is. */
#ifndef LASTWATER_SEEK_BEST_H
#define LASTWATER_SEEK_BEST_H

#include "io/seek_runs.h"

typedef struct {
  double low_change, high_change; /* of the goal when the input moves a tenth of its range down, up; NAN: not known, or the range ends */
  bool low_breaks, high_breaks;   /* a limit is broken there */
} seek_best_side;

typedef struct {
  bool found;            /* some run keeps all limits */
  size_t run;            /* the best of those; or, when none does, the one that breaks them least; SIZE_MAX: nothing is known */
  double broken;         /* how far beyond its limits, as a share of them; 0 when found */
  bool at_edge[PLAN_MOST_INPUTS]; /* the best lies at an end of this input's range */
  bool settled;          /* false: a run aside turned out better, or the runs ended first: more runs may find better still, `side` is not known */
  seek_best_side side[PLAN_MOST_INPUTS];
} seek_best_answer;

status seek_best_find(seek_best_answer *out, seek_runs *s, message *msg);

/* Change of one tenth of a range that flatness is told by. */
#define SEEK_BEST_STEP 0.1

#endif
