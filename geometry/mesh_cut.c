#include "geometry/mesh_cut_parts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Sub-cells in which a distance is far from linear (an edge of a shape) are halved: a chamfer costs area in proportion to its size.
 * In GRID_RZ MESH_CUT_MOST_HALVINGS times, in GRID_XYZ 3 times. */
static const double kink_fraction = 0.02;
/* Fractions of a cell: closer than the first is on the surface; and of a sub-cell: how far beside a surface one looks for what is there.
 * The first is well below the last. */
static const double snap_fraction = 1e-6, step_fraction = 1e-4, look_fraction = 1e-3;
/* Of the width of a sub-cell: within this fields are linear throughout the cell, all surfaces in it flat, and it need not be divided. */
static const double flat_fraction = 1e-9;

mesh_cut_work *mesh_cut_work_create(const mesh_cut_request *q)
{
  mesh_cut_work *w = calloc(1, sizeof *w);
  if (!w) return NULL;
  w->q = *q;
  w->dim = q->g->kind == GRID_RZ ? 2 : 3;
  w->axes[1] = w->dim == 2 ? 2 : 1;
  w->axes[2] = 2;
  size_t corners = 1;
  for (int d = 0; d < w->dim; d++) corners *= (size_t)q->samples + 1;
  w->field = malloc(corners * SIMPLEX_MAX_FIELDS * sizeof *w->field);
  if (!w->field) mesh_cut_work_destroy(&w);
  return w;
}

void mesh_cut_work_destroy(mesh_cut_work **work)
{
  if (!*work) return;
  free((*work)->field);
  free(*work);
  *work = NULL;
}

/* ---- sub-cells --------------------------------------------------------------------------------------- */

/* A box of the cell that is treated as a whole: corners by bits, 1 high x, 2 high y, 4 high z (by half of them in GRID_RZ). */
typedef struct {
  int at[3], size, halvings; /* its low corner and width in places of the cell; how often it was halved */
  int num;
  int bits[8];
  mesh_cut_corner corner[8];
  double *field[8];
} subcell;

static double corner_place(const mesh_cut_work *w, int axis, int at)
{
  const int n = w->q.samples << MESH_CUT_MOST_HALVINGS;
  if (at == n) return w->high[axis];
  return w->low[axis] + (w->high[axis] - w->low[axis]) * at / n;
}

/* Values of the fields at a place, those next to a surface set on it. */
static void place_fields(const mesh_cut_work *w, const int at[3], double *f)
{
  const double x[3] = {corner_place(w, 0, at[0]), w->dim == 2 ? 0 : corner_place(w, 1, at[1]), corner_place(w, 2, at[2])};
  mesh_layers_fields(w->near, x, w->step, f);
  for (int q = 0; q < w->near->num_fields; q++)
    if (fabs(f[q]) <= w->eps) f[q] = 0;
}

static double *corner_field(const mesh_cut_work *w, const int at[3])
{
  const int n = w->q.samples + 1, i = at[0] >> MESH_CUT_MOST_HALVINGS, j = at[1] >> MESH_CUT_MOST_HALVINGS, k = at[2] >> MESH_CUT_MOST_HALVINGS;
  return w->field + (size_t)(w->dim == 2 ? k * n + i : (k * n + j) * n + i) * SIMPLEX_MAX_FIELDS;
}

static void fill_corner_fields(mesh_cut_work *w)
{
  const int n = w->q.samples, one = 1 << MESH_CUT_MOST_HALVINGS;
  for (int k = 0; k <= n; k++)
    for (int j = 0; j <= (w->dim == 2 ? 0 : n); j++)
      for (int i = 0; i <= n; i++) {
        const int at[3] = {i * one, j * one, k * one};
        place_fields(w, at, corner_field(w, at));
      }
}

