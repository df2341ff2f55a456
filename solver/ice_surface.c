#include "solver/ice_surface.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/ice_plane.h"

static const double FULL = 1.0 - 1e-9, EMPTY = 1e-9; /* shares beyond these count as full and as none */
static const double FAR = 1e30;

/* ---- cells beside each other ---- */

/* The neighbour; a mirror plane and the axis give the cell back. False: beyond the grid. */
static bool beside(const grid *g, const size_t at[3], int axis, int side, size_t *cell)
{
  size_t to[3] = {at[0], at[1], at[2]};
  if (side ? at[axis] + 1 < g->num[axis] : at[axis] > 0)
    to[axis] = side ? at[axis] + 1 : at[axis] - 1;
  else if (!ice_plane_thin_axis(g, axis) && !g->mirror[2 * axis + side] && !(g->kind == GRID_RZ && axis == 0 && !side && g->edges[0][0] <= 0.0))
    return false;
  *cell = grid_cell(g, to[0], to[1], to[2]);
  return true;
}

/* Distance between the middles of a cell and its neighbour, m; a mirrored or missing neighbour is as wide as the cell. */
static double apart(const grid *g, const size_t at[3], int axis, int side)
{
  const size_t i = at[axis];
  const bool inside = side ? i + 1 < g->num[axis] : i > 0;
  return inside ? 0.5 * (ice_plane_width(g, axis, i) + ice_plane_width(g, axis, side ? i + 1 : i - 1)) : ice_plane_width(g, axis, i);
}

/* ---- measuring ---- */

/* Slope of the distance on one side of a cell. Beyond the grid there is no ice. */
static double slope_beside(const ice_surface *s, const size_t at[3], size_t cell, int axis, int side)
{
  size_t other;
  if (ice_plane_thin_axis(s->grid, axis))
    return 0.0;
  if (!beside(s->grid, at, axis, side, &other))
    return side ? 1.0 : -1.0;
  if (other == cell) { /* a mirror: what comes from the other side goes on to the plane */
    if (s->grid->num[axis] == 1 || !beside(s->grid, at, axis, 1 - side, &other) || other == cell)
      return 0.0;
    side = 1 - side;
  }
  const double rise = (s->distance[other] - s->distance[cell]) / apart(s->grid, at, axis, side);
  return side ? rise : -rise;
}

static ice_box cell_box(const grid *g, const size_t at[3])
{
  ice_box b;
  for (int axis = 0; axis < 3; axis++) {
    b.low[axis] = g->edges[axis][at[axis]];
    b.high[axis] = g->edges[axis][at[axis] + 1];
  }
  b.volume = grid_cell_volume(g, at[0], at[1], at[2]);
  return b;
}

/* The octant of a cell: halves along each axis with more than one cell. */
static ice_box octant(const grid *g, const ice_box *cell, int which)
{
  ice_box b = *cell;
  for (int axis = 0; axis < 3; axis++) {
    if (g->num[axis] == 1)
      continue;
    const double middle = 0.5 * (b.low[axis] + b.high[axis]);
    const bool upper = which & (1 << axis);
    if (g->kind == GRID_RZ && axis == 0) {
      const double all = b.high[0] * b.high[0] - b.low[0] * b.low[0];
      const double part = upper ? b.high[0] * b.high[0] - middle * middle : middle * middle - b.low[0] * b.low[0];
      b.volume *= part / all;
    } else {
      b.volume *= 0.5;
    }
    if (upper)
      b.low[axis] = middle;
    else
      b.high[axis] = middle;
  }
  return b;
}

static double reach_of(const grid *g, const size_t at[3])
{
  double square = 0.0;
  for (int axis = 0; axis < 3; axis++)
    if (g->num[axis] > 1)
      square += ice_plane_width(g, axis, at[axis]) * ice_plane_width(g, axis, at[axis]);
  return sqrt(square);
}

