#include "picture_rig.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PARTS = 8, SHAPES = 8, TURNS = 11, ROWS = 200, COLUMNS = 4 };
static const double DAY = 86400.0;

struct picture_rig {
  rig rig;
  rig_part parts[PARTS];
  material stuff[PARTS];
  shape *shapes[SHAPES];
  size_t num_shapes;
  rig_body bodies[1];
  rig_bath baths[1];
  rig_coil coils[1];
  double rings[TURNS][2];
  double held_time[1], held_value[1];
  rig_stage stages[1];
  rig_probe probes[2];
  mesh *mesh;
  results results;
  body_result body;
  bath_result bath;
  stage_result stage;
  pocket pockets[2];
  ledger_entry entries[8];
  run_event events[2];
  char names[COLUMNS][64], units[COLUMNS][16];
  char warnings[1][512];
  double values[ROWS * COLUMNS];
  double *freeze_time, *temperature, *liquid;
  double *front_speed;
  int32_t *pocket;
};

static void must(status code, const message *msg)
{
  if (code == STATUS_OK)
    return;
  fprintf(stderr, "picture rig: %s\n", msg->text);
  exit(3);
}

static const shape *keep(picture_rig *p, shape *s)
{
  p->shapes[p->num_shapes++] = s;
  return s;
}

static rig_part *add_part(picture_rig *p, const char *name, part_kind kind, const shape *region, double temperature)
{
  rig_part *part = &p->parts[p->rig.num_parts++];
  *part = (rig_part){.kind = kind, .region = region, .initial_temperature = temperature};
  snprintf(part->name, sizeof part->name, "%s", name);
  return part;
}

static void make_of(picture_rig *p, const char *name, double conductivity)
{
  message msg = {""};
  const size_t i = p->rig.num_parts - 1;
  must(material_constant(&p->stuff[i], name, conductivity, 1000.0, 2000.0, &msg), &msg);
  p->parts[i].stuff = &p->stuff[i];
}

static void make_water(picture_rig *p)
{
  message msg = {""};
  const size_t i = p->rig.num_parts - 1;
  must(material_water(&p->stuff[i], ICE_YEN, 0.0, &msg), &msg);
  p->parts[i].stuff = &p->stuff[i];
}

/* The drum and its bath, turned about the axis. */
static void make_round(picture_rig *p)
{
  message msg = {""};
  shape *s = NULL;
  must(shape_cylinder(&s, 0.46, 0.0, 0.70, &msg), &msg);
  add_part(p, "insulation", PART_SOLID, keep(p, s), 15.0);
  make_of(p, "extruded polystyrene", 0.033);
  must(shape_cylinder(&s, 0.403, 0.05, 0.70, &msg), &msg);
  add_part(p, "tank", PART_SOLID, keep(p, s), 5.0);
  make_of(p, "stainless steel", 15.0);
  must(shape_cylinder(&s, 0.40, 0.053, 0.66, &msg), &msg);
  add_part(p, "bath", PART_BRINE, keep(p, s), -18.0);
  make_of(p, "brine", 0.5);
  const double outside[4][2] = {{0.0, 0.085}, {0.183, 0.085}, {0.233, 0.68}, {0.0, 0.68}};
  const double inside[4][2] = {{0.0, 0.090}, {0.180, 0.090}, {0.230, 0.68}, {0.0, 0.68}};
  const double water[4][2] = {{0.0, 0.090}, {0.180, 0.090}, {0.2257, 0.63}, {0.0, 0.63}};
  shape *solid = NULL, *hollow = NULL;
  must(shape_revolved(&solid, outside, 4, &msg), &msg);
  must(shape_revolved(&hollow, inside, 4, &msg), &msg);
  must(shape_difference(&s, solid, hollow, &msg), &msg);
  add_part(p, "drum", PART_SOLID, keep(p, s), 10.0);
  make_of(p, "hdpe", 0.45);
  must(shape_revolved(&s, water, 4, &msg), &msg);
  add_part(p, "water", PART_WATER, keep(p, s), 12.0);
  make_water(p);
  for (int i = 0; i < TURNS; i++) {
    p->rings[i][0] = 0.325;
    p->rings[i][1] = 0.12 + 0.046 * i;
  }
  p->coils[0] = (rig_coil){.name = "coil", .num_rings = TURNS, .rings = p->rings, .tube_outer = 0.0127, .length = 22.5,
                           .coolant = COOLANT_FIXED, .temperature = {1, p->held_time, p->held_value}};
  p->rig.num_coils = 1;
  p->probes[0] = (rig_probe){"core", {0.0, 0.0, 0.36}};
  p->probes[1] = (rig_probe){"bath side", {0.365, 0.0, 0.42}};
}

