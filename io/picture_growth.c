#include "io/picture_growth.h"

#include <math.h>
#include <stdlib.h>

#include "io/picture_layout.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
static const colour STILL_LIQUID = {1.0, 1.0, 1.0, 1.0};
static const canvas_pen EQUAL = {.ink = {0.05, 0.07, 0.10, 0.75}, .width = 1.5};
static const canvas_pen AT_LIMIT = {.ink = {0.05, 0.07, 0.10, 1.0}, .width = 5.0};
static const canvas_pen GREW = {.ink = {0.00, 0.33, 0.62, 1.0}, .width = 4.0}, ALLOWED = {.ink = {0.84, 0.37, 0.00, 1.0}, .width = 4.0, .dash = {12.0, 7.0}};
static const double MM_PER_HOUR = 3.6e6;  /* of m/s */
static const double DOUBLINGS = 2.0;      /* of the limit, to either side, that the colours hold */
static const double CHART_WIDTH = 330.0, CHART_HEIGHT = 260.0, BAR_HEIGHT = 300.0;

static canvas_style words(void) { return (canvas_style){.size = PICTURE_LAYOUT_TEXT, .ink = INK}; }
static canvas_style strong(void) { return (canvas_style){.size = PICTURE_LAYOUT_TEXT, .bold = true, .ink = INK}; }
static canvas_style quiet(void) { return (canvas_style){.size = PICTURE_LAYOUT_SMALL, .ink = GREY}; }

bool picture_growth_wanted(const results *res)
{
  for (size_t i = 0; res->front_speed && res->clear_speed && i < res->num_bodies; i++)
    if (res->bodies[i].clear.present)
      return true;
  return false;
}

/* ------------------------------------------------------------------------------------------------ map */

/* Of each node: mm/h; and its place from 0 to 1 by doublings of the limit, 0.5 at the limit. */
typedef struct { double *speed, *over; float *field; } growth_map;

static double place_of(double speed, double limit)
{
  if (isnan(speed) || isnan(limit))
    return NAN;
  return limit > 0.0 ? fmin(fmax(0.5 + 0.5 * log2(speed / limit) / DOUBLINGS, 0.0), 1.0) : 1.0;
}

static status make_map(growth_map *g, const picture_layout *l, const results *res, message *msg)
{
  const size_t samples = picture_layout_samples(l);
  g->speed = malloc((res->num_nodes + 1) * sizeof(double));
  g->over = malloc((res->num_nodes + 1) * sizeof(double));
  g->field = malloc((samples + 1) * sizeof *g->field);
  if (!g->speed || !g->over || !g->field)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture of growth", 2 * res->num_nodes * sizeof(double));
  for (size_t n = 0; n < res->num_nodes; n++) {
    g->over[n] = place_of(res->front_speed[n], res->clear_speed[n]);
    g->speed[n] = g->over[n] < 1.0 ? MM_PER_HOUR * res->front_speed[n] : NAN; /* beyond the colours speeds scatter: no lines there */
  }
  return STATUS_OK;
}

static void release_map(growth_map *g)
{
  free(g->speed);
  free(g->over);
  free(g->field);
}

static status draw_equal_speeds(picture_panel *p, const float *field, message *msg)
{
  static const double level[] = {0.5, 1.0, 2.0, 5.0, 10.0};
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < sizeof level / sizeof *level; i++) {
    const picture_panel_levels one = {.field = field, .first = 1.0, .step = level[i], .num = 1, .decimals = level[i] < 1.0 ? 1 : 0, .unit = "mm/h",
                                      .pen = EQUAL, .text = PICTURE_LAYOUT_SMALL};
    code = picture_panel_draw_levels(p, &one, NULL, 0, msg);
  }
  return code;
}

static status draw_panel(picture_panel *p, const rig *r, const mesh *m, const growth_map *g, const colour_map *map, message *msg)
{
  status code = section_view_field(p->view, r, m, g->over, SECTION_SMOOTH, g->field, msg);
  const picture_panel_shades shades = {.field = g->field, .map = map, .low = 0.0, .high = 1.0, .map_low = 0.0, .map_high = 1.0, .blank = STILL_LIQUID};
  if (code == STATUS_OK)
    code = picture_panel_draw_field(p, r, &shades, msg);
  if (code == STATUS_OK)
    code = picture_panel_draw_edge(p, g->field, AT_LIMIT, msg);
  if (code == STATUS_OK)
    code = section_view_field(p->view, r, m, g->speed, SECTION_SMOOTH, g->field, msg);
  return code == STATUS_OK ? draw_equal_speeds(p, g->field, msg) : code;
}

/* ------------------------------------------------------------------------------------------------ words */