static void measure_cell(ice_surface *s, size_t cell)
{
  const grid *g = s->grid;
  size_t at[3];
  grid_cell_indices(g, cell, at);
  const double value = s->distance[cell];
  s->area[cell] = 0.0;
  s->share[cell] = value < 0.0 ? 1.0 : 0.0;
  if (fabs(value) > reach_of(g, at))
    return;
  double slope[3][2], volume = 0.0, area = 0.0;
  for (int axis = 0; axis < 3; axis++)
    for (int side = 0; side < 2; side++)
      slope[axis][side] = slope_beside(s, at, cell, axis, side);
  const ice_box whole = cell_box(g, at);
  for (int which = 0; which < 8; which++) {
    double here[3], middle = value;
    bool twice = false;
    for (int axis = 0; axis < 3; axis++) {
      const int side = which & (1 << axis) ? 1 : 0;
      twice = twice || (side && g->num[axis] == 1);
      here[axis] = slope[axis][side];
      if (g->num[axis] > 1)
        middle += (side ? 0.25 : -0.25) * ice_plane_width(g, axis, at[axis]) * here[axis];
      else if (!ice_plane_thin_axis(g, axis))
        here[axis] = 0.0;
    }
    if (twice)
      continue;
    const ice_box b = octant(g, &whole, which);
    if (ice_plane_faces(here) > 1) {
      ice_plane_edge(g, at, &b, value, here, &volume, &area);
      continue;
    }
    const double steep = sqrt(here[0] * here[0] + here[1] * here[1] + here[2] * here[2]);
    if (steep > 1.0) { /* a distance rises by no more than the way */
      middle = value + (middle - value) / steep;
      for (int axis = 0; axis < 3; axis++)
        here[axis] /= steep;
    }
    ice_plane_cut(g, &b, middle, here, &volume, &area);
  }
  const bool some = volume > 1e-12 * whole.volume; /* less is rounding */
  s->share[cell] = some ? fmin(1.0, volume / whole.volume) : 0.0;
  s->area[cell] = some ? area : 0.0;
}

/* The outside enters from beyond the grid and passes through cells less than half ice. */
static void reach_from_outside(ice_surface *s)
{
  const grid *g = s->grid;
  size_t first = 0, last = 0, at[3];
  for (size_t cell = 0; cell < s->num_cells; cell++) {
    grid_cell_indices(g, cell, at);
    s->bare[cell] = 0;
    size_t other;
    for (int side = 0; side < 6 && !s->bare[cell]; side++)
      if (!ice_plane_thin_axis(g, side / 2) && g->num[side / 2] > 1 && !beside(g, at, side / 2, side % 2, &other)) {
        s->bare[cell] = 1;
        s->queue[last++] = cell;
      }
  }
  while (first < last) {
    const size_t cell = s->queue[first++];
    if (s->share[cell] > 0.5)
      continue;
    grid_cell_indices(g, cell, at);
    for (int side = 0; side < 6; side++) {
      size_t other;
      if (beside(g, at, side / 2, side % 2, &other) && !s->bare[other]) {
        s->bare[other] = 1;
        s->queue[last++] = other;
      }
    }
  }
}

/* A cell more than half ice beside one that is bare and not full is bare too: the surface runs through both. */
static void spread_bare(ice_surface *s)
{
  size_t at[3];
  memset(s->work, 0, s->num_cells * sizeof *s->work);
  for (size_t cell = 0; cell < s->num_cells; cell++) {
    if (s->bare[cell] || s->area[cell] <= 0.0)
      continue;
    grid_cell_indices(s->grid, cell, at);
    for (int side = 0; side < 6; side++) {
      size_t other;
      if (beside(s->grid, at, side / 2, side % 2, &other) && s->bare[other] && s->share[other] < FULL)
        s->work[cell] = 1.0;
    }
  }
  for (size_t cell = 0; cell < s->num_cells; cell++)
    if (s->work[cell] > 0.0)
      s->bare[cell] = 1;
}

void ice_surface_measure(ice_surface *s)
{
  for (size_t cell = 0; cell < s->num_cells; cell++)
    measure_cell(s, cell);
  reach_from_outside(s);
  spread_bare(s);
}

void ice_surface_normal(const ice_surface *s, size_t cell, double normal[3])
{
  size_t at[3];
  grid_cell_indices(s->grid, cell, at);
  double length = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    normal[axis] = s->grid->num[axis] == 1 ? 0.0 : 0.5 * (slope_beside(s, at, cell, axis, 0) + slope_beside(s, at, cell, axis, 1));
    length += normal[axis] * normal[axis];
  }
  length = sqrt(length);
  for (int axis = 0; axis < 3; axis++)
    normal[axis] = length > 0.0 ? normal[axis] / length : axis == 2 ? 1.0 : 0.0;
}

/* ---- sweeping ---- */

typedef void visit(ice_surface *s, const size_t at[3], size_t cell);

