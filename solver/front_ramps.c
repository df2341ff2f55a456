#include "solver/front_ramps.h"

#include <omp.h>
#include <stdlib.h>
#include <string.h>

enum { PACK = HEAT_POTENTIAL_PACK, LISTS = HEAT_POTENTIAL_LISTS, MANY = 4000, SHARES = 16 }; /* MANY: fewer ramps are not worth a second thread */

static bool create_packs(front_ramps_packs *p, size_t most)
{
  p->node = malloc((most + 1) * sizeof *p->node);
  p->pack = aligned_alloc(64, (most / PACK + 1) * sizeof *p->pack); /* pages that no front reaches are never touched */
  return p->node && p->pack;
}

bool front_ramps_create(front_ramps *r, size_t most)
{
  *r = (front_ramps){0};
  r->order = malloc((most + 1) * sizeof *r->order);
  bool ok = r->order != NULL;
  for (int list = 0; list < LISTS; list++)
    ok = create_packs(&r->packs[list], most) && ok;
  return ok;
}

void front_ramps_destroy(front_ramps *r)
{
  free(r->order);
  for (int list = 0; list < LISTS; list++) {
    free(r->packs[list].node);
    free(r->packs[list].pack);
  }
  *r = (front_ramps){0};
}

/* Of which list: INSIDE, where the ramp holds now. */
static int list_of(const heat_potential_ramp *x, const double *enthalpy)
{
  return enthalpy[x->node] > x->end && enthalpy[x->node] < x->begin ? HEAT_POTENTIAL_INSIDE : HEAT_POTENTIAL_NEAR;
}

static void put(heat_potential_pack *pack, size_t at, const heat_potential_ramp *x)
{
  pack->end[at] = x->end;
  pack->half[at] = x->half;
  pack->begin[at] = x->begin;
  pack->middle[at] = x->middle;
  pack->ice[at] = x->ice;
  pack->water[at] = x->water;
  pack->frozen_line[at] = x->frozen_line;
  pack->liquid_line[at] = x->liquid_line;
}

/* A share of the ramps goes to its places in both lists, from first[list] to next[list]. */
static void fill_share(front_ramps *r, const heat_potential_ramp *ramps, const double *enthalpy, size_t from, size_t to, const size_t first[LISTS],
                       size_t next[LISTS])
{
  memcpy(next, first, LISTS * sizeof *next);
  for (size_t i = from; i < to; i++) {
    const heat_potential_ramp *x = &ramps[r->order[i]];
    const int list = list_of(x, enthalpy);
    const size_t at = next[list]++;
    r->packs[list].node[at] = x->node;
    put(&r->packs[list].pack[at / PACK], at % PACK, x);
  }
}

static void count_share(const front_ramps *r, const heat_potential_ramp *ramps, const double *enthalpy, size_t from, size_t to, size_t num[LISTS])
{
  for (size_t i = from; i < to; i++)
    num[list_of(&ramps[r->order[i]], enthalpy)]++;
}

/* Where each share begins in both lists; after the last one, how many there are. */
static void find_begins(const front_ramps *r, const heat_potential_ramp *ramps, const double *enthalpy, size_t num, size_t begin[SHARES + 1][LISTS])
{
#pragma omp parallel for schedule(static)
  for (size_t share = 0; share < SHARES; share++)
    count_share(r, ramps, enthalpy, share * num / SHARES, (share + 1) * num / SHARES, begin[share + 1]);
  for (size_t share = 0; share < SHARES; share++)
    for (int list = 0; list < LISTS; list++)
      begin[share + 1][list] += begin[share][list];
}

/* The last pack of a list is filled up with zeros, which hold nowhere. */
static heat_potential_packs close_list(const front_ramps_packs *p, size_t num)
{
  static const heat_potential_ramp nothing = {0};
  for (size_t at = num; at % PACK != 0; at++)
    put(&p->pack[at / PACK], at % PACK, &nothing);
  return (heat_potential_packs){.num = num, .node = p->node, .pack = p->pack};
}

void front_ramps_fill(front_ramps *r, const heat_potential_ramp *ramps, size_t num, const double *enthalpy)
{
  size_t begin[SHARES + 1][LISTS] = {{0}};
  if (num < MANY || omp_get_max_threads() == 1) {
    fill_share(r, ramps, enthalpy, 0, num, begin[0], begin[SHARES]);
  } else {
    find_begins(r, ramps, enthalpy, num, begin);
#pragma omp parallel for schedule(static)
    for (size_t share = 0; share < SHARES; share++) {
      size_t end[LISTS];
      fill_share(r, ramps, enthalpy, share * num / SHARES, (share + 1) * num / SHARES, begin[share], end);
    }
  }
  r->view = (heat_potential_front){.num = num, .order = r->order, .ramp = ramps};
  for (int list = 0; list < LISTS; list++)
    r->view.packs[list] = close_list(&r->packs[list], begin[SHARES][list]);
}
