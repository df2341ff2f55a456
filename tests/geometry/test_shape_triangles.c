/* Solids of triangles: diagnosis and mending, distances against a search through all, signs against the solid angle, volumes. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/shape_triangles.h"
#include "triangle_solids.h"

static const double pi = 3.14159265358979323846;
static const double centre[3] = {0.013, -0.021, 0.034};

static void must(status code, const message *msg)
{
  ck_assert_msg(code == STATUS_OK, "%s", msg->text);
}

/* Through the bytes of a binary file, as a user's triangles come. */
static triangle_surface surface_of(triangle_file *f)
{
  message msg = {""};
  triangle_surface s;
  triangle_file read;
  size_t num;
  char *bytes = triangle_solids_stl(f, &num);
  triangle_file_release(f);
  must(triangle_file_read(&read, "a.stl", bytes, num, &msg), &msg);
  free(bytes);
  must(triangle_surface_create(&s, &read, "a.stl", &msg), &msg);
  return s;
}

static shape *shape_of(triangle_file *f)
{
  message msg = {""};
  triangle_surface s = surface_of(f);
  shape *out = NULL;
  must(shape_triangles(&out, &s, "a.stl", &msg), &msg);
  return out;
}

static void refused(triangle_file *f, const char *wanted)
{
  message msg = {""};
  triangle_surface s;
  shape *out = NULL;
  status code = triangle_surface_create(&s, f, "a.stl", &msg);
  if (code == STATUS_OK) code = shape_triangles(&out, &s, "a.stl", &msg);
  ck_assert_int_eq(code, STATUS_BAD_INPUT);
  ck_assert_ptr_null(out);
  ck_assert_ptr_null(f->points);
  ck_assert_msg(strstr(msg.text, wanted) != NULL, "\"%s\" does not say \"%s\"", msg.text, wanted);
}

static double random_between(uint64_t *x, double a, double b)
{
  *x ^= *x << 13;
  *x ^= *x >> 7;
  *x ^= *x << 17; /* Marsaglia, J. Stat. Software 8 (2003) 14 */
  return a + (b - a) * (double)(*x >> 11) / 9007199254740992.0;
}

/* ---- an independent distance ------------------------------------------------------------------------- */

