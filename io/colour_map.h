/* Colour ramps for maps of a value: even steps of colour for even steps of value, and readable by people who do not tell
 * red from green.
 *
 * Each ramp is our own path through CIELAB (ISO/CIE 11664-4, D65): a few stations of lightness, chroma and hue joined by straight
 * lines and divided by equal colour difference (CIE 1976, the distance in L*, a*, b*). Lightness only falls along a ramp (on either
 * side of the middle for the two-sided one), so it survives grey printing and every kind of colour blindness. */
#ifndef LASTWATER_COLOUR_MAP_H
#define LASTWATER_COLOUR_MAP_H

#include <stdbool.h>

typedef struct { double red, green, blue, alpha; } colour; /* sRGB, 0..1; alpha 1: opaque */

typedef enum {
  COLOUR_MAP_TIME,        /* early pale, late dark                                               */
  COLOUR_MAP_LIQUID,      /* 0 (ice) nearly white, 1 (liquid) deep blue                          */
  COLOUR_MAP_TEMPERATURE  /* two-sided: dark blue, pale at 0.5, dark orange: give 0.5 to 0 degC    */
} colour_map_kind;

enum { COLOUR_MAP_SIZE = 256 };
typedef struct { colour entry[COLOUR_MAP_SIZE]; } colour_map; /* entry[i] belongs to x = i / (COLOUR_MAP_SIZE - 1) */

void colour_map_fill(colour_map *map, colour_map_kind kind);
/* The colour at x, 0..1, by the nearest entry; outside the ends are continued; not a number: transparent. */
colour colour_map_at(const colour_map *map, double x);

/* CIELAB of an sRGB colour (IEC 61966-2-1, white D65) and back; back returns false when the colour lies outside sRGB (then cut). */
void colour_map_to_lab(colour c, double lab[3]);
bool colour_map_from_lab(const double lab[3], colour *c);

#endif
