/* A small rig of whole cells for tests of the heat balance: grid, parts painted cell by cell, mesh, network, integrator. */
#ifndef LASTWATER_HEAT_SCENE_H
#define LASTWATER_HEAT_SCENE_H

#include "solver/heat_step.h"

enum { SCENE_PARTS = 6, SCENE_RULES = 12, SCENE_VALUES = 64 };

typedef struct {
  rig r;
  grid *g;
  mesh *m;
  network *net;
  heat_step *step;
  thermal_state state;
  double *rate, *path_rate; /* room for an evaluation */
  int32_t *part_of;         /* [cells] */
  mesh_layer_kind kind[SCENE_PARTS];
  rig_part parts[SCENE_PARTS];
  material stuff[SCENE_PARTS];
  surface_rule rules[SCENE_RULES];
  rig_bath baths[1];
  double values[SCENE_VALUES];
  size_t num_values;
  double stored_at_start;
} heat_scene;

/* Even cells; every cell starts as MESH_VOID; room without film. Mirrors: NULL none. Ends the test when anything fails, as all do. */
void heat_scene_init(heat_scene *s, grid_kind kind, const size_t num[3], const double high[3], const bool mirror[6]);
void heat_scene_release(heat_scene *s);

/* The next part; takes the material over (NULL: held). Returns its index. */
int heat_scene_part(heat_scene *s, mesh_layer_kind kind, const material *stuff, double temperature);
void heat_scene_paint(heat_scene *s, int part, size_t axis, size_t from, size_t to); /* cells from <= index < to */
schedule heat_scene_constant(heat_scene *s, double value);
/* temperature NAN: the room's */
void heat_scene_rule(heat_scene *s, surface_kind kind, int part, int other, face_choice faces, double coefficient, double temperature);

/* Mesh (when the caller has not set m) and network; the state at the parts' initial temperatures. */
void heat_scene_open(heat_scene *s);
void heat_scene_step(heat_scene *s, integrator_kind integrator, double tolerance);
void heat_scene_advance(heat_scene *s, double most);
void heat_scene_march(heat_scene *s, double time);
/* Refresh and rate at the state. */
void heat_scene_rates(heat_scene *s);
/* (sum of paths - change of stored heat) / heat moved, since heat_scene_open. */
double heat_scene_residual(const heat_scene *s);
/* Liquid share by volume of a part. */
double heat_scene_liquid(const heat_scene *s, int part);
double heat_scene_temperature(const heat_scene *s, size_t node);

/* rho 1000, ice 2.2 W/mK 2050 J/kgK, water 0.58 W/mK 4200 J/kgK, 334 kJ/kg, freezing at 0 degC: inputs of the exact checks. */
material heat_scene_water(void);
material heat_scene_solid(double conductivity, double volumetric_heat_capacity);

#endif
