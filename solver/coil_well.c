#include "solver/coil_well.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/node_shares.h"

static const double pi = 3.14159265358979323846;

enum {
  REACH = 15,            /* cells from the tube's cell to the edge of the patch                     */
  WIDEST = 2 * REACH + 1,
  CIRCLE_POINTS = 64,    /* points round the tube over which the source is shared                    */
  MOST_CLEARED = 120,    /* cells that one tube may clear                                            */
  DISC_POINTS = 48       /* samples across the tube when it is spread over its cross-section         */
};
/* The logarithm must be well away from 0, else the heat would hang on rounding of r_eff. */
static const double LEAST_RADIUS_RATIO = 1.05;
/* Shells thinner than this share of the tube's radius are not worth having. */
static const double LEAST_SHELL_RATIO = 1.15;

/* The patch: columns of cells along r, rows along z, in patch numbering. Beyond the grid the outermost spacing is repeated, so
 * that a tube near the edge is treated like any other (the grid's own boundary then acts through the grid, as it should). */
typedef struct {
  size_t num[2];                     /* columns, rows, each <= WIDEST                           */
  long first[2];                     /* grid index of patch column or row 0; may be negative     */
  double edge[2][WIDEST + 1];        /* m                                                        */
  double centre[2][WIDEST + 2];      /* m, of cells (like the nodes: middle of the section); [0], [num + 1]: beyond */
  double source[WIDEST * WIDEST];    /* share of the heat per patch cell, sum 1                   */
  bool hole[WIDEST * WIDEST], rim[WIDEST * WIDEST]; /* cells that are cleared, and those beside them */
} patch;

static double edge_of(const grid *g, int axis, long index)
{
  const double *e = g->edges[axis];
  const long last = (long)g->num[axis];
  if (index < 0) {
    return e[0] + (double)index * (e[1] - e[0]);
  }
  if (index > last) {
    return e[last] + (double)(index - last) * (e[last] - e[last - 1]);
  }
  return e[index];
}

static void patch_place(patch *p, const grid *g, size_t i, size_t k)
{
  const int axis[2] = {0, 2};
  const long cell[2] = {(long)i, (long)k};
  for (int d = 0; d < 2; d++) {
    long first = cell[d] - REACH;
    if (d == 0) { /* columns stop at the innermost edge: the axis, or the hole of a grid that starts outside it */
      first = first < 0 ? 0 : first;
    }
    p->first[d] = first;
    p->num[d] = (size_t)(cell[d] + REACH - first + 1);
    for (size_t n = 0; n <= p->num[d]; n++) {
      p->edge[d][n] = edge_of(g, axis[d], first + (long)n);
    }
    for (size_t n = 0; n < p->num[d]; n++) {
      p->centre[d][n + 1] = 0.5 * (p->edge[d][n] + p->edge[d][n + 1]);
    }
    const double below = edge_of(g, axis[d], first - 1);
    p->centre[d][0] = 0.5 * (below + p->edge[d][0]);
    p->centre[d][p->num[d] + 1] =
        0.5 * (p->edge[d][p->num[d]] + edge_of(g, axis[d], first + (long)p->num[d] + 1));
  }
}

/* Shares the source between the cells around points of a circle, bilinear between cell centres: the centre of heat is then the
 * tube's axis wherever it lies. */
static void patch_share(patch *p, double r0, double z0, double radius)
{
  memset(p->source, 0, sizeof p->source);
  for (int n = 0; n < CIRCLE_POINTS; n++) {
    const double angle = 2.0 * pi * ((double)n + 0.5) / CIRCLE_POINTS;
    const double at[2] = {fabs(r0 + radius * cos(angle)), z0 + radius * sin(angle)};
    size_t low[2];
    double part[2];
    for (int d = 0; d < 2; d++) {
      size_t c = 0;
      while (c + 1 < p->num[d] && p->centre[d][c + 2] <= at[d]) {
        c++;
      }
      /* c: the last cell whose centre is not above the point (the innermost when the point lies inside its centre). */
      const double a = p->centre[d][c + 1];
      const bool alone = at[d] <= a || c + 1 == p->num[d];
      low[d] = c;
      part[d] = alone ? 0.0 : (at[d] - a) / (p->centre[d][c + 2] - a);
    }
    for (int corner = 0; corner < 4; corner++) {
      const int right = corner & 1, up = corner >> 1;
      const double share = (right ? part[0] : 1.0 - part[0]) * (up ? part[1] : 1.0 - part[1]);
      if (share > 0.0) {
        p->source[(low[1] + (size_t)up) * p->num[0] + low[0] + (size_t)right] += share / CIRCLE_POINTS;
      }
    }
  }
}

