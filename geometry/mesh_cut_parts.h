/* Inside of the cutting of cells (mesh_cut.h), shared by its files; not for others. In the order in which they call each other:
 * mesh_cut.c            a cell and its sub-cells: whole ones at once, the others as simplices
 * mesh_cut_simplices.c  a simplex and its faces
 * mesh_cut_layers.c     its division among the layers
 * mesh_cut_facets.c     where parts meet
 * mesh_cut_walls.c      and where a thin wall is between them
 * mesh_cut_measure.c    sizes
 * mesh_cut_list.c       what comes out of it */
#ifndef LASTWATER_MESH_CUT_PARTS_H
#define LASTWATER_MESH_CUT_PARTS_H

#include "geometry/mesh_cut.h"
#include "geometry/simplex.h"

enum { MESH_CUT_MOST_HALVINGS = 4 }; /* of a sub-cell */

typedef enum { MESH_CUT_BODY, MESH_CUT_FACE, MESH_CUT_INNER, MESH_CUT_OUTER } mesh_cut_kind;

/* What becomes of the pieces that the layers divide a simplex into. */
typedef struct {
  mesh_cut_kind kind; /* _BODY: volume; _FACE: aperture; _INNER: surface of `level`, keep what its part has; _OUTER: the other
                         side of that surface */
  int level;          /* _INNER, _OUTER: the layer whose surface it is                     */
  double normal[3];   /* out of that layer; _FACE: out of the cell                         */
  int side;           /* _FACE: 0 .. 5                                                     */
  int32_t far_cell;   /* _INNER, _OUTER: the cell on the other side, or MESH_NONE          */
} mesh_cut_target;

typedef struct {
  int at[3]; /* place in the cell along each axis, 0 .. samples << MESH_CUT_MOST_HALVINGS */
} mesh_cut_corner;

typedef struct {
  double plain, plain_moment[3]; /* of the simplex in its plane                         */
  double full, full_moment[3];   /* the same in space: weighted with 2 pi r in GRID_RZ  */
} mesh_cut_measure;

struct mesh_cut_work {
  mesh_cut_request q;
  int dim, axes[3];         /* the axes that count: r, z or x, y, z                            */
  double *field;            /* [(samples + 1)^dim * SIMPLEX_MAX_FIELDS] values at the corners  */
  /* the cell at hand */
  size_t cell, ijk[3];
  const mesh_layers_near *near;
  double low[3], high[3], width; /* m; width: the least of a sub-cell                          */
  double eps, step, look;        /* m: nearer is on the surface; for gradients; beside a surface */
  mesh_cut_piece slot[SIMPLEX_MAX_FIELDS + 1]; /* 0: base; level + 1: that active layer         */
  mesh_cut_list *list;
  size_t first_facet;
  /* the simplex at hand */
  int flat[SIMPLEX_MAX_FIELDS]; /* all its values vanish: -1 inside, 1 outside, by its middle; else 0 */
  double inverse[3][3];         /* of its edges, for gradients                                  */
  bool has_inverse;
  const simplex *whole;
  double touch; /* m: surfaces that face each other closer than this touch: the gap is an error of the linear fields */
};

/* NULL: out of memory, noted in the list. */
mesh_cut_facet *mesh_cut_list_facet(mesh_cut_list *l);
bool mesh_cut_list_room(void **array, size_t *room, size_t wanted, size_t size);

mesh_cut_measure mesh_cut_measure_of(const mesh_cut_work *w, const simplex *s);
mesh_cut_measure mesh_cut_measure_of_box(const mesh_cut_work *w, const double low[3], const double high[3]);

/* A piece of the surface of t->level, beyond which `outer_part` begins. */
void mesh_cut_facets_add(mesh_cut_work *w, const simplex *s, const mesh_cut_target *t, int32_t outer_part);
/* The record of this cell for a pair of sides; made when there is none. Sides without a node keep no cell. NULL: out of memory. */
mesh_cut_facet *mesh_cut_facets_between(mesh_cut_work *w, const int32_t cell[2], const int32_t part[2], int32_t wall, int32_t key, int32_t across, const double normal[3]);
/* Adds a piece to one side of a record; spread: of the piece about its own middle, m2. */
void mesh_cut_facets_add_area(mesh_cut_facet *f, int side, double area, const double moment[3], const double normal[3], double spread);
double mesh_cut_facets_spread(const simplex *s); /* m2, mean square distance of a flat piece from its middle */
bool mesh_cut_facets_has_node(const mesh_cut_work *w, int32_t part);
bool mesh_cut_facets_is_wall(const mesh_cut_work *w, int32_t part);
/* The side of the cell is where the grid ends, not at a mirror plane nor at the axis. */
bool mesh_cut_facets_border(const grid *g, const size_t ijk[3], int axis, int side);
/* Area of a cell face as seen from inside; where the grid ends it is a surface. */
void mesh_cut_facets_face(mesh_cut_work *w, int slot, int axis, int side, const mesh_cut_measure *m);
bool mesh_cut_facets_at_grid_edge(const grid *g, const size_t ijk[3], int axis, int side);

/* A facet of a thin wall; `part` and `cell` lie before it, `into` points into the wall. */
void mesh_cut_walls_add(mesh_cut_work *w, const simplex *s, const mesh_cut_measure *m, int32_t wall, int32_t part, int32_t cell, const double into[3]);
/* A piece of a cell face that a thin wall has: where the grid ends with the wall it is the wall's surface. */
void mesh_cut_walls_add_end(mesh_cut_work *w, const simplex *s, int slot, int axis, int side);

/* Notes the trace of the wall of a level along a line on its inner surface, on a side of the cell (0 low, 1 high, of the axis); in GRID_RZ the line
 * is a point. */
void mesh_cut_walls_add_trace(mesh_cut_work *w, int level, int axis, int side, const simplex *line);
/* The cell beyond a side; there must be one. */
size_t mesh_cut_facets_neighbour(const mesh_cut_work *w, int axis, int side);

/* Gives each layer from `level` down its share of s. */
void mesh_cut_layers_distribute(mesh_cut_work *w, const simplex *s, int level, const mesh_cut_target *t);
bool mesh_cut_layers_vanishes(const mesh_cut_work *w, const simplex *s, int field);
void mesh_cut_layers_set(simplex *s, int field, double value);

/* Body and faces of one simplex of the cell; c: places of its corners. */
void mesh_cut_simplices_add(mesh_cut_work *w, const simplex *s, const mesh_cut_corner *c);

#endif
