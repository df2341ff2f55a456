#include "solver/run_layers.h"

#include <math.h>
#include <stdlib.h>

#include "geometry/mesh_images.h"

bool run_layers_wall_is_thin(const rig *r, const rig_part *part)
{
  const double two_cells = 2.0 * grid_smallest_spacing(r->mesh_grid);
  return part->cavity && part->thickness > 0.0 && (part->thickness < two_cells || (part->floor.thickness > 0.0 && part->floor.thickness < two_cells));
}

/* Along a wall that loses heat with U to both sides, differences of temperature die away over sqrt(k e / U). Half of that, with as large a U as thin
 * ice or stirred brine gives, is taken for even. Where all heat comes along the wall it shows: aluminium pans of 3 mm chilled at the floor alone are
 * solid 0.2 % (a round one of 12 cm) and 0.5 % (a box of 96 x 72 mm) later than with a patch for every cell, which gives the time of the wall meshed
 * within 0.1 %; with a quarter instead of half 0.1 % later. */
static double even_length(const rig_part *part)
{
  static const double MOST = 500.0; /* W/(m2 K) */
  const phase_curve *c = &part->stuff->curve;
  const double conductivity = phase_curve_potential_at(c, 0.5) - phase_curve_potential_at(c, -0.5);
  return 0.5 * sqrt(conductivity * part->thickness / MOST);
}

static mesh_layer layer_of(const rig *r, const rig_part *part)
{
  mesh_layer layer = {.kind = part->kind == PART_HELD ? MESH_HELD : MESH_SOLID, .region = part->region};
  if (part->kind != PART_HELD && run_layers_wall_is_thin(r, part)) {
    layer.kind = MESH_THIN_WALL;
    layer.cavity = part->cavity;
    layer.thickness = part->thickness;
    layer.floor = part->floor;
    layer.even_length = even_length(part);
  }
  return layer;
}

/* A liquid that no cell holds is a mistake in the case, not a small number. */
static status liquids_have_volume(const mesh *m, const rig *r, message *msg)
{
  for (size_t part = 0; part < r->num_parts; part++) {
    const rig_part *p = &r->parts[part];
    if ((p->kind == PART_WATER || p->kind == PART_BRINE) && !(m->part_volume[part] > 0.0))
      return message_set(msg, STATUS_BAD_INPUT,
                         "%s '%s' has no volume left in the grid: other parts cover it. Move them, or list it after them",
                         p->kind == PART_WATER ? "water" : "bath", p->name);
  }
  return STATUS_OK;
}

status run_layers_mesh(mesh **out, const rig *r, message *msg)
{
  mesh_layer *layers = calloc(r->num_parts + 1, sizeof *layers);
  if (!layers)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the layers of the rig",
                       (r->num_parts + 1) * sizeof *layers);
  for (size_t part = 0; part < r->num_parts; part++)
    layers[part] = layer_of(r, &r->parts[part]);
  mesh *m = NULL;
  status code = mesh_create(&m, r->mesh_grid, layers, (int32_t)r->num_parts, 0, msg);
  free(layers);
  if (code == STATUS_OK)
    code = liquids_have_volume(m, r, msg);
  if (code == STATUS_OK) {
    if (r->counts_images)
      mesh_images_count(m);
    *out = m;
  } else
    mesh_destroy(&m);
  return code;
}
