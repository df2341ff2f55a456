#include "solver/heat_flux.h"

#include <omp.h>
#include <stdbool.h>
#include <string.h>

#include "solver/heat_rows.h"

enum { SPARE = HEAT_POTENTIAL_SPARE };

/* Threads of one sweep: as many as allowed and as there is room for. */
static int num_threads_of_sweep(void)
{
  const int allowed = omp_get_max_threads();
  return allowed < HEAT_FLUX_MOST_THREADS ? allowed : HEAT_FLUX_MOST_THREADS;
}

/* ------------------------------------------------------------------------------------------- slabs and bands */

/* A slab is a plane of cells, or in one plane a row. Its rows are taken in bands so small that all that two stages read of a few slabs of
 * a band stays in cache; every thread takes its slabs band by band. */
static const size_t BAND_BYTES = 28 * 1024; /* of one array in one slab; some twenty of them are in use at a time */

typedef struct { size_t first, end; } range; /* of rows, or of slabs */

static bool is_deep(const heat_flux_rows *rows)
{
  return rows->conductance[1] != NULL;
}

static size_t slab_size(const heat_flux_rows *rows)
{
  return rows->num[0] * rows->num[1];
}

static size_t num_bands(const size_t num[3])
{
  const size_t bytes = num[0] * num[1] * sizeof(double), bands = (bytes + BAND_BYTES / 2) / BAND_BYTES;
  return bands < 1 ? 1 : bands < num[1] ? bands : num[1];
}

static range rows_of_band(const size_t num[3], size_t band)
{
  const size_t bands = num_bands(num);
  return (range){.first = band * num[1] / bands, .end = (band + 1) * num[1] / bands};
}

static range widen(range of, size_t before, size_t behind, size_t most)
{
  return (range){.first = of.first > before ? of.first - before : 0, .end = of.end + behind < most ? of.end + behind : most};
}

/* ------------------------------------------------------------------------------------------- passages */

/* Of each passage only the potentials of three slabs are ever held, in turn, so that they stay in cache; what entries need of them is
 * copied out. */
enum { HELD = 3, BESIDE = 3 }; /* BESIDE: rows held beside those of a band, at most */

/* One way through the slabs: potentials of `enthalpy`, then the rate of it, or the stage with it as the last but one. */
typedef struct {
  const heat_flux_rows *rows;
  const heat_potential_nodes *nodes;
  const double *enthalpy;
  const stage_weights *weights; /* NULL: target is the rate */
  const double *start, *start_rate;
  double *target;
  heat_rows_asks asks;
} sweep;

/* What one thread holds of a sweep: of three slabs the potentials of some rows, the place in the nodes to find more, the heat carried from
 * row to row. */
typedef struct {
  const sweep *s;
  heat_potential next;
  size_t next_node;
  range rows;
  size_t held_size; /* doubles of one slab */
  double *held, *carried;
} passage;

/* Doubles of one slab of a passage. */
static size_t held_size(const size_t num[3])
{
  const size_t most = num[1] / num_bands(num) + 1 + BESIDE;
  return num[0] * (most < num[1] ? most : num[1]) + 3 * SPARE; /* SPARE: at least a line */
}

size_t heat_flux_scratch(const size_t num[3])
{
  return 2 * (HELD * held_size(num) + num[0]);
}

/* Memory for the passage `number` (0 or 1) of a thread through those rows of the slabs; from slab `end` on nothing is read: others may be
 * writing there. */
static passage passage_of(const sweep *s, range rows, size_t slab, size_t end, int thread, int number)
{
  const size_t size = heat_flux_scratch(s->rows->num), own = held_size(s->rows->num);
  const size_t readable = end < s->rows->num[2] ? end * slab_size(s->rows) : s->nodes->num;
  double *held = s->rows->scratch + (size_t)thread * size + (size_t)number * (size / 2);
  const size_t node = slab * slab_size(s->rows) + rows.first * s->rows->num[0];
  return (passage){.s = s, .next = heat_potential_from(s->nodes, node, readable), .next_node = node, .rows = rows, .held_size = own, .held = held,
                   .carried = held + HELD * own};
}

