#include "geometry/triangle_surface.h"

#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/triangle_seam.h"

#define NONE UINT32_MAX
static const double PI = 3.14159265358979323846;
static const double LATTICE = 524288; /* steps in the width of all points: 2^19 */
static const double KNOWN = 8388608;  /* and never finer than this share of the largest coordinate: 2^23, as fine as a file's numbers may be */
static const double COARSE = 8192;    /* steps: a surface less wide than this has lost its details to the weld */
static const double NEEDLE = 4;       /* steps: a triangle less high is flat    */
static const double FLAT = 1;         /* steps: a shell that is on average less thick encloses nothing */

void triangle_surface_release(triangle_surface *s)
{
  free(s->points);
  free(s->corners);
  free(s->across);
  *s = (triangle_surface){0};
}

#if defined(__GNUC__)
__attribute__((format(printf, 2, 3)))
#endif
static void warn(triangle_surface *s, const char *format, ...)
{
  if (s->num_warnings == TRIANGLE_SURFACE_WARNINGS) return;
  va_list args;
  va_start(args, format);
  (void)vsnprintf(s->warnings[s->num_warnings++], TRIANGLE_SURFACE_WARNING, format, args);
  va_end(args);
}

static status no_memory(size_t bytes, message *msg)
{
  return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a surface of triangles; export a coarser one", bytes);
}

/* ---- small vectors ---------------------------------------------------------------------------------- */

static void between(const double from[3], const double to[3], double v[3])
{
  for (int a = 0; a < 3; a++) v[a] = to[a] - from[a];
}

