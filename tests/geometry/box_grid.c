#include "box_grid.h"

#include <math.h>
#include <stdlib.h>

static void need(status s)
{
  if (s != STATUS_OK) abort();
}

grid *box_grid_make(grid_kind kind, const size_t num[3], const double low[3], const double high[3], const bool *mirror)
{
  double *edges[3];
  grid *g = NULL;
  for (int a = 0; a < 3; a++) {
    edges[a] = malloc((num[a] + 1) * sizeof(double));
    for (size_t i = 0; i <= num[a]; i++) edges[a][i] = low[a] + (high[a] - low[a]) * (double)i / (double)num[a];
  }
  need(grid_create(&g, kind, num, (const double *const *)edges, mirror, NULL));
  for (int a = 0; a < 3; a++) free(edges[a]);
  return g;
}

shape *box_grid_wall_around(const shape *cavity, double thickness, double z_top)
{
  shape *outer, *inner, *wall;
  need(shape_clone(cavity, &outer, NULL));
  need(shape_clone(cavity, &inner, NULL));
  need(shape_offset(&outer, outer, thickness, NULL));
  need(shape_difference(&wall, outer, inner, NULL));
  if (isfinite(z_top)) {
    shape *below;
    need(shape_half_space(&below, (double[3]){0, 0, z_top}, (double[3]){0, 0, 1}, NULL));
    need(shape_intersection(&wall, wall, below, NULL));
  }
  return wall;
}

double box_grid_area(const mesh *m, int32_t one, int32_t other, int side)
{
  double sum = 0;
  for (size_t i = 0; i < m->num_interfaces; i++)
    if (m->interfaces[i].part[0] == one && m->interfaces[i].part[1] == other) sum += m->interfaces[i].area[side];
  return sum;
}