static double dot(const double a[3], const double b[3])
{
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static void less(const double a[3], const double b[3], double c[3])
{
  for (int i = 0; i < 3; i++) c[i] = a[i] - b[i];
}

static void cross(const double a[3], const double b[3], double c[3])
{
  for (int i = 0; i < 3; i++) c[i] = a[(i + 1) % 3] * b[(i + 2) % 3] - a[(i + 2) % 3] * b[(i + 1) % 3];
}

static double to_segment(const double p[3], const double a[3], const double b[3])
{
  double ab[3], ap[3], off[3];
  less(b, a, ab);
  less(p, a, ap);
  const double t = fmin(1, fmax(0, dot(ap, ab) / dot(ab, ab)));
  for (int i = 0; i < 3; i++) off[i] = ap[i] - t * ab[i];
  return sqrt(dot(off, off));
}

/* To the plane where p lies over the triangle, else to its edges. */
static double to_triangle(const double p[3], const double *const c[3])
{
  double u[3], v[3], n[3], w[3], side[3], m[3];
  less(c[1], c[0], u);
  less(c[2], c[0], v);
  cross(u, v, n);
  int inside = 1;
  for (int e = 0; e < 3; e++) {
    less(c[(e + 1) % 3], c[e], side);
    less(p, c[e], w);
    cross(side, w, m);
    inside = inside && dot(m, n) >= 0;
  }
  if (inside) return fabs(dot(w, n)) / sqrt(dot(n, n));
  return fmin(to_segment(p, c[0], c[1]), fmin(to_segment(p, c[1], c[2]), to_segment(p, c[2], c[0])));
}

/* Solid angle over 4 pi: Van Oosterom & Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125. */
static double times_round(const triangle_file *f, const double p[3])
{
  double sum = 0;
  for (size_t t = 0; t < f->num_triangles; t++) {
    double r[3][3], l[3], n[3];
    for (int c = 0; c < 3; c++) {
      less(f->points[f->corners[t][c]], p, r[c]);
      l[c] = sqrt(dot(r[c], r[c]));
    }
    cross(r[0], r[1], n);
    sum += 2 * atan2(dot(n, r[2]), l[0] * l[1] * l[2] + dot(r[0], r[1]) * l[2] + dot(r[1], r[2]) * l[0] + dot(r[2], r[0]) * l[1]);
  }
  return sum / (4 * pi);
}

static double searched(const triangle_file *f, const double p[3])
{
  double least = INFINITY;
  for (size_t t = 0; t < f->num_triangles; t++) {
    const double *const c[3] = {f->points[f->corners[t][0]], f->points[f->corners[t][1]], f->points[f->corners[t][2]]};
    least = fmin(least, to_triangle(p, c));
  }
  return times_round(f, p) > 0.5 ? -least : least;
}

static void check_against_search(const triangle_file *f, const shape *s, int num, double reach)
{
  uint64_t x = 88172645463325252u;
  for (int i = 0; i < num; i++) {
    double p[3];
    for (int a = 0; a < 3; a++) p[a] = centre[a] + random_between(&x, -reach, reach);
    const double wanted = searched(f, p);
    ck_assert_double_eq_tol(shape_distance(s, p), wanted, 1e-7 * reach); /* the file's numbers are floats */
  }
}

/* Spikes and pits as sharp as the triangles allow: every region of faces, edges and corners, hollow and salient, is met. */
START_TEST(distance_and_sign_are_those_of_a_search_through_all)
{
  triangle_file f = triangle_solids_ball(7, centre, 0.2, 0.25), copy = triangle_solids_ball(7, centre, 0.2, 0.25);
  shape *s = shape_of(&copy);
  check_against_search(&f, s, 4000, 0.4);
  shape_destroy(&s);
  triangle_file_release(&f);
}
END_TEST

/* Many threads at few places, so that they meet at what is remembered. */
START_TEST(the_same_bits_for_any_number_of_threads)
{
  enum { PLACES = 3000, TIMES = 40 };
  triangle_file f = triangle_solids_ball(20, centre, 0.2, 0.1), again = triangle_solids_ball(20, centre, 0.2, 0.1);
  shape *alone = shape_of(&f), *shared = shape_of(&again);
  double(*p)[3] = malloc(PLACES * sizeof *p), *wanted = malloc(PLACES * sizeof *wanted);
  uint64_t x = 777;
  for (int i = 0; i < PLACES; i++) {
    for (int a = 0; a < 3; a++) p[i][a] = centre[a] + random_between(&x, -0.3, 0.3);
    wanted[i] = shape_distance(alone, p[i]);
  }
  long wrong = 0;
#pragma omp parallel for num_threads(8) schedule(dynamic, 7) reduction(+ : wrong)
  for (int i = 0; i < PLACES * TIMES; i++) {
    const int k = i * 7 % PLACES;
    wrong += shape_distance(shared, p[k]) != wanted[k];
  }
  ck_assert_int_eq(wrong, 0);
  free(p);
  free(wanted);
  shape_destroy(&alone);
  shape_destroy(&shared);
}
END_TEST

/* A needle's blunt corner: a plate a thousand times as wide as it is thick. */
START_TEST(a_thin_plate_has_two_sides)
{
  triangle_file f = triangle_solids_box((double[3]){-0.2, -0.2, 0}, (double[3]){0.2, 0.2, 4e-4});
  triangle_file copy = triangle_solids_box((double[3]){-0.2, -0.2, 0}, (double[3]){0.2, 0.2, 4e-4});
  shape *s = shape_of(&copy);
  check_against_search(&f, s, 4000, 0.3);
  ck_assert_double_eq_tol(shape_distance(s, (double[3]){0.1, 0.1, 2e-4}), -2e-4, 1e-9);
  shape_destroy(&s);
  triangle_file_release(&f);
}
END_TEST

START_TEST(a_fine_ball_is_a_sphere_out_of_every_kind_of_file)
{
  char *(*const write[])(const triangle_file *, size_t *) = {triangle_solids_stl, triangle_solids_stl_text, triangle_solids_obj};
  const char *const names[] = {"ball.stl", "ball.stl", "ball.obj"};
  const int n = 40;
  for (int kind = 0; kind < 3; kind++) {
    triangle_file f = triangle_solids_ball(n, centre, 0.2, 0), read;
    triangle_surface s;
    shape *ball = NULL, *sphere = NULL;
    message msg = {""};
    size_t num;
    char *bytes = write[kind](&f, &num);
    const double exact = triangle_solids_volume(&f);
    triangle_file_release(&f);
    must(triangle_file_read(&read, names[kind], bytes, num, &msg), &msg);
    must(triangle_surface_create(&s, &read, names[kind], &msg), &msg);
    ck_assert_uint_eq(s.num_points, 4 * n * n + 2); /* Euler: V = F / 2 + 2 */
    ck_assert_uint_eq(s.num_warnings, 0);
    ck_assert_double_eq_tol(s.volume, exact, 1e-6 * exact);
    ck_assert_double_eq_tol(s.volume, 4 * pi / 3 * 0.008, 1e-3 * 0.0335);
    ck_assert_double_eq_tol(s.area, 4 * pi * 0.04, 1e-3 * 0.503);
    must(shape_triangles(&ball, &s, names[kind], &msg), &msg);
    must(shape_sphere(&sphere, centre, 0.2, &msg), &msg);
    uint64_t x = 1234567;
    for (int i = 0; i < 2000; i++) {
      double p[3];
      for (int a = 0; a < 3; a++) p[a] = centre[a] + random_between(&x, -0.3, 0.3);
      /* The sagitta of the largest triangle, edge 2.2 r / n: (1.1 r / n)^2 / (2 r) / cos(60 deg), rounded up. */
      ck_assert_double_eq_tol(shape_distance(ball, p), shape_distance(sphere, p), 0.2 * 1.3 / (n * n));
    }
    for (double z = -0.25; z < 0.26; z += 0.05) { /* the cap: pi h^2 (3 r - h) / 3 */
      const double h = fmin(0.4, fmax(0, z + 0.2)), cap = pi * h * h * (0.6 - h) / 3;
      ck_assert_double_eq_tol(shape_volume_below(ball, false, centre[2] + z, 1e-3), cap, 1e-3 * 0.0335);
    }
    shape_destroy(&ball);
    shape_destroy(&sphere);
    free(bytes);
  }
}
END_TEST

START_TEST(the_volume_below_a_level_is_exact)
{
  const double low[3] = {0.1, 0.2, 0.3}, high[3] = {0.4, 0.7, 0.8};
  triangle_file f = triangle_solids_box(low, high);
  shape *s = shape_of(&f), *clone = NULL;
  ck_assert_int_eq(shape_clone(s, &clone, NULL), STATUS_OK);
  shape_destroy(&s); /* the clone lives on */
  ck_assert_double_eq_tol(shape_volume_below(clone, false, 0.55, 1e-3), 0.3 * 0.5 * 0.25, 1e-8);
  ck_assert_double_eq_tol(shape_volume_below(clone, false, INFINITY, 1e-3), 0.3 * 0.5 * 0.5, 1e-8);
  ck_assert_double_eq(shape_volume_below(clone, false, 0.2, 1e-3), 0);
  double a[3], b[3];
  shape_bounds(clone, a, b);
  for (int i = 0; i < 3; i++) {
    ck_assert_double_eq_tol(a[i], low[i], 1e-7);
    ck_assert_double_eq_tol(b[i], high[i], 1e-7);
  }
  shape *grown = NULL;
  ck_assert_int_eq(shape_offset(&grown, clone, 0.01, NULL), STATUS_OK);
  ck_assert_double_eq_tol(shape_distance(grown, (double[3]){0.43, 0.74, 0.5}), 0.04, 1e-7); /* 3-4-5 from the edge */
  shape_destroy(&grown);
}
END_TEST

START_TEST(a_surface_is_placed_by_scale_turn_and_move)
{
  triangle_file f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){30, 10, 20});
  triangle_surface s = surface_of(&f);
  shape *out = NULL;
  double low[3], high[3];
  const shape_placed_frame frame = shape_placed_turn(1, 0, 0, pi / 2, (double[3]){0, 0, 0}, (double[3]){0.5, 0, 0.1});
  triangle_surface_place(&s, 1e-3, &frame); /* mm; x becomes y, y becomes -x */
  ck_assert_double_eq_tol(s.volume, 6e-6, 1e-12);
  ck_assert_int_eq(shape_triangles(&out, &s, "a.stl", NULL), STATUS_OK);
  shape_bounds(out, low, high);
  ck_assert_double_eq_tol(low[0], 0.49, 1e-12);
  ck_assert_double_eq_tol(high[0], 0.5, 1e-12);
  ck_assert_double_eq_tol(high[1], 0.03, 1e-12);
  ck_assert_double_eq_tol(high[2], 0.12, 1e-12);
  ck_assert_double_lt(shape_distance(out, (double[3]){0.495, 0.01, 0.11}), 0);
  shape_destroy(&out);
}
END_TEST

