/* Checkpoints: every array comes back to the bit, and what does not fit is refused with its reason. */
#include "io/checkpoint.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/h5_file.h"
#include "io/whole_file.h"
#include "scratch.h"

enum { NUM_ENTHALPY = 300001 };
static char dir[SCRATCH_PATH], path[WHOLE_FILE_PATH];
static message msg;
static double enthalpy[NUM_ENTHALPY], clock_values[3] = {1.0 / 3.0, -0.0, NAN};
static int64_t labels[4] = {0, -1, INT64_MAX, INT64_MIN};
static unsigned char events[7] = {0, 255, 1, 128, 0, 3, 9};
static const state_field fields[4] = {{"enthalpy", "J m-3", FIELD_DOUBLE, NUM_ENTHALPY, enthalpy},
                                      {"clock", "1", FIELD_DOUBLE, 3, clock_values},
                                      {"labels", "1", FIELD_INT64, 4, labels},
                                      {"events", "1", FIELD_BYTES, 7, events}};
static file_range pieces[2] = {{0, 3}, {10, 2}};
static unsigned char kept[5] = {9, 8, 7, 6, 5};
static checkpoint_header header;

static void set_up(void)
{
  scratch_create(dir);
  msg.text[0] = '\0';
  ck_assert_int_eq(whole_file_join(path, dir, CHECKPOINT_NAME, &msg), STATUS_OK);
  for (size_t i = 0; i < NUM_ENTHALPY; i++)
    enthalpy[i] = sin((double)i) * 3e8;
  header = (checkpoint_header){.case_hash = "0123456789abcdef", .num_rows = 12, .num_events = 3, .num_times = 5, .wall = 1.25,
                               .fields = {.file_size = 12, .num_pieces = 2, .pieces = pieces, .num_bytes = 5, .bytes = kept}};
}

static void tear_down(void)
{
  scratch_remove(dir);
}

static void write_it(void)
{
  ck_assert_msg(checkpoint_write(path, &header, fields, 4, &msg) == STATUS_OK, "%s", msg.text);
}

static void assert_refused(status code, const char *why)
{
  ck_assert_int_eq(code, STATUS_FILE);
  ck_assert_msg(strstr(msg.text, path) && strstr(msg.text, why), "%s", msg.text);
}

