#include "solver/coil_line.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/node_shares.h"


static const double pi = 3.14159265358979323846;
enum {
  REACH = 6,       /* cells from the tube to the edge of the box                    */
  ANGLES = 12,     /* round the tube at a station                                   */
  STATIONS = 3,    /* along a piece                                                 */
  SHARED = 8 * ANGLES * STATIONS,
  MOST_ROUNDS = 4000,
  MOST_CIRCLES = 8
};
/* The logarithm must be well away from 0, as for rings. */
static const double LEAST_RADIUS_RATIO = 1.05, WIDER = 1.25;
static const double FAR = 8.0; /* lengths of a piece from which on it acts as a point */
static const double SOLVED = 1e-9;
static const double ON_PLANE = 1e-7; /* of a length: so near a plane is on it */

typedef struct {
  double from[3], to[3], along[3], side[2][3]; /* unit vectors: along, and two across */
  double length;
  bool joined; /* gives its heat to the grid (else to a pool)      */
  double ours; /* share of it on this side of the mirror planes    */
  bool beyond; /* lengthens the tube past an end, so that the last pieces feel their neighbours as the others do */
  size_t num;
  size_t cell[SHARED]; /* of the box */
  double weight[SHARED];
} piece;

/* A box of cells round the tube; beyond the grid the outermost spacing is repeated. */
typedef struct {
  const mesh *m;
  long first[3];        /* index in the grid of its first cell */
  size_t num[3], cells;
  double *edge[3];      /* [num + 3], the first and last lie beyond: edge[d][1] is its low face */
  double *centre[3];    /* [num + 2] of cells, [0] and [num + 1] beyond */
  size_t num_pieces, num_real; /* those beyond the ends come last */
  piece *pieces;
  double radius;
  double *u, *source, *diagonal, *residual, *search, *image; /* [cells] */
} box;

/* ------------------------------------------------------------------------------------------- the exact potential */

static double apart(const double a[3], const double b[3])
{
  const double x = a[0] - b[0], y = a[1] - b[1], z = a[2] - b[2];
  return sqrt(x * x + y * y + z * z);
}

/* Of all pieces that give to the grid, 1 W/m each in a medium of 1 W/(m K). */
static double potential_at(const box *b, const double p[3])
{
  double sum = 0.0;
  for (size_t i = 0; i < b->num_pieces; i++) {
    const piece *s = &b->pieces[i];
    if (!s->joined) {
      continue;
    }
    const double middle[3] = {0.5 * (s->from[0] + s->to[0]), 0.5 * (s->from[1] + s->to[1]), 0.5 * (s->from[2] + s->to[2])};
    const double r = apart(p, middle);
    if (r > FAR * s->length) {
      sum += s->length / r;
    } else {
      const double ends = apart(p, s->from) + apart(p, s->to);
      sum += log((ends + s->length) / (ends - s->length));
    }
  }
  return sum / (4.0 * pi);
}

/* ------------------------------------------------------------------------------------------- pieces */

static void set_vectors(piece *s)
{
  int least = 0;
  for (int a = 0; a < 3; a++) {
    s->along[a] = (s->to[a] - s->from[a]) / s->length;
    least = fabs(s->along[a]) < fabs(s->along[least]) ? a : least;
  }
  double square = 0.0;
  for (int a = 0; a < 3; a++) {
    s->side[0][a] = (a == least) - s->along[least] * s->along[a];
    square += s->side[0][a] * s->side[0][a];
  }
  for (int a = 0; a < 3; a++) {
    s->side[0][a] /= sqrt(square);
  }
  for (int a = 0; a < 3; a++) {
    const int c = (a + 1) % 3, d = (a + 2) % 3;
    s->side[1][a] = s->along[c] * s->side[0][d] - s->along[d] * s->side[0][c];
  }
}

/* The image of a point on the grid's side of its mirror planes. */
static void to_our_side(const grid *g, const double p[3], double image[3])
{
  for (int a = 0; a < 3; a++) {
    const double low = g->edges[a][0], high = g->edges[a][g->num[a]];
    image[a] = g->mirror[2 * a] && p[a] < low ? 2.0 * low - p[a] : g->mirror[2 * a + 1] && p[a] > high ? 2.0 * high - p[a] : p[a];
  }
}