/* A box of water in a box of brine, one half of it. */
static void make_box(picture_rig *p)
{
  message msg = {""};
  shape *s = NULL;
  must(shape_box(&s, (double[3]){-0.40, -0.30, 0.0}, (double[3]){0.40, 0.30, 0.50}, &msg), &msg);
  add_part(p, "bath", PART_BRINE, keep(p, s), -18.0);
  make_of(p, "brine", 0.5);
  must(shape_box(&s, (double[3]){-0.25, -0.15, 0.10}, (double[3]){0.20, 0.15, 0.45}, &msg), &msg);
  add_part(p, "water", PART_WATER, keep(p, s), 12.0);
  make_water(p);
  p->probes[0] = (rig_probe){"core", {0.0, 0.0, 0.25}};
  p->probes[1] = (rig_probe){"bath side", {0.35, 0.05, 0.25}};
}

static void make_grid(picture_rig *p, grid_kind kind)
{
  message msg = {""};
  const bool round = kind == GRID_RZ;
  const size_t num[3] = {round ? 96 : 36, round ? 1 : 14, round ? 144 : 20};
  const double low[3] = {round ? 0.0 : -0.45, 0.0, 0.0}, high[3] = {round ? 0.48 : 0.45, 0.35, round ? 0.72 : 0.5};
  double *edges[3];
  for (int axis = 0; axis < 3; axis++) {
    edges[axis] = malloc((num[axis] + 1) * sizeof(double));
    for (size_t i = 0; i <= num[axis]; i++)
      edges[axis][i] = low[axis] + (high[axis] - low[axis]) * (double)i / (double)num[axis];
  }
  const bool mirror[6] = {false, false, !round, false, false, false};
  must(grid_create(&p->rig.mesh_grid, kind, num, (const double *const *)edges, mirror, &msg), &msg);
  for (int axis = 0; axis < 3; axis++)
    free(edges[axis]);
}

static void make_mesh(picture_rig *p)
{
  message msg = {""};
  mesh_layer layers[PARTS];
  for (size_t i = 0; i < p->rig.num_parts; i++)
    layers[i] = (mesh_layer){.kind = p->parts[i].kind == PART_HELD ? MESH_HELD : MESH_SOLID, .region = p->parts[i].region};
  must(mesh_create(&p->mesh, p->rig.mesh_grid, layers, (int32_t)p->rig.num_parts, 0, &msg), &msg);
}

/* ------------------------------------------------------------------------------------------------ invented results */

/* Deep places freeze late; the deepest is found. */
static void invent_maps(picture_rig *p)
{
  results *res = &p->results;
  const size_t num = res->num_nodes = p->mesh->num_nodes;
  res->freeze_time = res->solid_time = p->freeze_time = malloc(num * sizeof(double));
  res->front_speed = p->front_speed = malloc(num * sizeof(double));
  res->pocket = p->pocket = malloc(num * sizeof(int32_t));
  p->temperature = malloc(num * sizeof(double));
  p->liquid = malloc(num * sizeof(double));
  const int part = p->bodies[0].part;
  double deepest = 0.0;
  for (int pass = 0; pass < 2; pass++)
    for (size_t i = 0; i < num; i++) {
      p->freeze_time[i] = p->front_speed[i] = NAN;
      p->pocket[i] = -1;
      if (!(p->mesh->volume[i] > 0.0) || p->mesh->part[i] != part)
        continue;
      const double depth = -shape_distance(p->parts[part].region, p->mesh->centroid[i]);
      if (pass == 0 && depth > deepest) {
        deepest = depth;
        memcpy(p->body.last_position, p->mesh->centroid[i], sizeof p->body.last_position);
      }
      if (pass == 0)
        continue;
      const double share = fmin(fmax(depth / deepest, 0.0), 1.0);
      p->freeze_time[i] = DAY * (1.0 - (1.0 - share) * (1.0 - share) * (1.0 + 0.3 * share));
      p->front_speed[i] = 1e-6;
      p->pocket[i] = share > 0.85 ? 1 : 0;
    }
}