/* Laid in memory as what is written of these cells: both begin a line of the cache at the same cell. */
static double *held_slab(const passage *x, size_t slab)
{
  enum { LINE = 64 / sizeof(double) };
  const double *begin = x->s->target + slab * slab_size(x->s->rows) + x->rows.first * x->s->rows->num[0];
  double *held = x->held + slab % HELD * x->held_size + SPARE;
  return held + ((uintptr_t)begin - (uintptr_t)held) / sizeof *held % LINE;
}

/* Finds the potentials of a slab: called for slabs in order, and once more from the first on for the next band. */
static void hold_slab(passage *x, size_t slab)
{
  const size_t n = x->s->rows->num[0], begin = slab * slab_size(x->s->rows) + x->rows.first * n;
  const size_t end = begin + (x->rows.end - x->rows.first) * n;
  if (slab >= x->s->rows->num[2])
    return;
  if (begin < x->next_node)
    x->next = heat_potential_from(x->s->nodes, begin, x->next.end);
  heat_potential_next(&x->next, begin, end, x->s->enthalpy, held_slab(x, slab));
  x->next_node = end;
}

/* The potentials of a row and of those in the slabs below and above it; at an end, where conductances are zero, any will do. */
typedef struct {
  const double *here, *below, *above;
} row_potentials;

static row_potentials potentials_of(const passage *x, size_t slab, size_t j)
{
  const size_t at = (j - x->rows.first) * x->s->rows->num[0];
  const double *here = held_slab(x, slab) + at;
  return (row_potentials){.here = here, .below = slab > 0 ? held_slab(x, slab - 1) + at : here,
                          .above = slab + 1 < x->s->rows->num[2] ? held_slab(x, slab + 1) + at : here};
}

static heat_rows_stage stage_at(const sweep *s, size_t cell)
{
  return (heat_rows_stage){.weights = s->weights, .start = s->start + cell, .start_rate = s->start_rate + cell,
                           .last = s->enthalpy + cell, .next = s->target + cell};
}

/* ------------------------------------------------------------------------------------------- rows of a slab */

static const double *row_or_none(const heat_flux_rows *rows, int axis, size_t row)
{
  return rows->conductance[axis] ? rows->conductance[axis][row] : rows->none;
}

static void sweep_plane_row(const passage *x, size_t slab)
{
  const sweep *s = x->s;
  const heat_flux_rows *rows = s->rows;
  const row_potentials u = potentials_of(x, slab, 0);
  const heat_rows_plane v = {.u = u.here, .ahead = u.above, .x = row_or_none(rows, 0, slab), .towards = row_or_none(rows, 2, slab) + 1,
                             .inverse_volume = rows->inverse_volume[slab], .carried = x->carried};
  const size_t n = rows->num[0], at = slab * n;
  if (!s->weights) {
    heat_rows_plane_rate(&v, n, s->target + at);
    return;
  }
  const heat_rows_stage stage = stage_at(s, at);
  heat_rows_plane_stage(&v, n, &stage);
}

/* Nothing is asked for beyond the last cell. */
static heat_rows_asks asks_at(const sweep *s, size_t cell, size_t num_rows)
{
  return cell + 3 * slab_size(s->rows) + num_rows * s->rows->num[0] <= s->nodes->num ? s->asks : HEAT_ROWS_ASK_NOTHING;
}

/* So many rows from j on can be taken at once; the first and the last of a slab, which have a row on one side only, stand alone. */
static size_t num_at_once(const heat_flux_rows *rows, size_t slab, size_t j, size_t end)
{
  const size_t plane = rows->num[1], alike = rows->even[slab * plane + j].num_alike, inner_end = end < plane ? end : plane - 1;
  if (j == 0 || j >= inner_end)
    return 1;
  return alike < inner_end - j ? alike : inner_end - j;
}

