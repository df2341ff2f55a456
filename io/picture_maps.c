#include "io/picture_maps.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/ice_moments.h"
#include "io/picture_layout.h"
#include "io/picture_pockets.h"
#include "io/plain_words.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
static const colour MARK = {0.84, 0.37, 0.00, 1.0};  /* stands out from blue and green in every kind of colour vision */
static const colour STILL_LIQUID = {1.0, 1.0, 1.0, 1.0};
static const double BAR_HEIGHT = 400.0;
static const double MARK_RADIUS = 18.0; /* pixels, rim included */

static canvas_style words(void) { return (canvas_style){.size = PICTURE_LAYOUT_TEXT, .ink = INK}; }
static canvas_style strong(void) { return (canvas_style){.size = PICTURE_LAYOUT_TEXT, .bold = true, .ink = INK}; }
static canvas_style quiet(void) { return (canvas_style){.size = PICTURE_LAYOUT_SMALL, .ink = GREY}; }

/* Pixels for the bar and that many of words: below it, or beside it where there are three panels. */
static double side_height(const mesh *m, double of_words)
{
  const double bar = BAR_HEIGHT + 90.0;
  return m->grid->kind == GRID_RZ ? bar + of_words + 60.0 : fmax(bar, of_words + 120.0);
}

/* The upright bar at the head of the side column. */
static void draw_bar(picture_layout *l, const colour_map *map, axes_bar bar)
{
  (void)picture_layout_say(l, 0.0, strong(), bar.title);
  picture_layout_gap(l, 18.0);
  bar.x = l->side_x;
  bar.y = l->side_y;
  bar.width = 44.0;
  bar.height = BAR_HEIGHT;
  bar.text = PICTURE_LAYOUT_TEXT;
  bar.title = "";
  axes_draw_bar(l->canvas, &bar, map);
  picture_layout_gap(l, BAR_HEIGHT + 34.0);
  if (l->num_panels == 1)
    return;
  l->side_y = bar.y; /* below three panels there is room beside the bar */
  l->side_x += 330.0;
  l->side_width -= 330.0;
}

/* ------------------------------------------------------------------------------------------------ freeze time */

/* Hours from the start of the freeze; NAN where not frozen. */
static double *hours_of(const results *res, double start)
{
  double *hours = malloc((res->num_nodes + 1) * sizeof *hours);
  for (size_t i = 0; hours && i < res->num_nodes; i++)
    hours[i] = (res->freeze_time[i] - start) / 3600.0;
  return hours;
}

static void draw_last_water(picture_panel *p, const results *res)
{
  for (size_t i = 0; i < res->num_bodies; i++) {
    double x, y;
    const body_result *body = &res->bodies[i];
    if (!body->complete || !isfinite(body->last_position[0]))
      continue;
    double first_x = -INFINITY;
    for (int side = 0; side < 2; side++) {
      if (!picture_panel_point(p, body->last_position, side == 1, &x, &y) || fabs(x - first_x) < 2.0 * MARK_RADIUS)
        continue; /* so near the axis that its image would lie over it */
      first_x = x;
      canvas_ring(p->canvas, x, y, 13.0, (canvas_pen){.ink = {1.0, 1.0, 1.0, 1.0}, .width = 9.0});
      canvas_ring(p->canvas, x, y, 13.0, (canvas_pen){.ink = MARK, .width = 5.0});
      canvas_disc(p->canvas, x, y, 4.0, MARK);
    }
  }
}

/* Boxes that labels must keep clear of: the marks of the last water. */
static size_t marks_taken(const picture_panel *p, const results *res, contour_box *boxes, size_t most)
{
  size_t num = 0;
  for (size_t i = 0; i < res->num_bodies && num < most; i++) {
    double x, y;
    if (!isfinite(res->bodies[i].last_position[0]) || !picture_panel_point(p, res->bodies[i].last_position, false, &x, &y))
      continue;
    boxes[num++] = (contour_box){{x - 22.0, y - 22.0}, {x + 22.0, y + 22.0}};
  }
  return num;
}