static double dot(const double a[3], const double b[3])
{
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/* Twice the area, as a vector. */
static void area_vector(const double a[3], const double b[3], const double c[3], double n[3])
{
  double u[3], v[3];
  between(a, b, u);
  between(a, c, v);
  for (int i = 0; i < 3; i++) n[i] = u[(i + 1) % 3] * v[(i + 2) % 3] - u[(i + 2) % 3] * v[(i + 1) % 3];
}

static double length(const double v[3])
{
  return sqrt(dot(v, v));
}

static const double *corner(const triangle_surface *s, size_t t, int c)
{
  return s->points[s->corners[t][c]];
}

/* ---- welding ---------------------------------------------------------------------------------------- */

/* One point stands for each cell of the lattice. A point near the border of its cell also looks beyond it, so that two printings of
 * one number that fall on either side of a border still meet: points within an eighth of a step always do. */
typedef struct {
  double low[3], width, step;
  uint64_t *keys;   /* [mask + 1] cell + 1; 0: free */
  uint32_t *points; /* [mask + 1]                   */
  size_t mask;
} lattice;

static uint64_t scattered(uint64_t key)
{
  key ^= key >> 31;
  key *= 0x9E3779B97F4A7C15u; /* Knuth, TAOCP 3, 6.4: multiplicative hashing by the golden ratio */
  return key ^ key >> 29;
}

static size_t slot_of(const lattice *l, uint64_t key)
{
  size_t slot = (size_t)scattered(key) & l->mask;
  while (l->keys[slot] != 0 && l->keys[slot] != key) slot = (slot + 1) & l->mask;
  return slot;
}

static uint64_t key_of(const int64_t cell[3])
{
  return (((uint64_t)(cell[0] + 1) << 42) | ((uint64_t)(cell[1] + 1) << 21) | (uint64_t)(cell[2] + 1)) + 1;
}

/* The point that stands for p, or NONE; *free_slot is then where p belongs. */
static uint32_t find_point(const lattice *l, const double (*points)[3], const double p[3], size_t *free_slot)
{
  int64_t cell[3];
  int side[3];
  for (int a = 0; a < 3; a++) {
    const double x = (p[a] - l->low[a]) / l->step, whole = floor(x);
    cell[a] = (int64_t)whole;
    side[a] = x - whole < 0.125 ? -1 : x - whole > 0.875 ? 1 : 0;
  }
  *free_slot = slot_of(l, key_of(cell));
  if (l->keys[*free_slot] != 0) return l->points[*free_slot];
  for (int bits = 1; bits < 8; bits++) {
    int64_t beside[3];
    bool looked = false;
    for (int a = 0; a < 3; a++) {
      beside[a] = cell[a] + (bits >> a & 1 ? side[a] : 0);
      looked = looked || ((bits >> a & 1) && side[a] == 0);
    }
    if (looked) continue;
    const size_t slot = slot_of(l, key_of(beside));
    if (l->keys[slot] == 0) continue;
    const double *q = points[l->points[slot]];
    double way[3];
    between(p, q, way);
    if (length(way) <= l->step) return l->points[slot];
  }
  l->keys[*free_slot] = key_of(cell);
  return NONE;
}

static void lay_lattice(lattice *l, const triangle_file *f)
{
  double most = 0, high[3];
  for (int a = 0; a < 3; a++) {
    l->low[a] = INFINITY;
    high[a] = -INFINITY;
  }
  for (size_t i = 0; i < f->num_points; i++)
    for (int a = 0; a < 3; a++) {
      l->low[a] = fmin(l->low[a], f->points[i][a]);
      high[a] = fmax(high[a], f->points[i][a]);
      most = fmax(most, fabs(f->points[i][a]));
    }
  for (int a = 0; a < 3; a++) l->width = fmax(l->width, high[a] - l->low[a]);
  l->step = fmax(l->width / LATTICE, most / KNOWN);
  if (!(l->step > 0)) l->step = 1;
}

/* Moves the points over from the file, each once, and names them by their new numbers. Points no face uses go too: they are harmless. */
static status weld(triangle_surface *s, triangle_file *f, message *msg)
{
  lattice l = {.mask = 1024};
  while (l.mask < 2 * f->num_points) l.mask *= 2;
  l.keys = calloc(l.mask, sizeof *l.keys);
  l.points = malloc(l.mask * sizeof *l.points);
  uint32_t *stands = malloc((f->num_points + 1) * sizeof *stands);
  status code = STATUS_OK;
  if (!l.keys || !l.points || !stands) {
    code = no_memory(l.mask * 12 + f->num_points * 4, msg);
  } else {
    l.mask--;
    lay_lattice(&l, f);
    for (size_t i = 0; i < f->num_points; i++) { /* in place: a point never moves up */
      size_t slot;
      stands[i] = find_point(&l, (const double(*)[3])f->points, f->points[i], &slot);
      if (stands[i] != NONE) continue;
      stands[i] = l.points[slot] = (uint32_t)s->num_points;
      memmove(f->points[s->num_points++], f->points[i], sizeof *f->points);
    }
    for (size_t t = 0; t < f->num_triangles; t++)
      for (int c = 0; c < 3; c++) f->corners[t][c] = stands[f->corners[t][c]];
    s->num_welded = f->num_points - s->num_points;
    s->step = l.step;
    if (l.width < s->step * COARSE)
      warn(s, "it lies so far from the origin of its file that points less than %.3g apart, of a width of %.3g, count as one; move it to the origin "
              "in the drawing program", l.step, l.width);
    double(*less)[3] = realloc(f->points, s->num_points * sizeof *less);
    s->points = less ? less : f->points;
    s->corners = f->corners;
    s->num_triangles = f->num_triangles;
    *f = (triangle_file){0};
  }
  free(stands);
  free(l.points);
  free(l.keys);
  return code;
}

static status refuse_empty(const triangle_surface *s, const char *name, message *msg)
{
  return message_set(msg, STATUS_BAD_INPUT, "%.200s: all %zu triangles have no area; is the unit or the export wrong, or does the solid lie too far from "
                                            "the origin of its file?", name, s->num_dropped);
}

static status drop_collapsed(triangle_surface *s, const char *name, message *msg)
{
  size_t kept = 0, first = 0;
  for (size_t t = 0; t < s->num_triangles; t++) {
    const uint32_t *c = s->corners[t];
    if (c[0] == c[1] || c[1] == c[2] || c[2] == c[0]) {
      if (t == kept) first = t;
      continue;
    }
    memmove(s->corners[kept++], c, sizeof *s->corners);
  }
  s->num_dropped = s->num_triangles - kept;
  if (kept == 0) return refuse_empty(s, name, msg);
  if (s->num_dropped > 0)
    warn(s, "%zu triangle%s without area %s dropped, the first after triangle %zu", s->num_dropped, s->num_dropped == 1 ? "" : "s",
         s->num_dropped == 1 ? "was" : "were", first);
  s->num_triangles = kept;
  return STATUS_OK;
}

/* ---- edges ------------------------------------------------------------------------------------------ */

typedef struct {
  uint32_t high, half; /* the larger of the edge's points; 3 * triangle + edge */
} edge_end;

static void ends_of(const triangle_surface *s, uint32_t half, uint32_t *from, uint32_t *to)
{
  const uint32_t *c = s->corners[half / 3];
  *from = c[half % 3];
  *to = c[half % 3 == 2 ? 0 : half % 3 + 1];
}

static int by_high(const void *a, const void *b)
{
  const edge_end *x = a, *y = b;
  if (x->high != y->high) return x->high < y->high ? -1 : 1;
  return x->half < y->half ? -1 : x->half > y->half;
}

static void sort_ends(edge_end *ends, size_t num)
{
  if (num > 24) {
    qsort(ends, num, sizeof *ends, by_high);
    return;
  }
  for (size_t i = 1; i < num; i++) {
    const edge_end e = ends[i];
    size_t j = i;
    for (; j > 0 && by_high(&e, &ends[j - 1]) < 0; j--) ends[j] = ends[j - 1];
    ends[j] = e;
  }
}

typedef struct {
  size_t num_open, num_crowded; /* edges of one face, of more than two */
  uint32_t crowded;             /* half edge of the first of these      */
} edge_count;

/* The ends of one point's edges, sorted: neighbours are equal ones. */
static void pair_ends(triangle_surface *s, const edge_end *ends, size_t num, edge_count *count)
{
  for (size_t i = 0; i < num;) {
    size_t j = i + 1;
    while (j < num && ends[j].high == ends[i].high) j++;
    if (j - i == 2) {
      s->across[ends[i].half] = ends[i + 1].half;
      s->across[ends[i + 1].half] = ends[i].half;
    } else if (j - i == 1) {
      count->num_open++;
    } else if (count->num_crowded++ == 0) {
      count->crowded = ends[i].half;
    }
    i = j;
  }
}

/* Fills across (NONE where there is not exactly one neighbour). Every edge hangs on the smaller of its points. */
static status pair_edges(triangle_surface *s, edge_count *count, message *msg)
{
  const size_t num = 3 * s->num_triangles;
  *count = (edge_count){0};
  if (!s->across) s->across = malloc(num * sizeof(uint32_t));
  size_t *begin = calloc(s->num_points + 2, sizeof *begin);
  edge_end *ends = malloc(num * sizeof *ends);
  status code = STATUS_OK;
  if (!s->across || !begin || !ends) {
    code = no_memory(num * 12 + s->num_points * 8, msg);
  } else {
    memset(s->across, 0xff, num * sizeof(uint32_t));
    for (int pass = 0; pass < 2; pass++) {
      for (uint32_t half = 0; half < num; half++) {
        uint32_t from, to;
        ends_of(s, half, &from, &to);
        const uint32_t low = from < to ? from : to, high = from < to ? to : from;
        if (pass == 0) begin[low + 2]++;
        else ends[begin[low + 1]++] = (edge_end){high, half};
      }
      for (size_t p = 2; pass == 0 && p < s->num_points + 2; p++) begin[p] += begin[p - 1];
    }
    for (size_t p = 0; p < s->num_points; p++) {
      sort_ends(ends + begin[p], begin[p + 1] - begin[p]);
      pair_ends(s, ends + begin[p], begin[p + 1] - begin[p], count);
    }
  }
  free(ends);
  free(begin);
  return code;
}

/* ---- holes ------------------------------------------------------------------------------------------ */

static uint32_t root_of(uint32_t *parent, uint32_t p)
{
  while (parent[p] != p) {
    parent[p] = parent[parent[p]];
    p = parent[p];
  }
  return p;
}

typedef struct {
  size_t num, largest; /* holes; edges of the largest */
  double place[3];     /* its middle                  */
} hole_count;

/* Open edges that hang together are one hole. */
static status count_holes(const triangle_surface *s, hole_count *h, message *msg)
{
  const uint32_t num = (uint32_t)(3 * s->num_triangles);
  uint32_t *parent = malloc(s->num_points * sizeof *parent), *edges = calloc(s->num_points, sizeof *edges), from, to, most = 0;
  *h = (hole_count){0};
  if (!parent || !edges) {
    free(parent);
    free(edges);
    return no_memory(s->num_points * 8, msg);
  }
  for (uint32_t p = 0; p < s->num_points; p++) parent[p] = p;
  for (uint32_t half = 0; half < num; half++)
    if (s->across[half] == NONE) {
      ends_of(s, half, &from, &to);
      parent[root_of(parent, from)] = root_of(parent, to);
    }
  for (uint32_t half = 0; half < num; half++)
    if (s->across[half] == NONE) {
      ends_of(s, half, &from, &to);
      const uint32_t root = root_of(parent, from);
      h->num += edges[root]++ == 0;
      if (edges[root] > h->largest) {
        h->largest = edges[root];
        most = root;
      }
    }
  for (uint32_t half = 0; half < num; half++)
    if (s->across[half] == NONE) {
      ends_of(s, half, &from, &to);
      for (int a = 0; a < 3 && root_of(parent, from) == most; a++)
        h->place[a] += 0.5 * (s->points[from][a] + s->points[to][a]) / (double)h->largest;
    }
  free(parent);
  free(edges);
  return STATUS_OK;
}

static status refuse_open(const triangle_surface *s, const edge_count *count, const char *name, message *msg)
{
  if (count->num_crowded > 0) {
    uint32_t from, to;
    ends_of(s, count->crowded, &from, &to);
    const double *p = s->points[from], *q = s->points[to];
    return message_set(msg, STATUS_BAD_INPUT,
                       "%.200s: %zu edge%s shared by more than two faces, the first at x %.6g, y %.6g, z %.6g in the file's unit (%zu edges "
                       "belong to one face only): a face given twice, an inner wall, or solids that touch along an edge; join them into one "
                       "solid and export again", name, count->num_crowded, count->num_crowded == 1 ? " is" : "s are", 0.5 * (p[0] + q[0]),
                       0.5 * (p[1] + q[1]), 0.5 * (p[2] + q[2]), count->num_open);
  }
  hole_count h;
  const status code = count_holes(s, &h, msg);
  if (code != STATUS_OK) return code;
  return message_set(msg, STATUS_BAD_INPUT,
                     "%.200s: the surface leaks: %zu hole%s, %zu open edges; the largest, of %zu edges, round x %.6g, y %.6g, z %.6g in the "
                     "file's unit; close %s in the drawing program and export again", name, h.num, h.num == 1 ? "" : "s", count->num_open,
                     h.largest, h.place[0], h.place[1], h.place[2], h.num == 1 ? "it" : "them");
}

/* ---- shells and their turning ----------------------------------------------------------------------- */

typedef struct {
  uint32_t *shell; /* [num_triangles] */
  uint32_t *stack; /* [num_triangles] */
  bool *turned;    /* [num_triangles] against the first of its shell */
  size_t num_shells;
} shells;

static void release_shells(shells *g)
{
  free(g->shell);
  free(g->stack);
  free(g->turned);
}

static bool same_way(const triangle_surface *s, uint32_t half, uint32_t other)
{
  uint32_t from, to, from_other, to_other;
  ends_of(s, half, &from, &to);
  ends_of(s, other, &from_other, &to_other);
  return from == from_other;
}

/* All that hangs on triangle `first`. Returns the half edge where the surface meets itself turned over, or NONE. *num and *num_turned:
 * triangles of the shell. */
static uint32_t follow_shell(const triangle_surface *s, shells *g, uint32_t first, size_t *num, size_t *num_turned)
{
  size_t waiting = 0;
  uint32_t torn = NONE;
  g->shell[first] = (uint32_t)g->num_shells;
  g->stack[waiting++] = first;
  *num = *num_turned = 0;
  while (waiting > 0) {
    const uint32_t t = g->stack[--waiting];
    ++*num;
    *num_turned += g->turned[t];
    for (uint32_t half = 3 * t; half < 3 * t + 3; half++) {
      const uint32_t other = s->across[half], u = other / 3;
      const bool turned = g->turned[t] != same_way(s, half, other);
      if (g->shell[u] == NONE) {
        g->shell[u] = g->shell[t];
        g->turned[u] = turned;
        g->stack[waiting++] = u;
      } else if (g->turned[u] != turned) {
        torn = half;
      }
    }
  }
  return torn;
}

/* Turns the triangles of a shell that are (or, where these are more, are not) marked. */
static void turn_marked(triangle_surface *s, const shells *g, uint32_t shell, bool mark, uint32_t *first)
{
  for (uint32_t t = 0; t < s->num_triangles; t++)
    if (g->shell[t] == shell && g->turned[t] == mark) {
      const uint32_t c = s->corners[t][1];
      s->corners[t][1] = s->corners[t][2];
      s->corners[t][2] = c;
      if (s->num_turned++ == 0) *first = t;
    }
}

static status turn_alike(triangle_surface *s, shells *g, const char *name, message *msg)
{
  edge_count count;
  uint32_t first = 0;
  for (uint32_t t = 0; t < s->num_triangles; t++) {
    if (g->shell[t] != NONE) continue;
    size_t num, num_turned;
    const uint32_t torn = follow_shell(s, g, t, &num, &num_turned);
    if (torn != NONE) {
      const double *p = corner(s, torn / 3, (int)(torn % 3));
      return message_set(msg, STATUS_BAD_INPUT, "%.200s: the surface has one side only, as a strip that is glued half turned: no inside can be "
                                                "told, at x %.6g, y %.6g, z %.6g in the file's unit; draw it again as a solid", name, p[0], p[1],
                         p[2]);
    }
    if (num_turned > 0) turn_marked(s, g, (uint32_t)g->num_shells, 2 * num_turned <= num, &first);
    g->num_shells++;
  }
  if (s->num_turned == 0) return STATUS_OK;
  const double *p = corner(s, first, 0);
  warn(s, "%zu triangle%s neighbours; turned round, the first at x %.6g, y %.6g, z %.6g in the file's unit", s->num_turned,
       s->num_turned == 1 ? " was turned against its" : "s were turned against their", p[0], p[1], p[2]);
  return pair_edges(s, &count, msg);
}

/* ---- needles ---------------------------------------------------------------------------------------- */

static double height_of(const double a[3], const double b[3], const double c[3], int *longest, double *base)
{
  const double *p[3] = {a, b, c};
  double n[3], most = 0;
  for (int e = 0; e < 3; e++) {
    double v[3];
    between(p[e], p[(e + 1) % 3], v);
    if (length(v) > most) {
      most = length(v);
      *longest = e;
    }
  }
  area_vector(a, b, c, n);
  *base = most;
  return most > 0 ? length(n) / most : 0;
}

/* True when an edge joins the points b and d already: seen by walking round b, the first corner of half edge `from`. */
static bool are_joined(const triangle_surface *s, uint32_t from, uint32_t d)
{
  uint32_t half = from;
  for (size_t steps = 0; steps < 4096; steps++) {
    const uint32_t t = half / 3, e = half % 3;
    if (s->corners[t][(e + 1) % 3] == d || s->corners[t][(e + 2) % 3] == d) return true;
    half = s->across[3 * t + (e + 2) % 3]; /* the edge that ends in b, seen from beyond: it begins in b */
    if (half == from) return false;
  }
  return true; /* too crowded to tell: left alone */
}

static void join(triangle_surface *s, uint32_t half, uint32_t other)
{
  s->across[half] = other;
  s->across[other] = half;
}

/* Needle t, of longest edge e from a to c with b beside it, and its neighbour a, d, c become (b, a, d) and (c, b, d). */
static bool mend_needle(triangle_surface *s, uint32_t t, int e)
{
  const uint32_t half = s->across[3 * t + e], u = half / 3, f = half % 3;
  const uint32_t a = s->corners[t][e], c = s->corners[t][(e + 1) % 3], b = s->corners[t][(e + 2) % 3], d = s->corners[u][(f + 2) % 3];
  const uint32_t cb = s->across[3 * t + (e + 1) % 3], ba = s->across[3 * t + (e + 2) % 3];
  const uint32_t ad = s->across[3 * u + (f + 1) % 3], dc = s->across[3 * u + (f + 2) % 3];
  double base;
  int longest = 0;
  if (u == t || d == b || are_joined(s, 3 * t + (uint32_t)(e + 2) % 3, d)) return false;
  const double least = NEEDLE * s->step;
  if (height_of(s->points[b], s->points[a], s->points[d], &longest, &base) < least ||
      height_of(s->points[c], s->points[b], s->points[d], &longest, &base) < least)
    return false;
  memcpy(s->corners[t], (uint32_t[3]){b, a, d}, sizeof *s->corners);
  memcpy(s->corners[u], (uint32_t[3]){c, b, d}, sizeof *s->corners);
  join(s, 3 * t, ba);
  join(s, 3 * t + 1, ad);
  join(s, 3 * t + 2, 3 * u + 1);
  join(s, 3 * u, cb);
  join(s, 3 * u + 2, dc);
  return true;
}

/* A flat triangle has no normal to tell inside from outside by; its long edge is given to the triangle beyond. Chains of needles are
 * undone from their ends. What cannot be joined stays: it hurts only places within the weld. */
static void mend_needles(triangle_surface *s)
{
  for (int pass = 0; pass < 16; pass++) {
    size_t mended = 0;
    for (uint32_t t = 0; t < s->num_triangles; t++) {
      int longest = 0;
      double base;
      const double height = height_of(corner(s, t, 0), corner(s, t, 1), corner(s, t, 2), &longest, &base);
      if (height < NEEDLE * s->step && base > 4 * NEEDLE * s->step) mended += mend_needle(s, t, longest);
    }
    s->num_needles += mended;
    if (mended == 0) break;
  }
  if (s->num_needles > 0)
    warn(s, s->num_needles == 1 ? "%zu triangle without area lay along an edge; it was joined with the triangle beyond it"
                                : "%zu triangles without area lay along an edge; each was joined with the triangle beyond it", s->num_needles);
}

/* ---- inside out ------------------------------------------------------------------------------------- */

typedef struct {
  double volume, area, low[3], high[3];
  uint32_t first;   /* a triangle           */
  uint32_t depth;   /* shells that hold it  */
  uint32_t outside; /* the outermost of these, or itself */
} shell_facts;

static void measure_shells(const triangle_surface *s, const shells *g, shell_facts *facts)
{
  for (size_t i = 0; i < g->num_shells; i++) {
    facts[i] = (shell_facts){.first = NONE, .outside = (uint32_t)i};
    for (int a = 0; a < 3; a++) {
      facts[i].low[a] = INFINITY;
      facts[i].high[a] = -INFINITY;
    }
  }
  for (uint32_t t = 0; t < s->num_triangles; t++) {
    shell_facts *f = &facts[g->shell[t]];
    if (f->first == NONE) f->first = t;
    double n[3], way[3];
    area_vector(corner(s, t, 0), corner(s, t, 1), corner(s, t, 2), n);
    between(corner(s, f->first, 0), corner(s, t, 0), way); /* about a point of the shell itself: nothing large cancels */
    f->volume += dot(n, way) / 6;
    f->area += 0.5 * length(n);
    for (int c = 0; c < 3; c++)
      for (int a = 0; a < 3; a++) {
        f->low[a] = fmin(f->low[a], corner(s, t, c)[a]);
        f->high[a] = fmax(f->high[a], corner(s, t, c)[a]);
      }
  }
}

/* How often a shell goes round p: its solid angle over 4 pi (Van Oosterom & Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125). */
static double times_round(const triangle_surface *s, const shells *g, uint32_t shell, const double p[3])
{
  double sum = 0;
  for (uint32_t t = 0; t < s->num_triangles; t++) {
    if (g->shell[t] != shell) continue;
    double r[3][3], l[3], n[3];
    for (int c = 0; c < 3; c++) {
      between(p, corner(s, t, c), r[c]);
      l[c] = length(r[c]);
    }
    area_vector((double[3]){0, 0, 0}, r[0], r[1], n);
    sum += 2 * atan2(dot(n, r[2]), l[0] * l[1] * l[2] + dot(r[0], r[1]) * l[2] + dot(r[1], r[2]) * l[0] + dot(r[2], r[0]) * l[1]);
  }
  return sum / (4 * PI);
}

static bool boxes_nest(const shell_facts *in, const shell_facts *out)
{
  for (int a = 0; a < 3; a++)
    if (in->low[a] < out->low[a] || in->high[a] > out->high[a]) return false;
  return true;
}

static void find_depths(const triangle_surface *s, const shells *g, shell_facts *facts)
{
  for (size_t i = 0; i < g->num_shells; i++) {
    double widest = 0;
    for (size_t j = 0; j < g->num_shells; j++) {
      if (i == j || !boxes_nest(&facts[i], &facts[j])) continue;
      if (fabs(times_round(s, g, (uint32_t)j, corner(s, facts[i].first, 0))) < 0.5) continue;
      facts[i].depth++;
      if (fabs(facts[j].volume) > widest) {
        widest = fabs(facts[j].volume);
        facts[i].outside = (uint32_t)j;
      }
    }
  }
}

static bool boxes_overlap(const shell_facts *a, const shell_facts *b, double by)
{
  for (int k = 0; k < 3; k++)
    if (a->low[k] + by > b->high[k] || b->low[k] + by > a->high[k]) return false;
  return true;
}

/* Shells of few faces that overlap in such a way that no edge of one goes through a face of the other, as two boxes of one section pushed into
 * each other: some faces of one lie within the other, some without (of each the middle). Finds a place; *budget: faces looked at at most. */
static bool shells_overlap(const triangle_surface *s, const shells *g, const shell_facts *facts, size_t i, size_t j, size_t *budget, double place[3])
{
  size_t in = 0, out = 0;
  if (i == j || !boxes_overlap(&facts[i], &facts[j], NEEDLE * s->step)) return false;
  for (uint32_t t = 0; t < s->num_triangles && *budget >= s->num_triangles; t++) {
    if (g->shell[t] != i) continue;
    double middle[3];
    for (int a = 0; a < 3; a++) middle[a] = (corner(s, t, 0)[a] + corner(s, t, 1)[a] + corner(s, t, 2)[a]) / 3;
    const double round = fabs(times_round(s, g, (uint32_t)j, middle));
    *budget -= s->num_triangles;
    if (round > 0.75 && in++ == 0) memcpy(place, middle, sizeof middle);
    out += round < 0.25;
  }
  return in > 0 && out > 0;
}

static bool is_turned_over(const shell_facts *f)
{
  return (f->volume < 0) != (f->depth % 2 == 1);
}

static status check_overlaps(const triangle_surface *s, const shells *g, const shell_facts *facts, const char *name, message *msg)
{
  size_t budget = 20000000;
  double p[3] = {0, 0, 0};
  for (size_t i = 0; i < g->num_shells; i++)
    for (size_t j = 0; j < g->num_shells; j++)
      if (shells_overlap(s, g, facts, i, j, &budget, p))
        return message_set(msg, STATUS_BAD_INPUT, "%.200s: the surface runs through itself: of two of its shells one lies partly within the other, "
                                                  "at x %.6g, y %.6g, z %.6g in the file's unit; join the solids in the drawing program (union) and "
                                                  "export again", name, p[0], p[1], p[2]);
  return STATUS_OK;
}

static status check_shells(const triangle_surface *s, const shells *g, const shell_facts *facts, const char *name, message *msg)
{
  for (size_t i = 0; i < g->num_shells; i++) {
    const double *p = corner(s, facts[i].first, 0);
    if (!(fabs(facts[i].volume) > FLAT * s->step * facts[i].area))
      return message_set(msg, STATUS_BAD_INPUT, "%.200s: a shell at x %.6g, y %.6g, z %.6g in the file's unit encloses nothing; give the wall a "
                                                "thickness in the drawing program, or remove it", name, p[0], p[1], p[2]);
    if (is_turned_over(&facts[i]) != is_turned_over(&facts[facts[i].outside]))
      return message_set(msg, STATUS_BAD_INPUT, "%.200s: a shell at x %.6g, y %.6g, z %.6g in the file's unit lies within another and is turned "
                                                "like it: filled or hollow? For a hollow turn its faces inward, for a filled one remove it", name,
                         p[0], p[1], p[2]);
  }
  return STATUS_OK;
}

static status turn_over(triangle_surface *s, const shells *g, const shell_facts *facts, message *msg)
{
  edge_count count;
  for (size_t i = 0; i < g->num_shells; i++) s->num_turned_over += is_turned_over(&facts[i]);
  for (size_t i = 0; i < g->num_shells; i++) {
    s->volume += is_turned_over(&facts[i]) ? -facts[i].volume : facts[i].volume;
    s->area += facts[i].area;
  }
  if (s->num_turned_over == 0) return STATUS_OK;
  for (uint32_t t = 0; t < s->num_triangles; t++)
    if (is_turned_over(&facts[g->shell[t]])) {
      const uint32_t c = s->corners[t][1];
      s->corners[t][1] = s->corners[t][2];
      s->corners[t][2] = c;
    }
  if (g->num_shells == 1) warn(s, "the solid was inside out (signed volume below zero) and was turned over");
  else warn(s, "%zu of %zu shells were inside out and were turned over", s->num_turned_over, g->num_shells);
  return pair_edges(s, &count, msg);
}

static status judge_shells(triangle_surface *s, const shells *g, const char *name, message *msg)
{
  enum { MOST_SHELLS = 1000 };
  if (g->num_shells > MOST_SHELLS)
    return message_set(msg, STATUS_BAD_INPUT, "%.200s: %zu separate shells, more than %d; join them in the drawing program", name,
                       g->num_shells, MOST_SHELLS);
  shell_facts *facts = malloc(g->num_shells * sizeof *facts);
  if (!facts) return no_memory(g->num_shells * sizeof *facts, msg);
  measure_shells(s, g, facts);
  find_depths(s, g, facts);
  status code = check_overlaps(s, g, facts, name, msg);
  if (code == STATUS_OK) code = check_shells(s, g, facts, name, msg);
  if (code == STATUS_OK) code = turn_over(s, g, facts, msg);
  s->num_shells = g->num_shells;
  free(facts);
  return code;
}

/* ---- the whole --------------------------------------------------------------------------------------- */

/* Pairs the edges; where some do not pair, what can be mended without a doubt is. */
static status pair_and_sew(triangle_surface *s, edge_count *count, const char *name, message *msg)
{
  status code = pair_edges(s, count, msg);
  if (code == STATUS_OK && count->num_crowded > 0) {
    code = triangle_seam_drop_twins(s, msg);
    if (code == STATUS_OK && s->num_twins > 0) {
      warn(s, "%zu triangles were given twice; one of each was dropped", s->num_twins);
      code = pair_edges(s, count, msg);
    }
  }
  bool changed = true;
  const size_t dropped = s->num_dropped;
  for (int pass = 0; code == STATUS_OK && changed && pass < 16 && count->num_open + count->num_crowded > 0; pass++) {
    code = triangle_seam_sew(s, NEEDLE * s->step, &changed, msg);
    free(s->across); /* there may be more of them now */
    s->across = NULL;
    if (code == STATUS_OK) code = s->num_triangles > 0 ? pair_edges(s, count, msg) : refuse_empty(s, name, msg);
  }
  if (s->num_dropped > dropped)
    warn(s, s->num_dropped - dropped == 1 ? "%zu triangle without area hung on no other and was dropped"
                                          : "%zu triangles without area hung on no other and were dropped", s->num_dropped - dropped);
  if (s->num_divided > 0)
    warn(s, s->num_divided == 1 ? "%zu face ran past a point of the faces beyond it and was divided there" : "%zu faces ran past a point of the faces beyond them and were divided there",
         s->num_divided);
  return code;
}

static status judge(triangle_surface *s, const char *name, message *msg)
{
  edge_count count;
  status code = pair_and_sew(s, &count, name, msg);
  if (code == STATUS_OK && count.num_open + count.num_crowded > 0) code = refuse_open(s, &count, name, msg);
  if (code != STATUS_OK) return code;
  const size_t num = s->num_triangles;
  shells g = {.shell = malloc(num * sizeof *g.shell), .stack = malloc(num * sizeof *g.stack), .turned = calloc(num, sizeof *g.turned)};
  if (!g.shell || !g.stack || !g.turned) {
    code = no_memory(num * 9, msg);
  } else {
    memset(g.shell, 0xff, num * sizeof *g.shell);
    code = turn_alike(s, &g, name, msg);
    if (code == STATUS_OK) mend_needles(s);
    if (code == STATUS_OK) code = judge_shells(s, &g, name, msg);
  }
  release_shells(&g);
  return code;
}

status triangle_surface_create(triangle_surface *out, triangle_file *file, const char *name, message *msg)
{
  *out = (triangle_surface){0};
  status code = weld(out, file, msg);
  triangle_file_release(file);
  if (code == STATUS_OK) code = drop_collapsed(out, name, msg);
  if (code == STATUS_OK) code = judge(out, name, msg);
  if (code != STATUS_OK) triangle_surface_release(out);
  return code;
}

double triangle_surface_below(const double h[3], double S)
{
  int num_above = 0, odd = 0;
  for (int c = 0; c < 3; c++) num_above += h[c] > 0;
  if (num_above == 3) return 0;
  const double whole = S * (h[0] + h[1] + h[2]) / 3;
  if (num_above == 0) return whole;
  for (int c = 0; c < 3; c++)
    if ((h[c] > 0) == (num_above == 1)) odd = c; /* alone on its side */
  const double x = h[odd], y = h[(odd + 1) % 3], z = h[(odd + 2) % 3];
  const double tip = S * (x / (x - y)) * (x / (x - z)) * x / 3;
  return num_above == 2 ? tip : whole - tip;
}

void triangle_surface_place(triangle_surface *s, double unit, const shape_placed_frame *frame)
{
  const double scale = unit * frame->scale;
  for (size_t i = 0; i < s->num_points; i++) {
    double *p = s->points[i];
    const double metres[3] = {unit * p[0], unit * p[1], unit * p[2]};
    shape_placed_point(frame, metres, p);
  }
  s->step *= scale;
  s->area *= scale * scale;
  s->volume *= scale * scale * scale;
}
