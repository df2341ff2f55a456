#include "solver/clear_white.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const double LEFT_OUT = 0.05; /* at either end */

/* Where a share of the volume lies below, evenly spread within a layer of cells. */
static double place_of(const double *edges, const double *volume, size_t num, double wanted)
{
  double sum = 0.0;
  for (size_t i = 0; i < num; i++) {
    if (volume[i] > 0.0 && sum + volume[i] >= wanted)
      return edges[i] + (edges[i + 1] - edges[i]) * (wanted - sum) / volume[i];
    sum += volume[i];
  }
  return edges[num];
}

/* Where white from a mirror plane on to `far` ends, a twentieth of it beyond. */
static void unfold(clear_white *out, int axis, double mirror, double far)
{
  out->middle[axis] = mirror;
  out->low[axis] = fmin(far, 2.0 * mirror - far);
  out->high[axis] = fmax(far, 2.0 * mirror - far);
}

static void measure(clear_white *out, int axis, const mesh *m, int part, const double *extinction, double bound, double *volume)
{
  const grid *g = m->grid;
  double sum = 0.0, moment = 0.0;
  memset(volume, 0, g->num[axis] * sizeof *volume);
  for (size_t n = 0; n < m->num_nodes; n++) {
    size_t ijk[3];
    if (m->part[n] != part || !(m->volume[n] > 0.0) || !(extinction[n] > bound))
      continue;
    grid_cell_indices(g, (size_t)m->cell[n], ijk);
    volume[ijk[axis]] += m->volume[n];
    sum += m->volume[n];
    moment += m->volume[n] * m->centroid[n][axis];
  }
  if (!(sum > 0.0))
    return;
  const double *edge = g->edges[axis];
  if (g->mirror[2 * axis]) { /* a twentieth of the whole is a tenth of this half */
    unfold(out, axis, edge[0], place_of(edge, volume, g->num[axis], (1.0 - 2.0 * LEFT_OUT) * sum));
    return;
  }
  if (g->mirror[2 * axis + 1]) {
    unfold(out, axis, edge[g->num[axis]], place_of(edge, volume, g->num[axis], 2.0 * LEFT_OUT * sum));
    return;
  }
  out->middle[axis] = moment / sum;
  out->low[axis] = place_of(g->edges[axis], volume, g->num[axis], LEFT_OUT * sum);
  out->high[axis] = place_of(g->edges[axis], volume, g->num[axis], (1.0 - LEFT_OUT) * sum);
}

status clear_white_find(clear_white *out, const mesh *m, int part, const double *extinction, double bound, message *msg)
{
  const grid *g = m->grid;
  size_t most = 1;
  for (int axis = 0; axis < 3; axis++) {
    most = g->num[axis] > most ? g->num[axis] : most;
    out->middle[axis] = out->low[axis] = out->high[axis] = NAN;
  }
  double *volume = malloc(most * sizeof *volume);
  if (!volume)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes for the place of white ice", most * sizeof *volume);
  for (int axis = 0; axis < 3; axis++)
    if (g->kind != GRID_RZ || axis != 1)
      measure(out, axis, m, part, extinction, bound, volume);
  if (g->kind == GRID_RZ && !isnan(out->middle[0]))
    out->middle[1] = out->low[1] = out->high[1] = 0.0;
  free(volume);
  return STATUS_OK;
}
