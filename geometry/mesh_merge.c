#include "geometry/mesh_merge.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double half = 0.5 - 1e-9;          /* of a cell: smaller nodes are merged             */
static const double least_piece = 1e-9;         /* of a cell: smaller pieces are rounding           */
static const double alike = 1e-6;               /* of a node: it may be as large as another          */

static const mesh_cut_piece *piece_of(const struct mesh_lookup *l, const mesh_cut_list *list, size_t cell, int32_t part)
{
  const int32_t cut = l->cut_of_cell[cell];
  for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++)
    if (l->piece_part[p] == part) return &list->pieces[p];
  return NULL;
}

static double own_aperture(const grid *g, const struct mesh_lookup *l, const mesh_cut_list *list, const int32_t *uniform, size_t cell,
                           int32_t part, int axis, int side)
{
  if (l->cut_of_cell[cell] == MESH_NONE) {
    size_t at[3];
    if (uniform[cell] != part) return 0;
    grid_cell_indices(g, cell, at);
    return grid_face_area(g, axis, side, at[0], at[1], at[2]);
  }
  const mesh_cut_piece *p = piece_of(l, list, cell, part);
  return p ? p->aperture[2 * axis + side] : 0;
}

static bool neighbour_of(const grid *g, size_t cell, int axis, int side, size_t *other)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  if (side == 0 ? at[axis] == 0 : at[axis] + 1 == g->num[axis]) return false;
  at[axis] = side == 0 ? at[axis] - 1 : at[axis] + 1;
  *other = grid_cell(g, at[0], at[1], at[2]);
  return true;
}

double mesh_merge_aperture(const grid *g, const struct mesh_lookup *l, const mesh_cut_list *list, const int32_t *uniform, size_t cell,
                           int32_t part, int axis, int side)
{
  size_t other;
  if (!neighbour_of(g, cell, axis, side, &other)) return 0;
  const double a = own_aperture(g, l, list, uniform, cell, part, axis, side);
  const double b = a > 0 ? own_aperture(g, l, list, uniform, other, part, axis, 1 - side) : 0;
  return a < b ? a : b;
}

/* ---- groups of nodes: union-find whose root is the fullest member ----------------------------------------- */

typedef struct {
  const mesh *m;
  const struct mesh_lookup *l;
  const mesh_cut_list *list;
  const int32_t *uniform;
  size_t num;            /* nodes before merging: cells first, then further pieces                    */
  int32_t *root;         /* [num] parent; a root is its own                                           */
  int32_t *next;         /* [num] ring of the members of a group                                      */
  int32_t *piece;        /* [num] the piece it is, or MESH_NONE for whole cells                       */
  int32_t *cell, *part;  /* [num]                                                                     */
  double *volume;        /* [num] of the group at its root                                            */
  double *own;           /* [num] of the node alone                                                   */
  double *weight;        /* [num] of the group at its root                                            */
  double (*moment)[3];   /* [num] of the group at its root                                            */
} groups;

static int32_t root_of(groups *q, int32_t n)
{
  while (q->root[n] != n) n = q->root[n] = q->root[q->root[n]];
  return n;
}

static double cell_volume(const grid *g, size_t cell)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  return grid_cell_volume(g, at[0], at[1], at[2]);
}

static double fraction_of(const groups *q, int32_t root)
{
  return q->volume[root] / cell_volume(q->m->grid, (size_t)q->cell[root]);
}

/* The fuller of its own cell becomes the root, so that a whole cell never becomes part of a neighbour. */
static void unite(groups *q, int32_t a, int32_t b)
{
  const double full_a = q->own[a] / cell_volume(q->m->grid, (size_t)q->cell[a]);
  const double full_b = q->own[b] / cell_volume(q->m->grid, (size_t)q->cell[b]);
  if (full_b > full_a * (1 + 1e-9) || (full_b >= full_a * (1 - 1e-9) && b < a)) {
    const int32_t c = a;
    a = b;
    b = c;
  }
  q->root[b] = a;
  q->volume[a] += q->volume[b];
  q->weight[a] += q->weight[b];
  for (int i = 0; i < 3; i++) q->moment[a][i] += q->moment[b][i];
  const int32_t c = q->next[a];
  q->next[a] = q->next[b];
  q->next[b] = c;
}

