#include "triangle_solids.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

static void *must(void *p)
{
  if (!p) abort();
  return p;
}

static triangle_file empty(size_t num_points, size_t num_triangles)
{
  triangle_file f = {.num_points = 0, .room_points = num_points, .room_triangles = num_triangles};
  f.points = must(malloc(num_points * sizeof *f.points));
  f.corners = must(malloc(num_triangles * sizeof *f.corners));
  return f;
}

/* Between -1 and 1, the same for the same place. */
static double noise(const double p[3])
{
  uint64_t h = 1469598103934665603u;
  for (int a = 0; a < 3; a++) h = (h ^ (uint64_t)(int64_t)lround(1e6 * p[a])) * 1099511628211u;
  h ^= h >> 29;
  h *= 0xBF58476D1CE4E5B9u;
  return (double)(h >> 40) / (double)(1 << 23) - 1;
}

static void put_ball_point(triangle_file *f, const double p[3], const double centre[3], double radius, double spikes)
{
  const double size = sqrt(p[0] * p[0] + p[1] * p[1] + p[2] * p[2]);
  const double n[3] = {p[0] / size, p[1] / size, p[2] / size}, r = radius * (1 + spikes * noise(n));
  for (int a = 0; a < 3; a++) f->points[f->num_points][a] = centre[a] + r * n[a];
  f->num_points++;
}

triangle_file triangle_solids_ball(int n, const double centre[3], double radius, double spikes)
{
  triangle_file f = empty(24 * (size_t)(n * n), 8 * (size_t)(n * n));
  for (int face = 0; face < 8; face++) {
    const double x = face & 1 ? -1 : 1, y = face & 2 ? -1 : 1, z = face & 4 ? -1 : 1;
    for (int i = 0; i < n; i++)
      for (int j = 0; j < n - i; j++)
        for (int half = 0; half < (i + j < n - 1 ? 2 : 1); half++) {
          const int ij[2][3][2] = {{{i, j}, {i + 1, j}, {i, j + 1}}, {{i + 1, j}, {i + 1, j + 1}, {i, j + 1}}};
          const uint32_t first = (uint32_t)f.num_points;
          for (int c = 0; c < 3; c++) {
            const double u = ij[half][c][0], v = ij[half][c][1];
            put_ball_point(&f, (double[3]){x * (n - u - v), y * u, z * v}, centre, radius, spikes);
          }
          const int outward = x * y * z > 0; /* a mirrored face runs the other way round */
          memcpy(f.corners[f.num_triangles++], outward ? (uint32_t[3]){first, first + 1, first + 2} : (uint32_t[3]){first, first + 2, first + 1},
                 sizeof *f.corners);
        }
  }
  return f;
}

triangle_file triangle_solids_box(const double low[3], const double high[3])
{
  static const uint32_t corners[12][3] = {{0, 2, 1}, {1, 2, 3}, {4, 5, 6}, {5, 7, 6}, {0, 1, 4}, {1, 5, 4},
                                          {2, 6, 3}, {3, 6, 7}, {0, 4, 2}, {2, 4, 6}, {1, 3, 5}, {3, 7, 5}};
  triangle_file f = empty(8, 12);
  for (int i = 0; i < 8; i++)
    for (int a = 0; a < 3; a++) f.points[i][a] = i >> a & 1 ? high[a] : low[a];
  memcpy(f.corners, corners, sizeof corners);
  f.num_points = 8;
  f.num_triangles = 12;
  return f;
}

void triangle_solids_append(triangle_file *a, triangle_file *b)
{
  a->points = must(realloc(a->points, (a->num_points + b->num_points) * sizeof *a->points));
  a->corners = must(realloc(a->corners, (a->num_triangles + b->num_triangles) * sizeof *a->corners));
  memcpy(a->points + a->num_points, b->points, b->num_points * sizeof *a->points);
  for (size_t t = 0; t < b->num_triangles; t++)
    for (int c = 0; c < 3; c++) a->corners[a->num_triangles + t][c] = b->corners[t][c] + (uint32_t)a->num_points;
  a->num_points += b->num_points;
  a->num_triangles += b->num_triangles;
  triangle_file_release(b);
}

