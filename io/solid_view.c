#include "io/solid_view.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/canvas.h"

static double dot(const double a[3], const double b[3]) { return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]; }

/* ------------------------------------------------------------------------------------------------ sight */

void solid_view_look(solid_view *v, double turn, double rise)
{
  const double right[3] = {cos(turn), sin(turn), 0.0}, to[3] = {sin(turn) * cos(rise), -cos(turn) * cos(rise), sin(rise)};
  const double up[3] = {-sin(turn) * sin(rise), cos(turn) * sin(rise), cos(rise)};
  memcpy(v->right, right, sizeof right);
  memcpy(v->up, up, sizeof up);
  memcpy(v->to, to, sizeof to);
}

void solid_view_empty(solid_view *v)
{
  for (int i = 0; i < 2; i++) {
    v->low[i] = INFINITY;
    v->high[i] = -INFINITY;
  }
}

void solid_view_cover(solid_view *v, const double point[3])
{
  const double at[2] = {dot(v->right, point), dot(v->up, point)};
  for (int i = 0; i < 2; i++) {
    v->low[i] = fmin(v->low[i], at[i]);
    v->high[i] = fmax(v->high[i], at[i]);
  }
}

status solid_view_open(solid_view *v, double most_width, double most_height, message *msg)
{
  const double across = fmax(v->high[0] - v->low[0], 1e-9), upward = fmax(v->high[1] - v->low[1], 1e-9);
  v->scale = fmin(most_width / across, most_height / upward);
  v->width = (int)ceil(across * v->scale);
  v->height = (int)ceil(upward * v->scale);
  const size_t num = (size_t)v->width * (size_t)v->height;
  v->depth = malloc(num * sizeof *v->depth);
  v->seen = calloc(num, sizeof *v->seen);
  v->kind = calloc(num, sizeof *v->kind);
  v->glass = calloc(num, sizeof *v->glass);
  if (!v->depth || !v->seen || !v->kind || !v->glass)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a picture", num * (sizeof *v->depth + sizeof *v->seen + sizeof *v->kind + sizeof *v->glass));
  for (size_t i = 0; i < num; i++)
    v->depth[i] = INFINITY;
  return STATUS_OK;
}

void solid_view_release(solid_view *v)
{
  free(v->depth);
  free(v->seen);
  free(v->kind);
  free(v->glass);
  v->depth = v->glass = NULL;
  v->seen = NULL;
  v->kind = NULL;
}

void solid_view_sample(const solid_view *v, const double point[3], double *column, double *row)
{
  *column = (dot(v->right, point) - v->low[0]) * v->scale;
  *row = (v->high[1] - dot(v->up, point)) * v->scale;
}

/* ------------------------------------------------------------------------------------------------ triangles */

/* A corner as it is seen. */
typedef struct { double column, row, depth; } seen_corner;

static seen_corner see(const solid_view *v, const solid_vertex *c)
{
  const double point[3] = {c->place[0], c->place[1], c->place[2]};
  seen_corner s = {.depth = -dot(v->to, point)};
  solid_view_sample(v, point, &s.column, &s.row);
  return s;
}

typedef struct { seen_corner at[3]; double area; int left, right, top, bottom; } seen_triangle;

/* False: seen edge on, or outside. */
static bool see_triangle(const solid_view *v, const solid_vertex corner[3], seen_triangle *t)
{
  double low[2] = {INFINITY, INFINITY}, high[2] = {-INFINITY, -INFINITY};
  for (int i = 0; i < 3; i++) {
    t->at[i] = see(v, &corner[i]);
    low[0] = fmin(low[0], t->at[i].column);
    high[0] = fmax(high[0], t->at[i].column);
    low[1] = fmin(low[1], t->at[i].row);
    high[1] = fmax(high[1], t->at[i].row);
  }
  const seen_corner *a = t->at;
  t->area = (a[1].column - a[0].column) * (a[2].row - a[0].row) - (a[1].row - a[0].row) * (a[2].column - a[0].column);
  t->left = (int)fmax(ceil(low[0]), 0.0);
  t->top = (int)fmax(ceil(low[1]), 0.0);
  t->right = (int)fmin(floor(high[0]), v->width - 1.0);
  t->bottom = (int)fmin(floor(high[1]), v->height - 1.0);
  return t->area != 0.0 && t->left <= t->right && t->top <= t->bottom;
}

/* The shares of the three corners at a sample; false outside. */
static bool shares_at(const seen_triangle *t, int column, int row, double share[3])
{
  const seen_corner *a = t->at;
  share[0] = ((a[1].column - column) * (a[2].row - row) - (a[1].row - row) * (a[2].column - column)) / t->area;
  share[1] = ((a[2].column - column) * (a[0].row - row) - (a[2].row - row) * (a[0].column - column)) / t->area;
  share[2] = 1.0 - share[0] - share[1];
  return share[0] >= -1e-9 && share[1] >= -1e-9 && share[2] >= -1e-9;
}

static double blend(const double share[3], double a, double b, double c) { return share[0] * a + share[1] * b + share[2] * c; }