/* Shares by cross-section: samples over the disc, each to the cell that holds it. */
static void patch_share_disc(patch *p, double r0, double z0, double radius)
{
  memset(p->source, 0, sizeof p->source);
  size_t count = 0;
  for (int a = 0; a < DISC_POINTS * DISC_POINTS; a++) {
    const double x = (2.0 * (a % DISC_POINTS) + 1.0) / DISC_POINTS - 1.0;
    const double y = (2.0 * (a / DISC_POINTS) + 1.0) / DISC_POINTS - 1.0;
    if (x * x + y * y > 1.0) {
      continue;
    }
    const double at[2] = {r0 + radius * x, z0 + radius * y};
    size_t cell[2] = {0, 0};
    for (int d = 0; d < 2; d++) {
      while (cell[d] + 1 < p->num[d] && p->edge[d][cell[d] + 1] <= at[d]) {
        cell[d]++;
      }
    }
    p->source[cell[1] * p->num[0] + cell[0]] += 1.0;
    count++;
  }
  for (size_t n = 0; n < p->num[0] * p->num[1]; n++) {
    p->source[n] /= (double)count;
  }
}

/* Complete elliptic integral of the first kind by the arithmetic-geometric mean (Abramowitz & Stegun 17.6). */
static double elliptic_k(double parameter)
{
  double a = 1.0, b = sqrt(1.0 - parameter);
  while (fabs(a - b) > 1e-15 * a) {
    const double mean = 0.5 * (a + b);
    b = sqrt(a * b);
    a = mean;
  }
  return pi / (2.0 * a);
}

/* Potential of a ring source of 1 W/m at radius r0, per unit 1/(2 pi), in an unbounded medium; -> ln(8 r0 / rho) close to the ring. */
static double ring_potential(double r0, double r, double dz)
{
  const double square = (r + r0) * (r + r0) + dz * dz;
  return 2.0 * r0 / sqrt(square) * elliptic_k(4.0 * r * r0 / square);
}

/* Of a cell's face (low r, high r, low z, high z), per radian over r0. */
static double patch_conductance(const patch *p, size_t n, int side, double r0)
{
  const size_t i = n % p->num[0], k = n / p->num[0];
  const int d = side / 2, up = side % 2;
  const size_t c = d == 0 ? i : k;
  const double apart = up ? p->centre[d][c + 2] - p->centre[d][c + 1] : p->centre[d][c + 1] - p->centre[d][c];
  const double area = d == 0 ? p->edge[0][i + (size_t)up] * (p->edge[1][k + 1] - p->edge[1][k])
                             : 0.5 * (p->edge[0][i + 1] + p->edge[0][i]) * (p->edge[0][i + 1] - p->edge[0][i]);
  return area / (r0 * apart);
}

/* Solves the discrete balance of the patch for the source's own weights; u is per unit 1/(2 pi). The matrix is symmetric positive
 * definite with a half band of one column of cells; banded Cholesky in place. `band` holds (num columns + 1) per unknown. */
static void patch_solve(const patch *p, double r0, double z0, double *band, double *u)
{
  const size_t nr = p->num[0], nz = p->num[1], num = nr * nz, width = nr + 1;
  memset(band, 0, num * width * sizeof *band);
  /* band[n * width + (n - m)] = A(n, m), m <= n. Conductances per radian over r0: a source of 1 W/m over 2 pi then reads as
   * `source` times 2 pi / (2 pi) = source. */
  for (size_t k = 0; k < nz; k++) {
    for (size_t i = 0; i < nr; i++) {
      const size_t n = k * nr + i;
      u[n] = 2.0 * pi * p->source[n];
      for (int side = 0; side < 4; side++) { /* low r, high r, low z, high z */
        const int d = side / 2, up = side % 2;
        const size_t c = d == 0 ? i : k;
        const double conductance = patch_conductance(p, n, side, r0);
        const bool inside = up ? c + 1 < p->num[d] : c > 0;
        if (conductance <= 0.0) {
          continue; /* the axis */
        }
        band[n * width] += conductance;
        if (inside && !up) {
          band[n * width + (d == 0 ? 1 : nr)] -= conductance;
        } else if (!inside) {
          const double r = fabs(d == 0 ? p->centre[0][up ? nr + 1 : 0] : p->centre[0][i + 1]);
          const double z = d == 1 ? p->centre[1][up ? nz + 1 : 0] : p->centre[1][k + 1];
          u[n] += conductance * ring_potential(r0, r, z - z0);
        }
      }
    }
  }
  for (size_t n = 0; n < num; n++) {
    const size_t lowest = n >= nr ? n - nr : 0;
    for (size_t m = lowest; m <= n; m++) {
      const size_t from = m >= nr && m - nr > lowest ? m - nr : lowest;
      double sum = band[n * width + (n - m)];
      for (size_t q = from; q < m; q++) {
        sum -= band[n * width + (n - q)] * band[m * width + (m - q)];
      }
      band[n * width + (n - m)] = m == n ? sqrt(sum) : sum / band[m * width];
    }
    double value = u[n];
    for (size_t q = lowest; q < n; q++) {
      value -= band[n * width + (n - q)] * u[q];
    }
    u[n] = value / band[n * width];
  }
  for (size_t n = num; n-- > 0;) {
    u[n] /= band[n * width];
    const size_t lowest = n >= nr ? n - nr : 0;
    for (size_t q = lowest; q < n; q++) {
      u[q] -= band[n * width + (n - q)] * u[n];
    }
  }
}

