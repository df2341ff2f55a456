/* The value of one input that meets a target, by few runs: a bracket is looked for, then narrowed by inverse quadratic interpolation inside
 * it where that can be trusted, else by halving (T. R. Chandrupatla, Adv. Eng. Software 28 (1997) 145-149). */
#ifndef LASTWATER_SEEK_TARGET_H
#define LASTWATER_SEEK_TARGET_H

#include "io/seek_runs.h"

typedef enum { SEEK_MET, SEEK_NONE, SEEK_SPENT } seek_outcome; /* met; no solution in the range; the runs ended first */

typedef struct {
  seek_outcome outcome;
  size_t run;          /* the one that meets it, or comes nearest; SIZE_MAX: nothing is known at any place */
  double slope;        /* of the figure per unit of the input there; NAN: not known */
  double low, high;    /* places between which the solution lies; NAN               */
} seek_target_answer;

status seek_target_find(seek_target_answer *out, seek_runs *s, message *msg);

/* True when all known figures and the target are above zero: the search then goes by the logarithm of their ratio, in which times, masses and
 * works are nearer to straight lines. */
bool seek_target_is_ratio(const double *f, size_t n, double target);

/* The next place to look at, given places x[n] rising with figures f[n] (NAN: not known) minus the target. False: there is nothing more to try. */
bool seek_target_next(const double *x, const double *f, size_t n, double *next);

#endif
