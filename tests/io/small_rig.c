#include "small_rig.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void must(status code, const message *msg)
{
  if (code != STATUS_OK) {
    (void)fprintf(stderr, "small_rig: %s\n", msg->text);
    abort();
  }
}

static void make_shapes(small_rig *s, grid_kind kind)
{
  message msg = {""};
  if (kind == GRID_RZ) {
    must(shape_cylinder(&s->shapes[0], 0.13, 0.0, 0.20, &msg), &msg);
    must(shape_cylinder(&s->shapes[1], 0.10, 0.05, 0.20, &msg), &msg);
  } else {
    const double tub_low[3] = {0.0, 0.0, 0.0}, tub_high[3] = {0.10, 0.13, 0.20};
    const double drum_low[3] = {0.0, 0.0, 0.05}, drum_high[3] = {0.06, 0.13, 0.20};
    must(shape_box(&s->shapes[0], tub_low, tub_high, &msg), &msg);
    must(shape_box(&s->shapes[1], drum_low, drum_high, &msg), &msg);
  }
}

void small_rig_make(small_rig *s, grid_kind kind)
{
  static const double r[] = {0.0, 0.04, 0.08, 0.13}, z[] = {0.0, 0.05, 0.10, 0.16, 0.20};
  static const double x[] = {0.0, 0.06, 0.10}, y[] = {0.0, 0.03, 0.08, 0.13};
  static const size_t num_rz[3] = {3, 1, 4}, num_xyz[3] = {2, 3, 4};
  static const double *const edges_rz[3] = {r, NULL, z}, *const edges_xyz[3] = {x, y, z};
  static const bool mirror[6] = {false};
  message msg = {""};
  memset(s, 0, sizeof *s);
  must(grid_create(&s->grid, kind, kind == GRID_RZ ? num_rz : num_xyz, kind == GRID_RZ ? edges_rz : edges_xyz, mirror, &msg), &msg);
  make_shapes(s, kind);
  s->parts[0] = (rig_part){.name = "tub", .kind = PART_BRINE, .region = s->shapes[0], .initial_temperature = -15.0};
  s->parts[1] = (rig_part){.name = "drum", .kind = PART_WATER, .region = s->shapes[1], .initial_temperature = 12.0};
  s->body = (rig_body){.name = "drum", .part = 1, .mass = 4.3, .open_top = true, .surface_level = 0.20};
  s->bath = (rig_bath){.name = "tub", .part = 0, .salt = BRINE_CACL2, .mass_fraction = 0.22, .mass = 5.7};
  s->stages[0] = (rig_stage){.name = "cool", .kind = STAGE_PRECOOL, .until = UNTIL_TIME, .limit = 600.0};
  s->stages[1] = (rig_stage){.name = "freeze", .kind = STAGE_FREEZE, .until = UNTIL_FROZEN, .limit = 86400.0};
  s->rig = (rig){.title = "Small drum in a tub", .mesh_grid = s->grid, .num_parts = 2, .parts = s->parts, .num_bodies = 1,
                 .bodies = &s->body, .num_baths = 1, .baths = &s->bath, .num_stages = 2, .stages = s->stages};
  s->rig.room.pressure = 101325.0;
  const mesh_layer layers[2] = {{.kind = MESH_SOLID, .region = s->shapes[0]}, {.kind = MESH_SOLID, .region = s->shapes[1]}};
  must(mesh_create(&s->mesh, s->grid, layers, 2, 0, &msg), &msg);
}

void small_rig_release(small_rig *s)
{
  mesh_destroy(&s->mesh);
  shape_destroy(&s->shapes[0]);
  shape_destroy(&s->shapes[1]);
  grid_destroy(&s->grid);
}

void small_rig_pattern(const small_rig *s, double *value)
{
  for (size_t node = 0; node < s->mesh->num_nodes; node++) {
    size_t ijk[3] = {0, 0, 0};
    if (!(s->mesh->volume[node] > 0.0)) {
      value[node] = NAN;
      continue;
    }
    grid_cell_indices(s->grid, (size_t)s->mesh->cell[node], ijk);
    value[node] = 1.0 + 2.0 * (double)ijk[0] + 30.0 * (double)ijk[1] + 500.0 * (double)ijk[2] + (s->mesh->part[node] == 1 ? 0.25 : 0.0);
  }
}

static void *grab(size_t num, size_t size)
{
  void *p = calloc(num, size);
  if (!p)
    abort();
  return p;
}

static void fill_ledger(heat_ledger *l, double scale)
{
  static const char *const names[4] = {"coil", "tub to room", "drum", "tub"};
  static const double joules[4] = {-2.25e6, 0.5e6, -1.5e6, -0.25e6};
  l->num = 4;
  l->num_paths = 2;
  l->entries = grab(4, sizeof *l->entries);
  for (int i = 0; i < 4; i++) {
    (void)snprintf(l->entries[i].name, sizeof l->entries[i].name, "%s", names[i]);
    l->entries[i].joules = scale * joules[i];
  }
  l->residual_relative = 3e-14;
}

static const plant_result PLANT = {.present = true,
                                   .evaporating = {-17.5, -21.25, -12.5},
                                   .condensing = {39.5, 38.0, 42.0},
                                   .suction = {262000.0, 225000.0, 310000.0},
                                   .discharge = {1360000.0, 1310000.0, 1440000.0},
                                   .heat = 2.25e6,
                                   .work = 0.9e6,
                                   .mean_power = 31.25, .gas_high = NAN};