/* Smallest width of the cell at a point; false outside the grid. */
static bool width_at(const grid *g, const double p[3], double *width)
{
  double image[3];
  size_t cell, ijk[3];
  to_our_side(g, p, image);
  if (!grid_find(g, image, &cell)) {
    return false;
  }
  grid_cell_indices(g, cell, ijk);
  *width = INFINITY;
  for (int a = 0; a < 3; a++) {
    *width = fmin(*width, g->edges[a][ijk[a] + 1] - g->edges[a][ijk[a]]);
  }
  return true;
}

static status outside(const grid *g, const double p[3], message *msg)
{
  return message_set(msg, STATUS_BAD_INPUT,
                     "the tube leaves the grid at x %.5g, y %.5g, z %.5g mm; it reaches from %.5g, %.5g, %.5g to %.5g, %.5g, %.5g mm: move the coil",
                     1e3 * p[0], 1e3 * p[1], 1e3 * p[2], 1e3 * g->edges[0][0], 1e3 * g->edges[1][0], 1e3 * g->edges[2][0],
                     1e3 * g->edges[0][g->num[0]], 1e3 * g->edges[1][g->num[1]], 1e3 * g->edges[2][g->num[2]]);
}

/* The share of the way from a to b at which it next passes a mirror plane, beyond `from`; 1: no more. One that it passes midway divides it into images of
 * each other: uncut it has the pieces that it has in the whole rig, and one across the plane is half on either side. */
static double next_plane(const grid *g, const double a[3], const double b[3], double from)
{
  double next = 1.0;
  for (int side = 0; side < 6; side++) {
    const int d = side / 2;
    const double plane = g->edges[d][side % 2 ? g->num[d] : 0], share = b[d] == a[d] ? 1.0 : (plane - a[d]) / (b[d] - a[d]);
    const bool midway = fabs(share - 0.5) <= ON_PLANE;
    next = g->mirror[side] && !midway && share > from + ON_PLANE && share < fmin(next, 1.0 - ON_PLANE) ? share : next;
  }
  return next;
}

/* Whether the piece is on this side of the mirror planes; one that runs in a plane, or lies evenly across it, is half on either side. */
static void place_piece(const grid *g, piece *s)
{
  s->ours = 1.0;
  for (int side = 0; side < 6; side++) {
    const int d = side / 2, up = side % 2;
    const double off = (up ? -1.0 : 1.0) * (0.5 * (s->from[d] + s->to[d]) - g->edges[d][up ? g->num[d] : 0]);
    if (g->mirror[side]) {
      s->ours *= fabs(off) <= ON_PLANE * s->length ? 0.5 : off > 0.0 ? 1.0 : 0.0;
    }
  }
}

/* Cuts the line, also where it passes a mirror plane other than midway; pieces NULL: only counts. */
static status cut_line(const grid *g, const double (*points)[3], size_t num_points, piece *pieces, size_t *num, message *msg)
{
  *num = 0;
  for (size_t i = 0; i + 1 < num_points; i++) {
    const double *a = points[i], *b = points[i + 1], whole = apart(a, b);
    double width = 0.0, other = 0.0;
    if (!width_at(g, a, &width) || !width_at(g, b, &other)) {
      return outside(g, width > 0.0 ? b : a, msg);
    }
    for (double from = 0.0, to = 0.0; whole > 0.0 && from < 1.0; from = to) {
      to = next_plane(g, a, b, from);
      const size_t parts = (size_t)fmax(1.0, ceil((to - from) * whole / fmin(width, other) - ON_PLANE));
      for (size_t n = 0; n < parts; n++, (*num)++) {
        if (!pieces) {
          continue;
        }
        piece *s = &pieces[*num];
        for (int d = 0; d < 3; d++) {
          s->from[d] = a[d] + (b[d] - a[d]) * (from + (to - from) * (double)n / (double)parts);
          s->to[d] = a[d] + (b[d] - a[d]) * (from + (to - from) * (double)(n + 1) / (double)parts);
        }
        s->length = (to - from) * whole / (double)parts;
        set_vectors(s);
        place_piece(g, s);
      }
    }
  }
  return STATUS_OK;
}

