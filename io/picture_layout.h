/* How a picture of the rig is laid out: title, one panel for a figure of revolution or three planes through a point for a rig in
 * (x, y, z), and a side column for bars, legends and words (beside one panel, below three). */
#ifndef LASTWATER_PICTURE_LAYOUT_H
#define LASTWATER_PICTURE_LAYOUT_H

#include "io/picture_panel.h"

enum { PICTURE_LAYOUT_PANELS = 3 };

/* Sizes of text in a picture 1600 pixels wide: readable at half size. */
#define PICTURE_LAYOUT_WIDTH 1600.0
#define PICTURE_LAYOUT_TITLE 34.0
#define PICTURE_LAYOUT_TEXT 25.0
#define PICTURE_LAYOUT_SMALL 22.0

typedef struct {
  canvas *canvas;
  size_t num_panels;
  section_view *view[PICTURE_LAYOUT_PANELS];
  picture_panel panel[PICTURE_LAYOUT_PANELS];
  double side_x, side_y, side_width; /* side_y moves down as the column fills */
} picture_layout;

typedef struct {
  const char *path, *title, *subtitle;
  const double *at;       /* point the planes pass through; NULL: the middle of the water (or of everything) */
  bool half_way;          /* the level plane passes half way up the water instead */
  bool water_only;        /* frame the water, not the whole rig */
  double side_height;     /* pixels that the side column will need */
} picture_layout_request;

status picture_layout_create(picture_layout *out, const rig *r, const mesh *m, const picture_layout_request *want, message *msg);
/* Without panels: titles and a column as wide as the picture, below them. */
status picture_layout_plain(picture_layout *out, const char *path, const char *title, const char *subtitle, double height, message *msg);
/* Axes, and the planes' names when there are several; then writes the picture. Frees all, also on failure. */
status picture_layout_finish(picture_layout *l, message *msg);
void picture_layout_release(picture_layout *l); /* writes nothing */

/* Words in the side column, wrapped; the column moves down. `left`: indent, pixels. Returns the middle height of the first line. */
double picture_layout_say(picture_layout *l, double left, canvas_style style, const char *text);
void picture_layout_gap(picture_layout *l, double pixels);
/* A filled square with words beside it. */
void picture_layout_swatch(picture_layout *l, colour k, const char *text);
/* A stroke of a pen with words beside it. */
void picture_layout_stroke(picture_layout *l, canvas_pen pen, const char *text);
/* Samples of the largest panel: room for a field of any. */
size_t picture_layout_samples(const picture_layout *l);

#endif
