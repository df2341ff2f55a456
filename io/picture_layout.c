#include "io/picture_layout.h"

#include <ctype.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
static const double TOP = 150.0, LEFT = 135.0, AXIS_ROOM = 105.0, EDGE = 35.0;
static const double ONE_WIDTH = 920.0, ONE_HEIGHT = 980.0, THREE_WIDTH = 370.0, THREE_HEIGHT = 640.0, THREE_PITCH = 500.0;

/* The middle of the whole lies on its mirror planes. */
static void onto_mirrors(const grid *g, double at[3])
{
  for (int axis = 0; axis < 3; axis++)
    if (g->mirror[2 * axis])
      at[axis] = g->edges[axis][0];
}

/* The middle of the water, by volume; of everything when there is none. */
static void middle_of(const rig *r, const mesh *m, double at[3])
{
  for (int water = 1; water >= 0; water--) {
    double sum[3] = {0.0}, volume = 0.0;
    for (size_t node = 0; node < m->num_nodes; node++) {
      if (!(m->volume[node] > 0.0) || (water && r->parts[m->part[node]].kind != PART_WATER))
        continue;
      volume += m->volume[node];
      for (int k = 0; k < 3; k++)
        sum[k] += m->volume[node] * m->centroid[node][k];
    }
    for (int k = 0; k < 3; k++)
      at[k] = volume > 0.0 ? sum[k] / volume : 0.0;
    if (volume > 0.0)
      return;
  }
}

static double half_way_up(const rig *r, const mesh *m)
{
  double low = INFINITY, high = -INFINITY;
  for (size_t node = 0; node < m->num_nodes; node++)
    if (m->volume[node] > 0.0 && r->parts[m->part[node]].kind == PART_WATER) {
      low = fmin(low, m->centroid[node][2]);
      high = fmax(high, m->centroid[node][2]);
    }
  return 0.5 * (low + high);
}

static status make_views(picture_layout *l, const rig *r, const mesh *m, const picture_layout_request *want, message *msg)
{
  static const int planes[3][2] = {{0, 2}, {1, 2}, {0, 1}};
  const bool revolved = m->grid->kind == GRID_RZ;
  double at[3];
  middle_of(r, m, at);
  onto_mirrors(m->grid, at);
  if (want->at && isfinite(want->at[0]) && isfinite(want->at[1]) && isfinite(want->at[2]))
    memcpy(at, want->at, sizeof at);
  const double level = want->half_way ? half_way_up(r, m) : NAN;
  if (isfinite(level))
    at[2] = level;
  if (revolved)
    at[1] = 0.0;
  l->num_panels = revolved ? 1 : 3;
  for (size_t i = 0; i < l->num_panels; i++) {
    const section_view_request view = {
        .across = planes[i][0], .up = planes[i][1], .at = {at[0], at[1], at[2]}, .water_only = want->water_only,
        .most_width = (size_t)(PICTURE_PANEL_SAMPLES * (revolved ? ONE_WIDTH : THREE_WIDTH)),
        .most_height = (size_t)(PICTURE_PANEL_SAMPLES * (revolved ? ONE_HEIGHT : THREE_HEIGHT))};
    const status code = section_view_create(&l->view[i], r, m, &view, msg);
    if (code != STATUS_OK)
      return code;
  }
  return STATUS_OK;
}

/* Places panels and column; returns the height of the whole picture. */
static double place(picture_layout *l, double side_height)
{
  const bool one = l->num_panels == 1;
  double bottom = 0.0;
  for (size_t i = 0; i < l->num_panels; i++) {
    l->panel[i] = picture_panel_place(NULL, l->view[i], LEFT + THREE_PITCH * (double)i, TOP + (one ? 0.0 : 30.0),
                                      one ? ONE_WIDTH : THREE_WIDTH, one ? ONE_HEIGHT : THREE_HEIGHT);
    bottom = fmax(bottom, l->panel[i].frame.y + l->panel[i].frame.height + AXIS_ROOM);
  }
  l->side_x = one ? LEFT + l->panel[0].frame.width + 65.0 : LEFT;
  l->side_y = one ? TOP : bottom + 30.0;
  l->side_width = PICTURE_LAYOUT_WIDTH - EDGE - l->side_x;
  return ceil(fmax(bottom, l->side_y + side_height) + EDGE);
}

static void draw_titles(picture_layout *l, const char *title_text, const char *subtitle_text)
{
  char text[256];
  const double width = PICTURE_LAYOUT_WIDTH - 2.0 * EDGE;
  const canvas_style title = {.size = PICTURE_LAYOUT_TITLE, .bold = true, .ink = INK};
  canvas_fit_text(l->canvas, title, title_text, width, text, sizeof text);
  canvas_text(l->canvas, EDGE, 50.0, title, text);
  const canvas_style subtitle = {.size = PICTURE_LAYOUT_TEXT, .ink = GREY};
  canvas_fit_text(l->canvas, subtitle, subtitle_text, width, text, sizeof text);
  canvas_text(l->canvas, EDGE, 98.0, subtitle, text);
}