/* REACH pieces straight on from an end; `inner` is the point before it. */
static void lengthen(const grid *g, const double inner[3], const double end[3], piece *pieces)
{
  double width = 0.0;
  (void)width_at(g, end, &width);
  for (int n = 0; n < REACH; n++) {
    piece *s = &pieces[n];
    *s = (piece){.length = width, .joined = true, .beyond = true};
    for (int a = 0; a < 3; a++) {
      const double way = (end[a] - inner[a]) / apart(inner, end) * width;
      s->from[a] = end[a] + n * way;
      s->to[a] = end[a] + (n + 1) * way;
    }
    set_vectors(s);
  }
}

static void on_tube(const piece *s, double radius, int station, int angle, double p[3])
{
  const double share = (station + 0.5) / STATIONS, turn = 2.0 * pi * (angle + 0.5) / ANGLES;
  for (int a = 0; a < 3; a++) {
    p[a] = s->from[a] + share * (s->to[a] - s->from[a]) + radius * (cos(turn) * s->side[0][a] + sin(turn) * s->side[1][a]);
  }
}

/* ------------------------------------------------------------------------------------------- the box */

/* Beyond a mirror plane edges are the images of those on our side. */
static double edge_of(const grid *g, int axis, long index)
{
  const double *e = g->edges[axis];
  const long last = (long)g->num[axis];
  if (index < 0 && g->mirror[2 * axis]) {
    return 2.0 * e[0] - (-index > last ? e[last] + (double)(-index - last) * (e[last] - e[last - 1]) : e[-index]);
  }
  if (index > last && g->mirror[2 * axis + 1]) {
    return 2.0 * e[last] - (index > 2 * last ? e[0] - (double)(index - 2 * last) * (e[1] - e[0]) : e[2 * last - index]);
  }
  if (index < 0) {
    return e[0] + (double)index * (e[1] - e[0]);
  }
  return index > last ? e[last] + (double)(index - last) * (e[last] - e[last - 1]) : e[index];
}

static long index_of(const grid *g, int axis, double x)
{
  long i = 0;
  while (edge_of(g, axis, i) > x) {
    i--;
  }
  while (edge_of(g, axis, i + 1) <= x) {
    i++;
  }
  return i;
}

static bool box_place(box *b)
{
  const grid *g = b->m->grid;
  b->cells = 1;
  for (int d = 0; d < 3; d++) {
    double low = INFINITY, high = -INFINITY;
    for (size_t i = 0; i < b->num_pieces; i++) {
      low = fmin(low, fmin(b->pieces[i].from[d], b->pieces[i].to[d]));
      high = fmax(high, fmax(b->pieces[i].from[d], b->pieces[i].to[d]));
    }
    b->first[d] = index_of(g, d, low - 2.0 * b->radius) - REACH;
    b->num[d] = (size_t)(index_of(g, d, high + 2.0 * b->radius) + REACH + 1 - b->first[d]);
    b->cells *= b->num[d];
    b->edge[d] = malloc((b->num[d] + 3) * sizeof *b->edge[d]);
    b->centre[d] = malloc((b->num[d] + 2) * sizeof *b->centre[d]);
    if (!b->edge[d] || !b->centre[d]) {
      return false;
    }
    for (size_t i = 0; i < b->num[d] + 3; i++) {
      b->edge[d][i] = edge_of(g, d, b->first[d] + (long)i - 1);
    }
    for (size_t i = 0; i < b->num[d] + 2; i++) {
      b->centre[d][i] = 0.5 * (b->edge[d][i] + b->edge[d][i + 1]);
    }
  }
  double **const arrays[6] = {&b->u, &b->source, &b->diagonal, &b->residual, &b->search, &b->image};
  for (int i = 0; i < 6; i++) {
    *arrays[i] = calloc(b->cells, sizeof **arrays[i]);
    if (!*arrays[i]) {
      return false;
    }
  }
  return true;
}

static void box_release(box *b)
{
  for (int d = 0; d < 3; d++) {
    free(b->edge[d]);
    free(b->centre[d]);
  }
  free(b->u);
  free(b->source);
  free(b->diagonal);
  free(b->residual);
  free(b->search);
  free(b->image);
  free(b->pieces);
}

