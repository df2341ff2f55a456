#include "io/solid_surface.h"

#include <math.h>
#include <stdlib.h>

status solid_surface_add(solid_triangles *out, const solid_vertex corner[3], message *msg)
{
  if (out->num + 3 > out->capacity) {
    const size_t capacity = 2 * out->capacity + 3072;
    solid_vertex *grown = realloc(out->corner, capacity * sizeof *grown);
    if (!grown)
      return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a surface", capacity * sizeof *grown);
    out->corner = grown;
    out->capacity = capacity;
  }
  for (int i = 0; i < 3; i++)
    out->corner[out->num++] = corner[i];
  return STATUS_OK;
}

void solid_surface_release(solid_triangles *t)
{
  free(t->corner);
  *t = (solid_triangles){NULL, 0, 0};
}

/* ------------------------------------------------------------------------------------------------ points of the lattice */

typedef struct { double place[3], slope[3], level, carried; } lattice_point;

static size_t index_of(const solid_lattice *l, const size_t at[3]) { return (at[2] * l->num[1] + at[1]) * l->num[0] + at[0]; }

static double slope_along(const solid_lattice *l, const float *field, const size_t at[3], int axis)
{
  size_t low[3] = {at[0], at[1], at[2]}, high[3] = {at[0], at[1], at[2]};
  low[axis] -= at[axis] > 0;
  high[axis] += at[axis] + 1 < l->num[axis];
  const double run = l->at[axis][high[axis]] - l->at[axis][low[axis]];
  return run > 0.0 ? ((double)field[index_of(l, high)] - (double)field[index_of(l, low)]) / run : 0.0;
}

static lattice_point point_at(const solid_lattice *l, const solid_surface_fields *f, const size_t at[3])
{
  lattice_point p;
  for (int axis = 0; axis < 3; axis++) {
    p.place[axis] = l->at[axis][at[axis]];
    p.slope[axis] = slope_along(l, f->level, at, axis);
  }
  const size_t i = index_of(l, at);
  p.level = (double)f->level[i] - (double)f->at;
  p.carried = (double)f->carried[i] - (double)f->less;
  return p;
}

/* ------------------------------------------------------------------------------------------------ one tetrahedron */

/* Where the level is passed between two points. */
static solid_vertex between(const lattice_point *a, const lattice_point *b)
{
  const double share = a->level / (a->level - b->level);
  solid_vertex v;
  double normal[3], length = 0.0;
  for (int axis = 0; axis < 3; axis++) {
    v.place[axis] = (float)(a->place[axis] + share * (b->place[axis] - a->place[axis]));
    normal[axis] = -(a->slope[axis] + share * (b->slope[axis] - a->slope[axis]));
    length += normal[axis] * normal[axis];
  }
  length = sqrt(length);
  for (int axis = 0; axis < 3; axis++)
    v.normal[axis] = length > 0.0 ? (float)(normal[axis] / length) : 0.0f;
  v.carried = (float)(a->carried + share * (b->carried - a->carried));
  return v;
}

static status cut_tetrahedron(solid_triangles *out, const lattice_point *const p[4], message *msg)
{
  const lattice_point *in[4], *off[4];
  int num_in = 0, num_off = 0;
  for (int i = 0; i < 4; i++)
    if (p[i]->level > 0.0)
      in[num_in++] = p[i];
    else
      off[num_off++] = p[i];
  if (num_in == 0 || num_off == 0)
    return STATUS_OK;
  if (num_in == 2) { /* a four-sided cut */
    const solid_vertex v[4] = {between(in[0], off[0]), between(in[0], off[1]), between(in[1], off[1]), between(in[1], off[0])};
    const status code = solid_surface_add(out, (const solid_vertex[3]){v[0], v[1], v[2]}, msg);
    return code == STATUS_OK ? solid_surface_add(out, (const solid_vertex[3]){v[0], v[2], v[3]}, msg) : code;
  }
  const lattice_point *alone = num_in == 1 ? in[0] : off[0], *const *rest = num_in == 1 ? off : in;
  return solid_surface_add(out, (const solid_vertex[3]){between(alone, rest[0]), between(alone, rest[1]), between(alone, rest[2])}, msg);
}

/* ------------------------------------------------------------------------------------------------ boxes */

/* The level is passed somewhere among the eight corners. */
static int is_cut(const solid_lattice *l, const solid_surface_fields *f, size_t i, size_t j, size_t k)
{
  int inside = 0;
  for (size_t c = 0; c < 8; c++)
    inside += f->level[index_of(l, (const size_t[3]){i + (c & 1), j + (c >> 1 & 1), k + (c >> 2)})] > f->at;
  return inside > 0 && inside < 8;
}

static status cut_box(solid_triangles *out, const solid_lattice *l, const solid_surface_fields *f, size_t i, size_t j, size_t k, message *msg)
{
  /* From corner 0 to corner 7 along the three axes in any order: six ways, six tetrahedra. */
  static const int order[6][2] = {{1, 2}, {1, 4}, {2, 1}, {2, 4}, {4, 1}, {4, 2}};
  lattice_point corner[8];
  status code = STATUS_OK;
  for (size_t c = 0; c < 8; c++)
    corner[c] = point_at(l, f, (const size_t[3]){i + (c & 1), j + (c >> 1 & 1), k + (c >> 2)});
  for (int t = 0; code == STATUS_OK && t < 6; t++) {
    const lattice_point *const p[4] = {&corner[0], &corner[order[t][0]], &corner[order[t][0] | order[t][1]], &corner[7]};
    code = cut_tetrahedron(out, p, msg);
  }
  return code;
}

status solid_surface_layer(solid_triangles *out, const solid_lattice *l, const solid_surface_fields *f, size_t k, message *msg)
{
  status code = STATUS_OK;
  out->num = 0;
  for (size_t j = 0; code == STATUS_OK && j + 1 < l->num[1]; j++)
    for (size_t i = 0; code == STATUS_OK && i + 1 < l->num[0]; i++)
      if (is_cut(l, f, i, j, k))
        code = cut_box(out, l, f, i, j, k, msg);
  return code;
}
