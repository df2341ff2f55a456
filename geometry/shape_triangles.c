#include "geometry/shape_triangles.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "geometry/shape_class.h"
#include "geometry/triangle_crossing.h"
#include "geometry/triangle_tree.h"

/* Answers given lately. A wall is made of the hollow twice (grown, less itself) and neighbouring cells share corners: the same place is
 * asked for many times in a row, for its distance and for the way there. A slot is written by whoever finds it free (count even), and an
 * answer counts only when the count is the same before and after it was read: any number of threads may ask, and each gets the very bits
 * that a search would give
 * (sequence lock: Boehm, "Can seqlocks get along with programming language memory models?", MSPC 2012). */
enum { SLOTS = 1 << 13 };

typedef struct {
  atomic_uint count;
  _Atomic uint64_t word[4]; /* the bits of x, y, z, and the nearest facet */
} slot;

/* A triangle as the search wants it: corner a, edges u = b - a and v = c - a, and their products. */
typedef struct {
  double a[3], u[3], v[3], uu, uv, vv;
} facet;

typedef struct {
  shape_shared shared;        /* first: the shape knows the store by it                          */
  triangle_tree tree;
  facet *facets;              /* [num] in the order of the tree's leaves                          */
  float (*edge_normals)[3][3]; /* [num] in that order: of the edges a-b, b-c, c-a; not of unit length */
  uint32_t (*corners)[3];     /* [num] in that order                                             */
  double (*points)[3];        /* [num_points]                                                    */
  float (*point_normals)[3];  /* [num_points] not of unit length                                 */
  slot *slots;                /* [SLOTS] */
  size_t num, num_points;
  double low[3], high[3];
} store;

static void release_store(shape_shared *shared)
{
  store *t = (store *)shared;
  triangle_tree_release(&t->tree);
  free(t->facets);
  free(t->edge_normals);
  free(t->corners);
  free(t->points);
  free(t->point_normals);
  free(t->slots);
  free(t);
}

/* ---- the closest point ------------------------------------------------------------------------------ */

typedef enum { AT_A, AT_B, AT_C, ON_AB, ON_BC, ON_CA, ON_FACE } feature;

/* s, t: the closest point is a + s u + t v. Which of the seven regions p lies over: Ericson 5.1.5. */
static inline feature closest(const facet *f, const double p[3], double *s, double *t)
{
  const double x = p[0] - f->a[0], y = p[1] - f->a[1], z = p[2] - f->a[2];
  const double d1 = f->u[0] * x + f->u[1] * y + f->u[2] * z, d2 = f->v[0] * x + f->v[1] * y + f->v[2] * z;
  *s = *t = 0;
  if (d1 <= 0 && d2 <= 0) return AT_A;
  const double d3 = d1 - f->uu, d4 = d2 - f->uv;
  if (d3 >= 0 && d4 <= d3) {
    *s = 1;
    return AT_B;
  }
  const double vc = d1 * d4 - d3 * d2;
  if (vc <= 0 && d1 >= 0 && d3 <= 0) {
    *s = d1 / (d1 - d3);
    return ON_AB;
  }
  const double d5 = d1 - f->uv, d6 = d2 - f->vv;
  if (d6 >= 0 && d5 <= d6) {
    *t = 1;
    return AT_C;
  }
  const double vb = d5 * d2 - d1 * d6;
  if (vb <= 0 && d2 >= 0 && d6 <= 0) {
    *t = d2 / (d2 - d6);
    return ON_CA;
  }
  const double va = d3 * d6 - d5 * d4;
  if (va <= 0 && d4 - d3 >= 0 && d5 - d6 >= 0) {
    *t = (d4 - d3) / (d4 - d3 + d5 - d6);
    *s = 1 - *t;
    return ON_BC;
  }
  const double whole = 1 / (va + vb + vc);
  *s = vb * whole;
  *t = vc * whole;
  return ON_FACE;
}

typedef struct {
  double square;  /* m2 */
  double way[3];  /* from the closest point to p */
  uint32_t facet;
  feature at;
} nearest;

