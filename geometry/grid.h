/* A rectilinear grid, possibly stretched.
 *
 * Dimension is data. Three axes are always there: 0 = x (or r), 1 = y, 2 = z (up).
 * GRID_RZ has one cell on axis 1, the full turn; volumes and areas are exact ring volumes and
 * areas. Cell (i, j, k) has index (k * num[1] + j) * num[0] + i: axis 0 runs fastest. */
#ifndef LASTWATER_GRID_H
#define LASTWATER_GRID_H

#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

typedef enum { GRID_RZ, GRID_XYZ } grid_kind;

typedef struct grid {
  grid_kind kind;
  size_t num[3];    /* cells along each axis, each >= 1; num[1] == 1 in GRID_RZ                */
  double *edges[3]; /* m, num[axis] + 1 rising values, owned; in GRID_RZ edges[1] = {0, 2 pi}  */
  bool mirror[6];   /* low x, high x, low y, high y, low z, high z: a plane of symmetry, so no
                       surface there. The axis r = 0 never has a surface.                       */
} grid;

/* Creates a grid from edges, which are copied. edges[1] is ignored (may be NULL) in GRID_RZ.
 * STATUS_BAD_INPUT when an axis is not strictly rising, not finite, or r starts below 0;
 * *out is then untouched. */
status grid_create(grid **out, grid_kind kind, const size_t num[3], const double *const edges[3], const bool mirror[6],
                   message *msg);
void grid_destroy(grid **g); /* NULL-safe; sets *g to NULL */

size_t grid_num_cells(const grid *g);
size_t grid_cell(const grid *g, size_t i, size_t j, size_t k);
void grid_cell_indices(const grid *g, size_t cell, size_t ijk[3]);
double grid_cell_volume(const grid *g, size_t i, size_t j, size_t k); /* m3 */
/* Area, m2, of the face between cell (i,j,k) and its lower (side 0) or upper (side 1) neighbour. */
double grid_face_area(const grid *g, int axis, int side, size_t i, size_t j, size_t k);
/* Centre of a cell, m; in GRID_RZ {volume-weighted r, 0, z}. */
void grid_cell_centre(const grid *g, size_t i, size_t j, size_t k, double centre[3]);
/* Cell that holds a point; false when outside. In GRID_RZ the point is {r, 0, z}. */
bool grid_find(const grid *g, const double point[3], size_t *cell);
double grid_smallest_spacing(const grid *g); /* m */

/* Builds stretched edges along one axis from low to high that hit every value of `stops` (rising,
 * inside) exactly, with spacing near `fine` inside [fine_low, fine_high] and growing by at most
 * `growth` per cell outside, up to `coarse`. *edges is allocated, free() it. */
typedef struct {
  double low, high;           /* m */
  const double *stops;        /* m, rising; may be NULL when num_stops is 0 */
  size_t num_stops;
  double fine, coarse;        /* m, 0 < fine <= coarse */
  double fine_low, fine_high; /* m */
  double growth;              /* > 1, e.g. 1.15 */
} grid_axis_request;
status grid_axis_build(const grid_axis_request *request, double **edges, size_t *num_cells, message *msg);

#endif