/* The rho at which the potential of the ring equals `potential` (close to the ring it is ln(8 r0 / rho)). */
static double radius_of(double r0, double potential)
{
  return 8.0 * r0 * exp(-potential);
}

static double patch_equivalent_radius(const patch *p, double r0, double z0, double *band, double *u)
{
  patch_solve(p, r0, z0, band, u);
  double mean = 0.0;
  for (size_t n = 0; n < p->num[0] * p->num[1]; n++) {
    mean += p->source[n] * u[n];
  }
  return radius_of(r0, mean);
}

/* The node of the part that stands for a patch cell, or MESH_NONE. */
static int32_t node_of(const patch *p, const mesh *m, int part, size_t n)
{
  const long i = p->first[0] + (long)(n % p->num[0]), k = p->first[1] + (long)(n / p->num[0]);
  if (i < 0 || k < 0 || i >= (long)m->grid->num[0] || k >= (long)m->grid->num[2]) {
    return MESH_NONE;
  }
  return mesh_find_node(m, grid_cell(m->grid, (size_t)i, 0, (size_t)k), part);
}

/* Takes the source off cells where the part has no node. Returns what share was left before rescaling to 1. */
static double patch_keep_part(patch *p, const mesh *m, int part)
{
  double kept = 0.0;
  for (size_t n = 0; n < p->num[0] * p->num[1]; n++) {
    if (p->source[n] > 0.0 && node_of(p, m, part, n) == MESH_NONE) {
      p->source[n] = 0.0;
    }
    kept += p->source[n];
  }
  for (size_t n = 0; n < p->num[0] * p->num[1] && kept > 0.0; n++) {
    p->source[n] /= kept;
  }
  return kept;
}