void triangle_solids_turn_over(triangle_file *f, size_t first, size_t every)
{
  for (size_t t = first; t < f->num_triangles; t += every) {
    const uint32_t c = f->corners[t][1];
    f->corners[t][1] = f->corners[t][2];
    f->corners[t][2] = c;
  }
}

void triangle_solids_leave_out(triangle_file *f, size_t triangle)
{
  memmove(f->corners + triangle, f->corners + triangle + 1, (--f->num_triangles - triangle) * sizeof *f->corners);
}

double triangle_solids_volume(const triangle_file *f)
{
  double six = 0;
  for (size_t t = 0; t < f->num_triangles; t++) {
    const double *a = f->points[f->corners[t][0]], *b = f->points[f->corners[t][1]], *c = f->points[f->corners[t][2]];
    six += a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) + a[2] * (b[0] * c[1] - b[1] * c[0]);
  }
  return six / 6;
}

/* ---- files ------------------------------------------------------------------------------------------- */

static void put_word(unsigned char *p, uint32_t word)
{
  for (int i = 0; i < 4; i++) p[i] = (unsigned char)(word >> 8 * i);
}

char *triangle_solids_stl(const triangle_file *f, size_t *num_bytes)
{
  *num_bytes = 84 + 50 * f->num_triangles;
  unsigned char *bytes = must(calloc(*num_bytes, 1));
  memcpy(bytes, "solid in name only", 18); /* as some programs write: still binary */
  put_word(bytes + 80, (uint32_t)f->num_triangles);
  for (size_t t = 0; t < f->num_triangles; t++)
    for (int c = 0; c < 3; c++)
      for (int a = 0; a < 3; a++) {
        const float x = (float)f->points[f->corners[t][c]][a];
        uint32_t word;
        memcpy(&word, &x, sizeof word);
        put_word(bytes + 84 + 50 * t + 12 + 12 * c + 4 * a, word);
      }
  return (char *)bytes;
}

typedef struct {
  char *bytes;
  size_t num, room;
} text;

static void say(text *t, const char *format, ...)
{
  if (t->room < t->num + 256) t->bytes = must(realloc(t->bytes, t->room = 2 * t->room + 4096));
  va_list args;
  va_start(args, format);
  t->num += (size_t)vsnprintf(t->bytes + t->num, 256, format, args);
  va_end(args);
}

char *triangle_solids_stl_text(const triangle_file *f, size_t *num_bytes)
{
  text t = {0};
  say(&t, "solid a test\n");
  for (size_t i = 0; i < f->num_triangles; i++) {
    say(&t, "facet normal 0 0 0\n outer loop\n");
    for (int c = 0; c < 3; c++) {
      const double *p = f->points[f->corners[i][c]];
      say(&t, "  vertex %.7e %.7e %.7e\n", p[0], p[1], p[2]);
    }
    say(&t, " endloop\nendfacet\n");
  }
  say(&t, "endsolid a test\n");
  *num_bytes = t.num;
  return t.bytes;
}

char *triangle_solids_obj(const triangle_file *f, size_t *num_bytes)
{
  text t = {0};
  say(&t, "# a test\no thing\n");
  for (size_t i = 0; i < f->num_points; i++) say(&t, "v %.9g %.9g %.9g\n", f->points[i][0], f->points[i][1], f->points[i][2]);
  for (size_t i = 0; i < f->num_triangles; i++) {
    const uint32_t *c = f->corners[i];
    if (i % 2) say(&t, "f %u//1 %u//1 %u//1\n", c[0] + 1, c[1] + 1, c[2] + 1);
    else
      say(&t, "f %ld/1/1 %u/1/1 %u\n", (long)c[0] - (long)f->num_points, c[1] + 1, c[2] + 1);
  }
  *num_bytes = t.num;
  return t.bytes;
}