/* The node of a part in a cell before merging. */
static int32_t node_before(const groups *q, size_t cell, int32_t part)
{
  const int32_t cut = q->l->cut_of_cell[cell];
  if (cut == MESH_NONE) return q->uniform[cell] == part ? (int32_t)cell : MESH_NONE;
  for (size_t p = q->l->first[cut]; p < q->l->first[cut + 1]; p++)
    if (q->l->piece_part[p] == part) return q->l->piece_node[p];
  return MESH_NONE;
}

/* The step leads to the mirror plane, or else to the middle of the grid. */
static bool leads_inward(const grid *g, size_t cell, int axis, int side)
{
  size_t at[3];
  grid_cell_indices(g, cell, at);
  const bool from_low = g->mirror[2 * axis], from_high = !from_low && g->mirror[2 * axis + 1];
  const bool down = from_low || (!from_high && 2 * at[axis] >= g->num[axis]);
  return down == (side == 0);
}

/* The step leads over the middle of the grid, where half of a symmetric rig ends: a piece there that is as large as the one beyond it may be its image, which
 * the half has not. (The tips of a star in the planes merged with their images; its quarter froze 0.3 % sooner.) */
static bool leads_over_middle(const grid *g, size_t cell, int axis, int side)
{
  size_t at[3];
  if (g->kind == GRID_RZ || axis == 2) return false;
  grid_cell_indices(g, cell, at);
  return 2 * (at[axis] + (size_t)side) == g->num[axis] && !g->mirror[2 * axis] && !g->mirror[2 * axis + 1];
}

/* The group with the largest aperture to the group of `root`; of equal ones the smaller, then the first by axis, then the one inward: so
 * that in a symmetric rig it is on either side the same, and in half of it as in the whole. */
static int32_t best_neighbour(groups *q, int32_t root)
{
  const grid *g = q->m->grid;
  int32_t best = MESH_NONE, n = root;
  double best_area = 0;
  int best_rank = 0;
  do {
    for (int face = 0; face < 6; face++) {
      const int axis = face / 2, side = face % 2;
      size_t other;
      if ((g->kind == GRID_RZ && axis == 1) || !neighbour_of(g, (size_t)q->cell[n], axis, side, &other)) continue;
      const int32_t found = node_before(q, other, q->part[n]);
      if (found == MESH_NONE) continue;
      if (leads_over_middle(g, (size_t)q->cell[n], axis, side) && fabs(q->own[found] - q->own[n]) <= alike * q->own[n]) continue;
      const int32_t group = root_of(q, found);
      if (group == root) continue;
      const double area = mesh_merge_aperture(g, q->l, q->list, q->uniform, (size_t)q->cell[n], q->part[n], axis, side);
      if (!(area > 0)) continue;
      const bool equal = best != MESH_NONE && fabs(area - best_area) <= 1e-6 * best_area;
      const double smaller = best == MESH_NONE ? 0 : q->volume[best] - q->volume[group], rounding = 1e-6 * q->volume[group];
      const int rank = 2 * axis + (leads_inward(g, (size_t)q->cell[n], axis, side) ? 0 : 1);
      if (equal ? smaller > rounding || (fabs(smaller) <= rounding && rank < best_rank) : area > best_area) {
        best = group;
        best_area = area;
        best_rank = rank;
      }
    }
    n = q->next[n];
  } while (n != root);
  return best;
}

/* Half cells from the mirror plane, or else from the middle of the grid, to the middle of a cell; along z, and in GRID_RZ, how many cells come before it. */
static int32_t cells_out(const grid *g, const size_t at[3], int axis)
{
  const int32_t before = (int32_t)at[axis], num = (int32_t)g->num[axis];
  if (g->kind == GRID_RZ || axis == 2) return before;
  if (g->mirror[2 * axis]) return 2 * before + 1;
  if (g->mirror[2 * axis + 1]) return 2 * (num - before) - 1;
  return abs(2 * before + 1 - num);
}

