#include "io/picture_ice.h"

#include <math.h>
#include <stdlib.h>

#include "io/ice_scene.h"
#include "io/picture_layout.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const colour GREY = {0.36, 0.39, 0.43, 1.0};
static const double EDGE = 35.0, TOP = 140.0, BETWEEN = 40.0, CAPTION = 44.0, UNDER = 110.0;

bool picture_ice_wanted(const ice_moments_of *of)
{
  const results *res = of->results;
  return of->mesh->grid->kind == GRID_XYZ && res->num_bodies > 0 && res->freeze_time && ice_moments_share(of, ICE_MOMENTS_ALL, ice_moments_end(res)) > 0.0;
}

/* A place named by its mark, also where it lies behind something. */
static void draw_mark(canvas *c, double x, double y, const char *number)
{
  canvas_ring(c, x, y, 13.0, (canvas_pen){.ink = {1.0, 1.0, 1.0, 1.0}, .width = 9.0});
  canvas_ring(c, x, y, 13.0, (canvas_pen){.ink = ice_scene_ink(ICE_SCENE_TRAPPED), .width = 5.0});
  if (!number)
    canvas_disc(c, x, y, 4.0, ice_scene_ink(ICE_SCENE_TRAPPED));
  else
    canvas_text(c, x + 24.0, y - 20.0, (canvas_style){.size = PICTURE_LAYOUT_TEXT, .bold = true, .ink = INK, .halo = {1.0, 1.0, 1.0, 0.9}}, number);
}

static const double *last_water(const results *res)
{
  return res->last_body >= 0 && isfinite(res->bodies[res->last_body].last_position[0]) ? res->bodies[res->last_body].last_position : NULL;
}

/* ------------------------------------------------------------------------------------------------ cut away */

/* Up to three beside each other. */
typedef struct { size_t columns, rows; double width, height; } cut_sheet;

static cut_sheet sheet_of(const ice_scene *s, size_t num)
{
  cut_sheet sheet = {.columns = num < 3 ? num : 3};
  sheet.rows = (num + sheet.columns - 1) / sheet.columns;
  sheet.width = (PICTURE_LAYOUT_WIDTH - 2.0 * EDGE - BETWEEN * (double)(sheet.columns - 1)) / (double)sheet.columns;
  const double tall = (s->view.high[1] - s->view.low[1]) / (s->view.high[0] - s->view.low[0]);
  sheet.height = fmin(sheet.width * tall, 700.0);
  return sheet;
}

static status draw_moment(ice_scene *s, canvas *c, ice_scene_place place, const ice_moment *moment, const solid_plane *plane, message *msg)
{
  char text[256];
  const canvas_style caption = {.size = PICTURE_LAYOUT_SMALL, .bold = true, .ink = INK};
  canvas_fit_text(c, caption, moment->words, place.width, text, sizeof text);
  canvas_text(c, place.x, place.y - 24.0, caption, text);
  status code = ice_scene_open(s, place.width / place.pixels, place.height / place.pixels, msg);
  if (code == STATUS_OK)
    code = ice_scene_draw_cut(s, moment->at, plane, msg);
  if (code == STATUS_OK)
    code = ice_scene_draw_outline(s, 0.6, msg);
  if (code == STATUS_OK)
    code = ice_scene_show(s, c, place, msg);
  double x, y;
  const double *last = last_water(s->of->results);
  if (code == STATUS_OK && last) {
    ice_scene_pixel(s, place, last, &x, &y);
    draw_mark(c, x, y, NULL);
  }
  return code;
}

static void tell_cut(picture_layout *l, const ice_scene *s, const solid_plane *plane)
{
  char text[512], number[PLAIN_WORDS];
  const double *last = last_water(s->of->results);
  picture_layout_swatch(l, ice_scene_ink(ICE_SCENE_WATER), "water: all that is left, also where the ice before it is cut away");
  picture_layout_gap(l, 8.0);
  picture_layout_swatch(l, ice_scene_ink(ICE_SCENE_ICE), "ice");
  picture_layout_gap(l, 8.0);
  axes_number(plane->at * 1000.0, 0, number, sizeof number);
  (void)snprintf(text, sizeof text, "ice, cut at %c = %s mm%s", plane->axis ? 'y' : 'x', number, last ? ", through the last water" : "");
  picture_layout_swatch(l, ice_scene_ink(ICE_SCENE_CUT), text);
  picture_layout_gap(l, 8.0);
  if (!last)
    return;
  plain_words_place(last, false, number);
  (void)snprintf(text, sizeof text, "where the last water will be: %s", number);
  const double y = picture_layout_say(l, 42.0, (canvas_style){.size = PICTURE_LAYOUT_TEXT, .ink = INK}, text);
  canvas_ring(l->canvas, l->side_x + 14.0, y, 11.0, (canvas_pen){.ink = ice_scene_ink(ICE_SCENE_TRAPPED), .width = 5.0});
  canvas_disc(l->canvas, l->side_x + 14.0, y, 3.5, ice_scene_ink(ICE_SCENE_TRAPPED));
}