static void set_corners(const mesh_cut_work *w, subcell *b)
{
  const int size = b->size;
  b->num = 0;
  for (int bits = 0; bits < 8; bits++) {
    if (w->dim == 2 && (bits & 2)) continue;
    b->bits[b->num] = bits;
    b->corner[b->num++] = (mesh_cut_corner){{b->at[0] + (bits & 1) * size, b->at[1] + (bits >> 1 & 1) * size, b->at[2] + (bits >> 2 & 1) * size}};
  }
}

/* The slot whose part has all of a box, by its corners; -1 when a surface may run through it. */
static int slot_of_whole(const mesh_cut_work *w, const subcell *b)
{
  for (int level = w->near->num_active - 1; level >= 0; level--) {
    const mesh_layers_active *l = &w->near->active[level];
    bool inside = true, outside = false;
    for (int q = l->first; q < l->first + l->num; q++) {
      bool above = true;
      for (int c = 0; c < b->num; c++) {
        const double f = b->field[c][q];
        if (!(f > 0)) above = false;
        if (!(f < 0)) inside = false;
      }
      outside = outside || above;
    }
    if (inside) return level + 1;
    if (!outside) return -1;
  }
  return 0;
}

/* A surface may run through the box, and its field is far from linear there: the value in the middle is not the mean of the
 * corners'. (A tip may enter without reaching a corner.) */
static bool has_kink(const mesh_cut_work *w, const subcell *b, int half)
{
  double middle[SIMPLEX_MAX_FIELDS], width = INFINITY, diagonal = 0;
  bool known = false;
  for (int d = 0; d < w->dim; d++) {
    const double x = corner_place(w, w->axes[d], b->at[w->axes[d]] + 2 * half) - corner_place(w, w->axes[d], b->at[w->axes[d]]);
    if (x < width) width = x;
    diagonal += x * x;
  }
  diagonal = sqrt(diagonal);
  for (int q = 0; q < w->near->num_fields; q++) {
    double mean = 0, nearest = INFINITY;
    for (int c = 0; c < b->num; c++) {
      mean += b->field[c][q] / b->num;
      if (fabs(b->field[c][q]) < nearest) nearest = fabs(b->field[c][q]);
    }
    if (nearest > diagonal) continue;
    if (!known) place_fields(w, (int[3]){b->at[0] + half, b->at[1] + half, b->at[2] + half}, middle);
    known = true;
    if (fabs(middle[q]) < 0.499 * diagonal && fabs(middle[q] - mean) > kink_fraction * width) return true;
  }
  return false;
}

static void add_whole_subcell(mesh_cut_work *w, int slot, const subcell *b)
{
  const int size = b->size, end = w->q.samples << MESH_CUT_MOST_HALVINGS;
  double low[3] = {0, 0, 0}, high[3] = {0, 0, 0};
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    low[a] = corner_place(w, a, b->at[a]);
    high[a] = corner_place(w, a, b->at[a] + size);
  }
  const mesh_cut_measure m = mesh_cut_measure_of_box(w, low, high);
  mesh_cut_piece *p = &w->slot[slot];
  p->volume += m.full;
  p->weight += m.plain;
  for (int a = 0; a < 3; a++) p->moment[a] += m.plain_moment[a];
  for (int d = 0; d < w->dim; d++)
    for (int side = 0; side < 2; side++) {
      const int a = w->axes[d];
      if (side == 0 ? b->at[a] != 0 : b->at[a] + size != end) continue;
      double l[3] = {low[0], low[1], low[2]}, h[3] = {high[0], high[1], high[2]};
      if (side == 0) h[a] = low[a];
      else l[a] = high[a];
      const mesh_cut_measure f = mesh_cut_measure_of_box(w, l, h);
      mesh_cut_facets_face(w, slot, a, side, &f);
    }
}

