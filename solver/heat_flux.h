/* Loops of the heat balance over flat arrays: potentials, and the sweep over regular faces.
 *
 * No allocation, no file, no printing. Every element is written once and from fixed operands, so the bits do not
 * depend on the number of threads (which are used from HEAT_FLUX_THREADED cells upward). */
#ifndef LASTWATER_HEAT_FLUX_H
#define LASTWATER_HEAT_FLUX_H

#include <stddef.h>
#include <stdint.h>

#include "materials/phase_curve.h"
#include "solver/network.h"

enum { HEAT_FLUX_THREADED = 150000, HEAT_FLUX_MOST_THREADS = 64 };

/* Consecutive nodes of one material. curve NULL: absent nodes, potential 0. */
typedef struct {
  size_t begin, end;
  const phase_curve *curve;
} heat_flux_run;

/* What a node offers instead of its curve while the front runs through it (front_cells.h): with f = (begin - H) per_range between 0 and 1,
 * u = middle - late_slope max(f - from_late, 0) + early_slope max(to_early - f, 0). */
typedef struct {
  int32_t node;
  double begin, per_range;   /* J/m3, m3/J                                          */
  double middle, ice;        /* W/m: u_f; fall of u over the node's depth in the ice */
  double from_late, late_slope, to_early, early_slope; /* 1, W/m, 1, W/m             */
} heat_flux_ramp;

/* The runs cover [0, num) in order and without a gap; the cells of the grid come first, the further nodes of cut cells after them. */
typedef struct {
  size_t num, num_runs;
  const heat_flux_run *runs;
  const int32_t *needed; /* [num_needed] cells, rising, whose potential somebody asks for after a sweep */
  size_t num_needed;
  const heat_flux_ramp *ramps; /* [num_ramps] by rising node; in sweeps only */
  size_t num_ramps;
} heat_flux_nodes;

/* Conductances of the regular faces, one pointer per row of cells along axis 0 (row = k * num[1] + j); equal rows share memory.
 * Each row holds num[0] + 1 values, m: [0] is 0, [i + 1] belongs to the face above cell i (0: none). */
typedef struct {
  size_t num[3];
  const double *const *conductance[3]; /* [axis][row]; [1] NULL in one plane            */
  const double *const *inverse_volume; /* [row] num[0] values, 1/m3; 0: absent          */
  const double *none;                  /* a row of zeros, for faces that are not there   */
  double *scratch;                     /* [HEAT_FLUX_MOST_THREADS * heat_flux_scratch(num)], zero at first */
} heat_flux_rows;

size_t heat_flux_scratch(const size_t num[3]);

/* potential[num], W/m, of the curves, from enthalpy[num], J/m3. */
void heat_flux_potential(const heat_flux_nodes *nodes, const double *enthalpy, double *potential);

/* rate[cell] = sum of G (u_neighbour - u) / V over the regular faces, J/(m3 s). Of potential it fills the needed cells and all nodes that
 * are not cells. */
void heat_flux_rate(const heat_flux_rows *rows, const heat_flux_nodes *nodes, const double *enthalpy, double *potential, double *rate);

/* The same, fused into a stage (network_stage): updates next[cell]. */
void heat_flux_stage(const heat_flux_rows *rows, const heat_flux_nodes *nodes, const stage_weights *w, double *potential,
                     const double *start, const double *start_rate, const double *last, double *next);

#endif
