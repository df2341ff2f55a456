/* A tub of brine by its bags: read from the words of a command line, worked out, before anything is printed or drawn. */
#ifndef LASTWATER_BRINE_TUB_H
#define LASTWATER_BRINE_TUB_H

#include "io/options.h"
#include "materials/salt_grade.h"

enum { BRINE_TUB_ROWS = 24 };

/* kg, m3, degC, kg/m3; NAN: not known, because no amount was given. */
typedef struct {
  salt_grade grade;
  brine_liquidus liquidus;
  double strength;                 /* of anhydrous salt */
  double bags, water, total;       /* kg */
  double volume, density;          /* of the brine at BRINE_TUB_MADE_AT */
  double weak_onset, strong_onset; /* at the ends of the grade's range; NAN: the strength itself was given */
  double onset, other_onset;       /* other: by the second source; NAN when there is none */
  double warming;                  /* K that dissolving warms the tub by */
  double to;                       /* degC asked for, NAN */
  double to_strength;
  struct { double temperature, ice, liquid_strength; } row[BRINE_TUB_ROWS];
  size_t num_rows;
} brine_tub;

#define BRINE_TUB_MADE_AT 20.0 /* degC */

/* STATUS_BAD_INPUT says what is wrong, also of a tub that would be past its eutectic, with the reason. */
status brine_tub_read(brine_tub *out, const options_brine *words, message *msg);

/* "free", "stiff" or "locked" for an ice share. */
const char *brine_tub_class(double ice);

/* Ice share against temperature, with the limits of free, stiff and locked. */
status brine_tub_draw(const brine_tub *t, const char *path, message *msg);

#endif
