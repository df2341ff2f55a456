#include "io/picture_panel.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour ROOM = {0.975, 0.970, 0.955, 1.0};
static const double PANEL_TEXT = 24.0;

/* ------------------------------------------------------------------------------------------------ placing */

picture_panel picture_panel_place(canvas *c, const section_view *v, double x, double y, double width, double height)
{
  const double wide = v->high[0] - v->low[0], tall = v->high[1] - v->low[1];
  const double scale = fmin(width / wide, height / tall); /* pixels per m */
  picture_panel p = {.canvas = c, .view = v};
  p.frame = (axes_frame){x, y, wide * scale, tall * scale, v->low[0], v->high[0], v->low[1], v->high[1]};
  return p;
}

static double x_of_column(const picture_panel *p, double column)
{
  return p->frame.x + (column + 0.5) / (double)p->view->width * p->frame.width;
}

static double y_of_row(const picture_panel *p, double row)
{
  return p->frame.y + (row + 0.5) / (double)p->view->height * p->frame.height;
}

bool picture_panel_point(const picture_panel *p, const double point[3], bool mirrored, double *x, double *y)
{
  double column = 0.0, row = 0.0;
  const bool inside = section_view_sample(p->view, point, mirrored, &column, &row);
  *x = x_of_column(p, column);
  *y = y_of_row(p, row);
  return inside;
}

/* ------------------------------------------------------------------------------------------------ parts */

static colour shade(colour k, double by)
{
  return (colour){fmin(k.red * by, 1.0), fmin(k.green * by, 1.0), fmin(k.blue * by, 1.0), k.alpha};
}

typedef enum { LOOK_WATER, LOOK_BRINE, LOOK_METAL, LOOK_PLASTIC, LOOK_INSULATION, LOOK_HELD } part_look;

/* Told from what it does and how it conducts: no list of names to keep. Metals conduct above 5 W/(m K), insulation below 0.1. */
static part_look look_of(const rig_part *part)
{
  switch (part->kind) {
  case PART_WATER: return LOOK_WATER;
  case PART_BRINE: return LOOK_BRINE;
  case PART_HELD: return LOOK_HELD;
  case PART_SOLID: break;
  }
  const double k = phase_curve_conductivity_at(&part->stuff->curve, part->initial_temperature, 1);
  return k > 5.0 ? LOOK_METAL : k < 0.1 ? LOOK_INSULATION : LOOK_PLASTIC;
}

const char *picture_panel_part_look(const rig *r, int part)
{
  static const char *const names[] = {[LOOK_WATER] = "water",           [LOOK_BRINE] = "brine", [LOOK_METAL] = "metal", [LOOK_PLASTIC] = "plastic",
                                      [LOOK_INSULATION] = "insulation", [LOOK_HELD] = "held"};
  return names[look_of(&r->parts[part])];
}

colour picture_panel_part_colour(const rig *r, int part)
{
  static const colour colours[] = {[LOOK_WATER] = {0.70, 0.86, 0.96, 1.0},      [LOOK_BRINE] = {0.45, 0.72, 0.66, 1.0},
                                   [LOOK_METAL] = {0.62, 0.64, 0.67, 1.0},      [LOOK_PLASTIC] = {0.84, 0.72, 0.60, 1.0},
                                   [LOOK_INSULATION] = {0.96, 0.90, 0.66, 1.0}, [LOOK_HELD] = {0.60, 0.48, 0.68, 1.0}};
  if (part < 0)
    return ROOM;
  const part_look look = look_of(&r->parts[part]);
  int before = 0; /* like parts get darker by turns, so that neighbours differ */
  for (int i = 0; i < part; i++)
    before += look_of(&r->parts[i]) == look;
  return shade(colours[look], 1.0 - 0.07 * (before % 4));
}

static colour mixed(colour a, colour b, double share)
{
  return (colour){a.red + share * (b.red - a.red), a.green + share * (b.green - a.green), a.blue + share * (b.blue - a.blue), 1.0};
}

