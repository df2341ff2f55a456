#include "geometry/triangle_tree.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { BINS = 16, LEAF = 4, DEEP = 64 }; /* beyond DEEP halvings halves are of equal number: 32 more are enough for any number */
_Static_assert(2 * TRIANGLE_TREE_DEEPEST >= DEEP + 32, "a level is two halvings");

typedef struct {
  float low[3], high[3];
} box;

typedef struct {
  triangle_tree *t;
  const double (*points)[3];
  const uint32_t (*corners)[3];
  box *boxes; /* of the triangles */
} builder;

static void start_box(box *b)
{
  for (int a = 0; a < 3; a++) {
    b->low[a] = INFINITY;
    b->high[a] = -INFINITY;
  }
}

static void widen_box(box *b, const box *by)
{
  for (int a = 0; a < 3; a++) {
    b->low[a] = by->low[a] < b->low[a] ? by->low[a] : b->low[a];
    b->high[a] = by->high[a] > b->high[a] ? by->high[a] : b->high[a];
  }
}

static float half_area(const box *b)
{
  const float x = b->high[0] - b->low[0], y = b->high[1] - b->low[1], z = b->high[2] - b->low[2];
  return x >= 0 ? x * y + y * z + z * x : 0;
}

static float middle(const box *b, int axis)
{
  return 0.5f * (b->low[axis] + b->high[axis]);
}

static float rounded_down(double x)
{
  const float f = (float)x;
  return (double)f > x ? nextafterf(f, -INFINITY) : f;
}

static float rounded_up(double x)
{
  const float f = (float)x;
  return (double)f < x ? nextafterf(f, INFINITY) : f;
}

static void box_of(const double (*points)[3], const uint32_t corner[3], box *b)
{
  for (int a = 0; a < 3; a++) {
    const double x = points[corner[0]][a], y = points[corner[1]][a], z = points[corner[2]][a];
    b->low[a] = rounded_down(fmin(x, fmin(y, z)));
    b->high[a] = rounded_up(fmax(x, fmax(y, z)));
  }
}

/* Twice the area of a triangle, as a vector, is added to sum. */
static void add_area(const builder *m, uint32_t t, double sum[3])
{
  const double *p = m->points[m->corners[t][0]], *q = m->points[m->corners[t][1]], *r = m->points[m->corners[t][2]];
  const double u[3] = {q[0] - p[0], q[1] - p[1], q[2] - p[2]}, v[3] = {r[0] - p[0], r[1] - p[1], r[2] - p[2]};
  for (int a = 0; a < 3; a++) sum[a] += u[(a + 1) % 3] * v[(a + 2) % 3] - u[(a + 2) % 3] * v[(a + 1) % 3];
}

/* The drum that holds a run of triangles, about the sum of their areas; the box of the child is set. */
static void set_drum(const builder *m, const uint32_t *order, size_t num, triangle_tree_node *node, int child)
{
  double sum[3] = {0, 0, 0}, near = INFINITY, far = -INFINITY, radius = 0, n[3], middle_point[3];
  for (size_t i = 0; i < num; i++) add_area(m, order[i], sum);
  const double size = sqrt(sum[0] * sum[0] + sum[1] * sum[1] + sum[2] * sum[2]);
  for (int a = 0; a < 3; a++) {
    node->normal[a][child] = size > 0 ? (float)(sum[a] / size * (1 - 1e-6)) : a == 2;
    node->middle[a][child] = 0.5f * (node->low[a][child] + node->high[a][child]);
    n[a] = (double)node->normal[a][child];
    middle_point[a] = (double)node->middle[a][child];
  }
  for (size_t i = 0; i < num; i++)
    for (int c = 0; c < 3; c++) {
      const double *p = m->points[m->corners[order[i]][c]];
      const double w[3] = {p[0] - middle_point[0], p[1] - middle_point[1], p[2] - middle_point[2]};
      const double at = n[0] * w[0] + n[1] * w[1] + n[2] * w[2], off = w[0] * w[0] + w[1] * w[1] + w[2] * w[2] - at * at;
      near = at < near ? at : near;
      far = at > far ? at : far;
      radius = off > radius ? off : radius;
    }
  node->near[child] = rounded_down(near);
  node->far[child] = rounded_up(far);
  node->radius[child] = rounded_up(sqrt(radius) * (1 + 1e-6));
}

typedef struct {
  int axis;
  float low, scale; /* bin = (middle - low) * scale */
  int bin;          /* first bin of the upper part; 0: no split found */
} split;

static int bin_of(const split *s, const box *b)
{
  const int bin = (int)((middle(b, s->axis) - s->low) * s->scale);
  return bin < 0 ? 0 : bin >= BINS ? BINS - 1 : bin;
}

