#include "solver/conductance_rows.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {        /* rows of one kind, equal ones kept once */
  double *values;       /* [num_unique * length] */
  const double **row;   /* [num_rows] into values */
} row_set;

struct conductance_rows {
  const mesh *mesh;
  size_t num[3], num_rows, length; /* length = num[0] + 1 */
  row_set still[3], per_volume;
  row_set moved[3];                /* room for every row; values NULL where there is no working copy. Rows without motion: the still ones */
  heat_flux_even *still_even, *even;  /* [num_rows] of the rows as they are still, and as they stand; NULL in one plane */
  double *none, *scratch;
  heat_flux_rows view;
};

static double nearly(double value, double model)
{
  static const double ROUNDING = 1e-12;
  return fabs(value - model) <= ROUNDING * fabs(model) ? model : value;
}

void conductance_rows_even_out(double *values, size_t num_rows, size_t length)
{
  for (size_t i = 0; i < num_rows * length; i++) {
    if (i % length > 0)
      values[i] = nearly(values[i], values[i - 1]);
    if (i >= length)
      values[i] = nearly(values[i], values[i - length]);
  }
}

/* ------------------------------------------------------------------------------------------- equal rows kept once */

static uint64_t row_hash(const double *values, size_t length)
{
  uint64_t hash = 1469598103934665603u; /* Fowler, Noll & Vo, on whole words */
  for (size_t i = 0; i < length; i++) {
    uint64_t word;
    memcpy(&word, &values[i], sizeof word);
    hash = (hash ^ word) * 1099511628211u;
    hash ^= hash >> 29;
  }
  return hash;
}

/* Takes over `all`, [num_rows * length], and packs it. */
static bool row_set_pack(row_set *set, double *all, size_t num_rows, size_t length)
{
  size_t table_size = 64;
  while (table_size < 2 * num_rows)
    table_size *= 2;
  size_t *table = calloc(table_size, sizeof *table); /* place of the row + 1 */
  size_t *place = malloc((num_rows + 1) * sizeof *place);
  set->row = malloc((num_rows + 1) * sizeof *set->row);
  set->values = all;
  bool ok = table && place && set->row;
  size_t num_unique = 0;
  for (size_t row = 0; ok && row < num_rows; row++) {
    const double *values = all + row * length;
    size_t slot = row_hash(values, length) & (table_size - 1);
    while (table[slot] && memcmp(all + (table[slot] - 1) * length, values, length * sizeof *values) != 0)
      slot = (slot + 1) & (table_size - 1);
    if (!table[slot]) {
      if (num_unique < row)
        memcpy(all + num_unique * length, values, length * sizeof *values);
      table[slot] = ++num_unique;
    }
    place[row] = table[slot] - 1;
  }
  if (ok) {
    double *shrunk = realloc(all, (num_unique * length + 1) * sizeof *all);
    set->values = shrunk ? shrunk : all;
    for (size_t row = 0; row < num_rows; row++)
      set->row[row] = set->values + place[row] * length;
  }
  free(table);
  free(place);
  return ok;
}

static void row_set_free(row_set *set)
{
  free(set->values);
  free(set->row);
}

/* ------------------------------------------------------------------------------------------- even stretches */

/* What the cells of a row meet: conductances of its faces, from x on one more than cells. */
typedef struct { const double *x, *y_low, *y_high, *z_low, *z_high, *per_volume; } row_faces;

static row_faces faces_of(const conductance_rows *c, const double *const *const conductance[3], size_t row)
{
  const size_t plane = c->num[1], j = row % plane, slab = row / plane;
  const double *const *x = conductance[0], *const *y = conductance[1], *const *z = conductance[2];
  return (row_faces){.x = x ? x[row] : c->none, .y_low = (j > 0 ? y[row - 1] : c->none) + 1, .y_high = y[row] + 1,
                     .z_low = (z && slab > 0 ? z[row - plane] : c->none) + 1, .z_high = (z ? z[row] : c->none) + 1,
                     .per_volume = c->per_volume.row[row]};
}

static bool alike(const row_faces *f, size_t i, size_t first)
{
  return f->x[i + 1] == f->x[first] && f->y_low[i] == f->y_low[first] && f->y_high[i] == f->y_high[first] &&
         f->z_low[i] == f->z_low[first] && f->z_high[i] == f->z_high[first] && f->per_volume[i] == f->per_volume[first];
}

/* The longest stretch of a row; short ones are not worth a loop of their own. */
static heat_flux_even longest_even(const row_faces *f, size_t num)
{
  enum { SHORTEST = 16 };
  heat_flux_even longest = {0};
  for (size_t first = 0; first < num;) {
    size_t end = first;
    while (end < num && alike(f, end, first))
      end++;
    if (end - first >= SHORTEST && end - first > longest.end - longest.begin)
      longest = (heat_flux_even){.begin = (uint32_t)first, .end = (uint32_t)end};
    first = end > first ? end : first + 1;
  }
  return longest;
}

