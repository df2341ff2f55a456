#include "io/ice_field.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { BEYOND = 3 }; /* layers of points beyond the water that get a time */

/* ------------------------------------------------------------------------------------------------ the lattice */

typedef struct { size_t low[3], high[3]; } cell_range;

static const float *shares_of(const ice_moments_of *of, size_t body)
{
  return &of->mesh->share[(size_t)of->rig->bodies[body].part * grid_num_cells(of->mesh->grid)];
}

static bool find_range(const ice_moments_of *of, size_t body, cell_range *range)
{
  const grid *g = of->mesh->grid;
  const float *share = shares_of(of, body);
  bool any = false;
  for (size_t cell = 0; cell < grid_num_cells(g); cell++) {
    if (!(share[cell] > 0.0f))
      continue;
    size_t at[3];
    grid_cell_indices(g, cell, at);
    for (int axis = 0; axis < 3; axis++) {
      range->low[axis] = any && range->low[axis] < at[axis] ? range->low[axis] : at[axis];
      range->high[axis] = any && range->high[axis] > at[axis] ? range->high[axis] : at[axis];
    }
    any = true;
  }
  return any;
}

/* Along one axis: the points and the cells they are the middles of, -1 beyond the grid. */
typedef struct { size_t num; double *at; int32_t *cell; } lattice_line;

static void put(lattice_line *l, double at, int32_t cell)
{
  l->at[l->num] = at;
  l->cell[l->num++] = cell;
}

/* The middle of a cell; of -1 and of one past the last, as far beyond the edge as its neighbour is within. */
static double middle_of(const grid *g, int axis, int64_t cell)
{
  const double *e = g->edges[axis];
  const int64_t num = (int64_t)g->num[axis];
  if (cell < 0)
    return e[0] - 0.5 * (e[1] - e[0]);
  if (cell >= num)
    return e[num] + 0.5 * (e[num] - e[num - 1]);
  return 0.5 * (e[cell] + e[cell + 1]);
}

static int32_t cell_or_none(const grid *g, int axis, int64_t cell) { return cell < 0 || cell >= (int64_t)g->num[axis] ? -1 : (int32_t)cell; }

/* A plane of symmetry on one side doubles the line; planes on both have no end of images and show the one. */
static bool make_line(lattice_line *l, const grid *g, int axis, const cell_range *range)
{
  const bool low = g->mirror[2 * axis] && !g->mirror[2 * axis + 1], high = g->mirror[2 * axis + 1] && !g->mirror[2 * axis];
  const int64_t last = (int64_t)g->num[axis] - 1;
  const int64_t from = low ? 0 : (int64_t)range->low[axis] - 1, to = high ? last : (int64_t)range->high[axis] + 1;
  const size_t most = 2 * (size_t)(to - from + 2);
  l->at = malloc(most * sizeof *l->at);
  l->cell = malloc(most * sizeof *l->cell);
  if (!l->at || !l->cell)
    return false;
  for (int64_t cell = to; low && cell >= 0; cell--)
    put(l, 2.0 * g->edges[axis][0] - middle_of(g, axis, cell), cell_or_none(g, axis, cell));
  for (int64_t cell = from; cell <= to; cell++)
    put(l, middle_of(g, axis, cell), cell_or_none(g, axis, cell));
  for (int64_t cell = last; high && cell >= from; cell--)
    put(l, 2.0 * g->edges[axis][last + 1] - middle_of(g, axis, cell), cell_or_none(g, axis, cell));
  return true;
}

/* ------------------------------------------------------------------------------------------------ values */

/* A time that no node has: not frozen within the run. */
static float beyond_end(const results *res) { return (float)(1.01 * ice_moments_end(res) + 1.0); }

static void fill_point(ice_field *f, size_t point, const ice_moments_of *of, size_t body, size_t cell)
{
  const float share = shares_of(of, body)[cell];
  f->inside[point] = share - 0.5f;
  if (!(share > 0.0f))
    return;
  const int32_t node = mesh_find_node(of->mesh, cell, of->rig->bodies[body].part);
  if (node == MESH_NONE)
    return;
  const double time = of->results->freeze_time[node];
  if (isfinite(time))
    f->late[point] = (float)time;
  else if (!of->results->bodies[body].complete)
    f->late[point] = beyond_end(of->results);
  f->pocket[point] = of->results->pocket ? of->results->pocket[node] : 0;
}

static void fill(ice_field *f, const ice_moments_of *of, size_t body, const lattice_line line[3])
{
  const size_t *num = f->lattice.num;
  for (size_t k = 0; k < num[2]; k++)
    for (size_t j = 0; j < num[1]; j++)
      for (size_t i = 0; i < num[0]; i++) {
        const size_t point = (k * num[1] + j) * num[0] + i;
        const int32_t x = line[0].cell[i], y = line[1].cell[j], z = line[2].cell[k];
        f->inside[point] = -0.5f;
        f->late[point] = NAN;
        f->pocket[point] = -1;
        if (x >= 0 && y >= 0 && z >= 0)
          fill_point(f, point, of, body, grid_cell(of->mesh->grid, (size_t)x, (size_t)y, (size_t)z));
      }
}