static void draw_bar(picture_layout *l, const colour_map *map)
{
  static const char *const name[] = {"4 times the limit", "twice", "at the limit", "half", "a quarter of it"};
  enum { STEPS = 64 };
  (void)picture_layout_say(l, 0.0, strong(), "Growth against its clear limit");
  picture_layout_gap(l, 14.0);
  const double x = l->side_x, y = l->side_y;
  for (int i = 0; i < STEPS; i++)
    canvas_box(l->canvas, x, y + BAR_HEIGHT * i / STEPS, 44.0, BAR_HEIGHT / STEPS + 1.0, colour_map_at(map, 1.0 - (i + 0.5) / STEPS));
  for (int i = 0; i < 5; i++) {
    const double at = y + BAR_HEIGHT * i / 4.0;
    canvas_line(l->canvas, x, at, x + 54.0, at, i == 2 ? AT_LIMIT : EQUAL);
    canvas_text(l->canvas, x + 66.0, at, i == 2 ? strong() : words(), name[i]);
  }
  canvas_text(l->canvas, x + 66.0, y + BAR_HEIGHT * 0.375, quiet(), "too fast: it clouds");
  canvas_text(l->canvas, x + 66.0, y + BAR_HEIGHT * 0.625, quiet(), "it stays clear");
  picture_layout_gap(l, BAR_HEIGHT + 30.0);
  picture_layout_stroke(l, AT_LIMIT, "heavy: the limit");
  picture_layout_stroke(l, EQUAL, "thin: equal speed");
  picture_layout_gap(l, 24.0);
}

static void draw_curve(canvas *c, const axes_frame *f, const double values[CLEAR_TENTHS], canvas_pen pen)
{
  double points[CLEAR_TENTHS][2];
  size_t num = 0;
  for (int i = 0; i < CLEAR_TENTHS; i++)
    if (!isnan(values[i])) {
      points[num][0] = axes_x(f, 10.0 * i + 5.0);
      points[num++][1] = axes_y(f, MM_PER_HOUR * values[i]);
    }
  if (num > 1)
    canvas_polyline(c, (const double(*)[2])points, num, false, pen);
}

/* Up to half again what is there from the second tenth on: the first moments are very fast. */
static double top_of(const clear_result *c)
{
  double most = 0.0;
  for (int i = 1; i < CLEAR_TENTHS; i++)
    most = fmax(most, fmax(isnan(c->growth_speed[i]) ? 0.0 : c->growth_speed[i], isnan(c->growth_limit[i]) ? 0.0 : c->growth_limit[i]));
  return most > 0.0 ? 1.5 * MM_PER_HOUR * most : 1.0;
}

static void draw_history(picture_layout *l, const body_result *b, bool alone)
{
  char text[160];
  (void)snprintf(text, sizeof text, "Mean growth as %s froze", alone ? "it" : b->name);
  (void)picture_layout_say(l, 0.0, strong(), text);
  picture_layout_gap(l, 16.0);
  const axes_frame f = {l->side_x + 95.0, l->side_y, CHART_WIDTH, CHART_HEIGHT, 0.0, 100.0, 0.0, top_of(&b->clear)};
  const axes_look look = {.across = "frozen, %", .up = "growth, mm/h", .most_across = 6, .most_up = 5, .text = PICTURE_LAYOUT_SMALL};
  axes_draw_grid(l->canvas, &f, &look);
  canvas_clip(l->canvas, f.x, f.y, f.width, f.height);
  draw_curve(l->canvas, &f, b->clear.growth_limit, ALLOWED);
  draw_curve(l->canvas, &f, b->clear.growth_speed, GREW);
  canvas_unclip(l->canvas);
  axes_draw(l->canvas, &f, &look);
  picture_layout_gap(l, CHART_HEIGHT + 95.0);
  picture_layout_stroke(l, GREW, "growth");
  picture_layout_stroke(l, ALLOWED, "clear up to here");
  picture_layout_gap(l, 20.0);
}

/* ------------------------------------------------------------------------------------------------ the whole */

static status draw_all(picture_layout *l, const rig *r, const mesh *m, const results *res, message *msg)
{
  growth_map g = {0};
  colour_map map;
  colour_map_fill(&map, COLOUR_MAP_TEMPERATURE);
  status code = make_map(&g, l, res, msg);
  for (size_t i = 0; code == STATUS_OK && i < l->num_panels; i++)
    code = draw_panel(&l->panel[i], r, m, &g, &map, msg);
  release_map(&g);
  if (code != STATUS_OK)
    return code;
  const double top = l->side_y, x = l->side_x;
  draw_bar(l, &map);
  if (l->num_panels > 1) { /* below three panels there is room beside the bar */
    l->side_y = top;
    l->side_x = x + 520.0;
  }
  for (size_t i = 0; i < res->num_bodies; i++)
    if (res->bodies[i].clear.present)
      draw_history(l, &res->bodies[i], res->num_bodies == 1);
  return STATUS_OK;
}

status picture_growth_draw(const char *path, const rig *r, const mesh *m, const results *res, message *msg)
{
  const bool one = m->grid->kind == GRID_RZ;
  const double bar = BAR_HEIGHT + 170.0, history = (CHART_HEIGHT + 250.0) * (double)res->num_bodies;
  picture_layout l = {0};
  const picture_layout_request want = {.path = path, .title = "How fast the ice grew, and how fast it may grow to stay clear", .subtitle = r->title,
                                       .at = res->last_body >= 0 ? res->bodies[res->last_body].last_position : NULL, .half_way = true,
                                       .water_only = true,
                                       .side_height = one ? bar + history : fmax(bar, history)};
  status code = picture_layout_create(&l, r, m, &want, msg);
  if (code != STATUS_OK)
    return code;
  code = draw_all(&l, r, m, res, msg);
  if (code == STATUS_OK)
    return picture_layout_finish(&l, msg);
  picture_layout_release(&l);
  return code;
}