static status check_place(const mesh *m, int part, double r0, double z0, double a, size_t *cell, message *msg)
{
  const grid *g = m->grid;
  const double mm = 1e3;
  const double r_low = g->edges[0][0], r_high = g->edges[0][g->num[0]];
  const double z_low = g->edges[2][0], z_high = g->edges[2][g->num[2]];
  const double at[3] = {r0, 0.0, z0};
  if (g->kind != GRID_RZ) {
    return message_set(msg, STATUS_BAD_INPUT, "a tube ring is joined to (r, z) grids only");
  }
  if (!(a > 0.0) || !(r0 > a) || !isfinite(r0) || !isfinite(z0)) {
    return message_set(msg, STATUS_BAD_INPUT,
                       "tube ring of radius %g mm with tube radius %g mm: the ring must be larger than its tube, and both above 0",
                       r0 * mm, a * mm);
  }
  if (r0 - a < r_low || r0 + a > r_high || z0 - a < z_low || z0 + a > z_high || !grid_find(g, at, cell)) {
    return message_set(msg, STATUS_BAD_INPUT,
                       "tube ring at r = %g mm, z = %g mm (tube radius %g mm) leaves the grid, r %g to %g mm, z %g to %g mm: "
                       "move the coil or enlarge the domain",
                       r0 * mm, z0 * mm, a * mm, r_low * mm, r_high * mm, z_low * mm, z_high * mm);
  }
  if (mesh_find_node(m, *cell, part) == MESH_NONE) {
    return message_set(msg, STATUS_BAD_INPUT,
                       "tube ring at r = %g mm, z = %g mm does not lie in part %d: move the coil, or raise the level of the bath",
                       r0 * mm, z0 * mm, part);
  }
  /* The tube's surface lies in cells that hold the part, and no centre of another part's node lies inside the tube (in a cell that
   * several parts share the cut is not looked into further). */
  for (int n = 0; n < CIRCLE_POINTS; n++) {
    const double angle = 2.0 * pi * n / CIRCLE_POINTS;
    const double on[3] = {r0 + a * cos(angle), 0.0, z0 + a * sin(angle)};
    size_t there = 0;
    if (grid_find(g, on, &there) && mesh_find_node(m, there, part) == MESH_NONE) {
      return message_set(msg, STATUS_BAD_INPUT,
                         "tube ring at r = %g mm, z = %g mm (tube radius %g mm) reaches out of part %d at r = %g mm, z = %g mm: "
                         "move the coil or make the tube thinner",
                         r0 * mm, z0 * mm, a * mm, part, on[0] * mm, on[2] * mm);
    }
  }
  for (size_t n = 0; n < m->num_nodes; n++) {
    if (m->volume[n] > 0.0 && m->part[n] != part && hypot(m->centroid[n][0] - r0, m->centroid[n][2] - z0) < a) {
      return message_set(msg, STATUS_BAD_INPUT,
                         "tube ring at r = %g mm, z = %g mm (tube radius %g mm) runs into part %d at r = %g mm, z = %g mm: "
                         "move the coil or make the tube thinner",
                         r0 * mm, z0 * mm, a * mm, (int)m->part[n], m->centroid[n][0] * mm, m->centroid[n][2] * mm);
    }
  }
  return STATUS_OK;
}

/* Collects the nodes of the patch's source; cells that were merged into one node add up. */
static status gather(coil_well *out, const patch *p, const mesh *m, int part, message *msg)
{
  size_t most = 0;
  for (size_t n = 0; n < p->num[0] * p->num[1]; n++) {
    most += p->source[n] > 0.0;
  }
  out->node = malloc(most * sizeof *out->node);
  out->weight = malloc(most * sizeof *out->weight);
  if (!out->node || !out->weight) {
    coil_well_release(out);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for a tube ring of %zu nodes", most);
  }
  for (size_t n = 0; n < p->num[0] * p->num[1]; n++) {
    if (p->source[n] <= 0.0) {
      continue;
    }
    node_shares_add(out->node, out->weight, &out->num, node_of(p, m, part, n), p->source[n]);
  }
  return STATUS_OK;
}

status coil_well_create(coil_well *out, const mesh *m, int part, double r0, double z0, double tube_radius, bool spread,
                        message *msg)
{
  coil_well w = {.length = 2.0 * pi * r0, .equivalent_radius = NAN};
  patch *p = NULL;
  double *band = NULL, *u = NULL;
  size_t cell = 0, ijk[3];
  status s = check_place(m, part, r0, z0, tube_radius, &cell, msg);
  if (s != STATUS_OK) {
    return s;
  }
  p = malloc(sizeof *p);
  band = malloc((size_t)WIDEST * WIDEST * (WIDEST + 1) * sizeof *band);
  u = malloc((size_t)WIDEST * WIDEST * sizeof *u);
  if (!p || !band || !u) {
    s = message_set(msg, STATUS_NO_MEMORY, "out of memory for the equivalent radius of a tube ring");
    goto done;
  }
  grid_cell_indices(m->grid, cell, ijk);
  patch_place(p, m->grid, ijk[0], ijk[2]);
  if (spread) {
    patch_share_disc(p, r0, z0, tube_radius);
    patch_keep_part(p, m, part);
  } else {
    /* The source sits where the tube's surface is; when the cells smear it so little that r_eff comes too close to the tube's own
     * radius, it is shared over a slightly larger circle (r_eff grows with it). */
    double circle = tube_radius, r_eff = 0.0;
    for (int attempt = 0; attempt < 12 && !(r_eff > LEAST_RADIUS_RATIO * tube_radius); attempt++, circle *= 1.1) {
      patch_share(p, r0, z0, circle);
      if (patch_keep_part(p, m, part) <= 0.0) {
        break;
      }
      r_eff = patch_equivalent_radius(p, r0, z0, band, u);
    }
    if (!(r_eff > LEAST_RADIUS_RATIO * tube_radius)) {
      s = message_set(msg, STATUS_BAD_INPUT,
                      "tube ring at r = %g mm, z = %g mm: no room to share its heat over the cells around a tube of radius %g mm; "
                      "use a finer grid and mesh the tube, or spread its film",
                      r0 * 1e3, z0 * 1e3, tube_radius * 1e3);
      goto done;
    }
    w.equivalent_radius = r_eff;
    w.geometric = 2.0 * pi * w.length / log(r_eff / tube_radius);
  }
  s = gather(&w, p, m, part, msg);
  if (s == STATUS_OK) {
    *out = w;
  }
done:
  free(u);
  free(band);
  free(p);
  return s;
}

