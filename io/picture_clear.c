#include "io/picture_clear.h"

#include <math.h>
#include <stdlib.h>

#include "io/clear_words.h"
#include "io/picture_layout.h"
#include "io/picture_pockets.h"
#include "io/plain_words.h"
#include "solver/clouding.h"
#include "solver/front_gas.h"
#include "solver/pocket_pressure.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
static const colour STILL_LIQUID = {0.91, 0.87, 0.74, 1.0}; /* none of the shades of ice */
static const canvas_pen TO_CLEAR = {.ink = {0.36, 0.62, 0.85, 1.0}, .width = 3.0}, TO_WHITE = {.ink = {0.05, 0.07, 0.10, 0.9}, .width = 3.0, .dash = {4.0, 5.0}};
static const canvas_pen OF_PIECE = {.ink = {0.84, 0.37, 0.00, 1.0}, .width = 5.0, .dash = {14.0, 7.0}}, OF_POCKET = {.ink = {0.50, 0.15, 0.55, 1.0}, .width = 4.0, .dash = {9.0, 5.0}};
static const double DEPTH = 0.1; /* m that the eye looks through */

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
typedef struct { double *light, *not_clear, *white, *shut_in; float *field; bool pockets; } clear_map;

static status make_map(clear_map *c, const picture_layout *l, const results *res, message *msg)
{
  const size_t samples = picture_layout_samples(l);
  c->light = malloc((res->num_nodes + 1) * sizeof(double));
  c->not_clear = malloc((res->num_nodes + 1) * sizeof(double));
  c->white = malloc((res->num_nodes + 1) * sizeof(double));
  c->shut_in = malloc((res->num_nodes + 1) * sizeof(double));
  c->field = malloc((samples + 1) * sizeof *c->field);
  if (!c->light || !c->not_clear || !c->white || !c->shut_in || !c->field)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture of clear ice", 4 * res->num_nodes * sizeof(double));
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
  free(c->shut_in);
  free(c->field);
}

/* The outline of the piece where the panel's plane cuts it, on both sides of mirrors at once or of the axis, and its size. */
static void draw_piece(picture_panel *p, const clear_result *c)
{
  const section_view *v = p->view;
  const int through = 3 - v->across - v->up;
  double low[3], high[3], x[2], y[2], at_mirror = NAN;
  if (!(c->piece_volume > 0.0))
    return;
  if (!v->revolved && (v->at[through] < c->piece_low[through] || v->at[through] > c->piece_high[through]))
    return;
  for (int axis = 0; axis < 3; axis++) {
    low[axis] = axis == through ? v->at[axis] : c->piece_low[axis];
    high[axis] = axis == through ? v->at[axis] : c->piece_high[axis];
  }
  const bool doubled = !isnan(v->mirror) && low[v->across] <= v->mirror, doubled_up = !isnan(v->mirror_up) && low[v->up] <= v->mirror_up;
  double left[3] = {low[0], low[1], low[2]};
  if (doubled)
    left[v->across] = high[v->across];
  if (!picture_panel_point(p, left, doubled, &x[0], &y[0]) || !picture_panel_point(p, high, false, &x[1], &y[1]))
    return;
  if (doubled_up) {
    left[v->up] = v->mirror_up;
    if (picture_panel_point(p, left, doubled, &x[0], &at_mirror))
      y[0] = 2.0 * at_mirror - y[1];
  }
  const double corners[4][2] = {{x[0], y[1]}, {x[1], y[1]}, {x[1], y[0]}, {x[0], y[0]}};
  canvas_polyline(p->canvas, corners, 4, true, OF_PIECE);
  char size[CLEAR_WORDS];
  clear_words_piece(c, v->revolved, size);
  const canvas_style style = {.size = PICTURE_LAYOUT_SMALL, .bold = true, .ink = INK, .align = CANVAS_CENTRE, .halo = {1.0, 1.0, 1.0, 0.85}};
  if (canvas_text_width(p->canvas, style, size) <= fabs(x[1] - x[0])) /* the legend tells it anyway */
    canvas_text(p->canvas, 0.5 * (x[0] + x[1]), 0.5 * (y[0] + y[1]), style, size);
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
  bool edge = false;
  if (code == STATUS_OK && res->freeze_time)
    code = picture_pockets_draw(p, r, m, c->shut_in, c->field, OF_POCKET, &edge, msg);
  c->pockets = c->pockets || edge;
  for (size_t i = 0; i < res->num_bodies; i++)
    if (res->bodies[i].clear.present)
      draw_piece(p, &res->bodies[i].clear);
  return code;
}