/* A cell's place along an axis, counted from the mirror plane or else from the middle of the grid; only whether it is even matters. */
static size_t place_from_middle(const grid *g, int axis, size_t i)
{
  const size_t cells = g->num[axis];
  if (g->kind == GRID_RZ || g->mirror[2 * axis]) return i;
  return i + (g->mirror[2 * axis + 1] ? cells : cells / 2);
}

/* Neighbouring boxes are divided as each other's mirror image, down to the order of the corners in a simplex (by which a piece of four corners is
 * divided): so a symmetric rig is cut alike on both sides, and half of it as the whole. */
static void add_simplices(mesh_cut_work *w, const subcell *b)
{
  static const int triangles[2][4] = {{0, 1, 5, 0}, {0, 4, 5, 0}};
  static const int tetrahedra[5][4] = {{0, 3, 5, 6}, {1, 0, 3, 5}, {2, 0, 3, 6}, {4, 0, 5, 6}, {7, 3, 5, 6}};
  int turned = 0; /* corners count from the other end along these axes */
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    const size_t place = place_from_middle(w->q.g, a, w->ijk[a]) * (size_t)((w->q.samples << MESH_CUT_MOST_HALVINGS) / b->size) + (size_t)(b->at[a] / b->size);
    turned |= (int)(place & 1) << a;
  }
  w->touch = (1 << w->dim) * kink_fraction * w->width / (1 << b->halvings);
  const int(*table)[4] = w->dim == 3 ? tetrahedra : triangles;
  for (int t = 0; t < (w->dim == 3 ? 5 : 2); t++) {
    simplex s;
    mesh_cut_corner c[4];
    s.k = w->dim;
    for (int v = 0; v <= w->dim; v++) {
      const int bits = table[t][v] ^ turned, at = w->dim == 3 ? bits : (bits >> 1 & 2) | (bits & 1);
      c[v] = b->corner[at];
      s.v[v].x[1] = 0;
      for (int d = 0; d < w->dim; d++) s.v[v].x[w->axes[d]] = corner_place(w, w->axes[d], c[v].at[w->axes[d]]);
      memcpy(s.v[v].f, b->field[at], (size_t)w->near->num_fields * sizeof(double));
    }
    mesh_cut_simplices_add(w, &s, c);
  }
}

/* A thin wall that has all of a box may still end with the grid: its rim's field is zero there but for rounding. */
static bool may_end_here(const mesh_cut_work *w, int slot, const subcell *b)
{
  const int end = w->q.samples << MESH_CUT_MOST_HALVINGS;
  if (!mesh_cut_facets_is_wall(w, w->slot[slot].part)) return false;
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    if (b->at[a] == 0 && mesh_cut_facets_border(w->q.g, w->ijk, a, 0)) return true;
    if (b->at[a] + b->size == end && mesh_cut_facets_border(w->q.g, w->ijk, a, 1)) return true;
  }
  return false;
}

/* A field that crosses zero on a side of the box and hardly differs from zero all over it: a surface that runs along the side a little way off, and
 * ends or turns there. What is beside the box takes its own measure of that; so both must see where. (A box drawn a thousandth of a cell or less off
 * the grid's planes lost 0.9 to 1.5 % of the inner area of its wall, half a sub-cell along the edges.) */
static bool side_has_kink(const mesh_cut_work *w, const subcell *b, int half, int axis, int side)
{
  static const double askew = 0.1; /* of the box: how far off in its side the zero may lie */
  double middle[SIMPLEX_MAX_FIELDS];
  bool known = false;
  for (int q = 0; q < w->near->num_fields; q++) {
    double mean = 0, low = INFINITY, high = -INFINITY;
    for (int c = 0; c < b->num; c++) {
      if ((b->bits[c] >> axis & 1) != side) continue;
      const double f = b->field[c][q];
      mean += 2 * f / b->num;
      if (f < low) low = f;
      if (f > high) high = f;
    }
    if (!(low <= 0 && high > 0) || high - low > kink_fraction / askew * w->width / (1 << b->halvings)) continue;
    int at[3] = {b->at[0] + half, b->at[1] + half, b->at[2] + half};
    at[axis] = b->at[axis] + 2 * half * side;
    if (!known) place_fields(w, at, middle);
    known = true;
    if (fabs(middle[q] - mean) > askew * (high - low)) return true;
  }
  return false;
}

