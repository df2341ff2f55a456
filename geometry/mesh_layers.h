/* The painted layers as fields: numbers that are below zero inside, linear enough to be cut along.
 *
 * A solid or held layer is a field for each solid that it is the intersection of, near the place: its signed distance. So the edge of
 * the water where its level meets the wall is as sharp as the two are smooth. (As one field, the greater of the two, the edge is cut
 * off: of an L of 80 mm in cells of 3.5 mm 0.2 % of the wet wall was dry and the water's top was 0.3 % too small.) A thin wall is three, and is where all are below zero:
 * -c, c - thickness there (c: distance of the cavity), and the region's distance at the point's foot in the middle of the wall.
 * So a wall is cut as sharply as a solid however thin it is beside the cells. */
#ifndef LASTWATER_MESH_LAYERS_H
#define LASTWATER_MESH_LAYERS_H

#include "geometry/mesh.h"
#include "geometry/simplex.h"

enum { MESH_LAYERS_MOST_SIDES = 6 }; /* of a layer */

typedef struct {
  int32_t part;
  const mesh_layer *layer;
  int first, num;                          /* its fields                                      */
  shape_side side[MESH_LAYERS_MOST_SIDES]; /* [num]; not of a thin wall, which has its three */
} mesh_layers_active;

typedef struct {
  mesh_layers_active active[SIMPLEX_MAX_FIELDS]; /* layers whose surface may run within reach, in painting order */
  int num_active, num_fields;
  int32_t base;                                  /* what lies below them: a part or MESH_VOID                     */
} mesh_layers_near;

/* m, thickness of a thin wall at a point of it; `step` as below. */
double mesh_layers_thickness(const mesh_layer *wall, const double point[3], double step);

/* Layers whose surface may be within `reach`, m, of a point. False when they have more than SIMPLEX_MAX_FIELDS fields. */
bool mesh_layers_find_near(const mesh_layer *layers, int32_t num_layers, const double point[3], double reach, mesh_layers_near *near);

/* Fills field[near->num_fields], m, at a point. `step`, m, is the one for differences of distances. */
void mesh_layers_fields(const mesh_layers_near *near, const double point[3], double step, double *field);

/* The part that holds a point, or MESH_VOID. */
int32_t mesh_layers_part(const mesh_layer *layers, int32_t num_layers, const double point[3], double step);

#endif
