#include "geometry/tube_path.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;
enum { A_TURN = 48, A_BEND = 16 }; /* straight pieces of a full turn; of a half circle */

static status take(tube_path *out, size_t num, message *msg)
{
  *out = (tube_path){.num = num, .point = malloc(num * sizeof *out->point)};
  return out->point ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a path", num * sizeof *out->point);
}

status tube_path_create(tube_path *out, const double (*points)[3], size_t num, message *msg)
{
  if (num < 2) return message_set(msg, STATUS_BAD_INPUT, "a path needs at least 2 points, not %zu", num);
  for (size_t i = 0; i < num; i++) {
    if (!(isfinite(points[i][0]) && isfinite(points[i][1]) && isfinite(points[i][2])))
      return message_set(msg, STATUS_BAD_INPUT, "point %zu of the path is not finite", i + 1);
    if (i > 0 && memcmp(points[i], points[i - 1], sizeof points[i]) == 0)
      return message_set(msg, STATUS_BAD_INPUT, "points %zu and %zu of the path are the same; leave one out", i, i + 1);
  }
  const status code = take(out, num, msg);
  if (code == STATUS_OK) memcpy(out->point, points, num * sizeof *points);
  return code;
}

status tube_path_helix(tube_path *out, double radius, double z_low, double height, double turns, message *msg)
{
  if (!(radius > 0 && isfinite(radius) && turns > 0 && turns < 1e6 && height >= 0 && isfinite(height) && isfinite(z_low)))
    return message_set(msg, STATUS_BAD_INPUT, "helix: radius %g m, %g turns, height %g m; all must be above 0", radius, turns, height);
  const size_t pieces = (size_t)ceil(turns * A_TURN);
  const status code = take(out, pieces + 1, msg);
  if (code != STATUS_OK) return code;
  const double half = pi * turns / (double)pieces, wide = radius * half / sin(half); /* the chord is as long as its arc */
  for (size_t i = 0; i <= pieces; i++) {
    const double share = (double)i / (double)pieces, angle = 2 * pi * turns * share;
    out->point[i][0] = wide * cos(angle);
    out->point[i][1] = wide * sin(angle);
    out->point[i][2] = z_low + height * share;
  }
  return STATUS_OK;
}

status tube_path_serpentine(tube_path *out, size_t num_runs, double run_length, double pitch, message *msg)
{
  if (!(num_runs >= 1 && num_runs < 100000 && run_length > 0 && isfinite(run_length) && pitch > 0 && isfinite(pitch)))
    return message_set(msg, STATUS_BAD_INPUT, "serpentine: %zu runs of %g m, %g m apart; all must be above 0", num_runs, run_length, pitch);
  const size_t bend = A_BEND - 1; /* points inside a half circle */
  const status code = take(out, 2 * num_runs + (num_runs - 1) * bend, msg);
  if (code != STATUS_OK) return code;
  const double half = 0.5 * pi / A_BEND, wide = 0.5 * pitch * half / sin(half), y0 = -0.5 * pitch * (double)(num_runs - 1);
  size_t n = 0;
  for (size_t run = 0; run < num_runs; run++) {
    const double way = run % 2 == 0 ? 1 : -1, y = y0 + pitch * (double)run;
    const double ends[2][3] = {{-0.5 * way * run_length, y, 0}, {0.5 * way * run_length, y, 0}};
    memcpy(out->point[n++], ends[0], sizeof ends[0]);
    memcpy(out->point[n++], ends[1], sizeof ends[1]);
    for (size_t i = 1; run + 1 < num_runs && i <= bend; i++) {
      const double angle = pi * ((double)i / A_BEND - 0.5);
      const double p[3] = {way * (0.5 * run_length + wide * cos(angle)), y + 0.5 * pitch + wide * sin(angle), 0};
      memcpy(out->point[n++], p, sizeof p);
    }
  }
  return STATUS_OK;
}

static double apart(const double a[3], const double b[3])
{
  const double d[3] = {b[0] - a[0], b[1] - a[1], b[2] - a[2]};
  return sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2]);
}

double tube_path_length(const tube_path *p)
{
  double length = 0;
  for (size_t i = 0; i + 1 < p->num; i++) length += apart(p->point[i], p->point[i + 1]);
  return length;
}

static double to_piece(const double a[3], const double b[3], const double x[3])
{
  double along = 0, whole = 0, square = 0;
  for (int i = 0; i < 3; i++) {
    along += (x[i] - a[i]) * (b[i] - a[i]);
    whole += (b[i] - a[i]) * (b[i] - a[i]);
  }
  double t = whole > 0 ? along / whole : 0;
  t = t < 0 ? 0 : t > 1 ? 1 : t;
  for (int i = 0; i < 3; i++) square += (x[i] - a[i] - t * (b[i] - a[i])) * (x[i] - a[i] - t * (b[i] - a[i]));
  return sqrt(square);
}

double tube_path_distance(const tube_path *p, const double point[3])
{
  double least = INFINITY;
  for (size_t i = 0; i + 1 < p->num; i++) {
    const double d = to_piece(p->point[i], p->point[i + 1], point);
    if (d < least) least = d;
  }
  return least;
}

double tube_path_clearance(const tube_path *p, double along)
{
  double least = INFINITY, to = 0;
  size_t first_far = 0;
  double far_at = 0; /* length up to first_far */
  for (size_t i = 0; i < p->num; i++) {
    if (i > 0) to += apart(p->point[i - 1], p->point[i]);
    while (first_far + 1 < i && to - (far_at + apart(p->point[first_far], p->point[first_far + 1])) > along) {
      far_at += apart(p->point[first_far], p->point[first_far + 1]);
      first_far++;
    }
    for (size_t j = 0; j + 1 <= first_far; j++) {
      const double d = to_piece(p->point[j], p->point[j + 1], p->point[i]);
      if (d < least) least = d;
    }
  }
  return least;
}

void tube_path_release(tube_path *p)
{
  if (!p) return;
  free(p->point);
  *p = (tube_path){0};
}
