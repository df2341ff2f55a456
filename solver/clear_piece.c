#include "solver/clear_piece.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

/* Radius to which a row is clear from the axis on. */
static double clear_radius(const grid *g, const uint8_t *clear, size_t row)
{
  size_t i = 0;
  while (i < g->num[0] && clear[row * g->num[0] + i])
    i++;
  return i > 0 ? g->edges[0][i] : 0.0;
}

static void find_cylinder(clear_piece *piece, const grid *g, const uint8_t *clear)
{
  if (g->edges[0][0] > 0.0)
    return;
  for (size_t from = 0; from < g->num[2]; from++) {
    double radius = INFINITY;
    for (size_t to = from; to < g->num[2]; to++) {
      radius = fmin(radius, clear_radius(g, clear, to));
      const double low = g->edges[2][from], high = g->edges[2][to + 1], volume = PI * radius * radius * (high - low);
      if (!(radius > 0.0))
        break;
      if (volume > piece->volume)
        *piece = (clear_piece){volume, {radius, 0.0, high - low}, {0.0, 0.0, low}, {radius, 0.0, high}};
    }
  }
}

/* Ends of cells from..to-1 along an axis, doubled by a mirror plane that they touch. */
static void ends_of(const grid *g, int axis, size_t from, size_t to, double *low, double *high)
{
  *low = g->edges[axis][from];
  *high = g->edges[axis][to];
  if (from == 0 && g->mirror[2 * axis])
    *low = 2.0 * *low - *high;
  else if (to == g->num[axis] && g->mirror[2 * axis + 1])
    *high = 2.0 * *high - *low;
}

static void offer_box(clear_piece *piece, const grid *g, const size_t from[3], const size_t to[3])
{
  clear_piece box = {.volume = 1.0};
  for (int axis = 0; axis < 3; axis++) {
    ends_of(g, axis, from[axis], to[axis], &box.low[axis], &box.high[axis]);
    box.size[axis] = box.high[axis] - box.low[axis];
    box.volume *= box.size[axis];
  }
  if (box.volume > piece->volume)
    *piece = box;
}

/* Largest boxes with the layers k0..k1-1: over every row, rectangles under the profile of `depth` (how many rows back from this one are
 * clear), found with a stack of rising depths. */
static void scan_layers(clear_piece *piece, const grid *g, const uint8_t *through, size_t *depth, size_t *stack, size_t k0, size_t k1)
{
  const size_t nx = g->num[0], ny = g->num[1];
  memset(depth, 0, nx * sizeof *depth);
  for (size_t j = 0; j < ny; j++) {
    for (size_t i = 0; i < nx; i++)
      depth[i] = through[j * nx + i] ? depth[i] + 1 : 0;
    size_t height = 0; /* of the stack */
    for (size_t i = 0; i <= nx; i++) {
      const size_t here = i < nx ? depth[i] : 0;
      while (height > 0 && depth[stack[height - 1]] >= here) {
        const size_t deep = depth[stack[--height]], left = height > 0 ? stack[height - 1] + 1 : 0;
        if (deep > 0)
          offer_box(piece, g, (const size_t[3]){left, j + 1 - deep, k0}, (const size_t[3]){i, j + 1, k1});
      }
      if (i < nx)
        stack[height++] = i;
    }
  }
}

static status find_box(clear_piece *piece, const grid *g, const uint8_t *clear, message *msg)
{
  const size_t layer = g->num[0] * g->num[1];
  uint8_t *through = malloc(layer + 1);
  size_t *depth = malloc((g->num[0] + 1) * sizeof *depth), *stack = malloc((g->num[0] + 1) * sizeof *stack);
  status code = STATUS_OK;
  if (!through || !depth || !stack)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the largest clear piece", layer);
  for (size_t k0 = 0; code == STATUS_OK && k0 < g->num[2]; k0++) {
    bool any = true;
    memset(through, 1, layer);
    for (size_t k1 = k0; any && k1 < g->num[2]; k1++) {
      any = false;
      for (size_t c = 0; c < layer; c++) {
        through[c] = through[c] && clear[k1 * layer + c];
        any = any || through[c];
      }
      if (any)
        scan_layers(piece, g, through, depth, stack, k0, k1 + 1);
    }
  }
  free(through);
  free(depth);
  free(stack);
  return code;
}

status clear_piece_find(clear_piece *piece, const grid *g, const uint8_t *clear, message *msg)
{
  *piece = (clear_piece){0};
  if (g->kind == GRID_RZ) {
    find_cylinder(piece, g, clear);
    return STATUS_OK;
  }
  return find_box(piece, g, clear, msg);
}