/* Every cell, in each of the 2^d orders, so that what is known on the surface travels everywhere. */
static void sweep(ice_surface *s, visit *do_cell, int rounds)
{
  const grid *g = s->grid;
  for (int round = 0; round < rounds; round++)
    for (int order = 0; order < 8; order++) {
      bool twice = false;
      for (int axis = 0; axis < 3; axis++)
        twice = twice || ((order & (1 << axis)) && g->num[axis] == 1);
      if (twice)
        continue;
      for (size_t c = 0; c < g->num[2]; c++)
        for (size_t b = 0; b < g->num[1]; b++)
          for (size_t a = 0; a < g->num[0]; a++) {
            const size_t at[3] = {order & 1 ? g->num[0] - 1 - a : a, order & 2 ? g->num[1] - 1 - b : b, order & 4 ? g->num[2] - 1 - c : c};
            do_cell(s, at, grid_cell(g, at[0], at[1], at[2]));
          }
    }
}

/* The speed of a cell off the surface: that of its neighbours nearer to the surface, weighed by the squares of the slopes. */
static void update_speed(ice_surface *s, const size_t at[3], size_t cell)
{
  if (s->area[cell] > 0.0)
    return;
  const double here = fabs(s->distance[cell]);
  double sum = 0.0, weight = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    if (s->grid->num[axis] == 1)
      continue;
    double best = 0.0, speed = 0.0;
    for (int side = 0; side < 2; side++) {
      size_t other;
      if (!beside(s->grid, at, axis, side, &other) || other == cell)
        continue;
      const double fall = (here - (s->area[other] > 0.0 ? 0.0 : fabs(s->distance[other]))) / apart(s->grid, at, axis, side);
      if (fall > best) {
        best = fall;
        speed = s->speed[other];
      }
    }
    sum += best * best * speed;
    weight += best * best;
  }
  if (weight > 0.0)
    s->speed[cell] = sum / weight;
}

static bool even_speed(const ice_surface *s, const double *speed, double *common)
{
  double low = FAR, high = -FAR;
  for (size_t cell = 0; cell < s->num_cells; cell++)
    if (s->area[cell] > 0.0) {
      low = fmin(low, speed[cell]);
      high = fmax(high, speed[cell]);
    }
  *common = low;
  return high <= low;
}

bool ice_surface_recede(ice_surface *s, double *speed, double step)
{
  double common;
  const bool even = even_speed(s, speed, &common);
  if (even) {
    for (size_t cell = 0; cell < s->num_cells; cell++)
      speed[cell] = common < FAR ? common : 0.0;
  } else {
    for (size_t cell = 0; cell < s->num_cells; cell++)
      s->speed[cell] = s->area[cell] > 0.0 ? speed[cell] : 0.0;
    sweep(s, update_speed, 1);
    memcpy(speed, s->speed, s->num_cells * sizeof *speed);
  }
  for (size_t cell = 0; cell < s->num_cells; cell++)
    s->distance[cell] += speed[cell] * step;
  ice_surface_measure(s);
  return !even;
}

/* ---- making the distance from shares ---- */

static double share_beside(const grid *g, const double *share, const size_t at[3], const int step[3])
{
  size_t to[3] = {at[0], at[1], at[2]}, cell = grid_cell(g, at[0], at[1], at[2]);
  for (int axis = 0; axis < 3; axis++) {
    if (step[axis] == 0)
      continue;
    if (!beside(g, to, axis, step[axis] > 0, &cell))
      return 0.0;
    grid_cell_indices(g, cell, to);
  }
  return share[cell];
}

/* Falling direction of the share; slopes[3], unit. */
static void youngs_normal(const grid *g, const double *share, const size_t at[3], double normal[3])
{
  double length = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    normal[axis] = 0.0;
    if (ice_plane_thin_axis(g, axis) || g->num[axis] == 1)
      continue;
    const int b = (axis + 1) % 3, c = (axis + 2) % 3;
    double difference = 0.0;
    for (int p = -1; p <= 1; p++)
      for (int q = -1; q <= 1; q++) {
        int up[3], down[3];
        up[axis] = 1;
        down[axis] = -1;
        up[b] = down[b] = p;
        up[c] = down[c] = q;
        const double weight = (p == 0 ? 2.0 : 1.0) * (q == 0 ? 2.0 : 1.0);
        difference += weight * (share_beside(g, share, at, down) - share_beside(g, share, at, up));
      }
    normal[axis] = difference / (apart(g, at, axis, 0) + apart(g, at, axis, 1));
    length += normal[axis] * normal[axis];
  }
  length = sqrt(length);
  for (int axis = 0; axis < 3; axis++)
    normal[axis] = length > 0.0 ? normal[axis] / length : axis == 2 ? 1.0 : 0.0;
}

