/* Walls in a vessel's own frame: grown outward from its hollow, or inward from its outside. */
#ifndef LASTWATER_CASE_WALL_H
#define LASTWATER_CASE_WALL_H

#include "geometry/shape.h"

typedef struct {
  const char *kind;     /* the shape as written: a thick wall round some kinds has corners as a joiner makes them */
  const shape *hollow;  /* borrowed                                                                  */
  bool open_top;        /* cut off at the rim                                                        */
  double rim;           /* m, z                                                                      */
} case_wall;

/* Hollow and wall together out to `distance` (m, may be 0); `sharp`: corners as a joiner makes them, else rounded like bent sheet. */
status case_wall_outside(const case_wall *w, double distance, bool sharp, shape **out, message *why);

/* What lies between two distances from the hollow. */
status case_wall_between(const case_wall *w, double from, bool from_sharp, double to, bool to_sharp, shape **out, message *why);

/* The hollow that a wall of `thickness` inside `solid` leaves. Open at the top it reaches the top of a cylinder, disc, frustum, box or prism; of
 * other shapes the wall ends where the hollow does. *out stays NULL when nothing is left. */
status case_wall_hollow(const shape *solid, const char *kind, double thickness, bool open_top, shape **out, message *why);

#endif
