/* Axes: round tick values, a frame with numbers and titles, a colour bar. */
#ifndef LASTWATER_AXES_H
#define LASTWATER_AXES_H

#include "io/canvas.h"

/* Round values inside [low, high], a step of 1, 2 or 5 times a power of ten apart. value(i) = (first + i) * step, exact zero
 * included; `decimals` are enough to write them. */
typedef struct { double first, step; size_t num; int decimals; } axes_ticks;
/* At most `most` (>= 2) of them; none when the range is empty or not finite. */
axes_ticks axes_ticks_between(double low, double high, size_t most);
double axes_tick(const axes_ticks *t, size_t i);
/* The number with a true minus sign, never "-0". */
void axes_number(double value, int decimals, char *text, size_t size);

/* A plotting area: a box of pixels and the values at its left, right, bottom and top edges. */
typedef struct { double x, y, width, height; double left, right, bottom, top; } axes_frame;
double axes_x(const axes_frame *f, double value); /* pixel */
double axes_y(const axes_frame *f, double value);

typedef struct {
  const char *across, *up; /* titles with units, may be NULL (then no numbers on that side either) */
  size_t most_across, most_up;
  double scale;            /* written = value * scale, e.g. 1000 for m in mm; 0: 1                  */
  bool grid;               /* pale lines at the ticks                                             */
  bool unsigned_across;    /* write |value| (a radius to both sides)                              */
  double text;             /* size of the numbers, pixels; titles the same                         */
} axes_look;
/* Grid lines (draw first, under the data), then frame, numbers and titles (over it). */
void axes_draw_grid(canvas *c, const axes_frame *f, const axes_look *look);
void axes_draw(canvas *c, const axes_frame *f, const axes_look *look);

/* An upright colour bar; share 0 at the bottom. value(share) is linear from low to high on the given stretch of the map. */
typedef struct {
  double x, y, width, height;
  double low, high;          /* values at bottom and top            */
  double map_low, map_high;  /* places on the map at bottom and top */
  const char *title;         /* above it, with unit                 */
  double text;
} axes_bar;
void axes_draw_bar(canvas *c, const axes_bar *b, const colour_map *map);

#endif
