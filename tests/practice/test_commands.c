/* The program as it is typed: exit codes, what goes where, and that wrong input leaves nothing behind. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

enum { PATH = 512, MOST = 1 << 17 };

static char dir[] = "/tmp/lastwater_commands_XXXXXX";
static char out[MOST], err[MOST];

static void set_up(void)
{
  strcpy(dir, "/tmp/lastwater_commands_XXXXXX");
  ck_assert_ptr_nonnull(mkdtemp(dir));
}

static void tear_down(void)
{
  char command[PATH];
  (void)snprintf(command, sizeof command, "rm -rf '%s'", dir);
  ck_assert_int_eq(system(command), 0);
}

static void take(const char *name, char *text)
{
  char path[PATH];
  (void)snprintf(path, sizeof path, "%s/%s", dir, name);
  FILE *f = fopen(path, "r");
  ck_assert_ptr_nonnull(f);
  text[fread(text, 1, MOST - 1, f)] = 0;
  (void)fclose(f);
  (void)remove(path);
}

/* Runs the program in dir; its streams are in out and err. */
static int type(const char *arguments)
{
  char command[4 * PATH];
  (void)snprintf(command, sizeof command, "cd '%s' && '%s' %s >out.txt 2>err.txt", dir, PROGRAM, arguments);
  const int ended = system(command);
  take("out.txt", out);
  take("err.txt", err);
  return WIFEXITED(ended) ? WEXITSTATUS(ended) : -1;
}

static void copy_case(const char *from)
{
  char command[2 * PATH];
  (void)snprintf(command, sizeof command, "cp '%s' '%s/case.yaml'", from, dir);
  ck_assert_int_eq(system(command), 0);
}

static bool is_there(const char *name)
{
  char path[PATH];
  (void)snprintf(path, sizeof path, "%s/%s", dir, name);
  return access(path, F_OK) == 0;
}

START_TEST(help_and_version_go_to_the_standard_output)
{
  ck_assert_int_eq(type("--help"), 0);
  ck_assert_ptr_nonnull(strstr(out, "lastwater check"));
  ck_assert_ptr_nonnull(strstr(out, "--resume"));
  ck_assert_str_eq(err, "");
  ck_assert_int_eq(type("--help keys"), 0);
  ck_assert_ptr_nonnull(strstr(out, "held_brine"));
  ck_assert_ptr_nonnull(strstr(out, "aluminium 3003"));
  ck_assert_int_eq(type("--version"), 0);
  ck_assert_ptr_nonnull(strstr(out, "lastwater "));
}
END_TEST

static const struct {
  const char *arguments, *says;
} wrong[] = {
    {"", "say what to do"},
    {"chek case.yaml", "the closest is check"},
    {"check nowhere.yaml", "No such file"},
    {"check broken.yaml", "broken.yaml:18:11: "},
    {"run broken.yaml", "broken.yaml:18:11: "},
    {"estimate broken.yaml", "broken.yaml:18:11: "},
    {"run broken.yaml -o results", "1 fault; nothing was computed"},
    {"run case.yaml --set parts.bucket.wall=3", "--set parts.bucket.wall=3: "},
};

START_TEST(wrong_input_ends_with_2_and_writes_nothing)
{
  char command[2 * PATH];
  (void)snprintf(command, sizeof command, "cp '%s/broken/bare_number.yaml' '%s/broken.yaml'", TEST_DATA, dir);
  ck_assert_int_eq(system(command), 0);
  copy_case(TEST_DATA "/trough.yaml");
  ck_assert_int_eq(type(wrong[_i].arguments), 2);
  ck_assert_msg(strstr(err, wrong[_i].says) != NULL, "\"%s\" is not said in:\n%s", wrong[_i].says, err);
  ck_assert_str_eq(out, "");
  ck_assert(!is_there("broken.result") && !is_there("case.result") && !is_there("results"));
}
END_TEST

