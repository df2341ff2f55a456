#include "geometry/mesh_layers.h"

#include <math.h>

double mesh_layers_thickness(const mesh_layer *wall, const double point[3], double step)
{
  const mesh_floor *f = &wall->floor;
  if (!(f->thickness > 0)) return wall->thickness;
  double n[3];
  shape_normal(wall->cavity, point, step, n);
  const double along = n[0] * f->normal[0] + n[1] * f->normal[1] + n[2] * f->normal[2];
  const double share = (along - f->side_cosine) / (1 - f->side_cosine);
  return wall->thickness + (f->thickness - wall->thickness) * (share < 0 ? 0 : share > 1 ? 1 : share);
}

/* Moves a point at a distance from the cavity along its normals to where the distance is `wanted`; a corner may need more than one step. */
static void move_to(const shape *cavity, double wanted, double step, double distance, double point[3])
{
  for (int turn = 0; turn < 3; turn++) {
    const double way = wanted - (turn == 0 ? distance : shape_distance(cavity, point));
    if (fabs(way) < 0.05 * wanted) return;
    double normal[3];
    shape_normal(cavity, point, step, normal);
    for (int a = 0; a < 3; a++) point[a] += way * normal[a];
  }
}

static void wall_fields(const mesh_layer *wall, const double point[3], double step, double field[3])
{
  const double c = shape_distance(wall->cavity, point);
  const double thickness = mesh_layers_thickness(wall, point, step);
  double foot[3] = {point[0], point[1], point[2]};
  move_to(wall->cavity, 0.5 * thickness, step, c, foot);
  field[0] = -c;
  field[1] = c - thickness;
  field[2] = shape_distance(wall->region, foot);
}

static double side_distance(const shape_side *side, const double point[3])
{
  const double d = shape_distance(side->of, point);
  return side->turned ? -d : d;
}

/* The sides of a solid's region that may run within `reach` of a point near its surface. */
static void take_sides(mesh_layers_active *l, const double point[3], double reach)
{
  shape_side all[MESH_LAYERS_MOST_SIDES];
  const size_t num = shape_sides(l->layer->region, MESH_LAYERS_MOST_SIDES, all);
  for (size_t i = 0; i < num; i++)
    if (side_distance(&all[i], point) >= -reach) l->side[l->num++] = all[i];
}

bool mesh_layers_find_near(const mesh_layer *layers, int32_t num_layers, const double point[3], double reach, mesh_layers_near *near)
{
  int32_t kept[SIMPLEX_MAX_FIELDS];
  int num = 0, fields = 0;
  near->base = MESH_VOID;
  for (int32_t part = num_layers - 1; part >= 0; part--) {
    const mesh_layer *l = &layers[part];
    const double d = shape_distance(l->region, point);
    if (d > reach) continue;
    if (l->kind != MESH_THIN_WALL && d < -reach) {
      near->base = part;
      break;
    }
    if (l->kind == MESH_THIN_WALL) {
      const double c = shape_distance(l->cavity, point);
      if (c < -reach || c > fmax(l->thickness, l->floor.thickness) + reach) continue;
    }
    if (num == SIMPLEX_MAX_FIELDS) return false;
    kept[num++] = part;
  }
  near->num_active = num;
  for (int a = 0; a < num; a++) {
    mesh_layers_active *l = &near->active[a];
    *l = (mesh_layers_active){.part = kept[num - 1 - a], .layer = &layers[kept[num - 1 - a]], .first = fields};
    if (l->layer->kind == MESH_THIN_WALL) l->num = 3;
    else take_sides(l, point, reach);
    fields += l->num;
    if (fields > SIMPLEX_MAX_FIELDS) return false;
  }
  near->num_fields = fields;
  return true;
}

void mesh_layers_fields(const mesh_layers_near *near, const double point[3], double step, double *field)
{
  for (int a = 0; a < near->num_active; a++) {
    const mesh_layers_active *l = &near->active[a];
    if (l->layer->kind == MESH_THIN_WALL) wall_fields(l->layer, point, step, field + l->first);
    else
      for (int q = 0; q < l->num; q++) field[l->first + q] = side_distance(&l->side[q], point);
  }
}

int32_t mesh_layers_part(const mesh_layer *layers, int32_t num_layers, const double point[3], double step)
{
  for (int32_t part = num_layers - 1; part >= 0; part--) {
    const mesh_layer *l = &layers[part];
    if (l->kind != MESH_THIN_WALL) {
      if (shape_distance(l->region, point) <= 0) return part;
      continue;
    }
    const double c = shape_distance(l->cavity, point);
    double field[3];
    if (c < 0 || c > fmax(l->thickness, l->floor.thickness)) continue;
    wall_fields(l, point, step, field);
    if (field[1] <= 0 && field[2] <= 0) return part;
  }
  return MESH_VOID;
}
