#include "geometry/triangle_flats.h"

#include <math.h>
#include <stdlib.h>

static double corner(const triangle_surface *s, size_t t, int c, int axis)
{
  return s->points[s->corners[t][c]][axis];
}

/* Area of a triangle seen along the axis, above 0 where its front looks that way. */
static double seen_along(const triangle_surface *s, size_t t, int axis)
{
  const double *a = s->points[s->corners[t][0]], *b = s->points[s->corners[t][1]], *c = s->points[s->corners[t][2]];
  const int i = (axis + 1) % 3, j = (axis + 2) % 3;
  return 0.5 * ((b[i] - a[i]) * (c[j] - a[j]) - (b[j] - a[j]) * (c[i] - a[i]));
}

static int by_place(const void *a, const void *b)
{
  const triangle_flat *x = a, *y = b;
  if (x->outward != y->outward)
    return x->outward < y->outward ? -1 : 1;
  return (x->at > y->at) - (x->at < y->at);
}

static int by_area(const void *a, const void *b)
{
  const triangle_flat *x = a, *y = b;
  return (x->area < y->area) - (x->area > y->area);
}

/* Faces in one plane, side by side in the sorted list, become one. Returned: their number. */
static size_t join(triangle_flat *all, size_t num, double apart)
{
  size_t kept = 0;
  for (size_t i = 0; i < num; i++) {
    triangle_flat *last = kept > 0 ? &all[kept - 1] : NULL;
    if (last && last->outward == all[i].outward && all[i].at - last->at <= apart)
      last->area += all[i].area;
    else
      all[kept++] = all[i];
  }
  return kept;
}

size_t triangle_flats_find(const triangle_surface *s, int axis, double top, double share, triangle_flat flats[TRIANGLE_FLATS_MOST])
{
  triangle_flat *all = malloc((s->num_triangles + 1) * sizeof *all);
  size_t num = 0, found = 0;
  double whole = 0.0;
  for (size_t t = 0; all && t < s->num_triangles; t++) {
    const double a = corner(s, t, 0, axis), b = corner(s, t, 1, axis), c = corner(s, t, 2, axis), area = seen_along(s, t, axis);
    if (fmax(corner(s, t, 0, 2), fmax(corner(s, t, 1, 2), corner(s, t, 2, 2))) > top + s->step)
      continue;
    whole += hypot(area, hypot(seen_along(s, t, (axis + 1) % 3), seen_along(s, t, (axis + 2) % 3)));
    if (fmax(a, fmax(b, c)) - fmin(a, fmin(b, c)) <= s->step && area != 0.0)
      all[num++] = (triangle_flat){.at = (a + b + c) / 3.0, .outward = area > 0.0 ? 1 : -1, .area = fabs(area)};
  }
  if (num > 0) {
    qsort(all, num, sizeof *all, by_place);
    num = join(all, num, 2.0 * s->step);
    qsort(all, num, sizeof *all, by_area);
  }
  while (found < num && found < TRIANGLE_FLATS_MOST && all[found].area >= share * whole) {
    flats[found] = all[found];
    found++;
  }
  free(all);
  return found;
}
