/* A figure of the summary as a person reads it: hours instead of seconds, litres and kilograms with their signs. */
#ifndef LASTWATER_FIGURE_WORDS_H
#define LASTWATER_FIGURE_WORDS_H

#include "io/plain_words.h"

/* value of the figure at `path` (freeze.time_s -> "31 h 40 min"); "not known" of NAN. */
void figure_words_of(const char *path, double value, char text[PLAIN_WORDS]);

/* How a figure is drawn along an axis: drawn = value * scale, with that unit written ("h", "kWh", "%", degree C). */
typedef struct { double scale; const char *unit; } figure_words_scale;
figure_words_scale figure_words_axis(const char *unit, double largest);

#endif
