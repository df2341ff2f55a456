#include "geometry/mesh_wall.h"

#include <math.h>

#include "geometry/mesh_layers.h"

mesh_wall_side mesh_wall_side_at(const mesh_layer *wall, const double point[3], const double into[3], double step)
{
  double normal[3];
  const double c = shape_distance(wall->cavity, point);
  shape_normal(wall->cavity, point, step, normal);
  const double along = normal[0] * into[0] + normal[1] * into[1] + normal[2] * into[2];
  const double thickness = mesh_layers_thickness(wall, point, step);
  /* The rim lies outside the cavity. A facet cut short across an edge of the cavity lies inside it, whichever way it looks; left out, it
   * would take all of the wall's outside round that edge with it. */
  if (c <= 0 || (along > 0.5 && fabs(c) < fabs(c - thickness))) return MESH_WALL_INNER;
  if (along < -0.5 && fabs(c - thickness) <= fabs(c)) return MESH_WALL_OUTER;
  return MESH_WALL_RIM;
}

void mesh_wall_outer_point(const mesh_layer *wall, const double inner[3], double step, double outer[3])
{
  double normal[3];
  const double way = mesh_layers_thickness(wall, inner, step) - shape_distance(wall->cavity, inner);
  shape_normal(wall->cavity, inner, step, normal);
  for (int a = 0; a < 3; a++) outer[a] = inner[a] + way * normal[a];
}

void mesh_wall_foot(const mesh_layer *wall, const double point[3], double step, double foot[3], double normal[3])
{
  static const double inside = 50; /* steps: little beside a sub-cell */
  shape_normal(wall->cavity, point, step, normal);
  const double way = shape_distance(wall->cavity, point);
  for (int a = 0; a < 3; a++) foot[a] = point[a] - (way + inside * step) * normal[a];
  if (shape_distance(wall->cavity, foot) < -step) return; /* (level with a mouth it would be a rounding that decides) */
  /* Round an edge sharper than a right angle that way leads out of the cavity again: inwards as the edge itself looks. */
  double inward[3], edge[3];
  for (int a = 0; a < 3; a++) edge[a] = point[a] - way * normal[a];
  shape_normal(wall->cavity, edge, step, inward);
  for (int a = 0; a < 3; a++) foot[a] = edge[a] - inside * step * inward[a];
}

bool mesh_wall_bring_into_grid(const grid *g, double point[3], int32_t *across)
{
  if (g->kind == GRID_RZ && point[0] < 0) point[0] = -point[0];
  for (int a = 0; a < 3; a++) {
    if (g->kind == GRID_RZ && a == 1) continue;
    const double low = g->edges[a][0], high = g->edges[a][g->num[a]];
    const bool behind_low = point[a] < low && g->mirror[2 * a], behind_high = point[a] > high && g->mirror[2 * a + 1];
    if (behind_low || behind_high) {
      point[a] = 2 * (behind_low ? low : high) - point[a];
      *across ^= 1 << a;
    }
    if (point[a] < low || point[a] > high) return false;
  }
  return true;
}

bool mesh_wall_look_across(const mesh_cut_request *q, const mesh_layer *wall, const double inner[3], double step, double beyond,
                           mesh_wall_opposite *found)
{
  double p[3] = {inner[0], inner[1], inner[2]};
  for (int turn = 0; turn < 4; turn++) {
    const double way = mesh_layers_thickness(wall, p, step) + beyond - shape_distance(wall->cavity, p);
    if (fabs(way) < 0.25 * beyond) break;
    double normal[3];
    shape_normal(wall->cavity, p, step, normal);
    for (int a = 0; a < 3; a++) p[a] += way * normal[a];
  }
  size_t cell;
  *found = (mesh_wall_opposite){.cell = MESH_NONE, .part = MESH_VOID};
  if (!mesh_wall_bring_into_grid(q->g, p, &found->across) || !grid_find(q->g, p, &cell)) return true;
  found->part = mesh_layers_part(q->layers, q->num_layers, p, step);
  found->cell = (int32_t)cell;
  return found->part < 0 || q->layers[found->part].kind != MESH_THIN_WALL;
}