static bool find_even(conductance_rows *c)
{
  if (!c->still[1].row)
    return true;
  const double *const *const still[3] = {c->still[0].row, c->still[1].row, c->still[2].row};
  c->still_even = calloc(c->num_rows + 1, sizeof *c->still_even);
  c->even = calloc(c->num_rows + 1, sizeof *c->even);
  for (size_t row = 0; c->still_even && c->even && row < c->num_rows; row++) {
    const row_faces f = faces_of(c, still, row);
    c->still_even[row] = longest_even(&f, c->num[0]);
  }
  return c->still_even && c->even;
}

static bool is_still(const conductance_rows *c, int axis, size_t row)
{
  return !c->still[axis].row || c->view.conductance[axis][row] == c->still[axis].row[row];
}

/* Equal rows share memory. */
static bool same_faces(const conductance_rows *c, size_t row, size_t other)
{
  const row_faces a = faces_of(c, c->view.conductance, row), b = faces_of(c, c->view.conductance, other);
  return a.x == b.x && a.y_low == b.y_low && a.y_high == b.y_high && a.z_low == b.z_low && a.z_high == b.z_high && a.per_volume == b.per_volume;
}

/* Rows of a slab that follow each other and are alike as they stand. */
static void count_alike(conductance_rows *c)
{
  for (size_t row = c->num_rows; c->even && row-- > 0;) {
    const bool goes_on = (row + 1) % c->num[1] != 0 && same_faces(c, row, row + 1);
    c->even[row].num_alike = goes_on ? c->even[row + 1].num_alike + 1 : 1;
  }
}

/* Stretches of the rows all of whose faces are as they are still. */
static void keep_even(conductance_rows *c)
{
  const size_t plane = c->num[1];
  for (size_t row = 0; c->even && row < c->num_rows; row++) {
    const bool kept = is_still(c, 0, row) && is_still(c, 1, row) && (row % plane == 0 || is_still(c, 1, row - 1)) &&
                      is_still(c, 2, row) && (row < plane || is_still(c, 2, row - plane));
    c->even[row] = kept ? c->still_even[row] : (heat_flux_even){0};
  }
  count_alike(c);
}

/* ------------------------------------------------------------------------------------------- making */

/* A node without a volume (cleared for the shells round a tube) conducts nothing. */
static double *axis_values(const conductance_rows *c, int axis, const double *inverse_volume, const bool *pooled)
{
  double *all = malloc((c->num_rows * c->length + 1) * sizeof *all);
  if (!all)
    return NULL;
  const size_t stride[3] = {1, c->num[0], c->num[0] * c->num[1]};
  for (size_t row = 0; row < c->num_rows; row++) {
    double *values = all + row * c->length;
    const size_t first = row * c->num[0];
    values[0] = 0.0;
    for (size_t i = 0; i < c->num[0]; i++) {
      const int32_t part = c->mesh->part[first + i];
      const double g = part >= 0 && pooled[part] ? 0.0 : c->mesh->regular[axis][first + i];
      values[i + 1] = g > 0.0 && inverse_volume[first + i] > 0.0 && inverse_volume[first + i + stride[axis]] > 0.0 ? g : 0.0;
    }
  }
  conductance_rows_even_out(all, c->num_rows, c->length);
  return all;
}

static bool fill_still(conductance_rows *c, const double *inverse_volume, const bool *pooled)
{
  for (int axis = 0; axis < 3; axis++) {
    if (!c->mesh->regular[axis])
      continue;
    double *all = axis_values(c, axis, inverse_volume, pooled);
    if (!all || !row_set_pack(&c->still[axis], all, c->num_rows, c->length))
      return false;
  }
  double *all = malloc((c->num_rows * c->num[0] + 1) * sizeof *all);
  if (!all)
    return false;
  memcpy(all, inverse_volume, c->num_rows * c->num[0] * sizeof *all);
  return row_set_pack(&c->per_volume, all, c->num_rows, c->num[0]);
}

static bool make_moved(conductance_rows *c)
{
  for (int axis = 0; axis < 3; axis++) {
    if (!c->mesh->regular[axis])
      continue;
    row_set *set = &c->moved[axis];
    set->values = calloc(c->num_rows * c->length + 1, sizeof *set->values);
    set->row = malloc((c->num_rows + 1) * sizeof *set->row);
    if (!set->values || !set->row)
      return false;
    for (size_t row = 0; row < c->num_rows; row++)
      set->row[row] = set->values + row * c->length;
  }
  return true;
}

status conductance_rows_create(conductance_rows **out, const mesh *m, const double *inverse_volume, const bool *pooled,
                               bool with_motion, message *msg)
{
  conductance_rows *c = calloc(1, sizeof *c);
  if (!c)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes", sizeof *c);
  c->mesh = m;
  memcpy(c->num, m->grid->num, sizeof c->num);
  c->num_rows = c->num[1] * c->num[2];
  c->length = c->num[0] + 1;
  c->none = calloc(c->length, sizeof *c->none);
  c->scratch = calloc(HEAT_FLUX_MOST_THREADS * heat_flux_scratch(c->num), sizeof *c->scratch);
  if (!c->none || !c->scratch || !fill_still(c, inverse_volume, pooled) || !find_even(c) || (with_motion && !make_moved(c))) {
    conductance_rows_destroy(&c);
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the conductances of %zu cells", m->grid->num[0] * c->num_rows);
  }
  c->view = (heat_flux_rows){.num = {c->num[0], c->num[1], c->num[2]}, .none = c->none, .scratch = c->scratch, .even = c->even,
                             .inverse_volume = c->per_volume.row};
  conductance_rows_still(c);
  *out = c;
  return STATUS_OK;
}