static void tell_body(picture_layout *l, const body_result *body, bool revolved, bool alone, bool closed)
{
  char text[320], value[PLAIN_WORDS];
  if (!body->complete) {
    plain_words_value(100.0 * body->fraction, 3, "%", value);
    (void)snprintf(text, sizeof text, "%s: %s frozen at the end", body->name, value);
    picture_layout_swatch(l, STILL_LIQUID, text);
    (void)picture_layout_say(l, 42.0, quiet(), "white: still liquid");
    picture_layout_gap(l, 14.0);
    return;
  }
  (void)snprintf(text, sizeof text, alone ? "Last water" : "Last water: %s", body->name);
  const double y = picture_layout_say(l, 42.0, strong(), text);
  canvas_ring(l->canvas, l->side_x + 14.0, y, 11.0, (canvas_pen){.ink = MARK, .width = 5.0});
  canvas_disc(l->canvas, l->side_x + 14.0, y, 3.5, MARK);
  plain_words_duration(body->last_time, value);
  (void)snprintf(text, sizeof text, "after %s", value);
  (void)picture_layout_say(l, 42.0, words(), text);
  plain_words_place(body->last_position, revolved, value);
  (void)snprintf(text, sizeof text, "at %s", value);
  (void)picture_layout_say(l, 42.0, words(), text);
  (void)picture_layout_say(l, 42.0, words(), !body->last_trapped ? "not trapped" : closed ? "trapped: the vessel is closed" : "trapped: closed in by ice");
  picture_layout_gap(l, 14.0);
}

static void tell_trapped(picture_layout *l)
{
  const double y = picture_layout_say(l, 42.0, words(), "dashed: trapped water");
  canvas_line(l->canvas, l->side_x, y, l->side_x + 30.0, y, (canvas_pen){.ink = MARK, .width = 4.0, .dash = {9.0, 5.0}});
  picture_layout_gap(l, 14.0);
}

typedef struct { double *hours, *trapped; float *field; double latest; bool dashed; } freeze_map;

static status draw_freeze_panel(picture_panel *p, const rig *r, const mesh *m, const results *res, freeze_map *f,
                                const colour_map *map, message *msg)
{
  status code = section_view_field(p->view, r, m, f->hours, SECTION_SLOPED, f->field, msg);
  if (code != STATUS_OK)
    return code;
  const picture_panel_shades shades = {.field = f->field, .map = map, .low = 0.0, .high = f->latest, .map_low = 0.0, .map_high = 1.0,
                                       .blank = STILL_LIQUID};
  code = picture_panel_draw_field(p, r, &shades, msg);
  if (code != STATUS_OK)
    return code;
  /* A line at the very start or end would only trace the wall or a speck. */
  const axes_ticks t = axes_ticks_between(0.01 * f->latest, 0.995 * f->latest, p->frame.width > 500.0 ? 14 : 7);
  contour_box taken[16];
  const size_t num_taken = marks_taken(p, res, taken, 16);
  const picture_panel_levels levels = {.field = f->field, .first = t.first, .step = t.step, .num = t.num, .decimals = t.decimals,
                                       .unit = "h", .pen = {.ink = {0.05, 0.07, 0.10, 0.85}, .width = 2.0},
                                       .text = PICTURE_LAYOUT_SMALL};
  code = picture_panel_draw_levels(p, &levels, taken, num_taken, msg);
  bool edge = false;
  if (code == STATUS_OK)
    code = picture_pockets_draw(p, r, m, f->trapped, f->field, (canvas_pen){.ink = MARK, .width = 4.0, .dash = {9.0, 5.0}}, &edge, msg);
  f->dashed = f->dashed || edge;
  draw_last_water(p, res);
  return code;
}

static const double *last_position(const results *res)
{
  return res->last_body >= 0 ? res->bodies[res->last_body].last_position : NULL;
}