static bool any_side_has_kink(const mesh_cut_work *w, const subcell *b, int half)
{
  for (int d = 0; d < w->dim; d++)
    for (int side = 0; side < 2; side++)
      if (side_has_kink(w, b, half, w->axes[d], side)) return true;
  return false;
}

/* Adds a box whose corners and their fields are known; halves it where that is not enough. */
static void add_subcell(mesh_cut_work *w, const subcell *b)
{
  const int slot = slot_of_whole(w, b), half = b->size / 2;
  if (b->halvings < (w->dim == 2 ? MESH_CUT_MOST_HALVINGS : 3) && (has_kink(w, b, half) || any_side_has_kink(w, b, half))) {
    double field[27][SIMPLEX_MAX_FIELDS]; /* corners of the parts: digits of the index to base 3 are x, y, z */
    for (int i = 0; i < 27; i++) {
      const int digit[3] = {i % 3, i / 3 % 3, i / 9}, at[3] = {b->at[0] + digit[0] * half, b->at[1] + digit[1] * half, b->at[2] + digit[2] * half};
      if (w->dim == 3 || digit[1] == 0) place_fields(w, at, field[i]);
    }
    for (int part = 0; part < b->num; part++) {
      const int bits = b->bits[part];
      subcell child = {.size = half, .halvings = b->halvings + 1,
                       .at = {b->at[0] + (bits & 1) * half, b->at[1] + (bits >> 1 & 1) * half, b->at[2] + (bits >> 2 & 1) * half}};
      set_corners(w, &child);
      for (int c = 0; c < child.num; c++) {
        const int to[3] = {(child.corner[c].at[0] - b->at[0]) / half, (child.corner[c].at[1] - b->at[1]) / half,
                           (child.corner[c].at[2] - b->at[2]) / half};
        child.field[c] = field[to[0] + 3 * to[1] + 9 * to[2]];
      }
      add_subcell(w, &child);
    }
  } else if (slot >= 0 && !may_end_here(w, slot, b)) {
    add_whole_subcell(w, slot, b);
  } else {
    add_simplices(w, b);
  }
}

/* ---- cells ---------------------------------------------------------------------------------------------- */

bool mesh_cut_find_near(const mesh_cut_request *q, size_t cell, mesh_layers_near *near)
{
  size_t ijk[3];
  double centre[3] = {0, 0, 0}, diagonal = 0;
  grid_cell_indices(q->g, cell, ijk);
  for (int a = 0; a < 3; a++) {
    if (q->g->kind == GRID_RZ && a == 1) continue;
    const double low = q->g->edges[a][ijk[a]], high = q->g->edges[a][ijk[a] + 1];
    centre[a] = 0.5 * (low + high);
    diagonal += (high - low) * (high - low);
  }
  return mesh_layers_find_near(q->layers, q->num_layers, centre, 0.505 * sqrt(diagonal), near);
}

static void enter_cell(mesh_cut_work *w, size_t cell, const mesh_layers_near *near, mesh_cut_list *list)
{
  double smallest = INFINITY;
  w->cell = cell;
  w->near = near;
  w->list = list;
  w->first_facet = list->num_facets;
  grid_cell_indices(w->q.g, cell, w->ijk);
  for (int d = 0; d < w->dim; d++) {
    const int a = w->axes[d];
    w->low[a] = w->q.g->edges[a][w->ijk[a]];
    w->high[a] = w->q.g->edges[a][w->ijk[a] + 1];
    if (w->high[a] - w->low[a] < smallest) smallest = w->high[a] - w->low[a];
  }
  w->eps = snap_fraction * smallest;
  w->step = step_fraction * smallest;
  w->width = smallest / w->q.samples;
  w->look = look_fraction * w->width;
  for (int s = 0; s <= near->num_active; s++)
    w->slot[s] = (mesh_cut_piece){.cell = (int32_t)cell, .part = s == 0 ? near->base : near->active[s - 1].part};
}