START_TEST(one_face_in_fifty_turned_round_is_turned_back)
{
  triangle_file f = triangle_solids_ball(12, centre, 0.2, 0.1), good = triangle_solids_ball(12, centre, 0.2, 0.1);
  triangle_solids_turn_over(&f, 3, 50);
  triangle_surface s = surface_of(&f);
  ck_assert_uint_eq(s.num_turned, (8 * 144 - 3 + 49) / 50);
  ck_assert_uint_eq(s.num_turned_over, 0);
  ck_assert_uint_eq(s.num_warnings, 1);
  ck_assert_ptr_nonnull(strstr(s.warnings[0], "turned round"));
  ck_assert_double_eq_tol(s.volume, triangle_solids_volume(&good), 1e-6 * s.volume);
  shape *out = NULL;
  ck_assert_int_eq(shape_triangles(&out, &s, "a.stl", NULL), STATUS_OK);
  check_against_search(&good, out, 500, 0.3);
  shape_destroy(&out);
  triangle_file_release(&good);
}
END_TEST

START_TEST(a_solid_inside_out_is_turned_over)
{
  triangle_file f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 2, 3});
  triangle_solids_turn_over(&f, 0, 1);
  triangle_surface s = surface_of(&f);
  ck_assert_uint_eq(s.num_turned_over, 1);
  ck_assert_double_eq_tol(s.volume, 6, 1e-12);
  ck_assert_ptr_nonnull(strstr(s.warnings[0], "inside out"));
  triangle_surface_release(&s);
}
END_TEST

