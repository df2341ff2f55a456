#include "tests/bench/p2.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Lengths, m. */
static const double WATER_RADIUS = 0.22, WALL = 0.003, BRINE_RADIUS = 0.40, FOAM = 0.05, BELOW = 0.05, WATER_HEIGHT = 0.55;

/* ------------------------------------------------------------------------------------------- materials */

static status make_water(material *out, message *msg)
{
  const constant_phases p = {.density = 1000.0, .solid_conductivity = 2.2, .solid_specific_heat = 2050.0, .liquid_conductivity = 0.57,
                             .liquid_specific_heat = 4200.0, .latent_heat = 3.06e5, .freezing_temperature = 0.0};
  return material_constant_phases(out, "water", &p, msg);
}

/* Liquid share 12 / |T| from -12 down to -50 degC, the rest freezes at -50; k of the mush by volume shares. */
static status make_brine(material *out, message *msg)
{
  enum { MUSH = 381, ROWS = MUSH + 4 };
  static double T[ROWS], k[ROWS], c[ROWS], f[ROWS];
  size_t n = 0;
  T[n] = -60.0, k[n] = 1.5, c[n] = 2.0e6, f[n++] = 0.0;
  T[n] = -50.0, k[n] = 1.5, c[n] = 2.0e6, f[n++] = 0.0;
  for (size_t i = 0; i < MUSH; i++, n++) {
    T[n] = -50.0 + 0.1 * (double)i;
    f[n] = i + 1 < MUSH ? 12.0 / -T[n] : 1.0;
    k[n] = 5.0 * f[n] + 1.5 * (1.0 - f[n]);
    c[n] = 3.3e6;
  }
  T[n] = 40.0, k[n] = 5.0, c[n] = 3.3e6, f[n++] = 1.0;
  const material_table table = {.num_rows = n, .temperature = T, .conductivity = k, .volumetric_heat_capacity = c,
                                .liquid_fraction = f, .latent_heat = 2.5e8, .density = 1000.0};
  return material_from_table(out, "brine", &table, msg);
}

static status make_materials(p2 *x, message *msg)
{
  status code = make_water(&x->stuff[P2_WATER], msg);
  if (code == STATUS_OK)
    code = make_brine(&x->stuff[P2_BRINE], msg);
  if (code == STATUS_OK)
    code = material_constant(&x->stuff[P2_WALL], "aluminium", 200.0, 2700.0, 900.0, msg);
  if (code == STATUS_OK)
    code = material_constant(&x->stuff[P2_FOAM], "foam", 0.03, 30.0, 1400.0, msg);
  return code;
}

/* ------------------------------------------------------------------------------------------- grid and shapes */

/* Appends `num` even cells up to `to`. */
static size_t divide(double *edges, size_t at, double to, size_t num)
{
  const double from = edges[at];
  for (size_t i = 1; i <= num; i++)
    edges[at + i] = from + (to - from) * (double)i / (double)num;
  return at + num;
}

static size_t cells(double length, double spacing)
{
  const size_t num = (size_t)(length / spacing + 0.5);
  return num > 0 ? num : 1;
}

static status make_grid(p2 *x, double h, message *msg)
{
  static double r[4096], z[4096];
  r[0] = z[0] = 0.0;
  size_t nr = divide(r, 0, WATER_RADIUS, cells(WATER_RADIUS, h));
  nr = divide(r, nr, WATER_RADIUS + WALL, cells(WALL, h));
  nr = divide(r, nr, BRINE_RADIUS, cells(BRINE_RADIUS - WATER_RADIUS - WALL, h));
  nr = divide(r, nr, BRINE_RADIUS + FOAM, cells(FOAM, h));
  size_t nz = divide(z, 0, FOAM, cells(FOAM, h));
  nz = divide(z, nz, FOAM + BELOW, cells(BELOW, h));
  nz = divide(z, nz, FOAM + BELOW + WALL, cells(WALL, h));
  nz = divide(z, nz, FOAM + BELOW + WALL + WATER_HEIGHT, cells(WATER_HEIGHT, h));
  nz = divide(z, nz, 2.0 * FOAM + BELOW + WALL + WATER_HEIGHT, cells(FOAM, h));
  const size_t num[3] = {nr, 1, nz};
  const double *const edges[3] = {r, NULL, z};
  const bool mirror[6] = {false};
  return grid_create(&x->g, GRID_RZ, num, edges, mirror, msg);
}