static inline void look_at(const store *k, uint32_t facet_index, const double p[3], nearest *best)
{
  const facet *f = &k->facets[facet_index];
  double s, t, way[3], square = 0;
  const feature at = closest(f, p, &s, &t);
  for (int a = 0; a < 3; a++) {
    way[a] = p[a] - (f->a[a] + s * f->u[a] + t * f->v[a]);
    square += way[a] * way[a];
  }
  if (!(square < best->square)) return;
  best->square = square;
  best->facet = facet_index;
  best->at = at;
  memcpy(best->way, way, sizeof way);
}

/* A lane for each child of a node. */
typedef double lanes __attribute__((vector_size(TRIANGLE_TREE_WIDE * sizeof(double))));
typedef int64_t lane_masks __attribute__((vector_size(TRIANGLE_TREE_WIDE * sizeof(int64_t))));
typedef float lanes_in_node __attribute__((vector_size(TRIANGLE_TREE_WIDE * sizeof(float)), aligned(4), may_alias));

static inline lanes lanes_of(const float children[TRIANGLE_TREE_WIDE])
{
  return __builtin_convertvector(*(const lanes_in_node *)children, lanes);
}

static inline lanes greater_of(lanes a, lanes b)
{
  const lane_masks first = a > b;
  return (lanes)(((lane_masks)a & first) | ((lane_masks)b & ~first));
}

/* m2, from below, to the boxes of a node's children; where one lies within `best`, to their drums if these are farther. The axis of a drum
 * is up to 1.3e-6 shorter than 1, so that the way along it counts 3e-6 more when the way off it is found. */
static inline lanes squares_to_children(const triangle_tree_node *n, const double p[3], double best)
{
  const lanes zero = {0};
  lanes square = zero, along = zero, whole = zero, off;
  for (int a = 0; a < 3; a++) {
    const lanes far = greater_of(greater_of(lanes_of(n->low[a]) - p[a], p[a] - lanes_of(n->high[a])), zero);
    square += far * far;
  }
  const lane_masks within = square < best;
  if (!(within[0] | within[1] | within[2] | within[3])) return square;
  for (int a = 0; a < 3; a++) {
    const lanes w = p[a] - lanes_of(n->middle[a]);
    along += lanes_of(n->normal[a]) * w;
    whole += w * w;
  }
  const lanes flat = greater_of(greater_of(lanes_of(n->near) - along, along - lanes_of(n->far)), zero);
  const lanes square_off = greater_of(whole - along * along * (1 + 3e-6), zero);
  for (int c = 0; c < TRIANGLE_TREE_WIDE; c++) off[c] = sqrt(square_off[c]);
  off = greater_of(off - lanes_of(n->radius), zero);
  return greater_of(flat * flat + off * off, square);
}

typedef struct {
  double square;
  uint32_t first, num;
} waiting;

/* Puts the children of a node that lie within `best` on the stack, the nearest last. */
static inline size_t stack_children(const triangle_tree_node *n, const double p[3], double best, waiting *stack, size_t num)
{
  const lanes square = squares_to_children(n, p, best);
  const size_t bottom = num;
  for (int c = 0; c < TRIANGLE_TREE_WIDE; c++) {
    if (!(square[c] < best)) continue;
    size_t at = num++;
    for (; at > bottom && stack[at - 1].square < square[c]; at--) stack[at] = stack[at - 1];
    stack[at] = (waiting){square[c], n->first[c], n->num[c]};
  }
  return num;
}

/* Depth first, the nearest child first. */
static void find_nearest(const store *k, const double p[3], nearest *best)
{
  waiting stack[TRIANGLE_TREE_WAITING];
  size_t num = 0;
  best->square = INFINITY;
  best->facet = 0;
  best->at = AT_A;
  stack[num++] = (waiting){0, 0, 0};
  while (num > 0) {
    const waiting w = stack[--num];
    if (!(w.square < best->square)) continue;
    if (w.num == 0) num = stack_children(&k->tree.nodes[w.first], p, best->square, stack, num);
    for (uint32_t i = 0; i < w.num; i++) look_at(k, w.first + i, p, best);
  }
}