START_TEST(holes_are_counted_and_placed)
{
  triangle_file f = triangle_solids_ball(10, (double[3]){0, 0, 0}, 1, 0);
  triangle_solids_leave_out(&f, 750);
  triangle_solids_leave_out(&f, 300);
  triangle_solids_leave_out(&f, 0); /* at the corner x = 1 */
  refused(&f, "3 holes, 9 open edges");
  f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 2, 3});
  triangle_solids_leave_out(&f, 2); /* both of the lid */
  triangle_solids_leave_out(&f, 2);
  refused(&f, "1 hole, 4 open edges; the largest, of 4 edges, round x 0.5, y 1, z 3");
}
END_TEST

START_TEST(crowded_edges_and_one_sided_surfaces_are_refused)
{
  triangle_file f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1}), other = triangle_solids_box((double[3]){1, 1, 0}, (double[3]){2, 2, 1});
  triangle_solids_append(&f, &other); /* they share an upright edge */
  refused(&f, "1 edge is shared by more than two faces, the first at x 1, y 1, z 0.5");
  f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1});
  other = triangle_solids_box((double[3]){1, 0, 0}, (double[3]){2, 1, 1}); /* a wall between them, one solid or two? */
  triangle_solids_append(&f, &other);
  refused(&f, "edges are shared by more than two faces");
  /* The projective plane of six points (Moebius): closed, one-sided. */
  static const uint32_t plane[10][3] = {{0, 1, 2}, {0, 2, 3}, {0, 3, 4}, {0, 4, 5}, {0, 5, 1}, {1, 2, 4}, {2, 3, 5}, {3, 4, 1}, {4, 5, 2}, {5, 1, 3}};
  static const double points[6][3] = {{0, 0, 1}, {1, 0, 0}, {0.3, 0.9, 0.1}, {-0.8, 0.6, 0}, {-0.8, -0.6, 0.2}, {0.3, -0.9, 0}};
  f = (triangle_file){.num_points = 6, .num_triangles = 10, .points = malloc(sizeof points), .corners = malloc(sizeof plane)};
  memcpy(f.points, points, sizeof points);
  memcpy(f.corners, plane, sizeof plane);
  refused(&f, "one side only");
}
END_TEST

START_TEST(shells_within_shells)
{
  const double in[3] = {0.2, 0.2, 0.2}, out[3] = {0.7, 0.8, 0.9};
  triangle_file f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1}), other = triangle_solids_box(in, out);
  triangle_solids_append(&f, &other);
  refused(&f, "filled or hollow");
  for (int turned_over = 0; turned_over < 2; turned_over++) { /* a hollow, told right, and with all of it inside out */
    f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1});
    other = triangle_solids_box(in, out);
    triangle_solids_turn_over(&other, 0, 1);
    triangle_solids_append(&f, &other);
    if (turned_over) triangle_solids_turn_over(&f, 0, 1);
    triangle_surface s = surface_of(&f);
    ck_assert_uint_eq(s.num_shells, 2);
    ck_assert_uint_eq(s.num_turned_over, 2 * turned_over);
    ck_assert_double_eq_tol(s.volume, 1 - 0.5 * 0.6 * 0.7, 1e-6);
    triangle_surface_release(&s);
  }
  f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1}); /* beside each other, one inside out */
  other = triangle_solids_box((double[3]){2, 0, 0}, (double[3]){3, 1, 1});
  triangle_solids_turn_over(&other, 0, 1);
  triangle_solids_append(&f, &other);
  triangle_surface s = surface_of(&f);
  ck_assert_uint_eq(s.num_turned_over, 1);
  ck_assert_double_eq_tol(s.volume, 2, 1e-12);
  triangle_surface_release(&s);
}
END_TEST

