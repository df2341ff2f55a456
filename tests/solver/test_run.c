/* A run as its callers see it: pauses, stages, series, restart. The physics has its own tests in tests/verification. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/run.h"

/* A small pot of water, cooled from the side: cylinder of radius 31 mm and height 24 mm, set W of the exact checks
 * (constant properties), surface held at -12.5 degC, ends insulated. */
typedef struct {
  rig r;
  rig_part part;
  rig_body body;
  surface_rule rules[2];
  rig_stage stages[2];
  rig_probe probe;
  material water;
  shape *region;
  double zero, cold, none;
} pot;

static void pot_create(pot *p, size_t cells)
{
  message msg = {""};
  *p = (pot){.zero = 0.0, .cold = -12.5, .none = 0.0};
  const constant_phases w = {.density = 1000.0, .solid_conductivity = 2.2, .solid_specific_heat = 2050.0,
                             .liquid_conductivity = 0.58, .liquid_specific_heat = 4200.0, .latent_heat = 334000.0};
  ck_assert_msg(material_constant_phases(&p->water, "water", &w, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_msg(shape_cylinder(&p->region, 0.031, 0.0, 0.024, &msg) == STATUS_OK, "%s", msg.text);
  double *r_edges = malloc((cells + 1) * sizeof *r_edges);
  for (size_t i = 0; i <= cells; i++)
    r_edges[i] = 0.031 * (double)i / (double)cells;
  const double z_edges[] = {0.0, 0.012, 0.024};
  const size_t num[3] = {cells, 1, 2};
  const double *edges[3] = {r_edges, NULL, z_edges};
  const bool mirror[6] = {false};
  ck_assert_msg(grid_create(&p->r.mesh_grid, GRID_RZ, num, edges, mirror, &msg) == STATUS_OK, "%s", msg.text);
  free(r_edges);

  p->part = (rig_part){.name = "water", .kind = PART_WATER, .region = p->region, .stuff = &p->water, .initial_temperature = 3.0};
  p->body = (rig_body){.name = "water", .part = 0, .flow = {.kind = MOTION_NONE}, .mass = 0.0724};
  p->rules[0] = (surface_rule){.kind = SURFACE_INSULATED, .part = 0, .other = MESH_VOID, .faces = FACES_ALL};
  p->rules[1] = (surface_rule){.kind = SURFACE_FIXED, .part = 0, .other = MESH_VOID, .faces = FACES_SIDE,
                               .temperature = {.num = 1, .time = &p->zero, .value = &p->cold}};
  p->stages[0] = (rig_stage){.name = "freeze", .kind = STAGE_FREEZE, .until = UNTIL_FROZEN, .limit = 1e5};
  p->stages[1] = (rig_stage){.name = "hold", .kind = STAGE_HOLD, .until = UNTIL_PART_BELOW, .part = 0, .temperature = -11.0,
                             .limit = 1e5};
  p->probe = (rig_probe){.name = "core", .point = {0.0005, 0.0, 0.01}};
  rig *r = &p->r;
  r->num_parts = 1, r->parts = &p->part;
  r->num_bodies = 1, r->bodies = &p->body;
  r->num_rules = 2, r->rules = p->rules;
  r->num_stages = 2, r->stages = p->stages;
  r->num_probes = 1, r->probes = &p->probe;
  r->room = (rig_room){.temperature = {.num = 1, .time = &p->zero, .value = &p->none}, .relative_humidity = 0.5,
                       .pressure = 101325.0, .film = 8.0};
  r->plant.thermostat_part = -1;
  r->control = (rig_control){.output_interval = 400.0, .series_interval = 100.0, .checkpoint_interval = 350.0};
}

static void pot_release(pot *p)
{
  grid_destroy(&p->r.mesh_grid);
  shape_destroy(&p->region);
  material_release(&p->water);
}

static void advance_to(run *x, run_pause wanted)
{
  message msg = {""};
  run_pause why = PAUSE_PROGRESS;
  do {
    ck_assert_msg(run_advance(x, &why, &msg) == STATUS_OK, "%s", msg.text);
    ck_assert_msg(why == wanted || why != PAUSE_DONE, "done before the wanted pause %d", (int)wanted);
  } while (why != wanted);
}

static run *start(const pot *p)
{
  message msg = {""};
  run *x = NULL;
  ck_assert_msg(run_create(&x, &p->r, &msg) == STATUS_OK, "%s", msg.text);
  return x;
}

START_TEST(stages_follow_one_another_and_end_where_they_should)
{
  pot p;
  pot_create(&p, 20);
  run *x = start(&p);
  advance_to(x, PAUSE_DONE);
  const results *res = run_results(x);
  ck_assert_int_eq(res->bodies[0].complete, 1);
  ck_assert_str_eq(res->stages[0].ended_by, "frozen");
  ck_assert_str_eq(res->stages[1].ended_by, "temperature");
  ck_assert_double_eq(res->stages[1].start_at, res->stages[0].end_at);
  /* "to the second" */
  ck_assert_double_le(fabs(res->stages[0].end_at - res->bodies[0].freeze_time), 1.0);
  ck_assert_double_le(fabs(res->ledger.residual_relative), 1e-9);
  ck_assert_uint_gt(res->series.num_rows, 3);
  ck_assert_double_eq(res->series.values[0], 0.0);
  run_destroy(&x);
  pot_release(&p);
}
END_TEST

START_TEST(output_times_do_not_change_the_answer)
{
  pot p;
  pot_create(&p, 10);
  run *x = start(&p);
  advance_to(x, PAUSE_DONE);
  const double time = run_results(x)->bodies[0].freeze_time;
  run_destroy(&x);
  p.r.control.output_interval = 77.7;
  p.r.control.series_interval = 13.1;
  x = start(&p);
  advance_to(x, PAUSE_DONE);
  ck_assert_double_eq(run_results(x)->bodies[0].freeze_time, time);
  run_destroy(&x);
  pot_release(&p);
}
END_TEST

/* Saves at the third checkpoint, restores into a fresh run, and wants the same bits at the end. */
START_TEST(a_restored_run_ends_in_the_same_bits)
{
  pot p;
  message msg = {""};
  pot_create(&p, 16);
  run *straight = start(&p);
  for (int i = 0; i < 3; i++)
    advance_to(straight, PAUSE_CHECKPOINT);
  run *second = start(&p);
  const state_field *from, *to;
  size_t num = run_state(straight, &from);
  size_t rows = run_results(straight)->series.num_rows;
  ck_assert_int_eq(run_reserve(second, rows, run_results(straight)->num_events, &msg), STATUS_OK);
  ck_assert_uint_eq(run_state(second, &to), num);
  for (size_t i = 0; i < num; i++) {
    ck_assert_str_eq(from[i].name, to[i].name);
    ck_assert_uint_eq(from[i].count, to[i].count);
    memcpy(to[i].data, from[i].data, from[i].count * (from[i].type == FIELD_BYTES ? 1 : 8));
  }
  ck_assert_msg(run_restored(second, &msg) == STATUS_OK, "%s", msg.text);
  advance_to(straight, PAUSE_DONE);
  advance_to(second, PAUSE_DONE);
  const results *a = run_results(straight), *b = run_results(second);
  ck_assert_double_eq(a->bodies[0].freeze_time, b->bodies[0].freeze_time);
  ck_assert_double_eq(a->ledger.residual_relative, b->ledger.residual_relative);
  ck_assert_int_eq(memcmp(a->solid_time, b->solid_time, a->num_nodes * sizeof(double)), 0);
  ck_assert_int_eq(memcmp(a->freeze_time, b->freeze_time, a->num_nodes * sizeof(double)), 0);
  ck_assert_uint_eq(a->series.num_rows, b->series.num_rows);
  ck_assert_int_eq(memcmp(a->series.values, b->series.values, a->series.num_rows * a->series.num_columns * sizeof(double)), 0);
  run_destroy(&straight);
  run_destroy(&second);
  pot_release(&p);
}
END_TEST

/* The wall clock may ask for a checkpoint at any step; the clock of the run then says nothing of it, so that asking changes no bit. */
START_TEST(a_checkpoint_asked_for_changes_no_bit)
{
  pot p;
  message msg = {""};
  pot_create(&p, 16);
  run *straight = start(&p);
  run *unasked = start(&p);
  for (int i = 0; i < 17; i++)
    advance_to(straight, PAUSE_PROGRESS);
  run_ask_checkpoint(straight);
  run_pause why = PAUSE_PROGRESS;
  ck_assert_int_eq(run_advance(straight, &why, &msg), STATUS_OK);
  while (why == PAUSE_STORE)
    ck_assert_int_eq(run_advance(straight, &why, &msg), STATUS_OK);
  ck_assert_int_eq(why, PAUSE_CHECKPOINT);
  run *second = start(&p);
  const state_field *from, *to;
  size_t num = run_state(straight, &from);
  size_t rows = run_results(straight)->series.num_rows;
  ck_assert_int_eq(run_reserve(second, rows, run_results(straight)->num_events, &msg), STATUS_OK);
  ck_assert_uint_eq(run_state(second, &to), num);
  for (size_t i = 0; i < num; i++) {
    ck_assert_str_eq(from[i].name, to[i].name);
    ck_assert_uint_eq(from[i].count, to[i].count);
    memcpy(to[i].data, from[i].data, from[i].count * (from[i].type == FIELD_BYTES ? 1 : 8));
  }
  ck_assert_msg(run_restored(second, &msg) == STATUS_OK, "%s", msg.text);
  advance_to(straight, PAUSE_DONE);
  advance_to(second, PAUSE_DONE);
  advance_to(unasked, PAUSE_DONE);
  ck_assert_double_eq(run_results(unasked)->bodies[0].freeze_time, run_results(second)->bodies[0].freeze_time);
  const results *a = run_results(straight), *b = run_results(second);
  ck_assert_double_eq(a->bodies[0].freeze_time, b->bodies[0].freeze_time);
  ck_assert_double_eq(a->ledger.residual_relative, b->ledger.residual_relative);
  ck_assert_int_eq(memcmp(a->solid_time, b->solid_time, a->num_nodes * sizeof(double)), 0);
  ck_assert_int_eq(memcmp(a->freeze_time, b->freeze_time, a->num_nodes * sizeof(double)), 0);
  ck_assert_uint_eq(a->series.num_rows, b->series.num_rows);
  ck_assert_int_eq(memcmp(a->series.values, b->series.values, a->series.num_rows * a->series.num_columns * sizeof(double)), 0);
  run_destroy(&straight);
  run_destroy(&unasked);
  run_destroy(&second);
  pot_release(&p);
}
END_TEST

/* The motion of the water is frozen within a step: the default steps must be short enough for it (wanted: well below 1 %). */
START_TEST(default_steps_follow_the_motion_of_the_water)
{
  double time[2], half[2];
  for (int fine = 0; fine < 2; fine++) {
    pot p;
    pot_create(&p, 12);
    p.part.initial_temperature = 9.0;
    p.body.flow = (motion){.kind = MOTION_STILL, .film_coefficient = NAN, .horizontal_factor = NAN, .vertical_factor = NAN,
                           .coherency = 0.2};
    p.r.control.longest_step = fine ? 2.0 : 0.0;
    run *x = start(&p);
    advance_to(x, PAUSE_DONE);
    time[fine] = run_results(x)->bodies[0].freeze_time;
    half[fine] = run_results(x)->bodies[0].mark[0];
    run_destroy(&x);
    pot_release(&p);
  }
  ck_assert_double_eq_tol(time[0], time[1], 0.003 * time[1]);
  ck_assert_double_eq_tol(half[0], half[1], 0.01 * half[1]);
}
END_TEST

START_TEST(what_is_not_solid_has_no_freeze_time)
{
  pot p;
  pot_create(&p, 10);
  p.stages[0].limit = 600.0;
  p.r.num_stages = 1;
  run *x = start(&p);
  advance_to(x, PAUSE_DONE);
  const body_result *body = &run_results(x)->bodies[0];
  ck_assert(!body->complete);
  ck_assert_double_nan(body->freeze_time);
  ck_assert_double_nan(body->last_time);
  ck_assert_str_eq(run_results(x)->stages[0].ended_by, "time limit");
  ck_assert_uint_ge(run_results(x)->num_warnings, 1);
  run_destroy(&x);
  pot_release(&p);
}
END_TEST

/* A warm stage after the freeze does not take back what the freeze found. */
START_TEST(what_melts_later_was_frozen_all_the_same)
{
  pot p;
  pot_create(&p, 10);
  double times[] = {0.0, 4000.0, 4001.0}, temperatures[] = {-12.5, -12.5, 15.0};
  p.rules[1].temperature = (schedule){.num = 3, .time = times, .value = temperatures};
  p.stages[1] = (rig_stage){.name = "thaw", .kind = STAGE_HOLD, .until = UNTIL_PART_ABOVE, .part = 0, .temperature = 4.0, .limit = 1e5};
  run *x = start(&p);
  advance_to(x, PAUSE_DONE);
  const body_result *body = &run_results(x)->bodies[0];
  ck_assert(body->complete);
  ck_assert_double_eq(body->fraction, 1.0);
  ck_assert_double_le(fabs(body->freeze_time - run_results(x)->stages[0].end_at), 1.0);
  ck_assert_double_le(fabs(body->last_time - body->freeze_time), 1.0);
  run_destroy(&x);
  pot_release(&p);
}
END_TEST

START_TEST(a_body_without_volume_is_refused_by_name)
{
  pot p;
  message msg = {""};
  pot_create(&p, 10);
  rig_part covered[2] = {p.part, {.name = "plug", .kind = PART_HELD, .region = p.region}};
  p.r.parts = covered;
  p.r.num_parts = 2;
  run *x = NULL;
  ck_assert_int_eq(run_create(&x, &p.r, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "'water'"));
  ck_assert_ptr_null(x);
  pot_release(&p);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("run");
  TCase *tcase = tcase_create("run");
  tcase_set_timeout(tcase, 120);
  tcase_add_test(tcase, stages_follow_one_another_and_end_where_they_should);
  tcase_add_test(tcase, output_times_do_not_change_the_answer);
  tcase_add_test(tcase, a_restored_run_ends_in_the_same_bits);
  tcase_add_test(tcase, a_checkpoint_asked_for_changes_no_bit);
  tcase_add_test(tcase, default_steps_follow_the_motion_of_the_water);
  tcase_add_test(tcase, what_is_not_solid_has_no_freeze_time);
  tcase_add_test(tcase, what_melts_later_was_frozen_all_the_same);
  tcase_add_test(tcase, a_body_without_volume_is_refused_by_name);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
