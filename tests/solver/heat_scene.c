#include "tests/solver/heat_scene.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "tests/solver/aligned_mesh.h"

static void expect(status code, const message *msg)
{
  ck_assert_msg(code == STATUS_OK, "status %d: %s", (int)code, msg->text);
}

void heat_scene_init(heat_scene *s, grid_kind kind, const size_t num[3], const double high[3], const bool mirror[6])
{
  *s = (heat_scene){0};
  const bool none[6] = {false};
  double *edges[3];
  for (int axis = 0; axis < 3; axis++)
    edges[axis] = aligned_mesh_edges(0.0, high[axis], num[axis]);
  const double *const given[3] = {edges[0], edges[1], edges[2]};
  message msg = {""};
  expect(grid_create(&s->g, kind, num, given, mirror ? mirror : none, &msg), &msg);
  for (int axis = 0; axis < 3; axis++)
    free(edges[axis]);
  const size_t cells = grid_num_cells(s->g);
  s->part_of = malloc(cells * sizeof *s->part_of);
  ck_assert_ptr_nonnull(s->part_of);
  for (size_t cell = 0; cell < cells; cell++)
    s->part_of[cell] = MESH_VOID;
  s->r.parts = s->parts;
  s->r.rules = s->rules;
  s->r.baths = s->baths;
  s->r.mesh_grid = s->g;
}

void heat_scene_release(heat_scene *s)
{
  heat_step_destroy(&s->step);
  network_destroy(&s->net);
  if (s->m)
    mesh_destroy(&s->m);
  grid_destroy(&s->g);
  for (int part = 0; part < SCENE_PARTS; part++)
    material_release(&s->stuff[part]);
  free(s->part_of);
  free(s->state.enthalpy);
  free(s->state.path_heat);
  free(s->rate);
  free(s->path_rate);
}

int heat_scene_part(heat_scene *s, mesh_layer_kind kind, const material *stuff, double temperature)
{
  const int part = (int)s->r.num_parts++;
  ck_assert_int_lt(part, SCENE_PARTS);
  rig_part *p = &s->parts[part];
  (void)snprintf(p->name, sizeof p->name, "part %d", part);
  s->kind[part] = kind;
  p->kind = kind == MESH_HELD ? PART_HELD : PART_SOLID;
  p->initial_temperature = temperature;
  if (stuff) {
    s->stuff[part] = *stuff;
    p->stuff = &s->stuff[part];
  } else {
    p->held = heat_scene_constant(s, temperature);
  }
  return part;
}

void heat_scene_paint(heat_scene *s, int part, size_t axis, size_t from, size_t to)
{
  for (size_t cell = 0; cell < grid_num_cells(s->g); cell++) {
    size_t at[3];
    grid_cell_indices(s->g, cell, at);
    if (at[axis] >= from && at[axis] < to)
      s->part_of[cell] = part;
  }
}

schedule heat_scene_constant(heat_scene *s, double value)
{
  ck_assert_uint_lt(s->num_values + 2, SCENE_VALUES);
  s->values[s->num_values] = 0.0;
  s->values[s->num_values + 1] = value;
  s->num_values += 2;
  return (schedule){.num = 1, .time = &s->values[s->num_values - 2], .value = &s->values[s->num_values - 1]};
}

void heat_scene_rule(heat_scene *s, surface_kind kind, int part, int other, face_choice faces, double coefficient, double temperature)
{
  ck_assert_uint_lt(s->r.num_rules, SCENE_RULES);
  surface_rule *rule = &s->rules[s->r.num_rules++];
  *rule = (surface_rule){.kind = kind, .part = part, .other = other, .faces = faces};
  rule->coefficient = heat_scene_constant(s, coefficient);
  if (!isnan(temperature))
    rule->temperature = heat_scene_constant(s, temperature);
}

void heat_scene_open(heat_scene *s)
{
  if (!s->m)
    s->m = aligned_mesh_create(s->g, s->part_of, s->kind, (int32_t)s->r.num_parts);
  ck_assert_ptr_nonnull(s->m);
  message msg = {""};
  expect(network_create(&s->net, s->m, &s->r, &msg), &msg);
  s->state.enthalpy = calloc(network_num_nodes(s->net) + 1, sizeof(double));
  s->state.path_heat = calloc(network_num_paths(s->net) + 1, sizeof(double));
  s->rate = calloc(network_num_nodes(s->net) + 1, sizeof(double));
  s->path_rate = calloc(network_num_paths(s->net) + 1, sizeof(double));
  ck_assert(s->state.enthalpy && s->state.path_heat && s->rate && s->path_rate);
  network_initial(s->net, s->state.enthalpy);
  s->stored_at_start = network_stored_heat(s->net, s->state.enthalpy);
}

void heat_scene_step(heat_scene *s, integrator_kind integrator, double tolerance)
{
  message msg = {""};
  const heat_step_options options = {.integrator = integrator, .tolerance = tolerance, .latent_scale = 3.34e8};
  expect(heat_step_create(&s->step, s->net, &options, &msg), &msg);
}

void heat_scene_advance(heat_scene *s, double most)
{
  message msg = {""};
  expect(heat_step_advance(s->step, &s->state, most, &msg), &msg);
}

void heat_scene_march(heat_scene *s, double time)
{
  while (s->state.time < time)
    heat_scene_advance(s, time - s->state.time);
}

void heat_scene_rates(heat_scene *s)
{
  message msg = {""};
  double bound = 0.0;
  expect(network_refresh(s->net, s->state.enthalpy, s->state.time, 1, &bound, &msg), &msg);
  expect(network_rate(s->net, s->state.enthalpy, s->rate, s->path_rate, &msg), &msg);
}

double heat_scene_residual(const heat_scene *s)
{
  double in = 0.0, moved = 0.0;
  for (size_t path = 0; path < network_num_paths(s->net); path++) {
    in += s->state.path_heat[path];
    moved += fabs(s->state.path_heat[path]);
  }
  return (in - (network_stored_heat(s->net, s->state.enthalpy) - s->stored_at_start)) / moved;
}

double heat_scene_liquid(const heat_scene *s, int part)
{
  double liquid = 0.0, all = 0.0;
  for (size_t node = 0; node < s->m->num_nodes; node++)
    if (s->m->part[node] == part && s->m->volume[node] > 0.0) {
      all += s->m->volume[node];
      liquid += s->m->volume[node] * phase_curve_liquid_fraction(&s->stuff[part].curve, s->state.enthalpy[node]);
    }
  return liquid / all;
}

double heat_scene_temperature(const heat_scene *s, size_t node)
{
  return phase_curve_temperature(&s->stuff[network_part(s->net)[node]].curve, s->state.enthalpy[node]);
}

material heat_scene_water(void)
{
  material water = {.name = ""};
  message msg = {""};
  const constant_phases p = {1000.0, 2.2, 2050.0, 0.58, 4200.0, 334000.0, 0.0};
  expect(material_constant_phases(&water, "water", &p, &msg), &msg);
  return water;
}

material heat_scene_solid(double conductivity, double volumetric_heat_capacity)
{
  material solid = {.name = ""};
  message msg = {""};
  expect(material_constant(&solid, "solid", conductivity, 1000.0, volumetric_heat_capacity / 1000.0, &msg), &msg);
  return solid;
}
