/* summary.json: the keys of the contract, absent where unknown, and never a made-up number. */
#include "io/summary_json.h"

#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "small_rig.h"

static small_rig s;
static results res;
static provenance who;
static message msg;

static void set_up(void)
{
  msg.text[0] = '\0';
  small_rig_make(&s, GRID_RZ);
  small_rig_results(&s, &res);
  who = (provenance){.program = "lastwater 0.1.0", .started = "2024-01-02T03:04:05Z", .host = "shed", .wall = 1.5, .threads = 2};
}

static void tear_down(void)
{
  small_rig_release_results(&res);
  small_rig_release(&s);
}

static json_t *parsed(void)
{
  char *text = NULL;
  json_error_t fault;
  ck_assert_msg(summary_json_text(&text, &s.rig, &res, &who, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_int_eq(text[strlen(text) - 1], '\n');
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &fault);
  ck_assert_msg(root != NULL, "%s", fault.text);
  free(text);
  return root;
}

/* "a|b|2|c": keys and list places. NULL when it is not there. */
static json_t *at(json_t *root, const char *path)
{
  char copy[128];
  (void)snprintf(copy, sizeof copy, "%s", path);
  for (char *rest = copy; root && rest;) {
    char *bar = strchr(rest, '|');
    if (bar)
      *bar = '\0';
    root = json_is_array(root) ? json_array_get(root, (size_t)atoi(rest)) : json_object_get(root, rest);
    rest = bar ? bar + 1 : NULL;
  }
  return root;
}

static double real_at(json_t *root, const char *path)
{
  ck_assert_msg(json_is_real(at(root, path)), "%s is no real", path);
  return json_real_value(at(root, path));
}

static const char *text_at(json_t *root, const char *path)
{
  ck_assert_msg(json_is_string(at(root, path)), "%s is no text", path);
  return json_string_value(at(root, path));
}

/* Exactly these keys, no other. */
static void assert_keys(json_t *object, const char *list)
{
  size_t num = 0;
  char copy[512];
  (void)snprintf(copy, sizeof copy, "%s", list);
  for (char *key = strtok(copy, " "); key; key = strtok(NULL, " "), num++)
    ck_assert_msg(json_object_get(object, key) != NULL, "%s is missing", key);
  ck_assert_uint_eq(json_object_size(object), num);
}

START_TEST(every_key_of_the_contract_has_its_figure)
{
  json_t *root = parsed();
  assert_keys(root, "format provenance freeze last_liquid pockets expansion bath plant ledger cold bodies baths stages events warnings");
  ck_assert_int_eq(json_integer_value(at(root, "format")), 1);
  assert_keys(at(root, "provenance"), "program started wall_s threads host");
  assert_keys(at(root, "freeze"), "complete time_s fraction marks_s");
  ck_assert(json_is_true(at(root, "freeze|complete")));
  ck_assert_double_eq(real_at(root, "freeze|time_s"), 27000.0);
  assert_keys(at(root, "freeze|marks_s"), "0.5 0.9 0.99");
  ck_assert_double_eq(real_at(root, "freeze|marks_s|0.9"), 19800.0);
  assert_keys(at(root, "last_liquid"), "position_m time_s trapped distance_to_surface_m");
  ck_assert_uint_eq(json_array_size(at(root, "last_liquid|position_m")), 2);
  ck_assert_double_eq(real_at(root, "last_liquid|position_m|1"), 0.128);
  ck_assert_double_eq(real_at(root, "last_liquid|distance_to_surface_m"), 0.075);
  assert_keys(at(root, "pockets|0"), "parted_at_s closed_at_s last_at_s mass_kg closed_mass_kg position_m trapped distance_to_surface_m pressure_Pa "
                                "skin_tension_Pa crack_index");
  assert_keys(at(root, "expansion"), "level_rise_m dome_m3 dome_height_m crack_index");
  ck_assert_double_eq(real_at(root, "expansion|dome_height_m"), 0.005);
  ck_assert_double_eq(real_at(root, "pockets|0|pressure_Pa"), 4e5);
  assert_keys(at(root, "pockets|1"), "parted_at_s last_at_s mass_kg position_m trapped distance_to_surface_m parent"); /* it never closed */
  ck_assert_int_eq(json_integer_value(at(root, "pockets|1|parent")), 0);
  assert_keys(at(root, "bath"), "mass_fraction freezing_onset_C ice_fraction_mean ice_fraction_max draw");
  ck_assert_str_eq(text_at(root, "bath|draw"), "stiff");
  assert_keys(at(root, "plant"), "evaporating_C evaporating_C_min evaporating_C_max condensing_C condensing_C_min condensing_C_max "
                                 "suction_Pa suction_Pa_min suction_Pa_max discharge_Pa discharge_Pa_min discharge_Pa_max heat_J work_J "
                                 "mean_power_W");
  ck_assert_double_eq(real_at(root, "plant|evaporating_C_min"), -21.25);
  ck_assert_double_eq(real_at(root, "plant|discharge_Pa_max"), 1440000.0);
  assert_keys(at(root, "stages|1"), "name kind start_at_s end_at_s ended_by ledger plant");
  assert_keys(at(root, "stages|0"), "name kind start_at_s end_at_s ended_by ledger"); /* no plant in that stage */
  ck_assert_str_eq(text_at(root, "stages|0|kind"), "precool");
  assert_keys(at(root, "events|0"), "at_s stage what where"); /* its value is not known */
  ck_assert_str_eq(text_at(root, "warnings|0"), res.warnings[0]);
  json_decref(root);
}
END_TEST

START_TEST(ledger_entries_go_by_their_names)
{
  json_t *root = parsed(), *ledger = at(root, "ledger");
  ck_assert_uint_eq(json_object_size(ledger), 5);
  ck_assert_double_eq(json_real_value(json_object_get(ledger, "tub to room")), 0.5e6);
  ck_assert_double_eq(json_real_value(json_object_get(ledger, "residual_relative")), 3e-14);
  ck_assert_double_eq(json_real_value(at(root, "stages|1|ledger|coil")), 0.875 * -2.25e6);
  json_decref(root);
}
END_TEST

START_TEST(the_top_level_repeats_the_leading_body_and_bath)
{
  json_t *root = parsed();
  ck_assert(json_equal(at(root, "freeze"), at(root, "bodies|0|freeze")));
  ck_assert(json_equal(at(root, "last_liquid"), at(root, "bodies|0|last_liquid")));
  ck_assert(json_equal(at(root, "pockets"), at(root, "bodies|0|pockets")));
  ck_assert(json_equal(at(root, "bath|draw"), at(root, "baths|0|draw")));
  ck_assert_str_eq(text_at(root, "bodies|0|name"), "drum");
  ck_assert_str_eq(text_at(root, "baths|0|name"), "tub");
  json_decref(root);
}
END_TEST

START_TEST(unknown_is_absent)
{
  res.bodies[0].complete = false;
  res.bodies[0].fraction = 0.875;
  res.bodies[0].freeze_time = res.bodies[0].last_time = res.bodies[0].last_distance = NAN;
  res.bodies[0].mark[0] = res.bodies[0].mark[1] = res.bodies[0].mark[2] = NAN;
  res.bodies[0].last_position[0] = res.bodies[0].last_position[2] = NAN;
  res.bodies[0].level_rise = res.bodies[0].dome_volume = res.bodies[0].dome_height = res.bodies[0].crack_index = NAN;
  res.plant.present = false;
  res.contact_bath = -1;
  res.last_body = -1; /* none froze: the one with least ice leads */
  json_t *root = parsed();
  assert_keys(root, "format provenance freeze pockets ledger cold bodies baths stages events warnings");
  assert_keys(at(root, "freeze"), "complete fraction");
  ck_assert(json_is_false(at(root, "freeze|complete")));
  json_decref(root);
}
END_TEST

START_TEST(a_bath_that_touches_no_mould_has_no_verdict)
{
  res.baths[0].touches_mould = false;
  json_t *root = parsed();
  ck_assert_ptr_null(at(root, "baths|0|draw"));
  json_decref(root);
}
END_TEST

START_TEST(figures_come_back_to_the_bit)
{
  res.bodies[0].freeze_time = 86400.0 / 7.0;
  res.bodies[0].mark[1] = 0.1 + 0.2;
  json_t *root = parsed();
  ck_assert_double_eq(real_at(root, "freeze|time_s"), 86400.0 / 7.0);
  ck_assert_double_eq(real_at(root, "freeze|marks_s|0.9"), 0.1 + 0.2);
  json_decref(root);
}
END_TEST

START_TEST(an_infinite_figure_is_refused_by_name)
{
  char *text = NULL;
  res.bodies[0].level_rise = INFINITY;
  ck_assert_int_eq(summary_json_text(&text, &s.rig, &res, &who, &msg), STATUS_FAILED);
  ck_assert_ptr_null(text);
  ck_assert_msg(strstr(msg.text, "level_rise_m is infinite") != NULL, "%s", msg.text);
}
END_TEST

START_TEST(a_ledger_that_names_a_path_twice_is_refused)
{
  char *text = NULL;
  (void)snprintf(res.ledger.entries[1].name, sizeof res.ledger.entries[1].name, "coil");
  ck_assert_int_eq(summary_json_text(&text, &s.rig, &res, &who, &msg), STATUS_FAILED);
  ck_assert_msg(strstr(msg.text, "coil is named twice") != NULL, "%s", msg.text);
}
END_TEST

START_TEST(text_cut_inside_a_character_does_not_lose_the_summary)
{
  (void)snprintf(res.warnings[0], sizeof res.warnings[0], "at 3 m\xC2");
  json_t *root = parsed();
  ck_assert_str_eq(text_at(root, "warnings|0"), "at 3 m?");
  json_decref(root);
}
END_TEST

START_TEST(positions_have_three_figures_in_three_dimensions)
{
  small_rig_release_results(&res);
  small_rig_release(&s);
  small_rig_make(&s, GRID_XYZ);
  small_rig_results(&s, &res);
  res.bodies[0].last_position[1] = 0.045;
  json_t *root = parsed();
  ck_assert_uint_eq(json_array_size(at(root, "last_liquid|position_m")), 3);
  ck_assert_double_eq(real_at(root, "last_liquid|position_m|1"), 0.045);
  json_decref(root);
}
END_TEST

START_TEST(provenance_names_program_host_and_time)
{
  summary_json_provenance(&who);
  ck_assert_ptr_nonnull(strstr(who.program, "lastwater " LASTWATER_VERSION));
  ck_assert_uint_gt(strlen(who.host), 0);
  int year, month, day, hour, minute, second;
  ck_assert_int_eq(sscanf(who.started, "%d-%d-%dT%d:%d:%dZ", &year, &month, &day, &hour, &minute, &second), 6);
  ck_assert_int_ge(year, 2024);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("summary_json");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, every_key_of_the_contract_has_its_figure);
  tcase_add_test(tcase, ledger_entries_go_by_their_names);
  tcase_add_test(tcase, the_top_level_repeats_the_leading_body_and_bath);
  tcase_add_test(tcase, unknown_is_absent);
  tcase_add_test(tcase, a_bath_that_touches_no_mould_has_no_verdict);
  tcase_add_test(tcase, figures_come_back_to_the_bit);
  tcase_add_test(tcase, an_infinite_figure_is_refused_by_name);
  tcase_add_test(tcase, a_ledger_that_names_a_path_twice_is_refused);
  tcase_add_test(tcase, text_cut_inside_a_character_does_not_lose_the_summary);
  tcase_add_test(tcase, positions_have_three_figures_in_three_dimensions);
  tcase_add_test(tcase, provenance_names_program_host_and_time);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