/* Light from over the left shoulder; a surface has two lit sides. Where no normal is known, that of the triangle. */
static double brightness(const solid_view *v, const solid_vertex c[3], const double share[3])
{
  double n[3], length = 0.0;
  for (int axis = 0; axis < 3; axis++)
    n[axis] = blend(share, c[0].normal[axis], c[1].normal[axis], c[2].normal[axis]);
  length = sqrt(dot(n, n));
  if (length < 0.1) {
    double e[3], f[3];
    for (int axis = 0; axis < 3; axis++) {
      e[axis] = c[1].place[axis] - c[0].place[axis];
      f[axis] = c[2].place[axis] - c[0].place[axis];
    }
    for (int axis = 0; axis < 3; axis++)
      n[axis] = e[(axis + 1) % 3] * f[(axis + 2) % 3] - e[(axis + 2) % 3] * f[(axis + 1) % 3];
    length = sqrt(dot(n, n));
  }
  if (!(length > 0.0))
    return 0.8;
  const double side = dot(n, v->to) < 0.0 ? -1.0 : 1.0; /* the side that is looked at */
  const double facing = side * dot(n, v->to) / length, across = side * dot(n, v->right) / length, upward = side * dot(n, v->up) / length;
  return fmin(0.55 + 0.45 * fmax(0.72 * facing - 0.36 * across + 0.60 * upward, 0.0), 1.0);
}

static void paint_sample(solid_view *v, size_t i, double depth, double bright, const solid_paint *paint)
{
  if (!(depth < (double)v->depth[i]))
    return;
  v->depth[i] = (float)depth;
  v->kind[i] = paint->kind;
  v->seen[i] = canvas_pixel((colour){paint->ink.red * bright, paint->ink.green * bright, paint->ink.blue * bright, 1.0});
}

void solid_view_draw(solid_view *v, const solid_triangles *t, const solid_paint paint[2], const solid_plane *plane)
{
  seen_triangle s;
  double share[3];
  for (size_t first = 0; first + 3 <= t->num; first += 3) {
    const solid_vertex *c = &t->corner[first];
    if (!see_triangle(v, c, &s))
      continue;
    for (int row = s.top; row <= s.bottom; row++)
      for (int column = s.left; column <= s.right; column++) {
        if (!shares_at(&s, column, row, share))
          continue;
        const solid_paint *p = &paint[blend(share, c[0].carried, c[1].carried, c[2].carried) > 0.0 ? 0 : 1];
        const int axis = plane->axis;
        if (!p->shown || (p->cut && plane->side * (blend(share, c[0].place[axis], c[1].place[axis], c[2].place[axis]) - plane->at) < 0.0))
          continue;
        paint_sample(v, (size_t)row * (size_t)v->width + (size_t)column, blend(share, s.at[0].depth, s.at[1].depth, s.at[2].depth),
                     p->flat ? 1.0 : brightness(v, c, share), p);
      }
  }
}

void solid_view_draw_glass(solid_view *v, const solid_triangles *t, double strength)
{
  seen_triangle s;
  double share[3];
  for (size_t first = 0; first + 3 <= t->num; first += 3) {
    const solid_vertex *c = &t->corner[first];
    if (!see_triangle(v, c, &s))
      continue;
    for (int row = s.top; row <= s.bottom; row++)
      for (int column = s.left; column <= s.right; column++) {
        const size_t i = (size_t)row * (size_t)v->width + (size_t)column;
        if (!shares_at(&s, column, row, share) || !(blend(share, s.at[0].depth, s.at[1].depth, s.at[2].depth) < (double)v->depth[i]))
          continue;
        double n[3];
        for (int axis = 0; axis < 3; axis++)
          n[axis] = blend(share, c[0].normal[axis], c[1].normal[axis], c[2].normal[axis]);
        const double along = 1.0 - fmin(fabs(dot(n, v->to)), 1.0);
        v->glass[i] = (float)(1.0 - (1.0 - (double)v->glass[i]) * (1.0 - strength * (0.05 + 0.45 * along * along * along)));
      }
  }
}

/* ------------------------------------------------------------------------------------------------ the picture */

static colour unpacked(uint32_t pixel) { return (colour){(pixel >> 16 & 255) / 255.0, (pixel >> 8 & 255) / 255.0, (pixel & 255) / 255.0, 1.0}; }

/* Another thing begins here, or the same one much farther away: a line between them makes the shape plain. */
static bool is_edge(const solid_view *v, int column, int row)
{
  const size_t i = (size_t)row * (size_t)v->width + (size_t)column;
  const double step = 0.02 * fmax(v->high[0] - v->low[0], v->high[1] - v->low[1]);
  for (int k = 0; k < 2; k++) {
    if (k == 0 ? column + 1 >= v->width : row + 1 >= v->height)
      continue;
    const size_t next = i + (k == 0 ? 1 : (size_t)v->width);
    if (v->kind[i] != v->kind[next] || (v->kind[i] && fabs((double)v->depth[i] - (double)v->depth[next]) > step))
      return true;
  }
  return false;
}

void solid_view_compose(const solid_view *v, colour glass, uint32_t *pixels)
{
  for (int row = 0; row < v->height; row++)
    for (int column = 0; column < v->width; column++) {
      const size_t i = (size_t)row * (size_t)v->width + (size_t)column;
      const double dark = is_edge(v, column, row) ? 0.35 : 1.0, over = 0.8 * (double)v->glass[i];
      const double under = v->kind[i] ? 1.0 : dark < 1.0 ? 0.65 : 0.0; /* an edge against nothing is a line of its own */
      const colour below = v->kind[i] ? unpacked(v->seen[i]) : (colour){0.25, 0.28, 0.32, 1.0};
      const double share = v->kind[i] ? dark : 1.0, alpha = over + under * (1.0 - over);
      if (!(alpha > 0.0)) {
        pixels[i] = 0;
        continue;
      }
      const colour mixed = {(glass.red * over + share * below.red * under * (1.0 - over)) / alpha,
                            (glass.green * over + share * below.green * under * (1.0 - over)) / alpha,
                            (glass.blue * over + share * below.blue * under * (1.0 - over)) / alpha, alpha};
      pixels[i] = canvas_pixel(mixed);
    }
}
