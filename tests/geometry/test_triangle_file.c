/* Triangle files: the same solid out of each kind of file, and what is wrong told at its place. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "triangle_solids.h"

static const double low[3] = {-0.3, 0.2, 1.1}, high[3] = {0.45, 0.9, 1.4}; /* unlike on purpose */
static const double volume = 0.75 * 0.7 * 0.3;

START_TEST(a_box_is_the_same_out_of_every_kind_of_file)
{
  triangle_file box = triangle_solids_box(low, high), f;
  char *(*const write[])(const triangle_file *, size_t *) = {triangle_solids_stl, triangle_solids_stl_text, triangle_solids_obj};
  const char *const names[] = {"box.STL", "box.stl", "box.Obj"};
  for (int kind = 0; kind < 3; kind++) {
    size_t num;
    message msg = {""};
    char *bytes = write[kind](&box, &num);
    ck_assert_msg(triangle_file_read(&f, names[kind], bytes, num, &msg) == STATUS_OK, "%s", msg.text);
    ck_assert_uint_eq(f.num_triangles, 12);
    ck_assert_uint_eq(f.num_points, kind == 2 ? 8 : 36);
    ck_assert_double_eq_tol(triangle_solids_volume(&f), volume, 1e-7);
    triangle_file_release(&f);
    free(bytes);
  }
  triangle_file_release(&box);
}
END_TEST

#define BOX_POINTS "v 0 0 0\nv 2 0 0\nv 0 3 0\nv 2 3 0\nv 0 0 5\nv 2 0 5\nv 0 3 5\nv 2 3 5\n"

START_TEST(polygons_continued_lines_and_carriage_returns_are_read)
{
  static const char *const texts[] = {
      "# six quadrilaterals\r\n" BOX_POINTS "g faces\r\nf 1 3 4 2\r\nf 5 6 8 7\r\nf 1 2 6 5\r\nf 3 7 8 4\r\nf 1 5 7 3\r\nf 2 4 8 6\r\n",
      BOX_POINTS "f 1 3 \\\n 4 2\nf -4 -3 -1 -2 # counted back\nf 1 2 6 5\nf 3/1 7/2 8/3 4/4\nf 1/1/1 5//1 7/1 3\nf 2 4 8 6",
      "v 0 0 0\nv 2 0 0 1.0\nv 0 3 0 0.2 0.4 0.6\nv 2 3 0\nv 0 0 +5.0e+0\nv 2 0 50.e-1\nv 0 3 .5e1\nv 2 3 5\nusemtl ice\nvn 0 0 1\nvt 0 0\n"
      "f 1 3 4\nf 1 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n",
      "\xEF\xBB\xBF" BOX_POINTS "f 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n", /* a mark of UTF-8 before it */
      "v 0 0 0\rv 2 0 0\rv 0 3 0\rv 2 3 0\rv 0 0 5\rv 2 0 5\rv 0 3 5\rv 2 3 5\r# lines that end in a carriage return\r"
      "f 1 3 4 2\rf 5 6 8 7\rf 1 2 6 5\rf 3 7 \\\r 8 4\rf 1 5 7 3\rf 2 4 8 6\r"};
  for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
    triangle_file f;
    message msg = {""};
    ck_assert_msg(triangle_file_read_obj(&f, "box.obj", texts[i], strlen(texts[i]), &msg) == STATUS_OK, "%s", msg.text);
    ck_assert_uint_eq(f.num_triangles, 12);
    ck_assert_double_eq_tol(triangle_solids_volume(&f), 30, 1e-12);
    triangle_file_release(&f);
  }
}
END_TEST

/* An arrow head seen from above: of its four corners only two see all of it. */
START_TEST(a_notched_polygon_is_cut_from_a_corner_that_sees_all_of_it)
{
  static const char text[] = "v 0 0 0\nv 4 1 0\nv 0 2 0\nv 1 1 0\nf 1 2 3 4\n";
  triangle_file f;
  ck_assert_int_eq(triangle_file_read_obj(&f, "a.obj", text, strlen(text), NULL), STATUS_OK);
  ck_assert_uint_eq(f.num_triangles, 2);
  double area = 0;
  for (size_t t = 0; t < 2; t++) {
    const double *a = f.points[f.corners[t][0]], *b = f.points[f.corners[t][1]], *c = f.points[f.corners[t][2]];
    const double twice = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    ck_assert_double_gt(twice, 0); /* none turned over */
    area += 0.5 * twice;
  }
  ck_assert_double_eq_tol(area, 3, 1e-12); /* 4 less the notch of 1 */
  triangle_file_release(&f);
}
END_TEST

/* Letters, flat and tipped, either way round, with corners that lie in a row: cut into triangles of which none is turned over, that make up the
 * letter's area (by hand). The shoelace formula holds for each of them. */
