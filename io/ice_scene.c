#include "io/ice_scene.h"

#include <math.h>
#include <stdlib.h>

#include "io/axes.h"
#include "io/plain_words.h"
#include "io/picture_layout.h"

static const colour INK = {0.13, 0.15, 0.18, 1.0};
static const double RISE = 0.436; /* rad, 25 degrees */

colour ice_scene_ink(ice_scene_thing thing)
{
  static const colour inks[] = {{0.93, 0.96, 0.99, 1.0}, {0.70, 0.83, 0.93, 1.0}, {0.16, 0.42, 0.78, 1.0}, {0.84, 0.37, 0.00, 1.0}, {0.24, 0.33, 0.43, 1.0}};
  return inks[thing];
}

enum { KIND_ICE = 1, KIND_CUT, KIND_WATER, KIND_TRAPPED };

/* ------------------------------------------------------------------------------------------------ making */

void ice_scene_look(ice_scene *s, double turn)
{
  solid_view_look(&s->view, turn, RISE);
  solid_view_empty(&s->view);
  for (int corner = 0; corner < 8; corner++)
    solid_view_cover(&s->view, (double[3]){corner & 1 ? s->high[0] : s->low[0], corner & 2 ? s->high[1] : s->low[1],
                                           corner & 4 ? s->high[2] : s->low[2]});
  const double rim = 0.02 * fmax(s->view.high[0] - s->view.low[0], s->view.high[1] - s->view.low[1]);
  for (int i = 0; i < 2; i++) {
    s->view.low[i] -= rim;
    s->view.high[i] += rim;
  }
}

status ice_scene_create(ice_scene *out, const ice_moments_of *of, message *msg)
{
  ice_scene s = {.of = of, .field = calloc(of->results->num_bodies, sizeof *s.field)};
  if (!s.field)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture", of->results->num_bodies * sizeof *s.field);
  status code = STATUS_OK;
  for (int axis = 0; axis < 3; axis++) {
    s.low[axis] = INFINITY;
    s.high[axis] = -INFINITY;
  }
  for (; code == STATUS_OK && s.num < of->results->num_bodies; s.num++) {
    const ice_field *f = &s.field[s.num];
    code = ice_field_create(&s.field[s.num], of, s.num, msg);
    for (int axis = 0; code == STATUS_OK && axis < 3; axis++) {
      s.low[axis] = fmin(s.low[axis], f->low[axis]);
      s.high[axis] = fmax(s.high[axis], f->high[axis]);
    }
  }
  if (code != STATUS_OK)
    ice_scene_release(&s);
  else
    ice_scene_look(&s, 0.6);
  *out = s;
  return code;
}

void ice_scene_release(ice_scene *s)
{
  for (size_t i = 0; i < s->num; i++)
    ice_field_release(&s->field[i]);
  free(s->field);
  solid_surface_release(&s->triangles);
  solid_view_release(&s->view);
  *s = (ice_scene){0};
}

solid_plane ice_scene_cut(const ice_scene *s, const double point[3], double *turn)
{
  double off[2], size[2];
  for (int axis = 0; axis < 2; axis++) {
    size[axis] = s->high[axis] - s->low[axis];
    off[axis] = (point[axis] - 0.5 * (s->low[axis] + s->high[axis])) / size[axis];
  }
  const bool alike = fabs(fabs(off[0]) - fabs(off[1])) < 0.15;
  const int axis = alike ? size[1] > size[0] ? 0 : 1 : fabs(off[0]) < fabs(off[1]) ? 0 : 1;
  const double side = off[axis] > 0.02 ? -1.0 : 1.0; /* the larger part; the one who looks stands on the other side */
  const double quarter = 0.5 * acos(-1.0);
  *turn = 0.45 + (axis == 1 ? (side > 0.0 ? 0.0 : 2.0 * quarter) : side > 0.0 ? -quarter : quarter);
  return (solid_plane){.axis = axis, .at = point[axis], .side = side};
}

status ice_scene_open(ice_scene *s, double most_width, double most_height, message *msg)
{
  solid_view_release(&s->view);
  return solid_view_open(&s->view, most_width, most_height, msg);
}

/* ------------------------------------------------------------------------------------------------ surfaces */

static const solid_plane NO_PLANE = {0, 0.0, 1.0};

static status draw_surface(ice_scene *s, const ice_field *f, const solid_surface_fields *fields, const solid_paint paint[2], const solid_plane *plane,
                           message *msg)
{
  status code = STATUS_OK;
  for (size_t k = 0; code == STATUS_OK && k + 1 < f->lattice.num[2]; k++) {
    code = solid_surface_layer(&s->triangles, &f->lattice, fields, k, msg);
    if (code == STATUS_OK)
      solid_view_draw(&s->view, &s->triangles, paint, plane);
  }
  return code;
}

