#include "io/picture_clear.h"

#include <math.h>
#include <stdlib.h>

#include "io/picture_layout.h"
#include "io/plain_words.h"
#include "solver/clouding.h"
#include "solver/front_gas.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
static const colour PIECE = {0.84, 0.37, 0.00, 1.0};
static const colour STILL_LIQUID = {0.91, 0.87, 0.74, 1.0}; /* none of the shades of ice */
static const canvas_pen TO_CLEAR = {.ink = {0.36, 0.62, 0.85, 1.0}, .width = 3.0}, TO_WHITE = {.ink = {0.05, 0.07, 0.10, 0.9}, .width = 3.0, .dash = {4.0, 5.0}};
static const double DEPTH = 0.1; /* m that the eye looks through */

static canvas_style words(void) { return (canvas_style){.size = PICTURE_LAYOUT_TEXT, .ink = INK}; }
static canvas_style strong(void) { return (canvas_style){.size = PICTURE_LAYOUT_TEXT, .bold = true, .ink = INK}; }
static canvas_style quiet(void) { return (canvas_style){.size = PICTURE_LAYOUT_SMALL, .ink = GREY}; }

bool picture_clear_wanted(const results *res)
{
  for (size_t i = 0; res->clarity && i < res->num_bodies; i++)
    if (res->bodies[i].clear.present)
      return true;
  return false;
}

/* What is drawn of each node: light sent back, and on which side of the two bounds of the classes. */
typedef struct { double *light, *not_clear, *white; float *field; } clear_map;

static status make_map(clear_map *c, const picture_layout *l, const results *res, message *msg)
{
  size_t samples = 0;
  for (size_t i = 0; i < l->num_panels; i++) {
    const size_t here = l->view[i]->width * l->view[i]->height;
    samples = here > samples ? here : samples;
  }
  c->light = malloc((res->num_nodes + 1) * sizeof(double));
  c->not_clear = malloc((res->num_nodes + 1) * sizeof(double));
  c->white = malloc((res->num_nodes + 1) * sizeof(double));
  c->field = malloc((samples + 1) * sizeof *c->field);
  if (!c->light || !c->not_clear || !c->white || !c->field)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture of clear ice", 3 * res->num_nodes * sizeof(double));
  for (size_t n = 0; n < res->num_nodes; n++) {
    const double b = res->clarity[n];
    c->light[n] = front_gas_reflectance(b, DEPTH);
    c->not_clear[n] = isnan(b) ? NAN : b >= CLOUDING_CLEAR ? 1.0 : 0.0;
    c->white[n] = isnan(b) ? NAN : b > CLOUDING_WHITE ? 1.0 : 0.0;
  }
  return STATUS_OK;
}

static void release_map(clear_map *c)
{
  free(c->light);
  free(c->not_clear);
  free(c->white);
  free(c->field);
}

/* The outline of the piece where the panel's plane cuts it, on both sides of a mirror at once or of the axis. */
static void draw_piece(picture_panel *p, const clear_result *c)
{
  const section_view *v = p->view;
  const int through = 3 - v->across - v->up;
  double low[3], high[3], x[4], y[4];
  if (!(c->piece_volume > 0.0))
    return;
  if (!v->revolved && (v->at[through] < c->piece_low[through] || v->at[through] > c->piece_high[through]))
    return;
  for (int axis = 0; axis < 3; axis++) {
    low[axis] = axis == through ? v->at[axis] : c->piece_low[axis];
    high[axis] = axis == through ? v->at[axis] : c->piece_high[axis];
  }
  const bool doubled = !isnan(v->mirror) && low[v->across] <= v->mirror;
  double left_top[3] = {low[0], low[1], low[2]};
  if (doubled)
    left_top[v->across] = high[v->across];
  left_top[v->up] = high[v->up];
  double left_bottom[3] = {left_top[0], left_top[1], left_top[2]};
  left_bottom[v->up] = low[v->up];
  double right_top[3] = {high[0], high[1], high[2]}, right_bottom[3] = {high[0], high[1], high[2]};
  right_bottom[v->up] = low[v->up];
  if (!picture_panel_point(p, left_top, doubled, &x[0], &y[0]) || !picture_panel_point(p, right_top, false, &x[1], &y[1])
      || !picture_panel_point(p, right_bottom, false, &x[2], &y[2]) || !picture_panel_point(p, left_bottom, doubled, &x[3], &y[3]))
    return;
  const double corners[4][2] = {{x[0], y[0]}, {x[1], y[1]}, {x[2], y[2]}, {x[3], y[3]}};
  canvas_polyline(p->canvas, corners, 4, true, (canvas_pen){.ink = PIECE, .width = 5.0, .dash = {14.0, 7.0}});
}

static status draw_bound(picture_panel *p, const rig *r, const mesh *m, const double *side, float *field, canvas_pen pen, message *msg)
{
  const status code = section_view_field(p->view, r, m, side, SECTION_SMOOTH, field, msg);
  return code == STATUS_OK ? picture_panel_draw_edge(p, field, pen, msg) : code;
}

