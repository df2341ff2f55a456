/* What a run will take, before it begins: memory and time from the number of cells, and whether the memory suffices. */
#ifndef LASTWATER_RUN_COST_H
#define LASTWATER_RUN_COST_H

#include <stdbool.h>
#include <stddef.h>

typedef struct {
  bool revolved;
  bool thin_walls; /* some wall is thinner than two cells */
  bool bath;       /* liquid beside the water moves too   */
} run_cost_rig;

/* bytes, s on two cores; both good to a factor of three (measured, see run_cost.c). */
double run_cost_memory(const run_cost_rig *r, double cells);
double run_cost_duration(const run_cost_rig *r, double cells);

/* bytes that this machine has; INFINITY when it does not say. */
double run_cost_have(void);

/* True when `cells` fit into three quarters of `have` bytes. Else *most: as many as would. */
bool run_cost_fits(const run_cost_rig *r, double cells, double have, double *most);

#endif
