/* Moulds out of triangle files, as a user gives them: the same answer as for the shape by name, results that rerun, faults at their place. */
#include <check.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"

static const double pi = 3.14159265358979323846;
enum { RINGS = 30, ROUND = 60, MOST = 1 << 19 };

static char dir[512], ball[512]; /* ball: a ball out of a file that was run, made once before all tests */

static void set_up(void)
{
  program_directory(dir);
}

static void tear_down(void)
{
  program_remove(dir);
}

/* mm; the corners lie so far outside a ball of 60 mm that the solid of flat faces has its volume: frustums with ROUND sides, stacked. */
static double corner_radius(void)
{
  double sum = 0; /* of the frustums' (p^2 + p q + q^2) dz / 3, for corners at 1 */
  for (int i = 0; i < RINGS; i++) {
    const double a = pi * i / RINGS, b = pi * (i + 1) / RINGS, p = sin(a), q = sin(b);
    sum += (p * p + p * q + q * q) * (cos(a) - cos(b)) / 3;
  }
  return 60 * cbrt(4 * pi / 3 / (0.5 * ROUND * sin(2 * pi / ROUND) * sum));
}

static void ball_point(int ring, int around, double p[3])
{
  const double a = pi * ring / RINGS, b = 2 * pi * (around % ROUND) / ROUND, radius = corner_radius();
  p[0] = radius * sin(a) * cos(b);
  p[1] = radius * sin(a) * sin(b);
  p[2] = -radius * cos(a);
}

/* A ball by rings, its two points last; quadrilaterals between rings. leave_out: of its first faces. */
static void write_obj(const char *name, int leave_out)
{
  char *text = malloc(MOST), *at = text;
  double p[3];
  for (int i = 1; i < RINGS; i++)
    for (int j = 0; j < ROUND; j++) {
      ball_point(i, j, p);
      at += snprintf(at, 80, "v %.5f %.5f %.5f\n", p[0], p[1], p[2]);
    }
  at += snprintf(at, 80, "v 0 0 %.5f\nv 0 0 %.5f\n", -corner_radius(), corner_radius());
  for (int j = 0; j < ROUND; j++) {
    const int next = (j + 1) % ROUND, last = (RINGS - 2) * ROUND;
    if (j >= leave_out) at += snprintf(at, 80, "f -2 %d %d\n", next + 1, j + 1);
    at += snprintf(at, 80, "f -1 %d %d\n", last + j + 1, last + next + 1);
    for (int i = 0; i < RINGS - 2; i++)
      at += snprintf(at, 80, "f %d %d %d %d\n", i * ROUND + j + 1, i * ROUND + next + 1, (i + 1) * ROUND + next + 1, (i + 1) * ROUND + j + 1);
  }
  program_write(dir, name, text);
  free(text);
}

static char *put_facet(char *at, const double a[3], const double b[3], const double c[3])
{
  return at + snprintf(at, 256, "facet normal 0 0 0\nouter loop\nvertex %.6e %.6e %.6e\nvertex %.6e %.6e %.6e\nvertex %.6e %.6e %.6e\nendloop\nendfacet\n",
                       a[0], a[1], a[2], b[0], b[1], b[2], c[0], c[1], c[2]);
}

/* The same ball, inside out: which is mended with a word about it. */
static void write_stl(const char *name)
{
  char *text = malloc(4 * MOST), *at = text;
  at += snprintf(at, 80, "solid ball\n");
  for (int j = 0; j < ROUND; j++)
    for (int i = 0; i < RINGS; i++) {
      double a[3], b[3], c[3], d[3];
      ball_point(i, j, a);
      ball_point(i, j + 1, b);
      ball_point(i + 1, j + 1, c);
      ball_point(i + 1, j, d);
      if (i > 0) at = put_facet(at, a, c, b);
      if (i < RINGS - 1) at = put_facet(at, a, d, c);
    }
  (void)snprintf(at, 80, "endsolid ball\n");
  program_write(dir, name, text);
  free(text);
}