/* Boxes whose edges run exactly into edges and diagonals of each other, side by side they only touch. */
START_TEST(boxes_on_one_lattice_cross_or_touch)
{
  static const struct {
    double low[3], high[3];
    const char *wanted; /* NULL: only touching */
  } others[] = {{{0.5, 0.5, 0.5}, {1.5, 1.5, 1.5}, "runs through itself"}, {{0.25, 0.25, -1}, {0.75, 0.75, 2}, "runs through itself"},
                {{-1, 0.25, 0}, {2, 0.75, 1}, "runs through itself"},      {{0.5, 0, 0}, {1.5, 1, 1}, "runs through itself"},
                {{0.25, 0.25, 1}, {0.75, 0.75, 2}, NULL},                  {{1, 0.5, 0.5}, {2, 1.5, 1.5}, NULL},
                {{1, 0.25, 0.25}, {2, 0.5, 0.5}, NULL}};
  for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
    triangle_file f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1}), other = triangle_solids_box(others[i].low, others[i].high);
    triangle_solids_append(&f, &other);
    if (others[i].wanted) {
      refused(&f, others[i].wanted);
      continue;
    }
    triangle_surface s = surface_of(&f);
    shape *out = NULL;
    message msg = {""};
    must(shape_triangles(&out, &s, "touching", &msg), &msg);
    shape_destroy(&out);
  }
}
END_TEST

START_TEST(faces_that_cross_are_refused)
{
  triangle_file f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1}), other = triangle_solids_box((double[3]){0.5, 0.4, 0.3}, (double[3]){1.5, 1.4, 1.3});
  triangle_solids_append(&f, &other);
  refused(&f, "runs through itself");
  f = triangle_solids_ball(6, (double[3]){0, 0, 0}, 1, 0); /* one point drawn through the far side */
  for (size_t i = f.num_points; i-- > 0;)
    if (f.points[i][0] > 0.999) memcpy(f.points[i], (double[3]){-1.5, 0.1, 0.07}, sizeof f.points[i]);
  refused(&f, "runs through itself");
}
END_TEST

/* A point in the middle of an edge of which only the faces on one side know, closed by a triangle without area. */
START_TEST(triangles_without_area_are_dropped_or_joined)
{
  static const char text[] = "v 0 0 0\nv 2 0 0\nv 0 3 0\nv 2 3 0\nv 0 0 5\nv 2 0 5\nv 0 3 5\nv 2 3 5\nv 1 0 0\n"
                             "f 1 3 4 2\nf 5 6 8 7\nf 1 9 5\nf 9 2 6\nf 9 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n"
                             "f 1 2 9\n"             /* 1, 9, 2 in a row */
                             "f 4 4 8\nf 7 7 7\n";
  triangle_file f;
  triangle_surface s;
  message msg = {""};
  must(triangle_file_read(&f, "a.obj", text, strlen(text), &msg), &msg);
  must(triangle_surface_create(&s, &f, "a.obj", &msg), &msg);
  ck_assert_uint_eq(s.num_dropped, 2);
  ck_assert_uint_eq(s.num_needles, 1);
  ck_assert_uint_eq(s.num_warnings, 2);
  ck_assert_double_eq_tol(s.volume, 30, 1e-12);
  shape *out = NULL;
  must(shape_triangles(&out, &s, "a.obj", &msg), &msg);
  for (double x = 0.05; x < 2; x += 0.1) { /* along that edge, on both sides of the surface */
    ck_assert_double_eq_tol(shape_distance(out, (double[3]){x, -0.3, -0.4}), 0.5, 1e-12);
    ck_assert_double_eq_tol(shape_distance(out, (double[3]){x, 0.04, 0.05}), -0.04, 1e-12);
    ck_assert_double_eq_tol(shape_distance(out, (double[3]){x, 0.1, -0.01}), 0.01, 1e-12);
  }
  shape_destroy(&out);
  f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 0}); /* flat */
  refused(&f, "");
  f = triangle_solids_box((double[3]){1, 1, 1}, (double[3]){1, 1, 1});
  refused(&f, "have no area");
  f = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 1, 1}); /* three points in a row, and nothing else */
  memcpy(f.points[3], (double[3]){0, 0, 2}, sizeof *f.points);
  memcpy(f.corners[0], (uint32_t[3]){0, 4, 3}, sizeof *f.corners);
  f.num_triangles = 1;
  refused(&f, "have no area");
}
END_TEST

