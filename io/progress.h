/* What a run shows on stderr while it works: on a terminal one steady line with a bar, otherwise a line every few seconds.
 *
 *   [=====       ]  48.2 %  at 7 h 30 min, coolant -18.2 C, about 12 s left
 *
 * The clock is the simulated one; the time left is the watcher's, guessed from the pace of late (the last ice grows slowest).
 * Colour only on a terminal that has it, and not when NO_COLOR is set. The caller says what time it is, in seconds of any clock that
 * never goes back. */
#ifndef LASTWATER_PROGRESS_H
#define LASTWATER_PROGRESS_H

#include <stdbool.h>
#include <stdio.h>

typedef struct {
  FILE *to;            /* borrowed; NULL: quiet */
  bool terminal, colour, line_open;
  int width;           /* columns               */
  double started_wall, shown_wall;
  double anchor_wall[2], anchor_share[2]; /* an earlier and a later moment from which the pace is taken */
} progress;

typedef struct {
  const char *stage;
  double frozen_share; /* 0..1                       */
  double time;         /* s simulated, from time zero */
  double coolant;      /* degC; NAN: there is none    */
} progress_state;

void progress_begin(progress *p, FILE *to, bool quiet, double wall);
void progress_show(progress *p, const progress_state *state, double wall);
/* Ends the line, so that what follows starts on its own. */
void progress_end(progress *p);

#endif