static void write_case(const char *name, const char *dimension, const char *shape)
{
  char text[1024];
  (void)snprintf(text, sizeof text,
                 "dimension: %s\n"
                 "room: {temperature: -20 C, film: 20 W/m2K}\n"
                 "parts:\n"
                 "  - {name: flask, %s, wall: 2 mm, material: hdpe}\n"
                 "bodies:\n"
                 "  - {name: water, in: flask, depth: 90 mm, temperature: 2 C, motion: none}\n"
                 "grid: {spacing: 12 mm}\n", dimension, shape);
  program_write(dir, name, text);
}

static program_result run_in(const char *command, const char *name, const char *into)
{
  char path[600], to[600];
  (void)snprintf(path, sizeof path, "%s/%s", dir, name);
  (void)snprintf(to, sizeof to, "%s/%s", dir, into);
  return program_run((const char *const[]){command, path, "-o", to, "--quiet", NULL}, NULL);
}

static double freeze_time(const char *into)
{
  char name[128];
  (void)snprintf(name, sizeof name, "%s/summary.json", into);
  char *json = program_read(dir, name, NULL);
  ck_assert_ptr_nonnull(json);
  const char *freeze = strstr(json, "\"freeze\""), *time = freeze ? strstr(freeze, "\"time_s\":") : NULL;
  ck_assert_ptr_nonnull(time);
  const double s = strtod(time + strlen("\"time_s\":"), NULL);
  free(json);
  return s;
}

static void must_run(const char *name, const char *into)
{
  program_result r = run_in("run", name, into);
  ck_assert_msg(r.exit_code == 0, "%s: %s", name, r.err);
  program_release(&r);
}

START_TEST(a_ball_freezes_alike_by_name_and_out_of_files)
{
  write_obj("ball.obj", 0);
  write_stl("ball.stl");
  write_case("name.yaml", "xyz", "shape: sphere, radius: 60 mm, z: 10 mm");
  write_case("obj.yaml", "xyz", "shape: triangles, file: ball.obj, unit: mm, z: 10 mm");
  write_case("stl.yaml", "xyz", "shape: triangles, file: ball.stl, unit: mm, move: [0 mm, 0 mm, 70 mm], turn: 3 deg");
  must_run("name.yaml", "name");
  must_run("obj.yaml", "obj");
  must_run("stl.yaml", "stl");
  const double wanted = freeze_time("name");
  ck_assert_double_gt(wanted, 3600);
  ck_assert_double_eq_tol(freeze_time("obj"), wanted, 2e-3 * wanted);
  ck_assert_double_eq_tol(freeze_time("stl"), wanted, 2e-3 * wanted);
  char *log = program_read(dir, "stl/log.txt", NULL);
  ck_assert_ptr_nonnull(log);
  ck_assert_ptr_nonnull(strstr(log, "inside out"));
  free(log);
}
END_TEST

/* A box with a room of 60 mm in it, drawn with its walls or its hollow by name: walls of many cells, with corners as a joiner makes them, and walls
 * thinner than a cell. */
static const double walls[] = {25, 2};

START_TEST(a_mould_drawn_with_its_walls_freezes_as_its_hollow_with_a_wall)
{
  static const char *const names[2] = {"drawn", "named"};
  const double e = walls[_i], in = e + 60, out = 2 * e + 60;
  char drawing[1024], moulds[2][256];
  double time[2];
  (void)snprintf(drawing, sizeof drawing,
                 "v 0 0 0\nv %g 0 0\nv %g %g 0\nv 0 %g 0\nv 0 0 %g\nv %g 0 %g\nv %g %g %g\nv 0 %g %g\n"
                 "v %g %g %g\nv %g %g %g\nv %g %g %g\nv %g %g %g\nv %g %g %g\nv %g %g %g\nv %g %g %g\nv %g %g %g\n"
                 "f 1 4 3 2\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\nf 5 6 10 9\nf 6 7 11 10\nf 7 8 12 11\nf 8 5 9 12\n"
                 "f 9 10 14 13\nf 10 11 15 14\nf 11 12 16 15\nf 12 9 13 16\nf 13 14 15 16\n",
                 out, out, out, out, in, out, in, out, out, in, out, in, e, e, in, in, e, in, in, in, in, e, in, in, e, e, e, in, e, e, in, in, e, e, in, e);
  (void)snprintf(moulds[0], sizeof moulds[0], "shape: triangles, file: block.obj, unit: mm");
  (void)snprintf(moulds[1], sizeof moulds[1], "shape: box, low: [%g mm, %g mm, %g mm], high: [%g mm, %g mm, %g mm], wall: %g mm", e, e, e, in, in, in, e);
  program_write(dir, "block.obj", drawing);
  for (int i = 0; i < 2; i++) {
    char text[1024], file[16];
    (void)snprintf(text, sizeof text,
                   "dimension: xyz\nmirror: {x: %g mm, y: %g mm}\nroom: {temperature: -18 C, film: 12 W/m2K}\nparts:\n"
                   "  - {name: block, %s, material: hdpe}\n"
                   "bodies:\n  - {name: water, in: block, depth: 45 mm, temperature: 2 C, motion: none}\n"
                   "grid: {spacing: 2.5 mm}\n", out / 2, out / 2, moulds[i]);
    (void)snprintf(file, sizeof file, "%s.yaml", names[i]);
    program_write(dir, file, text);
    must_run(file, names[i]);
    time[i] = freeze_time(names[i]);
  }
  ck_assert_double_eq_tol(time[0], time[1], 2e-3 * time[1]);
}
END_TEST