/* Distance at the middle of a cell from the plane behind which `share` of it lies: bisection, the share falls as the plane comes nearer. */
static double plane_distance(const grid *g, const size_t at[3], const double normal[3], double share)
{
  const ice_box b = cell_box(g, at);
  double low = -reach_of(g, at), high = -low;
  for (int i = 0; i < 60; i++) {
    const double middle = 0.5 * (low + high);
    double volume = 0.0, area = 0.0;
    ice_plane_cut(g, &b, middle, normal, &volume, &area);
    if (volume > share * b.volume)
      low = middle;
    else
      high = middle;
  }
  return 0.5 * (low + high);
}

/* A full cell beside an empty one (or the reverse): the surface lies on that face of the grid. The nearest such face, m; FAR: none. */
static double face_normal(const grid *g, const double *share, const size_t at[3], bool full, double normal[3])
{
  double nearest = FAR;
  for (int side = 0; side < 6; side++) {
    size_t other;
    if (ice_plane_thin_axis(g, side / 2) || g->num[side / 2] == 1)
      continue;
    const bool inside = beside(g, at, side / 2, side % 2, &other);
    const bool here = full ? !inside || share[other] <= EMPTY : inside && share[other] >= FULL;
    const double way = 0.5 * ice_plane_width(g, side / 2, at[side / 2]);
    if (!here || way >= nearest)
      continue;
    nearest = way;
    for (int axis = 0; axis < 3; axis++)
      normal[axis] = axis != side / 2 ? 0.0 : (side % 2 ? 1.0 : -1.0) * (full ? 1.0 : -1.0);
  }
  return nearest;
}

/* Sets the distance of a cell on the surface; false when it is not on it. */
static bool distance_on_surface(const ice_surface *s, const double *share, size_t cell, double *distance, double normal[3])
{
  size_t at[3];
  grid_cell_indices(s->grid, cell, at);
  if (share[cell] > EMPTY && share[cell] < FULL) {
    youngs_normal(s->grid, share, at, normal);
    *distance = plane_distance(s->grid, at, normal, share[cell]);
    return true;
  }
  const bool full = share[cell] >= FULL;
  const double nearest = face_normal(s->grid, share, at, full, normal);
  *distance = full ? -nearest : nearest;
  return nearest < FAR;
}

/* A piece of the surface: a cell's own plane, as wide as the cell. */
struct ice_surface_piece { double point[3], normal[3], reach; };
typedef struct ice_surface_piece piece;

static piece piece_at(const grid *g, size_t cell, double distance, const double normal[3])
{
  size_t at[3];
  piece p = {.reach = 0.0};
  grid_cell_indices(g, cell, at);
  for (int axis = 0; axis < 3; axis++) {
    p.normal[axis] = normal[axis];
    p.point[axis] = 0.5 * (g->edges[axis][at[axis]] + g->edges[axis][at[axis] + 1]) - distance * normal[axis];
    if (g->num[axis] > 1)
      p.reach = fmax(p.reach, 0.5 * ice_plane_width(g, axis, at[axis]));
  }
  return p;
}

static double distance_to(const ice_surface *s, const piece *p, const size_t at[3])
{
  double along = 0.0, square = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    if (s->grid->num[axis] == 1)
      continue;
    const double way = 0.5 * (s->grid->edges[axis][at[axis]] + s->grid->edges[axis][at[axis] + 1]) - p->point[axis];
    along += way * p->normal[axis];
    square += way * way;
  }
  const double beyond = fmax(0.0, sqrt(fmax(0.0, square - along * along)) - p->reach);
  return sqrt(along * along + beyond * beyond);
}

/* Tries the pieces of surface that the neighbours found nearest. Cells on the surface (work 1) keep their own. */
static void update_distance(ice_surface *s, const size_t at[3], size_t cell)
{
  if (s->work[cell] > 0.0)
    return;
  for (int side = 0; side < 6; side++) {
    size_t other;
    if (ice_plane_thin_axis(s->grid, side / 2) || !beside(s->grid, at, side / 2, side % 2, &other))
      continue;
    const int32_t source = s->nearest[other];
    if (source < 0 || source == s->nearest[cell])
      continue;
    const double d = distance_to(s, &s->pieces[source], at);
    if (d < s->distance[cell]) {
      s->distance[cell] = d;
      s->nearest[cell] = source;
    }
  }
}

