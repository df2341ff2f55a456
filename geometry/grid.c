#include "geometry/grid.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double pi = 3.14159265358979323846;
static const char axis_letter[3] = {'x', 'y', 'z'};

static char axis_name(grid_kind kind, int axis)
{
  return kind == GRID_RZ && axis == 0 ? 'r' : axis_letter[axis];
}

static status check_axis(grid_kind kind, int axis, size_t num, const double *edges, message *msg)
{
  const char name = axis_name(kind, axis);
  if (num == 0 || !edges) return message_set(msg, STATUS_BAD_INPUT, "grid axis %c has no cells; it needs at least one", name);
  for (size_t i = 0; i <= num; i++) {
    if (!isfinite(edges[i]))
      return message_set(msg, STATUS_BAD_INPUT, "grid axis %c: edge %zu is not a finite number", name, i);
    if (i > 0 && !(edges[i] > edges[i - 1]))
      return message_set(msg, STATUS_BAD_INPUT, "grid axis %c: edge %zu (%g m) is not above edge %zu (%g m); edges must rise", name, i,
                         edges[i], i - 1, edges[i - 1]);
  }
  if (kind == GRID_RZ && axis == 0 && edges[0] < 0)
    return message_set(msg, STATUS_BAD_INPUT, "grid axis r starts at %g m; a radius cannot be below 0", edges[0]);
  return STATUS_OK;
}

status grid_create(grid **out, grid_kind kind, const size_t num[3], const double *const edges[3], const bool mirror[6],
                   message *msg)
{
  const double turn[2] = {0, 2 * pi};
  size_t cells = 1;
  for (int axis = 0; axis < 3; axis++) {
    const bool full_turn = kind == GRID_RZ && axis == 1;
    if (full_turn && num[1] != 1)
      return message_set(msg, STATUS_BAD_INPUT, "a grid in (r, z) has one cell around the axis, not %zu", num[1]);
    const status s = full_turn ? STATUS_OK : check_axis(kind, axis, num[axis], edges[axis], msg);
    if (s != STATUS_OK) return s;
    if (num[axis] > (size_t)2000000000 / cells)
      return message_set(msg, STATUS_BAD_INPUT, "the grid has more than 2e9 cells; use a coarser spacing");
    cells *= num[axis];
  }
  grid *g = calloc(1, sizeof *g);
  if (!g) return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a grid", sizeof *g);
  g->kind = kind;
  for (int side = 0; side < 6; side++) g->mirror[side] = mirror && mirror[side] && !(kind == GRID_RZ && side / 2 == 1);
  for (int axis = 0; axis < 3; axis++) {
    const size_t bytes = (num[axis] + 1) * sizeof(double);
    g->num[axis] = num[axis];
    g->edges[axis] = malloc(bytes);
    if (!g->edges[axis]) {
      grid_destroy(&g);
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for grid edges", bytes);
    }
    memcpy(g->edges[axis], kind == GRID_RZ && axis == 1 ? turn : edges[axis], bytes);
  }
  *out = g;
  return STATUS_OK;
}

void grid_destroy(grid **g)
{
  if (!g || !*g) return;
  for (int axis = 0; axis < 3; axis++) free((*g)->edges[axis]);
  free(*g);
  *g = NULL;
}

size_t grid_num_cells(const grid *g)
{
  return g->num[0] * g->num[1] * g->num[2];
}

size_t grid_cell(const grid *g, size_t i, size_t j, size_t k)
{
  return (k * g->num[1] + j) * g->num[0] + i;
}

void grid_cell_indices(const grid *g, size_t cell, size_t ijk[3])
{
  ijk[0] = cell % g->num[0];
  ijk[1] = cell / g->num[0] % g->num[1];
  ijk[2] = cell / g->num[0] / g->num[1];
}

/* Ring area pi (r1^2 - r0^2), written so that thin rings far out lose no digits. */
static double ring_area(double r0, double r1)
{
  return pi * (r1 - r0) * (r1 + r0);
}