/* A trough of L section stood on end: an outline by name, and its faces in every form a file may have, on and off the planes of the grid. Heat leaves
 * through a film outside a wall that turns inwards at one edge. */
static const double corners[6][2] = {{0, 0}, {80, 0}, {80, 35}, {35, 35}, {35, 80}, {0, 80}}; /* mm */
enum { CORNERS = 6, L_FACES = 20 };

static void l_faces(double faces[L_FACES][3][3])
{
  static const int ground[4][3] = {{0, 1, 2}, {0, 2, 3}, {0, 3, 4}, {0, 4, 5}};
  size_t num = 0;
  for (int t = 0; t < 4; t++)
    for (int up = 0; up < 2; up++, num++)
      for (int c = 0; c < 3; c++) {
        const double *p = corners[ground[t][up ? c : 2 - c]], at[3] = {p[0], p[1], up ? 60.0 : 0.0};
        memcpy(faces[num][c], at, sizeof at);
      }
  for (int i = 0; i < CORNERS; i++) {
    const double *p = corners[i], *q = corners[(i + 1) % CORNERS];
    const double a[3] = {p[0], p[1], 0}, b[3] = {q[0], q[1], 0}, c[3] = {q[0], q[1], 60}, d[3] = {p[0], p[1], 60};
    const double *pair[2][3] = {{a, b, c}, {a, c, d}};
    for (int t = 0; t < 2; t++, num++)
      for (int k = 0; k < 3; k++) memcpy(faces[num][k], pair[t][k], sizeof a);
  }
}

static void write_l_files(void)
{
  double faces[L_FACES][3][3];
  char text[8192], *at = text, path[600];
  const uint32_t num = L_FACES;
  l_faces(faces);
  for (int f = 0; f < L_FACES; f++)
    for (int c = 0; c < 3; c++) at += snprintf(at, 80, "v %g %g %g\n", faces[f][c][0], faces[f][c][1], faces[f][c][2]);
  for (int f = 0; f < L_FACES; f++) at += snprintf(at, 80, "f %d %d %d\n", 3 * f + 1, 3 * f + 2, 3 * f + 3);
  program_write(dir, "l.obj", text);
  at = text + snprintf(text, 80, "solid l\n");
  for (int f = 0; f < L_FACES; f++) at = put_facet(at, faces[f][0], faces[f][1], faces[f][2]);
  (void)snprintf(at, 80, "endsolid l\n");
  program_write(dir, "l.stl", text);
  (void)snprintf(path, sizeof path, "%s/l_bytes.stl", dir);
  FILE *file = fopen(path, "wb");
  ck_assert_ptr_nonnull(file);
  char head[80] = "bytes";
  ck_assert(fwrite(head, 1, sizeof head, file) == sizeof head && fwrite(&num, sizeof num, 1, file) == 1);
  for (int f = 0; f < L_FACES; f++) {
    float numbers[12] = {0};
    const uint16_t end = 0;
    for (int c = 0; c < 9; c++) numbers[3 + c] = (float)faces[f][c / 3][c % 3];
    ck_assert(fwrite(numbers, sizeof numbers, 1, file) == 1 && fwrite(&end, sizeof end, 1, file) == 1);
  }
  ck_assert_int_eq(fclose(file), 0);
}

