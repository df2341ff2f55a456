#include "tests/bench/p3.h"

#include <stdlib.h>
#include <string.h>

#include "solver/run_layers.h"

static const double EDGE = 0.3, WALL = 0.003; /* m */

static status make_materials(p3 *x, message *msg)
{
  const constant_phases water = {.density = 1000.0, .solid_conductivity = 2.2, .solid_specific_heat = 2050.0, .liquid_conductivity = 0.57,
                                 .liquid_specific_heat = 4200.0, .latent_heat = 3.06e5, .freezing_temperature = 0.0};
  const status code = material_constant_phases(&x->stuff[P3_WATER], "water", &water, msg);
  return code == STATUS_OK ? material_constant(&x->stuff[P3_WALL], "aluminium", 200.0, 2700.0, 900.0, msg) : code;
}

static status make_grid(p3 *x, size_t num_cells, message *msg)
{
  const size_t num[3] = {num_cells, num_cells, num_cells}, inner = num_cells - 2;
  const bool mirror[6] = {false};
  double *edge = malloc((num_cells + 1) * sizeof *edge);
  if (!edge)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the edges of %zu cells", num_cells);
  edge[0] = -WALL;
  for (size_t i = 0; i <= inner; i++)
    edge[i + 1] = EDGE * (double)i / (double)inner;
  edge[num_cells] = EDGE + WALL;
  const double *const edges[3] = {edge, edge, edge};
  const status code = grid_create(&x->g, GRID_XYZ, num, edges, mirror, msg);
  free(edge);
  return code;
}

static status make_shapes(p3 *x, message *msg)
{
  const double low[3] = {0.0, 0.0, 0.0}, high[3] = {EDGE, EDGE, EDGE};
  const double wall_low[3] = {-WALL, -WALL, -WALL}, wall_high[3] = {EDGE + WALL, EDGE + WALL, EDGE + WALL};
  shape *outer = NULL, *inner = NULL;
  status code = shape_box(&outer, wall_low, wall_high, msg);
  if (code == STATUS_OK)
    code = shape_box(&inner, low, high, msg);
  if (code == STATUS_OK)
    code = shape_clone(inner, &x->cavity, msg);
  if (code == STATUS_OK)
    code = shape_clone(inner, &x->region[P3_WATER], msg);
  if (code == STATUS_OK) {
    code = shape_difference(&x->region[P3_WALL], outer, inner, msg);
    outer = inner = NULL;
  }
  shape_destroy(&outer);
  shape_destroy(&inner);
  return code;
}

static void fill_rig(p3 *x)
{
  static const char *const name[P3_PARTS] = {"shell", "water"};
  static const double initial[P3_PARTS] = {0.0, 10.0}, film[P3_RULES] = {60.0, 10.0};
  static const part_kind kind[P3_PARTS] = {PART_SOLID, PART_WATER};
  static const face_choice faces[P3_RULES] = {FACES_ALL, FACES_TOP};
  for (int part = 0; part < P3_PARTS; part++) {
    rig_part *p = &x->parts[part];
    (void)snprintf(p->name, sizeof p->name, "%s", name[part]);
    p->kind = kind[part];
    p->stuff = &x->stuff[part];
    p->initial_temperature = initial[part];
    p->region = x->region[part];
  }
  x->parts[P3_WALL].cavity = x->cavity;
  x->parts[P3_WALL].thickness = WALL;
  x->outside = -25.0;
  for (int rule = 0; rule < P3_RULES; rule++) {
    x->film[rule] = film[rule];
    x->rules[rule] = (surface_rule){.kind = SURFACE_FILM, .part = P3_WALL, .other = MESH_VOID, .faces = faces[rule],
                                    .coefficient = {1, &x->zero_time, &x->film[rule]}, .temperature = {1, &x->zero_time, &x->outside}};
  }
  x->r.num_parts = P3_PARTS;
  x->r.parts = x->parts;
  x->r.num_rules = P3_RULES;
  x->r.rules = x->rules;
  x->r.room.temperature = (schedule){.num = 1, .time = &x->zero_time, .value = &x->outside};
  x->r.mesh_grid = x->g;
}

status p3_create(p3 *x, size_t num_cells, message *msg)
{
  *x = (p3){0};
  status code = make_materials(x, msg);
  if (code == STATUS_OK)
    code = make_grid(x, num_cells, msg);
  if (code == STATUS_OK)
    code = make_shapes(x, msg);
  if (code == STATUS_OK) {
    fill_rig(x);
    code = run_layers_mesh(&x->m, &x->r, msg);
  }
  if (code != STATUS_OK)
    p3_release(x);
  return code;
}

void p3_release(p3 *x)
{
  if (x->m)
    mesh_destroy(&x->m);
  grid_destroy(&x->g);
  for (int part = 0; part < P3_PARTS; part++) {
    shape_destroy(&x->region[part]);
    material_release(&x->stuff[part]);
  }
  shape_destroy(&x->cavity);
}
