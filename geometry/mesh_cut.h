/* One cell cut by the surfaces of the layers: what each part has of its volume and faces, and where parts meet.
 *
 * The cell is divided in samples^d sub-cells and these into simplices (2 triangles or 5 tetrahedra; the division of the
 * neighbouring sub-cell is the mirror image, so that faces match and mirrored shapes are cut alike). Distances at the corners,
 * linear inside, divide each simplex: the last layer takes its inside, the one before it takes from what remains, and so on. Where a shape has an
 * edge, so that its distance is not linear, sub-cells are halved further. */
#ifndef LASTWATER_MESH_CUT_H
#define LASTWATER_MESH_CUT_H

#include "geometry/mesh_layers.h"

typedef struct {      /* what one part has of one cell */
  int32_t cell, part;
  double volume;      /* m3                                                               */
  double weight;      /* m3; in GRID_RZ m2 of the section                                 */
  double moment[3];   /* weight times centroid                                            */
  double aperture[6]; /* m2 of the cell's faces, as seen from inside: low, high of each axis */
} mesh_cut_piece;

typedef enum {
  MESH_CUT_MEETING,
  MESH_CUT_BARE, /* a thin wall with nothing on either side: the room                            */
  MESH_CUT_RIM   /* across a thin wall where it ends: side 1 only, the part before it             */
} mesh_cut_place;

typedef struct {       /* where two parts meet, summed per pair of cells and parts and facing */
  int32_t cell[2];     /* MESH_NONE where the side gets no node                                                     */
  int32_t part[2];
  int32_t wall, key;   /* thin wall between the sides, and the cell on its inner side; MESH_NONE when they touch    */
  int32_t facing;      /* mesh_cut_facets_facing of its normal: floor, side and ceiling of one pair stay apart             */
  mesh_cut_place place;
  double area[2];      /* m2                                                                                        */
  double vector[2][3]; /* area times unit normal from side 0 to side 1                                              */
  double moment[2][3]; /* area times centroid                                                                       */
  double reach[2];     /* area times (point . normal), m3                                                           */
  int32_t outside;     /* of a wall: the side that is its outer one                                                 */
  int32_t across;      /* of a wall: bit a set: what lies outside is an image beyond the mirror plane across axis a of what the cell holds; 0: itself */
  int32_t looks;       /* of a wall, and of the wall beside a rim: facing out of the cavity                         */
  double middle, middle_place[3]; /* of a wall, at mid thickness: m of the section in GRID_RZ, m2 in GRID_XYZ; times its middle */
  double spread;       /* of side 0: integral of the square of the place over the area, m4                           */
} mesh_cut_facet;

/* Which way a normal points: 5 up (n_z > MESH_CUT_LOOKS_ALONG_Z of its length), 4 down, else by its larger level component 0 low x, 1 high x, 2 low y,
 * 3 high y. */
#define MESH_CUT_LOOKS_ALONG_Z 0.7
enum { MESH_CUT_DOWN = 4, MESH_CUT_UP = 5 };
int32_t mesh_cut_facets_facing(const double normal[3]);

typedef struct { /* a line on the inner surface of a thin wall over which patches conduct to each other */
  int32_t cell, wall;
  int32_t axis;    /* it lies in the face of the cell to the upper neighbour along that; MESH_CUT_EDGE: in the cell, where the wall turns from
                      floor or ceiling to being upright */
  bool at_mirror;  /* it lies in the face of the cell on a mirror plane across the axis */
  double upward;   /* component of the normal out of the cavity; of an edge +1 at a ceiling, -1 at a floor */
  double width;    /* m; in a face at mid thickness */
} mesh_cut_trace;

enum { MESH_CUT_EDGE = -1 };

typedef struct {
  mesh_cut_piece *pieces; /* by cell; at least one a cell */
  mesh_cut_facet *facets;
  mesh_cut_trace *traces;
  size_t num_pieces, num_facets, num_traces;
  size_t room_pieces, room_facets, room_traces;
  size_t num_lost;
  double dropped_area;
  bool no_memory;
} mesh_cut_list;

typedef struct {
  const grid *g;
  const mesh_layer *layers;
  int32_t num_layers;
  int samples;
} mesh_cut_request;

typedef struct mesh_cut_work mesh_cut_work; /* scratch, one a thread */
mesh_cut_work *mesh_cut_work_create(const mesh_cut_request *q); /* NULL: out of memory */
void mesh_cut_work_destroy(mesh_cut_work **work);

/* The layers near a cell: none active means that the cell lies wholly in near->base. */
bool mesh_cut_find_near(const mesh_cut_request *q, size_t cell, mesh_layers_near *near);

/* Cuts one cell; appends to `list` (on failure no_memory is set). */
void mesh_cut_cell(mesh_cut_work *work, size_t cell, const mesh_layers_near *near, mesh_cut_list *list);

/* Appends all of `from` to `to`. */
void mesh_cut_list_append(mesh_cut_list *to, const mesh_cut_list *from);
void mesh_cut_list_free(mesh_cut_list *list);

/* Adds area of a whole face of an uncut cell that borders on nothing. */
void mesh_cut_facets_outer(mesh_cut_list *list, const grid *g, size_t cell, int32_t part, int axis, int side);

#endif
