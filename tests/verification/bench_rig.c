#include "bench_rig.h"

#include <math.h>
#include <omp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include "open_lines.h"
#include "solver/run.h"
#include "solver/run_layers.h"

static const double EVERYWHERE = 1e3; /* m */

static void require(status code, const message *msg)
{
  ck_assert_msg(code == STATUS_OK, "status %d: %s", (int)code, msg->text);
}

/* ------------------------------------------------------------------------------------------------ materials */

constant_phases bench_rig_set_w(double freezing_temperature)
{
  return (constant_phases){.density = 1000.0,
                           .solid_conductivity = 2.2,
                           .solid_specific_heat = 2050.0,
                           .liquid_conductivity = 0.58,
                           .liquid_specific_heat = 4200.0,
                           .latent_heat = 334000.0,
                           .freezing_temperature = freezing_temperature};
}

constant_phases bench_rig_set_ste(double stefan_number)
{
  constant_phases p = bench_rig_set_w(0.0);
  p.liquid_conductivity = p.solid_conductivity;
  p.liquid_specific_heat = p.solid_specific_heat;
  p.latent_heat = p.solid_specific_heat * 20.0 / stefan_number;
  return p;
}

/* ------------------------------------------------------------------------------------------------ building */

void bench_rig_init(bench_rig *b)
{
  memset(b, 0, sizeof *b);
  b->r.parts = b->parts;
  b->r.rules = b->rules;
  b->r.bodies = b->bodies;
  b->r.baths = b->baths;
  b->r.coils = b->coils;
  b->r.stages = b->stages;
  b->r.room.temperature = bench_rig_constant(b, 0.0);
  b->r.room.relative_humidity = 0.0;
  b->r.room.pressure = 101325.0;
  b->r.plant.thermostat_part = -1;
  b->r.plant.condensing_temperature = NAN;
}

static void close_march(bench_rig *b)
{
  heat_step_destroy(&b->step);
  network_destroy(&b->net);
  mesh_destroy(&b->m);
  free(b->state.enthalpy);
  free(b->state.path_heat);
  memset(&b->state, 0, sizeof b->state);
}

void bench_rig_release(bench_rig *b)
{
  close_march(b);
  for (size_t part = 0; part < b->r.num_parts; part++)
    if (b->parts[part].stuff)
      material_release(&b->stuff[part]);
  for (size_t i = 0; i < b->num_shapes; i++)
    shape_destroy(&b->shapes[i]);
  grid_destroy(&b->r.mesh_grid);
}

schedule bench_rig_constant(bench_rig *b, double value)
{
  ck_assert_uint_lt(b->num_values, BENCH_VALUES);
  const size_t row = b->num_values++;
  b->values[row] = value;
  return (schedule){.num = 1, .time = &b->times[row], .value = &b->values[row]};
}

static double *even_edges(size_t num, double low, double high)
{
  double *edges = malloc((num + 1) * sizeof *edges);
  ck_assert_ptr_nonnull(edges);
  for (size_t i = 0; i <= num; i++)
    edges[i] = low + (high - low) * (double)i / (double)num;
  return edges;
}

void bench_rig_grid(bench_rig *b, grid_kind kind, const size_t num[3], const double low[3], const double high[3],
                    const bool mirror[6])
{
  static const bool no_mirror[6] = {false};
  message msg = {""};
  double *edges[3];
  for (int axis = 0; axis < 3; axis++)
    edges[axis] = even_edges(num[axis], low[axis], high[axis]);
  require(grid_create(&b->r.mesh_grid, kind, num, (const double *const *)edges, mirror ? mirror : no_mirror, &msg), &msg);
  for (int axis = 0; axis < 3; axis++)
    free(edges[axis]);
}

void bench_rig_grid_edges(bench_rig *b, grid_kind kind, const size_t num[3], const double *const edges[3], const bool mirror[6])
{
  message msg = {""};
  require(grid_create(&b->r.mesh_grid, kind, num, edges, mirror, &msg), &msg);
}

void bench_rig_line(bench_rig *b, grid_kind kind, size_t num, const double *edges, bool mirror_low, bool mirror_high)
{
  const double one[2] = {0.0, 1.0};
  const double *const all[3] = {edges, one, one};
  const size_t nums[3] = {num, 1, 1};
  const bool mirror[6] = {mirror_low, mirror_high, true, true, true, true};
  message msg = {""};
  require(grid_create(&b->r.mesh_grid, kind, nums, all, mirror, &msg), &msg);
}

