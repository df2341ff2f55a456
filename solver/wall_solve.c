#include "solver/wall_solve.h"

#include <stdlib.h>
#include <string.h>

#include <nvector/nvector_serial.h>
#include <sundials/sundials_context.h>
#include <sunlinsol/sunlinsol_band.h>
#include <sunmatrix/sunmatrix_band.h>

#include "solver/wall_iteration.h"

struct wall_solve {
  size_t num, num_links;
  bool banded, diagonal_only;
  int32_t *place;       /* [num] patch -> place in the solve's own order  */
  wall_link_place *link;     /* [num_links]                                    */
  double *diagonal;     /* [num] in that order, links included            */
  double *conductance;  /* [num_links]                                    */
  double *right, *left; /* [num] in that order, zero beyond; the data of the vectors */
  long int bandwidth;
  bool chain;           /* banded with bandwidth 1                        */
  double *coupling;     /* [num + 1] of a chain, with place - 1           */
  double *inverse_pivot, *inwards, *outwards; /* [num] of a chain                 */
  wall_iteration *iteration;
  double *weight, *alone, *pivot; /* [num] of the iteration (wall_iteration.h) */
  SUNContext context;
  N_Vector right_vector, left_vector;
  SUNMatrix matrix;
  SUNLinearSolver solver;
};

/* ------------------------------------------------------------------------------------------- numbering along the chains */

typedef struct {
  size_t *first;      /* [num + 1] */
  int32_t *neighbour; /* [2 num_links] */
} adjacency;

static void adjacency_free(adjacency *a)
{
  free(a->first);
  free(a->neighbour);
}

static bool adjacency_fill(adjacency *a, size_t num, const mesh_patch_link *links, size_t num_links)
{
  a->first = calloc(num + 2, sizeof *a->first);
  a->neighbour = calloc(2 * num_links + 1, sizeof *a->neighbour);
  if (!a->first || !a->neighbour)
    return false;
  for (size_t l = 0; l < num_links; l++)
    for (int side = 0; side < 2; side++)
      a->first[links[l].patch[side] + 2]++;
  for (size_t p = 0; p < num; p++)
    a->first[p + 2] += a->first[p + 1];
  for (size_t l = 0; l < num_links; l++)
    for (int side = 0; side < 2; side++)
      a->neighbour[a->first[links[l].patch[side] + 1]++] = links[l].patch[1 - side];
  return true;
}

static size_t degree(const adjacency *a, int32_t p)
{
  return a->first[p + 1] - a->first[p];
}

/* Breadth first from `start`, appending to order[from...]; returns the end. place[p] < 0: not met yet. */
static size_t sweep_from(const adjacency *a, int32_t start, int32_t *order, size_t from, int32_t *place)
{
  size_t end = from;
  order[end] = start;
  place[start] = (int32_t)end++;
  for (size_t at = from; at < end; at++)
    for (size_t n = a->first[order[at]]; n < a->first[order[at] + 1]; n++) {
      const int32_t next = a->neighbour[n];
      if (place[next] < 0) {
        order[end] = next;
        place[next] = (int32_t)end++;
      }
    }
  return end;
}

/* Cuthill & McKee 1969 without the sorting by degree: breadth first, started again from the far end of each component. */
static void number_along(const adjacency *a, size_t num, int32_t *order, int32_t *place)
{
  for (size_t p = 0; p < num; p++)
    place[p] = -1;
  size_t at = 0;
  for (size_t seed = 0; seed < num; seed++) {
    if (place[seed] >= 0)
      continue;
    size_t end = sweep_from(a, (int32_t)seed, order, at, place);
    int32_t far_end = order[end - 1];
    for (size_t n = at; n < end; n++) {
      place[order[n]] = -1;
      if (degree(a, order[n]) < degree(a, far_end))
        far_end = order[n];
    }
    end = sweep_from(a, far_end, order, at, place);
    at = end;
  }
}

/* ------------------------------------------------------------------------------------------- making */

static status create_order(wall_solve *w, const mesh_patch_link *links, message *msg)
{
  adjacency a = {0};
  int32_t *order = malloc((w->num + 1) * sizeof *order);
  status code = STATUS_OK;
  if (!order || !adjacency_fill(&a, w->num, links, w->num_links)) {
    code = message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu wall patches", w->num);
  } else {
    number_along(&a, w->num, order, w->place);
    for (size_t l = 0; l < w->num_links; l++) {
      w->link[l] = (wall_link_place){w->place[links[l].patch[0]], w->place[links[l].patch[1]]};
      const long int apart = labs((long int)w->link[l].row - (long int)w->link[l].column);
      w->bandwidth = apart > w->bandwidth ? apart : w->bandwidth;
    }
    w->chain = w->banded && !w->diagonal_only && w->bandwidth == 1;
  }
  adjacency_free(&a);
  free(order);
  return code;
}

