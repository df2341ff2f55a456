/* One drawing surface: the same drawing code makes PNG, PDF or SVG, by the ending of the path.
 *
 * Units are pixels of the PNG (points of PDF and SVG), x to the right, y down. The picture is kept in memory; canvas_finish writes
 * it whole or not at all. Drawing calls return nothing: a fault is kept and told by canvas_finish. */
#ifndef LASTWATER_CANVAS_H
#define LASTWATER_CANVAS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "io/colour_map.h"
#include "io/status.h"

typedef struct canvas canvas;

/* A white canvas that will become `path` (.png, .pdf or .svg). STATUS_BAD_INPUT: another ending; STATUS_FAILED: no font can be
 * found (pictures would come out without any text). */
status canvas_create(canvas **out, const char *path, double width, double height, message *msg);
/* Writes the file (a temporary name, then renamed) and destroys the canvas, also on failure. STATUS_FILE: an earlier file of that
 * name is untouched. */
status canvas_finish(canvas **c, message *msg);
void canvas_destroy(canvas **c); /* NULL-safe; writes nothing */
double canvas_width(const canvas *c);
double canvas_height(const canvas *c);

typedef struct {
  colour ink;
  double width;       /* pixels          */
  double dash[2];     /* on, off; 0: solid */
} canvas_pen;

void canvas_line(canvas *c, double x0, double y0, double x1, double y1, canvas_pen pen);
void canvas_polyline(canvas *c, const double (*points)[2], size_t num, bool closed, canvas_pen pen);
void canvas_polygon(canvas *c, const double (*points)[2], size_t num, colour fill);
void canvas_box(canvas *c, double x, double y, double width, double height, colour fill);
void canvas_frame(canvas *c, double x, double y, double width, double height, canvas_pen pen);
void canvas_disc(canvas *c, double x, double y, double radius, colour fill);
void canvas_ring(canvas *c, double x, double y, double radius, canvas_pen pen);

/* pixels[height * width], 0xAARRGGBB with colours premultiplied by alpha, row 0 on top; scaled to the box, smoothed when it
 * shrinks. */
void canvas_image(canvas *c, const uint32_t *pixels, int width, int height, double x, double y, double box_width,
                  double box_height);
uint32_t canvas_pixel(colour k);

typedef enum { CANVAS_LEFT, CANVAS_CENTRE, CANVAS_RIGHT } canvas_align;
typedef struct {
  double size;        /* pixels                            */
  bool bold;
  colour ink;
  canvas_align align; /* where x lies on the text          */
  double turn;        /* degrees, anticlockwise, about x, y */
  colour halo;        /* alpha 0: none                      */
} canvas_style;
/* Text in UTF-8 with its middle height (of the capitals) at y. */
void canvas_text(canvas *c, double x, double y, canvas_style style, const char *text);
double canvas_text_width(canvas *c, canvas_style style, const char *text);
/* Copies text into out, cut with an ellipsis where it would be wider than `width`. */
void canvas_fit_text(canvas *c, canvas_style style, const char *text, double width, char *out, size_t size);

/* Everything until canvas_unclip is drawn inside the box only. */
void canvas_clip(canvas *c, double x, double y, double width, double height);
void canvas_unclip(canvas *c);

/* Lets go of what the drawing library keeps for the whole process; no canvas may be alive. For leak checks at the end of a program. */
void canvas_release_caches(void);

#endif
