/* Lines of equal value over an evenly spaced lattice of samples: marching squares, segments joined into lines, places for labels.
 *
 * A lattice square with a sample that is not finite carries no line, so lines end at the edge of what is known. A square whose
 * corners alternate is settled by the mean of its corners. */
#ifndef LASTWATER_CONTOUR_H
#define LASTWATER_CONTOUR_H

#include <stdbool.h>
#include <stddef.h>

#include "io/status.h"

typedef struct {
  size_t num;
  double (*points)[2]; /* {column, row} in samples, whole numbers on samples; owned by the set */
  bool closed;         /* the last point joins the first (which is not repeated)               */
} contour_line;

typedef struct { size_t num; contour_line *lines; } contour_set;

/* Lines where values[height * width] (row by row) passes `level`. Free with contour_release. */
status contour_trace(contour_set *out, const float *values, size_t width, size_t height, double level, message *msg);
void contour_release(contour_set *set);
double contour_length(const contour_line *line); /* in samples */

typedef struct { double low[2], high[2]; } contour_box;
/* A place for a label of the given size, centred on a point of a line, where the line is longest in sight and the box keeps
 * clear of all taken boxes and inside `bounds`, as far from the taken ones as may be. False when there is none. */
bool contour_place_label(const contour_set *set, const double size[2], const contour_box *bounds, const contour_box *taken,
                         size_t num_taken, double centre[2]);

#endif