/* ------------------------------------------------------------------------------------------- with the cells cleared */

/* The cell beside a cell, or SIZE_MAX beyond the patch. */
static size_t beside(const patch *p, size_t n, int side)
{
  const int d = side / 2, up = side % 2;
  const size_t at = d == 0 ? n % p->num[0] : n / p->num[0], stride = d == 0 ? 1 : p->num[0];
  if (up ? at + 1 >= p->num[d] : at == 0) {
    return SIZE_MAX;
  }
  return up ? n + stride : n - stride;
}

typedef struct {
  double r, z, reach, margin; /* m */
  const double (*others)[2];
  size_t num_others;
} hole_request;

/* Whether a point lies in the reach of the tube, and nearer to it by the margin than to any other. */
static bool is_within(const hole_request *q, double r, double z)
{
  const double own = hypot(r - q->r, z - q->z);
  bool within = own < q->reach;
  for (size_t i = 0; within && i < q->num_others; i++) {
    within = own + q->margin <= hypot(r - q->others[i][0], z - q->others[i][1]);
  }
  return within;
}

/* Marks the hole and its rim; false when a cell of either cannot serve. */
static bool patch_open(patch *p, const mesh *m, int part, const hole_request *q, const bool *may_go, const bool *may_edge,
                       double *volume)
{
  const size_t nr = p->num[0], num = nr * p->num[1];
  memset(p->rim, 0, sizeof p->rim);
  *volume = 0.0;
  for (size_t n = 0; n < num; n++) {
    p->hole[n] = is_within(q, p->centre[0][n % nr + 1], p->centre[1][n / nr + 1]);
  }
  for (size_t n = 0; n < num; n++) {
    if (!p->hole[n]) {
      continue;
    }
    const int32_t node = node_of(p, m, part, n);
    if (node == MESH_NONE || !may_go[node]) {
      return false;
    }
    *volume += m->volume[node];
    for (int side = 0; side < 4; side++) {
      const size_t other = beside(p, n, side);
      if (other == SIZE_MAX) {
        return false;
      }
      const int32_t neighbour = node_of(p, m, part, other);
      if (neighbour == MESH_NONE || (!p->hole[other] && !may_edge[neighbour])) {
        return false;
      }
      p->rim[other] = p->rim[other] || !p->hole[other];
    }
  }
  return *volume > 0.0;
}

/* Moves the source from the hole to its rim: what each rim cell would take if the hole conducted and the rim were held at 0 (the
 * field beyond is then that of the source inside). What lies beyond stays where it is. Dense Cholesky over the cells of the hole, `work` of (MOST_CLEARED + 1) MOST_CLEARED.
 * False: the hole has too many cells. */
static bool move_to_rim(patch *p, double r0, double *work)
{
  const size_t num = p->num[0] * p->num[1];
  size_t cell[MOST_CLEARED], count = 0;
  double *u = work + (size_t)MOST_CLEARED * MOST_CLEARED;
  for (size_t n = 0; n < num; n++) {
    if (p->hole[n] && count == MOST_CLEARED) {
      return false;
    }
    if (p->hole[n]) {
      cell[count++] = n;
    }
  }
  for (size_t i = 0; i < count; i++) {
    double *row = work + i * MOST_CLEARED;
    memset(row, 0, (i + 1) * sizeof *row);
    u[i] = p->source[cell[i]];
    p->source[cell[i]] = 0.0;
    for (int side = 0; side < 4; side++) {
      const double g = patch_conductance(p, cell[i], side, r0);
      row[i] += g;
      for (size_t j = 0; j < i; j++) {
        if (cell[j] == beside(p, cell[i], side)) {
          row[j] -= g;
        }
      }
    }
    for (size_t j = 0; j <= i; j++) {
      const double *other = work + j * MOST_CLEARED;
      double sum = row[j];
      for (size_t q = 0; q < j; q++) {
        sum -= row[q] * other[q];
      }
      row[j] = j == i ? sqrt(sum) : sum / other[j];
    }
    for (size_t q = 0; q < i; q++) {
      u[i] -= row[q] * u[q];
    }
    u[i] /= row[i];
  }
  for (size_t i = count; i-- > 0;) {
    u[i] /= work[i * MOST_CLEARED + i];
    for (size_t q = 0; q < i; q++) {
      u[q] -= work[i * MOST_CLEARED + q] * u[i];
    }
    for (int side = 0; side < 4; side++) {
      const size_t other = beside(p, cell[i], side);
      if (p->rim[other]) {
        p->source[other] += patch_conductance(p, cell[i], side, r0) * u[i];
      }
    }
  }
  return true;
}

