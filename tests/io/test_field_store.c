/* The fields of a run, read back with the format's own tools: axis order, names, units, missing values, marks, faults. */
#include "io/field_store.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/h5_file.h"
#include "io/whole_file.h"
#include "outside_reader.h"
#include "scratch.h"
#include "small_rig.h"

static char dir[SCRATCH_PATH], part_path[WHOLE_FILE_PATH], whole_path[WHOLE_FILE_PATH];
static small_rig s;
static results res;
static double temperature[200], liquid[200];
static message msg;

static void set_up_kind(grid_kind kind)
{
  scratch_create(dir);
  msg.text[0] = '\0';
  ck_assert_int_eq(whole_file_join(part_path, dir, FIELD_STORE_PART, &msg), STATUS_OK);
  ck_assert_int_eq(whole_file_join(whole_path, dir, FIELD_STORE_NAME, &msg), STATUS_OK);
  small_rig_make(&s, kind);
  small_rig_results(&s, &res);
  small_rig_pattern(&s, temperature);
  for (size_t node = 0; node < s.mesh->num_nodes; node++)
    liquid[node] = temperature[node] / 4096.0;
}

static void set_up(void)
{
  set_up_kind(GRID_RZ);
}

static void set_up_xyz(void)
{
  set_up_kind(GRID_XYZ);
}

static void tear_down(void)
{
  small_rig_release_results(&res);
  small_rig_release(&s);
  scratch_remove(dir);
}

static void must(status code)
{
  ck_assert_msg(code == STATUS_OK, "%s", msg.text);
}

/* Stored time number `time` is at 100 * (time + 1) s, its temperature the pattern plus 4096 * time. */
static void append(field_store *f, size_t time)
{
  static double shifted[200];
  for (size_t node = 0; node < s.mesh->num_nodes; node++)
    shifted[node] = temperature[node] + 4096.0 * (double)time;
  must(field_store_append(f, 100.0 * (double)(time + 1), time > 0, shifted, liquid, &msg));
}

static void write_whole(size_t num_times)
{
  field_store *f = NULL;
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  for (size_t time = 0; time < num_times; time++)
    append(f, time);
  must(field_store_finish(&f, &res, &msg));
  ck_assert_ptr_null(f);
  must(field_store_publish(dir, &msg));
}

static double *numbers(const char *file, const char *set, int single, size_t want)
{
  size_t num = 0;
  double *n = outside_reader_numbers(file, set, single, &num);
  ck_assert_msg(n != NULL, "%s cannot be read", set);
  ck_assert_uint_eq(num, want);
  return n;
}

static void assert_extents(const char *set, const char *want)
{
  char have[128];
  outside_reader_extents(whole_path, set, have, sizeof have);
  ck_assert_str_eq(have, want);
}

static void assert_attribute(const char *name, const char *want)
{
  char have[512];
  outside_reader_attribute(whole_path, name, have, sizeof have);
  ck_assert_msg(strstr(have, want) != NULL, "%s is %s, not %s", name, have, want);
}

/* The outermost cells above the bottom hold brine and a third of water. */
START_TEST(axes_are_time_z_r_and_each_side_of_a_split_cell_has_its_own_value)
{
  write_whole(2);
  assert_extents("/fields/water/temperature", "{2/Inf, 4, 3}");
  assert_extents("/fields/rest/liquid_fraction", "{2/Inf, 4, 3}");
  double *water = numbers(whole_path, "/fields/water/temperature", 1, 24), *rest = numbers(whole_path, "/fields/rest/temperature", 1, 24);
  for (size_t time = 0; time < 2; time++)
    for (size_t k = 0; k < 4; k++)
      for (size_t i = 0; i < 3; i++) {
        const double place = 1.0 + 2.0 * (double)i + 500.0 * (double)k + 4096.0 * (double)time, *w = water + (time * 4 + k) * 3 + i,
                     *r = rest + (time * 4 + k) * 3 + i;
        if (k == 0) /* below the drum */
          ck_assert(isnan(*w));
        else /* the water in the outermost cell was merged inward and speaks from there */
          ck_assert_double_eq(*w, field_store_round(place + 0.25 - (i == 2 ? 2.0 : 0.0)));
        if (k > 0 && i < 2) /* inside the drum */
          ck_assert(isnan(*r));
        else
          ck_assert_double_eq(*r, field_store_round(place));
      }
  free(water);
  free(rest);
}
END_TEST

