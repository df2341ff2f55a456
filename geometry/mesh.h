/* Cells cut into nodes, and everything that joins them.
 *
 * Layers are painted in order; a point belongs to the last layer that covers it, or to nothing
 * (MESH_VOID, the room). A cell inside one part is one node. A cell cut by a boundary holds one node
 * per part in it, each with its own volume and centroid. A node smaller than half a cell is merged
 * into the same-part neighbour with the largest aperture (a sliver without one stays, and is counted).
 *
 * Nodes 0 .. num_cells-1 are the primary nodes of the cells (the largest part in the cell; volume 0
 * where a cell has none, or where it was merged away); further nodes of cut cells follow. Same-part faces
 * between primary nodes of neighbouring cells are the plain arrays `regular`; all others are the list `faces`.
 *
 * Two parts meet only through interface elements, which carry the sampled true area (never the staircase). */
#ifndef LASTWATER_MESH_H
#define LASTWATER_MESH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "geometry/grid.h"
#include "geometry/shape.h"

#define MESH_VOID (-1) /* part index of unpainted space */
#define MESH_NONE (-1) /* no node */

typedef enum {
  MESH_SOLID,    /* gets nodes                                                                          */
  MESH_HELD,     /* no nodes: the interface knows the part only (a rod or jacket held at a temperature) */
  MESH_THIN_WALL /* no nodes: interface elements across the wall, and wall patches                      */
} mesh_layer_kind;

typedef struct {       /* the floor of a thin wall, where its thickness is another than at the sides                 */
  double thickness;    /* m; 0: none of its own                                                           */
  double normal[3];    /* unit, out of the cavity through its flat floor                                  */
  double side_cosine;  /* between that and the normal of the sides: > 0 where the cavity widens upward, < 1 */
} mesh_floor;

typedef struct {
  mesh_layer_kind kind;
  const shape *region; /* borrowed: what is covered (for a thin wall: the wall's own solid)                */
  const shape *cavity; /* borrowed; MESH_THIN_WALL only: the inner surface. The wall fills 0 <= distance <
                          thickness of it, wherever region says there is wall                               */
  double thickness;    /* m; MESH_THIN_WALL only                                                          */
  mesh_floor floor;    /* MESH_THIN_WALL only; round the edge the thickness goes over from one to the other */
  double even_length;  /* m; MESH_THIN_WALL in GRID_XYZ only: over such a length it is of one temperature; cells closer together share a patch. 0: none do */
} mesh_layer;          /* its index in the array of layers is its part index                              */

typedef struct { /* a face between two nodes of one part that the regular arrays do not hold */
  int32_t left, right;
  int32_t axis;    /* 0, 1, 2: the direction of the face (2 = vertical flow) */
  double area;     /* m2, open aperture */
  double distance; /* m, over which it conducts: between centroids, such that heat which flows along the normal of the
                      surfaces that cut the two nodes is conducted rightly */
} mesh_face;

typedef struct {        /* a same-part face, regular or listed, whose nodes do not lie opposite each other            */
  int32_t left, right, axis;
  double conductance;   /* m, area / distance                                                              */
  double skew[3];       /* m, way from left's centroid to right's less `distance` along the axis: conductance times the gradient along
                           it is what the two nodes' difference leaves out                                 */
} mesh_skew_face;

typedef struct {      /* a face on a mirror plane, between a node and its image: no heat passes it */
  int32_t node, axis;
  double area;        /* m2, open aperture                */
  double distance;    /* m, between the two centroids     */
} mesh_mirror_face;

typedef struct {      /* where two parts meet, or a part meets the room or a held part; floor, sides and ceiling of a pair apart */
  int32_t node[2];    /* node[0] >= 0; node[1] may be MESH_NONE (void or held part). Both MESH_NONE, with MESH_VOID on side 0 and no area there: a
                         bare thin wall, as above the water; side 1 is then both of its sides                */
  int32_t part[2];    /* part[1] may be MESH_VOID, or the thin wall itself: a piece of its outside round an edge of the cavity,
                         with nothing opposite; area[1] is 0 there                                       */
  int32_t patch;      /* index of the wall patch between them, or MESH_NONE                               */
  double area[2];     /* m2, as seen from each side (they differ across a wall: outer surfaces are larger */
  double distance[2]; /* m, from node centroid to its surface along the normal, > 0; 0 where no node      */
  double normal[3];   /* unit, from side 0 to side 1 (in GRID_RZ {n_r, 0, n_z})                           */
  double centroid[3]; /* m                                                                               */
  int32_t across;     /* bit a set, where there is a wall between: side 1 lies beyond the mirror plane across axis a, where the image of its node is */
  double curvature;   /* 1/m, sum of both principal ones, > 0 where the surface bulges to side 1; in GRID_RZ that of the section only */
} mesh_interface;