static double width(const grid *g, int axis, size_t i)
{
  return g->edges[axis][i + 1] - g->edges[axis][i];
}

double grid_cell_volume(const grid *g, size_t i, size_t j, size_t k)
{
  if (g->kind == GRID_RZ) return ring_area(g->edges[0][i], g->edges[0][i + 1]) * width(g, 2, k);
  return width(g, 0, i) * width(g, 1, j) * width(g, 2, k);
}

double grid_face_area(const grid *g, int axis, int side, size_t i, size_t j, size_t k)
{
  if (g->kind == GRID_RZ) {
    if (axis == 0) return 2 * pi * g->edges[0][i + (size_t)side] * width(g, 2, k);
    if (axis == 1) return width(g, 0, i) * width(g, 2, k);
    return ring_area(g->edges[0][i], g->edges[0][i + 1]);
  }
  if (axis == 0) return width(g, 1, j) * width(g, 2, k);
  if (axis == 1) return width(g, 0, i) * width(g, 2, k);
  return width(g, 0, i) * width(g, 1, j);
}

void grid_cell_centre(const grid *g, size_t i, size_t j, size_t k, double centre[3])
{
  const double x0 = g->edges[0][i], x1 = g->edges[0][i + 1];
  centre[0] = 0.5 * (x0 + x1);
  centre[1] = 0.5 * (g->edges[1][j] + g->edges[1][j + 1]);
  centre[2] = 0.5 * (g->edges[2][k] + g->edges[2][k + 1]);
  if (g->kind == GRID_RZ) { /* integral of r^2 over integral of r */
    centre[0] = 2.0 / 3.0 * (x0 * x0 + x0 * x1 + x1 * x1) / (x0 + x1);
    centre[1] = 0;
  }
}

/* Index of the interval that holds x by bisection; the last interval includes its upper end. */
static bool find_interval(const double *edges, size_t num, double x, size_t *index)
{
  if (!(x >= edges[0] && x <= edges[num])) return false;
  size_t low = 0, high = num;
  while (high - low > 1) {
    const size_t mid = low + (high - low) / 2;
    if (x >= edges[mid]) low = mid;
    else high = mid;
  }
  *index = low;
  return true;
}

bool grid_find(const grid *g, const double point[3], size_t *cell)
{
  size_t ijk[3] = {0, 0, 0};
  for (int axis = 0; axis < 3; axis++) {
    if (g->kind == GRID_RZ && axis == 1) continue;
    if (!find_interval(g->edges[axis], g->num[axis], point[axis], &ijk[axis])) return false;
  }
  *cell = grid_cell(g, ijk[0], ijk[1], ijk[2]);
  return true;
}

double grid_smallest_spacing(const grid *g)
{
  double smallest = INFINITY;
  for (int axis = 0; axis < 3; axis++) {
    if (g->kind == GRID_RZ && axis == 1) continue;
    for (size_t i = 0; i < g->num[axis]; i++)
      if (width(g, axis, i) < smallest) smallest = width(g, axis, i);
  }
  return smallest;
}

/* ---- stretched edges ------------------------------------------------------------------------------------------------
 *
 * The wanted spacing at distance y from the fine zone is s(y) = min(coarse, fine + ln(growth) y): for s linear in y
 * each cell is `growth` times its neighbour. cells_to(y) = integral of dy / s(y) counts cells; an interval between two
 * stops gets that many, rounded up, and its edges where the count, shrunk to fit, is a whole number. */

static double cells_to(const grid_axis_request *q, double y)
{
  const double rate = log(q->growth), y_coarse = (q->coarse - q->fine) / rate;
  if (y <= y_coarse) return log1p(rate * y / q->fine) / rate;
  return log(q->coarse / q->fine) / rate + (y - y_coarse) / q->coarse;
}

