/* fields.xdmf: what it says of places and extents, checked by following it the way a viewer does: take the edges it names for x, y, z,
 * take the values it names with the extents and the slab it gives, slowest axis first, and look whether each value stands where its
 * place says. The values are read with the format's own tools. */
#include "io/xdmf.h"

#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "io/field_store.h"
#include "io/h5_file.h"
#include "io/whole_file.h"
#include "outside_reader.h"
#include "scratch.h"
#include "small_rig.h"

enum { NUM_TIMES = 3 };
static char dir[SCRATCH_PATH], path[WHOLE_FILE_PATH], fields_path[WHOLE_FILE_PATH];
static small_rig s;
static results res;
static message msg;

static void must(status code)
{
  ck_assert_msg(code == STATUS_OK, "%s", msg.text);
}

static void set_up_kind(grid_kind kind)
{
  static double temperature[200], shifted[200];
  field_store *f = NULL;
  scratch_create(dir);
  must(whole_file_join(path, dir, XDMF_NAME, &msg));
  must(whole_file_join(fields_path, dir, FIELD_STORE_NAME, &msg));
  small_rig_make(&s, kind);
  small_rig_results(&s, &res);
  small_rig_pattern(&s, temperature);
  must(field_store_create(&f, dir, &s.rig, s.mesh, "00aa", &msg));
  for (size_t time = 0; time < NUM_TIMES; time++) {
    for (size_t node = 0; node < s.mesh->num_nodes; node++)
      shifted[node] = temperature[node] + 4096.0 * (double)time;
    must(field_store_append(f, 100.0 * (double)time, 1, shifted, shifted, &msg));
  }
  must(field_store_finish(&f, &res, &msg));
  must(field_store_publish(dir, &msg));
  must(xdmf_write(path, fields_path, FIELD_STORE_NAME, &msg));
}

static void set_up_rz(void)
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

/* The text after `mark`, from `from` on. */
static const char *after(const char *from, const char *mark)
{
  const char *found = strstr(from, mark);
  ck_assert_msg(found != NULL, "%s is missing", mark);
  return found + strlen(mark);
}

static size_t read_numbers(const char *text, size_t *numbers, size_t most)
{
  size_t num = 0;
  while (num < most) {
    char *end;
    numbers[num] = (size_t)strtoull(text, &end, 10);
    if (end == text)
      break;
    num++;
    text = end;
  }
  return num;
}

/* "fields.h5:/grid/r</DataItem>" -> "/grid/r" */
static void set_named(const char *text, char *set, size_t size)
{
  const char *colon = after(text, ":");
  (void)snprintf(set, size, "%.*s", (int)strcspn(colon, "<"), colon);
}

/* Which cell of the test's grid lies between two edges. */
static size_t cell_between(int axis, double low, double high)
{
  for (size_t i = 0; i < s.grid->num[axis]; i++)
    if (s.grid->edges[axis][i] == low && s.grid->edges[axis][i + 1] == high)
      return i;
  ck_abort_msg("no cell of axis %d between %g and %g", axis, low, high);
}

