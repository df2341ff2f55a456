#include "geometry/mesh_interfaces.h"

#include <math.h>
#include <stdlib.h>

#include "geometry/mesh_merge.h"
#include "geometry/mesh_patches.h"

static const double least_surface_distance = 0.05; /* of a cell */
/* The same for the outside of a thin wall, most of which lies in a cell whose node was merged into this one: round an edge it looks past the node,
 * and the way along its normal is next to none. (Brine beside the lower edge of a metal pot set a fifth more stages for the whole rig.) */
static const double least_beside = 0.15;
static const double ALIKE = 1e-6; /* two sides fit a third one equally well: cosines of angles, beside rounding */

typedef struct {
  int32_t node[2], part[2], patch, facing, across;
  size_t facet;
} meeting;

static int compare_meetings(const void *a, const void *b)
{
  const meeting *x = a, *y = b;
  for (int s = 0; s < 2; s++) {
    if (x->node[s] != y->node[s]) return x->node[s] < y->node[s] ? -1 : 1;
    if (x->part[s] != y->part[s]) return x->part[s] < y->part[s] ? -1 : 1;
  }
  if (x->patch != y->patch) return x->patch < y->patch ? -1 : 1;
  if (x->facing != y->facing) return x->facing < y->facing ? -1 : 1;
  if (x->across != y->across) return x->across < y->across ? -1 : 1;
  return x->facet < y->facet ? -1 : x->facet > y->facet;
}

static bool same_meeting(const meeting *x, const meeting *y)
{
  return x->node[0] == y->node[0] && x->node[1] == y->node[1] && x->part[0] == y->part[0] && x->part[1] == y->part[1] &&
         x->patch == y->patch && x->facing == y->facing && x->across == y->across;
}

/* The node of a part in a cell, or in the neighbour where a point just across the cell's face found it. */
static int32_t node_at_or_beside(const mesh *m, int32_t cell, int32_t part)
{
  int32_t node = mesh_find_node(m, (size_t)cell, part);
  for (int face = 0; face < 6 && node == MESH_NONE; face++) {
    const int axis = face / 2;
    size_t at[3];
    grid_cell_indices(m->grid, (size_t)cell, at);
    if (face % 2 == 0 ? at[axis] == 0 : at[axis] + 1 == m->grid->num[axis]) continue;
    at[axis] = face % 2 == 0 ? at[axis] - 1 : at[axis] + 1;
    node = mesh_find_node(m, grid_cell(m->grid, at[0], at[1], at[2]), part);
  }
  return node;
}

static bool solid(const mesh *m, int32_t part)
{
  return part >= 0 && m->lookup->layers[part].kind == MESH_SOLID;
}

static double width_along(const grid *g, size_t cell, const double normal[3])
{
  double width = 0;
  size_t at[3];
  grid_cell_indices(g, cell, at);
  for (int a = 0; a < 3; a++)
    if (g->kind == GRID_XYZ || a != 1) width += fabs(normal[a]) * (g->edges[a][at[a] + 1] - g->edges[a][at[a]]);
  return width;
}

/* Turns a vector round into its image beyond mirror planes, bit a of `across` for the one across axis a. */
static void mirror_vector(double v[3], int32_t across)
{
  for (int a = 0; a < 3; a++)
    if (across & 1 << a) v[a] = -v[a];
}

static void mirror_point(const grid *g, double x[3], int32_t across)
{
  for (int a = 0; a < 3; a++)
    if (across & 1 << a) x[a] = 2 * g->edges[a][g->mirror[2 * a] ? 0 : g->num[a]] - x[a];
}

/* Mean distance from a node to the facets, each along its own normal: (sum of A n . p - x . sum of A n) / sum of A. */
static double surface_distance(mesh *m, const mesh_interface *f, int side, const double vector[3], double reach, bool beside, int32_t across)
{
  if (f->node[side] == MESH_NONE) return 0;
  const double least = (beside ? least_beside : least_surface_distance) * width_along(m->grid, (size_t)m->cell[f->node[side]], f->normal);
  if (!(f->area[side] > 0)) return least; /* no heat passes */
  const double *own = m->centroid[f->node[side]];
  double x[3] = {own[0], own[1], own[2]};
  mirror_point(m->grid, x, across);
  const double sign = side == 0 ? 1 : -1;
  const double d = sign * (reach - x[0] * vector[0] - x[1] * vector[1] - x[2] * vector[2]) / f->area[side];
  if (d >= least) return d;
  m->num_floored++;
  return least;
}