static status create_solver(wall_solve *w, message *msg)
{
  if (w->chain || w->diagonal_only)
    return STATUS_OK;
  if (!w->banded) {
    w->iteration = wall_iteration_create(w->num, w->link, w->num_links);
    return w->iteration ? STATUS_OK : message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu wall patches", w->num);
  }
  if (SUNContext_Create(NULL, &w->context) != 0)
    return message_set(msg, STATUS_NO_MEMORY, "the linear solver of the walls could not be set up");
  w->right_vector = N_VMake_Serial((sunindextype)w->num, w->right, w->context);
  w->left_vector = N_VMake_Serial((sunindextype)w->num, w->left, w->context);
  if (w->right_vector && w->left_vector) {
    w->matrix = SUNBandMatrix((sunindextype)w->num, w->bandwidth, w->bandwidth, w->context);
    w->solver = w->matrix ? SUNLinSol_Band(w->left_vector, w->matrix, w->context) : NULL;
  }
  if (!w->right_vector || !w->left_vector || !w->solver)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory for the linear solver of %zu wall patches", w->num);
  if (SUNLinSolInitialize(w->solver) != 0)
    return message_set(msg, STATUS_FAILED, "the linear solver of the walls could not be set up");
  return STATUS_OK;
}

status wall_solve_create(wall_solve **out, size_t num_patches, const mesh_patch_link *links, size_t num_links, bool banded,
                         message *msg)
{
  wall_solve *w = calloc(1, sizeof *w);
  if (!w)
    return message_set(msg, STATUS_NO_MEMORY, "out of memory: %zu bytes", sizeof *w);
  w->num = num_patches;
  w->num_links = num_links;
  w->banded = banded;
  w->diagonal_only = num_links == 0 || num_patches == 0;
  w->place = calloc(num_patches + 1, sizeof *w->place);
  w->link = calloc(num_links + 1, sizeof *w->link);
  w->diagonal = calloc(num_patches + 1, sizeof *w->diagonal);
  w->conductance = calloc(num_links + 1, sizeof *w->conductance);
  w->right = calloc(num_patches + WALL_ITERATION_LANES, sizeof *w->right);
  w->left = calloc(num_patches + WALL_ITERATION_LANES, sizeof *w->left);
  w->weight = calloc(num_patches + 1, sizeof *w->weight);
  w->coupling = calloc(num_patches + 1, sizeof *w->coupling);
  w->inverse_pivot = calloc(num_patches + 1, sizeof *w->inverse_pivot);
  w->inwards = calloc(num_patches + 1, sizeof *w->inwards);
  w->outwards = calloc(num_patches + 1, sizeof *w->outwards);
  w->pivot = calloc(num_patches + 1, sizeof *w->pivot);
  w->alone = calloc(num_patches + 1, sizeof *w->alone);
  status code = w->place && w->link && w->diagonal && w->conductance && w->right && w->left && w->weight && w->coupling && w->inverse_pivot &&
                        w->inwards && w->outwards && w->pivot && w->alone
                    ? STATUS_OK
                    : message_set(msg, STATUS_NO_MEMORY, "out of memory for %zu wall patches", num_patches);
  if (code == STATUS_OK)
    code = create_order(w, links, msg);
  if (code == STATUS_OK)
    code = create_solver(w, msg);
  if (code != STATUS_OK) {
    wall_solve_destroy(&w);
    return code;
  }
  *out = w;
  return STATUS_OK;
}

void wall_solve_destroy(wall_solve **w)
{
  if (!*w)
    return;
  wall_solve *x = *w;
  if (x->solver)
    SUNLinSolFree(x->solver);
  if (x->matrix)
    SUNMatDestroy(x->matrix);
  if (x->left_vector)
    N_VDestroy(x->left_vector);
  if (x->right_vector)
    N_VDestroy(x->right_vector);
  if (x->context)
    SUNContext_Free(&x->context);
  free(x->place);
  free(x->link);
  free(x->diagonal);
  free(x->conductance);
  free(x->right);
  free(x->left);
  free(x->weight);
  free(x->coupling);
  free(x->inverse_pivot);
  free(x->inwards);
  free(x->outwards);
  free(x->pivot);
  wall_iteration_destroy(&x->iteration);
  free(x->alone);
  free(x);
  *w = NULL;
}

/* ------------------------------------------------------------------------------------------- solving */

/* Patches in chains, numbered along them: a tridiagonal matrix, positive definite, so no pivoting. Eliminated from both ends towards
 * the middle: two recurrences run beside each other, and each step of one is a product and a sum. With coupling c[p] > 0 between places
 * p - 1 and p and pivot d[p], place p of the front half keeps c[p] / d[p] for the way inwards and c[p + 1] / d[p] for the way out. */