/* Cells on the surface are those with work 1, their distances and pieces known; all others take theirs from the nearest piece, with the sign that
 * their share tells. */
static void spread_distances(ice_surface *s, const double *share)
{
  for (size_t cell = 0; cell < s->num_cells; cell++)
    if (s->work[cell] <= 0.0) {
      s->distance[cell] = FAR;
      s->nearest[cell] = -1;
    }
  sweep(s, update_distance, 2);
  for (size_t cell = 0; cell < s->num_cells; cell++)
    if (s->work[cell] <= 0.0 && share[cell] > 0.5)
      s->distance[cell] = -s->distance[cell];
}

static status make_room_for_pieces(ice_surface *s, size_t num, message *msg)
{
  if (num <= s->num_pieces)
    return STATUS_OK;
  piece *grown = realloc(s->pieces, 2 * num * sizeof *grown);
  if (!grown)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the surface of the ice", 2 * num * sizeof *grown);
  s->pieces = grown;
  s->num_pieces = 2 * num;
  return STATUS_OK;
}

static status distances_from_shares(ice_surface *s, const double *share, message *msg)
{
  size_t num = 0;
  status code = STATUS_OK;
  for (size_t cell = 0; code == STATUS_OK && cell < s->num_cells; cell++) {
    double value = FAR, normal[3] = {0.0, 0.0, 0.0};
    s->work[cell] = distance_on_surface(s, share, cell, &value, normal) ? 1.0 : 0.0;
    if (s->work[cell] <= 0.0)
      continue;
    code = make_room_for_pieces(s, num + 1, msg);
    if (code != STATUS_OK)
      break;
    s->distance[cell] = value;
    s->pieces[num] = piece_at(s->grid, cell, value, normal);
    s->nearest[cell] = (int32_t)num++;
  }
  if (code == STATUS_OK)
    spread_distances(s, share);
  return code;
}

status ice_surface_renew(ice_surface *s, message *msg)
{
  size_t num = 0;
  status code = STATUS_OK;
  for (size_t cell = 0; code == STATUS_OK && cell < s->num_cells; cell++) {
    double normal[3];
    s->work[cell] = s->area[cell] > 0.0 ? 1.0 : 0.0;
    if (s->work[cell] <= 0.0)
      continue;
    code = make_room_for_pieces(s, num + 1, msg);
    if (code != STATUS_OK)
      break;
    ice_surface_normal(s, cell, normal);
    s->pieces[num] = piece_at(s->grid, cell, s->distance[cell], normal);
    s->nearest[cell] = (int32_t)num++;
  }
  if (code == STATUS_OK && num > 0) {
    spread_distances(s, s->share);
    ice_surface_measure(s); /* shares are those of the distance, always: a restored piece is the same */
  }
  return code;
}

status ice_surface_create(ice_surface *out, const grid *g, const double *share, message *msg)
{
  const size_t n = grid_num_cells(g);
  ice_surface s = {.grid = g, .num_cells = n};
  s.distance = calloc(6 * n, sizeof *s.distance);
  s.bare = calloc(n, 1);
  s.queue = malloc(n * sizeof *s.queue);
  s.nearest = malloc(n * sizeof *s.nearest);
  if (!s.distance || !s.bare || !s.queue || !s.nearest) {
    ice_surface_release(&s);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the surface of the ice", n * 61);
  }
  s.cell_volume = s.distance + n;
  s.share = s.distance + 2 * n;
  s.area = s.distance + 3 * n;
  s.speed = s.distance + 4 * n;
  s.work = s.distance + 5 * n;
  size_t at[3];
  for (size_t cell = 0; cell < n; cell++) {
    grid_cell_indices(g, cell, at);
    s.cell_volume[cell] = grid_cell_volume(g, at[0], at[1], at[2]);
  }
  const status code = distances_from_shares(&s, share, msg);
  if (code != STATUS_OK) {
    ice_surface_release(&s);
    return code;
  }
  ice_surface_measure(&s);
  *out = s;
  return STATUS_OK;
}

void ice_surface_release(ice_surface *s)
{
  free(s->distance);
  free(s->bare);
  free(s->queue);
  free(s->nearest);
  free(s->pieces);
  *s = (ice_surface){0};
}
