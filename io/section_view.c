#include "io/section_view.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK = 8 }; /* samples that are tried together */

/* ------------------------------------------------------------------------------------------------ what is shown */

typedef struct { double low, high; bool any; } extent;

static void widen(extent *e, double low, double high)
{
  e->low = e->any ? fmin(e->low, low) : low;
  e->high = e->any ? fmax(e->high, high) : high;
  e->any = true;
}

/* The stretch of an axis in which any cell of the grid is painted, or holds water. */
static extent painted(const rig *r, const mesh *m, int axis, bool water_only)
{
  const grid *g = m->grid;
  extent e = {0};
  const size_t cells = grid_num_cells(g);
  for (size_t cell = 0; cell < cells; cell++) {
    double share = 0.0;
    for (size_t part = 0; part < r->num_parts; part++)
      if (!water_only || r->parts[part].kind == PART_WATER)
        share += (double)m->share[part * cells + cell];
    if (!(share > 0.0))
      continue;
    size_t ijk[3];
    grid_cell_indices(g, cell, ijk);
    widen(&e, g->edges[axis][ijk[axis]], g->edges[axis][ijk[axis] + 1]);
  }
  return e;
}

static double mirror_of(const grid *g, int axis)
{
  if (g->kind == GRID_RZ && axis == 0)
    return 0.0;
  return g->mirror[2 * axis] ? g->edges[axis][0] : NAN;
}

/* Painted cells with a margin of room, on both sides of a mirror. */
static bool frame_axis(extent e, double margin, double mirror, double *low, double *high)
{
  if (!e.any)
    return false;
  *high = e.high + margin;
  *low = isfinite(mirror) ? 2.0 * mirror - *high : e.low - margin;
  return true;
}

static bool frame_view(section_view *v, const rig *r, const mesh *m, bool water_only)
{
  const extent a = painted(r, m, v->across, water_only), b = painted(r, m, v->up, water_only);
  const double margin = 0.04 * fmax(a.high - a.low, b.high - b.low);
  return frame_axis(a, margin, v->mirror, &v->low[0], &v->high[0]) &&
         frame_axis(b, margin, v->mirror_up, &v->low[1], &v->high[1]);
}

/* ------------------------------------------------------------------------------------------------ samples and points */

static double back_from_mirror(double x, double mirror)
{
  return isfinite(mirror) && x < mirror ? 2.0 * mirror - x : x;
}

void section_view_point(const section_view *v, double column, double row, double point[3])
{
  const double x = v->low[0] + (column + 0.5) / (double)v->width * (v->high[0] - v->low[0]);
  const double y = v->high[1] - (row + 0.5) / (double)v->height * (v->high[1] - v->low[1]);
  memcpy(point, v->at, 3 * sizeof *point);
  point[v->across] = back_from_mirror(x, v->mirror);
  point[v->up] = back_from_mirror(y, v->mirror_up);
}

bool section_view_sample(const section_view *v, const double point[3], bool mirrored, double *column, double *row)
{
  const int third = 3 - v->across - v->up;
  double x = point[v->across];
  if (!v->revolved && fabs(point[third] - v->at[third]) > 0.02 * fmax(v->high[0] - v->low[0], v->high[1] - v->low[1]))
    return false;
  if (mirrored && isfinite(v->mirror))
    x = 2.0 * v->mirror - x;
  *column = (x - v->low[0]) / (v->high[0] - v->low[0]) * (double)v->width - 0.5;
  *row = (v->high[1] - point[v->up]) / (v->high[1] - v->low[1]) * (double)v->height - 0.5;
  return *column >= -0.5 && *row >= -0.5 && *column <= (double)v->width - 0.5 && *row <= (double)v->height - 0.5;
}

/* ------------------------------------------------------------------------------------------------ parts */

static bool in_grid(const grid *g, const double point[3])
{
  size_t cell;
  return grid_find(g, point, &cell);
}

static int16_t part_at(const rig *r, const double point[3], const int *candidates, size_t num)
{
  int16_t part = MESH_VOID;
  for (size_t i = 0; i < num; i++)
    if (shape_distance(r->parts[candidates[i]].region, point) < 0.0)
      part = (int16_t)candidates[i];
  return part;
}

