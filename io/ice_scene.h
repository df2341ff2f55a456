/* The bodies of water of a rig in (x, y, z) as solids on a canvas: their outline as glass, ice cut open, water that is left. */
#ifndef LASTWATER_ICE_SCENE_H
#define LASTWATER_ICE_SCENE_H

#include "io/canvas.h"
#include "io/ice_field.h"
#include "io/solid_view.h"

typedef struct {
  const ice_moments_of *of;  /* borrowed */
  size_t num;                /* bodies                           */
  ice_field *field;          /* [num], owned                     */
  double low[3], high[3];    /* m, box of all of them            */
  solid_view view;           /* the direction and what it covers; samples only while something is drawn */
  solid_triangles triangles; /* workspace                        */
} ice_scene;

/* Looks from `turn` rad about z from along +y, from 25 degrees above. */
status ice_scene_create(ice_scene *out, const ice_moments_of *of, message *msg);
void ice_scene_release(ice_scene *s);
void ice_scene_look(ice_scene *s, double turn);

/* The upright plane through a point across the axis along which it lies more in the middle (if there is no such, the longer cut), with the
 * larger part kept, and the direction from which it is seen. */
solid_plane ice_scene_cut(const ice_scene *s, const double point[3], double *turn);

/* Opens and closes the picture; the size is what fits into a box of samples. */
status ice_scene_open(ice_scene *s, double most_width, double most_height, message *msg);
/* All ice at a time, s, behind the plane, with the cut face; all water whole. */
status ice_scene_draw_cut(ice_scene *s, double at, const solid_plane *plane, message *msg);
/* Water of a pocket that froze after a moment. */
status ice_scene_draw_pocket(ice_scene *s, size_t body, int32_t which, double after, colour ink, message *msg);
status ice_scene_draw_outline(ice_scene *s, double strength, message *msg);
/* Puts it into a box of a canvas, top left, `pixels` pixels to a sample, with the axes and a bar of a round length under it. */
typedef struct { double x, y, width, height, pixels; } ice_scene_place;
status ice_scene_show(ice_scene *s, canvas *c, ice_scene_place place, message *msg);
/* Pixel of a point of the rig. */
void ice_scene_pixel(const ice_scene *s, ice_scene_place place, const double point[3], double *x, double *y);

/* What things are painted with. */
typedef enum { ICE_SCENE_ICE, ICE_SCENE_CUT, ICE_SCENE_WATER, ICE_SCENE_TRAPPED, ICE_SCENE_GLASS } ice_scene_thing;
colour ice_scene_ink(ice_scene_thing thing);

#endif