static status draw_sheet(picture_layout *l, ice_scene *s, const cut_sheet *sheet, const ice_moment *moments, size_t num, const solid_plane *plane, message *msg)
{
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < num; i++) {
    const ice_scene_place place = {.x = EDGE + (sheet->width + BETWEEN) * (double)(i % sheet->columns),
                                   .y = TOP + CAPTION + (CAPTION + sheet->height + UNDER) * (double)(i / sheet->columns),
                                   .width = sheet->width, .height = sheet->height, .pixels = 1.0 / PICTURE_PANEL_SAMPLES};
    code = draw_moment(s, l->canvas, place, &moments[i], plane, msg);
  }
  l->side_y = TOP + (CAPTION + sheet->height + UNDER) * (double)sheet->rows + 10.0;
  tell_cut(l, s, plane);
  return code;
}

status picture_ice_draw_cut(const char *path, const ice_moments_of *of, const ice_moment *moments, size_t num, message *msg)
{
  ice_scene s;
  status code = ice_scene_create(&s, of, msg);
  if (code != STATUS_OK)
    return code;
  const double middle[3] = {0.5 * (s.low[0] + s.high[0]), 0.5 * (s.low[1] + s.high[1]), 0.5 * (s.low[2] + s.high[2])}, *last = last_water(of->results);
  double turn;
  const solid_plane plane = ice_scene_cut(&s, last ? last : middle, &turn);
  ice_scene_look(&s, turn);
  const cut_sheet sheet = sheet_of(&s, num);
  picture_layout l;
  code = picture_layout_plain(&l, path, "Ice cut away, and the water left in it", of->rig->title,
                              TOP + (CAPTION + sheet.height + UNDER) * (double)sheet.rows + 220.0, msg);
  if (code == STATUS_OK) {
    code = draw_sheet(&l, &s, &sheet, moments, num, &plane, msg);
    if (code == STATUS_OK)
      code = picture_layout_finish(&l, msg);
    else
      picture_layout_release(&l);
  }
  ice_scene_release(&s);
  return code;
}

/* ------------------------------------------------------------------------------------------------ pockets */

/* What is drawn: the water of one pocket from a moment on. */
typedef struct { size_t body, pocket; double after; bool trapped, whole, left; } drawn_pocket; /* whole: the last of its body, never cut off from more */
enum { MOST_POCKETS = 12 };

static double mass_of(const results *res, const drawn_pocket *p)
{
  const body_result *b = &res->bodies[p->body];
  return p->pocket < b->num_pockets ? b->pockets[p->pocket].mass : b->mass;
}

/* The latest first. */
static void take_pocket(const results *res, drawn_pocket out[MOST_POCKETS], size_t *num, drawn_pocket one)
{
  size_t place = *num < MOST_POCKETS ? (*num)++ : MOST_POCKETS - 1;
  if (place == MOST_POCKETS - 1 && *num == MOST_POCKETS && out[place].after > one.after && mass_of(res, &out[place]) > mass_of(res, &one))
    return;
  for (; place > 0 && out[place - 1].after < one.after; place--)
    out[place] = out[place - 1];
  out[place] = one;
}

/* Of each body: its pockets, or without any its last twentieth, or what is left at the end. */
static size_t find_pockets(const ice_moments_of *of, drawn_pocket out[MOST_POCKETS], size_t *num_all)
{
  const results *res = of->results;
  size_t num = 0;
  *num_all = 0;
  for (size_t body = 0; body < res->num_bodies; body++) {
    const body_result *b = &res->bodies[body];
    bool any = false;
    for (size_t i = 0; b->complete && i < b->num_pockets; i++) {
      const double alone = ice_moments_alone(b, i);
      if (!(alone > ice_moments_start(of->rig, res)))
        continue;
      take_pocket(res, out, &num, (drawn_pocket){.body = body, .pocket = i, .after = alone, .trapped = b->pockets[i].trapped});
      any = true;
      ++*num_all;
    }
    if (any)
      continue;
    const double after = b->complete ? ice_moments_time(of, (int)body, 0.95) : ice_moments_end(res);
    take_pocket(res, out, &num, (drawn_pocket){.body = body, .after = after, .whole = true, .left = !b->complete, .trapped = b->complete && b->last_trapped});
    ++*num_all;
  }
  return num;
}

