#include "io/canvas.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <cairo.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/whole_file.h"

static const char FONT[] = "DejaVu Sans";
/* Height of the capitals over the size of the font; so for DejaVu Sans, near enough for its stand-ins. */
static const double CAPITALS = 0.729;

typedef enum { KIND_PNG, KIND_PDF, KIND_SVG } canvas_kind;

typedef struct { unsigned char *bytes; size_t num, capacity; } byte_store;

struct canvas {
  char *path;
  canvas_kind kind;
  double width, height;
  byte_store store; /* what a PDF or SVG has been written to so far */
  cairo_surface_t *surface;
  cairo_t *cairo;
};

/* ------------------------------------------------------------------------------------------------ making and writing */

static cairo_status_t append(void *closure, const unsigned char *bytes, unsigned int num)
{
  byte_store *s = closure;
  if (s->num + num > s->capacity) {
    const size_t capacity = 2 * (s->num + num) + 4096;
    unsigned char *grown = realloc(s->bytes, capacity);
    if (!grown)
      return CAIRO_STATUS_NO_MEMORY;
    s->bytes = grown;
    s->capacity = capacity;
  }
  memcpy(s->bytes + s->num, bytes, num);
  s->num += num;
  return CAIRO_STATUS_SUCCESS;
}

static bool kind_of_path(const char *path, canvas_kind *kind)
{
  const char *dot = strrchr(path, '.');
  if (dot && strcmp(dot, ".png") == 0)
    *kind = KIND_PNG;
  else if (dot && strcmp(dot, ".pdf") == 0)
    *kind = KIND_PDF;
  else if (dot && strcmp(dot, ".svg") == 0)
    *kind = KIND_SVG;
  else
    return false;
  return true;
}

static status open_surface(canvas *c, message *msg)
{
  switch (c->kind) {
  case KIND_PNG: c->surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)ceil(c->width), (int)ceil(c->height)); break;
  case KIND_PDF:
    c->surface = cairo_pdf_surface_create_for_stream(append, &c->store, c->width, c->height);
    /* A fixed date: the same picture is the same file. */
    cairo_pdf_surface_set_metadata(c->surface, CAIRO_PDF_METADATA_CREATE_DATE, "2000-01-01T00:00:00Z");
    break;
  case KIND_SVG: c->surface = cairo_svg_surface_create_for_stream(append, &c->store, c->width, c->height); break;
  }
  c->cairo = cairo_create(c->surface);
  const cairo_status_t fault = cairo_status(c->cairo);
  if (fault != CAIRO_STATUS_SUCCESS)
    return message_set(msg, fault == CAIRO_STATUS_NO_MEMORY ? STATUS_NO_MEMORY : STATUS_FAILED,
                       "%s: a canvas of %g x %g pixels cannot be made: %s", c->path, c->width, c->height,
                       cairo_status_to_string(fault));
  return STATUS_OK;
}

/* Without any font the library reports success and either draws no text (then it has no extent) or falls back to strokes of its own
 * for plain ASCII, a "user font", which lack the degree sign, minus and superscripts. Neither will do. */
static status prove_font(canvas *c, message *msg)
{
  const canvas_style style = {.size = 24.0};
  const double width = canvas_text_width(c, style, "0 mm");
  if (width > 0.0 && cairo_scaled_font_get_type(cairo_get_scaled_font(c->cairo)) != CAIRO_FONT_TYPE_USER)
    return STATUS_OK;
  return message_set(msg, STATUS_FAILED, "%s: no font found, the picture would lack its words; install one (Debian: fonts-dejavu-core)",
                     c->path);
}

status canvas_create(canvas **out, const char *path, double width, double height, message *msg)
{
  canvas_kind kind;
  if (!kind_of_path(path, &kind))
    return message_set(msg, STATUS_BAD_INPUT, "%s: a picture's name must end in .png, .pdf or .svg", path);
  canvas *c = calloc(1, sizeof *c);
  char *copy = malloc(strlen(path) + 1);
  if (!c || !copy) {
    free(c);
    free(copy);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a canvas", sizeof *c + strlen(path));
  }
  strcpy(copy, path);
  *c = (canvas){.path = copy, .kind = kind, .width = width, .height = height};
  status code = open_surface(c, msg);
  if (code == STATUS_OK)
    code = prove_font(c, msg);
  if (code == STATUS_OK) {
    canvas_box(c, 0.0, 0.0, width, height, (colour){1.0, 1.0, 1.0, 1.0});
    *out = c;
  } else {
    canvas_destroy(&c);
  }
  return code;
}

void canvas_destroy(canvas **c)
{
  if (!*c)
    return;
  cairo_destroy((*c)->cairo);
  cairo_surface_destroy((*c)->surface); /* may still write into the store */
  free((*c)->store.bytes);
  free((*c)->path);
  free(*c);
  *c = NULL;
}