#define CUBE_POINTS "v 0 0 0\nv 2 0 0\nv 0 3 0\nv 2 3 0\nv 0 0 5\nv 2 0 5\nv 0 3 5\nv 2 3 5\n"
#define CUBE_FACES "f 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n"
#define CUBE_INWARD "f 1 2 4 3\nf 5 7 8 6\nf 1 5 6 2\nf 3 4 8 7\nf 1 3 7 5\nf 2 6 8 4\n"

/* What drawing programs leave behind: both sides of a face, a face once more, edges of which one side knows points that the other does not. The
 * solid is a block of 2 by 3 by 5 all the same. */
static const struct {
  const char *text;
  size_t twins, divided;
} seams[] = {
    {CUBE_POINTS CUBE_FACES CUBE_FACES, 12, 0},
    {CUBE_POINTS CUBE_FACES CUBE_INWARD, 12, 0},
    {CUBE_POINTS CUBE_FACES "f 1 2 6\n", 1, 0},
    {CUBE_POINTS "v 1 0 0\n" "f 1 3 4 2\nf 5 6 8 7\nf 1 9 5\nf 9 2 6\nf 9 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n", 0, 1},
    {CUBE_POINTS "v 0.5 0 0\nv 1.25 0 0\nv 2 0 4\n"
                 "f 1 3 4 2\nf 5 6 8 7\nf 1 9 5\nf 9 10 5\nf 10 2 5\nf 2 11 5\nf 11 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n", 0, 2},
    {CUBE_POINTS "v 1 0 0\n" CUBE_FACES "f 1 2 9\n", 0, 0}, /* a triangle without area, by itself */
};

START_TEST(seams_are_closed_where_nothing_is_open)
{
  triangle_file f;
  triangle_surface s;
  message msg = {""};
  must(triangle_file_read(&f, "a.obj", seams[_i].text, strlen(seams[_i].text), &msg), &msg);
  must(triangle_surface_create(&s, &f, "a.obj", &msg), &msg);
  ck_assert_uint_eq(s.num_twins, seams[_i].twins);
  ck_assert_uint_eq(s.num_divided, seams[_i].divided);
  ck_assert_uint_ge(s.num_warnings, seams[_i].twins + seams[_i].divided > 0);
  ck_assert_double_eq_tol(s.volume, 30, 1e-12);
  ck_assert_double_eq_tol(s.area, 62, 1e-12);
  triangle_surface_release(&s);
}
END_TEST

/* Rig coordinates of a survey, say: far from the origin a ball keeps its shape, and what is lost is told. */
START_TEST(a_solid_far_from_the_origin_of_its_file_keeps_its_shape)
{
  static const double far[] = {1e3, 2e4};
  for (size_t i = 0; i < 2; i++) {
    triangle_file f = triangle_solids_ball(12, (double[3]){far[i], -0.7 * far[i], 0.3 * far[i]}, 1, 0), near = triangle_solids_ball(12, (double[3]){0, 0, 0}, 1, 0);
    const double volume = triangle_solids_volume(&near);
    triangle_file_release(&near);
    triangle_surface s;
    message msg = {""};
    must(triangle_surface_create(&s, &f, "a.obj", &msg), &msg);
    ck_assert_uint_eq(s.num_needles, 0);
    ck_assert_uint_eq(s.num_dropped, 0);
    ck_assert_uint_eq(s.num_triangles, 8 * 12 * 12);
    ck_assert_double_eq_tol(s.volume, volume, 1e-6 * volume);
    ck_assert_uint_eq(s.num_warnings, i);
    triangle_surface_release(&s);
  }
}
END_TEST

/* An OBJ has no end mark and no count, so its reader cannot know of a cut at a line's end: then the surface leaks, and that is told. Only where
 * nothing but blanks and the number of a normal was lost is the solid the same. */