/* One block of samples: a distance is never larger than the true one, so a part farther from the block's middle than its half
 * diagonal covers all of it or none; only the others are asked at each sample. */
static void paint_block(section_view *v, const rig *r, const mesh *m, size_t column, size_t row, int *candidates)
{
  const size_t columns = column + BLOCK < v->width ? BLOCK : v->width - column;
  const size_t rows = row + BLOCK < v->height ? BLOCK : v->height - row;
  const double dx = (v->high[0] - v->low[0]) / (double)v->width, dy = (v->high[1] - v->low[1]) / (double)v->height;
  const double reach = 0.51 * BLOCK * hypot(dx, dy);
  double middle[3];
  section_view_point(v, (double)column + 0.5 * (BLOCK - 1), (double)row + 0.5 * (BLOCK - 1), middle);
  size_t num = 0;
  for (size_t part = 0; part < r->num_parts; part++) {
    const double distance = shape_distance(r->parts[part].region, middle);
    if (distance > reach)
      continue;
    candidates[num++] = (int)part;
  }
  for (size_t j = row; j < row + rows; j++)
    for (size_t i = column; i < column + columns; i++) {
      double point[3];
      section_view_point(v, (double)i, (double)j, point);
      v->part[j * v->width + i] = in_grid(m->grid, point) ? part_at(r, point, candidates, num) : MESH_VOID;
    }
}

static status paint(section_view *v, const rig *r, const mesh *m)
{
  bool failed = false;
  const ptrdiff_t num_rows = (ptrdiff_t)((v->height + BLOCK - 1) / BLOCK);
#pragma omp parallel for schedule(dynamic, 4) reduction(|| : failed)
  for (ptrdiff_t block = 0; block < num_rows; block++) {
    int *candidates = malloc((r->num_parts + 1) * sizeof *candidates);
    if (!candidates) {
      failed = true;
      continue;
    }
    for (size_t column = 0; column < v->width; column += BLOCK)
      paint_block(v, r, m, column, (size_t)block * BLOCK, candidates);
    free(candidates);
  }
  return failed ? STATUS_NO_MEMORY : STATUS_OK;
}

status section_view_create(section_view **out, const rig *r, const mesh *m, const section_view_request *want, message *msg)
{
  section_view *v = calloc(1, sizeof *v);
  if (!v)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a section", sizeof *v);
  status code = STATUS_OK;
  *v = (section_view){.across = want->across, .up = want->up, .at = {want->at[0], want->at[1], want->at[2]},
                      .mirror = mirror_of(m->grid, want->across), .mirror_up = mirror_of(m->grid, want->up),
                      .revolved = m->grid->kind == GRID_RZ};
  if (!frame_view(v, r, m, want->water_only)) {
    code = message_set(msg, STATUS_BAD_INPUT, "nothing to draw: no %s lies inside the grid", want->water_only ? "water" : "part");
    goto done;
  }
  const double wide = v->high[0] - v->low[0], tall = v->high[1] - v->low[1];
  const double sample = fmax(wide / (double)want->most_width, tall / (double)want->most_height);
  v->width = (size_t)fmax(2.0, wide / sample);
  v->height = (size_t)fmax(2.0, tall / sample);
  v->part = malloc(v->width * v->height * sizeof *v->part);
  if (!v->part || paint(v, r, m) != STATUS_OK)
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a section of %zu x %zu samples",
                       v->width * v->height * sizeof *v->part, v->width, v->height);
done:
  if (code == STATUS_OK)
    *out = v;
  else
    section_view_destroy(&v);
  return code;
}

void section_view_destroy(section_view **v)
{
  if (!*v)
    return;
  free((*v)->part);
  free(*v);
  *v = NULL;
}

/* ------------------------------------------------------------------------------------------------ fields */

/* Values at the cell centres of the plane, one part at a time. */
typedef struct {
  const grid *g;
  int across, up;
  size_t num[2];
  size_t fixed; /* index of the plane's cell layer on the third axis */
  int third;
  double *centre[2];
  double *value; /* [num[1] * num[0]], NAN: unknown */
  bool *own;     /* value is a node's own, not continued */
} lattice;