const shape *bench_rig_keep(bench_rig *b, shape *s)
{
  ck_assert_ptr_nonnull(s);
  ck_assert_uint_lt(b->num_shapes, BENCH_SHAPES);
  b->shapes[b->num_shapes++] = s;
  return s;
}

const shape *bench_rig_everywhere(bench_rig *b)
{
  return bench_rig_box(b, -EVERYWHERE, EVERYWHERE, -EVERYWHERE, EVERYWHERE, -EVERYWHERE, EVERYWHERE);
}

const shape *bench_rig_box(bench_rig *b, double x0, double x1, double y0, double y1, double z0, double z1)
{
  const double low[3] = {x0, y0, z0}, high[3] = {x1, y1, z1};
  shape *s = NULL;
  message msg = {""};
  require(shape_box(&s, low, high, &msg), &msg);
  return bench_rig_keep(b, s);
}

static rig_part *add_part(bench_rig *b, part_kind kind, const shape *region, double temperature)
{
  ck_assert_uint_lt(b->r.num_parts, BENCH_PARTS);
  rig_part *part = &b->parts[b->r.num_parts];
  (void)snprintf(part->name, sizeof part->name, "part %zu", b->r.num_parts);
  part->kind = kind;
  part->region = region;
  part->initial_temperature = temperature;
  b->r.num_parts++;
  return part;
}

int bench_rig_part(bench_rig *b, part_kind kind, const shape *region, const material *stuff, double temperature)
{
  rig_part *part = add_part(b, kind, region, temperature);
  const int index = (int)b->r.num_parts - 1;
  b->stuff[index] = *stuff;
  part->stuff = &b->stuff[index];
  if (kind == PART_WATER) {
    rig_body *body = &b->bodies[b->r.num_bodies++];
    (void)snprintf(body->name, sizeof body->name, "water %d", index);
    body->part = index;
    body->flow = (motion){.kind = MOTION_NONE, .film_coefficient = NAN, .horizontal_factor = NAN, .vertical_factor = NAN,
                          .coherency = 0.2};
    body->surface_level = EVERYWHERE;
  }
  return index;
}

int bench_rig_wall(bench_rig *b, const shape *solid, const shape *cavity, double thickness, const material *stuff,
                   double temperature)
{
  const int index = bench_rig_part(b, PART_SOLID, solid, stuff, temperature);
  b->parts[index].cavity = cavity;
  b->parts[index].thickness = thickness;
  return index;
}

int bench_rig_held(bench_rig *b, const shape *region, double temperature, double film)
{
  rig_part *part = add_part(b, PART_HELD, region, temperature);
  part->held = bench_rig_constant(b, temperature);
  part->held_film = film;
  return (int)b->r.num_parts - 1;
}

int bench_rig_water(bench_rig *b, const shape *region, const constant_phases *p, double temperature)
{
  material stuff;
  message msg = {""};
  require(material_constant_phases(&stuff, "water of the check", p, &msg), &msg);
  return bench_rig_part(b, PART_WATER, region, &stuff, temperature);
}

void bench_rig_rule(bench_rig *b, surface_kind kind, int part, int other, face_choice faces, double coefficient,
                    double temperature)
{
  ck_assert_uint_lt(b->r.num_rules, BENCH_RULES);
  surface_rule *rule = &b->rules[b->r.num_rules++];
  *rule = (surface_rule){.kind = kind, .part = part, .other = other, .faces = faces};
  rule->coefficient = bench_rig_constant(b, coefficient);
  if (!isnan(temperature))
    rule->temperature = bench_rig_constant(b, temperature);
}

/* ------------------------------------------------------------------------------------------------ the whole freeze */

bench_march bench_rig_exact(double duration)
{
  return (bench_march){.tolerance = 0.0005, .longest_step = duration / 4000.0, .limit = 3.0 * duration};
}

bench_march bench_rig_default(double duration)
{
  return (bench_march){.tolerance = 0.0, .longest_step = 0.0, .limit = 3.0 * duration};
}

static void set_control(bench_rig *b, bench_march how)
{
  b->r.control = (rig_control){.integrator = b->r.control.integrator,
                               .tolerance = how.tolerance,
                               .longest_step = how.longest_step,
                               .output_interval = 1e12,
                               .series_interval = 1e12,
                               .threads = b->r.control.threads ? b->r.control.threads : 1};
  omp_set_num_threads(b->r.control.threads); /* as the program does for a run */
  b->r.num_stages = 1;
  b->stages[0] = (rig_stage){.name = "freeze", .kind = STAGE_FREEZE, .until = UNTIL_FROZEN, .limit = how.limit};
}