static void factorise_chain(wall_solve *w)
{
  double *coupling = w->coupling, *d = w->inverse_pivot;
  const size_t num = w->num, middle = num / 2;
  memset(coupling, 0, (num + 1) * sizeof *coupling); /* also [0] and [num] */
  for (size_t l = 0; l < w->num_links; l++) {
    const wall_link_place at = w->link[l];
    coupling[at.row > at.column ? at.row : at.column] += w->conductance[l];
  }
  for (size_t p = 0; p < middle; p++)
    d[p] = 1.0 / (w->diagonal[p] - (p > 0 ? coupling[p] * coupling[p] * d[p - 1] : 0.0));
  for (size_t p = num; p-- > middle + 1;)
    d[p] = 1.0 / (w->diagonal[p] - (p + 1 < num ? coupling[p + 1] * coupling[p + 1] * d[p + 1] : 0.0));
  d[middle] = 1.0 / (w->diagonal[middle] - (middle > 0 ? coupling[middle] * coupling[middle] * d[middle - 1] : 0.0) -
                     (middle + 1 < num ? coupling[middle + 1] * coupling[middle + 1] * d[middle + 1] : 0.0));
  for (size_t p = 0; p < num; p++) {
    w->inwards[p] = d[p] * coupling[p < middle ? p : p + 1];
    w->outwards[p] = d[p] * coupling[p < middle ? p + 1 : p];
  }
}

/* From w->right to w->left. */
static void solve_chain(wall_solve *w)
{
  const size_t num = w->num, middle = num / 2, num_back = num - 1 - middle; /* the back half is as long as the front, or one shorter */
  const double *restrict d = w->inverse_pivot, *restrict in = w->inwards, *restrict out = w->outwards, *restrict b = w->right;
  double *restrict x = w->left;
  double front = 0.0, back = 0.0;
  for (size_t p = 0; p < middle; p++) {
    front = x[p] = d[p] * b[p] + in[p] * front;
    if (p < num_back) {
      const size_t q = num - 1 - p;
      back = x[q] = d[q] * b[q] + in[q] * back;
    }
  }
  front = back = x[middle] = d[middle] * (b[middle] + w->coupling[middle] * front + w->coupling[middle + 1] * back);
  for (size_t p = 0; p < middle; p++) {
    const size_t q = middle - 1 - p;
    front = x[q] += out[q] * front;
    if (p < num_back)
      back = x[middle + 1 + p] += out[middle + 1 + p] * back;
  }
}

static status factorise_band(wall_solve *w, message *msg)
{
  if (SUNMatZero(w->matrix) != 0)
    return message_set(msg, STATUS_FAILED, "the matrix of the walls could not be cleared");
  for (size_t p = 0; p < w->num; p++)
    SM_ELEMENT_B(w->matrix, (sunindextype)p, (sunindextype)p) = w->diagonal[p];
  for (size_t l = 0; l < w->num_links; l++) {
    const wall_link_place at = w->link[l];
    SM_ELEMENT_B(w->matrix, at.row, at.column) -= w->conductance[l];
    SM_ELEMENT_B(w->matrix, at.column, at.row) -= w->conductance[l];
  }
  if (SUNLinSolSetup(w->solver, w->matrix) != 0)
    return message_set(msg, STATUS_FAILED, "the matrix of the thin walls (%zu patches) is singular", w->num);
  return STATUS_OK;
}

status wall_solve_matrix(wall_solve *w, const wall_solve_coefficients *of, message *msg)
{
  for (size_t p = 0; p < w->num; p++) {
    w->diagonal[w->place[p]] = w->alone[w->place[p]] = of->diagonal[p];
    w->weight[w->place[p]] = 1.0 / of->carried[p];
  }
  for (size_t l = 0; l < w->num_links; l++) {
    const wall_link_place at = w->link[l];
    w->conductance[l] = of->link_conductance[l];
    w->diagonal[at.row] += of->link_conductance[l];
    w->diagonal[at.column] += of->link_conductance[l];
  }
  if (w->diagonal_only)
    return STATUS_OK;
  if (w->chain) {
    factorise_chain(w);
    return STATUS_OK;
  }
  if (w->banded)
    return factorise_band(w, msg);
  for (size_t p = 0; p < w->num; p++)
    w->pivot[w->place[p]] = w->diagonal[w->place[p]] + of->image_conductance[p];
  wall_iteration_set(w->iteration, &(wall_iteration_matrix){.alone = w->alone, .diagonal = w->diagonal, .pivot = w->pivot, .weight = w->weight,
                                                            .conductance = w->conductance});
  return STATUS_OK;
}

status wall_solve_temperatures(wall_solve *w, const double *right_side, double *temperature, message *msg)
{
  if (w->diagonal_only) {
    for (size_t p = 0; p < w->num; p++)
      temperature[p] = right_side[p] / w->diagonal[w->place[p]];
    return STATUS_OK;
  }
  for (size_t p = 0; p < w->num; p++) {
    w->right[w->place[p]] = right_side[p];
    w->left[w->place[p]] = temperature[p];
  }
  int flag = 0;
  if (w->chain) {
    solve_chain(w);
  } else if (w->banded) {
    flag = SUNLinSolSolve(w->solver, w->matrix, w->left_vector, w->right_vector, 0.0);
  } else {
    flag = wall_iteration_solve(w->iteration, w->right, w->left) ? 0 : SUNLS_CONV_FAIL;
  }
  if (flag != 0)
    return message_set(msg, STATUS_FAILED, "the temperatures of the thin walls (%zu patches) were not found: linear solver says %d",
                       w->num, flag);
  for (size_t p = 0; p < w->num; p++)
    temperature[p] = w->left[w->place[p]];
  return STATUS_OK;
}