static void box_indices(const box *b, size_t cell, size_t at[3])
{
  at[0] = cell % b->num[0];
  at[1] = cell / b->num[0] % b->num[1];
  at[2] = cell / b->num[0] / b->num[1];
}

/* The grid's cell, or its image on our side of a mirror plane; false when there is none. */
static bool grid_cell_of(const box *b, size_t cell, size_t *out)
{
  const grid *g = b->m->grid;
  size_t at[3], ijk[3];
  box_indices(b, cell, at);
  for (int d = 0; d < 3; d++) {
    long i = b->first[d] + (long)at[d];
    const long last = (long)g->num[d];
    i = i < 0 && g->mirror[2 * d] ? -1 - i : i >= last && g->mirror[2 * d + 1] ? 2 * last - 1 - i : i;
    if (i < 0 || i >= last) {
      return false;
    }
    ijk[d] = (size_t)i;
  }
  *out = grid_cell(g, ijk[0], ijk[1], ijk[2]);
  return true;
}

static int32_t node_of(const box *b, size_t cell, int32_t part)
{
  size_t own;
  return grid_cell_of(b, cell, &own) ? mesh_find_node(b->m, own, part) : MESH_NONE;
}

static int32_t part_of(const box *b, const piece *s)
{
  double middle[3], image[3];
  for (int a = 0; a < 3; a++) {
    middle[a] = 0.5 * (s->from[a] + s->to[a]);
  }
  to_our_side(b->m->grid, middle, image);
  const int32_t node = mesh_node_at(b->m, image);
  return node < 0 ? MESH_VOID : b->m->part[node];
}

/* ------------------------------------------------------------------------------------------- sharing */

static void add_share(piece *s, size_t cell, double weight)
{
  for (size_t i = 0; i < s->num; i++) {
    if (s->cell[i] == cell) {
      s->weight[i] += weight;
      return;
    }
  }
  s->cell[s->num] = cell;
  s->weight[s->num++] = weight;
}

/* Shares the piece over points of a cylinder round it, each between the middles of eight cells. False: no cell can take it. */
static bool share_piece(const box *b, piece *s, int32_t part, double circle)
{
  double kept = 0.0;
  s->num = 0;
  for (int n = 0; n < STATIONS * ANGLES; n++) {
    double p[3], part_up[3];
    size_t low[3];
    on_tube(s, circle, n / ANGLES, n % ANGLES, p);
    for (int d = 0; d < 3; d++) {
      size_t i = 0; /* the last cell of the box whose middle is not above p */
      while (i + 1 < b->num[d] && b->centre[d][i + 2] <= p[d]) {
        i++;
      }
      low[d] = i;
      part_up[d] = (p[d] - b->centre[d][i + 1]) / (b->centre[d][i + 2] - b->centre[d][i + 1]);
    }
    for (int corner = 0; corner < 8; corner++) {
      double share = 1.0;
      size_t at[3];
      for (int d = 0; d < 3; d++) {
        const int up = corner >> d & 1;
        at[d] = low[d] + (size_t)up;
        share *= up ? part_up[d] : 1.0 - part_up[d];
      }
      if (share > 0.0) {
        add_share(s, (at[2] * b->num[1] + at[1]) * b->num[0] + at[0], share);
      }
    }
  }
  for (size_t i = 0; i < s->num; i++) {
    s->weight[i] = !s->beyond && node_of(b, s->cell[i], part) == MESH_NONE ? 0.0 : s->weight[i];
    kept += s->weight[i];
  }
  for (size_t i = 0; i < s->num && kept > 0.0; i++) {
    s->weight[i] /= kept;
  }
  return kept > 0.0;
}

/* ------------------------------------------------------------------------------------------- the discrete problem */

static double face(const box *b, const size_t at[3], int d, int up)
{
  const int e = (d + 1) % 3, f = (d + 2) % 3;
  const double area = (b->edge[e][at[e] + 2] - b->edge[e][at[e] + 1]) * (b->edge[f][at[f] + 2] - b->edge[f][at[f] + 1]);
  return area / (b->centre[d][at[d] + 1 + (size_t)up] - b->centre[d][at[d] + (size_t)up]);
}