static void note(bench_history *h, size_t *room, double time, double liquid)
{
  if (h->num == *room) {
    *room = *room ? 2 * *room : 1024;
    h->time = realloc(h->time, *room * sizeof *h->time);
    h->liquid = realloc(h->liquid, *room * sizeof *h->liquid);
    ck_assert_ptr_nonnull(h->time);
    ck_assert_ptr_nonnull(h->liquid);
  }
  h->time[h->num] = time;
  h->liquid[h->num++] = liquid;
}

void bench_rig_run(bench_rig *b, bench_march how, bench_history *out)
{
  run *x = bench_rig_run_kept(b, how, out);
  run_destroy(&x);
}

run *bench_rig_run_kept(bench_rig *b, bench_march how, bench_history *out)
{
  message msg = {""};
  run *x = NULL;
  size_t room = 0;
  run_pause why = PAUSE_PROGRESS;
  memset(out, 0, sizeof *out);
  set_control(b, how);
  require(run_create(&x, &b->r, &msg), &msg);
  note(out, &room, 0.0, 1.0);
  while (why != PAUSE_DONE) {
    require(run_advance(x, &why, &msg), &msg);
    if (why == PAUSE_PROGRESS)
      note(out, &room, run_time(x), 1.0 - run_frozen_share(x));
  }
  const results *found = run_results(x);
  out->complete = found->num_bodies && found->bodies[0].complete ? found->bodies[0].freeze_time : NAN;
  out->ledger_residual = found->ledger.residual_relative;
  out->steps = found->num_steps;
  out->stages = found->num_stages_taken;
  return x;
}

void bench_rig_forget(bench_history *h)
{
  free(h->time);
  free(h->liquid);
  memset(h, 0, sizeof *h);
}

double bench_rig_time_to(const bench_history *h, double share)
{
  for (size_t i = 1; i < h->num; i++)
    if (h->liquid[i] <= share && h->liquid[i - 1] > share) {
      const double part = (h->liquid[i - 1] - share) / (h->liquid[i - 1] - h->liquid[i]);
      return h->time[i - 1] + part * (h->time[i] - h->time[i - 1]);
    }
  return NAN;
}

double bench_rig_liquid_at(const bench_history *h, double time)
{
  for (size_t i = 1; i < h->num; i++)
    if (h->time[i] >= time) {
      const double part = (time - h->time[i - 1]) / (h->time[i] - h->time[i - 1]);
      return h->liquid[i - 1] + part * (h->liquid[i] - h->liquid[i - 1]);
    }
  return NAN;
}

/* ------------------------------------------------------------------------------------------------ step by step */

void bench_rig_open(bench_rig *b, bench_march how, double latent_scale)
{
  message msg = {""};
  set_control(b, how);
  require(run_layers_mesh(&b->m, &b->r, &msg), &msg);
  require(network_create(&b->net, b->m, &b->r, &msg), &msg);
  const heat_step_options options = {.integrator = b->r.control.integrator,
                                     .tolerance = how.tolerance,
                                     .latent_scale = latent_scale,
                                     .longest_step = how.longest_step};
  require(heat_step_create(&b->step, b->net, &options, &msg), &msg);
  b->state.enthalpy = calloc(network_num_nodes(b->net), sizeof(double));
  b->state.path_heat = calloc(network_num_paths(b->net) + 1, sizeof(double));
  ck_assert_ptr_nonnull(b->state.enthalpy);
  ck_assert_ptr_nonnull(b->state.path_heat);
  network_initial(b->net, b->state.enthalpy);
}

void bench_rig_march(bench_rig *b, double time)
{
  message msg = {""};
  while (b->state.time < time * (1.0 - 1e-12))
    require(heat_step_advance(b->step, &b->state, time - b->state.time, &msg), &msg);
}

double bench_rig_liquid(const bench_rig *b, int part)
{
  double liquid = 0.0, all = 0.0;
  for (size_t node = 0; node < b->m->num_nodes; node++)
    if (b->m->part[node] == part) {
      liquid += b->m->volume[node] * phase_curve_liquid_fraction(&b->parts[part].stuff->curve, b->state.enthalpy[node]);
      all += b->m->volume[node];
    }
  return liquid / all;
}

