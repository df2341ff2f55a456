/* Potentials of enthalpies, node after node: those of the curves and, where the front runs through a node, its own (front_node.h). */
#ifndef LASTWATER_HEAT_POTENTIAL_H
#define LASTWATER_HEAT_POTENTIAL_H

#include <stdbool.h>
#include <stdint.h>

#include "materials/phase_curve.h"

enum { HEAT_POTENTIAL_SPARE = 8 };

/* Consecutive nodes of one material. curve NULL: absent nodes, potential 0. */
typedef struct {
  size_t begin, end;
  const phase_curve *curve;
} heat_potential_run;

/* What a node offers instead of its curve while the front runs through it (front_node.h): u = middle - ice (1 - z) on its frozen side,
 * where (half - end - frozen_line) z^2 + frozen_line z = H - end, and u = middle + water (1 - w) on its liquid side, H >= half, where
 * (begin - half - liquid_line) w^2 + liquid_line w = begin - H; z and w between 0 and 1. */
typedef struct {
  int32_t node;
  double end, half, begin;             /* J/m3: frozen through, front in mid-node, freezing begins  */
  double middle, ice, water;           /* W/m: u_f; fall of u to `end`, rise to `begin`             */
  double from_surface;                 /* share of the cold that comes from surfaces of the node    */
  double even;                         /* share of w that grows evenly with what freezes            */
  double beyond;                       /* nodes that the front runs beyond the middle until it is through */
  bool last;                           /* no node ahead, nor hemmed in: z grows evenly with what freezes */
  double frozen_line, liquid_line;     /* J/m3                              */
} heat_potential_ramp;

/* u, W/m, at an enthalpy between end and begin. */
double heat_potential_ramp_at(const heat_potential_ramp *r, double enthalpy);
/* The share of the node that is frozen, 0 .. 1, at any enthalpy. */
double heat_potential_ramp_frozen(const heat_potential_ramp *r, double enthalpy);

/* Eight ramps, quantity by quantity: found at once, they lie in one stretch of memory and not in eight. Whether one holds is read from the first two. */
enum { HEAT_POTENTIAL_PACK = 8 };
typedef struct {
  double end[HEAT_POTENTIAL_PACK], begin[HEAT_POTENTIAL_PACK];
  double half[HEAT_POTENTIAL_PACK], middle[HEAT_POTENTIAL_PACK], ice[HEAT_POTENTIAL_PACK], water[HEAT_POTENTIAL_PACK],
      frozen_line[HEAT_POTENTIAL_PACK], liquid_line[HEAT_POTENTIAL_PACK];
} heat_potential_pack;

/* Some ramps by rising node: ramp i is number i % HEAT_POTENTIAL_PACK of pack i / HEAT_POTENTIAL_PACK; the last pack is filled up with zeros. */
typedef struct {
  size_t num;
  const int32_t *node;
  const heat_potential_pack *pack;
} heat_potential_packs;

/* All ramps by rising node, ramp[order[i]]; and in packs, those apart in which the front is when they are found from those that it may come to or has
 * just left: what does not hold is then passed over eight nodes at a time. */
enum { HEAT_POTENTIAL_INSIDE, HEAT_POTENTIAL_NEAR, HEAT_POTENTIAL_LISTS };
typedef struct {
  size_t num;
  const int32_t *order;
  const heat_potential_ramp *ramp;
  heat_potential_packs packs[HEAT_POTENTIAL_LISTS];
} heat_potential_front;

static inline const heat_potential_ramp *heat_potential_front_ramp(const heat_potential_front *f, size_t i)
{
  return &f->ramp[f->order[i]];
}

/* The runs cover [0, num) in order and without a gap; the cells of the grid come first, the further nodes of cut cells after them. */
typedef struct {
  size_t num, num_runs;
  const heat_potential_run *runs;
  const int32_t *needed; /* [num_needed] cells, rising, whose potential somebody asks for after a sweep */
  size_t num_needed;
  const heat_potential_front *front; /* NULL: none */
} heat_potential_nodes;

/* A place in the runs and ramps, moving up. */
typedef struct {
  const heat_potential_nodes *nodes;
  size_t end; /* nodes from here on are not read */
  const heat_potential_run *run;
  size_t ramp[HEAT_POTENTIAL_LISTS];
} heat_potential;

heat_potential heat_potential_from(const heat_potential_nodes *nodes, size_t node, size_t end);
/* potential[0 ..], W/m, of the nodes [begin, end), begin at or after where the last call ended; up to HEAT_POTENTIAL_SPARE values behind
 * them are overwritten, but none of nodes that are not read. */
void heat_potential_next(heat_potential *p, size_t begin, size_t end, const double *enthalpy, double *potential);

/* Where potentials of needed nodes go: side by side, and by node, too, where anybody asks for them so. */
typedef struct {
  double *needed;  /* [num_needed] W/m                                  */
  double *by_node; /* [nodes] W/m                                       */
  bool also_by_node;
} heat_potential_found;

#endif