/* Lines of a paragraph joined: where they break is not what is tested. */
static void join_lines(char *text)
{
  char *to = text;
  for (const char *from = text; *from; from++) {
    const size_t blanks = *from == '\n' ? strspn(from + 1, " ") : 0;
    if (*from == '\n' && from[1] != '\n' && from[1 + blanks] != '-')
      from += blanks, *to++ = ' ';
    else
      *to++ = *from;
  }
  *to = '\0';
}

/* 80 columns: characters, not bytes. */
static size_t widest_line(const char *text)
{
  size_t widest = 0, columns = 0;
  for (; *text; text++) {
    columns = *text == '\n' ? 0 : columns + (((unsigned char)*text & 0xC0) != 0x80);
    widest = columns > widest ? columns : widest;
  }
  return widest;
}

START_TEST(check_explains_and_draws)
{
  copy_case(TEST_DATA "/trough.yaml");
  ck_assert_int_eq(type("check case.yaml"), 0);
  ck_assert_uint_le(widest_line(out), 80);
  join_lines(out);
  static const char *const said[] = {"A bucket in a trough", "12 L (3.17 US gal) at 10 degC", "one person may lift 23 kg", "floats: it must be held down", "begins to freeze at -18.9 degC",
                                     "8 turns of radius 220 mm", "which chloride brine attacks", "kg/m2", "local codes"};
  for (size_t i = 0; i < sizeof said / sizeof *said; i++)
    ck_assert_msg(strstr(out, said[i]) != NULL, "\"%s\" is not said in:\n%s", said[i], out);
  ck_assert(is_there("case.result/pictures/section.png"));
  ck_assert(!is_there("case.result/summary.json")); /* no simulation */
}
END_TEST

/* Results of a run are not touched by a check of a changed case. */
START_TEST(check_leaves_results_of_another_case_alone)
{
  copy_case(TEST_DATA "/trough.yaml");
  ck_assert_int_eq(type("run case.yaml --quiet --set run.store_every=100h --set stages.freeze.limit=1h"), 0);
  ck_assert(is_there("case.result/summary.json"));
  ck_assert_int_eq(type("check case.yaml --set grid.error=3%"), 0);
  ck_assert_ptr_nonnull(strstr(err, "no picture was drawn"));
}
END_TEST

/* Plank 1941, a rod of square section or a cylinder: t = rho L / dT (D (1/h + R) / 4 + D^2 / (16 k)), with the lengths of the case, h = 150
 * W/m2K for still brine (common practice, no source), k of ice 2.33 W/mK at -12 degC (Andersson & Inaba 2005), wall 2 mm of aluminium. */
