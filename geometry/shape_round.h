/* Round solids that are no cylinder and no ball: the spheroid, and the cap cut from a ball by a plane. */
#ifndef LASTWATER_SHAPE_ROUND_H
#define LASTWATER_SHAPE_ROUND_H

#include "geometry/shape.h"

/* Turned about the z axis, z from z_low to z_high, widest (radius) half way. Lengths in m; the distance is exact. */
status shape_round_spheroid(shape **out, double radius, double z_low, double z_high, message *msg);

/* The part of a ball above a plane: a flat base of base_radius at z_low, its top at z_high. Higher than base_radius it is more than half a
 * ball and bulges out beyond its base. The distance is exact. */
status shape_round_cap(shape **out, double base_radius, double z_low, double z_high, message *msg);

#endif