/* The emptiest come first, of those the lowest, and of those the innermost: which one grows first decides which way the next one goes, and so it is the
 * same on either side of a symmetric rig, and in half of it as in the whole. */
typedef struct {
  double fraction;
  int32_t out[3], node;
} small_node;

static int compare_small(const void *a, const void *b)
{
  const small_node *x = a, *y = b;
  if (x->fraction != y->fraction) return x->fraction < y->fraction ? -1 : 1;
  for (int axis = 2; axis >= 0; axis--)
    if (x->out[axis] != y->out[axis]) return x->out[axis] < y->out[axis] ? -1 : 1;
  return x->node < y->node ? -1 : x->node > y->node;
}

static small_node small_one(const groups *q, int32_t n)
{
  const grid *g = q->m->grid;
  size_t at[3];
  grid_cell_indices(g, (size_t)q->cell[n], at);
  small_node s = {.fraction = round(fraction_of(q, n) * 1e6), .node = n};
  for (int axis = 0; axis < 3; axis++) s.out[axis] = cells_out(g, at, axis);
  return s;
}

static bool merge_small(groups *q, size_t *kept_slivers)
{
  size_t num = 0;
  small_node *small = malloc((q->num ? q->num : 1) * sizeof *small);
  if (!small) return false;
  for (size_t n = 0; n < q->num; n++)
    if (q->own[n] > 0 && q->piece[n] != MESH_NONE && fraction_of(q, (int32_t)n) < half)
      small[num++] = small_one(q, (int32_t)n);
  qsort(small, num, sizeof *small, compare_small);
  for (size_t i = 0; i < num; i++) {
    int32_t root = root_of(q, small[i].node);
    while (fraction_of(q, root) < half) {
      const int32_t other = best_neighbour(q, root);
      if (other == MESH_NONE) break;
      unite(q, root, other);
      root = root_of(q, root);
    }
  }
  *kept_slivers = 0;
  for (size_t i = 0; i < num; i++)
    if (q->root[small[i].node] == small[i].node && fraction_of(q, small[i].node) < half) (*kept_slivers)++;
  free(small);
  return true;
}

/* ---- nodes -------------------------------------------------------------------------------------------------- */

static void set_node(groups *q, size_t n, size_t cell, int32_t part, int32_t piece, double volume, double weight, const double moment[3])
{
  q->cell[n] = (int32_t)cell;
  q->part[n] = part;
  q->piece[n] = piece;
  q->volume[n] = q->own[n] = volume;
  q->weight[n] = weight;
  for (int a = 0; a < 3; a++) q->moment[n][a] = moment[a];
}

static void whole_cell_node(groups *q, size_t cell)
{
  const grid *g = q->m->grid;
  size_t at[3];
  double moment[3] = {0, 0, 0};
  grid_cell_indices(g, cell, at);
  double weight = 1;
  for (int a = 0; a < 3; a++)
    if (g->kind == GRID_XYZ || a != 1) weight *= g->edges[a][at[a] + 1] - g->edges[a][at[a]];
  for (int a = 0; a < 3; a++)
    if (g->kind == GRID_XYZ || a != 1) moment[a] = weight * 0.5 * (g->edges[a][at[a] + 1] + g->edges[a][at[a]]);
  set_node(q, cell, cell, q->uniform[cell], MESH_NONE, grid_cell_volume(g, at[0], at[1], at[2]), weight, moment);
}

/* The largest part of a cut cell takes the cell's own node, further ones new nodes. */
static void cut_cell_nodes(groups *q, struct mesh_lookup *l, size_t cell, size_t *num)
{
  const int32_t cut = l->cut_of_cell[cell];
  const double least = least_piece * cell_volume(q->m->grid, cell);
  size_t largest = SIZE_MAX;
  for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++) {
    const int32_t part = l->piece_part[p];
    const bool takes = part >= 0 && l->layers[part].kind == MESH_SOLID && q->list->pieces[p].volume > least;
    l->piece_node[p] = takes ? 0 : MESH_NONE;
    if (takes && (largest == SIZE_MAX || q->list->pieces[p].volume > q->list->pieces[largest].volume * (1 + 1e-9))) largest = p;
  }
  for (size_t p = l->first[cut]; p < l->first[cut + 1]; p++) {
    if (l->piece_node[p] == MESH_NONE) continue;
    const mesh_cut_piece *x = &q->list->pieces[p];
    const size_t n = p == largest ? cell : (*num)++;
    l->piece_node[p] = (int32_t)n;
    set_node(q, n, cell, x->part, (int32_t)p, x->volume, x->weight, x->moment);
  }
}