static void fill_series(time_series *t)
{
  static const char *const names[3] = {"time", "drum.frozen_share", "probe.core"}, *const units[3] = {"s", "1", "degC"};
  static const double values[6] = {0.0, 0.0, 12.0, 300.0, 0.03125, NAN};
  t->num_columns = 3;
  t->num_rows = t->capacity = 2;
  t->name = grab(3, sizeof *t->name);
  t->unit = grab(3, sizeof *t->unit);
  t->values = grab(6, sizeof *t->values);
  memcpy(t->values, values, sizeof values);
  for (int c = 0; c < 3; c++) {
    (void)snprintf(t->name[c], sizeof t->name[c], "%s", names[c]);
    (void)snprintf(t->unit[c], sizeof t->unit[c], "%s", units[c]);
  }
}

static void fill_body(body_result *b)
{
  *b = (body_result){.name = "drum", .complete = true, .freeze_time = 27000.0, .fraction = 1.0, .mark = {9000.0, 19800.0, 25200.0},
                     .last_position = {0.0, 0.0, 0.128}, .last_time = 27000.0, .last_trapped = true, .last_distance = 0.075,
                     .mass = 4.3, .level_rise = 0.0125, .dome_volume = 0.25e-3, .dome_height = 0.005, .crack_index = 0.75, .num_pockets = 2};
  b->pockets = grab(2, sizeof *b->pockets);
  b->pockets[0] = (pocket){.parted_at = 600.0, .closed_at = 20000.0, .last_at = 27600.0, .mass = 4.3, .closed_mass = 0.75, .distance = 0.075, .pressure = 4e5,
                           .skin_tension = 9e5, .crack_index = 0.75, .position = {0.0, 0.0, 0.128}, .trapped = true, .parent = -1};
  b->pockets[1] = (pocket){.parted_at = 21000.0, .closed_at = NAN, .last_at = 24000.0, .mass = 0.0625, .closed_mass = NAN, .distance = 0.0125,
                           .pressure = NAN, .skin_tension = NAN, .crack_index = NAN,
                           .position = {0.031, 0.0, 0.071}, .trapped = false, .parent = 0};
}

static void fill_maps(const small_rig *s, results *res)
{
  double *freeze = grab(s->mesh->num_nodes, sizeof(double)), *solid = grab(s->mesh->num_nodes, sizeof(double));
  res->num_nodes = s->mesh->num_nodes;
  res->front_speed = grab(res->num_nodes, sizeof *res->front_speed);
  res->pocket = grab(res->num_nodes, sizeof *res->pocket);
  small_rig_pattern(s, freeze);
  for (size_t node = 0; node < res->num_nodes; node++) {
    const bool water = s->mesh->volume[node] > 0.0 && s->mesh->part[node] == 1;
    if (!water)
      freeze[node] = NAN;
    solid[node] = freeze[node] + 1.0 / 3.0;
    res->front_speed[node] = 1e-6 * freeze[node];
    res->pocket[node] = water ? (int32_t)(node % 2) : -1;
  }
  res->freeze_time = freeze;
  res->solid_time = solid;
}

void small_rig_results(const small_rig *s, results *res)
{
  *res = (results){.num_bodies = 1, .num_baths = 1, .num_stages = 2, .num_events = 1, .num_warnings = 1, .last_body = 0,
                   .contact_bath = 0, .plant = PLANT};
  res->bodies = grab(1, sizeof *res->bodies);
  res->baths = grab(1, sizeof *res->baths);
  res->stages = grab(2, sizeof *res->stages);
  res->events = grab(1, sizeof *res->events);
  res->warnings = grab(1, sizeof *res->warnings);
  fill_body(&res->bodies[0]);
  res->baths[0] = (bath_result){.name = "tub", .mass_fraction = 0.2375, .freezing_onset = -20.5, .ice_fraction_mean = 0.0725, .water_taken = NAN, .salt_error = NAN,
                                .ice_fraction_max = 0.3125, .touches_mould = true, .draw = DRAW_STIFF, .ice_at_wall = 0.1875,
                                .mean_temperature = -21.5};
  res->stages[0] = (stage_result){.name = "cool", .kind = STAGE_PRECOOL, .start_at = 0.0, .end_at = 600.0, .ended_by = "time"};
  res->stages[1] = (stage_result){.name = "freeze", .kind = STAGE_FREEZE, .start_at = 600.0, .end_at = 27600.0, .ended_by = "frozen",
                                  .plant = PLANT};
  fill_ledger(&res->stages[0].ledger, 0.125);
  fill_ledger(&res->stages[1].ledger, 0.875);
  fill_ledger(&res->ledger, 1.0);
  res->events[0] = (run_event){.at = 4321.5, .stage = "freeze", .what = "low-pressure cut-out", .where = "plant", .value = NAN};
  (void)snprintf(res->warnings[0], sizeof res->warnings[0], "drum: 0.75 kg of water was shut in by ice");
  fill_series(&res->series);
  fill_maps(s, res);
}

void small_rig_release_results(results *res)
{
  for (size_t body = 0; body < res->num_bodies; body++)
    free(res->bodies[body].pockets);
  for (size_t stage = 0; stage < res->num_stages; stage++)
    free(res->stages[stage].ledger.entries);
  free(res->ledger.entries);
  free(res->bodies);
  free(res->baths);
  free(res->stages);
  free(res->events);
  free(res->warnings);
  free(res->series.name);
  free(res->series.unit);
  free(res->series.values);
  free((void *)res->freeze_time);
  free((void *)res->solid_time);
  free(res->front_speed);
  free(res->pocket);
}