static status draw_panel(picture_panel *p, const rig *r, const mesh *m, const results *res, clear_map *c, const colour_map *map, message *msg)
{
  status code = section_view_field(p->view, r, m, c->light, SECTION_SMOOTH, c->field, msg);
  const picture_panel_shades shades = {.field = c->field, .map = map, .low = 0.0, .high = 0.8, .map_low = 1.0, .map_high = 0.0, .blank = STILL_LIQUID};
  if (code == STATUS_OK)
    code = picture_panel_draw_field(p, r, &shades, msg);
  if (code == STATUS_OK)
    code = draw_bound(p, r, m, c->not_clear, c->field, TO_CLEAR, msg);
  if (code == STATUS_OK)
    code = draw_bound(p, r, m, c->white, c->field, TO_WHITE, msg);
  for (size_t i = 0; i < res->num_bodies; i++)
    if (res->bodies[i].clear.present)
      draw_piece(p, &res->bodies[i].clear);
  return code;
}

static void tell_classes(picture_layout *l, const colour_map *map, bool liquid)
{
  static const struct { double extinction; const char *name, *seen; } class[] = {
      {0.3, "clear", "below 1 per metre: nothing to see without searching"},
      {6.0, "hazy", "1 to 30 per metre: streaks or a veil, through 100 mm a blurred view"},
      {100.0, "white", "above 30 per metre: no view through 100 mm"}};
  (void)picture_layout_say(l, 0.0, strong(), "As 100 mm of it look over a dark ground");
  picture_layout_gap(l, 10.0);
  for (int i = 0; i < 3; i++) {
    picture_layout_swatch(l, colour_map_at(map, 1.0 - front_gas_reflectance(class[i].extinction, DEPTH) / 0.8), class[i].name);
    (void)picture_layout_say(l, 42.0, quiet(), class[i].seen);
    picture_layout_gap(l, 8.0);
  }
  double y = picture_layout_say(l, 42.0, words(), "from clear to hazy");
  canvas_line(l->canvas, l->side_x, y, l->side_x + 30.0, y, TO_CLEAR);
  y = picture_layout_say(l, 42.0, words(), "from hazy to white");
  canvas_line(l->canvas, l->side_x, y, l->side_x + 30.0, y, TO_WHITE);
  if (liquid)
    picture_layout_swatch(l, STILL_LIQUID, "not frozen");
  picture_layout_gap(l, 14.0);
}

static void tell_body(picture_layout *l, const body_result *b, bool revolved, bool alone)
{
  char text[256];
  const clear_result *c = &b->clear;
  (void)snprintf(text, sizeof text, "%s%s%.0f %% clear, %.0f %% hazy, %.0f %% white", alone ? "" : b->name, alone ? "" : ": ", 100.0 * c->fraction,
                 100.0 * c->hazy_fraction, 100.0 * c->white_fraction);
  (void)picture_layout_say(l, 0.0, strong(), text);
  if (!(c->piece_volume > 0.0))
    return;
  if (revolved)
    (void)snprintf(text, sizeof text, "largest clear piece: %.0f mm across, %.0f mm high", 2e3 * c->piece_size[0], 1e3 * c->piece_size[2]);
  else
    (void)snprintf(text, sizeof text, "largest clear piece: %.0f x %.0f x %.0f mm", 1e3 * c->piece_size[0], 1e3 * c->piece_size[1],
                   1e3 * c->piece_size[2]);
  const double y = picture_layout_say(l, 42.0, words(), text);
  canvas_line(l->canvas, l->side_x, y, l->side_x + 30.0, y, (canvas_pen){.ink = PIECE, .width = 5.0, .dash = {14.0, 7.0}});
  picture_layout_gap(l, 14.0);
}

static status draw_all(picture_layout *l, const rig *r, const mesh *m, const results *res, message *msg)
{
  clear_map c = {0};
  colour_map map;
  colour_map_fill(&map, COLOUR_MAP_LIQUID);
  status code = make_map(&c, l, res, msg);
  for (size_t i = 0; code == STATUS_OK && i < l->num_panels; i++)
    code = draw_panel(&l->panel[i], r, m, res, &c, &map, msg);
  release_map(&c);
  if (code != STATUS_OK)
    return code;
  bool liquid = false;
  for (size_t i = 0; i < res->num_bodies; i++)
    liquid = liquid || (res->bodies[i].clear.present && !res->bodies[i].complete);
  tell_classes(l, &map, liquid);
  for (size_t i = 0; i < res->num_bodies; i++)
    if (res->bodies[i].clear.present)
      tell_body(l, &res->bodies[i], l->view[0]->revolved, res->num_bodies == 1);
  return STATUS_OK;
}

status picture_clear_draw(const char *path, const rig *r, const mesh *m, const results *res, message *msg)
{
  picture_layout l = {0};
  const picture_layout_request want = {.path = path, .title = "Where the ice is clear, hazy or white", .subtitle = r->title,
                                       .at = res->last_body >= 0 ? res->bodies[res->last_body].last_position : NULL, .water_only = true,
                                       .side_height = 470.0 + 90.0 * (double)res->num_bodies};
  status code = picture_layout_create(&l, r, m, &want, msg);
  if (code != STATUS_OK)
    return code;
  code = draw_all(&l, r, m, res, msg);
  if (code == STATUS_OK)
    return picture_layout_finish(&l, msg);
  picture_layout_release(&l);
  return code;
}