/* Mean of the neighbours along the axes that have a time; NAN without any. */
static float mean_around(const ice_field *f, const float *late, size_t point, int32_t *of)
{
  const size_t *num = f->lattice.num, stride[3] = {1, num[0], num[0] * num[1]};
  const size_t at[3] = {point % num[0], point / num[0] % num[1], point / (num[0] * num[1])};
  float sum = 0.0f, count = 0.0f;
  for (int axis = 0; axis < 3; axis++)
    for (int side = 0; side < 2; side++) {
      if (side ? at[axis] + 1 >= num[axis] : at[axis] == 0)
        continue;
      const size_t next = side ? point + stride[axis] : point - stride[axis];
      if (isnan(late[next]))
        continue;
      sum += late[next];
      count += 1.0f;
      *of = f->pocket[next];
    }
  return count > 0.0f ? sum / count : NAN;
}

static bool continue_times(ice_field *f)
{
  const size_t num = ice_field_num(f);
  float *before = malloc(num * sizeof *before);
  for (int layer = 0; before && layer < BEYOND; layer++) {
    memcpy(before, f->late, num * sizeof *before);
    for (size_t i = 0; i < num; i++)
      if (isnan(before[i]))
        f->late[i] = mean_around(f, before, i, &f->pocket[i]);
  }
  for (size_t i = 0; i < num; i++)
    if (isnan(f->late[i]))
      f->late[i] = 0.0f; /* too far off to be drawn */
  const bool ok = before != NULL;
  free(before);
  return ok;
}

/* Shares of a cell come in a few dozen steps (they are sampled), which would show as scales: each point takes a sixth of its neighbours
 * along an axis. A plane surface stays where it is. */
static bool smooth(ice_field *f)
{
  const size_t *num = f->lattice.num, all = ice_field_num(f), stride[3] = {1, num[0], num[0] * num[1]};
  float *before = malloc(all * sizeof *before);
  for (int axis = 0; before && axis < 3; axis++) {
    memcpy(before, f->inside, all * sizeof *before);
    for (size_t i = 0; i < all; i++) {
      const size_t at = i / stride[axis] % num[axis];
      const float low = at > 0 ? before[i - stride[axis]] : before[i], high = at + 1 < num[axis] ? before[i + stride[axis]] : before[i];
      f->inside[i] = (4.0f * before[i] + low + high) / 6.0f;
    }
  }
  const bool ok = before != NULL;
  free(before);
  return ok;
}

static void find_box(ice_field *f)
{
  const size_t *num = f->lattice.num;
  for (int axis = 0; axis < 3; axis++) {
    f->low[axis] = INFINITY;
    f->high[axis] = -INFINITY;
  }
  for (size_t i = 0; i < ice_field_num(f); i++) {
    const size_t at[3] = {i % num[0], i / num[0] % num[1], i / (num[0] * num[1])};
    if (!(f->inside[i] > -0.5f))
      continue;
    for (int axis = 0; axis < 3; axis++) {
      f->low[axis] = fmin(f->low[axis], f->lattice.at[axis][at[axis]]);
      f->high[axis] = fmax(f->high[axis], f->lattice.at[axis][at[axis]]);
    }
  }
}

/* ------------------------------------------------------------------------------------------------ all */

status ice_field_create(ice_field *out, const ice_moments_of *of, size_t body, message *msg)
{
  ice_field f = {0};
  lattice_line line[3] = {{0}, {0}, {0}};
  cell_range range = {{0}, {0}};
  *out = f;
  if (!find_range(of, body, &range))
    return message_set(msg, STATUS_BAD_INPUT, "%s: no cell holds any of it", of->results->bodies[body].name);
  bool ok = true;
  for (int axis = 0; axis < 3; axis++) {
    ok = make_line(&line[axis], of->mesh->grid, axis, &range) && ok;
    f.lattice.at[axis] = line[axis].at;
    f.lattice.num[axis] = line[axis].num;
  }
  const size_t num = ok ? ice_field_num(&f) : 0;
  f.inside = ok ? malloc(num * sizeof *f.inside) : NULL;
  f.late = ok ? malloc(num * sizeof *f.late) : NULL;
  f.pocket = ok ? malloc(num * sizeof *f.pocket) : NULL;
  ok = ok && f.inside && f.late && f.pocket;
  if (ok) {
    fill(&f, of, body, line);
    find_box(&f);
    ok = continue_times(&f) && smooth(&f);
  }
  for (int axis = 0; axis < 3; axis++)
    free(line[axis].cell);
  if (!ok) {
    ice_field_release(&f);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for a body of water", num * 3 * sizeof(float));
  }
  *out = f;
  return STATUS_OK;
}

void ice_field_release(ice_field *f)
{
  for (int axis = 0; axis < 3; axis++)
    free(f->lattice.at[axis]);
  free(f->inside);
  free(f->late);
  free(f->pocket);
  *f = (ice_field){0};
}

size_t ice_field_num(const ice_field *f) { return f->lattice.num[0] * f->lattice.num[1] * f->lattice.num[2]; }

void ice_field_of_pocket(const ice_field *f, int32_t which, double after, float *level)
{
  for (size_t i = 0; i < ice_field_num(f); i++) {
    const float later = f->late[i] - (float)after;
    level[i] = f->pocket[i] == which ? later : -fabsf(later);
  }
}