static status draw_freeze_time(picture_layout *l, const rig *r, const mesh *m, const results *res, freeze_map *f, message *msg)
{
  size_t samples = 0;
  for (size_t i = 0; i < l->num_panels; i++) {
    const size_t here = l->view[i]->width * l->view[i]->height;
    samples = here > samples ? here : samples;
  }
  f->field = malloc(samples * sizeof *f->field);
  colour_map *map = malloc(sizeof *map);
  status code = f->field && map ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a map", samples * sizeof(float));
  if (code == STATUS_OK) {
    colour_map_fill(map, COLOUR_MAP_TIME);
    for (size_t i = 0; code == STATUS_OK && i < l->num_panels; i++)
      code = draw_freeze_panel(&l->panel[i], r, m, res, f, map, msg);
  }
  if (code == STATUS_OK) {
    draw_bar(l, map, (axes_bar){.low = 0.0, .high = f->latest, .map_low = 0.0, .map_high = 1.0, .title = "hours until frozen"});
    for (size_t i = 0; i < res->num_bodies; i++)
      tell_body(l, &res->bodies[i], l->view[0]->revolved, res->num_bodies == 1, !r->bodies[i].open_top);
    if (f->dashed)
      tell_trapped(l);
  }
  free(map);
  free(f->field);
  f->field = NULL;
  return code;
}

status picture_maps_freeze_time(const char *path, const rig *r, const mesh *m, const results *res, message *msg)
{
  freeze_map f = {.hours = hours_of(res, ice_moments_start(r, res)), .trapped = malloc((res->num_nodes + 1) * sizeof(double))};
  status code = f.hours && f.trapped ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a map", 2 * res->num_nodes * sizeof(double));
  picture_layout l = {0};
  if (code == STATUS_OK) {
    for (size_t i = 0; i < res->num_nodes; i++)
      if (f.hours[i] > f.latest)
        f.latest = f.hours[i];
    if (!(f.latest > 0.0))
      f.latest = 1.0; /* nothing froze: an empty map on a scale of one hour */
    picture_pockets_mark(r, m, res, f.trapped);
    const picture_layout_request want = {.path = path, .title = "When each place froze: hours from the start of freezing",
                                         .subtitle = r->title, .at = last_position(res), .water_only = true,
                                         .side_height = side_height(m, 200.0 * (double)res->num_bodies)};
    code = picture_layout_create(&l, r, m, &want, msg);
  }
  if (code == STATUS_OK) {
    code = draw_freeze_time(&l, r, m, res, &f, msg);
    if (code == STATUS_OK)
      code = picture_layout_finish(&l, msg);
    else
      picture_layout_release(&l);
  }
  free(f.hours);
  free(f.trapped);
  return code;
}

/* ------------------------------------------------------------------------------------------------ fields */

/* The scale of a field: what is lowest and highest, and where these lie on the map. */
typedef struct { double low, high, map_low, map_high; bool temperature; } field_scale;

static field_scale scale_of(const mesh *m, const double *values, bool temperature)
{
  if (!temperature)
    return (field_scale){0.0, 1.0, 0.0, 1.0, false};
  double low = INFINITY, high = -INFINITY;
  for (size_t i = 0; i < m->num_nodes; i++)
    if (m->volume[i] > 0.0 && isfinite(values[i])) {
      low = fmin(low, values[i]);
      high = fmax(high, values[i]);
    }
  if (!(low <= high))
    low = high = 0.0;
  low = fmin(floor(low), 0.0); /* whole degrees; 0 degC always on the scale */
  high = fmax(ceil(high), 0.0);
  if (low == high)
    high = low + 1.0;
  /* One degree is the same step of colour on both sides of 0 degC, which has the pale middle. */
  const double reach = fmax(-low, high);
  return (field_scale){low, high, 0.5 + 0.5 * low / reach, 0.5 + 0.5 * high / reach, true};
}

