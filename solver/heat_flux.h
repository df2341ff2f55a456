/* Loops of the heat balance over flat arrays: potentials, and the sweep over regular faces.
 *
 * No allocation, no file, no printing. Every element is written once and from fixed operands, so the bits do not
 * depend on the number of threads (which are used from HEAT_FLUX_THREADED cells upward). */
#ifndef LASTWATER_HEAT_FLUX_H
#define LASTWATER_HEAT_FLUX_H

#include <stddef.h>
#include <stdint.h>

#include "solver/heat_potential.h"
#include "solver/network.h"

enum { HEAT_FLUX_THREADED = 60000, HEAT_FLUX_MOST_THREADS = 64 };

/* Cells [begin, end) of a row of which all conductances and the volume are the same; 0, 0: none. num_alike: so many rows of the slab from
 * this one on, itself included, have the same conductances as it in all cells. */
typedef struct { uint32_t begin, end, num_alike; } heat_flux_even;

/* Conductances of the regular faces, one pointer per row of cells along axis 0 (row = k * num[1] + j); equal rows share memory.
 * Each row holds num[0] + 1 values, m: [0] is 0, [i + 1] belongs to the face above cell i (0: none). */
typedef struct {
  size_t num[3];
  const double *const *conductance[3]; /* [axis][row]; [1] NULL in one plane            */
  const double *const *inverse_volume; /* [row] num[0] values, 1/m3; 0: absent          */
  const heat_flux_even *even;          /* [row] in space                                 */
  const double *none;                  /* a row of zeros, for faces that are not there   */
  double *scratch;                     /* [HEAT_FLUX_MOST_THREADS * heat_flux_scratch(num)], zero at first */
} heat_flux_rows;

size_t heat_flux_scratch(const size_t num[3]);

/* potential[num], W/m, of the curves, from enthalpy[num], J/m3. */
void heat_flux_potential(const heat_potential_nodes *nodes, const double *enthalpy, double *potential);

/* rate[cell] = sum of G (u_neighbour - u) / V over the regular faces, J/(m3 s). It finds the needed cells and, by node, all nodes that
 * are not cells. */
void heat_flux_rate(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const double *enthalpy, const heat_potential_found *found, double *rate);

/* potential[node], W/m, of the nodes that are not cells. */
void heat_flux_further(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const double *enthalpy, double *potential);

/* Two stages (network_stages) over the regular faces: next[cell], with gain[num_needed] of the entries added to needed cells, then last[cell]
 * from it. Nodes that are not cells must have their next already. It finds, of next, what heat_flux_rate does. */
void heat_flux_stages(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const stage_weights w[2], const double *gain,
                      const heat_potential_found *found, const double *start, const double *start_rate, double *last, double *next);

#endif
