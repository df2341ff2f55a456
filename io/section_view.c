#include "io/section_view.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BLOCK = 64, SMALLEST = 4, SIZES = 5 }; /* samples on a side that are tried together: 64, 32, 16, 8, 4 */

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

/* For each column or row of samples: its coordinate in the rig, mirrored back, and the grid cell there, -1 outside. */
typedef struct { double *x; int32_t *cell; } ruler;

static void ruler_release(ruler *ru)
{
  free(ru->x);
  free(ru->cell);
}

static status ruler_init(ruler *ru, const section_view *v, const grid *g, bool upward)
{
  const int axis = upward ? v->up : v->across;
  const size_t num = upward ? v->height : v->width, cells = g->num[axis];
  const double *edges = g->edges[axis];
  *ru = (ruler){malloc(num * sizeof *ru->x), malloc(num * sizeof *ru->cell)};
  if (!ru->x || !ru->cell) {
    ruler_release(ru);
    *ru = (ruler){0};
    return STATUS_NO_MEMORY;
  }
  for (size_t i = 0; i < num; i++) {
    double point[3];
    section_view_point(v, upward ? 0.0 : (double)i, upward ? (double)i : 0.0, point);
    const double x = ru->x[i] = point[axis];
    size_t low = 0, high = cells;
    while (high - low > 1) {
      const size_t half = (low + high) / 2;
      if (edges[half] <= x)
        low = half;
      else
        high = half;
    }
    ru->cell[i] = x < edges[0] || x > edges[cells] ? -1 : (int32_t)low;
  }
  return STATUS_OK;
}

/* A square of samples, cut off at the picture's right and lower edges. */
typedef struct { size_t column, row, side; } square;

/* What a square may show: the one part that covers all of it, MESH_VOID where there is none, and the parts painted over that whose
 * outline may pass through it. */
typedef struct {
  int16_t under;
  const int *over; /* [num] in the order of painting */
  size_t num;
} choice;

static int16_t part_at(const rig *r, const double point[3], const choice *among)
{
  for (size_t i = among->num; i > 0; i--)
    if (shape_distance(r->parts[among->over[i - 1]].region, point) < 0.0)
      return (int16_t)among->over[i - 1];
  return among->under;
}

/* Narrows a choice to one square; room: [choice.num]. A distance is never larger than the true one, so a part farther from the square's
 * middle than its half diagonal covers all of it or none. */
static choice narrowed(const section_view *v, const rig *r, const choice *from, square at, int *room)
{
  const double dx = (v->high[0] - v->low[0]) / (double)v->width, dy = (v->high[1] - v->low[1]) / (double)v->height;
  const double reach = 0.51 * (double)at.side * hypot(dx, dy);
  int16_t under = from->under;
  size_t kept = from->num;
  double middle[3];
  section_view_point(v, (double)at.column + 0.5 * (double)(at.side - 1), (double)at.row + 0.5 * (double)(at.side - 1), middle);
  for (size_t i = from->num; i > 0; i--) { /* from the last painted: what lies under a part that covers all is not asked */
    const double distance = shape_distance(r->parts[from->over[i - 1]].region, middle);
    if (distance < -reach) {
      under = (int16_t)from->over[i - 1];
      break;
    }
    if (distance <= reach)
      room[--kept] = from->over[i - 1];
  }
  return (choice){under, room + kept, from->num - kept};
}

/* room: [num_parts] for this square and again for each size below it. */
static void paint_square(section_view *v, const rig *r, const ruler rulers[2], const choice *from, square at, int *room)
{
  const choice here = narrowed(v, r, from, at, room);
  const size_t half = at.side / 2;
  if (here.num > 0 && at.side > SMALLEST) {
    for (size_t k = 0; k < 4; k++) {
      const square quarter = {at.column + (k % 2) * half, at.row + (k / 2) * half, half};
      if (quarter.column < v->width && quarter.row < v->height)
        paint_square(v, r, rulers, &here, quarter, room + r->num_parts);
    }
    return;
  }
  for (size_t j = at.row; j < at.row + at.side && j < v->height; j++)
    for (size_t i = at.column; i < at.column + at.side && i < v->width; i++) {
      double point[3];
      const bool in_grid = rulers[0].cell[i] >= 0 && rulers[1].cell[j] >= 0;
      if (here.num > 0 && in_grid)
        section_view_point(v, (double)i, (double)j, point);
      v->part[j * v->width + i] = !in_grid ? MESH_VOID : here.num > 0 ? part_at(r, point, &here) : here.under;
    }
}

