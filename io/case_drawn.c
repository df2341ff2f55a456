#include "io/case_drawn.h"

#include <math.h>
#include <stdlib.h>

#include "geometry/shape.h"

enum { MOST_FACES = 2000, MOST_LOOKS = 200 };
static const double LEAST_STEP = 0.02, MOST = 20.0; /* of the guess */
static const double ALIKE = 0.1, SHARE = 0.9;

typedef struct {
  double thickness, area;
} place;

/* From a point on the inner face outward to where the solid ends; INFINITY: farther than MOST. */
static double thickness_at(const shape *solid, const double from[3], const double outward[3], double guess)
{
  double way = 0.0, step = LEAST_STEP * guess, before = 0.0;
  for (int i = 0; i < MOST_LOOKS && way < MOST * guess; i++) {
    const double next = way + step, at[3] = {from[0] + next * outward[0], from[1] + next * outward[1], from[2] + next * outward[2]};
    const double d = shape_distance(solid, at);
    if (d >= 0.0)
      return i == 0 ? 0.0 : way + step * before / (before - d);
    way = next;
    before = d;
    step = fmax(-d, LEAST_STEP * guess);
  }
  return INFINITY;
}

static int by_thickness(const void *a, const void *b)
{
  const place *x = a, *y = b;
  return (x->thickness > y->thickness) - (x->thickness < y->thickness);
}

/* Middle of a face, its outward normal and its area; false for one that reaches above the rim or has no area. */
static bool face_of(const triangle_surface *s, size_t t, double rim, double middle[3], double normal[3], double *area)
{
  const double *a = s->points[s->corners[t][0]], *b = s->points[s->corners[t][1]], *c = s->points[s->corners[t][2]];
  const double size = 1e-9 * fabs(rim) + s->step;
  if (a[2] > rim + size || b[2] > rim + size || c[2] > rim + size)
    return false;
  for (int i = 0; i < 3; i++) {
    const int j = (i + 1) % 3, k = (i + 2) % 3;
    middle[i] = (a[i] + b[i] + c[i]) / 3.0;
    normal[i] = (b[j] - a[j]) * (c[k] - a[k]) - (b[k] - a[k]) * (c[j] - a[j]);
  }
  const double length = sqrt(normal[0] * normal[0] + normal[1] * normal[1] + normal[2] * normal[2]);
  for (int i = 0; i < 3; i++)
    normal[i] /= length;
  *area = 0.5 * length;
  return length > 0.0;
}

double case_drawn_wall(const shape *solid, const triangle_hollow *hollow, double guess)
{
  const triangle_surface *s = &hollow->surface;
  const size_t every = s->num_triangles / MOST_FACES + 1;
  place *places = malloc((s->num_triangles / every + 1) * sizeof *places);
  double whole = 0.0, sum = 0.0, median = 0.0, alike = 0.0;
  size_t num = 0;
  for (size_t t = 0; places && t < s->num_triangles; t += every) {
    double middle[3], normal[3], area;
    if (!face_of(s, t, hollow->rim, middle, normal, &area))
      continue;
    places[num++] = (place){thickness_at(solid, middle, normal, guess), area};
    whole += area;
  }
  if (num > 0)
    qsort(places, num, sizeof *places, by_thickness);
  for (size_t i = 0; i < num && sum < 0.5 * whole; i++) {
    sum += places[i].area;
    median = places[i].thickness;
  }
  for (size_t i = 0; i < num; i++)
    alike += fabs(places[i].thickness - median) <= ALIKE * median ? places[i].area : 0.0;
  free(places);
  return isfinite(median) && alike >= SHARE * whole ? median : 0.0;
}