static void invent_series(picture_rig *p)
{
  time_series *s = &p->results.series;
  *s = (time_series){.num_columns = COLUMNS, .num_rows = ROWS, .capacity = ROWS, .name = p->names, .unit = p->units, .values = p->values};
  const char *const names[COLUMNS] = {"time", "water.frozen_share", "coolant.temperature", "coolant.heat"};
  const char *const units[COLUMNS] = {"s", "1", "degC", "W"};
  for (int i = 0; i < COLUMNS; i++) {
    snprintf(p->names[i], sizeof p->names[i], "%s", names[i]);
    snprintf(p->units[i], sizeof p->units[i], "%s", units[i]);
  }
  for (int row = 0; row < ROWS; row++) {
    const double share = (double)row / (ROWS - 1);
    double *v = p->values + row * COLUMNS;
    v[0] = 1.05 * DAY * share;
    v[1] = fmin(1.0, 1.0 - (1.0 - 1.05 * share) * fabs(1.0 - 1.05 * share));
    v[2] = -14.0 - 9.0 * (1.0 - exp(-4.0 * share));
    v[3] = -600.0;
    if (v[0] > DAY)
      v[1] = 1.0;
  }
}

static void invent_ledger(picture_rig *p)
{
  const ledger_entry entries[] = {{.name = "coil", .joules = -12.4 * 3.6e6},
                                  {.name = "room to insulation", .joules = 1.31 * 3.6e6},
                                  {.name = "room to water surface", .joules = 0.52 * 3.6e6},
                                  {.name = "stored in water", .joules = -7.35 * 3.6e6, .latent = -5.9 * 3.6e6},
                                  {.name = "stored in bath", .joules = -2.9 * 3.6e6},
                                  {.name = "stored in drum", .joules = -0.32 * 3.6e6}};
  memcpy(p->entries, entries, sizeof entries);
  p->results.ledger = (heat_ledger){.num = 6, .entries = p->entries, .num_paths = 3, .residual_relative = 3e-12};
}

static void invent(picture_rig *p)
{
  results *res = &p->results;
  invent_maps(p);
  invent_series(p);
  invent_ledger(p);
  p->pockets[0] = (pocket){.closed_at = 0.7 * DAY, .last_at = DAY, .mass = 66.0, .closed_mass = 9.0, .trapped = false, .parent = -1};
  p->pockets[1] = (pocket){.parted_at = 0.9 * DAY, .closed_at = 0.9 * DAY, .last_at = DAY, .mass = 1.3, .closed_mass = 1.3, .trapped = true};
  memcpy(p->pockets[1].position, p->body.last_position, sizeof p->pockets[1].position);
  p->body.complete = p->body.last_trapped = true;
  snprintf(p->body.name, sizeof p->body.name, "water");
  p->body.freeze_time = p->body.last_time = DAY;
  p->body.fraction = 1.0;
  p->body.mark[0] = 7.0 * 3600.0;
  p->body.mark[1] = 16.4 * 3600.0;
  p->body.mark[2] = 21.6 * 3600.0;
  p->body.last_distance = 0.2;
  p->body.mass = 66.0;
  p->body.level_rise = 0.045;
  p->body.num_pockets = 2;
  p->body.pockets = p->pockets;
  p->bath = (bath_result){.name = "bath", .mass_fraction = 0.231, .freezing_onset = -24.1, .ice_fraction_mean = 0.08, .ice_fraction_max = 0.31,
                          .touches_mould = true, .draw = DRAW_STIFF, .ice_at_wall = 0.22, .mean_temperature = -19.5};
  p->stage = (stage_result){.name = "freeze", .kind = STAGE_FREEZE, .end_at = 1.05 * DAY, .ended_by = "frozen"};
  p->events[0] = (run_event){.at = 3.2 * 3600.0, .stage = "freeze", .what = "cut-out", .where = "plant", .value = 1.2e5};
  snprintf(p->warnings[0], sizeof p->warnings[0], "The drum <floats> in the brine & must be held down with 120 N.");
  res->num_bodies = res->num_baths = res->num_stages = res->num_events = res->num_warnings = 1;
  res->bodies = &p->body;
  res->baths = &p->bath;
  res->stages = &p->stage;
  res->events = p->events;
  res->warnings = p->warnings;
  res->last_body = 0;
  res->contact_bath = 0;
}