/* How the normals turn over the patch: the sum of A (n - mean n) . (p - mean p) over that of A (p - mean p)^2, once for a curve, twice
 * for a surface whose patch is as wide one way as the other. */
static double curvature_of(const mesh *m, const mesh_interface *f, const double vector[3], double reach, double spread)
{
  const double *p = f->centroid, wide = spread - f->area[0] * (p[0] * p[0] + p[1] * p[1] + p[2] * p[2]);
  const double width = width_along(m->grid, (size_t)m->cell[f->node[0]], f->normal);
  if (!(wide > 1e-6 * f->area[0] * width * width)) return 0;
  const double turn = reach - vector[0] * p[0] - vector[1] * p[1] - vector[2] * p[2];
  return (m->grid->kind == GRID_RZ ? 1 : 2) * turn / wide;
}

static void write_interface(mesh *m, const mesh_cut_list *list, const meeting *first, size_t num, mesh_interface *to)
{
  double vector[2][3] = {{0}}, moment[2][3] = {{0}}, reach[2] = {0}, spread = 0, beside[2] = {0};
  *to = (mesh_interface){.node = {first->node[0], first->node[1]}, .part = {first->part[0], first->part[1]}, .patch = first->patch};
  for (size_t i = 0; i < num; i++) {
    const mesh_cut_facet *f = &list->facets[first[i].facet];
    for (int s = 0; s < 2; s++) {
      to->area[s] += f->area[s];
      if (f->wall >= 0 && s == f->outside && to->node[s] != MESH_NONE && m->cell[to->node[s]] != f->cell[s]) beside[s] += f->area[s];
      reach[s] += f->reach[s];
      for (int a = 0; a < 3; a++) {
        vector[s][a] += f->vector[s][a];
        moment[s][a] += f->moment[s][a];
      }
    }
    spread += f->spread;
  }
  const int own = to->area[0] > 0 ? 0 : 1;
  const double *v = vector[own];
  const double length = sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]);
  for (int a = 0; a < 3; a++) {
    to->normal[a] = length > 1e-9 * to->area[own] ? v[a] / length : a == 0; /* closed in itself: any direction */
    to->centroid[a] = moment[own][a] / to->area[own];
  }
  const int32_t outside = list->facets[first->facet].outside;
  to->across = to->node[outside] != MESH_NONE ? first->across : 0;
  for (int s = 0; s < 2; s++) to->distance[s] = surface_distance(m, to, s, vector[s], reach[s], beside[s] > 0.5 * to->area[s], s == outside ? to->across : 0);
  if (to->node[0] != MESH_NONE) {
    if (own == 0) to->curvature = curvature_of(m, to, vector[0], reach[0], spread);
  } else { /* a bare wall: the room on both of its sides */
    to->area[1] += to->area[0];
    to->area[0] = 0;
  }
}

/* Which interfaces run through each patch: those of patch p are item[first[p]] .. item[first[p + 1] - 1]. */
static bool sort_by_patch(const mesh *m, size_t *first, size_t *item)
{
  size_t *at = calloc(m->num_patches + 1, sizeof *at);
  if (!at) return false;
  for (size_t i = 0; i < m->num_interfaces; i++)
    if (m->interfaces[i].patch != MESH_NONE) first[m->interfaces[i].patch + 1]++;
  for (size_t p = 0; p < m->num_patches; p++) first[p + 1] += first[p];
  for (size_t i = 0; i < m->num_interfaces; i++) {
    const int32_t p = m->interfaces[i].patch;
    if (p != MESH_NONE) item[first[p] + at[p]++] = i;
  }
  free(at);
  return true;
}

static bool is_bare(const mesh_interface *i)
{
  return i->node[0] == MESH_NONE;
}

/* Heat passes on its side 0, or it is bare: else it is a piece of outer surface whose inner one has no node, or goes with another piece. */
static bool is_whole(const mesh_interface *i)
{
  return is_bare(i) || i->area[0] > 0;
}