typedef struct {      /* a piece of thin wall; through it run the interface elements that name it */
  int32_t part;
  double area;        /* m2 at mid thickness   */
  double thickness;   /* m; of a patch round the edge of a floor such that area / thickness is right */
  double centroid[3]; /* m                     */
} mesh_patch;

typedef struct {      /* conduction along the wall between two patches */
  int32_t patch[2];
  double area;        /* m2 = shared width times thickness */
  double distance;    /* m  between patch centroids along the wall */
} mesh_patch_link;

typedef struct {      /* between a patch and its image beyond a mirror plane: no heat passes it */
  int32_t patch, axis;
  double area;        /* m2 = shared width times thickness */
  double distance;    /* m  between the two centroids along the wall */
} mesh_patch_mirror;

typedef struct mesh {
  const grid *grid;     /* borrowed */
  int32_t num_parts;
  size_t num_nodes;     /* >= grid_num_cells                                             */
  double *volume;       /* [num_nodes] m3; 0: no such node                                */
  double (*centroid)[3];/* [num_nodes] m; in GRID_RZ {r, 0, z} of the section, not weighted by r: for a whole
                           cell its middle, so that distances between nodes are those between middles  */
  int32_t *part;        /* [num_nodes]; MESH_VOID where volume is 0                        */
  int32_t *cell;        /* [num_nodes] the cell it lies in (a merged node: its host's)      */
  /* regular[axis][cell]: area / distance, m, of the same-part face between the primary nodes of `cell` and
   * of its upper neighbour along the axis; 0 where there is none. [axis] is NULL where num[axis] == 1. */
  double *regular[3];
  mesh_face *faces;
  size_t num_faces;
  mesh_skew_face *skew_faces; /* beside slanting surfaces                                  */
  size_t num_skew_faces;
  mesh_mirror_face *mirror_faces; /* one a node and axis */
  size_t num_mirror_faces;
  mesh_interface *interfaces;
  size_t num_interfaces;
  mesh_patch *patches;
  size_t num_patches;
  mesh_patch_link *patch_links;
  size_t num_patch_links;
  mesh_patch_mirror *patch_mirrors; /* one a patch and axis */
  size_t num_patch_mirrors;
  /* Volume share of each part in each cell before merging: share[part * num_cells + cell]; void is the rest. */
  float *share;
  double *part_volume;  /* [num_parts] m3, sampled, before merging; thin walls: area times thickness */
  size_t num_merged, num_kept_slivers; /* reported to the user */
  size_t num_floored;      /* interface or face distances set to the smallest or largest allowed (see mesh_create) */
  size_t num_lost;         /* facets of a thin wall whose outer side is more wall, or has no node: left out */
  double dropped_area;     /* m2 of a rim of thin wall beside no wall, or of wall against wall, left out */
  double images;           /* how often each node counts (mesh_images.h); 1: once */
  struct mesh_lookup *lookup; /* which node holds a part in a cell; owned */
} mesh;

/* Cuts the grid. `samples` is the number of sub-cells per cell edge in cut cells (0: the default, 8 in
 * GRID_RZ, 3 in GRID_XYZ). Result independent of the number of threads. Distances to a surface are at least 0.05 of the
 * cell's width along the normal, distances between nodes 0.25 to 4 cells (the
 * upper end: the shut way between two nodes as deep below a slanting surface); those limited are counted.
 * The shapes are copied; the grid must outlive the mesh. */
status mesh_create(mesh **out, const grid *g, const mesh_layer *layers, int32_t num_layers, int samples, message *msg);
void mesh_destroy(mesh **m);

/* Every number finite, volumes add up to the shares, every interface node exists, areas and distances in range. False: msg
 * (may be NULL) names the first fault. */
bool mesh_is_valid(const mesh *m, message *msg);

/* The node of `part` in `cell` (after merging: the node that took it over), or MESH_NONE. */
int32_t mesh_find_node(const mesh *m, size_t cell, int32_t part);
/* Distance over area between the node on a side and its surface, 1/m. The area half way counts, of a surface that is curved: the logarithm
 * of a pipe to second order. (Where that area would be less than half or more than twice the surface there is an edge in the patch, and the
 * surface's own area counts.) */
double mesh_reach(const mesh *m, const mesh_interface *f, int side);
/* Unit normal out of the node on a side, where that node lies (not its image). */
void mesh_outward(const mesh_interface *f, int side, double normal[3]);
/* The node that holds a point, or MESH_NONE (void, held part, wall, outside). */
int32_t mesh_node_at(const mesh *m, const double point[3]);

#endif