/* Its water at a time: what of the outer surface is liquid, and the front. `level` passes `after` at the front. */
static status draw_water(ice_scene *s, const ice_field *f, const float *level, double after, colour ink, uint8_t kind, message *msg)
{
  const solid_paint paint[2] = {{.shown = true, .ink = ink, .kind = kind}, {.shown = false}};
  const solid_surface_fields outer = {.level = f->inside, .carried = level, .less = (float)after};
  const solid_surface_fields front = {.level = level, .at = (float)after, .carried = f->inside};
  const status code = draw_surface(s, f, &outer, paint, &NO_PLANE, msg);
  return code == STATUS_OK ? draw_surface(s, f, &front, paint, &NO_PLANE, msg) : code;
}

/* ------------------------------------------------------------------------------------------------ the cut face */

enum { FINER = 5 }; /* pieces that each step of the lattice is divided into on the cut face */

typedef struct { const ice_field *f; const solid_plane *plane; size_t below; double share; int across; float at; double spread; } cut_face;

/* Above 0 where there is ice at a fractional place of the lattice on the plane. */
static float ice_at(const cut_face *c, double u, double w)
{
  const size_t *num = c->f->lattice.num;
  const size_t i = u < (double)num[c->across] - 1.0 ? (size_t)u : num[c->across] - 2, k = w < (double)num[2] - 1.0 ? (size_t)w : num[2] - 2;
  const double du = u - (double)i, dw = w - (double)k;
  double inside = 0.0, late = 0.0;
  for (size_t corner = 0; corner < 8; corner++) {
    size_t at[3];
    at[c->across] = i + (corner & 1);
    at[c->plane->axis] = c->below + (corner >> 1 & 1);
    at[2] = k + (corner >> 2);
    const double weight = (corner & 1 ? du : 1.0 - du) * (corner & 2 ? c->share : 1.0 - c->share) * (corner & 4 ? dw : 1.0 - dw);
    const size_t point = (at[2] * num[1] + at[1]) * num[0] + at[0];
    inside += weight * (double)c->f->inside[point];
    late += weight * (double)c->f->late[point];
  }
  return (float)fmin(2.0 * inside, ((double)c->at - late) / c->spread);
}

static double along(const solid_lattice *l, int axis, double place)
{
  const size_t i = place < (double)l->num[axis] - 1.0 ? (size_t)place : l->num[axis] - 2;
  return l->at[axis][i] + (place - (double)i) * (l->at[axis][i + 1] - l->at[axis][i]);
}

static solid_vertex face_point(const cut_face *c, double u, double w)
{
  solid_vertex v = {.carried = ice_at(c, u, w)};
  v.place[c->across] = (float)along(&c->f->lattice, c->across, u);
  v.place[c->plane->axis] = (float)c->plane->at;
  v.place[2] = (float)along(&c->f->lattice, 2, w);
  v.normal[c->plane->axis] = (float)-c->plane->side;
  return v;
}

static status face_quads(ice_scene *s, const cut_face *c, message *msg)
{
  const size_t *num = c->f->lattice.num;
  status code = STATUS_OK;
  s->triangles.num = 0;
  for (size_t w = 0; code == STATUS_OK && w < FINER * (num[2] - 1); w++)
    for (size_t u = 0; code == STATUS_OK && u < FINER * (num[c->across] - 1); u++) {
      const double u0 = (double)u / FINER, u1 = (double)(u + 1) / FINER, w0 = (double)w / FINER, w1 = (double)(w + 1) / FINER;
      const solid_vertex v[4] = {face_point(c, u0, w0), face_point(c, u1, w0), face_point(c, u1, w1), face_point(c, u0, w1)};
      if (!(v[0].carried > 0.0f || v[1].carried > 0.0f || v[2].carried > 0.0f || v[3].carried > 0.0f))
        continue;
      code = solid_surface_add(&s->triangles, (const solid_vertex[3]){v[0], v[1], v[2]}, msg);
      if (code == STATUS_OK)
        code = solid_surface_add(&s->triangles, (const solid_vertex[3]){v[0], v[2], v[3]}, msg);
    }
  return code;
}

static status draw_face(ice_scene *s, const ice_field *f, double at, const solid_plane *plane, message *msg)
{
  const double *points = f->lattice.at[plane->axis];
  const size_t num = f->lattice.num[plane->axis];
  if (!(plane->at > points[0] && plane->at < points[num - 1]))
    return STATUS_OK; /* this body is not cut */
  size_t below = 0;
  while (below + 2 < num && points[below + 1] <= plane->at)
    below++;
  const cut_face c = {.f = f, .plane = plane, .below = below, .share = (plane->at - points[below]) / (points[below + 1] - points[below]),
                      .across = 1 - plane->axis, .at = (float)at,
                      /* of the order of how much later the next point freezes, so that neither of the two limits of the ice outweighs the other */
                      .spread = fmax(ice_moments_end(s->of->results) / (double)num, 1.0)};
  const solid_paint paint[2] = {{.shown = true, .ink = ice_scene_ink(ICE_SCENE_CUT), .kind = KIND_CUT, .flat = true}, {.shown = false}};
  const status code = face_quads(s, &c, msg);
  if (code == STATUS_OK)
    solid_view_draw(&s->view, &s->triangles, paint, &NO_PLANE);
  return code;
}