/* A piece of the surface of a wall that is to count with another one: the part before it, the node there or MESH_NONE, its normal out of the wall. */
typedef struct {
  int32_t part, node;
  const double *outward;
} lone_side;

/* How well a side of an interface goes with it: it must be before the same part; better the same node, and then the more it faces as it does. */
static double fit_of(const mesh_interface *i, int side, const lone_side *q)
{
  if (i->part[side] != q->part || !is_whole(i) || !(i->area[side] > 0)) return -INFINITY;
  const double *n = i->normal, *v = q->outward, length = sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]), same_node = i->node[side] == q->node ? 4 : 0;
  return same_node + (side ? 1 : -1) * (n[0] * v[0] + n[1] * v[1] + n[2] * v[2]) / length;
}

/* Interfaces through one patch. */
typedef struct {
  const size_t *item;
  size_t num;
} patch_items;

static double best_fit(const mesh *m, patch_items in, const lone_side *q)
{
  double best = -INFINITY;
  for (size_t k = 0; k < in.num; k++)
    for (int s = 0; s < 2; s++) best = fmax(best, fit_of(&m->interfaces[in.item[k]], s, q));
  return best;
}

/* Adds an area to each side that fits as well as the best does but for rounding; returns how many there are. */
static size_t add_to_best(mesh *m, patch_items in, const lone_side *q, double best, double area)
{
  size_t num = 0;
  for (size_t k = 0; k < in.num; k++)
    for (int s = 0; s < 2; s++) {
      mesh_interface *i = &m->interfaces[in.item[k]];
      if (!(fit_of(i, s, q) >= best - ALIKE)) continue;
      i->area[s] += area;
      num++;
    }
  return num;
}

/* Has an area count with the sides that fit best, in equal parts: which of two is the first would differ from half of a symmetric rig to the whole.
 * False: none fits. */
static bool share_out(mesh *m, patch_items in, const lone_side *q, double area)
{
  const double best = best_fit(m, in, q);
  if (best == -INFINITY) return false;
  (void)add_to_best(m, in, q, best, area / (double)add_to_best(m, in, q, best, 0));
  return true;
}

/* A piece of outer surface before a node, with nothing on side 0: round an edge of the cavity. It becomes an interface of that node
 * and the wall. */
static void turn_to_wall(const mesh *m, mesh_interface *i)
{
  *i = (mesh_interface){.node = {i->node[1], MESH_NONE}, .part = {i->part[1], m->patches[i->patch].part}, .patch = i->patch, .area = {i->area[1], 0}, .distance = {i->distance[1], 0}, .across = i->across,
                        .normal = {-i->normal[0], -i->normal[1], -i->normal[2]}, .centroid = {i->centroid[0], i->centroid[1], i->centroid[2]}};
}

/* Interfaces that are not whole, by patch, for those with nothing beside them in it. */
typedef struct {
  size_t *first, *next; /* [num_patches], [num_interfaces]: index + 1; 0: no more */
  double *best;         /* [num_interfaces]: how well the sides of patches beside theirs go with them; -INFINITY: none does */
  size_t *num;          /* [num_interfaces]: how many do so                       */
} waiting_list;

static lone_side lone_side_of(const mesh_interface *i)
{
  return (lone_side){.part = i->part[1], .node = i->node[1], .outward = i->normal};
}

/* Has those that wait in a patch count with others of it. */
static void place_waiting(mesh *m, waiting_list *w, int32_t patch, patch_items in)
{
  size_t *at = &w->first[patch];
  while (*at > 0) {
    const mesh_interface *x = &m->interfaces[*at - 1];
    const lone_side q = lone_side_of(x);
    if (share_out(m, in, &q, x->area[1])) *at = w->next[*at - 1];
    else at = &w->next[*at - 1];
  }
}

typedef enum { FIND_BEST, COUNT_BEST, ADD_TO_BEST } beside_pass;