static cairo_status_t close_surface(canvas *c)
{
  const cairo_status_t drawn = cairo_status(c->cairo);
  if (drawn != CAIRO_STATUS_SUCCESS)
    return drawn;
  if (c->kind == KIND_PNG)
    return cairo_surface_write_to_png_stream(c->surface, append, &c->store);
  cairo_surface_finish(c->surface);
  return cairo_surface_status(c->surface);
}

status canvas_finish(canvas **c, message *msg)
{
  const cairo_status_t fault = close_surface(*c);
  status code = STATUS_OK;
  if (fault == CAIRO_STATUS_NO_MEMORY)
    code = message_set(msg, STATUS_NO_MEMORY, "%s: out of memory while drawing", (*c)->path);
  else if (fault != CAIRO_STATUS_SUCCESS)
    code = message_set(msg, STATUS_FAILED, "%s: drawing failed: %s", (*c)->path, cairo_status_to_string(fault));
  else
    code = whole_file_write((*c)->path, (*c)->store.bytes, (*c)->store.num, msg);
  canvas_destroy(c);
  return code;
}

double canvas_width(const canvas *c) { return c->width; }
double canvas_height(const canvas *c) { return c->height; }

/* ------------------------------------------------------------------------------------------------ lines and areas */

static void use_ink(canvas *c, colour k)
{
  cairo_set_source_rgba(c->cairo, k.red, k.green, k.blue, k.alpha);
}

static void stroke(canvas *c, canvas_pen pen)
{
  use_ink(c, pen.ink);
  cairo_set_line_width(c->cairo, pen.width);
  cairo_set_line_join(c->cairo, CAIRO_LINE_JOIN_ROUND);
  cairo_set_line_cap(c->cairo, pen.dash[0] > 0.0 ? CAIRO_LINE_CAP_BUTT : CAIRO_LINE_CAP_ROUND);
  cairo_set_dash(c->cairo, pen.dash, pen.dash[0] > 0.0 ? 2 : 0, 0.0);
  cairo_stroke(c->cairo);
}

static void trace(canvas *c, const double (*points)[2], size_t num)
{
  cairo_new_path(c->cairo);
  for (size_t i = 0; i < num; i++)
    cairo_line_to(c->cairo, points[i][0], points[i][1]);
}

void canvas_line(canvas *c, double x0, double y0, double x1, double y1, canvas_pen pen)
{
  const double points[2][2] = {{x0, y0}, {x1, y1}};
  canvas_polyline(c, points, 2, false, pen);
}

void canvas_polyline(canvas *c, const double (*points)[2], size_t num, bool closed, canvas_pen pen)
{
  trace(c, points, num);
  if (closed)
    cairo_close_path(c->cairo);
  stroke(c, pen);
}

void canvas_polygon(canvas *c, const double (*points)[2], size_t num, colour fill)
{
  trace(c, points, num);
  cairo_close_path(c->cairo);
  use_ink(c, fill);
  cairo_fill(c->cairo);
}

void canvas_box(canvas *c, double x, double y, double width, double height, colour fill)
{
  cairo_rectangle(c->cairo, x, y, width, height);
  use_ink(c, fill);
  cairo_fill(c->cairo);
}

void canvas_frame(canvas *c, double x, double y, double width, double height, canvas_pen pen)
{
  cairo_rectangle(c->cairo, x, y, width, height);
  stroke(c, pen);
}

static void circle(canvas *c, double x, double y, double radius)
{
  cairo_new_path(c->cairo);
  cairo_arc(c->cairo, x, y, radius, 0.0, 2.0 * acos(-1.0));
}

void canvas_disc(canvas *c, double x, double y, double radius, colour fill)
{
  circle(c, x, y, radius);
  use_ink(c, fill);
  cairo_fill(c->cairo);
}

void canvas_ring(canvas *c, double x, double y, double radius, canvas_pen pen)
{
  circle(c, x, y, radius);
  stroke(c, pen);
}

uint32_t canvas_pixel(colour k)
{
  const uint32_t alpha = (uint32_t)(k.alpha * 255.0 + 0.5), red = (uint32_t)(k.red * k.alpha * 255.0 + 0.5),
                 green = (uint32_t)(k.green * k.alpha * 255.0 + 0.5), blue = (uint32_t)(k.blue * k.alpha * 255.0 + 0.5);
  return alpha << 24 | red << 16 | green << 8 | blue;
}