/* The normal that decides on which side of the surface the way to its nearest place is: of the face, or the sum over those that meet in
 * an edge or a corner (Baerentzen & Aanaes 2005). Not of unit length. */
static void normal_there(const store *k, const nearest *n, double normal[3])
{
  const facet *f = &k->facets[n->facet];
  const float *of = NULL;
  switch (n->at) {
  case AT_A: of = k->point_normals[k->corners[n->facet][0]]; break;
  case AT_B: of = k->point_normals[k->corners[n->facet][1]]; break;
  case AT_C: of = k->point_normals[k->corners[n->facet][2]]; break;
  case ON_AB: of = k->edge_normals[n->facet][0]; break;
  case ON_BC: of = k->edge_normals[n->facet][1]; break;
  case ON_CA: of = k->edge_normals[n->facet][2]; break;
  case ON_FACE: break;
  }
  for (int a = 0; a < 3; a++)
    normal[a] = of ? (double)of[a] : f->u[(a + 1) % 3] * f->v[(a + 2) % 3] - f->u[(a + 2) % 3] * f->v[(a + 1) % 3];
}

static bool recall(slot *at, const uint64_t bits[3], uint32_t *nearest_facet)
{
  uint64_t word[4];
  const unsigned before = atomic_load_explicit(&at->count, memory_order_acquire);
  for (int i = 0; i < 4; i++) word[i] = atomic_load_explicit(&at->word[i], memory_order_relaxed);
  atomic_thread_fence(memory_order_acquire);
  if (before % 2 == 1 || before == 0 || atomic_load_explicit(&at->count, memory_order_relaxed) != before) return false;
  *nearest_facet = (uint32_t)word[3];
  return word[0] == bits[0] && word[1] == bits[1] && word[2] == bits[2];
}

static void note(slot *at, const uint64_t bits[3], uint32_t nearest_facet)
{
  unsigned before = atomic_load_explicit(&at->count, memory_order_relaxed);
  if (before % 2 == 1 || !atomic_compare_exchange_strong_explicit(&at->count, &before, before + 1, memory_order_acquire, memory_order_relaxed))
    return;
  atomic_thread_fence(memory_order_release);
  for (int i = 0; i < 3; i++) atomic_store_explicit(&at->word[i], bits[i], memory_order_relaxed);
  atomic_store_explicit(&at->word[3], nearest_facet, memory_order_relaxed);
  atomic_store_explicit(&at->count, before + 2, memory_order_release);
}

/* The nearest place and the normal that decides on the side; the side is above 0 outside. p is finite. */
static double look_up(const store *k, const double p[3], nearest *best, double normal[3])
{
  uint64_t bits[3], mixed = 0;
  uint32_t facet_index;
  memcpy(bits, p, sizeof bits);
  for (int a = 0; a < 3; a++) mixed = (mixed ^ bits[a]) * 0x9E3779B97F4A7C15u;
  slot *at = &k->slots[(mixed ^ mixed >> 29) >> 16 & (SLOTS - 1)];
  if (recall(at, bits, &facet_index)) {
    best->square = INFINITY;
    look_at(k, facet_index, p, best);
  } else {
    find_nearest(k, p, best);
    note(at, bits, best->facet);
  }
  normal_there(k, best, normal);
  return normal[0] * best->way[0] + normal[1] * best->way[1] + normal[2] * best->way[2];
}

static bool is_finite(const double p[3])
{
  return isfinite(p[0]) && isfinite(p[1]) && isfinite(p[2]);
}

static double triangles_distance(const shape *s, const double p[3])
{
  nearest best;
  double n[3];
  if (!is_finite(p)) return INFINITY;
  const double side = look_up((const store *)s->shared, p, &best, n), distance = sqrt(best.square);
  return side < 0 ? -distance : distance;
}