/* Has those that still wait count with the best of all patches beside theirs: each pass needs the one before to have met all of them. */
static void place_beside(mesh *m, waiting_list *w, int32_t patch, patch_items in, beside_pass pass)
{
  for (size_t i = w->first[patch]; i > 0; i = w->next[i - 1]) {
    const mesh_interface *x = &m->interfaces[i - 1];
    const lone_side q = lone_side_of(x);
    if (pass == FIND_BEST) w->best[i - 1] = fmax(w->best[i - 1], best_fit(m, in, &q));
    else if (w->best[i - 1] > -INFINITY && pass == COUNT_BEST) w->num[i - 1] += add_to_best(m, in, &q, w->best[i - 1], 0);
    else if (w->best[i - 1] > -INFINITY) (void)add_to_best(m, in, &q, w->best[i - 1], x->area[1] / (double)w->num[i - 1]);
  }
}

/* Pieces of surface before the room or a held part with nothing on side 0 count beside others of their patch, or of those next to it, and are taken out. */
static bool join_lone_interfaces(mesh *m, const size_t *first, const size_t *item)
{
  const size_t most = m->num_interfaces + 1;
  waiting_list w = {calloc(m->num_patches + 1, sizeof *w.first), calloc(most, sizeof *w.next), malloc(most * sizeof *w.best), calloc(most, sizeof *w.num)};
  const bool done = w.first && w.next && w.best && w.num;
  size_t kept = 0;
  for (size_t i = 0; done && i < m->num_interfaces; i++) {
    if (!is_whole(&m->interfaces[i]) && m->interfaces[i].node[1] != MESH_NONE) turn_to_wall(m, &m->interfaces[i]);
    if (is_whole(&m->interfaces[i])) continue;
    const int32_t p = m->interfaces[i].patch;
    w.next[i] = w.first[p];
    w.first[p] = i + 1;
    w.best[i] = -INFINITY;
  }
  for (size_t p = 0; done && p < m->num_patches; p++) place_waiting(m, &w, (int32_t)p, (patch_items){item + first[p], first[p + 1] - first[p]});
  for (beside_pass pass = FIND_BEST; done && pass <= ADD_TO_BEST; pass++)
    for (size_t l = 0; l < m->num_patch_links; l++)
      for (int s = 0; s < 2; s++) {
        const int32_t other = m->patch_links[l].patch[1 - s];
        place_beside(m, &w, m->patch_links[l].patch[s], (patch_items){item + first[other], first[other + 1] - first[other]}, pass);
      }
  for (size_t p = 0; done && p < m->num_patches; p++)
    for (size_t i = w.first[p]; i > 0; i = w.next[i - 1]) m->dropped_area += w.best[i - 1] > -INFINITY ? 0 : m->interfaces[i - 1].area[1];
  for (size_t i = 0; done && i < m->num_interfaces; i++)
    if (is_whole(&m->interfaces[i])) m->interfaces[kept++] = m->interfaces[i];
  if (done) m->num_interfaces = kept;
  free(w.first);
  free(w.next);
  free(w.best);
  free(w.num);
  return done;
}

/* A rim as an interface of its own: of the wall and the node before it, or bare. */
static mesh_interface interface_of_rim(mesh *m, const mesh_cut_facet *rim, int32_t patch, int32_t node)
{
  const bool bare = node == MESH_NONE;
  const double *v = rim->vector[1], length = sqrt(v[0] * v[0] + v[1] * v[1] + v[2] * v[2]), sign = bare ? 1 : -1;
  mesh_interface f = {.node = {node, MESH_NONE}, .patch = patch, .across = bare ? 0 : rim->across};
  f.part[0] = bare ? MESH_VOID : rim->part[1];
  f.part[1] = bare ? rim->part[1] : m->patches[patch].part;
  f.area[bare ? 1 : 0] = rim->area[1];
  for (int a = 0; a < 3; a++) {
    f.normal[a] = length > 1e-9 * rim->area[1] ? sign * v[a] / length : a == 0;
    f.centroid[a] = rim->moment[1][a] / rim->area[1];
  }
  if (!bare) f.distance[0] = surface_distance(m, &f, 0, (double[3]){-v[0], -v[1], -v[2]}, -rim->reach[1], false, rim->across);
  return f;
}

/* The rim of a thin wall counts with the side beside it that is before the room as it is, through the same patch; or by itself. (Left out, a box of 5 mm
 * of plastic full to its rim in foam froze 5 % too slowly.) */