static size_t lattice_cell(const lattice *l, size_t a, size_t b)
{
  size_t ijk[3];
  ijk[l->across] = a;
  ijk[l->up] = b;
  ijk[l->third] = l->fixed;
  return grid_cell(l->g, ijk[0], ijk[1], ijk[2]);
}

static void lattice_release(lattice *l)
{
  free(l->centre[0]);
  free(l->centre[1]);
  free(l->value);
  free(l->own);
}

static double *centres(const grid *g, int axis, size_t num)
{
  double *c = malloc(num * sizeof *c);
  for (size_t i = 0; c && i < num; i++)
    c[i] = 0.5 * (g->edges[axis][i] + g->edges[axis][i + 1]);
  return c;
}

static status lattice_init(lattice *l, const section_view *v, const mesh *m)
{
  const grid *g = m->grid;
  *l = (lattice){.g = g, .across = v->across, .up = v->up, .third = 3 - v->across - v->up};
  l->num[0] = g->num[v->across];
  l->num[1] = g->num[v->up];
  if (g->kind == GRID_XYZ)
    while (l->fixed + 1 < g->num[l->third] && v->at[l->third] >= g->edges[l->third][l->fixed + 1])
      l->fixed++;
  l->centre[0] = centres(g, v->across, l->num[0]);
  l->centre[1] = centres(g, v->up, l->num[1]);
  l->value = malloc(l->num[0] * l->num[1] * sizeof *l->value);
  l->own = malloc(l->num[0] * l->num[1] * sizeof *l->own);
  if (l->centre[0] && l->centre[1] && l->value && l->own)
    return STATUS_OK;
  lattice_release(l);
  return STATUS_NO_MEMORY;
}

typedef struct { double low, high; } bounds;

/* The part's own values, and their range. */
static bounds gather(lattice *l, const mesh *m, const double *node_values, int32_t part)
{
  bounds range = {INFINITY, -INFINITY};
  const size_t cells = grid_num_cells(l->g);
  for (size_t b = 0; b < l->num[1]; b++)
    for (size_t a = 0; a < l->num[0]; a++) {
      const size_t at = b * l->num[0] + a, cell = lattice_cell(l, a, b);
      const int32_t node = m->share[(size_t)part * cells + cell] > 0.0f ? mesh_find_node(m, cell, part) : MESH_NONE;
      l->value[at] = node != MESH_NONE ? node_values[node] : NAN;
      l->own[at] = isfinite(l->value[at]);
      if (l->own[at]) {
        range.low = fmin(range.low, l->value[at]);
        range.high = fmax(range.high, l->value[at]);
      }
    }
  return range;
}

/* What a step of one cell outward along an axis would find: flat, or with the slope of the last two cells. */
static bool continue_from(const lattice *l, size_t a, size_t b, int axis, int step, bool sloped, double *value)
{
  const ptrdiff_t stride = axis == 0 ? 1 : (ptrdiff_t)l->num[0];
  const ptrdiff_t place = axis == 0 ? (ptrdiff_t)a : (ptrdiff_t)b, num = (ptrdiff_t)l->num[axis];
  const ptrdiff_t at = (ptrdiff_t)(b * l->num[0] + a);
  if (place + step < 0 || place + step >= num || !l->own[at + step * stride])
    return false;
  const double near = l->value[at + step * stride];
  *value = near;
  if (sloped && place + 2 * step >= 0 && place + 2 * step < num && l->own[at + 2 * step * stride]) {
    const double *x = l->centre[axis];
    const double far = l->value[at + 2 * step * stride];
    *value = near + (near - far) * (x[place] - x[place + step]) / (x[place + step] - x[place + 2 * step]);
  }
  return true;
}

/* One ring of cells beyond the part's own gets the mean of what its neighbours lead to, so that samples between the outermost cell
 * centres and the wall have four corners. */
