/* What both fuzz targets of triangle files ask of what was read: a refusal has a text; what is accepted is a closed surface, whose distances
 * and volumes are numbers. */
#ifndef LASTWATER_FUZZ_TRIANGLE_SOLID_H
#define LASTWATER_FUZZ_TRIANGLE_SOLID_H

#include <math.h>
#include <stdlib.h>

#include "geometry/shape_triangles.h"

static void triangle_solid_ask(const shape *s)
{
  double low[3], high[3];
  shape_bounds(s, low, high);
  for (int i = 0; i < 8; i++) {
    double p[3];
    for (int a = 0; a < 3; a++) p[a] = i >> a & 1 ? high[a] : 0.3 * low[a] + 0.7 * high[a];
    if (!isfinite(shape_distance(s, p))) abort();
  }
  if (!(shape_volume_below(s, false, INFINITY, 1e-3) >= 0)) abort();
}

/* code, msg: of the reader; what it read is taken over. */
static void triangle_solid_judge(status code, triangle_file *f, message *msg)
{
  triangle_surface surface;
  shape *s = NULL;
  if (code == STATUS_OK) code = triangle_surface_create(&surface, f, "fuzz", msg);
  if (code == STATUS_OK) code = shape_triangles(&s, &surface, "fuzz", msg);
  if (code != STATUS_OK && !msg->text[0]) abort();
  if (code == STATUS_OK) triangle_solid_ask(s);
  shape_destroy(&s);
}

#endif
