/* Case files: a sound one resolved to the figures that a hand calculation gives, and broken ones, each told at its place. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "io/case_file.h"

enum { PATH = 512, MOST_TEXT = 1 << 20 };
static const double PI = 3.14159265358979323846;

static case_file *sound(const char *path, const char *const *overrides, size_t num)
{
  case_file *c = NULL;
  char *faults = NULL;
  message msg = {""};
  const status code = case_file_read(&c, path, overrides, num, &faults, &msg);
  ck_assert_msg(code == STATUS_OK, "%s\n%s", msg.text, faults ? faults : "");
  ck_assert_ptr_null(faults);
  return c;
}

/* All faults of a file as lines; owned by the caller. */
static char *faults_of(const char *path, const char *const *overrides, size_t num)
{
  case_file *c = NULL;
  char *faults = NULL;
  message msg = {""};
  ck_assert_int_eq(case_file_read(&c, path, overrides, num, &faults, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_null(c);
  ck_assert_ptr_nonnull(faults);
  return faults;
}

static size_t num_lines(const char *text)
{
  size_t n = 0;
  for (; *text; text++)
    n += *text == '\n';
  return n;
}

static void assert_close(double got, double want, double relative)
{
  ck_assert_double_eq_tol(got, want, relative * fabs(want));
}

/* ------------------------------------------------------------------------------------------------ broken files */

/* In tests/data/broken; line 0: the fault is of the file as a whole. One fault a file unless its name says otherwise. */
static const struct {
  const char *name;
  int line;
  const char *says;
} broken[] = {
    {"empty", 1, "the file is empty"},
    {"only_comment", 1, "the file is empty"},
    {"not_a_map", 1, "a case is a map of keys"},
    {"second_document", 52, "a second document"},
    {"bad_utf8", 1, "not a text in UTF-8"},
    {"nul_byte", 1, "not a text in UTF-8"},
    {"nul_escape", 1, "NUL"},
    {"too_deep", 1, "nested deeper than 32"},
    {"tab_indent", 4, "not YAML"},
    {"unclosed_bracket", 50, "not YAML"},
    {"anchor", 13, "anchors (&s)"},
    {"alias", 13, "aliases (*s)"},
    {"tag", 18, "tags ("},
    {"duplicate_key", 19, "\"wall\" is given twice"},
    {"map_as_key", 1, "a key must be a text"},
    {"unknown_key", 18, "parts.bucket.wal: unknown key; the closest is \"wall\""},
    {"unknown_key_far", 19, "unknown key; accepted are name, shape"},
    {"unknown_section", 20, "the closest is \"bodies\""},
    {"missing_name", 21, "the key \"name\" is missing"},
    {"missing_dimension", 1, "the key \"dimension\" is missing"},
    {"wrong_dimension", 2, "\"2d\" is not one of rz|xyz"},
    {"duplicate_name", 20, "the name \"trough\" is given twice; first in line 6"},
    {"name_across_lists", 22, "already borne by one of parts"},
    {"name_with_dot", 48, "cannot be a name"},
    {"name_room", 20, "\"room\" is the air around"},
    {"unknown_vessel", 22, "nothing is named \"bukket\"; the closest is \"bucket\""},
    {"unknown_solid", 19, "the closest is \"aluminium 3003\""},
    {"unknown_salt", 28, "the closest is \"CaCl2\""},
    {"list_for_text", 13, "found a list; one of cylinder"},
    {"text_for_list", 47, "found a text; a list of items"},
    {"empty_parts", 5, "the list is empty; at least one item"},
    {"bare_number", 18, "\"2\" has no unit; a length is written like 3 mm"},
    {"decimal_comma", 18, "the decimal sign is a point"},
    {"comma_in_braces", 13, "parts.bucket.wall: \"2,5 mm\" has a comma in the number; the decimal sign is a point"},
    {"base_sixty", 47, "counts in sixties"},
    {"wrong_unit", 18, "kg does not measure a length"},
    {"ounces", 23, "oz may be a volume or a mass"},
    {"negative_thickness", 18, "\"-2 mm\" must be above zero"},
    {"zero_height", 16, "must be above zero"},
    {"share_above_one", 29, "between 0 and 100 %"},
    {"pressure_unsaid", 5, "absolute or gauge"},
    {"falling_schedule", 40, "times of a table start at 0 s or later and rise"},
    {"below_absolute_zero", 40, "below absolute zero"},
    {"no_shape", 12, "give \"shape\", or \"around\""},
    {"radius_and_diameter", 15, "both given"},
    {"missing_size", 12, "a frustum needs \"top_radius\" or \"top_diameter\""},
    {"foreign_size", 18, "a frustum has no \"radius\""},
    {"open_profile", 14, "the profile is open"},
    {"crossing_profile", 14, "cross"},
    {"flat_profile", 14, "parts.bucket:"},
    {"negative_radius", 14, "negative radius"},
    {"no_material", 12, "give its \"material\""},
    {"two_amounts", 24, "\"volume\" and \"depth\" are both given"},
    {"no_amount", 21, "give one of volume, mass, level, depth"},
    {"too_much_water", 23, "do not fit: \"bucket\" holds"},
    {"impossible_level", 23, "is impossible: inside \"bucket\""},
    {"level_below_floor", 30, "is impossible: inside \"trough\""},
    {"brine_over_rim", 26, "run over the rim of \"bucket\""},
    {"not_a_vessel", 21, "\"bucket\" is not hollow"},
    {"vessel_taken", 27, "already holds \"water\""},
    {"beyond_eutectic", 29, "beyond the eutectic of CaCl2"},
    {"impossible_onset", 29, "no strength of CaCl2 begins to freeze at -70"},
    {"no_strength", 26, "give one of strength, onset"},
    {"supercooled", 24, "bodies.water: water is poured at -5 degC; give a temperature at or above 0 degC"},
    {"poured_in_the_cold", 21, "bodies.water: without a temperature it starts at the room's, -4 degC; give a temperature at or above 0 degC"},
    {"no_water_left", 28, "leave no room in it"},
    {"vessel_covered", 24, "stands in \"trough\", which is listed after it and covers it"},
    {"coil_through_mould", 32, "turn 8 (radius 130 mm, z 284.4 mm) goes through \"bucket\""},
    {"coil_outside", 32, "does not lie within \"brine\""},
    {"coil_above_level", 32, "rises out of \"brine\""},
    {"coil_too_near", 32, "no room for the ice"},
    {"coil_contradiction", 40, "but with radius 220 mm the others give"},
    {"coil_one_figure", 32, "give two of length, turns, pitch, height"},
    {"coil_overlap", 32, "the turns would overlap"},
    {"coil_no_bore", 36, "leaves no bore"},
    {"coil_no_refrigerant", 32, "describe the \"plant\""},
    {"nothing_cold", 21, "touches nothing cold"},
    {"insulated_from_all", 21, "touches nothing cold"},
    {"two_rules", 44, "\"film\" and \"fixed\" are both given"},
    {"contact_with_room", 43, "a contact is between two parts"},
    {"meets_itself", 43, "cannot meet itself"},
    {"stage_without_time", 45, "say how long with \"for\""},
    {"probe_outside", 49, "lies outside the rig"},
    {"probe_in_air", 49, "in the room's air"},
    {"grid_too_coarse", 51, "fewer than 4 cells"},
    {"grid_too_fine", 51, "at most 6 million are accepted; cells of about"},
    {"grid_both", 52, "both given"},
    {"plant_idle", 42, "the plant drives none"},
    {"restart_below_cutout", 45, "must lie above the cut-out"},
    {"four_faults", 18, "the closest is \"wall\""},
};

START_TEST(broken_file_is_refused_at_its_line)
{
  char path[PATH], place[PATH], file[64];
  (void)snprintf(path, sizeof path, "%s/broken/%s.yaml", TEST_DATA, broken[_i].name);
  (void)snprintf(file, sizeof file, "/%s.yaml", broken[_i].name);
  if (broken[_i].line)
    (void)snprintf(place, sizeof place, "%s:%d:", file, broken[_i].line);
  else
    (void)snprintf(place, sizeof place, "%s: ", file);
  char *faults = faults_of(path, NULL, 0);
  const bool several = strcmp(broken[_i].name, "four_faults") == 0;
  ck_assert_msg(num_lines(faults) == (several ? 4 : 1), "%s: not one fault but:\n%s", path, faults);
  ck_assert_msg(strstr(faults, place) != NULL, "no fault at %s in:\n%s", place, faults);
  ck_assert_msg(strstr(faults, broken[_i].says) != NULL, "\"%s\" is not said in:\n%s", broken[_i].says, faults);
  free(faults);
}
END_TEST

START_TEST(all_faults_are_told_in_the_order_of_their_lines)
{
  char *faults = faults_of(TEST_DATA "/broken/four_faults.yaml", NULL, 0);
  const char *const in_order[] = {":18:5: ", ":28:11: ", ":29:15: ", ":35:11: "};
  const char *at = faults;
  for (size_t i = 0; i < 4; i++) {
    at = strstr(at, in_order[i]);
    ck_assert_msg(at != NULL, "%s is missing or out of order in:\n%s", in_order[i], faults);
  }
  free(faults);
}
END_TEST

START_TEST(missing_file_is_told_with_the_systems_reason)
{
  case_file *c = NULL;
  char *faults = NULL;
  message msg = {""};
  ck_assert_int_eq(case_file_read(&c, TEST_DATA "/broken/no such file.yaml", NULL, 0, &faults, &msg), STATUS_FILE);
  ck_assert_ptr_null(faults);
  ck_assert_ptr_nonnull(strstr(msg.text, "No such file or directory"));
}
END_TEST

/* A file may not grow without end: 5 MiB of a comment. */
START_TEST(file_of_more_than_4_MiB_is_refused)
{
  const size_t size = 5u << 20;
  char *text = malloc(size), *faults = NULL;
  case_file *c = NULL;
  message msg = {""};
  ck_assert_ptr_nonnull(text);
  memset(text, '#', size);
  ck_assert_int_eq(case_file_parse(&c, "large", text, size, NULL, 0, &faults, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(faults, "larger than 4 MiB"));
  free(faults);
  free(text);
}
END_TEST

START_TEST(faults_beyond_the_first_200_are_counted)
{
  char *text = malloc(MOST_TEXT), *faults = NULL;
  size_t n = 0;
  case_file *c = NULL;
  message msg = {""};
  ck_assert_ptr_nonnull(text);
  n += (size_t)snprintf(text, MOST_TEXT, "dimension: rz\n");
  for (int i = 0; i < 300; i++)
    n += (size_t)snprintf(text + n, MOST_TEXT - n, "zzzz%d: 1\n", i);
  ck_assert_int_eq(case_file_parse(&c, "many", text, n, NULL, 0, &faults, &msg), STATUS_BAD_INPUT);
  ck_assert_uint_eq(num_lines(faults), 201);
  ck_assert_ptr_nonnull(strstr(faults, "and 102 more")); /* 300 unknown keys and two missing lists, less 200 */
  free(faults);
  free(text);
}
END_TEST

/* ------------------------------------------------------------------------------------------------ a sound file */

/* Frustum of radii 110 and 130 mm, 300 mm high, floor at z 100 mm: V(h) = pi h (a^2 + a b + b^2) / 3, b = a + h/15. */
static double bucket_volume(double h)
{
  const double a = 0.11, b = a + h * 0.02 / 0.3;
  return PI * h * (a * a + a * b + b * b) / 3.0;
}

static double bucket_level(double volume)
{
  double low = 0.0, high = 0.3;
  for (int i = 0; i < 100; i++) {
    const double mid = 0.5 * (low + high);
    if (bucket_volume(mid) < volume)
      low = mid;
    else
      high = mid;
  }
  return 0.1 + low;
}

START_TEST(litres_become_the_frozen_level_of_a_frustum)
{
  case_file *c = sound(TEST_DATA "/trough.yaml", NULL, 0);
  const case_liquid *q = &c->bodies[0];
  assert_close(q->volume, 0.012, 1e-12);
  assert_close(q->level, bucket_level(0.012), 1e-5);
  /* density of water at 10 degC 999.70 kg/m3, of ice at 0 degC 916.72 kg/m3 (IAPWS-95, R10-06) */
  assert_close(q->mass, 0.012 * 999.70, 1e-5);
  assert_close(q->frozen_level, bucket_level(0.012 * 999.70 / 916.72), 1e-5);
  assert_close(c->rig.bodies[0].surface_level, q->frozen_level, 1e-15);
  ck_assert(c->rig.bodies[0].open_top);
  ck_assert_double_eq(q->expelled, 0.0);
  case_file_destroy(&c);
}
END_TEST

/* Trough of radius 300 mm filled to z 350 mm, less the bucket's outside below that level, less eight rings of tube. */
START_TEST(level_becomes_litres_less_bucket_and_coil)
{
  case_file *c = sound(TEST_DATA "/trough.yaml", NULL, 0);
  /* outside of the bucket: wall 2 mm, mitred; the rounded corner of bent sheet takes less than 1e-6 m3 away */
  const double slope = 0.02 / 0.3, aside = 0.002 * sqrt(1.0 + slope * slope);
  const double a = 0.11 + aside - 0.002 * slope, h = 0.252, b = a + h * slope;
  const double bucket = PI * h * (a * a + a * b + b * b) / 3.0;
  const double coil = 8 * 2.0 * PI * 0.22 * PI * 0.00635 * 0.00635;
  assert_close(c->baths[0].volume, PI * 0.09 * 0.35 - bucket - coil, 3e-5);
  case_file_destroy(&c);
}
END_TEST

START_TEST(litres_and_level_of_a_bath_are_inverse)
{
  char whole[160];
  case_file *c = sound(TEST_DATA "/trough.yaml", NULL, 0);
  const double litres = 1e3 * c->baths[0].volume, level = c->baths[0].level;
  case_file_destroy(&c);
  (void)snprintf(whole, sizeof whole, "baths=[{name: brine, in: trough, salt: CaCl2, strength: 20 %%, volume: %.9g L}]", litres);
  const char *const overrides[] = {whole};
  c = sound(TEST_DATA "/trough.yaml", overrides, 1);
  assert_close(c->baths[0].level, level, 1e-5);
  case_file_destroy(&c);
}
END_TEST

START_TEST(parts_are_painted_vessel_then_its_liquid)
{
  case_file *c = sound(TEST_DATA "/trough.yaml", NULL, 0);
  const char *const order[] = {"trough", "brine", "bucket", "water"};
  const part_kind kinds[] = {PART_SOLID, PART_BRINE, PART_SOLID, PART_WATER};
  ck_assert_uint_eq(c->rig.num_parts, 4);
  for (size_t i = 0; i < 4; i++) {
    ck_assert_str_eq(c->rig.parts[i].name, order[i]);
    ck_assert_int_eq(c->rig.parts[i].kind, kinds[i]);
  }
  ck_assert_int_eq(c->rig.bodies[0].part, 3);
  ck_assert_int_eq(c->rig.baths[0].part, 1);
  case_file_destroy(&c);
}
END_TEST

/* Between the water's surface and the bucket's rim is air, although the brine outside could stand higher. */
START_TEST(headspace_of_a_mould_is_not_flooded)
{
  const char *const overrides[] = {"baths.brine.level=39.9 cm", "bodies.water.volume=6 L", "probes.core.at=[0 mm, 150 mm]"};
  case_file *c = sound(TEST_DATA "/trough.yaml", overrides, 3);
  const double in_air[3] = {0.0, 0.0, 0.39};
  for (size_t i = 0; i < c->rig.num_parts; i++)
    ck_assert_double_gt(shape_distance(c->rig.parts[i].region, in_air), 0.0);
  case_file_destroy(&c);
}
END_TEST

/* length^2 = turns^2 ((2 pi r)^2 + pitch^2) */
START_TEST(any_two_figures_of_a_coil_give_the_others)
{
  const double r = 0.22, turns = 8.0, height = 0.25, pitch = height / turns, length = turns * hypot(2.0 * PI * r, pitch);
  char both[6][256];
  const double value[4] = {turns, 1e3 * pitch, 1e3 * height, length};
  static const char *const key[4] = {"turns: %.12g", "pitch: %.12g mm", "height: %.12g mm", "length: %.12g m"};
  int pair = 0;
  for (int i = 0; i < 4; i++)
    for (int j = i + 1; j < 4; j++, pair++) {
      char a[40], b[40];
      (void)snprintf(a, sizeof a, key[i], value[i]);
      (void)snprintf(b, sizeof b, key[j], value[j]);
      (void)snprintf(both[pair], sizeof both[pair],
                     "coils=[{name: coil, in: brine, radius: 22 cm, tube: 12.7 mm, tube_wall: 0.9 mm, z: 5 cm, %s, %s, "
                     "refrigerant_temperature: -20 C}]", a, b);
      const char *const overrides[] = {both[pair]};
      case_file *c = sound(TEST_DATA "/trough.yaml", overrides, 1);
      assert_close(c->coils[0].turns, turns, 1e-8);
      assert_close(c->coils[0].pitch, pitch, 1e-6);
      assert_close(c->coils[0].height, height, 1e-6);
      assert_close(c->coils[0].length, length, 1e-8);
      ck_assert_uint_eq(c->rig.coils[0].num_rings, 8);
      case_file_destroy(&c);
    }
  ck_assert_int_eq(pair, 6);
}
END_TEST

START_TEST(override_addresses_items_by_name)
{
  const char *const overrides[] = {"parts.bucket.wall=1/8 in", "baths.brine.motion={kind: stirred, film: 300 W/m2K}", "surfaces.1.film=12 W/m2K",
                                   "run.threads=3", "title=Another"};
  case_file *c = sound(TEST_DATA "/trough.yaml", overrides, 5);
  assert_close(c->parts[1].wall, 0.003175, 1e-12);
  ck_assert_int_eq(c->rig.baths[0].flow.kind, MOTION_STIRRED);
  assert_close(c->rig.baths[0].flow.film_coefficient, 300.0, 1e-12);
  ck_assert_int_eq(c->rig.baths[0].mode, SALT_MIXED); /* the default of a stirred bath */
  assert_close(schedule_at(&c->rig.rules[0].coefficient, 0.0), 12.0, 1e-12);
  ck_assert_int_eq(c->rig.control.threads, 3);
  ck_assert_str_eq(c->rig.title, "Another");
  case_file_destroy(&c);
}
END_TEST

static const struct {
  const char *set, *says;
} bad_overrides[] = {
    {"parts.bukket.wall=3 mm", "the closest is \"bucket\""},
    {"parts.bucket.wall=3", "has no unit"},
    {"parts.bucket.wal=3 mm", "the closest is \"wall\""},
    {"parts.bucket.shape.x=3 mm", "a text"},
    {"parts=3 mm", "a list of items"},
    {"parts.bucket.wall", "key.path=value"},
    {"=3 mm", "key.path=value"},
    {"parts..wall=3 mm", "empty or too long"},
    {"surfaces.7.film=3 W/m2K", "nothing in that list"},
    {"probes.core.at=[0 mm, &a 3 mm]", "not YAML"},
    {"probes.core.at=[0 mm", "not YAML"},
};

START_TEST(wrong_override_is_told_as_the_override)
{
  char place[128];
  const char *const overrides[] = {bad_overrides[_i].set};
  char *faults = faults_of(TEST_DATA "/trough.yaml", overrides, 1);
  (void)snprintf(place, sizeof place, "--set %s: ", bad_overrides[_i].set);
  ck_assert_msg(strncmp(faults, place, strlen(place)) == 0, "%s", faults);
  ck_assert_msg(strstr(faults, bad_overrides[_i].says) != NULL, "\"%s\" is not said in:\n%s", bad_overrides[_i].says, faults);
  free(faults);
}
END_TEST

static void assert_same_rig(const rig *a, const rig *b)
{
  ck_assert_uint_eq(a->num_parts, b->num_parts);
  for (size_t i = 0; i < a->num_parts; i++) {
    ck_assert_str_eq(a->parts[i].name, b->parts[i].name);
    ck_assert_double_eq(a->parts[i].thickness, b->parts[i].thickness);
    ck_assert_double_eq(a->parts[i].initial_temperature, b->parts[i].initial_temperature);
    const double at[3] = {0.137, 0.0, 0.211};
    ck_assert_double_eq(shape_distance(a->parts[i].region, at), shape_distance(b->parts[i].region, at));
  }
  for (int axis = 0; axis < 3; axis += 2) {
    ck_assert_uint_eq(a->mesh_grid->num[axis], b->mesh_grid->num[axis]);
    for (size_t i = 0; i <= a->mesh_grid->num[axis]; i++)
      ck_assert_double_eq(a->mesh_grid->edges[axis][i], b->mesh_grid->edges[axis][i]);
  }
  ck_assert_double_eq(a->room.film, b->room.film);
  ck_assert_double_eq(a->room.pressure, b->room.pressure);
  ck_assert_double_eq(a->bodies[0].mass, b->bodies[0].mass);
  ck_assert_uint_eq(a->num_stages, b->num_stages);
  ck_assert_double_eq(a->stages[0].limit, b->stages[0].limit);
  ck_assert_double_eq(a->control.series_interval, b->control.series_interval);
}

/* tests/data/trough.yaml, cases/.../case.yaml: read, written out, read again: the same bits, and the text reproduces itself. */
START_TEST(resolved_case_reads_back_to_the_same_rig)
{
  static const char *const files[] = {TEST_DATA "/trough.yaml", CASES "/harbour-lantern/case.yaml"};
  const char *const overrides[] = {"room.film=9.3 W/m2K", "title=He said: \"it's #1\" \xC3\xA9"};
  case_file *first = sound(files[_i], overrides, 2), *second = NULL;
  char *text = NULL, *again = NULL, *faults = NULL;
  message msg = {""};
  ck_assert_int_eq(case_file_resolved(first, &text, &msg), STATUS_OK);
  const status code = case_file_parse(&second, "resolved", text, strlen(text), NULL, 0, &faults, &msg);
  ck_assert_msg(code == STATUS_OK, "%s\n%s", faults ? faults : msg.text, text);
  ck_assert_str_eq(second->rig.title, first->rig.title);
  assert_same_rig(&first->rig, &second->rig);
  ck_assert_int_eq(case_file_resolved(second, &again, &msg), STATUS_OK);
  ck_assert_str_eq(again, text);
  ck_assert_ptr_nonnull(strstr(text, "pressure: 1013.25 hPa(a)")); /* a default that the file does not hold */
  free(text);
  free(again);
  case_file_destroy(&first);
  case_file_destroy(&second);
}
END_TEST

/* 13.6 L of bucket, 13.4 L of water: liquid it fits, frozen (14.6 L) it does not. */
START_TEST(brim_full_mould_runs_with_the_surplus_expelled)
{
  const char *const overrides[] = {"bodies.water.volume=13.4 L"};
  case_file *c = sound(TEST_DATA "/trough.yaml", overrides, 1);
  assert_close(c->bodies[0].expelled, 0.0134 * 999.70 / 916.72 - bucket_volume(0.3), 2e-4);
  assert_close(c->rig.bodies[0].expelled, c->bodies[0].expelled, 1e-15);
  assert_close(c->bodies[0].frozen_level, 0.4, 1e-12);
  ck_assert_ptr_nonnull(strstr(c->notes, "find no room"));
  case_file_destroy(&c);
}
END_TEST

/* As much ice as the bucket holds, and a ten-millionth more, fills it to the rim and leaves nothing over; a hundred-thousandth more does. */
START_TEST(a_mould_filled_to_the_brim_by_its_ice_has_no_surplus)
{
  static const double more[] = {0.0, 1e-7, 1e-5};
  case_file *c = sound(TEST_DATA "/trough.yaml", (const char *const[]){"bodies.water.volume=13.4 L"}, 1);
  const double capacity = c->bodies[0].capacity, litres = 13.4 * capacity / (capacity + c->bodies[0].expelled);
  case_file_destroy(&c);
  for (size_t i = 0; i < 3; i++) {
    char volume[64];
    (void)snprintf(volume, sizeof volume, "bodies.water.volume=%.15g L", litres * (1.0 + more[i]));
    const char *const overrides[] = {volume};
    c = sound(TEST_DATA "/trough.yaml", overrides, 1);
    assert_close(c->bodies[0].frozen_level, 0.4, 1e-7);
    ck_assert_msg((c->bodies[0].expelled > 0.0) == (i == 2), "%g m3 over", c->bodies[0].expelled);
    ck_assert((c->notes && strstr(c->notes, "find no room")) == (i == 2));
    case_file_destroy(&c);
  }
}
END_TEST

START_TEST(spread_is_noted_and_the_middle_used)
{
  const char *const overrides[] = {"room.film=8 W/m2K +- 30 %"};
  case_file *c = sound(TEST_DATA "/trough.yaml", overrides, 1);
  assert_close(c->rig.room.film, 8.0, 1e-15);
  ck_assert_ptr_nonnull(strstr(c->notes, "middle value"));
  case_file_destroy(&c);
}
END_TEST

START_TEST(onset_gives_the_strength_of_the_liquidus)
{
  const char *const overrides[] = {"baths=[{name: brine, in: trough, salt: NaCl, onset: -10 C, level: 35 cm}]"};
  case_file *c = sound(TEST_DATA "/trough.yaml", overrides, 1);
  /* sodium chloride 14 % freezes at -10.0 degC: CRC Handbook, freezing-point depression of aqueous solutions (-9.98 at 14 %) */
  ck_assert_double_eq_tol(c->rig.baths[0].mass_fraction, 0.14, 0.002);
  case_file_destroy(&c);
}
END_TEST

START_TEST(gauge_cutout_is_kept_and_absolute_is_turned_into_gauge)
{
  const char *const plant = "plant={refrigerant: R290, compressors: [{name: one, displacement: 4 m3/h}], condensing: 40 C, cutout: 1.3 bar(a)}";
  const char *const coil = "coils=[{name: coil, in: brine, radius: 22 cm, tube: 12.7 mm, tube_wall: 0.9 mm, z: 5 cm, turns: 8, height: 25 cm}]";
  const char *const overrides[] = {plant, coil, "room.pressure=0.9 bar(a)"};
  case_file *c = sound(TEST_DATA "/trough.yaml", overrides, 3);
  ck_assert(c->rig.plant.present);
  assert_close(c->rig.plant.cutout_gauge, 0.4e5, 1e-9);
  assert_close(c->rig.plant.restart_gauge, 1e5, 1e-9);
  assert_close(c->rig.plant.compressors[0].displacement, 4.0 / 3600.0, 1e-9);
  ck_assert_int_eq(c->rig.coils[0].coolant, COOLANT_PLANT);
  case_file_destroy(&c);
}
END_TEST

/* Channels want a solid part and a conductance, and know nothing of a tube. */
START_TEST(channels_run_through_a_solid_part)
{
  const char *const good[] = {"coils=[{name: coil, in: trough, shape: channels, conductance: 12.5 W/K, refrigerant_temperature: -20 C}]"};
  case_file *c = sound(TEST_DATA "/trough.yaml", good, 1);
  assert_close(c->rig.coils[0].conductance, 12.5, 1e-12);
  ck_assert_str_eq(c->rig.parts[c->rig.coils[0].part].name, "trough");
  ck_assert_uint_eq(c->rig.coils[0].num_rings, 0);
  case_file_destroy(&c);
  static const struct { const char *coil, *says; } wrong[] = {
      {"in: brine, shape: channels, conductance: 12 W/K, refrigerant_temperature: -20 C", "run through a solid part"},
      {"in: trough, shape: channels, refrigerant_temperature: -20 C", "need \"conductance\""},
      {"in: trough, shape: channels, conductance: 12 W/K, tube: 10 mm, refrigerant_temperature: -20 C", "\"tube\" goes with the other shapes"},
      {"in: brine, radius: 22 cm, tube: 12.7 mm, tube_wall: 1 mm, z: 5 cm, turns: 8, height: 25 cm, conductance: 9 W/K, refrigerant_temperature: -20 C",
       "\"conductance\" goes with shape: channels"},
      {"in: brine, radius: 22 cm, tube_wall: 1 mm, z: 5 cm, turns: 8, height: 25 cm, refrigerant_temperature: -20 C", "the key \"tube\" is missing"},
  };
  for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
    char text[400];
    (void)snprintf(text, sizeof text, "coils=[{name: coil, %s}]", wrong[i].coil);
    const char *const overrides[] = {text};
    char *faults = faults_of(TEST_DATA "/trough.yaml", overrides, 1);
    ck_assert_msg(strstr(faults, wrong[i].says) != NULL, "%zu: %s", i, faults);
    free(faults);
  }
}
END_TEST

/* A finer wanted error gives a finer grid, and both keep to faces that are flat: the bucket's floor and the frozen level. */
START_TEST(grid_meets_floor_and_frozen_level)
{
  const char *const errors[] = {"grid.error=2 %", "grid.error=0.5 %"};
  double before = INFINITY;
  for (int e = 0; e < 2; e++) {
    case_file *c = sound(TEST_DATA "/trough.yaml", &errors[e], 1);
    const grid *g = c->rig.mesh_grid;
    const double faces[] = {0.1, c->bodies[0].frozen_level, c->baths[0].level};
    for (size_t f = 0; f < 2; f++) {
      double nearest = INFINITY;
      for (size_t i = 0; i <= g->num[2]; i++)
        nearest = fmin(nearest, fabs(g->edges[2][i] - faces[f]));
      ck_assert_double_lt(nearest, 1e-9);
    }
    ck_assert_double_lt(c->spacing, before);
    before = c->spacing;
    case_file_destroy(&c);
  }
}
END_TEST

/* A box of 200 x 200 x 250 mm inside, in three dimensions, held cold. */
START_TEST(box_in_three_dimensions_is_read)
{
  static const char text[] = "dimension: xyz\n"
                             "parts:\n"
                             "  - {name: tank, shape: box, low: [0 mm, 0 mm, 0 mm], high: [200 mm, 200 mm, 250 mm], wall: 3 mm, held: -15 C}\n"
                             "bodies:\n"
                             "  - {name: water, in: tank, volume: 8 L, temperature: 5 C}\n"
                             "grid: {spacing: 10 mm}\n";
  case_file *c = NULL;
  char *faults = NULL;
  message msg = {""};
  const status code = case_file_parse(&c, "box", text, strlen(text), NULL, 0, &faults, &msg);
  ck_assert_msg(code == STATUS_OK, "%s", faults ? faults : msg.text);
  ck_assert_int_eq(c->rig.mesh_grid->kind, GRID_XYZ);
  assert_close(c->bodies[0].level, 0.2, 2e-3);
  ck_assert_int_eq(c->rig.parts[0].kind, PART_HELD);
  case_file_destroy(&c);
}
END_TEST

/* Air above the water of a closed can is a part of its own, between can and water, and not the room's air. Still air layer of 10 mm, heat
 * upward: 0.15 m2 K/W (ISO 6946, from memory), 0.067 W/(m K). */
START_TEST(air_in_a_closed_vessel_is_a_part)
{
  /* 120 mm high; 101 mm of water of 4 degC (999.97 kg/m3) freeze to 110.17 mm of ice (916.72 kg/m3): 9.83 mm of air, 0.1483 m2 K/W */
  const char *const overrides[] = {"bodies.water.depth=101 mm"};
  case_file *c = sound(TEST_DATA "/sealed_can.yaml", overrides, 1);
  const char *const order[] = {"tub", "brine", "can", "can air", "water"};
  ck_assert_uint_eq(c->rig.num_parts, 5);
  for (size_t i = 0; i < 5; i++)
    ck_assert_str_eq(c->rig.parts[i].name, order[i]);
  const rig_part *air = &c->rig.parts[3];
  ck_assert_int_eq(air->kind, PART_SOLID);
  assert_close(phase_curve_conductivity_at(&air->stuff->curve, -5.0, 1), 9.83e-3 / 0.1483, 0.01);
  ck_assert_double_lt(shape_distance(air->region, (const double[3]){0.0, 0.0, 0.179}), 0.0);
  ck_assert(!c->rig.bodies[0].open_top);
  ck_assert_int_eq(c->rig.bodies[0].part, 4);
  ck_assert_ptr_nonnull(strstr(c->notes, "no contact with the room"));
  case_file_destroy(&c);
  const char *const open[] = {"parts.can.open=top", "baths.brine.level=17 cm"};
  c = sound(TEST_DATA "/sealed_can.yaml", open, 2);
  ck_assert_uint_eq(c->rig.num_parts, 4);
  case_file_destroy(&c);
}
END_TEST

/* 109.918 mm of that water freeze to 119.9 mm: 0.1 mm of air, 0.1/5 of 0.11 m2 K/W (ISO 6946, from memory), is a contact and no part. */
START_TEST(air_too_thin_for_a_layer_of_cells_is_a_contact)
{
  const char *const overrides[] = {"bodies.water.depth=109.918 mm"};
  case_file *c = sound(TEST_DATA "/sealed_can.yaml", overrides, 1);
  ck_assert_uint_eq(c->rig.num_parts, 4);
  ck_assert_uint_ge(c->rig.num_rules, 1);
  const surface_rule *lid = &c->rig.rules[0];
  ck_assert_int_eq(lid->kind, SURFACE_CONTACT);
  ck_assert_int_eq(lid->part, c->rig.bodies[0].part);
  ck_assert_int_eq(lid->other, c->parts[c->bodies[0].vessel].rig_part);
  ck_assert_int_eq(lid->faces, FACES_TOP);
  assert_close(schedule_at(&lid->coefficient, 0.0), 0.11 * 0.1 / 5.0, 0.01);
  ck_assert_double_eq(c->bodies[0].frozen_level, c->parts[c->bodies[0].vessel].rim);
  ck_assert_ptr_nonnull(strstr(c->notes, "too thin for a layer of cells"));
  case_file_destroy(&c);
}
END_TEST

/* Every worked case that is shipped reads without a fault. */
START_TEST(shipped_case_is_sound)
{
  case_file *c = sound(CASES "/harbour-lantern/case.yaml", NULL, 0);
  ck_assert_uint_eq(c->rig.plant.num_compressors, 2);
  ck_assert_double_gt(c->bodies[0].volume, 0.06);
  case_file_destroy(&c);
}
END_TEST

int main(void)
{
  Suite *suite = suite_create("case_file");
  TCase *faulty = tcase_create("broken");
  tcase_add_loop_test(faulty, broken_file_is_refused_at_its_line, 0, (int)(sizeof broken / sizeof *broken));
  tcase_add_test(faulty, all_faults_are_told_in_the_order_of_their_lines);
  tcase_add_test(faulty, missing_file_is_told_with_the_systems_reason);
  tcase_add_test(faulty, file_of_more_than_4_MiB_is_refused);
  tcase_add_test(faulty, faults_beyond_the_first_200_are_counted);
  tcase_add_loop_test(faulty, wrong_override_is_told_as_the_override, 0, (int)(sizeof bad_overrides / sizeof *bad_overrides));
  suite_add_tcase(suite, faulty);
  TCase *good = tcase_create("sound");
  tcase_add_test(good, litres_become_the_frozen_level_of_a_frustum);
  tcase_add_test(good, level_becomes_litres_less_bucket_and_coil);
  tcase_add_test(good, litres_and_level_of_a_bath_are_inverse);
  tcase_add_test(good, parts_are_painted_vessel_then_its_liquid);
  tcase_add_test(good, headspace_of_a_mould_is_not_flooded);
  tcase_add_test(good, any_two_figures_of_a_coil_give_the_others);
  tcase_add_test(good, override_addresses_items_by_name);
  tcase_add_loop_test(good, resolved_case_reads_back_to_the_same_rig, 0, 2);
  tcase_add_test(good, brim_full_mould_runs_with_the_surplus_expelled);
  tcase_add_test(good, a_mould_filled_to_the_brim_by_its_ice_has_no_surplus);
  tcase_add_test(good, spread_is_noted_and_the_middle_used);
  tcase_add_test(good, onset_gives_the_strength_of_the_liquidus);
  tcase_add_test(good, gauge_cutout_is_kept_and_absolute_is_turned_into_gauge);
  tcase_add_test(good, channels_run_through_a_solid_part);
  tcase_add_test(good, grid_meets_floor_and_frozen_level);
  tcase_add_test(good, box_in_three_dimensions_is_read);
  tcase_add_test(good, air_in_a_closed_vessel_is_a_part);
  tcase_add_test(good, air_too_thin_for_a_layer_of_cells_is_a_contact);
  tcase_add_test(good, shipped_case_is_sound);
  suite_add_tcase(suite, good);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
