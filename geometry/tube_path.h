/* A line through space by points, as tubes are bent along it: a helix, a serpentine, or any other. */
#ifndef LASTWATER_TUBE_PATH_H
#define LASTWATER_TUBE_PATH_H

#include <stddef.h>

#include "io/status.h"

typedef struct {
  size_t num;
  double (*point)[3]; /* [num] m, owned */
} tube_path;

/* Copies num >= 2 points. STATUS_BAD_INPUT: fewer, not finite, or two that follow each other are the same (numbered from 1). */
status tube_path_create(tube_path *out, const double (*points)[3], size_t num, message *msg);

/* Winds about the z axis, counter-clockwise from above, from (radius, 0, z_low) up to z_low + height. Its points lie so far outside the
 * circle that its length is right. radius > 0, turns > 0, height >= 0, all finite. */
status tube_path_helix(tube_path *out, double radius, double z_low, double height, double turns, message *msg);

/* num_runs straight runs along x, one beside the other along y at distance `pitch`, joined by half circles; level, its middle at the
 * origin. run_length: of the straight part, m. num_runs >= 1, lengths > 0. */
status tube_path_serpentine(tube_path *out, size_t num_runs, double run_length, double pitch, message *msg);

double tube_path_length(const tube_path *p); /* m */
/* m, from a point to the line. */
double tube_path_distance(const tube_path *p, const double point[3]);
/* m, the smallest distance between parts of the line that are further apart along it than `along`; INFINITY when it is shorter. */
double tube_path_clearance(const tube_path *p, double along);
void tube_path_release(tube_path *p); /* NULL-safe */

#endif