picture_rig *picture_rig_create(grid_kind kind)
{
  picture_rig *p = calloc(1, sizeof *p);
  rig *r = &p->rig;
  snprintf(r->title, sizeof r->title, "Drum for a swan, harbour workshop");
  p->held_value[0] = -25.0;
  if (kind == GRID_RZ)
    make_round(p);
  else
    make_box(p);
  make_grid(p, kind);
  r->parts = p->parts;
  const int water = (int)r->num_parts - 1, bath = kind == GRID_RZ ? 2 : 0;
  p->bodies[0] = (rig_body){.name = "water", .part = water, .mass = 66.0, .open_top = true, .surface_level = kind == GRID_RZ ? 0.63 : 0.45};
  p->baths[0] = (rig_bath){.name = "bath", .part = bath, .salt = BRINE_CACL2, .mass_fraction = 0.24, .mass = 210.0};
  r->bodies = p->bodies;
  r->num_bodies = 1;
  r->baths = p->baths;
  r->num_baths = 1;
  r->coils = p->coils;
  r->probes = p->probes;
  r->num_probes = 2;
  p->stages[0] = (rig_stage){.name = "freeze", .kind = STAGE_FREEZE, .until = UNTIL_FROZEN, .limit = 2.0 * DAY};
  r->stages = p->stages;
  r->num_stages = 1;
  make_mesh(p);
  invent(p);
  return p;
}

void picture_rig_destroy(picture_rig **p)
{
  picture_rig *q = *p;
  if (!q)
    return;
  mesh_destroy(&q->mesh);
  grid_destroy(&q->rig.mesh_grid);
  for (size_t i = 0; i < q->num_shapes; i++)
    shape_destroy(&q->shapes[i]);
  for (size_t i = 0; i < q->rig.num_parts; i++)
    material_release(&q->stuff[i]);
  free(q->freeze_time);
  free(q->front_speed);
  free(q->pocket);
  free(q->temperature);
  free(q->liquid);
  free(q);
  *p = NULL;
}

rig *picture_rig_rig(picture_rig *p) { return &p->rig; }
mesh *picture_rig_mesh(picture_rig *p) { return p->mesh; }
results *picture_rig_results(picture_rig *p) { return &p->results; }

const double *picture_rig_temperature(picture_rig *p, double time)
{
  for (size_t i = 0; i < p->results.num_nodes; i++) {
    const int32_t part = p->mesh->part[i];
    const double *at = p->mesh->centroid[i];
    p->temperature[i] = part < 0 ? NAN : part == p->rig.bodies[0].part ? fmin(fmax((p->results.freeze_time[i] - time) / 2e4, -15.0), 8.0)
                                                                  : -20.0 + 5.0 * at[2] + 60.0 * fmax(0.0, hypot(at[0], at[1]) - 0.4);
  }
  return p->temperature;
}

const double *picture_rig_liquid(picture_rig *p, double time)
{
  for (size_t i = 0; i < p->results.num_nodes; i++) {
    const int32_t part = p->mesh->part[i];
    p->liquid[i] = part < 0 ? NAN : part == p->rig.bodies[0].part ? (p->results.freeze_time[i] > time) : 0.8;
  }
  return p->liquid;
}
