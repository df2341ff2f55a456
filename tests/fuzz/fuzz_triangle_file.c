/* Any bytes as a triangle file: the first says which reader, the rest is the file. Must neither crash nor leak; a refusal has a text;
 * what is accepted is a closed surface, whose distances and volumes are numbers. */
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

#include "geometry/shape_triangles.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void ask(const shape *s)
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

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
  triangle_file f;
  triangle_surface surface;
  shape *s = NULL;
  message msg = {""};
  if (size == 0) return 0;
  const char *bytes = (const char *)data + 1;
  status code = data[0] % 2 ? triangle_file_read_obj(&f, "fuzz.obj", bytes, size - 1, &msg)
                            : triangle_file_read_stl(&f, "fuzz.stl", bytes, size - 1, &msg);
  if (code == STATUS_OK) code = triangle_surface_create(&surface, &f, "fuzz", &msg);
  if (code == STATUS_OK) code = shape_triangles(&s, &surface, "fuzz", &msg);
  if (code != STATUS_OK && !msg.text[0]) abort();
  if (code == STATUS_OK) ask(s);
  shape_destroy(&s);
  return 0;
}
