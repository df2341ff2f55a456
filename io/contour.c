#include "io/contour.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>

/* A lattice edge is named by its lower sample: 2 * sample for the edge to the right, 2 * sample + 1 for the edge downward. A line
 * is a chain of edges; each edge joins at most two segments, one from the square on either side of it. */
typedef struct {
  const float *values;
  size_t width, height;
  double level;
  int32_t *partner; /* [4 * samples]: per edge the edges that up to two segments lead to, -1: none */
} lattice;

static bool above(const lattice *l, size_t sample) { return (double)l->values[sample] >= l->level; }

static void join(lattice *l, size_t a, size_t b)
{
  l->partner[2 * a + (l->partner[2 * a] >= 0)] = (int32_t)b;
  l->partner[2 * b + (l->partner[2 * b] >= 0)] = (int32_t)a;
}

static void cross_square(lattice *l, size_t column, size_t row)
{
  const size_t at = row * l->width + column, below = at + l->width;
  const float *v = l->values;
  if (!isfinite(v[at]) || !isfinite(v[at + 1]) || !isfinite(v[below]) || !isfinite(v[below + 1]))
    return;
  const size_t top = 2 * at, left = 2 * at + 1, right = 2 * (at + 1) + 1, bottom = 2 * below;
  const bool nw = above(l, at), ne = above(l, at + 1), sw = above(l, below), se = above(l, below + 1);
  if (nw == se && ne == sw && nw != ne) {
    const bool middle = 0.25 * ((double)v[at] + (double)v[at + 1] + (double)v[below] + (double)v[below + 1]) >= l->level;
    join(l, top, middle == nw ? right : left); /* middle like nw: ne and sw are cut off */
    join(l, bottom, middle == nw ? left : right);
    return;
  }
  size_t crossed[4], num = 0;
  if (nw != ne)
    crossed[num++] = top;
  if (ne != se)
    crossed[num++] = right;
  if (sw != se)
    crossed[num++] = bottom;
  if (nw != sw)
    crossed[num++] = left;
  if (num == 2)
    join(l, crossed[0], crossed[1]);
}

static void crossing(const lattice *l, size_t edge, double point[2])
{
  const size_t sample = edge / 2, other = edge % 2 ? sample + l->width : sample + 1;
  const double a = (double)l->values[sample], b = (double)l->values[other];
  const double share = (l->level - a) / (b - a);
  point[0] = (double)(sample % l->width) + (edge % 2 ? 0.0 : share);
  point[1] = (double)(sample / l->width) + (edge % 2 ? share : 0.0);
}

/* Follows the chain from an edge, breaking it as it goes, so that no edge is met twice. */
static status follow(lattice *l, size_t start, contour_line *line)
{
  size_t capacity = 64, edge = start;
  *line = (contour_line){.points = malloc(capacity * sizeof *line->points)};
  while (line->points) {
    crossing(l, edge, line->points[line->num++]);
    int32_t *onward = &l->partner[2 * edge];
    const int32_t next = onward[0] >= 0 ? onward[0] : onward[1];
    if (next < 0)
      return STATUS_OK;
    onward[onward[0] >= 0 ? 0 : 1] = -1;
    int32_t *back = &l->partner[2 * (size_t)next];
    back[back[0] == (int32_t)edge ? 0 : 1] = -1;
    if ((size_t)next == start) {
      line->closed = true;
      return STATUS_OK;
    }
    edge = (size_t)next;
    if (line->num == capacity) {
      capacity *= 2;
      double(*grown)[2] = realloc(line->points, capacity * sizeof *grown);
      if (!grown)
        break;
      line->points = grown;
    }
  }
  free(line->points);
  *line = (contour_line){0};
  return STATUS_NO_MEMORY;
}

static status keep(contour_set *set, contour_line line)
{
  contour_line *grown = realloc(set->lines, (set->num + 1) * sizeof *grown);
  if (!grown) {
    free(line.points);
    return STATUS_NO_MEMORY;
  }
  set->lines = grown;
  set->lines[set->num++] = line;
  return STATUS_OK;
}