static const struct {
  const char *points, *face;
  double area;
} letters[] = {
    {"v 0 0 0\nv 3 0 0\nv 3 3 0\nv 2 3 0\nv 2 1 0\nv 1 1 0\nv 1 3 0\nv 0 3 0\n", "f 1 2 3 4 5 6 7 8\n", 7},              /* U */
    {"v 0 0 0\nv 3 0 0\nv 3 3 0\nv 2 3 0\nv 2 1 0\nv 1 1 0\nv 1 3 0\nv 0 3 0\n", "f 8 7 6 5 4 3 2 1\n", 7},              /* from behind */
    {"v 0 0 0\nv 3 0 3\nv 3 3 3\nv 2 3 2\nv 2 1 2\nv 1 1 1\nv 1 3 1\nv 0 3 0\n", "f 1 2 3 4 5 6 7 8\n", 9.899494936611665}, /* 7 sqrt 2 */
    {"v 0 0 0\nv 4 0 0\nv 4 1 0\nv 1 1 0\nv 1 2 0\nv 3 2 0\nv 3 3 0\nv 1 3 0\nv 1 4 0\nv 4 4 0\nv 4 5 0\nv 0 5 0\nv 0 4 0\nv 0 3 0\n",
     "f 1 2 3 4 5 6 7 8 9 10 11 12 13 14\n", 4 + 1 + 3 + 1 + 4}, /* E, two corners in a row */
};

START_TEST(letters_are_cut_into_triangles)
{
  char text[512];
  triangle_file f;
  message msg = {""};
  (void)snprintf(text, sizeof text, "%s%s", letters[_i].points, letters[_i].face);
  ck_assert_msg(triangle_file_read_obj(&f, "a.obj", text, strlen(text), &msg) == STATUS_OK, "%s", msg.text);
  double sum = 0, whole[3] = {0, 0, 0};
  for (size_t t = 0; t < f.num_triangles; t++) {
    const double *a = f.points[f.corners[t][0]], *b = f.points[f.corners[t][1]], *c = f.points[f.corners[t][2]];
    double n[3], square = 0;
    for (int i = 0; i < 3; i++) {
      const int j = (i + 1) % 3, k = (i + 2) % 3;
      n[i] = 0.5 * ((b[j] - a[j]) * (c[k] - a[k]) - (b[k] - a[k]) * (c[j] - a[j]));
      whole[i] += n[i];
      square += n[i] * n[i];
    }
    sum += sqrt(square);
  }
  ck_assert_double_eq_tol(sum, letters[_i].area, 1e-12);
  ck_assert_double_eq_tol(sqrt(whole[0] * whole[0] + whole[1] * whole[1] + whole[2] * whole[2]), letters[_i].area, 1e-12);
  triangle_file_release(&f);
}
END_TEST

#define FACET "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nendloop\nendfacet\n"