START_TEST(a_trough_of_l_section_freezes_alike_by_name_and_out_of_files)
{
  static const char *const moulds[] = {
      "shape: prism, outline: [[0 mm, 0 mm], [80 mm, 0 mm], [80 mm, 35 mm], [35 mm, 35 mm], [35 mm, 80 mm], [0 mm, 80 mm]], height: 60 mm",
      "shape: triangles, unit: mm, file: l.obj",
      "shape: triangles, unit: mm, file: l.stl",
      "shape: triangles, unit: mm, file: l_bytes.stl, move: [0.7 mm, 1.3 mm, 0.4 mm]",
      "shape: triangles, unit: mm, file: l.obj, turn: 20 deg"};
  enum { MOULDS = sizeof moulds / sizeof *moulds };
  double time[MOULDS];
  write_l_files();
  for (int i = 0; i < MOULDS; i++) {
    char text[1024], name[32], into[32];
    (void)snprintf(text, sizeof text, "dimension: xyz\nroom: {temperature: -20 C, film: 20 W/m2K}\nparts:\n  - {name: mould, %s, wall: 2 mm, material: hdpe}\n"
                                      "bodies:\n  - {name: water, in: mould, depth: 50 mm, temperature: 2 C, motion: none}\ngrid: {spacing: 4.3 mm}\n", moulds[i]);
    (void)snprintf(name, sizeof name, "l%d.yaml", i);
    (void)snprintf(into, sizeof into, "l%d", i);
    program_write(dir, name, text);
    must_run(name, into);
    time[i] = freeze_time(into);
    printf("%.6g s  ", time[i]);
  }
  printf("\n");
  for (int i = 1; i < MOULDS; i++) ck_assert_msg(fabs(time[i] / time[0] - 1) < 2e-3, "by name %.9g s, %s %.9g s", time[0], moulds[i], time[i]);
}
END_TEST

static void assert_same(const char *a, const char *b)
{
  size_t num_a, num_b;
  char *x = program_read(dir, a, &num_a), *y = program_read(dir, b, &num_b);
  ck_assert_ptr_nonnull(x);
  ck_assert_ptr_nonnull(y);
  ck_assert_msg(num_a == num_b && memcmp(x, y, num_a) == 0, "%s and %s differ", a, b);
  free(x);
  free(y);
}

static void run_ball(void)
{
  set_up();
  memcpy(ball, dir, sizeof ball);
  write_obj("ball.obj", 0);
  write_case("a.yaml", "xyz", "shape: triangles, file: ball.obj, unit: mm");
  must_run("a.yaml", "first");
}

static void remove_ball(void) { program_remove(ball); }

static void copy_ball(void)
{
  char command[1200];
  (void)snprintf(command, sizeof command, "cp -r '%s'/. '%s'", ball, dir);
  ck_assert_int_eq(system(command), 0);
}

START_TEST(results_rerun_without_the_drawing)
{
  char path[600];
  copy_ball();
  assert_same("ball.obj", "first/flask.obj");
  (void)snprintf(path, sizeof path, "%s/ball.obj", dir);
  program_remove(path);
  must_run("first/case.yaml", "again");
  assert_same("first/case.yaml", "again/case.yaml");
  assert_same("first/series.csv", "again/series.csv");
  write_obj("first/flask.obj", 1); /* changed since, and torn open at that */
  program_result r = run_in("run", "first/case.yaml", "third");
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_ptr_nonnull(strstr(r.err, "has changed"));
  program_release(&r);
  ck_assert(!program_has(dir, "third"));
}
END_TEST

static program_result report_at(const char *into, const char *at)
{
  char path[600];
  (void)snprintf(path, sizeof path, "%s/%s", dir, into);
  return program_run((const char *const[]){"report", path, "--quiet", "--at", at, NULL}, NULL);
}

