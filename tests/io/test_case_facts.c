/* What `check` says, against hand calculations on a bucket in a trough of brine. */
#include <check.h>
#include <jansson.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_check.h"

static const double PI = 3.14159265358979323846;

static case_file *c;
static case_facts *f;

static void open_case(const char *const *overrides, size_t num)
{
  char *faults = NULL;
  message msg = {""};
  const status code = case_file_read(&c, TEST_DATA "/trough.yaml", overrides, num, &faults, &msg);
  ck_assert_msg(code == STATUS_OK, "%s", faults ? faults : msg.text);
  ck_assert_int_eq(case_facts_create(&f, c, &msg), STATUS_OK);
}

static void tear_down(void)
{
  case_facts_destroy(&f);
  case_file_destroy(&c);
}

static double frustum(double a, double b, double h)
{
  return PI * h * (a * a + a * b + b * b) / 3.0;
}

/* The bucket's outside: each side wall 2 mm thicker along its normal, the floor 2 mm down; corners of sheet are round, which takes
 * away less than 1e-6 m3. */
static double bucket_outside_to(double z)
{
  const double slope = 0.02 / 0.3, aside = 0.002 * sqrt(1.0 + slope * slope), h = z - 0.098;
  const double a = 0.11 + aside - 0.002 * slope;
  return frustum(a, a + slope * h, h);
}

static bool has_caution(const char *words)
{
  for (size_t i = 0; i < f->num_cautions; i++)
    if (strstr(f->cautions[i], words))
      return true;
  return false;
}

START_TEST(masses_of_walls_are_volume_times_density)
{
  open_case(NULL, 0);
  /* aluminium 3003 is 2730 kg/m3, polyethylene 955 kg/m3 (tables of solids) */
  const double bucket = 2730.0 * (bucket_outside_to(0.4) - frustum(0.11, 0.13, 0.3));
  ck_assert_double_eq_tol(f->parts[1].mass, bucket, 0.01 * bucket);
  const double trough = 955.0 * PI * (0.305 * 0.305 * 0.505 - 0.3 * 0.3 * 0.5);
  ck_assert_double_eq_tol(f->parts[0].mass, trough, 0.01 * trough);
  tear_down();
}
END_TEST

/* Archimedes: brine pushed aside less water and bucket. CaCl2 20 % at 20 degC is 1177 kg/m3 (CRC Handbook, concentrative properties of
 * aqueous solutions: 1.1775 at 20 %). */
START_TEST(up_force_is_displaced_brine_less_weight)
{
  open_case(NULL, 0);
  const double displaced = bucket_outside_to(0.35);
  const double bucket = 2730.0 * (bucket_outside_to(0.4) - frustum(0.11, 0.13, 0.3));
  const double net = 9.80665 * (displaced * 1177.5 - 12.0 * 0.9997 - bucket);
  ck_assert_double_eq_tol(f->bodies[0].displaced, displaced, 1e-4 * displaced);
  ck_assert_double_eq_tol(f->bodies[0].up_force, net, 1.5);
  ck_assert_int_eq(f->bodies[0].bath, 0);
  tear_down();
}
END_TEST

START_TEST(floor_load_is_everything_over_the_lowest_face)
{
  open_case(NULL, 0);
  const double mass = f->parts[0].mass + f->parts[1].mass + c->bodies[0].mass + c->baths[0].mass;
  ck_assert_double_eq_tol(f->mass, mass, 1e-9);
  ck_assert_double_eq_tol(f->floor_area, PI * 0.305 * 0.305, 1e-6);
  ck_assert_double_eq_tol(f->floor_load, mass / (PI * 0.305 * 0.305), 1e-3);
  /* 4 r lambda / (pi r^2) with 2 W/(m K): 8.35; B' = r < d_t = 0.42 m: 2 / (0.457 x 0.305 + 0.42) = 3.575 W/(m2 K) (solver/ground.h). */
  ck_assert_double_eq_tol(f->floor_touching, 8.349, 1e-3);
  ck_assert_double_eq_tol(f->floor_aired, 3.575, 1e-3);
  tear_down();
}
END_TEST

START_TEST(bare_surface_is_the_ring_round_the_bucket)
{
  open_case(NULL, 0);
  const double slope = 0.02 / 0.3, aside = 0.002 * sqrt(1.0 + slope * slope), r = 0.11 + aside + slope * 0.25;
  ck_assert_double_eq_tol(f->baths[0].surface, PI * (0.09 - r * r), 0.01 * PI * 0.09);
  tear_down();
}
END_TEST