/* Rows that are alike; returns how many. Where there is no row, the conductance is zero and any potential will do. */
static size_t sweep_space_rows(const passage *x, size_t slab, range of, row_potentials u)
{
  const sweep *s = x->s;
  const heat_flux_rows *rows = s->rows;
  const size_t n = rows->num[0], plane = rows->num[1], j = of.first, row = slab * plane + j, at = row * n;
  const size_t num_rows = num_at_once(rows, slab, j, of.end);
  const heat_rows_space v = {
      .u = u.here, .behind = j > 0 ? u.here - n : u.here, .ahead = j + 1 < plane ? u.here + n : u.here, .below = u.below, .above = u.above,
      .x = row_or_none(rows, 0, row),
      .y_low = (j > 0 ? row_or_none(rows, 1, row - 1) : rows->none) + 1, .y_high = row_or_none(rows, 1, row) + 1,
      .z_low = (slab > 0 ? row_or_none(rows, 2, row - plane) : rows->none) + 1, .z_high = row_or_none(rows, 2, row) + 1,
      .inverse_volume = rows->inverse_volume[row], .even_begin = rows->even[row].begin, .even_end = rows->even[row].end};
  if (!s->weights) {
    heat_rows_space_rate(&v, n, s->target + at);
    return 1;
  }
  heat_rows_stage stage = stage_at(s, at);
  stage.asks = asks_at(s, at, num_rows);
  stage.slab = slab_size(rows);
  heat_rows_space_stage(&v, n, num_rows, &stage);
  return num_rows;
}

/* The potentials of the rows beside them must be held. */
static void sweep_rows(const passage *x, size_t slab, range rows)
{
  if (!is_deep(x->s->rows)) {
    sweep_plane_row(x, slab);
    return;
  }
  while (rows.first < rows.end)
    rows.first += sweep_space_rows(x, slab, rows, potentials_of(x, slab, rows.first));
}

/* In one plane: heat sent through the faces below the first slab of a passage, whose potentials and those below are held. */
static void begin_carried(const passage *x, size_t slab)
{
  const heat_flux_rows *rows = x->s->rows;
  if (is_deep(rows))
    return;
  memset(x->carried, 0, rows->num[0] * sizeof *x->carried);
  if (slab == 0)
    return;
  const row_potentials u = potentials_of(x, slab, 0);
  const double *conductance = row_or_none(rows, 2, slab - 1) + 1;
  for (size_t i = 0; i < rows->num[0]; i++)
    x->carried[i] = conductance[i] * (u.here[i] - u.below[i]);
}

/* ------------------------------------------------------------------------------------------- the needed cells */

/* The first needed cell from a node on; `near`: a guess, where the last call ended. */
static size_t first_needed_from(const heat_potential_nodes *nodes, size_t node, size_t near)
{
  if ((near == 0 || (size_t)nodes->needed[near - 1] < node) && (near == nodes->num_needed || (size_t)nodes->needed[near] >= node))
    return near;
  size_t low = 0, high = nodes->num_needed;
  while (low < high) {
    const size_t middle = low + (high - low) / 2;
    if ((size_t)nodes->needed[middle] < node)
      low = middle + 1;
    else
      high = middle;
  }
  return low;
}

/* The cells of some rows of a slab. */
static range cells_of(const heat_flux_rows *rows, size_t slab, range of)
{
  const size_t first = slab * slab_size(rows);
  return (range){.first = first + of.first * rows->num[0], .end = first + of.end * rows->num[0]};
}

/* Adds to finished rows what the entries gave. */
static void take_gains(const sweep *s, size_t slab, range of, size_t near, const double *gain)
{
  const range cells = cells_of(s->rows, slab, of);
  for (size_t n = first_needed_from(s->nodes, cells.first, near); n < s->nodes->num_needed && (size_t)s->nodes->needed[n] < cells.end; n++)
    s->target[s->nodes->needed[n]] += gain[n];
}

/* Copies out of a held slab; returns where it ended. */
static size_t copy_needed(const passage *x, size_t slab, range of, size_t near, const heat_potential_found *found)
{
  const heat_potential_nodes *nodes = x->s->nodes;
  const range cells = cells_of(x->s->rows, slab, of);
  const double *held = held_slab(x, slab) + (of.first - x->rows.first) * x->s->rows->num[0];
  size_t n = first_needed_from(nodes, cells.first, near);
  const size_t begin = n;
  for (; n < nodes->num_needed && (size_t)nodes->needed[n] < cells.end; n++)
    found->needed[n] = held[(size_t)nodes->needed[n] - cells.first];
  for (size_t m = begin; found->also_by_node && m < n; m++)
    found->by_node[nodes->needed[m]] = found->needed[m];
  return n;
}

/* ------------------------------------------------------------------------------------------- shares of threads */