status picture_layout_create(picture_layout *out, const rig *r, const mesh *m, const picture_layout_request *want, message *msg)
{
  picture_layout l = {0};
  status code = make_views(&l, r, m, want, msg);
  if (code == STATUS_OK)
    code = canvas_create(&l.canvas, want->path, PICTURE_LAYOUT_WIDTH, place(&l, want->side_height), msg);
  if (code != STATUS_OK) {
    picture_layout_release(&l);
    return code;
  }
  for (size_t i = 0; i < l.num_panels; i++)
    l.panel[i].canvas = l.canvas;
  draw_titles(&l, want->title, want->subtitle);
  *out = l;
  return STATUS_OK;
}

status picture_layout_plain(picture_layout *out, const char *path, const char *title, const char *subtitle, double height, message *msg)
{
  picture_layout l = {.side_x = EDGE, .side_y = TOP, .side_width = PICTURE_LAYOUT_WIDTH - 2.0 * EDGE};
  const status code = canvas_create(&l.canvas, path, PICTURE_LAYOUT_WIDTH, ceil(height), msg);
  if (code != STATUS_OK)
    return code;
  draw_titles(&l, title, subtitle);
  *out = l;
  return STATUS_OK;
}

static void name_plane(picture_layout *l, size_t i)
{
  static const char axis[] = "xyz";
  const section_view *v = l->view[i];
  const int third = 3 - v->across - v->up;
  char number[32], text[64];
  axes_number(v->at[third] * 1000.0, 0, number, sizeof number);
  (void)snprintf(text, sizeof text, "plane %c = %s mm", axis[third], number);
  canvas_text(l->canvas, l->panel[i].frame.x, l->panel[i].frame.y - 22.0, (canvas_style){.size = PICTURE_LAYOUT_TEXT, .ink = INK},
              text);
}

status picture_layout_finish(picture_layout *l, message *msg)
{
  for (size_t i = 0; i < l->num_panels; i++) {
    picture_panel_draw_axes(&l->panel[i]);
    if (l->num_panels > 1)
      name_plane(l, i);
  }
  const status code = canvas_finish(&l->canvas, msg);
  picture_layout_release(l);
  return code;
}

void picture_layout_release(picture_layout *l)
{
  for (size_t i = 0; i < PICTURE_LAYOUT_PANELS; i++)
    section_view_destroy(&l->view[i]);
  canvas_destroy(&l->canvas);
}

/* ------------------------------------------------------------------------------------------------ the side column */

/* Between a number and its unit or what it counts no row ends. */
static bool row_may_end(const char *text, size_t at)
{
  if (text[at] == '\0')
    return true;
  const unsigned char after = (unsigned char)text[at + 1];
  return text[at] == ' ' && !(at > 0 && isdigit((unsigned char)text[at - 1]) && (isalpha(after) || after == '%' || after >= 0x80));
}

double picture_layout_say(picture_layout *l, double left, canvas_style style, const char *text)
{
  const double line = 1.36 * style.size, width = l->side_width - left, first = l->side_y + 0.5 * line;
  char rest[512], row[512];
  (void)snprintf(rest, sizeof rest, "%s", text);
  char *from = rest;
  while (*from) {
    size_t taken = 0, length = strlen(from);
    for (size_t end = 1; end <= length; end++) { /* as many whole words as fit, at least one */
      if (!row_may_end(from, end))
        continue;
      (void)snprintf(row, sizeof row, "%.*s", (int)end, from);
      if (taken && canvas_text_width(l->canvas, style, row) > width)
        break;
      taken = end;
    }
    (void)snprintf(row, sizeof row, "%.*s", (int)taken, from);
    char fitted[512];
    canvas_fit_text(l->canvas, style, row, width, fitted, sizeof fitted);
    canvas_text(l->canvas, l->side_x + left, l->side_y + 0.5 * line, style, fitted);
    l->side_y += line;
    from += taken;
    while (*from == ' ')
      from++;
  }
  return first;
}

void picture_layout_gap(picture_layout *l, double pixels) { l->side_y += pixels; }

void picture_layout_swatch(picture_layout *l, colour k, const char *text)
{
  const double y = picture_layout_say(l, 42.0, (canvas_style){.size = PICTURE_LAYOUT_TEXT, .ink = INK}, text);
  canvas_box(l->canvas, l->side_x, y - 13.0, 28.0, 26.0, k);
  canvas_frame(l->canvas, l->side_x, y - 13.0, 28.0, 26.0, (canvas_pen){.ink = INK, .width = 1.5});
}

void picture_layout_stroke(picture_layout *l, canvas_pen pen, const char *text)
{
  const double y = picture_layout_say(l, 42.0, (canvas_style){.size = PICTURE_LAYOUT_TEXT, .ink = INK}, text);
  canvas_line(l->canvas, l->side_x, y, l->side_x + 30.0, y, pen);
}

size_t picture_layout_samples(const picture_layout *l)
{
  size_t most = 0;
  for (size_t i = 0; i < l->num_panels; i++) {
    const size_t here = l->view[i]->width * l->view[i]->height;
    most = here > most ? here : most;
  }
  return most;
}