START_TEST(all_comes_back_to_the_bit)
{
  write_it();
  ck_assert_uint_eq(scratch_num_entries(dir), 1);
  checkpoint_header h;
  ck_assert_msg(checkpoint_read_header(path, header.case_hash, &h, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_uint_eq(h.num_rows, 12);
  ck_assert_uint_eq(h.num_events, 3);
  ck_assert_uint_eq(h.num_times, 5);
  ck_assert_double_eq(h.wall, 1.25);
  ck_assert_uint_eq(h.fields.file_size, 12);
  ck_assert_uint_eq(h.fields.num_pieces, 2);
  ck_assert_mem_eq(h.fields.pieces, pieces, sizeof pieces);
  ck_assert_mem_eq(h.fields.bytes, kept, sizeof kept);
  checkpoint_release_header(&h);
  double *enthalpy_back = calloc(NUM_ENTHALPY, sizeof(double)), clock_back[3];
  int64_t labels_back[4];
  unsigned char events_back[7];
  const state_field back[4] = {{"clock", "1", FIELD_DOUBLE, 3, clock_back}, /* in another order */
                               {"events", "1", FIELD_BYTES, 7, events_back},
                               {"labels", "1", FIELD_INT64, 4, labels_back},
                               {"enthalpy", "J m-3", FIELD_DOUBLE, NUM_ENTHALPY, enthalpy_back}};
  ck_assert_msg(checkpoint_read_state(path, back, 4, &msg) == STATUS_OK, "%s", msg.text);
  ck_assert_mem_eq(enthalpy_back, enthalpy, sizeof enthalpy);
  ck_assert_mem_eq(clock_back, clock_values, sizeof clock_back);
  ck_assert_mem_eq(labels_back, labels, sizeof labels);
  ck_assert_mem_eq(events_back, events, sizeof events);
  free(enthalpy_back);
}
END_TEST

START_TEST(another_case_is_refused)
{
  checkpoint_header h;
  write_it();
  assert_refused(checkpoint_read_header(path, "0123456789abcdee", &h, &msg), "another case");
  ck_assert_ptr_null(h.fields.bytes);
}
END_TEST

/* One attribute is changed in a file that is otherwise good. */
static const struct {
  const char *attribute, *text, *why;
  long long number;
} origins[] = {{"format", NULL, "format 1 and this program reads 2", 1},
               {"program", "lastwater 0.0.0", "written by lastwater 0.0.0", 0},
               {"byte_order", "middle", "another kind of machine", 0},
               {"sizeof_event", NULL, "another kind of machine", 8}};
START_TEST(another_format_program_or_machine_is_refused)
{
  hid_t file;
  checkpoint_header h;
  write_it();
  ck_assert_int_eq(h5_file_open(&file, path, true, &msg), STATUS_OK);
  ck_assert_int_ge(H5Adelete(file, origins[_i].attribute), 0);
  ck_assert(origins[_i].text ? h5_file_put_text(file, ".", origins[_i].attribute, origins[_i].text)
                             : h5_file_put_integer(file, ".", origins[_i].attribute, origins[_i].number));
  ck_assert(h5_file_close(&file));
  assert_refused(checkpoint_read_header(path, header.case_hash, &h, &msg), origins[_i].why);
}
END_TEST

START_TEST(a_state_of_other_arrays_is_refused_untouched)
{
  write_it();
  double three[3] = {1.0, 2.0, 3.0};
  const state_field renamed[4] = {fields[0], {"watch", "1", FIELD_DOUBLE, 3, three}, fields[2], fields[3]};
  assert_refused(checkpoint_read_state(path, renamed, 4, &msg), "watch is missing");
  const state_field shorter[4] = {{"clock", "1", FIELD_DOUBLE, 2, three}, fields[0], fields[2], fields[3]};
  assert_refused(checkpoint_read_state(path, shorter, 4, &msg), "clock has 3 values and this run needs 2");
  const state_field retyped[4] = {{"clock", "1", FIELD_INT64, 3, three}, fields[0], fields[2], fields[3]};
  assert_refused(checkpoint_read_state(path, retyped, 4, &msg), "clock");
  const state_field fewer[3] = {{"clock", "1", FIELD_DOUBLE, 3, three}, fields[0], fields[2]};
  assert_refused(checkpoint_read_state(path, fewer, 3, &msg), "4 arrays and this run knows 3");
  ck_assert_double_eq(three[0], 1.0);
  ck_assert_double_eq(three[2], 3.0);
}
END_TEST

/* Cut anywhere, the file is refused: by its length, or where the numbers should be. */
static const double kept_shares[] = {0.0, 0.0001, 0.01, 0.3, 0.7, 0.99, 0.999999};
START_TEST(a_checkpoint_cut_short_is_refused)
{
  size_t size = 0;
  checkpoint_header h;
  write_it();
  char *bytes = scratch_read(dir, CHECKPOINT_NAME, &size);
  scratch_write(dir, CHECKPOINT_NAME, bytes, (size_t)(kept_shares[_i] * (double)size));
  free(bytes);
  assert_refused(checkpoint_read_header(path, header.case_hash, &h, &msg), "without --resume");
}
END_TEST

START_TEST(a_changed_number_shows_by_its_checksum)
{
  size_t size = 0;
  write_it();
  char *bytes = scratch_read(dir, CHECKPOINT_NAME, &size), *at = NULL;
  for (char *c = bytes; !at && c + 16 <= bytes + size; c++) /* the first two values of enthalpy that are not 0, as they lie there */
    if (memcmp(c, enthalpy + 1, 16) == 0)
      at = c;
  ck_assert_ptr_nonnull(at);
  at[6] ^= 1;
  scratch_write(dir, CHECKPOINT_NAME, bytes, size);
  free(bytes);
  assert_refused(checkpoint_read_state(path, fields, 4, &msg), "enthalpy is missing or damaged");
}
END_TEST

START_TEST(a_file_that_is_no_checkpoint_is_refused)
{
  checkpoint_header h;
  scratch_write(dir, CHECKPOINT_NAME, "just text", 9);
  assert_refused(checkpoint_read_header(path, header.case_hash, &h, &msg), "not an HDF5 file");
  hid_t file;
  ck_assert_int_eq(h5_file_create(&file, path, &msg), STATUS_OK);
  ck_assert(h5_file_close(&file));
  assert_refused(checkpoint_read_header(path, header.case_hash, &h, &msg), "no checkpoint");
}
END_TEST

START_TEST(a_full_disk_leaves_the_earlier_checkpoint)
{
  write_it();
  size_t size = 0, size_after = 0;
  char *before = scratch_read(dir, CHECKPOINT_NAME, &size);
  enthalpy[5] = 42.0;
  scratch_limit_files(500000);
  assert_refused(checkpoint_write(path, &header, fields, 4, &msg), "too large");
  char *after = scratch_read(dir, CHECKPOINT_NAME, &size_after);
  ck_assert_uint_eq(size_after, size);
  ck_assert_mem_eq(after, before, size);
  ck_assert_uint_eq(scratch_num_entries(dir), 1);
  free(before);
  free(after);
}
END_TEST

int main(void)
{
  h5_file_begin();
  Suite *suite = suite_create("checkpoint");
  TCase *tcase = tcase_create("all");
  tcase_add_checked_fixture(tcase, set_up, tear_down);
  tcase_add_test(tcase, all_comes_back_to_the_bit);
  tcase_add_test(tcase, another_case_is_refused);
  tcase_add_loop_test(tcase, another_format_program_or_machine_is_refused, 0, 4);
  tcase_add_test(tcase, a_state_of_other_arrays_is_refused_untouched);
  tcase_add_loop_test(tcase, a_checkpoint_cut_short_is_refused, 0, 7);
  tcase_add_test(tcase, a_changed_number_shows_by_its_checksum);
  tcase_add_test(tcase, a_file_that_is_no_checkpoint_is_refused);
  tcase_add_test(tcase, a_full_disk_leaves_the_earlier_checkpoint);
  suite_add_tcase(suite, tcase);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
