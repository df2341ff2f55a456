/* A `mixed` bath in a march: when it has come to rest at one temperature, its strength and its ice are those of the lever rule for
 * the whole bath (design: one liquid strength; ice is pure but for the brine it holds), and no salt is lost on the way. */
#include <check.h>
#include <math.h>
#include <stdlib.h>

#include "materials/brine.h"
#include "solver/run.h"

typedef struct {
  rig r;
  rig_part part;
  rig_bath bath;
  surface_rule rule;
  rig_stage stage;
  material brine;
  shape *region;
  double zero, cold, room;
} tub;

static void tub_create(tub *t, double strength, double cold, motion_kind moves)
{
  message msg = {""};
  *t = (tub){.zero = 0.0, .cold = cold, .room = 20.0};
  ck_assert_msg(brine_closed(&t->brine, BRINE_CACL2, LIQUIDUS_TONER_CATLING, strength, MUSH_MAXWELL, &msg) == STATUS_OK, "%s",
                msg.text);
  ck_assert_int_eq(shape_cylinder(&t->region, 0.021, 0.0, 0.017, &msg), STATUS_OK);
  const double r_edges[] = {0.0, 0.006, 0.012, 0.017, 0.021}, z_edges[] = {0.0, 0.006, 0.012, 0.017};
  const size_t num[3] = {4, 1, 3};
  const double *edges[3] = {r_edges, NULL, z_edges};
  const bool mirror[6] = {false};
  ck_assert_int_eq(grid_create(&t->r.mesh_grid, GRID_RZ, num, edges, mirror, &msg), STATUS_OK);
  t->part = (rig_part){.name = "brine", .kind = PART_BRINE, .region = t->region, .stuff = &t->brine, .initial_temperature = -3.0};
  t->bath = (rig_bath){.name = "brine", .part = 0, .salt = BRINE_CACL2, .mode = SALT_MIXED, .mass_fraction = strength,
                       .held_brine = 0.2,
                       .flow = {.kind = moves, .film_coefficient = 300.0, .horizontal_factor = NAN, .vertical_factor = NAN,
                                .coherency = 0.2}};
  t->rule = (surface_rule){.kind = SURFACE_FILM, .part = 0, .other = MESH_VOID, .faces = FACES_ALL,
                           .coefficient = {.num = 1, .time = &t->zero, .value = &t->room},
                           .temperature = {.num = 1, .time = &t->zero, .value = &t->cold}};
  t->stage = (rig_stage){.name = "precool", .kind = STAGE_PRECOOL, .until = UNTIL_TIME, .limit = 30.0 * 86400.0};
  rig *r = &t->r;
  r->num_parts = 1, r->parts = &t->part;
  r->num_baths = 1, r->baths = &t->bath;
  r->num_rules = 1, r->rules = &t->rule;
  r->num_stages = 1, r->stages = &t->stage;
  r->room = (rig_room){.temperature = {.num = 1, .time = &t->zero, .value = &t->room}, .relative_humidity = 0.5,
                       .pressure = 101325.0, .film = 8.0};
  r->plant.thermostat_part = -1;
  r->control = (rig_control){.output_interval = 864000.0, .series_interval = 86400.0};
}

static void tub_release(tub *t)
{
  grid_destroy(&t->r.mesh_grid);
  shape_destroy(&t->region);
  material_release(&t->brine);
}

/* Strengths and temperatures; in none does the ice reach its packing, where the held brine freezes on. */
static const struct {
  double strength, cold;
  motion_kind moves;
} cases[] = {{0.203, -24.1, MOTION_NONE}, {0.151, -13.7, MOTION_NONE}, {0.22, -30.3, MOTION_STILL}, {0.203, -24.1, MOTION_STIRRED}};

START_TEST(at_rest_the_bath_is_the_lever_rule_of_the_whole)
{
  message msg = {""};
  tub t;
  tub_create(&t, cases[_i].strength, cases[_i].cold, cases[_i].moves);
  run *x = NULL;
  ck_assert_msg(run_create(&x, &t.r, &msg) == STATUS_OK, "%s", msg.text);
  run_pause why = PAUSE_PROGRESS;
  while (why != PAUSE_DONE)
    ck_assert_msg(run_advance(x, &why, &msg) == STATUS_OK, "%s", msg.text);
  const bath_result *bath = &run_results(x)->baths[0];
  /* The lever rule: w on the ice line at that temperature, ice = 1 - w0 / w (Toner & Catling 2017 ice line). */
  const double w = brine_liquidus_fraction(BRINE_CACL2, LIQUIDUS_TONER_CATLING, cases[_i].cold);
  ck_assert_double_eq_tol(bath->mean_temperature, cases[_i].cold, 1e-5);
  ck_assert_double_eq_tol(bath->mass_fraction, w, 1e-6);
  ck_assert_double_eq_tol(bath->ice_fraction_mean, 1.0 - cases[_i].strength / w, 1e-6);
  /* Salt: strength times liquid is what was put in. */
  ck_assert_double_eq_tol(bath->mass_fraction * (1.0 - bath->ice_fraction_mean), cases[_i].strength, 1e-9 * cases[_i].strength);
  ck_assert_double_le(fabs(run_results(x)->ledger.residual_relative), 1e-9);
  run_destroy(&x);
  tub_release(&t);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("mixed bath");
  TCase *tcase = tcase_create("mixed bath");
  tcase_set_timeout(tcase, 120);
  tcase_add_loop_test(tcase, at_rest_the_bath_is_the_lever_rule_of_the_whole, 0, (int)(sizeof cases / sizeof cases[0]));
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_ENV);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