/* Both rulers of a view, or neither. */
static status rulers_init(ruler rulers[2], const section_view *v, const grid *g)
{
  if (ruler_init(&rulers[0], v, g, false) != STATUS_OK)
    return STATUS_NO_MEMORY;
  if (ruler_init(&rulers[1], v, g, true) == STATUS_OK)
    return STATUS_OK;
  ruler_release(&rulers[0]);
  rulers[0] = (ruler){0};
  return STATUS_NO_MEMORY;
}

static status paint(section_view *v, const rig *r, const ruler rulers[2])
{
  bool failed = false;
  const ptrdiff_t num_rows = (ptrdiff_t)((v->height + BLOCK - 1) / BLOCK);
#pragma omp parallel for schedule(dynamic) reduction(|| : failed)
  for (ptrdiff_t block = 0; block < num_rows; block++) {
    int *room = malloc((SIZES + 1) * r->num_parts * sizeof *room); /* all parts, then what each size keeps of them */
    if (!room) {
      failed = true;
      continue;
    }
    for (size_t part = 0; part < r->num_parts; part++)
      room[part] = (int)part;
    const choice all = {MESH_VOID, room, r->num_parts};
    for (size_t column = 0; column < v->width; column += BLOCK)
      paint_square(v, r, rulers, &all, (square){column, (size_t)block * BLOCK, BLOCK}, room + r->num_parts);
    free(room);
  }
  return failed ? STATUS_NO_MEMORY : STATUS_OK;
}

static status paint_all(section_view *v, const rig *r, const grid *g)
{
  ruler rulers[2];
  if (rulers_init(rulers, v, g) != STATUS_OK)
    return STATUS_NO_MEMORY;
  const status code = paint(v, r, rulers);
  ruler_release(&rulers[0]);
  ruler_release(&rulers[1]);
  return code;
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
  if (!v->part || paint_all(v, r, m->grid) != STATUS_OK)
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
  *l = (lattice){0};
  return STATUS_NO_MEMORY;
}

typedef struct { double low, high; } bounds;

static bool own_node(const mesh *m, size_t cell, int32_t part, int32_t *node)
{
  *node = m->share[(size_t)part * grid_num_cells(m->grid) + cell] > 0.0f ? mesh_find_node(m, cell, part) : MESH_NONE;
  return *node != MESH_NONE && m->cell[*node] == (int32_t)cell; /* not a sliver that a neighbour took over */
}

/* How much a value changes along one axis of the plane from the node's centroid to the cell's centre, by the slope from its
 * neighbours: nodes of cut cells lie off the centre. */
static double shift_to_centre(const lattice *l, const mesh *m, const double *node_values, int32_t part, size_t a, size_t b, int32_t node,
                              int axis)
{
  const int grid_axis = axis == 0 ? l->across : l->up;
  const size_t place = axis == 0 ? a : b;
  const double off = l->centre[axis][place] - m->centroid[node][grid_axis];
  const double width = l->g->edges[grid_axis][place + 1] - l->g->edges[grid_axis][place];
  if (fabs(off) < 1e-6 * width)
    return 0.0;
  double x[2] = {m->centroid[node][grid_axis], m->centroid[node][grid_axis]}, v[2] = {node_values[node], node_values[node]};
  for (int side = 0; side < 2; side++) {
    int32_t other;
    if (side == 0 ? place == 0 : place + 1 >= l->num[axis])
      continue;
    const size_t step = side == 0 ? (size_t)-1 : 1;
    const size_t cell = axis == 0 ? lattice_cell(l, a + step, b) : lattice_cell(l, a, b + step);
    if (own_node(m, cell, part, &other) && isfinite(node_values[other])) {
      x[side] = m->centroid[other][grid_axis];
      v[side] = node_values[other];
    }
  }
  return x[1] - x[0] > 0.1 * width ? off * (v[1] - v[0]) / (x[1] - x[0]) : 0.0;
}