static const struct {
  const char *name, *text, *wanted;
} bad[] = {
    {"a.stl", "", "empty"},
    {"a.obj", "", "empty"},
    {"a.ply", "ply\n", ".stl or .obj"},
    {"a.stl", "hello", "neither"},
    {"a.stl", "# a box by hand, mm\nv 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nv 0 0 10\nv 10 0 10\nv 10 10 10\nv 0 10 10\nf 4 3 2 1\n", "is it an OBJ"},
    {"a.stl", "solid x\nendsolid x\n", "no triangle"},
    {"a.stl", "solid x\n" FACET, ":9: the file ends where \"endsolid\" belongs"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nver", ":6: found \"ver\" where \"vertex\""},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0", ":5: the file ends where a number"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0\nvertex 1 0 0\n", ":4: the line ends where a number"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 nan\n", ":4: \"nan\" is not a finite number"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 -inf 1\n", ":4: \"-inf\" is not a finite number"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 1e999 1\n", ":4: \"1e999\" is beyond 1e30"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0,5 1 1\n", "has a comma"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 1 0x10\n", "\"0x10\" is not a finite number"},
    {"a.stl", "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 1 0\nvertex 1 1 0\nendloop\n", "\"endloop\" belongs"},
    {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\n", "no triangle"},
    {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2\n", ":4: a face of 2 corners"},
    {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n", ":4: a face names point 4, and the file holds 3"},
    {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 0\n", ":4: \"0\" names no point"},
    {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 -4\n", ":4: \"-4\" names no point"},
    {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3/x\n", ":4: found \"3/x\""},
    {"a.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 99999999999999999999\n", "names no point"},
    {"a.obj", "v 0 0 0\nv 1 0\n", ":2: the line ends where a number"},
    {"a.obj", "v 0 0 0\nv 1 0", ":2: the file ends where a number"},
    {"a.obj", "v 0 0 NaN\n", ":1: \"NaN\" is not a finite number"},
    {"a.obj", "title: A bucket\n", ":1: found \"title:\""},
    {"a.obj", "v 0 0 0\nsurf 0 1 0 1 1 2 3\n", ":2: \"surf\" belongs to a free-form surface"},
    /* the letter U with one corner bent up: how it is cut decides what it is */
    {"a.obj", "v 0 0 0\nv 3 0 0\nv 3 3 0\nv 2 3 1\nv 2 1 0\nv 1 1 0\nv 1 3 0\nv 0 3 0\nf 1 2 3 4 5 6 7 8\n",
     "export the surface as triangles"},
    {"a.obj", "v 0 0 0\nv 2 2 0\nv 2 0 0\nv 0 1 0\nf 1 2 3 4\n", "crosses itself"}, /* a bow tie */
};

START_TEST(a_broken_file_is_refused_at_its_place)
{
  triangle_file f;
  message msg = {""};
  ck_assert_int_eq(triangle_file_read(&f, bad[_i].name, bad[_i].text, strlen(bad[_i].text), &msg), STATUS_BAD_INPUT);
  ck_assert_msg(strstr(msg.text, bad[_i].wanted) != NULL, "\"%s\" does not say \"%s\"", msg.text, bad[_i].wanted);
  ck_assert_msg(strncmp(msg.text, bad[_i].name, 5) == 0, "\"%s\"", msg.text);
  ck_assert_ptr_null(f.points);
  ck_assert_ptr_null(f.corners);
}
END_TEST

/* Cut at every byte: refused, except where only blanks were lost. */
START_TEST(a_file_cut_short_anywhere_is_refused)
{
  triangle_file box = triangle_solids_box(low, high), f;
  char *(*const write[])(const triangle_file *, size_t *) = {triangle_solids_stl, triangle_solids_stl_text};
  for (int kind = 0; kind < 2; kind++) {
    size_t num;
    char *bytes = write[kind](&box, &num);
    const size_t whole = kind == 0 ? num : num - strlen(" a test\n"); /* the name at the end may be missing */
    for (size_t length = 0; length < whole; length++) {
      char *part = malloc(length + 1); /* its own block, so that a sanitizer sees a step beyond */
      memcpy(part, bytes, length);
      ck_assert_msg(triangle_file_read(&f, "box.stl", part, length, NULL) == STATUS_BAD_INPUT, "kind %d cut at %zu", kind, length);
      free(part);
    }
    free(bytes);
  }
  triangle_file_release(&box);
}
END_TEST

START_TEST(binary_numbers_and_counts_are_not_believed)
{
  static const unsigned char nan_bytes[4] = {0, 0, 0xc0, 0x7f}, large[4] = {0xff, 0xff, 0x7f, 0x7f};
  triangle_file box = triangle_solids_box(low, high), f;
  message msg = {""};
  size_t num;
  char *bytes = triangle_solids_stl(&box, &num);
  memcpy(bytes + 84 + 50 * 7 + 12 + 4, nan_bytes, 4);
  ck_assert_int_eq(triangle_file_read(&f, "box.stl", bytes, num, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "triangle 8: its y is not a finite number"));
  memcpy(bytes + 84 + 50 * 7 + 12 + 4, large, 4);
  ck_assert_int_eq(triangle_file_read(&f, "box.stl", bytes, num, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "beyond 1e30"));
  free(bytes);
  bytes = triangle_solids_stl(&box, &num);
  bytes[80] = 13;
  ck_assert_int_eq(triangle_file_read(&f, "box.stl", bytes, num, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "count says 13 triangles, its 684 bytes hold 12;"));
  bytes[83] = (char)0xff; /* more than four thousand million */
  ck_assert_int_eq(triangle_file_read(&f, "box.stl", bytes, num, &msg), STATUS_BAD_INPUT);
  memset(bytes + 80, 0, 4);
  ck_assert_int_eq(triangle_file_read(&f, "box.stl", bytes, 84, &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "no triangle"));
  free(bytes);
  triangle_file_release(&box);
}
END_TEST

/* Against the C library's own reading, which rounds to nearest. */
START_TEST(numbers_are_those_of_the_c_library)
{
  static const char *const numbers[] = {"0.1", "-0.000000", "123456.789012345", "1e-3", "-2.5E+02", "3.40282e29", "1.17549e-38", "0.000000000012345678901234567890",
                                        "123456789012345678901", "7", "+.5", "5.", "1e-400", "4.9e-320"};
  for (size_t i = 0; i < sizeof numbers / sizeof *numbers; i++) {
    char text[160];
    triangle_file f;
    (void)snprintf(text, sizeof text, "v %s 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", numbers[i]);
    ck_assert_int_eq(triangle_file_read_obj(&f, "a.obj", text, strlen(text), NULL), STATUS_OK);
    const double wanted = strtod(numbers[i], NULL);
    ck_assert_double_eq_tol(f.points[0][0], wanted, 1e-15 * fabs(wanted) + 1e-300);
    triangle_file_release(&f);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("triangle_file");
  TCase *c = tcase_create("triangle_file");
  tcase_add_test(c, a_box_is_the_same_out_of_every_kind_of_file);
  tcase_add_test(c, polygons_continued_lines_and_carriage_returns_are_read);
  tcase_add_test(c, a_notched_polygon_is_cut_from_a_corner_that_sees_all_of_it);
  tcase_add_loop_test(c, letters_are_cut_into_triangles, 0, sizeof letters / sizeof *letters);
  tcase_add_loop_test(c, a_broken_file_is_refused_at_its_place, 0, sizeof bad / sizeof *bad);
  tcase_add_test(c, a_file_cut_short_anywhere_is_refused);
  tcase_add_test(c, binary_numbers_and_counts_are_not_believed);
  tcase_add_test(c, numbers_are_those_of_the_c_library);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