static subcell make_subcell(const mesh_cut_work *w, const int at[3], int size)
{
  subcell b = {.at = {at[0], at[1], at[2]}, .size = size};
  set_corners(w, &b);
  for (int c = 0; c < b.num; c++) b.field[c] = corner_field(w, b.corner[c].at);
  return b;
}

/* The fields of a thin wall rise along one axis each: all of a surface in the cell lies opposite one cell beyond the wall. (Beyond a slanting
 * wall lie several, told apart by the pieces that sub-cells have.) */
static bool walls_are_upright(const mesh_cut_work *w, const subcell *cell)
{
  for (int a = 0; a < w->near->num_active; a++) {
    const mesh_layers_active *l = &w->near->active[a];
    for (int q = l->first; l->layer->kind == MESH_THIN_WALL && q < l->first + l->num; q++) {
      int rising = 0;
      for (int d = 0; d < w->dim; d++) rising += fabs(cell->field[1 << d][q] - cell->field[0][q]) > flat_fraction * w->width;
      if (rising > 1) return false;
    }
  }
  return true;
}

/* By the values at all corners of sub-cells: none is further off the values between the corners of the cell than flat_fraction says. */
static bool is_flat(const mesh_cut_work *w, const subcell *cell)
{
  const int n = w->q.samples, one = 1 << MESH_CUT_MOST_HALVINGS;
  for (int k = 0; k <= n; k++)
    for (int j = 0; j <= (w->dim == 2 ? 0 : n); j++)
      for (int i = 0; i <= n; i++) {
        const int at[3] = {i, j, k};
        const double *f = corner_field(w, (int[3]){i * one, j * one, k * one});
        for (int q = 0; q < w->near->num_fields; q++) {
          double linear = cell->field[0][q];
          for (int d = 0; d < w->dim; d++) linear += (cell->field[1 << d][q] - cell->field[0][q]) * at[w->axes[d]] / n;
          if (!(fabs(f[q] - linear) <= flat_fraction * w->width)) return false;
        }
      }
  return true;
}

static void add_subcells(mesh_cut_work *w)
{
  const int n = w->q.samples;
  for (int k = 0; k < n; k++)
    for (int j = 0; j < (w->dim == 2 ? 1 : n); j++)
      for (int i = 0; i < n; i++) {
        const subcell b = make_subcell(w, (int[3]){i << MESH_CUT_MOST_HALVINGS, j << MESH_CUT_MOST_HALVINGS, k << MESH_CUT_MOST_HALVINGS}, 1 << MESH_CUT_MOST_HALVINGS);
        add_subcell(w, &b);
      }
}

void mesh_cut_cell(mesh_cut_work *w, size_t cell, const mesh_layers_near *near, mesh_cut_list *list)
{
  enter_cell(w, cell, near, list);
  fill_corner_fields(w);
  const subcell whole = make_subcell(w, (int[3]){0, 0, 0}, w->q.samples << MESH_CUT_MOST_HALVINGS);
  if (walls_are_upright(w, &whole) && is_flat(w, &whole) && !has_kink(w, &whole, whole.size / 2)) add_subcell(w, &whole);
  else add_subcells(w);
  if (!mesh_cut_list_room((void **)&list->pieces, &list->room_pieces, list->num_pieces + (size_t)near->num_active + 1, sizeof *list->pieces)) {
    list->no_memory = true;
    return;
  }
  for (int s = 0; s <= near->num_active; s++)
    if (w->slot[s].volume > 0) list->pieces[list->num_pieces++] = w->slot[s];
}