static void groups_free(groups *q)
{
  free(q->root);
  free(q->next);
  free(q->piece);
  free(q->cell);
  free(q->part);
  free(q->volume);
  free(q->own);
  free(q->weight);
  free(q->moment);
}

static bool groups_allocate(groups *q, size_t most)
{
  q->root = malloc(most * sizeof *q->root);
  q->next = malloc(most * sizeof *q->next);
  q->piece = malloc(most * sizeof *q->piece);
  q->cell = malloc(most * sizeof *q->cell);
  q->part = malloc(most * sizeof *q->part);
  q->volume = calloc(most, sizeof *q->volume);
  q->own = calloc(most, sizeof *q->own);
  q->weight = calloc(most, sizeof *q->weight);
  q->moment = calloc(most, sizeof *q->moment);
  return q->root && q->next && q->piece && q->cell && q->part && q->volume && q->own && q->weight && q->moment;
}

static bool write_nodes(mesh *m, groups *q, struct mesh_lookup *l, size_t num_cells)
{
  int32_t *final = malloc((q->num ? q->num : 1) * sizeof *final);
  size_t num = num_cells;
  if (!final) return false;
  for (size_t n = 0; n < q->num; n++) {
    final[n] = MESH_NONE;
    if (q->own[n] > 0 && root_of(q, (int32_t)n) == (int32_t)n) final[n] = n < num_cells ? (int32_t)n : (int32_t)num++;
  }
  m->num_nodes = num;
  m->volume = calloc(num, sizeof *m->volume);
  m->centroid = calloc(num, sizeof *m->centroid);
  m->part = malloc(num * sizeof *m->part);
  m->cell = malloc(num * sizeof *m->cell);
  const bool done = m->volume && m->centroid && m->part && m->cell;
  for (size_t c = 0; done && c < num_cells; c++) {
    m->part[c] = MESH_VOID;
    m->cell[c] = (int32_t)c;
  }
  m->num_merged = 0;
  for (size_t n = 0; done && n < q->num; n++) {
    if (!(q->own[n] > 0)) continue;
    const int32_t to = final[n];
    if (to == MESH_NONE) {
      m->num_merged++;
      continue;
    }
    m->volume[to] = q->volume[n];
    m->part[to] = q->part[n];
    m->cell[to] = q->cell[n];
    for (int a = 0; a < 3; a++) m->centroid[to][a] = q->moment[n][a] / q->weight[n];
  }
  for (size_t p = 0; done && p < l->first[l->num_cut]; p++)
    if (l->piece_node[p] != MESH_NONE) l->piece_node[p] = final[root_of(q, l->piece_node[p])];
  free(final);
  return done;
}

bool mesh_merge_nodes(mesh *m, struct mesh_lookup *l, const mesh_cut_list *list, const int32_t *uniform)
{
  const size_t num_cells = grid_num_cells(m->grid);
  groups q = {.m = m, .l = l, .list = list, .uniform = uniform, .num = num_cells};
  bool done = groups_allocate(&q, num_cells + l->first[l->num_cut]);
  if (done) {
    for (size_t c = 0; c < num_cells; c++) {
      if (l->cut_of_cell[c] != MESH_NONE) cut_cell_nodes(&q, l, c, &q.num);
      else if (uniform[c] >= 0 && l->layers[uniform[c]].kind == MESH_SOLID) whole_cell_node(&q, c);
    }
    for (size_t n = 0; n < q.num; n++) q.root[n] = q.next[n] = (int32_t)n;
    done = merge_small(&q, &m->num_kept_slivers) && write_nodes(m, &q, l, num_cells);
  }
  groups_free(&q);
  return done;
}