void canvas_image(canvas *c, const uint32_t *pixels, int width, int height, double x, double y, double box_width,
                  double box_height)
{
  cairo_surface_t *image = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, width, height);
  if (cairo_surface_status(image) == CAIRO_STATUS_SUCCESS) {
    cairo_surface_flush(image);
    unsigned char *rows = cairo_image_surface_get_data(image);
    const int stride = cairo_image_surface_get_stride(image);
    for (int row = 0; row < height; row++)
      memcpy(rows + (size_t)row * (size_t)stride, pixels + (size_t)row * (size_t)width, (size_t)width * sizeof *pixels);
    cairo_surface_mark_dirty(image);
  }
  cairo_save(c->cairo);
  cairo_rectangle(c->cairo, x, y, box_width, box_height);
  cairo_clip(c->cairo);
  cairo_translate(c->cairo, x, y);
  cairo_scale(c->cairo, box_width / width, box_height / height);
  cairo_set_source_surface(c->cairo, image, 0.0, 0.0); /* a faulty image puts the canvas into its error state */
  cairo_pattern_set_filter(cairo_get_source(c->cairo), width > box_width ? CAIRO_FILTER_GOOD : CAIRO_FILTER_NEAREST);
  cairo_paint(c->cairo);
  cairo_restore(c->cairo);
  cairo_surface_destroy(image);
}

void canvas_clip(canvas *c, double x, double y, double width, double height)
{
  cairo_save(c->cairo);
  cairo_rectangle(c->cairo, x, y, width, height);
  cairo_clip(c->cairo);
}

void canvas_unclip(canvas *c) { cairo_restore(c->cairo); }

/* ------------------------------------------------------------------------------------------------ text */

/* The library refuses the whole picture for one bad byte; a name cut short in mid-character must not do that. */
static size_t character_length(const char *text)
{
  const unsigned char lead = (unsigned char)text[0];
  const size_t length = lead < 0x80 ? 1 : lead >= 0xC2 && lead < 0xE0 ? 2 : lead >= 0xE0 && lead < 0xF0 ? 3 : lead >= 0xF0 && lead < 0xF5 ? 4 : 0;
  for (size_t i = 1; i < length; i++)
    if (((unsigned char)text[i] & 0xC0) != 0x80)
      return 0;
  return length;
}

enum { LONGEST_TEXT = 512 };
static void clean_text(const char *text, char out[LONGEST_TEXT])
{
  size_t to = 0;
  for (size_t from = 0; text[from];) {
    const size_t length = character_length(text + from);
    if (to + length + 1 >= LONGEST_TEXT)
      break;
    if (length == 0 || (unsigned char)text[from] < 0x20) {
      out[to++] = '?';
      from++;
      continue;
    }
    memcpy(out + to, text + from, length);
    to += length;
    from += length;
  }
  out[to] = '\0';
}

static void use_font(canvas *c, canvas_style style)
{
  cairo_select_font_face(c->cairo, FONT, CAIRO_FONT_SLANT_NORMAL, style.bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
  cairo_set_font_size(c->cairo, style.size);
}

double canvas_text_width(canvas *c, canvas_style style, const char *text)
{
  char clean[LONGEST_TEXT];
  clean_text(text, clean);
  cairo_text_extents_t extents = {0};
  use_font(c, style);
  cairo_text_extents(c->cairo, clean, &extents);
  return extents.width > 0.0 ? extents.x_advance : 0.0;
}

void canvas_text(canvas *c, double x, double y, canvas_style style, const char *text)
{
  char clean[LONGEST_TEXT];
  clean_text(text, clean);
  const double width = canvas_text_width(c, style, clean);
  const double shift = style.align == CANVAS_LEFT ? 0.0 : style.align == CANVAS_CENTRE ? -0.5 * width : -width;
  cairo_save(c->cairo);
  cairo_translate(c->cairo, x, y);
  cairo_rotate(c->cairo, -style.turn * acos(-1.0) / 180.0);
  cairo_move_to(c->cairo, shift, 0.5 * CAPITALS * style.size);
  if (style.halo.alpha > 0.0) {
    cairo_text_path(c->cairo, clean);
    stroke(c, (canvas_pen){.ink = style.halo, .width = 0.28 * style.size});
    cairo_move_to(c->cairo, shift, 0.5 * CAPITALS * style.size);
  }
  use_ink(c, style.ink);
  cairo_show_text(c->cairo, clean);
  cairo_restore(c->cairo);
}

void canvas_fit_text(canvas *c, canvas_style style, const char *text, double width, char *out, size_t size)
{
  (void)snprintf(out, size, "%s", text);
  size_t keep = strlen(out);
  while (keep > 0 && canvas_text_width(c, style, out) > width) {
    do
      keep--;
    while (keep > 0 && ((unsigned char)text[keep] & 0xC0) == 0x80); /* never inside a character */
    (void)snprintf(out, size, "%.*s\xE2\x80\xA6", (int)keep, text);
  }
}

void canvas_release_caches(void) { cairo_debug_reset_static_data(); }