START_TEST(an_obj_cut_short_anywhere_is_refused_or_whole)
{
  triangle_file box = triangle_solids_box((double[3]){0, 0, 0}, (double[3]){1, 2, 3});
  size_t num;
  char *text = triangle_solids_obj(&box, &num);
  size_t whole = num, accepted = 0;
  while (text[whole - 1] != '/') whole--; /* the last corner ends in //1 */
  whole -= 2;
  for (size_t length = 0; length <= num; length++) {
    triangle_file f;
    triangle_surface s;
    message msg = {""};
    char *part = malloc(length + 1); /* its own block, so that a sanitizer sees a step beyond */
    memcpy(part, text, length);
    status code = triangle_file_read(&f, "box.obj", part, length, &msg);
    if (code == STATUS_OK) code = triangle_surface_create(&s, &f, "box.obj", &msg);
    ck_assert_msg((code == STATUS_OK) == (length >= whole), "cut at %zu of %zu: %s", length, num, msg.text);
    if (code == STATUS_OK) {
      ck_assert_double_eq_tol(s.volume, 6, 1e-12);
      triangle_surface_release(&s);
      accepted++;
    } else {
      ck_assert_ptr_nonnull(strstr(msg.text, "box.obj"));
    }
    free(part);
  }
  ck_assert_uint_eq(accepted, num - whole + 1);
  free(text);
  triangle_file_release(&box);
}
END_TEST

/* The points of a fan of slivers: two tips and a rim of many points, each rim edge 1 / num of the way round. */
static triangle_file spindle(size_t num, double radius, double half)
{
  triangle_file f = {.num_points = num + 2, .num_triangles = 2 * num, .points = malloc((num + 2) * sizeof *f.points), .corners = malloc(2 * num * sizeof *f.corners)};
  for (size_t i = 0; i < num; i++) {
    const double turn = 2 * pi * (double)i / (double)num;
    memcpy(f.points[i], (double[3]){radius * cos(turn), radius * sin(turn), 0}, sizeof *f.points);
    const uint32_t here = (uint32_t)i, next = (uint32_t)((i + 1) % num), top = (uint32_t)num, bottom = top + 1;
    memcpy(f.corners[2 * i], (uint32_t[3]){here, next, top}, sizeof *f.corners);
    memcpy(f.corners[2 * i + 1], (uint32_t[3]){next, here, bottom}, sizeof *f.corners);
  }
  memcpy(f.points[num], (double[3]){0, 0, half}, sizeof *f.points);
  memcpy(f.points[num + 1], (double[3]){0, 0, -half}, sizeof *f.points);
  return f;
}

/* Slivers a thousand times as long as wide, that meet in two tips; and faces that meet at a few thousandths of a radian. Volume of a
 * double pyramid: area of the regular polygon times height over 3. */
START_TEST(slivers_and_sharp_edges_make_a_sound_solid)
{
  static const struct { size_t num; double radius, half; } cases[] = {
      {3000, 1, 2},     /* slivers: edge 0.002, length 2.2                    */
      {12, 1, 0.001},   /* a lens: its rim 0.002 rad sharp                   */
      {7, 0.001, 1},    /* a needle: its tips 0.002 rad                      */
      {2000, 1, 0.002}, /* all of these                                      */
  };
  const bool brief = getenv("LASTWATER_BRIEF") != NULL; /* under sanitizers: slivers six times as wide, every pair of which is looked at */
  for (size_t k = 0; k < sizeof cases / sizeof *cases; k++) {
    const size_t num = brief && cases[k].num > 1000 ? cases[k].num / 6 : cases[k].num;
    const double radius = cases[k].radius, half = cases[k].half, turn = 2 * pi / (double)num;
    triangle_file f = spindle(num, radius, half), again = spindle(num, radius, half);
    triangle_surface s = surface_of(&f);
    const double exact = 2.0 / 3.0 * half * 0.5 * (double)num * radius * radius * sin(turn);
    ck_assert_uint_eq(s.num_triangles, 2 * num);
    ck_assert_uint_eq(s.num_warnings, 0);
    ck_assert_double_eq_tol(s.volume, exact, 1e-3 * exact); /* floats of the file, and the weld */
    shape *out = NULL;
    message msg = {""};
    must(shape_triangles(&out, &s, "a.stl", &msg), &msg);
    check_against_search(&again, out, 200, 1.2);
    ck_assert_double_lt(shape_distance(out, (double[3]){0, 0, 0}), 0);
    ck_assert_double_lt(shape_distance(out, (double[3]){0.3 * radius, 0.2 * radius, 0.4 * half}), 0);
    ck_assert_double_eq_tol(shape_distance(out, (double[3]){0, 0, half + 0.5}), 0.5, 1e-6);
    ck_assert_double_eq_tol(shape_volume_below(out, false, 0, 1e-3), 0.5 * exact, 1e-3 * exact);
    shape_destroy(&out);
    triangle_file_release(&again);
  }
}
END_TEST

/* As large a file as is read at all, ten million triangles, with LASTWATER_LONG set (500 MB of file, 2.5 GB of memory at the peak); else two
 * hundred thousand. Ten million and one are refused. */