/* A sample within one sample of another part: outlines come out about 1.5 pixels wide. */
static bool on_outline(const section_view *v, size_t column, size_t row)
{
  const int16_t here = v->part[row * v->width + column];
  const size_t left = column ? column - 1 : 0, right = column + 1 < v->width ? column + 1 : column;
  const size_t top = row ? row - 1 : 0, bottom = row + 1 < v->height ? row + 1 : row;
  return v->part[row * v->width + left] != here || v->part[row * v->width + right] != here ||
         v->part[top * v->width + column] != here || v->part[bottom * v->width + column] != here;
}

/* Outlines are dark on pale ground and pale on dark ground. */
static colour outline_on(colour ground)
{
  const double bright = 0.2126 * ground.red + 0.7152 * ground.green + 0.0722 * ground.blue;
  return bright < 0.45 ? mixed(ground, (colour){1.0, 1.0, 1.0, 1.0}, 0.65) : mixed(ground, INK, 0.75);
}

static status paint_samples(picture_panel *p, const rig *r, const picture_panel_shades *s, message *msg)
{
  const section_view *v = p->view;
  const size_t num = v->width * v->height;
  uint32_t *pixels = malloc(num * sizeof *pixels);
  uint32_t *fills = malloc((r->num_parts + 1) * sizeof *fills); /* [part + 1] */
  if (!pixels || !fills) {
    free(pixels);
    free(fills);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture", num * sizeof *pixels);
  }
  for (int part = -1; part < (int)r->num_parts; part++) {
    colour k = picture_panel_part_colour(r, part);
    if (s && part >= 0)
      k = r->parts[part].kind == PART_WATER && s->blank.alpha > 0.0 ? s->blank : mixed(k, (colour){1.0, 1.0, 1.0, 1.0}, 0.55);
    fills[part + 1] = canvas_pixel(k);
  }
  const uint32_t ink = canvas_pixel(INK);
  for (size_t row = 0; row < v->height; row++)
    for (size_t column = 0; column < v->width; column++) {
      const size_t at = row * v->width + column;
      const bool line = on_outline(v, column, row);
      if (s && isfinite(s->field[at])) {
        const double share = ((double)s->field[at] - s->low) / (s->high - s->low);
        const colour k = colour_map_at(s->map, s->map_low + share * (s->map_high - s->map_low));
        pixels[at] = line ? canvas_pixel(outline_on(k)) : canvas_pixel(k);
      } else
        pixels[at] = line ? ink : fills[v->part[at] + 1];
    }
  canvas_image(p->canvas, pixels, (int)v->width, (int)v->height, p->frame.x, p->frame.y, p->frame.width, p->frame.height);
  free(pixels);
  free(fills);
  return STATUS_OK;
}

status picture_panel_draw_parts(picture_panel *p, const rig *r, message *msg) { return paint_samples(p, r, NULL, msg); }

status picture_panel_draw_field(picture_panel *p, const rig *r, const picture_panel_shades *s, message *msg)
{
  return paint_samples(p, r, s, msg);
}

/* ------------------------------------------------------------------------------------------------ lines */

enum { STRIDE = 3 }; /* samples between the points that lines are traced on */

typedef struct { float *values; size_t width, height; } coarse;

/* A sample with another part within a stride of it: between this and its lattice neighbours the field may jump. */
static bool beside_wall(const section_view *v, size_t column, size_t row)
{
  const int16_t here = v->part[row * v->width + column];
  for (ptrdiff_t by = -STRIDE; by <= STRIDE; by++) {
    const ptrdiff_t i = (ptrdiff_t)column + by, j = (ptrdiff_t)row + by;
    if (i >= 0 && i < (ptrdiff_t)v->width && v->part[row * v->width + (size_t)i] != here)
      return true;
    if (j >= 0 && j < (ptrdiff_t)v->height && v->part[(size_t)j * v->width + column] != here)
      return true;
  }
  return false;
}