/* The balance of one cell for `u`: what its neighbours inside the box give it. */
static double from_neighbours(const box *b, const double *u, size_t cell)
{
  const size_t stride[3] = {1, b->num[0], b->num[0] * b->num[1]};
  size_t at[3];
  double sum = 0.0;
  box_indices(b, cell, at);
  for (int d = 0; d < 3; d++) {
    if (at[d] > 0) {
      sum += face(b, at, d, 0) * u[cell - stride[d]];
    }
    if (at[d] + 1 < b->num[d]) {
      sum += face(b, at, d, 1) * u[cell + stride[d]];
    }
  }
  return sum;
}

/* Diagonal, and the exact potential beyond the edge of the box as a source. */
static void set_edge(box *b)
{
#pragma omp parallel for schedule(static)
  for (size_t cell = 0; cell < b->cells; cell++) {
    size_t at[3];
    box_indices(b, cell, at);
    b->diagonal[cell] = 0.0;
    b->image[cell] = 0.0;
    for (int side = 0; side < 6; side++) {
      const int d = side / 2, up = side % 2;
      const double g = face(b, at, d, up);
      b->diagonal[cell] += g;
      if (up ? at[d] + 1 == b->num[d] : at[d] == 0) {
        double p[3] = {b->centre[0][at[0] + 1], b->centre[1][at[1] + 1], b->centre[2][at[2] + 1]};
        p[d] = b->centre[d][up ? b->num[d] + 1 : 0];
        b->image[cell] += g * potential_at(b, p);
      }
    }
  }
  memcpy(b->source, b->image, b->cells * sizeof *b->source);
}

static double product(const double *a, const double *b, size_t num)
{
  double sum = 0.0;
  for (size_t i = 0; i < num; i++) {
    sum += a[i] * b[i];
  }
  return sum;
}

/* Conjugate gradients with the diagonal; `residual` holds the right-hand side at first. False: does not end. */
static bool solve(box *b)
{
  double *r = b->residual, *p = b->search, *q = b->image;
  memset(b->u, 0, b->cells * sizeof *b->u);
  double rho = 0.0, first = 0.0;
  for (size_t i = 0; i < b->cells; i++) {
    p[i] = r[i] / b->diagonal[i];
    rho += r[i] * p[i];
  }
  first = rho;
  for (int round = 0; round < MOST_ROUNDS; round++) {
    if (rho <= SOLVED * SOLVED * first) {
      return true;
    }
#pragma omp parallel for schedule(static)
    for (size_t i = 0; i < b->cells; i++) {
      q[i] = b->diagonal[i] * p[i] - from_neighbours(b, p, i);
    }
    const double step = rho / product(p, q, b->cells);
    double next = 0.0;
    for (size_t i = 0; i < b->cells; i++) {
      b->u[i] += step * p[i];
      r[i] -= step * q[i];
      next += r[i] * r[i] / b->diagonal[i];
    }
    const double keep = next / rho;
    rho = next;
    for (size_t i = 0; i < b->cells; i++) {
      p[i] = r[i] / b->diagonal[i] + keep * p[i];
    }
  }
  return false;
}

/* ------------------------------------------------------------------------------------------- joining */

static status no_room(const piece *s, double radius, message *msg)
{
  return message_set(msg, STATUS_BAD_INPUT,
                     "at x %.5g, y %.5g, z %.5g mm there is no room to share the heat of a tube of radius %.4g mm over the cells around it; use coarser "
                     "cells or a thinner tube", 1e3 * s->from[0], 1e3 * s->from[1], 1e3 * s->from[2], 1e3 * radius);
}

/* Mean exact potential at the surface of a piece. */
static double at_surface(const box *b, const piece *s)
{
  double sum = 0.0;
  for (int n = 0; n < STATIONS * ANGLES; n++) {
    double p[3];
    on_tube(s, b->radius, n / ANGLES, n % ANGLES, p);
    sum += potential_at(b, p);
  }
  return sum / (STATIONS * ANGLES);
}

