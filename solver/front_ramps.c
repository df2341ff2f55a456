#include "solver/front_ramps.h"

#include <stdlib.h>

#include "solver/heat_flux.h"

enum { QUANTITIES = 10 };

bool front_ramps_create(front_ramps *r, size_t most)
{
  *r = (front_ramps){.most = most};
  r->node = malloc((most + 1) * sizeof *r->node);
  r->order = malloc((most + 1) * sizeof *r->order);
  r->values = malloc(QUANTITIES * (most + 1) * sizeof *r->values); /* pages that no front reaches are never touched */
  return r->node && r->order && r->values;
}

void front_ramps_destroy(front_ramps *r)
{
  free(r->node);
  free(r->order);
  free(r->values);
  *r = (front_ramps){0};
}

void front_ramps_fill(front_ramps *r, const heat_potential_ramp *ramps, size_t num)
{
  double *column[QUANTITIES];
  for (size_t q = 0; q < QUANTITIES; q++)
    column[q] = r->values + q * r->most;
#pragma omp parallel for schedule(static) if (num >= HEAT_FLUX_THREADED)
  for (size_t i = 0; i < num; i++) {
    const heat_potential_ramp *x = &ramps[r->order[i]];
    const double value[QUANTITIES] = {x->end, x->half, x->begin, x->middle, x->ice, x->water, x->frozen_square, x->frozen_line, x->liquid_square, x->liquid_line};
    r->node[i] = x->node;
    for (size_t q = 0; q < QUANTITIES; q++)
      column[q][i] = value[q];
  }
  r->view = (heat_potential_front){.num = num, .node = r->node, .order = r->order, .end = column[0], .half = column[1], .begin = column[2],
                                   .middle = column[3], .ice = column[4], .water = column[5], .frozen_square = column[6],
                                   .frozen_line = column[7], .liquid_square = column[8], .liquid_line = column[9], .ramp = ramps};
}