/* Cells from fine_low to x, negative below it. */
static double cells_at(const grid_axis_request *q, double x)
{
  if (x < q->fine_low) return -cells_to(q, q->fine_low - x);
  if (x > q->fine_high) return (q->fine_high - q->fine_low) / q->fine + cells_to(q, x - q->fine_high);
  return (x - q->fine_low) / q->fine;
}

static double position_of(const grid_axis_request *q, double low, double high, double count)
{
  for (int step = 0; step < 80; step++) {
    const double mid = 0.5 * (low + high);
    if (cells_at(q, mid) < count) low = mid;
    else high = mid;
  }
  return 0.5 * (low + high);
}

static size_t cells_between(const grid_axis_request *q, double low, double high)
{
  const double wanted = ceil((cells_at(q, high) - cells_at(q, low)) * (1 - 1e-6));
  return wanted < 1 ? 1 : (size_t)wanted;
}

static status check_request(const grid_axis_request *q, message *msg)
{
  if (!(isfinite(q->low) && isfinite(q->high) && q->high > q->low))
    return message_set(msg, STATUS_BAD_INPUT, "grid axis runs from %g to %g m; it must rise", q->low, q->high);
  if (!(q->fine > 0 && q->coarse >= q->fine && isfinite(q->coarse)))
    return message_set(msg, STATUS_BAD_INPUT, "grid spacing fine %g m, coarse %g m; needed 0 < fine <= coarse", q->fine, q->coarse);
  if (!(q->growth > 1 && isfinite(q->growth)))
    return message_set(msg, STATUS_BAD_INPUT, "grid growth %g; it must be above 1, e.g. 1.15", q->growth);
  if (!(q->fine_high >= q->fine_low && isfinite(q->fine_low) && isfinite(q->fine_high)))
    return message_set(msg, STATUS_BAD_INPUT, "the fine zone of a grid axis runs from %g to %g m; it must rise", q->fine_low,
                       q->fine_high);
  double last = q->low;
  for (size_t s = 0; s < q->num_stops; s++) {
    if (!(q->stops[s] > last && q->stops[s] < q->high))
      return message_set(msg, STATUS_BAD_INPUT, "grid stop %zu at %g m; stops must rise and lie between %g and %g m", s, q->stops[s],
                         q->low, q->high);
    last = q->stops[s];
  }
  if ((q->high - q->low) / q->fine > 1e8 && cells_at(q, q->high) - cells_at(q, q->low) > 1e7)
    return message_set(msg, STATUS_BAD_INPUT, "a grid axis of %g m at %g m spacing has more than 1e7 cells", q->high - q->low, q->fine);
  return STATUS_OK;
}

status grid_axis_build(const grid_axis_request *request, double **edges, size_t *num_cells, message *msg)
{
  const grid_axis_request *q = request;
  const status s = check_request(q, msg);
  if (s != STATUS_OK) return s;
  size_t num = 0;
  for (size_t part = 0; part <= q->num_stops; part++)
    num += cells_between(q, part == 0 ? q->low : q->stops[part - 1], part == q->num_stops ? q->high : q->stops[part]);
  double *e = malloc((num + 1) * sizeof *e);
  if (!e) return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for grid edges", (num + 1) * sizeof *e);
  size_t at = 0;
  for (size_t part = 0; part <= q->num_stops; part++) {
    const double low = part == 0 ? q->low : q->stops[part - 1], high = part == q->num_stops ? q->high : q->stops[part];
    const size_t n = cells_between(q, low, high);
    const double first = cells_at(q, low), span = cells_at(q, high) - first;
    const bool even = low >= q->fine_low && high <= q->fine_high;
    e[at] = low;
    for (size_t i = 1; i < n; i++) {
      const double share = (double)i / (double)n;
      e[at + i] = even ? low + (high - low) * share : position_of(q, low, high, first + span * share);
    }
    at += n;
  }
  e[at] = q->high;
  *edges = e;
  *num_cells = num;
  return STATUS_OK;
}