static void continue_outward(lattice *l, bool sloped, bounds range)
{
  for (int pass = 0; pass < 2; pass++) {
    for (size_t b = 0; b < l->num[1]; b++)
      for (size_t a = 0; a < l->num[0]; a++) {
        double sum = 0.0, value;
        int num = 0;
        if (isfinite(l->value[b * l->num[0] + a]))
          continue;
        for (int axis = 0; axis < 2; axis++)
          for (int step = -1; step <= 1; step += 2)
            if (continue_from(l, a, b, axis, step, sloped, &value)) {
              sum += value;
              num++;
            }
        if (num)
          l->value[b * l->num[0] + a] = fmin(fmax(sum / num, range.low), range.high);
      }
    for (size_t i = 0; i < l->num[0] * l->num[1]; i++)
      l->own[i] = isfinite(l->value[i]);
    sloped = false; /* the second ring (corners of cut cells) is flat */
  }
}

/* Index of the centre at or below x, and the share of the way to the next; outside, the end. */
static size_t bracket(const double *centre, size_t num, double x, double *share)
{
  size_t low = 0, high = num - 1;
  *share = 0.0;
  if (x <= centre[0])
    return 0;
  if (x >= centre[high])
    return high;
  while (high - low > 1) {
    const size_t half = (low + high) / 2;
    if (centre[half] <= x)
      low = half;
    else
      high = half;
  }
  *share = (x - centre[low]) / (centre[low + 1] - centre[low]);
  return low;
}

/* Bilinear; corners without a value drop out and the others share their weight. */
static double blended(const lattice *l, double x, double y)
{
  double s[2];
  const size_t a = bracket(l->centre[0], l->num[0], x, &s[0]), b = bracket(l->centre[1], l->num[1], y, &s[1]);
  double sum = 0.0, weight = 0.0;
  for (size_t corner = 0; corner < 4; corner++) {
    const size_t da = corner % 2, db = corner / 2;
    const double w = (da ? s[0] : 1.0 - s[0]) * (db ? s[1] : 1.0 - s[1]);
    if (!(w > 0.0))
      continue;
    const double value = l->value[(b + db) * l->num[0] + a + da];
    if (isfinite(value)) {
      sum += w * value;
      weight += w;
    }
  }
  return weight > 0.0 ? sum / weight : NAN;
}

/* A cell that holds a node of the part whose value is not finite (not frozen, say) stays blank, whatever its neighbours are. */
static double own_value(const section_view *v, const mesh *m, const double *node_values, const double point[3], int32_t part)
{
  size_t cell;
  double in_plane[3] = {point[0], point[1], point[2]};
  if (v->revolved)
    in_plane[1] = 0.0;
  if (!grid_find(m->grid, in_plane, &cell))
    return NAN;
  const int32_t node = mesh_find_node(m, cell, part);
  return node == MESH_NONE ? INFINITY : node_values[node]; /* INFINITY: no node here, its neighbours may speak */
}

static bool has_nodes(const rig_part *part) { return part->kind != PART_HELD; }

status section_view_field(const section_view *v, const rig *r, const mesh *m, const double *node_values, section_blend blend,
                          float *field, message *msg)
{
  lattice l;
  if (lattice_init(&l, v, m) != STATUS_OK)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the section of a field");
  const ptrdiff_t num = (ptrdiff_t)(v->width * v->height);
  for (ptrdiff_t i = 0; i < num; i++)
    field[i] = NAN;
  for (size_t part = 0; part < r->num_parts; part++) {
    if (!has_nodes(&r->parts[part]))
      continue;
    const bounds range = gather(&l, m, node_values, (int32_t)part);
    if (!(range.low <= range.high))
      continue;
    if (blend != SECTION_FLAT)
      continue_outward(&l, blend == SECTION_SLOPED, range);
#pragma omp parallel for schedule(static)
    for (ptrdiff_t i = 0; i < num; i++) {
      if (v->part[i] != (int16_t)part)
        continue;
      double point[3];
      section_view_point(v, (double)((size_t)i % v->width), (double)((size_t)i / v->width), point);
      const double own = own_value(v, m, node_values, point, (int32_t)part);
      if (isnan(own))
        continue;
      field[i] = (float)(blend == SECTION_FLAT && isfinite(own) ? own : blended(&l, point[v->across], point[v->up]));
    }
  }
  lattice_release(&l);
  return STATUS_OK;
}