static range slabs_of(const heat_flux_rows *rows, int thread, int num_threads)
{
  const size_t num = rows->num[2];
  return (range){.first = (size_t)thread * num / (size_t)num_threads, .end = ((size_t)thread + 1) * num / (size_t)num_threads};
}

/* Below HEAT_FLUX_THREADED no parallel region is entered at all: even one of a single thread costs time and memory. */
static int num_threads_for(const heat_potential_nodes *nodes)
{
  return nodes->num < HEAT_FLUX_THREADED ? 1 : num_threads_of_sweep();
}

void heat_flux_further(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const double *enthalpy, double *potential)
{
  const size_t begin = slab_size(rows) * rows->num[2];
  heat_potential at = heat_potential_from(nodes, begin, nodes->num);
  if (begin < nodes->num)
    heat_potential_next(&at, begin, nodes->num, enthalpy, potential + begin);
}

/* ------------------------------------------------------------------------------------------- the rate */

/* Slabs one after the other, potentials one slab ahead. Those beside the share are found here too, once more: same operands, same bits. */
static void rate_band(const sweep *s, range rows, range own, int thread, const heat_potential_found *found)
{
  const size_t begin = own.first > 0 ? own.first - 1 : 0;
  size_t needed = 0;
  passage x = passage_of(s, widen(rows, 1, 1, s->rows->num[1]), begin, own.end + 1, thread, 0);
  for (size_t slab = begin; slab <= own.first; slab++)
    hold_slab(&x, slab);
  begin_carried(&x, own.first);
  for (size_t slab = own.first; slab < own.end; slab++) {
    hold_slab(&x, slab + 1);
    sweep_rows(&x, slab, rows);
    needed = copy_needed(&x, slab, rows, needed, found);
  }
}

static void rate_share(const sweep *s, int thread, int num_threads, const heat_potential_found *found)
{
  const range own = slabs_of(s->rows, thread, num_threads);
  for (size_t band = 0; own.first < own.end && band < num_bands(s->rows->num); band++)
    rate_band(s, rows_of_band(s->rows->num, band), own, thread, found);
}

void heat_flux_rate(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const double *enthalpy, const heat_potential_found *found, double *rate)
{
  const sweep s = {.rows = rows, .nodes = nodes, .enthalpy = enthalpy, .target = rate};
  const int num_threads = num_threads_for(nodes);
  heat_flux_further(rows, nodes, enthalpy, found->by_node);
  if (num_threads == 1) {
    rate_share(&s, 0, 1, found);
    return;
  }
#pragma omp parallel num_threads(num_threads)
  rate_share(&s, omp_get_thread_num(), omp_get_num_threads(), found);
}

/* ------------------------------------------------------------------------------------------- two stages in one sweep */

/* Both stages run through the slabs together, the second one slab behind the first, while what they read is still in cache: per cell
 * of the grid 48 bytes cross the memory for two stages, not 80. The second stage of a row needs the first of its neighbours: in every band
 * it lies one row back, and it leaves out the slabs that border on those of another thread: finish_share. */
typedef struct {
  sweep first, second;
  const double *gain;
  const heat_potential_found *found;
} stage_pair;

static range inner_of(const heat_flux_rows *rows, range own)
{
  return (range){.first = own.first > 0 ? own.first + 1 : 0, .end = own.end < rows->num[2] ? own.end - 1 : own.end};
}

static range one_row_back(range rows, size_t num_rows)
{
  return (range){.first = rows.first > 0 ? rows.first - 1 : 0, .end = rows.end < num_rows ? rows.end - 1 : num_rows};
}