START_TEST(axes_are_time_z_y_x)
{
  write_whole(2);
  assert_extents("/fields/rest/temperature", "{2/Inf, 4, 3, 2}");
  assert_extents("/maps/freeze_time", "{4, 3, 2}");
  double *rest = numbers(whole_path, "/fields/rest/temperature", 1, 48), *water = numbers(whole_path, "/fields/water/temperature", 1, 48);
  for (size_t time = 0; time < 2; time++)
    for (size_t k = 0; k < 4; k++)
      for (size_t j = 0; j < 3; j++)
        for (size_t i = 0; i < 2; i++) {
          const size_t at = ((time * 4 + k) * 3 + j) * 2 + i;
          const double place = 1.0 + 2.0 * (double)i + 30.0 * (double)j + 500.0 * (double)k + 4096.0 * (double)time;
          if (k == 0 || i == 1)
            ck_assert_double_eq(rest[at], field_store_round(place));
          else
            ck_assert(isnan(rest[at]));
          if (k > 0 && i == 0)
            ck_assert_double_eq(water[at], field_store_round(place + 0.25));
          else
            ck_assert(isnan(water[at]));
        }
  free(rest);
  free(water);
}
END_TEST

START_TEST(maps_are_exact_and_missing_where_there_is_no_water)
{
  write_whole(1);
  assert_extents("/maps/solid_time", "{4, 3}");
  double *solid = numbers(whole_path, "/maps/solid_time", 0, 12), *index = numbers(whole_path, "/maps/pocket", 0, 12);
  for (size_t cell = 0; cell < 12; cell++) {
    const size_t inward = cell % 3 < 2 ? cell % 3 : 1; /* where the outermost water was merged to */
    const double place = 1.25 + 2.0 * (double)inward + 500.0 * (double)(cell / 3);
    ck_assert(cell < 3 ? isnan(solid[cell]) : solid[cell] == place + 1.0 / 3.0);
    ck_assert(cell < 3 ? isnan(index[cell]) : index[cell] == 0.0 || index[cell] == 1.0);
  }
  free(solid);
  free(index);
}
END_TEST

START_TEST(grid_parts_times_series_carry_their_units)
{
  write_whole(2);
  double *r = numbers(whole_path, "/grid/r", 0, 4), *z = numbers(whole_path, "/grid/z", 0, 5), *time = numbers(whole_path, "/time", 0, 2);
  double *share = numbers(whole_path, "/parts/drum", 1, 12), *core = numbers(whole_path, "/series/probe.core", 0, 2);
  ck_assert_double_eq(r[2], 0.08);
  ck_assert_double_eq(z[3], 0.16);
  ck_assert_double_eq(time[1], 200.0);
  /* Ring between 0.08 and 0.13 m, cut at 0.10 m: (0.10^2 - 0.08^2) / (0.13^2 - 0.08^2). */
  ck_assert_double_eq_tol(share[5], 0.0036 / 0.0105, 0.05);
  ck_assert_double_eq(core[0], 12.0);
  ck_assert(isnan(core[1]));
  assert_attribute("/time/units", "s");
  assert_attribute("/time/stage", "/stage");
  assert_attribute("/stage/names", "cool");
  assert_attribute("/grid/kind", "rz");
  assert_attribute("/fields/water/temperature/units", "degC");
  assert_attribute("/fields/water/temperature/long_name", "temperature of the water or ice");
  assert_attribute("/fields/water/temperature/precision", "6.2e-5");
  assert_attribute("/maps/front_speed/units", "m s-1");
  assert_attribute("/series/probe.core/units", "degC");
  assert_attribute("/meta/title", "Small drum");
  assert_attribute("/parts/tub/kind", "brine");
  free(r);
  free(z);
  free(time);
  free(share);
  free(core);
}
END_TEST

START_TEST(fields_are_chunked_and_compressed_in_the_old_format)
{
  char command[WHOLE_FILE_PATH + 128];
  write_whole(1);
  (void)snprintf(command, sizeof command, "h5dump -p -H -d /fields/water/temperature '%s' | grep -q 'COMPRESSION DEFLATE'", whole_path);
  ck_assert_int_eq(system(command), 0);
  (void)snprintf(command, sizeof command, "h5dump -B -H '%s' | grep -q 'SUPERBLOCK_VERSION 0'", whole_path);
  ck_assert_int_eq(system(command), 0);
}
END_TEST

START_TEST(rounding_keeps_thirteen_bits)
{
  static const double values[] = {0.0, 1.0, -18.333333333, 273.15, 0.1, 1e-30, 3.4e38, -65504.0 / 3.0};
  for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
    const double rounded = (double)field_store_round(values[i]);
    ck_assert_double_le(fabs(rounded - values[i]), fabs(values[i]) * 0x1p-13);
    ck_assert_double_eq(field_store_round(rounded), rounded);
  }
  ck_assert(isnan(field_store_round(NAN)));
  ck_assert_double_eq(field_store_round(1.0 + 0x1p-14), 1.0); /* a tie goes to even */
  ck_assert_double_eq(field_store_round(1.0 + 0x1p-13 + 0x1p-15), 1.0 + 0x1p-13);
}
END_TEST