static void add_rims(mesh *m, const mesh_cut_list *list, const int32_t *patch_of, const size_t *first, const size_t *item)
{
  for (size_t f = 0; f < list->num_facets; f++) {
    const mesh_cut_facet *x = &list->facets[f];
    const int32_t p = patch_of[f];
    if (x->place != MESH_CUT_RIM) continue;
    const int32_t node = solid(m, x->part[1]) && x->cell[1] != MESH_NONE ? node_at_or_beside(m, x->cell[1], x->part[1]) : MESH_NONE;
    const lone_side q = {.part = x->part[1], .node = node, .outward = x->vector[1]};
    if (p != MESH_NONE && node == MESH_NONE && share_out(m, (patch_items){item + first[p], first[p + 1] - first[p]}, &q, x->area[1])) continue;
    if (p != MESH_NONE && (node != MESH_NONE || !solid(m, x->part[1]))) m->interfaces[m->num_interfaces++] = interface_of_rim(m, x, p, node);
    else m->dropped_area += x->area[1];
  }
}

/* Where only an outer side has a node, the interface moves to where that is: its image stands for it no longer. */
static void move_to_nodes(mesh *m)
{
  for (size_t i = 0; i < m->num_interfaces; i++) {
    mesh_interface *x = &m->interfaces[i];
    if (x->across == 0 || (x->node[0] != MESH_NONE && x->node[1] != MESH_NONE)) continue;
    mirror_vector(x->normal, x->across);
    mirror_point(m->grid, x->centroid, x->across);
    x->across = 0;
  }
}

static bool add_lone_sides(mesh *m, const mesh_cut_list *list, const int32_t *patch_of)
{
  size_t *first = calloc(m->num_patches + 2, sizeof *first), *item = malloc((m->num_interfaces + 1) * sizeof *item);
  bool done = first && item && sort_by_patch(m, first, item);
  if (done) {
    add_rims(m, list, patch_of, first, item);
    done = join_lone_interfaces(m, first, item);
  }
  free(first);
  free(item);
  return done;
}

bool mesh_interfaces_fill(mesh *m, mesh_cut_list *list)
{
  meeting *meetings = malloc((list->num_facets + 1) * sizeof *meetings);
  int32_t *patch_of = malloc((list->num_facets + 1) * sizeof *patch_of);
  size_t num = 0, num_kept = 0;
  /* A side that should have a node and has none is of a piece that is only rounding, or of a wall's lost outer side. */
  for (size_t f = 0; meetings && f < list->num_facets; f++) {
    mesh_cut_facet *x = &list->facets[f];
    if (x->place == MESH_CUT_RIM) {
      list->facets[num_kept++] = *x;
      continue;
    }
    meeting q = {.part = {x->part[0], x->part[1]}, .facing = x->facing, .across = x->across, .facet = num_kept};
    bool lost = false;
    for (int s = 0; s < 2; s++) {
      q.node[s] = solid(m, x->part[s]) && x->cell[s] != MESH_NONE ? node_at_or_beside(m, x->cell[s], x->part[s]) : MESH_NONE;
      lost = lost || (solid(m, x->part[s]) && q.node[s] == MESH_NONE);
    }
    m->num_lost += lost;
    if (lost || (q.node[0] == MESH_NONE && x->place != MESH_CUT_BARE) || !(x->area[0] + x->area[1] > 0)) continue;
    list->facets[num_kept++] = *x;
    meetings[num++] = q;
  }
  list->num_facets = num_kept;
  bool done = meetings && patch_of && mesh_patches_make(m, m->lookup->layers, list, patch_of);
  m->interfaces = done ? malloc((list->num_facets + 1) * sizeof *m->interfaces) : NULL;
  done = m->interfaces != NULL;
  if (done) {
    for (size_t i = 0; i < num; i++) meetings[i].patch = patch_of[meetings[i].facet];
    qsort(meetings, num, sizeof *meetings, compare_meetings);
    for (size_t i = 0, end; i < num; i = end) {
      for (end = i + 1; end < num && same_meeting(&meetings[i], &meetings[end]);) end++;
      write_interface(m, list, &meetings[i], end - i, &m->interfaces[m->num_interfaces++]);
    }
  }
  done = done && add_lone_sides(m, list, patch_of);
  if (done) move_to_nodes(m);
  free(meetings);
  free(patch_of);
  return done;
}
