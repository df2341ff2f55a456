/* A small rig with mesh and results made up by hand, so that writers can be tested without a run.
 *
 * Numbers are unlike on purpose: three cells along r, four along z, no two edges equally far apart; in (x, y, z) two by three by
 * four. In (r, z) the water's side cuts a third off the outermost cells: too little for a node, so that this water is merged into the
 * cells inside; in (x, y, z) it lies on a grid line. */
#ifndef TESTS_IO_SMALL_RIG_H
#define TESTS_IO_SMALL_RIG_H

#include "geometry/mesh.h"
#include "solver/results.h"
#include "solver/rig.h"

typedef struct {
  rig rig;
  rig_part parts[2]; /* [0] tub: brine, [1] drum: water */
  rig_body body;
  rig_bath bath;
  rig_stage stages[2];
  shape *shapes[2];
  grid *grid;
  mesh *mesh;
} small_rig;

void small_rig_make(small_rig *s, grid_kind kind);
void small_rig_release(small_rig *s);

/* One value per node that tells the node's place: 1 + 2 i + 30 j + 500 k (+ 0.25 for water), i, j, k its cell. */
void small_rig_pattern(const small_rig *s, double *value);

/* Results as a run would leave them; owned by the caller's struct, release with small_rig_release_results. */
void small_rig_results(const small_rig *s, results *res);
void small_rig_release_results(results *res);

#endif
