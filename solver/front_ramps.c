#include "solver/front_ramps.h"

#include <stdlib.h>

enum { PACK = HEAT_POTENTIAL_PACK, MANY = 4000 }; /* MANY: fewer ramps are not worth a second thread */

bool front_ramps_create(front_ramps *r, size_t most)
{
  *r = (front_ramps){.most = most};
  r->node = malloc((most + 1) * sizeof *r->node);
  r->order = malloc((most + 1) * sizeof *r->order);
  r->pack = aligned_alloc(64, (most / PACK + 1) * sizeof *r->pack); /* pages that no front reaches are never touched */
  return r->node && r->order && r->pack;
}

void front_ramps_destroy(front_ramps *r)
{
  free(r->node);
  free(r->order);
  free(r->pack);
  *r = (front_ramps){0};
}

static void put(heat_potential_pack *pack, size_t at, const heat_potential_ramp *x)
{
  pack->end[at] = x->end;
  pack->half[at] = x->half;
  pack->begin[at] = x->begin;
  pack->middle[at] = x->middle;
  pack->ice[at] = x->ice;
  pack->water[at] = x->water;
  pack->frozen_square[at] = x->frozen_square;
  pack->frozen_line[at] = x->frozen_line;
  pack->liquid_square[at] = x->liquid_square;
  pack->liquid_line[at] = x->liquid_line;
}

void front_ramps_fill(front_ramps *r, const heat_potential_ramp *ramps, size_t num)
{
  static const heat_potential_ramp nothing = {0};
  const size_t num_packs = (num + PACK - 1) / PACK;
#pragma omp parallel for schedule(static) if (num >= MANY)
  for (size_t p = 0; p < num_packs; p++)
    for (size_t i = p * PACK; i < (p + 1) * PACK; i++) {
      const heat_potential_ramp *x = i < num ? &ramps[r->order[i]] : &nothing;
      put(&r->pack[p], i % PACK, x);
      if (i < num)
        r->node[i] = x->node;
    }
  r->view = (heat_potential_front){.num = num, .node = r->node, .order = r->order, .pack = r->pack, .ramp = ramps};
}
