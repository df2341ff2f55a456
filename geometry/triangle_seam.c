#include "geometry/triangle_seam.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define NONE UINT32_MAX
enum { MOST_LOOKS = 100000000, MOST_ON_EDGE = 64 };

static status no_memory(size_t bytes, message *msg)
{
  return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a surface of triangles; export a coarser one", bytes);
}

/* ---- twins ------------------------------------------------------------------------------------------- */

static void sorted(const uint32_t corner[3], uint32_t out[3])
{
  memcpy(out, corner, 3 * sizeof *out);
  for (int i = 0; i < 2; i++)
    for (int j = 0; j < 2 - i; j++)
      if (out[j] > out[j + 1]) {
        const uint32_t c = out[j];
        out[j] = out[j + 1];
        out[j + 1] = c;
      }
}

static size_t slot_of(const uint32_t c[3], size_t mask)
{
  uint64_t h = 0;
  for (int i = 0; i < 3; i++) {
    h = (h ^ c[i]) * 0x9E3779B97F4A7C15u; /* Knuth, TAOCP 3, 6.4: multiplicative hashing by the golden ratio */
    h ^= h >> 32;
  }
  return (size_t)h & mask;
}

status triangle_seam_drop_twins(triangle_surface *s, message *msg)
{
  size_t mask = 1024, kept = 0;
  while (mask < 2 * s->num_triangles) mask *= 2;
  uint32_t *slots = malloc(mask * sizeof *slots);
  if (!slots) return no_memory(mask * sizeof *slots, msg);
  memset(slots, 0xff, mask * sizeof *slots);
  mask--;
  for (size_t t = 0; t < s->num_triangles; t++) {
    uint32_t c[3], other[3];
    bool known = false;
    sorted(s->corners[t], c);
    size_t slot = slot_of(c, mask);
    for (; slots[slot] != NONE && !known; slot = (slot + 1) & mask) {
      sorted(s->corners[slots[slot]], other);
      known = memcmp(c, other, sizeof c) == 0;
    }
    if (known) continue;
    slots[slot] = (uint32_t)kept;
    memmove(s->corners[kept++], s->corners[t], sizeof *s->corners);
  }
  s->num_twins += s->num_triangles - kept;
  s->num_triangles = kept;
  free(slots);
  return STATUS_OK;
}

/* ---- flat triangles by themselves ----------------------------------------------------------------------- */

static double height_of(const triangle_surface *s, uint32_t t)
{
  double n[3], u[3], v[3], longest = 0;
  for (int e = 0; e < 3; e++) {
    const double *p = s->points[s->corners[t][e]], *q = s->points[s->corners[t][(e + 1) % 3]];
    double square = 0;
    for (int a = 0; a < 3; a++) {
      (e == 0 ? u : v)[a] = q[a] - p[a];
      square += (q[a] - p[a]) * (q[a] - p[a]);
    }
    longest = fmax(longest, square);
  }
  for (int a = 0; a < 3; a++) n[a] = u[(a + 1) % 3] * v[(a + 2) % 3] - u[(a + 2) % 3] * v[(a + 1) % 3];
  return longest > 0 ? sqrt((n[0] * n[0] + n[1] * n[1] + n[2] * n[2]) / longest) : 0;
}

static bool drop_flat(triangle_surface *s, double flat)
{
  size_t kept = 0;
  for (uint32_t t = 0; t < s->num_triangles; t++) {
    const uint32_t *a = s->across + 3 * (size_t)t;
    if (a[0] == NONE && a[1] == NONE && a[2] == NONE && height_of(s, t) < flat) continue;
    memmove(s->corners[kept++], s->corners[t], sizeof *s->corners);
  }
  const bool dropped = kept < s->num_triangles;
  s->num_dropped += s->num_triangles - kept;
  s->num_triangles = kept;
  return dropped;
}

/* ---- open edges ------------------------------------------------------------------------------------------ */

typedef struct {
  uint32_t root, half, from, to; /* root: the least point of all open edges that hang together */
} open_edge;

static uint32_t root_of(uint32_t *parent, uint32_t p)
{
  while (parent[p] != p) {
    parent[p] = parent[parent[p]];
    p = parent[p];
  }
  return p;
}

static int by_root(const void *a, const void *b)
{
  const open_edge *x = a, *y = b;
  if (x->root != y->root) return x->root < y->root ? -1 : 1;
  return x->half < y->half ? -1 : x->half > y->half;
}

