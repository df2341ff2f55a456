#include "geometry/triangle_hollow.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define NONE UINT32_MAX
enum { LEVELS = 64, HALVINGS = 30 };
static const double DENT = 0.01; /* of the largest hollow */
static const double TENT = 8;    /* heights of the solid: so steep that what lies below the rim is next to it rather than to the tent */

typedef struct {
  const triangle_surface *s;
  uint32_t *root;  /* [num_triangles] of its piece; NONE: all of it lies above the level */
  double *volume;  /* [num_triangles] of the piece of which this one is the root         */
  bool *above;     /* [num_triangles] some of that piece lies above the level            */
  bool *inward;    /* [num_triangles] of a shell that is turned inward                   */
  double low, high;
} search;

static uint32_t root_of(uint32_t *parent, uint32_t t)
{
  while (parent[t] != t) {
    parent[t] = parent[parent[t]];
    t = parent[t];
  }
  return t;
}

static double height(const triangle_surface *s, uint32_t t, int c)
{
  return s->points[s->corners[t][c]][2];
}

/* Cuts the surface, or its shells that are turned inward, into its pieces below a level. */
static void cut_at(search *q, double level, bool inward)
{
  const triangle_surface *s = q->s;
  for (uint32_t t = 0; t < s->num_triangles; t++) {
    const bool below = q->inward[t] == inward && (height(s, t, 0) < level || height(s, t, 1) < level || height(s, t, 2) < level);
    q->root[t] = below ? t : NONE;
    q->volume[t] = 0;
    q->above[t] = false;
  }
  for (uint32_t half = 0; half < 3 * s->num_triangles; half++) {
    const uint32_t t = half / 3, u = s->across[half] / 3;
    if (q->root[t] == NONE || !(height(s, t, (int)(half % 3)) < level || height(s, t, (int)(half + 1) % 3) < level)) continue;
    const uint32_t a = root_of(q->root, t), b = root_of(q->root, u);
    q->root[a > b ? a : b] = a > b ? b : a;
  }
  for (uint32_t t = 0; t < s->num_triangles; t++) {
    if (q->root[t] == NONE) continue;
    const double *a = s->points[s->corners[t][0]], *b = s->points[s->corners[t][1]], *c = s->points[s->corners[t][2]];
    const double h[3] = {a[2] - level, b[2] - level, c[2] - level};
    const uint32_t r = q->root[t] = root_of(q->root, t);
    q->volume[r] += triangle_surface_below(h, 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])));
    q->above[r] = q->above[r] || h[0] > 0 || h[1] > 0 || h[2] > 0;
  }
}

/* Volume below which a piece is no more than a dent: of those that are open (or not) at the level. 0: there are none. */
static double least_hollow(const search *q, bool open)
{
  double most = 0;
  for (uint32_t t = 0; t < q->s->num_triangles; t++)
    if (q->root[t] == t && q->above[t] == open) most = fmax(most, -q->volume[t]);
  return DENT * most;
}

static bool is_hollow(const search *q, uint32_t t, bool open, double least)
{
  return q->root[t] != NONE && q->above[q->root[t]] == open && least > 0 && -q->volume[q->root[t]] >= least;
}

static double held_below(search *q, double level)
{
  double sum = 0;
  cut_at(q, level, false);
  const double least = least_hollow(q, true);
  for (uint32_t t = 0; t < q->s->num_triangles; t++)
    if (q->root[t] == t && is_hollow(q, t, true, least)) sum -= q->volume[t];
  return sum;
}

/* The level up to which the most is held; false: nothing is at any. */
static bool find_rim(search *q, double *rim)
{
  double most = 0;
  const double step = (q->high - q->low) / LEVELS;
  for (int i = 1; i < LEVELS; i++) {
    const double held = held_below(q, q->low + i * step);
    if (held > most) *rim = q->low + i * step;
    most = fmax(most, held);
  }
  double above = *rim + step;
  for (int i = 0; i < HALVINGS && most > 0; i++) {
    const double middle = 0.5 * (*rim + above), held = held_below(q, middle);
    if (held > most) {
      *rim = middle;
      most = held;
    } else {
      above = middle;
    }
  }
  return most > 0;
}

/* ---- its surface ---------------------------------------------------------------------------------------- */

static uint32_t new_point(triangle_file *f, uint32_t *number, const triangle_surface *s, uint32_t old)
{
  if (number[old] == NONE) {
    memcpy(f->points[f->num_points], s->points[old], sizeof *f->points);
    number[old] = (uint32_t)f->num_points++;
  }
  return number[old];
}

static void add(triangle_file *f, uint32_t a, uint32_t b, uint32_t c)
{
  memcpy(f->corners[f->num_triangles++], (uint32_t[3]){a, b, c}, sizeof *f->corners);
}

/* Over an open hollow: its tip stands over the middle of the edges at which the hollow leaves off above the rim, so that it is as symmetric as they. */
typedef struct {
  double x, y, weight; /* sums over these edges, by their length */
  uint32_t tip;        /* point of the file */
} tent;

/* Where the hollow leaves off at this edge. */
static bool is_border(const search *q, uint32_t t, uint32_t e)
{
  return q->root[q->s->across[3 * t + e] / 3] != q->root[t];
}

