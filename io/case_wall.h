/* Walls in a vessel's own frame: grown outward from its hollow, or inward from its outside. */
#ifndef LASTWATER_CASE_WALL_H
#define LASTWATER_CASE_WALL_H

#include "geometry/mesh.h"

/* How far a surface lies from the hollow, m: beside and above it, and below its floor. They are the same unless the floor has a thickness of
 * its own, which shapes with a flat floor may have (case_wall_has_floor); corners are then sharp. */
typedef struct {
  double side, floor;
  bool sharp; /* corners as a joiner makes them, else rounded like bent sheet */
} case_wall_depth;

typedef struct {
  const char *kind;     /* the shape as written: a thick wall round some kinds has corners as a joiner makes them */
  const shape *hollow;  /* borrowed                                                                  */
  bool open_top;        /* cut off at the rim                                                        */
  double rim;           /* m, z                                                                      */
} case_wall;

bool case_wall_has_floor(const char *kind);

/* The floor of a thin wall round the hollow `cavity` (in the frame of `kind`; down is -z there); thickness 0 when it is as the sides. */
mesh_floor case_wall_floor(const char *kind, const shape *cavity, double wall, double floor);

/* Hollow and wall together out to `to` (may be 0 and 0). */
status case_wall_outside(const case_wall *w, case_wall_depth to, shape **out, message *why);

/* What lies between two distances from the hollow. */
status case_wall_between(const case_wall *w, case_wall_depth from, case_wall_depth to, shape **out, message *why);

/* The hollow that a wall inside `solid` leaves. Open at the top it reaches the top of a cylinder, disc, frustum, box or prism; of
 * other shapes the wall ends where the hollow does. *out stays NULL when nothing is left. */
status case_wall_hollow(const shape *solid, const char *kind, case_wall_depth wall, bool open_top, shape **out, message *why);

#endif