static status draw_field_panel(picture_panel *p, const rig *r, const mesh *m, const double *values, field_scale s,
                               const colour_map *map, float *field, message *msg)
{
  status code = section_view_field(p->view, r, m, values, s.temperature ? SECTION_SLOPED : SECTION_SMOOTH, field, msg);
  if (code != STATUS_OK)
    return code;
  const picture_panel_shades shades = {.field = field, .map = map, .low = s.low, .high = s.high, .map_low = s.map_low,
                                       .map_high = s.map_high};
  code = picture_panel_draw_field(p, r, &shades, msg);
  if (code == STATUS_OK && s.temperature) {
    const axes_ticks t = axes_ticks_between(s.low, s.high, 9);
    const picture_panel_levels levels = {.field = field, .first = t.first, .step = t.step, .num = t.num, .decimals = t.decimals,
                                         .unit = plain_words_unit("degC"), .pen = {.ink = {0.05, 0.07, 0.10, 0.7}, .width = 1.5},
                                         .text = PICTURE_LAYOUT_SMALL};
    code = picture_panel_draw_levels(p, &levels, NULL, 0, msg);
  } else if (code == STATUS_OK) {
    code = picture_panel_draw_edge(p, field, (canvas_pen){.ink = MARK, .width = 2.5}, msg);
  }
  picture_panel_draw_coils(p, r);
  return code;
}

static status draw_field(picture_layout *l, const rig *r, const mesh *m, const char *unit, const double *values, message *msg)
{
  size_t samples = 0;
  for (size_t i = 0; i < l->num_panels; i++) {
    const size_t here = l->view[i]->width * l->view[i]->height;
    samples = here > samples ? here : samples;
  }
  const field_scale s = scale_of(m, values, strcmp(unit, "degC") == 0);
  float *field = malloc(samples * sizeof *field);
  colour_map *map = malloc(sizeof *map);
  status code = field && map ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a map", samples * sizeof *field);
  if (code == STATUS_OK) {
    colour_map_fill(map, s.temperature ? COLOUR_MAP_TEMPERATURE : COLOUR_MAP_LIQUID);
    for (size_t i = 0; code == STATUS_OK && i < l->num_panels; i++)
      code = draw_field_panel(&l->panel[i], r, m, values, s, map, field, msg);
  }
  if (code == STATUS_OK) {
    draw_bar(l, map, (axes_bar){.low = s.low, .high = s.high, .map_low = s.map_low, .map_high = s.map_high,
                                .title = s.temperature ? "temperature, \xC2\xB0" "C" : "liquid share"});
    if (!s.temperature) {
      (void)picture_layout_say(l, 0.0, words(), "1: all liquid, 0: all ice");
      picture_layout_gap(l, 10.0);
      const double y = picture_layout_say(l, 42.0, words(), "half frozen");
      canvas_line(l->canvas, l->side_x, y, l->side_x + 30.0, y, (canvas_pen){.ink = MARK, .width = 3.0});
    }
  }
  free(map);
  free(field);
  return code;
}

/* Liquid fractions of what cannot freeze say nothing: only water and brine are shown. */
static double *freezable_only(const rig *r, const mesh *m, const double *values)
{
  double *shown = malloc((m->num_nodes + 1) * sizeof *shown);
  for (size_t i = 0; shown && i < m->num_nodes; i++) {
    const int32_t part = m->part[i];
    const bool freezes = part >= 0 && (r->parts[part].kind == PART_WATER || r->parts[part].kind == PART_BRINE);
    shown[i] = freezes ? values[i] : NAN;
  }
  return shown;
}

status picture_maps_field(const char *path, const rig *r, const mesh *m, const char *title, const char *unit, const double *values,
                          double time, const double *at, message *msg)
{
  const bool temperature = strcmp(unit, "degC") == 0;
  double *shown = temperature ? NULL : freezable_only(r, m, values);
  if (!temperature && !shown)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a map", m->num_nodes * sizeof *shown);
  char when[PLAIN_WORDS], subtitle[256];
  plain_words_duration(time, when);
  (void)snprintf(subtitle, sizeof subtitle, "%s after the start. %.128s", when, r->title);
  const picture_layout_request want = {.path = path, .title = title, .subtitle = subtitle, .at = at, .side_height = side_height(m, 140.0)};
  picture_layout l;
  status code = picture_layout_create(&l, r, m, &want, msg);
  if (code == STATUS_OK) {
    code = draw_field(&l, r, m, unit, temperature ? values : shown, msg);
    if (code == STATUS_OK)
      code = picture_layout_finish(&l, msg);
    else
      picture_layout_release(&l);
  }
  free(shown);
  return code;
}