START_TEST(cautions_are_those_of_this_rig)
{
  open_case(NULL, 0);
  ck_assert(has_caution("bucket is aluminium 3003, which chloride brine attacks"));
  ck_assert(has_caution("calcium chloride heats up"));
  ck_assert(has_caution("residual-current device"));
  ck_assert(!has_caution("propane"));
  ck_assert(!has_caution("lifting")); /* 12 kg */
  ck_assert(!has_caution("closed vessel"));
  ck_assert(has_caution("local codes"));
  /* more than 250 kg/m2 on the trough's foot, and some 110 kg in all: no floor minds */
  ck_assert_double_gt(f->floor_load, 250.0);
  ck_assert_double_lt(f->mass, 150.0);
  ck_assert(!has_caution("floor:"));
  tear_down();
  const char *const fuller[] = {"baths.brine.level=48 cm", "parts.bucket.height=40 cm"};
  open_case(fuller, 2);
  ck_assert_double_gt(f->mass, 150.0);
  ck_assert(has_caution("floor:"));
  tear_down();
  const char *const overrides[] = {"parts.bucket.material=hdpe", "parts.bucket.open=none", "baths.brine.salt=ethanol"};
  open_case(overrides, 3);
  ck_assert(!has_caution("chloride"));
  ck_assert(has_caution("closed vessel"));
  ck_assert(has_caution("ethanol burns"));
  tear_down();
}
END_TEST

START_TEST(json_holds_what_the_text_says)
{
  char *text = NULL;
  message msg = {""};
  json_error_t error;
  open_case(NULL, 0);
  ck_assert_int_eq(case_check_json(&text, c, f, &msg), STATUS_OK);
  json_t *root = json_loads(text, JSON_REJECT_DUPLICATES, &error);
  ck_assert_msg(root != NULL, "%s", error.text);
  const json_t *body = json_array_get(json_object_get(root, "bodies"), 0);
  ck_assert_str_eq(json_string_value(json_object_get(body, "name")), "water");
  ck_assert_double_eq(json_number_value(json_object_get(body, "up_force_N")), f->bodies[0].up_force);
  ck_assert_ptr_null(json_object_get(json_array_get(json_object_get(root, "parts"), 0), "nothing"));
  ck_assert_uint_eq(json_array_size(json_object_get(root, "cautions")), f->num_cautions);
  json_decref(root);
  free(text);
  tear_down();
}
END_TEST

START_TEST(text_keeps_to_80_columns)
{
  char line[1024], text[16384] = "";
  open_case(NULL, 0);
  FILE *to = tmpfile();
  ck_assert_ptr_nonnull(to);
  ck_assert(case_check_print(to, c, f));
  rewind(to);
  while (fgets(line, sizeof line, to)) {
    size_t columns = 0; /* letters beyond ASCII take more bytes than columns */
    for (const char *p = line; *p && *p != '\n'; p++)
      columns += ((unsigned char)*p & 0xc0) != 0x80;
    if (!strstr(line, ".yaml")) /* a path may be as long as it likes */
      ck_assert_msg(columns <= 80, "%zu columns: %s", columns, line);
    char *from = line; /* joined, so that words are found whatever line they fell on */
    while (*from == ' ')
      from++;
    from[strcspn(from, "\n")] = '\0';
    ck_assert_uint_lt(strlen(text) + strlen(from) + 2, sizeof text);
    (void)strcat(strcat(text, " "), from);
  }
  ck_assert_msg(strstr(text, "one person may lift") != NULL, "%s", text);
  (void)fclose(to);
  tear_down();
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("case_facts");
  TCase *facts = tcase_create("facts");
  tcase_add_test(facts, masses_of_walls_are_volume_times_density);
  tcase_add_test(facts, up_force_is_displaced_brine_less_weight);
  tcase_add_test(facts, floor_load_is_everything_over_the_lowest_face);
  tcase_add_test(facts, bare_surface_is_the_ring_round_the_bucket);
  tcase_add_test(facts, cautions_are_those_of_this_rig);
  tcase_add_test(facts, json_holds_what_the_text_says);
  tcase_add_test(facts, text_keeps_to_80_columns);
  suite_add_tcase(suite, facts);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