static void stages_band(const stage_pair *p, range rows, range own, int thread)
{
  const heat_flux_rows *all = p->first.rows;
  const range inner = inner_of(all, own), back = one_row_back(rows, all->num[1]);
  const size_t begin = own.first > 0 ? own.first - 1 : 0;
  size_t needed = 0;
  passage x = passage_of(&p->first, widen(rows, 1, 1, all->num[1]), begin, own.end + 1, thread, 0);
  passage y = passage_of(&p->second, widen(rows, 2, 0, all->num[1]), own.first, own.end, thread, 1);
  for (size_t slab = begin; slab <= own.first; slab++)
    hold_slab(&x, slab);
  begin_carried(&x, own.first);
  for (size_t slab = own.first; slab <= own.end; slab++) {
    if (slab < own.end) {
      hold_slab(&x, slab + 1);
      sweep_rows(&x, slab, rows);
      take_gains(&p->first, slab, rows, needed, p->gain);
      hold_slab(&y, slab);
      needed = copy_needed(&y, slab, rows, needed, p->found);
    }
    if (slab == inner.first && inner.first < inner.end)
      begin_carried(&y, slab);
    if (slab > inner.first && slab <= inner.end)
      sweep_rows(&y, slab - 1, back);
  }
}

static void stages_share(const stage_pair *p, int thread, int num_threads)
{
  const heat_flux_rows *rows = p->first.rows;
  const range own = slabs_of(rows, thread, num_threads);
  for (size_t band = 0; own.first < own.end && band < num_bands(rows->num); band++)
    stages_band(p, rows_of_band(rows->num, band), own, thread);
}

static void second_stage_of(const stage_pair *p, range rows, size_t slab, int thread)
{
  const size_t begin = slab > 0 ? slab - 1 : 0;
  passage y = passage_of(&p->second, widen(rows, 1, 1, p->second.rows->num[1]), begin, slab + 2, thread, 1);
  for (size_t beside = begin; beside <= slab + 1; beside++)
    hold_slab(&y, beside);
  begin_carried(&y, slab);
  sweep_rows(&y, slab, rows);
}

/* The second stage of the slabs that stages_share left out, when all threads have done that. */
static void finish_share(const stage_pair *p, int thread, int num_threads)
{
  const heat_flux_rows *rows = p->first.rows;
  const range own = slabs_of(rows, thread, num_threads), inner = inner_of(rows, own);
  for (size_t slab = own.first; slab < own.end; slab++)
    for (size_t band = 0; (slab < inner.first || slab >= inner.end) && band < num_bands(rows->num); band++)
      second_stage_of(p, rows_of_band(rows->num, band), slab, thread);
}

void heat_flux_stages(const heat_flux_rows *rows, const heat_potential_nodes *nodes, const stage_weights w[2], const double *gain,
                      const heat_potential_found *found, const double *start, const double *start_rate, double *last, double *next)
{
  const stage_pair p = {.first = {.rows = rows, .nodes = nodes, .enthalpy = last, .weights = &w[0], .start = start,
                                  .start_rate = start_rate, .target = next, .asks = HEAT_ROWS_ASK_FIRST},
                        .second = {.rows = rows, .nodes = nodes, .enthalpy = next, .weights = &w[1], .start = start,
                                   .start_rate = start_rate, .target = last, .asks = HEAT_ROWS_ASK_SECOND},
                        .gain = gain, .found = found};
  const int num_threads = num_threads_for(nodes);
  heat_flux_further(rows, nodes, next, found->by_node);
  if (num_threads == 1) {
    stages_share(&p, 0, 1);
    return;
  }
#pragma omp parallel num_threads(num_threads)
  {
    stages_share(&p, omp_get_thread_num(), omp_get_num_threads());
#pragma omp barrier
    finish_share(&p, omp_get_thread_num(), omp_get_num_threads());
  }
}

/* Of nodes [begin, end), nothing written beyond. */
static void potentials_between(const heat_potential_nodes *curves, size_t begin, size_t end, const double *enthalpy, double *potential)
{
  heat_potential at = heat_potential_from(curves, begin, end);
  if (begin < end)
    heat_potential_next(&at, begin, end, enthalpy, potential + begin);
}

void heat_flux_potential(const heat_potential_nodes *nodes, const double *enthalpy, double *potential)
{
  heat_potential_nodes curves = *nodes;
  curves.front = NULL;
  const int num_threads = num_threads_for(nodes);
  if (num_threads == 1) {
    potentials_between(&curves, 0, nodes->num, enthalpy, potential);
    return;
  }
#pragma omp parallel num_threads(num_threads)
  {
    const size_t thread = (size_t)omp_get_thread_num(), num = (size_t)omp_get_num_threads();
    potentials_between(&curves, thread * nodes->num / num, (thread + 1) * nodes->num / num, enthalpy, potential);
  }
}