/* ------------------------------------------------------------------------------------------------ scenes */

status ice_scene_draw_cut(ice_scene *s, double at, const solid_plane *plane, message *msg)
{
  const solid_paint ice[2] = {{.shown = false}, {.shown = true, .ink = ice_scene_ink(ICE_SCENE_ICE), .kind = KIND_ICE, .cut = true}};
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < s->num; i++) {
    const ice_field *f = &s->field[i];
    code = draw_surface(s, f, &(solid_surface_fields){.level = f->inside, .carried = f->late, .less = (float)at}, ice, plane, msg);
    if (code == STATUS_OK)
      code = draw_face(s, f, at, plane, msg);
    if (code == STATUS_OK)
      code = draw_water(s, f, f->late, at, ice_scene_ink(ICE_SCENE_WATER), KIND_WATER, msg);
  }
  return code;
}

status ice_scene_draw_pocket(ice_scene *s, size_t body, int32_t which, double after, colour ink, message *msg)
{
  const ice_field *f = &s->field[body];
  float *level = malloc(ice_field_num(f) * sizeof *level);
  if (!level)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a pocket", ice_field_num(f) * sizeof *level);
  ice_field_of_pocket(f, which, after, level);
  const status code = draw_water(s, f, level, 0.0, ink, (uint8_t)(KIND_TRAPPED + which % 100), msg);
  free(level);
  return code;
}

status ice_scene_draw_outline(ice_scene *s, double strength, message *msg)
{
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < s->num; i++) {
    const ice_field *f = &s->field[i];
    const solid_surface_fields fields = {.level = f->inside, .carried = f->inside};
    for (size_t k = 0; code == STATUS_OK && k + 1 < f->lattice.num[2]; k++) {
      code = solid_surface_layer(&s->triangles, &f->lattice, &fields, k, msg);
      if (code == STATUS_OK)
        solid_view_draw_glass(&s->view, &s->triangles, strength);
    }
  }
  return code;
}

/* ------------------------------------------------------------------------------------------------ onto the canvas */

void ice_scene_pixel(const ice_scene *s, ice_scene_place place, const double point[3], double *x, double *y)
{
  solid_view_sample(&s->view, point, x, y);
  *x = place.x + *x * place.pixels;
  *y = place.y + *y * place.pixels;
}

/* A bar as long as a round length across the sight. */
static void draw_bar(const ice_scene *s, canvas *c, ice_scene_place place, double y)
{
  const double whole = (s->view.high[0] - s->view.low[0]) * 1000.0;
  const axes_ticks t = axes_ticks_between(0.0, 0.4 * whole, 3);
  const double length = t.num > 1 ? axes_tick(&t, 1) : 0.4 * whole, pixels = length / 1000.0 * s->view.scale * place.pixels;
  char text[PLAIN_WORDS];
  plain_words_length(length / 1000.0, text);
  const double right = place.x + place.width, left = right - pixels;
  const canvas_pen pen = {.ink = INK, .width = 3.0};
  canvas_line(c, left, y, right, y, pen);
  canvas_line(c, left, y - 8.0, left, y + 8.0, pen);
  canvas_line(c, right, y - 8.0, right, y + 8.0, pen);
  canvas_text(c, 0.5 * (left + right), y - 22.0, (canvas_style){.size = PICTURE_LAYOUT_SMALL, .ink = INK, .align = CANVAS_CENTRE}, text);
}

static void draw_axes(const ice_scene *s, canvas *c, double x, double y)
{
  static const char *const names[3] = {"x", "y", "z"};
  for (int axis = 0; axis < 3; axis++) {
    const double ex = x + 44.0 * s->view.right[axis], ey = y - 44.0 * s->view.up[axis];
    canvas_line(c, x, y, ex, ey, (canvas_pen){.ink = INK, .width = 2.5});
    canvas_text(c, x + 60.0 * s->view.right[axis], y - 60.0 * s->view.up[axis], (canvas_style){.size = PICTURE_LAYOUT_SMALL, .ink = INK, .align = CANVAS_CENTRE},
                names[axis]);
  }
}

status ice_scene_show(ice_scene *s, canvas *c, ice_scene_place place, message *msg)
{
  const solid_view *v = &s->view;
  uint32_t *pixels = malloc((size_t)v->width * (size_t)v->height * sizeof *pixels);
  if (!pixels)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture", (size_t)v->width * (size_t)v->height * sizeof *pixels);
  solid_view_compose(v, ice_scene_ink(ICE_SCENE_GLASS), pixels);
  canvas_image(c, pixels, v->width, v->height, place.x, place.y, v->width * place.pixels, v->height * place.pixels);
  free(pixels);
  const double under = place.y + place.height + 46.0;
  draw_axes(s, c, place.x + 56.0, under);
  draw_bar(s, c, place, under + 8.0);
  return STATUS_OK;
}