/* The part's own values, moved to the cell centres, and their range at the nodes. */
static bounds gather(lattice *l, const mesh *m, const double *node_values, int32_t part)
{
  bounds range = {INFINITY, -INFINITY};
  for (size_t b = 0; b < l->num[1]; b++)
    for (size_t a = 0; a < l->num[0]; a++) {
      const size_t at = b * l->num[0] + a;
      int32_t node;
      l->value[at] = own_node(m, lattice_cell(l, a, b), part, &node) ? node_values[node] : NAN;
      l->own[at] = isfinite(l->value[at]);
      if (!l->own[at])
        continue;
      range.low = fmin(range.low, l->value[at]);
      range.high = fmax(range.high, l->value[at]);
      for (int axis = 0; axis < 2; axis++)
        l->value[at] += shift_to_centre(l, m, node_values, part, a, b, node, axis);
    }
  for (size_t at = 0; at < l->num[0] * l->num[1]; at++) /* never beyond what the nodes hold */
    if (l->own[at])
      l->value[at] = fmin(fmax(l->value[at], range.low), range.high);
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

/* Where the samples of one ruler lie between the lattice's centres. */
typedef struct { int32_t *low; double *share; } brackets;

static void brackets_release(brackets *k)
{
  free(k->low);
  free(k->share);
}

static status brackets_init(brackets *k, const ruler *ru, size_t num, const double *centre, size_t num_centres)
{
  *k = (brackets){malloc(num * sizeof *k->low), malloc(num * sizeof *k->share)};
  if (!k->low || !k->share) {
    brackets_release(k);
    *k = (brackets){0};
    return STATUS_NO_MEMORY;
  }
  for (size_t i = 0; i < num; i++)
    k->low[i] = (int32_t)bracket(centre, num_centres, ru->x[i], &k->share[i]);
  return STATUS_OK;
}

/* Bilinear; corners without a value drop out and the others share their weight. */
static double blended(const lattice *l, size_t a, double share_a, size_t b, double share_b)
{
  double sum = 0.0, weight = 0.0;
  for (size_t corner = 0; corner < 4; corner++) {
    const size_t da = corner % 2, db = corner / 2;
    const double w = (da ? share_a : 1.0 - share_a) * (db ? share_b : 1.0 - share_b);
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

static bool has_nodes(const rig_part *part) { return part->kind != PART_HELD; }

/* What the loop over samples reads. */
typedef struct { lattice l; ruler rulers[2]; brackets between[2]; } sampling;

static void sampling_release(sampling *s)
{
  for (int k = 0; k < 2; k++) {
    ruler_release(&s->rulers[k]);
    brackets_release(&s->between[k]);
  }
  lattice_release(&s->l);
}

static status sampling_init(sampling *s, const section_view *v, const mesh *m)
{
  *s = (sampling){0};
  if (lattice_init(&s->l, v, m) != STATUS_OK || rulers_init(s->rulers, v, m->grid) != STATUS_OK)
    return STATUS_NO_MEMORY;
  for (int k = 0; k < 2; k++)
    if (brackets_init(&s->between[k], &s->rulers[k], k ? v->height : v->width, s->l.centre[k], s->l.num[k]) != STATUS_OK)
      return STATUS_NO_MEMORY;
  return STATUS_OK;
}

/* One row of samples of one part. A cell that holds a node of the part without a value (not frozen, say) stays blank, whatever its
 * neighbours are; where the cell holds no node of the part, they speak. */
static void sample_row(const sampling *s, const section_view *v, const mesh *m, const double *node_values, int16_t part,
                       section_blend blend, size_t row, float *field)
{
  const int16_t *parts = v->part + row * v->width;
  for (size_t i = 0; i < v->width; i++) {
    if (parts[i] != part)
      continue;
    const size_t cell = lattice_cell(&s->l, (size_t)s->rulers[0].cell[i], (size_t)s->rulers[1].cell[row]);
    const int32_t node = mesh_find_node(m, cell, part);
    if (node != MESH_NONE && !isfinite(node_values[node]))
      continue;
    field[row * v->width + i] = (float)(node != MESH_NONE && blend == SECTION_FLAT
                                            ? node_values[node]
                                            : blended(&s->l, (size_t)s->between[0].low[i], s->between[0].share[i],
                                                      (size_t)s->between[1].low[row], s->between[1].share[row]));
  }
}

status section_view_field(const section_view *v, const rig *r, const mesh *m, const double *node_values, section_blend blend,
                          float *field, message *msg)
{
  sampling s;
  const status code = sampling_init(&s, v, m);
  const ptrdiff_t num_rows = code == STATUS_OK ? (ptrdiff_t)v->height : 0;
  for (size_t i = 0; i < v->width * v->height; i++)
    field[i] = NAN;
  for (size_t part = 0; code == STATUS_OK && part < r->num_parts; part++) {
    if (!has_nodes(&r->parts[part]))
      continue;
    const bounds range = gather(&s.l, m, node_values, (int32_t)part);
    if (!(range.low <= range.high))
      continue;
    if (blend != SECTION_FLAT)
      continue_outward(&s.l, blend == SECTION_SLOPED, range);
#pragma omp parallel for schedule(static)
    for (ptrdiff_t row = 0; row < num_rows; row++)
      sample_row(&s, v, m, node_values, (int16_t)part, blend, (size_t)row, field);
  }
  sampling_release(&s);
  return code == STATUS_OK ? code : message_set(msg, code, "out of memory for the section of a field");
}