static status make_shapes(p2 *x, message *msg)
{
  const double floor = FOAM + BELOW, top = floor + WALL + WATER_HEIGHT;
  shape *outer = NULL, *inner = NULL;
  status code = shape_cylinder(&x->region[P2_FOAM], BRINE_RADIUS + FOAM, 0.0, top + FOAM, msg);
  if (code == STATUS_OK)
    code = shape_cylinder(&x->region[P2_BRINE], BRINE_RADIUS, FOAM, top, msg);
  if (code == STATUS_OK)
    code = shape_cylinder(&outer, WATER_RADIUS + WALL, floor, top, msg);
  if (code == STATUS_OK)
    code = shape_cylinder(&inner, WATER_RADIUS, floor + WALL, top + FOAM, msg); /* open above */
  if (code == STATUS_OK)
    code = shape_clone(inner, &x->cavity, msg);
  if (code == STATUS_OK) {
    code = shape_difference(&x->region[P2_WALL], outer, inner, msg);
    outer = inner = NULL;
  }
  shape_destroy(&outer);
  shape_destroy(&inner);
  if (code == STATUS_OK)
    code = shape_cylinder(&x->region[P2_WATER], WATER_RADIUS, floor + WALL, top, msg);
  return code;
}

/* ------------------------------------------------------------------------------------------- all of it */

static void fill_rig(p2 *x)
{
  static const char *const name[P2_PARTS] = {"foam", "brine", "pot", "water"};
  static const double initial[P2_PARTS] = {5.0, 0.0, 0.0, 10.0};
  static const part_kind kind[P2_PARTS] = {PART_SOLID, PART_BRINE, PART_SOLID, PART_WATER};
  for (int part = 0; part < P2_PARTS; part++) {
    rig_part *p = &x->parts[part];
    (void)snprintf(p->name, sizeof p->name, "%s", name[part]);
    p->kind = kind[part];
    p->stuff = &x->stuff[part];
    p->initial_temperature = initial[part];
    p->region = x->region[part];
  }
  x->parts[P2_WALL].cavity = x->cavity;
  x->parts[P2_WALL].thickness = WALL;
  for (int ring = 0; ring < P2_RINGS; ring++) {
    x->rings[ring][0] = 0.26;
    x->rings[ring][1] = 0.12 + 0.03 * ring;
  }
  x->coolant = -25.0;
  x->room = 25.0;
  x->coil = (rig_coil){.name = "coil", .num_rings = P2_RINGS, .rings = x->rings, .tube_outer = 0.0127, .outer_film = 1000.0,
                       .spread = true, .temperature = {1, &x->zero_time, &x->coolant}};
  x->r.num_parts = P2_PARTS;
  x->r.parts = x->parts;
  x->r.num_coils = 1;
  x->r.coils = &x->coil;
  x->r.room.film = 8.0;
  x->r.room.temperature = (schedule){.num = 1, .time = &x->zero_time, .value = &x->room};
  x->r.mesh_grid = x->g;
}

status p2_create(p2 *x, double spacing, bool wall_nodes, message *msg)
{
  *x = (p2){0};
  status code = make_materials(x, msg);
  if (code == STATUS_OK)
    code = make_grid(x, spacing, msg);
  if (code == STATUS_OK)
    code = make_shapes(x, msg);
  if (code == STATUS_OK) {
    fill_rig(x);
    mesh_layer layers[P2_PARTS];
    for (int part = 0; part < P2_PARTS; part++)
      layers[part] = (mesh_layer){.kind = MESH_SOLID, .region = x->region[part]};
    if (!wall_nodes)
      layers[P2_WALL] = (mesh_layer){.kind = MESH_THIN_WALL, .region = x->region[P2_WALL], .cavity = x->cavity, .thickness = WALL};
    code = mesh_create(&x->m, x->g, layers, P2_PARTS, 0, msg);
  }
  if (code != STATUS_OK)
    p2_release(x);
  return code;
}

void p2_release(p2 *x)
{
  if (x->m)
    mesh_destroy(&x->m);
  grid_destroy(&x->g);
  for (int part = 0; part < P2_PARTS; part++) {
    shape_destroy(&x->region[part]);
    material_release(&x->stuff[part]);
  }
  shape_destroy(&x->cavity);
}
