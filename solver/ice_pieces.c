#include "solver/ice_pieces.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>

enum { LEAF = 4 }; /* plates in a box that is not divided */

void ice_pieces_release(ice_pieces *p)
{
  free(p->pieces);
  free(p->boxes);
  *p = (ice_pieces){0};
}

void ice_pieces_clear(ice_pieces *p) { p->num = 0; }

/* ---- plates ---- */

static status make_room(ice_pieces *p, size_t num, message *msg)
{
  if (num <= p->room)
    return STATUS_OK;
  ice_piece *grown = realloc(p->pieces, 2 * num * sizeof *grown);
  if (!grown)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the surface of the ice", 2 * num * sizeof *grown);
  p->pieces = grown;
  p->room = 2 * num;
  return STATUS_OK;
}

/* The bits of three indices in turn, so that what lies together has like numbers. */
static uint64_t woven(const size_t at[3])
{
  uint64_t number = 0;
  for (int bit = 0; bit < 21; bit++)
    for (int axis = 0; axis < 3; axis++)
      number |= (uint64_t)(at[axis] >> bit & 1) << (3 * bit + axis);
  return number;
}

static double middle_of(const grid *g, int axis, size_t i) { return 0.5 * (g->edges[axis][i] + g->edges[axis][i + 1]); }

status ice_pieces_add(ice_pieces *p, const grid *g, size_t cell, double distance, const double normal[3], message *msg)
{
  const status code = make_room(p, p->num + 1, msg);
  if (code != STATUS_OK)
    return code;
  size_t at[3];
  grid_cell_indices(g, cell, at);
  ice_piece one = {.order = woven(at)};
  for (int axis = 0; axis < 3; axis++)
    if (g->num[axis] > 1) {
      one.normal[axis] = normal[axis];
      one.point[axis] = middle_of(g, axis, at[axis]) - distance * normal[axis];
      one.reach = fmax(one.reach, 0.5 * (g->edges[axis][at[axis] + 1] - g->edges[axis][at[axis]]));
    }
  p->pieces[p->num++] = one;
  return STATUS_OK;
}

/* How far a plate reaches along an axis, m. */
static double extent(const ice_piece *one, int axis) { return one->reach * sqrt(fmax(0.0, 1.0 - one->normal[axis] * one->normal[axis])); }

/* A plate that reaches through a mirror plane comes out of it as its image; the images of all others are farther than themselves. */
static status add_images(ice_pieces *p, const grid *g, message *msg)
{
  for (int side = 0; side < 6; side++) {
    const int axis = side / 2;
    if (!g->mirror[side] || g->num[axis] == 1)
      continue;
    const double plane = g->edges[axis][side % 2 ? g->num[axis] : 0], out = side % 2 ? 1.0 : -1.0;
    const size_t num = p->num;
    for (size_t i = 0; i < num; i++) {
      ice_piece image = p->pieces[i];
      if (out * (image.point[axis] - plane) + extent(&image, axis) <= 0.0)
        continue;
      image.point[axis] = 2.0 * plane - image.point[axis];
      image.normal[axis] = -image.normal[axis];
      const status code = make_room(p, p->num + 1, msg);
      if (code != STATUS_OK)
        return code;
      p->pieces[p->num++] = image;
    }
  }
  return STATUS_OK;
}

/* ---- the tree ---- */

static int by_order(const void *a, const void *b)
{
  const uint64_t left = ((const ice_piece *)a)->order, right = ((const ice_piece *)b)->order;
  return left < right ? -1 : left > right;
}

static ice_pieces_box box_of(const ice_piece *one, const grid *g)
{
  ice_pieces_box b = {{0}, {0}};
  for (int axis = 0; axis < 3; axis++)
    if (g->num[axis] > 1) {
      b.low[axis] = one->point[axis] - extent(one, axis);
      b.high[axis] = one->point[axis] + extent(one, axis);
    }
  return b;
}