/* Whether every cell that the source touches can take it: one that is not cleared holds a node that may lie at the edge. */
static bool source_can_stay(const patch *p, const mesh *m, int part, const bool *may_edge)
{
  for (size_t n = 0; n < p->num[0] * p->num[1]; n++) {
    if (p->source[n] > 0.0 && !p->hole[n]) {
      const int32_t node = node_of(p, m, part, n);
      if (node == MESH_NONE || !may_edge[node]) {
        return false;
      }
    }
  }
  return true;
}

static bool stays_apart(const hole_request *q, double radius)
{
  for (size_t i = 0; i < q->num_others; i++) {
    if (2.0 * radius > hypot(q->r - q->others[i][0], q->z - q->others[i][1])) {
      return false;
    }
  }
  return true;
}

status coil_well_open(coil_well *out, const mesh *m, int part, double r0, double z0, double tube_radius, double reach,
                      const double (*others)[2], size_t num_others, const bool *may_go, const bool *may_edge, message *msg)
{
  coil_well w = {.length = 2.0 * pi * r0, .equivalent_radius = NAN};
  size_t cell = 0, ijk[3];
  status s = check_place(m, part, r0, z0, tube_radius, &cell, msg);
  if (s != STATUS_OK) {
    return s;
  }
  patch *p = malloc(sizeof *p);
  double *band = malloc((size_t)WIDEST * WIDEST * (WIDEST + 1) * sizeof *band);
  double *u = malloc((size_t)WIDEST * WIDEST * sizeof *u);
  w.inside = malloc((size_t)WIDEST * WIDEST * sizeof *w.inside);
  if (!p || !band || !u || !w.inside) {
    s = message_set(msg, STATUS_NO_MEMORY, "out of memory for the shells of a tube ring");
    goto done;
  }
  grid_cell_indices(m->grid, cell, ijk);
  patch_place(p, m->grid, ijk[0], ijk[2]);
  double volume = 0.0;
  const double across = m->grid->edges[0][ijk[0] + 1] - m->grid->edges[0][ijk[0]];
  const double up = m->grid->edges[2][ijk[2] + 1] - m->grid->edges[2][ijk[2]];
  const hole_request request = {r0, z0, reach, across > up ? across : up, others, num_others};
  bool fits = patch_open(p, m, part, &request, may_go, may_edge, &volume);
  if (fits) {
    w.outer_radius = sqrt(volume / (2.0 * pi * r0 * pi)); /* Pappus */
    patch_share(p, r0, z0, tube_radius);
    fits = w.outer_radius > LEAST_SHELL_RATIO * tube_radius && w.outer_radius < r0 && source_can_stay(p, m, part, may_edge) &&
           stays_apart(&request, w.outer_radius) && move_to_rim(p, r0, band);
  }
  if (fits) {
    w.equivalent_radius = patch_equivalent_radius(p, r0, z0, band, u);
    fits = w.equivalent_radius > LEAST_RADIUS_RATIO * w.outer_radius;
  }
  if (fits) {
    for (size_t n = 0; n < p->num[0] * p->num[1]; n++) {
      if (p->hole[n]) {
        w.inside[w.num_inside++] = node_of(p, m, part, n);
      }
    }
    s = gather(&w, p, m, part, msg);
    if (s != STATUS_OK) {
      goto done;
    }
  } else {
    coil_well_release(&w);
  }
  *out = w;
  w = (coil_well){0};
done:
  coil_well_release(&w);
  free(u);
  free(band);
  free(p);
  return s;
}

void coil_well_release(coil_well *w)
{
  if (w) {
    free(w->node);
    free(w->weight);
    free(w->inside);
    *w = (coil_well){0};
  }
}
