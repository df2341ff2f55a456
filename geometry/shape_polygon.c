#include "geometry/shape_polygon.h"

#include <math.h>
#include <stdbool.h>

/* Twice the signed area of the triangle a b c. */
static double turn(const double a[2], const double b[2], const double c[2])
{
  return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
}

static bool within_box(const double a[2], const double b[2], const double p[2])
{
  return p[0] >= fmin(a[0], b[0]) && p[0] <= fmax(a[0], b[0]) && p[1] >= fmin(a[1], b[1]) && p[1] <= fmax(a[1], b[1]);
}

/* Closed segments a b and c d have a point in common. */
static bool meet(const double a[2], const double b[2], const double c[2], const double d[2])
{
  const double t1 = turn(a, b, c), t2 = turn(a, b, d), t3 = turn(c, d, a), t4 = turn(c, d, b);
  if (((t1 > 0 && t2 < 0) || (t1 < 0 && t2 > 0)) && ((t3 > 0 && t4 < 0) || (t3 < 0 && t4 > 0))) return true;
  return (t1 == 0 && within_box(a, b, c)) || (t2 == 0 && within_box(a, b, d)) || (t3 == 0 && within_box(c, d, a)) ||
         (t4 == 0 && within_box(c, d, b));
}

/* Edges that follow each other share one point; they may not run back over each other. */
static bool folds_back(const double a[2], const double b[2], const double c[2])
{
  const double along = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1]);
  return turn(a, b, c) == 0 && along < 0;
}

typedef struct {
  const char *what, *first, *second; /* as messages call the polygon and its two coordinates */
} wording;
static const wording of_profile = {"profile", "r", "z"}, of_outline = {"outline", "x", "y"};

static status check_edges(const wording *w, const double (*rz)[2], size_t n, message *msg)
{
  for (size_t i = 0; i < n; i++) {
    const double *a = rz[i], *b = rz[(i + 1) % n];
    if (a[0] == b[0] && a[1] == b[1]) /* first: such an edge would seem to cross its neighbours */
      return message_set(msg, STATUS_BAD_INPUT, "%s points %zu and %zu are the same (%s %g m, %s %g m); leave one out", w->what, i,
                         (i + 1) % n, w->first, a[0], w->second, a[1]);
  }
  for (size_t i = 0; i < n; i++) {
    const double *a = rz[i], *b = rz[(i + 1) % n];
    for (size_t j = i + 1; j < n; j++) {
      const double *c = rz[j], *d = rz[(j + 1) % n];
      const bool next = j == i + 1, before = (j + 1) % n == i;
      bool bad = !next && !before && meet(a, b, c, d);
      if (next) bad = folds_back(a, b, d);
      if (before && !bad) bad = folds_back(c, a, b);
      if (bad)
        return message_set(msg, STATUS_BAD_INPUT,
                           "%s crosses itself: edge %zu (%s %g, %s %g to %s %g, %s %g m) meets edge %zu (%s %g, %s %g to %s %g, %s %g m)", w->what, i,
                           w->first, a[0], w->second, a[1], w->first, b[0], w->second, b[1], j, w->first, c[0], w->second, c[1], w->first, d[0],
                           w->second, d[1]);
    }
  }
  return STATUS_OK;
}

static status check(const wording *w, const double (*rz)[2], size_t num_points, message *msg)
{
  if (!rz || num_points < 3)
    return message_set(msg, STATUS_BAD_INPUT, "%s %s needs at least 3 points, not %zu", w == &of_outline ? "an" : "a", w->what, num_points);
  double bulge = 0, size = 0; /* 0: all on one line; the two halves of a figure of eight have signs and would cancel */
  for (size_t i = 0; i < num_points; i++) {
    const double *a = rz[i], *b = rz[(i + 1) % num_points];
    if (!isfinite(a[0]) || !isfinite(a[1]))
      return message_set(msg, STATUS_BAD_INPUT, "%s point %zu is not a finite number", w->what, i);
    if (w == &of_profile && a[0] < 0) return message_set(msg, STATUS_BAD_INPUT, "profile point %zu has r = %g m; a radius cannot be below 0", i, a[0]);
    bulge += fabs(turn(rz[0], a, b));
    size = fmax(size, fmax(fabs(a[0] - rz[0][0]), fabs(a[1] - rz[0][1])));
  }
  if (!(bulge > 1e-12 * size * size))
    return message_set(msg, STATUS_BAD_INPUT, "the %s encloses no area (its %zu points lie on a line)", w->what, num_points);
  return check_edges(w, rz, num_points, msg);
}

status shape_polygon_check(const double (*rz)[2], size_t num_points, message *msg)
{
  return check(&of_profile, rz, num_points, msg);
}

status shape_polygon_check_plane(const double (*xy)[2], size_t num_points, message *msg)
{
  return check(&of_outline, xy, num_points, msg);
}

double shape_polygon_distance(const double (*rz)[2], size_t num_points, double r, double z)
{
  double nearest = INFINITY;
  bool inside = false;
  for (size_t i = 0, j = num_points - 1; i < num_points; j = i++) {
    const double *a = rz[j], *b = rz[i];
    if ((a[1] > z) != (b[1] > z) && r < (b[0] - a[0]) * (z - a[1]) / (b[1] - a[1]) + a[0]) inside = !inside;
    if (a[0] == 0 && b[0] == 0) continue; /* on the axis: the other side is the same solid */
    const double er = b[0] - a[0], ez = b[1] - a[1];
    double t = ((r - a[0]) * er + (z - a[1]) * ez) / (er * er + ez * ez);
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    const double dr = r - a[0] - t * er, dz = z - a[1] - t * ez, d2 = dr * dr + dz * dz;
    if (d2 < nearest) nearest = d2;
  }
  /* A point on the axis counts as beside it: an edge along r = 0 must not make it outside. */
  if (r == 0) {
    inside = false;
    for (size_t i = 0, j = num_points - 1; i < num_points; j = i++) {
      const double *a = rz[j], *b = rz[i];
      if ((a[1] > z) != (b[1] > z) && (a[0] > 0 || b[0] > 0)) inside = !inside;
    }
  }
  return inside ? -sqrt(nearest) : sqrt(nearest);
}

double shape_polygon_plane_distance(const double (*xy)[2], size_t num_points, double x, double y)
{
  double nearest = INFINITY;
  bool inside = false;
  for (size_t i = 0, j = num_points - 1; i < num_points; j = i++) {
    const double *a = xy[j], *b = xy[i];
    const double ex = b[0] - a[0], ey = b[1] - a[1];
    if ((a[1] > y) != (b[1] > y) && x < ex * (y - a[1]) / ey + a[0]) inside = !inside;
    double t = ((x - a[0]) * ex + (y - a[1]) * ey) / (ex * ex + ey * ey);
    t = t < 0 ? 0 : t > 1 ? 1 : t;
    const double dx = x - a[0] - t * ex, dy = y - a[1] - t * ey, d2 = dx * dx + dy * dy;
    if (d2 < nearest) nearest = d2;
  }
  return inside ? -sqrt(nearest) : sqrt(nearest);
}