double bench_rig_temperature(const bench_rig *b, const double point[3])
{
  const int32_t node = mesh_node_at(b->m, point);
  ck_assert_msg(node >= 0, "no node at (%g, %g, %g)", point[0], point[1], point[2]);
  return phase_curve_temperature(&b->parts[b->m->part[node]].stuff->curve, b->state.enthalpy[node]);
}

double bench_rig_surface_temperature(const bench_rig *b, int part, int other, const double point[3])
{
  double nearest = INFINITY, temperature = NAN;
  for (size_t i = 0; i < b->m->num_interfaces; i++) {
    const mesh_interface *f = &b->m->interfaces[i];
    const bool fits = (f->part[0] == part && f->part[1] == other) || (f->part[1] == part && f->part[0] == other);
    if (!fits)
      continue;
    double apart = 0.0;
    for (int axis = 0; axis < 3; axis++)
      apart += pow(f->centroid[axis] - point[axis], 2);
    if (apart < nearest) {
      nearest = apart;
      temperature = network_surface_temperature(b->net, i);
    }
  }
  return temperature;
}

static bool faces_match(face_choice faces, double up)
{
  switch (faces) {
  case FACES_TOP: return up > 0.7;
  case FACES_BOTTOM: return up < -0.7;
  case FACES_SIDE: return up <= 0.7 && up >= -0.7;
  default: return true;
  }
}

double bench_rig_flow(const bench_rig *b, int part, int other, face_choice faces)
{
  double flow = 0.0;
  for (size_t i = 0; i < b->m->num_interfaces; i++) {
    const mesh_interface *f = &b->m->interfaces[i];
    const double heat = network_interface_heat(b->net, i, b->state.enthalpy);
    if (f->part[0] == part && f->part[1] == other && faces_match(faces, f->normal[2]))
      flow += heat;
    else if (f->part[1] == part && f->part[0] == other && faces_match(faces, -f->normal[2]))
      flow -= heat;
  }
  return flow;
}

/* ------------------------------------------------------------------------------------------------ tables */

static int misses; /* since the last title; each Check test is a process of its own, or runs after the one before */
static char first_miss[200];
static char title[200];

bool bench_rig_brief(void)
{
  return getenv("LASTWATER_BRIEF") != NULL;
}

bool bench_rig_long(void)
{
  return getenv("LASTWATER_LONG") != NULL;
}

void bench_rig_title(const char *format, ...)
{
  va_list args;
  va_start(args, format);
  misses = 0;
  (void)vsnprintf(title, sizeof title, format, args);
  printf("\n%s\n", title);
  va_end(args);
}

static void line(bool holds, const char *values, const char *format, va_list args)
{
  char what[160];
  (void)vsnprintf(what, sizeof what, format, args);
  const bool open = open_lines_has(title, what);
  printf("  %-58s %s%s\n", what, values, holds ? (open ? "   HOLDS NOW: take it out of open_lines.c" : "") : open ? "   OPEN" : "   MISSED");
  fflush(stdout);
  if (!holds && !open && misses++ == 0)
    (void)snprintf(first_miss, sizeof first_miss, "%s", what);
}

void bench_rig_judge(double got, double want, double limit_percent, const char *format, ...)
{
  char values[160];
  const double error = 100.0 * (got - want) / fabs(want);
  (void)snprintf(values, sizeof values, "%14.8g %14.8g  %+9.4f %%  (%.3g)", got, want, error, limit_percent);
  va_list args;
  va_start(args, format);
  line(fabs(error) <= limit_percent, values, format, args);
  va_end(args);
}

void bench_rig_judge_difference(double got, double want, double limit, const char *format, ...)
{
  char values[160];
  (void)snprintf(values, sizeof values, "%14.8g %14.8g  %+9.2e    (%.3g)", got, want, got - want, limit);
  va_list args;
  va_start(args, format);
  line(fabs(got - want) <= limit, values, format, args);
  va_end(args);
}

void bench_rig_judge_ledger(const bench_history *h)
{
  const bool holds = fabs(h->ledger_residual) <= 1e-9; /* false for NAN */
  if (!holds)
    bench_rig_judge_that(false, "ledger open by %.3e of the heat moved", h->ledger_residual);
}

void bench_rig_judge_that(bool holds, const char *format, ...)
{
  va_list args;
  va_start(args, format);
  line(holds, "", format, args);
  va_end(args);
}

void bench_rig_verdict(void)
{
  ck_assert_msg(misses == 0, "%d lines missed their limit, the first: %s", misses, first_miss);
}

int bench_rig_run_suite(Suite *suite)
{
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