void conductance_rows_destroy(conductance_rows **c)
{
  if (!*c)
    return;
  for (int axis = 0; axis < 3; axis++) {
    row_set_free(&(*c)->still[axis]);
    row_set_free(&(*c)->moved[axis]);
  }
  row_set_free(&(*c)->per_volume);
  free((*c)->still_even);
  free((*c)->even);
  free((*c)->none);
  free((*c)->scratch);
  free(*c);
  *c = NULL;
}

/* ------------------------------------------------------------------------------------------- liquid in motion */

void conductance_rows_still(conductance_rows *c)
{
  for (int axis = 0; axis < 3; axis++)
    c->view.conductance[axis] = c->still[axis].row;
  keep_even(c);
}

/* The factor of the face between two cells of which `lower` lies before the other along the axis. */
static double face_factor(int axis, size_t lower, size_t upper, const double *horizontal, const double *vertical,
                          const bool *liquid)
{
  if (!liquid[lower] || !liquid[upper])
    return 1.0;
  if (axis == 2)
    return vertical[lower];
  return horizontal[lower] > horizontal[upper] ? horizontal[lower] : horizontal[upper];
}

bool conductance_rows_move(conductance_rows *c, const double *horizontal, const double *vertical, const bool *liquid)
{
  const size_t stride[3] = {1, c->num[0], c->num[0] * c->num[1]}, num_cells = c->num_rows * c->num[0];
  for (int axis = 0; axis < 3; axis++) {
    if (!c->still[axis].row)
      continue;
    if (!c->moved[axis].values)
      return false;
    for (size_t row = 0; row < c->num_rows; row++) {
      const double *still = c->still[axis].row[row];
      double *moved = c->moved[axis].values + row * c->length;
      bool differs = false;
      for (size_t i = 0; i < c->num[0]; i++) {
        const size_t cell = row * c->num[0] + i, upper = cell + stride[axis];
        moved[i + 1] = still[i + 1] > 0.0 && upper < num_cells
                           ? still[i + 1] * face_factor(axis, cell, upper, horizontal, vertical, liquid)
                           : still[i + 1];
        differs = differs || moved[i + 1] != still[i + 1];
      }
      c->moved[axis].row[row] = differs ? moved : still;
    }
  }
  for (int axis = 0; axis < 3; axis++)
    c->view.conductance[axis] = c->moved[axis].row;
  keep_even(c);
  return true;
}

double conductance_rows_beside_front(double still, double moved, double warmth, double other)
{
  if (moved == still || !(warmth < 0.0 || other < 0.0)) /* also where both are NAN: they are of one part */
    return moved;
  const double below = fabs(fmin(warmth, 0.0) - fmin(other, 0.0)), above = fabs(fmax(warmth, 0.0) - fmax(other, 0.0)), all = below + above;
  return all > 0.0 ? (still * below + moved * above) / all : still;
}

void conductance_rows_meet_front(conductance_rows *c, const double *warmth)
{
  const size_t stride[3] = {1, c->num[0], c->num[0] * c->num[1]};
  for (int axis = 0; axis < 3; axis++)
    for (size_t row = 0; c->still[axis].row && row < c->num_rows; row++) {
      const double *still = c->still[axis].row[row];
      double *moved = c->moved[axis].values + row * c->length;
      for (size_t i = 0; c->moved[axis].row[row] == moved && i < c->num[0]; i++) {
        const size_t cell = row * c->num[0] + i;
        if (moved[i + 1] != still[i + 1])
          moved[i + 1] = conductance_rows_beside_front(still[i + 1], moved[i + 1], warmth[cell], warmth[cell + stride[axis]]);
      }
    }
}

/* ------------------------------------------------------------------------------------------- reading */

const heat_flux_rows *conductance_rows_view(const conductance_rows *c)
{
  return &c->view;
}

void conductance_rows_add_sums(const conductance_rows *c, double *sum)
{
  const size_t stride[3] = {1, c->num[0], c->num[0] * c->num[1]}, num_cells = c->num_rows * c->num[0];
  for (int axis = 0; axis < 3; axis++) {
    if (!c->view.conductance[axis])
      continue;
    for (size_t row = 0; row < c->num_rows; row++)
      for (size_t i = 0; i < c->num[0]; i++) {
        const size_t cell = row * c->num[0] + i;
        const double g = c->view.conductance[axis][row][i + 1];
        sum[cell] += g;
        if (cell + stride[axis] < num_cells)
          sum[cell + stride[axis]] += g;
      }
  }
}
