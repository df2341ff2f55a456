#include "geometry/triangle_polygon.h"

#include <math.h>
#include <string.h>

static const double NO_AREA = 1e-9; /* of the whole: a triangle that is not below has no area to speak of */
static const double FLAT = 1e-4;    /* of the polygon's width */

typedef struct {
  const double (*points)[3];
  double normal[3]; /* twice the area, as a vector (Newell's) */
  double whole;     /* its square                             */
} plane;

/* Twice the area of a triangle, along the normal: whole in all for a flat polygon. */
static double area_of(const plane *q, uint32_t i, uint32_t j, uint32_t k)
{
  const double *a = q->points[i], *b = q->points[j], *c = q->points[k], *n = q->normal;
  const double u[3] = {b[0] - a[0], b[1] - a[1], b[2] - a[2]}, v[3] = {c[0] - a[0], c[1] - a[1], c[2] - a[2]};
  return (u[1] * v[2] - u[2] * v[1]) * n[0] + (u[2] * v[0] - u[0] * v[2]) * n[1] + (u[0] * v[1] - u[1] * v[0]) * n[2];
}

static plane plane_of(const double (*points)[3], const uint32_t *corners, size_t num)
{
  plane q = {.points = points};
  const double *base = points[corners[0]];
  for (size_t i = 0; i < num; i++) {
    const double *p = points[corners[i]], *r = points[corners[(i + 1) % num]];
    for (int a = 0; a < 3; a++) {
      const int b = (a + 1) % 3, c = (a + 2) % 3;
      q.normal[a] += (p[b] - base[b]) * (r[c] - base[c]) - (p[c] - base[c]) * (r[b] - base[b]);
    }
  }
  q.whole = q.normal[0] * q.normal[0] + q.normal[1] * q.normal[1] + q.normal[2] * q.normal[2];
  return q;
}

/* The corner about which a fan covers the polygon once, or num. */
static size_t fan_centre(const plane *q, const uint32_t *corners, size_t num)
{
  for (size_t centre = 0; centre < num; centre++) {
    bool seen = true;
    for (size_t i = 1; seen && i + 1 < num; i++)
      seen = area_of(q, corners[centre], corners[(centre + i) % num], corners[(centre + i + 1) % num]) >= -NO_AREA * q->whole;
    if (seen) return centre;
  }
  return num;
}

static bool is_flat(const plane *q, const uint32_t *corners, size_t num)
{
  const double *base = q->points[corners[0]];
  double width = 0, off = 0;
  for (size_t i = 1; i < num; i++) {
    double along = 0;
    for (int a = 0; a < 3; a++) {
      const double way = q->points[corners[i]][a] - base[a];
      along += way * q->normal[a];
      width = fmax(width, fabs(way));
    }
    off = fmax(off, fabs(along));
  }
  return q->whole > 0 && off <= FLAT * width * sqrt(q->whole);
}

/* The triangle before, at and after a corner lies in the polygon and holds no other of its corners. */
static bool is_ear(const plane *q, const uint32_t *corners, size_t num, size_t at, double least)
{
  const uint32_t a = corners[(at + num - 1) % num], b = corners[at], c = corners[(at + 1) % num];
  if (!(area_of(q, a, b, c) > least)) return false;
  for (size_t i = 0; i < num; i++) {
    const uint32_t p = corners[i];
    if (p == a || p == b || p == c) continue;
    if (area_of(q, a, b, p) >= 0 && area_of(q, b, c, p) >= 0 && area_of(q, c, a, p) >= 0) return false;
  }
  return true;
}

/* Ears with area first: what lies in a row with its neighbours goes only when nothing else is left. */
static size_t find_ear(const plane *q, const uint32_t *corners, size_t num, size_t from)
{
  for (int pass = 0; pass < 2; pass++)
    for (size_t i = 0; i < num; i++)
      if (is_ear(q, corners, num, (from + i) % num, pass == 0 ? NO_AREA * q->whole : -NO_AREA * q->whole)) return (from + i) % num;
  return num;
}

static bool cut_ears(const plane *q, uint32_t *corners, size_t num, uint32_t (*triangles)[3])
{
  size_t at = 0;
  for (size_t done = 0; num > 3; done++) {
    const size_t ear = find_ear(q, corners, num, at);
    if (ear == num) return false;
    memcpy(triangles[done], (uint32_t[3]){corners[(ear + num - 1) % num], corners[ear], corners[(ear + 1) % num]}, sizeof *triangles);
    memmove(corners + ear, corners + ear + 1, (num - ear - 1) * sizeof *corners);
    num--;
    at = ear % num;
    if (num == 3) memcpy(triangles[done + 1], corners, sizeof *triangles);
  }
  return area_of(q, corners[0], corners[1], corners[2]) >= -NO_AREA * q->whole;
}

bool triangle_polygon_cut(const double (*points)[3], uint32_t *corners, size_t num, uint32_t (*triangles)[3])
{
  if (num == 3) {
    memcpy(triangles[0], corners, sizeof *triangles);
    return true;
  }
  const plane q = plane_of(points, corners, num);
  const size_t centre = fan_centre(&q, corners, num);
  if (centre == num) return is_flat(&q, corners, num) && cut_ears(&q, corners, num, triangles);
  for (size_t i = 1; i + 1 < num; i++)
    memcpy(triangles[i - 1], (uint32_t[3]){corners[centre], corners[(centre + i) % num], corners[(centre + i + 1) % num]}, sizeof *triangles);
  return true;
}