/* Allocated; sorted by root. */
static open_edge *list_open(const triangle_surface *s, size_t *num)
{
  const uint32_t halves = (uint32_t)(3 * s->num_triangles);
  uint32_t *parent = malloc(s->num_points * sizeof *parent);
  *num = 0;
  for (uint32_t h = 0; h < halves; h++) *num += s->across[h] == NONE;
  open_edge *edges = malloc((*num + 1) * sizeof *edges);
  if (!parent || !edges) {
    free(parent);
    free(edges);
    return NULL;
  }
  for (uint32_t p = 0; p < s->num_points; p++) parent[p] = p;
  size_t n = 0;
  for (uint32_t h = 0; h < halves; h++) {
    if (s->across[h] != NONE) continue;
    const uint32_t *c = s->corners[h / 3];
    edges[n++] = (open_edge){.half = h, .from = c[h % 3], .to = c[(h + 1) % 3 == 0 ? 0 : h % 3 + 1]};
    const uint32_t a = root_of(parent, edges[n - 1].from), b = root_of(parent, edges[n - 1].to);
    parent[a > b ? a : b] = a > b ? b : a;
  }
  for (size_t i = 0; i < n; i++) edges[i].root = root_of(parent, edges[i].from);
  qsort(edges, n, sizeof *edges, by_root);
  free(parent);
  return edges;
}

typedef struct {
  uint32_t point;
  double along; /* of the edge, 0 to 1 */
} on_edge;

/* True when point m lies on the edge from p to q, clear of its ends. */
static bool lies_on(const double p[3], const double q[3], const double m[3], double flat, double *along)
{
  double pq = 0, pm = 0, off = 0;
  for (int a = 0; a < 3; a++) {
    pq += (q[a] - p[a]) * (q[a] - p[a]);
    pm += (q[a] - p[a]) * (m[a] - p[a]);
  }
  *along = pq > 0 ? pm / pq : 0;
  const double clear = flat / sqrt(pq);
  if (!(*along > clear && *along < 1 - clear)) return false;
  for (int a = 0; a < 3; a++) {
    const double x = m[a] - p[a] - *along * (q[a] - p[a]);
    off += x * x;
  }
  return off <= flat * flat;
}

/* Points of the other open edges that lie on edge e, each once, in order. */
static int find_on(const triangle_surface *s, const open_edge *e, const open_edge *group, size_t num, double flat, on_edge *found)
{
  int n = 0;
  for (size_t i = 0; i < num && n < MOST_ON_EDGE; i++) {
    double along;
    bool known = group[i].from == e->from || group[i].from == e->to;
    for (int k = 0; k < n; k++) known = known || found[k].point == group[i].from;
    if (known || !lies_on(s->points[e->from], s->points[e->to], s->points[group[i].from], flat, &along)) continue;
    int at = n++;
    for (; at > 0 && found[at - 1].along > along; at--) found[at] = found[at - 1];
    found[at] = (on_edge){group[i].from, along};
  }
  return n;
}

/* Triangle a, b, c becomes a fan about c over a, the points on its edge, b. */
static status divide(triangle_surface *s, uint32_t half, const on_edge *on, int num, size_t *room, message *msg)
{
  if (s->num_triangles + (size_t)num > *room) {
    const size_t more = *room + *room / 8 + 1024;
    uint32_t(*grown)[3] = realloc(s->corners, more * sizeof *grown);
    if (!grown) return no_memory(more * sizeof *grown, msg);
    s->corners = grown;
    *room = more;
  }
  const uint32_t t = half / 3, e = half % 3, b = s->corners[t][(e + 1) % 3], c = s->corners[t][(e + 2) % 3];
  s->corners[t][(e + 1) % 3] = on[0].point;
  for (int i = 0; i < num; i++)
    memcpy(s->corners[s->num_triangles++], (uint32_t[3]){on[i].point, i + 1 < num ? on[i + 1].point : b, c}, sizeof *s->corners);
  return STATUS_OK;
}

status triangle_seam_sew(triangle_surface *s, double flat, bool *changed, message *msg)
{
  size_t num, room = s->num_triangles, looks = 0;
  *changed = drop_flat(s, flat);
  if (*changed) return STATUS_OK;
  open_edge *edges = list_open(s, &num);
  if (!edges) return no_memory(s->num_points * 4 + num * sizeof *edges, msg);
  status code = STATUS_OK;
  for (size_t first = 0, end; code == STATUS_OK && first < num; first = end) {
    for (end = first; end < num && edges[end].root == edges[first].root;) end++;
    uint32_t last = NONE; /* of each triangle one edge at a time: those of a group come in the order of their triangles */
    for (size_t i = first; code == STATUS_OK && i < end && looks < MOST_LOOKS; i++) {
      on_edge on[MOST_ON_EDGE];
      if (edges[i].half / 3 == last) continue;
      const int n = find_on(s, &edges[i], edges + first, end - first, flat, on);
      looks += end - first;
      if (n == 0) continue;
      last = edges[i].half / 3;
      code = divide(s, edges[i].half, on, n, &room, msg);
      s->num_divided++;
      *changed = true;
    }
  }
  free(edges);
  return code;
}