START_TEST(what_is_stored_so_far_can_be_read_without_the_writer)
{
  field_store *f = NULL;
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  append(f, 0);
  append(f, 1);
  double *time = numbers(part_path, "/time", 0, 2); /* still open for writing here */
  ck_assert_double_eq(time[1], 200.0);
  free(time);
  field_store_destroy(&f);
}
END_TEST

/* Compares every value with those of a store that was never interrupted. */
static void assert_like_unbroken(size_t num_times)
{
  static const char *const sets[] = {"/fields/water/temperature", "/fields/water/liquid_fraction", "/fields/rest/temperature",
                                     "/fields/rest/liquid_fraction"};
  double *have[4], *time = numbers(whole_path, "/time", 0, num_times), *map = numbers(whole_path, "/maps/freeze_time", 0, 12);
  for (int i = 0; i < 4; i++)
    have[i] = numbers(whole_path, sets[i], 1, num_times * 12);
  write_whole(num_times);
  double *map_want = numbers(whole_path, "/maps/freeze_time", 0, 12), *time_want = numbers(whole_path, "/time", 0, num_times);
  ck_assert_mem_eq(map, map_want, 12 * sizeof *map);
  ck_assert_mem_eq(time, time_want, num_times * sizeof *time);
  for (int i = 0; i < 4; i++) {
    double *want = numbers(whole_path, sets[i], 1, num_times * 12);
    ck_assert_mem_eq(have[i], want, num_times * 12 * sizeof *want);
    free(want);
    free(have[i]);
  }
  free(map);
  free(map_want);
  free(time);
  free(time_want);
}

/* The marks lie before the first stored time, after one, and after many: more than one chunk of /time. */
static const size_t marked_after[] = {0, 1, 7, 300};
START_TEST(going_on_from_a_mark_gives_the_values_of_an_unbroken_store)
{
  const size_t stored = marked_after[_i], last = stored + 5;
  field_store *f = NULL;
  file_mark mark;
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  for (size_t time = 0; time < stored; time++)
    append(f, time);
  must(field_store_mark(f, &mark, &msg));
  for (size_t time = stored; time < stored + 3; time++)
    append(f, time + 1000); /* wrong on purpose: must be gone afterwards */
  field_store_destroy(&f);
  must(field_store_continue(&f, dir, &s.rig, s.mesh, "00aa", &mark, &msg));
  ck_assert_uint_eq(field_store_num_times(f), stored);
  for (size_t time = stored; time < last; time++)
    append(f, time);
  must(field_store_finish(&f, &res, &msg));
  must(field_store_publish(dir, &msg));
  file_mark_release(&mark);
  assert_like_unbroken(last);
}
END_TEST

/* What a kill in the middle of a flush may leave: the file's first and last kilobytes are rubbish where the mark allows. */
START_TEST(a_torn_file_is_mended_by_its_mark)
{
  field_store *f = NULL;
  file_mark mark;
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  append(f, 0);
  append(f, 1);
  must(field_store_mark(f, &mark, &msg));
  size_t marked_size = 0, size = 0;
  char *marked = scratch_read(dir, FIELD_STORE_PART, &marked_size);
  append(f, 2);
  field_store_destroy(&f);
  char *torn = scratch_read(dir, FIELD_STORE_PART, &size);
  for (size_t i = 0; i < mark.num_pieces; i++) /* all that may change */
    memset(torn + mark.pieces[i].offset, 0x5A, mark.pieces[i].length);
  scratch_write(dir, FIELD_STORE_PART, torn, size);
  hid_t file;
  ck_assert_int_eq(h5_file_open(&file, part_path, false, &msg), STATUS_FILE); /* it is past opening */
  must(field_store_continue(&f, dir, &s.rig, s.mesh, "00aa", &mark, &msg));
  field_store_destroy(&f);
  must(file_mark_return(&mark, part_path, &msg));
  char *mended = scratch_read(dir, FIELD_STORE_PART, &size);
  ck_assert_uint_eq(size, marked_size);
  ck_assert_mem_eq(mended, marked, size);
  free(marked);
  free(mended);
  free(torn);
  file_mark_release(&mark);
}
END_TEST

