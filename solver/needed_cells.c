#include "solver/needed_cells.h"

#include <omp.h>
#include <stdlib.h>

bool needed_cells_create(needed_cells *n, const int32_t *node, size_t num)
{
  *n = (needed_cells){.num = num, .node = node};
  n->runs = malloc((num + 1) * sizeof *n->runs);
  n->ramp = malloc((num + 1) * sizeof *n->ramp); /* pages that no front reaches are never touched */
  n->enthalpy = malloc((num + HEAT_POTENTIAL_SPARE) * sizeof *n->enthalpy);
  return front_ramps_create(&n->ramps, num) && n->runs && n->ramp && n->enthalpy;
}

void needed_cells_destroy(needed_cells *n)
{
  free(n->runs);
  free(n->ramp);
  free(n->enthalpy);
  front_ramps_destroy(&n->ramps);
  *n = (needed_cells){0};
}

static size_t find_runs(needed_cells *n, const heat_potential_nodes *nodes)
{
  const heat_potential_run *of = nodes->runs;
  size_t num = 0;
  for (size_t i = 0; i < n->num; i++) {
    while (of->end <= (size_t)n->node[i])
      of++;
    if (num == 0 || n->runs[num - 1].curve != of->curve)
      n->runs[num++] = (heat_potential_run){.begin = i, .curve = of->curve};
    n->runs[num - 1].end = i + 1;
  }
  return num;
}

static size_t find_ramps(needed_cells *n, const heat_potential_front *front)
{
  size_t at = 0, num = 0;
  for (size_t i = 0; i < n->num; i++) {
    while (at < front->num && heat_potential_front_ramp(front, at)->node < n->node[i])
      at++;
    if (at == front->num || heat_potential_front_ramp(front, at)->node != n->node[i])
      continue;
    n->ramps.order[num] = (int32_t)num;
    n->ramp[num] = *heat_potential_front_ramp(front, at);
    n->ramp[num++].node = (int32_t)i;
  }
  return num;
}

static void gather(const needed_cells *n, const double *enthalpy, size_t from, size_t to)
{
  for (size_t i = from; i < to; i++)
    n->enthalpy[i] = enthalpy[n->node[i]];
}

void needed_cells_refresh(needed_cells *n, const heat_potential_nodes *nodes, const double *enthalpy)
{
  const size_t num_ramps = nodes->front ? find_ramps(n, nodes->front) : 0;
  gather(n, enthalpy, 0, n->num);
  front_ramps_fill(&n->ramps, n->ramp, num_ramps, n->enthalpy);
  n->as_nodes = (heat_potential_nodes){.num = n->num, .num_runs = find_runs(n, nodes), .runs = n->runs, .front = &n->ramps.view};
}

static void potentials_between(const needed_cells *n, size_t from, size_t to, const double *enthalpy, const heat_potential_found *found)
{
  if (from == to)
    return;
  gather(n, enthalpy, from, to);
  heat_potential at = heat_potential_from(&n->as_nodes, from, to);
  heat_potential_next(&at, from, to, n->enthalpy, found->needed + from);
  for (size_t i = from; found->also_by_node && i < to; i++)
    found->by_node[n->node[i]] = found->needed[i];
}

/* A parallel region costs time even where it has one thread. */
void needed_cells_potentials(const needed_cells *n, const double *enthalpy, const heat_potential_found *found)
{
  enum { MANY = 4000 }; /* fewer are not worth a second thread */
  if (n->num < MANY) {
    potentials_between(n, 0, n->num, enthalpy, found);
    return;
  }
#pragma omp parallel
  {
    const size_t thread = (size_t)omp_get_thread_num(), num = (size_t)omp_get_num_threads();
    potentials_between(n, thread * n->num / num, (thread + 1) * n->num / num, enthalpy, found);
  }
}