static void check_time(const char *grid_text, size_t time)
{
  const bool revolved = s.grid->kind == GRID_RZ;
  const size_t num_axes = revolved ? 2 : 3, rank = num_axes + 1;
  const int axis_of[3] = {0, revolved ? 2 : 1, 2}; /* the grid's axis behind the viewer's x, y, z */
  size_t points[3], cells[3], slab[12], stored[4];
  char set[128];
  ck_assert_double_eq(strtod(after(grid_text, "<Time Value=\""), NULL), 100.0 * (double)time);
  const char *topology = after(grid_text, revolved ? "TopologyType=\"2DRectMesh\" Dimensions=\"" : "TopologyType=\"3DRectMesh\" Dimensions=\"");
  ck_assert_uint_eq(read_numbers(topology, points, 3), num_axes);
  const char *item = after(grid_text, revolved ? "GeometryType=\"VXVY\">" : "GeometryType=\"VXVYVZ\">");
  double *edges[3];
  for (size_t axis = 0; axis < num_axes; axis++) { /* x first */
    size_t num_edges = 0;
    item = after(item, "<DataItem");
    set_named(after(item, ">"), set, sizeof set);
    edges[axis] = outside_reader_numbers(fields_path, set, 0, &num_edges);
    ck_assert_ptr_nonnull(edges[axis]);
    ck_assert_uint_eq(points[num_axes - 1 - axis], num_edges); /* slowest first */
  }
  const char *attribute = after(grid_text, "Name=\"rest temperature [degC]\" AttributeType=\"Scalar\" Center=\"Cell\">");
  const char *slab_item = after(attribute, "ItemType=\"HyperSlab\"");
  ck_assert_uint_eq(read_numbers(after(slab_item, "Dimensions=\""), cells, 3), num_axes);
  const char *slab_text = after(after(attribute, "NumberType=\"Int\""), ">");
  ck_assert_uint_eq(read_numbers(slab_text, slab, 3 * rank), 3 * rank);
  const char *source = after(slab_text, "<DataItem");
  ck_assert_uint_eq(read_numbers(after(source, "Dimensions=\""), stored, rank), rank);
  set_named(after(source, ">"), set, sizeof set);
  size_t num = 0, expected = 1, from = 0, selected = 1, shown = 1;
  for (size_t axis = 0; axis < rank; axis++) {
    expected *= stored[axis];
    from = from * stored[axis] + slab[axis];
    ck_assert_uint_eq(slab[rank + axis], 1); /* stride */
    selected *= slab[2 * rank + axis];
    if (axis > 0) {
      ck_assert_uint_eq(slab[2 * rank + axis], stored[axis]); /* so the slab is one piece */
      ck_assert_uint_eq(cells[axis - 1], points[axis - 1] - 1);
      shown *= cells[axis - 1];
    }
  }
  double *values = outside_reader_numbers(fields_path, set, 1, &num);
  ck_assert_uint_eq(num, expected);
  ck_assert_uint_eq(selected, shown);
  size_t checked = 0;
  for (size_t at = 0; at < shown; at++) {
    const double value = values[from + at];
    size_t rest = at, cell[3] = {0, 0, 0};
    for (size_t axis = 0; axis < num_axes; axis++) { /* the last of the extents, x, runs fastest */
      const size_t i = rest % cells[num_axes - 1 - axis];
      rest /= cells[num_axes - 1 - axis];
      cell[axis_of[axis]] = cell_between(axis_of[axis], edges[axis][i], edges[axis][i + 1]);
    }
    if (isnan(value))
      continue;
    const double place = 1.0 + 2.0 * (double)cell[0] + 30.0 * (double)cell[1] + 500.0 * (double)cell[2] + 4096.0 * (double)time;
    ck_assert_double_eq(value, field_store_round(place));
    checked++;
  }
  ck_assert_uint_ge(checked, 6);
  free(values);
  for (size_t axis = 0; axis < num_axes; axis++)
    free(edges[axis]);
}

START_TEST(each_value_stands_where_its_place_says)
{
  char *text = scratch_read(dir, XDMF_NAME, NULL);
  const char *grid_text = text;
  for (size_t time = 0; time < NUM_TIMES; time++) {
    grid_text = after(grid_text, "<Grid Name=\"cells\" GridType=\"Uniform\">");
    check_time(grid_text, time);
  }
  ck_assert_ptr_null(strstr(grid_text, "<Grid Name=\"cells\""));
  free(text);
}
END_TEST

START_TEST(it_names_only_what_is_there_and_every_data_set_is_there)
{
  char *text = scratch_read(dir, XDMF_NAME, NULL), extents[128];
  size_t named = 0;
  for (const char *at = text; (at = strstr(at, "fields.h5:")); named++) {
    char set[128];
    set_named(at, set, sizeof set);
    outside_reader_extents(fields_path, set, extents, sizeof extents);
    ck_assert_msg(extents[0] != '\0', "%s", set);
    at += strlen("fields.h5:");
  }
  ck_assert_uint_ge(named, NUM_TIMES * 8);
  free(text);
}
END_TEST

START_TEST(fields_that_cannot_be_read_leave_the_earlier_file)
{
  scratch_write(dir, XDMF_NAME, "earlier", 7);
  ck_assert_int_eq(truncate(fields_path, 3000), 0);
  ck_assert_int_eq(xdmf_write(path, fields_path, FIELD_STORE_NAME, &msg), STATUS_FILE);
  ck_assert_msg(strstr(msg.text, FIELD_STORE_NAME) && strstr(msg.text, "cut short"), "%s", msg.text);
  char *text = scratch_read(dir, XDMF_NAME, NULL);
  ck_assert_str_eq(text, "earlier");
  free(text);
}
END_TEST

int main(void)
{
  h5_file_begin();
  Suite *suite = suite_create("xdmf");
  TCase *rz = tcase_create("rz"), *xyz = tcase_create("xyz");
  tcase_add_checked_fixture(rz, set_up_rz, tear_down);
  tcase_add_checked_fixture(xyz, set_up_xyz, tear_down);
  tcase_add_test(rz, each_value_stands_where_its_place_says);
  tcase_add_test(xyz, each_value_stands_where_its_place_says);
  tcase_add_test(rz, it_names_only_what_is_there_and_every_data_set_is_there);
  tcase_add_test(rz, fields_that_cannot_be_read_leave_the_earlier_file);
  suite_add_tcase(suite, rz);
  suite_add_tcase(suite, xyz);
  SRunner *runner = srunner_create(suite);
  srunner_run_all(runner, CK_NORMAL);
  const int failed = srunner_ntests_failed(runner);
  srunner_free(runner);
  return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