/* 1 / geometric per length of each piece, for the heat shared over a cylinder of radius `circle`. *least: of ln(r_eff / a). */
static status find_gaps(box *b, const coil_line *line, double circle, const double *surface, double *gap, double *least, message *msg)
{
  memcpy(b->residual, b->source, b->cells * sizeof *b->residual);
  for (size_t i = 0; i < b->num_pieces; i++) {
    piece *s = &b->pieces[i];
    if (!s->joined) {
      continue;
    }
    if (!share_piece(b, s, s->beyond ? MESH_VOID : line->pieces[i].part, circle)) {
      return no_room(s, b->radius, msg);
    }
    for (size_t n = 0; n < s->num; n++) {
      b->residual[s->cell[n]] += s->length * s->weight[n];
    }
  }
  if (!solve(b)) {
    return message_set(msg, STATUS_FAILED, "the join of a tube to %zu cells was not found in %d rounds", b->cells, MOST_ROUNDS);
  }
  *least = INFINITY;
  for (size_t i = 0; i < b->num_pieces; i++) {
    const piece *s = &b->pieces[i];
    double mean = 0.0;
    for (size_t n = 0; s->joined && n < s->num; n++) {
      mean += s->weight[n] * b->u[s->cell[n]];
    }
    gap[i] = s->joined ? surface[i] - mean : 0.0;
    *least = s->joined && !s->beyond ? fmin(*least, 2.0 * pi * gap[i]) : *least;
  }
  return STATUS_OK;
}

static status gather(const box *b, const piece *s, double gap, coil_line_piece *out, message *msg)
{
  out->node = malloc(s->num * sizeof *out->node);
  out->weight = malloc(s->num * sizeof *out->weight);
  if (!out->node || !out->weight) {
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for a piece of tube of %zu nodes", s->num);
  }
  for (size_t n = 0; n < s->num; n++) {
    const int32_t node = s->weight[n] > 0.0 ? node_of(b, s->cell[n], out->part) : MESH_NONE;
    if (node != MESH_NONE) {
      node_shares_add(out->node, out->weight, &out->num, node, s->weight[n]);
    }
  }
  out->geometric = out->length / gap;
  out->equivalent_radius = b->radius * exp(2.0 * pi * gap);
  return STATUS_OK;
}

static status join_to_grid(box *b, coil_line *line, message *msg)
{
  double *surface = calloc(b->num_pieces, sizeof *surface), *gap = calloc(b->num_pieces, sizeof *gap), least = 0.0, circle = b->radius;
  status code = surface && gap && box_place(b) ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu cells round a tube", b->cells);
  if (code == STATUS_OK) {
    set_edge(b);
#pragma omp parallel for schedule(static)
    for (size_t i = 0; i < b->num_pieces; i++) {
      surface[i] = b->pieces[i].joined ? at_surface(b, &b->pieces[i]) : 0.0;
    }
  }
  for (int turn = 0; code == STATUS_OK && turn < MOST_CIRCLES && !(least > log(LEAST_RADIUS_RATIO)); turn++, circle *= WIDER) {
    code = find_gaps(b, line, circle, surface, gap, &least, msg);
  }
  if (code == STATUS_OK && !(least > log(LEAST_RADIUS_RATIO))) {
    code = no_room(&b->pieces[0], b->radius, msg);
  }
  for (size_t i = 0; code == STATUS_OK && i < b->num_real; i++) {
    if (b->pieces[i].joined && b->pieces[i].ours > 0.0) {
      code = gather(b, &b->pieces[i], gap[i], &line->pieces[i], msg);
    }
  }
  free(surface);
  free(gap);
  return code;
}

/* One more share of a piece for the node that holds a point of the part. */
static void add_point(coil_line_piece *out, const mesh *m, const double p[3])
{
  double image[3];
  size_t cell;
  to_our_side(m->grid, p, image);
  const int32_t node = grid_find(m->grid, image, &cell) ? mesh_find_node(m, cell, out->part) : MESH_NONE;
  if (node != MESH_NONE) {
    node_shares_add(out->node, out->weight, &out->num, node, 1.0);
  }
}