START_TEST(the_ice_is_shown_cut_away_at_moments_that_are_asked_for)
{
  copy_ball();
  ck_assert(program_has(dir, "first/pictures/last_pockets.png"));
  size_t num[2];
  char *usual = program_read(dir, "first/pictures/ice_cut_away.png", &num[0]);
  ck_assert_ptr_nonnull(usual);
  program_result r = report_at("first", "1 h");
  ck_assert_msg(r.exit_code == 0, "%s", r.err);
  program_release(&r);
  char *asked = program_read(dir, "first/pictures/ice_cut_away.png", &num[1]);
  ck_assert_ptr_nonnull(asked);
  ck_assert(num[0] != num[1] || memcmp(usual, asked, num[0]) != 0);
  free(usual);
  free(asked);
  r = report_at("first", "300 h");
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_ptr_nonnull(strstr(r.err, "no such moment"));
  program_release(&r);
}
END_TEST

static const struct {
  const char *dimension, *shape, *wanted;
} faults[] = {
    {"xyz", "shape: triangles, file: torn.obj, unit: mm", "torn.obj: the surface leaks: 1 hole, 3 open edges"},
    {"xyz", "shape: triangles, file: none.obj, unit: mm", "none.obj"},
    {"xyz", "shape: triangles, file: nan.obj, unit: mm", "nan.obj:3: \"nan\" is not a finite number"},
    {"xyz", "shape: triangles, file: ball.obj", "need \"file\" and \"unit\""},
    {"xyz", "shape: triangles, file: ball.obj, unit: furlong", "unit"},
    {"xyz", "shape: triangles, file: ball.obj, unit: mm, turn: 30", "turn"},
    {"xyz", "shape: triangles, file: ball.obj, unit: mm, z: 1 mm, move: [0 mm, 0 mm, 5 mm]", "must then be 0 mm"},
    {"xyz", "shape: triangles, file: ball.obj, unit: mm, radius: 5 mm", "has no \"radius\""},
    {"xyz", "shape: sphere, radius: 60 mm, file: ball.obj", "has no \"file\""},
    {"xyz", NULL, "has no hollow that would hold a liquid"},
    {"rz", "shape: triangles, file: ball.obj, unit: mm", "no figure of revolution"},
};

START_TEST(a_fault_of_the_file_is_told_at_its_place_and_leaves_nothing)
{
  write_obj("ball.obj", 0);
  write_obj("torn.obj", 1);
  program_write(dir, "nan.obj", "v 0 0 0\nv 1 0 0\nv 0 nan 1\nf 1 2 3\n");
  if (faults[_i].shape)
    write_case("a.yaml", faults[_i].dimension, faults[_i].shape);
  else
    program_write(dir, "a.yaml", "dimension: xyz\n\nparts:\n  - {name: flask, shape: triangles, file: ball.obj, unit: mm, material: hdpe}\n"
                                 "bodies:\n  - {name: water, in: flask, depth: 90 mm}\n");
  program_result r = run_in("run", "a.yaml", "out");
  ck_assert_int_eq(r.exit_code, 2);
  ck_assert_msg(strstr(r.err, faults[_i].wanted) != NULL, "\"%s\" does not say \"%s\"", r.err, faults[_i].wanted);
  ck_assert_msg(strstr(r.err, "a.yaml:4:") != NULL, "\"%s\"", r.err);
  ck_assert(!program_has(dir, "out"));
  program_release(&r);
}
END_TEST

int main(void)
{
  Suite *s = suite_create("triangles");
  TCase *c = tcase_create("triangles");
  tcase_add_unchecked_fixture(c, run_ball, remove_ball);
  tcase_add_checked_fixture(c, set_up, tear_down);
  if (!getenv("LASTWATER_BRIEF")) /* under sanitizers: too long */
    tcase_add_test(c, a_ball_freezes_alike_by_name_and_out_of_files);
  if (!getenv("LASTWATER_BRIEF"))
    tcase_add_loop_test(c, a_mould_drawn_with_its_walls_freezes_as_its_hollow_with_a_wall, 0, sizeof walls / sizeof *walls);
  if (!getenv("LASTWATER_BRIEF"))
    tcase_add_test(c, a_trough_of_l_section_freezes_alike_by_name_and_out_of_files);
  tcase_add_test(c, results_rerun_without_the_drawing);
  tcase_add_test(c, the_ice_is_shown_cut_away_at_moments_that_are_asked_for);
  tcase_add_loop_test(c, a_fault_of_the_file_is_told_at_its_place_and_leaves_nothing, 0, sizeof faults / sizeof *faults);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