/* Along the way from the nearest place; on the surface itself the normal there. */
static void triangles_normal(const shape *s, const double p[3], double step, double normal[3])
{
  nearest best;
  double n[3], length = 0;
  normal[0] = normal[1] = normal[2] = 0;
  if (!is_finite(p)) return;
  const double side = look_up((const store *)s->shared, p, &best, n);
  const bool on_it = best.square <= 1e-12 * step * step;
  for (int a = 0; a < 3; a++) {
    normal[a] = on_it ? n[a] : side < 0 ? -best.way[a] : best.way[a];
    length += normal[a] * normal[a];
  }
  length = sqrt(length);
  for (int a = 0; a < 3; a++) normal[a] = length > 0 ? normal[a] / length : 0;
}

static void triangles_bounds(const shape *s, double low[3], double high[3])
{
  const store *k = (const store *)s->shared;
  memcpy(low, k->low, sizeof k->low);
  memcpy(high, k->high, sizeof k->high);
}

/* ---- volume below a level ---------------------------------------------------------------------------- */

static double triangles_volume_below(const shape *s, double grown, double level)
{
  if (grown > 0) return NAN;
  const store *k = (const store *)s->shared;
  const double top = level < k->high[2] ? level : k->high[2];
  double volume = 0;
  for (size_t i = 0; i < k->num; i++) {
    const facet *f = &k->facets[i];
    const double base = f->a[2] - top, h[3] = {base, base + f->u[2], base + f->v[2]};
    volume += triangle_surface_below(h, 0.5 * (f->u[0] * f->v[1] - f->u[1] * f->v[0]));
  }
  return volume > 0 ? volume : 0;
}

/* ---- building ---------------------------------------------------------------------------------------- */

static double unit_normal(const triangle_surface *s, size_t t, double n[3])
{
  const double *p = s->points[s->corners[t][0]], *q = s->points[s->corners[t][1]], *r = s->points[s->corners[t][2]];
  double u[3], v[3], size = 0;
  for (int a = 0; a < 3; a++) {
    u[a] = q[a] - p[a];
    v[a] = r[a] - p[a];
  }
  for (int a = 0; a < 3; a++) {
    n[a] = u[(a + 1) % 3] * v[(a + 2) % 3] - u[(a + 2) % 3] * v[(a + 1) % 3];
    size += n[a] * n[a];
  }
  size = sqrt(size);
  for (int a = 0; a < 3; a++) n[a] = size > 0 ? n[a] / size : 0;
  return size;
}

static double angle_at(const triangle_surface *s, size_t t, int c)
{
  const double *p = s->points[s->corners[t][c]], *q = s->points[s->corners[t][(c + 1) % 3]], *r = s->points[s->corners[t][(c + 2) % 3]];
  double u[3], v[3];
  for (int a = 0; a < 3; a++) {
    u[a] = q[a] - p[a];
    v[a] = r[a] - p[a];
  }
  const double x = u[1] * v[2] - u[2] * v[1], y = u[2] * v[0] - u[0] * v[2], z = u[0] * v[1] - u[1] * v[0];
  return atan2(sqrt(x * x + y * y + z * z), u[0] * v[0] + u[1] * v[1] + u[2] * v[2]);
}

static void fill_facets(store *k, const triangle_surface *s)
{
  for (size_t i = 0; i < k->num; i++) {
    facet *f = &k->facets[i];
    const uint32_t *c = s->corners[k->tree.order[i]];
    memcpy(k->corners[i], c, sizeof k->corners[i]);
    f->uu = f->uv = f->vv = 0;
    for (int a = 0; a < 3; a++) {
      f->a[a] = s->points[c[0]][a];
      f->u[a] = s->points[c[1]][a] - f->a[a];
      f->v[a] = s->points[c[2]][a] - f->a[a];
      f->uu += f->u[a] * f->u[a];
      f->uv += f->u[a] * f->v[a];
      f->vv += f->v[a] * f->v[a];
    }
  }
}