static void place_tips(const search *q, bool open, double least, tent *tents, triangle_file *f)
{
  const triangle_surface *s = q->s;
  for (uint32_t t = 0; t < s->num_triangles; t++)
    for (uint32_t e = 0; is_hollow(q, t, open, least) && e < 3; e++) {
      const double *from = s->points[s->corners[t][e]], *to = s->points[s->corners[t][(e + 1) % 3]];
      tent *over = &tents[q->root[t]];
      const double length = is_border(q, t, e) ? hypot(hypot(to[0] - from[0], to[1] - from[1]), to[2] - from[2]) : 0;
      over->x += 0.5 * length * (from[0] + to[0]);
      over->y += 0.5 * length * (from[1] + to[1]);
      over->weight += length;
    }
  for (uint32_t t = 0; t < s->num_triangles; t++)
    if (tents[t].weight > 0) {
      memcpy(f->points[f->num_points], (double[3]){tents[t].x / tents[t].weight, tents[t].y / tents[t].weight, q->high + TENT * (q->high - q->low)},
             sizeof *f->points);
      tents[t].tip = (uint32_t)f->num_points++;
    }
}

/* The faces of the hollows turned over, and a tent over each open one. number: [num_points], NONE; tents: [num_triangles] zeroed: by the root;
 * both scratch. */
static void gather(const search *q, bool open, double least, uint32_t *number, tent *tents, triangle_file *f, size_t *num)
{
  const triangle_surface *s = q->s;
  *num = 0;
  place_tips(q, open, least, tents, f);
  for (uint32_t t = 0; t < s->num_triangles; t++) {
    if (!is_hollow(q, t, open, least)) continue;
    uint32_t c[3];
    for (int i = 0; i < 3; i++) c[i] = new_point(f, number, s, s->corners[t][i]);
    add(f, c[0], c[2], c[1]);
    *num += q->root[t] == t;
    for (uint32_t e = 0; e < 3; e++)
      if (is_border(q, t, e)) add(f, c[e], c[(e + 1) % 3], tents[q->root[t]].tip);
  }
}

static status build(const search *q, bool open, const char *name, triangle_hollow *out, message *msg)
{
  const triangle_surface *s = q->s;
  triangle_file f = {0};
  uint32_t *number = malloc(s->num_points * sizeof *number);
  tent *tents = calloc(s->num_triangles, sizeof *tents);
  f.points = malloc((s->num_points + s->num_triangles) * sizeof *f.points);
  f.corners = malloc(4 * s->num_triangles * sizeof *f.corners);
  status code = number && tents && f.points && f.corners
                    ? STATUS_OK
                    : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the hollow of a solid of triangles", 90 * s->num_triangles);
  if (code == STATUS_OK) {
    memset(number, 0xff, s->num_points * sizeof *number);
    gather(q, open, least_hollow(q, open), number, tents, &f, &out->num);
    code = triangle_surface_create(&out->surface, &f, name, msg);
    out->surface.never_crosses = true; /* the solid's did not; above the rim it does not matter */
  }
  triangle_file_release(&f);
  free(number);
  free(tents);
  return code;
}

static status find(search *q, const char *name, triangle_hollow *out, message *msg)
{
  const triangle_surface *s = q->s;
  q->low = INFINITY;
  q->high = -INFINITY;
  for (uint32_t t = 0; t < s->num_triangles; t++)
    for (int c = 0; c < 3; c++) {
      q->low = fmin(q->low, height(s, t, c));
      q->high = fmax(q->high, height(s, t, c));
    }
  const double over_all = 2 * q->high - q->low;
  cut_at(q, over_all, false);
  for (uint32_t t = 0; t < s->num_triangles; t++) q->inward[t] = q->volume[q->root[t]] < 0;
  out->open = find_rim(q, &out->rim);
  cut_at(q, out->open ? out->rim : over_all, !out->open);
  if (!out->open) out->rim = q->low;
  for (uint32_t t = 0; t < s->num_triangles && !out->open; t++)
    if (q->root[t] != NONE) out->rim = fmax(out->rim, fmax(height(s, t, 0), fmax(height(s, t, 1), height(s, t, 2))));
  if (!(least_hollow(q, out->open) > 0))
    return message_set(msg, STATUS_BAD_INPUT, "%.200s: the solid has no hollow that would hold a liquid, with z up; draw it with its walls, give its hollow with a "
                                              "\"wall\", or turn it", name);
  return build(q, out->open, name, out, msg);
}

status triangle_hollow_find(triangle_hollow *out, const triangle_surface *solid, const char *name, message *msg)
{
  *out = (triangle_hollow){0};
  const size_t num = solid->num_triangles;
  search q = {.s = solid, .root = malloc(num * sizeof *q.root), .volume = malloc(num * sizeof *q.volume), .above = malloc(num * sizeof *q.above),
              .inward = calloc(num, sizeof *q.inward)};
  status code = q.root && q.volume && q.above && q.inward
                    ? find(&q, name, out, msg)
                    : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the hollow of a solid of triangles", num * 14);
  free(q.root);
  free(q.volume);
  free(q.above);
  free(q.inward);
  return code;
}