static void tell_classes(picture_layout *l, const colour_map *map, bool liquid)
{
  static const struct { double extinction; const char *name, *seen; } class[] = {
      {0.3, "clear", "below 1 per metre: nothing to see without searching"},
      {12.0, "hazy", "1 to 30 per metre: streaks or a veil, through 100 mm a blurred view"},
      {100.0, "white", "above 30 per metre: no view through 100 mm; the paler, the whiter"}};
  (void)picture_layout_say(l, 0.0, strong(), "As 100 mm of it look over a dark ground");
  picture_layout_gap(l, 10.0);
  for (int i = 0; i < 3; i++) {
    picture_layout_swatch(l, colour_map_at(map, 1.0 - front_gas_reflectance(class[i].extinction, DEPTH) / 0.8), class[i].name);
    (void)picture_layout_say(l, 42.0, quiet(), class[i].seen);
    picture_layout_gap(l, 8.0);
  }
  picture_layout_stroke(l, TO_CLEAR, "from clear to hazy");
  picture_layout_stroke(l, TO_WHITE, "from hazy to white");
  if (liquid)
    picture_layout_swatch(l, STILL_LIQUID, "not frozen");
  picture_layout_gap(l, 14.0);
}

/* The trapped pocket that presses hardest. */
static void tell_pockets(picture_layout *l, const body_result *b)
{
  static const char *const crack[] = {"a crack is not likely", "a crack is possible", "a crack is likely"};
  const pocket *worst = NULL;
  char text[256], mass[PLAIN_WORDS];
  size_t num = 0;
  for (size_t i = 0; i < b->num_pockets; i++) {
    const pocket *p = &b->pockets[i];
    num += p->trapped;
    if (p->trapped && (!worst || p->pressure > worst->pressure))
      worst = p;
  }
  if (!worst)
    return;
  plain_words_mass(isnan(worst->closed_mass) ? worst->mass : worst->closed_mass, true, mass);
  (void)snprintf(text, sizeof text, "shut in by ice%s: %s", num > 1 ? ", the worst" : "", mass);
  picture_layout_stroke(l, OF_POCKET, text);
  if (isfinite(worst->pressure)) {
    (void)snprintf(text, sizeof text, "presses with about %.0f bar: %s", 1e-5 * worst->pressure, crack[pocket_pressure_risk(worst->crack_index)]);
    (void)picture_layout_say(l, 42.0, quiet(), text);
  }
  picture_layout_gap(l, 14.0);
}

static void tell_body(picture_layout *l, const body_result *b, bool revolved, bool alone)
{
  char text[CLEAR_WORDS + 64], size[CLEAR_WORDS];
  const clear_result *c = &b->clear;
  (void)snprintf(text, sizeof text, "%s%s%.0f %% clear, %.0f %% hazy, %.0f %% white", alone ? "" : b->name, alone ? "" : ": ", 100.0 * c->fraction,
                 100.0 * c->hazy_fraction, 100.0 * c->white_fraction);
  (void)picture_layout_say(l, 0.0, strong(), text);
  if (c->piece_volume > 0.0) {
    clear_words_piece(c, revolved, size);
    (void)snprintf(text, sizeof text, "largest clear piece: %s", size);
    picture_layout_stroke(l, OF_PIECE, text);
    picture_layout_gap(l, 14.0);
  }
  tell_pockets(l, b);
}

static status draw_all(picture_layout *l, const rig *r, const mesh *m, const results *res, message *msg)
{
  clear_map c = {0};
  colour_map map;
  colour_map_fill(&map, COLOUR_MAP_LIQUID);
  status code = make_map(&c, l, res, msg);
  if (code == STATUS_OK && res->freeze_time)
    picture_pockets_mark(r, m, res, c.shut_in);
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
                                       .at = res->last_body >= 0 ? res->bodies[res->last_body].last_position : NULL, .half_way = true,
                                       .water_only = true,
                                       .side_height = m->grid->kind == GRID_RZ ? 500.0 + 210.0 * (double)res->num_bodies
                                                                               : 370.0 + 150.0 * (double)res->num_bodies}; /* wider, below the panels */
  status code = picture_layout_create(&l, r, m, &want, msg);
  if (code != STATUS_OK)
    return code;
  code = draw_all(&l, r, m, res, msg);
  if (code == STATUS_OK)
    return picture_layout_finish(&l, msg);
  picture_layout_release(&l);
  return code;
}
