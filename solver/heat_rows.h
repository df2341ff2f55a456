/* One row of cells: what passes its faces and the rate or the stage that follows. The bits of a cell do not depend on how its row is
 * divided into vectors or stretches. */
#ifndef LASTWATER_HEAT_ROWS_H
#define LASTWATER_HEAT_ROWS_H

#include <stddef.h>

#include "solver/network.h"

/* In one plane: potentials of the row and of the row ahead, conductances of the faces between (aligned with the cells, but x, which begins
 * with the face below the first cell), and the heat that the row behind sent through its faces: worked out once and carried on. */
typedef struct {
  const double *u, *ahead;
  const double *x, *towards, *inverse_volume;
  double *carried;
} heat_rows_plane;

/* In space: potentials of the row and of the four beside it, conductances of the faces towards them. From `even_begin` to `even_end` every
 * one of these conductances (and the volume) has one value along the row, which need not be read for every cell. */
typedef struct {
  const double *u, *behind, *ahead, *below, *above;
  const double *x, *y_low, *y_high, *z_low, *z_high, *inverse_volume;
  size_t even_begin, even_end;
} heat_rows_space;

/* What else will be read soon and is asked for meanwhile: by the first of two stages what it overwrites a slab further on, by the second,
 * which runs a slab behind, all else that the first will read. Together they ask for every line once, a slab before it is needed. */
typedef enum { HEAT_ROWS_ASK_NOTHING, HEAT_ROWS_ASK_FIRST, HEAT_ROWS_ASK_SECOND } heat_rows_asks;

/* What a stage reads besides potentials, and `next`, which it writes; each of the rows' length. */
typedef struct {
  const stage_weights *weights;
  const double *start, *start_rate, *last;
  double *next;
  heat_rows_asks asks;
  size_t slab; /* cells from a slab to the next, where anything is asked for */
} heat_rows_stage;

void heat_rows_plane_rate(const heat_rows_plane *v, size_t num, double *rate);
void heat_rows_plane_stage(const heat_rows_plane *v, size_t num, const heat_rows_stage *stage);
void heat_rows_space_rate(const heat_rows_space *v, size_t num, double *rate);
/* num_rows rows that follow each other in memory, of potentials too; the conductances are those of every one of them. */
void heat_rows_space_stage(const heat_rows_space *v, size_t num, size_t num_rows, const heat_rows_stage *stage);

#endif