static void fill_bounds(store *k)
{
  for (int a = 0; a < 3; a++) {
    k->low[a] = INFINITY;
    k->high[a] = -INFINITY;
  }
  for (size_t i = 0; i < k->num; i++)
    for (int c = 0; c < 3; c++)
      for (int a = 0; a < 3; a++) {
        const double x = k->points[k->corners[i][c]][a];
        k->low[a] = x < k->low[a] ? x : k->low[a];
        k->high[a] = x > k->high[a] ? x : k->high[a];
      }
}

/* normals: [num] of the surface's triangles, scratch. */
static void fill_normals(store *k, const triangle_surface *s, double (*normals)[3])
{
  for (size_t t = 0; t < k->num; t++) (void)unit_normal(s, t, normals[t]);
  for (size_t t = 0; t < k->num; t++)
    for (int c = 0; c < 3; c++) {
      const double angle = angle_at(s, t, c);
      for (int a = 0; a < 3; a++) k->point_normals[s->corners[t][c]][a] += (float)(angle * normals[t][a]);
    }
  for (size_t i = 0; i < k->num; i++) {
    const uint32_t t = k->tree.order[i];
    for (int e = 0; e < 3; e++)
      for (int a = 0; a < 3; a++) k->edge_normals[i][e][a] = (float)(normals[t][a] + normals[s->across[3 * t + (uint32_t)e] / 3][a]);
  }
}

static status fill_store(store *k, triangle_surface *s, message *msg)
{
  const size_t num = s->num_triangles;
  k->num = num;
  k->num_points = s->num_points;
  k->facets = malloc(num * sizeof *k->facets);
  k->edge_normals = malloc(num * sizeof *k->edge_normals);
  k->corners = malloc(num * sizeof *k->corners);
  k->point_normals = calloc(s->num_points, sizeof *k->point_normals);
  k->slots = calloc(SLOTS, sizeof *k->slots);
  double(*normals)[3] = malloc(num * sizeof *normals);
  const bool have = k->slots && k->facets && k->edge_normals && k->corners && k->point_normals && normals;
  if (have) {
    fill_facets(k, s);
    fill_normals(k, s, normals);
    k->points = s->points;
    s->points = NULL;
    fill_bounds(k);
  }
  free(normals);
  return have ? STATUS_OK
              : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a solid of %zu triangles; export a coarser one",
                            num * (sizeof *k->facets + sizeof *k->edge_normals + sizeof *normals), num);
}

static status refuse_crossings(const triangle_surface *s, const triangle_tree *tree, const char *name, message *msg)
{
  triangle_crossing found;
  triangle_crossing_find(s, tree, &found);
  if (found.num == 0) return STATUS_OK;
  return message_set(msg, STATUS_BAD_INPUT,
                     "%.200s: the surface runs through itself: %zu pair%s of faces cross, the first at x %.6g mm, y %.6g mm, z %.6g mm in the "
                     "rig; join the solids in the drawing program (union) and export again", name, found.num, found.num == 1 ? "" : "s",
                     1e3 * found.place[0], 1e3 * found.place[1], 1e3 * found.place[2]);
}

status shape_triangles(shape **out, triangle_surface *surface, const char *name, message *msg)
{
  shape *s = calloc(1, sizeof *s);
  store *k = calloc(1, sizeof *k);
  status code = s && k ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a shape", sizeof *s + sizeof *k);
  if (code == STATUS_OK)
    code = triangle_tree_build(&k->tree, (const double(*)[3])surface->points, (const uint32_t(*)[3])surface->corners,
                               surface->num_triangles, msg);
  if (code == STATUS_OK && !surface->never_crosses) code = refuse_crossings(surface, &k->tree, name, msg);
  if (code == STATUS_OK) code = fill_store(k, surface, msg);
  triangle_surface_release(surface);
  if (code == STATUS_OK) {
    shape_shared_start(&k->shared, release_store);
    *s = (shape){.distance = triangles_distance, .normal = triangles_normal, .bounds = triangles_bounds, .volume_below = triangles_volume_below,
                 .shared = &k->shared};
    *out = s;
    return STATUS_OK;
  }
  if (k) release_store(&k->shared);
  free(s);
  return code;
}