START_TEST(estimate_gives_planks_time)
{
  copy_case(TEST_DATA "/trough.yaml");
  ck_assert_int_eq(type("estimate case.yaml --json --set coils.coil.refrigerant_temperature=-24C"), 0);
  json_error_t error;
  json_t *root = json_loads(out, 0, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  const json_t *list = json_object_get(json_array_get(json_object_get(root, "bodies"), 0), "estimates");
  ck_assert_uint_gt(json_array_size(list), 2);
  const json_t *first = json_array_get(list, 0);
  ck_assert_str_eq(json_string_value(json_object_get(first, "formula")), "plank");
  ck_assert_double_eq_tol(json_number_value(json_object_get(first, "surroundings_C")), -24.0, 1e-9);
  const double volume = 0.012 * 999.7 / 916.72, height = 0.2902, D = sqrt(4.0 * volume / (3.14159265358979 * height));
  const double infinitely_long = 916.72 * 333420.0 / 24.0 * (D / 4.0 * (1.0 / 150.0 + 0.002 / 175.0) + D * D / (16.0 * 2.28));
  const double time = json_number_value(json_object_get(first, "time_s"));
  ck_assert_double_lt(time, infinitely_long); /* bottom and top help a short one */
  ck_assert_double_gt(time, 0.7 * infinitely_long);
  json_decref(root);
}
END_TEST

START_TEST(run_answers_on_the_standard_output_and_says_where_to_look)
{
  copy_case(TEST_DATA "/trough.yaml");
  ck_assert_int_eq(type("run case.yaml -o there --set stages.freeze.limit=2h"), 0);
  ck_assert_ptr_nonnull(strstr(out, "A bucket in a trough"));
  ck_assert(is_there("there/summary.json") && is_there("there/fields.h5") && is_there("there/case.yaml"));
  ck_assert(!is_there("case.result"));
}
END_TEST

/* The case a run leaves reruns to the same figures: they are equal but for their provenance. */
START_TEST(resolved_case_reruns_to_the_same_summary)
{
  json_error_t error;
  copy_case(TEST_DATA "/trough.yaml");
  ck_assert_int_eq(type("run case.yaml -o first --json --quiet --set 'stages.freeze.limit=3 h' --set 'room.film=9 W/m2K'"), 0);
  json_t *first = json_loads(out, 0, &error);
  ck_assert_int_eq(type("run first/case.yaml -o second --json --quiet"), 0);
  json_t *second = json_loads(out, 0, &error);
  ck_assert_ptr_nonnull(first);
  ck_assert_ptr_nonnull(second);
  ck_assert_int_eq(json_object_del(first, "provenance"), 0);
  ck_assert_int_eq(json_object_del(second, "provenance"), 0);
  ck_assert(json_equal(first, second));
  json_decref(first);
  json_decref(second);
}
END_TEST

static void write_case(const char *text)
{
  char path[PATH];
  (void)snprintf(path, sizeof path, "%s/case.yaml", dir);
  FILE *f = fopen(path, "w");
  ck_assert_ptr_nonnull(f);
  ck_assert_int_ge(fputs(text, f), 0);
  ck_assert_int_eq(fclose(f), 0);
}

/* s; of the first body under the given surroundings. */
static double estimated(const json_t *root, const char *formula, double surroundings)
{
  size_t i;
  const json_t *o, *list = json_object_get(json_array_get(json_object_get(root, "bodies"), 0), "estimates");
  json_array_foreach(list, i, o)
    if (strcmp(json_string_value(json_object_get(o, "formula")), formula) == 0 &&
        fabs(json_number_value(json_object_get(o, "surroundings_C")) - surroundings) < 1e-9)
      return json_number_value(json_object_get(o, "time_s"));
  return NAN;
}

/* Plank 1941: t = rho L / dT (P D (1/h + R) + R D^2 / k); cylinder cold at its side 1/4, 1/16; ball 1/6, 1/24; slab 1/2, 1/8, cold at one face
 * D twice its height. k of ice at half the coolant's temperature 2.25 W/mK within 2 % (Slack 1980, Andersson & Inaba 2005). Pham 1986 adds the
 * superheat: the factor is 1 + c T0 / L * dT / (dT + T0 / 2), c = 4.2 kJ/kgK. */
static const struct {
  const char *what, *text;
  double below, P, R, D, resistance, start;
} shapes[] = {
    {"jacket", "dimension: rz\nparts:\n  - {name: can, shape: cylinder, radius: 5 cm, height: 20 cm, wall: 2 mm, material: stainless steel 304}\n"
               "  - {name: jacket, shape: tube, inner_radius: 52 mm, radius: 60 mm, height: 20 cm, held: -15 C, held_film: 500 W/m2K}\n"
               "bodies:\n  - {name: water, in: can, depth: 15 cm, temperature: 10 C}\n",
     15.0, 1.0 / 4, 1.0 / 16, 0.1, 1.0 / 500 + 0.002 / 15.0, 10.0},
    {"plate", "dimension: rz\nparts:\n  - {name: plate, shape: disc, radius: 10 cm, height: 1 cm, held: -15 C}\n"
              "  - {name: can, shape: cylinder, radius: 8 cm, height: 8 cm, on: plate, wall: 2 mm, material: stainless steel 304}\n"
              "bodies:\n  - {name: water, in: can, mass: 0.9216 kg, temperature: 10 C}\n",
     15.0, 1.0 / 2, 1.0 / 8, 0.1, 0.002 / 15.0, 10.0},
    {"ball", "dimension: rz\nroom: {temperature: -18 C, film: 20 W/m2K}\nparts:\n"
             "  - {name: shell, shape: sphere, radius: 5 cm, wall: 1 mm, open: none, material: stainless steel 304}\n"
             "bodies:\n  - {name: water, in: shell, mass: 0.46 kg, temperature: 10 C}\n",
     18.0, 1.0 / 6, 1.0 / 24, 0.0986, 1.0 / 20 + 0.001 / 15.0, 10.0},
    {"insulated floor and top", "dimension: rz\nroom: {temperature: -18 C, film: 20 W/m2K}\nparts:\n"
             "  - {name: can, shape: cylinder, radius: 5 cm, height: 20 cm, wall: 2 mm, material: stainless steel 304}\n"
             "bodies:\n  - {name: water, in: can, depth: 15 cm, temperature: 10 C}\n"
             "surfaces:\n  - {of: can, faces: bottom, insulated: yes}\n  - {of: water, faces: top, insulated: yes}\n",
     18.0, 1.0 / 4, 1.0 / 16, 0.1, 1.0 / 20 + 0.002 / 15.0, 10.0},
};

START_TEST(estimate_takes_the_shape_and_the_cold_faces)
{
  json_error_t error;
  write_case(shapes[_i].text);
  ck_assert_msg(type("estimate case.yaml --json") == 0, "%s", err);
  json_t *root = json_loads(out, 0, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  const double D = shapes[_i].D, below = shapes[_i].below, start = shapes[_i].start;
  const double want = 916.7 * 333.4e3 / below * (shapes[_i].P * D * shapes[_i].resistance + shapes[_i].R * D * D / 2.25);
  const double got = estimated(root, "plank", -below), pham = estimated(root, "pham", -below);
  ck_assert_msg(fabs(got - want) < 0.02 * want, "%s: %.6g s, by hand %.6g s", shapes[_i].what, got, want);
  ck_assert_double_eq_tol(pham / got, 1.0 + 4.2 * start / 333.4 * below / (below + 0.5 * start), 2e-3);
  json_decref(root);
}
END_TEST

START_TEST(estimate_leaves_a_rod_in_the_water_to_a_run)
{
  write_case("dimension: rz\nparts:\n  - {name: can, shape: cylinder, radius: 5 cm, height: 20 cm, wall: 2 mm, material: stainless steel 304}\n"
             "  - {name: ring, shape: tube, inner_radius: 20 mm, radius: 25 mm, height: 20 cm, z: 2 cm, held: -15 C}\n"
             "bodies:\n  - {name: water, in: can, depth: 15 cm, temperature: 10 C}\n");
  ck_assert_msg(type("estimate case.yaml") == 0, "%s", err);
  ck_assert_ptr_nonnull(strstr(out, "The cold stands inside the water"));
}
END_TEST

START_TEST(spread_without_a_band_is_said)
{
  copy_case(TEST_DATA "/sealed_can.yaml");
  ck_assert_int_eq(type("check case.yaml --set 'parts.can.wall=1 +- 0.2 mm' --set 'room.temperature=18 C .. 22 C'"), 0);
  join_lines(out);
  ck_assert_ptr_nonnull(strstr(out, "the spread counts with run --band"));
  ck_assert_int_eq(type("run case.yaml --set 'parts.can.wall=1 +- 0.2 mm' --set 'room.temperature=18 C .. 22 C'"), 0);
  ck_assert_ptr_nonnull(strstr(err, "the spread of 2 values counts with --band only"));
}
END_TEST

/* Conservation of energy: what lies wholly under brine gives heat to the brine alone. */
START_TEST(sealed_can_under_brine_has_no_path_to_the_room)
{
  json_error_t error;
  copy_case(TEST_DATA "/sealed_can.yaml");
  ck_assert_int_eq(type("run case.yaml --json --quiet"), 0);
  json_t *root = json_loads(out, 0, &error), *ledger = json_object_get(root, "ledger");
  ck_assert_ptr_nonnull(ledger);
  ck_assert_ptr_nonnull(json_object_get(ledger, "brine to room"));
  const char *key;
  json_t *value;
  json_object_foreach(ledger, key, value)
    ck_assert_msg(!strstr(key, "to room") || strncmp(key, "brine ", 6) == 0 || strncmp(key, "tub ", 4) == 0, "%s", key);
  const double water = -json_number_value(json_object_get(ledger, "stored in water"));
  ck_assert_double_gt(water, 0.0);
  /* the air's own heat stays negligible: 2e4 J/(m3 K) over some 10 K is far below 0.5 % of the latent heat of water */
  ck_assert_double_lt(fabs(json_number_value(json_object_get(ledger, "stored in can air"))), 5e-3 * water);
  json_decref(root);
}
END_TEST

START_TEST(advice_for_trapped_water_fits_the_vessel)
{
  static const char *const open[2] = {"top", "none"}, *const advice[2] = {"Keep the top open", "leave it a vent"};
  for (int i = 0; i < 2; i++) {
    char text[512];
    (void)snprintf(text, sizeof text,
                   "dimension: rz\nroom: {temperature: -20 C, film: 30 W/m2K}\n"
                   "parts:\n  - {name: flask, shape: cylinder, radius: 4 cm, height: 9 cm, wall: 2 mm, open: %s, material: hdpe}\n"
                   "bodies:\n  - {name: water, in: flask, depth: 7 cm, temperature: 2 C}\ngrid: {spacing: 5 mm}\n", open[i]);
    write_case(text);
    ck_assert_int_eq(type(i == 0 ? "run case.yaml -o one --quiet" : "run case.yaml -o other --quiet"), 0);
    join_lines(out);
    ck_assert_msg(strstr(out, advice[i]) && !strstr(out, advice[1 - i]), "%s", out);
  }
}
END_TEST

/* The manual page and the completion come from the same table: every command and option of --help is in both. */
START_TEST(manual_and_completion_hold_every_command_and_option)
{
  char help[MOST], man[MOST];
  ck_assert_int_eq(type("--help"), 0);
  strcpy(help, out);
  ck_assert_int_eq(type("--help man"), 0);
  strcpy(man, out);
  ck_assert_ptr_eq(strstr(man, ".TH LASTWATER 1"), man);
  ck_assert_int_eq(type("--help bash"), 0);
  size_t num = 0;
  for (char *word = strtok(help, " ,\n"); word; word = strtok(NULL, " ,\n")) {
    if (strncmp(word, "--", 2) != 0 || strspn(word + 2, "abcdefghijklmnopqrstuvwxyz") != strlen(word + 2))
      continue;
    char roff[64] = "\\-\\-";
    strcat(roff, word + 2);
    ck_assert_msg(strstr(man, roff) != NULL, "%s is not in the manual page", word);
    ck_assert_msg(strstr(out, word) != NULL, "%s is not in the completion", word);
    num++;
  }
  ck_assert_uint_gt(num, 10);
  static const char *const commands[] = {"check", "run", "estimate", "brine", "report", "compare"};
  for (size_t i = 0; i < sizeof commands / sizeof *commands; i++)
    ck_assert(strstr(man, commands[i]) != NULL && strstr(out, commands[i]) != NULL);
}
END_TEST

/* report makes the files again from what is stored: the same pictures but for the precision of stored fields, and the same page. */
START_TEST(report_makes_page_and_pictures_again)
{
  copy_case(TEST_DATA "/thimble.yaml");
  ck_assert_int_eq(type("run case.yaml --quiet"), 0);
  char command[4 * PATH];
  (void)snprintf(command, sizeof command, "cd '%s/case.result' && cp report.html was.html && cp pictures/freeze_time.png was.png && rm -r report.html pictures", dir);
  ck_assert_int_eq(system(command), 0);
  ck_assert_msg(type("report case.result --vector svg") == 0, "%s", err);
  (void)snprintf(command, sizeof command, "cd '%s/case.result' && cmp was.png pictures/freeze_time.png && test -s pictures/section.svg && "
                                          "grep -q 'Frozen solid\\|frozen solid' report.html", dir);
  ck_assert_int_eq(system(command), 0);
  ck_assert_int_eq(type("report nowhere"), 2);
  ck_assert_ptr_nonnull(strstr(err, "is not the directory of a finished run"));
}
END_TEST

START_TEST(compare_tells_what_differs)
{
  json_error_t error;
  copy_case(TEST_DATA "/thimble.yaml");
  ck_assert_int_eq(type("run case.yaml -o thin --quiet"), 0);
  ck_assert_int_eq(type("run case.yaml -o thick --quiet --set 'parts.cup.wall=2 mm'"), 0);
  ck_assert_msg(type("compare thin thick") == 0, "%s", err);
  ck_assert_ptr_nonnull(strstr(out, "parts.cup.wall"));
  ck_assert_ptr_nonnull(strstr(out, "freeze.time_s"));
  ck_assert_ptr_null(strstr(out, "room.film")); /* the same in both */
  ck_assert(is_there("compare.html"));
  ck_assert_int_eq(type("compare thin thick --json"), 0);
  json_t *root = json_loads(out, 0, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  const json_t *row = json_array_get(json_object_get(root, "inputs"), 0);
  ck_assert_str_eq(json_string_value(json_object_get(row, "key")), "parts.cup.wall");
  ck_assert_str_eq(json_string_value(json_array_get(json_object_get(row, "values"), 1)), "2 mm");
  json_decref(root);
  ck_assert_int_eq(type("compare thin thin --json"), 0);
  root = json_loads(out, 0, &error);
  ck_assert_uint_eq(json_array_size(json_object_get(root, "inputs")) + json_array_size(json_object_get(root, "answers")), 0);
  json_decref(root);
  ck_assert_int_eq(type("compare thin"), 2);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("commands");
  TCase *commands = tcase_create("commands");
  tcase_add_checked_fixture(commands, set_up, tear_down);
  tcase_add_test(commands, help_and_version_go_to_the_standard_output);
  tcase_add_loop_test(commands, wrong_input_ends_with_2_and_writes_nothing, 0, (int)(sizeof wrong / sizeof *wrong));
  tcase_add_test(commands, check_explains_and_draws);
  tcase_add_test(commands, check_leaves_results_of_another_case_alone);
  tcase_add_test(commands, estimate_gives_planks_time);
  tcase_add_test(commands, run_answers_on_the_standard_output_and_says_where_to_look);
  tcase_add_test(commands, resolved_case_reruns_to_the_same_summary);
  tcase_add_loop_test(commands, estimate_takes_the_shape_and_the_cold_faces, 0, (int)(sizeof shapes / sizeof *shapes));
  tcase_add_test(commands, estimate_leaves_a_rod_in_the_water_to_a_run);
  tcase_add_test(commands, spread_without_a_band_is_said);
  tcase_add_test(commands, sealed_can_under_brine_has_no_path_to_the_room);
  tcase_add_test(commands, advice_for_trapped_water_fits_the_vessel);
  tcase_add_test(commands, manual_and_completion_hold_every_command_and_option);
  tcase_add_test(commands, report_makes_page_and_pictures_again);
  tcase_add_test(commands, compare_tells_what_differs);
  suite_add_tcase(suite, commands);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