/* Chains that end somewhere first, from an end; what is left are rings. */
static status collect(lattice *l, contour_set *set)
{
  const size_t num_edges = 2 * l->width * l->height;
  for (int rings = 0; rings < 2; rings++)
    for (size_t edge = 0; edge < num_edges; edge++) {
      const int links = (l->partner[2 * edge] >= 0) + (l->partner[2 * edge + 1] >= 0);
      if (links == 0 || (links == 2 && !rings))
        continue;
      contour_line line;
      if (follow(l, edge, &line) != STATUS_OK || keep(set, line) != STATUS_OK)
        return STATUS_NO_MEMORY;
    }
  return STATUS_OK;
}

status contour_trace(contour_set *out, const float *values, size_t width, size_t height, double level, message *msg)
{
  *out = (contour_set){0};
  const size_t num = 4 * width * height;
  lattice l = {.values = values, .width = width, .height = height, .level = level, .partner = malloc((num + 1) * sizeof(int32_t))};
  status code = l.partner ? STATUS_OK : STATUS_NO_MEMORY;
  if (code == STATUS_OK) {
    for (size_t i = 0; i < num; i++)
      l.partner[i] = -1;
    for (size_t row = 0; row + 1 < height; row++)
      for (size_t column = 0; column + 1 < width; column++)
        cross_square(&l, column, row);
    code = collect(&l, out);
  }
  free(l.partner);
  if (code != STATUS_OK) {
    contour_release(out);
    return message_set(msg, code, "out of memory: %zu bytes for lines of equal value", num * sizeof(int32_t));
  }
  return STATUS_OK;
}

void contour_release(contour_set *set)
{
  for (size_t i = 0; i < set->num; i++)
    free(set->lines[i].points);
  free(set->lines);
  *set = (contour_set){0};
}

double contour_length(const contour_line *line)
{
  double length = 0.0;
  for (size_t i = 1; i < line->num; i++)
    length += hypot(line->points[i][0] - line->points[i - 1][0], line->points[i][1] - line->points[i - 1][1]);
  if (line->closed && line->num > 1)
    length += hypot(line->points[0][0] - line->points[line->num - 1][0], line->points[0][1] - line->points[line->num - 1][1]);
  return length;
}

/* ------------------------------------------------------------------------------------------------ labels */

/* Distance between two boxes, below 0 where they overlap. */
static double clearance(const contour_box *a, const contour_box *b)
{
  double apart[2];
  for (int k = 0; k < 2; k++)
    apart[k] = fmax(a->low[k] - b->high[k], b->low[k] - a->high[k]);
  if (apart[0] < 0.0 && apart[1] < 0.0)
    return fmax(apart[0], apart[1]);
  return hypot(fmax(apart[0], 0.0), fmax(apart[1], 0.0));
}

/* How good a label is here; below 0: not allowed. Far from others is good up to three label widths. */
static double merit(const double centre[2], const double size[2], const contour_box *bounds, const contour_box *taken, size_t num_taken)
{
  contour_box box;
  for (int k = 0; k < 2; k++) {
    box.low[k] = centre[k] - 0.5 * size[k];
    box.high[k] = centre[k] + 0.5 * size[k];
    if (box.low[k] < bounds->low[k] || box.high[k] > bounds->high[k])
      return -1.0;
  }
  double nearest = 3.0 * size[0];
  for (size_t i = 0; i < num_taken; i++)
    nearest = fmin(nearest, clearance(&box, &taken[i]));
  return nearest;
}

bool contour_place_label(const contour_set *set, const double size[2], const contour_box *bounds, const contour_box *taken,
                         size_t num_taken, double centre[2])
{
  double best = -INFINITY;
  for (size_t i = 0; i < set->num; i++) {
    const contour_line *line = &set->lines[i];
    const double length = contour_length(line);
    if (length < size[0])
      continue;
    for (size_t p = 0; p < line->num; p += 2) {
      /* Of equally clear places the middle of the line. */
      const double off_middle = line->closed ? 0.0 : fabs((double)p / (double)line->num - 0.5);
      const double good = merit(line->points[p], size, bounds, taken, num_taken);
      const double score = good - 0.5 * size[0] * off_middle;
      if (good > 0.0 && score > best) {
        best = score;
        centre[0] = line->points[p][0];
        centre[1] = line->points[p][1];
      }
    }
  }
  return best > -INFINITY;
}
