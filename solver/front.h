/* The freezing front as it passes the nodes: when it came (how fast it was: front_speed.h).
 *
 * For every node of water, from each accepted step, the moments at which its enthalpy falls through four levels:
 *   start   liquid_enthalpy: freezing begins in the node
 *   quarter half way from start to freeze
 *   freeze  half way between solid and liquid enthalpy: the front passes the node's centre
 *   solid   solid_enthalpy: its last liquid goes
 * A node whose enthalpy rises above a level again starts anew for that level (NAN until it falls through once more); the first
 * passing is kept beside the last. A node already below a level when tracking begins carries the time of that beginning. */
#ifndef LASTWATER_FRONT_H
#define LASTWATER_FRONT_H

#include "solver/rig.h"

typedef struct front_track front_track;

/* Tracks the nodes of every part of kind PART_WATER; mesh and rig are read here only. */
status front_track_create(front_track **out, const mesh *m, const rig *r, message *msg);
void front_track_destroy(front_track **f); /* NULL-safe */

/* Takes note of an accepted step from (t0, before) to (t1, after), enthalpies J/m3 per node: crossings by linear interpolation. */
void front_track_update(front_track *f, double t0, const double *before, double t1, const double *after);
/* The same with the rate dH/dt at t0, J/(m3 s): the path in between is the parabola with that slope where it falls all the way,
 * a straight line elsewhere. rate_before may be NULL. */
void front_track_update_with_rate(front_track *f, double t0, const double *before, const double *rate_before, double t1,
                                  const double *after);
/* Levels of single nodes until the next call, instead of those of their material (network_front_at); nodes beyond the mesh are passed
 * over. */
typedef struct {
  int32_t node;
  double start, freeze, solid; /* J/m3 */
} front_levels;
void front_track_set_levels(front_track *f, const front_levels *levels, size_t num);

/* s from time zero per mesh node, NAN where not (or no longer) frozen or not water; owned by f. */
const double *front_track_start_time(const front_track *f);
const double *front_track_quarter_time(const front_track *f);
const double *front_track_freeze_time(const front_track *f);
const double *front_track_solid_time(const front_track *f);
const double *front_track_first_freeze_time(const front_track *f); /* kept when a node melts again */
const double *front_track_first_solid_time(const front_track *f);

/* All of the above in one stretch, for checkpoints: read and written in place. */
size_t front_track_num_memory(const front_track *f);
double *front_track_memory(front_track *f);

#endif