static void tell_pocket(picture_layout *l, const ice_moments_of *of, const drawn_pocket *p, size_t number)
{
  const results *res = of->results;
  const body_result *b = &res->bodies[p->body];
  const pocket *found = p->pocket < b->num_pockets ? &b->pockets[p->pocket] : NULL;
  const double start = ice_moments_start(of->rig, res);
  char text[512], a[PLAIN_WORDS];
  if (p->left) {
    plain_words_value(100.0 * (1.0 - b->fraction), 2, "%", a);
    (void)snprintf(text, sizeof text, "%s: still liquid at the end, %s", b->name, a);
    picture_layout_swatch(l, ice_scene_ink(ICE_SCENE_WATER), text);
    picture_layout_gap(l, 14.0);
    return;
  }
  (void)snprintf(text, sizeof text, "%zu  %s%s", number, res->num_bodies > 1 ? b->name : p->trapped ? "trapped water" : p->whole ? "last water" : "a pocket",
                 res->num_bodies > 1 && p->trapped ? ", trapped" : "");
  picture_layout_swatch(l, p->trapped ? ice_scene_ink(ICE_SCENE_TRAPPED) : ice_scene_ink(ICE_SCENE_WATER), text);
  const canvas_style words = {.size = PICTURE_LAYOUT_SMALL, .ink = GREY};
  plain_words_duration(p->after - start, a);
  (void)snprintf(text, sizeof text, p->whole ? "its last 5 %%, after %s" : "cut off after %s", a);
  (void)picture_layout_say(l, 42.0, words, text);
  if (found && isfinite(found->last_at)) {
    plain_words_duration(found->last_at - start, a);
    (void)snprintf(text, sizeof text, "solid after %s", a);
    (void)picture_layout_say(l, 42.0, words, text);
    (void)picture_layout_say(l, 42.0, words, "its last water at");
    plain_words_place(found->position, false, a);
    (void)picture_layout_say(l, 42.0, words, a);
  }
  picture_layout_gap(l, 14.0);
}

static status draw_pockets(picture_layout *l, ice_scene *s, ice_scene_place place, const drawn_pocket *pockets, size_t num, size_t num_all, message *msg)
{
  enum { TOLD = 6 };
  const results *res = s->of->results;
  status code = ice_scene_open(s, place.width / place.pixels, place.height / place.pixels, msg);
  for (size_t i = 0; code == STATUS_OK && i < num; i++)
    code = ice_scene_draw_pocket(s, pockets[i].body, (int32_t)pockets[i].pocket, pockets[i].after, pockets[i].trapped ? ice_scene_ink(ICE_SCENE_TRAPPED) : ice_scene_ink(ICE_SCENE_WATER), msg);
  if (code == STATUS_OK)
    code = ice_scene_draw_outline(s, 1.0, msg);
  if (code == STATUS_OK)
    code = ice_scene_show(s, l->canvas, place, msg);
  for (size_t i = 0; code == STATUS_OK && i < num; i++) {
    const body_result *b = &res->bodies[pockets[i].body];
    char number[32];
    double x, y;
    if (i < TOLD)
      tell_pocket(l, s->of, &pockets[i], i + 1);
    if (pockets[i].left || pockets[i].pocket >= b->num_pockets || !isfinite(b->pockets[pockets[i].pocket].position[0]))
      continue;
    (void)snprintf(number, sizeof number, "%zu", i + 1);
    ice_scene_pixel(s, place, b->pockets[pockets[i].pocket].position, &x, &y);
    draw_mark(l->canvas, x, y, number);
  }
  if (code == STATUS_OK && num_all > TOLD) {
    char text[96];
    (void)snprintf(text, sizeof text, "and %zu more: summary.json has all", num_all - TOLD);
    (void)picture_layout_say(l, 42.0, (canvas_style){.size = PICTURE_LAYOUT_SMALL, .ink = GREY}, text);
  }
  return code;
}

status picture_ice_draw_pockets(const char *path, const ice_moments_of *of, message *msg)
{
  const double side = 480.0, most_height = 900.0;
  drawn_pocket pockets[MOST_POCKETS];
  size_t num_all;
  const size_t num = find_pockets(of, pockets, &num_all);
  ice_scene s;
  status code = ice_scene_create(&s, of, msg);
  if (code != STATUS_OK)
    return code;
  const double width = PICTURE_LAYOUT_WIDTH - 2.0 * EDGE - side - BETWEEN;
  const double tall = (s.view.high[1] - s.view.low[1]) / (s.view.high[0] - s.view.low[0]), height = fmin(width * tall, most_height);
  const ice_scene_place place = {.x = EDGE, .y = TOP, .width = width, .height = height, .pixels = 1.0 / PICTURE_PANEL_SAMPLES};
  picture_layout l;
  code = picture_layout_plain(&l, path, "The last pockets of water inside their mould", of->rig->title,
                              TOP + fmax(height + UNDER, 175.0 * (double)(num < 6 ? num : 6) + 80.0) + EDGE, msg);
  if (code == STATUS_OK) {
    l.side_x = EDGE + width + BETWEEN;
    l.side_y = TOP;
    l.side_width = side;
    code = draw_pockets(&l, &s, place, pockets, num, num_all, msg);
    if (code == STATUS_OK)
      code = picture_layout_finish(&l, msg);
    else
      picture_layout_release(&l);
  }
  ice_scene_release(&s);
  return code;
}