START_TEST(a_mark_is_small_beside_the_fields)
{
  field_store *f = NULL;
  file_mark mark;
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  append(f, 0);
  must(field_store_mark(f, &mark, &msg));
  const size_t first = mark.num_bytes;
  file_mark_release(&mark);
  for (size_t time = 1; time < 200; time++)
    append(f, time);
  must(field_store_mark(f, &mark, &msg));
  ck_assert_uint_gt(mark.file_size, 2 * first);
  ck_assert_uint_lt(mark.num_bytes, mark.file_size);
  file_mark_release(&mark);
  field_store_destroy(&f);
}
END_TEST

START_TEST(a_fields_file_cut_short_is_refused)
{
  field_store *f = NULL;
  file_mark mark;
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  append(f, 0);
  must(field_store_mark(f, &mark, &msg));
  field_store_destroy(&f);
  ck_assert_int_eq(truncate(part_path, (off_t)mark.file_size - 1), 0);
  ck_assert_int_eq(field_store_continue(&f, dir, &s.rig, s.mesh, "00aa", &mark, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, FIELD_STORE_PART) && strstr(msg.text, "cut short"), "%s", msg.text);
  ck_assert_ptr_null(f);
  file_mark_release(&mark);
}
END_TEST

START_TEST(fields_of_another_case_are_refused)
{
  field_store *f = NULL;
  file_mark mark;
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  must(field_store_mark(f, &mark, &msg));
  field_store_destroy(&f);
  ck_assert_int_eq(field_store_continue(&f, dir, &s.rig, s.mesh, "00ab", &mark, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "another case") != NULL, "%s", msg.text);
  file_mark_release(&mark);
}
END_TEST

/* The limit falls into the making, or into a stored time, or into the maps. */
static const size_t limits[] = {500, 3000, 12000, 16000};
START_TEST(a_full_disk_is_told_once_and_leaves_earlier_fields)
{
  scratch_write(dir, FIELD_STORE_NAME, "earlier", 7);
  scratch_limit_files(limits[_i]);
  field_store *f = NULL;
  status code = field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg);
  for (size_t time = 0; code == STATUS_OK && time < 40; time++)
    code = field_store_append(f, 1.0 * (double)time, 0, temperature, liquid, &msg);
  if (code == STATUS_OK)
    code = field_store_finish(&f, &res, &msg);
  ck_assert_int_eq(code, STATUS_FILE);
  ck_assert_msg(strstr(msg.text, FIELD_STORE_PART) && strstr(msg.text, "too large"), "%s", msg.text);
  field_store_destroy(&f);
  char *earlier = scratch_read(dir, FIELD_STORE_NAME, NULL);
  ck_assert_str_eq(earlier, "earlier");
  free(earlier);
}
END_TEST

START_TEST(a_directory_that_is_not_there_is_told)
{
  field_store *f = NULL;
  ck_assert_int_eq(field_store_create(&f, "/nonexistent", &s.rig, s.mesh, "00aa", &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, "/nonexistent/fields.part.h5") && strstr(msg.text, "No such file"), "%s", msg.text);
}
END_TEST

int main(void)
{
  h5_file_begin();
  Suite *suite = suite_create("field_store");
  TCase *rz = tcase_create("rz"), *xyz = tcase_create("xyz");
  tcase_add_checked_fixture(rz, set_up, tear_down);
  tcase_add_checked_fixture(xyz, set_up_xyz, tear_down);
  tcase_add_test(rz, axes_are_time_z_r_and_each_side_of_a_split_cell_has_its_own_value);
  tcase_add_test(xyz, axes_are_time_z_y_x);
  tcase_add_test(rz, maps_are_exact_and_missing_where_there_is_no_water);
  tcase_add_test(rz, grid_parts_times_series_carry_their_units);
  tcase_add_test(rz, fields_are_chunked_and_compressed_in_the_old_format);
  tcase_add_test(rz, rounding_keeps_thirteen_bits);
  tcase_add_test(rz, what_is_stored_so_far_can_be_read_without_the_writer);
  tcase_add_loop_test(rz, going_on_from_a_mark_gives_the_values_of_an_unbroken_store, 0, 4);
  tcase_add_test(rz, a_torn_file_is_mended_by_its_mark);
  tcase_add_test(rz, a_mark_is_small_beside_the_fields);
  tcase_add_test(rz, a_fields_file_cut_short_is_refused);
  tcase_add_test(rz, fields_of_another_case_are_refused);
  tcase_add_loop_test(rz, a_full_disk_is_told_once_and_leaves_earlier_fields, 0, 4);
  tcase_add_test(rz, a_directory_that_is_not_there_is_told);
  suite_add_tcase(suite, rz);
  suite_add_tcase(suite, xyz);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
