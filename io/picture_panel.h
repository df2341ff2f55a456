/* One section of the rig in a frame on a canvas: parts, fields, lines, coil rings, points, axes in mm. */
#ifndef LASTWATER_PICTURE_PANEL_H
#define LASTWATER_PICTURE_PANEL_H

#include "io/axes.h"
#include "io/canvas.h"
#include "io/contour.h"
#include "io/section_view.h"

typedef struct {
  canvas *canvas;            /* borrowed */
  const section_view *view;  /* borrowed */
  axes_frame frame;
} picture_panel;

/* Samples per pixel and side: the pictures are drawn finer than shown and smoothed. */
enum { PICTURE_PANEL_SAMPLES = 2 };

/* Puts the view at its true proportions into the top left of a box. */
picture_panel picture_panel_place(canvas *c, const section_view *v, double x, double y, double width, double height);
/* Pixel of a point of the rig; mirrored: of its image across the mirror. False: outside. */
bool picture_panel_point(const picture_panel *p, const double point[3], bool mirrored, double *x, double *y);

/* The calm colour a part is filled with: water, brine, metal, plastic, insulation, held; MESH_VOID: room. */
colour picture_panel_part_colour(const rig *r, int part);
/* The same in a word: "water", "brine", "metal", "plastic", "insulation", "held". */
const char *picture_panel_part_look(const rig *r, int part);
/* All parts filled and outlined. */
status picture_panel_draw_parts(picture_panel *p, const rig *r, message *msg);
/* field[samples] by the map, where it is finite; elsewhere the parts, paler. place = map_low + share * (map_high - map_low). */
typedef struct {
  const float *field;
  const colour_map *map;
  double low, high;          /* values that belong to ... */
  double map_low, map_high;  /* ... these places on the map */
  colour blank;              /* for water without a value; alpha 0: its part's paler colour */
} picture_panel_shades;
status picture_panel_draw_field(picture_panel *p, const rig *r, const picture_panel_shades *s, message *msg);

/* Lines of equal value of a field, with labels that keep clear of each other and of `taken` boxes (pixels). */
typedef struct {
  const float *field;
  double first, step;      /* levels (first + i) * step */
  size_t num;
  int decimals;
  const char *unit;        /* after the number          */
  canvas_pen pen;
  double text;
} picture_panel_levels;
status picture_panel_draw_levels(picture_panel *p, const picture_panel_levels *l, const contour_box *taken, size_t num_taken,
                                 message *msg);
/* The line where the field passes 0.5. */
status picture_panel_draw_edge(picture_panel *p, const float *field, canvas_pen pen, message *msg);

void picture_panel_draw_coils(picture_panel *p, const rig *r);
void picture_panel_draw_axes(picture_panel *p);

#endif