static void widen(ice_pieces_box *b, const ice_pieces_box *by)
{
  for (int axis = 0; axis < 3; axis++) {
    b->low[axis] = fmin(b->low[axis], by->low[axis]);
    b->high[axis] = fmax(b->high[axis], by->high[axis]);
  }
}

/* Boxes of the plates first .. last - 1, which are those of a node. */
static void fill_boxes(ice_pieces *p, const grid *g, size_t node, size_t first, size_t last)
{
  ice_pieces_box *b = &p->boxes[node];
  if (last - first <= LEAF) {
    *b = box_of(&p->pieces[first], g);
    for (size_t i = first + 1; i < last; i++) {
      const ice_pieces_box one = box_of(&p->pieces[i], g);
      widen(b, &one);
    }
    return;
  }
  const size_t middle = (first + last) / 2;
  fill_boxes(p, g, 2 * node, first, middle);
  fill_boxes(p, g, 2 * node + 1, middle, last);
  *b = p->boxes[2 * node];
  widen(b, &p->boxes[2 * node + 1]);
}

status ice_pieces_arrange(ice_pieces *p, const grid *g, message *msg)
{
  const status code = add_images(p, g, msg);
  if (code != STATUS_OK || p->num == 0)
    return code;
  size_t num = 2;
  for (size_t left = p->num; left > LEAF; left = (left + 1) / 2)
    num *= 2;
  if (num > p->num_boxes) {
    ice_pieces_box *grown = realloc(p->boxes, num * sizeof *grown);
    if (!grown)
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the surface of the ice", num * sizeof *grown);
    p->boxes = grown;
    p->num_boxes = num;
  }
  qsort(p->pieces, p->num, sizeof *p->pieces, by_order);
  fill_boxes(p, g, 1, 0, p->num);
  return STATUS_OK;
}

/* ---- the nearest ---- */

static double square_to_box(const ice_pieces_box *b, const double from[3])
{
  double square = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    const double low = b->low[axis] - from[axis], high = from[axis] - b->high[axis], way = low > high ? low : high;
    square += way > 0.0 ? way * way : 0.0;
  }
  return square;
}

static double square_to_plate(const ice_piece *one, const double from[3])
{
  double along = 0.0, square = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    const double way = from[axis] - one->point[axis];
    along += way * one->normal[axis];
    square += way * way;
  }
  const double across = square - along * along, beyond = across > one->reach * one->reach ? sqrt(across) - one->reach : 0.0;
  return along * along + beyond * beyond;
}

/* The smaller of `best`, m2, and the squares of the distances to the plates first .. last - 1 of a node. */
static double nearest(const ice_pieces *p, const double from[3], size_t node, size_t first, size_t last, double best)
{
  if (last - first <= LEAF) {
    for (size_t i = first; i < last; i++) {
      const double square = square_to_plate(&p->pieces[i], from);
      best = square < best ? square : best;
    }
    return best;
  }
  const size_t middle = (first + last) / 2;
  const double to[2] = {square_to_box(&p->boxes[2 * node], from), square_to_box(&p->boxes[2 * node + 1], from)};
  for (int turn = 0; turn < 2; turn++) {
    const bool upper = (to[1] < to[0]) != (turn == 1); /* the nearer half first */
    if (to[upper] < best)
      best = upper ? nearest(p, from, 2 * node + 1, middle, last, best) : nearest(p, from, 2 * node, first, middle, best);
  }
  return best;
}

double ice_pieces_distance(const ice_pieces *p, const grid *g, const size_t at[3], double most)
{
  double from[3] = {0.0, 0.0, 0.0};
  for (int axis = 0; axis < 3; axis++)
    if (g->num[axis] > 1)
      from[axis] = middle_of(g, axis, at[axis]);
  return p->num == 0 ? most : sqrt(nearest(p, from, 1, 0, p->num, most * most));
}