/* Shares by volume: samples through the tube, on rings of equal area, each to the cell that holds it. */
static status spread_piece(const box *b, const piece *s, coil_line_piece *out, message *msg)
{
  enum { RINGS = 8, SAMPLES = STATIONS * RINGS * ANGLES };
  double sum = 0.0;
  out->node = malloc(SAMPLES * sizeof *out->node);
  out->weight = malloc(SAMPLES * sizeof *out->weight);
  if (!out->node || !out->weight) {
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for a piece of tube of %d nodes", SAMPLES);
  }
  for (int n = 0; n < SAMPLES; n++) {
    double p[3];
    const int ring = n / ANGLES % RINGS;
    on_tube(s, b->radius * sqrt((ring + 0.5) / RINGS), n / (ANGLES * RINGS), n % ANGLES, p);
    add_point(out, b->m, p);
  }
  for (size_t n = 0; n < out->num; n++) {
    sum += out->weight[n];
  }
  for (size_t n = 0; n < out->num; n++) {
    out->weight[n] /= sum;
  }
  return out->num > 0 ? STATUS_OK : no_room(s, b->radius, msg);
}

static status spread_over_grid(const box *b, coil_line *line, message *msg)
{
  status code = STATUS_OK;
  for (size_t i = 0; code == STATUS_OK && i < b->num_real; i++) {
    if (b->pieces[i].joined && b->pieces[i].ours > 0.0) {
      code = spread_piece(b, &b->pieces[i], &line->pieces[i], msg);
    }
  }
  return code;
}

/* Part, length and place of every piece; false when none gives to the grid. */
static status describe(box *b, coil_line *line, const bool *pooled, bool *any, message *msg)
{
  const double images = b->m->images;
  *any = false;
  for (size_t i = 0; i < b->num_real; i++) {
    piece *s = &b->pieces[i];
    coil_line_piece *out = &line->pieces[i];
    out->part = part_of(b, s);
    out->equivalent_radius = NAN;
    out->length = images * s->ours * s->length;
    for (int a = 0; a < 3; a++) {
      out->middle[a] = 0.5 * (s->from[a] + s->to[a]);
    }
    if (out->part < 0) {
      return message_set(msg, STATUS_BAD_INPUT, "at x %.5g, y %.5g, z %.5g mm the tube lies in no part that conducts: move it, or raise the level of the "
                         "bath", 1e3 * out->middle[0], 1e3 * out->middle[1], 1e3 * out->middle[2]);
    }
    s->joined = !pooled[out->part];
    *any = *any || s->joined;
  }
  return STATUS_OK;
}

status coil_line_create(coil_line *out, const mesh *m, const double (*points)[3], size_t num_points, double tube_radius, const bool *pooled,
                        bool spread, message *msg)
{
  box b = {.m = m, .radius = tube_radius};
  bool any = false;
  *out = (coil_line){0};
  if (m->grid->kind != GRID_XYZ || !(tube_radius > 0.0)) {
    return message_set(msg, STATUS_BAD_INPUT, "a line of tube (radius %g m) is joined to (x, y, z) grids only", tube_radius);
  }
  status code = cut_line(m->grid, points, num_points, NULL, &b.num_real, msg);
  if (code == STATUS_OK) {
    b.num_pieces = b.num_real + 2 * REACH;
    b.pieces = calloc(b.num_pieces, sizeof *b.pieces);
    out->pieces = calloc(b.num_real + 1, sizeof *out->pieces);
    if (!b.pieces || !out->pieces) {
      code = message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu pieces of tube", b.num_pieces);
    }
  }
  if (code == STATUS_OK) {
    out->num = b.num_real;
    code = cut_line(m->grid, points, num_points, b.pieces, &b.num_real, msg);
  }
  if (code == STATUS_OK && apart(points[0], points[num_points - 1]) < tube_radius) {
    b.num_pieces = b.num_real; /* closed on itself: it has no ends */
  } else if (code == STATUS_OK) {
    lengthen(m->grid, points[1], points[0], &b.pieces[b.num_real]);
    lengthen(m->grid, points[num_points - 2], points[num_points - 1], &b.pieces[b.num_real + REACH]);
  }
  if (code == STATUS_OK) {
    code = describe(&b, out, pooled, &any, msg);
  }
  if (code == STATUS_OK && any) {
    code = spread ? spread_over_grid(&b, out, msg) : join_to_grid(&b, out, msg);
  }
  box_release(&b);
  if (code != STATUS_OK) {
    coil_line_release(out);
  }
  return code;
}

void coil_line_release(coil_line *line)
{
  for (size_t i = 0; line && i < line->num; i++) {
    free(line->pieces[i].node);
    free(line->pieces[i].weight);
  }
  if (line) {
    free(line->pieces);
    *line = (coil_line){0};
  }
}