/* Every third sample; without a value beside another part, so that no line runs along a wall. */
static status thin_out(const section_view *v, const float *field, coarse *out, message *msg)
{
  out->width = (v->width + STRIDE - 1) / STRIDE;
  out->height = (v->height + STRIDE - 1) / STRIDE;
  out->values = malloc(out->width * out->height * sizeof *out->values);
  if (!out->values)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for lines of equal value",
                       out->width * out->height * sizeof *out->values);
  for (size_t j = 0; j < out->height; j++)
    for (size_t i = 0; i < out->width; i++)
      out->values[j * out->width + i] =
          beside_wall(v, i * STRIDE, j * STRIDE) ? NAN : field[j * STRIDE * v->width + i * STRIDE];
  return STATUS_OK;
}

/* From lattice points to pixels, in place. */
static void to_pixels(const picture_panel *p, contour_set *set)
{
  for (size_t i = 0; i < set->num; i++)
    for (size_t k = 0; k < set->lines[i].num; k++) {
      double *point = set->lines[i].points[k];
      point[0] = x_of_column(p, point[0] * STRIDE);
      point[1] = y_of_row(p, point[1] * STRIDE);
    }
}

static void draw_set(canvas *c, const contour_set *set, canvas_pen pen)
{
  for (size_t i = 0; i < set->num; i++)
    canvas_polyline(c, (const double(*)[2])set->lines[i].points, set->lines[i].num, set->lines[i].closed, pen);
}

static contour_box panel_bounds(const picture_panel *p)
{
  /* Labels to the right of a mirror only; the other side shows the same lines. */
  double left = p->frame.x + 6.0;
  if (isfinite(p->view->mirror))
    left = axes_x(&p->frame, p->view->mirror) + 8.0;
  return (contour_box){{left, p->frame.y + 4.0}, {p->frame.x + p->frame.width - 4.0, p->frame.y + p->frame.height - 4.0}};
}

typedef struct { double centre[2]; char text[64]; } placed_label;

status picture_panel_draw_levels(picture_panel *p, const picture_panel_levels *l, const contour_box *taken, size_t num_taken,
                                 message *msg)
{
  coarse lattice = {0};
  contour_box *boxes = malloc((num_taken + l->num + 1) * sizeof *boxes);
  placed_label *labels = malloc((l->num + 1) * sizeof *labels);
  size_t num_labels = 0;
  status code = boxes && labels ? thin_out(p->view, l->field, &lattice, msg)
                                : message_set(msg, STATUS_NO_MEMORY, "out of memory for labels of lines");
  if (code != STATUS_OK)
    goto done;
  if (num_taken)
    memcpy(boxes, taken, num_taken * sizeof *boxes);
  const contour_box bounds = panel_bounds(p);
  const canvas_style style = {.size = l->text, .ink = INK, .align = CANVAS_CENTRE, .halo = {1.0, 1.0, 1.0, 0.85}};
  for (size_t i = 0; code == STATUS_OK && i < l->num; i++) {
    const double value = (l->first + (double)i) * l->step;
    contour_set set;
    code = contour_trace(&set, lattice.values, lattice.width, lattice.height, value, msg);
    if (code != STATUS_OK)
      break;
    to_pixels(p, &set);
    draw_set(p->canvas, &set, (canvas_pen){.ink = {1.0, 1.0, 1.0, 0.45}, .width = l->pen.width + 2.5}); /* shows on dark ground */
    draw_set(p->canvas, &set, l->pen);
    placed_label *label = &labels[num_labels];
    char number[40];
    axes_number(value, l->decimals, number, sizeof number);
    (void)snprintf(label->text, sizeof label->text, "%s %.16s", number, l->unit);
    const double size[2] = {canvas_text_width(p->canvas, style, label->text) + 10.0, l->text * 1.2};
    if (contour_place_label(&set, size, &bounds, boxes, num_taken + num_labels, label->centre)) {
      contour_box *box = &boxes[num_taken + num_labels++];
      for (int k = 0; k < 2; k++) {
        box->low[k] = label->centre[k] - 0.5 * size[k];
        box->high[k] = label->centre[k] + 0.5 * size[k];
      }
    }
    contour_release(&set);
  }
  for (size_t i = 0; i < num_labels; i++) /* over all lines */
    canvas_text(p->canvas, labels[i].centre[0], labels[i].centre[1], style, labels[i].text);
done:
  free(lattice.values);
  free(boxes);
  free(labels);
  return code;
}

