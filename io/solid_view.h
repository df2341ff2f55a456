/* Triangles seen from a direction, by a depth buffer: solids hide each other, glass is seen through. Parallel sight, so lengths across it
 * are true everywhere in the picture. Samples, row 0 on top. */
#ifndef LASTWATER_SOLID_VIEW_H
#define LASTWATER_SOLID_VIEW_H

#include <stdbool.h>
#include <stdint.h>

#include "io/colour_map.h"
#include "io/solid_surface.h"

typedef struct {
  int width, height;             /* samples                                                   */
  double right[3], up[3], to[3]; /* unit: across, upward, towards the one who looks          */
  double low[2], high[2];        /* m along right and up: what is shown                       */
  double scale;                  /* samples per m                                             */
  float *depth;                  /* [height * width] m away; INFINITY: nothing yet            */
  uint32_t *seen;                /* [height * width] colour of what is nearest, as canvas_pixel */
  uint8_t *kind;                 /* [height * width] kind of what is nearest, 0: nothing      */
  float *glass;                  /* [height * width] 0..1, how much of it lies before that    */
} solid_view;

/* The unit vectors of sight from a direction: `turn` rad about z from looking along +y (then x is to the right), `rise` rad above level. */
void solid_view_look(solid_view *v, double turn, double rise);
/* Takes a point into what is shown (solid_view_look first; low and high start at INFINITY and -INFINITY: solid_view_empty). */
void solid_view_empty(solid_view *v);
void solid_view_cover(solid_view *v, const double point[3]);
/* Samples for what is covered, as large as fits. Frees nothing on failure: solid_view_release. */
status solid_view_open(solid_view *v, double most_width, double most_height, message *msg);
void solid_view_release(solid_view *v);

void solid_view_sample(const solid_view *v, const double point[3], double *column, double *row);

/* What a triangle is painted with where the value it carries is above 0, and where not. */
typedef struct {
  bool shown;
  colour ink;
  uint8_t kind; /* > 0; a line is drawn where one kind borders on another */
  bool flat;    /* no light and shade      */
  bool cut;     /* only where it lies behind the plane                     */
} solid_paint;
typedef struct { int axis; double at, side; } solid_plane; /* kept: side * (place[axis] - at) >= 0, side 1 or -1 */
void solid_view_draw(solid_view *v, const solid_triangles *t, const solid_paint paint[2], const solid_plane *plane);
/* Glass before what is drawn by then; seen most where it is looked along. strength: 1 is usual. */
void solid_view_draw_glass(solid_view *v, const solid_triangles *t, double strength);

/* The picture: pixels[height * width], as for canvas_image; transparent where there is nothing. */
void solid_view_compose(const solid_view *v, colour glass, uint32_t *pixels);

#endif