START_TEST(a_very_large_file_is_a_solid_or_is_refused)
{
  const int n = getenv("LASTWATER_LONG") ? 1118 : 158;
  triangle_file f = triangle_solids_ball(n, centre, 0.2, 0);
  triangle_surface s = surface_of(&f);
  shape *ball = NULL;
  message msg = {""};
  ck_assert_uint_eq(s.num_triangles, 8 * (size_t)n * (size_t)n);
  ck_assert_uint_eq(s.num_warnings, 0);
  ck_assert_double_eq_tol(s.volume, 4 * pi / 3 * 0.008, 1e-4 * 0.0335);
  must(shape_triangles(&ball, &s, "a.stl", &msg), &msg);
  uint64_t x = 99;
  for (int i = 0; i < 2000; i++) {
    double p[3], out = 0;
    for (int a = 0; a < 3; a++) {
      p[a] = random_between(&x, -0.3, 0.3);
      out += p[a] * p[a];
      p[a] += centre[a];
    }
    ck_assert_double_eq_tol(shape_distance(ball, p), sqrt(out) - 0.2, 1e-5);
  }
  shape_destroy(&ball);
  const size_t most = TRIANGLE_FILE_MOST, room = 32 + 8 * (most + 1);
  char *text = malloc(room), *at = text + snprintf(text, 32, "v 0 0 0\nv 1 0 0\nv 0 1 0\n");
  for (size_t i = 0; i < most + 1; i++, at += 8) memcpy(at, "f 1 2 3\n", 8);
  ck_assert_int_eq(triangle_file_read(&f, "a.obj", text, (size_t)(at - text), &msg), STATUS_BAD_INPUT);
  ck_assert_ptr_nonnull(strstr(msg.text, "10000000"));
  free(text);
}
END_TEST

/* Two printings of one number meet, also across a border of the lattice. */
START_TEST(points_that_differ_in_the_last_digits_are_one)
{
  uint64_t x = 42;
  for (int round = 0; round < 20; round++) {
    triangle_file f = triangle_solids_ball(5, (double[3]){random_between(&x, -3, 3), 0.1, random_between(&x, -3, 3)}, 1, 0.1);
    for (size_t i = 0; i < f.num_points; i++)
      for (int a = 0; a < 3; a++) f.points[i][a] += random_between(&x, -1e-8, 1e-8);
    message msg = {""};
    triangle_surface s;
    must(triangle_surface_create(&s, &f, "a.stl", &msg), &msg);
    ck_assert_uint_eq(s.num_points, 4 * 25 + 2);
    triangle_surface_release(&s);
  }
}
END_TEST

int main(void)
{
  Suite *s = suite_create("shape_triangles");
  TCase *c = tcase_create("shape_triangles");
  tcase_add_test(c, distance_and_sign_are_those_of_a_search_through_all);
  tcase_add_test(c, the_same_bits_for_any_number_of_threads);
  tcase_add_test(c, a_thin_plate_has_two_sides);
  tcase_add_test(c, a_fine_ball_is_a_sphere_out_of_every_kind_of_file);
  tcase_add_test(c, the_volume_below_a_level_is_exact);
  tcase_add_test(c, a_surface_is_placed_by_scale_turn_and_move);
  tcase_add_test(c, one_face_in_fifty_turned_round_is_turned_back);
  tcase_add_test(c, a_solid_inside_out_is_turned_over);
  tcase_add_test(c, holes_are_counted_and_placed);
  tcase_add_test(c, crowded_edges_and_one_sided_surfaces_are_refused);
  tcase_add_test(c, shells_within_shells);
  tcase_add_test(c, boxes_on_one_lattice_cross_or_touch);
  tcase_add_test(c, faces_that_cross_are_refused);
  tcase_add_test(c, triangles_without_area_are_dropped_or_joined);
  tcase_add_loop_test(c, seams_are_closed_where_nothing_is_open, 0, sizeof seams / sizeof *seams);
  tcase_add_test(c, a_solid_far_from_the_origin_of_its_file_keeps_its_shape);
  tcase_add_test(c, an_obj_cut_short_anywhere_is_refused_or_whole);
  tcase_add_test(c, slivers_and_sharp_edges_make_a_sound_solid);
  if (!getenv("LASTWATER_BRIEF")) /* the same code as with fewer triangles */
    tcase_add_test(c, a_very_large_file_is_a_solid_or_is_refused);
  tcase_add_test(c, points_that_differ_in_the_last_digits_are_one);
  suite_add_tcase(s, c);
  SRunner *r = srunner_create(s);
  srunner_run_all(r, CK_NORMAL);
  const int failed = srunner_ntests_failed(r);
  srunner_free(r);
  return failed != 0;
}