status picture_panel_draw_edge(picture_panel *p, const float *field, canvas_pen pen, message *msg)
{
  coarse lattice = {0};
  status code = thin_out(p->view, field, &lattice, msg);
  contour_set set = {0};
  if (code == STATUS_OK)
    code = contour_trace(&set, lattice.values, lattice.width, lattice.height, 0.5, msg);
  if (code == STATUS_OK) {
    to_pixels(p, &set);
    draw_set(p->canvas, &set, pen);
    contour_release(&set);
  }
  free(lattice.values);
  return code;
}

/* ------------------------------------------------------------------------------------------------ coil, axes */

/* A tube cut through at a point of the rig. */
static void draw_cut(picture_panel *p, const double point[3], bool mirrored, double tube_outer)
{
  const colour copper = {0.80, 0.50, 0.26, 1.0};
  const double scale = p->frame.width / (p->view->high[0] - p->view->low[0]);
  double x, y;
  if (!picture_panel_point(p, point, mirrored, &x, &y) && !p->view->revolved)
    return;
  const double radius = fmax(0.5 * tube_outer * scale, 3.0);
  canvas_disc(p->canvas, x, y, radius, copper);
  canvas_ring(p->canvas, x, y, radius, (canvas_pen){.ink = INK, .width = 1.5});
}

/* Where a line of tube goes through the plane. */
static void draw_line_cuts(picture_panel *p, const rig_coil *coil)
{
  const section_view *v = p->view;
  const int normal = 3 - v->across - v->up;
  for (size_t i = 0; i + 1 < coil->num_points; i++) {
    const double *a = coil->points[i], *b = coil->points[i + 1], from = a[normal] - v->at[normal], to = b[normal] - v->at[normal];
    double point[3];
    if ((from < 0.0) == (to < 0.0))
      continue;
    for (int axis = 0; axis < 3; axis++)
      point[axis] = a[axis] + (b[axis] - a[axis]) * from / (from - to);
    draw_cut(p, point, false, coil->tube_outer);
  }
}

void picture_panel_draw_coils(picture_panel *p, const rig *r)
{
  canvas_clip(p->canvas, p->frame.x, p->frame.y, p->frame.width, p->frame.height);
  for (size_t coil = 0; coil < r->num_coils; coil++) {
    for (size_t ring = 0; p->view->revolved && ring < r->coils[coil].num_rings; ring++)
      for (int side = 0; side < 2; side++)
        draw_cut(p, (const double[3]){r->coils[coil].rings[ring][0], 0.0, r->coils[coil].rings[ring][1]}, side == 1, r->coils[coil].tube_outer);
    draw_line_cuts(p, &r->coils[coil]);
  }
  canvas_unclip(p->canvas);
}

void picture_panel_draw_axes(picture_panel *p)
{
  static const char *const names[] = {"x, mm", "y, mm", "height z, mm"};
  const section_view *v = p->view;
  if (isfinite(v->mirror)) {
    const double x = axes_x(&p->frame, v->mirror);
    canvas_line(p->canvas, x, p->frame.y, x, p->frame.y + p->frame.height,
                (canvas_pen){.ink = {0.13, 0.15, 0.18, 0.55}, .width = 1.5, .dash = {14.0, 7.0}});
  }
  const axes_look look = {.across = v->revolved ? "radius r, mm" : names[v->across],
                          .up = names[v->up],
                          .most_across = (size_t)fmax(4.0, p->frame.width / 72.0),
                          .most_up = (size_t)fmax(3.0, p->frame.height / 70.0),
                          .scale = 1000.0,
                          .unsigned_across = v->revolved,
                          .text = PANEL_TEXT};
  axes_draw(p->canvas, &p->frame, &look);
}