/* The cheapest of the BINS - 1 splits along the axis in which the middles lie widest apart. */
static split find_split(const builder *m, const uint32_t *order, size_t num)
{
  box middles, bin_box[BINS], part;
  size_t bin_num[BINS] = {0};
  float upper_cost[BINS] = {0}, best = INFINITY;
  start_box(&middles);
  for (size_t i = 0; i < num; i++) {
    const box *b = &m->boxes[order[i]];
    const float x = middle(b, 0), y = middle(b, 1), z = middle(b, 2);
    widen_box(&middles, &(box){{x, y, z}, {x, y, z}});
  }
  split s = {0};
  for (int a = 1; a < 3; a++)
    if (middles.high[a] - middles.low[a] > middles.high[s.axis] - middles.low[s.axis]) s.axis = a;
  const float width = middles.high[s.axis] - middles.low[s.axis];
  s.low = middles.low[s.axis];
  s.scale = BINS / width;
  if (!(width > 0) || !isfinite(s.scale)) return s;
  for (int b = 0; b < BINS; b++) start_box(&bin_box[b]);
  for (size_t i = 0; i < num; i++) {
    const int bin = bin_of(&s, &m->boxes[order[i]]);
    bin_num[bin]++;
    widen_box(&bin_box[bin], &m->boxes[order[i]]);
  }
  start_box(&part);
  for (size_t b = BINS - 1, n = 0; b > 0; b--) {
    widen_box(&part, &bin_box[b]);
    n += bin_num[b];
    upper_cost[b] = n ? half_area(&part) * (float)n : INFINITY;
  }
  start_box(&part);
  size_t below = 0;
  for (int b = 1; b < BINS; b++) {
    widen_box(&part, &bin_box[b - 1]);
    below += bin_num[b - 1];
    const float cost = half_area(&part) * (float)below + upper_cost[b];
    if (below && cost < best) {
      best = cost;
      s.bin = b;
    }
  }
  return s;
}

/* Number of triangles of the lower part; the run is brought in its order. */
static size_t divide(const builder *m, uint32_t *order, size_t num, int depth)
{
  const split s = depth < DEEP ? find_split(m, order, num) : (split){0};
  if (s.bin == 0) return num / 2; /* all middles in one place, or too deep: any half will do */
  size_t low = 0, high = num;
  while (low < high) {
    if (bin_of(&s, &m->boxes[order[low]]) < s.bin) {
      low++;
    } else {
      const uint32_t other = order[--high];
      order[high] = order[low];
      order[low] = other;
    }
  }
  return low > 0 && low < num ? low : num / 2;
}

/* A run of `order`. */
typedef struct {
  size_t first, num;
} run;

/* The run in up to four parts, halved and its halves again; how many there are. */
static int quarter(const builder *m, run whole, int depth, run part[TRIANGLE_TREE_WIDE])
{
  run half[2] = {whole, {0, 0}};
  int num = 0;
  if (whole.num > 1) {
    half[0].num = divide(m, m->t->order + whole.first, whole.num, depth);
    half[1] = (run){whole.first + half[0].num, whole.num - half[0].num};
  }
  for (int h = 0; h < 2 && half[h].num > 0; h++) {
    part[num++] = half[h];
    if (half[h].num <= LEAF) continue;
    run *lower = &part[num - 1], *upper = &part[num++];
    lower->num = divide(m, m->t->order + half[h].first, half[h].num, depth + 1);
    *upper = (run){half[h].first + lower->num, half[h].num - lower->num};
  }
  return num;
}

static void set_child(const builder *m, run part, triangle_tree_node *node, int child)
{
  box b;
  start_box(&b);
  for (size_t i = 0; i < part.num; i++) widen_box(&b, &m->boxes[m->t->order[part.first + i]]);
  for (int a = 0; a < 3; a++) {
    node->low[a][child] = b.low[a];
    node->high[a][child] = b.high[a];
  }
  if (part.num > 0) set_drum(m, m->t->order + part.first, part.num, node, child);
}

static uint32_t make_node(const builder *m, run whole, int depth)
{
  const uint32_t at = (uint32_t)m->t->num_nodes++;
  triangle_tree_node node = {.num = {0}};
  run part[TRIANGLE_TREE_WIDE] = {{0, 0}};
  const int num = quarter(m, whole, depth, part);
  for (int child = 0; child < TRIANGLE_TREE_WIDE; child++) set_child(m, part[child], &node, child);
  for (int child = 0; child < num; child++) {
    const bool is_leaf = part[child].num <= LEAF;
    node.num[child] = is_leaf ? (uint32_t)part[child].num : 0;
    node.first[child] = is_leaf ? (uint32_t)part[child].first : make_node(m, part[child], depth + 2);
  }
  m->t->nodes[at] = node;
  return at;
}

void triangle_tree_release(triangle_tree *t)
{
  free(t->nodes);
  free(t->order);
  *t = (triangle_tree){0};
}

status triangle_tree_build(triangle_tree *out, const double (*points)[3], const uint32_t (*corners)[3], size_t num_triangles,
                           message *msg)
{
  *out = (triangle_tree){.num_triangles = num_triangles};
  const size_t most_nodes = num_triangles + 1; /* a node has two children that are not empty */
  builder m = {.t = out, .points = points, .corners = corners, .boxes = malloc((num_triangles + 1) * sizeof *m.boxes)};
  out->order = malloc((num_triangles + 1) * sizeof *out->order);
  out->nodes = malloc(most_nodes * sizeof *out->nodes);
  status code = STATUS_OK;
  if (!m.boxes || !out->order || !out->nodes) {
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a search tree of triangles",
                       num_triangles * (sizeof *m.boxes + sizeof *out->order + sizeof *out->nodes));
  } else {
    for (size_t t = 0; t < num_triangles; t++) {
      out->order[t] = (uint32_t)t;
      box_of(points, corners[t], &m.boxes[t]);
    }
    (void)make_node(&m, (run){0, num_triangles}, 0);
    triangle_tree_node *less = realloc(out->nodes, out->num_nodes * sizeof *less);
    if (less) out->nodes = less;
  }
  free(m.boxes);
  if (code != STATUS_OK) triangle_tree_release(out);
  return code;
}
