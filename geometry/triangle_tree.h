/* A tree of boxes over triangles, so that the near ones are found without looking at the rest.
 *
 * Built by halving along the split that makes the searching cheapest (surface area heuristic over 16 bins: Wald, "On fast construction
 * of SAH-based bounding volume hierarchies", IEEE Symposium on Interactive Ray Tracing 2007). Boxes are floats rounded outward: they
 * always hold their triangles. Beside its box each child has a flat drum about the mean normal of its triangles: a smooth piece of
 * surface is much thinner than its box, and a search from afar then leaves out the many pieces that are nearly as near as the nearest. A
 * node holds the boxes of its four children side by side, so that a search looks at all of them at once; a leaf is a run of `order`. */
#ifndef LASTWATER_TRIANGLE_TREE_H
#define LASTWATER_TRIANGLE_TREE_H

#include <stddef.h>
#include <stdint.h>

#include "io/status.h"

enum { TRIANGLE_TREE_WIDE = 4, TRIANGLE_TREE_DEEPEST = 64 }; /* children of a node; levels */

/* A search that keeps the other children of a node a level waiting needs no more room. */
enum { TRIANGLE_TREE_WAITING = (TRIANGLE_TREE_WIDE - 1) * TRIANGLE_TREE_DEEPEST + 1 };

typedef struct { /* of each child; beyond the last one low > high, and num and first are 0 */
  float low[3][TRIANGLE_TREE_WIDE], high[3][TRIANGLE_TREE_WIDE];
  float middle[3][TRIANGLE_TREE_WIDE]; /* of its drum                                           */
  float normal[3][TRIANGLE_TREE_WIDE]; /* the drum's axis; its length is between 1 - 1.3e-6 and 1 */
  float near[TRIANGLE_TREE_WIDE], far[TRIANGLE_TREE_WIDE]; /* near <= normal . (q - middle) <= far for all q of it */
  float radius[TRIANGLE_TREE_WIDE];    /* q lies no farther from the axis                       */
  uint32_t first[TRIANGLE_TREE_WIDE];  /* node of the child, or of a leaf the first of `order`  */
  uint32_t num[TRIANGLE_TREE_WIDE];    /* triangles of a leaf; 0: a node                        */
} triangle_tree_node;

typedef struct {
  size_t num_nodes;
  triangle_tree_node *nodes; /* [num_nodes], the root first; owned              */
  size_t num_triangles;
  uint32_t *order;           /* [num_triangles] triangles, leaf after leaf; owned */
} triangle_tree;

/* points finite, corners[num_triangles] below their number; both borrowed during the call. On failure *out is empty. */
status triangle_tree_build(triangle_tree *out, const double (*points)[3], const uint32_t (*corners)[3], size_t num_triangles,
                           message *msg);
void triangle_tree_release(triangle_tree *t);

#endif
