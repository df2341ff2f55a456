#include "solver/ice_surface.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "solver/ice_plane.h"

static const double FULL = 1.0 - 1e-9, EMPTY = 1e-9; /* shares beyond these count as full and as none */
static const double FAR = 1e15;          /* m */
static const double ROUNDING = 1e-9;     /* relative: speeds that differ by less are one */
static const double OUTSIDE_CELLS = 4.0; /* of the widest: how far from the ice distances are asked for in the air; slopes reach two cells */
static const double STEEP = 0.8, FLAT = 0.5; /* slopes of the distance outward and inward where faces meet in an edge */
enum { THREADED = 4096 };                /* cells from which threads pay */

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

/* What a cell knows of the next one on one side of it. */
typedef struct {
  bool known;      /* false: beyond the grid */
  double distance; /* of the next cell, m */
  double way;      /* between the middles, m */
} next_cell;

static next_cell next_to(const ice_surface *s, const size_t at[3], int axis, int side)
{
  size_t other;
  if (!beside(s->grid, at, axis, side, &other))
    return (next_cell){0};
  return (next_cell){true, s->distance[other], apart(s->grid, at, axis, side)};
}

/* The cell after the next; behind a mirror plane the cells come again. */
static next_cell next_but_one(const ice_surface *s, const size_t at[3], int axis, int side)
{
  const bool inside = side ? at[axis] + 1 < s->grid->num[axis] : at[axis] > 0;
  if (!inside)
    return next_to(s, at, axis, 1 - side);
  size_t to[3] = {at[0], at[1], at[2]};
  to[axis] = side ? at[axis] + 1 : at[axis] - 1;
  return next_to(s, to, axis, side);
}

/* Slope of the distance along an axis on one side of a cell. Beyond the grid there is no ice. */
static double plain_slope(const ice_surface *s, const size_t at[3], size_t cell, int axis, int side)
{
  if (ice_plane_thin_axis(s->grid, axis))
    return 0.0;
  const next_cell next = next_to(s, at, axis, side);
  const double rise = next.known ? (next.distance - s->distance[cell]) / next.way : 1.0;
  return side ? rise : -rise;
}

/* How steep a distance, whose slope is 1, can be along an axis beside its slopes along the others. */
static double room_for_slope(const ice_surface *s, const size_t at[3], size_t cell, int axis)
{
  double left = 1.0;
  for (int other = 0; other < 3; other++)
    if (other != axis)
      left -= pow(fmin(fabs(plain_slope(s, at, cell, other, 0)), fabs(plain_slope(s, at, cell, other, 1))), 2);
  return sqrt(fmax(left, 0.0));
}

/* Mean slope of the distance over the half of a cell on one side. Where the piece is deepest between the two cells - at its middle, and so at mirror
 * planes - the slopes that come from both sides meet in a ridge, and their difference would be that of a flat plain. It is not one where
 * the distance rises as steeply as it can along the other axes: there it only bends. */
