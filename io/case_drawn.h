/* The walls of a mould that is drawn with them. */
#ifndef LASTWATER_CASE_DRAWN_H
#define LASTWATER_CASE_DRAWN_H

#include "geometry/triangle_hollow.h"

/* m: how thick they are, square to the hollow's faces below its rim (median by area), when nine tenths of them differ from that by no more than
 * a tenth; else 0. */
double case_drawn_wall(const shape *solid, const triangle_hollow *hollow, double guess);

#endif
