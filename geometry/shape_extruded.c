#include "geometry/shape_extruded.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/shape_class.h"
#include "geometry/shape_polygon.h"

/* value: z_low, z_high */
static double extruded_distance(const shape *s, const double p[3])
{
  const double across = shape_polygon_plane_distance((const double(*)[2])s->points, s->num_points, p[0], p[1]);
  const double below = s->value[0] - p[2], above = p[2] - s->value[1], along = below > above ? below : above;
  if (across > 0 && along > 0) return sqrt(across * across + along * along);
  return across > along ? across : along;
}

static double extruded_volume(const shape *s, double grown, double z_level)
{
  double twice = 0;
  if (grown > 0) return NAN;
  for (size_t i = 0; i < s->num_points; i++) {
    const double *a = s->points[i], *b = s->points[(i + 1) % s->num_points];
    twice += (a[0] - s->points[0][0]) * (b[1] - s->points[0][1]) - (b[0] - s->points[0][0]) * (a[1] - s->points[0][1]);
  }
  return shape_prism_volume(0.5 * fabs(twice), 0, s->value[0], s->value[1], 0, z_level);
}

static void extruded_bounds(const shape *s, double low[3], double high[3])
{
  for (int a = 0; a < 2; a++) {
    low[a] = INFINITY;
    high[a] = -INFINITY;
    for (size_t i = 0; i < s->num_points; i++) {
      low[a] = fmin(low[a], s->points[i][a]);
      high[a] = fmax(high[a], s->points[i][a]);
    }
  }
  low[2] = s->value[0];
  high[2] = s->value[1];
}

status shape_extruded(shape **out, const double (*xy)[2], size_t num_points, double z_low, double z_high, message *msg)
{
  const status code = shape_polygon_check_plane(xy, num_points, msg);
  if (code != STATUS_OK) return code;
  if (!(isfinite(z_low) && isfinite(z_high) && z_high > z_low))
    return message_set(msg, STATUS_BAD_INPUT, "outline drawn up from z = %g to %g m; its top must be above its bottom", z_low, z_high);
  double(*points)[2] = malloc(num_points * sizeof *points);
  if (!points) return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for an outline", num_points * sizeof *points);
  memcpy(points, xy, num_points * sizeof *points);
  return shape_put(out,
                   (shape){.distance = extruded_distance,
                           .bounds = extruded_bounds,
                           .volume_below = extruded_volume,
                           .points = points,
                           .num_points = num_points,
                           .value = {z_low, z_high}},
                   msg);
}