static double slope_beside(const ice_surface *s, const size_t at[3], size_t cell, int axis, int side)
{
  const double here = s->distance[cell], plain = plain_slope(s, at, cell, axis, side);
  if (s->grid->num[axis] == 1)
    return plain;
  const next_cell next = next_to(s, at, axis, side), behind = next_to(s, at, axis, 1 - side), after = next_but_one(s, at, axis, side);
  if (!next.known || !behind.known || !after.known)
    return plain;
  const double fall = (behind.distance - here) / behind.way, climb = (after.distance - next.distance) / after.way;
  if (fall * climb <= 0.0)
    return plain;
  const double half = 0.5 * ice_plane_width(s->grid, axis, at[axis]), ridge = (here - next.distance + climb * next.way) / (fall + climb);
  const double most = ridge <= 0.0 || ridge >= next.way ? 0.0 : room_for_slope(s, at, cell, axis);
  if (most <= 0.0)
    return plain;
  const double rise = ridge >= half ? -fall : climb - (fall + climb) * ridge / half, more = (side ? rise : -rise) - plain;
  return plain + fmin(1.0, 2.0 * fmin(fabs(fall), fabs(climb)) / most) * fmin(fmax(more, -most), most);
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

static double widest(const grid *g)
{
  double most = 0.0;
  for (int axis = 0; axis < 3; axis++)
    for (size_t i = 0; g->num[axis] > 1 && i < g->num[axis]; i++)
      most = fmax(most, ice_plane_width(g, axis, i));
  return most;
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

/* ---- receding ---- */

static const double UNKNOWN = -1.0; /* speeds are not negative */

/* The speed of a cell off the surface: that of its neighbours nearer to the surface, weighed by the squares of the slopes. False: one of them is
 * not known yet; it is put on the stack, `num` high. */
static bool find_speed(ice_surface *s, size_t cell, size_t *num)
{
  const grid *g = s->grid;
  const double here = fabs(s->distance[cell]);
  double sum = 0.0, weight = 0.0;
  const size_t before = *num;
  size_t at[3];
  grid_cell_indices(g, cell, at);
  for (int side = 0; side < 6; side++) {
    size_t other;
    if (g->num[side / 2] == 1 || !beside(g, at, side / 2, side % 2, &other) || other == cell)
      continue;
    const double fall = (here - (s->area[other] > 0.0 ? 0.0 : fabs(s->distance[other]))) / apart(g, at, side / 2, side % 2);
    if (fall <= 0.0)
      continue;
    if (s->speed[other] == UNKNOWN)
      s->queue[(*num)++] = other;
    sum += fall * fall * s->speed[other];
    weight += fall * fall;
  }
  if (*num > before)
    return false;
  s->speed[cell] = weight > 0.0 ? sum / weight : 0.0;
  return true;
}

/* Every cell, whatever the order, has the one speed that follows from those nearer to the surface. */
static void spread_speeds(ice_surface *s)
{
  for (size_t first = 0; first < s->num_cells; first++) {
    size_t num = 0;
    if (s->speed[first] == UNKNOWN)
      s->queue[num++] = first;
    while (num > 0) {
      const size_t cell = s->queue[num - 1];
      size_t more = num;
      if (s->speed[cell] != UNKNOWN || find_speed(s, cell, &more))
        num--;
      else
        num = more;
    }
  }
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
  return high <= low * (1.0 + ROUNDING);
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
      s->speed[cell] = s->area[cell] > 0.0 ? speed[cell] : UNKNOWN;
    spread_speeds(s);
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

/* Cells on the surface (work 1) keep their own distance; all others take that to the nearest piece, with the sign that their share tells. In the air it
 * is not asked for beyond the cells next to the surface. */
static void spread_distances(ice_surface *s, const double *share)
{
  const grid *g = s->grid;
  const double near = OUTSIDE_CELLS * widest(g);
#pragma omp parallel for schedule(dynamic, 256) if (s->num_cells >= THREADED)
  for (size_t cell = 0; cell < s->num_cells; cell++) {
    if (s->work[cell] > 0.0)
      continue;
    size_t at[3];
    grid_cell_indices(g, cell, at);
    const bool ice = share[cell] > 0.5;
    const double way = ice_pieces_distance(&s->pieces, g, at, ice ? FAR : near);
    s->distance[cell] = ice ? -way : way;
  }
}

static status distances_from_shares(ice_surface *s, const double *share, message *msg)
{
  status code = STATUS_OK;
  ice_pieces_clear(&s->pieces);
  for (size_t cell = 0; code == STATUS_OK && cell < s->num_cells; cell++) {
    double normal[3] = {0.0, 0.0, 0.0};
    s->work[cell] = distance_on_surface(s, share, cell, &s->distance[cell], normal) ? 1.0 : 0.0;
    if (s->work[cell] > 0.0)
      code = ice_pieces_add(&s->pieces, s->grid, cell, s->distance[cell], normal, msg);
  }
  if (code == STATUS_OK)
    code = ice_pieces_arrange(&s->pieces, s->grid, msg);
  if (code == STATUS_OK)
    spread_distances(s, share);
  return code;
}

/* The surface in a cell: one plate across its normal, or at an edge or corner that stands out one across each axis that a face lies across: there the
 * distance rises outward and is flat inward, being that to the other face. */
static status add_plates(ice_surface *s, size_t cell, message *msg)
{
  double normal[3], rise[3];
  size_t at[3];
  grid_cell_indices(s->grid, cell, at);
  int faces = 0;
  for (int axis = 0; axis < 3; axis++) {
    const double low = slope_beside(s, at, cell, axis, 0), high = slope_beside(s, at, cell, axis, 1);
    rise[axis] = high > -low ? high : low;
    if (fabs(rise[axis]) < STEEP || fabs(high > -low ? low : high) > FLAT)
      rise[axis] = 0.0;
    faces += rise[axis] != 0.0;
  }
  if (faces < 2) {
    ice_surface_normal(s, cell, normal);
    return ice_pieces_add(&s->pieces, s->grid, cell, s->distance[cell], normal, msg);
  }
  status code = STATUS_OK;
  for (int axis = 0; code == STATUS_OK && axis < 3; axis++) {
    if (rise[axis] == 0.0)
      continue;
    for (int other = 0; other < 3; other++)
      normal[other] = other == axis ? copysign(1.0, rise[axis]) : 0.0;
    code = ice_pieces_add(&s->pieces, s->grid, cell, s->distance[cell], normal, msg);
  }
  return code;
}

status ice_surface_renew(ice_surface *s, message *msg)
{
  status code = STATUS_OK;
  ice_pieces_clear(&s->pieces);
  for (size_t cell = 0; code == STATUS_OK && cell < s->num_cells; cell++) {
    s->work[cell] = s->area[cell] > 0.0 ? 1.0 : 0.0;
    if (s->work[cell] <= 0.0)
      continue;
    code = add_plates(s, cell, msg);
  }
  if (code == STATUS_OK && s->pieces.num > 0)
    code = ice_pieces_arrange(&s->pieces, s->grid, msg);
  if (code == STATUS_OK && s->pieces.num > 0) {
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
  if (!s.distance || !s.bare || !s.queue) {
    ice_surface_release(&s);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the surface of the ice", n * 57);
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
  ice_pieces_release(&s->pieces);
  *s = (ice_surface){0};
}
